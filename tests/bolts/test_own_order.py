"""The user's own order: typed, turned, mirrored, moved; groups; and how it differs."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.bolts.order import (
    Order,
    compute_pattern_order,
    find_order,
    mirror_order,
    move_in_order,
    read_order,
    start_order,
)
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble


def circle(count: int, **more) -> Pattern:
    return Pattern(name="c", title="C", circle={"count": count, "diameter_mm": 100}, **more)


def test_a_typed_order_is_read_however_the_manual_prints_it():
    pattern = circle(4)
    for text in ("1 3 2 4", "1-3-2-4", "1, 3, 2, 4", " 1;3;2;4 ", "1–3–2–4"):
        assert read_order(text, pattern) == (1, 3, 2, 4)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1 3 2", "Missing: 4."),
        ("1 3 2 4 4", "Twice: 4."),
        ("1 3 2 9", "Unknown or not to be tightened: 9; missing: 4."),
        ("1 three 2 4", "“three” is not a number."),
        ("", "There is no number yet."),
    ],
)
def test_what_is_wrong_with_a_typed_order_is_named(text, said):
    with pytest.raises(Trouble) as caught:
        read_order(text, circle(4))
    assert caught.value.what == said


def test_starting_elsewhere_turns_a_star_row():
    pattern = circle(8)
    row = find_order(pattern).numbers
    assert start_order(pattern, row, 3) == tuple((n + 1) % 8 + 1 for n in row)


def test_mirroring_a_star_row_gives_the_row_of_the_mirrored_circle():
    pattern = circle(5)
    assert find_order(pattern).numbers == (1, 3, 5, 2, 4)
    assert mirror_order(pattern, (1, 3, 5, 2, 4)) == (1, 4, 2, 5, 3)


@given(st.integers(3, 40), st.data())
def test_turned_mirrored_and_moved_orders_are_permutations(count, data):
    pattern = circle(count)
    row = find_order(pattern).numbers
    first = data.draw(st.integers(1, count))
    number, place = data.draw(st.integers(1, count)), data.draw(st.integers(1, count))
    wanted = list(range(1, count + 1))
    turned = start_order(pattern, row, first)
    assert sorted(turned) == wanted and turned[0] == first
    mirrored = mirror_order(pattern, row)
    assert sorted(mirrored) == wanted and mirror_order(pattern, mirrored) == row
    moved = move_in_order(row, number, place)
    assert sorted(moved) == wanted and moved[place - 1] == number


def test_groups_come_first_and_last():
    places = [(40, 40), (-40, 40), (-40, -40), (40, -40), (60, 0), (-60, 0), (0, 10)]
    fasteners = [{"number": n, "x_mm": x, "y_mm": y} for n, (x, y) in enumerate(places, 1)]
    for n in (4, 5):
        fasteners[n]["group"] = "dowels"
    fasteners[6]["group"] = "boss"
    pattern = Pattern(name="p", title="P", fasteners=fasteners, first=("dowels",), last=("boss",))
    order = compute_pattern_order(pattern).numbers
    assert set(order[:2]) == {5, 6}
    assert order[-1] == 7
    assert sorted(order) == list(range(1, 8))


def test_an_unknown_group_is_told():
    with pytest.raises(ValueError, match="No fastener belongs to the group"):
        circle(4, first=("dowels",))


def test_how_an_order_differs_is_said():
    computed = Order((1, 3, 2, 4), "computed")
    assert Order((1, 3, 2, 4), "manual").tell_difference(computed) == (
        "It is the same as the computed order."
    )
    assert Order((1, 2, 3, 4), "manual").tell_difference(computed) == (
        "It differs from the computed order in 2 of 4 places, first in place 2; "
        "that one begins 1, 3, 2, 4."
    )
