"""The evenness board, driven by keys and mouse as a person would, and read as painted."""

from __future__ import annotations

import threading
from pathlib import Path

import pypdf
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QImage, QMouseEvent, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.bolts.evenness import forecast_evenness
from shopguide.bolts.order import find_order
from shopguide.bolts.passes import SCHEDULES
from shopguide.bolts.pattern import Circle, Fastener, Pattern
from shopguide.window import evenness_board as board_module
from shopguide.window.background import Runner
from shopguide.window.evenness_board import EvennessBoard
from shopguide.window.lettering import LEAST_TEXT_PX, load_fonts
from shopguide.window.palette import LOOKS

PATIENCE_MS = 30_000
RING = Pattern(name="ring", title="Ring, 8 screws", circle=Circle(count=8, diameter_mm=160))
STAGED = SCHEDULES["30/70/100 and around"]


@pytest.fixture
def runner():
    one = Runner()
    yield one
    one.close()


@pytest.fixture
def board(qtbot, runner) -> EvennessBoard:
    """A board with the forecast of a ring, as long as a window of 1366×768 leaves it."""
    load_fonts()
    made = EvennessBoard(LOOKS["light"])
    qtbot.addWidget(made)
    made.resize(1366, 558)
    made.show()
    made.setFocus()
    made.show_pattern(RING, find_order(RING).numbers, STAGED, runner)
    qtbot.waitUntil(lambda: not made.busy, timeout=PATIENCE_MS)
    assert made.forecast is not None
    return made


def press(board: EvennessBoard, *keys: Qt.Key) -> None:
    for key in keys:
        QTest.keyClick(board, key)


def test_it_opens_at_the_end_and_says_what_space_does(board: EvennessBoard) -> None:
    assert board.forecast is not None
    assert board.moment == len(board.forecast.moments) - 1 == 32
    assert board.does == "Space plays it, step by step"
    assert "Escape closes" in board.keys
    assert board.forecast.tell_verdict() in board.accessibleDescription()


def test_arrows_go_step_by_step_and_stop_at_the_ends(board: EvennessBoard) -> None:
    press(board, Qt.Key.Key_Right)
    assert board.moment == 32
    press(board, Qt.Key.Key_Left, Qt.Key.Key_Left)
    assert board.moment == 30
    press(board, Qt.Key.Key_Home)
    assert board.moment == 0
    press(board, Qt.Key.Key_Left)
    assert board.moment == 0
    press(board, Qt.Key.Key_Right)
    assert board.moment == 1
    press(board, Qt.Key.Key_End)
    assert board.moment == 32


def test_page_keys_go_pass_by_pass(board: EvennessBoard) -> None:
    press(board, Qt.Key.Key_PageUp)
    assert board.moment == 24
    press(board, Qt.Key.Key_PageUp, Qt.Key.Key_PageUp, Qt.Key.Key_PageUp, Qt.Key.Key_PageUp)
    assert board.moment == 0
    press(board, Qt.Key.Key_PageDown)
    assert board.moment == 8


def test_the_mouse_scrubs(board: EvennessBoard, qtbot) -> None:
    left, right, y = board._rail()

    def at(share: float) -> QPoint:
        return QPointF(left + share * (right - left), y).toPoint()

    qtbot.mouseClick(board, Qt.MouseButton.LeftButton, pos=at(0.5))
    assert board.moment == 16
    qtbot.mousePress(board, Qt.MouseButton.LeftButton, pos=at(0.5))
    spot = QPointF(at(0.25))
    dragged = QMouseEvent(
        QEvent.Type.MouseMove,
        spot,
        board.mapToGlobal(spot),
        Qt.MouseButton.NoButton,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(board, dragged)
    assert board.moment == 8
    qtbot.mouseRelease(board, Qt.MouseButton.LeftButton, pos=at(0.25))
    qtbot.mouseClick(board, Qt.MouseButton.LeftButton, pos=at(0.0))
    assert board.moment == 0
    # Above the line nothing is scrubbed.
    qtbot.mouseClick(board, Qt.MouseButton.LeftButton, pos=at(1.0) - QPoint(0, 120))
    assert board.moment == 0


def test_space_plays_from_the_start_to_the_end(board: EvennessBoard, qtbot, monkeypatch) -> None:
    monkeypatch.setattr(board_module, "PLAYS_MS", 300)
    press(board, Qt.Key.Key_Space)
    assert board.moment == 0
    assert board.does == "Space stops"
    assert board._clock.interval() >= 1000 / 30
    seen = {board.moment}

    def over() -> bool:
        seen.add(board.moment)
        return not board._clock.isActive()

    qtbot.waitUntil(over, timeout=PATIENCE_MS)
    assert board.moment == 32
    assert len(seen) > 2
    assert board.does == "Space plays it, step by step"


def test_space_stops_where_it_is_and_an_arrow_too(board: EvennessBoard) -> None:
    press(board, Qt.Key.Key_Home, Qt.Key.Key_Space)
    assert board._clock.isActive()
    press(board, Qt.Key.Key_Space)
    assert not board._clock.isActive()
    press(board, Qt.Key.Key_Space, Qt.Key.Key_Right)
    assert not board._clock.isActive()
    assert board.does == "Space plays it, step by step"


def test_closing_stops_the_clock(board: EvennessBoard) -> None:
    press(board, Qt.Key.Key_Space, Qt.Key.Key_Escape)
    assert not board.isVisible()
    assert not board._clock.isActive()


def test_another_gasket_gives_another_forecast(board: EvennessBoard, qtbot) -> None:
    before = board.forecast
    press(board, Qt.Key.Key_G)
    qtbot.waitUntil(lambda: not board.busy, timeout=PATIENCE_MS)
    assert board.forecast is not None and before is not None
    assert board.forecast.joint != before.joint
    assert board.forecast.moments[-1].loads != before.moments[-1].loads


def test_no_rim_is_told_in_place_of_the_bars(board: EvennessBoard, qtbot, runner) -> None:
    rail = Pattern(
        name="rail",
        title="Rail",
        fasteners=tuple(Fastener(number=k + 1, x_mm=40.0 * k, y_mm=0) for k in range(4)),
    )
    board.show_pattern(rail, (1, 2, 3, 4), STAGED, runner)
    qtbot.waitUntil(lambda: not board.busy, timeout=PATIENCE_MS)
    assert board.forecast is None
    assert board._trouble is not None and "on one line" in board._trouble.what
    assert board.does == "Space closes this"
    assert not board.grab().isNull()
    press(board, Qt.Key.Key_Right, Qt.Key.Key_P, Qt.Key.Key_Space)
    assert not board.isVisible()


def test_closing_while_it_is_made_cancels_it(qtbot, runner, monkeypatch) -> None:
    began, ended = threading.Event(), threading.Event()

    def slow(*given: object, cancelled, **more: object) -> None:
        began.set()
        while not cancelled():
            ended.wait(0.01)
        ended.set()

    monkeypatch.setattr(board_module, "forecast_evenness", slow)
    board = EvennessBoard(LOOKS["light"])
    qtbot.addWidget(board)
    board.show_pattern(RING, find_order(RING).numbers, STAGED, runner)
    board.show()
    qtbot.waitUntil(began.is_set, timeout=PATIENCE_MS)
    assert board.busy
    assert not board.grab().isNull()
    board.close_board()
    qtbot.waitUntil(ended.is_set, timeout=PATIENCE_MS)
    assert not board.busy
    assert board.forecast is None


def test_it_is_the_forecast_of_the_passes_given(board: EvennessBoard) -> None:
    found = forecast_evenness(RING, find_order(RING).numbers, STAGED)
    assert board.forecast is not None
    assert board.forecast.moments[-1].loads == pytest.approx(found.moments[-1].loads)


def test_p_writes_one_page(board: EvennessBoard, qtbot, tmp_path: Path) -> None:
    path = tmp_path / "evenness.pdf"
    asked: list[str] = []

    def choose(suggested: str) -> str:
        asked.append(suggested)
        return str(path)

    board.choose_path = choose
    press(board, Qt.Key.Key_P)
    qtbot.waitUntil(lambda: not board.busy, timeout=PATIENCE_MS)
    assert board.told == f"Written: {path}"
    assert asked[0].endswith("evenness ring.pdf")
    assert len(pypdf.PdfReader(path).pages) == 1


def test_a_page_that_cannot_be_written_is_told(board: EvennessBoard, qtbot, tmp_path: Path) -> None:
    board.choose_path = lambda suggested: str(tmp_path / "no such folder" / "evenness.pdf")
    press(board, Qt.Key.Key_P)
    qtbot.waitUntil(lambda: not board.busy, timeout=PATIENCE_MS)
    assert board.told and not board.told.startswith("Written")
    assert board.forecast is not None


def test_no_path_writes_nothing(board: EvennessBoard) -> None:
    board.choose_path = lambda suggested: ""
    press(board, Qt.Key.Key_P)
    assert not board.busy
    assert board.told == ""


@pytest.mark.parametrize("look", ["light", "dark", "sun"])
def test_the_accent_is_nowhere_on_it(board: EvennessBoard, look: str) -> None:
    board.set_look(LOOKS[look], 1.0)
    board.go_to(5)
    image = board.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    mark = LOOKS[look].color("mark")
    found = 0
    for y in range(0, image.height(), 2):
        for x in range(0, image.width(), 2):
            color = image.pixelColor(x, y)
            apart = abs(color.red() - mark.red()) + abs(color.green() - mark.green())
            found += apart + abs(color.blue() - mark.blue()) < 60
    assert found == 0


@pytest.mark.parametrize("factor", [0.9, 1.0, 2.0])
def test_no_text_is_smaller_than_18_px(board: EvennessBoard, monkeypatch, factor: float) -> None:
    sizes: list[float] = []
    real = QPainter.setFont

    def note(painter: QPainter, font) -> None:
        sizes.append(font.pixelSize() * painter.worldTransform().m11())
        real(painter, font)

    board.resize(round(1366 * factor), round(558 * factor))
    board.set_look(LOOKS["light"], factor)
    monkeypatch.setattr(QPainter, "setFont", note)
    board.repaint()
    monkeypatch.undo()
    assert sizes
    # A font of whole pixels in a scaled painter: half a pixel of rounding.
    assert min(sizes) >= LEAST_TEXT_PX - 0.5
