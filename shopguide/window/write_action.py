"""A line of the card that adds something: its words, and Enter does what they say."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look


class WriteAction(QWidget):
    """`chosen` on Enter, Space or a click. wish: what is wanted, in the words of the place."""

    chosen = Signal()
    came = Signal()
    onward = Signal(int)

    def __init__(self, text: str, wish: str, look: Look, factor: float) -> None:
        super().__init__()
        self.text, self.wish = text, wish
        self.does = f"Enter: {text[0].lower()}{text[1:]}"
        self._look, self._factor = look, factor
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(text)

    def sizeHint(self) -> QSize:
        return QSize(round(200 * self._factor), round(38 * self._factor))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(80 * self._factor), round(38 * self._factor))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        f, look = self._factor, self._look
        focused = self.hasFocus()
        if focused:
            painter.fillRect(self.rect(), look.color("card"))
            painter.fillRect(QRectF(0, 0, 8 * f, self.height()), look.color("ink"))
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        painter.setFont(font_px(SIZES_PX["text"] * f, "strong" if focused else "regular"))
        painter.setPen(look.color("ink" if focused else "soft"))
        room = QRectF(40 * f, 0, self.width() - 44 * f, self.height())
        shown = painter.fontMetrics().elidedText(
            self.text, Qt.TextElideMode.ElideRight, round(room.width())
        )
        painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter), shown)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            event.ignore()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            if not event.isAutoRepeat():
                self.chosen.emit()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.onward.emit(-1 if key == Qt.Key.Key_Up else 1)
        else:
            event.ignore()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.came.emit()
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.setFocus()
        self.chosen.emit()
