"""A board: something looked at or set up for a moment, laid over a place's middle."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from shopguide.window.palette import Look


class Board(QWidget):
    """Covers the middle of a place until `closed`; the bar below says what its keys do.

    A board fills in `does`, `after` and `keys` for the bar (emit `said` when they change), `press`
    for Space, and `take_key` for its other keys. Escape closes it.
    """

    closed = Signal()
    said = Signal()

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.does = self.after = ""
        self.keys = "Escape closes this"
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.hide()

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()

    def press(self) -> None:
        """Space, or a click on the bar."""
        self.close_board()

    def take_key(self, event: QKeyEvent) -> bool:
        """The board's own keys; True where the key was one of them."""
        return False

    def close_board(self) -> None:
        """Puts the board away."""
        self.hide()
        self.closed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key == Qt.Key.Key_Escape:
            self.close_board()
        elif key in (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if not event.isAutoRepeat():
                self.press()
        elif Qt.Key.Key_F2 <= key <= Qt.Key.Key_F12:
            event.ignore()  # the window's own keys: other places
        elif not self.take_key(event):
            # Nothing of the place below is done while a board covers it.
            event.accept()

    def paintEvent(self, event: QPaintEvent) -> None:
        QPainter(self).fillRect(self.rect(), self._look.color("ground"))
