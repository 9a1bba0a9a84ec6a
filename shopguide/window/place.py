"""What the places of the window have in common: a middle, and under it question, notice and bar."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QApplication, QStackedWidget, QVBoxLayout, QWidget

from shopguide.window.ask import Ask
from shopguide.window.background import Errand
from shopguide.window.bar import Bar
from shopguide.window.board import Board
from shopguide.window.keys import PRIMARY, KeyGate
from shopguide.window.notice import Notice
from shopguide.window.palette import Look

if TYPE_CHECKING:
    from shopguide.window.desk import Desk
    from shopguide.window.pictures import Pictures


class Place(QWidget):
    """One of Shelf, Lay out, Work, Sign off. Its middle goes into `middle`."""

    goes = Signal(str)
    """Asks for another place by its name: "shelf", "lay out", "work", "sign off"."""

    name = ""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.desk: Desk | None = None
        self.pictures: Pictures | None = None
        self.gate = KeyGate()
        self.errand: Errand | None = None
        self.ask = Ask(look, factor)
        self.notice = Notice(look, factor)
        self.bar = Bar(look, factor)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        front = QWidget()
        self.middle = QVBoxLayout(front)
        self.middle.setContentsMargins(0, 0, 0, 0)
        self._stack = QStackedWidget()
        self._stack.addWidget(front)
        self.board: Board | None = None
        column.addWidget(self._stack, 1)
        column.addWidget(self.ask)
        column.addWidget(self.notice)
        column.addWidget(self.bar)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.name)
        self.bar.pressed.connect(self._press_bar)
        self.bar.asked.connect(self._press_key_of_bar)
        self.ask.said.connect(lambda _: self.say())
        self.ask.left.connect(self._after_ask)
        self.ask.answered.connect(lambda _: self._after_ask())

    # A place fills these in.

    def set_desk(self, desk: Desk, pictures: Pictures) -> None:
        """Takes up a job."""
        self.desk, self.pictures = desk, pictures

    def begin(self) -> None:
        """Called each time the place comes to the front."""
        self.setFocus()
        self.gate.settle()
        self.say()

    def leave(self) -> None:
        """Called when another place comes to the front."""
        self.ask.close_ask()
        # A board may show the one from which it was opened again.
        while self.board is not None:
            self.board.close_board()

    def press(self) -> None:
        """Space, Enter, Page Down, or a click on the bar: does what the bar says."""

    def say(self) -> None:
        """Puts its words on the bar."""

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        for part in (self.ask, self.notice, self.bar):
            part.set_look(look, factor)
        if self.board is not None:
            self.board.set_look(look, factor)

    def find_line_in_use(self) -> QWidget | None:
        """The line that takes the keys, where the place is a column of lines."""
        return None

    # What every place does alike.

    def open_board(self, board: Board) -> None:
        """Lays a board over the middle until it is closed."""
        if self._stack.indexOf(board) < 0:
            self._stack.addWidget(board)
            board.closed.connect(self._end_board)
            board.said.connect(self.say_board)
        board.set_look(self._look, self._factor)
        self.notice.close_notice()
        self.board = board
        self._stack.setCurrentWidget(board)
        board.show()
        board.setFocus()
        self.say_board()

    def has_room_for(self, what: str) -> bool:
        """True where a board that was long in coming may be laid over it; else that is told.

        Never over another board: what is being done there would be lost.
        """
        if self.board is None and not self.isHidden():
            return True
        self.notice.tell(f"{what}: it is there, but something else is open.", next="Ask once more.")
        return False

    def say_board(self) -> bool:
        """Puts the board's words on the bar; False where there is no board."""
        if self.board is None:
            return False
        self.bar.say(self.board.does, self.board.after, keys=self.board.keys)
        return True

    def _end_board(self) -> None:
        self.board = None
        self._stack.setCurrentIndex(0)
        self._take_keys()
        self.say()

    def _take_keys(self) -> None:
        """The keys go to the line in use, or to the place itself."""
        self.setFocus()
        # Qt may have given the keys to the place already, when what had them was hidden.
        line = self.find_line_in_use()
        if line is not None:
            line.setFocus()

    def _press_bar(self) -> None:
        if self.ask.is_open:
            self.ask.answer()
        elif self.board is not None:
            self.board.press()
        else:
            self.press()

    def _press_key_of_bar(self, key: Qt.Key, held: Qt.KeyboardModifier) -> None:
        """A click on a key's words in the bar: that key, where the keys go now."""
        widget = QApplication.focusWidget()
        if widget is None or not self.isAncestorOf(widget):
            widget = self
        for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
            # A letter is no text here: it is never written into a field.
            QApplication.sendEvent(widget, QKeyEvent(kind, key, held))

    def show_errand(self, errand: Errand) -> None:
        """Tells how far long work is; Escape cancels it."""
        if self.errand is not None:
            # It goes on, but only the newest is told of and called off.
            self.errand.told.disconnect(self._tell_errand)
        self.errand = errand
        self.notice.tell(errand.title, next="Escape cancels")
        errand.told.connect(self._tell_errand)
        errand.failed.connect(self.notice.tell_trouble)
        errand.ended.connect(self._end_errand)

    def _tell_errand(self, what: str, done: int, of: int) -> None:
        if self.errand is not None:
            count = f"{done} of {of}" if of else ""
            self.notice.tell(self.errand.title, f"{what} {count}".strip(), "Escape cancels")

    def _end_errand(self) -> None:
        errand = self.errand
        if errand is None or not errand.is_over:
            return  # one that was shown before it has ended
        self.errand = None
        if self.notice.what == errand.title:
            self.notice.close_notice()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """A click beside everything gives the keys to the place: it hands them on."""
        super().focusInEvent(event)
        line = self.ask.taker if self.ask.is_open else self.find_line_in_use()
        if line is not None:
            line.setFocus()

    def _after_ask(self) -> None:
        if not self.ask.is_open:
            self._take_keys()
        self.say()

    def escape(self) -> None:
        """Cancels long work, else closes the notice."""
        if self.errand is not None:
            self.errand.cancel()
            self.notice.close_notice()
        else:
            self.notice.close_notice()

    def press_key(self, event: QKeyEvent) -> bool:
        """The keys that mean the same everywhere; True where the key was one of them."""
        key = Qt.Key(event.key())
        if key in PRIMARY:
            if self.gate.accept(event) and not self.ask.is_open:
                self.press()
            return True
        if key == Qt.Key.Key_Escape:
            self.escape()
            return True
        return False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self.press_key(event):
            super().keyPressEvent(event)
