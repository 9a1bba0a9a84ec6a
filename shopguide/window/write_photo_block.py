"""A picture on the card being written: small, with its marks, and beside it its words."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QWidget

from shopguide.job.model import Photo
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, read_piece
from shopguide.window.lettering import font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.picture_view import SMALL_MARKS, paint_photo
from shopguide.window.pictures import Pictures
from shopguide.window.write_block import Names, Tell, WriteBlock, show_value
from shopguide.window.write_fields import PHOTO_FIELDS


class PhotoBlock(WriteBlock):
    """A picture with its caption and its words."""

    def __init__(
        self,
        path: Path,
        look: Look,
        factor: float,
        tell: Tell | None,
        names: Names | None,
        pictures: Pictures | None,
    ) -> None:
        super().__init__(path, look, factor, tell, names)
        self.thumb = Thumb(look, factor, pictures)
        self.thumb.chosen.connect(lambda: self.asked.emit(path, "marks"))
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.thumb, 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(self.fields, 1)
        self._fields.setContentsMargins(0, 0, 0, 0)
        self.column.addLayout(row)
        self.add_lines(PHOTO_FIELDS)
        self.unfolded = True

    def show_entry(self, entry: FixedDict) -> None:
        super().show_entry(entry)
        photo = read_piece(entry, "photos")
        name = show_value(entry.get("file"))
        self.thumb.show_photo(photo if isinstance(photo, Photo) else None, name)

    def unfold(self, unfolded: bool) -> None:
        """A picture's words always stand beside it."""


class Thumb(QWidget):
    """A small picture with its marks; a click on it opens them."""

    chosen = Signal()

    def __init__(self, look: Look, factor: float, pictures: Pictures | None) -> None:
        super().__init__()
        self._look, self._factor, self._pictures = look, factor, pictures
        self._name = ""
        self._photo: Photo | None = None
        self.setFixedSize(round(168 * factor), round(112 * factor))
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        if pictures is not None:
            pictures.ready.connect(self._look_at)

    def _look_at(self, name: str) -> None:
        if name == self._name:
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if event.button() == Qt.MouseButton.LeftButton:
            self.chosen.emit()

    def show_photo(self, photo: Photo | None, name: str) -> None:
        """The picture with this file name; photo: None while something of it cannot be read."""
        self._photo, self._name = photo, name
        self.setToolTip(name)
        self.update()

    def sizeHint(self) -> QSize:
        return self.size()

    def box(self) -> QSize:
        """The box for which the picture is decoded, in device pixels."""
        ratio = self.devicePixelRatioF()
        return QSize(round(self.width() * ratio), round(self.height() * ratio))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        found = None
        if self._pictures is not None and self._name:
            found = self._pictures.get(self._name, self.box())
        if found is None or found[0].isNull():
            painter.setPen(QPen(self._look.color("hairline"), 1))
            painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
            painter.setFont(font_px(18 * self._factor))
            painter.setPen(self._look.color("soft"))
            said = self._name if found is None else f"{self._name} cannot be shown"
            painter.drawText(
                self.rect().adjusted(6, 6, -6, -6),
                int(Qt.AlignmentFlag.AlignCenter) | int(Qt.TextFlag.TextWordWrap),
                let_break(said),
            )
            return
        marks = self._photo.marks if self._photo is not None else ()
        size = self._factor * SMALL_MARKS
        paint_photo(painter, QRectF(self.rect()), found[0], found[1], marks, self._look, size)
