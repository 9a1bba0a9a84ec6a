"""The picture of an angle pass: where the paint mark stands before the turn, and where after it.

Plain shapes for screen and paper. The turn is clockwise as one looks at the head, from 12 o'clock.
"""

from __future__ import annotations

import math

from shopguide.bolts.heads import draw_head
from shopguide.bolts.pattern import Head
from shopguide.bolts.shapes import XY, Label, Polygon, Shape, Stroke
from shopguide.errors import Trouble

TICK_DEG = 15
ARC_STEP_DEG = 3.0


def draw_turn(
    degrees: float,
    *,
    low: float | None = None,
    high: float | None = None,
    head: Head = "hex",
    size: float = 200.0,
) -> tuple[Shape, ...]:
    """The shapes on a square canvas of `size`: dial, head, start mark, arc, end mark, words.

    degrees: the turn, above 0. A turn of more than 360° is drawn by its rest, with the full turns
    in words. low, high: the limits of the turn where there are some, drawn as a wedge at the end.
    Raises Trouble for a turn that is no number above 0, or above ten turns.
    """
    if not (math.isfinite(degrees) and 0 < degrees <= 3600):
        raise Trouble(
            "The turn cannot be drawn.",
            next="Give an angle above 0° and of at most ten full turns.",
        )
    middle = size / 2
    outer, inner = 0.33 * size, 0.16 * size
    turns, rest = divmod(degrees, 360.0)
    if rest == 0:
        turns, rest = turns - 1, 360.0
    shapes: list[Shape] = []
    for tick in range(0, 360, TICK_DEG):
        length = 0.035 if tick % 90 else 0.06
        ends = (_at(middle, outer, tick), _at(middle, outer + length * size, tick))
        shapes.append(Stroke("note", ends, max(1.0, 0.006 * size)))
    if low is not None and high is not None and high > low:
        wedge = [(middle, middle), *_arc(middle, outer * 0.94, low % 360, low % 360 + high - low)]
        shapes.append(Polygon("band", tuple(wedge), True))
    shapes += draw_head(head, middle, middle, inner, 0.1)
    line = max(2.0, 0.02 * size)
    shapes.append(Stroke("leader", tuple(_arc(middle, outer * 0.8, 0.0, rest)), line))
    shapes.append(_arrow(middle, outer * 0.8, rest, 0.07 * size))
    # The mark as it was set is hollow; turned with the head it is solid, as on the diagram.
    shapes.append(_mark(middle, inner * 0.45, outer * 0.98, 0.0, 0.018 * size, filled=False))
    shapes.append(_mark(middle, inner * 0.45, outer * 0.98, rest, 0.018 * size, filled=True))
    text = max(18.0, 0.095 * size)
    shapes.append(Label("note", middle, 0.05 * size, "start", text, "regular"))
    said = f"{degrees:g}°" if turns == 0 else f"{int(turns)} × 360° + {rest:g}°"
    shapes.append(Label("number", middle, 0.95 * size, f"turn {said}", text, "bold"))
    return tuple(shapes)


def _at(middle: float, radius: float, degrees: float) -> XY:
    angle = math.radians(degrees - 90)
    return (middle + radius * math.cos(angle), middle + radius * math.sin(angle))


def _arc(middle: float, radius: float, start: float, end: float) -> list[XY]:
    count = max(2, math.ceil(abs(end - start) / ARC_STEP_DEG) + 1)
    return [_at(middle, radius, start + (end - start) * k / (count - 1)) for k in range(count)]


def _arrow(middle: float, radius: float, degrees: float, length: float) -> Polygon:
    """The head of the arc, its tip at the end of the turn."""
    back = math.degrees(length / radius)
    tip = _at(middle, radius, degrees)
    wings = (
        _at(middle, radius - 0.5 * length, degrees - back),
        _at(middle, radius + 0.5 * length, degrees - back),
    )
    return Polygon("leader", (tip, *wings), True)


def _mark(
    middle: float, near: float, far: float, degrees: float, half: float, *, filled: bool
) -> Polygon:
    """A paint-pen stroke from the head across the edge onto the part."""
    along, across = math.radians(degrees - 90), math.radians(degrees)
    side = (half * math.cos(across), half * math.sin(across))
    ends = [
        (middle + r * math.cos(along) + s * side[0], middle + r * math.sin(along) + s * side[1])
        for r, s in ((near, 1), (far, 1), (far, -1), (near, -1))
    ]
    return Polygon("mark" if filled else "mark hollow", tuple(ends), filled, 1.0 + 0.2 * half)
