"""The camera board: what the camera sees, and beside it the pictures that were taken."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QHideEvent, QImage, QKeyEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.window.board import Board
from shopguide.window.camera import Camera
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.picture_view import fit_picture
from shopguide.window.tool_words import ToolWords

SMALL_PX = 100
MOST_SMALL = 3
TOOLS = (("U", "take the last one back"), ("N", "next camera"))


class Finder(QWidget):
    """What the camera sees now, or in words why there is nothing to be seen."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.image: QImage | None = None
        self.words = ""

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()

    def show_image(self, image: QImage | None, words: str = "") -> None:
        """A picture, or these words in its place."""
        self.image, self.words = image, words
        self.setAccessibleName(words or "what the camera sees")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        room, f = QRectF(self.rect()), self._factor
        if self.image is not None:
            painter.drawImage(fit_picture(room, self.image.size()), self.image)
            return
        painter.fillRect(room, self._look.color("card"))
        painter.setPen(QPen(self._look.color("hairline"), max(1.0, f)))
        painter.drawRect(room.adjusted(0.5, 0.5, -0.5, -0.5))
        painter.setFont(font_px(SIZES_PX["instruction"] * f))
        painter.setPen(self._look.color("ink"))
        flags = int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap)
        painter.drawText(room.adjusted(40 * f, 24 * f, -40 * f, -24 * f), flags, self.words)


class TakenStrip(QWidget):
    """The last pictures that were taken, the newest first, each small with its name."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.taken: list[tuple[str, QImage]] = []

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()

    def show_taken(self, taken: list[tuple[str, QImage]]) -> None:
        """Names and pictures, in the sequence in which they were taken."""
        self.taken = list(taken)
        self.setAccessibleName(", ".join(name for name, _ in taken) or "no picture taken yet")
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        f, top = self._factor, 0.0
        high, line = SMALL_PX * f, 30 * f
        painter.setFont(font_px(SIZES_PX["text"] * f))
        painter.setPen(self._look.color("ink"))
        for name, image in reversed(self.taken[-MOST_SMALL:]):
            if top + high + line > self.height():
                return
            shape = image.size().scaled(
                round(self.width()), round(high), Qt.AspectRatioMode.KeepAspectRatio
            )
            painter.drawImage(QRectF(0, top, shape.width(), shape.height()), image)
            under = QRectF(0, top + shape.height(), self.width(), line)
            metrics = painter.fontMetrics()
            shown = metrics.elidedText(name, Qt.TextElideMode.ElideMiddle, self.width())
            painter.drawText(under, int(Qt.AlignmentFlag.AlignVCenter), shown)
            top += shape.height() + line + 10 * f


class CameraBoard(Board):
    """Left what the camera sees, right what was taken. Space takes a picture.

    N goes to the next camera, U or Backspace takes the last picture back, Escape closes.
    """

    took = Signal(QImage)
    """A picture, in full, to be taken into the step."""
    unwanted = Signal()
    """The last picture is to be taken back."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.camera: Camera | None = None
        self.told = ""
        self.waiting = False
        self._stopped = ""
        self._taken: list[tuple[str, QImage]] = []
        self.finder = Finder(look, factor)
        self.strip = TakenStrip(look, factor)
        self.words = ToolWords(look, factor, TOOLS)
        self.words.taken.connect(self._take_word)
        for part in (self.finder, self.words):
            part.setParent(self)
        self.title, self.count, self.message = QLabel(), QLabel(), QLabel()
        self._side = QWidget(self)
        column = QVBoxLayout(self._side)
        column.setContentsMargins(0, 0, 0, 0)
        for label in (self.title, self.count, self.message):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            column.addWidget(label)
        column.addWidget(self.strip, 1)
        self._column = column
        self.set_look(look, factor)

    # --- the camera -----------------------------------------------------------------------

    def begin(self, camera: Camera) -> None:
        """Shows what this camera sees, from now until the board is closed."""
        self._taken, self.told = [], ""
        self.camera = camera
        camera.seen.connect(self._see)
        camera.taken.connect(self._catch)
        camera.stopped.connect(self._stop)
        camera.changed.connect(self._say)
        self.strip.show_taken([])
        self._start(0)

    def _start(self, index: int) -> None:
        if self.camera is None:
            return
        self._stopped, self.waiting = "", False
        self.finder.show_image(None, "The camera is starting")
        self._tell_box()
        self.camera.start(index)
        self._say()

    def _see(self, image: QImage) -> None:
        first = self.finder.image is None
        self.finder.show_image(image)
        if first:
            self._say()

    def _catch(self, image: QImage) -> None:
        self.waiting = False
        self.took.emit(image)
        self._say()

    def _stop(self, reason: str) -> None:
        self._stopped, self.waiting = reason, False
        self.finder.show_image(None, f"The camera has stopped. {reason}")
        self._say()

    # --- what was taken -------------------------------------------------------------------

    @property
    def taken(self) -> tuple[str, ...]:
        """The names of the pictures that were taken, in sequence."""
        return tuple(name for name, _ in self._taken)

    def note_taken(self, name: str, image: QImage) -> None:
        """A picture is in the step now, under this name."""
        small = image.scaledToHeight(
            max(1, round(SMALL_PX * self._factor * self.devicePixelRatioF())),
            Qt.TransformationMode.SmoothTransformation,
        )
        self._taken.append((name, small))
        self.strip.show_taken(self._taken)
        self._say("")

    def note_back(self) -> None:
        """The last picture was taken back."""
        name, _ = self._taken.pop()
        self.strip.show_taken(self._taken)
        self._say(f"Taken back: {name}.")

    def tell(self, words: str) -> None:
        """Tells why a picture did not get into the step."""
        self._say(words)

    # --- words ----------------------------------------------------------------------------

    def _say(self, told: str | None = None) -> None:
        if told is not None:
            self.told = told
        names = self.camera.names if self.camera is not None else ()
        now = self.camera.now if self.camera is not None else 0
        self.title.setText(names[now] if now < len(names) else "No camera")
        lines = [f"{now + 1} of {len(names)} cameras"] if len(names) > 1 else []
        count = len(self._taken)
        said = f"{count} picture{'s' * (count != 1)}" if count else "No pictures"
        lines.append(f"{said} taken")
        self.count.setText("\n".join(lines))
        self.message.setText(self.told)
        self.message.setVisible(bool(self.told))
        if self._stopped:
            self.does = "Space starts the camera again"
        elif self.finder.image is None:
            self.does = "The camera is starting"
        else:
            self.does = "Space takes the picture"
        self.after = f"U takes back: {self._taken[-1][0]}" if count else ""
        self.keys = ("N next camera   " if len(names) > 1 else "") + "Escape closes"
        self.said.emit()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        for part in (self.finder, self.strip, self.words):
            part.set_look(look, factor)
        self.title.setFont(font_px(SIZES_PX["instruction"] * factor, "bold"))
        for label in (self.count, self.message):
            label.setFont(font_px(SIZES_PX["text"] * factor))
        palette = self.count.palette()
        palette.setColor(self.count.foregroundRole(), look.color("soft"))
        self.count.setPalette(palette)
        self._column.setSpacing(round(12 * factor))
        self._place_parts()

    def _place_parts(self) -> None:
        f = self._factor
        pad, side = round(24 * f), round(min(340 * f, self.width() * 0.3))
        wide = max(10, self.width() - side - 3 * pad)
        high = self.words.height_for(wide)
        top = round(8 * f)
        self.words.setGeometry(pad, self.height() - high - top, wide, high)
        self.finder.setGeometry(pad, top, wide, max(10, self.height() - high - 3 * top))
        left = self.width() - side - pad
        self._side.setGeometry(left, top, side, max(10, self.height() - 2 * top))
        self._tell_box()

    def _tell_box(self) -> None:
        """So large what the camera sees is wanted, in device pixels."""
        if self.camera is not None:
            ratio, size = self.devicePixelRatioF(), self.finder.size()
            wide, high = round(size.width() * ratio), round(size.height() * ratio)
            self.camera.box = QSize(max(64, wide), max(64, high))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_parts()

    # --- keys -----------------------------------------------------------------------------

    def press(self) -> None:
        if self.camera is None or self.waiting:
            return
        if self._stopped:
            self._start(self.camera.now)
        elif self.finder.image is not None:
            self.waiting = True
            self.camera.take()

    def take_key(self, event: QKeyEvent) -> bool:
        key = event.key()
        if key == Qt.Key.Key_N:
            self.go_on()
        elif key in (Qt.Key.Key_U, Qt.Key.Key_Backspace, Qt.Key.Key_Delete):
            self._take_back()
        else:
            return False
        return True

    def go_on(self) -> None:
        """The next camera."""
        if self.camera is None or len(self.camera.names) < 2:
            self._say("There is no other camera.")
            return
        self._say("")
        self._start((self.camera.now + 1) % len(self.camera.names))

    def _take_back(self) -> None:
        if self._taken:
            self.unwanted.emit()
        else:
            self._say("There is nothing to take back.")

    def _take_word(self, key: str) -> None:
        self.setFocus()
        if key == "N":
            self.go_on()
        else:
            self._take_back()

    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        # The window may be closed with the board open: the camera's light goes out.
        if self.camera is not None and not event.spontaneous():
            self.camera.stop()

    def close_board(self) -> None:
        camera, self.camera = self.camera, None
        if camera is not None:
            camera.stop()
            camera.deleteLater()
        self.finder.show_image(None, "")
        super().close_board()
