"""Pictures for the window: decoded off its thread at the size needed, kept for a while."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage, QImageReader

KEPT_BYTES = 160 * 1024 * 1024


def decode(data: bytes, box: QSize) -> tuple[QImage, QSize]:
    """The picture scaled to fit the box, upright, and its full upright size in pixels.

    A null image where the data is no picture. Safe off the window's thread.
    """
    array = QByteArray(data)
    buffer = QBuffer(array)
    buffer.open(QIODevice.OpenModeFlag.ReadOnly)
    reader = QImageReader(buffer)
    reader.setAutoTransform(True)
    stored = reader.size()
    turned = bool(reader.transformation().value & 4)  # Rotate90 is one of the flags
    full = stored.transposed() if turned else stored
    if stored.isValid() and box.isValid():
        # setScaledSize counts before the turn, so the box is turned with it.
        fit = full.scaled(box, Qt.AspectRatioMode.KeepAspectRatio)
        if fit.width() < full.width():
            reader.setScaledSize(fit.transposed() if turned else fit)
    image = reader.read()
    buffer.close()
    return image, full


class Pictures(QObject):
    """Asks for bytes by name, decodes them on a thread, and keeps the last ones."""

    ready = Signal(str)
    """The name of a picture that `get` now answers at the size asked for."""

    def __init__(self, read: Callable[[str], bytes], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._read = read
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="pictures")
        self._kept: OrderedDict[tuple[str, int, int], tuple[QImage, QSize]] = OrderedDict()
        self._asked: set[tuple[str, int, int]] = set()
        self._closed = False
        self._arrived.connect(self._take)

    _arrived = Signal(str, int, int, QImage, QSize)

    def get(self, name: str, box: QSize) -> tuple[QImage, QSize] | None:
        """The picture at this size if it is there; else None, and `ready` will tell."""
        key = (name, box.width(), box.height())
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
            return found
        self.fetch(name, box)
        return None

    @property
    def busy(self) -> bool:
        """True while a picture that was asked for is not there yet."""
        return bool(self._asked)

    def fetch(self, name: str, box: QSize) -> None:
        """Starts decoding, if that is not under way: used ahead of need for the next step."""
        key = (name, box.width(), box.height())
        if self._closed or key in self._kept or key in self._asked or box.isEmpty():
            return
        self._asked.add(key)
        self._pool.submit(self._decode, key)

    def _decode(self, key: tuple[str, int, int]) -> None:
        name, width, height = key
        try:
            image, full = decode(self._read(name), QSize(width, height))
        except Exception:  # a picture that cannot be read is shown as missing, with its name
            image, full = QImage(), QSize()
        if not self._closed:
            self._arrived.emit(name, width, height, image, full)

    def _take(self, name: str, width: int, height: int, image: QImage, full: QSize) -> None:
        key = (name, width, height)
        self._asked.discard(key)
        self._kept[key] = (image, full)
        size = sum(i.sizeInBytes() for i, _ in self._kept.values())
        while size > KEPT_BYTES and len(self._kept) > 1:
            _, (old, _) = self._kept.popitem(last=False)
            size -= old.sizeInBytes()
        self.ready.emit(name)

    def close(self) -> None:
        """Stops decoding."""
        self._closed = True
        self._pool.shutdown(wait=True, cancel_futures=True)
