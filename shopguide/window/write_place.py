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
    QStackedWidget,
    QWidget,
)
from shiboken6 import isValid

from shopguide.errors import Trouble
from shopguide.job.edits import (
    Edit,
)
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window.background import Runner
from shopguide.window.board import Board
from shopguide.window.file_names import name_file
from shopguide.window.keys_board import KeysBoard
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place
from shopguide.window.write_action import WriteAction
from shopguide.window.write_camera import CameraDesk
from shopguide.window.write_card import WriteCard, find
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_edits import (
    find_difference,
    number_of,
    type_at,
)
from shopguide.window.write_elsewhere import ElsewhereDesk
from shopguide.window.write_face import Orders
from shopguide.window.write_fields import SECTIONS, TABLES
from shopguide.window.write_fixes import count_steps
from shopguide.window.write_keys import WRITE_KEYS, press_key
from shopguide.window.write_lists import ListDesk
from shopguide.window.write_marks import MarksDesk
from shopguide.window.write_outline import Outline, OutlineRows
from shopguide.window.write_pasting import PasteDesk
from shopguide.window.write_patterns import PatternDesk
from shopguide.window.write_photos import PhotoDesk
from shopguide.window.write_press import press_in_use
from shopguide.window.write_preview import PreviewDesk
from shopguide.window.write_putting_back import PutBackDesk
from shopguide.window.write_renaming import NameKeeper
from shopguide.window.write_review import ReviewDesk
from shopguide.window.write_sharing import SharingDesk
from shopguide.window.write_steps import StepDesk
from shopguide.window.write_uses import UseWalk
from shopguide.window.write_words import tell_focus

WORDS = dict(SECTIONS)
LEFT_PX = 330
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
        self._came_from: QWidget | None = None
        self.path: Path = ("sheet",)
        self._goal: Path | None = None
        self._leave_offer: Callable[[], None] | None = None
        self._ask_offer: Callable[[], None] | None = None
        self.ask.left.connect(self._leave_ask)
        self.choose_folder: Callable[[str], str] = self._open_folder_dialog
        self.choose_photos: Callable[[str], list[str]] = self._open_photo_dialog
        self.choose_photo_folder: Callable[[], str] = self._open_photo_folder_dialog
        self.outline = Outline(look, factor)
        self.card = WriteCard(look, factor)
        self.lists, self.review = ListDesk(self), ReviewDesk(self)
        self.table, self.findings = self.lists.table, self.review.findings
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
        self.views = QStackedWidget()
        self.views.addWidget(self.card)
        self.views.addWidget(self.lists.view)
        self._row = QHBoxLayout()
        self._row.addWidget(self.outline)
        self._row.addWidget(self.views, 1)
        self._row.addWidget(self.review.view)
        self.middle.addLayout(self._row, 1)
        self.outline.chosen.connect(self._choose)
        self.outline.entered.connect(self.enter)
        self.outline.moved.connect(self.steps.drop)
        self.outline.came.connect(self.say)
        self.card.kept.connect(self._keep_typed)
        self.card.asked.connect(self.steps.do)
        self.card.came.connect(self.say)
        self.card.dropped.connect(self.photos.add)
        self.table.pasted.connect(self.pasting.paste)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.applicationStateChanged.connect(self._look_away)
        app.focusChanged.connect(self._follow)
        self.set_look(look, factor)

    # --- taking up a sheet ----------------------------------------------------------------

    def take_up(self, desk: WriteDesk) -> None:
        """Takes up a sheet; the one before is put aside if it is not saved."""
        self.close_desk()
        # What was told of another sheet is not so of this one.
        self.notice.close_notice()
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

        def answer() -> None:
            self._leave_offer = self._ask_offer = None
            take()

        def ask() -> None:
            self.ask.confirm(
                f"A draft of this sheet was put aside on {aside.tell_when()} and is not saved. "
                f"{more}Enter takes the draft; Escape keeps to what was saved.",
                "Enter takes the draft that was not saved",
                answer,
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
        self.card.set_look(look, f)
        self.lists.set_look(look, f)
        self.review.set_look(look, f)
        if self.writing is not None:
            self._show_view()
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._look.color("ground"))
        painter.setPen(QPen(self._look.color("hairline"), max(1.0, self._factor)))
        parts = [self.outline] if self.review.view.isHidden() else [self.outline, self.views]
        for part in parts:
            x = part.geometry().right() + round(9 * self._factor)
            painter.drawLine(x, part.geometry().top(), x, part.geometry().bottom())

    # --- showing --------------------------------------------------------------------------

    def _choose(self, path: Path) -> None:
        self.keep()
        self.path = path
        self._show_view()
        self.review.show_findings()
        self.say()
        self.told.emit()

    def choose(self, path: Path) -> None:
        """Shows what stands at a path."""
        self.outline.quiet = True
        self.outline.choose(path)
        self.outline.quiet = False
        self.path = self.outline.path or ("sheet",)
        self._show_view()
        self.review.show_findings()
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
        self.review.view.setVisible(not table)
        if table:
            self.lists.show_list()
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

    def tell_for_now(self, what: str, next: str) -> None:
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
            self.review.show_findings()
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
        self.review.show_findings()
        if self.shows_table:
            self.lists.show_foot()

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
        # Beside what is undone there is no room for what is redone, nor for every key.
        back = ("Ctrl Shift Z redoes" + ("" if undo else f": {redo}")) if redo else ""
        does, keys = tell_focus(self)
        if undo and redo:
            keys = keys.removesuffix("   Ctrl S saves")
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
        """Escape: long work ends, else the keys go back to the list."""
        if self.errand is not None:
            self.escape()
            return
        self.keep()
        self.review.view.setVisible(not self.shows_table)
        self.outline.setFocus()
        self.say()

    def go_to_use(self) -> None:
        """Ctrl U: to where the name in use is used next."""
        self.keep()
        self.uses.go_on()

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

    # --- findings -------------------------------------------------------------------------

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
        name, _ = QFileDialog.getSaveFileName(
            self, "A folder for this sheet", str(FilePath.home() / name_file(title))
        )
        return name

    def _open_photo_dialog(self, title: str) -> list[str]:
        return QFileDialog.getOpenFileNames(self, title, str(FilePath.home()), PHOTO_NAMES)[0]

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

    def open_board(self, board: Board) -> None:
        at = QApplication.focusWidget()
        if self.board is None:
            self._came_from = at if at is not None and self.isAncestorOf(at) else None
        super().open_board(board)

    def _end_board(self) -> None:
        """The keys go back to the line from which the board was opened, where it is still there."""
        super()._end_board()
        line, self._came_from = self._came_from, None
        if line is not None and isValid(line) and line.isVisibleTo(self):
            line.setFocus()

    def find_line_in_use(self) -> QWidget | None:
        return self.outline if self.board is None else None

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.writing is None or self.board is not None:
            super().keyPressEvent(event)
        elif press_key(self, event):
            event.accept()
        elif not self.outline.hasFocus() and event.key() != Qt.Key.Key_L:
            event.ignore()
        else:
            super().keyPressEvent(event)
