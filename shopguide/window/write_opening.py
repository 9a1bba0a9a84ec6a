"""Opening a sheet in Write, beginning a new one, and offering drafts that were put aside."""

from __future__ import annotations

import contextlib
import hashlib
import importlib
import json
import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QFileDialog

from shopguide import places
from shopguide.errors import Trouble
from shopguide.window.background import Errand
from shopguide.window.file_names import name_file
from shopguide.window.large import import_large, keep_what_stays

if TYPE_CHECKING:
    from shopguide.job.edits import Draft
    from shopguide.job.packing import Packing
    from shopguide.job.upgrade import UpgradeReport
    from shopguide.window.frame import Frame
    from shopguide.window.place import Place
    from shopguide.window.write_desk import WriteDesk
    from shopguide.window.write_drafts import Aside, Hold
    from shopguide.window.write_new_board import Beginning

AUTHOR = "author"


@dataclass(frozen=True)
class Found:
    """A sheet to write in. folder: where it is saved, None where it has no place yet."""

    draft: Draft
    folder: Path | None
    packing: Packing | None
    hold: Hold | None = None
    """The right to its draft's key; a new one is taken where this is None."""
    base: str | None = None
    """The SHA-256 of the job.json that was read; "" where there is none."""
    aside: Aside | None = None
    told: tuple[str, ...] = ()
    """What to tell about it: what happened, where, what to do next."""
    report: UpgradeReport | None = None
    """What was changed in a sheet of an older format."""


class Opening(QObject):
    """What the frame needs to bring a sheet into Write; reading is done off its thread."""

    def __init__(self, frame: Frame) -> None:
        super().__init__(frame)
        self._frame = frame
        self.choose_sheet: Callable[[], str] = self._open_dialog
        self.choose_zip: Callable[[], str] = self._open_zip_dialog
        self.choose_folder: Callable[[str], str] = self._open_folder_dialog

    # --- a sheet that is there ------------------------------------------------------------

    def open_sheet(self, path: Path) -> None:
        """Opens a sheet in Write, half-finished or not; a sample is opened as a copy.

        Where it is there already and not saved, it is brought to the front as it is.
        """
        writing = self._frame.write.writing if self._frame.is_writing else None
        if writing is not None and _is_same_folder(writing.folder, path):
            if not writing.is_saved:
                self._frame.go("write")
                return
            writing.lend_key()
        after = writing.take_key_back if writing is not None else None
        self._run(f"Opening {path.name}", lambda _: _read(path), after)

    def open_draft(self, key: str, title: str) -> None:
        """Opens a draft of a sheet that is nowhere saved."""
        if self._frame.is_writing and self._frame.write.writing.key == key:
            self._frame.go("write")
        else:
            self._run(f"Opening {title}", lambda _: _read_draft(key))

    def drop_draft(self, key: str, title: str) -> None:
        """Throws a draft away, and shows the Shelf without it."""
        errand = Errand(f"Throwing away {title}", self)

        def work(_: Errand) -> None:
            import_large()
            from shopguide.window.write_offers import throw_away

            throw_away(key)

        errand.ended.connect(self._frame.shelf.reload)
        self._frame.place.show_errand(errand)
        self._frame.runner.run(errand, work)

    def _run(
        self,
        title: str,
        read: Callable[[Errand], Found],
        after: Callable[[], None] | None = None,
    ) -> None:
        """Reads a sheet off the window's thread and writes in it; after: whatever came of it."""
        errand = Errand(title, self)
        read_one: list[Found] = []

        def work(errand: Errand) -> Found:
            import_large()
            importlib.import_module("shopguide.window.write_place")
            with keep_what_stays():
                read_one.append(read(errand))
                return read_one[0]

        def take(found: Found) -> None:
            read_one.clear()
            self._take(found)

        def let_go() -> None:
            # Called off when it was read already: nobody writes it.
            if read_one and read_one[0].hold is not None:
                read_one[0].hold.drop()

        errand.done.connect(take)
        errand.ended.connect(let_go)
        if after is not None:
            errand.ended.connect(after)
        self._frame.place.show_errand(errand)
        self._frame.runner.run(errand, work)

    def _take(self, found: Found) -> None:
        from shopguide.window.write_desk import WriteDesk
        from shopguide.window.write_offers import tell_elsewhere

        write = self._frame.write
        desk = WriteDesk(
            found.draft,
            found.folder,
            found.packing,
            parent=write,
            hold=found.hold,
            base=found.base,
        )
        write.take_up(desk)
        desk.saved.connect(lambda: self._remember(desk))
        if found.folder is not None:
            self._frame.shelf.remember(found.folder)
        self._frame.go("write")
        told = found.told
        if desk.held_elsewhere and not told:
            told = tell_elsewhere(desk.held_elsewhere)
        if told:
            write.notice.tell(*told)
        aside, report = found.aside, found.report

        def tell_older() -> None:
            if report is not None and report.steps and write.writing is desk:
                write.sharing.show_upgrade(report)

        if aside is None:
            tell_older()
            return

        def take() -> None:
            try:
                desk.restore(aside)
            except Trouble as trouble:
                write.notice.tell_trouble(trouble)
            tell_older()

        def leave() -> None:
            desk.leave_aside()
            tell_older()

        desk.offers = True
        more = ""
        if aside.doubtful:
            more = "Its file is damaged in a place, so look everything over. "
        elif aside.base and aside.base != desk.base:
            more = "The sheet was saved elsewhere after that. "
        write.offer_draft(aside, take, leave, more)

    def _remember(self, desk: WriteDesk) -> None:
        """What was saved stands on the Shelf."""
        if desk.folder is not None:
            self._frame.shelf.remember(desk.folder)

    # --- a new one ------------------------------------------------------------------------

    def begin_new(self) -> Errand:
        """Shows the ways to begin a new sheet, over the place that is in front."""
        errand = Errand("Looking for samples and drafts", self)

        def work(_: Errand) -> list[Beginning]:
            import_large()
            return _list_beginnings()

        errand.done.connect(self._show_board)
        errand.failed.connect(self._frame.place.notice.tell_trouble)
        return self._frame.runner.run(errand, work)

    def _show_board(self, rows: list[Beginning]) -> None:
        from shopguide.window.write_new_board import NewSheetBoard

        place = self._frame.place
        if not place.has_room_for("The ways to begin a sheet"):
            return
        board = NewSheetBoard(self._frame.look, self._frame.factor)
        board.picked.connect(self._begin)
        board.show_rows(rows)
        place.open_board(board)
        board.closed.connect(board.deleteLater)

    def _begin(self, row: Beginning) -> None:
        if row.sort == "unpack":
            self.unpack()
            return
        if row.sort == "draft":
            self.open_draft(row.name, row.title)
            return
        source = ""
        if row.sort == "copy":
            source = self.choose_sheet()
            if not source:
                return
        elif row.sort == "sample":
            source = row.name
        place = self._frame.place
        place.ask.open(
            "What is the new sheet called? Name the job and the machine.",
            "Enter goes on",
            lambda title: self._ask_author(place, row, source, title),
            check=_check_line,
        )

    def _ask_author(self, place: Place, row: Beginning, source: str, title: str) -> None:
        place.ask.open(
            "Who writes it? The name stands on the sheet.",
            "Enter makes the sheet",
            lambda author: self._make(row, source, title, author),
            check=_check_line,
            text=str(self._frame.settings.value(AUTHOR, "")),
        )

    def _make(self, row: Beginning, source: str, title: str, author: str) -> None:
        self._frame.settings.setValue(AUTHOR, author)
        day = date.today()

        def read(_: Errand) -> Found:
            from shopguide.job.edits import Draft
            from shopguide.job.skeletons import make_skeleton

            if source:
                return _copy(Path(source), title, author, day)
            return Found(Draft(make_skeleton(row.name, title, author, day)), None, None)

        self._run(f"Making {title}", read)

    # --- a sheet that somebody handed on --------------------------------------------------

    def unpack(self) -> None:
        """Asks for a zip, looks it over, asks for a folder, and opens what was laid there."""
        name = self.choose_zip()
        if not name:
            return
        path = Path(name)

        def look_over(errand: Errand) -> str:
            import_large()
            from shopguide.job.files import load_sheet

            return load_sheet(path, errand.tell, errand.is_cancelled).sheet.title

        errand = Errand(f"Looking over {path.name}", self)
        errand.done.connect(lambda title: self._lay_out(path, title))
        self._frame.place.show_errand(errand)
        self._frame.runner.run(errand, look_over)

    def _lay_out(self, path: Path, title: str) -> None:
        name = self.choose_folder(title)
        if not name:
            self._frame.place.notice.tell(f"{path.name} is a sound sheet. Nothing was unpacked.")
            return
        folder = Path(name)

        def read(errand: Errand) -> Found:
            from shopguide.job.sharing import unpack

            handed = unpack(path, folder, errand.tell, errand.is_cancelled)
            told = (f"Unpacked into {folder}", "", handed.tell()[0])
            return replace(_read(folder), told=told)

        self._run(f"Unpacking {path.name}", read)

    def _open_zip_dialog(self) -> str:
        home = str(Path.home())
        return QFileDialog.getOpenFileName(self._frame, "A packed sheet", home, "Zip (*.zip)")[0]

    def _open_folder_dialog(self, title: str) -> str:
        where = str(Path.home() / name_file(title))
        return QFileDialog.getSaveFileName(self._frame, "A new folder for this sheet", where)[0]

    def _open_dialog(self) -> str:
        name, _ = QFileDialog.getOpenFileName(
            self._frame,
            "The sheet to copy",
            str(Path.home()),
            "Job sheets (job.json *.zip);;All files (*)",
        )
        return name


def _check_line(text: str) -> str:
    if len(text) > 200:
        raise Trouble("This is too long.", next="At most 200 signs.")
    return ""


def _read(path: Path) -> Found:
    """A sheet as it was saved, and the draft of it that was put aside."""
    from shopguide.job.packing import find_packing

    packing = find_packing(path)
    samples = {s.absolute() for s in places.list_samples()}
    if packing.path.absolute() in samples:
        told = ("This is a copy of the sample.", "", "Ctrl S asks where it is to be kept.")
        return Found(_open_draft(packing), None, packing, told=told, report=_report(packing))
    if not packing.path.is_dir():
        then = "Ctrl S asks for a folder to keep it in."
        told = ("This is a copy of the zipped sheet.", "", then)
        return Found(_open_draft(packing), None, packing, told=told, report=_report(packing))
    from shopguide.window.write_offers import find_offer

    raw = packing.read_sheet()
    draft = _open_draft(packing, raw)
    offer = find_offer(packing, draft)
    return Found(
        draft,
        packing.path,
        packing,
        hold=offer.hold,
        base=hashlib.sha256(raw).hexdigest(),
        aside=offer.aside,
        told=offer.told,
        report=_report(packing),
    )


def _is_same_folder(folder: Path | None, path: Path) -> bool:
    """True where a path leads to this folder."""
    if folder is None:
        return False
    here = path.parent if path.name == "job.json" else path
    return os.path.realpath(folder) == os.path.realpath(here)


def _report(packing: Packing) -> UpgradeReport:
    """What is changed in the sheet of a packing to bring it to today's format."""
    from shopguide.job.packing import SHEET_NAME
    from shopguide.job.upgrade import report_upgrade

    return report_upgrade(packing.read_sheet(), SHEET_NAME)


def _open_draft(packing: Packing, raw: bytes = b"") -> Draft:
    from shopguide.job.edits import Draft
    from shopguide.job.packing import SHEET_NAME

    return _warm(Draft.open(raw or packing.read_sheet(), SHEET_NAME))


def _warm(draft: Draft) -> Draft:
    """Reads every piece once, here on the errand's thread; the pieces remember what they are."""
    assert draft.data is not None
    _ = draft.sheet
    return draft


def _copy(path: Path, title: str, author: str, day: date) -> Found:
    """A new sheet with everything that another holds, even where not all can be read."""
    from shopguide.job.edits import Draft
    from shopguide.job.packing import find_packing
    from shopguide.job.written import FixedDict

    packing = find_packing(path)
    source = _open_draft(packing)
    data = FixedDict({**source.data, "title": title, "author": author, "date": str(day)})
    data = FixedDict({key: held for key, held in data.items() if key != "revision"})
    draft = Draft.open(json.dumps(data, ensure_ascii=False).encode("utf-8"))
    return Found(_warm(draft), None, packing, base="", report=_report(packing))


def _read_draft(key: str) -> Found:
    from shopguide.job.edits import Draft
    from shopguide.window.write_offers import hold_unsaved

    hold, aside = hold_unsaved(key)
    told: tuple[str, ...] = ()
    if aside.source:
        what = "The sheet that this draft is of is not there any more."
        told = (what, aside.source, "Ctrl S asks for another place.")
    elif aside.doubtful:
        told = ("The file of this draft is damaged in a place.", "", "Look everything over.")
    return Found(_warm(Draft.open(aside.raw)), None, None, hold=hold, base="", told=told)


def _list_beginnings() -> list[Beginning]:
    from shopguide.job.skeletons import SKELETONS
    from shopguide.window.write_drafts import is_held, key_of, list_unsaved
    from shopguide.window.write_new_board import Beginning

    rows = []
    # Without a folder for drafts there are none; a sheet can be begun all the same.
    with contextlib.suppress(Trouble):
        for aside in list_unsaved():
            under = f"a draft that was never saved, {aside.tell_when()}"
            if not is_held(key_of(aside)):
                rows.append(Beginning("draft", aside.title, under, key_of(aside)))
    titles = {"blank": "Blank", "take apart": "Take apart and put back"}
    rows += [
        Beginning("skeleton", titles.get(name, name), held, name)
        for name, held in SKELETONS.items()
    ]
    rows.append(Beginning("copy", "A copy of a sheet", "with everything that it holds"))
    under = "a zip is looked over, then laid into a folder of your choice"
    rows.append(Beginning("unpack", "A sheet that somebody packed", under))
    for path in places.list_samples():
        rows.append(
            Beginning("sample", f"From the sample: {_find_title(path)}", path.name, str(path))
        )
    return rows


def _find_title(path: Path) -> str:
    try:
        held: Any = json.loads((path / "job.json").read_bytes())
        return str(held.get("title", path.name))
    except (OSError, ValueError, AttributeError):
        return path.name
