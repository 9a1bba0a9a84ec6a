"""Pictures for the window: decoded off its thread at the size needed, kept for a while.

What is looked at comes before what is only about to be; of that the last asked for is kept.
"""

from __future__ import annotations

import contextlib
import threading
from collections import OrderedDict, deque
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QObject, QSize, Qt, Signal
from PySide6.QtGui import QImage, QImageReader

from shopguide.errors import Trouble

KEPT_BYTES = 160 * 1024 * 1024
MOST_WAITING = 8
"""So many pictures wait to be decoded; who leafs on quickly does not wait for those passed by."""
THREADS = 2
"""One may be at a picture that is no longer wanted: the other takes the one that is."""

Key = tuple[str, int, int]
"""Name, width and height of the box in pixels."""


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
        self._pool = ThreadPoolExecutor(THREADS, thread_name_prefix="pictures")
        self._kept: OrderedDict[Key, tuple[QImage, QSize]] = OrderedDict()
        self._asked: set[Key] = set()
        self._now: deque[Key] = deque()
        self._soon: deque[Key] = deque()
        self._urgent = 0
        self._turn = threading.Lock()
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
        self._ask(key, now=True)
        return None

    @property
    def busy(self) -> bool:
        """True while a picture that was asked for is not there yet."""
        return bool(self._asked)

    def fetch(self, name: str, box: QSize) -> None:
        """Starts decoding, if that is not under way: used ahead of need for the next step."""
        self._ask((name, box.width(), box.height()), now=False)

    def _ask(self, key: Key, now: bool) -> None:
        if self._closed or key in self._kept or min(key[1:]) <= 0:
            return
        with self._turn:
            if now and key in self._soon:
                self._soon.remove(key)
            elif key in self._asked:
                return
            self._asked.add(key)
            queue = self._now if now else self._soon
            queue.append(key)
            if len(queue) > MOST_WAITING:
                self._asked.discard(queue.popleft())
        self._pool.submit(self._work)

    def _work(self) -> None:
        """On a thread: decodes one of those that wait, the one asked for last if it is looked at.

        What is only about to be looked at waits until nobody waits for a picture: both at once
        would each take twice as long.
        """
        with self._turn:
            urgent = bool(self._now)
            if urgent:
                key = self._now.pop()
                self._urgent += 1
            elif self._soon and not self._urgent:
                key = self._soon.popleft()
            else:
                return
        self._decode(key)
        with self._turn:
            self._urgent -= urgent
            more = bool(self._now or self._soon) and not self._closed
        if more:
            with contextlib.suppress(RuntimeError):  # closed just now
                self._pool.submit(self._work)

    def _decode(self, key: Key) -> None:
        name, width, height = key
        try:
            image, full = decode(self._read(name), QSize(width, height))
        except Exception:  # a picture that cannot be read is shown as missing, with its name
            image, full = QImage(), QSize()
        if not self._closed:
            self._arrived.emit(name, width, height, image, full)

    def _take(self, name: str, width: int, height: int, image: QImage, full: QSize) -> None:
        key = (name, width, height)
        if self._closed:
            return
        with self._turn:
            self._asked.discard(key)
        self._kept[key] = (image, full)
        size = sum(i.sizeInBytes() for i, _ in self._kept.values())
        while size > KEPT_BYTES and len(self._kept) > 1:
            _, (old, _) = self._kept.popitem(last=False)
            size -= old.sizeInBytes()
        self.ready.emit(name)

    def close(self) -> None:
        """Stops decoding, and lets the pictures and their sheet go: views may hold on to this."""
        self._closed = True
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._kept.clear()
        self._asked.clear()
        self._read = _read_nothing


def _read_nothing(name: str) -> bytes:
    raise Trouble(f"{name} is not there any more.", next="Open the sheet again.")
