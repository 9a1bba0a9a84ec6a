"""What comes next: what pressing Space would record now, in words and as the event itself."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from shopguide.errors import Trouble
from shopguide.job.model import (
    Caution,
    Close,
    Confirm,
    Drain,
    Fill,
    Leave,
    Measure,
    Open,
    Sheet,
    TakePhoto,
    Task,
    Torque,
    Wait,
)
from shopguide.torque import units
from shopguide.work.events import Event
from shopguide.work.ledger import OPENED
from shopguide.work.progress import Progress, TripState, timer_key
from shopguide.work.wrench_choice import wrench_data

SIGNALS_READ_IN_PLACE = ("DANGER", "WARNING")
"""Cautions of a step that are acknowledged at the step itself, before anything is recorded."""


@dataclass(frozen=True, slots=True)
class Due:
    """What comes next.

    act: "acknowledge", "mark", "do", "value" (something is typed first), "wait", "photo" (a
    picture is chosen first), "stuck" (a check that does not end), or "end".
    kind, data: the event that Space would append; kind is "" where Space opens something first.
    bar: what Space does, a sentence; after: what comes then; asks: what the entry asks for.
    timer, seconds: the waiting time that is due, by its key (see progress.timer_key).
    """

    act: str
    step: int
    bar: str
    task: str = ""
    kind: str = ""
    data: Mapping[str, Any] = field(default_factory=dict)
    after: str = ""
    asks: str = ""
    caution: Caution | None = None
    trip: TripState | None = None
    fastener: int | None = None
    timer: str = ""
    seconds: int = 0


def caution_key(step: int | None, index: int) -> str:
    """How an acknowledgement names a caution: "job.1", or "12.1" for the first of step 12."""
    return f"{step}.{index}" if step is not None else f"job.{index}"


def cautions_to_acknowledge(sheet: Sheet) -> tuple[tuple[str, Caution], ...]:
    """The cautions marked as to be acknowledged before work starts, with their keys."""
    return tuple(
        (caution_key(step, index), caution) for step, index, caution in sheet.cautions_to_read
    )


def unread_cautions(progress: Progress) -> tuple[tuple[str, Caution], ...]:
    """Those of `cautions_to_acknowledge` that nobody has acknowledged yet."""
    return tuple(
        (key, caution)
        for key, caution in cautions_to_acknowledge(progress.sheet)
        if key not in progress.acknowledged
    )


def next_up(progress: Progress) -> Due:
    """What Space records now."""
    address = progress.first_undone()
    if address is None:
        return Due(
            "end", len(progress.sheet.steps), "Every task is recorded. Space goes to Sign off"
        )
    return due_for(progress, address)


def due_for(progress: Progress, address: str) -> Due:
    """What Space would record if this task's turn had come."""
    place = progress.sheet.step_of(address)
    for index, caution in enumerate(place.step.cautions, 1):
        key = caution_key(place.number, index) + " at the step"
        if caution.signal in SIGNALS_READ_IN_PLACE and key not in progress.acknowledged:
            return Due(
                "acknowledge",
                place.number,
                f"Space records: I have read the {caution.signal} above",
                task=address,
                kind="acknowledged",
                data={"caution": key, "place": "work"},
                after=f"then: {progress.sheet.tasks[address].text}",
                caution=caution,
            )
    task = progress.sheet.tasks[address]
    if isinstance(task, Torque):
        return _due_mark(progress, address, task)
    due = _due_plain(progress, address, task)
    return due


def _after(progress: Progress, address: str) -> str:
    """What comes after this task, in a few words."""
    addresses = list(progress.sheet.tasks)
    for other in addresses[addresses.index(address) + 1 :]:
        if other not in progress.outcomes:
            here, there = progress.sheet.step_of(address), progress.sheet.step_of(other)
            if here.number == there.number:
                return f"then: {progress.sheet.tasks[other].text}"
            return f"then: step {there.number}, {there.step.title}"
    return "then: Sign off"


def _due_plain(progress: Progress, address: str, task: Task) -> Due:
    number = progress.sheet.step_of(address).number
    base: dict[str, Any] = {"task": address}
    after = _after(progress, address)
    match task:
        case Confirm():
            bar = f"Space records: done, {_lower(task.text)}"
        case Open():
            bar = f"Space records: {task.item} {OPENED[task.how]}"
        case Close():
            bar = f"Space records: {task.item} {_closed(task.how)}"
        case Leave():
            bar = (
                f"Space records: {task.fastener} left loose"
                if task.how == "left loose"
                else f"Space records: {task.fastener} not touched"
            )
        case Drain() | Fill() | Measure():
            asks = _asks(progress, task)
            return Due(
                "value",
                number,
                f"Space opens the entry: {asks}",
                task=address,
                data=base,
                after=after,
                asks=asks,
            )
        case TakePhoto():
            return Due(
                "photo",
                number,
                "Space opens the pictures: choose the photo just taken",
                task=address,
                data=base,
                after=after,
            )
        case Wait():
            return _due_wait(progress, address, task, number, after)
        case _:
            raise AssertionError(task)
    return Due("do", number, bar, task=address, kind="done", data=base, after=after)


def _asks(progress: Progress, task: Drain | Fill | Measure) -> str:
    match task:
        case Drain():
            return f"how much {task.fluid} came out"
        case Fill():
            return f"how much {task.fluid} went in"
        case _:
            return task.spec


def _due_wait(progress: Progress, address: str, task: Wait, number: int, after: str) -> Due:
    spec = progress.sheet.spec(task.spec)
    begun = address in progress.timers
    return Due(
        "wait",
        number,
        "Space records: the time has passed" if begun else f"Space starts the clock: {spec.tell()}",
        task=address,
        kind="done" if begun else "timer",
        data={"task": address}
        if begun
        else {"task": address, "seconds": wait_seconds(progress.sheet, task)},
        after=after,
        timer=address,
        seconds=wait_seconds(progress.sheet, task),
    )


def _due_rest(progress: Progress, address: str, state: TripState, number: int) -> Due:
    """The waiting time that the sheet asks for before a pass begins."""
    amount = units.read(state.one.after or "", units.Kind.TIME)
    key = timer_key(address, state.pass_number)
    begun = key in progress.timers
    data: dict[str, Any] = {"task": address, "pass": state.pass_number}
    seconds = round(amount.base)
    return Due(
        "wait",
        number,
        "Space records: the time has passed"
        if begun
        else f"Space starts the clock: {amount.text} before pass {state.pass_number}",
        task=address,
        kind="rested" if begun else "timer",
        data=data if begun else {**data, "seconds": seconds},
        after=f"then: {state.one.tell()}",
        trip=state,
        timer=key,
        seconds=seconds,
    )


def wait_seconds(sheet: Sheet, task: Wait) -> int:
    """How long the sheet asks to wait, in whole seconds; 0 where it is not known."""
    spec = sheet.spec(task.spec)
    amount = spec.amount()
    if amount is not None:
        return round(amount.base)
    low, _ = spec.limits()
    return round(low or 0)


def seconds_left(progress: Progress, timer: str, now: datetime | None = None) -> int | None:
    """Seconds until this waiting time has passed; None where its clock is not on."""
    begun = progress.timers.get(timer)
    if begun is None:
        return None
    gone = ((now or datetime.now(UTC)) - begun.when).total_seconds()
    return max(0, round(int(begun.data["seconds"]) - gone))


# --- torque -------------------------------------------------------------------------------


def target_text(sheet: Sheet, task: Torque, state: TripState) -> str:
    """What this pass asks of each fastener: "9 N·m", "90°", "loose", "by hand"."""
    name = task.spec_of(state.one)
    if name is None:
        return state.one.turn or ("loose" if state.one.kind == "back off" else "by hand")
    spec = sheet.spec(name)
    amount = spec.amount()
    if amount is None:
        return spec.tell()
    if state.one.share != 1.0:
        return units.scale(amount, state.one.share).text
    return amount.text


def _due_mark(progress: Progress, address: str, task: Torque) -> Due:
    state = progress.trip(address)
    number = progress.sheet.step_of(address).number
    if state is None:
        raise AssertionError(f"task {address} has no pass left")
    if state.stuck:
        return Due(
            "stuck",
            number,
            "Still turning after many trips. Press S and write what you found",
            task=address,
            trip=state,
        )
    if state.rests:
        return _due_rest(progress, address, state, number)
    fastener = state.due
    assert fastener is not None
    way = state.way
    place = way.index(fastener) + 1
    said = _say_mark(progress, task, state, fastener)
    later = [n for n in way[place:] if n not in state.marked]
    if later:
        after = f"then: {_call(progress, task, later[0])}"
    elif state.pass_number < len(task.schedule):
        after = f"then: {task.schedule[state.pass_number].tell()}"
    else:
        after = _after(progress, address)
    return Due(
        "mark",
        number,
        f"Space records: {said}",
        task=address,
        kind="mark",
        data=mark_data(progress, address, fastener),
        after=after,
        trip=state,
        fastener=fastener,
    )


def _say_mark(progress: Progress, task: Torque, state: TripState, fastener: int) -> str:
    passes = len(task.schedule)
    parts = [_call(progress, task, fastener, of=len(state.way) > 1)]
    if passes > 1:
        parts.append(f"pass {state.pass_number} of {passes}")
    if state.one.kind == "check":
        parts.append(f"trip {state.trip}, did not turn")
    else:
        parts.append(_deed(progress.sheet, task, state))
    return ", ".join(parts)


def _deed(sheet: Sheet, task: Torque, state: TripState) -> str:
    target = target_text(sheet, task, state)
    match state.one.kind:
        case "back off":
            return "loosened" if target == "loose" else f"backed off {target}"
        case "snug":
            return "snug" if target == "by hand" else f"snug, {target}"
        case "angle":
            return f"turned {target}"
        case _:
            return target


def _call(progress: Progress, task: Torque, fastener: int, of: bool = False) -> str:
    """What a fastener is called: "screw 7 of 16", by its place in the order."""
    if task.pattern is None:
        return task.fastener or ""
    pattern = progress.sheet.pattern(task.pattern)
    order = progress.order_of(task)
    place = order.index(fastener) + 1
    said = f"{pattern.fastener_word} {place}" + (f" of {len(order)}" if of else "")
    if place != fastener:
        said += f" (no. {fastener})"
    return said


def mark_data(
    progress: Progress, address: str, fastener: int, *, moved: bool = False, departure: str = ""
) -> dict[str, Any]:
    """The data of the event that one fastener has had the pass under way.

    Raises Trouble where the fastener has had this pass already, or takes no part in it.
    """
    task = progress.sheet.tasks[address]
    assert isinstance(task, Torque)
    state = progress.trip(address)
    if state is None:
        raise Trouble("Every pass of this task is recorded.", next="Go on with the next task.")
    if state.rests:
        raise Trouble(
            f"Pass {state.pass_number} begins after a waiting time of {state.one.after}.",
            next="Space starts the clock, or says that the time has passed.",
        )
    called = _call(progress, task, fastener) if fastener in state.way else f"fastener {fastener}"
    if fastener not in state.way:
        raise Trouble(f"The {called} is not tightened in this task.", next="Choose another one.")
    if fastener in state.marked:
        raise Trouble(
            f"The {called} already has pass {state.pass_number}.",
            next="Backspace takes back what was recorded last.",
        )
    data: dict[str, Any] = {
        "task": address,
        "pass": state.pass_number,
        "trip": state.trip,
        "fastener": fastener,
        "target": target_text(progress.sheet, task, state),
    }
    if state.one.kind in ("torque", "check", "snug"):
        data |= wrench_data(progress, address, data["target"])
    if state.one.kind == "check":
        data["moved"] = moved
    if departure:
        data["departure"] = departure
    return data


def out_of_turn(progress: Progress, address: str, fastener: int | None = None) -> str:
    """Why recording this now would depart from the sheet, as a question; "" where it would not."""
    due = next_up(progress)
    if due.task == address and (fastener is None or fastener == due.fastener):
        return ""
    if due.task == address and due.trip is not None:
        task = progress.sheet.tasks[address]
        assert isinstance(task, Torque) and due.fastener is not None and fastener is not None
        return (
            f"The order asks for {_call(progress, task, due.fastener)} now. "
            f"Record {_call(progress, task, fastener)} out of turn?"
        )
    if not due.task:
        return ""
    return f"Step {due.step} comes first: {progress.sheet.tasks[due.task].text} Record this now?"


def wrench_for(progress: Progress, target: str, address: str = "") -> str:
    """The wrench of Lay out that serves this torque best, by name; "" where none reaches it."""
    return wrench_data(progress, address, target).get("wrench", "")


# --- values -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Reading:
    """A typed value held against its spec. `outside` is a sentence, or "" where all is well."""

    text: str
    converted: str
    outside: str = ""


def spec_kind(progress: Progress, task: Task) -> units.Kind:
    """The kind of quantity that this task's entry takes."""
    if isinstance(task, Measure):
        return progress.sheet.spec(task.spec).kind
    return units.Kind.VOLUME


def read_value(progress: Progress, address: str, text: str) -> Reading:
    """Reads what was typed for a drain, fill or measure task; raises UnitTrouble."""
    task = progress.sheet.tasks[address]
    kind = spec_kind(progress, task)
    amount = units.read(text, kind)
    outside = ""
    if isinstance(task, Fill) and task.like_drained:
        told, total = drained_total(progress, task.fluid)
        if total is not None and abs(amount.base - total) > max(0.05, 0.02 * total):
            outside = f"{told} came out, {amount.text} went in."
    elif task.spec_names:
        spec = progress.sheet.spec(task.spec_names[0])
        low, high = spec.limits()
        if low is not None and amount.base < low - 1e-9:
            outside = f"{amount.text} is below the lower limit: {spec.tell()}."
        elif high is not None and amount.base > high + 1e-9:
            outside = f"{amount.text} is above the upper limit: {spec.tell()}."
    return Reading(amount.text, units.tell_converted(amount), outside)


def drained_total(progress: Progress, fluid: str) -> tuple[str, float | None]:
    """What was drained of a fluid, as typed and in litres; ("", None) where nothing was."""
    typed = progress.drained(fluid)
    if not typed:
        return "", None
    total = sum(units.read(text, units.Kind.VOLUME).base for text in typed)
    return " + ".join(typed), total


def value_data(address: str, reading: Reading, departure: str = "") -> dict[str, Any]:
    """The data of the event that a value was read or filled in."""
    data: dict[str, Any] = {"task": address, "value": reading.text}
    if departure:
        data["departure"] = departure
    return data


# --- taking back --------------------------------------------------------------------------


def say_back(progress: Progress) -> str:
    """What Backspace takes back now, in words; "" where there is nothing to take back."""
    event = progress.last_taken()
    return f"Backspace takes back {say_event(progress, event)}" if event is not None else ""


def say_event(progress: Progress, event: Event) -> str:
    """One recorded event in a few words: "screw 6, pass 1"."""
    data = event.data
    match event.kind:
        case "mark":
            task = progress.sheet.tasks[data["task"]]
            assert isinstance(task, Torque)
            said = _call(progress, task, int(data["fastener"]))
            return f"{said}, pass {data['pass']}" if len(task.schedule) > 1 else said
        case "done":
            value = f" ({data['value']})" if data.get("value") else ""
            return f"“{_short(progress.sheet.tasks[data['task']].text)}”{value}"
        case "skipped":
            return f"the skipping of “{_short(progress.sheet.tasks[data['task']].text)}”"
        case "timer":
            return "the start of the clock"
        case "rested":
            return f"the waiting before pass {data['pass']}"
        case "acknowledged":
            return "the reading of a caution"
        case "note":
            return f"a note to step {data['step']}"
        case "photo":
            return f"a photo of step {data['step']}"
        case "reading":
            return f"the reading {data['reading']}"
        case "accounted":
            return f"the reason for “{data['item']}”"
        case _:
            return event.kind


def say_last(progress: Progress) -> str:
    """When work stopped and what was recorded last, for the line shown on resuming."""
    for event in reversed(progress.events):
        if event.kind in ("mark", "done", "skipped", "timer", "reading"):
            taken_back = " (taken back)" if event.seq in progress.withdrawn else ""
            return f"{say_event(progress, event)}{taken_back}"
    return "nothing yet"


def _closed(how: str) -> str:
    return {
        "refit": "refitted",
        "reconnect": "reconnected",
        "refill": "refilled",
        "tighten": "tightened",
    }[how]


def _short(text: str, most: int = 34) -> str:
    """The beginning of a sentence, cut at a word."""
    text = text.rstrip(".")
    if len(text) <= most:
        return text
    return text[:most].rsplit(" ", 1)[0] + " …"


def _lower(text: str) -> str:
    """A task's first sentence inside another one: no capital, no full stop."""
    # A full stop ends a sentence after a word, not after a number ("1. Lift it").
    text = re.split(r"(?<=[^\W\d])\. ", text, maxsplit=1)[0].rstrip(".")
    if len(text) > 1 and text[1].isupper():
        return text
    return text[:1].lower() + text[1:]
