"""The figures of a card: the torque, amount or time that is due, its source, what to set."""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

from shopguide.bolts.pattern import Head
from shopguide.job.model import Drain, Fill, Task, Torque, Wait
from shopguide.torque import units
from shopguide.torque.spec import Spec
from shopguide.work.next_up import drained_total, seconds_left, target_text
from shopguide.work.progress import Progress, timer_key
from shopguide.work.wrench_choice import tell_to_set


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
    if name is None:
        words = {"loose": "back off until loose", "by hand": "finger-tight"}
        return Figure(figure, words.get(figure, "back off by this much" if figure else ""))
    spec = progress.sheet.spec(name)
    told = tell_spec(spec, figure)
    if spec.kind is units.Kind.TORQUE and told.figure and spec.amount() is not None:
        return told._replace(to_set=tell_to_set(progress, address, told.figure))
    return told


def tell_spec(spec: Spec, figure: str = "") -> Figure:
    """A torque as a card shows it: `figure` or the spec's own; converted, band, source under it."""
    amount = spec.amount()
    if not figure:
        figure = amount.text if amount is not None else spec.tell()
    parts = []
    if figure and spec.kind is units.Kind.TORQUE and amount is not None:
        parts.append(units.tell_converted(units.read(figure, spec.kind)))
    if spec.tolerance:
        parts.append(spec.tolerance)
    parts.append(spec.source.tell())
    return Figure(figure, " · ".join(part for part in parts if part))


def tell_amount(spec: Spec, word: str = "") -> Figure:
    """An amount, a time or a limit as a card shows it while it is due."""
    amount = spec.amount()
    converted = units.tell_converted(amount) if amount is not None else ""
    said = (word, converted, spec.source.tell())
    return Figure(spec.tell(), " · ".join(part for part in said if part))


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
    word = "expected" if isinstance(task, Drain) else ""
    return tell_amount(progress.sheet.spec(names[0]), word)


class Turn(NamedTuple):
    """A turn in degrees with its limits, and the head that is turned, for the picture of it."""

    degrees: float
    low: float | None
    high: float | None
    head: Head


def find_turn(progress: Progress, address: str, task: Task) -> Turn | None:
    """The turn that the pass under way asks for; None where it is no angle pass."""
    if not isinstance(task, Torque):
        return None
    trip = progress.trip(address)
    if trip is None or trip.rests or trip.one.kind != "angle" or trip.one.spec is None:
        return None
    spec = progress.sheet.spec(trip.one.spec)
    amount = spec.amount()
    low, high = spec.limits()
    if amount is not None:
        degrees = amount.base
    elif low is not None and high is not None:
        degrees = (low + high) / 2
    else:
        return None
    head = progress.pattern_of(task).head if task.pattern is not None else "hex"
    return Turn(degrees, low, high, head)
