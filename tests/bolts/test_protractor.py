"""The picture of a turn: start and end mark stand where the angle says."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.bolts.protractor import draw_turn
from shopguide.bolts.shapes import Label, Polygon
from shopguide.errors import Trouble


def find_mark(shapes, role: str) -> float:
    """The direction of a mark in degrees clockwise from 12 o'clock."""
    mark = next(s for s in shapes if isinstance(s, Polygon) and s.role == role)
    x = sum(p[0] for p in mark.points) / 4 - 100
    y = sum(p[1] for p in mark.points) / 4 - 100
    return math.degrees(math.atan2(x, -y)) % 360


@given(st.floats(1, 359))
def test_the_end_mark_stands_at_the_angle(degrees):
    shapes = draw_turn(degrees)
    assert find_mark(shapes, "mark hollow") == pytest.approx(0, abs=1e-6)
    assert find_mark(shapes, "mark") == pytest.approx(degrees, abs=1e-6)


def test_more_than_a_turn_is_said_in_words():
    shapes = draw_turn(450)
    assert find_mark(shapes, "mark") == pytest.approx(90)
    assert any(isinstance(s, Label) and s.text == "turn 1 × 360° + 90°" for s in shapes)


def test_limits_are_a_wedge():
    plain, limited = draw_turn(90), draw_turn(90, low=85, high=95)
    wedge = [s for s in limited if isinstance(s, Polygon) and s.role == "band"]
    assert len(wedge) == 1
    assert not [s for s in plain if isinstance(s, Polygon) and s.role == "band"]


@pytest.mark.parametrize("degrees", [0.0, -5.0, math.nan, math.inf, 4000.0])
def test_what_cannot_be_drawn_is_told(degrees):
    with pytest.raises(Trouble):
        draw_turn(degrees)
