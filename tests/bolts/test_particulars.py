"""What is said of a joint and its fasteners: written as text, read back to the very same."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.bolts.draft import add_points, change, open_draft
from shopguide.bolts.particulars import (
    change_fasteners,
    change_joint,
    tell_fastener,
    tell_joint,
)
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble

KEYS = ("title", "name", "seen", "fastener_word", "thread", "length", "head", "drive", "grade",
        "condition", "shape", "outline", "order_by", "order_source", "first", "last")  # fmt: skip
MM = st.floats(-100_000, 100_000)


@pytest.fixture
def draft():
    return open_draft(
        Pattern(
            name="pan",
            title="Pan",
            thread="M6",
            order=(1, 2, 3),
            order_by="user",
            order_source="own",
            first=("dowel",),
            outline=((0, 0), (1.25, 0), (0, 1e-7)),
            fasteners=[
                {"number": 1, "x_mm": 0.1 + 0.2, "y_mm": -1e-7, "group": "dowel"},
                {"number": 2, "x_mm": 50, "y_mm": 0, "group": "long, oiled"},
                {"number": 3, "x_mm": 50, "y_mm": 40},
            ],
        )
    )


@pytest.mark.parametrize("key", KEYS)
def test_what_is_told_is_read_back_the_same(draft, key):
    assert change_joint(draft, key, tell_joint(draft, key)) == draft


@pytest.mark.parametrize("key", ["number", "place", "thread", "note", "use", "group"])
def test_what_is_told_of_a_fastener_is_read_back_the_same(draft, key):
    for index, one in enumerate(draft.fasteners):
        assert change_fasteners(draft, [index], key, tell_fastener(one, key)) == draft


@given(MM, MM)
def test_any_place_is_read_back_to_the_last_digit(x, y):
    draft = add_points(open_draft(None), [(x, y)], exactly=True)
    text = tell_fastener(draft.fasteners[0], "place")
    again = change_fasteners(add_points(open_draft(None), [(0, 0)]), [0], "place", text)
    assert again.points == [(x, y)]


@given(st.lists(st.tuples(MM, MM), min_size=3, max_size=6))
def test_any_outline_is_read_back_to_the_last_digit(corners):
    draft = replace(open_draft(None), outline=tuple(corners))
    assert change_joint(open_draft(None), "outline", tell_joint(draft, "outline")) == draft


@pytest.mark.parametrize(
    "shape",
    [
        {"circle": {"count": 6, "diameter_mm": 90.5, "start_deg": 22.5, "clockwise": False}},
        {"circle": {"count": 8, "diameter_mm": 120}},
        {"rectangle": {"width_mm": 660, "height_mm": 600, "along": 4, "up": 2}},
        {"grid": {"columns": 3, "rows": 2, "across_mm": 40, "down_mm": 0.125}},
    ],
)
def test_a_shape_is_read_back_the_same(shape):
    wanted = open_draft(Pattern(name="a", title="A", **shape))
    empty = replace(wanted, fasteners=(), shape=None)
    assert change_joint(empty, "shape", tell_joint(wanted, "shape")) == wanted
    other = change_joint(wanted, "shape", "circle 3 10")
    assert len(other.fasteners) == 3, "a shape takes the place of another one"


def test_free_points_are_not_typed_over(draft):
    assert tell_joint(draft, "shape") == "3 free points"
    with pytest.raises(Trouble, match="free points"):
        change_joint(draft, "shape", "circle 3 10")


def test_a_shape_with_a_word_of_its_own_is_free_points():
    draft = open_draft(Pattern(name="a", title="A", circle={"count": 6, "diameter_mm": 90}))
    assert tell_joint(change(draft, [0], "note", "x"), "shape") == "6 free points"


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("title", "", "cannot be left empty"),
        ("name", "  ", "cannot be left empty"),
        ("head", "round", "is no head"),
        ("order_by", "x", "is no giver"),
        ("first", "boss", "belongs to the group “boss”"),
        ("last", "dowel", "both first and last"),
        ("thread", "M" * 300, "thread"),
        ("shape", "star 5", "free points"),
        ("outline", "0 0; 1", "no y"),
        ("outline", "0 0; 1 1", "2 corners"),
        ("outline", "0 0; 1 x; 2 2", "x"),
    ],
)
def test_what_cannot_be_is_told(draft, key, text, said):
    with pytest.raises(Trouble, match=said):
        change_joint(draft, key, text)


def test_nothing_typed_is_nothing_said(draft):
    assert change_joint(draft, "thread", "").details["thread"] is None
    assert change_joint(draft, "seen", "").details["seen"] == "orientation not given"
    assert change_joint(draft, "fastener_word", "").word == "screw"
    assert change_joint(draft, "first", "").details["first"] == ()
    assert change_joint(draft, "outline", "").outline == ()
    assert change_joint(draft, "order_by", "").order_by == "manual"


def test_groups_are_parted_by_semicolons_or_commas(draft):
    draft = change_joint(draft, "first", "")
    both = ("long, oiled", "dowel")
    assert change_joint(draft, "last", "long, oiled; dowel").details["last"] == both
    draft = change(draft, [2], "group", "boss")
    assert change_joint(draft, "last", "dowel, boss").details["last"] == ("dowel", "boss")
