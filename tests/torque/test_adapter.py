"""An adapter on the wrench: what it does to the setting, and what cannot be reckoned with."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import Trouble
from shopguide.torque import units
from shopguide.torque.adapter import (
    BAR,
    CROW_FOOT,
    LEVER,
    explain,
    find_lever_share,
    find_setting,
    find_share,
    read_adapter,
    read_angle,
    read_kind,
)

lengths = st.floats(1, 1000)
LEVER_300 = units.read_any("300 mm")


@given(st.floats(0.1, 500), lengths, lengths, st.floats(0, 180))
def test_setting_and_lever_share_give_the_torque_back(torque, lever, length, angle) -> None:
    try:
        setting = find_setting(torque, lever, length, angle)
    except Trouble:
        assert lever + length * math.cos(math.radians(angle)) <= lever * 1.001e-3
        return
    assert setting * find_lever_share(lever, length, angle) == pytest.approx(torque)
    # The force of the hand times its distance from the screw, by coordinates.
    hand = setting / lever
    screw_x = length * math.cos(math.radians(angle))
    assert hand * (lever + screw_x) == pytest.approx(torque, rel=1e-6)


@given(lengths, st.floats(1, 0.9e3), st.floats(0, 179), st.floats(0.5, 90))
def test_the_further_it_is_folded_back_the_more_is_set(lever, length, angle, more) -> None:
    wider = min(180.0, angle + more)
    if lever + length * math.cos(math.radians(wider)) <= lever * 1e-2:
        return
    assert find_setting(10, lever, length, angle) < find_setting(10, lever, length, wider)


def test_below_and_beyond_90_degrees() -> None:
    assert find_setting(9, 300, 30, 0) == pytest.approx(9 * 300 / 330)
    assert find_setting(9, 300, 30, 90) == 9
    assert find_setting(9, 300, 30, 180) == pytest.approx(9 * 300 / 270)
    assert "set less" in explain(read_adapter({"length": "30 mm", "angle": "45"}))
    assert "changes nothing" in explain(read_adapter({"length": "30 mm", "angle": "90°"}))
    assert "set more" in explain(read_adapter({"length": "30 mm", "angle": "91°"}))
    assert explain(None) == ""


@pytest.mark.parametrize(("length", "angle"), [(300, 180), (400, 180), (500, 140), (300.1, 179.99)])
def test_no_lever_left_is_refused(length: float, angle: float) -> None:
    with pytest.raises(Trouble, match="as far as the grip") as caught:
        find_setting(9, 300, length, angle)
    assert "longer wrench" in caught.value.next


@pytest.mark.parametrize(
    "figures",
    [
        (0, 30, 0),
        (-300, 30, 0),
        (300, -1, 0),
        (math.nan, 30, 0),
        (300, math.inf, 0),
        (300, 30, math.nan),
    ],
)
def test_figures_that_are_no_lengths_are_refused(figures) -> None:
    with pytest.raises(Trouble, match="cannot be reckoned with"):
        find_lever_share(*figures)


def test_without_lever_length_it_says_what_to_measure() -> None:
    adapter = read_adapter({"length": "40 mm", "angle": "45°", "kind": "crow-foot"})
    with pytest.raises(Trouble, match="lever length of the small one is not known") as caught:
        find_share(adapter, None, "small one")
    assert "middle of the drive to the middle of the grip" in caught.value.next


def test_an_extension_along_the_drive_changes_nothing_and_says_so() -> None:
    bar = read_adapter({"kind": "extension bar", "length": "75 mm", "angle": "45°"})
    assert bar.kind == BAR and not bar.counts
    assert find_share(bar, None) == 1
    assert "changes nothing" in explain(bar)
    assert bar.tell() == "75 mm extension bar"
    assert read_adapter({"kind": "extension bar"}).tell() == "extension bar"


def test_nothing_laid_out_is_no_adapter() -> None:
    assert read_adapter({}) is read_adapter(None) is None
    assert read_adapter({"length": "", "angle": " ", "kind": ""}) is None
    assert find_share(None, None) == 1


def test_what_is_kept_can_be_read_again() -> None:
    for data in (
        {"length": "30 mm", "angle": "0°", "kind": "crow-foot"},
        {"length": "1 1/2 in", "angle": "135°", "kind": "lever extension"},
        {"kind": "extension bar"},
    ):
        adapter = read_adapter(data)
        assert adapter.as_data() == data
        assert read_adapter(adapter.as_data()) == adapter
    assert read_adapter({"length": "30 mm"}).tell() == "30 mm crow-foot at 0°"


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"length": "40"}, "no unit"),
        ({"length": "40 N·m"}, "not a length"),
        ({"length": "0 mm"}, "no length is none"),
        ({"angle": "45°"}, "length of the crow-foot is missing"),
        ({"length": "40 mm", "angle": "straight"}, "cannot be read as an angle"),
        ({"length": "40 mm", "angle": "-45"}, "below zero"),
        ({"length": "40 mm", "angle": "225°"}, "Write 135°"),
        ({"length": "40 mm", "angle": "400°"}, "from 0° to 180°"),
        ({"length": "40 mm", "kind": "extension"}, "two ways"),
        ({"length": "40 mm", "kind": "hammer"}, "no kind of adapter"),
    ],
)
def test_what_cannot_be_read_is_a_sentence(data, says: str) -> None:
    with pytest.raises(Trouble, match=says):
        read_adapter(data)


def test_names_and_angles_as_people_write_them() -> None:
    assert read_kind("Crowfoot") == read_kind("") == CROW_FOOT
    assert read_kind("lever") == LEVER
    assert read_kind("socket extension") == BAR
    assert read_angle("45").text == "45°"
    assert read_angle("1/4 turn").base == 90
    assert find_share(read_adapter({"length": "40 mm", "angle": "1/4 turn"}), LEVER_300) == 1
