"""Dragging one of 120 fasteners on a photo of 24 megapixels: from the mouse's move to the redraw.

    python tests/bench/pattern_board.py

Held against painting the photo alone at the same size, by turns. The photo is scaled to the screen
once, on a thread; how long the window waits for that is told too.
"""

from __future__ import annotations

import math

from PySide6.QtCore import QEventLoop, QPoint, QSize, Qt, qInstallMessageHandler
from PySide6.QtGui import QColor, QImage, QPainter, QPixmap
from PySide6.QtTest import QTest
from ratios import Row, hand_over, middle, take_ms  # sets Qt's platform before Qt is imported

from shopguide.bolts.pattern import Pattern
from shopguide.window.app import make_app, write_qt_message
from shopguide.window.palette import LOOKS
from shopguide.window.pattern_board import PatternBoard

FULL = QSize(6000, 4000)
COUNT = 120
MOVES = 120
TO_MM = (0.1, 0, -300, 0, -0.1, 200, 0, 0, 1)


def make_photo() -> QImage:
    """24 megapixels with something to see in them."""
    image = QImage(FULL, QImage.Format.Format_RGB32)
    image.fill(QColor("#6F6B64"))
    painter = QPainter(image)
    for k in range(400):
        painter.fillRect((k * 811) % 6000, (k * 467) % 4000, 160, 90, QColor(k % 256, 120, 90))
    painter.end()
    return image


def make_pattern() -> Pattern:
    turns = [math.tau * k / COUNT for k in range(COUNT)]
    return Pattern(
        name="rim",
        title="Rim",
        fasteners=[
            {"number": k + 1, "x_mm": 250 * math.cos(a), "y_mm": 160 * math.sin(a)}
            for k, a in enumerate(turns)
        ],
        outline=[(250 * math.cos(a), 160 * math.sin(a)) for a in turns],
        photo={"file": "rim.jpg", "to_mm": TO_MM},
    )


def measure() -> list[Row]:
    qInstallMessageHandler(write_qt_message)
    app = make_app()
    board = PatternBoard(LOOKS["light"])
    board.resize(1366, 572)
    board.show()
    photo, loop = make_photo(), QEventLoop()

    def settle() -> None:
        for _ in range(3):
            app.processEvents()

    def open_it() -> None:
        board.show_pattern(make_pattern(), photo, FULL, "rim.jpg")
        settle()

    opened_ms = take_ms(open_it)
    while board.table.busy or len(board.table.order) < COUNT:
        loop.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
    settle()

    table = board.table
    plain = QPixmap(table.size())
    plain.fill(QColor("#6F6B64"))
    bare = QPixmap(table.size())

    def paint_plainly() -> None:
        painter = QPainter(bare)
        painter.drawPixmap(0, 0, plain)
        painter.end()

    def drag(indices: int) -> tuple[list[float], list[float]]:
        """Milliseconds of each move, and of painting the photo alone, by turns."""
        start = table.seat_of(7).toPoint()
        if indices == COUNT:
            board.chosen = frozenset(range(COUNT))
        QTest.mousePress(table, Qt.MouseButton.LeftButton, pos=start)
        settle()
        moves, bares = [], []
        for k in range(1, MOVES + 1):
            at = start + QPoint(round(60 * math.sin(k / 9)), round(40 * math.sin(k / 7)) + 6)

            def move(at: QPoint = at) -> None:
                QTest.mouseMove(table, at)
                settle()

            moves.append(take_ms(move))
            bares.append(take_ms(paint_plainly))
        QTest.mouseRelease(table, Qt.MouseButton.LeftButton, pos=start)
        settle()
        return moves[2:], bares[2:]

    one, bare_one = drag(1)
    every, bare_every = drag(COUNT)
    first = sorted(one)[math.floor(len(one) * 0.95)]
    board.table.put_away()
    return [
        Row("120 fasteners, 24 megapixels: a move of one", middle(one), "ms", middle(bare_one),
            most=16),
        Row("the same, 19 of 20 within", first, "ms", most=16),
        Row("a move of all 120", middle(every), "ms", middle(bare_every), most=16),
        Row("opening it", opened_ms, "ms"),
    ]  # fmt: skip


if __name__ == "__main__":
    hand_over(measure())
