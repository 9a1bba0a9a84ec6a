"""The tables of a torqued joint: every fastener, every pass, with time, target, wrench, reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shopguide.bolts.heads import HeadState
from shopguide.bolts.order import compute_pattern_order
from shopguide.bolts.pattern import Fastener, Pattern
from shopguide.job.model import Torque
from shopguide.paper.clock import Clock
from shopguide.paper.findings import (
    find_torque,
    name_fastener,
    reading_of,
    reading_outside,
)
from shopguide.torque import units
from shopguide.work.heads import head_states
from shopguide.work.progress import Mark, Progress
from shopguide.work.screws import tell_screws
from shopguide.work.wrench_choice import list_wrenches


@dataclass(frozen=True, slots=True)
class Column:
    """One trip of one pass: what stands at its head, line by line."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cell:
    """One mark. Empty texts where there is none; `more` is what differs from the column's head."""

    time: str = ""
    more: str = ""
    departed: bool = False


@dataclass(frozen=True, slots=True)
class TorqueRow:
    """One fastener: its place in the order, its size, its passes, and what adds up to."""

    place: str
    size: str
    cells: tuple[Cell, ...]
    state: HeadState
    tally: str
    number: int


@dataclass(frozen=True, slots=True)
class Left:
    """A fastener of the pattern that is not tightened, and why."""

    name: str
    use: str
    note: str


@dataclass(frozen=True, slots=True)
class TorquePart:
    """One joint. `sentence` is the line that the table below it lets a reader check."""

    title: str
    step: int
    sentence: str
    whole: bool
    facts: tuple[tuple[str, str], ...]
    pattern: Pattern
    order: tuple[int, ...]
    states: Mapping[int, HeadState]
    middle: tuple[str, ...]
    word: str
    tally: str
    """What the last column counts: "Torqued", or "Turned" or "Snug" where no pass torques."""
    columns: tuple[Column, ...]
    rows: tuple[TorqueRow, ...]
    remarks: tuple[str, ...]
    left: tuple[Left, ...]


@dataclass(frozen=True, slots=True)
class SingleRow:
    """One mark of a fastener that is torqued by itself."""

    name: str
    step: int
    deed: str
    target: str
    time: str
    wrench: str
    reading: str
    remark: str
    state: HeadState


def tell_torque(progress: Progress, clock: Clock, address: str) -> TorquePart:
    """The joint that the torque task at `address` tightens."""
    task = progress.sheet.tasks[address]
    assert isinstance(task, Torque) and task.pattern is not None
    pattern = progress.sheet.pattern(task.pattern)
    order = progress.order_of(task)
    states = head_states(progress, address)
    trips = _list_trips(progress, address, task)
    marks = {(m.pass_number, m.trip, m.fastener): m for m in progress.marks.get(address, [])}
    columns, plain = [], []
    for pass_number, trip in trips:
        made = [m for (p, t, _), m in marks.items() if (p, t) == (pass_number, trip)]
        column, common = _head_column(progress, clock, task, pass_number, trip, made)
        columns.append(column)
        plain.append(common)
    rows = tuple(
        TorqueRow(
            name_fastener(order, number),
            _size_of(pattern.fastener(number)),
            tuple(
                _tell_cell(progress, clock, marks.get((*trip, number)), common)
                for trip, common in zip(trips, plain, strict=True)
            ),
            states[number],
            _tally(task, {p for (p, _, n) in marks if n == number}),
            number,
        )
        for number in order
    )
    finding = find_torque(progress, address)
    place = progress.sheet.step_of(address)
    return TorquePart(
        title=pattern.title,
        step=place.number,
        sentence=finding.text,
        whole=finding.whole,
        facts=_tell_facts(progress, task, pattern) + _tell_wrenches(progress, address),
        pattern=pattern,
        order=order,
        states=states,
        middle=(f"{sum(s.done for s in states.values())} of {len(states)}", "have every pass")
        if progress.trip(address) is None
        else (),
        word=pattern.fastener_word,
        tally=_counted(task)[0],
        columns=tuple(columns),
        rows=rows,
        remarks=_tell_remarks(progress, clock, address, order, pattern.fastener_word),
        left=tuple(
            Left(f"No. {f.number}", f.use, f.note) for f in pattern.placed if f.use != "tighten"
        ),
    )


def _list_trips(progress: Progress, address: str, task: Torque) -> list[tuple[int, int]]:
    made = {(m.pass_number, m.trip) for m in progress.marks.get(address, [])}
    return sorted(made | {(number, 1) for number in range(1, len(task.schedule) + 1)})


def _head_column(
    progress: Progress,
    clock: Clock,
    task: Torque,
    pass_number: int,
    trip: int,
    made: list[Mark],
) -> tuple[Column, tuple[str, str, str]]:
    """The head of a column, and the (target, wrench, day) that it says for all its marks."""
    one = task.schedule[pass_number - 1]
    target = _common([m.target for m in made]) or (
        "" if made else _asked(progress, task, pass_number)
    )
    wrench = _common([_tell_tool(m) for m in made])
    day = _common([clock.short_day(m.event.at) for m in made])
    name = f"Pass {pass_number}" + (f", trip {trip}" if one.kind == "check" else "")
    deed = {"check": "check", "around": "around, to torque"}.get(one.kind, one.tell())
    figure = {"loose": "", "by hand": "", "not known": "torque not known"}.get(target, target)
    lines = [
        name,
        ", ".join(p for p in (deed, figure) if p),
        ", ".join(p for p in (wrench, day) if p),
    ]
    return Column(tuple(line for line in lines if line)), (target, wrench, day)


def _tell_tool(mark: Mark) -> str:
    """The wrench of a mark, its setting where that is not the target, and the adapter on it."""
    setting, adapter = (str(mark.event.data.get(key) or "") for key in ("setting", "adapter"))
    parts = [mark.wrench or ("wrench not given" if adapter else "")]
    parts += [f"set to {setting}" if setting else "", f"with {adapter}" if adapter else ""]
    return " ".join(part for part in parts if part)


def _tell_wrenches(progress: Progress, address: str) -> tuple[tuple[str, str], ...]:
    """The wrenches that the marks of a task name, each with its calibration."""
    used = {mark.wrench for mark in progress.marks.get(address, []) if mark.wrench}
    hides_serial = progress.signed is not None and "wrenches" in progress.signed.data.get(
        "hidden", ()
    )
    facts = []
    for wrench in list_wrenches(progress):
        if wrench.get("name") not in used:
            continue
        get = {key: str(wrench.get(key) or "") for key in ("serial", "calibrated", "due")}
        parts = [
            f"{wrench['name']}",
            f"serial {get['serial']}" if get["serial"] and not hides_serial else "",
            f"calibrated {get['calibrated']}" if get["calibrated"] else "calibration not given",
            f"due {get['due']}" if get["due"] else "",
        ]
        facts.append(("" if facts else "Wrench", ", ".join(p for p in parts if p) + "."))
    return tuple(facts)


def _common(texts: list[str]) -> str:
    return texts[0] if texts and len(set(texts)) == 1 else ""


def _asked(progress: Progress, task: Torque, pass_number: int) -> str:
    one = task.schedule[pass_number - 1]
    name = task.spec_of(one)
    if name is None:
        return ""
    spec = progress.sheet.spec(name)
    amount = spec.amount()
    return units.scale(amount, one.share).text if amount is not None else spec.tell()


def _tell_cell(
    progress: Progress, clock: Clock, mark: Mark | None, common: tuple[str, str, str]
) -> Cell:
    if mark is None:
        return Cell()
    target, wrench, day = common
    more = []
    reading = reading_of(progress, mark)
    if reading:
        outside = reading_outside(progress, mark)
        more.append(f"read {reading}" + (f", {outside}" if outside else ""))
    if mark.target != target:
        more.append(mark.target)
    if _tell_tool(mark) != wrench:
        more.append(_tell_tool(mark) or "wrench not given")
    if not day:
        more.append(clock.short_day(mark.event.at))
    if mark.moved:
        more.append("turned")
    if mark.departure:
        more.append("out of turn")
    return Cell(clock.second(mark.event.at), ", ".join(more), bool(mark.departure))


def _counted(task: Torque) -> tuple[str, tuple[int, ...]]:
    """What is counted of each fastener, and the numbers of the passes that count."""
    for word, kind in (("Torqued", "torque"), ("Turned", "angle"), ("Snug", "snug")):
        numbers = tuple(
            n for n, p in enumerate(task.schedule, 1) if p.kind == kind and p.share == 1.0
        )
        if numbers:
            return word, numbers
    return "Passes", tuple(range(1, len(task.schedule) + 1))


def _tally(task: Torque, had: set[int]) -> str:
    """How often the fastener was torqued, of how often the sheet asks: "2 of 2"."""
    _, numbers = _counted(task)
    return f"{sum(n in had for n in numbers)} of {len(numbers)}"


def _size_of(fastener: Fastener) -> str:
    if fastener.thread and fastener.length:
        return f"{fastener.thread} × {fastener.length}"
    return fastener.thread or fastener.length or ""


def _tell_facts(progress: Progress, task: Torque, pattern: Pattern) -> tuple[tuple[str, str], ...]:
    order = progress.orders[pattern.name].tell()
    if pattern.order_source and progress.orders[pattern.name].by != "computed":
        order += f" ({pattern.order_source})"
    if progress.orders[pattern.name].by != "computed":
        computed = compute_pattern_order(pattern)
        order += f". {progress.orders[pattern.name].tell_difference(computed)}"
    facts = [("Order", order)]
    for name in task.spec_names:
        spec = progress.sheet.spec(name)
        amount = spec.amount()
        other = units.tell_converted(amount) if amount is not None else ""
        told = f"{spec.tell()}" + (f" ({other})" if other else "")
        if spec.note:
            told += f". {spec.note.rstrip('.')}"
        label = "Torque" if spec.kind is units.Kind.TORQUE else spec.kind.value.capitalize()
        facts.append((label, f"{told}. Source: {spec.source.tell().removeprefix('source ')}."))
    screws = tell_screws(progress, task)
    if screws:
        facts.append(("Screw", " ".join(screws)))
    return tuple(facts)


def _tell_remarks(
    progress: Progress, clock: Clock, address: str, order: tuple[int, ...], word: str
) -> tuple[str, ...]:
    remarks = [
        f"{word.capitalize()} {name_fastener(order, m.fastener)}, pass {m.pass_number}, "
        f"{clock.time(m.event.at)}, out of turn: {m.departure}"
        for m in progress.marks.get(address, [])
        if m.departure
    ]
    outcome = progress.outcomes.get(address)
    if outcome is not None and outcome.skipped:
        remarks.append(f"Skipped {clock.moment(outcome.event.at)}: {outcome.reason}")
    return tuple(remarks)


def tell_singles(progress: Progress, clock: Clock) -> tuple[SingleRow, ...]:
    """The fasteners that are torqued one by one, a row for each mark they have."""
    rows = []
    for address, task in progress.sheet.tasks.items():
        if not isinstance(task, Torque) or task.pattern is not None:
            continue
        step = progress.sheet.step_of(address).number
        name = task.fastener or ""
        state = next(iter(head_states(progress, address).values()))
        marks = progress.marks.get(address, [])
        outcome = progress.outcomes.get(address)
        if not marks:
            remark = outcome.reason if outcome and outcome.skipped else ""
            deed = "skipped" if remark else "not recorded"
            target = _asked(progress, task, len(task.schedule))
            rows.append(SingleRow(name, step, deed, target, "", "", "", remark, state))
        for mark in marks:
            one = task.schedule[mark.pass_number - 1]
            deed = one.tell() if len(task.schedule) > 1 else ""
            outside = reading_outside(progress, mark)
            remark = "; ".join(p for p in (outside, mark.departure) if p)
            rows.append(
                SingleRow(
                    name,
                    step,
                    deed,
                    mark.target,
                    f"{clock.short_day(mark.event.at)}, {clock.second(mark.event.at)}",
                    _tell_tool(mark),
                    reading_of(progress, mark),
                    remark,
                    state,
                )
            )
    return tuple(rows)
