"""The wrench with its adapter as shapes: to scale, and with nothing written over anything."""

from __future__ import annotations

import math

import pytest

from shopguide.bolts.adapter_drawing import AdapterDrawing, AdapterSketch, draw_adapter
from shopguide.bolts.shapes import Label, Polygon, Stroke

CASES = [
    (lever, length, angle)
    for lever in (150, 300, 600)
    for length in (25, 40, 120)
    for angle in (0, 10, 30, 45, 60, 90, 120, 135, 180)
    if lever + length * math.cos(math.radians(angle)) > 1
]


def draw(lever: float, length: float = 0, angle: float = 0, size=(640, 380)) -> AdapterDrawing:
    sketch = AdapterSketch(lever, length, angle, f"{lever} mm", f"{length} mm", f"{angle}°")
    return draw_adapter(sketch, width=size[0], height=size[1])


def labels(drawing: AdapterDrawing) -> list[Label]:
    return [shape for shape in drawing.shapes if isinstance(shape, Label)]


@pytest.mark.parametrize(("lever", "length", "angle"), CASES)
def test_it_is_to_scale_both_ways(lever: float, length: float, angle: float) -> None:
    drawing = draw(lever, length, angle)
    (sx, sy), (dx, dy), (hx, hy) = drawing.screw, drawing.drive, drawing.hand
    assert hx - dx == pytest.approx(lever * drawing.mm) and hy == dy
    assert math.hypot(sx - dx, sy - dy) == pytest.approx(length * drawing.mm)
    # The angle is measured from the line straight out, away from the hand.
    seen = math.degrees(math.atan2(dy - sy, dx - sx))
    assert abs(seen) == pytest.approx(angle, abs=1e-6)
    # The arm of the hand's pull about the screw is what the setting is reckoned with.
    acts = lever + length * math.cos(math.radians(angle))
    assert (hx - sx) / drawing.mm == pytest.approx(acts)
    assert any(label.text == f"acts at {acts:.0f} mm" for label in labels(drawing))


@pytest.mark.parametrize("size", [(640, 380), (560, 300)])
@pytest.mark.parametrize(("lever", "length", "angle"), CASES)
def test_words_stay_on_the_card_and_off_each_other(lever, length, angle, size) -> None:
    drawing = draw(lever, length, angle, size)
    boxes = [label.box() for label in labels(drawing)]
    for left, top, right, bottom in boxes:
        assert left >= 0 and top >= 0 and right <= size[0] and bottom <= size[1]
    for index, one in enumerate(boxes):
        for two in boxes[index + 1 :]:
            apart = one[2] <= two[0] or two[2] <= one[0] or one[3] <= two[1] or two[3] <= one[1]
            assert apart, (labels(drawing), lever, length, angle)
    assert all(label.size >= 18 for label in labels(drawing))


def test_lever_length_and_angle_are_named() -> None:
    said = " ".join(label.text for label in labels(draw(300, 120, 60)))
    for part in ("L  300 mm", "E  120 mm", "α  60°", "hand here"):
        assert part in said
    straight = " ".join(label.text for label in labels(draw(300, 40, 0)))
    assert "E  40 mm,  α  0°" in straight


def test_without_adapter_there_is_only_the_lever() -> None:
    drawing = draw(300)
    assert drawing.screw == drawing.drive
    assert [label.text for label in labels(drawing)] == ["hand here", "L  300 mm"]


def test_the_hand_is_an_arrow_square_to_the_handle() -> None:
    drawing = draw(300, 40, 45)
    (arrow,) = [s for s in drawing.shapes if isinstance(s, Stroke) and s.role == "due"]
    (head,) = [s for s in drawing.shapes if isinstance(s, Polygon) and s.role == "due"]
    assert {x for x, _ in arrow.points} == {drawing.hand[0]}
    tip = max(head.points, key=lambda point: point[1])
    assert tip[0] == drawing.hand[0] and arrow.points[-1][1] < tip[1] < drawing.hand[1]
