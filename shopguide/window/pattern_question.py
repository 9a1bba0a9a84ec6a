"""What a tool of the pattern board asks for in words: answered in one line, read as it is typed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.errors import Trouble
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look


@dataclass(frozen=True, slots=True)
class Question:
    """read: gives what is to be told, or raises Trouble while the text is not good yet."""

    wanted: str
    read: Callable[[str], object]
    take: Callable[[str], None]


class PatternQuestion(QWidget):
    """What is asked and the line for the answer; hidden while nothing is asked.

    tells: gets what there is to say of what is typed.  leaves: Escape was pressed.  ends: the
    answer was taken or the question given up, just before the line is hidden.
    """

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self.asked: Question | None = None
        self.tells: Callable[[str], None] = lambda _: None
        self.leaves: Callable[[], None] = lambda: None
        self.ends: Callable[[], None] = lambda: None
        self.wanted, self.entry = QLabel(), EntryLine(look, factor)
        self.wanted.setWordWrap(True)
        self.wanted.setTextFormat(Qt.TextFormat.PlainText)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.wanted)
        column.addWidget(self.entry)
        self.entry.installEventFilter(self)
        self.entry.textChanged.connect(lambda _: self._read())
        self.set_look(look, factor)
        self.hide()

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.entry.set_look(look, factor)
        self.entry.setFont(font_px(SIZES_PX["text"] * factor))
        self.entry.setFixedHeight(round(42 * factor))
        self.wanted.setFont(font_px(SIZES_PX["text"] * factor, "bold"))

    def ask(
        self, wanted: str, read: Callable[[str], object], take: Callable[[str], None],
        text: str = "",
    ) -> None:  # fmt: skip
        """Asks; `take` gets the answer as soon as `read` has nothing against it."""
        self.asked = Question(wanted, read, take)
        self.wanted.setText(wanted)
        self.entry.setAccessibleName(wanted)
        self.entry.setText(text)
        self.show()
        self.entry.setFocus()
        self.entry.selectAll()
        self._read()

    def close_question(self) -> None:
        """Nothing is asked any more."""
        # The focus goes first: hiding the line that has it would press Tab.
        self.ends()
        self.asked = None
        self.hide()

    def _read(self) -> None:
        """Reads what is being typed, and says at once what is missing in it."""
        if self.asked is None:
            return
        try:
            found = self.asked.read(self.entry.text())
        except Trouble as trouble:
            # Before anything is typed nothing is wrong: only what to write is told.
            bare = not self.entry.text().strip() and trouble.next
            self.tells(trouble.next if bare else str(trouble))
        else:
            self.tells(found if isinstance(found, str) else "Enter takes it.")

    def answer(self) -> None:
        """Takes what is typed, or says why it cannot be taken."""
        asked, text = self.asked, self.entry.text()
        if asked is None:
            return
        try:
            asked.read(text)
            self.close_question()
            asked.take(text)
        except Trouble as trouble:
            if self.asked is None:
                self.ask(asked.wanted, asked.read, asked.take, text)
            self.tells(str(trouble))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.answer()
                return True
            if event.key() == Qt.Key.Key_Escape:
                self.leaves()
                return True
        return super().eventFilter(watched, event)
