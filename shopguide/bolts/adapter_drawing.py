"""The wrench with its adapter, to scale, as plain shapes: L, E, the angle, and where the hand is.

Seen along the screw's axis. The wrench lies across, its drive left, its grip right; an adapter at
0° points left, away from the grip, and swings up as the angle grows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopguide.bolts.shapes import XY, Circle, Label, Polygon, Shape, Stroke, text_width

TEXT = 20.0
"""Size of the words, in drawing units."""
ARC_STEP_DEG = 3.0
MARGIN = 12.0
ROOM_ANGLE = 156.0
"""What the arc and the words for the angle take left of the drive."""


@dataclass(frozen=True, slots=True)
class AdapterSketch:
    """What is drawn. Lengths in mm, the angle in degrees from 0 to 180; E is 0 without adapter.

    lever_text, length_text, angle_text: the figures as typed.
    """

    lever_mm: float
    length_mm: float = 0.0
    angle_deg: float = 0.0
    lever_text: str = ""
    length_text: str = ""
    angle_text: str = ""


@dataclass(frozen=True, slots=True)
class AdapterDrawing:
    """Shapes in painting sequence on a canvas of width × height, y down.

    mm: how many drawing units a millimetre takes, the same both ways. screw, drive, hand: where
    the middles of these are.
    """

    width: float
    height: float
    shapes: tuple[Shape, ...]
    mm: float
    screw: XY
    drive: XY
    hand: XY


def draw_adapter(sketch: AdapterSketch, *, width: float, height: float) -> AdapterDrawing:
    """The drawing for a canvas of this size."""
    angle = math.radians(sketch.angle_deg)
    screw_x, screw_y = -sketch.length_mm * math.cos(angle), -sketch.length_mm * math.sin(angle)
    left_mm, right_mm = min(0.0, screw_x), max(sketch.lever_mm, screw_x)
    # Room for the head of the screw, the words at the ends, the two lines of measure below.
    before, after, top = (ROOM_ANGLE if sketch.angle_deg else 92.0), 100.0, 74.0
    bottom = 132.0 if sketch.length_mm else 88.0
    span_mm = max(right_mm - left_mm, 1e-6)
    scale = min((width - before - after) / span_mm, (height - top - bottom) / max(-screw_y, 1e-6))
    scale = max(scale, 1e-6)
    if sketch.angle_deg and screw_x < 0:
        # The words for the angle need their room left of the drive, not of the screw.
        wide = min((width - 80.0 - after) / span_mm, (width - ROOM_ANGLE - after) / right_mm)
        scale = max(1e-6, min(wide, (height - top - bottom) / max(-screw_y, 1e-6)))
        before = max(80.0, ROOM_ANGLE + left_mm * scale)
    left = (width - before - after - span_mm * scale) / 2 + before - left_mm * scale
    tall = top + bottom - screw_y * scale
    axis = (height - tall) / 2 + top - screw_y * scale

    def place(x_mm: float, y_mm: float) -> XY:
        return (left + x_mm * scale, axis + y_mm * scale)

    drive, hand, screw = place(0, 0), place(sketch.lever_mm, 0), place(screw_x, screw_y)
    shapes: list[Shape] = []
    if sketch.length_mm:
        _draw_ghost(shapes, drive, scale * sketch.length_mm, sketch.angle_deg)
    if sketch.length_mm:
        _draw_adapter(shapes, drive, screw)
    _draw_wrench(shapes, drive, hand)
    _draw_hand(shapes, hand)
    if sketch.length_mm:
        said = _draw_angle(shapes, drive, screw, sketch)
        _name_adapter(shapes, screw, f"E  {sketch.length_text}{said}")
    _draw_screw(shapes, screw)
    line = axis + 58
    _measure(shapes, drive[0], hand[0], line, axis + 20, f"L  {sketch.lever_text}", width)
    if sketch.length_mm:
        acts = sketch.lever_mm + sketch.length_mm * math.cos(angle)
        if acts > 0:
            said = f"acts at {acts:.0f} mm"
            start = axis + 20 if screw[1] >= axis - 1 else screw[1] + 18
            _measure(shapes, screw[0], hand[0], line + 44, start, said, width)
    return AdapterDrawing(width, height, tuple(shapes), scale, screw, drive, hand)


# --- the things -------------------------------------------------------------------------------


def _draw_wrench(shapes: list[Shape], drive: XY, hand: XY) -> None:
    grip = min(0.45 * (hand[0] - drive[0]), 70.0)
    shapes.append(Stroke("band", (drive, (hand[0] + grip, hand[1])), 12))
    shapes.append(Stroke("band", ((hand[0] - grip, hand[1]), (hand[0] + grip, hand[1])), 26))
    shapes.append(Circle("band", *drive, 22, True))
    shapes.append(Circle("head", *drive, 22, False, 2))
    side = 7.0
    square = [(-side, -side), (side, -side), (side, side), (-side, side)]
    corners = tuple((drive[0] + x, drive[1] + y) for x, y in square)
    shapes.append(Polygon("head fill", corners, True))
    shapes.append(Polygon("head", corners, False, 2))


def _draw_adapter(shapes: list[Shape], drive: XY, screw: XY) -> None:
    shapes.append(Stroke("band", (drive, screw), 14))
    shapes.append(Stroke("head", (drive, screw), 2.5))


def _draw_ghost(shapes: list[Shape], drive: XY, reach: float, angle_deg: float) -> None:
    """The dashed line straight out, from which the angle is measured."""
    if angle_deg == 0:
        return
    x, end = drive[0] - 26, drive[0] - max(reach, 64)
    while x > end:
        shapes.append(Stroke("leader", ((x, drive[1]), (max(x - 8, end), drive[1])), 1.5))
        x -= 14


def _draw_screw(shapes: list[Shape], screw: XY) -> None:
    corners = tuple(
        (
            screw[0] + 16 * math.cos(math.radians(60 * corner)),
            screw[1] + 16 * math.sin(math.radians(60 * corner)),
        )
        for corner in range(6)
    )
    shapes.append(Polygon("head fill", corners, True))
    shapes.append(Polygon("head", corners, False, 3))
    shapes.append(Circle("head", *screw, 2.5, True))


def _draw_hand(shapes: list[Shape], hand: XY) -> None:
    """An arrow square to the handle in the middle of the grip: where and how the hand pulls."""
    x, y = hand
    tip = y - 16
    shapes.append(Stroke("due", ((x, tip - 44), (x, tip - 10)), 4))
    shapes.append(Polygon("due", ((x, tip), (x - 9, tip - 18), (x + 9, tip - 18)), True))
    shapes.append(Stroke("head", ((x, y - 13), (x, y + 13)), 2))
    shapes.append(Label("number", x, tip - 58, "hand here", TEXT, "bold"))


# --- the measures -----------------------------------------------------------------------------


def _measure(
    shapes: list[Shape], x1: float, x2: float, y: float, start: float, text: str, width: float
) -> None:
    """A line of measure from x1 to x2 at y, with lines up to `start` and its words on it."""
    x1, x2 = min(x1, x2), max(x1, x2)
    for x in (x1, x2):
        shapes.append(Stroke("leader", ((x, start), (x, y + 8)), 1.5))
    wide = text_width(text, TEXT) + 16
    middle = (x1 + x2) / 2
    if wide + 24 < x2 - x1:
        shapes.append(Stroke("leader", ((x1, y), (middle - wide / 2, y)), 1.5))
        shapes.append(Stroke("leader", ((middle + wide / 2, y), (x2, y)), 1.5))
        shapes.append(Label("number", middle, y, text, TEXT, "bold"))
    else:
        shapes.append(Stroke("leader", ((x1, y), (x2, y)), 1.5))
        # Beside its line, where it fits on the card.
        right = x2 + MARGIN + text_width(text, TEXT) < width
        x, anchor = (x2 + MARGIN, "start") if right else (x1 - MARGIN, "end")
        shapes.append(Label("number", x, y, text, TEXT, "bold", anchor))  # type: ignore[arg-type]
    for x, way in ((x1, 1), (x2, -1)):
        tip = ((x, y), (x + 10 * way, y - 4), (x + 10 * way, y + 4))
        shapes.append(Polygon("leader", tip, True))


def _name_adapter(shapes: list[Shape], screw: XY, text: str) -> None:
    """The words over the screw, on the card, and left of those for the hand."""
    wide = text_width(text, TEXT)
    y = screw[1] - 36
    left = max(MARGIN, screw[0] - wide / 2)
    label = next(s for s in shapes if isinstance(s, Label))
    over = label.box()
    if y + TEXT / 2 > over[1] and y - TEXT / 2 < over[3]:
        left = min(left, over[0] - MARGIN - wide)
    shapes.append(Label("number", left, y, text, TEXT, "bold", "start"))


def _draw_angle(shapes: list[Shape], drive: XY, screw: XY, sketch: AdapterSketch) -> str:
    """The arc from straight out to the adapter, with its figure.

    Returns the figure where the screw is in its way and it has to stand elsewhere.
    """
    if sketch.angle_deg <= 0:
        return f",  α  {sketch.angle_text}" if sketch.angle_text else ""
    radius = 46.0
    steps = max(2, round(sketch.angle_deg / ARC_STEP_DEG))
    points = tuple(
        _swing(drive, radius, sketch.angle_deg * step / steps) for step in range(steps + 1)
    )
    shapes.append(Stroke("leader", points, 2))
    x, y = _swing(drive, radius + 14, sketch.angle_deg / 2)
    label = Label("number", x, y - 4, f"α  {sketch.angle_text}", TEXT, "bold", "end")
    left, top, right, bottom = label.box()
    sx, sy = screw
    over = text_width(sketch.length_text, TEXT) / 2 + 24
    if left - over < sx < right + over and top - 22 < sy < bottom + 50:
        return f",  α  {sketch.angle_text}"
    shapes.append(label)
    return ""


def _swing(middle: XY, radius: float, angle_deg: float) -> XY:
    angle = math.radians(angle_deg)
    return (middle[0] - radius * math.cos(angle), middle[1] - radius * math.sin(angle))
