"""A camera as the window sees it: pictures to look at while it runs, and one when it is asked for.

Qt's part for cameras is large and wants a sound library from the system; it is loaded when a
camera is asked for, and not before.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable

from PySide6.QtCore import (
    QCoreApplication,
    QDir,
    QLibraryInfo,
    QLoggingCategory,
    QObject,
    QPluginLoader,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QImage

from shopguide.errors import Trouble
from shopguide.window.large import import_alone

INSTEAD = (
    "take the pictures with a telephone or another camera, copy them here, and add them with "
    "Enter, or a whole folder with Shift Enter."
)
PACKAGES = {"libpulse.so.0": "libpulse0"}
"""The Debian package of what Qt's part for cameras wants from the system."""
QUIET = "qt.multimedia.symbolsresolver*=false\nqt.multimedia.ffmpeg*.info=false"
"""Remarks about sound and video libraries that a still picture does not need."""


class Camera(QObject):
    """One of the cameras of this machine at a time. All of it is for the window's thread."""

    seen = Signal(QImage)
    """What it sees now, no larger than `box`."""
    taken = Signal(QImage)
    """The picture that was asked for, in full."""
    stopped = Signal(str)
    """It stopped by itself, and why."""
    changed = Signal()
    """A camera was connected or unplugged: `names` are others."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.now = 0
        self.box = QSize(1280, 720)

    @property
    def names(self) -> tuple[str, ...]:
        """The cameras there are, as the system calls them."""
        return ()

    def start(self, index: int = 0) -> None:
        """Starts one of them, and stops the one before."""

    def take(self) -> None:
        """Asks for the picture that it sees next; `taken` brings it."""

    def stop(self) -> None:
        """Lets the camera go."""


def load() -> None:
    """Loads Qt's part for cameras; for a thread, as it takes a while. Raises Trouble."""
    QLoggingCategory.setFilterRules(QUIET)
    try:
        import_alone("PySide6.QtMultimedia")
        import_alone("shopguide.window.qt_camera")
    except ImportError as fault:
        raise tell_missing(fault) from None
    # Its largest part is a plug-in that would be loaded at the first question.
    folder = QDir(QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath) + "/multimedia")
    for name in folder.entryList(QDir.Filter.Files):
        QPluginLoader(folder.filePath(name)).load()


def tell_missing(fault: ImportError) -> Trouble:
    """The line for a machine on which Qt's part for cameras cannot be loaded."""
    library = re.match(r"(lib[\w.+-]+?\.so[\d.]*): cannot open", str(fault))
    if library is not None:
        name = library[1]
        package = PACKAGES.get(name, "")
        what = f"The camera cannot be used: this machine lacks the library {name}."
        then = f"Install {package or 'it'} and start again; or {INSTEAD}"
    elif isinstance(fault, ModuleNotFoundError):
        what = "The camera cannot be used: Qt's part for cameras is not installed."
        then = f'Run "pip install PySide6-Addons" and start again; or {INSTEAD}'
    else:
        what = "The camera cannot be used: Qt's part for cameras cannot be loaded."
        then = f"{INSTEAD[:1].upper()}{INSTEAD[1:]}"
    return Trouble(what, next=then)


def tell_none() -> Trouble:
    """The line for a machine without a camera."""
    return Trouble("No camera is connected.", next=f"Connect one and press C again; or {INSTEAD}")


def tell_refused() -> Trouble:
    """The line for a machine whose owner, or whose system, says no."""
    place = {
        "darwin": "System Settings, Privacy & Security, Camera",
        "win32": "Settings, Privacy & security, Camera",
    }.get(sys.platform, "the system's settings")
    return Trouble(
        "This program is not allowed to use the camera.",
        next=f"Allow it in {place} and press C again; or {INSTEAD}",
    )


def ask_permission(context: QObject, answer: Callable[[bool], None]) -> None:
    """Asks the system whether the camera may be used; at once where it has no such question."""
    from PySide6.QtCore import QCameraPermission

    app, wish = QCoreApplication.instance(), QCameraPermission()
    assert app is not None
    status = app.checkPermission(wish)
    if status == Qt.PermissionStatus.Undetermined:
        granted = Qt.PermissionStatus.Granted
        app.requestPermission(wish, context, lambda given: answer(given.status() == granted))
    else:
        answer(status == Qt.PermissionStatus.Granted)


def make_camera() -> Camera:
    """The cameras of this machine, once `load` has run."""
    from shopguide.window.qt_camera import QtCamera

    return QtCamera()
