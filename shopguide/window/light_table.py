"""A light table: a photo, or a blank board, to draw on; zoomed, moved, with a cross hair for keys.

What lies still is painted once into a pixmap; what moves is painted over it. A large photo is
scaled to the screen on a thread.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QCloseEvent,
    QImage,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.palette import Look

MOST_ZOOM = 16.0
ZOOM_STEP = 1.25
SLACK_PX = 4.0
"""A press that moves no farther is a click."""

XY = tuple[float, float]


class LightTable(QWidget):
    """Shows a picture in its own pixels; subclasses paint on it and take presses.

    A subclass fills in `paint_still` (outline, grid), `paint_moving`, and `press_at`, `drag_to`,
    `release_at`, which get places in the picture's own pixels.
    """

    _scaled = Signal(int, QImage)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.image: QImage | None = None
        self.full = QSize()
        self._bounds = QRectF(0, 0, 1, 1)
        self._zoom, self._middle = 1.0, QPointF()
        self._still: QPixmap | None = None
        self._sharp: tuple[int, QRectF, QImage] | None = None
        self._asked = 0
        self._wanted: QRectF | None = None
        self._pool: ThreadPoolExecutor | None = None
        self._pressed: QPointF | None = None
        self._panning: QPointF | None = None
        self.dragging = False
        self.pen: QPointF | None = None
        self._scaled.connect(self._take_scaled)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(200, 160)
        self.setCursor(Qt.CursorShape.CrossCursor)

    # --- what lies on it ------------------------------------------------------------------

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.lay_still()

    def show_picture(self, image: QImage | None, full: QSize, bounds: QRectF | None = None) -> None:
        """A photo of this full size, or with None a blank board of these bounds."""
        self.image = image if image is not None and not image.isNull() else None
        self.full = full
        self._bounds = bounds or QRectF(0, 0, max(1, full.width()), max(1, full.height()))
        self._sharp = None
        self.pen = None
        self.fit()

    def lay_still(self) -> None:
        """What lies still has changed: it is painted anew."""
        self._still = None
        self.update()

    @property
    def busy(self) -> bool:
        """True while the photo is being scaled on the thread."""
        return self._sharp is None and self.image is not None and self._wanted is not None

    # --- where things are -----------------------------------------------------------------

    def fit(self) -> None:
        """The whole of it."""
        self._zoom, self._middle = 1.0, self._bounds.center()
        self._move()

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Nearer or farther; what is at this place of the widget stays there."""
        at = at or QPointF(self.width() / 2, self.height() / 2)
        before = self.to_picture(at)
        self._zoom = min(max(self._zoom * factor, 1.0), MOST_ZOOM)
        self._middle += before - self.to_picture(at)
        self._move()

    def pan(self, dx: float, dy: float) -> None:
        """Moves the picture by so many pixels of the screen."""
        self._middle -= QPointF(dx, dy) / self.scale
        self._move()

    def _move(self) -> None:
        box = self._bounds
        self._middle.setX(min(max(self._middle.x(), box.left()), box.right()))
        self._middle.setY(min(max(self._middle.y(), box.top()), box.bottom()))
        if self._zoom == 1.0:
            self._middle = box.center()
        self._sharp = None
        self._wanted = None
        self.view_moved()
        self.lay_still()

    @property
    def scale(self) -> float:
        """Screen pixels a pixel of the picture."""
        box = self._bounds
        room = min(self.width() / box.width(), self.height() / box.height())
        return max(room * self._zoom, 1e-6)

    def to_screen(self, point: XY) -> QPointF:
        """Where a pixel of the picture is on the widget."""
        s, m = self.scale, self._middle
        return QPointF(
            self.width() / 2 + (point[0] - m.x()) * s, self.height() / 2 + (point[1] - m.y()) * s
        )

    def to_picture(self, place: QPointF) -> QPointF:
        """Which pixel of the picture is at a place of the widget."""
        s, m = self.scale, self._middle
        return QPointF(
            m.x() + (place.x() - self.width() / 2) / s, m.y() + (place.y() - self.height() / 2) / s
        )

    def target(self) -> QRectF:
        """Where the whole picture lies on the widget; reaches beyond it when zoomed."""
        box = self._bounds
        return QRectF(
            self.to_screen((box.left(), box.top())), self.to_screen((box.right(), box.bottom()))
        )

    def move_pen(self, dx: float, dy: float) -> None:
        """Moves the cross hair by pixels of the picture; it begins in the middle."""
        before = self.pen or self.to_picture(QPointF(self.width() / 2, self.height() / 2))
        box = self._bounds
        self.pen = QPointF(
            min(max(before.x() + dx, box.left()), box.right()),
            min(max(before.y() + dy, box.top()), box.bottom()),
        )
        self.update()

    # --- painting -------------------------------------------------------------------------

    def view_moved(self) -> None:
        """Zoom or size are others now."""

    def paint_still(self, painter: QPainter) -> None:
        """What lies still, over the photo."""

    def paint_moving(self, painter: QPainter, where: QRect) -> None:
        """What may move, over what lies still; where: the part that is painted anew."""

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        if self._still is None:
            self._still = self._paint_still()
        where, ratio = event.rect(), self._still.devicePixelRatio()
        painter.drawPixmap(
            QRectF(where),
            self._still,
            QRectF(where.x() * ratio, where.y() * ratio, where.width() * ratio,
                   where.height() * ratio),
        )  # fmt: skip
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.paint_moving(painter, where)
        if self.pen is not None:
            self._paint_pen(painter, self.to_screen((self.pen.x(), self.pen.y())))

    def _paint_still(self) -> QPixmap:
        ratio = self.devicePixelRatioF()
        pixmap = QPixmap(round(self.width() * ratio), round(self.height() * ratio))
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(self._look.color("ground" if self.image is not None else "card"))
        painter = QPainter(pixmap)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.image is not None:
            self._paint_image(painter)
        self.paint_still(painter)
        painter.end()
        return pixmap

    def _paint_image(self, painter: QPainter) -> None:
        """The sharp photo where it is there already, else a quick one while it is made."""
        image = self.image
        seen = self.target().intersected(QRectF(self.rect()))
        if image is None or seen.isEmpty():
            return
        if self._sharp is not None:
            painter.drawImage(self._sharp[1], self._sharp[2])
            return
        upper, lower = self.to_picture(seen.topLeft()), self.to_picture(seen.bottomRight())
        share = image.width() / max(1, self.full.width())
        part = QRectF(upper * share, lower * share)
        painter.drawImage(seen, image, part)
        if self._wanted == seen:
            return
        self._wanted = seen
        self._asked += 1
        number, ratio = self._asked, self.devicePixelRatioF()
        size = QSize(max(1, round(seen.width() * ratio)), max(1, round(seen.height() * ratio)))
        if self._pool is None:
            self._pool = ThreadPoolExecutor(1, thread_name_prefix="light table")

        def work() -> None:
            if number != self._asked:
                return
            cut = image.copy(part.toAlignedRect()) if part.size() != image.size() else image
            self._scaled.emit(
                number,
                cut.scaled(
                    size,
                    Qt.AspectRatioMode.IgnoreAspectRatio,
                    Qt.TransformationMode.SmoothTransformation,
                ),
            )

        self._pool.submit(work)

    def _take_scaled(self, number: int, image: QImage) -> None:
        if number == self._asked and self._wanted is not None:
            self._sharp = (number, self._wanted, image)
            self._wanted = None
            self.lay_still()

    def _paint_pen(self, painter: QPainter, at: QPointF) -> None:
        f = self._factor
        for role, width in (("card", 4.0), ("ink", 1.5)):
            painter.setPen(QPen(self._look.color(role), width * f))
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                way = QPointF(dx, dy)
                painter.drawLine(at + way * 5 * f, at + way * 26 * f)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._move()

    def closeEvent(self, event: QCloseEvent) -> None:
        self.put_away()
        super().closeEvent(event)

    def put_away(self) -> None:
        """Lets the thread go; it comes back when a photo is shown again."""
        self._asked += 1
        self._wanted = None
        if self._pool is not None:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._pool = None

    # --- the mouse ------------------------------------------------------------------------

    def press_at(self, point: XY, event: QMouseEvent) -> None:
        """The left button went down."""

    def drag_to(self, point: XY, event: QMouseEvent) -> None:
        """It moves farther than a click."""

    def release_at(self, point: XY, event: QMouseEvent) -> None:
        """It went up; `dragging` tells whether it had moved."""

    def hover_at(self, point: XY) -> None:
        """The mouse moves with no button down."""

    def mousePressEvent(self, event: QMouseEvent) -> None:
        event.accept()
        if event.button() == Qt.MouseButton.MiddleButton:
            self._panning = event.position()
        elif event.button() == Qt.MouseButton.LeftButton:
            if self.pen is not None:
                self.pen = None
                self.update()
            self._pressed, self.dragging = event.position(), False
            self.press_at(self._point(event), event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._panning is not None:
            by = event.position() - self._panning
            self._panning = event.position()
            self.pan(by.x(), by.y())
        elif self._pressed is None:
            self.hover_at(self._point(event))
        else:
            by = event.position() - self._pressed
            self.dragging = self.dragging or by.manhattanLength() > SLACK_PX * self._factor
            if self.dragging:
                self.drag_to(self._point(event), event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.MiddleButton:
            self._panning = None
        elif event.button() == Qt.MouseButton.LeftButton and self._pressed is not None:
            self._pressed = None
            self.release_at(self._point(event), event)
            self.dragging = False

    def wheelEvent(self, event: QWheelEvent) -> None:
        steps = event.angleDelta().y() / 120
        if steps:
            self.zoom(ZOOM_STEP**steps, event.position())

    def _point(self, event: QMouseEvent) -> XY:
        place = self.to_picture(event.position())
        return (place.x(), place.y())
