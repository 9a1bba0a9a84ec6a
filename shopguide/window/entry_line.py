"""A text entry drawn as a line to write on: no frame, a hairline, ink under it while in use."""

from __future__ import annotations

from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QLineEdit

from shopguide.window.palette import Look


class EntryLine(QLineEdit):
    """A line edit without box."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.setFrame(False)
        self.setTextMargins(round(6 * factor), 0, round(6 * factor), round(4 * factor))

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.setTextMargins(round(6 * factor), 0, round(6 * factor), round(4 * factor))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        focused = self.hasFocus()
        width = (4 if focused else 1.5) * self._factor
        painter.setPen(QPen(self._look.color("ink" if focused else "soft"), width))
        y = self.height() - width / 2
        painter.drawLine(0, round(y), self.width(), round(y))
