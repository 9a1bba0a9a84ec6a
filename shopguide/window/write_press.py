"""A click on the bar of Write: does what the bar says, where the keys go now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication

from shopguide.window.write_choice import WriteChoice
from shopguide.window.write_text import WriteText

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


def press_in_use(place: WritePlace) -> bool:
    """Enter for the field, line, cell or finding in use; False where the list has the keys.

    Where Enter would begin a new line the click goes on, and of a choice it takes the next word.
    """
    widget = QApplication.focusWidget()
    if widget is None or not any(
        part is widget or part.isAncestorOf(widget)
        for part in (place.card, place.table, place.findings)
    ):
        return False
    if isinstance(widget, WriteChoice):
        widget.choose(1)
    elif isinstance(widget, WriteText) and widget.lines:
        widget.keep()
        place.card.move_on(1)
    else:
        key = Qt.Key.Key_Return
        enter = QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, "\r")
        QApplication.sendEvent(widget, enter)
    return True
