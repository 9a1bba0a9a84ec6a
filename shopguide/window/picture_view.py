"""A step's picture with its marks, its caption, and the further pictures as a strip."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QImage,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.job.model import Arrow, Freehand, Number, Photo, PictureMark, Ring
from shopguide.window.lettering import font_px
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures

STRIP_PX = 84
SMALL_MARKS = 0.55
"""By how much marks are drawn smaller on a small picture, so that they do not hide it."""


class PictureView(QWidget):
    """Shows one of a step's photos large; a click on the strip, or `turn`, shows another."""

    turned = Signal(int)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._pictures: Pictures | None = None
        self._photos: tuple[Photo, ...] = ()
        self._index = 0
        self._boxes: list[QRectF] = []
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(320, 240)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()

    def set_pictures(self, pictures: Pictures) -> None:
        """From where pictures come."""
        self._pictures = pictures
        pictures.ready.connect(self._redraw)

    def _redraw(self, name: str) -> None:
        if any(photo.file == name for photo in self._photos):
            self.update()

    def show_photos(self, photos: tuple[Photo, ...]) -> None:
        """The photos of the step; the first is shown large."""
        if photos != self._photos:
            self._photos, self._index = photos, 0
            if self._pictures is not None and photos:
                # Before anything is asked for ahead of need.
                self._pictures.get(photos[0].file, self._box(photos))
        self._say()
        self.update()

    def turn(self, by: int) -> None:
        """Shows the next or the previous picture of the step."""
        if self._photos:
            self._index = (self._index + by) % len(self._photos)
            self._say()
            self.turned.emit(self._index)
            self.update()

    def _say(self) -> None:
        photo = self._photos[self._index] if self._photos else None
        self.setAccessibleName(photo.alt or photo.caption if photo else "no picture")

    def frame_size(self) -> QSize:
        """The box that the large picture is decoded for, in device pixels."""
        ratio = self.devicePixelRatioF()
        return QSize(round(self.width() * ratio), round(self._room().height() * ratio))

    def _room(self) -> QRectF:
        f = self._factor
        strip = STRIP_PX * f + 8 * f if len(self._photos) > 1 else 0
        return QRectF(0, 0, self.width(), self.height() - 60 * f - strip)

    def prefetch(self, photos: tuple[Photo, ...]) -> None:
        """Decodes the first photo of a step that is about to be shown."""
        if self._pictures is not None and photos:
            self._pictures.fetch(photos[0].file, self._box(photos))

    def _box(self, photos: tuple[Photo, ...]) -> QSize:
        """What `frame_size` will be once these photos are shown."""
        f, ratio = self._factor, self.devicePixelRatioF()
        strip = STRIP_PX * f + 8 * f if len(photos) > 1 else 0
        # A page of the stack that was never in front has no size of its own yet.
        stack = self.parentWidget()
        size = stack.size() if stack is not None and not self.isVisible() else self.size()
        height = size.height() - 60 * f - strip
        return QSize(round(size.width() * ratio), round(height * ratio))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        f, look = self._factor, self._look
        painter.fillRect(self.rect(), look.color("card"))
        if not self._photos or self._pictures is None:
            return
        photo = self._photos[self._index]
        room = self._room()
        found = self._pictures.get(photo.file, self.frame_size())
        caption = QRectF(16 * f, room.bottom(), self.width() - 32 * f, 60 * f)
        painter.setFont(font_px(20 * f))
        painter.setPen(look.color("ink"))
        painter.drawText(
            caption,
            int(Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextWordWrap),
            photo.caption or photo.alt,
        )
        if found is None:
            self._tell(painter, room, "the picture is coming")
        elif found[0].isNull():
            self._tell(painter, room, f"{photo.file} cannot be shown: {photo.alt}")
        else:
            paint_photo(painter, room, found[0], found[1], photo.marks, look, f)
        self._paint_strip(painter)

    def _tell(self, painter: QPainter, room: QRectF, text: str) -> None:
        painter.setPen(self._look.color("soft"))
        painter.drawText(
            room.adjusted(24, 24, -24, -24),
            int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap),
            text,
        )

    def _paint_strip(self, painter: QPainter) -> None:
        self._boxes = []
        if len(self._photos) < 2 or self._pictures is None:
            return
        f = self._factor
        top = self.height() - STRIP_PX * f
        width, gap = 112 * f, 8 * f
        ratio = self.devicePixelRatioF()
        for index, photo in enumerate(self._photos):
            box = QRectF(16 * f + index * (width + gap), top, width, STRIP_PX * f - 10 * f)
            self._boxes.append(box)
            found = self._pictures.get(
                photo.file, QSize(round(width * ratio), round(box.height() * ratio))
            )
            if found is not None and not found[0].isNull():
                small = f * SMALL_MARKS
                paint_photo(painter, box, found[0], found[1], photo.marks, self._look, small)
            now = index == self._index
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(
                QPen(self._look.color("ink" if now else "hairline"), (4 if now else 1) * f)
            )
            painter.drawRect(box)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        for index, box in enumerate(self._boxes):
            if box.contains(event.position()):
                self.turn(index - self._index)
                return


def fit_picture(room: QRectF, size: QSize) -> QRectF:
    """The largest box of the picture's shape in the middle of the room."""
    if size.isEmpty():
        return room
    scale = min(room.width() / size.width(), room.height() / size.height())
    width, height = size.width() * scale, size.height() * scale
    return QRectF(room.center().x() - width / 2, room.center().y() - height / 2, width, height)


def paint_photo(
    painter: QPainter,
    room: QRectF,
    image: QImage,
    full: QSize,
    marks: Sequence[PictureMark],
    look: Look,
    factor: float,
) -> None:
    """The picture in the room, and its marks, which are data in the picture's own pixels.

    Work, its strip of further pictures, and the small picture in Write are drawn by this.
    """
    target = fit_picture(room, full)
    painter.drawImage(target, image)
    painter.save()
    painter.setClipRect(target)
    for mark in marks:
        paint_mark(painter, mark, target, full, look, factor)
    painter.restore()


def paint_mark(
    painter: QPainter, mark: PictureMark, target: QRectF, full: QSize, look: Look, factor: float
) -> None:
    """One mark of a picture of this full size that is shown in the target."""
    scale = target.width() / max(1, full.width())

    def at(spot: tuple[float, float]) -> QPointF:
        return QPointF(target.left() + spot[0] * scale, target.top() + spot[1] * scale)

    match mark:
        case Arrow():
            _paint_arrow(painter, at(mark.start), at(mark.to), look, factor)
        case Ring():
            for color, width in ((QColor("#FFFFFF"), 8), (QColor("#17191B"), 3.5)):
                painter.setPen(QPen(color, width * factor))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawEllipse(at(mark.at), mark.radius * scale, mark.radius * scale)
        case Number():
            _paint_tag(painter, at(mark.at), str(mark.number), factor)
        case Freehand():
            line = QPolygonF([at(spot) for spot in mark.points])
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for color, width in ((QColor("#FFFFFF"), 8), (QColor("#17191B"), 3.5)):
                pen = QPen(color, width * factor)
                pen.setCapStyle(Qt.PenCapStyle.RoundCap)
                pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
                painter.setPen(pen)
                painter.drawPolyline(line)
        case _:
            _paint_tag(painter, at(mark.at), mark.text, factor)


def _paint_arrow(
    painter: QPainter, start: QPointF, tip: QPointF, look: Look, factor: float
) -> None:
    angle = math.atan2(tip.y() - start.y(), tip.x() - start.x())
    size = 20 * factor
    wings = [
        QPointF(tip.x() - size * math.cos(angle + s), tip.y() - size * math.sin(angle + s))
        for s in (-0.45, 0.45)
    ]
    neck = QPointF(tip.x() - size * 0.8 * math.cos(angle), tip.y() - size * 0.8 * math.sin(angle))
    for color, width in ((QColor("#FFFFFF"), 9), (QColor("#17191B"), 4.5)):
        painter.setPen(QPen(color, width * factor, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
        painter.drawLine(start, neck)
        painter.setPen(QPen(color, width * factor * 0.5))
        painter.setBrush(color)
        painter.drawPolygon(QPolygonF([tip, *wings]))


def _paint_tag(painter: QPainter, at: QPointF, text: str, factor: float) -> None:
    """Ink on a white tag, so that it reads on any picture."""
    font = font_px(18 * factor, "bold")
    metrics = QFontMetricsF(font)
    width = metrics.horizontalAdvance(text) + 10 * factor
    height = metrics.capHeight() + 12 * factor
    box = QRectF(at.x() - width / 2, at.y() - height / 2, width, height)
    painter.setPen(QPen(QColor("#17191B"), 1.2 * factor))
    painter.setBrush(QColor("#FFFFFF"))
    painter.drawRect(box)
    painter.setFont(font)
    painter.setPen(QColor("#17191B"))
    painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), text)
