"""The pad for a signature drawn with mouse or finger: strokes, not pixels."""

from __future__ import annotations

import itertools

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

MOST_POINTS = 4000


class SignaturePad(QWidget):
    """Strokes as lists of (x, y) in thousandths of the pad's width, whole numbers."""

    drawn = Signal()

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.strokes: list[list[tuple[int, int]]] = []
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Signature, drawn with mouse or finger; may stay empty")
        self.setAttribute(Qt.WidgetAttribute.WA_AcceptTouchEvents, False)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(round(440 * self._factor), round(150 * self._factor))

    def clear(self) -> None:
        """An empty pad."""
        self.strokes = []
        self.drawn.emit()
        self.update()

    def _point(self, event: QMouseEvent) -> tuple[int, int]:
        unit = 1000 / max(1, self.width())
        x = min(max(event.position().x(), 0), self.width())
        y = min(max(event.position().y(), 0), self.height())
        return round(x * unit), round(y * unit)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if self.isEnabled():
            self.strokes.append([self._point(event)])
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self.strokes and event.buttons() and self.isEnabled():
            point = self._point(event)
            if point != self.strokes[-1][-1] and sum(map(len, self.strokes)) < MOST_POINTS:
                self.strokes[-1].append(point)
                self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.drawn.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        painter.fillRect(self.rect(), look.color("card"))
        base = self.height() * 0.78
        painter.setPen(QPen(look.color("soft"), 1.5 * f))
        painter.drawLine(QPointF(20 * f, base), QPointF(self.width() - 20 * f, base))
        if not self.strokes:
            painter.setFont(font_px(SIZES_PX["text"] * f))
            painter.setPen(look.color("soft"))
            painter.drawText(
                QRectF(20 * f, 0, self.width() - 40 * f, base),
                int(Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextWordWrap),
                "sign here with mouse or finger, or leave it empty",
            )
        pen = QPen(look.color("ink"), 3 * f)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        unit = self.width() / 1000
        for stroke in self.strokes:
            painter.drawPath(smooth_path(stroke, unit))


def smooth_path(stroke: list[tuple[int, int]], unit: float) -> QPainterPath:
    """A stroke as a curve through the middles between its points."""
    points = [QPointF(x * unit, y * unit) for x, y in stroke]
    path = QPainterPath(points[0])
    if len(points) == 1:
        path.lineTo(points[0] + QPointF(0.5, 0.5))
        return path
    for before, after in itertools.pairwise(points[1:]):
        path.quadTo(before, (before + after) / 2)
    path.lineTo(points[-1])
    return path
