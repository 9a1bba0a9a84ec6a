"""What a screen reader says by itself: a mark that is on disk, a mark taken back."""

from __future__ import annotations

from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent
from PySide6.QtWidgets import QWidget

from shopguide.work.events import Event
from shopguide.work.next_up import say_event
from shopguide.work.progress import Progress


def announce(widget: QWidget, text: str) -> None:
    """Has a screen reader say it, where one listens."""
    QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(widget, text))


def tell_event(progress: Progress, event: Event) -> str:
    """What happened, in words to be heard: "recorded: screw 7, pass 1"."""
    if event.kind == "withdrawn":
        gone = next((e for e in progress.events if e.seq == event.data["seq"]), None)
        return f"taken back: {say_event(progress, gone)}" if gone is not None else "taken back"
    return f"recorded: {say_event(progress, event)}"
