"""Placing by geometry: in line, evenly, along an outline, mirrored, snapped, walked, typed."""

from __future__ import annotations

import contextlib
import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.bolts.placing import (
    align,
    distribute,
    find_axis,
    find_middle,
    find_on_outline,
    follow_outline,
    measure_outline,
    mirror,
    pick_far_apart,
    place_along,
    read_circle,
    read_grid,
    read_length,
    read_numbers,
    read_outline,
    read_place,
    read_rectangle,
    read_rectangle_size,
    snap,
    spread_along,
    walk,
    write_outline,
)
from shopguide.bolts.positions import read_pasted
from shopguide.errors import Trouble

SQUARE = [(0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)]
POINTS = st.lists(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=1, max_size=30)


def test_a_row_takes_the_mean_height_and_a_column_the_mean_side():
    points = [(0, 1), (10, 3), (20, 2)]
    assert find_axis(points) == "row"
    assert align(points, "row") == [(0, 2), (10, 2), (20, 2)]
    assert align(points, "column") == [(10, 1), (10, 3), (10, 2)]
    assert align([], "row") == []


def test_even_steps_between_the_two_that_stand_farthest_apart():
    assert distribute([(0, 0), (90, 30), (10, 1), (20, 5)]) == [
        (0, 0), (90, 30), (30, 10), (60, 20),
    ]  # fmt: skip
    assert distribute([(1, 1), (5, 5)]) == [(1, 1), (5, 5)]


@given(POINTS, st.sampled_from(["left-right", "up-down"]))
def test_a_mirror_of_a_mirror_is_the_same(points, sides):
    middle = find_middle(points)
    there = mirror(points, sides, middle)
    assert find_middle(there) == pytest.approx(middle, abs=1e-9)
    for one, other in zip(points, mirror(there, sides, middle), strict=True):
        assert one == pytest.approx(other, abs=1e-9)


def test_the_way_along_an_outline():
    assert measure_outline(SQUARE) == 400
    assert find_on_outline(SQUARE, (50, -3)) == (50, (50, 0), 3)
    assert follow_outline(SQUARE, 150) == (100, 50)
    assert follow_outline(SQUARE, 550) == (100, 50), "once more round"
    assert follow_outline(SQUARE, -10) == (0, 10)


def test_places_along_an_outline_run_clockwise_from_the_start():
    assert place_along(SQUARE, 4, (0, 101)) == [(0, 100), (100, 100), (100, 0), (0, 0)]


@pytest.mark.parametrize("count", [0, 501])
def test_an_impossible_number_along_an_outline_is_told(count):
    with pytest.raises(Trouble, match="cannot be placed"):
        place_along(SQUARE, count)


def test_without_an_outline_nothing_is_placed_along_it():
    for act in (lambda: place_along([], 4), lambda: spread_along([(0, 0)], SQUARE[:2])):
        with pytest.raises(Trouble, match="no outline"):
            act()


@given(st.lists(st.floats(0, 399.9), min_size=3, max_size=40), st.floats(-3, 3))
def test_spreading_keeps_the_sequence_and_makes_even_steps(along, off):
    points = [(x + off, y + off) for x, y in (follow_outline(SQUARE, a) for a in along)]
    spread = spread_along(points, SQUARE)
    places = sorted(find_on_outline(SQUARE, p)[0] for p in spread)
    steps = sorted(b - a for a, b in pairwise([*places, places[0] + 400]))
    # All equal but for the one that is the opening.
    assert steps[0] == pytest.approx(steps[-2], abs=1e-6)
    assert all(find_on_outline(SQUARE, p)[2] < 1e-9 for p in spread)


def test_a_stretch_that_is_free_stays_free():
    spread = spread_along([(0, 0), (10, 0), (100, 50)], SQUARE)
    assert spread == [(0, 0), (75, 0), (100, 50)]


def test_walking_round_goes_clockwise_from_the_start_and_inside_last():
    points = [(0, 0), (100, 100), (100, 0), (50, 50), (0, 100), (50, 0), (50, 100), (0, 50)]
    points.append((100, 50))
    assert walk(points, SQUARE, start=4) == [4, 6, 1, 8, 2, 5, 0, 7, 3]
    assert walk(points, SQUARE, start=4, clockwise=False) == [4, 7, 0, 5, 2, 8, 1, 6, 3]


@given(POINTS, st.booleans())
def test_walking_names_each_once_from_the_start(points, clockwise):
    sequence = walk(points, [], 0, clockwise)
    assert sorted(sequence) == list(range(len(points)))


def test_snapping_in_line_with_others():
    there = snap((49, 71), [(0, 70), (50, 10)], 3)
    assert there.at == (50, 70)
    assert {g.why for g in there.guides} == {"in line"}
    assert snap((49, 75), [(0, 70), (50, 10)], 3).at == (50, 75)
    far = snap((40, 80), [(0, 70), (50, 10)], 3)
    assert far.at == (40, 80)
    assert far.guides == ()


def test_snapping_to_the_edge_and_in_line_on_it():
    assert snap((40, 2), [], 3, SQUARE).at == (40, 0)
    both = snap((42, 2), [(40, 60)], 3, SQUARE)
    assert both.at == (40, 0)
    assert both.guides[0].why == "in line, on the edge"


def test_snapping_to_an_angle():
    there = snap((50, 28), [], 3, pivot=(0, 0))
    assert math.degrees(math.atan2(there.at[1], there.at[0])) == pytest.approx(30)
    assert there.guides[0].why == "30°"
    assert snap((50, 22), [], 1, pivot=(0, 0)).guides == ()


@given(st.tuples(st.floats(-500, 500), st.floats(-500, 500)), POINTS, st.floats(0.1, 10))
def test_snapping_never_moves_farther_than_its_reach(point, others, reach):
    there = snap(point, others, reach, SQUARE, pivot=(0, 0))
    # Two lines at once are as far as the diagonal, and once more onto the edge.
    assert math.dist(there.at, point) <= reach * (1 + math.sqrt(2)) + 1e-9


@pytest.mark.parametrize(
    ("text", "mm"),
    [("12.5", 12.5), ("-4", -4), ("−4,5", -4.5), ("1/2 in", 12.7), ("-2 cm", -20), (".5", 0.5)],
)
def test_lengths_as_people_write_them(text, mm):
    assert read_length(text) == pytest.approx(mm)


@pytest.mark.parametrize("text", ["", "-", "wide", "1e9", "200 km", "3 N·m", "--3"])
def test_what_is_no_length_is_told(text):
    with pytest.raises(Trouble):
        read_length(text)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("12.5 -40", (12.5, -40)),
        ("12.5, -40", (12.5, -40)),
        ("12,5 -40", (12.5, -40)),
        ("1 in; 2 cm", (25.4, 20)),
    ],
)
def test_places_as_people_write_them(text, place):
    assert read_place(text) == pytest.approx(place)


@pytest.mark.parametrize("text", ["200 120", "200 x 120", "200x120", "200 × 120", "20 cm by 12 cm"])
def test_sizes_as_people_write_them(text):
    assert read_rectangle_size(text) == pytest.approx((200, 120))


def test_shapes_by_numbers():
    circle, at = read_circle("8 120 22.5° at 10 -20")
    assert (circle.count, circle.diameter_mm, circle.start_deg, at) == (8, 120, 22.5, (10, -20))
    rectangle, at = read_rectangle("200 120 4 3")
    assert len(rectangle.points()) == 10
    assert at == (0, 0)
    grid, _ = read_grid("3 2 40 30")
    assert grid.points()[0] == (-40, 15)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (read_circle, ""),
        (read_circle, "8"),
        (read_circle, "0 120"),
        (read_circle, "8 -120"),
        (read_circle, "8 120 left"),
        (read_circle, "8 120 at 5"),
        (read_circle, "9999 120"),
        (read_rectangle, "200 120 4"),
        (read_rectangle, "200 120 1 3"),
        (read_grid, "30 30 10 10"),
        (read_grid, "a b c d"),
        (read_place, "1 2 3"),
        (read_rectangle_size, "200"),
    ],
)
def test_what_cannot_be_read_is_told_in_words(read, text):
    with pytest.raises(Trouble) as told:
        read(text)
    assert told.value.next
    assert "value_error" not in str(told.value)


@given(st.text(max_size=40))
def test_any_text_is_read_or_told(text):
    for read in (read_circle, read_rectangle, read_grid, read_place, read_length, read_pasted):
        with contextlib.suppress(Trouble):
            assert read(text) is not None


@pytest.mark.parametrize(
    "text",
    [
        "1\t0\t10.5\n2\t-3\t4\n",
        "0 10.5\n-3 4",
        "0,10.5\n-3,4",
        "0, 10.5\n-3, 4\n\n",
        "0;10,5\n-3;4",
        "number\tx_mm\ty_mm\r\n1\t0\t10,5\r\n2\t-3\t4",
        "y_mm,number,x_mm\n10.5,1,0\n4,2,-3",
    ],
)
def test_pasted_tables(text):
    assert read_pasted(text) == [(1, 0.0, 10.5), (2, -3.0, 4.0)]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("", ""),
        ("1 2 3 4", "line 1"),
        ("1\t2\n3\tfour", "line 2"),
        ("1\t2\n3", "line 2"),
        ("x_mm,y_mm\n1,2", "line 1"),
    ],
)
def test_a_pasted_table_that_cannot_be_read_names_its_line(text, where):
    with pytest.raises(Trouble) as told:
        read_pasted(text)
    assert where in told.value.where


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("3", {3}),
        ("1-4 9", {1, 2, 3, 4, 9}),
        ("1 – 3, 12", {1, 2, 3, 12}),
        ("12,1", {1, 12}),
    ],
)
def test_numbers_are_chosen_by_typing(text, found):
    assert read_numbers(text, [1, 2, 3, 4, 9, 12]) == found


@pytest.mark.parametrize("text", ["", "5", "1-5", "4-1", "a", "1-2-3", "-3", "²"])
def test_numbers_that_are_not_there_are_told(text):
    with pytest.raises(Trouble):
        read_numbers(text, [1, 2, 3, 4, 9])


def test_an_outline_is_read_from_a_line_and_from_a_table():
    corners = [(0, 0), (50.5, 0), (50.5, -40)]
    assert read_outline("0 0; 50.5 0; 50.5 -40") == corners
    assert read_outline("0\t0\n50.5\t0\n50.5\t−40\n") == corners
    assert read_outline("0, 0; 50,5 0; 50,5 -40") == corners
    assert read_outline("  ") == []
    assert read_outline(write_outline(corners)) == corners


def test_points_far_apart_come_first():
    points = [(0, 0), (1, 0), (100, 0), (50, 40), (99, 1)]
    assert pick_far_apart(points, 3) == [0, 2, 3]
    assert pick_far_apart(points[:1], 3) == [0]
    assert sorted(pick_far_apart(points, 9)) == [0, 1, 2, 3, 4]


def test_a_circle_may_be_numbered_anticlockwise():
    circle, _ = read_circle("4 60 45 anticlockwise")
    assert (circle.clockwise, circle.start_deg) == (False, 45)
    assert read_circle("4 60 at 10 0")[0].clockwise
