"""Patterns: the fasteners of one joint, where each sits in mm, and what it is.

Coordinates are millimetres in the plane of the joint as `seen` says, x to the right, y up.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shopguide.torque.entry import Entry, Line, Name, Prose

Millimetre = Annotated[float, Field(ge=-100_000, le=100_000, allow_inf_nan=False)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
Point = tuple[Millimetre, Millimetre]

Head = Literal["hex", "socket", "torx", "cross", "slot", "nut", "stud", "other"]

MOST_FASTENERS = 500


class Fastener(Entry):
    """One screw, bolt or nut of a pattern; number as the manual gives it.

    grade: its class or grade ("8.8", "grade 5"). condition: of its thread ("dry", "oiled",
    "threadlock").
    """

    number: Annotated[int, Field(ge=1, le=9999)]
    x_mm: Millimetre
    y_mm: Millimetre
    thread: Line | None = None
    length: Line | None = None
    head: Head | None = None
    drive: Line | None = None
    grade: Line | None = None
    condition: Line | None = None
    note: Prose = ""
    use: Literal["tighten", "leave loose", "do not touch"] = "tighten"
    group: Name | None = None


class Circle(Entry):
    """Fasteners evenly on a circle; number 1 at `start_deg` from 12 o'clock, clockwise."""

    count: Annotated[int, Field(ge=1, le=MOST_FASTENERS)]
    diameter_mm: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    start_deg: Annotated[float, Field(ge=-360, le=360, allow_inf_nan=False)] = 0.0
    clockwise: bool = True

    def points(self) -> list[Point]:
        """Positions in mm, in the order of their numbers."""
        turn = -1 if self.clockwise else 1
        radius = self.diameter_mm / 2
        out = []
        for index in range(self.count):
            angle = math.radians(90 - self.start_deg + turn * 360 * index / self.count)
            out.append((round(radius * math.cos(angle), 6), round(radius * math.sin(angle), 6)))
        return out


class Rectangle(Entry):
    """Fasteners round a rectangle, numbered clockwise from the upper left corner."""

    width_mm: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    height_mm: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    along: Annotated[int, Field(ge=2, le=MOST_FASTENERS)]
    """Fasteners on each horizontal side, corners counted."""
    up: Annotated[int, Field(ge=2, le=MOST_FASTENERS)]
    """Fasteners on each vertical side, corners counted."""

    def points(self) -> list[Point]:
        """Positions in mm, in the order of their numbers."""
        w, h = self.width_mm, self.height_mm
        xs = [-w / 2 + w * i / (self.along - 1) for i in range(self.along)]
        ys = [h / 2 - h * i / (self.up - 1) for i in range(self.up)]
        top = [(x, h / 2) for x in xs]
        right = [(w / 2, y) for y in ys[1:]]
        bottom = [(x, -h / 2) for x in reversed(xs[:-1])]
        left = [(-w / 2, y) for y in reversed(ys[1:-1])]
        return [(round(x, 6), round(y, 6)) for x, y in top + right + bottom + left]


class Grid(Entry):
    """Fasteners in rows and columns, numbered row by row from the upper left."""

    columns: Annotated[int, Field(ge=1, le=MOST_FASTENERS)]
    rows: Annotated[int, Field(ge=1, le=MOST_FASTENERS)]
    across_mm: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]
    down_mm: Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.columns * self.rows > MOST_FASTENERS:
            raise ValueError(
                f"{self.columns} columns and {self.rows} rows make {self.columns * self.rows} "
                f"fasteners; at most {MOST_FASTENERS} are possible. Make several patterns of it."
            )
        return self

    def points(self) -> list[Point]:
        """Positions in mm, in the order of their numbers."""
        x0 = -self.across_mm * (self.columns - 1) / 2
        y0 = self.down_mm * (self.rows - 1) / 2
        return [
            (round(x0 + c * self.across_mm, 6), round(y0 - r * self.down_mm, 6))
            for r in range(self.rows)
            for c in range(self.columns)
        ]


class Backdrop(Entry):
    """The photo behind a pattern and the mapping from its pixels to mm."""

    file: Line
    to_mm: Annotated[
        tuple[Finite, Finite, Finite, Finite, Finite, Finite, Finite, Finite, Finite],
        Field(description="3×3 matrix, row by row: (x_mm, y_mm, 1) ~ M · (px, py, 1)"),
    ]


class Pattern(Entry):
    """The fasteners of one joint.

    Given by exactly one of circle, rectangle, grid, or fasteners (free points). The thread,
    length, head, drive, grade and condition of the pattern hold for each fastener that does not
    say otherwise.
    """

    name: Name
    title: Line
    seen: Line = "orientation not given"
    fastener_word: Line = "screw"
    thread: Line | None = None
    length: Line | None = None
    head: Head = "hex"
    drive: Line | None = None
    grade: Line | None = None
    condition: Line | None = None
    circle: Circle | None = None
    rectangle: Rectangle | None = None
    grid: Grid | None = None
    fasteners: Annotated[tuple[Fastener, ...], Field(max_length=MOST_FASTENERS)] | None = None
    outline: Annotated[tuple[Point, ...], Field(max_length=2000)] = ()
    photo: Backdrop | None = None
    order: Annotated[tuple[int, ...], Field(max_length=MOST_FASTENERS)] | None = None
    order_by: Literal["manual", "user"] = "manual"
    first: Annotated[tuple[Name, ...], Field(max_length=20)] = ()
    """Groups that are tightened before the rest, one after another: dowel screws, bosses."""
    last: Annotated[tuple[Name, ...], Field(max_length=20)] = ()
    """Groups that are left for later: tightened after the rest, one after another."""
    order_source: Prose = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        given = [
            k for k in ("circle", "rectangle", "grid", "fasteners") if getattr(self, k) is not None
        ]
        if len(given) != 1:
            raise ValueError(
                "The positions are given in "
                + (f"{len(given)} ways: {', '.join(given)}. " if given else "no way. ")
                + "Write exactly one of circle, rectangle, grid and fasteners."
            )
        placed = self.placed
        if not placed:
            raise ValueError("fasteners: The list is empty. Give at least one fastener.")
        if len(placed) > MOST_FASTENERS:
            raise ValueError(
                f"The pattern has {len(placed)} fasteners; at most {MOST_FASTENERS} are possible. "
                "Make several patterns of it."
            )
        numbers = [f.number for f in placed]
        doubled = sorted({n for n in numbers if numbers.count(n) > 1})
        if doubled:
            raise ValueError(
                f"fasteners: Numbers used twice: {_list(doubled)}. "
                "Give each fastener a number of its own."
            )
        seats: dict[Point, int] = {}
        for f in placed:
            other = seats.setdefault((round(f.x_mm, 3), round(f.y_mm, 3)), f.number)
            if other != f.number:
                raise ValueError(
                    f"fasteners: Numbers {other} and {f.number} sit in the same place. "
                    "Put right x_mm and y_mm of one of them."
                )
        groups = {f.group for f in placed if f.group}
        for key in ("first", "last"):
            unknown = sorted(set(getattr(self, key)) - groups)
            if unknown:
                raise ValueError(
                    f"{key}: No fastener belongs to the group “{unknown[0]}”. "
                    "Write the group at its fasteners, or take it out here."
                )
        both = sorted(set(self.first) & set(self.last))
        if both:
            raise ValueError(
                f"first: The group “{both[0]}” cannot come both first and last. Take one out."
            )
        if self.order is not None:
            self._check_order(self.order)
        if self.outline and len(self.outline) < 3:
            raise ValueError(
                "outline: An outline needs at least three points. Add points, or leave it out."
            )
        return self

    def _check_order(self, order: tuple[int, ...]) -> None:
        wanted = {f.number for f in self.tightened}
        unknown = sorted(set(order) - wanted)
        missing = sorted(wanted - set(order))
        doubled = sorted({n for n in order if order.count(n) > 1})
        faults = []
        if unknown:
            faults.append(f"unknown or not to be tightened: {_list(unknown)}")
        if missing:
            faults.append(f"missing: {_list(missing)}")
        if doubled:
            faults.append(f"twice: {_list(doubled)}")
        if faults:
            raise ValueError(
                f"order: The order does not name each fastener once ({'; '.join(faults)}). "
                "Write every number once."
            )

    @cached_property
    def placed(self) -> tuple[Fastener, ...]:
        """Every fastener with its position in mm; what the pattern says is filled in."""
        shape = self.circle or self.rectangle or self.grid
        if shape is not None:
            base = tuple(
                Fastener(number=i + 1, x_mm=x, y_mm=y) for i, (x, y) in enumerate(shape.points())
            )
        else:
            base = self.fasteners or ()
        return tuple(
            f.model_copy(
                update={
                    key: getattr(self, key)
                    for key in ("thread", "length", "head", "drive", "grade", "condition")
                    if getattr(f, key) is None and getattr(self, key) is not None
                }
            )
            for f in base
        )

    @property
    def tightened(self) -> tuple[Fastener, ...]:
        """The fasteners that the passes go over (not those left loose or never to be touched)."""
        return tuple(f for f in self.placed if f.use == "tighten")

    def fastener(self, number: int) -> Fastener:
        """The fastener with this number; KeyError where there is none."""
        for f in self.placed:
            if f.number == number:
                return f
        raise KeyError(number)

    def circle_diameter_mm(self) -> float | None:
        """The pitch-circle diameter where the pattern is a circle, else None."""
        return self.circle.diameter_mm if self.circle else None


def _list(numbers: list[int]) -> str:
    shown = ", ".join(str(n) for n in numbers[:12])
    return shown + (" …" if len(numbers) > 12 else "")
