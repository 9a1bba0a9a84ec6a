"""Every kind of pass at work: waits between passes, angles, stages, and factory procedures."""

from __future__ import annotations

import copy

import pytest

from shopguide.errors import SheetTrouble, Trouble
from shopguide.work.figures import find_turn, tell_figure
from shopguide.work.ledger import list_departures, still_open
from shopguide.work.next_up import mark_data, next_up, seconds_left

SPECS = [
    {"name": "53", "kind": "torque", "value": "53 N·m"},
    {"name": "84", "kind": "torque", "value": "84 N·m"},
    {"name": "105", "kind": "torque", "value": "105 N·m"},
    {"name": "98.1", "kind": "torque", "value": "98.1 N·m"},
    {"name": "39.2", "kind": "torque", "value": "39.2 N·m"},
    {"name": "40", "kind": "torque", "value": "40 N·m", "low": "37 N·m", "high": "43 N·m"},
    {"name": "90", "kind": "angle", "value": "90°"},
    {"name": "85 to 95", "kind": "angle", "low": "85°", "high": "95°"},
]


@pytest.fixture
def clerk_with(clerk_for, small_sheet):
    """A clerk whose sheet is one torque task on the four-screw circle with these passes."""

    def make(passes, **more):
        data = copy.deepcopy(small_sheet)
        data["specs"] += SPECS
        task = {"kind": "torque", "text": "Tighten.", "pattern": "cover", "passes": passes, **more}
        step = {"title": "Head bolts", "tasks": [task]}
        data["stages"] = [{"title": "Put back", "steps": [step]}]
        data["fluids"] = []
        return clerk_for(data)

    return make


def work_through(clerk) -> list[tuple[int, str]]:
    """Presses Space to the end; returns (pass, target) of the first mark of each pass."""
    met: list[tuple[int, str]] = []
    for _ in range(500):
        due = next_up(clerk.progress)
        if due.act == "end":
            return met
        if due.act == "mark" and due.trip.marked == frozenset():
            met.append((due.trip.pass_number, due.data["target"]))
        clerk.add(due.kind, dict(due.data))
    raise AssertionError("the task does not end")


# Factory procedures of the tighten, loosen, tighten kind; figures from public workshop pages.
FACTORY = {
    # Suzuki Grand Vitara 2.7 V6 2007, cylinder head: 53, 84, loosen in reverse order, 53, 105 N·m.
    "Suzuki 2007": (
        [
            {"kind": "torque", "spec": "53"},
            {"kind": "torque", "spec": "84"},
            {"kind": "back off"},
            {"kind": "torque", "spec": "53"},
            {"kind": "torque", "spec": "105"},
        ],
        [(1, "53 N·m"), (2, "84 N·m"), (3, "loose"), (4, "53 N·m"), (5, "105 N·m")],
    ),
    # Infiniti FX35 VQ35DE 2008: 98.1, loosen in reverse order, 39.2 N·m, 90°, 90°.
    "Infiniti 2008": (
        [
            {"kind": "torque", "spec": "98.1"},
            {"kind": "back off"},
            {"kind": "torque", "spec": "39.2"},
            {"kind": "angle", "spec": "90"},
            {"kind": "angle", "spec": "90"},
        ],
        [(1, "98.1 N·m"), (2, "loose"), (3, "39.2 N·m"), (4, "90°"), (5, "90°")],
    ),
    # Lincoln 4.6 V8 2001: 37–43 N·m, 85–95°, loosen a full turn, again, and once more 85–95°.
    "Lincoln 2001": (
        [
            {"kind": "torque", "spec": "40"},
            {"kind": "angle", "spec": "85 to 95"},
            {"kind": "back off", "turn": "1 turn"},
            {"kind": "torque", "spec": "40"},
            {"kind": "angle", "spec": "85 to 95"},
            {"kind": "angle", "spec": "85 to 95", "yields": True},
        ],
        [
            (1, "40 N·m"),
            (2, "85° to 95°"),
            (3, "1 turn"),
            (4, "40 N·m"),
            (5, "85° to 95°"),
            (6, "85° to 95°"),
        ],
    ),
}


@pytest.mark.parametrize("name", FACTORY)
def test_factory_procedures_run_through(clerk_with, name):
    passes, wanted = FACTORY[name]
    clerk = clerk_with(passes)
    assert work_through(clerk) == wanted
    assert len(clerk.progress.marks["1.1"]) == 4 * len(passes)
    back_off = next(n for n, p in enumerate(passes, 1) if p["kind"] == "back off")
    order = clerk.progress.orders["cover"].numbers
    loosened = [m.fastener for m in clerk.progress.marks["1.1"] if m.pass_number == back_off]
    assert tuple(loosened) == tuple(reversed(order))


def test_stages_ask_for_shares_of_the_torque(clerk_with):
    clerk = clerk_with("30/70/100 and around", spec="cover torque")
    assert work_through(clerk) == [
        (1, "2.7 N·m"),
        (2, "6.3 N·m"),
        (3, "9 N·m"),
        (4, "9 N·m"),
    ]
    last = [m.fastener for m in clerk.progress.marks["1.1"] if m.pass_number == 4]
    assert last == [1, 2, 3, 4], "around, from the first of the order"


def test_a_pass_can_wait_and_the_wait_can_be_cut_short(clerk_with):
    clerk = clerk_with("30/70/100, check, and check after 4 h", spec="cover torque")
    for _ in range(16):
        due = next_up(clerk.progress)
        clerk.add(due.kind, dict(due.data))
    due = next_up(clerk.progress)
    assert due.act == "wait" and due.bar == "Space starts the clock: 4 h before pass 5"
    task = clerk.sheet.tasks["1.1"]
    assert tell_figure(clerk.progress, "1.1", task, due=True).figure == "4 h"
    with pytest.raises(Trouble, match="waiting time of 4 h"):
        mark_data(clerk.progress, "1.1", 1)
    event = clerk.add(due.kind, dict(due.data))
    due = next_up(clerk.progress)
    assert seconds_left(clerk.progress, due.timer, event.when) == 4 * 3600
    figure = tell_figure(clerk.progress, "1.1", task, due=True, now=event.when)
    assert (figure.figure, figure.under) == ("4:00:00", "left of 4 h")
    clerk.add(due.kind, {**due.data, "value": "1:00:00 of 4:00:00", "departure": "dark"})
    due = next_up(clerk.progress)
    assert due.act == "mark" and due.trip.pass_number == 5
    assert list_departures(clerk.progress)[0].reason == "dark"
    back = clerk.progress.last_taken()
    clerk.add("withdrawn", {"seq": back.seq})
    assert next_up(clerk.progress).act == "wait"


def test_a_wait_before_a_pass_is_a_time(clerk_with):
    with pytest.raises(SheetTrouble) as caught:
        clerk_with([{"kind": "torque"}, {"kind": "check", "after": "4 N·m"}], spec="cover torque")
    assert "4 N·m" in str(caught.value)


def test_loosening_opens_what_tightening_closes(clerk_for, small_sheet):
    data = copy.deepcopy(small_sheet)
    loosen = {
        "kind": "torque",
        "text": "Loosen.",
        "pattern": "cover",
        "passes": "loosen",
        "item": "cover screws",
    }
    tighten = {**loosen, "text": "Tighten.", "passes": "torque", "spec": "cover torque"}
    data["stages"] = [{"title": "All", "steps": [{"title": "Cover", "tasks": [loosen, tighten]}]}]
    data["fluids"] = []
    clerk = clerk_for(data)
    met = []
    for _ in range(4):
        due = next_up(clerk.progress)
        met.append(due.fastener)
        clerk.add(due.kind, dict(due.data))
    assert tuple(met) == tuple(reversed(clerk.progress.orders["cover"].numbers))
    assert [i.item for i in still_open(clerk.progress)] == ["cover screws"]
    for _ in range(4):
        due = next_up(clerk.progress)
        clerk.add(due.kind, dict(due.data))
    assert still_open(clerk.progress) == ()


def test_the_users_order_counts_until_the_first_mark(clerk_with):
    clerk = clerk_with("torque", spec="cover torque")
    own = {"field": "order:cover", "value": {"numbers": [2, 4, 1, 3], "by": "user"}}
    clerk.add("laid out", own)
    assert clerk.progress.orders["cover"].tell() == "the user's order"
    due = next_up(clerk.progress)
    assert due.fastener == 2
    clerk.add(due.kind, dict(due.data))
    late = {"field": "order:cover", "value": {"numbers": [1, 2, 3, 4], "by": "user"}}
    clerk.add("laid out", late)
    assert clerk.progress.orders["cover"].numbers == (2, 4, 1, 3), "frozen"
    assert clerk.folded().orders["cover"].numbers == (2, 4, 1, 3)


def test_an_order_of_other_fasteners_is_not_taken(clerk_with):
    clerk = clerk_with("torque", spec="cover torque")
    before = clerk.progress.orders["cover"]
    clerk.add("laid out", {"field": "order:cover", "value": {"numbers": [1, 2], "by": "user"}})
    clerk.add("laid out", {"field": "order:nothing", "value": {"numbers": [1], "by": "user"}})
    assert clerk.progress.orders["cover"] == before


def test_an_angle_pass_has_its_turn_for_the_picture(clerk_with):
    clerk = clerk_with([{"kind": "torque", "spec": "40"}, {"kind": "angle", "spec": "85 to 95"}])
    task = clerk.sheet.tasks["1.1"]
    assert find_turn(clerk.progress, "1.1", task) is None
    for _ in range(4):
        due = next_up(clerk.progress)
        clerk.add(due.kind, dict(due.data))
    turn = find_turn(clerk.progress, "1.1", task)
    assert (turn.degrees, turn.low, turn.high, turn.head) == (90.0, 85.0, 95.0, "hex")
