"""What the record keeps of wrench, setting and adapter, and what the card says to set."""

from __future__ import annotations

from datetime import date

from shopguide.work.figures import tell_figure
from shopguide.work.next_up import mark_data, next_up, wrench_for
from shopguide.work.wrench_choice import (
    choose_for,
    find_adapter,
    find_day,
    tell_to_set,
    wrench_data,
)

SMALL = {"name": "small click wrench", "low": "2 N·m", "high": "25 N·m", "lever": "300 mm"}
HALF_INCH = {"name": "half-inch wrench", "low": "20 N·m", "high": "200 N·m"}
CROW_FOOT = {"length": "30 mm", "angle": "0°", "kind": "crow-foot"}
COVER = "2.1"


def lay_out(clerk, wrenches=(SMALL, HALF_INCH), adapter=None) -> None:
    clerk.add("laid out", {"field": "wrenches", "value": list(wrenches)})
    if adapter is not None:
        clerk.add("laid out", {"field": f"adapter:{COVER}", "value": adapter})


def to_set(clerk) -> str:
    task = clerk.sheet.tasks[COVER]
    return tell_figure(clerk.progress, COVER, task, due=True).to_set


def test_without_adapter_the_mark_keeps_the_wrench_alone(clerk) -> None:
    lay_out(clerk)
    data = mark_data(clerk.progress, COVER, 1)
    assert data["wrench"] == "small click wrench"
    assert "setting" not in data and "adapter" not in data
    assert to_set(clerk) == "Set 9 N·m on the small click wrench"


def test_with_an_adapter_the_mark_keeps_setting_and_adapter(clerk) -> None:
    lay_out(clerk, adapter=CROW_FOOT)
    data = mark_data(clerk.progress, COVER, 1)
    assert data["target"] == "9 N·m"
    assert data["setting"] == "8.2 N·m"
    assert data["adapter"] == "30 mm crow-foot at 0°"
    assert to_set(clerk) == "Set 8.2 N·m on the small click wrench with the 30 mm crow-foot"
    clerk.add("mark", data)
    assert clerk.folded().marks[COVER][0].event.data["setting"] == "8.2 N·m"


def test_the_adapter_is_that_of_its_task_alone_and_can_be_taken_away(clerk) -> None:
    lay_out(clerk, adapter=CROW_FOOT)
    assert find_adapter(clerk.progress, "3.1") is None
    assert wrench_data(clerk.progress, "3.1", "25 N·m").keys() == {"wrench"}
    clerk.add("laid out", {"field": f"adapter:{COVER}", "value": {}})
    assert find_adapter(clerk.progress, COVER) is None
    assert to_set(clerk) == "Set 9 N·m on the small click wrench"


def test_an_adapter_that_cannot_be_read_is_none(clerk) -> None:
    lay_out(clerk, adapter={"length": "long", "kind": "crow-foot"})
    assert find_adapter(clerk.progress, COVER) is None


def test_a_scale_in_another_unit_has_its_own_setting(clerk) -> None:
    inch = {"name": "inch wrench", "low": "30 lbf·in", "high": "200 lbf·in"}
    lay_out(clerk, [{**inch, "resolution": "1 lbf·in"}])
    assert mark_data(clerk.progress, COVER, 1)["setting"] == "80 lbf·in"
    assert to_set(clerk) == "Set 80 lbf·in on the inch wrench"


def test_without_lever_length_no_wrench_is_named_and_the_card_says_where_to_look(clerk) -> None:
    lay_out(clerk, [HALF_INCH, {**SMALL, "lever": ""}], CROW_FOOT)
    data = mark_data(clerk.progress, COVER, 1)
    assert data["adapter"] == "30 mm crow-foot at 0°"
    assert "wrench" not in data and "setting" not in data
    assert "lever length is needed" in to_set(clerk)


def test_none_reaches(clerk) -> None:
    lay_out(clerk, [HALF_INCH])
    assert wrench_for(clerk.progress, "9 N·m") == ""
    assert to_set(clerk) == "No wrench from Lay out reaches this torque"
    assert tell_to_set(clerk.progress, COVER, "by hand") == ""


def test_no_wrench_laid_out_is_no_choice(clerk) -> None:
    assert choose_for(clerk.progress, COVER, "9 N·m") is None
    assert wrench_data(clerk.progress, COVER, "9 N·m") == {}
    assert to_set(clerk) == ""


def test_calibration_is_held_against_the_day_of_the_record(clerk) -> None:
    assert find_day(clerk.progress) == date(2026, 3, 1)
    lay_out(clerk, [{**SMALL, "due": "2026-02-28"}])
    assert to_set(clerk) == "Set 9 N·m on the small click wrench, whose calibration is past due"
    lay_out(clerk, [{**SMALL, "due": "2026-03-01"}])
    assert to_set(clerk) == "Set 9 N·m on the small click wrench"


def test_old_records_without_the_new_facts_still_choose(clerk) -> None:
    lay_out(clerk, [{"name": "old", "low": "2 N·m", "high": "25 N·m"}])
    assert wrench_for(clerk.progress, "9 N·m", COVER) == "old"


def test_what_space_records_is_the_same(clerk) -> None:
    lay_out(clerk, adapter=CROW_FOOT)
    due = None
    while due is None or due.act != "mark":
        due = next_up(clerk.progress)
        match due.act:
            case "mark":
                break
            case "value":
                clerk.add("done", {"task": due.task, "value": "4 L"})
            case _:
                clerk.add(due.kind, dict(due.data), 700)
    assert due.task == COVER
    assert due.data["setting"] == "8.2 N·m" and due.bar.endswith("9 N·m")
