"""Tools as words in rows: the key that takes each, and its word; the one in use is underlined."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

LINE_PX = 32
GAP_PX = 18


class ToolWord(QAbstractButton):
    """One tool: its key in bold, its word. The keyboard's focus stays where it is."""

    def __init__(self, key: str, word: str) -> None:
        super().__init__()
        self.key = key
        self.in_use = False
        self.look: Look | None = None
        self.factor = 1.0
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.say(word)

    def say(self, word: str) -> None:
        """Another word for the same tool."""
        self.setText(word)
        self.setAccessibleName(f"{word}, key {self.key}")
        self.update()

    def sizeHint(self) -> QSize:
        key, word = self._metrics()
        wide = key.horizontalAdvance(self.key) + word.horizontalAdvance(self.text())
        return QSize(round(wide + 8 * self.factor), round(LINE_PX * self.factor))

    def _metrics(self) -> tuple[QFontMetricsF, QFontMetricsF]:
        size = SIZES_PX["text"] * self.factor
        return QFontMetricsF(font_px(size, "bold")), QFontMetricsF(font_px(size))

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.look is None:
            return
        painter = QPainter(self)
        size = SIZES_PX["text"] * self.factor
        metrics, _ = self._metrics()
        base = (self.height() + metrics.capHeight()) / 2
        painter.setFont(font_px(size, "bold"))
        painter.setPen(self.look.color("ink"))
        painter.drawText(QPointF(0, base), self.key)
        left = metrics.horizontalAdvance(self.key) + 6 * self.factor
        painter.setFont(font_px(size))
        under = self.in_use or self.underMouse() or self.isDown()
        painter.setPen(self.look.color("ink" if self.in_use else "soft"))
        painter.drawText(QPointF(left, base), self.text())
        if under:
            thick = (3 if self.in_use else 1) * self.factor
            painter.fillRect(
                QRectF(0, self.height() - thick, self.width(), thick), self.look.color("ink")
            )


class ToolWords(QWidget):
    """Rows of tools that wrap; `taken` tells the key of the one that was clicked."""

    taken = Signal(str)

    def __init__(self, look: Look, factor: float, tools: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self.words: dict[str, ToolWord] = {}
        for key, word in tools:
            tool = ToolWord(key, word)
            tool.setParent(self)
            tool.clicked.connect(lambda _=False, key=key: self.taken.emit(key))
            self.words[key] = tool
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.set_look(look, factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        for tool in self.words.values():
            tool.look, tool.factor = look, factor
        self._lay(self.width())
        self.update()

    def use(self, key: str) -> None:
        """Underlines the tool in use, "" for none."""
        for name, tool in self.words.items():
            if tool.in_use != (name == key):
                tool.in_use = name == key
                tool.update()

    def height_for(self, width: int) -> int:
        """How high the rows stand at this width."""
        return self._lay(width)

    def _lay(self, width: int) -> int:
        f = self._factor
        x = y = 0.0
        line, gap = LINE_PX * f, GAP_PX * f
        for tool in self.words.values():
            size = tool.sizeHint()
            if x and x + size.width() > width:
                x, y = 0.0, y + line
            tool.setGeometry(round(x), round(y), size.width(), size.height())
            x += size.width() + gap
        return round(y + line)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay(self.width())
