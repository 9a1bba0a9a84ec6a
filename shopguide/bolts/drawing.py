"""The drawing of a pattern with its state, as plain shapes for screen and paper alike.

The joint's edge is a band, each fastener its head from above with the marks that work left on it
(see heads.py), its place in the order beside it, inside the edge where there is room. The one that
is due has a double ring, a leader line and its number large. Painted by window/bolt_diagram.py and
paper/bolt_drawing.py.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from statistics import median
from typing import Literal

from shopguide.bolts.heads import (
    REACH,
    RING,
    HeadState,
    draw_due,
    draw_flag,
    draw_head,
    draw_loose,
    draw_snug,
    draw_strokes,
    draw_struck,
)
from shopguide.bolts.labels import (
    COMPASS_DEG,
    Ground,
    box_around,
    box_touches_disc,
    box_touches_line,
    place_beside,
    place_due,
    place_middle,
)
from shopguide.bolts.outline import hull_of, nearest_two, signed_area, walk_round
from shopguide.bolts.pattern import Fastener, Pattern
from shopguide.bolts.shapes import (
    XY,
    Box,
    Circle,
    Label,
    Polygon,
    Role,
    Shape,
    Stroke,
    text_width,
)

__all__ = [
    "Circle",
    "Drawing",
    "HeadState",
    "Label",
    "Polygon",
    "Role",
    "Shape",
    "Stroke",
    "draw_pattern",
]

PLAIN = HeadState()
LARGEST_HEAD = 0.044
"""Radius of a head by the shorter side of the canvas, at most."""
LEAST_HEAD = 1.5
LEAST_RING = 5.0
"""Radius of a head and of the due ring, at least: fasteners that nearly touch still show."""
NUMBER_SIZE = 0.06
NUMBER_TO_HEAD = 1.5
"""Size of a number by the shorter side of the canvas and by the radius of a head, at most."""
DUE_SIZE = 0.15
"""Size of the due number by the shorter side: 74 px on a diagram 496 px high."""
MIDDLE_TRIES = ((1.0, 1.1), (0.85, 1.1), (0.7, 1.1), (0.85, 0.6), (0.7, 0.6), (0.7, 0.0))
"""Sizes of the text in the middle, and how much room for the due number is kept around it."""
SPARSE = (5, 10, 25)
"""Where not every number fits, every 5th, 10th ... place of the order is written."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """Shapes in painting sequence on a canvas of width × height, y down.

    hits: (fastener number, x, y, radius) for clicking.  middle_fits: False where the text for the
    middle found no room and is left to the caller.  every: 1 where each number is written, else
    only every so many-th place of the order (the due one and its neighbours always are).
    """

    width: float
    height: float
    shapes: tuple[Shape, ...]
    hits: tuple[tuple[int, float, float, float], ...]
    middle_fits: bool = True
    every: int = 1

    def number_at(self, x: float, y: float) -> int | None:
        """The fastener whose head is nearest to a point, within its reach; else None."""
        reached = [
            (math.hypot(x - hx, y - hy), number)
            for number, hx, hy, radius in self.hits
            if math.hypot(x - hx, y - hy) <= radius
        ]
        return min(reached)[1] if reached else None


def draw_pattern(
    pattern: Pattern,
    order: Sequence[int],
    states: Mapping[int, HeadState],
    *,
    width: float,
    height: float,
    middle: tuple[str, ...] = (),
    least_text: float = 18.0,
    show: Literal["order", "number"] = "order",
) -> Drawing:
    """The pattern with the state of each fastener, fitted into a canvas of width × height.

    order: fastener numbers in tightening order; a label is the place in it (or, with
    show="number", the fastener's own number).  states: by fastener number; one that is missing is
    untouched.  middle: lines for the free middle, the first strong.  least_text: no number smaller
    than this; where not all fit, fewer are written. Nothing is drawn outside the canvas.

    The layout is kept from call to call as long as pattern, order and size stay the same.
    """
    plan = _lay_out(pattern, tuple(order), float(width), float(height), float(least_text), show)
    due = next((n for n in plan.order if states.get(n, PLAIN).due), None)
    block, middle_labels = _set_middle(plan, middle)
    shapes: list[Shape] = [Stroke("band", plan.ground.band, plan.ground.band_width)]
    if len(plan.ground.band) < 2:
        shapes.clear()
    on_top: list[Shape] = []
    for fastener, (x, y) in zip(plan.fasteners, plan.ground.seats, strict=True):
        kind = fastener.head or "hex"
        if fastener.use == "do not touch":
            shapes += draw_struck(kind, x, y, plan.radius)
        elif fastener.use == "leave loose":
            shapes += draw_loose(kind, x, y, plan.radius)
        else:
            state = states.get(fastener.number, PLAIN)
            shapes += draw_head(kind, x, y, plan.radius, 0.17 if state.done else 0.085)
            shapes += draw_strokes(state.strokes, x, y, plan.radius)
            if state.snug:
                shapes += draw_snug(x, y, plan.radius)
            if state.departed:
                on_top += draw_flag(x, y, plan.radius, plan.sides[fastener.number])
    shapes += on_top
    shapes += plan.notes
    callout = _call_out(plan, due, block) if due is not None else None
    if callout is not None:
        if not callout.middle_fits:
            middle_labels = ()
        index = plan.index[due]
        shapes += draw_due(*plan.ground.seats[index], plan.radius, plan.ground.rings[index])
        shapes += callout.shapes
    hidden = callout.hidden if callout else frozenset()
    extra = callout.extra if callout else ()
    for number, label in (*plan.labels.items(), *extra):
        if number == due or number in hidden:
            continue
        done = states.get(number, PLAIN).done
        shapes.append(
            replace(
                label,
                role="number" if done else "number soft",
                weight="bold" if done else "regular",
            )
        )
    shapes += middle_labels
    fits = not middle or bool(middle_labels)
    return Drawing(plan.width, plan.height, tuple(shapes), plan.hits, fits, plan.every)


# --- layout: everything that does not depend on the state ---------------------------------------


@dataclass(frozen=True, eq=False)
class _Plan:
    """Where everything stands on the canvas. eq=False: told apart by identity, for the caches."""

    width: float
    height: float
    least_text: float
    order: tuple[int, ...]
    fasteners: tuple[Fastener, ...]
    index: dict[int, int]
    texts: dict[int, str]
    radius: float
    ground: Ground
    centre: tuple[XY, ...]
    size: float
    every: int
    labels: dict[int, Label]
    notes: tuple[Label, ...]
    sides: dict[int, int]
    hits: tuple[tuple[int, float, float, float], ...]

    def boxes(self, without: int | None = None) -> list[Box]:
        boxes = [label.box() for number, label in self.labels.items() if number != without]
        return boxes + [note.box() for note in self.notes]


@lru_cache(maxsize=24)
def _lay_out(
    pattern: Pattern,
    order: tuple[int, ...],
    width: float,
    height: float,
    least_text: float,
    show: str,
) -> _Plan:
    fasteners = pattern.placed
    points = [(f.x_mm, f.y_mm) for f in fasteners]
    edge_line, inside = _edge_line(pattern, points)
    left_alone = {k for k, f in enumerate(fasteners) if f.use != "tighten"}
    ground, radius = _fit(points, edge_line, inside, left_alone, width, height, least_text)
    index = {f.number: k for k, f in enumerate(fasteners)}
    order = tuple(n for n in order if n in index)
    texts = {n: str(k if show == "order" else n) for k, n in enumerate(order, start=1)}
    size, every, labels = _number(ground, order, index, texts, least_text)
    notes = _place_notes(ground, fasteners, labels, least_text)
    sides = {
        n: -1 if n in labels and labels[n].x > ground.seats[k][0] + 0.5 * radius else 1
        for n, k in index.items()
    }
    near = nearest_two(ground.seats) if len(points) > 1 else [(4 * radius, 0.0)]
    hits = tuple(
        (f.number, x, y, max(ground.rings[k], min(0.5 * near[k][0], 3 * radius)))
        for k, (f, (x, y)) in enumerate(zip(fasteners, ground.seats, strict=True))
    )
    return _Plan(
        width, height, least_text, order, fasteners, index, texts, radius, ground,
        _centres(ground), size, every, labels, notes, sides, hits,
    )  # fmt: skip


def _edge_line(pattern: Pattern, points: list[XY]) -> tuple[list[XY], set[int]]:
    """The joint's edge as a closed line in mm, and which fasteners are inside it."""
    edge, inside = walk_round(points, pattern.outline)
    if pattern.outline:
        return [*pattern.outline, pattern.outline[0]], set(inside)
    if pattern.circle is not None and len(points) > 2:
        radius = pattern.circle.diameter_mm / 2
        turns = [math.tau * k / 96 for k in range(96)]
        ring = [(radius * math.cos(a), radius * math.sin(a)) for a in turns]
        return [*ring, ring[0]], set()
    if pattern.grid is not None and inside:
        # The edge of a block lies outside its rows, and so does the band.
        grid = pattern.grid
        step = min(grid.across_mm, grid.down_mm)
        x, y = (max(p[k] for p in points) + 0.62 * step for k in (0, 1))
        foot = -y - 0.25 * step  # room for the numbers below the last row
        return [(-x, y), (x, y), (x, foot), (-x, foot), (-x, y)], set(inside)
    line = [points[i] for i in edge]
    if len(line) > 2 and len(hull_of(line)) > 2:
        line.append(line[0])
    return line, set(inside)


def _fit(
    points: list[XY],
    edge_line: list[XY],
    inside: set[int],
    left_alone: set[int],
    width: float,
    height: float,
    least_text: float,
) -> tuple[Ground, float]:
    """Scale and shift the joint into the canvas; heads as large as spacing and canvas allow."""
    every = [*points, *edge_line]
    left, right = min(p[0] for p in every), max(p[0] for p in every)
    low, high = min(p[1] for p in every), max(p[1] for p in every)
    lowest = min(p[1] for p in points)
    near = [pair[0] for pair in nearest_two(points)] if len(points) > 1 else []
    # A head in rows has neighbours all round: smaller heads, and each number below its own.
    rows = 6 * len(inside - left_alone) >= len(points)
    share, ring_share = (0.19, 2.05) if rows else (0.25, RING)
    cap = LARGEST_HEAD * min(width, height)
    radius, scale, shift = cap, 1.0, 0.0
    for _ in range(6):
        margin = ring_share * radius + 4.0
        below = REACH * radius + 1.3 * least_text + 6.0 - margin
        shift = max(0.0, below) / 2 if rows and low >= lowest else 0.0
        room = (max(1.0, width - 2 * margin), max(1.0, height - 2 * margin - 2 * shift))
        spans = [r / s for r, s in zip(room, (right - left, high - low), strict=True) if s > 0]
        scale = min(spans) if spans else 1.0
        if near:
            radius = min(cap, share * median(near) * scale, 0.42 * min(near) * scale)
            radius = max(radius, LEAST_HEAD)
    cx, cy = (left + right) / 2, (low + high) / 2

    def place(point: XY) -> XY:
        return (width / 2 + (point[0] - cx) * scale, height / 2 - shift - (point[1] - cy) * scale)

    seats = tuple(place(p) for p in points)
    band = tuple(place(p) for p in edge_line)
    rings = tuple(
        REACH * radius
        if k in left_alone
        else max(LEAST_RING, 1.95 * radius, min(ring_share * radius, away * scale - 1.75 * radius))
        for k, away in enumerate(near or [4 * radius / scale])
    )
    inward = (None,) * len(seats) if rows else _find_inward(seats, band, inside, radius)
    return Ground(width, height, seats, REACH * radius, rings, inward, band, 1.25 * radius), radius


def _find_inward(
    seats: tuple[XY, ...], band: tuple[XY, ...], inside: set[int], radius: float
) -> tuple[XY | None, ...]:
    """For each head the unit vector into the joint: away from the edge, towards the open side."""
    closed = len(band) > 3 and band[0] == band[-1]
    if not closed:
        # Heads on one line: numbers stand below it, or to its right.
        first, last = band[0], band[-1]
        upright = abs(last[1] - first[1]) > abs(last[0] - first[0])
        return tuple((1.0, 0.0) if upright else (0.0, 1.0) for _ in seats)
    sense = 1.0 if signed_area(band[:-1]) > 0 else -1.0
    near = max(5.0 * radius, 1.0)
    out: list[XY | None] = []
    for k, (x, y) in enumerate(seats):
        if k in inside:
            out.append(None)
            continue
        ux = uy = 0.0
        for (ax, ay), (bx, by) in pairwise(band):
            if not (min(ax, bx) - near < x < max(ax, bx) + near) or not (
                min(ay, by) - near < y < max(ay, by) + near
            ):
                continue
            length = math.hypot(bx - ax, by - ay)
            if length == 0:
                continue
            share = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / (length * length)
            share = min(1.0, max(0.0, share))
            away = math.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay))
            weight = math.exp(-((away / (2.0 * radius)) ** 2))
            ux -= sense * weight * (by - ay) / length
            uy += sense * weight * (bx - ax) / length
        size = math.hypot(ux, uy)
        out.append((ux / size, uy / size) if size > 1e-9 else None)
    return tuple(out)


def _number(
    ground: Ground,
    order: tuple[int, ...],
    index: dict[int, int],
    texts: dict[int, str],
    least_text: float,
) -> tuple[float, int, dict[int, Label]]:
    """Numbers beside the heads: all of them as large as fits, else every so many-th."""
    short = min(ground.width, ground.height)
    head = NUMBER_TO_HEAD * ground.reach / REACH
    largest = max(least_text, min(NUMBER_SIZE * short, head))
    sizes = [largest * (least_text / largest) ** (k / 3) for k in range(4)]
    if largest == least_text:
        sizes = [least_text]
    least = min(least_text, max(11.0, 11.0 * ground.width / 600))
    if None in ground.inward:
        # Heads in rows: the same side of each, if any side does.
        for size in sizes:
            wanted = [(index[n], text_width(texts[n], size), size) for n in order]
            for turn in COMPASS_DEG[:4]:
                found = place_beside(ground, wanted, all_or_none=True, turns=(turn,))
                if found:
                    return (
                        size,
                        1,
                        {n: Label("number soft", *found[index[n]], texts[n], size) for n in order},
                    )
    for every in (1, *SPARSE):
        shown = [n for k, n in enumerate(order, start=1) if k % every == 0 or (k == 1 < every)]
        # Those inside the edge have the least room and choose first.
        shown.sort(key=lambda n: ground.inward[index[n]] is not None)
        for size in sizes if every == 1 else [*sizes[-1:], least]:
            wanted = [(index[n], text_width(texts[n], size), size) for n in shown]
            for clear in (True, False):
                found = place_beside(ground, wanted, clear_of_rings=clear, all_or_none=True)
                if len(found) == len(wanted):
                    return (
                        size,
                        every,
                        {n: Label("number soft", *found[index[n]], texts[n], size) for n in shown},
                    )
    # On a very dense edge some of them find no room: those that do are better than none.
    for every in SPARSE:
        shown = [n for k, n in enumerate(order, start=1) if k % every == 0 or k == 1]
        wanted = [(index[n], text_width(texts[n], least), least) for n in shown]
        found = place_beside(ground, wanted, clear_of_rings=False)
        if 2 * len(found) >= len(wanted):
            labels = {
                n: Label("number soft", *found[index[n]], texts[n], least)
                for n in shown
                if index[n] in found
            }
            return least, every, labels
    return least, len(order) + 1, {}


def _place_notes(
    ground: Ground,
    fasteners: tuple[Fastener, ...],
    labels: dict[int, Label],
    least_text: float,
) -> tuple[Label, ...]:
    """Short words beside the heads that are left alone, where there is room."""
    words = {"do not touch": "not to be touched", "leave loose": "left loose"}
    wanted = [
        (k, text_width(words[f.use], least_text), least_text)
        for k, f in enumerate(fasteners)
        if f.use in words
    ]
    if not wanted:
        return ()
    found = place_beside(ground, wanted, [label.box() for label in labels.values()])
    return tuple(
        Label("note", x, y, words[fasteners[k].use], least_text, "regular")
        for k, (x, y) in found.items()
    )


def _centres(ground: Ground) -> tuple[XY, ...]:
    """Points to try for the text in the middle: middle of the edge line, of the heads, around."""
    line = ground.band or ground.seats
    xs, ys = [p[0] for p in line], [p[1] for p in line]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    mx = sum(p[0] for p in ground.seats) / len(ground.seats)
    my = sum(p[1] for p in ground.seats) / len(ground.seats)
    dx, dy = (max(xs) - min(xs)) / 10, (max(ys) - min(ys)) / 10
    steps = sorted(
        ((a, b) for a in range(-3, 4) for b in range(-3, 4)),
        key=lambda s: (s[0] ** 2 + s[1] ** 2, s),
    )
    return ((x, y), (mx, my), *((x + a * dx, y + b * dy) for a, b in steps[1:]))


# --- the middle and the due number --------------------------------------------------------------


@lru_cache(maxsize=64)
def _set_middle(plan: _Plan, lines: tuple[str, ...]) -> tuple[Box | None, tuple[Label, ...]]:
    """The text for the middle as labels with its box, smaller where that makes room; or nothing."""
    if not lines:
        return None, ()
    short = min(plan.width, plan.height)
    taken = plan.boxes()
    due_high = DUE_SIZE * short
    for factor, room in MIDDLE_TRIES:
        strong = max(plan.least_text, 0.06 * short * factor)
        plain = max(plan.least_text, 0.048 * short * factor)
        heights = [strong if k == 0 else plain for k in range(len(lines))]
        wide = max(text_width(text, s) for text, s in zip(lines, heights, strict=True))
        high = 1.45 * sum(heights)
        clear = (1.4 * room * due_high, room * due_high)
        spot = place_middle(plan.ground, wide, high, taken, plan.centre, clear)
        if spot is None:
            continue
        x, y = spot
        labels, top = [], y - high / 2
        for k, (text, size) in enumerate(zip(lines, heights, strict=True)):
            role, weight = ("middle strong", "bold") if k == 0 else ("middle", "regular")
            labels.append(Label(role, x, top + 0.725 * size, text, size, weight))
            top += 1.45 * size
        return box_around(x, y, wide, high), tuple(labels)
    return None, ()


@dataclass(frozen=True, slots=True)
class _Callout:
    """The due number with its leader, what had to make way for it, and neighbours written too."""

    shapes: tuple[Shape, ...]
    hidden: frozenset[int]
    extra: tuple[tuple[int, Label], ...]
    middle_fits: bool


@lru_cache(maxsize=512)
def _call_out(plan: _Plan, due: int, block: Box | None) -> _Callout:
    index = plan.index[due]
    ground = plan.ground
    seat, ring = ground.seats[index], ground.rings[index]
    hidden = frozenset(
        n
        for n, label in plan.labels.items()
        if n != due and box_touches_disc(label.box(), *seat, ring + 1.0)
    )
    boxes = [label.box() for n, label in plan.labels.items() if n != due and n not in hidden] + [
        note.box() for note in plan.notes
    ]
    text = plan.texts[due]
    note = f"no. {due}" if text != str(due) else ""
    sizes = [(size, note) for size in _due_sizes(plan)]
    if note:
        sizes += [(size, "") for size in list(_due_sizes(plan))[2:]]
    rooms = [_due_room(text, words, size, plan.least_text) for size, words in sizes]
    found = place_due(ground, index, rooms, [*boxes, block] if block else boxes)
    fits = found is not None
    # Where there is no room, the text in the middle makes way.
    found = found or place_due(ground, index, rooms, boxes)
    if found is None:
        return _Callout(_due_beside(plan, due, boxes), hidden, (), False)
    which, (x, y), start, end = found
    (size, note), (wide, high) = sizes[which], rooms[which]
    box = box_around(x, y, wide, high)
    shapes: list[Shape] = [
        Stroke(
            "leader",
            (start, end),
            max(1.5, 0.1 * plan.radius, 0.0035 * min(plan.width, plan.height)),
        )
    ]
    if note:
        small = _note_size(size, plan.least_text)
        shapes.append(Label("number due", x, y - high / 2 + size / 2, text, size, "bold"))
        shapes.append(Label("note", x, y + high / 2 - small / 2, note, small, "regular"))
    else:
        shapes.append(Label("number due", x, y, text, size, "bold"))
    taken = [*boxes, box, block] if fits and block else [*boxes, box]
    extra = _neighbours(plan, due, taken, hidden) if plan.every > 1 else ()
    extra = tuple(
        (n, label) for n, label in extra if not box_touches_line(label.box(), start, end, 1.0)
    )
    return _Callout(tuple(shapes), hidden, extra, fits and block is not None)


def _due_beside(plan: _Plan, due: int, taken: list[Box]) -> tuple[Shape, ...]:
    """The due number right beside its head, where a large one has no room anywhere."""
    index, text = plan.index[due], plan.texts[due]
    if due in plan.labels:
        return (replace(plan.labels[due], role="number due", weight="bold"),)
    wanted = [(index, text_width(text, plan.size), plan.size)]
    found = place_beside(plan.ground, wanted, taken, clear_of_rings=False)
    return tuple(Label("number due", *spot, text, plan.size, "bold") for spot in found.values())


def _due_sizes(plan: _Plan) -> Iterator[float]:
    largest = DUE_SIZE * min(plan.width, plan.height)
    for factor in (1.0, 0.86, 0.74, 0.62, 0.52, 0.42):
        if factor * largest >= 1.2 * plan.size:
            yield factor * largest
    yield 1.2 * plan.size


def _note_size(size: float, least_text: float) -> float:
    return max(least_text, 0.25 * size)


def _due_room(text: str, note: str, size: float, least_text: float) -> tuple[float, float]:
    wide = text_width(text, size)
    if not note:
        return wide, size
    small = _note_size(size, least_text)
    return max(wide, text_width(note, small)), size + small + 1.0


def _neighbours(
    plan: _Plan, due: int, taken: list[Box], hidden: frozenset[int]
) -> tuple[tuple[int, Label], ...]:
    """The ones before and after the due one in the order, where they are not written anyway."""
    place = plan.order.index(due)
    wanted = [
        n
        for n in (*plan.order[place + 1 : place + 2], *plan.order[max(0, place - 1) : place])
        if n not in plan.labels or n in hidden
    ]
    sizes = [(plan.index[n], text_width(plan.texts[n], plan.size), plan.size) for n in wanted]
    seat, ring = plan.ground.seats[plan.index[due]], plan.ground.rings[plan.index[due]]
    found = place_beside(plan.ground, sizes, taken, clear_of_rings=False)
    labels = [
        (n, Label("number soft", *found[plan.index[n]], plan.texts[n], plan.size))
        for n in wanted
        if plan.index[n] in found
    ]
    return tuple(
        (n, label) for n, label in labels if not box_touches_disc(label.box(), *seat, ring)
    )
