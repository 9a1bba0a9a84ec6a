"""What Space records, in words and as the event."""

from __future__ import annotations

import copy

import pytest

from shopguide.errors import Trouble, UnitTrouble
from shopguide.work.ledger import list_departures, list_items, list_missing, still_open
from shopguide.work.next_up import (
    mark_data,
    next_up,
    out_of_turn,
    read_value,
    say_back,
    seconds_left,
    unread_cautions,
    value_data,
)


def press(clerk, text: str = "") -> str:
    """Does what the bar says; returns the bar's words."""
    due = next_up(clerk.progress)
    if due.act == "value":
        clerk.add("done", value_data(due.task, read_value(clerk.progress, due.task, text)))
    elif due.act == "photo":
        clerk.add("done", {"task": due.task, "value": "a.jpg"})
    else:
        clerk.add(due.kind, dict(due.data))
    return due.bar


def go_to_cover(clerk) -> None:
    for text in ("", "", "4.1 L", "", "", "", ""):
        press(clerk, text)


def test_the_bar_says_each_thing_in_order(clerk):
    said = [press(clerk, text) for text in ("", "", "4.1 L", "", "", "", "")]
    assert said == [
        "Space records: done, chock the wheels",
        "Space records: plug disconnected",
        "Space opens the entry: how much gear oil came out",
        "Space starts the clock: 10 min",
        "Space records: the time has passed",
        "Space records: tube screw left loose",
        "Space records: I have read the WARNING above",
    ]
    assert next_up(clerk.progress).bar == "Space records: screw 1 of 4, pass 1 of 3, 9 N·m"


def test_every_pass_meets_every_screw_and_back_off_goes_the_other_way(clerk):
    go_to_cover(clerk)
    met = []
    while next_up(clerk.progress).trip is not None:
        due = next_up(clerk.progress)
        if clerk.sheet.tasks[due.task].pattern is None:
            break
        met.append((due.trip.pass_number, due.fastener, due.data["target"]))
        press(clerk)
    order = list(clerk.progress.orders["cover"].numbers)
    assert order == [1, 3, 2, 4]
    assert met == (
        [(1, n, "9 N·m") for n in order]
        + [(2, n, "loose") for n in reversed(order)]
        + [(3, n, "9 N·m") for n in order]
    )


def test_a_single_fastener_is_called_by_its_name(clerk):
    go_to_cover(clerk)
    for _ in range(12):
        press(clerk)
    assert next_up(clerk.progress).bar == "Space records: tube screw, 25 N·m"


def test_the_end_is_said(clerk):
    go_to_cover(clerk)
    for text in [""] * 13 + ["", "4.1 L", "42 °C", ""]:
        press(clerk, text)
    assert next_up(clerk.progress).act == "end"
    assert not list_missing(clerk.progress)
    assert not still_open(clerk.progress)


def test_backspace_names_what_it_takes_back(clerk):
    assert say_back(clerk.progress) == ""
    go_to_cover(clerk)
    press(clerk)
    assert say_back(clerk.progress) == "Backspace takes back screw 1, pass 1"
    clerk.add("withdrawn", {"seq": clerk.progress.last_taken().seq})
    assert next_up(clerk.progress).fastener == 1
    assert say_back(clerk.progress) == "Backspace takes back the reading of a caution"


def test_out_of_turn_is_a_question_and_then_a_departure(clerk):
    go_to_cover(clerk)
    due = next_up(clerk.progress)
    assert out_of_turn(clerk.progress, due.task, due.fastener) == ""
    question = out_of_turn(clerk.progress, due.task, 2)
    assert question.startswith("The order asks for screw 1 now.")
    clerk.add("mark", mark_data(clerk.progress, due.task, 2, departure="reach"))
    assert next_up(clerk.progress).fastener == 1
    departure = list_departures(clerk.progress)[0]
    assert departure.reason == "reach" and "screw 2 out of turn" in departure.what


def test_a_screw_is_not_marked_twice_in_one_pass(clerk):
    go_to_cover(clerk)
    task = next_up(clerk.progress).task
    press(clerk)
    with pytest.raises(Trouble, match="already has pass 1"):
        mark_data(clerk.progress, task, 1)
    with pytest.raises(Trouble, match="not tightened in this task"):
        mark_data(clerk.progress, task, 77)


def test_values_are_held_against_their_limits(clerk):
    press(clerk)
    press(clerk)
    due = next_up(clerk.progress)
    reading = read_value(clerk.progress, due.task, "4 qt + 250 mL")
    assert reading.text == "4 US qt + 250 mL" and reading.converted == "4.04 L"
    assert reading.outside == ""
    assert "above the upper limit" in read_value(clerk.progress, due.task, "4.6 L").outside
    assert "below the lower limit" in read_value(clerk.progress, due.task, "3 L").outside
    with pytest.raises(UnitTrouble):
        read_value(clerk.progress, due.task, "4")


def test_a_refill_is_held_against_what_came_out(clerk):
    go_to_cover(clerk)
    for _ in range(14):
        press(clerk)
    due = next_up(clerk.progress)
    assert due.asks == "how much gear oil went in"
    assert read_value(clerk.progress, due.task, "4.1 L").outside == ""
    assert "4.1 L came out, 3 L went in" in read_value(clerk.progress, due.task, "3 L").outside


def test_the_clock_counts_from_the_event(clerk):
    for text in ("", "", "4 L"):
        press(clerk, text)
    due = next_up(clerk.progress)
    assert seconds_left(clerk.progress, due.task) is None
    event = clerk.add("timer", dict(due.data))
    assert seconds_left(clerk.progress, due.task, event.when) == 600
    from datetime import timedelta

    assert seconds_left(clerk.progress, due.task, event.when + timedelta(seconds=590.4)) == 10
    assert seconds_left(clerk.progress, due.task, event.when + timedelta(hours=1)) == 0


def test_open_items_open_and_close(clerk):
    go_to_cover(clerk)
    assert [(i.item, i.how) for i in still_open(clerk.progress)] == [
        ("plug", "disconnected"),
        ("oil", "drained"),
        ("tube screw", "left loose"),
    ]
    for text in [""] * 14 + ["4.1 L"]:
        press(clerk, text)
    assert still_open(clerk.progress) == ()
    assert {i.state for i in list_items(clerk.progress)} == {"closed"}


def test_an_item_can_be_accounted_for(clerk):
    press(clerk)
    press(clerk)
    clerk.add("accounted", {"item": "plug", "reason": "replaced later"})
    assert still_open(clerk.progress) == ()
    assert list_items(clerk.progress)[0].state == "accounted for"


def test_skipping_needs_its_reason_in_the_list(clerk):
    due = next_up(clerk.progress)
    clerk.add("skipped", {"task": due.task, "reason": "on a pit"})
    assert next_up(clerk.progress).task == "1.2"
    assert list_departures(clerk.progress)[0].reason == "on a pit"


def test_cautions_marked_so_wait_to_be_read(clerk):
    assert [key for key, _ in unread_cautions(clerk.progress)] == ["job.1"]
    clerk.add("acknowledged", {"caution": "job.1", "place": "lay out"})
    assert unread_cautions(clerk.progress) == ()


def test_a_check_ends_after_a_trip_in_which_nothing_turned(clerk_for, small_sheet):
    data = copy.deepcopy(small_sheet)
    data["stages"][1]["steps"][0]["tasks"][0]["passes"] = [{"kind": "torque"}, {"kind": "check"}]
    clerk = clerk_for(data)
    go_to_cover(clerk)
    for _ in range(4):
        press(clerk)
    due = next_up(clerk.progress)
    assert "trip 1, did not turn" in due.bar
    clerk.add("mark", mark_data(clerk.progress, due.task, due.fastener, moved=True))
    for _ in range(3):
        press(clerk)
    due = next_up(clerk.progress)
    assert due.trip.trip == 2, "one screw turned, so there is another trip"
    for _ in range(4):
        press(clerk)
    assert due.task in clerk.progress.outcomes


def test_a_check_that_never_ends_asks(clerk_for, small_sheet):
    data = copy.deepcopy(small_sheet)
    data["stages"][1]["steps"][0]["tasks"][0]["passes"] = [{"kind": "torque"}, {"kind": "check"}]
    clerk = clerk_for(data)
    go_to_cover(clerk)
    for _ in range(4):
        press(clerk)
    for _ in range(4 * 12):
        due = next_up(clerk.progress)
        clerk.add("mark", mark_data(clerk.progress, due.task, due.fastener, moved=True))
    assert next_up(clerk.progress).act == "stuck"


def test_the_wrench_that_reaches_is_named(clerk):
    clerk.add(
        "laid out",
        {
            "field": "wrenches",
            "value": [
                {"name": "big", "low": "10 N·m", "high": "100 N·m"},
                {"name": "small", "low": "2 N·m", "high": "25 N·m"},
            ],
        },
    )
    go_to_cover(clerk)
    assert next_up(clerk.progress).data["wrench"] == "small"
    for _ in range(12):
        press(clerk)
    # 25 N·m lies at a quarter of the big one's scale and at the very end of the small one's.
    assert next_up(clerk.progress).data["wrench"] == "big"


def test_a_bar_takes_the_first_sentence_of_a_task(clerk_for, small_sheet):
    for text, said in (
        ("Chock the wheels. Pull the brake.", "done, chock the wheels"),
        ("1. Lift it. 2. Turn it.", "done, 1. Lift it"),
        ("USB off.", "done, USB off"),
    ):
        data = copy.deepcopy(small_sheet)
        data["stages"][0]["steps"][0]["tasks"][0]["text"] = text
        assert next_up(clerk_for(data).progress).bar == f"Space records: {said}"
