"""Starting the window: Qt, fonts and colours, the log file, and what happens to a fault."""

from __future__ import annotations

import logging
import os
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Any

from PySide6.QtCore import (
    QEvent,
    QMessageLogContext,
    QObject,
    QTimer,
    QtMsgType,
    Signal,
    qInstallMessageHandler,
)
from PySide6.QtWidgets import QApplication

from shopguide import __version__
from shopguide.window.frame import Frame
from shopguide.window.large import import_large
from shopguide.window.lettering import load_fonts
from shopguide.window.log_book import keep_log, log

SMALL_WIDTH_PX, SMALL_HEIGHT_PX = 1500, 900
"""A screen with less room than this is filled by the window."""
LEAST_WIDTH_PX, LEAST_HEIGHT_PX = 1366, 768

qt_log = logging.getLogger("shopguide.qt")
_NO_SCREEN = "This plugin does not support"
"""So begins what Qt says, at every turn, where it draws without a screen."""
_LEVELS = {
    QtMsgType.QtDebugMsg: logging.DEBUG,
    QtMsgType.QtInfoMsg: logging.INFO,
    QtMsgType.QtWarningMsg: logging.WARNING,
    QtMsgType.QtCriticalMsg: logging.ERROR,
    QtMsgType.QtFatalMsg: logging.CRITICAL,
}


def make_app() -> QApplication:
    """The application with the project's fonts and style; the one there is, where there is one."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        choose_platform()
        app = QApplication([sys.argv[0]])
    app.setApplicationName("shopguide")
    app.setApplicationDisplayName("shopguide")
    app.setApplicationVersion(__version__)
    app.setDesktopFileName("shopguide")
    app.setStyle("Fusion")
    load_fonts()
    return app


def choose_platform() -> None:
    """Where Linux has no screen, Qt draws without one instead of ending the program."""
    if sys.platform in ("win32", "darwin"):
        return
    if not any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY")):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")


def open_window(path: Path | None = None) -> int:
    """Open the window, with a sheet or record in it; returns the exit code when it is closed."""
    log_path = keep_log()
    log.info("shopguide %s starts", __version__)
    app = make_app()
    # Every event is on disk before it is shown, so a break in the terminal loses nothing.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    faults = FaultCatcher(log_path)
    faults.catch()
    frame = Frame()
    faults.met.connect(lambda what, where, then: frame.place.notice.tell(what, where, then))
    first = FirstPaint(frame)
    # What costs time waits until there is something to see.
    first.painted.connect(prepare_units)
    if path is not None:
        first.painted.connect(lambda: frame.open_path(path.absolute()))
    show_frame(frame)
    try:
        return int(app.exec())
    finally:
        faults.let_go()


def show_frame(frame: Frame) -> None:
    """Show the frame at a sensible size: over all of a small screen, in the middle of a large."""
    screen = frame.screen()
    room = screen.availableGeometry()
    if room.width() <= SMALL_WIDTH_PX or room.height() <= SMALL_HEIGHT_PX:
        frame.resize(min(LEAST_WIDTH_PX, room.width()), min(LEAST_HEIGHT_PX, room.height()))
        frame.showMaximized()
        return
    width = max(LEAST_WIDTH_PX, round(room.width() * 0.8))
    height = max(LEAST_HEIGHT_PX, round(room.height() * 0.85))
    frame.resize(width, height)
    frame.move(
        room.left() + (room.width() - width) // 2, room.top() + (room.height() - height) // 2
    )
    frame.show()


def prepare_units() -> None:
    """Import on a thread what a job needs, pint included: the first one is then there at once."""
    threading.Thread(target=import_large, name="large parts", daemon=True).start()


class FirstPaint(QObject):
    """Tells, once, that a widget has been painted for the first time."""

    painted = Signal()

    def __init__(self, widget: Any) -> None:
        super().__init__(widget)
        self._widget = widget
        widget.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Paint:
            self._widget.removeEventFilter(self)
            # After this paint and those of its children, not in the middle of them.
            QTimer.singleShot(0, self.painted.emit)
        return False


class FaultCatcher(QObject):
    """Takes every fault nobody expected: the log file gets the traceback, the person a sentence."""

    met = Signal(str, str, str)
    """What happened, where to read of it, what to do next; sent in the window's thread."""

    def __init__(self, log_path: Path | None) -> None:
        super().__init__()
        self._where = str(log_path) if log_path is not None else ""
        self._before: tuple[Callable[..., Any], Callable[..., Any], Any] | None = None

    def catch(self) -> None:
        """Begin to take faults from Python, its threads, and Qt."""
        if self._before is None:
            before_qt = qInstallMessageHandler(write_qt_message)
            self._before = (sys.excepthook, threading.excepthook, before_qt)
            sys.excepthook = self.take
            threading.excepthook = self.take_from_thread

    def let_go(self) -> None:
        """Leave faults to whoever took them before."""
        if self._before is not None:
            sys.excepthook, threading.excepthook, before_qt = self._before
            qInstallMessageHandler(before_qt)
            self._before = None

    def take(
        self, kind: type[BaseException], fault: BaseException, trace: TracebackType | None
    ) -> None:
        """Log a fault and tell of it in one sentence."""
        if issubclass(kind, KeyboardInterrupt):
            return
        log.error("unexpected, in the window", exc_info=(kind, fault, trace))
        where = f"The details are in {self._where}" if self._where else ""
        self.met.emit(
            "The program met a fault of its own. What was shown as recorded is on disk.",
            where,
            "Go on. If it comes again, close the window and open the record anew.",
        )

    def take_from_thread(self, given: threading.ExceptHookArgs) -> None:
        """The same for a fault in another thread."""
        if given.exc_value is not None:
            self.take(given.exc_type, given.exc_value, given.exc_traceback)


def write_qt_message(kind: QtMsgType, context: QMessageLogContext, text: str) -> None:
    """What Qt has to say goes to the log file."""
    if text.startswith(_NO_SCREEN):
        kind = QtMsgType.QtDebugMsg
    qt_log.log(_LEVELS.get(kind, logging.WARNING), "%s", text)
