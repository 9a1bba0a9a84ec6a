"""The bar across the bottom: what Space records now, what comes then, what Backspace undoes."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

ORPHAN_LETTERS = 5
"""What is left for the second line takes a word of the first with it, if it is as short as this."""


class Bar(QWidget):
    """Two lines of words that never move. A click does what Space does."""

    pressed = Signal()

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.does = self.after = self.back = self.keys = ""
        self._waits = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.updateGeometry()
        self.update()

    def say(
        self, does: str, after: str = "", back: str = "", keys: str = "", waits: bool = False
    ) -> None:
        """The words. waits: what was pressed is not on disk yet, so the line is drawn softer."""
        self.does, self.after, self.back, self.keys, self._waits = does, after, back, keys, waits
        self.setAccessibleName(does)
        self.setAccessibleDescription(" ".join(x for x in (after, back) if x))
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(round(800 * self._factor), round(124 * self._factor))

    def _fit(self, width: float) -> tuple[QFont, bool]:
        """The font of the first line, 40 px at factor 1, and whether it takes two lines."""
        font = font_px(SIZES_PX["bar"] * self._factor, "bold")
        if QFontMetricsF(font).horizontalAdvance(self.does) <= width:
            return font, False
        return font, True

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        painter.fillRect(self.rect(), look.color("bar"))
        left, right = 24 * f, self.width() - 24 * f
        text = font_px(SIZES_PX["text"] * f)
        metrics = QFontMetricsF(text)
        font, double = self._fit(right - left)
        painter.setFont(font)
        painter.setPen(look.color("bar_soft" if self._waits else "bar_ink"))
        if double:
            lines = _wrap(self.does, QFontMetricsF(font), right - left)
            # Set by their capitals, so that there is as much room above as below.
            base = 13 * f + QFontMetricsF(font).capHeight()
            for index, line in enumerate(lines):
                painter.drawText(QPointF(left, base + index * 42 * f), line)
            below = QRectF(left, 92 * f, right - left, 26 * f)
        else:
            painter.drawText(
                QRectF(left, 14 * f, right - left, 54 * f),
                int(Qt.AlignmentFlag.AlignVCenter),
                self.does,
            )
            below = QRectF(left, 76 * f, right - left, 32 * f)
        painter.setFont(text)
        painter.setPen(look.color("bar_soft"))
        keys_width = metrics.horizontalAdvance(self.keys)
        painter.drawText(
            below, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight), self.keys
        )
        room = below.width() - keys_width - 32 * f
        gap = 40 * f
        back_width = metrics.horizontalAdvance(self.back)
        after_room = room - (back_width + gap if self.back else 0)
        if after_room < 120 * f:
            after_room = room / 2
        after = metrics.elidedText(self.after, Qt.TextElideMode.ElideRight, after_room)
        painter.drawText(below, int(Qt.AlignmentFlag.AlignVCenter), after)
        x = below.left() + (metrics.horizontalAdvance(after) + gap if after else 0)
        back = metrics.elidedText(self.back, Qt.TextElideMode.ElideRight, room - (x - below.left()))
        painter.drawText(
            QRectF(x, below.top(), room, below.height()), int(Qt.AlignmentFlag.AlignVCenter), back
        )

    def mousePressEvent(self, event: QMouseEvent) -> None:
        event.accept()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self.rect().contains(event.position().toPoint()):
            self.pressed.emit()


def _wrap(text: str, metrics: QFontMetricsF, width: float) -> list[str]:
    """At most two lines that fit; the second is cut with an ellipsis where it must be."""
    words = text.split()
    first = ""
    while words and metrics.horizontalAdvance(f"{first} {words[0]}".strip()) <= width:
        first = f"{first} {words.pop(0)}".strip()
    if words and len(" ".join(words)) <= ORPHAN_LETTERS and " " in first:
        # A unit is not left alone by its figure.
        first, _, last = first.rpartition(" ")
        words.insert(0, last)
    rest = metrics.elidedText(" ".join(words), Qt.TextElideMode.ElideRight, width)
    return [line for line in (first, rest) if line]
