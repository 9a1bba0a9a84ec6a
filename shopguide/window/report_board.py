"""A board that is read: lines in words under their heads, each perhaps with a place to go to."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import (
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QWheelEvent,
)

from shopguide.job.text import Path
from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, font_px, let_break, wrapped_height
from shopguide.window.palette import Look

TOP, LINE_PX, MARK_PX = 108.0, 24.0, 20.0
LEFT, RIGHT, MARK_WIDE = 24.0, 24.0, 112.0
WRAP = int(Qt.TextFlag.TextWordWrap)
PAGE = 8
"""Lines that Page Up and Page Down go at a time."""


class ReportLine(NamedTuple):
    """One line. mark: a word at its left; path: where Enter goes, () where it goes nowhere."""

    text: str
    mark: str = ""
    path: Path = ()


class ReportBoard(Board):
    """Up and Down read on, Enter goes to the place of the line that is chosen."""

    goes = Signal(object)
    """The path of the line that was chosen."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.heading = self.under = ""
        self.rows: tuple[ReportLine | str, ...] = ()
        """Lines, and the heads as plain texts."""
        self.at = 0
        self._top, self._marked = 0, False
        self._boxes: list[tuple[int, QRectF]] = []

    def show_report(
        self, heading: str, under: str, groups: Sequence[tuple[str, Sequence[ReportLine]]]
    ) -> None:
        """Shows lines under their heads; a head "" is none."""
        self.heading, self.under = heading, under
        rows: list[ReportLine | str] = []
        for head, lines in groups:
            rows += [head] if head else []
            rows += lines
        self.rows = tuple(rows)
        self._top = 0
        self._marked = any(isinstance(row, ReportLine) and row.mark for row in rows)
        self.at = next((k for k, row in enumerate(rows) if isinstance(row, ReportLine)), 0)
        self.setAccessibleName(f"{heading}. {under}")
        self._say()

    @property
    def line(self) -> ReportLine | None:
        """The line that is chosen."""
        row = self.rows[self.at] if self.rows else None
        return row if isinstance(row, ReportLine) else None

    @property
    def head(self) -> str:
        """What the line that is chosen stands under."""
        heads = [row for row in self.rows[: self.at + 1] if isinstance(row, str)]
        return heads[-1] if heads else ""

    def _say(self) -> None:
        line = self.line
        self.does = "Enter closes this"
        if line is not None and line.path:
            self.does = f"Enter goes to: {self.head or 'its place'}"
        self.after = ""
        if line is not None:
            told = (self.head, line.mark, line.text)
            self.setAccessibleDescription(", ".join(part for part in told if part))
            lines = [k for k, row in enumerate(self.rows) if isinstance(row, ReportLine)]
            self.after = f"Line {lines.index(self.at) + 1} of {len(lines)}"
        self.keys = "Up and Down, Page Up and Page Down read on   Escape closes this"
        self.said.emit()
        self.update()

    # --- keys and mouse -------------------------------------------------------------------

    def press(self) -> None:
        line = self.line
        self.close_board()
        if line is not None and line.path:
            self.goes.emit(line.path)

    def take_key(self, event: QKeyEvent) -> bool:
        ways = {
            Qt.Key.Key_Up: -1,
            Qt.Key.Key_Down: 1,
            Qt.Key.Key_PageUp: -PAGE,
            Qt.Key.Key_PageDown: PAGE,
            Qt.Key.Key_Home: -len(self.rows),
            Qt.Key.Key_End: len(self.rows),
        }
        way = ways.get(Qt.Key(event.key()))
        if way is None:
            return False
        self.move(way)
        return True

    def move(self, by: int) -> None:
        """Chooses the line so many lines on; heads are passed over."""
        lines = [k for k, row in enumerate(self.rows) if isinstance(row, ReportLine)]
        if lines:
            place = min(max(lines.index(self.at) + by, 0), len(lines) - 1)
            self.at = lines[place]
            self._say()

    def wheelEvent(self, event: QWheelEvent) -> None:
        self.move(-1 if event.angleDelta().y() > 0 else 1)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        for index, box in self._boxes:
            if box.contains(event.position()) and isinstance(self.rows[index], ReportLine):
                if index == self.at:
                    self.press()
                    return
                self.at = index
                self._say()

    # --- painting -------------------------------------------------------------------------

    def _room(self) -> float:
        side = MARK_WIDE if self._marked else 0.0
        return self.width() - (LEFT + RIGHT + 24 + 16 + side) * self._factor

    def _height(self, index: int) -> float:
        f, row = self._factor, self.rows[index]
        if isinstance(row, str):
            return 48 * f
        return wrapped_height(row.text, self._room(), LINE_PX * f) + 14 * f

    def _find_top(self) -> int:
        """The row that is shown first: the one before, unless what is chosen lies outside."""
        view = self.height() - TOP * self._factor
        top = min(self._top, self.at)
        if top == self.at and top > 0 and isinstance(self.rows[top - 1], str):
            top -= 1
        used = sum(self._height(k) for k in range(max(top, self.at - 60), self.at + 1))
        top = max(top, self.at - 60)
        while used > view and top < self.at:
            used -= self._height(top)
            top += 1
        return top

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        wide = self.width() - (LEFT + RIGHT) * f
        painter.setFont(font_px(SIZES_PX["bar"] * f, "bold"))
        painter.setPen(look.color("ink"))
        self._write(painter, QRectF(LEFT * f, 12 * f, wide, 50 * f), self.heading)
        painter.setFont(font_px(SIZES_PX["text"] * f))
        painter.setPen(look.color("soft"))
        self._write(painter, QRectF(LEFT * f, 64 * f, wide, 30 * f), self.under)
        painter.setPen(QPen(look.color("ink"), 1.5 * f))
        line = int((TOP - 4) * f)
        painter.drawLine(int(LEFT * f), line, int(LEFT * f + wide), line)
        self._boxes = []
        if not self.rows:
            return
        self._top = self._find_top()
        y = TOP * f
        painter.setClipRect(QRectF(0, y, self.width(), self.height() - y))
        for index in range(self._top, len(self.rows)):
            box = QRectF(LEFT * f, y, wide, self._height(index))
            if box.bottom() > self.height() and index > self.at:
                break
            self._boxes.append((index, box))
            self._paint_row(painter, box, index)
            y = box.bottom()

    def _paint_row(self, painter: QPainter, box: QRectF, index: int) -> None:
        f, look, row = self._factor, self._look, self.rows[index]
        if isinstance(row, str):
            painter.setFont(font_px(LINE_PX * f, "bold"))
            painter.setPen(look.color("ink"))
            self._write(painter, box.adjusted(0, 12 * f, 0, -2 * f), row)
            painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
            return
        if index == self.at:
            painter.fillRect(box, look.color("card"))
            painter.fillRect(QRectF(box.left(), box.top(), 8 * f, box.height()), look.color("ink"))
        left = box.left() + 24 * f
        if self._marked:
            painter.setFont(font_px(MARK_PX * f, "bold"))
            painter.setPen(look.color("soft"))
            mark = QRectF(left, box.top() + 7 * f, MARK_WIDE * f, LINE_PX * 1.3 * f)
            painter.drawText(mark, int(Qt.AlignmentFlag.AlignVCenter), row.mark)
            left += MARK_WIDE * f
        painter.setFont(font_px(LINE_PX * f))
        painter.setPen(look.color("ink"))
        room = QRectF(left, box.top() + 7 * f, self._room(), box.height())
        painter.drawText(room, WRAP, let_break(row.text))

    def _write(self, painter: QPainter, box: QRectF, text: str) -> None:
        flat = " ".join(text.split())
        shown = QFontMetricsF(painter.font()).elidedText(
            flat, Qt.TextElideMode.ElideRight, box.width()
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)
