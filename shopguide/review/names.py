"""Rules about names: each leads to one entry of the sheet, and to one of the right kind.

A saved sheet is refused for such faults when it is opened; a sheet in the making can have them.
"""

from __future__ import annotations

from collections.abc import Iterator
from difflib import get_close_matches

from shopguide.job.model import Drain, Fill, Torque, Wait
from shopguide.review.facts import SheetFacts, StepFacts
from shopguide.review.rule import Fix, Found, Listed, Place, Rule
from shopguide.torque.units import Kind

_SINGULAR = {"specs": "spec", "patterns": "pattern", "fluids": "fluid"}


def find_dead_names(facts: StepFacts) -> Iterator[Found]:
    """Specs, patterns and fluids that a task names and that the sheet does not have."""
    for index, task in facts.tasks:
        for name in task.spec_names:
            if facts.spec(name) is None:
                kind = _guess_kind(task)
                yield Found(
                    Place(task=index, field="spec"),
                    f'No spec is called "{name}". Name another one, or add it.',
                    Fix(
                        "add spec", f'Add the spec "{name}"', {"spec": {"name": name, "kind": kind}}
                    )
                    if kind
                    else None,
                )
        if isinstance(task, Torque) and task.pattern and facts.pattern(task.pattern) is None:
            yield Found(
                Place(task=index, field="pattern"),
                f'No pattern is called "{task.pattern}". Name another one, or add it.',
            )
        if isinstance(task, (Drain, Fill)) and facts.fluid(task.fluid) is None:
            yield Found(
                Place(task=index, field="fluid"),
                f'No fluid is called "{task.fluid}". Name another one, or add it.',
                Fix("add fluid", f'Add the fluid "{task.fluid}"', {"fluid": {"name": task.fluid}}),
            )


def _guess_kind(task: object) -> str:
    if isinstance(task, Torque):
        return "torque"
    if isinstance(task, (Drain, Fill)):
        return "volume"
    return "time" if isinstance(task, Wait) else ""


def find_wrong_kinds(facts: StepFacts) -> Iterator[Found]:
    """Specs of another kind than their task can work to."""
    for index, task in facts.tasks:
        wanted: dict[str, Kind] = {}
        if isinstance(task, Torque):
            if task.spec:
                wanted[task.spec] = Kind.TORQUE
            for one in task.schedule:
                if one.spec:
                    wanted[one.spec] = Kind.ANGLE if one.kind == "angle" else Kind.TORQUE
        elif isinstance(task, (Drain, Fill)) and task.spec:
            wanted[task.spec] = Kind.VOLUME
        elif isinstance(task, Wait):
            wanted[task.spec] = Kind.TIME
        for name, kind in wanted.items():
            spec = facts.spec(name)
            if spec is not None and spec.kind is not kind:
                yield Found(
                    Place(task=index, field="spec"),
                    f'The spec "{name}" is of the kind {spec.kind.value}; this task needs one of '
                    f"the kind {kind.value}. Name another one.",
                )


def find_doubled_names(facts: SheetFacts) -> Iterator[Found]:
    """Names that two specs, patterns or fluids have."""
    lists: tuple[tuple[Listed, tuple], ...] = (
        ("specs", facts.sheet.specs),
        ("patterns", facts.sheet.patterns),
        ("fluids", facts.sheet.fluids),
    )
    for listed, entries in lists:
        seen: set[str] = set()
        told: set[str] = set()
        for entry in entries:
            if entry.name in seen and entry.name not in told:
                told.add(entry.name)
                yield Found(
                    Place(listed=listed, name=entry.name),
                    f'More than one {_SINGULAR[listed]} is called "{entry.name}". '
                    "Give each a name of its own.",
                )
            seen.add(entry.name)


def find_dead_names_in_lists(facts: SheetFacts) -> Iterator[Found]:
    """Specs that a fluid or a follow-up names and that the sheet does not have."""
    for fluid in facts.sheet.fluids:
        if fluid.spec and facts.spec(fluid.spec) is None:
            yield Found(
                Place(listed="fluids", name=fluid.name, field="spec"),
                f'No spec is called "{fluid.spec}". Name another one, or add it.',
                Fix(
                    "add spec",
                    f'Add the spec "{fluid.spec}"'[:80],
                    {"spec": {"name": fluid.spec, "kind": "volume"}},
                ),
            )
    for index, follow_up in enumerate(facts.sheet.follow_ups, 1):
        if follow_up.spec and facts.spec(follow_up.spec) is None:
            yield Found(
                Place(
                    listed="follow_ups",
                    name=str(index),
                    detail=f"follow-up {index}",
                    field="spec",
                ),
                f'No spec is called "{follow_up.spec}". Name another one, or add it.',
            )


def find_unknown_hints(facts: SheetFacts, known: dict[str, str]) -> Iterator[Found]:
    """Names under hints_off that are no hint of the review. known: severity of rules by name."""
    hints = [name for name, severity in known.items() if severity == "hint"]
    held = facts.sheet.hints_off
    for name in held:
        if known.get(name) == "hint":
            continue
        rest = [other for other in held if other != name]
        near = get_close_matches(name, hints, 1)
        if name in known:
            said = f'"{name}" is no hint and cannot be switched off. Take it out of "Hints off".'
        elif near:
            said = f'No hint is called "{name}". Write "{near[0]}", or take it out of "Hints off".'
            rest.append(near[0])
        else:
            said = f'No hint is called "{name}". Take it out of "Hints off".'
        yield Found(
            Place(listed="hints_off", name=name, detail="hints that are switched off"),
            said,
            Fix(
                "change hints",
                f'Write "{near[0]}"' if near and name not in known else "Take it out",
                {"hints_off": list(dict.fromkeys(rest))},
            ),
        )


NAME_RULES: tuple[Rule, ...] = (
    Rule(
        "name leads somewhere",
        "stops work",
        "work cannot show a figure, pattern or fluid that is not there; common practice, no source",
        find_dead_names,
        "step",
    ),
    Rule(
        "name in a list leads somewhere",
        "stops work",
        "work cannot show a figure that is not there; common practice, no source",
        find_dead_names_in_lists,
    ),
    Rule(
        "spec is of the right kind",
        "stops work",
        "a wrench cannot be set to a length, nor a clock to a torque; common practice, no source",
        find_wrong_kinds,
        "step",
    ),
    Rule(
        "names are single",
        "stops work",
        "of two specs with one name nobody knows which is meant; common practice, no source",
        find_doubled_names,
    ),
)
