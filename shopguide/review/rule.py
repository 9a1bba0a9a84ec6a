"""What a rule of the review is, and what it finds: a place, a sentence, and perhaps a fix."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal, NamedTuple

from shopguide.job.model import Sheet

Severity = Literal["stops work", "wants an answer", "hint"]
SEVERITIES: tuple[Severity, ...] = ("stops work", "wants an answer", "hint")
"""From the gravest down."""

Listed = Literal[
    "",
    "specs",
    "parts",
    "tools",
    "fluids",
    "patterns",
    "pictures",
    "photos",
    "cautions",
    "follow_ups",
    "hints_off",
]
_ONE_OF: dict[str, str] = {
    "specs": "spec",
    "parts": "part",
    "tools": "tool",
    "fluids": "fluid",
    "patterns": "pattern",
    "pictures": "picture",
}

FixKind = Literal[
    "add task",
    "add wait",
    "add spec",
    "add part",
    "add tool",
    "add fluid",
    "add caution",
    "add follow-up",
    "change task",
    "change part",
    "change photo",
    "change hints",
    "move task",
    "split task",
    "remove spec",
    "remove photo",
    "remove picture",
]


@dataclass(frozen=True, slots=True)
class Fix:
    """What an editor can do about a finding. says: the words for its button.

    arguments, by kind; each entry to add is plain JSON as it stands in job.json:
    "add task": task, after (the address it comes behind; "4.0" is before the first of step 4).
    "add wait": text, after, spec (to be added with it, or the name of one there is).
    "add spec": spec, and task (the address that shall name it) where there is one.
    "add part": part. "add tool": tool. "add fluid": fluid.
    "add caution": caution, step; where it stood in a text before, what stays of that: task and
    changes, or step_text. "add follow-up": follow_up. "change task": task (address), changes.
    "change part": name, changes. "change photo": step, file, changes. "change hints": hints_off.
    "move task": task, after. "split task": task, texts, one for each of the tasks that it becomes.
    "remove spec": name. "remove photo": step, file. "remove picture": name.
    """

    kind: FixKind
    says: str
    arguments: Mapping[str, Any] = field(hash=False)

    def at(self, number: int) -> Fix:
        """The same in the step with this number; until then its tasks are counted in the step."""
        told = {
            key: f"{number}.{held}" if key in ("task", "after") and isinstance(held, int) else held
            for key, held in self.arguments.items()
        }
        if self.arguments.get("step") == HERE:
            told["step"] = number
        return replace(self, arguments=told)


HERE = -1
"""Stands for the number of the step that is being looked at."""


class Place(NamedTuple):
    """Where in a sheet: a step, a task of it (both from 1), or an entry of a list by its name.

    listed, name: also of a step's own photo (by its file) or caution; a caution and a follow-up
    have their number in the list for a name. detail: what in it, in words. field: the key of
    job.json in the task, entry or step that it is about; "" where it is about the whole of it.
    A rule that sees one step only leaves `step` at 0.
    """

    step: int = 0
    task: int = 0
    listed: Listed = ""
    name: str = ""
    detail: str = ""
    field: str = ""

    def tell(self, sheet: Sheet) -> str:
        """The place in words: "step 4, 'Cover screws', torque 1", "spec 'cover screws'"."""
        if self.step:
            step = sheet.steps[self.step - 1].step
            told = f"step {self.step}, '{step.title}'"
            if self.task:
                told += f", {step.tasks[self.task - 1].kind} {self.task}"
            return f"{told}, {self.detail}" if self.detail else told
        if self.listed in _ONE_OF:
            return f"{_ONE_OF[self.listed]} '{self.name}'"
        return self.detail


class Found(NamedTuple):
    """One thing that a rule has found: where, in a sentence, and what can be done about it."""

    place: Place
    sentence: str
    fix: Fix | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. reason: why what it finds is a fault, with its source or that there is none.

    of: "step" where one step and the entries that it names are all it looks at (a StepFacts), so
    that what it found holds as long as those are the same; "sheet" where it wants a SheetFacts.
    """

    name: str
    severity: Severity
    reason: str
    look: Callable[[Any], Iterator[Found]]
    of: Literal["step", "sheet"] = "sheet"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found: by which rule, how grave, where, in a sentence, and why it matters.

    step, task, listed, name, field: the place to jump to, as far as there is one: number of the
    step, address of the task, which list of the sheet and the name in it, the key in job.json of
    what is to be filled in there. fix: what can be done.
    """

    rule: str
    severity: Severity
    where: str
    sentence: str
    reason: str
    step: int | None = None
    task: str = ""
    listed: str = ""
    name: str = ""
    fix: Fix | None = None
    field: str = ""

    def as_dict(self) -> dict[str, str]:
        """The finding as plain JSON, in words."""
        return {
            "rule": self.rule,
            "severity": self.severity,
            "where": self.where,
            "sentence": self.sentence,
            "reason": self.reason,
        }

    def as_full_dict(self) -> dict[str, Any]:
        """The finding as plain JSON, with place and fix as data; both keys always stand there."""
        fix = self.fix
        return {
            **self.as_dict(),
            "place": {
                "step": self.step,
                "task": self.task,
                "list": self.listed,
                "name": self.name,
                "field": self.field,
            },
            "fix": None
            if fix is None
            else {"kind": fix.kind, "says": fix.says, "arguments": dict(fix.arguments)},
        }

    def tell(self) -> str:
        """The finding in lines: grave or not and where, what, why and by which rule."""
        head = f"{self.severity}: {self.where}" if self.where else self.severity
        return f"{head}\n  {self.sentence}\n  Why: {self.reason} (rule: {self.rule})"


def make_finding(rule: Rule, found: Found, sheet: Sheet) -> Finding:
    """What a rule has found, told for this sheet."""
    place = found.place
    return Finding(
        rule.name,
        rule.severity,
        place.tell(sheet),
        found.sentence,
        rule.reason,
        place.step or None,
        f"{place.step}.{place.task}" if place.step and place.task else "",
        place.listed,
        place.name,
        found.fix,
        place.field,
    )
