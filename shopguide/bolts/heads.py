"""Heads seen from above, and what work leaves on them: strokes, rings, flags.

Every state has a form of its own, so that it is told in black and white: a paint-pen stroke is a
bar longer than the head (solid: holds; outline: backed off), the due one has a heavy double ring,
never-touch a bar with stops at both ends, left loose a ring with a gap, a departure a pennant.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopguide.bolts.pattern import Head
from shopguide.bolts.shapes import XY, Circle, Polygon, Shape, Stroke

REACH = 1.72
"""How far strokes, bars and open rings stand out from the middle of a head, by its radius."""
RING = 2.5
"""Outer edge of the due ring, by the radius of a head."""

STROKE_ANGLES_DEG = (50.0, 130.0, 90.0, 0.0, 70.0, 110.0, 20.0, 160.0)
"""Slant of the first stroke (/), the second (\\), and further ones; counter-clockwise."""


@dataclass(frozen=True, slots=True)
class HeadState:
    """What has happened to one fastener, as far as it shows.

    strokes: one per finished torque or angle pass, in sequence; True holds, False was backed off.
    snug: it had a pass that leaves no stroke (snug).  done: done in the current pass.
    due: to be done now.  departed: something about it departs from the sheet.
    """

    strokes: tuple[bool, ...] = ()
    snug: bool = False
    done: bool = False
    due: bool = False
    departed: bool = False


def line_width(radius: float, share: float) -> float:
    """A line as a share of the head's radius, never too thin to see."""
    return max(1.0, share * radius)


def draw_head(kind: Head, x: float, y: float, radius: float, weight: float = 0.1) -> list[Shape]:
    """The head from above: its fill, its edge, its drive. weight: edge by radius."""
    width = line_width(radius, weight)
    fine = line_width(radius, 0.08)
    if kind in ("hex", "nut"):
        corners = _corners(x, y, radius, 6, 90)
        shapes: list[Shape] = [
            Polygon("head fill", corners, True),
            Polygon("head", corners, False, width),
        ]
    else:
        body = radius * (0.72 if kind == "stud" else 0.92)
        shapes = [
            Circle("head fill", x, y, body, True),
            Circle("head", x, y, body, False, width),
        ]
    if radius < 4.5:
        return shapes
    match kind:
        case "socket":
            shapes.append(Polygon("head", _corners(x, y, 0.5 * radius, 6, 0), False, fine))
        case "torx":
            star = tuple(
                _at(x, y, radius * (0.56 if k % 2 == 0 else 0.34), 90 + 30 * k) for k in range(12)
            )
            shapes.append(Polygon("head", star, False, fine))
        case "cross":
            shapes += [
                Stroke("head", (_at(x, y, 0.52 * radius, a), _at(x, y, 0.52 * radius, a + 180)), w)
                for a, w in ((0, 2 * fine), (90, 2 * fine))
            ]
        case "slot":
            ends = (_at(x, y, 0.78 * radius, 0), _at(x, y, 0.78 * radius, 180))
            shapes.append(Stroke("head", ends, 2 * fine))
        case "nut":
            shapes.append(Circle("head", x, y, 0.5 * radius, False, fine))
        case "stud":
            shapes.append(Circle("head", x, y, 0.48 * radius, False, fine))
        case _:
            pass
    return shapes


def draw_strokes(strokes: tuple[bool, ...], x: float, y: float, radius: float) -> list[Shape]:
    """Paint-pen strokes across a head, hollow ones first so that what holds lies on top."""
    half_length = (REACH - 0.12) * radius
    share = {0: 0.42, 1: 0.42, 2: 0.42, 3: 0.34, 4: 0.28}.get(len(strokes), 0.22)
    half_width = max(1.1, share * radius / 2)
    shapes: list[Shape] = []
    for wanted in (False, True):
        for index, holds in enumerate(strokes):
            if holds != wanted:
                continue
            bar = _bar(x, y, half_length, half_width, _slant_deg(index))
            if holds:
                shapes.append(Polygon("mark", bar, True))
            else:
                line = min(line_width(radius, 0.1), half_width)
                shapes.append(Polygon("head fill", bar, True))
                shapes.append(Polygon("mark hollow", bar, False, line))
    return shapes


def draw_snug(x: float, y: float, radius: float) -> list[Shape]:
    """A dab of paint in the middle of the head, set off from strokes beneath it."""
    dab = max(1.2, 0.27 * radius)
    return [
        Circle("head fill", x, y, dab + max(0.8, 0.14 * radius), True),
        Circle("mark", x, y, dab, True),
    ]


def draw_due(x: float, y: float, radius: float, ring: float) -> list[Shape]:
    """The heavy double ring round the fastener that is due; `ring` is its outer edge."""
    heavy = max(2.0, min(0.3 * radius, (ring - radius) * 0.3))
    light = max(1.0, 0.45 * heavy)
    inner = ring - light - max(1.0, 0.4 * heavy) - heavy / 2
    return [
        Circle("due", x, y, inner, False, heavy),
        Circle("due", x, y, ring - light / 2, False, light),
    ]


def draw_struck(kind: Head, x: float, y: float, radius: float) -> list[Shape]:
    """A head that is never to be touched: struck out by a level bar with a stop at either end."""
    half, stop = (REACH - 0.14) * radius, 0.5 * radius
    width = line_width(radius, 0.24)
    bars = [
        ((-half, 0.0), (half, 0.0)),
        ((-half, -stop), (-half, stop)),
        ((half, -stop), (half, stop)),
    ]
    return [
        *draw_head(kind, x, y, radius),
        *(
            Stroke("struck", ((x + ax, y + ay), (x + bx, y + by)), width)
            for (ax, ay), (bx, by) in bars
        ),
    ]


def draw_loose(kind: Head, x: float, y: float, radius: float) -> list[Shape]:
    """A fastener left loose on purpose: its head within a ring that is open at the upper right."""
    around = (REACH - 0.16) * radius
    arc = tuple(_at(x, y, around, 80 + 290 * k / 24) for k in range(25))
    return [
        *draw_head(kind, x, y, 0.8 * radius),
        Stroke("loose", arc, line_width(radius, 0.2)),
    ]


def draw_flag(x: float, y: float, radius: float, side: int) -> list[Shape]:
    """A pennant beside a head that departed from the sheet; side: 1 right, -1 left."""
    pole = x + side * 1.3 * radius
    tip = pole + side * max(3.0, (REACH - 1.3) * radius)
    top, foot = y - max(4.0, 0.95 * radius), y + 0.55 * radius
    drop = max(3.2, 0.72 * radius)
    return [
        Stroke("flag", ((pole, foot), (pole, top)), line_width(radius, 0.12)),
        Polygon("flag", ((pole, top), (tip, top + drop / 2), (pole, top + drop)), True),
    ]


def _slant_deg(index: int) -> float:
    turns, place = divmod(index, len(STROKE_ANGLES_DEG))
    return STROKE_ANGLES_DEG[place] + 7.0 * turns


def _at(x: float, y: float, distance: float, angle_deg: float) -> XY:
    """The point at a distance and direction (counter-clockwise on the canvas, y down)."""
    angle = math.radians(angle_deg)
    return (x + distance * math.cos(angle), y - distance * math.sin(angle))


def _corners(x: float, y: float, radius: float, count: int, first_deg: float) -> tuple[XY, ...]:
    return tuple(_at(x, y, radius, first_deg + 360 * k / count) for k in range(count))


def _bar(x: float, y: float, half_length: float, half_width: float, angle_deg: float):
    angle = math.radians(angle_deg)
    c, s = math.cos(angle), math.sin(angle)
    return tuple(
        (x + a * half_length * c + b * half_width * s, y - a * half_length * s + b * half_width * c)
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    )
