"""A mark's place in numbers: written, read, asked for on the marks board."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtTest import QTest

from shopguide.errors import Trouble
from shopguide.job.model import Arrow, Freehand, Number, Photo, Ring, Text
from shopguide.window.app import make_app
from shopguide.window.mark_numbers import ask_for_numbers, read_numbers, write_numbers
from shopguide.window.marks_board import MarksBoard
from shopguide.window.palette import LOOKS

MARKS = (
    (Arrow(start=(1, 2), to=(3.5, -4)), "1, 2 to 3.5, -4"),
    (Ring(at=(233, 707), radius=112.25), "233, 707 radius 112.25"),
    (Number(at=(10, 20), number=7), "10, 20"),
    (Text(at=(10.1, 20), text="here"), "10.1, 20"),
    (Freehand(points=((1, 2), (3, 4), (5, 6))), "1, 2; 3, 4; 5, 6"),
)


@pytest.mark.parametrize(("mark", "text"), MARKS)
def test_the_numbers_of_a_mark_are_written_and_read(mark, text):
    assert write_numbers(mark) == text
    assert read_numbers(mark, text) == mark
    other = read_numbers(mark, text.replace("2", "8"))
    assert other != mark and type(other) is type(mark)
    assert ask_for_numbers(mark)


@pytest.mark.parametrize(
    ("mark", "text"),
    [
        (MARKS[0][0], "1, 2, 3"),
        (MARKS[1][0], "1, 2"),
        (MARKS[1][0], "1, 2, 0"),
        (MARKS[2][0], "1"),
        (MARKS[3][0], "1, 2, 3"),
        (MARKS[4][0], "1, 2"),
        (MARKS[4][0], "1, 2, 3, 4, 5"),
        (MARKS[2][0], "1, 200000"),
    ],
)
def test_numbers_that_cannot_be_are_told(mark, text):
    with pytest.raises(Trouble) as told:
        read_numbers(mark, text)
    assert told.value.next


@pytest.fixture
def board(qtbot):
    make_app()
    board = MarksBoard(LOOKS["light"])
    qtbot.addWidget(board)
    board.resize(1366, 560)
    image = QImage(400, 300, QImage.Format.Format_RGB32)
    image.fill(QColor("#777777"))
    marks = (Ring(at=(300, 300), radius=50), Number(at=(800, 600), number=3))
    board.show_photo(Photo(file="a.jpg", marks=marks), image, QSize(1600, 1200))
    board.show()
    board.setFocus()
    yield board
    board.table.put_away()


def ask(board: MarksBoard, text: str) -> None:
    QTest.keyClick(board, Qt.Key.Key_P)
    board.entry.selectAll()
    QTest.keyClicks(board.entry, text)
    QTest.keyClick(board.entry, Qt.Key.Key_Return)


def test_p_asks_the_place_of_the_chosen_mark_and_it_is_taken_back(board):
    QTest.keyClick(board, Qt.Key.Key_P)
    assert board.entry.isHidden() and "No mark is chosen" in board.told
    QTest.keyClick(board, Qt.Key.Key_Tab)
    ask(board, "233, 707 radius 112")
    assert board.marks[0] == Ring(at=(233, 707), radius=112)
    ask(board, "1")
    assert board.marks[0].radius == 112 and "three" in board.told
    QTest.keyClick(board, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert board.marks[0] == Ring(at=(300, 300), radius=50)


def test_a_number_just_set_is_written_anew_while_its_tool_is_in_hand(board):
    QTest.keyClick(board, Qt.Key.Key_N)
    QTest.mouseClick(
        board.table, Qt.MouseButton.LeftButton, pos=board.table.to_screen((400, 900)).toPoint()
    )
    QTest.keyClick(board, Qt.Key.Key_E)
    board.entry.selectAll()
    QTest.keyClicks(board.entry, "12")
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    assert [m.number for m in board.marks if isinstance(m, Number)] == [3, 12]
    assert not any(isinstance(m, Text) for m in board.marks)
    ask(board, "401, 902")
    assert board.marks[-1] == Number(at=(401, 902), number=12)
