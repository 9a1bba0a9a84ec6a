"""What the paper says, as plain data: sheet and events folded into texts, without any layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from shopguide.job.model import (
    Caution,
    Close,
    Drain,
    Fill,
    Leave,
    Measure,
    Open,
    PictureMark,
    Sheet,
    TakePhoto,
    Task,
    Torque,
    Wait,
)
from shopguide.paper.clock import Clock
from shopguide.paper.findings import Finding, find_all, tell_findings
from shopguide.paper.first_page import FirstPage, tell_first_page
from shopguide.paper.torque_table import SingleRow, TorquePart, tell_singles, tell_torque
from shopguide.torque import units
from shopguide.torque.spec import Spec
from shopguide.work.events import Event
from shopguide.work.ledger import list_departures, list_items
from shopguide.work.next_up import caution_key, read_value, say_event
from shopguide.work.progress import Outcome, Progress, fold

__all__ = ["OWN_STATEMENT", "Contents", "Finding", "find_all", "make_contents", "tell_findings"]

OWN_STATEMENT = (
    "I did the work described here and entered these values. This is my own record. "
    "It is not an inspection or approval by an authority or workshop."
)
NOT_GIVEN = "not given"


@dataclass(frozen=True, slots=True)
class CautionLine:
    """A caution; `read`: when it was read and accepted, in words, or ""."""

    signal: str
    hazard: str
    consequence: str
    avoid: str
    read: str = ""


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part of the sheet and whether it was laid out before work."""

    name: str
    number: str
    quantity: int
    single_use: bool
    price: str
    note: str
    laid_out: bool


@dataclass(frozen=True, slots=True)
class ListLine:
    """A name with what belongs to it: a supply, an item, a departure, a follow-up."""

    name: str
    text: str = ""
    note: str = ""
    time: str = ""


@dataclass(frozen=True, slots=True)
class ValueLine:
    """A value that was read or filled in, against what the sheet asks for."""

    what: str
    asked: str
    value: str
    converted: str
    time: str
    note: str = ""
    task: str = ""


@dataclass(frozen=True, slots=True)
class TaskLine:
    """One task with its outcome. state: "done", "skipped" or "missing"."""

    address: str
    text: str
    outcome: str
    time: str
    state: str
    spec: str = ""
    note: str = ""
    remark: str = ""


@dataclass(frozen=True, slots=True)
class PhotoLine:
    """A picture: from the sheet by its file name, or taken at the step, by its hash."""

    name: str
    caption: str
    alt: str
    taken: str = ""
    marks: tuple[PictureMark, ...] = ()


@dataclass(frozen=True, slots=True)
class StepPart:
    """One step with all that was recorded at it."""

    number: int
    title: str
    text: str
    when: str
    cautions: tuple[CautionLine, ...]
    tasks: tuple[TaskLine, ...]
    notes: tuple[ListLine, ...]
    photos: tuple[PhotoLine, ...]


@dataclass(frozen=True, slots=True)
class StagePart:
    """A stage with its steps."""

    title: str
    steps: tuple[StepPart, ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """The whole paper."""

    title: str
    machine: str
    head: str
    signed: bool
    rehearsal: bool
    first: FirstPage
    cautions: tuple[CautionLine, ...]
    parts: tuple[PartLine, ...]
    supplies: tuple[ListLine, ...]
    fluids: tuple[ValueLine, ...]
    measurements: tuple[ValueLine, ...]
    stages: tuple[StagePart, ...]
    torques: tuple[TorquePart, ...]
    singles: tuple[SingleRow, ...]
    departures: tuple[ListLine, ...]
    items: tuple[ListLine, ...]
    follow_ups: tuple[ListLine, ...]
    taken_back: tuple[ListLine, ...]
    entered_anew: tuple[ListLine, ...]
    sheet_facts: tuple[ListLine, ...]
    program: str


def make_contents(
    sheet: Sheet,
    events: Sequence[Event],
    *,
    head: str,
    made_at: datetime,
    program: str,
    fingerprint: str = "",
    zone: tzinfo | None = None,
    prices: bool = False,
) -> Contents:
    """Everything that the paper says.

    head: the hash of the record's last event, in hex.  zone: of the printed times; None is the
    computer's own.  prices: tell what parts cost, which is otherwise the owner's own matter.
    """
    progress = fold(sheet, events)
    clock = Clock(made_at, zone)
    first = tell_first_page(
        progress, clock, head=head, fingerprint=fingerprint, own_statement=OWN_STATEMENT
    )
    return Contents(
        title=sheet.title,
        machine=first.machine,
        head=head,
        signed=progress.signed is not None,
        rehearsal=progress.rehearsal,
        first=first,
        cautions=_tell_cautions(progress, clock, None, sheet.cautions),
        parts=_tell_parts(progress, prices),
        supplies=tuple(ListLine(s.name, s.quantity, s.note) for s in sheet.supplies),
        fluids=_tell_fluids(progress, clock),
        measurements=_tell_measurements(progress, clock),
        stages=_tell_stages(progress, clock),
        torques=tuple(
            tell_torque(progress, clock, address)
            for address, task in sheet.tasks.items()
            if isinstance(task, Torque) and task.pattern is not None
        ),
        singles=tell_singles(progress, clock),
        departures=tuple(
            ListLine(d.what, d.reason, d.where, clock.moment(d.at))
            for d in list_departures(progress)
        ),
        items=_tell_items(progress, clock),
        follow_ups=tuple(
            ListLine(f.text, f.after, sheet.spec(f.spec).tell() if f.spec else "")
            for f in sheet.follow_ups
        ),
        taken_back=_tell_taken_back(progress, clock),
        entered_anew=_tell_entered_anew(progress, clock),
        sheet_facts=_tell_sheet(sheet, events),
        program=program,
    )


# --- lists --------------------------------------------------------------------------------------


def _tell_cautions(
    progress: Progress, clock: Clock, step: int | None, cautions: Sequence[Caution]
) -> tuple[CautionLine, ...]:
    lines = []
    for index, caution in enumerate(cautions, 1):
        key = caution_key(step, index)
        events = [
            progress.acknowledged[k]
            for k in (key, f"{key} at the step")
            if k in progress.acknowledged
        ]
        read = f"read and accepted {clock.moment(events[-1].at)}" if events else ""
        lines.append(
            CautionLine(caution.signal, caution.hazard, caution.consequence, caution.avoid, read)
        )
    return tuple(lines)


def _tell_parts(progress: Progress, prices: bool) -> tuple[PartLine, ...]:
    ticked = progress.laid_out.get("parts", {})
    ticked = ticked if isinstance(ticked, dict) else {}
    return tuple(
        PartLine(
            part.name,
            part.number,
            part.quantity,
            part.single_use,
            part.price if prices else "",
            part.note,
            bool(ticked.get(part.name)),
        )
        for part in progress.sheet.parts
    )


def _asked(sheet: Sheet, name: str | None) -> str:
    return tell_spec(sheet.spec(name)) if name else ""


def tell_spec(spec: Spec) -> str:
    """The figure as printed, the other system beside it, and where it comes from."""
    told = spec.tell()
    amount = spec.amount()
    other = units.tell_converted(amount) if amount is not None else ""
    if other:
        told += f" ({other})"
    return f"{told}; {spec.source.tell()}"


def _tell_value(progress: Progress, clock: Clock, address: str, what: str) -> ValueLine:
    task = progress.sheet.tasks[address]
    asked = _asked(progress.sheet, task.spec_names[0] if task.spec_names else None)
    if isinstance(task, Fill) and task.like_drained:
        asked = "as much as came out"
    outcome = progress.outcomes.get(address)
    if outcome is None:
        return ValueLine(what, asked, "not recorded", "", "", task=address)
    time = clock.moment(outcome.event.at)
    if outcome.skipped:
        return ValueLine(what, asked, "skipped", "", time, outcome.reason, address)
    return ValueLine(
        what,
        asked,
        outcome.value or "no value",
        _convert(progress, address, outcome.value),
        time,
        outcome.departure,
        address,
    )


def _convert(progress: Progress, address: str, value: str) -> str:
    if not value:
        return ""
    try:
        return read_value(progress, address, value).converted
    except units.UnitTrouble:
        return ""


def _tell_fluids(progress: Progress, clock: Clock) -> tuple[ValueLine, ...]:
    sheet = progress.sheet
    grades = {fluid.name: fluid.grade for fluid in sheet.fluids}
    lines = []
    for address, task in sheet.tasks.items():
        if isinstance(task, Drain | Fill):
            way = "drained" if isinstance(task, Drain) else "filled in"
            grade = f" ({grades[task.fluid]})" if grades.get(task.fluid) else ""
            what = (
                f"{task.fluid[0].upper()}{task.fluid[1:]}{grade if way != 'drained' else ''}, {way}"
            )
            lines.append(_tell_value(progress, clock, address, what))
    return tuple(lines)


def _tell_measurements(progress: Progress, clock: Clock) -> tuple[ValueLine, ...]:
    return tuple(
        _tell_value(progress, clock, address, task.spec[0].upper() + task.spec[1:])
        for address, task in progress.sheet.tasks.items()
        if isinstance(task, Measure)
    )


def _tell_items(progress: Progress, clock: Clock) -> tuple[ListLine, ...]:
    lines = []
    for item in list_items(progress):
        opened = f"{_past(item.how)} in step {item.opened_by.split('.')[0]}, {clock.moment(item.opened_at)}"
        if item.closed_by:
            closed = progress.outcomes[item.closed_by].event.at
            state = f"closed in step {item.closed_by.split('.')[0]}, {clock.moment(closed)}"
        else:
            state = f"stays open: {item.reason}" if item.reason else "open, no reason given"
        lines.append(ListLine(item.item, opened, state, item.state))
    return tuple(lines)


def _past(how: str) -> str:
    return {
        "remove": "removed",
        "disconnect": "disconnected",
        "loosen": "loosened",
        "park aside": "parked aside",
        "drain": "drained",
    }.get(how, how)


def _tell_taken_back(progress: Progress, clock: Clock) -> tuple[ListLine, ...]:
    by_seq = {event.seq: event for event in progress.events}
    lines = []
    for event in progress.events:
        if event.kind != "withdrawn":
            continue
        old = by_seq.get(int(event.data["seq"]))
        if old is None:
            continue
        lines.append(
            ListLine(
                f"{say_event(progress, old)}",
                f"recorded {clock.moment(old.at)}",
                f"entry {old.seq}",
                clock.moment(event.at),
            )
        )
    return tuple(lines)


_TOLD_ANEW = {
    "make": "make",
    "model": "model",
    "year": "year",
    "vin": "VIN",
    "serial": "serial number",
    "plate": "plate",
    "odometer": "odometer or hours",
    "person": "work done by",
}


def _tell_entered_anew(progress: Progress, clock: Clock) -> tuple[ListLine, ...]:
    """What identifies the machine and was typed again after it had been entered."""
    known: dict[str, str] = {}
    lines = []
    for event in progress.live():
        if event.kind != "laid out" or event.data["field"] not in _TOLD_ANEW:
            continue
        name, value = event.data["field"], str(event.data["value"]).strip()
        before = known.get(name, "")
        if before and before != value:
            lines.append(
                ListLine(
                    _TOLD_ANEW[name],
                    f"“{before}” before, then “{value}”",
                    "",
                    clock.moment(event.at),
                )
            )
        known[name] = value
    return tuple(lines)


def _tell_sheet(sheet: Sheet, events: Sequence[Event]) -> tuple[ListLine, ...]:
    sheet_hash = next(
        (str(e.data.get("sheet_sha256", "")) for e in events if e.kind == "begun"), ""
    )
    lines = [
        ListLine("Job sheet", f"{sheet.title}; revision {sheet.revision} of {sheet.date}"),
        ListLine("Written by", sheet.author),
        ListLine("For", ", ".join(sheet.applies_to) or NOT_GIVEN),
    ]
    if sheet_hash:
        lines.append(ListLine("SHA-256 of the sheet", group(sheet_hash)))
    return tuple(lines)


def group(digits: str, size: int = 8) -> str:
    """Hex digits in groups, to be compared by eye."""
    return " ".join(digits[i : i + size] for i in range(0, len(digits), size))


# --- stages and steps ---------------------------------------------------------------------------


def _tell_stages(progress: Progress, clock: Clock) -> tuple[StagePart, ...]:
    sheet = progress.sheet
    stages: list[StagePart] = []
    number = 0
    for stage in sheet.stages:
        steps = []
        for step in stage.steps:
            number += 1
            tasks = tuple(
                _tell_task(progress, clock, f"{number}.{index}", task)
                for index, task in enumerate(step.tasks, 1)
            )
            steps.append(
                StepPart(
                    number,
                    step.title,
                    step.text,
                    _tell_span(progress, clock, number, len(step.tasks)),
                    _tell_cautions(progress, clock, number, step.cautions),
                    tasks,
                    tuple(
                        ListLine("Note", str(e.data["text"]), "", clock.moment(e.at))
                        for e in progress.notes
                        if e.data["step"] == number
                    ),
                    _tell_photos(progress, clock, number),
                )
            )
        stages.append(StagePart(stage.title, tuple(steps)))
    return tuple(stages)


def _tell_span(progress: Progress, clock: Clock, number: int, count: int) -> str:
    """When the step was worked on: "4 May 2031, 14:05 to 14:20"."""
    moments = []
    for index in range(1, count + 1):
        address = f"{number}.{index}"
        moments += [mark.event.when for mark in progress.marks.get(address, [])]
        outcome = progress.outcomes.get(address)
        if outcome is not None:
            moments.append(outcome.event.when)
    if not moments:
        return ""
    first, last = min(moments), max(moments)
    if clock.day(first) != clock.day(last):
        return f"{clock.moment(first)} to {clock.moment(last)}"
    if clock.time(first) == clock.time(last):
        return clock.moment(first)
    return f"{clock.moment(first)} to {clock.time(last)}"


def _tell_photos(progress: Progress, clock: Clock, number: int) -> tuple[PhotoLine, ...]:
    place = progress.sheet.steps[number - 1]
    lines = [
        PhotoLine(photo.file, photo.caption, photo.alt, "", photo.marks)
        for photo in place.step.photos
    ]
    for event in progress.photos:
        if event.data["step"] == number:
            taken = clock.moment(event.at)
            caption = str(event.data.get("caption", ""))
            lines.append(
                PhotoLine(str(event.data["sha256"]), caption, "own photo", f"Taken in {taken}")
            )
    return tuple(lines)


def _tell_task(progress: Progress, clock: Clock, address: str, task: Task) -> TaskLine:
    sheet = progress.sheet
    spec = "; ".join(_name_spec(sheet, name) for name in task.spec_names)
    outcome = progress.outcomes.get(address)
    if outcome is None:
        return TaskLine(
            address, task.text, _tell_unfinished(progress, address, task), "", "missing", spec
        )
    time = clock.time(outcome.event.at)
    if outcome.skipped:
        return TaskLine(
            address, task.text, "skipped", time, "skipped", spec, "", f"Skipped: {outcome.reason}"
        )
    told = _tell_outcome(progress, address, task, outcome)
    remark = f"Departure: {outcome.departure}" if outcome.departure else ""
    return TaskLine(address, task.text, told, time, "done", spec, _task_note(task), remark)


def _name_spec(sheet: Sheet, name: str) -> str:
    return f"{name}: {tell_spec(sheet.spec(name))}"


def _task_note(task: Task) -> str:
    return task.reason if isinstance(task, Leave) else ""


def _tell_unfinished(progress: Progress, address: str, task: Task) -> str:
    marks = progress.marks.get(address, [])
    if isinstance(task, Torque) and marks:
        pulls = len(progress.order_of(task)) * sum(1 for p in task.schedule if p.kind != "check")
        made = len({(m.pass_number, m.fastener) for m in marks})
        return f"not finished: {made} of {pulls} marks"
    return "not recorded"


def _tell_outcome(progress: Progress, address: str, task: Task, outcome: Outcome) -> str:
    match task:
        case Open():
            return _past(task.how)
        case Close():
            return {
                "refit": "refitted",
                "reconnect": "reconnected",
                "refill": "refilled",
                "tighten": "tightened",
            }[task.how]
        case Leave():
            return "left loose" if task.how == "left loose" else "not touched"
        case Drain() | Fill() | Measure():
            other = _convert(progress, address, outcome.value)
            return f"{outcome.value} ({other})" if other else outcome.value or "done"
        case Wait():
            return "time passed"
        case TakePhoto():
            taken = any(e.data.get("task") == address for e in progress.photos)
            return "photo taken" if taken else "done"
        case Torque():
            pulls = len(task.schedule)
            return "torqued" if pulls == 1 else f"all {pulls} passes done"
        case _:
            return "done"
