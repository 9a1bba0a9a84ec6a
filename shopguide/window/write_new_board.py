"""The board with which a new sheet is begun: blank, from a sample, a copy, or a draft put aside."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, NamedTuple

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen

from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look


class Beginning(NamedTuple):
    """One way to begin: its words, what it is, and the name or path that belongs to it."""

    sort: Literal["skeleton", "sample", "copy", "draft"]
    title: str
    under: str
    name: str = ""


class NewSheetBoard(Board):
    """Up and Down choose, Enter begins. `picked` tells how."""

    picked = Signal(object)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.rows: tuple[Beginning, ...] = ()
        self.at = 0
        self.setAccessibleName("A new sheet")

    def show_rows(self, rows: Sequence[Beginning]) -> None:
        """Shows the ways to begin."""
        self.rows, self.at = tuple(rows), 0
        self._say()

    def _say(self) -> None:
        if self.rows:
            row = self.rows[self.at]
            self.does = f"Enter begins with: {row.title}"
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
        room = self.height() - 96 * f
        return min(72 * f, max(50 * f, room / max(1, len(self.rows))))

    def _first(self) -> int:
        shown = max(1, int((self.height() - 96 * self._factor) / self._height()))
        return max(0, self.at - shown + 1)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        painter.setFont(font_px(SIZES_PX["bar"] * f, "bold"))
        painter.setPen(look.color("ink"))
        head = QRectF(24 * f, 18 * f, self.width() - 48 * f, 50 * f)
        painter.drawText(head, int(Qt.AlignmentFlag.AlignVCenter), "A new sheet")
        height, first = self._height(), self._first()
        painter.setPen(QPen(look.color("ink"), 1.5 * f))
        painter.drawLine(int(24 * f), int(80 * f), int(self.width() - 24 * f), int(80 * f))
        for index, row in enumerate(self.rows[first:], first):
            top = 80 * f + (index - first) * height
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
        index = self._first() + int((event.position().y() - 80 * self._factor) / self._height())
        if event.position().y() >= 80 * self._factor and 0 <= index < len(self.rows):
            if index == self.at:
                self.press()
                return
            self.at = index
            self._say()
