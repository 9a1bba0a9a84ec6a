"""The put-back board of Write: proposals beside the sheet, taken all or one by one."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Draft
from shopguide.job.reassembly import merge, propose_putback
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace
from shopguide.window.write_putback_board import PAD

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


def click(board, x: float, y: float) -> None:
    QTest.mouseClick(
        board, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, QPoint(int(x), int(y))
    )
    board.grab()


def test_the_mouse_chooses_and_ticks(qtbot, place):
    open_board(qtbot, place)
    board = place.putting_back.board
    board.grab()
    top, bottom, index = board._places[2]
    click(board, board.width() * 0.3, (top + bottom) / 2)
    assert board.at == index == 2 and len(board.taken) == len(board.proposals)
    top, _, index = board._places[-1]
    click(board, (PAD + 30) * board._factor, top + 22 * board._factor)
    assert board.at == index and board.proposals[index].key not in board.taken
    # A new step at the right leads to what proposes it.
    top, bottom, index = next(row for row in board._rows if row[2] != board.at)
    click(board, board.width() * 0.8, (top + bottom) / 2)
    assert board.at == index


def test_the_wheel_and_the_page_keys_go_through_the_proposals(qtbot, place):
    open_board(qtbot, place)
    board = place.putting_back.board
    press(Qt.Key.Key_End)
    assert board.at == len(board.proposals) - 1
    press(Qt.Key.Key_PageUp)
    assert 0 < board.at < len(board.proposals) - 1
    press(Qt.Key.Key_Home)
    assert board.at == 0
    middle = QPointF(board.width() / 4, board.height() / 2)
    turn = QWheelEvent(
        middle, board.mapToGlobal(middle), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(board, turn)
    assert board.at == 1


def test_every_proposal_is_shown_whole_with_its_questions(qtbot, place):
    open_board(qtbot, place)
    board = place.putting_back.board
    for index in range(len(board.proposals)):
        board.choose(index)
        board.grab()
        shown = {at: (top, bottom) for top, bottom, at in board._places}
        assert index in shown
        assert all(76 * board._factor <= a < b <= board.height() for a, b in shown.values())
        # The row of the chosen one is among those of the sheet beside.
        assert index in {row[2] for row in board._rows}


def test_what_is_left_out_is_not_in_the_sheet_beside(qtbot, place):
    open_board(qtbot, place)
    board = place.putting_back.board
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Space)
    board.grab()
    rows, focus = board._list_rows()
    assert 1 not in {row[2] for row in rows} and rows[focus][2] == 0
    numbers = [int(told) for told, _, _ in rows if told.strip()]
    assert numbers == list(range(1, len(board.merged.steps) + 1))


def test_a_very_long_sheet_is_put_back_off_the_windows_thread(qtbot, place, monkeypatch):
    monkeypatch.setattr("shopguide.window.write_putting_back.MOST_AT_ONCE", 3)
    before = place.writing.draft.sheet
    merging = []

    def merge_and_note(*given):
        merging.append(threading.current_thread())
        return merge(*given)

    monkeypatch.setattr("shopguide.window.write_putting_back.merge", merge_and_note)
    open_board(qtbot, place)
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: place.writing.draft.sheet is not before, timeout=PATIENCE_MS)
    assert propose_putback(place.writing.draft.sheet) == ()
    assert len(merging) == 2 and threading.main_thread() not in merging
