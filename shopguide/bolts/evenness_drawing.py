"""The drawing of a forecast: each screw's load as a bar outwards from the rim, as plain shapes.

A bar that is up to its target is solid, one below it is hollow; a line round the joint shows the
target. The screw that the wrench is on has a double ring. Painted by window/evenness_board.py and
paper/evenness_page.py; black on white tells everything.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

from shopguide.bolts.drawing import Drawing
from shopguide.bolts.evenness import EVEN, Evenness, tell_share
from shopguide.bolts.heads import draw_due
from shopguide.bolts.labels import box_touches_disc
from shopguide.bolts.outline import nearest_two, signed_area
from shopguide.bolts.shapes import (
    XY,
    Box,
    Circle,
    Label,
    Polygon,
    Shape,
    Stroke,
    text_width,
)

TARGET_LONG = 0.15
"""Length of a bar at its target, by the shorter side of the canvas."""
LONGEST = 1.2
"""A bar is drawn this much longer than the target at most."""
WIDEST = 0.026
"""Width of a bar, by the shorter side, at most."""
EXPLAINS = (
    ("target", f"{tell_share(EVEN)} of it or more", "less"),
    ("target", f"from {tell_share(EVEN)}", "less"),
)
"""What line, solid and hollow bars mean; shorter where there is less room."""
SPARSE = (1, 2, 5, 10, 25)
"""Every so many-th place of the order is written where there is no room for all."""


def draw_evenness(
    forecast: Evenness,
    moment: int = -1,
    *,
    width: float,
    height: float,
    least_text: float = 18.0,
    wrench: bool = True,
) -> Drawing:
    """The loads at a moment (index into `forecast.moments`), fitted into width × height.

    Numbers inside the rim are places in the order; the least loaded screw's share stands at its
    bar; what line and bars mean stands at the foot. wrench: with the ring round the screw that the
    wrench is on.
    """
    now = forecast.moments[moment]
    plan = _lay_out(forecast, float(width), float(height), float(least_text))
    edge, radius = forecast.edge, plan.radius
    shapes: list[Shape] = [
        Stroke("band", (*plan.seats, plan.seats[0]), 1.5 * radius),
        Stroke("note", plan.target_line, max(0.8, 0.0022 * min(width, height))),
    ]
    least = min(range(len(edge)), key=lambda k: now.loads[k])
    for k, number in enumerate(edge):
        (x, y), (nx, ny) = plan.seats[k], plan.outward[k]
        long = plan.long * min(LONGEST, now.loads[k])
        corners = _bar(x, y, nx, ny, plan.root, plan.root + long, plan.half)
        if now.loads[k] >= EVEN:
            shapes.append(Polygon("number", corners, True))
        else:
            shapes.append(Polygon("head fill", corners, True))
            shapes.append(Polygon("head", corners, False, max(1.2, 0.16 * plan.half)))
        shapes.append(Circle("head fill", x, y, radius, True))
        shapes.append(Circle("head", x, y, radius, False, max(1.2, 0.16 * radius)))
        if wrench and number == now.number:
            shapes += draw_due(x, y, radius, plan.ring)
    on = edge.index(now.number) if wrench and now.number else -1
    for k, text, x, y in plan.numbers:
        role, weight = ("number", "bold") if k == on else ("number soft", "regular")
        shapes.append(Label(role, x, y, text, plan.size, weight))
    if now.trip > 0 or now.place > 0 or moment != 0:
        shapes += _call_out(plan, least, now.loads[least])
    shapes += _explain(plan)
    return Drawing(float(width), float(height), tuple(shapes), (), every=plan.every)


class _Plan:
    """Where everything stands that does not change from moment to moment."""

    seats: tuple[XY, ...]
    outward: tuple[XY, ...]
    target_line: tuple[XY, ...]
    long: float
    half: float
    radius: float
    ring: float
    root: float
    size: float
    every: int
    numbers: tuple[tuple[int, str, float, float], ...]
    width: float
    height: float


@lru_cache(maxsize=8)
def _lay_out(forecast: Evenness, width: float, height: float, least_text: float) -> _Plan:
    plan = _Plan()
    plan.width, plan.height = width, height
    short = min(width, height)
    plan.long = TARGET_LONG * short
    plan.size = least_text
    margin = LONGEST * plan.long + 1.1 * least_text + 0.02 * short
    xs, ys = [p[0] for p in forecast.seats], [p[1] for p in forecast.seats]
    across, down = max(xs) - min(xs), max(ys) - min(ys)
    foot = 1.7 * least_text
    scale = min(
        max(1.0, width - 2 * margin) / max(across, 1e-9),
        max(1.0, height - foot - 2 * margin) / max(down, 1e-9),
    )
    cx, cy = (max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2
    plan.seats = tuple(
        (width / 2 + (x - cx) * scale, (height - foot) / 2 - (y - cy) * scale)
        for x, y in forecast.seats
    )
    nearest = min(near for near, _ in nearest_two(plan.seats))
    plan.half = max(1.0, min(WIDEST * short, 0.5 * nearest) / 2)
    plan.radius = max(2.0, min(0.018 * short, 0.3 * nearest))
    plan.ring = max(5.0, 2.1 * plan.radius)
    plan.root = plan.radius + 2.0
    plan.outward = _find_outward(plan.seats)
    tips = tuple(_along(s, n, plan.root + plan.long) for s, n in _zip(plan.seats, plan.outward))
    plan.target_line = (*tips, tips[0])
    plan.every, plan.numbers = _number(forecast, plan)
    return plan


def _find_outward(seats: Sequence[XY]) -> tuple[XY, ...]:
    """For each seat the direction away from the joint, square to the line of its neighbours."""
    sense = 1.0 if signed_area(seats) > 0 else -1.0
    count = len(seats)
    found = []
    for k in range(count):
        units = []
        for a, b in ((seats[k - 1], seats[k]), (seats[k], seats[(k + 1) % count])):
            away = math.dist(a, b) or 1.0
            units.append(((b[0] - a[0]) / away, (b[1] - a[1]) / away))
        tx, ty = units[0][0] + units[1][0], units[0][1] + units[1][1]
        size = math.hypot(tx, ty)
        if size < 1e-9:
            (tx, ty), size = units[0], 1.0
        found.append((sense * ty / size, -sense * tx / size))
    return tuple(found)


def _number(
    forecast: Evenness, plan: _Plan
) -> tuple[int, tuple[tuple[int, str, float, float], ...]]:
    """Places in the order, inside the rim beside their heads; fewer where they would touch."""
    seat_of = {number: k for k, number in enumerate(forecast.edge)}
    along = [n for n in forecast.order if n in seat_of]
    for every in SPARSE:
        placed: list[tuple[int, str, float, float]] = []
        boxes: list[Box] = []
        wanted = [
            (seat_of[number], str(place))
            for place, number in enumerate(along, 1)
            if place % every == 0 or (place == 1 < every)
        ]
        for k, text in wanted:
            spot = _find_spot(plan, k, text, boxes)
            if spot is None:
                break
            placed.append((k, text, *spot))
            boxes.append(_box_of(text, plan.size, *spot))
        if len(placed) == len(wanted):
            return every, tuple(placed)
    return len(along) + 1, ()


def _find_spot(plan: _Plan, k: int, text: str, taken: Sequence[Box]) -> XY | None:
    """The nearest place inside the rim for a number, clear of the others and of all heads."""
    nx, ny = plan.outward[k]
    near = plan.ring + 3 + 0.5 * (abs(nx) * text_width(text, plan.size) + abs(ny) * plan.size)
    for step in range(4):
        x, y = _along(plan.seats[k], (-nx, -ny), near + 0.35 * step * plan.size)
        box = _box_of(text, plan.size, x, y)
        if not any(_touch(box, other) for other in taken) and not any(
            box_touches_disc(box, *seat, plan.radius) for seat in plan.seats
        ):
            return x, y
    return None


def _box_of(text: str, size: float, x: float, y: float) -> Box:
    # Figures are as high as capitals, a good deal less than the font's size.
    wide, high = text_width(text, size), 0.8 * size
    return (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


def _touch(a: Box, b: Box) -> bool:
    return a[0] < b[2] + 2 and b[0] < a[2] + 2 and a[1] < b[3] + 1 and b[1] < a[3] + 1


def _call_out(plan: _Plan, k: int, load: float) -> list[Shape]:
    """The share of the least loaded screw, beyond the target line at its bar."""
    text = tell_share(load)
    size = 1.15 * plan.size
    wide = text_width(text, size)
    nx, ny = plan.outward[k]
    off = plan.root + plan.long + 5 + 0.5 * (abs(nx) * wide + abs(ny) * size)
    x, y = _along(plan.seats[k], (nx, ny), off)
    x = min(max(x, wide / 2 + 1), plan.width - wide / 2 - 1)
    y = min(max(y, size / 2 + 1), plan.height - size / 2 - 1)
    return [Label("number due", x, y, text, size, "bold")]


def _explain(plan: _Plan) -> list[Shape]:
    """What the line and the bars mean, in a row at the foot."""
    size, y = plan.size, plan.height - 0.6 * plan.size
    mark, gap, apart = 1.5 * size, 0.45 * size, 1.4 * size
    for words in EXPLAINS:
        wide = sum(mark + gap + text_width(text, size) for text in words) + 2 * apart
        if wide <= plan.width:
            break
    else:
        return []
    x = (plan.width - wide) / 2
    shapes: list[Shape] = []
    for k, text in enumerate(words):
        half = 0.26 * size
        corners = ((x, y - half), (x + mark, y - half), (x + mark, y + half), (x, y + half))
        if k == 0:
            shapes.append(Stroke("note", ((x, y), (x + mark, y)), max(0.8, 0.06 * size)))
        elif k == 1:
            shapes.append(Polygon("number", corners, True))
        else:
            shapes.append(Polygon("head", corners, False, max(0.8, 0.07 * size)))
        shapes.append(Label("note", x + mark + gap, y, text, size, "regular", "start"))
        x += mark + gap + text_width(text, size) + apart
    return shapes


def _bar(x: float, y: float, nx: float, ny: float, low: float, high: float, half: float):
    tx, ty = -ny * half, nx * half
    return (
        (x + nx * low + tx, y + ny * low + ty),
        (x + nx * high + tx, y + ny * high + ty),
        (x + nx * high - tx, y + ny * high - ty),
        (x + nx * low - tx, y + ny * low - ty),
    )


def _along(seat: XY, direction: XY, away: float) -> XY:
    return (seat[0] + direction[0] * away, seat[1] + direction[1] * away)


def _zip(seats: Sequence[XY], outward: Sequence[XY]):
    return zip(seats, outward, strict=True)
