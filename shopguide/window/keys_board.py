"""All keys of a place on one board, in groups, each with what it does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QPainter, QPaintEvent, QPen

from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

TOP, ROW, GAP, PAD = 72.0, 28.0, 36.0, 24.0
LEAST_COLUMN = 400.0
"""A column is at least this wide at factor 1."""
KEY_SHARE = 0.43


class KeyGroup(NamedTuple):
    """Keys that mean something where the heading says, each with what it does."""

    heading: str
    keys: tuple[tuple[str, str], ...]


class KeysBoard(Board):
    """Columns of groups. Down and Up turn its pages where one is not enough."""

    def __init__(self, heading: str, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.heading = heading
        self.groups: tuple[KeyGroup, ...] = ()
        self.page = 0
        self.does = "Space closes this"
        self.setAccessibleName(heading)

    def show_groups(self, groups: Sequence[KeyGroup]) -> None:
        """Shows these keys."""
        self.groups, self.page = tuple(groups), 0
        told = [f"{keys}: {does}" for group in groups for keys, does in group.keys]
        self.setAccessibleDescription(". ".join(told))
        self._say()

    def _say(self) -> None:
        pages = len(self.list_pages())
        self.after = f"page {self.page + 1} of {pages}" if pages > 1 else ""
        turn = "Up and Down turn the page   " if pages > 1 else ""
        self.keys = f"{turn}Escape closes"
        self.said.emit()
        self.update()

    def list_pages(self) -> list[list[list[tuple[str, str]]]]:
        """Pages of columns of rows. A heading is a row without words, an empty row parts groups."""
        rows = max(3, int((self.height() - (TOP + 8) * self._factor) / (ROW * self._factor)))
        columns = self._count_columns()
        stacked: list[list[tuple[str, str]]] = [[]]
        for group in self.groups:
            here = stacked[-1]
            if here and len(here) + 2 + len(group.keys) > rows:
                stacked.append(here := [])
            if here:
                here.append(("", ""))
            here.append((group.heading, ""))
            for pair in group.keys:
                if len(here) >= rows:
                    stacked.append(here := [(group.heading, "")])
                here.append(pair)
        return [stacked[i : i + columns] for i in range(0, len(stacked), columns)]

    def _count_columns(self) -> int:
        room = self.width() / self._factor - 2 * PAD
        return max(1, int((room + GAP) / (LEAST_COLUMN + GAP)))

    def take_key(self, event: QKeyEvent) -> bool:
        ways = {
            Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: -1, Qt.Key.Key_PageDown: 1,
        }  # fmt: skip
        if event.key() == Qt.Key.Key_F1:
            self.close_board()
            return True
        way = ways.get(Qt.Key(event.key()))
        if way is None:
            return False
        self.page = min(max(self.page + way, 0), len(self.list_pages()) - 1)
        self._say()
        return True

    def resizeEvent(self, event: object) -> None:
        self.page = 0
        self._say()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        painter.setFont(font_px(SIZES_PX["bar"] * f, "bold"))
        painter.setPen(look.color("ink"))
        head = QRectF(PAD * f, 8 * f, self.width() - 2 * PAD * f, 50 * f)
        painter.drawText(head, int(Qt.AlignmentFlag.AlignVCenter), self.heading)
        painter.setPen(QPen(look.color("ink"), 1.5 * f))
        line = (TOP - 8) * f
        painter.drawLine(int(PAD * f), int(line), int(self.width() - PAD * f), int(line))
        columns = self._count_columns()
        width = (self.width() - (2 * PAD + (columns - 1) * GAP) * f) / columns
        pages = self.list_pages()
        for index, column in enumerate(pages[min(self.page, len(pages) - 1)] if pages else []):
            left = PAD * f + index * (width + GAP * f)
            for at, (keys, does) in enumerate(column):
                box = QRectF(left, (TOP + at * ROW) * f, width, ROW * f)
                self._paint_row(painter, box, keys, does)

    def _paint_row(self, painter: QPainter, box: QRectF, keys: str, does: str) -> None:
        f, look = self._factor, self._look
        if not keys:
            return
        if not does:
            painter.setFont(font_px(18 * f))
            painter.setPen(look.color("soft"))
            painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), keys)
            painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
            return
        part = QRectF(box.left(), box.top(), box.width() * KEY_SHARE - 8 * f, box.height())
        painter.setFont(font_px(18 * f, "bold"))
        painter.setPen(look.color("ink"))
        self._write(painter, part, keys)
        painter.setFont(font_px(18 * f))
        self._write(painter, QRectF(box).adjusted(box.width() * KEY_SHARE, 0, 0, 0), does)

    def _write(self, painter: QPainter, box: QRectF, text: str) -> None:
        shown = QFontMetricsF(painter.font()).elidedText(
            text, Qt.TextElideMode.ElideRight, box.width()
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)
