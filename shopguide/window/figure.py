"""The largest thing on the card: one figure with its unit, as large as fits, close-set."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

LEAST_PX = 44


class Figure(QWidget):
    """A text at 112 px where it fits the width; smaller, then on two lines, where it does not."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._text = ""
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def text(self) -> str:
        """The figure shown."""
        return self._text

    def set_text(self, text: str) -> None:
        """Shows a figure; an empty one hides the widget."""
        if text != self._text:
            self._text = text
            self.setAccessibleName(text)
            self.updateGeometry()
            self.update()
        self.setVisible(bool(text))

    def pixel_size(self, width: float) -> float:
        """The size at which the figure fits this width on one line, but not below the least."""
        size = SIZES_PX["torque"] * self._factor
        while size > LEAST_PX * self._factor:
            if QFontMetricsF(font_px(size, "bold")).horizontalAdvance(self._text) <= width - 2:
                break
            size *= 0.94
        return max(size, LEAST_PX * self._factor)

    def _layout(self, width: float) -> tuple[QFont, QFontMetricsF, bool]:
        font = font_px(self.pixel_size(width), "bold")
        metrics = QFontMetricsF(font)
        return font, metrics, metrics.horizontalAdvance(self._text) > width - 2

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        _, metrics, wraps = self._layout(width)
        pad = 26 * self._factor
        if wraps:
            box = metrics.boundingRect(
                QRectF(0, 0, width, 1e5), int(Qt.TextFlag.TextWordWrap), self._text
            )
            return round(box.height() + pad / 2)
        below = metrics.tightBoundingRect(self._text).bottom()
        return round(metrics.capHeight() + pad / 2 + max(pad / 2, below + 4 * self._factor))

    def sizeHint(self) -> QSize:
        width = max(self.width(), 300)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(100, self.heightForWidth(max(1, self.width())))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        font, metrics, wraps = self._layout(self.width())
        painter.setFont(font)
        painter.setPen(self._look.color("ink"))
        if wraps:
            painter.drawText(QRectF(self.rect()), int(Qt.TextFlag.TextWordWrap), self._text)
        else:
            base = 13 * self._factor + metrics.capHeight()
            painter.drawText(QPointF(0, base), self._text)
