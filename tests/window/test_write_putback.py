"""The put-back board of Write: proposals beside the sheet, taken all or one by one."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Draft
from shopguide.job.reassembly import merge, propose_putback
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 30_000
TAKEN_APART = ("Make safe", "Take apart", "Clean and look")


@pytest.fixture
def place(qtbot, frame, sample) -> Iterator[WritePlace]:
    """Write with the sample sheet, of which everything after taking apart is gone."""
    data = json.loads((sample / "job.json").read_bytes())
    data["stages"] = [stage for stage in data["stages"] if stage["title"] in TAKEN_APART]
    assert len(data["stages"]) == 3
    data["follow_ups"] = []
    frame.write.take_up(
        WriteDesk(Draft.open(json.dumps(data).encode()), None, None, parent=frame.write)
    )
    frame.go("write")
    yield frame.write


def press(key: Qt.Key, held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
    QTest.keyClick(QApplication.focusWidget(), key, held)
    QApplication.processEvents()


def open_board(qtbot, place: WritePlace) -> None:
    place.outline.setFocus()
    press(Qt.Key.Key_B)
    qtbot.waitUntil(lambda: place.board is place.putting_back.board, timeout=PATIENCE_MS)


def test_all_is_taken_with_one_key_and_taken_back_with_one(qtbot, place):
    before = place.writing.draft.sheet
    proposals = propose_putback(before)
    open_board(qtbot, place)
    assert place.bar.does == f"Enter puts {len(proposals)} of {len(proposals)} into the sheet"
    press(Qt.Key.Key_Return)
    assert place.board is None
    assert place.writing.draft.sheet == merge(before, proposals)
    assert propose_putback(place.writing.draft.sheet) == ()
    assert place.outline.row.sort == "step" and place.outline.row.path[1] == 3
    press(Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert place.writing.draft.sheet == before


def test_one_is_left_out_and_proposed_again(qtbot, place):
    before = place.writing.draft.sheet
    proposals = propose_putback(before)
    open_board(qtbot, place)
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Space)
    assert place.bar.after == "Space takes this one"
    press(Qt.Key.Key_Return)
    assert place.writing.draft.sheet == merge(before, [proposals[0], *proposals[2:]])
    (again,) = propose_putback(place.writing.draft.sheet)
    assert again.needs == proposals[1].needs


def test_none_is_taken_where_all_are_left_out(qtbot, place):
    before = place.writing.data
    open_board(qtbot, place)
    press(Qt.Key.Key_A)
    press(Qt.Key.Key_Return)
    assert place.board is place.putting_back.board
    press(Qt.Key.Key_Escape)
    assert place.board is None and place.writing.data is before


def test_the_sheet_beside_shows_what_is_taken(qtbot, place):
    open_board(qtbot, place)
    board = place.putting_back.board
    all_steps = len(board.merged.steps)
    assert all_steps > len(place.writing.draft.sheet.steps)
    press(Qt.Key.Key_Space)
    assert len(board.merged.steps) == all_steps - 1


def test_a_sheet_that_puts_everything_back_says_so(qtbot, place):
    open_board(qtbot, place)
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_B)
    qtbot.waitUntil(lambda: "put back in this sheet" in place.notice.what, timeout=PATIENCE_MS)
    assert place.board is None


def test_what_cannot_be_read_is_put_right_first(qtbot, place):
    from shopguide.job.edits import SetValue

    place.apply(SetValue(("specs", 0, "value"), "nine or so"))
    place.outline.setFocus()
    press(Qt.Key.Key_B)
    assert "cannot be read" in place.notice.what and place.board is None
