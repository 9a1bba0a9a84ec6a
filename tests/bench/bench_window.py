"""The real window for the benches: opened on a sheet, driven by keys, in a home of its own."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import ratios  # sets the path and Qt's platform before Qt is imported
from PySide6.QtCore import QEventLoop, Qt, qInstallMessageHandler
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.window.app import make_app, write_qt_message
from shopguide.window.frame import Frame
from shopguide.window.large import import_large

assert ratios.CHECKOUT.is_dir()
PATIENCE_S = 120


class BenchWindow:
    """One window, and the keys a person would press."""

    def __init__(self) -> None:
        qInstallMessageHandler(write_qt_message)
        self.app: QApplication = make_app()
        self.loop = QEventLoop()
        # What the program does on a thread as soon as its window is painted.
        import_large()
        self.frame = Frame()
        self.frame.resize(1366, 768)
        self.frame.show()
        for place in self.frame.places.values():
            place.gate.dead_ms = place.gate.settle_ms = 0

    def wait(self, true: Callable[[], bool]) -> None:
        """Lets the window work until it is so."""
        until = time.monotonic() + PATIENCE_S
        while not true():
            if time.monotonic() > until:
                raise SystemExit("the window stands still")
            # Asleep until something happens, so that it takes no time from the other threads.
            self.loop.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)

    def paint(self) -> None:
        """Lets it draw what changed."""
        for _ in range(3):
            self.app.processEvents()

    def key(self, key: Qt.Key) -> None:
        """One key press."""
        QTest.keyClick(self.frame.focusWidget() or self.frame.place, key)

    def open(self, path: Path) -> None:
        """Opens a sheet or record, until it is there."""
        before = self.frame.desk
        self.frame.open_path(path)
        self.wait(lambda: self.frame.desk is not None and self.frame.desk is not before)
        self.paint()

    def go_to_work(self) -> None:
        """To the place Work, until the record is made and the work has started."""
        self.key(Qt.Key.Key_F4)
        self.wait(lambda: bool(self.frame.desk.progress.events) and not self.frame.desk.waiting)
        self.paint()

    def record(self, key: Qt.Key = Qt.Key.Key_Space) -> None:
        """A key press that records, until it is on disk and drawn."""
        before = len(self.frame.desk.progress.events)
        self.key(key)
        self.wait(lambda: len(self.frame.desk.progress.events) > before)
        self.paint()


@contextmanager
def open_bench_window() -> Iterator[BenchWindow]:
    """A window with an empty home; closed and cleaned up afterwards."""
    with tempfile.TemporaryDirectory(prefix="shopguide-bench-") as folder:
        os.environ["SHOPGUIDE_HOME"] = folder
        window = BenchWindow()
        try:
            yield window
        finally:
            window.frame.close()
            window.frame.deleteLater()
            window.paint()
