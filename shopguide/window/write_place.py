"""The place Write: the sheet's lists at the left, the card in the middle, findings at the right."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen, QTextCursor
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from shopguide.errors import Trouble
from shopguide.job.edits import (
    Add,
    Duplicate,
    Edit,
    JoinNext,
    Move,
    Remove,
    SetValue,
    Split,
    TakeOver,
    Together,
)
from shopguide.job.reassembly import propose_putback
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.background import Errand, Runner
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place
from shopguide.window.write_action import WriteAction
from shopguide.window.write_card import WriteCard, find
from shopguide.window.write_choice import WriteChoice
from shopguide.window.write_desk import Remark, WriteDesk
from shopguide.window.write_edits import (
    NEW_CAUTION,
    NEW_STAGE,
    NEW_STEP,
    NEW_TASK,
    find_difference,
    find_drop,
    find_step_move,
    move_entry,
    number_of,
    paste_rows,
    type_at,
    type_in_cell,
)
from shopguide.window.write_fields import SECTIONS, TABLES
from shopguide.window.write_findings import Findings
from shopguide.window.write_fixes import list_step_paths, make_fix
from shopguide.window.write_outline import Outline, count_remarks, list_outline
from shopguide.window.write_patterns import PatternDesk
from shopguide.window.write_putback_board import PutBackBoard
from shopguide.window.write_table import WriteTable
from shopguide.window.write_text import WriteText

WORDS = dict(SECTIONS)
LEFT_PX, RIGHT_PX = 330, 340
MOST_TOLD = 3
COUNTED = (
    ("stops work", "stops work", "stop work"),
    ("wants an answer", "wants an answer", "want an answer"),
    ("hint", "hint", "hints"),
)
PHOTO_NAMES = "Pictures (*.jpg *.jpeg *.png *.webp *.bmp *.tif *.tiff *.heic *.heif);;All files (*)"


class WritePlace(Place):
    """Makes and changes a sheet. The desk holds the draft; the views hold nothing of their own."""

    name = "write"

    told = Signal()
    """Title, or whether it is saved, is another one: for the line across the top."""

    def __init__(self, look: Look, factor: float = 1.0, *, runner: Runner) -> None:
        super().__init__(look, factor)
        self._runner = runner
        self.writing: WriteDesk | None = None
        self.path: Path = ("sheet",)
        self._goal: Path | None = None
        self._leave_offer: Callable[[], None] | None = None
        self.ask.left.connect(self._leave_ask)
        self.choose_folder: Callable[[str], str] = self._open_folder_dialog
        self.choose_photos: Callable[[], list[str]] = self._open_photo_dialog
        self.outline = Outline(look, factor)
        self.card = WriteCard(look, factor)
        self.table = WriteTable(look, factor)
        self.table_foot = QLabel()
        self.table_foot.setWordWrap(True)
        self.table_foot.setTextFormat(Qt.TextFormat.PlainText)
        self.table_foot.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.findings = Findings(look, factor)
        self.summary = QLabel()
        self.summary.setWordWrap(True)
        self.patterns = PatternDesk(self, runner)
        self.putback = PutBackBoard(look, factor)
        self.putback.accepted.connect(self._take_putback)
        below = QWidget()
        column = QVBoxLayout(below)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        column.addWidget(self.table_foot)
        self.views = QStackedWidget()
        self.views.addWidget(self.card)
        self.views.addWidget(below)
        self.right = QWidget()
        right = QVBoxLayout(self.right)
        right.setContentsMargins(0, 0, 0, 0)
        right.addWidget(self.summary)
        right.addWidget(self.findings, 1)
        self._row = QHBoxLayout()
        self._row.addWidget(self.outline)
        self._row.addWidget(self.views, 1)
        self._row.addWidget(self.right)
        self.middle.addLayout(self._row, 1)
        self.outline.chosen.connect(self._choose)
        self.outline.entered.connect(self.enter)
        self.outline.moved.connect(self._drop_step)
        self.outline.came.connect(self.say)
        self.card.kept.connect(self._keep_typed)
        self.card.asked.connect(self._do_asked)
        self.card.came.connect(self.say)
        self.card.dropped.connect(self.add_photos)
        self.table.rows.typed.connect(self._keep_cell)
        self.table.asked.connect(self._do_in_table)
        self.table.pasted.connect(self.paste)
        self.table.came.connect(self._show_foot)
        self.findings.jumps.connect(self.jump)
        self.findings.fixes.connect(self.fix)
        self.findings.hushes.connect(self.hush)
        self.findings.came.connect(self.say)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.applicationStateChanged.connect(self._look_away)
        app.focusChanged.connect(self._follow)
        self.set_look(look, factor)

    # --- taking up a sheet ----------------------------------------------------------------

    def take_up(self, desk: WriteDesk) -> None:
        """Takes up a sheet; the one before is put aside if it is not saved."""
        self.close_desk()
        self.writing = desk
        self.pictures = Pictures(desk.read_photo, self)
        self.card.pictures = self.pictures
        desk.changed.connect(self._show_change)
        desk.reviewed.connect(self._show_remarks)
        desk.saved.connect(self._tell_saved)
        desk.failed.connect(self.notice.tell_trouble)
        self.path = ("sheet",)
        self.outline.show_rows(list_outline(desk.data, {}))
        steps = list_step_paths(desk.data)
        self.choose(steps[0] if steps else ("sheet",))
        desk.begin_review()
        self.told.emit()

    def close_desk(self) -> None:
        """Puts aside what is not saved, and ends."""
        if self.writing is None:
            return
        self.keep()
        desk, self.writing = self.writing, None
        desk.close()
        if self.pictures is not None:
            self.pictures.close()
            self.pictures = self.card.pictures = None
        desk.deleteLater()

    def offer_draft(self, aside: Any, take: Callable[[], None], leave: Callable[[], None]) -> None:
        """Asks whether a draft that was put aside is to be taken."""

        def answer(_: str) -> None:
            self._leave_offer = None
            take()

        self._leave_offer = leave
        self.ask.open(
            f"A draft of this sheet was put aside on {aside.tell_when()} and is not saved. "
            "Enter takes the draft; Escape keeps to what was saved.",
            "Enter takes the draft that was not saved",
            answer,
            needed=False,
        )

    def _leave_ask(self) -> None:
        """Escape in the question: a draft that was offered is not wanted."""
        leave, self._leave_offer = self._leave_offer, None
        if leave is not None:
            leave()

    def begin(self) -> None:
        super().begin()
        if not self.ask.is_open:
            self.outline.setFocus()
        self.say()

    def leave(self) -> None:
        self.keep()
        if self.writing is not None:
            self.writing.put_aside()
        super().leave()

    def keep(self) -> None:
        """Hands on what is being typed just now."""
        self.card.keep()
        if self.table.writes:
            self.table.setFocus()
        self.table.rows.hand_on()

    def _follow(self, old: QWidget | None, new: QWidget | None) -> None:
        """The bar says what the keys do where they go now."""
        if new is not None and self.isVisible() and self.isAncestorOf(new):
            self.say()

    def _look_away(self, state: Qt.ApplicationState) -> None:
        if state != Qt.ApplicationState.ApplicationActive and self.writing is not None:
            self.keep()
            self.writing.put_aside()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        f = factor
        self.middle.setContentsMargins(round(16 * f), round(6 * f), round(8 * f), 0)
        self._row.setSpacing(round(18 * f))
        self.outline.set_look(look, f)
        self.outline.setFixedWidth(round(LEFT_PX * f))
        self.right.setFixedWidth(round(RIGHT_PX * f))
        self.card.set_look(look, f)
        self.table.set_look(look, f)
        self.findings.set_look(look, f)
        self.summary.setFont(font_px(SIZES_PX["text"] * f, "bold"))
        self.summary.setContentsMargins(round(14 * f), 0, 0, round(2 * f))
        self.table_foot.setFont(font_px(18 * f))
        self.table_foot.setFixedHeight(round(84 * f))
        palette = self.table_foot.palette()
        palette.setColor(self.table_foot.foregroundRole(), look.color("soft"))
        self.table_foot.setPalette(palette)
        if self.writing is not None:
            self._show_view()
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._look.color("ground"))
        painter.setPen(QPen(self._look.color("hairline"), max(1.0, self._factor)))
        parts = [self.outline] if self.right.isHidden() else [self.outline, self.views]
        for part in parts:
            x = part.geometry().right() + round(9 * self._factor)
            painter.drawLine(x, part.geometry().top(), x, part.geometry().bottom())

    # --- showing --------------------------------------------------------------------------

    def _choose(self, path: Path) -> None:
        self.keep()
        self.path = path
        self._show_view()
        self._show_findings()
        self.say()
        self.told.emit()

    def choose(self, path: Path) -> None:
        """Shows what stands at a path."""
        self.outline.quiet = True
        self.outline.choose(path)
        self.outline.quiet = False
        self.path = self.outline.path or ("sheet",)
        self._show_view()
        self._show_findings()
        self.say()
        self.told.emit()

    @property
    def look(self) -> Look:
        """The look it has now."""
        return self._look

    @property
    def factor(self) -> float:
        """By how much its sizes grow."""
        return self._factor

    @property
    def shows_table(self) -> bool:
        """True while a table is in the middle."""
        return self.path[0] in TABLES

    def _show_view(self) -> None:
        desk = self.writing
        if desk is None:
            return
        table = self.shows_table
        self.views.setCurrentIndex(1 if table else 0)
        self.right.setVisible(not table)
        if table:
            section = str(self.path[0])
            self.table.show_section(desk.data, section, WORDS[section])
            self._show_foot()
        else:
            self.card.show_path(desk.data, self.path, self._tell_where())
        self.update()

    def _tell_where(self) -> str:
        assert self.writing is not None
        if len(self.path) != 4:
            return WORDS.get(str(self.path[0]), "Stage")
        data = self.writing.data
        stage = find(data, self.path[:2])
        title = stage.get("title", "") if isinstance(stage, FixedDict) else ""
        number, of = number_of(data, self.path), len(list_step_paths(data))
        return f"Step {number} of {of}   {title}"

    def tell_stages(self) -> tuple[tuple[tuple[str, float], ...], int]:
        """The stages, each with the share of the steps at which it begins, and the one shown."""
        if self.writing is None:
            return (), -1
        rows = self.outline.rows.rows
        of = max(1, sum(1 for row in rows if row.sort == "step"))
        stages: list[tuple[str, float]] = []
        done = 0
        for row in rows:
            if row.sort == "stage":
                stages.append((row.title, done / of))
            elif row.sort == "step":
                done += 1
        return tuple(stages), int(self.path[1]) if self.path[0] == "stages" else -1

    def _show_change(self) -> None:
        """After every edit."""
        assert self.writing is not None
        self._show_outline()
        goal, self._goal = self._goal, None
        if goal is not None:
            self.outline.quiet = True
            self.outline.choose(goal)
            self.outline.quiet = False
        row = self.outline.row
        if row is not None and row.path != self.path:
            self.path = row.path
            self._show_findings()
        self._show_view()
        self.say()
        self.told.emit()

    def _show_outline(self) -> None:
        assert self.writing is not None
        desk = self.writing
        counted = count_remarks([(r.path, r.severity == "stops work") for r in desk.remarks])
        self.outline.show_rows(list_outline(desk.data, counted))

    def _show_remarks(self) -> None:
        desk = self.writing
        if desk is None:
            return
        self._show_outline()
        told = {r.path: r.sentence for r in reversed(desk.remarks) if not r.rule and r.path}
        self.card.mark(told)
        self.table.mark(told)
        self._show_findings()
        if self.shows_table:
            self._show_foot()

    def _show_findings(self) -> None:
        desk = self.writing
        if desk is None:
            return
        said = []
        for severity, one, more in COUNTED:
            count = sum(1 for r in desk.remarks if r.severity == severity)
            if count:
                said.append(f"{count} {one if count == 1 else more}")
        if desk.reviewed_data is None:
            self.summary.setText("The review is looking")
        else:
            self.summary.setText("Review: " + (", ".join(said) if said else "nothing found"))
        here = self.path if self.path[0] == "stages" else self.path[:1]
        self.findings.show_remarks(desk.remarks, here)

    def _show_foot(self) -> None:
        """Under a table: what the program reads in the row, and what is found there."""
        desk = self.writing
        if desk is None or not self.shows_table:
            return
        row, column = self.table.cell
        section = str(self.path[0])
        said: list[str] = []
        if row < len(self.table.rows.entries):
            told = self.table.rows.told.get(self.table.rows.path(row, column))
            self.card.book.read(desk.data)
            name = self.table.rows.entries[row].get("name")
            if section == "specs" and isinstance(name, str):
                read = self.card.book.tell_spec(name)
                uses = self.table.rows.text(row, 8)
                said.append(f"{read}. Used: {uses}" if read else f"Used: {uses}")
            found = [r.sentence for r in desk.remarks if r.path[:2] == (section, row)]
            if told and told not in found:
                found.insert(0, told)
            said += found[:MOST_TOLD]
        else:
            count = sum(1 for r in desk.remarks if r.path[:1] == (section,))
            said.append(
                "Write in the row, or paste rows with Ctrl V: cells parted by tabs, semicolons "
                "or commas."
            )
            if count:
                said.append(f"The review has found {count} here. F9 lists them.")
        self.table_foot.setText(let_break("\n".join(said)))
        self.say()

    def _tell_saved(self) -> None:
        assert self.writing is not None and self.writing.folder is not None
        self.notice.close_notice()
        self.say()
        self.told.emit()

    # --- the bar --------------------------------------------------------------------------

    def say(self) -> None:
        desk = self.writing
        if desk is None or (not self.ask.is_open and self.say_board()):
            return
        if self.ask.is_open:
            self.bar.say(self.ask.does, "Escape leaves it")
            return
        undo = desk.draft.undo_words.removeprefix("undo ")
        redo = desk.draft.redo_words.removeprefix("redo ")
        after = f"Ctrl Z undoes: {undo}" if undo else ""
        back = f"Ctrl Shift Z redoes: {redo}" if redo else ""
        does, keys = self._say_focus()
        self.bar.say(does, after, back, keys)

    def _say_focus(self) -> tuple[str, str]:
        """What Enter does where the keys go now, and the other keys."""
        widget = QApplication.focusWidget()
        if widget is self.findings:
            return self._say_finding()
        if widget is self.table or (self.table.isAncestorOf(widget) if widget else False):
            if self.table.writes:
                return "Enter keeps what is written in the cell", "Escape leaves it as it was"
            if self.table.cell[0] >= len(self.table.rows.entries):
                return "Write to begin a new row", "Ctrl V pastes rows   Escape back"
            return (
                "Write, or Enter to change this cell",
                "Insert row   Ctrl Del removes   Ctrl V pastes   Escape back",
            )
        if widget is not None and self.card.isAncestorOf(widget):
            return self._say_card(widget)
        row = self.outline.row
        keys = "Insert adds   Del   Alt Up, Down move   B put back   F9 findings"
        if row is None or row.sort == "section":
            word = row.title if row else ""
            return f"Enter writes in: {word}", "B put back   F9 findings   Ctrl S saves"
        if row.sort == "stage":
            return f"Enter names the stage: {row.title}", keys
        return f"Enter writes in step {row.number}: {row.title}", keys

    def _say_finding(self) -> tuple[str, str]:
        remark = self.findings.remark
        if remark is None:
            return "Nothing found", "Escape back"
        keys = ["Escape back"]
        if remark.severity == "hint":
            keys.insert(0, "H no such hints in this sheet")
        if remark.fix is not None:
            keys.insert(0, f"F {remark.fix.says[:60]}")
        return f"Enter goes to: {remark.where or 'the sheet'}", "   ".join(keys)

    def _say_card(self, widget: QWidget) -> tuple[str, str]:
        block = self.card.find_block(widget)
        keys = "Tab goes on   Escape to the list"
        if block is not None and block.path[-2] == "tasks":
            keys = "Insert adds a task   Ctrl Del removes   Alt Up, Down move   Escape"
        elif block is not None:
            keys = "Ctrl Del removes   Alt Up, Down move   Escape"
        line = self.card.find_line(widget)
        if line is not None and line.field.names:
            keys = "Page Down takes a name   Escape to the list"
        if self._pattern_in_use() is not None and isinstance(widget, WriteAction):
            return f"Enter opens: {widget.text}", "Ctrl Del removes   Escape to the list"
        if isinstance(widget, WriteAction):
            return widget.does, "Escape to the list"
        if isinstance(widget, WriteChoice):
            word = line.field.word if line is not None else "it"
            return f"Left and Right choose: {word}", keys
        if isinstance(widget, WriteText) and widget.lines:
            return "Enter begins a new line, Tab goes on", keys
        return "Enter keeps this and goes on", keys

    # --- doing ----------------------------------------------------------------------------

    def apply(self, edit: Edit, goal: Path | None = None) -> bool:
        """Does an edit and shows what stands at `goal` then; what cannot be done is told."""
        if self.writing is None:
            return False
        self._goal = goal
        try:
            return self.writing.apply(edit)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)
            return False

    def _keep_typed(self, path: Path, text: str) -> None:
        if self.writing is not None:
            try:
                edit = type_at(self.writing.data, path, text)
            except Trouble as trouble:
                self.notice.tell_trouble(trouble)
                return
            self.apply(edit)

    def _keep_cell(self, row: int, column: int, text: str) -> None:
        if self.writing is None:
            return
        self.apply(type_in_cell(self.writing.data, str(self.path[0]), row, column, text))

    def press(self) -> None:
        self.enter()

    def enter(self) -> None:
        """Enter in the list: write in what is chosen."""
        if self.shows_table:
            self.table.setFocus()
        else:
            self.card.begin()
        self.say()

    def go_back(self) -> None:
        """Escape: to the list."""
        self.keep()
        self.outline.setFocus()
        self.say()

    def go_to_findings(self) -> None:
        """F9: to the findings, which a table covers."""
        self.keep()
        self.right.show()
        if not self.findings.begin():
            self.notice.tell("The review has found nothing.")
        self.update()
        self.say()

    def undo(self) -> None:
        """Takes back the last edit and shows where that was."""
        self.keep()
        if self.writing is not None:
            before = self.writing.data
            if self.writing.undo():
                self._show_where_changed(before)

    def redo(self) -> None:
        """Does again what was taken back last."""
        self.keep()
        if self.writing is not None:
            before = self.writing.data
            if self.writing.redo():
                self._show_where_changed(before)

    def _show_where_changed(self, before: FixedDict) -> None:
        assert self.writing is not None
        path = find_difference(before, self.writing.data)
        in_card = self.card.isAncestorOf(QApplication.focusWidget() or self)
        head = {f for f in ("title", "summary", "applies_to", "time", "skill", "author",
                            "revision", "date")}  # fmt: skip
        if path and path[0] in head:
            path = ("sheet", *path)
        if path:
            self.choose(path)
            if in_card and not self.shows_table and not self.card.go_to(path):
                self.card.begin()
        self.say()

    # --- steps and stages -----------------------------------------------------------------

    def add_step(self) -> None:
        """Adds a step behind the one that is chosen, and writes in it."""
        path = self.path
        if path[0] != "stages":
            steps = list_step_paths(self.writing.data) if self.writing else []
            path = steps[-1] if steps else ("stages", 0)
        at = int(path[3]) + 1 if len(path) == 4 else 0
        new: Path = ("stages", int(path[1]), "steps", at)
        if self.apply(Add(new, NEW_STEP), new):
            self.choose(new)
            self._write_over((*new, "title"))

    def add_stage(self) -> None:
        """Adds a stage behind the one that is chosen."""
        assert self.writing is not None
        held = self.writing.data.get("stages")
        count = len(held) if isinstance(held, FixedList) else 0
        at = int(self.path[1]) + 1 if self.path[0] == "stages" else count
        if self.apply(Add(("stages", at), NEW_STAGE), ("stages", at)):
            self.choose(("stages", at))
            self.card.begin()
            self._select_all()

    def _write_over(self, path: Path) -> None:
        """Goes to a field and marks what stands in it, so that typing replaces it."""
        if self.card.go_to(path):
            self._select_all()

    def _select_all(self) -> None:
        widget = QApplication.focusWidget()
        if isinstance(widget, WriteText):
            widget.moveCursor(QTextCursor.MoveOperation.Start)
            widget.selectAll()

    def remove_chosen(self) -> None:
        """Takes out the step or stage that is chosen."""
        if self.path[0] == "stages":
            self.apply(Remove(self.path))

    def move_chosen(self, by: int) -> None:
        """Moves the step or stage that is chosen."""
        if self.writing is None or self.path[0] != "stages":
            return
        to = find_step_move(self.writing.data, self.path, by)
        if to is not None and self.apply(Move(self.path, to), to):
            self.choose(to)

    def _drop_step(self, path: Path, before: Path) -> None:
        if self.writing is None:
            return
        to = find_drop(self.writing.data, path, before)
        if to != path and self.apply(Move(path, to), to):
            self.choose(to)

    def duplicate_chosen(self) -> None:
        """Puts the step or stage that is chosen once more behind itself."""
        if self.path[0] != "stages":
            return
        new = (*self.path[:-1], int(self.path[-1]) + 1)
        if self.apply(Duplicate(self.path), new):
            self.choose(new)

    def join_chosen(self) -> None:
        """Joins the step or stage that is chosen with the next."""
        if self.path[0] == "stages":
            self.apply(JoinNext(self.path))

    # --- what stands in a step ------------------------------------------------------------

    def _do_asked(self, path: Path, wish: str) -> None:
        desk = self.writing
        if desk is None:
            return
        self.card.keep()
        match wish:
            case "add pattern":
                self.patterns.begin()
            case "add pattern on photo":
                files = self.choose_photos()
                if files:
                    self.patterns.begin(files[0])
            case _ if wish.startswith("pattern "):
                self.patterns.open(int(wish.removeprefix("pattern ")))
            case "add task":
                self._add_in(path, "tasks", NEW_TASK, "text")
            case "add caution":
                base = () if path == ("cautions",) else path
                self._add_in(base, "cautions", NEW_CAUTION, "signal")
            case "add photos":
                files = self.choose_photos()
                if files:
                    self.add_photos(files)
            case "add":
                new = (*path[:-1], int(path[-1]) + 1)
                entry: Any = NEW_TASK if path[-2] == "tasks" else NEW_CAUTION
                if path[-2] != "photos" and self.apply(Add(new, entry)):
                    self._write_over((*new, "text" if path[-2] == "tasks" else "signal"))
            case "remove":
                if self.apply(Remove(path)):
                    held = find(desk.data, path[:-1])
                    count = len(held) if isinstance(held, FixedList) else 0
                    if count:
                        self.card.go_to((*path[:-1], min(int(path[-1]), count - 1)))
                    else:
                        self.card.begin()
            case "duplicate":
                if self.apply(Duplicate(path)):
                    self.card.go_to((*path[:-1], int(path[-1]) + 1))
            case "join":
                if self.apply(JoinNext(path)):
                    self.card.go_to(path)
            case "split":
                if path[-2] == "tasks" and self.apply(Split(path[:4], int(path[-1]))):
                    self.choose((*path[:3], int(path[3]) + 1))
                    self.card.begin()
            case "move up" | "move down":
                found = move_entry(desk.data, path, -1 if wish == "move up" else 1)
                if found is not None and self.apply(found[0]):
                    self.card.go_to(found[1])

    def _add_in(self, base: Path, key: str, entry: dict[str, Any], first: str) -> None:
        assert self.writing is not None
        held = find(self.writing.data, (*base, key))
        count = len(held) if isinstance(held, FixedList) else 0
        if self.apply(Add((*base, key, count), entry)):
            self._write_over((*base, key, count, first))

    def add_photos(self, files: list[str]) -> None:
        """Takes pictures into the step that is shown, off the window's thread."""
        desk, path = self.writing, self.path
        if desk is None or len(path) != 4 or not files:
            return
        step = find(desk.data, path)
        errand = Errand(f"Taking in {len(files)} picture{'s' if len(files) > 1 else ''}", self)

        def work(errand: Errand) -> list[tuple[str, str]]:
            found = []
            for done, name in enumerate(files):
                errand.tell(FilePath(name).name, done, len(files))
                if errand.is_cancelled():
                    break
                try:
                    data = FilePath(name).read_bytes()
                except OSError as fault:
                    raise Trouble(
                        "The picture cannot be read.",
                        name,
                        f"Choose another one ({fault.strerror or fault}).",
                    ) from None
                found.append(desk.keep_photo(data, FilePath(name).name))
            return found

        def keep(found: list[tuple[str, str]]) -> None:
            if desk is not self.writing:
                return
            # The step may have been moved meanwhile; it is found again by being the same piece.
            at = next((p for p in list_step_paths(desk.data) if find(desk.data, p) is step), path)
            held = find(desk.data, (*at, "photos"))
            known = [p.get("file") for p in held or () if isinstance(p, FixedDict)]
            new = [{"file": file} for file, _ in found if file not in known]
            if new:
                said = f"adding of {len(new)} picture{'s' if len(new) > 1 else ''}"
                edit = SetValue((*at, "photos"), [*(held or ()), *new])
                self.apply(Together((edit,), said))
            note = " ".join(dict.fromkeys(n for _, n in found if n))
            self.notice.tell(
                f"{len(new)} added." if new else "These pictures are in this step already.",
                note,
                "Place and serial numbers were left out of the pictures.",
            )

        errand.done.connect(keep)
        self.show_errand(errand)
        self._runner.run(errand, work)

    def _pattern_in_use(self) -> int | None:
        """The index of the pattern on whose line the keys are."""
        widget = QApplication.focusWidget()
        if isinstance(widget, WriteAction) and widget.wish.startswith("pattern "):
            return int(widget.wish.removeprefix("pattern "))
        return None

    # --- tables ---------------------------------------------------------------------------

    def _do_in_table(self, wish: str) -> None:
        desk = self.writing
        if desk is None:
            return
        section, (row, _) = str(self.path[0]), self.table.cell
        path: Path = (section, row)
        if row >= len(self.table.rows.entries):
            return
        match wish:
            case "add":
                entry = {"text": "", "after": ""} if section == "follow_ups" else {"name": ""}
                if section == "specs":
                    entry["kind"] = "torque"
                if self.apply(Add((section, row + 1), entry)):
                    self.table.go_to(row + 1)
            case "remove":
                self.apply(Remove(path))
            case "duplicate":
                if self.apply(Duplicate(path)):
                    self.table.go_to(row + 1)
            case "move up" | "move down":
                found = move_entry(desk.data, path, -1 if wish == "move up" else 1)
                if found is not None and self.apply(found[0]):
                    self.table.go_to(int(found[1][1]))

    def paste(self, text: str) -> None:
        """Pastes into the cell, or rows behind the one that is chosen."""
        desk = self.writing
        if desk is None or not self.shows_table:
            return
        section, (row, column) = str(self.path[0]), self.table.cell
        tidy = text.strip("\r\n")
        if tidy and "\t" not in tidy and "\n" not in tidy and ";" not in tidy:
            self._keep_cell(row, column, tidy)
            return
        try:
            edit, troubles = paste_rows(desk.data, section, row, text)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)
            return
        if self.apply(edit) and troubles:
            shown = [str(t) for t in troubles[:4]]
            if len(troubles) > 4:
                shown.append(f"and {len(troubles) - 4} more")
            self.notice.tell(
                "Not all of it can be read; it stands as it was pasted.", "\n".join(shown)
            )

    # --- findings -------------------------------------------------------------------------

    def jump(self, remark: Remark) -> None:
        """Goes to the place of a finding."""
        path = remark.path
        if not path:
            self.choose(("sheet",))
            self.card.begin()
            return
        heads = ("stages", *WORDS)
        self.choose(path if path[0] in heads else ("sheet", *path))
        if self.shows_table:
            key = str(path[2]) if len(path) > 2 else ""
            self.table.go_to(int(path[1]) if len(path) > 1 else 0, key)
        elif not self.card.go_to(path):
            self.card.begin()
        self.say()

    def fix(self, remark: Remark) -> None:
        """Does what a finding proposes."""
        desk = self.writing
        if desk is None or remark.fix is None:
            return
        if desk.reviewed_data is not desk.data:
            said = "The review is still looking at the last change."
            self.notice.tell(said, next="Press F again.")
            return
        try:
            edit = make_fix(desk.data, remark.fix)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)
            return
        before = desk.data
        if self.apply(edit):
            path = find_difference(before, desk.data)
            if path and path[0] == "stages" and len(path) >= 4:
                self.choose(path)
            self.findings.setFocus()

    def hush(self, remark: Remark) -> None:
        """Switches a hint off for this sheet."""
        if self.writing is None:
            return
        off = self.writing.data.get("hints_off")
        held = list(off) if isinstance(off, FixedList) else []
        if remark.rule not in held:
            self.apply(SetValue(("hints_off",), [*held, remark.rule]))

    # --- putting back ---------------------------------------------------------------------

    def propose_putback(self) -> None:
        """Shows beside the sheet what it lacks to put back what it takes apart."""
        desk = self.writing
        if desk is None:
            return
        self.keep()
        sheet, data = desk.draft.sheet, desk.data
        if sheet is None:
            self.notice.tell(
                "Something in the sheet cannot be read yet, so nothing can be proposed.",
                next="F9 goes to what is to be put right first.",
            )
            return
        errand = Errand("Looking at what is taken apart", self)

        def show(proposals: tuple[Any, ...]) -> None:
            if desk is not self.writing or desk.data is not data:
                return
            if not proposals:
                self.notice.tell("Everything that is taken apart is put back in this sheet.")
                return
            self.putback.show_proposals(sheet, proposals)
            self.open_board(self.putback)

        errand.done.connect(show)
        errand.failed.connect(self.notice.tell_trouble)
        self._runner.run(errand, lambda _: propose_putback(sheet))

    def _take_putback(self, merged: Any, count: int) -> None:
        said = f"putting in of {count} proposal{'s' if count > 1 else ''} for putting back"
        before = self.writing.data if self.writing is not None else FixedDict()
        if self.apply(TakeOver(merged, said)) and self.writing is not None:
            data = self.writing.data
            old = {id(find(before, path)) for path in list_step_paths(before)}
            new = [p for p in list_step_paths(data) if id(find(data, p)) not in old]
            if new:
                self.choose(new[0])
            self.outline.setFocus()

    # --- saving ---------------------------------------------------------------------------

    def save(self) -> None:
        """Ctrl S: saves; a sheet without a place asks for one."""
        desk = self.writing
        if desk is None:
            return
        self.keep()
        folder: FilePath | None = None
        if desk.folder is None:
            chosen = self.choose_folder(desk.title)
            if not chosen:
                return
            folder = FilePath(chosen)
            if (folder / "job.json").exists():
                self.notice.tell(
                    "There is a sheet in that folder already.",
                    str(folder),
                    "Choose a folder of another name; nothing was saved.",
                )
                return
        try:
            desk.save(folder)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)

    def _open_folder_dialog(self, title: str) -> str:
        words = "".join(c for c in title if c.isalnum() or c in " -_").strip()[:60] or "sheet"
        name, _ = QFileDialog.getSaveFileName(
            self, "A folder for this sheet", str(FilePath.home() / words)
        )
        return name

    def _open_photo_dialog(self) -> list[str]:
        names, _ = QFileDialog.getOpenFileNames(
            self, "Pictures for this step", str(FilePath.home()), PHOTO_NAMES
        )
        return names

    # --- keys -----------------------------------------------------------------------------

    def find_line_in_use(self) -> QWidget | None:
        return self.outline if self.board is None else None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, held = event.key(), event.modifiers()
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        shift = bool(held & Qt.KeyboardModifier.ShiftModifier)
        alt = bool(held & Qt.KeyboardModifier.AltModifier)
        if self.writing is None or self.board is not None:
            super().keyPressEvent(event)
        elif control and key == Qt.Key.Key_Z:
            self.redo() if shift else self.undo()
        elif control and key == Qt.Key.Key_Y:
            self.redo()
        elif control and key == Qt.Key.Key_S:
            self.save()
        elif control and key == Qt.Key.Key_D:
            self.duplicate_chosen()
        elif control and key == Qt.Key.Key_J:
            self.join_chosen()
        elif key == Qt.Key.Key_B and (control or not held):
            self.propose_putback()
        elif key == Qt.Key.Key_F9:
            self.go_to_findings()
        elif alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.move_chosen(-1 if key == Qt.Key.Key_Up else 1)
        elif key == Qt.Key.Key_Insert:
            self.add_stage() if shift else self.add_step()
        elif control and key == Qt.Key.Key_Delete and self._pattern_in_use() is not None:
            self.patterns.remove(self._pattern_in_use() or 0)
        elif key == Qt.Key.Key_Delete and self.outline.hasFocus():
            self.remove_chosen()
        elif key == Qt.Key.Key_Escape and not self.outline.hasFocus():
            if not self.shows_table:
                self.go_back()
            else:
                self.right.hide()
                self.go_back()
        elif key == Qt.Key.Key_Escape:
            self.escape()
        elif not self.outline.hasFocus() and key != Qt.Key.Key_L:
            event.ignore()
        else:
            super().keyPressEvent(event)
