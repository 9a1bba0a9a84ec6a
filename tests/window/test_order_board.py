"""The order board in Lay out: by keys, by typing, by dragging; frozen once a screw is marked."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from shopguide.bolts.order import Order, find_order
from shopguide.bolts.pattern import Pattern
from shopguide.window.app import make_app
from shopguide.window.order_board import OrderBoard
from shopguide.window.palette import LOOKS


@pytest.fixture
def board(qtbot) -> OrderBoard:
    make_app()
    board = OrderBoard(LOOKS["light"])
    qtbot.addWidget(board)
    board.resize(1366, 560)
    pattern = Pattern(name="c", title="Cover", circle={"count": 8, "diameter_mm": 100})
    board.show_order(pattern, find_order(pattern), frozen=False)
    board.show()
    return board


def keep(qtbot, board: OrderBoard) -> Order:
    with qtbot.waitSignal(board.kept) as kept:
        QTest.keyClick(board, Qt.Key.Key_Space)
    assert board.isHidden()
    return kept.args[1]


def test_nothing_changed_keeps_nothing(qtbot, board):
    assert board.does == "Space closes this"
    with qtbot.assertNotEmitted(board.kept), qtbot.waitSignal(board.closed):
        QTest.keyClick(board, Qt.Key.Key_Space)


def test_moving_the_chosen_screw_makes_it_the_users_order(qtbot, board):
    before = board.order.numbers
    QTest.keyClick(board, Qt.Key.Key_Right)
    QTest.keyClick(board, Qt.Key.Key_PageDown)
    assert board.does == "Space keeps this order"
    assert "differs from the computed order in 2 of 8 places" in board.differs.text()
    order = keep(qtbot, board)
    assert order.by == "user"
    assert order.numbers == (before[0], before[2], before[1], *before[3:])


def test_beginning_elsewhere_mirroring_and_back(qtbot, board):
    row = board.order.numbers
    QTest.keyClick(board, Qt.Key.Key_Right)
    QTest.keyClick(board, Qt.Key.Key_B)
    assert board.order.numbers[0] == row[1]
    QTest.keyClick(board, Qt.Key.Key_M)
    assert sorted(board.order.numbers) == sorted(row)
    QTest.keyClick(board, Qt.Key.Key_G)
    assert board.order == Order(row, "computed")


def test_a_typed_list_is_the_manuals_and_is_checked_as_it_is_typed(qtbot, board):
    QTest.keyClick(board, Qt.Key.Key_T)
    board.entry.clear()
    QTest.keyClicks(board.entry, "1 2 3 4 5 6 7")
    assert "Missing: 8." in board.fault.text()
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    assert not board.entry.isHidden(), "not taken"
    QTest.keyClicks(board.entry, " 8")
    QTest.keyClick(board.entry, Qt.Key.Key_Return)
    order = keep(qtbot, board)
    assert order == Order((1, 2, 3, 4, 5, 6, 7, 8), "manual")


def test_dragging_a_screw_onto_another_takes_its_place(qtbot, board):
    row = board.order.numbers
    hits = {n: QPoint(round(x), round(y + 40)) for n, x, y, _ in board.diagram.drawing().hits}
    QTest.mousePress(board.diagram, Qt.MouseButton.LeftButton, pos=hits[row[5]])
    QTest.mouseMove(board.diagram, hits[row[1]])
    QTest.mouseRelease(board.diagram, Qt.MouseButton.LeftButton, pos=hits[row[1]])
    assert board.order.numbers[1] == row[5]
    assert sorted(board.order.numbers) == sorted(row)


def test_escape_leaves_it_as_it_was(qtbot, board):
    QTest.keyClick(board, Qt.Key.Key_M)
    with qtbot.assertNotEmitted(board.kept), qtbot.waitSignal(board.closed):
        QTest.keyClick(board, Qt.Key.Key_Escape)


def test_a_frozen_order_can_only_be_looked_at(qtbot, board):
    board.show_order(board.pattern, board.order, frozen=True)
    before = board.order
    for key in (Qt.Key.Key_M, Qt.Key.Key_B, Qt.Key.Key_PageDown, Qt.Key.Key_T, Qt.Key.Key_C):
        QTest.keyClick(board, key)
    assert board.order == before
    assert "the order stays" in board.does


def test_playing_shows_the_order_step_by_step(qtbot, board):
    board._clock.setInterval(1)
    QTest.keyClick(board, Qt.Key.Key_A)
    assert board._clock.isActive()
    qtbot.waitUntil(lambda: not board._clock.isActive(), timeout=5000)
