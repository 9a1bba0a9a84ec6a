"""One of few: the word that is chosen, changed with the arrow keys or by its first letter."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import Weight, font_px
from shopguide.window.palette import Look


class WriteChoice(QWidget):
    """Left and Right choose; `kept` tells the word."""

    kept = Signal(str)
    came = Signal()
    onward = Signal(int)

    def __init__(
        self,
        choices: Sequence[str],
        look: Look,
        factor: float,
        *,
        px: float = 20,
        weight: Weight = "strong",
    ) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._px, self._weight = px, weight
        self.choices = tuple(choices)
        self.text = ""
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def set_text(self, text: str) -> None:
        """Shows what the sheet holds, one of the choices or not."""
        self.text = text
        self.setAccessibleDescription(text or "not chosen")
        self.update()

    def keep(self) -> None:
        """Nothing waits: a choice is handed on at once."""

    @property
    def is_pending(self) -> bool:
        """Never: a choice is handed on at once."""
        return False

    def choose(self, by: int) -> None:
        """Takes the next choice, or the one before."""
        if self.text in self.choices:
            index = (self.choices.index(self.text) + by) % len(self.choices)
        else:
            index = 0 if by > 0 else len(self.choices) - 1
        self._take(self.choices[index])

    def _take(self, text: str) -> None:
        if text != self.text:
            self.set_text(text)
            self.kept.emit(text)

    def sizeHint(self) -> QSize:
        return QSize(round(200 * self._factor), round((self._px * 1.35 + 10) * self._factor))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(80 * self._factor), self.sizeHint().height())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if event.modifiers() & (
            Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        ):
            event.ignore()
        elif key in (Qt.Key.Key_Right, Qt.Key.Key_Space):
            self.choose(1)
        elif key == Qt.Key.Key_Left:
            self.choose(-1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down):
            self.onward.emit(1)
        elif key == Qt.Key.Key_Up:
            self.onward.emit(-1)
        else:
            letter = event.text().casefold()
            fitting = [c for c in self.choices if c.casefold().startswith(letter)]
            if letter.strip() and fitting:
                after = fitting.index(self.text) + 1 if self.text in fitting else 0
                self._take(fitting[after % len(fitting)])
            else:
                event.ignore()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.setFocus()
        left = event.position().x() < 26 * self._factor
        self.choose(-1 if left else 1)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.came.emit()
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        focused = self.hasFocus()
        font = font_px(self._px * f, self._weight)
        painter.setFont(font)
        metrics = QFontMetricsF(font)
        left = (26 if focused else 3) * f
        room = self.width() - left - 30 * f
        shown = metrics.elidedText(self.text or "choose", Qt.TextElideMode.ElideRight, room)
        painter.setPen(look.color("ink" if self.text else "soft"))
        box = QRectF(left, 0, room, self.height())
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)
        middle = self.height() / 2
        if focused:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(look.color("ink"))
            end = left + metrics.horizontalAdvance(shown) + 12 * f
            for x, way in ((16 * f, -1), (end, 1)):
                painter.drawPolygon(
                    QPolygonF(
                        [
                            QPointF(x, middle - 7 * f),
                            QPointF(x + way * 9 * f, middle),
                            QPointF(x, middle + 7 * f),
                        ]
                    )
                )
        width = (3 if focused else 1) * f
        painter.setPen(QPen(look.color("ink" if focused else "hairline"), width))
        y = self.height() - width / 2
        painter.drawLine(QPointF(0, y), QPointF(self.width(), y))
