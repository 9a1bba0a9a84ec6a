"""The place Write: the sheet's lists at the left, the card in the middle, findings at the right."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
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
    Remove,
    SetValue,
)
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.background import Runner
from shopguide.window.keys_board import KeysBoard
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place
from shopguide.window.write_action import WriteAction
from shopguide.window.write_camera import CameraDesk
from shopguide.window.write_card import WriteCard, find
from shopguide.window.write_cells import fill_cells, remove_rows
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_edits import (
    find_difference,
    move_entry,
    number_of,
    type_at,
    type_in_cell,
)
from shopguide.window.write_elsewhere import ElsewhereDesk
from shopguide.window.write_face import Orders
from shopguide.window.write_fields import SECTIONS, TABLES
from shopguide.window.write_findings import Findings
from shopguide.window.write_fixes import count_steps, make_fix
from shopguide.window.write_keys import WRITE_KEYS
from shopguide.window.write_marks import MarksDesk
from shopguide.window.write_outline import Outline, OutlineRows
from shopguide.window.write_pasting import PasteDesk
from shopguide.window.write_patterns import PatternDesk
from shopguide.window.write_photos import PhotoDesk
from shopguide.window.write_press import press_in_use
from shopguide.window.write_preview import PreviewDesk
from shopguide.window.write_putting_back import PutBackDesk
from shopguide.window.write_reading import tell_cell
from shopguide.window.write_remarks import Remark
from shopguide.window.write_renaming import NameKeeper, tell_doubled, tell_left
from shopguide.window.write_sharing import SharingDesk
from shopguide.window.write_steps import StepDesk
from shopguide.window.write_table import WriteTable
from shopguide.window.write_uses import UseWalk
from shopguide.window.write_words import tell_focus

WORDS = dict(SECTIONS)
LEFT_PX, RIGHT_PX = 330, 340
MOST_TOLD = 3
ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
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
        # A click on the bar, or beside everything, leaves the keys in the line where they are.
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._runner = runner
        self.writing: WriteDesk | None = None
        self.path: Path = ("sheet",)
        self._goal: Path | None = None
        self._leave_offer: Callable[[], None] | None = None
        self._ask_offer: Callable[[], None] | None = None
        self.ask.left.connect(self._leave_ask)
        self.choose_folder: Callable[[str], str] = self._open_folder_dialog
        self.choose_photos: Callable[[], list[str]] = self._open_photo_dialog
        self.choose_photo_folder: Callable[[], str] = self._open_photo_folder_dialog
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
        self.putting_back = PutBackDesk(self, runner)
        self.steps = StepDesk(self)
        self.photos = PhotoDesk(self, runner)
        self.marks = MarksDesk(self, runner)
        self.names, self.uses = NameKeeper(), UseWalk(self)
        self._for_now = ""
        self.camera = CameraDesk(self, runner)
        self.sharing = SharingDesk(self, runner)
        self.pasting = PasteDesk(self, runner)
        self.preview = PreviewDesk(self, runner)
        self.card.orders = Orders(runner)
        self.elsewhere = ElsewhereDesk(self)
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
        self.outline.moved.connect(self.steps.drop)
        self.outline.came.connect(self.say)
        self.card.kept.connect(self._keep_typed)
        self.card.asked.connect(self.steps.do)
        self.card.came.connect(self.say)
        self.card.dropped.connect(self.photos.add)
        self.table.rows.typed.connect(self.keep_cell)
        self.table.asked.connect(self._do_in_table)
        self.table.pasted.connect(self.pasting.paste)
        self.table.came.connect(self._show_foot)
        self.table.typing.connect(self._show_foot)
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
        self.photos.begin()
        desk.changed.connect(self._show_change)
        desk.reviewed.connect(self._show_remarks)
        desk.saved.connect(self._tell_saved)
        desk.failed.connect(self.notice.tell_trouble)
        desk.mended.connect(self._tell_mended)
        desk.elsewhere.connect(self.elsewhere.show)
        self.path = ("sheet",)
        self.outline.show_rows(OutlineRows(desk.data))
        first = next((row.path for row in self.outline.rows.rows if row.sort == "step"), None)
        self.choose(first or ("sheet",))
        desk.begin_review()
        self.told.emit()

    def close_desk(self) -> None:
        """Puts aside what is not saved, and ends."""
        if self.writing is None:
            return
        self.keep()
        self._ask_offer = self._leave_offer = None
        desk, self.writing = self.writing, None
        desk.close()
        if self.pictures is not None:
            self.pictures.close()
            self.pictures = self.card.pictures = None
        desk.deleteLater()

    def offer_draft(
        self, aside: Any, take: Callable[[], None], leave: Callable[[], None], more: str = ""
    ) -> None:
        """Asks whether a draft that was put aside is to be taken; again, until it is answered."""

        def answer(_: str) -> None:
            self._leave_offer = self._ask_offer = None
            take()

        def ask() -> None:
            self.ask.open(
                f"A draft of this sheet was put aside on {aside.tell_when()} and is not saved. "
                f"{more}Enter takes the draft; Escape keeps to what was saved.",
                "Enter takes the draft that was not saved",
                answer,
                needed=False,
            )

        self._leave_offer, self._ask_offer = leave, ask
        ask()

    def _leave_ask(self) -> None:
        """Escape in the question: a draft that was offered is not wanted."""
        leave, self._leave_offer, self._ask_offer = self._leave_offer, None, None
        if leave is not None:
            leave()

    def begin(self) -> None:
        super().begin()
        if self._ask_offer is not None and self.writing is not None and self.writing.offers:
            self._ask_offer()
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
        number, of = number_of(data, self.path), count_steps(data)
        return f"Step {number} of {of}   {title}"

    def tell_stages(self) -> tuple[tuple[tuple[str, float], ...], int]:
        """The stages, each with the share of the steps at which it begins, and the one shown."""
        if self.writing is None:
            return (), -1
        stages = self.outline.rows.rows.list_stages()
        return stages, int(self.path[1]) if self.path[0] == "stages" else -1

    def _tell_for_now(self, what: str, next: str) -> None:
        """Says something that the next edit may make untrue."""
        self.notice.tell(what, next=next)
        self._for_now = what

    def _show_change(self) -> None:
        """After every edit."""
        if self._for_now and self.notice.what == self._for_now:
            self.notice.close_notice()
        self._for_now = ""
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
        self.outline.show_rows(OutlineRows(desk.data, desk.book.counts))

    def _show_remarks(self) -> None:
        desk = self.writing
        if desk is None:
            return
        self._show_outline()
        self.card.mark(desk.book.unread)
        self.table.mark(desk.book.unread)
        self._show_findings()
        if self.shows_table:
            self._show_foot()

    def _show_findings(self) -> None:
        desk = self.writing
        if desk is None:
            return
        said = []
        for severity, one, more in COUNTED:
            count = desk.book.count(severity)
            if count:
                said.append(f"{count} {one if count == 1 else more}")
        if desk.reviewed_data is None:
            self.summary.setText("The review is looking")
        else:
            self.summary.setText("Review: " + (", ".join(said) if said else "nothing found"))
        here = self.path if self.path[0] == "stages" else self.path[:1]
        self.findings.show_remarks(desk.book, here)

    def _show_foot(self, typed: str | None = None) -> None:
        """Under a table: what the program reads in the cell and the row, and what is found there.

        typed: what stands in the cell while it is written in.
        """
        desk = self.writing
        if desk is None or not self.shows_table:
            return
        row, column = self.table.cell
        section = str(self.path[0])
        if section != self.table.rows.section:
            # Another list was chosen, and the table is about to show it.
            return
        entries = self.table.rows.entries
        cell = tell_cell(
            section,
            entries[row] if row < len(entries) else None,
            self.table.rows.columns[column].keys,
            typed if typed is not None else self.table.rows.text(row, column),
        )
        said: list[str] = [cell] if cell else []
        if row < len(self.table.rows.entries):
            told = self.table.rows.told.get(self.table.rows.path(row, column))
            self.card.book.read(desk.data)
            name = self.table.rows.entries[row].get("name")
            if section == "specs" and isinstance(name, str):
                read = self.card.book.tell_spec(name)
                uses = self.table.rows.text(row, 8)
                said.append(f"{read}. Used: {uses}" if read else f"Used: {uses}")
            found = [r.sentence for r in desk.book.list_at((section, row))]
            if told and told not in found:
                found.insert(0, told)
            # What cannot be read in the cell is told once.
            said += [one for one in found if not cell or cell not in one][:MOST_TOLD]
        else:
            count = len(desk.book.list_at((section,)))
            said.append(
                "Write in the row, or paste rows with Ctrl V: cells parted by tabs, semicolons "
                "or commas."
            )
            if count:
                said.append(f"The review has found {count} here. F9 lists them.")
        self.table_foot.setText(let_break("\n".join(said)))
        self.say()

    def _tell_mended(self, told: str) -> None:
        """What could not be put aside is put aside now."""
        if self.notice.what == told:
            self.notice.close_notice()

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
        does, keys = tell_focus(self)
        self.bar.say(does, after, back, keys)

    # --- doing ----------------------------------------------------------------------------

    def apply(self, edit: Edit, goal: Path | None = None) -> bool:
        """Does an edit and shows what stands at `goal` then; what cannot be done is told."""
        if self.writing is None:
            return False
        self._goal = goal
        self.notice.close_notice()
        try:
            return self.writing.apply(edit)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)
            return False

    def _keep_typed(self, path: Path, text: str) -> None:
        if self.writing is not None:
            try:
                named = self.names.follow(self.writing.data, path, text)
                edit = named or type_at(self.writing.data, path, text)
            except Trouble as trouble:
                self.notice.tell_trouble(trouble)
                return
            self.apply(edit)
            if named is not None and self.writing is not None:
                self.names.note(self.writing.data)

    def keep_cell(self, row: int, column: int, text: str) -> None:
        if self.writing is None:
            return
        section = str(self.path[0])
        if self.apply(type_in_cell(self.writing.data, section, row, column, text)):
            said = tell_doubled(self.writing.data, section, row) if column == 0 else ""
            if said:
                self._tell_for_now(said, "Give each a name of its own, or take one of them out.")

    def press(self) -> None:
        if not press_in_use(self):
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
                            "revision", "date", "hints_off")}  # fmt: skip
        if path and path[0] in head:
            path = ("sheet", *path)
        if path:
            self.choose(path)
            if in_card and not self.shows_table and not self.card.go_to(path):
                self.card.begin()
        self.say()

    def pattern_in_use(self) -> int | None:
        """The index of the pattern on whose line the keys are."""
        wish = self.wish_in_use()
        return int(wish.removeprefix("pattern ")) if wish.startswith("pattern ") else None

    def wish_in_use(self) -> str:
        """The wish of the line that adds or opens something, where the keys are on one."""
        widget = QApplication.focusWidget()
        return widget.wish if isinstance(widget, WriteAction) else ""

    # --- tables ---------------------------------------------------------------------------

    def _do_in_table(self, wish: str) -> None:
        desk = self.writing
        if desk is None:
            return
        section, (row, _) = str(self.path[0]), self.table.cell
        path: Path = (section, row)
        if row >= len(self.table.rows.entries):
            return
        block = self.table.choice.block
        match wish:
            case "uses":
                self.uses.go_on()
            case "remove" if self.table.choice.whole_rows and block.top != block.bottom:
                if self.apply(remove_rows(desk.data, section, block)):
                    self.table.go_to(block.top)
            case "too long":
                self.notice.tell(
                    "More stands in this cell than can be written in it.",
                    next="Del empties it; Ctrl V writes over it.",
                )
            case "empty":
                count = (block.bottom - block.top + 1) * (block.right - block.left + 1)
                self.fill([[""]], f"emptying of {count} cells")
            case "add":
                entry = {"text": "", "after": ""} if section == "follow_ups" else {"name": ""}
                if section == "specs":
                    entry["kind"] = "torque"
                if self.apply(Add((section, row + 1), entry)):
                    self.table.go_to(row + 1)
            case "remove":
                name = self.table.rows.entries[row].get("name")
                if self.apply(Remove(path)) and (left := tell_left(desk.data, section, name)):
                    self._tell_for_now(
                        f'"{name}" is gone and still named in {left}; it is marked there.',
                        "Ctrl Z brings it back.",
                    )
            case "duplicate":
                if self.apply(Duplicate(path)):
                    self.table.go_to(row + 1)
            case "move up" | "move down":
                found = move_entry(desk.data, path, -1 if wish == "move up" else 1)
                if found is not None and self.apply(found[0]):
                    self.table.go_to(int(found[1][1]))

    def fill(self, cells: list[list[str]], said: str = "") -> None:
        """Writes cells into the table from the chosen one on, over what is there."""
        desk, block = self.writing, self.table.choice.block
        if desk is None or not self.shows_table:
            return
        try:
            edit = fill_cells(desk.data, str(self.path[0]), block, cells, said)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)
            return
        self.apply(edit)
        self._show_foot()

    # --- findings -------------------------------------------------------------------------

    def jump(self, remark: Remark) -> None:
        """Goes to the place of a finding."""
        self.go_to(remark.path)

    def go_to(self, path: Path) -> None:
        """Shows what stands at a path and goes on writing there."""
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

    # --- saving ---------------------------------------------------------------------------

    def save(self) -> None:
        """Ctrl S: saves; a sheet without a place asks for one."""
        desk = self.writing
        if desk is None:
            return
        self.keep()
        if desk.folder is None:
            self.save_as()
        else:
            desk.save()

    def save_as(self) -> None:
        """Asks for a folder and saves there from now on."""
        self.keep()
        desk = self.writing
        chosen = self.choose_folder(desk.title) if desk is not None else ""
        if desk is not None and chosen:
            desk.save(FilePath(chosen))

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

    def _open_photo_folder_dialog(self) -> str:
        return QFileDialog.getExistingDirectory(
            self, "A folder of pictures for this step", str(FilePath.home())
        )

    # --- keys -----------------------------------------------------------------------------

    def show_keys(self) -> None:
        """F1: every key of Write on a board."""
        self.keep()
        board = KeysBoard("Keys in Write", self._look, self._factor)
        board.closed.connect(board.deleteLater)
        board.show_groups(WRITE_KEYS)
        self.open_board(board)

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
            self.save_as() if shift else self.save()
        elif control and key == Qt.Key.Key_D:
            self.steps.duplicate()
        elif control and key == Qt.Key.Key_J:
            self.steps.join()
        elif control and key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and not self.shows_table:
            self.card.skip(-1 if key == Qt.Key.Key_Up else 1)
        elif control and key == Qt.Key.Key_U:
            self.keep()
            self.uses.go_on()
        elif control and key == Qt.Key.Key_M:
            self.marks.open_in_use()
        elif self.wish_in_use() == "add photos" and shift and key in ENTER:
            self.photos.add_folder()
        elif self.wish_in_use() == "add photos" and not held and key == Qt.Key.Key_C:
            self.camera.open()
        elif self.wish_in_use() == "add photos" and not held and key == Qt.Key.Key_K:
            self.photos.change_notes()
        elif control and key == Qt.Key.Key_V and len(self.path) == 4:
            self.photos.paste()
        elif key == Qt.Key.Key_B and (control or not held):
            self.putting_back.propose()
        elif key == Qt.Key.Key_F1:
            self.show_keys()
        elif key == Qt.Key.Key_F7:
            self.preview.open()
        elif key == Qt.Key.Key_F8:
            self.sharing.open()
        elif key == Qt.Key.Key_F9:
            self.go_to_findings()
        elif alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.steps.move(-1 if key == Qt.Key.Key_Up else 1)
        elif key == Qt.Key.Key_Insert:
            self.steps.add_stage() if shift else self.steps.add_step()
        elif control and key == Qt.Key.Key_Delete and self.pattern_in_use() is not None:
            self.patterns.remove(self.pattern_in_use() or 0)
        elif control and key == Qt.Key.Key_E and self.pattern_in_use() is not None:
            self.patterns.forecast(self.pattern_in_use() or 0)
        elif key == Qt.Key.Key_Delete and self.outline.hasFocus():
            self.steps.remove()
        elif key == Qt.Key.Key_Escape and self.errand is not None:
            self.escape()
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
