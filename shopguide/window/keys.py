"""Keys and pedals: which press counts. A leaned-on pedal must not record a row of screws."""

from __future__ import annotations

import time

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

DEAD_MS = 250
"""A second press of the same key within this time does not count (a bouncing pedal)."""
SETTLE_MS = 300
"""After a step changes or the window comes to the front, nothing is recorded for this long."""

PRIMARY = frozenset({Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_PageDown})


class KeyGate:
    """Lets a key press through, or not. Times in milliseconds of a clock that never goes back."""

    def __init__(self, dead_ms: int = DEAD_MS, settle_ms: int = SETTLE_MS) -> None:
        self.dead_ms = dead_ms
        self.settle_ms = settle_ms
        self._last_key: int | None = None
        self._last_ms = -1e9
        self._settled_ms = -1e9

    def settle(self, now_ms: float | None = None) -> None:
        """What the person sees has just changed: the next presses may be meant for before."""
        self._settled_ms = (_now_ms() if now_ms is None else now_ms) + self.settle_ms

    def accept(self, event: QKeyEvent, now_ms: float | None = None) -> bool:
        """True where this press counts."""
        if event.isAutoRepeat():
            return False
        return self.accept_press(int(event.key()), now_ms)

    def accept_press(self, key: int, now_ms: float | None = None) -> bool:
        """The same for a press that does not come from a keyboard."""
        now = _now_ms() if now_ms is None else now_ms
        if now < self._settled_ms:
            return False
        if key == self._last_key and now - self._last_ms < self.dead_ms:
            return False
        self._last_key, self._last_ms = key, now
        return True


def _now_ms() -> float:
    return time.monotonic() * 1000
