"""One line to fill in: what it is, the entry, and what the program says to what is typed."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from shopguide.errors import Trouble
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

Check = Callable[[str], str]
"""Takes the text; returns what to say beside it; raises Trouble where it cannot be read."""


class FieldRow(QWidget):
    """`left` tells that the entry was left or Enter was pressed, with what stands in it."""

    left = Signal(str)
    came = Signal()
    onward = Signal(int)
    """Up (-1) or down (+1) was asked for."""

    def __init__(
        self, word: str, hint: str, look: Look, factor: float, check: Check | None = None
    ) -> None:
        super().__init__()
        self.word, self._check = word, check
        self.label = QLabel(word)
        self.entry = EntryLine(look, factor)
        self.entry.setPlaceholderText(hint)
        self.entry.setMaxLength(200)
        self.entry.setAccessibleName(word)
        self.told = QLabel()
        self.told.setWordWrap(True)
        row = QHBoxLayout(self)
        row.setContentsMargins(round(22 * factor), round(4 * factor), 0, round(4 * factor))
        row.setSpacing(round(16 * factor))
        self.label.setFont(font_px(22 * factor, "strong"))
        self.label.setFixedWidth(round(190 * factor))
        self.entry.setFont(font_px(22 * factor))
        self.entry.setFixedHeight(round(46 * factor))
        self.entry.setFixedWidth(round(400 * factor))
        self.told.setFont(font_px(SIZES_PX["text"] * factor))
        palette = self.told.palette()
        palette.setColor(self.told.foregroundRole(), look.color("soft"))
        self.told.setPalette(palette)
        row.addWidget(self.label)
        row.addWidget(self.entry)
        row.addWidget(self.told, 1)
        self._look, self._factor = look, factor
        self.setFocusProxy(self.entry)
        self.entry.installEventFilter(self)
        self.entry.textChanged.connect(self._look_at)

    def set_text(self, text: str) -> None:
        """Shows what is kept, unless the person is typing just now."""
        if not self.entry.hasFocus() and self.entry.text() != text:
            self.entry.setText(text)

    def _look_at(self, text: str) -> None:
        said = ""
        if text.strip() and self._check is not None:
            try:
                said = self._check(text.strip())
            except Trouble as trouble:
                said = str(trouble)
        self.told.setText(said)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.FocusIn:
            self.update()
            self.came.emit()
        elif event.type() == QEvent.Type.FocusOut:
            self.update()
            self.left.emit(self.entry.text().strip())
        elif event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            key = event.key()
            if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down):
                self.left.emit(self.entry.text().strip())
                self.onward.emit(1)
                return True
            if key == Qt.Key.Key_Up:
                self.onward.emit(-1)
                return True
        return super().eventFilter(watched, event)

    def paintEvent(self, event: QPaintEvent) -> None:
        # The line in use looks as a line to tick does when it is in use.
        if self.entry.hasFocus():
            painter = QPainter(self)
            painter.fillRect(self.rect(), self._look.color("card"))
            bar = QRectF(0, 0, 8 * self._factor, self.height())
            painter.fillRect(bar, self._look.color("ink"))
