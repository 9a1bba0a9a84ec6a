"""Marking a photo: by mouse and by keys, moved, taken back, kept in the picture's own pixels."""

from __future__ import annotations

import math

import pytest
from PySide6.QtCore import QPoint, QSize, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest

from shopguide.job.model import Arrow, Freehand, Number, Photo, Ring, Text
from shopguide.window.app import make_app
from shopguide.window.marks_board import MarksBoard, tell_mark
from shopguide.window.palette import LOOKS

FULL = QSize(1600, 1200)
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def board(qtbot):
    make_app()
    board = MarksBoard(LOOKS["light"])
    qtbot.addWidget(board)
    board.resize(1366, 560)
    image = QImage(800, 600, QImage.Format.Format_RGB32)
    image.fill(QColor("#777777"))
    board.show_photo(Photo(file="a.jpg", caption="A cover"), image, FULL)
    board.show()
    board.setFocus()
    qtbot.waitUntil(lambda: not board.table.busy)
    yield board
    board.table.put_away()


def spot(board: MarksBoard, x: float, y: float) -> QPoint:
    return board.table.to_screen((x, y)).toPoint()


def drag(board: MarksBoard, *points: tuple[float, float]) -> None:
    places = [spot(board, *p) for p in points]
    QTest.mousePress(board.table, LEFT, pos=places[0])
    for place in places[1:]:
        QTest.mouseMove(board.table, place)
    QTest.mouseRelease(board.table, LEFT, pos=places[-1])


def click(board: MarksBoard, x: float, y: float) -> None:
    QTest.mouseClick(board.table, LEFT, pos=spot(board, x, y))


def key(board: MarksBoard, *keys: Qt.Key, shift: bool = False, control: bool = False) -> None:
    more = Qt.KeyboardModifier.NoModifier
    if shift:
        more |= Qt.KeyboardModifier.ShiftModifier
    if control:
        more |= Qt.KeyboardModifier.ControlModifier
    for one in keys:
        QTest.keyClick(board, one, more)


def near(one, other) -> bool:
    """Within what one pixel of the screen is in the picture."""
    return math.dist(one, other) < 5


def test_each_tool_draws_in_the_pictures_own_pixels(board):
    key(board, Qt.Key.Key_A)
    drag(board, (200, 200), (400, 300), (600, 400))
    key(board, Qt.Key.Key_R)
    drag(board, (800, 600), (900, 600))
    key(board, Qt.Key.Key_N)
    click(board, 300, 900)
    click(board, 500, 900)
    key(board, Qt.Key.Key_T)
    click(board, 1200, 300)
    QTest.keyClicks(board.entry, "this one")
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    key(board, Qt.Key.Key_F)
    drag(board, (1000, 1000), (1100, 1050), (1200, 1000))
    arrow, ring, one, two, text, line = board.marks
    assert isinstance(arrow, Arrow) and near(arrow.start, (200, 200)) and near(arrow.to, (600, 400))
    assert isinstance(ring, Ring) and near(ring.at, (800, 600)) and abs(ring.radius - 100) < 5
    assert isinstance(one, Number) and near(one.at, (300, 900))
    assert (one.number, two.number) == (1, 2)
    assert isinstance(text, Text) and text.text == "this one" and near(text.at, (1200, 300))
    assert isinstance(line, Freehand) and near(line.points[1], (1100, 1050))


def test_everything_by_keys_and_kept(qtbot, board):
    key(board, Qt.Key.Key_A, Qt.Key.Key_Space)
    key(board, *[Qt.Key.Key_Right] * 5, shift=True)
    assert board.table.drawn is not None, "it is seen before it is set"
    key(board, Qt.Key.Key_Space, Qt.Key.Key_R, Qt.Key.Key_Space)
    key(board, *[Qt.Key.Key_Down] * 3, shift=True)
    key(board, Qt.Key.Key_Space, Qt.Key.Key_F, Qt.Key.Key_Space)
    key(board, Qt.Key.Key_Left, Qt.Key.Key_Left, shift=True)
    key(board, Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_N, Qt.Key.Key_Space)
    key(board, Qt.Key.Key_T, Qt.Key.Key_Space)
    QTest.keyClicks(board.entry, "tight")
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    key(board, Qt.Key.Key_Escape)
    assert [m.kind for m in board.marks] == ["arrow", "ring", "freehand", "number", "text"]
    assert board.does == "Space keeps the marks"
    with qtbot.waitSignal(board.kept) as kept:
        key(board, Qt.Key.Key_Space)
    assert kept.args[0] == Photo(file="a.jpg", caption="A cover", marks=board.marks)
    assert Photo.model_validate_json(kept.args[0].model_dump_json()) == kept.args[0]
    assert board.isHidden()


def test_a_mark_is_moved_by_dragging_and_an_arrow_by_its_end(board):
    key(board, Qt.Key.Key_A)
    drag(board, (200, 200), (600, 200))
    key(board, Qt.Key.Key_Escape)
    drag(board, (400, 200), (420, 260), (440, 320))
    assert near(board.marks[0].start, (240, 320)) and near(board.marks[0].to, (640, 320))
    drag(board, (640, 320), (800, 500))
    assert near(board.marks[0].to, (800, 500)) and near(board.marks[0].start, (240, 320))
    assert len(board._done) == 3, "one drag is taken back at once"


def test_undo_and_redo_say_what(board):
    key(board, Qt.Key.Key_N)
    click(board, 300, 300)
    click(board, 600, 300)
    both = board.marks
    key(board, Qt.Key.Key_Z, control=True)
    assert "Taken back: number 2" in board.message.text()
    assert board.marks == both[:1]
    key(board, Qt.Key.Key_Z, control=True)
    assert board.marks == ()
    key(board, Qt.Key.Key_Z, control=True)
    assert "nothing to take back" in board.message.text()
    key(board, Qt.Key.Key_Z, control=True, shift=True)
    key(board, Qt.Key.Key_Y)
    assert board.marks == both


def test_the_chosen_one_is_nudged_grown_changed_and_removed(board):
    key(board, Qt.Key.Key_R)
    drag(board, (800, 600), (900, 600))
    key(board, Qt.Key.Key_N)
    click(board, 300, 300)
    key(board, Qt.Key.Key_Escape, Qt.Key.Key_Tab)
    assert board.table.chosen == 0, "the next after the last"
    before = board.marks[0]
    key(board, Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Plus)
    assert board.marks[0].at[0] > before.at[0]
    assert board.marks[0].radius == pytest.approx(1.1 * before.radius)
    key(board, Qt.Key.Key_Tab, Qt.Key.Key_E)
    board.entry.setText("12")
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    assert board.marks[1].number == 12
    key(board, Qt.Key.Key_E)
    board.entry.setText("twelve")
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    assert "whole number" in board.message.text() and board.marks[1].number == 12
    key(board, Qt.Key.Key_Delete)
    assert len(board.marks) == 1
    key(board, Qt.Key.Key_Delete)
    assert "No mark is chosen" in board.message.text()


def test_leaving_asks_once_when_something_would_be_lost(qtbot, board):
    key(board, Qt.Key.Key_N, Qt.Key.Key_Space, Qt.Key.Key_Escape, Qt.Key.Key_Escape)
    assert board.table.chosen is None
    with qtbot.assertNotEmitted(board.closed):
        key(board, Qt.Key.Key_Escape)
    assert "Escape again" in board.message.text()
    with qtbot.assertNotEmitted(board.kept), qtbot.waitSignal(board.closed):
        key(board, Qt.Key.Key_Escape)


def test_too_small_a_mark_is_told_and_not_made(board):
    key(board, Qt.Key.Key_A)
    drag(board, (200, 200), (220, 200))
    assert board.marks == ()
    key(board, Qt.Key.Key_Space, Qt.Key.Key_Space)
    assert board.marks == () and "too small" in board.message.text()


def test_a_mark_is_painted_where_it_was_clicked(board):
    key(board, Qt.Key.Key_F)
    drag(board, (600, 400), (700, 400), (900, 400))
    key(board, Qt.Key.Key_Escape, Qt.Key.Key_Escape)
    image = board.table.grab().toImage()
    assert image.pixelColor(spot(board, 800, 400)).name() == "#17191b"
    assert image.pixelColor(spot(board, 800, 600)).name() == "#777777"


def test_the_words_can_be_clicked_and_say_their_key(board):
    QTest.mouseClick(board.words.words["R"], LEFT)
    assert board.tool == "R"
    assert board.words.words["R"].in_use
    assert board.words.words["R"].accessibleName() == "ring, key R"


def test_marks_in_words():
    assert tell_mark(Text(at=(0, 0), text="a" * 60)) == "“" + "a" * 23 + "…”"
    assert tell_mark(Freehand(points=((0, 0), (1, 1)))) == "a line by hand"
