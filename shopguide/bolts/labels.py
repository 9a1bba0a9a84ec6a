"""Where the numbers of a drawing go: beside their heads, clear of everything else.

A place is tried, never shifted: for each label a short list of places in falling order of calm
(straight inwards first), the first that touches nothing wins. Nothing here knows what a label says
beyond the size of its box.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shopguide.bolts.outline import distance_to_line
from shopguide.bolts.shapes import XY, Box

INWARD_DEG = (0, 16, -16, 32, -32, 50, -50, 70, -70)
OUTWARD_DEG = (180, 160, -160, 135, -135, 110, -110, 90, -90)
COMPASS_DEG = (90, -90, 0, 180, -45, -135, 45, 135)


@dataclass(frozen=True, slots=True)
class Ground:
    """What labels must keep clear of: heads, their rings, the canvas edge, the band."""

    width: float
    height: float
    seats: tuple[XY, ...]
    reach: float
    """Strokes stay within this distance of a head's middle."""
    rings: tuple[float, ...]
    """Outer radius of the due ring of each head."""
    inward: tuple[XY | None, ...]
    """Unit vector into the joint; None for a fastener inside the edge."""
    band: tuple[XY, ...]
    band_width: float
    pad: float = 3.0


def box_around(x: float, y: float, wide: float, high: float) -> Box:
    return (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


def boxes_touch(a: Box, b: Box, gap: float = 0.0) -> bool:
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap


def box_touches_disc(box: Box, x: float, y: float, radius: float) -> bool:
    dx = box[0] - x if x < box[0] else x - box[2] if x > box[2] else 0.0
    dy = box[1] - y if y < box[1] else y - box[3] if y > box[3] else 0.0
    return dx * dx + dy * dy < radius * radius


def box_touches_line(box: Box, a: XY, b: XY, gap: float = 0.0) -> bool:
    """True where the stretch a-b comes nearer to the box than the gap (box grown by it)."""
    left, top, right, bottom = box[0] - gap, box[1] - gap, box[2] + gap, box[3] + gap
    (x0, y0), (x1, y1) = a, b
    enter, leave = 0.0, 1.0
    for start, delta, low, high in ((x0, x1 - x0, left, right), (y0, y1 - y0, top, bottom)):
        if abs(delta) < 1e-12:
            if not low < start < high:
                return False
            continue
        near, far = (low - start) / delta, (high - start) / delta
        if near > far:
            near, far = far, near
        enter, leave = max(enter, near), min(leave, far)
        if enter >= leave:
            return False
    return True


def line_touches_disc(a: XY, b: XY, x: float, y: float, radius: float) -> bool:
    return distance_to_line((x, y), a, b)[0] < radius


def stand_off(direction: XY, wide: float, high: float, radius: float) -> float:
    """How far along the direction a box must be moved to leave a disc of that radius clear."""
    ax, ay = abs(direction[0]), abs(direction[1])
    bw, bh = wide / 2, high / 2
    if ax > 1e-9 and (radius + bw) / ax * ay <= bh:
        return (radius + bw) / ax
    if ay > 1e-9 and (radius + bh) / ay * ax <= bw:
        return (radius + bh) / ay
    along = ax * bw + ay * bh
    return along + math.sqrt(max(0.0, along * along - bw * bw - bh * bh + radius * radius))


def inside_canvas(ground: Ground, box: Box) -> bool:
    pad = ground.pad
    return (
        box[0] >= pad
        and box[1] >= pad
        and box[2] <= ground.width - pad
        and box[3] <= ground.height - pad
    )


def on_band(ground: Ground, box: Box) -> bool:
    gap = ground.band_width / 2
    return any(box_touches_line(box, a, b, gap) for a, b in pairwise(ground.band))


def place_beside(
    ground: Ground,
    wanted: Sequence[tuple[int, float, float]],
    taken: Iterable[Box] = (),
    clear_of_rings: bool = True,
    all_or_none: bool = False,
    turns: Sequence[int] | None = None,
) -> dict[int, XY]:
    """Middles of the boxes (seat index, width, height) that find room right beside their heads.

    Those that find none are missing in the answer. `taken` are boxes to keep clear of.
    clear_of_rings: also of the due ring that any other head may get.  all_or_none: give up at
    the first that finds no room.  turns: only these, of the directions inside the edge.
    """
    boxes = list(taken)
    found: dict[int, XY] = {}
    for index, wide, high in wanted:
        place = _best_beside(ground, index, wide, high, boxes, clear_of_rings, turns)
        if place is not None:
            found[index] = place
            boxes.append(box_around(*place, wide, high))
        elif all_or_none:
            return {}
    return found


def _best_beside(
    ground: Ground,
    index: int,
    wide: float,
    high: float,
    boxes: list[Box],
    rings: bool,
    turns: Sequence[int] | None,
) -> XY | None:
    x, y = ground.seats[index]
    gap = 1.0 + 0.12 * high
    # A number belongs to the head it is nearest to, by a margin unless all stand on one side.
    clearly = 1.0 if turns else 1.15
    span = 1.25 * (ground.reach + gap) + math.hypot(wide, high)
    others = [
        (ox, oy, (max(ground.rings[k], ground.reach) if rings else ground.reach) + 1.0)
        for k, (ox, oy) in enumerate(ground.seats)
        if k != index and math.hypot(ox - x, oy - y) < span + 2 * ground.rings[k]
    ]
    near_boxes = [b for b in boxes if boxes_touch(b, (x, y, x, y), span)]
    best: tuple[float, XY] | None = None
    for calm, direction in _directions(ground.inward[index], turns):
        if best is not None and calm >= best[0]:
            break
        off = stand_off(direction, wide, high, ground.reach + gap)
        for step, stretch in enumerate((1.0, 1.22)):
            cost = calm + 12.0 * step
            if best is not None and cost >= best[0]:
                break
            cx, cy = x + direction[0] * off * stretch, y + direction[1] * off * stretch
            box = box_around(cx, cy, wide, high)
            if not inside_canvas(ground, box):
                continue
            own = math.hypot(cx - x, cy - y)
            if any(
                box_touches_disc(box, ox, oy, away) or math.hypot(cx - ox, cy - oy) < clearly * own
                for ox, oy, away in others
            ):
                continue
            if any(boxes_touch(box, other, 2.0) for other in near_boxes):
                continue
            if on_band(ground, box):
                cost += 100.0
            if best is None or cost < best[0]:
                best = (cost, (cx, cy))
    return best[1] if best else None


def _directions(inward: XY | None, only: Sequence[int] | None) -> list[tuple[float, XY]]:
    """Directions with a price each, the calmest first."""
    if inward is None:
        priced = [(6.0 * k, math.radians(d)) for k, d in enumerate(only or COMPASS_DEG)]
    else:
        lean = math.atan2(inward[1], inward[0])
        priced = [(0.5 * abs(d), lean + math.radians(d)) for d in INWARD_DEG]
        priced += [(90.0 + 0.2 * (180 - abs(d)), lean + math.radians(d)) for d in OUTWARD_DEG]
    return [(calm, (math.cos(a), math.sin(a))) for calm, a in priced]


def is_inside(point: XY, line: Sequence[XY]) -> bool:
    """True where the point lies within a closed line (last equals first)."""
    x, y = point
    within = False
    for (ax, ay), (bx, by) in pairwise(line):
        if (ay > y) != (by > y) and x < ax + (y - ay) * (bx - ax) / (by - ay):
            within = not within
    return within


def place_due(
    ground: Ground,
    index: int,
    sizes: Sequence[tuple[float, float]],
    taken: Sequence[Box],
) -> tuple[int, XY, XY, XY] | None:
    """A place for the large number of the due fastener, and its leader line.

    sizes: widths and heights to try, the largest first. Answers (which size, middle of the box,
    leader's start at the ring, leader's end at the box), or None where nothing fits.
    """
    best = None
    for which, (wide, high) in enumerate(sizes):
        # The number that is due is read from two metres: a smaller one must be well worth it.
        loss = 8.0 * which * sizes[0][1]
        if best is not None and best[0] <= loss:
            break
        found = _best_due(ground, index, wide, high, taken, best[0] - loss if best else math.inf)
        if found is not None:
            best = (found[0] + loss, which, *found[1:])
    return best[1:] if best else None


def _best_due(
    ground: Ground, index: int, wide: float, high: float, taken: Sequence[Box], limit: float
) -> tuple[float, XY, XY, XY] | None:
    """The best place for a due number of one size: price, middle, leader's start and end."""
    x, y = ground.seats[index]
    ring = ground.rings[index]
    inward = ground.inward[index]
    lean = math.atan2(inward[1], inward[0]) if inward else math.pi / 2
    farthest = 0.42 * min(ground.width, ground.height)
    span = farthest + math.hypot(wide, high)
    heads = [
        (ox, oy)
        for k, (ox, oy) in enumerate(ground.seats)
        if k != index and math.hypot(ox - x, oy - y) < span + ground.reach
    ]
    boxes = [b for b in taken if boxes_touch(b, (x, y, x, y), span)]
    gap = max(0.7 * ground.reach, 0.14 * high)
    apart = max(4.0, 0.16 * high)
    places = []
    for turn in range(-11, 13):
        angle = lean + math.radians(15 * turn)
        direction = (math.cos(angle), math.sin(angle))
        near = off = stand_off(direction, wide, high, ring + gap)
        while off <= farthest + high / 2:
            price = (off - near) + (0.1 if inward else 0.03) * high * abs(turn)
            places.append((price, turn, off, direction))
            off += max(4.0, 0.25 * high)
    best: tuple[float, XY, XY, XY] | None = None
    for price, _, off, direction in sorted(places):
        if price >= (best[0] if best else limit):
            break
        middle = (x + direction[0] * off, y + direction[1] * off)
        box = box_around(*middle, wide, high)
        if not inside_canvas(ground, box):
            continue
        if any(box_touches_disc(box, ox, oy, ground.reach + 2.0) for ox, oy in heads):
            continue
        if any(boxes_touch(box, other, apart) for other in boxes):
            continue
        start, end = _leader((x, y), ring, box)
        if any(line_touches_disc(start, end, ox, oy, ground.reach + 1) for ox, oy in heads):
            continue
        if any(box_touches_line(other, start, end, 2.0) for other in boxes):
            continue
        if on_band(ground, box):
            price += (3.0 if inward else 1.0) * high
        elif inward and not is_inside(middle, ground.band):
            price += 0.8 * high
        if any(math.dist(middle, head) < 0.9 * math.dist(middle, (x, y)) for head in heads):
            price += 0.7 * high  # it would seem to belong to another head
        if price < (best[0] if best else limit):
            best = (price, middle, start, end)
    return best


def _leader(seat: XY, ring: float, box: Box) -> tuple[XY, XY]:
    """From the ring to the nearest point of the box, straight away from the head."""
    x, y = seat
    # Aim inside the box's corners, so that the line meets the figures and not the air beside them.
    inset_x, inset_y = 0.25 * (box[2] - box[0]), 0.25 * (box[3] - box[1])
    nx = min(max(x, box[0] + inset_x), box[2] - inset_x)
    ny = min(max(y, box[1] + inset_y), box[3] - inset_y)
    away = math.hypot(nx - x, ny - y) or 1.0
    ux, uy = (nx - x) / away, (ny - y) / away
    # Stop where the line enters the box.
    enter = 0.0
    for start, delta, low, high in ((x, ux, box[0], box[2]), (y, uy, box[1], box[3])):
        if abs(delta) > 1e-9:
            enter = max(enter, min((low - start) / delta, (high - start) / delta))
    return (x + ux * ring, y + uy * ring), (x + ux * enter, y + uy * enter)


def _touches_head(box: Box, heads: Sequence[tuple[float, float, float]]) -> bool:
    """True where the box touches one of these discs (x, y, radius).

    The same as asking `box_touches_disc` of each, but without a call: it is asked of all heads for
    hundreds of boxes between a key press and the drawing that follows.
    """
    left, top, right, bottom = box
    for x, y, radius in heads:
        dx = left - x if x < left else x - right if x > right else 0.0
        if dx >= radius:
            continue
        dy = top - y if y < top else y - bottom if y > bottom else 0.0
        if dx * dx + dy * dy < radius * radius:
            return True
    return False


def place_middle(
    ground: Ground, wide: float, high: float, taken: Sequence[Box], around: Iterable[XY], room: XY
) -> XY | None:
    """A place for the text in the middle, the first of the `around` points that leaves room.

    room: how much stays free beside and above it, for the due number to pass.
    """
    heads = [
        (hx, hy, ring + 2.0) for (hx, hy), ring in zip(ground.seats, ground.rings, strict=True)
    ]
    for x, y in around:
        box = box_around(x, y, wide, high)
        grown = box_around(x, y, wide + 2 * room[0], high + 2 * room[1])
        if not inside_canvas(ground, box):
            continue
        if _touches_head(grown, heads):
            continue
        if any(boxes_touch(grown, other, 4.0) for other in taken):
            continue
        if on_band(ground, grown):
            continue
        return (x, y)
    return None
