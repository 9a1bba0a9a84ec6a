"""The figures of a card: the torque, amount or time that is due, its source, what to set."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from shopguide.job.model import Drain, Fill, Task, Torque, Wait
from shopguide.torque import units
from shopguide.work.next_up import drained_total, seconds_left, target_text, wrench_for
from shopguide.work.progress import Progress, timer_key


class Figure(NamedTuple):
    """figure: the largest words of the card; under: converted, band, source; to_set: the wrench."""

    figure: str = ""
    under: str = ""
    to_set: str = ""


def tell_clock(seconds: int) -> str:
    """ "4:05", or "3:59:05" from an hour on."""
    if seconds >= 3600:
        return f"{seconds // 3600}:{seconds // 60 % 60:02d}:{seconds % 60:02d}"
    return f"{seconds // 60}:{seconds % 60:02d}"


def tell_figure(
    progress: Progress, address: str, task: Task, *, due: bool, now: datetime | None = None
) -> Figure:
    """What a task is about in figures; of a torque task also while it is not due."""
    if isinstance(task, Torque):
        return _tell_torque(progress, address, task, due, now)
    return _tell_value(progress, address, task, now) if due else Figure()


def _tell_torque(
    progress: Progress, address: str, task: Torque, due: bool, now: datetime | None
) -> Figure:
    trip = progress.trip(address) if due else None
    name = task.spec
    figure = ""
    if trip is not None and trip.rests:
        asked = trip.one.after or ""
        left = seconds_left(progress, timer_key(address, trip.pass_number), now)
        return _tell_time(left, asked, f"to wait before pass {trip.pass_number}")
    if trip is not None:
        figure = target_text(progress.sheet, task, trip)
        name = task.spec_of(trip.one)
    elif name is not None:
        amount = progress.sheet.spec(name).amount()
        figure = amount.text if amount is not None else progress.sheet.spec(name).tell()
    if name is None:
        words = {"loose": "back off until loose", "by hand": "finger-tight"}
        return Figure(figure, words.get(figure, "back off by this much" if figure else ""))
    spec = progress.sheet.spec(name)
    parts = []
    if figure and spec.kind is units.Kind.TORQUE and spec.amount() is not None:
        parts.append(units.tell_converted(units.read(figure, spec.kind)))
    if spec.tolerance:
        parts.append(spec.tolerance)
    parts.append(spec.source.tell())
    to_set = ""
    if spec.kind is units.Kind.TORQUE and figure and spec.amount() is not None:
        wrench = wrench_for(progress, figure)
        if wrench:
            to_set = f"Set {figure} on the {wrench}"
        elif progress.laid_out.get("wrenches"):
            to_set = "No wrench from Lay out reaches this torque"
    return Figure(figure, " · ".join(part for part in parts if part), to_set)


def _tell_time(left: int | None, asked: str, source: str) -> Figure:
    if left is None:
        return Figure(asked, source)
    if left == 0:
        return Figure("0:00", f"{asked} have passed")
    return Figure(tell_clock(left), f"left of {asked}")


def _tell_value(progress: Progress, address: str, task: Task, now: datetime | None) -> Figure:
    if isinstance(task, Wait):
        spec = progress.sheet.spec(task.spec)
        return _tell_time(seconds_left(progress, address, now), spec.tell(), spec.source.tell())
    if isinstance(task, Fill) and task.like_drained:
        told, total = drained_total(progress, task.fluid)
        if total is not None:
            return Figure(f"{total:.2f} L", f"as much as came out: {told}")
    names = task.spec_names
    if not names:
        return Figure()
    spec = progress.sheet.spec(names[0])
    amount = spec.amount()
    converted = units.tell_converted(amount) if amount is not None else ""
    word = "expected" if isinstance(task, Drain) else ""
    said = (word, converted, spec.source.tell())
    return Figure(spec.tell(), " · ".join(part for part in said if part))
