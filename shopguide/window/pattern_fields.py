"""The panel at the right of the pattern board: what holds for the joint, or for those chosen.

A line each, laid out as the title block of a drawing. It says nothing of its own: the board puts
the texts in and takes what is typed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from PySide6.QtCore import QEvent, QObject, QSize, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QLabel,
    QLineEdit,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from shopguide.bolts.draft import HEADS, USES
from shopguide.bolts.particulars import GIVERS
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.write_choice import WriteChoice

LINE_PX = 31
MOST_LETTERS = 100_000
"""An outline of 2000 corners has room."""
SEVERAL = "several"


class FieldKind(NamedTuple):
    """One line: its key, its word, what is said while it is in use, and the words to choose from.

    half: it shares its row with the next one.
    """

    key: str
    word: str
    hint: str
    half: bool = False
    choices: tuple[str, ...] = ()


AS_JOINT = "as the joint"
NO_PHOTO = "none"
JOINT = (
    FieldKind("title", "title", "Title: what it is called on screen and paper."),
    FieldKind("name", "name", "Name: what the sheet's tasks call this pattern.", half=True),
    FieldKind("fastener_word", "called", "What one of them is called: screw, bolt, nut."),
    FieldKind("seen", "seen", "From where one looks, as: seen from below, front is left."),
    FieldKind("thread", "thread", "Thread of all that say nothing else, as M6.", half=True),
    FieldKind("length", "length", "Length of all that say nothing else, as 20 mm."),
    FieldKind("head", "head", "Head of all that say nothing else: arrow keys or a first letter.",
              half=True, choices=HEADS),
    FieldKind("drive", "drive", "Drive: what tool takes them, as 10 mm or T30."),
    FieldKind("grade", "grade", "Grade: class or grade on the head, as 8.8.", half=True),
    FieldKind("condition", "thread is", "The thread is dry, oiled, with threadlock, …"),
    FieldKind("shape", "laid out", "circle 8 120, rectangle 200 120 4 3, grid 3 2 40 30, in mm. "
              "Free points move on the drawing."),
    FieldKind("outline", "outline", "x y of each corner in mm, parted by semicolons, or a pasted "
              "table. Empty takes it away."),
    FieldKind("photo", "photo", "The arrow keys go through the sheet's photos. B takes one from a "
              "file.", choices=(NO_PHOTO,)),
    FieldKind("order_by", "order by", "Whose order it is, where one is given. T types it.",
              choices=GIVERS),
    FieldKind("order_source", "source", "Source of the order: manual, page, figure."),
    FieldKind("first", "first", "Groups tightened before the rest, parted by semicolons.",
              half=True),
    FieldKind("last", "last", "Groups tightened after the rest, parted by semicolons."),
)  # fmt: skip
"""What holds for the joint as a whole."""
CHOSEN = (
    FieldKind("number", "number", "Number, as the manual gives it.", half=True),
    FieldKind("place", "x, y", "Place: x and y in mm, as 12.5, -40."),
    FieldKind("thread", "thread", "Thread; empty is as the joint.", half=True),
    FieldKind("length", "length", "Length, as 20 mm; empty is as the joint."),
    FieldKind("head", "head", "Head: the arrow keys or a first letter choose.",
              choices=(AS_JOINT, *HEADS)),
    FieldKind("drive", "drive", "Drive: what tool takes it; empty is as the joint.", half=True),
    FieldKind("grade", "grade", "Grade on the head, as 8.8; empty is as the joint."),
    FieldKind("condition", "thread is", "The thread is dry, oiled, …; empty is as the joint."),
    FieldKind("use", "use", "Tighten, leave loose (it is not in the order and is finished later), "
              "or do not touch.", choices=USES),
    FieldKind("group", "group", "Group: those that come first or last together, as dowel screws."),
    FieldKind("note", "note", "Note: what one has to know of it at work."),
)  # fmt: skip
"""What holds for the fasteners that are chosen."""


class FieldEntry(EntryLine):
    """A line of the panel: quieter than a line that stands alone."""

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        super().set_look(look, factor)
        self.setTextMargins(round(1 * factor), 0, round(1 * factor), 0)

    def paintEvent(self, event: QPaintEvent) -> None:
        QLineEdit.paintEvent(self, event)
        _paint_foot(self, self._look, self._factor)


class FieldChoice(WriteChoice):
    """One of few words, in a line of the panel."""

    def paintEvent(self, event: QPaintEvent) -> None:
        QPainter(self).fillRect(self.rect(), self._look.color("card"))
        super().paintEvent(event)
        _paint_foot(self, self._look, self._factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()


def _paint_foot(field: QWidget, look: Look, factor: float) -> None:
    """A hairline under a line, ink while it is in use."""
    used = field.hasFocus()
    painter = QPainter(field)
    width = max(1, round((4 if used else 1) * factor))
    color = look.color("ink" if used else "hairline")
    painter.fillRect(0, field.height() - width, field.width(), width, color)


class PatternFields(QScrollArea):
    """Lines to fill in. Enter takes what is typed and goes on, Escape leaves for the board.

    takes: gets key and text, and gives False where it cannot be; the text then stays as typed.
    came: a line has come into use; its hint is handed on.
    leaves: Escape was pressed; gets what was typed and is given up, "" where nothing was.
    """

    def __init__(self, look: Look, factor: float, kinds: Sequence[FieldKind]) -> None:
        super().__init__()
        self.kinds = {kind.key: kind for kind in kinds}
        self.takes: Callable[[str, str], bool] = lambda *_: True
        self.came: Callable[[str], None] = lambda _: None
        self.leaves: Callable[[str], None] = lambda _: None
        self.texts: dict[str, str] = {}
        self.refused: dict[str, str] = {}
        """What could not be taken, by key: it stays as typed until it is put right."""
        self.fields: dict[str, FieldEntry | FieldChoice] = {}
        self._words: dict[str, QLabel] = {}
        self._sheet = QWidget()
        self._grid = QGridLayout(self._sheet)
        self._grid.setContentsMargins(0, 0, 0, 0)
        row, right = 0, False
        for kind in kinds:
            label, field = QLabel(kind.word), self._make_field(kind, look, factor)
            self.fields[kind.key], self._words[kind.key] = field, label
            field.setAccessibleName(kind.word)
            field.installEventFilter(self)
            column = 2 if right else 0
            self._grid.addWidget(label, row, column)
            self._grid.addWidget(field, row, column + 1, 1, 1 if kind.half or right else 3)
            right = kind.half and not right
            row += not right
        # x and y of a screw are long, and what stands beside them and under it is short.
        long_right = any(kind.word == "x, y" for kind in kinds)
        self._grid.setColumnStretch(1, 5 if long_right else 1)
        self._grid.setColumnStretch(3, 9 if long_right else 1)
        self.setWidget(self._sheet)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.viewport().setAutoFillBackground(False)
        self._sheet.setAutoFillBackground(False)
        self.set_look(look, factor)

    def _make_field(self, kind: FieldKind, look: Look, factor: float) -> FieldEntry | FieldChoice:
        if kind.choices:
            choice = FieldChoice(kind.choices, look, factor, px=SIZES_PX["text"], weight="regular")
            choice.kept.connect(lambda text, key=kind.key: self._take_choice(key, text))
            choice.onward.connect(self.go_on)
            return choice
        entry = FieldEntry(look, factor)
        entry.setMaxLength(MOST_LETTERS)
        return entry

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        font = font_px(SIZES_PX["text"] * factor)
        for key, field in self.fields.items():
            field.set_look(look, factor)
            field.setFont(font)
            field.setFixedHeight(round(LINE_PX * factor))
            field.setMinimumWidth(round(40 * factor))
            self._mark(key)
        self._grid.setHorizontalSpacing(round(10 * factor))
        self._grid.setVerticalSpacing(0)

    def _mark(self, key: str) -> None:
        """The word of a line; bold and with a question mark while its text could not be taken."""
        refused, label = key in self.refused, self._words[key]
        label.setText(self.kinds[key].word + (" ?" if refused else ""))
        label.setFont(font_px(SIZES_PX["text"] * self._factor, "bold" if refused else "regular"))
        palette = label.palette()
        palette.setColor(label.foregroundRole(), self._look.color("ink" if refused else "soft"))
        label.setPalette(palette)

    def sizeHint(self) -> QSize:
        return self._sheet.sizeHint()

    def minimumSizeHint(self) -> QSize:
        return QSize(self._sheet.minimumSizeHint().width(), round(3 * LINE_PX * self._factor))

    # --- texts ----------------------------------------------------------------------------

    def show_texts(
        self, texts: Mapping[str, str], behind: Mapping[str, str], shut: Sequence[str] = ()
    ) -> None:
        """What each line says; behind: what is said where it is empty; shut: cannot be changed."""
        for key, field in self.fields.items():
            text = texts.get(key, "")
            self.texts[key] = text
            field.setEnabled(key not in shut)
            if isinstance(field, FieldChoice):
                field.set_text(text or behind.get(key, ""))
                continue
            field.setPlaceholderText(behind.get(key, ""))
            if field.hasFocus() or key in self.refused:
                continue
            if field.text() != text:
                field.setText(text)
            field.setCursorPosition(0)

    def set_choices(self, key: str, choices: Sequence[str]) -> None:
        """Other words to choose from."""
        field = self.fields[key]
        if isinstance(field, FieldChoice):
            field.choices = tuple(choices)

    def forget_refused(self) -> None:
        """What could not be taken is given up."""
        for key in tuple(self.refused):
            del self.refused[key]
            self._mark(key)

    def _take_choice(self, key: str, text: str) -> None:
        self.takes(key, text)

    def take(self, key: str) -> bool:
        """Hands on what is typed in a line; False where it could not be taken."""
        field = self.fields[key]
        if isinstance(field, FieldChoice):
            return True
        text = field.text()
        # Until it is taken it must not be written over.
        self.refused[key] = text
        taken = text.strip() == self.texts.get(key, "").strip() or self.takes(key, text)
        if taken:
            self.refused.pop(key, None)
            shown = self.texts.get(key, "")
            if not field.hasFocus() and field.text() != shown:
                field.setText(shown)
        self._mark(key)
        return taken

    # --- keys -----------------------------------------------------------------------------

    @property
    def in_use(self) -> str:
        """The key of the line that has the keys; "" where none has."""
        return next((key for key, field in self.fields.items() if field.hasFocus()), "")

    def go_to(self, key: str) -> None:
        """Brings a line into use."""
        field = self.fields[key]
        self.ensureWidgetVisible(field, 0, round(LINE_PX * self._factor))
        field.setFocus(Qt.FocusReason.TabFocusReason)
        if isinstance(field, EntryLine):
            field.selectAll()

    def go_on(self, step: int) -> None:
        """The next line that can be changed, or the one before."""
        keys = [key for key, field in self.fields.items() if field.isEnabled()]
        used = self.in_use
        if keys:
            at = keys.index(used) + step if used in keys else 0
            self.go_to(keys[at % len(keys)])

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        key = next((k for k, field in self.fields.items() if field is watched), "")
        kind = event.type()
        if not key:
            return super().eventFilter(watched, event)
        if kind == QEvent.Type.FocusIn:
            self.came(self.kinds[key].hint)
        elif kind == QEvent.Type.FocusOut:
            self.take(key)
        elif kind == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            pressed = event.key()
            if pressed == Qt.Key.Key_Escape:
                self._leave(key)
                return True
            if isinstance(watched, EntryLine):
                if pressed in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                    if self.take(key):
                        self.go_on(1)
                    return True
                if pressed in (Qt.Key.Key_Up, Qt.Key.Key_Down):
                    self.go_on(1 if pressed == Qt.Key.Key_Down else -1)
                    return True
        return super().eventFilter(watched, event)

    def _leave(self, key: str) -> None:
        """Escape: what is typed and not yet taken is given up."""
        field = self.fields[key]
        self.refused.pop(key, None)
        self._mark(key)
        given_up = ""
        if isinstance(field, EntryLine):
            kept = self.texts.get(key, "")
            given_up = field.text() if field.text().strip() != kept.strip() else ""
            field.setText(kept)
        self.leaves(given_up)
