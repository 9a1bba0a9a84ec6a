"""Handing on in Write: packing, the job card, comparing, tables from files, an older format."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog

from shopguide.errors import Trouble
from shopguide.job.compare import Change, compare_pictures, compare_sheets, group_changes
from shopguide.job.edits import Draft, SetValue, Together
from shopguide.job.files import Photos, dump_sheet, load_sheet
from shopguide.job.model import Sheet
from shopguide.job.packing import SHEET_NAME, find_packing
from shopguide.job.saving import write_atomically
from shopguide.job.sharing import Handed, open_source, pack
from shopguide.job.tables import Fit, Section, Table, judge_table, read_table, read_text_file
from shopguide.job.upgrade import UpgradeReport
from shopguide.job.written import FixedDict, FixedList, freeze, list_photo_files, read_written
from shopguide.window.background import Errand, Runner
from shopguide.window.file_names import name_file
from shopguide.window.large import import_alone
from shopguide.window.report_board import ReportBoard, ReportLine
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_sharing_board import ListBoard, ListRow, SharingBoard, SharingRow
from shopguide.window.written_packing import WrittenPacking

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace

SHEETS = "Job sheets (job.json *.zip);;All files (*)"
TABLES = "Tables (*.csv *.tsv *.tab *.txt);;All files (*)"
MARKS = {"added": "new", "removed": "gone", "changed": "changed", "moved": "moved"}


class Compared(NamedTuple):
    """What came of a comparison: the older sheet, and the changes from it to what is written."""

    old: Sheet
    changes: tuple[Change, ...]


class SharingDesk(QObject):
    """Opens the board and does what is chosen there. All goes by what is written, saved or not."""

    unpacks = Signal()
    """A sheet is to be unpacked from a zip, and opened."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        super().__init__(place)
        self._place, self._runner = place, runner
        self.board = SharingBoard(place.look, place.factor)
        self.lists = ListBoard(place.look, place.factor)
        self.report = ReportBoard(place.look, place.factor)
        self.board.picked.connect(self._do)
        self.lists.picked.connect(self._take_table)
        self.report.goes.connect(place.go_to)
        self._table: tuple[str, str] = ("", "")
        self.choose_zip: Callable[[str], str] = self._open_zip_dialog
        self.choose_card: Callable[[str], str] = self._open_card_dialog
        self.choose_revision: Callable[[], str] = self._open_revision_dialog
        self.choose_table: Callable[[], str] = self._open_table_dialog

    def open(self) -> None:
        """F8: shows what can be done."""
        desk = self._place.writing
        if desk is None:
            return
        self._place.keep()
        folder = desk.folder.name if desk.folder is not None else ""
        self.board.show_sheet(len(list_photo_files(desk.data)), folder)
        self._place.open_board(self.board)

    def _do(self, row: SharingRow) -> None:
        desk = self._place.writing
        if desk is None:
            return
        match row.sort:
            case "pack":
                self._pack(desk)
            case "card":
                self._write_card(desk)
            case "compare":
                self._compare(desk, self.choose_revision())
            case "compare saved":
                self._compare(desk, str(desk.folder))
            case "table":
                self._look_at_table()
            case "unpack":
                self.unpacks.emit()

    def _run(
        self,
        title: str,
        work: Callable[[Errand], Any],
        take: Callable[[Any], None],
        lays_over: str = "",
    ) -> None:
        """Runs work off the window's thread; `take` gets what came of it, for the same sheet.

        lays_over: what is shown on a board then, "" where nothing is.
        """
        desk = self._place.writing
        errand = Errand(title, self)

        def hand_over(result: Any) -> None:
            if desk is not self._place.writing:
                return
            if not lays_over or self._place.has_room_for(lays_over):
                take(result)

        errand.done.connect(hand_over)
        self._place.show_errand(errand)
        self._runner.run(errand, work)

    # --- handing on -----------------------------------------------------------------------

    def _pack(self, desk: WriteDesk) -> None:
        path = _end_with(self.choose_zip(name_file(desk.title, ".zip")), ".zip")
        if path is None:
            return
        data = desk.data

        def work(errand: Errand) -> Handed:
            _check_free(path)
            source = _pack_up(desk, data)
            return pack(source, path.file, errand.tell, errand.is_cancelled)

        def tell(handed: Handed) -> None:
            said = " ".join(handed.tell())
            self._place.notice.tell(f"Packed: {path.file.name}", str(path.file), said)

        self._run(f"Packing {desk.title}", work, tell)

    def _write_card(self, desk: WriteDesk) -> None:
        path = _end_with(self.choose_card(name_file(desk.title, ", job card.pdf")), ".pdf")
        if path is None:
            return
        data, paper = desk.data, self.board.paper

        def work(errand: Errand) -> str:
            _check_free(path)
            card = import_alone("shopguide.paper.job_card")
            opened = open_source(_pack_up(desk, data), errand.tell, errand.is_cancelled)
            pdf = card.make_job_card(opened, paper, None, errand.tell, errand.is_cancelled)
            if not errand.is_cancelled():
                write_atomically(path.file, pdf)
            return str(card.tell_letters(opened.sheet))

        def tell(letters: str) -> None:
            self._place.notice.tell(
                f"The job card is written: {path.file.name}",
                str(path.file),
                f"Open it from there to print it. {letters}".strip(),
            )

        self._run(f"Writing the job card of {desk.title}", work, tell)

    # --- comparing ------------------------------------------------------------------------

    def _compare(self, desk: WriteDesk, other: str) -> None:
        if not other:
            return
        data = desk.data

        def work(errand: Errand) -> Compared:
            now = _read_whole(data)
            old, pictures = _read_other(Path(other))
            errand.tell("Comparing the words")
            changes = compare_sheets(old, now)
            packing = desk.pack_as_written(b"")
            changes += compare_pictures(
                pictures, Photos(packing, now.photo_files()), errand.tell, errand.is_cancelled
            )
            return Compared(old, changes)

        def show(found: Compared) -> None:
            if desk.data is not data:
                said = "The sheet was changed while it was compared."
                self._place.notice.tell(said, next="F8 compares again.")
            elif not found.changes:
                name = Path(other).name
                self._place.notice.tell(f"Nothing differs between {name} and what is written here.")
            else:
                self._show_changes(found)

        name = Path(other).name
        self._run(f"Comparing with {name}", work, show, lays_over=f"What differs from {name}")

    def _show_changes(self, found: Compared) -> None:
        count = len(found.changes)
        old = found.old
        groups = [
            (head, [ReportLine(c.tell_under_head(), MARKS[c.sort], c.path) for c in held])
            for head, held in group_changes(found.changes)
        ]
        self.report.show_report(
            f"{count} change{'' if count == 1 else 's'}",
            f"From revision {old.revision} of {old.date}, {old.title}, to what is written now",
            groups,
        )
        self._place.open_board(self.report)

    # --- a table from a file --------------------------------------------------------------

    def _look_at_table(self) -> None:
        name = self.choose_table()
        if not name:
            return
        path = Path(name)

        def work(_: Errand) -> tuple[str, tuple[Fit, ...]]:
            text = read_text_file(path)
            return text, judge_table(text, path.name)

        def show(found: tuple[str, tuple[Fit, ...]]) -> None:
            self._table = found[0], path.name
            self.lists.show_fits(path.name, found[1])
            self._place.open_board(self.lists)

        self._run(f"Looking at {path.name}", work, show, lays_over=path.name)

    def _take_table(self, row: ListRow) -> None:
        text, name = self._table
        section: Section = row.section  # type: ignore[assignment]

        def work(_: Errand) -> Table:
            table = read_table(text, section, name)
            # Thousands of rows are made unchangeable here, not on the window's thread.
            return replace(table, rows=tuple(freeze(row) for row in table.rows))

        self._run(
            f"Reading {name}",
            work,
            lambda table: self._put_in(table, section, name),
            lays_over=name,
        )

    def _put_in(self, table: Table, section: str, name: str) -> None:
        """Puts the rows behind those that are there, as one edit."""
        desk = self._place.writing
        if desk is None:
            return
        there = desk.data.get(section)
        held = list(there) if isinstance(there, FixedList) else []
        count = len(table.rows)
        rows = f"{count} row{'' if count == 1 else 's'}"
        if not count:
            self._place.notice.tell(f"{name} has no rows under its first line.")
            return
        said = f"taking in of {rows} into {section} from {name}"
        change = Together((SetValue((section,), [*held, *table.rows]),), said)
        if not self._place.apply(change):
            return
        self._place.choose((section,))
        self._place.table.go_to(len(held))
        self._place.table.setFocus()
        known = {str(one.get("name")) for one in held if isinstance(one, FixedDict)}
        names = Counter(str(one.get("name")) for one in table.rows)
        again = sum(1 for one in names if one in known or names[one] > 1)
        doubled = f"{again} name{'s stand' if again > 1 else ' stands'} there twice now. "
        if table.troubles:
            self._show_unread(table, section, len(held), f"{rows} taken into {section} from {name}")
        else:
            then = f"{doubled if again else ''}Ctrl Z takes it back."
            self._place.notice.tell(f"{rows} taken into {section} from {name}.", next=then)

    def _show_unread(self, table: Table, section: str, first: int, said: str) -> None:
        lines = []
        for one in table.troubles:
            path = (section, first + int(one.path[0]), *one.path[1:]) if one.path else ()
            where = one.trouble.where.partition(", ")[2]
            words = f"{one.trouble.what} {one.trouble.next}"
            lines.append(ReportLine(f"{where}: {words}" if where else words, path=path))
        count = len(lines)
        self.report.show_report(
            said,
            f"{count} thing{' is' if count == 1 else 's are'} to be looked at. What cannot be read "
            "stands as it was written; Ctrl Z takes all of it back.",
            [("", lines)],
        )
        self._place.open_board(self.report)

    # --- an older format ------------------------------------------------------------------

    def show_upgrade(self, report: UpgradeReport) -> None:
        """Shows what was changed in a sheet of an older format while it was opened."""
        self.report.show_report(
            "This sheet was written in an older format",
            "It is shown in today's. The file stays as it was until you save: Ctrl S.",
            [
                (
                    f"From format {before} to format {after}",
                    [ReportLine(one) for one in words or ("Nothing else changed.",)],
                )
                for before, after, words in report.steps
            ],
        )
        self._place.open_board(self.report)

    # --- the system's dialogs -------------------------------------------------------------

    def _open_zip_dialog(self, name: str) -> str:
        where = str(Path.home() / name)
        return QFileDialog.getSaveFileName(self._place, "The packed sheet", where, "Zip (*.zip)")[0]

    def _open_card_dialog(self, name: str) -> str:
        where = str(Path.home() / name)
        return QFileDialog.getSaveFileName(self._place, "The job card", where, "PDF (*.pdf)")[0]

    def _open_revision_dialog(self) -> str:
        home = str(Path.home())
        return QFileDialog.getOpenFileName(self._place, "The other revision", home, SHEETS)[0]

    def _open_table_dialog(self) -> str:
        home = str(Path.home())
        return QFileDialog.getOpenFileName(self._place, "A table", home, TABLES)[0]


class _Target(NamedTuple):
    """A file to write. bare: its ending was added here, so that nobody was asked about it."""

    file: Path
    bare: bool


def _end_with(name: str, ending: str) -> _Target | None:
    if not name:
        return None
    path = Path(name)
    if path.suffix.casefold() == ending:
        return _Target(path, False)
    return _Target(path.with_name(path.name + ending), True)


def _check_free(target: _Target) -> None:
    if target.bare and target.file.exists():
        raise Trouble(
            f"There is a file {target.file.name} already.",
            str(target.file),
            "Choose another name; nothing was written.",
        )


def _read_whole(data: FixedDict) -> Sheet:
    """The sheet as it is written. Raises Trouble while something in it cannot be read."""
    sheet = read_written(data).sheet
    if sheet is None:
        raise Trouble(
            "Something in the sheet cannot be read yet.",
            next="F9 goes to what is to be put right first.",
        )
    return sheet


def _pack_up(desk: WriteDesk, data: FixedDict) -> WrittenPacking:
    return desk.pack_as_written(dump_sheet(_read_whole(data)))


def _read_other(path: Path) -> tuple[Sheet, Photos]:
    """Another revision and its pictures, even where names in it lead nowhere. Raises Trouble."""
    packing = find_packing(path)
    sheet = Draft.open(packing.read_sheet(), SHEET_NAME).sheet
    if sheet is None:
        return load_sheet(path).sheet, Photos(packing, ())  # tells every fault
    return sheet, Photos(packing, sheet.photo_files())
