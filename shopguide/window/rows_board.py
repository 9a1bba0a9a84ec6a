"""A board of rows, each a few words with a line under them, of which one is chosen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen

from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

TOP = 80.0
"""Where the rows begin, in pixels at factor 1."""


class Row(Protocol):
    """What a row shows."""

    @property
    def title(self) -> str:
        """What it is called."""

    @property
    def under(self) -> str:
        """What stands under it."""


class RowsBoard(Board):
    """Up and Down choose, Enter takes the row. `picked` tells which."""

    picked = Signal(object)
    does_with = "Enter takes"
    """What the bar says before the title of the row."""

    def __init__(self, heading: str, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.heading = heading
        self.rows: tuple[Row, ...] = ()
        self.at = 0
        self.setAccessibleName(heading)

    def show_rows(self, rows: Sequence[Row], at: int = 0) -> None:
        """Shows these rows; the one at `at` is chosen."""
        self.rows, self.at = tuple(rows), min(max(at, 0), max(0, len(rows) - 1))
        self._say()

    def _say(self) -> None:
        if self.rows:
            row = self.rows[self.at]
            self.does = f"{self.does_with}: {row.title}"
            self.after = "Up and Down choose"
            self.setAccessibleDescription(f"{row.title}, {row.under}")
        self.keys = "Escape leaves it"
        self.said.emit()
        self.update()

    def press(self) -> None:
        if self.rows:
            row = self.rows[self.at]
            self.close_board()
            self.picked.emit(row)

    def take_key(self, event: QKeyEvent) -> bool:
        ways = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}
        way = ways.get(Qt.Key(event.key()))
        if way is None or not self.rows:
            return False
        self.at = min(max(self.at + way, 0), len(self.rows) - 1)
        self._say()
        return True

    def _height(self) -> float:
        f = self._factor
        room = self.height() - (TOP + 16) * f
        return min(72 * f, max(50 * f, room / max(1, len(self.rows))))

    def _first(self) -> int:
        shown = max(1, int((self.height() - (TOP + 16) * self._factor) / self._height()))
        return max(0, self.at - shown + 1)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        painter.setFont(font_px(SIZES_PX["bar"] * f, "bold"))
        painter.setPen(look.color("ink"))
        head = QRectF(24 * f, 18 * f, self.width() - 48 * f, 50 * f)
        self._write(painter, head, self.heading)
        height, first = self._height(), self._first()
        painter.setPen(QPen(look.color("ink"), 1.5 * f))
        painter.drawLine(int(24 * f), int(TOP * f), int(self.width() - 24 * f), int(TOP * f))
        for index, row in enumerate(self.rows[first:], first):
            top = TOP * f + (index - first) * height
            if top + height > self.height():
                break
            box = QRectF(24 * f, top, self.width() - 48 * f, height)
            chosen = index == self.at
            if chosen:
                painter.fillRect(box, look.color("card"))
                painter.fillRect(QRectF(box.left(), top, 8 * f, height), look.color("ink"))
            painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
            font = font_px(24 * f, "bold" if chosen else "strong")
            painter.setFont(font)
            painter.setPen(look.color("ink"))
            inner = box.adjusted(24 * f, 6 * f, -16 * f, -6 * f)
            half = QRectF(inner.left(), inner.top(), inner.width(), inner.height() / 2)
            self._write(painter, half, row.title)
            painter.setFont(font_px(20 * f))
            painter.setPen(look.color("soft"))
            self._write(painter, half.translated(0, half.height()), row.under)

    def _write(self, painter: QPainter, box: QRectF, text: str) -> None:
        shown = QFontMetricsF(painter.font()).elidedText(
            text, Qt.TextElideMode.ElideRight, box.width()
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        y = event.position().y() - TOP * self._factor
        index = self._first() + int(y / self._height())
        if y >= 0 and 0 <= index < len(self.rows):
            if index == self.at:
                self.press()
                return
            self.at = index
            self._say()
