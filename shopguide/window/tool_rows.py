"""Tools as a small table of words: a row for each group, its name first, then keys and words.

Which of them are shown changes with what one is doing; the room they take does not.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.tool_words import ToolWord

LINE_PX = 34
GAP_PX = 20
LEAST_NAME_PX = 64
"""So much is left for the names, so that the tools do not jump when the groups change."""

Row = tuple[str, tuple[tuple[str, str], ...]]
"""The name of a group; key and word of each of its tools."""


class ToolRows(QWidget):
    """`taken` tells the key of the tool that was clicked."""

    taken = Signal(str)

    def __init__(self, look: Look, factor: float, most: int) -> None:
        super().__init__()
        self._most = most
        self.rows: tuple[Row, ...] = ()
        self.words: dict[str, ToolWord] = {}
        self._kept: dict[str, ToolWord] = {}
        self.set_look(look, factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        for tool in self._kept.values():
            tool.look, tool.factor = look, factor
        self._lay()
        self.update()

    @property
    def high(self) -> int:
        """How high the most rows stand."""
        return round(self._most * LINE_PX * self._factor)

    def show_rows(self, rows: Sequence[Row], in_use: str = "") -> None:
        """These tools; the one in use is underlined."""
        if tuple(rows) != self.rows:
            self.rows, self.words = tuple(rows), {}
            for _, tools in rows:
                for key, word in tools:
                    self.words[key] = self._find_word(key, word)
            for key, tool in self._kept.items():
                tool.setVisible(key in self.words)
            self._lay()
            self.update()
        for key, tool in self.words.items():
            if tool.in_use != (key == in_use):
                tool.in_use = key == in_use
                tool.update()

    def _find_word(self, key: str, word: str) -> ToolWord:
        tool = self._kept.get(key)
        if tool is None:
            tool = self._kept[key] = ToolWord(key, word)
            tool.setParent(self)
            tool.clicked.connect(lambda _=False: self.taken.emit(key))
            tool.look, tool.factor = self._look, self._factor
        elif tool.text() != word:
            tool.say(word)
        return tool

    @property
    def _indent(self) -> float:
        """Room for the names of the groups."""
        metrics = QFontMetricsF(font_px(SIZES_PX["text"] * self._factor))
        widest = max((metrics.horizontalAdvance(name) for name, _ in self.rows), default=0.0)
        return max(widest, LEAST_NAME_PX * self._factor) + GAP_PX * self._factor

    def _lay(self) -> None:
        f, indent = self._factor, self._indent
        for line, (_, tools) in enumerate(self.rows):
            x = indent
            sizes = [self.words[key].sizeHint() for key, _ in tools]
            wide = sum(size.width() for size in sizes)
            # Closer together before a word is cut at the end.
            room = (self.width() - indent - wide) / max(1, len(tools) - 1)
            gap = min(GAP_PX * f, max(6 * f, room))
            for (key, _), size in zip(tools, sizes, strict=True):
                y = line * LINE_PX * f + (LINE_PX * f - size.height()) / 2
                self.words[key].setGeometry(round(x), round(y), size.width(), size.height())
                x += size.width() + gap

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        f, look = self._factor, self._look
        painter.setFont(font_px(SIZES_PX["text"] * f))
        for line, (name, _) in enumerate(self.rows):
            y = line * LINE_PX * f
            painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
            painter.drawLine(0, round(y), self.width(), round(y))
            painter.setPen(look.color("soft"))
            box = QRectF(0, y, self.width(), LINE_PX * f)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), name)
