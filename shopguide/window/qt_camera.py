"""The machine's cameras by way of Qt. Importing this loads Qt's part for cameras."""

from __future__ import annotations

import contextlib
import threading
from concurrent.futures import ThreadPoolExecutor

from PySide6.QtCore import QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage
from PySide6.QtMultimedia import (
    QCamera,
    QCameraDevice,
    QCameraFormat,
    QMediaCaptureSession,
    QMediaDevices,
    QVideoFrame,
    QVideoSink,
)

from shopguide.job.album import MOST_KEPT_PIXELS
from shopguide.window.camera import Camera

LEAST_FRAMES = 5.0
"""A format with fewer pictures a second is no use for aiming."""


class QtCamera(Camera):
    """Frames are unpacked on a thread: at 8 megapixels that takes longer than a key press may.

    The picture taken is the next frame in full, at the camera's largest format. Qt's own still
    capture hands over the same frame, but unpacks it in the window's thread.
    """

    _shown = Signal(int, QImage)
    _caught = Signal(int, QImage)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._devices = QMediaDevices(self)
        self._devices.videoInputsChanged.connect(self._look_round)
        self._session: QMediaCaptureSession | None = None
        self._sink: QVideoSink | None = None
        self._source: QObject | None = None
        self._pool: ThreadPoolExecutor | None = None
        self._turn = 0
        self._busy = threading.Event()
        self._wanted = False
        self._shown.connect(self._show)
        self._caught.connect(self._catch)
        self._known = self.list_devices()

    def list_devices(self) -> list[QCameraDevice]:
        """The cameras there are, the system's first choice first."""
        return sorted(QMediaDevices.videoInputs(), key=lambda one: not one.isDefault())

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(device.description() for device in self._known)

    def attach(self, session: QMediaCaptureSession, device: QCameraDevice) -> QObject:
        """Starts a camera and gives its frames to the session."""
        camera = QCamera(device)
        best = choose_format(device.videoFormats())
        if best is not None:
            camera.setCameraFormat(best)
        camera.errorOccurred.connect(self._fail)
        session.setCamera(camera)
        camera.start()
        return camera

    def start(self, index: int = 0) -> None:
        self.stop()
        if not self._known:
            self.stopped.emit("No camera is connected any more.")
            return
        self.now = index % len(self._known)
        self._turn += 1
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="camera")
        self._session, self._sink = QMediaCaptureSession(self), QVideoSink(self)
        self._sink.videoFrameChanged.connect(self._take_frame)
        self._session.setVideoSink(self._sink)
        self._source = self.attach(self._session, self._known[self.now])

    def stop(self) -> None:
        self._wanted = False
        source, self._source = self._source, None
        if isinstance(source, QCamera):
            source.stop()
        for part in (self._session, self._sink, source):
            if part is not None:
                part.deleteLater()
        self._session = self._sink = None
        if self._pool is not None:
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None
        self._busy.clear()

    def take(self) -> None:
        self._wanted = self._session is not None

    # --- frames ---------------------------------------------------------------------------

    def _take_frame(self, frame: QVideoFrame) -> None:
        """Gives a frame to the thread, unless that is at one; the one that is wanted always."""
        if self._pool is None or not frame.isValid() or (self._busy.is_set() and not self._wanted):
            return
        wanted, self._wanted = self._wanted, False
        self._busy.set()
        self._pool.submit(self._unpack, self._turn, QVideoFrame(frame), QSize(self.box), wanted)

    def _unpack(self, turn: int, frame: QVideoFrame, box: QSize, wanted: bool) -> None:
        """On the thread."""
        image = frame.toImage()
        with contextlib.suppress(RuntimeError):  # the window is closed
            if wanted:
                self._caught.emit(turn, image)
            if image.width() > box.width() or image.height() > box.height():
                image = image.scaled(
                    box,
                    Qt.AspectRatioMode.KeepAspectRatio,
                    Qt.TransformationMode.SmoothTransformation,
                )
            self._shown.emit(turn, image)

    def _show(self, turn: int, image: QImage) -> None:
        if turn == self._turn and self._session is not None:
            self._busy.clear()
            if not image.isNull():
                self.seen.emit(image)

    def _catch(self, turn: int, image: QImage) -> None:
        if turn != self._turn or self._session is None:
            return
        if image.isNull():
            self.stopped.emit("The picture of this camera cannot be read.")
        else:
            self.taken.emit(image)

    # --- troubles -------------------------------------------------------------------------

    def _fail(self, error: QCamera.Error, said: str) -> None:
        if error != QCamera.Error.NoError:
            self.stop()
            self.stopped.emit(said.strip() or "It gives no reason.")

    def _look_round(self) -> None:
        """A camera came or went."""
        before = self._known[self.now].id() if self.now < len(self._known) else None
        self._known = self.list_devices()
        ids = [device.id() for device in self._known]
        if before in ids:
            self.now = ids.index(before)
        elif self._session is not None:
            self.stop()
            self.stopped.emit("It was unplugged.")
        self.changed.emit()


def choose_format(formats: list[QCameraFormat]) -> QCameraFormat | None:
    """The format with most pixels, up to what a sheet keeps, that is quick enough to aim by."""

    def count(one: QCameraFormat) -> int:
        return one.resolution().width() * one.resolution().height()

    fitting = [
        one
        for one in formats
        if one.maxFrameRate() >= LEAST_FRAMES and count(one) <= MOST_KEPT_PIXELS
    ]
    return max(fitting, key=lambda one: (count(one), one.maxFrameRate()), default=None)
