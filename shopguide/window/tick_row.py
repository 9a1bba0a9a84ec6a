"""One line to tick: a box, a text, and what belongs to it. Space ticks it."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px, let_break, wrapped_height
from shopguide.window.palette import Look


class TickRow(QWidget):
    """A box to tick, a text, and a line under it. Focusable; Space ticks and goes on."""

    ticked = Signal()
    came = Signal()

    def __init__(
        self,
        text: str,
        under: str,
        does: str,
        look: Look,
        factor: float,
        called: str = "",
        *,
        box: bool = True,
    ) -> None:
        """does: what Space does here, for the bar; called: what the bar calls it, if not text.

        box: False for a line that does something once instead of being ticked.
        """
        super().__init__()
        self.text, self.under, self.does = text, under, does
        self.called = called or text
        self.has_box = box
        self.on = False
        self._look, self._factor = look, factor
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self._say()

    def set_text(self, text: str, under: str) -> None:
        """Shows other words."""
        if (text, under) != (self.text, self.under):
            self.text, self.under = text, under
            self._say()
            self.updateGeometry()
            self.update()

    def set_on(self, on: bool) -> None:
        """Shows the box ticked or empty."""
        if on != self.on:
            self.on = on
            self._say()
            self.update()

    def _say(self) -> None:
        state = f": {'ticked' if self.on else 'not ticked'}" if self.has_box else ""
        self.setAccessibleName(self.text + state)
        self.setAccessibleDescription(self.under)

    def _left(self) -> float:
        """Where the text begins."""
        return (64 if self.has_box else 22) * self._factor

    def _heights(self, width: float) -> tuple[float, float]:
        f = self._factor
        room = max(80.0, width - self._left())
        one = wrapped_height(self.text, room, 22 * f, "strong")
        if not self.under:
            return one, 0.0
        return one, wrapped_height(self.under, room, SIZES_PX["text"] * f)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        one, two = self._heights(width)
        return round(max(48 * self._factor, one + two + 18 * self._factor))

    def sizeHint(self) -> QSize:
        width = max(self.width(), 400)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.heightForWidth(max(1, self.width())))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        one, two = self._heights(self.width())
        top = (self.height() - one - two) / 2
        if self.hasFocus():
            painter.fillRect(self.rect(), look.color("card"))
            painter.fillRect(QRectF(0, 0, 8 * f, self.height()), look.color("ink"))
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        left = self._left()
        side = 24 * f
        box = QRectF(22 * f, top + one / 2 - side / 2, side, side)
        painter.setPen(QPen(look.color("ink"), 2 * f))
        if self.has_box:
            painter.drawRect(box)
        if self.on:
            pen = QPen(look.color("ink"), 4 * f)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            x, upper = box.left(), box.top()
            painter.drawPolyline(
                QPolygonF(
                    [
                        QPointF(x + 5 * f, upper + 12 * f),
                        QPointF(x + 10 * f, upper + 18 * f),
                        QPointF(x + 21 * f, upper + 3 * f),
                    ]
                )
            )
        painter.setFont(font_px(22 * f, "strong"))
        painter.setPen(look.color("soft" if self.on else "ink"))
        room = QRectF(left, top, self.width() - left, one + 2)
        painter.drawText(room, int(Qt.TextFlag.TextWordWrap), let_break(self.text))
        if self.under:
            painter.setFont(font_px(SIZES_PX["text"] * f))
            painter.setPen(look.color("soft"))
            painter.drawText(
                QRectF(left, top + one, self.width() - left, two + 2),
                int(Qt.TextFlag.TextWordWrap),
                let_break(self.under),
            )

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.came.emit()
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.setFocus()
        self.ticked.emit()
