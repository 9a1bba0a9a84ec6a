"""A pattern while it is drawn: each change a new draft, and in the end what the model takes."""

from __future__ import annotations

import pytest

from shopguide.bolts.draft import (
    add_points,
    add_shape,
    change,
    find_doubled,
    find_photo,
    lay_photo,
    make_pattern,
    next_number,
    open_draft,
    put_points,
    remove,
    renumber,
    set_mapping,
    set_order,
    set_outline,
    take_photo_away,
    take_table,
)
from shopguide.bolts.homography import invert, map_point
from shopguide.bolts.pattern import Circle, Grid, Pattern
from shopguide.errors import Trouble


@pytest.fixture
def four() -> Pattern:
    return Pattern(
        name="pan",
        title="Pan",
        thread="M6",
        order=(1, 3, 2, 4),
        last=("dowel",),
        fasteners=[
            {"number": 1, "x_mm": 0, "y_mm": 0, "note": "behind the hose"},
            {"number": 2, "x_mm": 50, "y_mm": 0},
            {"number": 3, "x_mm": 50, "y_mm": 40, "group": "dowel"},
            {"number": 4, "x_mm": 0, "y_mm": 40, "thread": "M8"},
        ],
        photo={"file": "pan.jpg", "to_mm": (0.1, 0, -50, 0, -0.1, 40, 0, 0, 1)},
    )


def test_a_pattern_comes_back_as_it_was(four):
    assert make_pattern(open_draft(four, "pan.jpg", 1000, 800)) == four


def test_a_circle_stays_a_circle_until_one_of_it_moves():
    circle = Pattern(name="c", title="C", circle={"count": 6, "diameter_mm": 90})
    draft = open_draft(circle)
    assert make_pattern(draft) == circle
    moved = make_pattern(put_points(draft, {0: (1, 46)}))
    assert moved.circle is None
    assert moved.fastener(1).y_mm == 46


def test_an_empty_draft_is_no_pattern_yet():
    with pytest.raises(Trouble, match="no screw yet"):
        make_pattern(open_draft(None))


def test_further_ones_take_the_lowest_free_numbers(four):
    draft = remove(open_draft(four), [1])
    assert next_number(draft) == 2
    assert [f.number for f in add_points(draft, [(9, 9), (8, 8)]).fasteners] == [1, 3, 4, 2, 5]


def test_too_many_are_told(four):
    with pytest.raises(Trouble, match="at most 500"):
        add_shape(open_draft(four), Grid(columns=25, rows=20, across_mm=5, down_mm=5), (0, 0))


def test_a_shape_elsewhere_is_free_points():
    draft = add_shape(open_draft(None), Circle(count=4, diameter_mm=20), (100, 50))
    assert make_pattern(draft).fastener(1).y_mm == 60
    assert make_pattern(draft).circle is None


def test_two_in_one_place_can_be_drawn_and_are_told(four):
    draft = put_points(open_draft(four), {0: (50, 0)})
    assert find_doubled(draft, (50, 0))
    with pytest.raises(Trouble, match="sit in the same place"):
        make_pattern(draft)


def test_what_goes_leaves_the_order_and_the_groups_too(four):
    draft = remove(open_draft(four), [2])
    assert draft.order == (1, 2, 4)
    pattern = make_pattern(draft)
    assert pattern.last == ()


def test_left_loose_has_no_place_in_the_order(four):
    assert change(open_draft(four), [1], "use", "leave").order == (1, 3, 4)


def test_a_new_one_is_missed_in_a_given_order(four):
    draft = add_points(open_draft(four), [(25, 60)])
    with pytest.raises(Trouble, match="missing: 5"):
        make_pattern(draft)
    assert make_pattern(set_order(draft, None)).order is None


def test_renumbering_keeps_order_and_everything_said_with_the_same_screw(four):
    pattern = make_pattern(renumber(open_draft(four), [3, 2, 1, 0]))
    assert pattern.fastener(1).thread == "M8"
    assert pattern.fastener(4).note == "behind the hose"
    assert pattern.order == (4, 2, 3, 1)


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("thread", " M8 ", "M8"),
        ("thread", "", None),
        ("head", "Sock", "socket"),
        ("use", "do", "do not touch"),
        ("use", "", "tighten"),
        ("note", "", ""),
        ("group", "boss", "boss"),
        ("length", "20 mm", "20 mm"),
        ("number", "12", 12),
    ],
)
def test_what_is_said_of_one(four, key, text, value):
    assert getattr(change(open_draft(four), [0], key, text).fasteners[0], key) == value


@pytest.mark.parametrize(
    ("key", "text"),
    [("head", "round"), ("head", "s"), ("use", "maybe"), ("number", "0"), ("number", "x"),
     ("thread", "M" * 300), ("group", "a" * 81), ("number", "")],
)  # fmt: skip
def test_what_cannot_be_said_is_told(four, key, text):
    with pytest.raises(Trouble):
        change(open_draft(four), [0], key, text)


def test_another_number_keeps_its_place_in_the_order(four):
    assert change(open_draft(four), [1], "number", "9").order == (1, 3, 9, 4)


def test_a_table_moves_those_it_names_and_adds_the_others(four):
    draft = take_table(open_draft(four), [(2, 55, 5), (7, 1, 2)])
    assert [(f.number, f.x_mm) for f in draft.fasteners] == [
        (1, 0), (2, 55), (3, 50), (4, 0), (7, 1),
    ]  # fmt: skip
    assert draft.fasteners[0].note == "behind the hose"


def test_another_scale_leaves_everything_where_it_is_on_the_photo(four):
    draft = set_outline(open_draft(four, "pan.jpg", 1000, 800), [(0, 0), (50, 0), (50, 40)])
    before = [map_point(invert(draft.to_mm), p) for p in (*draft.points, *draft.outline)]
    after = set_mapping(draft, (0.2, 0, -100, 0.01, -0.2, 80, 0, 0.0001, 1))
    there = [map_point(invert(after.to_mm), p) for p in (*after.points, *after.outline)]
    for one, other in zip(before, there, strict=True):
        assert one == pytest.approx(other, abs=0.02)
    assert after.fasteners[1].x_mm != draft.fasteners[1].x_mm


def test_a_photo_of_unknown_scale_is_said_to_be_so(four):
    assert not open_draft(four, "other.jpg", 4000, 3000).scaled
    assert open_draft(four, "pan.jpg", 1000, 800).scaled
    assert open_draft(four).scaled, "a blank board is in mm"
    draft = open_draft(None, "new.jpg", 4000, 3000)
    assert map_point(draft.to_mm, (2000, 1500)) == pytest.approx((0, 0))


def test_a_place_beyond_measure_is_told(four):
    draft = open_draft(four, "pan.jpg", 1000, 800)
    with pytest.raises(Trouble, match="beyond 100 m"):
        set_mapping(draft, (9e6, 0, 0, 0, 9e6, 0, 0, 0, 1))


def test_another_photo_leaves_every_place_in_mm(four):
    draft = open_draft(four, "pan.jpg", 1000, 800)
    laid = lay_photo(draft, "other.jpg", 2000, 1500)
    assert (laid.file, laid.scaled, laid.in_mm, laid.points) == (
        "other.jpg", False, True, draft.points,
    )  # fmt: skip
    assert lay_photo(laid, "third.jpg", 500, 500).in_mm, "going through photos forgets nothing"
    scaled = set_mapping(laid, (0.5, 0, 0, 0, -0.5, 0, 0, 0, 1))
    assert scaled.points == draft.points and scaled.scaled
    assert lay_photo(scaled, "pan.jpg", 1000, 800, draft.to_mm).to_mm == draft.to_mm


def test_a_photo_taken_away_leaves_a_blank_board(four):
    bare = take_photo_away(open_draft(four, "pan.jpg", 1000, 800))
    assert make_pattern(bare) == four.model_copy(update={"photo": None})


def test_a_photo_that_is_not_at_hand_stays_until_it_is_taken_away(four):
    draft = open_draft(four)
    assert find_photo(draft) == "pan.jpg"
    assert make_pattern(draft).photo == four.photo
    assert make_pattern(take_photo_away(draft)).photo is None


def test_what_is_clicked_on_a_photo_of_no_scale_stays_on_the_photo():
    draft = add_points(open_draft(None, "new.jpg", 1000, 800), [(10, 0)])
    assert set_mapping(draft, (0.8, 0, -400, 0, -0.8, 320, 0, 0, 1)).points == [(20, 0)]


def test_typed_places_are_not_rounded():
    draft = add_points(open_draft(None), [(0.00012, 12.34567)], exactly=True)
    assert draft.points == [(0.00012, 12.34567)]
    assert put_points(draft, {0: (0.00012, 12.34567)}).points == [(0, 12.346)]
