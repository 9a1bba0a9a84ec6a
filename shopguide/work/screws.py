"""What a torque task's torque does to its screws, where the sheet names thread and class."""

from __future__ import annotations

from shopguide.errors import UnitTrouble
from shopguide.job.model import Torque
from shopguide.torque import units
from shopguide.torque.screw_report import ScrewReport, screw_report
from shopguide.work.progress import Progress


def report_screws(progress: Progress, task: Torque) -> tuple[ScrewReport, ...]:
    """A report for each kind of screw in the task, by its largest torque; empty where unknown.

    An angle pass adds load that no torque tells: a task with one has no report.
    """
    if any(one.kind == "angle" for one in task.schedule):
        return ()
    torque = _find_torque(progress, task)
    if torque is None:
        return ()
    kinds: dict[tuple[str, str, str | None], None] = {}
    if task.pattern is not None:
        pattern = progress.sheet.pattern(task.pattern)
        for fastener in pattern.tightened:
            thread = fastener.thread or pattern.thread
            grade = fastener.grade or pattern.grade
            if thread and grade:
                kinds[(thread, grade, fastener.condition or pattern.condition)] = None
    elif task.thread and task.grade:
        kinds[(task.thread, task.grade, task.condition)] = None
    reports = []
    for thread, grade, condition in kinds:
        try:
            reports.append(screw_report(thread, grade, torque=torque, condition=condition))
        except UnitTrouble:
            continue  # the review says what cannot be looked up
    return tuple(reports)


def tell_screws(progress: Progress, task: Torque) -> tuple[str, ...]:
    """The reports in words, two sentences for each kind of screw."""
    said = []
    for report in report_screws(progress, task):
        said += [report.tell_clamp(), report.tell_verdict()]
    return tuple(line for line in said if line)


def _find_torque(progress: Progress, task: Torque) -> units.Amount | None:
    found: units.Amount | None = None
    for one in task.schedule:
        name = task.spec_of(one)
        spec = progress.sheet.spec(name) if name is not None else None
        if spec is None or spec.kind is not units.Kind.TORQUE:
            continue
        amount = spec.amount()
        if amount is None or one.kind not in ("torque", "check"):
            continue
        if one.share != 1.0:
            amount = units.scale(amount, one.share)
        if found is None or amount.base > found.base:
            found = amount
    return found
