"""One caution as ANSI Z535 draws it: the signal word on its colour, the message on the card."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.job.model import Caution
from shopguide.job.sentences import join_sentences
from shopguide.window.lettering import font_px, let_break
from shopguide.window.palette import SIGNALS, Look


def caution_text(caution: Caution) -> str:
    """Hazard, consequence and how to avoid it, in that order, as one paragraph."""
    parts = (caution.hazard, caution.consequence, caution.avoid)
    return join_sentences(parts)


class CautionPanel(QWidget):
    """Paints one caution; its height follows from its width."""

    def __init__(self, caution: Caution, look: Look, factor: float) -> None:
        super().__init__()
        self.caution = caution
        self._look = look
        self._factor = factor
        self._word_font = font_px(20 * factor, "bold")
        self._text_font = font_px(20 * factor)
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName(f"{caution.signal}: {caution_text(caution)}")

    def _pad(self) -> float:
        return 10 * self._factor

    def _strip(self) -> float:
        return 32 * self._factor

    def cut_between_lines(self, room: float) -> float:
        """The largest height up to `room` at which no line of the text is cut in half."""
        first = self._strip() + self._pad() * 0.6
        if room < first:
            return 0.0
        line = QFontMetricsF(self._text_font).lineSpacing()
        return first + (room - first) // line * line

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        inner = width - 2 * self._pad() - 2
        box = QFontMetricsF(self._text_font).boundingRect(
            QRectF(0, 0, inner, 100_000),
            int(Qt.TextFlag.TextWordWrap),
            let_break(caution_text(self.caution)),
        )
        return round(self._strip() + box.height() + 1.4 * self._pad())

    def sizeHint(self) -> QSize:
        width = round(440 * self._factor)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        width = max(1, self.width())
        return QSize(round(200 * self._factor), self.heightForWidth(width))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        ground, ink = SIGNALS[self.caution.signal]
        strip, pad = self._strip(), self._pad()
        full = QRectF(self.rect())
        painter.fillRect(QRectF(0, 0, full.width(), strip), QColor(ground))
        x = pad
        if self.caution.signal != "NOTICE":
            self._paint_alert(painter, x, strip, QColor(ink), QColor(ground))
            x += strip * 0.95
        painter.setFont(self._word_font)
        painter.setPen(QColor(ink))
        painter.drawText(
            QRectF(x, 0, full.width() - x, strip),
            int(Qt.AlignmentFlag.AlignVCenter),
            self.caution.signal,
        )
        body = QRectF(0.5, strip, full.width() - 1, full.height() - strip - 0.5)
        painter.fillRect(body, self._look.color("card"))
        painter.setPen(QPen(QColor(ground), 1.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(body)
        painter.setFont(self._text_font)
        painter.setPen(self._look.color("ink"))
        painter.drawText(
            body.adjusted(pad, pad * 0.6, -pad, 0),
            int(Qt.TextFlag.TextWordWrap),
            let_break(caution_text(self.caution)),
        )

    def _paint_alert(
        self, painter: QPainter, x: float, strip: float, ink: QColor, ground: QColor
    ) -> None:
        """The safety alert symbol: a triangle with an exclamation mark."""
        side = strip * 0.78
        top, base = strip * 0.13, strip * 0.85
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        painter.drawPolygon(
            QPolygonF([QPointF(x + side / 2, top), QPointF(x + side, base), QPointF(x, base)])
        )
        painter.setBrush(ground)
        middle = x + side / 2
        painter.drawRect(QRectF(middle - 0.045 * side, strip * 0.38, 0.09 * side, strip * 0.25))
        painter.drawEllipse(QPointF(middle, strip * 0.745), 0.06 * side, 0.06 * side)
