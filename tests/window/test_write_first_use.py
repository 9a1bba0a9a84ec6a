"""What tripped somebody who wrote a first sheet by keys alone, from what the screen says."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from shopguide.job.edits import Draft, SetValue
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_findings import _shorten

PATIENCE_MS = 30_000
PLAIN = Qt.KeyboardModifier.NoModifier


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
    QTest.keyClick(QApplication.focusWidget(), key, held)
    QApplication.processEvents()


def settle(qtbot, place) -> None:
    desk = place.writing
    qtbot.waitUntil(lambda: not desk.busy and desk.reviewed_data is desk.data, timeout=PATIENCE_MS)


@pytest.fixture
def begin(qtbot, frame):
    """Takes up a sheet with the steps that are given, and waits for the review."""

    def take(*steps: dict, **more):
        data = {
            "format": "shopguide-job/1", "title": "Pump cover", "author": "Ada Hill",
            "date": "2026-03-24", "stages": [{"title": "Work", "steps": list(steps)}], **more,
        }  # fmt: skip
        place = frame.write
        place.take_up(WriteDesk(Draft.open(json.dumps(data).encode()), None, None, parent=place))
        frame.go("write")
        settle(qtbot, place)
        return place

    return take


OPENED = {
    "title": "Take the cover off",
    # The keys are in a sequence that the program itself does not write.
    "tasks": [{"item": "cover", "how": "remove", "text": "Remove the cover.", "kind": "open"}],
}


def test_a_step_is_named_once_though_its_title_has_commas():
    where = "step 4, 'Put back the gasket, the cover and the screws', torque 3"
    assert _shorten(where, True) == "torque 3"
    assert _shorten(where, False) == "step 4, torque 3"
    assert _shorten("step 4, 'Cover'", True) == ""
    assert _shorten("spec 'cover, screws'", True) == "spec 'cover, screws'"


def test_the_keys_come_back_to_the_field_after_a_board(begin):
    place = begin(OPENED)
    place.choose(("stages", 0, "steps", 0))
    place.outline.setFocus()
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_Tab)
    field = QApplication.focusWidget()
    assert field.accessibleName() == "Task 1"
    press(Qt.Key.Key_F1)
    assert place.board is not None
    press(Qt.Key.Key_Escape)
    assert QApplication.focusWidget() is field
    place.outline.setFocus()
    press(Qt.Key.Key_F1)
    press(Qt.Key.Key_Space)
    assert QApplication.focusWidget() is place.outline


def test_the_first_step_put_in_is_chosen_though_others_were_tidied(qtbot, begin):
    place = begin(OPENED)
    place.outline.setFocus()
    press(Qt.Key.Key_B)
    qtbot.waitUntil(lambda: place.board is place.putting_back.board, timeout=PATIENCE_MS)
    press(Qt.Key.Key_Return)
    assert place.outline.row.path == ("stages", 1, "steps", 0)


def test_what_is_proposed_is_done_once_while_something_cannot_be_read(qtbot, begin):
    place = begin(OPENED)
    place.apply(SetValue(("date",), "soon"))
    settle(qtbot, place)
    remark = next(r for r in place.writing.remarks if r.fix is not None)
    place.review.fix(remark)
    settle(qtbot, place)
    once = place.writing.data
    assert len(once["stages"][0]["steps"][0]["tasks"]) == 2
    assert remark in place.writing.remarks
    place.review.fix(remark)
    assert place.writing.data is once
    assert "This is done" in place.notice.accessibleName()
    # Undone, it can be done again.
    press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    settle(qtbot, place)
    place.review.fix(remark)
    assert place.writing.data == once


def paste(text: str) -> None:
    QApplication.clipboard().setText(text)
    press(Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)


ROW = "Snug\ttorque\t3 N·m\t\t\t\tmanual\tpage 12"
SPEC = {"name": "screws", "kind": "torque", "value": "9 N·m", "source": {"kind": "manual"}}


def test_rows_pasted_at_the_right_end_of_the_row_for_a_new_one_are_rows(begin):
    place = begin(OPENED, specs=[SPEC])
    place.choose(("specs",))
    place.table.go_to(1, "as_printed")
    place.table.setCurrentIndex(place.table.rows.index(1, len(place.table.rows.columns) - 1))
    paste(f"{ROW}\n{ROW.replace('Snug', 'Last')}")
    assert [one["name"] for one in place.writing.data["specs"]] == ["screws", "Snug", "Last"]
    assert place.writing.data["specs"][2]["value"] == "3 N·m"


def test_cells_beyond_the_last_column_are_told(begin):
    place = begin(OPENED, specs=[SPEC])
    place.choose(("specs",))
    place.table.go_to(0, "value")
    place.table.setCurrentIndex(place.table.rows.index(0, len(place.table.rows.columns) - 1))
    paste("80 lbf·in\tone\t\ttwo")
    assert "2 cells stood beyond the last column" in place.notice.accessibleName()
    press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert place.writing.data["specs"][0] == SPEC


def test_all_that_is_said_under_a_table_has_room(qtbot, begin):
    place = begin(OPENED, specs=[{**SPEC, "source": {"kind": "not known"}}])
    place.choose(("specs",))
    place.table.go_to(0, "low")
    settle(qtbot, place)
    place.lists.show_foot()
    foot = place.lists.foot
    assert foot.text().count("\n") >= 3
    assert foot.height() >= foot.heightForWidth(foot.width())


def test_what_was_told_of_one_sheet_is_not_told_of_the_next(begin):
    place = begin(OPENED)
    place.notice.tell("This is a copy of the sample.")
    assert place.notice.isVisible()
    place = begin(OPENED, title="Another cover")
    assert not place.notice.isVisible()


def test_a_row_whose_name_is_out_of_sight_is_named_below(begin):
    place = begin(OPENED, specs=[SPEC])
    place.choose(("specs",))
    place.table.go_to(0, "value")
    assert not place.lists.foot.text().startswith("screws: ")
    place.table.setFixedWidth(400)
    place.table.setCurrentIndex(place.table.rows.index(0, len(place.table.rows.columns) - 1))
    place.lists.show_foot()
    assert "screws: 9" in place.lists.foot.text()


def test_a_job_card_of_a_sheet_with_a_long_title_is_called_one(begin):
    place = begin(OPENED, title="A very long title of a cover " * 5)
    asked = []
    place.sharing.choose_card = lambda name: asked.append(name) or ""
    place.sharing._write_card(place.writing)
    assert asked[0].endswith(", job card.pdf")


def test_the_bar_tells_that_space_takes_the_next_of_few_words(begin):
    place = begin(OPENED, specs=[SPEC])
    place.choose(("specs",))
    place.table.setFocus()
    place.table.go_to(0, "value")
    assert place.bar.does == "Write, or Enter to change this cell"
    before = place.writing.data["specs"][0]["source"]["kind"]
    column = next(i for i, c in enumerate(place.table.rows.columns) if c.word == "source")
    place.table.setCurrentIndex(place.table.rows.index(0, column))
    assert place.bar.does == "Space takes the next word, or write"
    press(Qt.Key.Key_Space)
    assert place.writing.data["specs"][0]["source"]["kind"] != before


def test_what_is_missing_is_called_as_its_field_is(begin):
    place = begin({"title": "Cover", "tasks": [{"kind": "open", "text": "Take it off."}]})
    assert "Open item is missing. Write it." in [r.sentence for r in place.writing.remarks]


def test_x_and_y_of_a_screw_are_seen_whole_and_so_is_its_head(begin):
    spots = [{"number": n, "x_mm": -100.302 - n, "y_mm": -71.903} for n in (1, 2)]
    pattern = {"name": "cover", "title": "Cover", "head": "socket", "fasteners": spots}
    place = begin(OPENED, patterns=[pattern])
    place.window().resize(1366, 768)
    place.choose(("patterns",))
    place.outline.setFocus()
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_Return)
    board = place.board
    QApplication.processEvents()
    press(Qt.Key.Key_Tab)
    entry = next(w for w in board.findChildren(QLineEdit) if w.accessibleName() == "x, y")
    assert "-71.903" in entry.text()
    assert entry.fontMetrics().horizontalAdvance(entry.text()) < entry.width() - 2
