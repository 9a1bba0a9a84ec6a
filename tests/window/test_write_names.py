"""Names in Write: what refers to a name follows it, and its uses are gone through with one key."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Draft, look_up
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_names import NameBook, count_fasteners
from shopguide.window.write_place import WritePlace

CONTROL = Qt.KeyboardModifier.ControlModifier
PLAIN = Qt.KeyboardModifier.NoModifier
PATIENCE_MS = 30_000


def make_steps() -> list[dict[str, Any]]:
    tasks: list[dict[str, Any]] = [
        {"kind": "open", "text": "Remove the lid.", "how": "remove", "item": "lid"},
        {"kind": "open", "text": "Remove the tray.", "how": "remove", "item": "tray"},
        {
            "kind": "leave", "text": "Leave it.", "how": "left loose", "fastener": "strap bolt",
            "reason": "The pipe seats first.",
        },
        {"kind": "close", "text": "Refit the lid.", "how": "refit", "item": "lid"},
        {"kind": "open", "text": "Remove the lid again.", "how": "remove", "item": "lid"},
        {"kind": "close", "text": "Refit the lid again.", "how": "refit", "item": "lid"},
        {"kind": "close", "text": "Refit the tray.", "how": "refit", "item": "tray"},
        {"kind": "torque", "text": "Tighten.", "fastener": "strap bolt", "spec": "strap"},
        {"kind": "torque", "text": "Tighten.", "fastener": "nut", "passes": [
            {"kind": "torque", "spec": "strap"}]},
    ]  # fmt: skip
    return [{"title": f"Step {n}", "tasks": [task]} for n, task in enumerate(tasks, 1)]


@pytest.fixture
def place(qtbot, frame) -> Iterator[WritePlace]:
    """Write with a sheet of nine steps that name the same things."""
    data = {
        "format": "shopguide-job/1",
        "title": "T",
        "author": "Ada Hill",
        "date": "2026-03-24",
        "specs": [
            {"name": "strap", "kind": "torque", "value": "9 N·m"},
            {"name": "sump", "kind": "volume", "value": "4 L"},
        ],
        "fluids": [{"name": "oil", "spec": "sump"}],
        "stages": [{"title": "All", "steps": make_steps()}],
    }
    frame.write.take_up(
        WriteDesk(Draft.open(json.dumps(data).encode()), None, None, parent=frame.write)
    )
    frame.go("write")
    yield frame.write


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN, times: int = 1) -> None:
    for _ in range(times):
        QTest.keyClick(QApplication.focusWidget(), key, held)
        for _ in range(3):
            QApplication.processEvents()


def field(step: int, key: str) -> tuple[Any, ...]:
    return ("stages", 0, "steps", step - 1, "tasks", 0, key)


def write_in(place: WritePlace, step: int, key: str, *texts: str) -> None:
    """Writes texts into a field, one over another, each with a pause in which it is kept."""
    path = field(step, key)
    place.choose(path)
    assert place.card.go_to(path)
    for text in texts:
        press(Qt.Key.Key_A, CONTROL)
        QTest.keyClicks(QApplication.focusWidget(), text)
        place.card.keep()


def items(place: WritePlace, key: str = "item") -> list[str]:
    tasks = [step["tasks"][0] for step in place.writing.data["stages"][0]["steps"]]
    return [task.get(key, "") for task in tasks]


def write_cell(place: WritePlace, section: str, row: int, key: str, text: str) -> None:
    place.choose((section,))
    place.table.go_to(row, key)
    QTest.keyClicks(place.table, text[0])
    QTest.keyClicks(QApplication.focusWidget(), text[1:])
    press(Qt.Key.Key_Return)


def test_who_closes_an_item_follows_its_new_name_in_one_edit(place):
    before = place.writing.data
    write_in(place, 2, "item", "drip tray")
    assert items(place) == ["lid", "drip tray", "", "lid", "lid", "lid", "drip tray", "", ""]
    assert "renaming of open item 'tray' to 'drip tray' in 2 places" in place.bar.after
    place.undo()
    assert place.writing.data == before


def test_an_item_opened_twice_is_renamed_up_to_its_next_opening(place):
    write_in(place, 1, "item", "cover")
    assert items(place) == ["cover", "tray", "", "cover", "lid", "lid", "tray", "", ""]
    write_in(place, 5, "item", "cap")
    assert items(place)[4:6] == ["cap", "cap"]


def test_who_closes_can_be_led_to_another_item_alone(place):
    write_in(place, 4, "item", "tray")
    assert items(place) == ["lid", "tray", "", "tray", "lid", "lid", "tray", "", ""]


def test_a_name_that_is_anothers_for_a_moment_merges_nothing(place):
    # "tray" is what somebody has written for a while who goes on to write "tray holder".
    write_in(place, 1, "item", "tray")
    assert items(place)[:4] == ["tray", "tray", "", "lid"]
    write_in(place, 1, "item", "tray holder")
    assert items(place)[:4] == ["tray holder", "tray", "", "tray holder"]
    assert items(place)[6] == "tray"


def test_a_name_that_is_wiped_out_comes_back_everywhere(place):
    path = field(1, "item")
    place.choose(path)
    place.card.go_to(path)
    press(Qt.Key.Key_A, CONTROL)
    press(Qt.Key.Key_Delete)
    place.card.keep()
    assert items(place)[:4] == ["", "tray", "", "lid"]
    QTest.keyClicks(QApplication.focusWidget(), "hood")
    place.card.keep()
    assert items(place)[:4] == ["hood", "tray", "", "hood"]


def test_a_doubled_opening_that_gets_a_name_of_its_own_takes_nothing_along(place):
    place.choose(field(1, "item")[:4])
    place.steps.duplicate()
    assert items(place)[:2] == ["lid", "lid"]
    write_in(place, 2, "item", "second lid")
    assert items(place)[:5] == ["lid", "second lid", "tray", "", "lid"]


def test_a_fastener_left_loose_is_renamed_with_the_task_that_finishes_it(place):
    write_in(place, 3, "fastener", "pipe strap bolt")
    assert items(place, "fastener")[2] == items(place, "fastener")[7] == "pipe strap bolt"


def test_a_spec_is_renamed_in_tasks_passes_and_fluids(place):
    write_cell(place, "specs", 0, "name", "strap bolt")
    tasks = place.writing.draft.sheet.tasks
    assert tasks["8.1"].spec == "strap bolt" and tasks["9.1"].passes[0].spec == "strap bolt"
    assert "in 3 places" in place.bar.after
    write_cell(place, "specs", 1, "name", "sump filling")
    assert place.writing.draft.sheet.fluids[0].spec == "sump filling"


def test_a_spec_that_gets_anothers_name_is_told_and_merged_with_nothing(place):
    write_cell(place, "specs", 1, "name", "strap")
    data = place.writing.data
    assert [one["name"] for one in data["specs"]] == ["strap", "strap"]
    assert '2 specs are called "strap" now' in place.notice.what
    # What named the other one still does, and is found broken instead of led elsewhere.
    assert data["fluids"][0]["spec"] == "sump"
    write_cell(place, "specs", 1, "name", "sump")
    assert place.writing.draft.troubles == ()


def test_a_spec_in_use_that_is_taken_out_is_told_and_its_uses_stay(qtbot, place):
    before = place.writing.data
    place.choose(("specs",))
    place.table.go_to(0)
    press(Qt.Key.Key_Delete, CONTROL)
    assert '"strap" is gone and still named in steps 8, 9' in place.notice.what
    assert look_up(place.writing.data, field(8, "spec")) == "strap"
    qtbot.waitUntil(lambda: place.writing.reviewed_data is place.writing.data, timeout=PATIENCE_MS)
    assert any('No spec is called "strap"' in one.sentence for one in place.writing.remarks)
    place.undo()
    assert place.writing.data is before
    assert place.notice.isHidden()


def test_the_uses_of_a_spec_are_gone_through_with_one_key(place):
    place.choose(("specs",))
    place.table.go_to(0, "value")
    press(Qt.Key.Key_U, CONTROL)
    assert place.path == field(8, "spec")[:4]
    assert place.card.find_line_in_use().path == field(8, "spec")
    press(Qt.Key.Key_U, CONTROL)
    assert place.path == field(9, "spec")[:4]
    place.choose(("specs",))
    place.table.go_to(1)
    press(Qt.Key.Key_U, CONTROL)
    assert place.path == ("fluids",) and place.table.cell == (0, 2)
    # From the last use back to where it is given.
    press(Qt.Key.Key_U, CONTROL)
    assert place.path == ("specs",) and place.table.cell == (1, 0)


def test_enter_goes_to_the_first_use_from_the_column_that_lists_them(place):
    place.choose(("specs",))
    place.table.go_to(0)
    column = next(i for i, c in enumerate(place.table.rows.columns) if c.word == "where used")
    press(Qt.Key.Key_Right, times=column)
    assert place.bar.does == "Enter goes to where it is used"
    press(Qt.Key.Key_Return)
    assert place.card.find_line_in_use().path == field(8, "spec")


def test_from_an_open_item_the_key_goes_to_who_closes_it(place):
    path = field(2, "item")
    place.choose(path)
    place.card.go_to(path)
    press(Qt.Key.Key_U, CONTROL)
    assert place.card.find_line_in_use().path == field(7, "item")
    press(Qt.Key.Key_U, CONTROL)
    assert place.card.find_line_in_use().path == path


def test_a_name_without_uses_says_so(place):
    write_cell(place, "fluids", 0, "spec", "strap")
    place.choose(("specs",))
    place.table.go_to(1)
    press(Qt.Key.Key_U, CONTROL)
    assert "named nowhere else" in place.notice.what and place.path == ("specs",)


@pytest.mark.parametrize(("count", "said"), [(1, "1 pass"), (2, "2 passes")])
def test_one_pass_is_one(count, said):
    task = FixedDict(kind="torque", passes=FixedList([FixedDict(kind="torque")] * count))
    assert NameBook().sum_up(task) == f"tighten · {said}"


@pytest.mark.parametrize(("count", "said"), [(1, "1 fastener"), (16, "16 fasteners")])
def test_one_fastener_is_one(count, said):
    assert count_fasteners(count) == said
