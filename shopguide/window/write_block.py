"""Blocks of the card being written: a task, a caution; each unfolds while in use."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from shopguide.job.model import Caution
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList, read_piece
from shopguide.window.caution_panel import CautionPanel
from shopguide.window.lettering import font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.write_fields import (
    CAUTION_FIELDS,
    KINDS,
    OWN_PASSES,
    TASK_FIELDS,
    Field,
)
from shopguide.window.write_line import WriteLine
from shopguide.window.write_passes import OWN, write_passes
from shopguide.window.write_text import WriteText

Tell = Callable[[Field, str], str]
Names = Callable[[str], Sequence[str]]
KIND_FIELD = Field("kind", "Kind", form="choice", choices=tuple(KINDS))


def list_task_fields(task: FixedDict) -> tuple[Field, ...]:
    """What there is to fill in for a task as it stands; what holds something is always shown."""
    found: list[Field] = []
    for field in TASK_FIELDS.get(show_value(task.get("kind")), TASK_FIELDS["confirm"]):
        one_fastener = field.key in ("fastener", "thread", "grade", "condition")
        if one_fastener and task.get("pattern") and not task.get(field.key):
            continue  # of a pattern these stand in the pattern
        if field.key == "pattern" and task.get("fastener") and not task.get("pattern"):
            continue
        found.append(field)
        if field.key == "passes" and isinstance(task.get("passes"), FixedList):
            found.append(OWN_PASSES)
    return tuple(found)


def show_value(value: Any) -> str:
    """A value of the sheet as it is shown in a field."""
    if value is None:
        return ""
    if value is True or value is False:
        return "yes" if value else "no"
    if isinstance(value, FixedList):
        return "\n".join(show_value(held) for held in value)
    return str(value)


class WriteBlock(QWidget):
    """One entry of a step. `asked` wants something done with it: "move up", "remove", "add" …"""

    asked = Signal(object, str)
    kept = Signal(object, str)
    came = Signal()
    onward = Signal(int)

    def __init__(
        self, path: Path, look: Look, factor: float, tell: Tell | None, names: Names | None
    ) -> None:
        super().__init__()
        self.path = path
        self._look, self._factor = look, factor
        self._tell, self._names = tell, names
        self.lines: list[WriteLine] = []
        self._later: tuple[Field, ...] = ()
        self._entry, self._told = FixedDict(), dict[Path, str]()
        self.unfolded = False
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, round(3 * factor), 0, round(3 * factor))
        self.column.setSpacing(0)
        self.fields = QWidget()
        self._fields = QVBoxLayout(self.fields)
        self._fields.setContentsMargins(round(28 * factor), 0, 0, round(6 * factor))
        self._fields.setSpacing(0)

    def add_lines(self, fields: Sequence[Field]) -> None:
        """Puts these fields into the part that unfolds."""
        for field in fields:
            line = WriteLine(
                field,
                (*self.path, field.key),
                self._look,
                self._factor,
                self._tell,
                self._names,
            )
            line.kept.connect(self.kept)
            line.came.connect(self.came)
            line.onward.connect(self.onward)
            self.lines.append(line)
            self._fields.addWidget(line)

    def add_lines_later(self, fields: Sequence[Field]) -> None:
        """Puts these fields there when it unfolds first: most of a card is only looked at."""
        self._later = tuple(fields)

    def _add_later(self, before: QWidget) -> None:
        """Makes what waits; Tab goes there from `before`."""
        if not self._later:
            return
        fields, self._later = self._later, ()
        self.add_lines(fields)
        for line in self.lines:
            QWidget.setTabOrder(before, line.entry)
            before = line.entry
        self._show_lines()
        self._mark_lines()

    def show_entry(self, entry: FixedDict) -> None:
        """Shows what the sheet holds."""
        self._entry = entry
        self._show_lines()

    def _show_lines(self) -> None:
        entry = self._entry
        for line in self.lines:
            value = entry.get(line.field.key)
            if line.field.form == "passes":
                line.set_text(write_passes(value))
            elif line.field.key == "passes":
                own = isinstance(value, FixedList)
                line.set_text(OWN if own else show_value(value) or "torque")
            else:
                line.set_text(show_value(value))

    def list_entries(self) -> list[QWidget]:
        """Everything in it that takes the keys now, in sequence."""
        return [line.entry for line in self.lines] if self.unfolded else []

    def unfold(self, unfolded: bool) -> None:
        """Shows its fields, or only what Work will show."""
        self.unfolded = unfolded
        self.fields.setVisible(unfolded)
        self.update()

    def mark(self, told: dict[Path, str]) -> bool:
        """Marks what cannot be read; True where something in it is marked."""
        self._told = told
        self._mark_lines()
        paths = [line.path for line in self.lines]
        paths += [(*self.path, field.key) for field in self._later]
        return self.path in told or any(told.get(path) for path in paths)

    def _mark_lines(self) -> None:
        for line in self.lines:
            line.set_trouble(self._told.get(line.path, ""))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, held = event.key(), event.modifiers()
        alt = bool(held & Qt.KeyboardModifier.AltModifier)
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        wish = ""
        if alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            wish = "move up" if key == Qt.Key.Key_Up else "move down"
        elif control and key == Qt.Key.Key_Delete:
            wish = "remove"
        elif control and key == Qt.Key.Key_D:
            wish = "duplicate"
        elif control and key == Qt.Key.Key_J:
            wish = "join"
        elif control and key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            wish = "split"
        elif key == Qt.Key.Key_Insert:
            wish = "add"
        if wish:
            self.asked.emit(self.path, wish)
        else:
            event.ignore()


class TaskBlock(WriteBlock):
    """A task as Work shows it, and under it, while in use, what its kind asks for."""

    def __init__(
        self,
        path: Path,
        kind: str,
        fields: Sequence[Field],
        look: Look,
        factor: float,
        tell: Tell,
        names: Names,
        sum_up: Callable[[FixedDict], str],
    ) -> None:
        super().__init__(path, look, factor, tell, names)
        f = factor
        self.kind, self._sum_up = kind, sum_up
        self._marked = False
        self.text = WriteText(look, f, px=20, breaks=True)
        self.text.setAccessibleName(f"Task {int(path[-1]) + 1}")
        self.text.setPlaceholderText("what is to be done, in one sentence")
        self.text.kept.connect(lambda text: self.kept.emit((*path, "text"), text))
        self.text.came.connect(self.came)
        self.text.onward.connect(self.onward)
        self.trouble = _make_label(look, f, 18)
        self.summary = _make_label(look, f, 18)
        head = QVBoxLayout()
        head.setContentsMargins(round(37 * f), 0, 0, 0)
        head.setSpacing(0)
        for part in (self.text, self.trouble, self.summary):
            head.addWidget(part)
        self.column.addLayout(head)
        self.column.addWidget(self.fields)
        self.trouble.hide()
        self.add_lines_later((KIND_FIELD, *fields))
        self.unfold(False)

    def show_entry(self, entry: FixedDict) -> None:
        super().show_entry(entry)
        if not self.text.is_pending:
            self.text.set_text(show_value(entry.get("text")))
        said = self._sum_up(entry)
        self.summary.setText(let_break(said))
        self.summary.setVisible(bool(said) and not self.unfolded)

    def list_entries(self) -> list[QWidget]:
        return [self.text, *super().list_entries()]

    def unfold(self, unfolded: bool) -> None:
        if unfolded:
            self._add_later(self.text)
        super().unfold(unfolded)
        self.summary.setVisible(not unfolded and bool(self.summary.text()))

    def mark(self, told: dict[Path, str]) -> bool:
        marked = super().mark(told)
        said = " ".join(told[p] for p in ((*self.path, "text"), self.path) if p in told)
        if said != self.trouble.text():
            self.trouble.setText(let_break(said))
            self.trouble.setVisible(bool(said))
        self._marked = marked or bool(said)
        self.update()
        return self._marked

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        if self.unfolded:
            painter.fillRect(QRectF(0, 0, 4 * f, self.height()), look.color("ink"))
        y = self.text.y() + 18 * f
        painter.setPen(QPen(look.color("soft"), 1.6 * f))
        painter.drawRect(QRectF(13 * f, y - 8 * f, 16 * f, 16 * f))
        if self._marked:
            # A value that cannot be read: the box is struck out, and the reason stands below.
            painter.setPen(QPen(look.color("ink"), 2.5 * f))
            painter.drawLine(QPointF(10 * f, y + 11 * f), QPointF(32 * f, y - 11 * f))


class CautionBlock(WriteBlock):
    """A caution as Work shows it; its fields unfold while it is in use."""

    def __init__(
        self, path: Path, look: Look, factor: float, tell: Tell | None, names: Names | None
    ) -> None:
        super().__init__(path, look, factor, tell, names)
        self.face: CautionPanel | None = None
        self.unread = _make_label(look, factor, 20)
        self.column.addWidget(self.unread)
        self.column.addWidget(self.fields)
        self.add_lines_later(CAUTION_FIELDS)
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAccessibleName("Caution")
        self.unfold(False)

    def show_entry(self, entry: FixedDict) -> None:
        super().show_entry(entry)
        caution = read_piece(entry, "cautions")
        if self.face is not None and self.face.caution is not caution:
            self.column.removeWidget(self.face)
            self.face.hide()
            self.face.deleteLater()
            self.face = None
        if isinstance(caution, Caution) and self.face is None:
            self.face = CautionPanel(caution, self._look, self._factor)
            self.column.insertWidget(0, self.face)
            self.face.show()
        signal = show_value(entry.get("signal")) or "caution without a signal word"
        self.unread.setText(f"{signal}: not complete yet")
        self.unread.setVisible(self.face is None)
        hazard = show_value(entry.get("hazard"))
        self.setAccessibleName(f"{signal}: {hazard}" if hazard else signal)

    def unfold(self, unfolded: bool) -> None:
        if unfolded:
            self._add_later(self)
        super().unfold(unfolded)

    def list_entries(self) -> list[QWidget]:
        return super().list_entries() if self.unfolded else [self]

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.came.emit()
        if self.unfolded and self.lines:
            self.lines[0].entry.setFocus(event.reason())

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.setFocus(Qt.FocusReason.MouseFocusReason)


def _make_label(look: Look, factor: float, px: float) -> QLabel:
    label = QLabel()
    label.setWordWrap(True)
    label.setMinimumWidth(1)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setFont(font_px(px * factor))
    label.setContentsMargins(round(3 * factor), 0, 0, 0)
    palette = label.palette()
    palette.setColor(label.foregroundRole(), look.color("soft"))
    label.setPalette(palette)
    policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
    policy.setHeightForWidth(True)
    label.setSizePolicy(policy)
    return label
