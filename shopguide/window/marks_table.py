"""The photo on the marks board with its marks, and which of them is near a place."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

from PySide6.QtCore import QPointF, QRect, QRectF
from PySide6.QtGui import QFontMetricsF, QMouseEvent, QPainter, QPen

from shopguide.job.model import Arrow, Freehand, Number, PictureMark, Ring
from shopguide.window.lettering import font_px
from shopguide.window.light_table import XY, LightTable
from shopguide.window.palette import Look
from shopguide.window.picture_view import paint_mark

REACH_PX = 12.0
"""A mark is taken hold of within this distance of its line, on the screen."""


class MarksTable(LightTable):
    """The photo with its marks; the board tells what a press does."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.marks: tuple[PictureMark, ...] = ()
        self.drawn: PictureMark | None = None
        self.chosen: int | None = None
        self.presses: Callable[[XY], None] = lambda _: None
        self.drags: Callable[[XY], None] = lambda _: None
        self.releases: Callable[[XY], None] = lambda _: None

    def paint_moving(self, painter: QPainter, where: QRect) -> None:
        target = self.target()
        painter.save()
        painter.setClipRect(target.intersected(QRectF(where)))
        every = [*self.marks, *([self.drawn] if self.drawn is not None else [])]
        for mark in every:
            paint_mark(painter, mark, target, self.full, self._look, self._factor)
        painter.restore()
        if self.chosen is not None and self.chosen < len(self.marks):
            self._paint_chosen(painter, self.box_of(self.marks[self.chosen]))

    def _paint_chosen(self, painter: QPainter, box: QRectF) -> None:
        """Four corners round the chosen mark."""
        f = self._factor
        box = box.adjusted(-9 * f, -9 * f, 9 * f, 9 * f)
        side = 12 * f
        for role, width in (("card", 6.0), ("ink", 2.5)):
            painter.setPen(QPen(self._look.color(role), width * f))
            for corner, dx, dy in (
                (box.topLeft(), 1, 1),
                (box.topRight(), -1, 1),
                (box.bottomLeft(), 1, -1),
                (box.bottomRight(), -1, -1),
            ):
                painter.drawLine(corner, corner + QPointF(dx * side, 0))
                painter.drawLine(corner, corner + QPointF(0, dy * side))

    def box_of(self, mark: PictureMark) -> QRectF:
        """The room a mark takes on the widget."""
        f = self._factor
        match mark:
            case Arrow():
                return QRectF(self.to_screen(mark.start), self.to_screen(mark.to)).normalized()
            case Ring():
                at, r = self.to_screen(mark.at), mark.radius * self.scale
                return QRectF(at.x() - r, at.y() - r, 2 * r, 2 * r)
            case Freehand():
                places = [self.to_screen(p) for p in mark.points]
                xs, ys = [p.x() for p in places], [p.y() for p in places]
                return QRectF(min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))
            case _:
                text = str(mark.number) if isinstance(mark, Number) else mark.text
                metrics = QFontMetricsF(font_px(18 * f, "bold"))
                wide, high = metrics.horizontalAdvance(text) + 10 * f, metrics.capHeight() + 12 * f
                at = self.to_screen(mark.at)
                return QRectF(at.x() - wide / 2, at.y() - high / 2, wide, high)

    def mark_at(self, point: XY) -> int | None:
        """The mark at a place of the picture, the uppermost of several; None where none is near."""
        place, reach = self.to_screen(point), REACH_PX * self._factor
        for index in reversed(range(len(self.marks))):
            if self._distance(self.marks[index], place) <= reach:
                return index
        return None

    def _distance(self, mark: PictureMark, place: QPointF) -> float:
        match mark:
            case Arrow():
                return _to_stretch(place, self.to_screen(mark.start), self.to_screen(mark.to))
            case Ring():
                away = place - self.to_screen(mark.at)
                return abs(math.hypot(away.x(), away.y()) - mark.radius * self.scale)
            case Freehand():
                line = [self.to_screen(p) for p in mark.points]
                return min(_to_stretch(place, a, b) for a, b in pairwise(line))
            case _:
                box = self.box_of(mark)
                dx = max(box.left() - place.x(), 0, place.x() - box.right())
                dy = max(box.top() - place.y(), 0, place.y() - box.bottom())
                return math.hypot(dx, dy)

    def press_at(self, point: XY, event: QMouseEvent) -> None:
        self.presses(point)

    def drag_to(self, point: XY, event: QMouseEvent) -> None:
        self.drags(point)

    def release_at(self, point: XY, event: QMouseEvent) -> None:
        self.releases(point)


def _to_stretch(place: QPointF, a: QPointF, b: QPointF) -> float:
    along = b - a
    square = along.x() ** 2 + along.y() ** 2
    share = 0.0 if not square else ((place - a).x() * along.x() + (place - a).y() * along.y())
    share = min(1.0, max(0.0, share / square)) if square else 0.0
    away = place - (a + along * share)
    return math.hypot(away.x(), away.y())
