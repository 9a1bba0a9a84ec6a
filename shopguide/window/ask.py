"""The strip above the bar where one thing is typed or confirmed: a value, a reason, a number."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QSizePolicy, QVBoxLayout, QWidget

from shopguide.errors import Trouble
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

Check = Callable[[str], str]
"""Takes what is typed; returns a line to show beside it; raises Trouble where it won't do."""


class Ask(QWidget):
    """A question with an entry. Enter answers, Escape leaves it."""

    answered = Signal(str)
    left = Signal()
    said = Signal(str)
    """What Enter would do now, for the bar."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look = look
        self._check: Check | None = None
        self._needed = False
        self._then: Callable[[str], None] | None = None
        self.does = ""
        self.question = QLabel()
        self.question.setWordWrap(True)
        self.entry = EntryLine(look, factor)
        self.entry.setMaxLength(400)
        self.entry.installEventFilter(self)
        self.told = QLabel()
        self.told.setWordWrap(True)
        self._line = QWidget()
        row = QHBoxLayout(self._line)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self.entry, 2)
        row.addWidget(self.told, 3)
        self._rows = QVBoxLayout(self)
        self._rows.addWidget(self.question)
        self._rows.addWidget(self._line)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.entry.textChanged.connect(self._look_at)
        self.set_look(look, factor)
        self.hide()

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look = look
        self.entry.set_look(look, factor)
        self.question.setFont(font_px(SIZES_PX["instruction"] * factor, "bold"))
        self.entry.setFont(font_px(SIZES_PX["instruction"] * factor))
        self.told.setFont(font_px(SIZES_PX["text"] * factor))
        self.entry.setMinimumHeight(round(52 * factor))
        pad = round(24 * factor)
        self._rows.setContentsMargins(pad, round(14 * factor), pad, round(14 * factor))
        self._rows.setSpacing(round(8 * factor))

    @property
    def is_open(self) -> bool:
        """True while a question waits for its answer."""
        return not self.isHidden()

    @property
    def taker(self) -> QWidget:
        """What takes the keys while it is open."""
        return self if self._line.isHidden() else self.entry

    def confirm(self, question: str, does: str, then: Callable[[], None]) -> None:
        """Asks for no more than a yes: Enter is one, Escape leaves it; nothing is typed."""
        self.open(question, does, lambda _: then(), needed=False)
        self._line.hide()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(question)
        self.setFocus()

    def open(
        self,
        question: str,
        does: str,
        then: Callable[[str], None],
        *,
        check: Check | None = None,
        needed: bool = True,
        text: str = "",
        hidden: bool = False,
    ) -> None:
        """Asks. does: what Enter does, for the bar ("Enter records"); then: gets the answer.

        needed: an empty answer won't do.  check: looks at the answer as it is typed;
        hidden: what is typed is not shown (a passphrase).
        """
        self._check, self._needed, self._then, self.does = check, needed, then, does
        self.question.setText(question)
        self.entry.setAccessibleName(question)
        self.entry.setEchoMode(QLineEdit.EchoMode.Password if hidden else QLineEdit.EchoMode.Normal)
        self.entry.setText(text)
        self.told.setText("" if needed or check else "may stay empty")
        self._line.show()
        # Where something is typed, only its line takes the keys.
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.show()
        self.entry.setFocus()
        self.entry.selectAll()
        self._look_at()

    def close_ask(self) -> None:
        """Puts the question away without an answer."""
        self.hide()
        self._then = None

    def _look_at(self) -> None:
        said = self.look_at(self.entry.text())
        self.told.setText(said)
        self.said.emit(self.does)

    def look_at(self, text: str) -> str:
        """The line beside the entry for this text."""
        text = text.strip()
        if not text:
            return "" if self._needed else "may stay empty"
        if self._check is None:
            return ""
        try:
            return self._check(text)
        except Trouble as trouble:
            return str(trouble)

    def answer(self) -> None:
        """Enter: answers if the text will do, else says why not."""
        text = self.entry.text().strip()
        if self._needed and not text:
            self.told.setText("Write something first. Escape leaves it.")
            return
        if text and self._check is not None:
            try:
                self._check(text)
            except Trouble as trouble:
                self.told.setText(str(trouble))
                return
        then = self._then
        self.close_ask()
        self.answered.emit(text)
        if then is not None:
            then(text)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                if not event.isAutoRepeat():
                    self.answer()
                return True
            if event.key() == Qt.Key.Key_Escape:
                self.close_ask()
                self.left.emit()
                return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """The keys of a question to which nothing is typed."""
        if not self.eventFilter(self, event):
            event.accept()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._look.color("card"))
        painter.setPen(QPen(self._look.color("ink"), 3))
        painter.drawLine(0, 1, self.width(), 1)
