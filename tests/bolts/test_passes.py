"""Passes: what each kind may say, the way it goes, and the strokes it leaves."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from shopguide.bolts.passes import (
    SCHEDULES,
    Pass,
    ends_loose,
    ends_tight,
    find_check_faults,
    strokes_left,
)


@pytest.mark.parametrize(
    ("one", "way"),
    [
        (Pass(kind="torque"), "order"),
        (Pass(kind="snug"), "order"),
        (Pass(kind="angle", spec="turn"), "order"),
        (Pass(kind="back off"), "reverse"),
        (Pass(kind="back off", way="order"), "order"),
        (Pass(kind="check"), "around"),
        (Pass(kind="torque", way="around"), "around"),
    ],
)
def test_each_pass_goes_its_usual_way_unless_told(one: Pass, way: str) -> None:
    assert one.travel == way


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (Pass(kind="torque"), "to torque"),
        (Pass(kind="torque", share=0.3), "to 30 % of torque"),
        (Pass(kind="torque", way="around"), "around, to torque"),
        (Pass(kind="snug"), "snug"),
        (Pass(kind="back off"), "back off"),
        (Pass(kind="back off", turn="half a turn"), "back off half a turn"),
        (Pass(kind="angle", spec="turn"), "to angle"),
        (Pass(kind="check"), "check until nothing turns"),
    ],
)
def test_a_pass_tells_itself(one: Pass, words: str) -> None:
    assert one.tell() == words


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"kind": "angle"}, "angle pass.*spec"),
        ({"kind": "torque", "turn": "one turn"}, "back off pass"),
        ({"kind": "check", "share": 0.5}, "share"),
        ({"kind": "torque", "share": 0.0}, "share"),
        ({"kind": "torque", "share": 1.2}, "share"),
        ({"kind": "hammer"}, "kind"),
    ],
)
def test_what_makes_no_pass_is_refused(fields, says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        Pass(**fields)


def test_the_two_trip_procedure_leaves_a_hollow_and_a_solid_stroke() -> None:
    passes = SCHEDULES["torque, back off, torque"]
    assert [one.kind for one in passes] == ["torque", "back off", "torque"]
    assert strokes_left(passes, 0) == []
    assert strokes_left(passes, 1) == [(0, True)]
    assert strokes_left(passes, 2) == [(0, False)]
    assert strokes_left(passes, 3) == [(0, False), (2, True)]


def test_a_back_off_hollows_every_stroke_before_it() -> None:
    passes = (
        Pass(kind="snug"),
        Pass(kind="torque"),
        Pass(kind="torque"),
        Pass(kind="back off"),
        Pass(kind="torque"),
        Pass(kind="angle", spec="turn"),
        Pass(kind="check"),
    )
    assert strokes_left(passes, 1) == []
    assert strokes_left(passes, 3) == [(1, True), (2, True)]
    assert strokes_left(passes, 4) == [(1, False), (2, False)]
    assert strokes_left(passes, 7) == [(1, False), (2, False), (4, True), (5, True)]


def test_ready_made_schedules_end_tight_but_for_those_that_loosen() -> None:
    loosening = {name for name, passes in SCHEDULES.items() if ends_loose(passes)}
    assert loosening == {"loosen", "loosen by half a turn, then all the way"}
    for name, passes in SCHEDULES.items():
        assert ends_tight(passes) is (name not in loosening)


def test_a_check_alone_neither_tightens_nor_loosens() -> None:
    assert not ends_loose((Pass(kind="check"),))


def test_a_screw_taken_into_yield_is_not_checked() -> None:
    stretched = Pass(kind="angle", spec="turn", yields=True)
    assert find_check_faults((Pass(kind="torque"), Pass(kind="check"))) == ""
    assert "into yield" in find_check_faults((Pass(kind="torque"), stretched, Pass(kind="check")))
    new_screws = (stretched, Pass(kind="back off"), Pass(kind="torque"), Pass(kind="check"))
    assert find_check_faults(new_screws) == ""


def test_only_an_angle_yields() -> None:
    with pytest.raises(ValidationError, match="Only an angle pass"):
        Pass(kind="torque", yields=True)


def test_ready_made_schedules_say_what_their_names_say() -> None:
    assert [p.share for p in SCHEDULES["30/70/100 and around"]] == [0.3, 0.7, 1.0, 1.0]
    assert SCHEDULES["30/70/100 and around"][-1].travel == "around"
    assert [p.kind for p in SCHEDULES["torque twice"]] == ["torque", "torque"]


def test_a_schedule_that_ends_loose_is_told() -> None:
    assert not ends_tight((Pass(kind="torque"), Pass(kind="back off")))
    assert not ends_tight((Pass(kind="torque"), Pass(kind="back off"), Pass(kind="check")))
    assert not ends_tight((Pass(kind="check"),))
