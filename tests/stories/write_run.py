"""A process that opens a sheet in Write and types without a pause until it is killed."""

from __future__ import annotations

import sys
from pathlib import Path

from PySide6.QtCore import QEventLoop, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.window import write_desk, write_text
from shopguide.window.app import make_app
from shopguide.window.frame import Frame

# A test has less patience than a mechanic; what happens is the same.
write_text.LONGEST_MS, write_desk.ASIDE_MS = 200, 100


def wait(ms: int) -> None:
    loop = QEventLoop()
    QTimer.singleShot(ms, loop.quit)
    loop.exec()


def run(sheet: Path) -> None:
    make_app()
    frame = Frame()
    frame.resize(1366, 768)
    frame.show()
    frame.opening.open_sheet(sheet)
    while frame.place.name != "write":
        wait(20)
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
    while True:
        QTest.keyClicks(QApplication.focusWidget(), "x")
        wait(20)


run(Path(sys.argv[1]))
