"""Patterns: where the fasteners of circles, rectangles, grids and free points sit, and refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from shopguide.bolts.pattern import Circle, Fastener, Grid, Pattern, Rectangle


def make(**more) -> Pattern:
    return Pattern(name="p", title="p", **more)


def free(*points, **more) -> Pattern:
    return make(fasteners=tuple(Fastener(number=n, x_mm=x, y_mm=y) for n, x, y in points), **more)


def test_a_circle_counts_clockwise_from_twelve_o_clock() -> None:
    assert Circle(count=4, diameter_mm=100).points() == [(0, 50), (50, 0), (0, -50), (-50, 0)]
    left = Circle(count=4, diameter_mm=100, clockwise=False).points()
    assert left == [(0, 50), (-50, 0), (0, -50), (50, 0)]
    assert Circle(count=4, diameter_mm=100, start_deg=90).points()[0] == (50, 0)


@given(st.integers(1, 500), st.floats(1, 1000), st.floats(-360, 360))
@settings(max_examples=40, deadline=None)
def test_a_circle_is_even(count: int, diameter: float, start: float) -> None:
    points = Circle(count=count, diameter_mm=diameter, start_deg=start).points()
    assert len(points) == count
    for x, y in points:
        assert math.hypot(x, y) == pytest.approx(diameter / 2, abs=1e-5)
    if count > 1:
        steps = [math.dist(points[i - 1], points[i]) for i in range(count)]
        assert max(steps) - min(steps) < 1e-5


def test_a_rectangle_counts_clockwise_from_the_upper_left() -> None:
    points = Rectangle(width_mm=40, height_mm=20, along=3, up=2).points()
    assert points == [(-20, 10), (0, 10), (20, 10), (20, -10), (0, -10), (-20, -10)]
    assert len(Rectangle(width_mm=40, height_mm=20, along=7, up=4).points()) == 18


def test_a_grid_counts_row_by_row() -> None:
    points = Grid(columns=3, rows=2, across_mm=10, down_mm=30).points()
    assert points == [(-10, 15), (0, 15), (10, 15), (-10, -15), (0, -15), (10, -15)]


def test_what_the_pattern_says_holds_unless_the_fastener_says_otherwise() -> None:
    pattern = make(
        thread="M6",
        length="20 mm",
        head="torx",
        fasteners=(
            Fastener(number=1, x_mm=0, y_mm=0),
            Fastener(number=2, x_mm=9, y_mm=0, length="35 mm", head="hex"),
        ),
    )
    one, two = pattern.placed
    assert (one.thread, one.length, one.head) == ("M6", "20 mm", "torx")
    assert (two.thread, two.length, two.head) == ("M6", "35 mm", "hex")
    assert pattern.fastener(2) == two
    with pytest.raises(KeyError):
        pattern.fastener(3)


def test_the_passes_leave_out_what_is_left_alone() -> None:
    pattern = make(
        fasteners=(
            Fastener(number=1, x_mm=0, y_mm=0),
            Fastener(number=2, x_mm=9, y_mm=0, use="leave loose"),
            Fastener(number=3, x_mm=18, y_mm=0, use="do not touch"),
        )
    )
    assert [f.number for f in pattern.tightened] == [1]
    assert len(pattern.placed) == 3


def test_the_pitch_circle_is_known_for_circles_only() -> None:
    assert make(circle=Circle(count=5, diameter_mm=112)).circle_diameter_mm() == 112
    assert free((1, 0, 0), (2, 5, 0)).circle_diameter_mm() is None


CIRCLE = Circle(count=3, diameter_mm=50)


@pytest.mark.parametrize(
    ("build", "says"),
    [
        (lambda: make(), "exactly one of circle"),
        (
            lambda: make(circle=CIRCLE, grid=Grid(columns=1, rows=2, across_mm=1, down_mm=1)),
            "circle, grid.*exactly one",
        ),
        (lambda: make(fasteners=()), "at least one fastener"),
        (lambda: free((1, 0, 0), (1, 5, 0)), "[Nn]umbers used twice: 1"),
        (lambda: free((1, 0, 0), (2, 0.0001, 0)), "1 and 2 sit in the same place"),
        (lambda: make(circle=CIRCLE, order=(1, 2)), "missing: 3"),
        (lambda: make(circle=CIRCLE, order=(1, 2, 3, 4)), "unknown.*4"),
        (lambda: make(circle=CIRCLE, order=(1, 2, 2, 3)), "twice: 2"),
        (lambda: make(circle=CIRCLE, outline=((0, 0), (1, 1))), "at least three points"),
        (
            lambda: make(grid=Grid(columns=100, rows=6, across_mm=1, down_mm=1)),
            "600 fasteners; at most 500",
        ),
        (lambda: Circle(count=3, diameter_mm=0), "diameter_mm"),
        (lambda: Circle(count=3, diameter_mm=math.nan), "diameter_mm"),
        (lambda: Fastener(number=1, x_mm=math.inf, y_mm=0), "x_mm"),
        (lambda: Fastener(number=1, x_mm=0, y_mm=0, use="forget"), "use"),
    ],
)
def test_what_cannot_be_a_pattern_is_refused_in_words(build, says: str) -> None:
    with pytest.raises(ValidationError, match=f"(?s){says}"):
        build()


def test_an_order_leaves_out_what_is_left_alone() -> None:
    fasteners = (
        Fastener(number=1, x_mm=0, y_mm=0),
        Fastener(number=2, x_mm=9, y_mm=0),
        Fastener(number=3, x_mm=18, y_mm=0, use="leave loose"),
    )
    assert make(fasteners=fasteners, order=(2, 1)).order == (2, 1)
    with pytest.raises(ValidationError, match="not to be tightened: 3"):
        make(fasteners=fasteners, order=(2, 1, 3))
