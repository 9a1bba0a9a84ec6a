"""Values on paper: what a task asks for, what was recorded, and both in the other system."""

from __future__ import annotations

from dataclasses import dataclass

from shopguide.job.model import Drain, Fill, Measure, Sheet
from shopguide.paper.clock import Clock
from shopguide.torque import units
from shopguide.torque.spec import Spec
from shopguide.work.next_up import read_value
from shopguide.work.progress import Progress


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
        convert_value(progress, address, outcome.value),
        time,
        outcome.departure,
        address,
    )


def convert_value(progress: Progress, address: str, value: str) -> str:
    if not value:
        return ""
    try:
        return read_value(progress, address, value).converted
    except units.UnitTrouble:
        return ""


def tell_fluids(progress: Progress, clock: Clock) -> tuple[ValueLine, ...]:
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


def tell_measurements(progress: Progress, clock: Clock) -> tuple[ValueLine, ...]:
    return tuple(
        _tell_value(progress, clock, address, task.spec[0].upper() + task.spec[1:])
        for address, task in progress.sheet.tasks.items()
        if isinstance(task, Measure)
    )
