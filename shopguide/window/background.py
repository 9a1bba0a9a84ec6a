"""Long work off the window's thread: with progress in words, cancel, and one way to fail."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from PySide6.QtCore import QObject, Signal

from shopguide.errors import Trouble

log = logging.getLogger(__name__)


class Errand(QObject):
    """One piece of long work. Its signals arrive in the window's thread; after `ended` it is gone.

    With it goes what is connected to it, and whatever large that holds on to.
    """

    told = Signal(str, int, int)
    """Progress: what is being done, how many are done, of how many (0 if not known)."""
    done = Signal(object)
    """What came of it; nothing once a cancel was asked for, even where all was done by then."""
    failed = Signal(object)
    """A Trouble. Anything else that went wrong is logged and told as a Trouble too."""
    ended = Signal()
    """After done, failed or a cancel, always."""

    _arrived = Signal(object, object)

    def __init__(self, title: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.title = title
        self._cancel = threading.Event()
        self._over = threading.Event()
        # By way of the window's thread, where the cancel comes from: it is never overtaken.
        self._arrived.connect(self._hand_over)

    def _hand_over(self, result: Any, trouble: Trouble | None) -> None:
        if not self.is_cancelled():
            if trouble is None:
                self.done.emit(result)
            else:
                self.failed.emit(trouble)
        self.ended.emit()
        self.deleteLater()

    def end(self, result: Any = None, trouble: Trouble | None = None) -> None:
        """Called when the work is over, by whoever runs it."""
        self._over.set()
        self._arrived.emit(result, trouble)

    def cancel(self) -> None:
        """Asks the work to stop; it ends without `done`."""
        self._cancel.set()

    def is_cancelled(self) -> bool:
        """True once a cancel was asked for; the work looks at this now and then."""
        return self._cancel.is_set()

    def tell(self, what: str, done: int = 0, of: int = 0) -> None:
        """Called by the work to say how far it is."""
        self.told.emit(what, done, of)

    @property
    def is_over(self) -> bool:
        """True once the work is over; `ended` may still be on its way."""
        return self._over.is_set()

    def wait(self, seconds: float = 30.0) -> bool:
        """Waits until the work is over (for closing and for tests); True if it is."""
        return self._over.wait(seconds)


class Runner:
    """Runs errands on a few threads that end with the window."""

    def __init__(self, threads: int = 2) -> None:
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="errand")
        self._errands: list[Errand] = []

    def run(self, errand: Errand, work: Callable[[Errand], Any]) -> Errand:
        """Starts the work; `work` gets the errand, to tell progress and look for a cancel."""
        self._errands.append(errand)
        errand.ended.connect(lambda: self._forget(errand))
        self._pool.submit(self._go, errand, work)
        return errand

    def _go(self, errand: Errand, work: Callable[[Errand], Any]) -> None:
        result, failed = None, None
        try:
            result = work(errand)
        except Trouble as trouble:
            failed = trouble
        except Exception:
            log.exception("%s", errand.title)
            failed = Trouble(
                f"{errand.title} did not work.",
                next="Try again. What happened is in the log file.",
            )
        errand.end(result, failed)

    def _forget(self, errand: Errand) -> None:
        if errand in self._errands:
            self._errands.remove(errand)

    def close(self) -> None:
        """Cancels what runs and waits for the threads."""
        for errand in list(self._errands):
            errand.cancel()
        self._pool.shutdown(wait=True, cancel_futures=True)
