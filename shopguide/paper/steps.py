"""The steps on paper: each task with its outcome, and the notes and photos of each step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
from shopguide.paper.values import convert_value, tell_spec
from shopguide.work.next_up import caution_key
from shopguide.work.progress import Outcome, Progress


@dataclass(frozen=True, slots=True)
class CautionLine:
    """A caution; `read`: when it was read and accepted, in words, or ""."""

    signal: str
    hazard: str
    consequence: str
    avoid: str
    read: str = ""


@dataclass(frozen=True, slots=True)
class ListLine:
    """A name with what belongs to it: a supply, an item, a departure, a follow-up."""

    name: str
    text: str = ""
    note: str = ""
    time: str = ""


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


def tell_cautions(
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


def tell_past(how: str) -> str:
    return {
        "remove": "removed",
        "disconnect": "disconnected",
        "loosen": "loosened",
        "park aside": "parked aside",
        "drain": "drained",
    }.get(how, how)


def tell_stages(progress: Progress, clock: Clock) -> tuple[StagePart, ...]:
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
                    tell_cautions(progress, clock, number, step.cautions),
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
                PhotoLine(str(event.data["sha256"]), caption, "own photo", f"Added {taken}")
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
            return tell_past(task.how)
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
            other = convert_value(progress, address, outcome.value)
            return f"{outcome.value} ({other})" if other else outcome.value or "done"
        case Wait():
            return "time passed"
        case TakePhoto():
            taken = any(e.data.get("task") == address for e in progress.photos)
            return "photo taken" if taken else "done"
        case Torque():
            if len(task.schedule) > 1:
                return f"all {len(task.schedule)} passes done"
            return "snug" if task.schedule[0].kind == "snug" else "torqued"
        case _:
            return "done"
