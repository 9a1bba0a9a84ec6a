"""The card of a step, written in the place where Work will show it."""

from __future__ import annotations

import contextlib
from typing import Any

from PySide6.QtCore import QPoint, Qt, QTimer, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QApplication, QFrame, QLabel, QVBoxLayout, QWidget

from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble
from shopguide.job.edits import look_up
from shopguide.job.model import Torque
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, read_piece
from shopguide.window.column import Column
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.write_action import WriteAction
from shopguide.window.write_block import (
    CautionBlock,
    TaskBlock,
    WriteBlock,
    list_task_fields,
    show_value,
)
from shopguide.window.write_face import FigureView, JointView, Orders
from shopguide.window.write_fields import SHEET_FIELDS, STAGE_FIELDS, Field
from shopguide.window.write_line import WriteLine
from shopguide.window.write_names import NameBook, list_entries
from shopguide.window.write_patterns import list_patterns
from shopguide.window.write_photo_block import PhotoBlock
from shopguide.window.write_text import WriteText
from shopguide.work.figures import Figure

WHOLE = (("sheet",), ("patterns",))
"""Places of the list that show something of the whole sheet."""
MOST_AT_ONCE, PER_TURN = 6, 2
"""So many pictures of a step are built at once; the others follow, some at every turn."""
TEXT_FIELD = Field("text", "Text", "more that is good to know at this step", "prose")


class WriteCard(Column):
    """Shows the entry at a path of the sheet; `kept` hands on what was typed, `asked` a wish."""

    kept = Signal(object, str)
    asked = Signal(object, str)
    came = Signal()
    dropped = Signal(list)
    """Paths of picture files that were dropped on it."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self._look, self._factor = look, factor
        self.path: Path = ()
        self.pictures: Pictures | None = None
        self.book = NameBook()
        self._shape: tuple[Any, ...] = ()
        self._building = False
        self._next: tuple[FixedDict, Path, str] | None = None
        self._blocks: list[WriteBlock] = []
        self._lines: list[WriteLine] = []
        self._texts: dict[Path, WriteText] = {}
        self._order: list[QWidget] = []
        self._actions: list[WriteAction] = []
        self._told: dict[Path, str] = {}
        self._notes: QLabel | None = None
        self._notes_said = ""
        self._entry = FixedDict()
        self._later: list[int] = []
        self._photos_end: QWidget | None = None
        self._soon = QTimer(self)
        self._soon.setSingleShot(True)
        self._soon.timeout.connect(self._build_more)
        self.orders: Orders | None = None
        self._figure: FigureView | None = None
        self._figures: dict[int, Figure] = {}
        self._joints: dict[int, JointView] = {}
        self.setAcceptDrops(True)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.focusChanged.connect(self._follow)
        self.verticalScrollBar().rangeChanged.connect(self._stay)

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        self._look, self._factor = look, factor
        self._shape = ()

    # --- showing --------------------------------------------------------------------------

    def show_path(self, data: FixedDict, path: Path, where: str) -> None:
        """Shows the step, stage, head of the sheet or patterns at a path."""
        if self._building:
            # A text that is taken away hands on what was typed in it: shown as soon as this stands.
            self._next = (data, path, where)
            return
        self.book.read(data)
        entry = find(data, path) if path not in WHOLE else data
        if not isinstance(entry, FixedDict):
            entry = FixedDict()
        shape = (path, self._look.name, self._factor, _find_shape(entry, path, self.book))
        if shape != self._shape:
            focus = self._tell_focus()
            same = self.path == path
            self._building = True
            try:
                self._build(entry, path, where)
            finally:
                self._building = False
            self._shape, self.path = shape, path
            if same and focus is not None:
                self.go_to(*focus)
            elif not same:
                self.go_to_top()
        self.where.setText(where)
        self._show(entry)
        meanwhile, self._next = self._next, None
        if meanwhile is not None:
            self.show_path(*meanwhile)

    def _show(self, entry: FixedDict) -> None:
        self._entry = entry
        for path, text in self._texts.items():
            if not text.is_pending:
                text.set_text(show_value(entry.get(path[-1])))
        for line in self._lines:
            line.set_text(show_value(entry.get(line.field.key)))
        for block in self._blocks:
            held = find(entry, block.path[len(self._base()) :])
            block.show_entry(held if isinstance(held, FixedDict) else FixedDict())
        self._show_face(entry)
        self.mark(self._told)

    def _show_face(self, entry: FixedDict) -> None:
        """The large figure and the joints, as Work will show them."""
        if self._figure is None:
            return
        tasks = dict(list_entries(entry, "tasks"))
        self._figures = {index: self.book.find_task_figure(task) for index, task in tasks.items()}
        self._show_figure()
        for index, joint in self._joints.items():
            found = self.book.find_pattern(tasks[index].get("pattern"))
            task = read_piece(tasks[index], "tasks")
            passes = task.schedule if isinstance(task, Torque) else ()
            joint.show_joint(found[1] if found else None, passes[0].tell() if passes else "")

    def _show_figure(self) -> None:
        """That of the task written in, as if it were due; else of a torque, else of the first."""
        if self._figure is None:
            return
        used = [int(b.path[-1]) for b in self._blocks if b.unfolded and isinstance(b, TaskBlock)]
        torque = [
            int(block.path[-1])
            for block in self._blocks
            if isinstance(block, TaskBlock) and block.kind == "torque"
        ]
        told = (self._figures.get(index, Figure()) for index in (*used, *torque, 0))
        self._figure.show_figure(next((one for one in told if one.figure), Figure()))

    def _base(self) -> Path:
        return () if self.path in WHOLE else self.path

    def mark(self, told: dict[Path, str]) -> None:
        """Marks what cannot be read; told: what is wrong, by path."""
        self._told = told
        for line in self._lines:
            line.set_trouble(told.get(line.path, ""))
        for block in self._blocks:
            block.mark(told)
        if hasattr(self, "trouble"):
            said = [told[p] for p in (*self._texts, self.path) if p in told]
            self.trouble.setText(" ".join(said))
            self.trouble.setVisible(bool(said))

    # --- building -------------------------------------------------------------------------

    def _build(self, entry: FixedDict, path: Path, where: str) -> None:
        self.path = path
        f = self._factor
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, round(16 * f), round(20 * f))
        column.setSpacing(round(2 * f))
        self._column = column
        self._blocks, self._lines, self._texts = [], [], {}
        self._figure, self._joints, self._notes = None, {}, None
        self._entry, self._later = entry, []
        self._soon.stop()
        self._order, self._actions = [], []
        self.where = self._label(where)
        self.where.setWordWrap(False)
        self.where.setMinimumWidth(1)
        self.where.setContentsMargins(round(3 * f), 0, 0, 0)
        column.addWidget(self.where)
        if path == ("sheet",):
            self._add_lines(SHEET_FIELDS, ())
        elif path == ("patterns",):
            for index, told in list_patterns(entry):
                self._act(told, f"pattern {index}")
            self._act("A new pattern on a blank board", "add pattern")
            self._act("A new pattern on a photo", "add pattern on photo")
        elif len(path) == 2:
            self._add_lines(STAGE_FIELDS, path)
            self._act("A new step at its beginning", "add step")
            self._act("A new stage behind this one", "add stage")
        else:
            self._build_step(entry, path)
        self.trouble = self._label("")
        self.trouble.hide()
        column.insertWidget(1, self.trouble)
        column.addStretch(1)
        old = self.takeWidget()
        self.fill(body)
        if old is not None:
            # The key that led here may still be on its way through a part of it: it goes later.
            QTimer.singleShot(0, self, old.deleteLater)

    def _build_step(self, step: FixedDict, path: Path) -> None:
        self._add_text((*path, "title"), "title of the step", SIZES_PX["instruction"], bold=True)
        self._add_cautions(step, path)
        self._figure = FigureView(self._look, self._factor)
        self._column.addWidget(self._figure)
        self._rule()
        for index, task in list_entries(step, "tasks"):
            kind = show_value(task.get("kind"))
            block = TaskBlock(
                (*path, "tasks", index),
                kind,
                list_task_fields(task),
                self._look,
                self._factor,
                self.book.tell,
                self.book.list_names,
                self.book.sum_up,
            )
            self._add_block(block)
        self._act("Add a task", "add task")
        self._add_text((*path, "text"), TEXT_FIELD.hint, SIZES_PX["text"], lines=True)
        for index, task in list_entries(step, "tasks"):
            found = self.book.find_pattern(task.get("pattern"))
            if task.get("kind") == "torque" and found is not None:
                self._add_joint(index, *found)
        photos = [index for index, _ in list_entries(step, "photos")]
        for index in photos[:MOST_AT_ONCE]:
            self._add_block(self._make_photo_block(index))
        self._act("Add a caution", "add caution")
        self._photos_end = self._actions[-1]
        self._later = photos[MOST_AT_ONCE:]
        if self._later:
            self._soon.start()
        self._notes = self._label(self._notes_said)
        self._notes.setContentsMargins(round(40 * self._factor), round(6 * self._factor), 0, 0)
        self._column.addWidget(self._notes)
        self._act("Add pictures, or drop them or a folder here", "add photos")
        self._act("A new step behind this one", "add step")

    def _make_photo_block(self, index: int) -> PhotoBlock:
        path = (*self.path, "photos", index)
        return PhotoBlock(path, self._look, self._factor, None, None, self.pictures)

    def _build_more(self, last: int | None = None) -> None:
        """Adds some of the pictures that are not there yet, or all up to one of them.

        A folder of them at once would hold the window up.
        """
        for _ in range(PER_TURN if last is None else len(self._later)):
            if not self._later or (last is not None and self._later[0] > last):
                break
            block = self._make_photo_block(self._later.pop(0))
            at = self._column.indexOf(self._photos_end), self._order.index(self._photos_end)
            self._add_block(block, *at)
            held = find(self._entry, block.path[len(self._base()) :])
            block.show_entry(held if isinstance(held, FixedDict) else FixedDict())
            block.mark(self._told)
        if self._later:
            self._soon.start()

    def _add_joint(self, index: int, at: int, pattern: Pattern) -> None:
        """The joint of a torque task as Work draws it, and the line that opens its board."""
        joint = JointView(self._look, self._factor, self.orders)
        joint.chosen.connect(lambda: self.asked.emit(self.path, f"joint {at}"))
        self._joints[index] = joint
        self._column.addWidget(joint)
        self._act(f"Place its screws: {pattern.title}", f"joint {at}")

    def _add_cautions(self, entry: FixedDict, base: Path) -> None:
        for index, _ in list_entries(entry, "cautions"):
            path = (*base, "cautions", index)
            self._add_block(CautionBlock(path, self._look, self._factor, None, None))

    def _add_block(self, block: WriteBlock, row: int = -1, place: int | None = None) -> None:
        """row, place: where in the column and among the entries; at the end where not given."""
        block.kept.connect(self.kept)
        block.asked.connect(self.asked)
        block.came.connect(self.came)
        block.onward.connect(self.move_on)
        self._blocks.append(block)
        self._order.insert(len(self._order) if place is None else place, block)
        self._column.insertWidget(row, block)

    def _add_lines(self, fields: tuple[Field, ...], base: Path) -> None:
        for field in fields:
            line = WriteLine(
                field,
                (*base, field.key),
                self._look,
                self._factor,
                self.book.tell,
                self.book.list_names,
            )
            line.kept.connect(self.kept)
            line.came.connect(self.came)
            line.onward.connect(self.move_on)
            self._lines.append(line)
            self._order.append(line)
            self._column.addWidget(line)

    def _add_text(
        self, path: Path, hint: str, px: float, *, bold: bool = False, lines: bool = False
    ) -> None:
        text = WriteText(
            self._look, self._factor, px=px, weight="bold" if bold else "regular", lines=lines
        )
        text.setPlaceholderText(hint)
        text.setAccessibleName(hint)
        text.kept.connect(lambda typed: self.kept.emit(path, typed))
        text.came.connect(self.came)
        text.onward.connect(self.move_on)
        self._texts[path] = text
        self._order.append(text)
        self._column.addWidget(text)

    def _act(self, text: str, wish: str) -> None:
        row = WriteAction(text, wish, self._look, self._factor)
        row.came.connect(self.came)
        row.chosen.connect(lambda: self.asked.emit(self.path, wish))
        row.onward.connect(self.move_on)
        self._actions.append(row)
        self._order.append(row)
        self._column.addWidget(row)

    def _rule(self) -> None:
        line = QFrame()
        line.setFixedHeight(max(1, round(1.5 * self._factor)))
        line.setAutoFillBackground(True)
        palette = line.palette()
        palette.setColor(line.backgroundRole(), self._look.color("hairline"))
        line.setPalette(palette)
        self._column.addSpacing(round(4 * self._factor))
        self._column.addWidget(line)
        self._column.addSpacing(round(2 * self._factor))

    def _label(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setFont(font_px(SIZES_PX["text"] * self._factor))
        palette = label.palette()
        palette.setColor(label.foregroundRole(), self._look.color("soft"))
        label.setPalette(palette)
        return label

    # --- going about ----------------------------------------------------------------------

    def list_entries(self) -> list[QWidget]:
        """Everything that takes the keys now, from top to bottom."""
        found: list[QWidget] = []
        for part in self._order:
            if isinstance(part, WriteBlock):
                found += part.list_entries()
            else:
                found.append(part.entry if isinstance(part, WriteLine) else part)
        return found

    def begin(self) -> bool:
        """Goes to the first entry; False where there is none."""
        entries = self.list_entries()
        if entries:
            entries[0].setFocus(Qt.FocusReason.TabFocusReason)
        return bool(entries)

    def move_on(self, by: int) -> None:
        """Goes to the next entry, or the one before."""
        entries, now = self.list_entries(), self.focusWidget()
        app_now = QApplication.focusWidget()
        here = app_now if app_now in entries else now
        if here in entries:
            index = entries.index(here) + by
            if 0 <= index < len(entries):
                entries[index].setFocus(Qt.FocusReason.TabFocusReason)

    def skip(self, by: int) -> None:
        """Goes to the next part of the card, past what is left of this one; by -1 the one before.

        A part is the title, a task, a caution, a picture or a line that adds something.
        """
        now = QApplication.focusWidget()
        here = next(
            (i for i, part in enumerate(self._order) if part is now or part.isAncestorOf(now)), None
        )
        if now is None or here is None or not 0 <= here + by < len(self._order):
            return
        part = self._order[here + by]
        if isinstance(part, WriteBlock):
            part.list_entries()[0].setFocus(Qt.FocusReason.TabFocusReason)
        else:
            entry = part.entry if isinstance(part, WriteLine) else part
            entry.setFocus(Qt.FocusReason.TabFocusReason)

    def find_block(self, widget: QWidget | None) -> WriteBlock | None:
        """The block that holds a widget."""
        while widget is not None and widget is not self:
            if isinstance(widget, WriteBlock):
                return widget
            widget = widget.parentWidget()
        return None

    def find_line(self, widget: QWidget | None) -> WriteLine | None:
        """The line that holds a widget."""
        parent = widget.parentWidget() if widget is not None else None
        return parent if isinstance(parent, WriteLine) else None

    def find_line_in_use(self) -> WriteLine | None:
        """The line in which the keys are."""
        return self.find_line(QApplication.focusWidget())

    def go_to(self, path: Path, at: int = -1) -> bool:
        """Gives the keys to the field at a path, or to the nearest above it."""
        best: QWidget | None = None
        if self._later and len(path) > 5 and path[4] == "photos":
            self._build_more(int(path[5]))
        for text_path, text in self._texts.items():
            if text_path == path:
                best = text
        for line in self._lines:
            if line.path == path:
                best = line.entry
        for block in self._blocks:
            if path[: len(block.path)] == block.path:
                self._unfold(block)
                best = next((one.entry for one in block.lines if one.path == path), None)
                if best is None:
                    best = block.text if isinstance(block, TaskBlock) else block.lines[0].entry
        if best is None:
            wish = path[-1] if path else ""
            best = next((a for a in self._actions if a.wish == wish), None)
        if best is None:
            return False
        best.setFocus(Qt.FocusReason.OtherFocusReason)
        if at >= 0 and isinstance(best, WriteText):
            cursor = best.textCursor()
            cursor.setPosition(min(at, len(best.toPlainText())))
            best.setTextCursor(cursor)
        self.show_widget(best)
        return True

    def _tell_focus(self) -> tuple[Path, int] | None:
        """Where the keys go now: path and place in the text."""
        widget = QApplication.focusWidget()
        if widget is None or not self.isAncestorOf(widget):
            return None
        at = widget.textCursor().position() if isinstance(widget, WriteText) else -1
        for path, text in self._texts.items():
            if text is widget:
                return path, at
        line = self.find_line(widget)
        if line is not None:
            return line.path, at
        block = self.find_block(widget)
        if block is not None:
            return (*block.path, "text"), at
        if isinstance(widget, WriteAction):
            return (widget.wish,), -1
        return None

    def keep(self) -> None:
        """Hands on what is being typed."""
        widget = QApplication.focusWidget()
        if isinstance(widget, WriteText) and self.isAncestorOf(widget):
            widget.keep()

    def _follow(self, old: QWidget | None, new: QWidget | None) -> None:
        """The block in use unfolds, the one before folds up."""
        if new is None or not self.isVisible() or not self.isAncestorOf(new):
            return
        block = self.find_block(new)
        if block is not None:
            self._unfold(block)
            if new is block and block.lines:
                block.lines[0].entry.setFocus(Qt.FocusReason.OtherFocusReason)
                new = block.lines[0].entry
        else:
            for other in self._blocks:
                other.unfold(False)
        target = new
        QTimer.singleShot(0, self, lambda: self.show_widget(target))

    def _stay(self) -> None:
        """What is in use stays seen when the card grows, or a notice takes room from it."""
        widget = QApplication.focusWidget()
        if widget is not None and self.isVisible() and self.isAncestorOf(widget):
            self.show_widget(widget)

    def _unfold(self, block: WriteBlock) -> None:
        for other in self._blocks:
            if other is not block:
                other.unfold(False)
        if not block.unfolded:
            block.unfold(True)
            self._show_figure()

    def show_widget(self, widget: QWidget) -> None:
        """Scrolls so that a widget is seen, with a little around it."""
        body = self.widget()
        with contextlib.suppress(RuntimeError):  # it may be gone by now
            if body is None or not body.isAncestorOf(widget):
                return
            if body.layout() is not None:
                body.layout().activate()
            block = self.find_block(widget)
            top = widget.mapTo(body, QPoint(0, 0)).y()
            bottom = top + widget.height()
            view, bar = self.viewport().height(), self.verticalScrollBar()
            if block is not None and block.height() < view:
                top, bottom = block.y(), block.y() + block.height()
            room = round(12 * self._factor)
            if top - room < bar.value():
                bar.setValue(max(0, top - room))
            elif bottom + room > bar.value() + view:
                bar.setValue(min(top - room, bottom + room - view))

    def say_notes(self, said: str) -> None:
        """Says over the line for pictures what becomes of the camera's notes."""
        self._notes_said = said
        if self._notes is not None:
            self._notes.setText(said)

    # --- dropping pictures ----------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if len(self.path) == 4 and any(u.isLocalFile() for u in event.mimeData().urls()):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: Any) -> None:
        event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        files = [u.toLocalFile() for u in event.mimeData().urls() if u.isLocalFile()]
        if files:
            self.dropped.emit(files)

    def paintEvent(self, event: QPaintEvent) -> None:
        QPainter(self.viewport()).fillRect(self.viewport().rect(), self._look.color("ground"))


def find(data: Any, path: Path) -> Any:
    """What stands at a path, or None."""
    if not path:
        return data
    try:
        return look_up(data, path)
    except Trouble:
        return None


def _find_shape(entry: FixedDict, path: Path, book: NameBook) -> tuple[Any, ...]:
    """What decides which fields there are."""
    if path == ("sheet",):
        return ()
    if path == ("patterns",):
        return tuple(list_patterns(entry))
    return (
        tuple(
            (found[0], found[1].title) if found else None
            for found in (
                book.find_pattern(t.get("pattern")) for _, t in list_entries(entry, "tasks")
            )
        ),
        tuple(
            (show_value(task.get("kind")), *(field.word for field in list_task_fields(task)))
            for _, task in list_entries(entry, "tasks")
        ),
        len(list_entries(entry, "cautions")),
        tuple(show_value(photo.get("file")) for _, photo in list_entries(entry, "photos")),
    )
