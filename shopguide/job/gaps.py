"""What a sheet takes apart and does not put back: open items, loose fasteners, drained fluids."""

from __future__ import annotations

from dataclasses import dataclass

from shopguide.bolts.passes import ends_loose, ends_tight
from shopguide.job.model import Drain, Fill, Leave, Sheet, StepPlace, Task, Torque

Target = tuple[str, str]
"""What is tightened or filled in: ("pattern", its name), ("fastener", …) or ("fluid", …)."""
Need = tuple[str, str]
"""What a task of a proposal is for: ("item", its name), ("fluid", …), ("loose", the fastener),
("loose pattern", …), ("part", …), ("check", "leaks" or "function" and of what), or
("follow-up", "leaks" or "wheels").
"""

CLOSING = {
    "remove": "refit",
    "disconnect": "reconnect",
    "loosen": "tighten",
    "park aside": "refit",
    "drain": "refill",
}
"""How an item is closed, by how it was opened; also the word that its task begins with."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Something that the sheet leaves open, with the task that opens it."""

    need: Need
    at: StepPlace
    index: int
    task: Task


def find_gaps(sheet: Sheet) -> list[Gap]:
    """What is open at the sheet's end, in the sequence of opening."""
    gaps: dict[Need, Gap] = {}
    for place in sheet.steps:
        for index, task in enumerate(place.step.tasks):
            if isinstance(task, Fill):
                gaps.pop(("fluid", task.fluid), None)
            if isinstance(task, Torque) and ends_tight(task.schedule):
                gaps.pop(("loose", task.fastener or ""), None)
                gaps.pop(("loose pattern", task.pattern or ""), None)
            if task.closes:
                gaps.pop(("item", task.closes), None)
                gaps.pop(("loose", task.closes), None)
            if isinstance(task, Drain):
                gaps[("fluid", task.fluid)] = Gap(("fluid", task.fluid), place, index, task)
            if task.opens:
                need: Need = ("item", task.opens)
                gaps.pop(need, None)
                gaps[need] = Gap(need, place, index, task)
            elif isinstance(task, Leave) and task.how == "left loose":
                gaps[("loose", task.fastener)] = Gap(("loose", task.fastener), place, index, task)
            elif isinstance(task, Torque) and ends_loose(task.schedule):
                if task.pattern is not None:
                    need = ("loose pattern", task.pattern)
                else:
                    need = ("loose", task.fastener or "")
                gaps[need] = Gap(need, place, index, task)
    return list(gaps.values())


def list_opened(sheet: Sheet) -> dict[str, StepPlace]:
    """Every item that is ever opened, with the step that opens it last."""
    return {task.opens: place for place in sheet.steps for task in place.step.tasks if task.opens}


def find_aim(task: Torque) -> Target:
    """The pattern or the fastener that a task tightens."""
    return ("pattern", task.pattern) if task.pattern else ("fastener", task.fastener or "")
