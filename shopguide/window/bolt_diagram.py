"""The bolt diagram on the screen: paints the plain shapes of bolts.drawing, and takes clicks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.bolts import drawing as shapes
from shopguide.bolts.pattern import Pattern
from shopguide.window.lettering import font_px
from shopguide.window.palette import Look

# role of a shape -> role of a colour
INKS = {
    "band": "band",
    "head": "ink",
    "head fill": "card",
    "mark": "mark",
    "mark hollow": "mark",
    "due": "ink",
    "number": "ink",
    "number soft": "soft",
    "number due": "ink",
    "leader": "ink",
    "middle": "soft",
    "middle strong": "ink",
    "struck": "ink",
    "loose": "ink",
    "flag": "ink",
    "note": "soft",
}


class BoltDiagram(QWidget):
    """A pattern with its marks. `picked` tells the fastener that was clicked."""

    picked = Signal(int)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._pattern: Pattern | None = None
        self._order: tuple[int, ...] = ()
        self._states: Mapping[int, shapes.HeadState] = {}
        self._middle: tuple[str, ...] = ()
        self._seen = ""
        self._drawing: shapes.Drawing | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(320, 240)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self._drawing = None
        self.update()

    def show_pattern(
        self,
        pattern: Pattern,
        order: tuple[int, ...],
        states: Mapping[int, shapes.HeadState],
        middle: tuple[str, ...],
        whose: str,
    ) -> None:
        """middle: progress in words, inside the outline; whose: order the numbers tell."""
        self._pattern, self._order, self._states, self._middle = pattern, order, states, middle
        self._drawing = None
        self._seen = f"{pattern.seen} · {whose}"
        self.setAccessibleName(f"{pattern.title}, {self._seen}")
        self.setAccessibleDescription(", ".join(middle))
        self.update()

    def drawing(self) -> shapes.Drawing | None:
        """The shapes as painted last; made anew where something changed."""
        if self._pattern is None:
            return None
        if self._drawing is None:
            self._drawing = shapes.draw_pattern(
                self._pattern,
                self._order,
                self._states,
                width=self.width() / self._factor,
                height=self.height() / self._factor - 40,
                middle=self._middle,
            )
        return self._drawing

    def resizeEvent(self, event: object) -> None:
        self._drawing = None

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._look.color("card"))
        drawing = self.drawing()
        if drawing is None or self._pattern is None:
            return
        f = self._factor
        font = font_px(20 * f)
        painter.setFont(font)
        painter.setPen(self._look.color("soft"))
        # The view comes first and the order last: where there is no room, the middle goes.
        room = QRectF(16 * f, 8 * f, self.width() - 32 * f, 28 * f)
        seen = QFontMetricsF(font).elidedText(
            self._seen, Qt.TextElideMode.ElideMiddle, room.width()
        )
        painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter), seen)
        painter.translate(0, 40 * f)
        painter.scale(f, f)
        paint_shapes(painter, drawing, self._look)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        event.accept()

    def number_at(self, position: QPointF) -> int | None:
        """The fastener nearest to a point of the widget; None where none is near."""
        drawing = self.drawing()
        if drawing is None:
            return None
        x, y = position.x() / self._factor, position.y() / self._factor - 40
        best: tuple[float, int] | None = None
        for number, hx, hy, radius in drawing.hits:
            away = math.hypot(hx - x, hy - y)
            if away <= max(radius, 24) and (best is None or away < best[0]):
                best = (away, number)
        return best[1] if best is not None else None

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        number = self.number_at(event.position())
        if number is not None:
            self.picked.emit(number)


def paint_shapes(painter: QPainter, drawing: shapes.Drawing, look: Look) -> None:
    """Paints every shape in drawing units; the painter is scaled already."""
    paint_each(painter, drawing.shapes, look)


def paint_each(painter: QPainter, plain: Iterable[shapes.Shape], look: Look) -> None:
    """Paints plain shapes in their sequence; the painter is scaled already."""
    for shape in plain:
        color = look.color(INKS[shape.role])
        match shape:
            case shapes.Stroke():
                pen = QPen(color, shape.width * look.heavier)
                pen.setCapStyle(_cap(shape.role))
                pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
                painter.setPen(pen)
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawPolyline(QPolygonF([QPointF(x, y) for x, y in shape.points]))
            case shapes.Polygon():
                _set_outline(painter, color, shape.filled, shape.width * look.heavier)
                painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in shape.points]))
            case shapes.Circle():
                _set_outline(painter, color, shape.filled, shape.width * look.heavier)
                painter.drawEllipse(QPointF(shape.x, shape.y), shape.radius, shape.radius)
            case shapes.Label():
                _paint_label(painter, shape, color)


def _cap(role: str) -> Qt.PenCapStyle:
    return Qt.PenCapStyle.RoundCap if role == "band" else Qt.PenCapStyle.FlatCap


def _set_outline(painter: QPainter, color: QColor, filled: bool, width: float) -> None:
    if filled:
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(color)
    else:
        painter.setPen(QPen(color, width))
        painter.setBrush(Qt.BrushStyle.NoBrush)


def _paint_label(painter: QPainter, label: shapes.Label, color: QColor) -> None:
    font = font_px(label.size, label.weight)
    metrics = QFontMetricsF(font)
    width = metrics.horizontalAdvance(label.text)
    x = {"middle": label.x - width / 2, "start": label.x, "end": label.x - width}[label.anchor]
    painter.setFont(font)
    painter.setPen(color)
    # y is the vertical middle of the capitals, so that numbers sit where the layout put them.
    painter.drawText(QPointF(x, label.y + metrics.capHeight() / 2), label.text)
