"""Placing fasteners by geometry: in line, evenly, mirrored, snapped, walked round, by numbers.

Lengths are mm, x to the right, y up, angles in degrees counter-clockwise from the right. Nothing
here knows of patterns or of a screen.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise
from statistics import fmean
from typing import Literal, TypeVar

from pydantic import ValidationError

from shopguide.bolts.outline import XY, distance_to_line, signed_area, walk_round
from shopguide.bolts.pattern import MOST_FASTENERS, Circle, Grid, Rectangle
from shopguide.errors import Trouble
from shopguide.torque import units

Axis = Literal["row", "column"]
Sides = Literal["left-right", "up-down"]
Shape = TypeVar("Shape", Circle, Rectangle, Grid)

SEAT_MM = 0.001
"""Two fasteners nearer than this are in one place."""
ANGLE_STEP_DEG = 15.0
EVEN_GAP = 1.6
"""The widest gap is an opening, not a step, from this many mean gaps on."""
LARGEST_MM = 100_000.0
MOST_CORNERS = 2000
ANTICLOCKWISE = "anticlockwise"


# --- in line, evenly, mirrored ------------------------------------------------------------------


def find_axis(points: Sequence[XY]) -> Axis:
    """How the points stand already: in a row where they are wider than high, else a column."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return "row" if max(xs) - min(xs) >= max(ys) - min(ys) else "column"


def align(points: Sequence[XY], axis: Axis) -> list[XY]:
    """The points on one line: a row takes their mean y, a column their mean x."""
    if not points:
        return []
    if axis == "row":
        y = fmean(p[1] for p in points)
        return [(x, y) for x, _ in points]
    x = fmean(p[0] for p in points)
    return [(x, y) for _, y in points]


def distribute(points: Sequence[XY]) -> list[XY]:
    """The points at even steps on the straight line between the two that stand farthest apart."""
    if len(points) < 3:
        return list(points)
    ends = max(
        ((a, b) for a in range(len(points)) for b in range(a)),
        key=lambda pair: math.dist(points[pair[0]], points[pair[1]]),
    )
    (ax, ay), (bx, by) = points[min(ends)], points[max(ends)]
    order = sorted(
        range(len(points)),
        key=lambda i: (points[i][0] - ax) * (bx - ax) + (points[i][1] - ay) * (by - ay),
    )
    out: list[XY] = [(0.0, 0.0)] * len(points)
    for k, i in enumerate(order):
        share = k / (len(points) - 1)
        out[i] = (ax + share * (bx - ax), ay + share * (by - ay))
    return out


def mirror(points: Sequence[XY], sides: Sides, middle: XY) -> list[XY]:
    """The points as seen in a mirror that stands upright ("left-right") or lies, at the middle."""
    x0, y0 = middle
    if sides == "left-right":
        return [(2 * x0 - x, y) for x, y in points]
    return [(x, 2 * y0 - y) for x, y in points]


def find_middle(points: Sequence[XY]) -> XY:
    """The middle of the box round the points; (0, 0) where there are none."""
    if not points:
        return (0.0, 0.0)
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)


def pick_far_apart(points: Sequence[XY], most: int) -> list[int]:
    """Indices of so many points that stand far from one another, the farthest two first."""
    if len(points) < 2:
        return list(range(len(points)))
    pairs = ((a, b) for b in range(len(points)) for a in range(b))
    picked = list(max(pairs, key=lambda pair: math.dist(points[pair[0]], points[pair[1]])))
    while len(picked) < min(most, len(points)):
        rest = (k for k in range(len(points)) if k not in picked)
        picked.append(max(rest, key=lambda k: min(math.dist(points[k], points[p]) for p in picked)))
    return picked


# --- along a traced outline -----------------------------------------------------------------------


def measure_outline(outline: Sequence[XY]) -> float:
    """Length of the closed line."""
    return sum(math.dist(a, b) for a, b in pairwise([*outline, *outline[:1]]))


def find_on_outline(outline: Sequence[XY], point: XY) -> tuple[float, XY, float]:
    """Nearest place on the closed line: how far along it, where, and how far from the point."""
    best = (0.0, point, math.inf)
    gone = 0.0
    for a, b in pairwise([*outline, *outline[:1]]):
        away, share = distance_to_line(point, a, b)
        if away < best[2]:
            where = (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
            best = (gone + share * math.dist(a, b), where, away)
        gone += math.dist(a, b)
    return best


def follow_outline(outline: Sequence[XY], along_mm: float) -> XY:
    """The place so far along the closed line from its first corner; further than once round too."""
    total = measure_outline(outline)
    if total <= 0:
        return outline[0]
    left = along_mm % total
    for a, b in pairwise([*outline, *outline[:1]]):
        side = math.dist(a, b)
        if left <= side and side > 0:
            share = left / side
            return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
        left -= side
    return outline[0]


def place_along(outline: Sequence[XY], count: int, start: XY | None = None) -> list[XY]:
    """So many places evenly along the outline, clockwise, the first nearest to `start`.

    Raises Trouble without an outline or for a number that is not possible.
    """
    _check_outline(outline)
    if not 1 <= count <= MOST_FASTENERS:
        raise Trouble(
            f"{count} fasteners cannot be placed.", next=f"Write a number up to {MOST_FASTENERS}."
        )
    first = find_on_outline(outline, start or outline[0])[0]
    step = measure_outline(outline) / count * (-1 if signed_area(outline) > 0 else 1)
    return [follow_outline(outline, first + k * step) for k in range(count)]


def spread_along(points: Sequence[XY], outline: Sequence[XY]) -> list[XY]:
    """The points at even steps on the outline, each staying between its neighbours.

    Where they stand all round, they are spread all round and the first stays; where a stretch of
    the outline is free of them, the two at its ends stay and those between are spread.
    Raises Trouble without an outline.
    """
    _check_outline(outline)
    if not points:
        return []
    total = measure_outline(outline)
    if total <= 0:
        raise Trouble("The outline has no length.", next="Trace it again.")
    along = [find_on_outline(outline, p)[0] for p in points]
    ring = sorted(range(len(points)), key=lambda i: (along[i], i))
    count = len(ring)
    gaps = [(along[ring[(k + 1) % count]] - along[ring[k]]) % total for k in range(count)]
    if count == 1:
        return [follow_outline(outline, along[0])]
    widest = max(range(count), key=lambda k: gaps[k])
    out: list[XY] = [(0.0, 0.0)] * count
    if gaps[widest] < EVEN_GAP * total / count and count > 2:
        at = ring.index(0)
        for k in range(count):
            out[ring[(at + k) % count]] = follow_outline(outline, along[0] + k * total / count)
        return out
    first = (widest + 1) % count
    reach = total - gaps[widest]
    for k in range(count):
        place = along[ring[first]] + k * reach / (count - 1)
        out[ring[(first + k) % count]] = follow_outline(outline, place)
    return out


def _check_outline(outline: Sequence[XY]) -> None:
    if len(outline) < 3:
        raise Trouble("There is no outline yet.", next="Trace the outline first.")


def walk(
    points: Sequence[XY], outline: Sequence[XY], start: int = 0, clockwise: bool = True
) -> list[int]:
    """Indices of the points in sequence round the joint from one of them; the inner ones last."""
    edge, inside = walk_round(points, outline)
    if (signed_area([points[i] for i in edge]) > 0) == clockwise:
        edge = edge[::-1]
    for ring in (edge, inside):
        if start in ring:
            at = ring.index(start)
            ring[:] = ring[at:] + ring[:at]
    return edge + inside


# --- snapping -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Guide:
    """A line that a place was snapped to, from one end to the other, and why, in a word or two."""

    start: XY
    to: XY
    why: str


@dataclass(frozen=True, slots=True)
class Snapped:
    """Where a point comes to lie, and the guides that hold it there."""

    at: XY
    guides: tuple[Guide, ...] = ()


def snap(
    point: XY,
    others: Sequence[XY],
    reach_mm: float,
    outline: Sequence[XY] = (),
    pivot: XY | None = None,
) -> Snapped:
    """The point, moved by at most reach_mm to where it lies in line with what is there.

    In line with another fastener across or up, or both; else on the outline; else, seen from
    `pivot`, at a multiple of 15°. The nearest of several is taken.
    """
    x, y = point
    column = min(others, key=lambda p: (abs(p[0] - x), abs(p[1] - y)), default=None)
    row = min(others, key=lambda p: (abs(p[1] - y), abs(p[0] - x)), default=None)
    if column is not None and abs(column[0] - x) > reach_mm:
        column = None
    if row is not None and abs(row[1] - y) > reach_mm:
        row = None
    at = (column[0] if column else x, row[1] if row else y)
    if column or row:
        guides = []
        if column:
            guides.append(Guide(column, at, "in line"))
        if row:
            guides.append(Guide(row, at, "in line"))
        if len(outline) >= 3 and not (column and row):
            # In line, and on the outline where that crosses it close by.
            for place in _cross(outline, at, "column" if column else "row"):
                if math.dist(place, at) <= reach_mm:
                    return Snapped(place, (Guide(guides[0].start, place, "in line, on the edge"),))
        return Snapped(at, tuple(guides))
    if len(outline) >= 3:
        _, where, away = find_on_outline(outline, point)
        if away <= reach_mm:
            return Snapped(where, (Guide(where, where, "on the edge"),))
    if pivot is not None and math.dist(pivot, point) > 2 * reach_mm:
        turned = math.degrees(math.atan2(y - pivot[1], x - pivot[0]))
        step = round(turned / ANGLE_STEP_DEG) * ANGLE_STEP_DEG
        ux, uy = math.cos(math.radians(step)), math.sin(math.radians(step))
        length = (x - pivot[0]) * ux + (y - pivot[1]) * uy
        where = (pivot[0] + length * ux, pivot[1] + length * uy)
        if math.dist(where, point) <= reach_mm:
            return Snapped(where, (Guide(pivot, where, f"{step % 180:g}°"),))
    return Snapped(point)


def _cross(outline: Sequence[XY], at: XY, axis: Axis) -> list[XY]:
    """Where an upright ("column") or level ("row") line through a place crosses the outline."""
    k = 0 if axis == "column" else 1
    out = []
    for a, b in pairwise([*outline, *outline[:1]]):
        if (a[k] - at[k]) * (b[k] - at[k]) <= 0 and a[k] != b[k]:
            share = (at[k] - a[k]) / (b[k] - a[k])
            out.append((a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])))
    return out


# --- typed ----------------------------------------------------------------------------------------

_SPLIT = re.compile(r"(?<=[\d.])\s*[x*]\s*(?=[\d.+−-])|[\s;×]+|,\s+|\bby\b")
_NUMBER = re.compile(r"[+−-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)")


def read_length(text: str) -> float:
    """A length in mm: a plain figure is mm, any unit of length may be written.

    Raises Trouble where it is none.
    """
    plain = text.strip()
    if _NUMBER.fullmatch(plain):
        value = float(plain.replace("−", "-").replace(",", "."))
    else:
        sign = -1 if plain[:1] in "-−" and plain else 1
        value = sign * units.in_unit(units.read(plain.lstrip("-−+"), units.Kind.LENGTH), "mm")
    if not abs(value) <= LARGEST_MM:
        raise Trouble(f"“{text}” is beyond 100 m.", next="Write the length in mm.")
    return value


def read_place(text: str) -> XY:
    """Two lengths, x and y: "12.5 -40", "12.5, -40", "1/2 in; 2 in"."""
    parts = _part(text)
    if len(parts) != 2:
        raise Trouble(
            f"“{text[:40]}” is not a place." if text.strip() else "There is nothing yet.",
            next="Write x and y in mm, as 12.5 -40.",
        )
    return (read_length(parts[0]), read_length(parts[1]))


def write_length(value_mm: float) -> str:
    """A length in mm as it is typed, every digit of it: 12.5, -40, 0.0001."""
    return f"{Decimal(repr(value_mm + 0.0)):f}".removesuffix(".0")


def write_place(point: XY) -> str:
    """A place as it is typed: "12.5, -40"."""
    return f"{write_length(point[0])}, {write_length(point[1])}"


def read_outline(text: str) -> list[XY]:
    """Corners one after another, x and y of each: "0 0; 50 0; 50 40", or a pasted table of two
    columns. Nothing at all is no outline.

    Raises Trouble that names what cannot be read.
    """
    figures = [read_length(part) for row in re.split(r"[;\n]+", text) for part in _part(row)]
    if len(figures) % 2:
        raise Trouble(
            f"There are {len(figures)} figures: one corner has an x and no y.",
            next="Write x and y of each corner, parted by semicolons: 0 0; 50 0; 50 40.",
        )
    corners = list(zip(figures[::2], figures[1::2], strict=True))
    if 0 < len(corners) < 3 or len(corners) > MOST_CORNERS:
        raise Trouble(
            f"There are {len(corners)} corners.",
            next=f"An outline has three or more, up to {MOST_CORNERS}.",
        )
    return corners


def write_outline(outline: Sequence[XY]) -> str:
    """The corners as they are typed."""
    return "; ".join(f"{write_length(x)} {write_length(y)}" for x, y in outline)


def read_rectangle_size(text: str) -> XY:
    """Width and height in mm, as "200 120" or "200 x 120"."""
    parts = _part(text)
    if len(parts) != 2:
        raise Trouble(
            "The size of the rectangle is not there yet.",
            next="Write its width and height in mm, as 200 120.",
        )
    return (read_length(parts[0]), read_length(parts[1]))


def read_circle(text: str) -> tuple[Circle, XY]:
    """ "8 120" is eight on a circle of 120 mm; a third figure is where number 1 stands, in degrees
    from 12 o'clock; "anticlockwise" numbers it so; "at 10 -20" moves its middle."""
    plain = text.replace(ANTICLOCKWISE, " ")
    parts, at = _part_at(plain)
    if len(parts) not in (2, 3):
        raise Trouble(
            "The circle is not there yet.",
            next="Write how many and the diameter in mm, as 8 120; add at x y for its middle.",
        )
    start = _read_figure(parts[2]) if len(parts) == 3 else 0.0
    count, wide = _read_count(parts[0]), read_length(parts[1])
    turn = plain == text
    return (
        _make(lambda: Circle(count=count, diameter_mm=wide, start_deg=start, clockwise=turn)),
        at,
    )


def read_rectangle(text: str) -> tuple[Rectangle, XY]:
    """ "200 120 4 3" is 200 mm wide, 120 mm high, four along, three up, corners counted."""
    parts, at = _part_at(text)
    if len(parts) != 4:
        raise Trouble(
            "The rectangle is not there yet.",
            next="Write width, height, how many along and how many up, as 200 120 4 3.",
        )
    w, h = read_length(parts[0]), read_length(parts[1])
    along, up = _read_count(parts[2]), _read_count(parts[3])
    return _make(lambda: Rectangle(width_mm=w, height_mm=h, along=along, up=up)), at


def read_grid(text: str) -> tuple[Grid, XY]:
    """ "3 2 40 30" is three columns and two rows, 40 mm across and 30 mm down from each to each."""
    parts, at = _part_at(text)
    if len(parts) != 4:
        raise Trouble(
            "The grid is not there yet.",
            next="Write columns, rows, and the steps across and down in mm, as 3 2 40 30.",
        )
    columns, rows = _read_count(parts[0]), _read_count(parts[1])
    across, down = read_length(parts[2]), read_length(parts[3])
    return _make(lambda: Grid(columns=columns, rows=rows, across_mm=across, down_mm=down)), at


def read_numbers(text: str, known: Sequence[int]) -> set[int]:
    """Some of the known numbers: "3", "1-4, 9", "11–14".  Raises Trouble for an unknown one."""
    found: set[int] = set()
    for part in re.sub(r"\s*[-–−]\s*", "-", text.strip()).replace(",", " ").split():
        ends = [end for end in part.split("-") if end.isascii() and end.isdigit() and len(end) < 5]
        if len(ends) != part.count("-") + 1 or len(ends) > 2:
            raise Trouble(f"“{part[:12]}” is not a number.", next="Write numbers, as 1-4 9 12.")
        low, high = int(ends[0]), int(ends[-1])
        here = {n for n in known if low <= n <= high}
        if low not in here or high not in here:
            odd = low if low not in here else high
            raise Trouble(f"There is no number {odd}.", next="Write numbers that are there.")
        found |= here
    if not found:
        raise Trouble("There is no number yet.", next="Write numbers, as 1-4 9 12.")
    return found


def write_shape(shape: Circle | Rectangle | Grid) -> str:
    """A circle, rectangle or grid as it is typed, with its name before the figures."""
    match shape:
        case Circle():
            start = [write_length(shape.start_deg)] if shape.start_deg else []
            turn = [] if shape.clockwise else [ANTICLOCKWISE]
            parts = [str(shape.count), write_length(shape.diameter_mm), *start, *turn]
        case Rectangle():
            size = write_length(shape.width_mm), write_length(shape.height_mm)
            parts = [*size, str(shape.along), str(shape.up)]
        case Grid():
            step = write_length(shape.across_mm), write_length(shape.down_mm)
            parts = [str(shape.columns), str(shape.rows), *step]
    return " ".join((type(shape).__name__.lower(), *parts))


def read_shape(text: str) -> tuple[Circle | Rectangle | Grid, XY]:
    """The same read again: "rectangle 660 600 4 2", "circle 8 120", "grid 3 2 40 30"."""
    word, _, figures = text.strip().partition(" ")
    readers: dict[str, Callable[[str], tuple[Circle | Rectangle | Grid, XY]]]
    readers = {"circle": read_circle, "rectangle": read_rectangle, "grid": read_grid}
    if word.lower() not in readers:
        raise Trouble(
            f"“{text.strip()[:30]}” is no shape.",
            next="Write circle 8 120, rectangle 200 120 4 3, or grid 3 2 40 30.",
        )
    return readers[word.lower()](figures)


def _make(build: Callable[[], Shape]) -> Shape:
    try:
        return build()
    except ValidationError as error:
        first = error.errors()[0]
        said = first["msg"].removeprefix("Value error, ")
        if first["type"] != "value_error":
            names = {"diameter_mm": "diameter", "width_mm": "width", "height_mm": "height"}
            names |= {"across_mm": "step across", "down_mm": "step down", "up": "number up"}
            names |= {"along": "number along", "start_deg": "start"}
            key = str(first["loc"][-1]) if first["loc"] else "figure"
            said = f"The {names.get(key, key)} is not possible: {first['input']}."
        raise Trouble(said, next="Put the figures right.") from None


def _part(text: str) -> list[str]:
    """The figures of a line, each with the unit that follows it."""
    out: list[str] = []
    for word in (w for w in _SPLIT.split(text.strip()) if w):
        if out and not any(ch.isdigit() for ch in word):
            out[-1] += f" {word}"
        else:
            out.append(word)
    return out


def _part_at(text: str) -> tuple[list[str], XY]:
    shape, word, at = text.partition("at")
    return _part(shape), (read_place(at) if word else (0.0, 0.0))


def _read_count(text: str) -> int:
    if text.isascii() and text.isdigit() and len(text) <= 4:
        return int(text)
    raise Trouble(f"“{text}” is not a number of fasteners.", next="Write a whole number.")


def _read_figure(text: str) -> float:
    plain = text.removesuffix("°").strip()
    if _NUMBER.fullmatch(plain):
        return float(plain.replace("−", "-").replace(",", "."))
    raise Trouble(f"“{text}” is not an angle.", next="Write degrees, as 22.5.")
