"""Rules about screws: torques that lie far outside what the screw in the sheet usually takes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from shopguide.errors import UnitTrouble
from shopguide.job.model import Torque
from shopguide.review.facts import StepFacts
from shopguide.review.rule import Found, Place, Rule
from shopguide.review.screw_sizes import reads_as_thread
from shopguide.torque import units
from shopguide.torque.screw_report import ScrewReport, screw_report


class _Screw(NamedTuple):
    """What a sheet says of a screw."""

    thread: str | None
    grade: str | None
    condition: str | None


def find_torque_beyond_screw(facts: StepFacts) -> Iterator[Found]:
    """Torque tasks whose figure is far above or far below what their screws usually take.

    Only where thread and class are named. What an angle pass adds is left alone, for torque and
    angle end in yield on purpose, and its starting torque may be low.
    """
    for index, task in facts.torques:
        screws = [one for one in _list_screws(facts, task) if one[1].thread and one[1].grade]
        torque = _find_largest_torque(facts, task) if screws else None
        if torque is None:
            continue
        turned_on = any(one.kind == "angle" for one in task.schedule)
        for whose, screw in screws:
            report = _report(screw, torque)
            if report is None or report.verdict in ("usual", "high"):
                continue
            if report.verdict == "far below" and turned_on:
                continue
            yield Found(
                Place(task=index, field="spec"),
                f"{whose}{report.tell_verdict()} Compare figure, unit, thread and class with "
                "the manual.",
            )


def find_screw_that_cannot_be_read(facts: StepFacts) -> Iterator[Found]:
    """Screws with a class whose thread, class or condition cannot be looked up."""
    for index, task in facts.torques:
        for whose, screw in _list_screws(facts, task):
            said = _judge_screw(screw)
            if said:
                field = "pattern" if task.pattern is not None else _find_unread(screw)
                yield Found(Place(task=index, field=field), f"{whose}{said}")


def _find_unread(screw: _Screw) -> str:
    """Which key of a task keeps its screw from being looked up."""
    if screw.thread is None:
        return "thread"
    for key, held in (("thread", _Screw(screw.thread, "8.8", None)),
                      ("condition", _Screw("M6", "8.8", screw.condition))):  # fmt: skip
        if _judge_screw(held):
            return key
    return "grade"


@lru_cache(maxsize=1024)
def _judge_screw(screw: _Screw) -> str:
    """Why a screw with a class cannot be looked up; "" where it can."""
    if screw.grade is None:
        return ""
    if screw.thread is None:
        return 'A class is named and no thread. Write "thread", such as M6.'
    if not reads_as_thread(screw.thread):
        return ""  # told by the graver rule about sizes
    try:
        screw_report(screw.thread, screw.grade, condition=screw.condition)
    except UnitTrouble as trouble:
        return str(trouble)
    return ""


def _find_largest_torque(facts: StepFacts, task: Torque) -> units.Amount | None:
    """The largest torque of a task's passes, shares reckoned in; None where none is known."""
    largest = None
    for one in task.schedule:
        spec = facts.spec(task.spec_of(one))
        if one.kind not in ("torque", "check") or spec is None:
            continue
        text = spec.value or spec.high or spec.low
        if spec.kind is not units.Kind.TORQUE or text is None:
            continue
        amount = units.read(text, units.Kind.TORQUE)
        if amount.base <= 0:
            continue
        amount = units.scale(amount, one.share)
        if largest is None or amount.base > largest.base:
            largest = amount
    return largest


def _list_screws(facts: StepFacts, task: Torque) -> Iterator[tuple[str, _Screw]]:
    """The different screws of a task, each with whose it is: "" where all are alike."""
    if task.pattern is None:
        yield "", _Screw(task.thread, task.grade, task.condition)
        return
    pattern = facts.pattern(task.pattern)
    numbers: dict[_Screw, list[int]] = {}
    for one in pattern.tightened if pattern is not None else ():
        numbers.setdefault(_Screw(one.thread, one.grade, one.condition), []).append(one.number)
    for screw, whose in numbers.items():
        shown = ", ".join(str(number) for number in whose[:8]) + (" …" if len(whose) > 8 else "")
        yield "" if len(numbers) == 1 else f"Number {shown}: ", screw


@lru_cache(maxsize=1024)
def _report(screw: _Screw, torque: units.Amount) -> ScrewReport | None:
    """What the torque does to the screw; None where the sheet does not say enough of it."""
    if screw.thread is None or screw.grade is None:
        return None
    try:
        return screw_report(screw.thread, screw.grade, torque=torque, condition=screw.condition)
    except UnitTrouble:
        return None  # told by the other rule


SCREW_RULES: tuple[Rule, ...] = (
    Rule(
        "torque suits the screw",
        "wants an answer",
        "a wrong unit or a wrong screw shows first as a torque that the screw cannot stand, or "
        "hardly feels; yield after VDI 2230, K by published ranges, an estimate",
        find_torque_beyond_screw,
        "step",
    ),
    Rule(
        "screw can be looked up",
        "hint",
        "only a screw whose thread and class are known can be held against its torque; "
        "common practice, no source",
        find_screw_that_cannot_be_read,
        "step",
    ),
)
