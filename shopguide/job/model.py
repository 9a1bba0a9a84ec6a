"""The job sheet: what is to be done, as immutable models.

A sheet is a folder with `job.json` and `photos/`, or the same zipped. Steps are numbered through
the whole sheet from 1; a task's address is "step.task", both from 1 ("12.3").
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date as Date
from difflib import get_close_matches
from functools import cached_property
from typing import Annotated, Literal, NamedTuple, Self

from pydantic import Discriminator, Field, Tag, model_validator

from shopguide.bolts.passes import SCHEDULES, Pass, ends_loose, find_check_faults
from shopguide.bolts.pattern import Pattern
from shopguide.torque import units
from shopguide.torque.entry import Entry, Instruction, Line, Name, Prose
from shopguide.torque.spec import Spec

FORMAT = "shopguide-job/1"

Signal = Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
Pixel = Annotated[float, Field(ge=-100_000, le=100_000, allow_inf_nan=False)]
Spot = tuple[Pixel, Pixel]


class Caution(Entry):
    """A safety message in the three parts of its field, with the signal word of ANSI Z535.6.

    DANGER will, WARNING could, cause death or serious injury; CAUTION could cause minor or
    moderate injury; NOTICE is about damage only.
    """

    signal: Signal
    hazard: Prose
    consequence: Prose
    avoid: Prose
    acknowledge: bool = False


class Arrow(Entry):
    """An arrow on a picture, its head at `to`."""

    kind: Literal["arrow"] = "arrow"
    start: Spot
    to: Spot


class Ring(Entry):
    """A ring on a picture round something."""

    kind: Literal["ring"] = "ring"
    at: Spot
    radius: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]


class Number(Entry):
    """A number on a picture."""

    kind: Literal["number"] = "number"
    at: Spot
    number: Annotated[int, Field(ge=0, le=9999)]


class Text(Entry):
    """A few words on a picture."""

    kind: Literal["text"] = "text"
    at: Spot
    text: Line


class Freehand(Entry):
    """A line drawn by hand on a picture, point by point."""

    kind: Literal["freehand"] = "freehand"
    points: Annotated[tuple[Spot, ...], Field(min_length=2, max_length=2000)]


PictureMark = Annotated[Arrow | Ring | Number | Text | Freehand, Field(discriminator="kind")]


class Photo(Entry):
    """A picture in photos/ with caption, alternative text and marks in its own pixels.

    Pixels count from the upper left corner of the upright picture, x to the right, y down.
    """

    file: Line
    caption: Prose = ""
    alt: Prose = ""
    marks: tuple[PictureMark, ...] = ()


class _Task(Entry):
    """What every task has."""

    text: Instruction
    note: Prose = ""

    @property
    def opens(self) -> str | None:
        """The open item that this task opens."""
        return None

    @property
    def closes(self) -> str | None:
        """The open item that this task closes."""
        return None

    @property
    def spec_names(self) -> tuple[str, ...]:
        """The specs that this task refers to."""
        return ()


class Confirm(_Task):
    """Inspect or do something, and say that it is so."""

    kind: Literal["confirm"] = "confirm"
    spec: Name | None = None

    @property
    def spec_names(self) -> tuple[str, ...]:
        return (self.spec,) if self.spec else ()


class Open(_Task):
    """Take something apart; it stays on the list of open items until it is closed."""

    kind: Literal["open"] = "open"
    how: Literal["remove", "disconnect", "loosen", "park aside", "drain"]
    item: Name

    @property
    def opens(self) -> str | None:
        return self.item


class Close(_Task):
    """Put an open item back."""

    kind: Literal["close"] = "close"
    how: Literal["refit", "reconnect", "refill", "tighten"]
    item: Name

    @property
    def closes(self) -> str | None:
        return self.item


def _tell_passes(value: object) -> str | None:
    """Which of its two forms `passes` has: the name of a schedule, or a list."""
    if isinstance(value, str):
        return "schedule"
    return "list" if isinstance(value, (list, tuple)) else None


Passes = Annotated[
    Annotated[Name, Tag("schedule")]
    | Annotated[tuple[Pass, ...], Field(max_length=50), Tag("list")],
    Discriminator(_tell_passes),
]


class Torque(_Task):
    """Tighten a pattern, or one named fastener, in its passes.

    `passes` is the name of a ready-made schedule or a list; a pass without a spec of its own
    uses the task's. thread, grade and condition are those of the one fastener; a pattern has its
    own.
    """

    kind: Literal["torque"] = "torque"
    pattern: Name | None = None
    fastener: Name | None = None
    spec: Name | None = None
    passes: Passes = "torque"
    thread: Line | None = None
    grade: Line | None = None
    condition: Line | None = None
    item: Name | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.pattern is None) == (self.fastener is None):
            given = "neither" if self.pattern is None else "both"
            raise ValueError(
                f"A torque task names a pattern or one fastener; here stand {given}. "
                'Write either "pattern" or "fastener".'
            )
        for key in ("thread", "grade", "condition"):
            if self.pattern is not None and getattr(self, key) is not None:
                raise ValueError(
                    f"{key}: The screws of a pattern are described in the pattern. "
                    f'Write "{key}" there.'
                )
        if isinstance(self.passes, str):
            if self.passes not in SCHEDULES:
                near = get_close_matches(self.passes, SCHEDULES, 1)
                names = ", ".join(f'"{name}"' for name in near or SCHEDULES)
                raise ValueError(
                    f'passes: No ready-made schedule is called "{self.passes}". '
                    f"Write {'' if near else 'one of '}{names}, or a list of passes."
                )
        elif not self.passes:
            raise ValueError("passes: The list is empty. Give at least one pass.")
        if self.spec is None and any(
            p.spec is None for p in self.schedule if p.kind in ("torque", "check")
        ):
            raise ValueError(
                "A torque task without a spec has no torque to work to. "
                'Write "spec" with the name of a torque spec.'
            )
        if not isinstance(self.passes, str):
            for one in self.passes:
                if one.after is not None:
                    try:
                        units.read(one.after, units.Kind.TIME)
                    except units.UnitTrouble as trouble:
                        raise ValueError(f"passes: {trouble}") from None
        fault = find_check_faults(self.schedule)
        if fault:
            raise ValueError(f"passes: {fault}")
        return self

    @property
    def schedule(self) -> tuple[Pass, ...]:
        """The passes in order, whichever way they were given."""
        return SCHEDULES[self.passes] if isinstance(self.passes, str) else self.passes

    def spec_of(self, one: Pass) -> str | None:
        """The name of the spec that this pass works to; None for a back off or a bare snug."""
        if one.kind == "back off" or (one.kind == "snug" and one.spec is None):
            return one.spec
        return one.spec or self.spec

    @property
    def opens(self) -> str | None:
        return self.item if ends_loose(self.schedule) else None

    @property
    def closes(self) -> str | None:
        return None if ends_loose(self.schedule) else self.item

    @property
    def spec_names(self) -> tuple[str, ...]:
        names = [self.spec, *(p.spec for p in self.schedule)]
        return tuple(dict.fromkeys(name for name in names if name))


class Drain(_Task):
    """Let a fluid out and measure how much came."""

    kind: Literal["drain"] = "drain"
    fluid: Name
    spec: Name | None = None
    item: Name | None = None

    @property
    def opens(self) -> str | None:
        return self.item

    @property
    def spec_names(self) -> tuple[str, ...]:
        return (self.spec,) if self.spec else ()


class Fill(_Task):
    """Fill in a measured quantity: to a spec, or as much as was drained of the same fluid."""

    kind: Literal["fill"] = "fill"
    fluid: Name
    spec: Name | None = None
    like_drained: bool = False
    item: Name | None = None

    @property
    def closes(self) -> str | None:
        return self.item

    @property
    def spec_names(self) -> tuple[str, ...]:
        return (self.spec,) if self.spec else ()


class Measure(_Task):
    """Read a value and hold it against the limits of its spec."""

    kind: Literal["measure"] = "measure"
    spec: Name

    @property
    def spec_names(self) -> tuple[str, ...]:
        return (self.spec,)


class Wait(_Task):
    """Let time pass: drain, cure, cool, run."""

    kind: Literal["wait"] = "wait"
    spec: Name

    @property
    def spec_names(self) -> tuple[str, ...]:
        return (self.spec,)


class TakePhoto(_Task):
    """A photo that must be taken before work goes on."""

    kind: Literal["photo"] = "photo"


class Leave(_Task):
    """A fastener deliberately left loose for now, or never to be touched, and why."""

    kind: Literal["leave"] = "leave"
    how: Literal["left loose", "do not touch"]
    fastener: Name
    reason: Prose
    until: Prose = ""
    item: Name | None = None

    @property
    def opens(self) -> str | None:
        return self.item


Task = Annotated[
    Confirm | Open | Close | Torque | Fill | Drain | Measure | Wait | TakePhoto | Leave,
    Field(discriminator="kind"),
]


class Step(Entry):
    """One card on the screen."""

    title: Line
    text: Prose = ""
    cautions: tuple[Caution, ...] = ()
    photos: tuple[Photo, ...] = ()
    tasks: Annotated[tuple[Task, ...], Field(min_length=1)]


class Stage(Entry):
    """A group of steps: take apart, put back, check."""

    title: Line
    steps: Annotated[tuple[Step, ...], Field(min_length=1)]


class Part(Entry):
    """A part to have at hand."""

    name: Line
    number: Prose = ""
    quantity: Annotated[int, Field(ge=1, le=10_000)] = 1
    single_use: bool = False
    price: Prose = ""
    note: Prose = ""


class Supply(Entry):
    """Something used up: cleaner, rags, threadlock."""

    name: Line
    quantity: Prose = ""
    note: Prose = ""


class Fluid(Entry):
    """A fluid that drain and fill tasks refer to by name."""

    name: Name
    grade: Prose = ""
    spec: Name | None = None
    note: Prose = ""


class Tool(Entry):
    """A tool to have at hand."""

    name: Line
    note: Prose = ""


class FollowUp(Entry):
    """Something to do again after the job: a re-check after some days."""

    text: Line
    after: Line
    spec: Name | None = None


class StepPlace(NamedTuple):
    """A step with where it stands: its number through the sheet and its stage."""

    number: int
    stage: Stage
    stage_number: int
    step: Step


class Sheet(Entry):
    """A whole job sheet."""

    format: Literal["shopguide-job/1"]
    title: Line
    summary: Prose = ""
    applies_to: tuple[Line, ...] = ()
    time: Line | None = None
    skill: Prose = ""
    author: Line
    revision: Line = "1"
    date: Date
    cautions: tuple[Caution, ...] = ()
    specs: tuple[Spec, ...] = ()
    parts: tuple[Part, ...] = ()
    supplies: tuple[Supply, ...] = ()
    fluids: tuple[Fluid, ...] = ()
    tools: tuple[Tool, ...] = ()
    patterns: Annotated[tuple[Pattern, ...], Field(max_length=200)] = ()
    stages: Annotated[tuple[Stage, ...], Field(min_length=1)]
    follow_ups: tuple[FollowUp, ...] = ()
    hints_off: Annotated[tuple[Line, ...], Field(max_length=200)] = ()
    """Hints of the review that are not wanted for this sheet, each by the name of its rule."""

    @cached_property
    def steps(self) -> tuple[StepPlace, ...]:
        """Every step in order."""
        out: list[StepPlace] = []
        for stage_number, stage in enumerate(self.stages, 1):
            for step in stage.steps:
                out.append(StepPlace(len(out) + 1, stage, stage_number, step))
        return tuple(out)

    @cached_property
    def tasks(self) -> dict[str, Task]:
        """Every task by its address, in order. Do not change the dict."""
        return {
            f"{place.number}.{index}": task
            for place in self.steps
            for index, task in enumerate(place.step.tasks, 1)
        }

    @cached_property
    def cautions_to_read(self) -> tuple[tuple[int | None, int, Caution], ...]:
        """The cautions marked to be acknowledged: number of the step, None for the whole job, the
        place among its cautions from 1, and the caution."""
        listed: list[tuple[int | None, tuple[Caution, ...]]] = [(None, self.cautions)]
        listed += [(place.number, place.step.cautions) for place in self.steps]
        return tuple(
            (number, index, caution)
            for number, cautions in listed
            for index, caution in enumerate(cautions, 1)
            if caution.acknowledge
        )

    @cached_property
    def _specs_by_name(self) -> dict[str, Spec]:
        return {spec.name: spec for spec in self.specs}

    @cached_property
    def _patterns_by_name(self) -> dict[str, Pattern]:
        return {pattern.name: pattern for pattern in self.patterns}

    def spec(self, name: str) -> Spec:
        """The spec with this name; KeyError where there is none."""
        return self._specs_by_name[name]

    def pattern(self, name: str) -> Pattern:
        """The pattern with this name; KeyError where there is none."""
        return self._patterns_by_name[name]

    def step_of(self, address: str) -> StepPlace:
        """The step that holds the task with this address."""
        return self.steps[int(address.split(".")[0]) - 1]

    def photos(self) -> Iterator[Photo]:
        """Every photo of every step, in order."""
        for place in self.steps:
            yield from place.step.photos

    def photo_files(self) -> tuple[str, ...]:
        """The names of all pictures that the sheet uses, each once, in order."""
        names = [photo.file for photo in self.photos()]
        names += [p.photo.file for p in self.patterns if p.photo is not None]
        return tuple(dict.fromkeys(names))
