"""The desk of a sheet being written: its draft, the review beside it, putting aside, saving."""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import re
import threading
import unicodedata
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from shopguide.errors import Trouble
from shopguide.job.album import (
    Album,
    Cancelled,
    Progress,
    Refused,
    Shelf,
    add_folder,
    add_photos,
)
from shopguide.job.edits import Draft, Edit
from shopguide.job.files import save_sheet
from shopguide.job.packing import PHOTO_FOLDER, SHEET_NAME, Packing, find_packing
from shopguide.job.saving import write_all_atomically
from shopguide.job.text import Path as SheetPath
from shopguide.job.text import write_text
from shopguide.job.written import FixedDict, FixedList, Located, find_troubles, read_written
from shopguide.review.findings import Reviewer
from shopguide.review.rule import Finding, Fix, Severity
from shopguide.window import write_drafts
from shopguide.window.write_fixes import find_entry, find_step, find_task

log = logging.getLogger(__name__)

ASIDE_MS = 3000
"""So long after a change the draft is put aside."""
REVIEW_MS = 120
"""So long after a change the review looks at it: not at every letter."""


@dataclass(frozen=True, slots=True)
class Remark:
    """One line of the review: how grave, where, what, why, the place to go to, perhaps a fix."""

    severity: Severity
    where: str
    sentence: str
    reason: str
    rule: str
    path: SheetPath
    fix: Fix | None = None


class WriteDesk(QObject):
    """Holds the draft, and is the only way by which the window changes it."""

    changed = Signal()
    """The sheet as written is another one; the views redraw."""
    reviewed = Signal()
    """`remarks` are those of what there is now."""
    saved = Signal()
    failed = Signal(object)
    """A Trouble: something was not saved, or not put aside."""

    _found = Signal(object, object)
    _kept = Signal(object, object, object, object)
    _refused = Signal(object)

    def __init__(
        self,
        draft: Draft,
        folder: Path | None = None,
        packing: Packing | None = None,
        key: str = "",
        parent: QObject | None = None,
    ) -> None:
        """folder: where it is saved, None until then; packing: where its pictures lie."""
        super().__init__(parent)
        self.draft, self.folder, self._packing = draft, folder, packing
        self.key = key or write_drafts.name_draft(folder)
        self.remarks: tuple[Remark, ...] = ()
        self.reviewed_data: FixedDict | None = None
        self._new_photos: dict[str, Path] = {}
        self._taking_in, self._noting = threading.Lock(), threading.Lock()
        self._reviewer = Reviewer()
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="write")
        self._looking = False
        self._aside: FixedDict = draft.data
        self.saves = 0
        """How often it was saved since the job was last opened from it."""
        self._closed = False
        self._waiting: list[Future[Any]] = []
        self._review_soon = self._make_timer(REVIEW_MS, self._review)
        self._aside_soon = self._make_timer(ASIDE_MS, self.put_aside)
        self._found.connect(self._take_remarks)
        self._kept.connect(self._take_saved)
        self._refused.connect(self.failed)
        # Pictures of a draft that was put aside wait beside it.
        with contextlib.suppress(OSError, Trouble):
            waiting = write_drafts.find_pictures(self.key)
            self._new_photos = {p.name: p for p in waiting.iterdir()} if waiting.is_dir() else {}

    def _make_timer(self, ms: int, do: Callable[[], object]) -> QTimer:
        timer = QTimer(self)
        timer.setSingleShot(True)
        timer.setInterval(ms)
        timer.timeout.connect(do)
        return timer

    # --- what there is --------------------------------------------------------------------

    @property
    def data(self) -> FixedDict:
        """The sheet as written."""
        return self.draft.data

    @property
    def title(self) -> str:
        """The sheet's title, as far as there is one."""
        held = self.data.get("title")
        return held if isinstance(held, str) and held.strip() else "sheet without a title"

    @property
    def is_saved(self) -> bool:
        """True where the file holds what there is now."""
        return self.folder is not None and self.draft.is_saved

    @property
    def busy(self) -> bool:
        """True while the review or the disk is at work."""
        pending = any(not future.done() for future in self._waiting)
        return self._looking or self._review_soon.isActive() or pending

    def read_photo(self, name: str) -> bytes:
        """The bytes of a picture, saved or still waiting; for any thread. Raises Trouble."""
        waiting = self._new_photos.get(name)
        if waiting is not None:
            return waiting.read_bytes()
        if self._packing is None:
            raise Trouble(f"{name} is not there.", next="Add the picture again.")
        with self._packing.look_into(name) as found:
            return bytes(found)

    # --- changing it ----------------------------------------------------------------------

    def apply(self, edit: Edit) -> bool:
        """Does an edit; False where it changes nothing. Raises Trouble where it cannot be done."""
        if not self.draft.apply(edit):
            return False
        self._tell_changed()
        return True

    def undo(self) -> bool:
        """Takes back the last edit."""
        return self.draft.undo() and self._tell_changed()

    def redo(self) -> bool:
        """Does again what was taken back last."""
        return self.draft.redo() and self._tell_changed()

    def _tell_changed(self) -> bool:
        self._review_soon.start()
        if not self._aside_soon.isActive():
            self._aside_soon.start()
        self.changed.emit()
        return True

    # --- the review -----------------------------------------------------------------------

    def begin_review(self) -> None:
        """Looks the sheet over, off the window's thread."""
        self._review_soon.start(0)

    def _review(self) -> None:
        if self._closed:
            return
        if self._looking:
            self._review_soon.start()
            return
        self._looking = True
        self._pool.submit(self._look_over, self.data, self.draft.last_sheet)

    def _look_over(self, data: FixedDict, last: Any) -> None:
        """On the desk's thread."""
        remarks: tuple[Remark, ...] = ()
        try:
            reading = read_written(data)
            unread = tuple(_tell_unread(held) for held in find_troubles(data, reading, SHEET_NAME))
            sheet = reading.sheet or last
            found = self._reviewer.review(sheet) if sheet is not None else ()
            remarks = (*unread, *(_place(data, one) for one in found if not _is_told(one, unread)))
        except Exception:
            log.exception("reviewing")
        with contextlib.suppress(RuntimeError):
            self._found.emit(data, remarks)

    def _take_remarks(self, data: FixedDict, remarks: tuple[Remark, ...]) -> None:
        self._looking = False
        if self._closed:
            return
        self.remarks, self.reviewed_data = remarks, data
        self.reviewed.emit()
        if data is not self.data:
            self._review_soon.start()

    # --- putting aside and saving ---------------------------------------------------------

    def put_aside(self) -> None:
        """Puts what is not saved yet into the user's folder, off the window's thread."""
        self._aside_soon.stop()
        data = self.data
        if self._closed or data is self._aside or self.is_saved:
            return
        self._aside = data
        self._submit(self._write_aside, data, self.title)

    def _write_aside(self, data: FixedDict, title: str) -> None:
        """On the desk's thread."""
        raw = json.dumps(data, ensure_ascii=False).encode("utf-8")
        try:
            write_drafts.put_aside(self.key, self.folder, title, raw)
        except Trouble as trouble:
            self._refused.emit(trouble)

    def save(self, folder: Path | None = None) -> None:
        """Saves into its folder, or into another one from now on; `saved` or `failed` tells."""
        target = folder or self.folder
        if target is None:
            raise Trouble("This sheet has no place yet.", next="Choose a folder for it.")
        if target == self.folder and self.draft.is_saved:
            self.saved.emit()
            return
        self._aside_soon.stop()
        photos: dict[str, Path | bytes] = {}
        for name in _list_photo_files(self.data):
            if name in self._new_photos:
                photos[name] = self._new_photos[name]
            elif target != self.folder and self._packing is not None:
                with contextlib.suppress(Trouble):
                    photos[name] = self.read_photo(name)
        self._submit(self._write, target, self.data, photos)

    def _write(self, target: Path, data: FixedDict, photos: dict[str, Any]) -> None:
        """On the desk's thread."""
        try:
            sheet = read_written(data).sheet
            if sheet is not None:
                save_sheet(sheet, target, photos)
            else:
                _save_unread(target, write_text(data), photos)
            packing = find_packing(target)
            # A picture whose adding was undone, or that came meanwhile, goes on waiting.
            write_drafts.drop_aside(self.key, photos)
        except Trouble as trouble:
            self._refused.emit(trouble)
        except Exception:
            log.exception("saving %s", target)
            self._refused.emit(
                Trouble("The sheet is not saved.", next="What happened is in the log file.")
            )
        else:
            self._kept.emit(target, data, packing, set(photos))

    def _take_saved(
        self, target: Path, data: FixedDict, packing: Packing, photos: set[str]
    ) -> None:
        self.folder, self._packing = target, packing
        self.saves += 1
        with self._noting:
            self.key = write_drafts.name_draft(target)
            rest = {n: path for n, path in self._new_photos.items() if n not in photos}
            self._new_photos = write_drafts.move_pictures(rest, self.key)
        if data is self.data:
            self.draft.keep_saved()
        else:
            self._aside_soon.start()
        self.saved.emit()

    def _submit(self, work: Callable[..., Any], *given: Any) -> None:
        self._waiting = [future for future in self._waiting if not future.done()]
        self._waiting.append(self._pool.submit(work, *given))

    # --- pictures -------------------------------------------------------------------------

    def take_in(
        self,
        sources: Sequence[Path],
        progress: Progress | None = None,
        cancelled: Cancelled | None = None,
    ) -> Album:
        """Takes in picture files, and every picture in folders; for any thread. Raises Trouble.

        What cannot be taken is told in the album. After a cancel nothing new waits.
        """
        waiting = write_drafts.find_pictures(self.key)
        # Two errands at once could give two pictures one name.
        with self._taking_in:
            shelf = self._list_shelf(waiting)
            files = [source for source in sources if not source.is_dir()]
            albums = [add_photos(files, shelf, waiting, progress, cancelled)]
            for folder in (source for source in sources if source.is_dir()):
                if albums[-1].stopped:
                    break
                try:
                    albums.append(add_folder(folder, shelf, waiting, progress, cancelled))
                except Trouble as trouble:
                    albums.append(Album(refused=(Refused(folder.name, trouble),)))
            album = Album(
                tuple(one for a in albums for one in a.kept),
                tuple(one for a in albums for one in a.refused),
                sum(a.left_alone for a in albums),
                albums[-1].stopped,
            )
            new = {one.name: one.path for one in album.kept if one.path is not None}
            if cancelled is not None and cancelled():
                for path in new.values():
                    path.unlink(missing_ok=True)
            else:
                # It may have been saved under another name meanwhile.
                with self._noting:
                    self._new_photos.update(write_drafts.move_pictures(new, self.key))
        return album

    def _list_shelf(self, waiting: Path) -> Shelf:
        """The pictures of the sheet by name and content, and names that must not be taken."""
        shelf = Shelf()
        for name in dict.fromkeys([*_list_photo_files(self.data), *self._new_photos]):
            try:
                shelf.note(name, hashlib.sha256(self.read_photo(name)).hexdigest())
            except (Trouble, OSError):
                shelf.note(name)
        # Files that the sheet does not use just now must not be overwritten either.
        saved = [self.folder / PHOTO_FOLDER] if self.folder is not None else []
        for folder in (waiting, *saved):
            with contextlib.suppress(OSError):
                for path in folder.iterdir():
                    shelf.note(unicodedata.normalize("NFC", path.name))
        return shelf

    # --- the end --------------------------------------------------------------------------

    def close(self) -> None:
        """Puts aside what is not saved and ends the desk's thread."""
        if self._closed:
            return
        self.put_aside()
        self._closed = True
        for timer in (self._review_soon, self._aside_soon):
            timer.stop()
        self._pool.shutdown(wait=True)
        with contextlib.suppress(Trouble):
            if self.is_saved and write_drafts.find_aside(self.key) is None:
                write_drafts.drop_aside(self.key)


def _save_unread(target: Path, raw: bytes, photos: dict[str, Any]) -> None:
    """Saves a sheet of which something cannot be read yet, everything as it was typed."""
    try:
        target.mkdir(parents=True, exist_ok=True)
        if photos:
            (target / PHOTO_FOLDER).mkdir(exist_ok=True)
    except OSError as fault:
        raise Trouble(
            f"The folder {target.name} cannot be made: {fault.strerror or 'no reason given'}.",
            str(target),
            "Choose another place and save again.",
        ) from fault
    contents: dict[Path, Any] = {target / PHOTO_FOLDER / n: held for n, held in photos.items()}
    write_all_atomically({**contents, target / SHEET_NAME: raw})


def _list_photo_files(data: FixedDict) -> list[str]:
    """The file names of all pictures in data of which not all need be readable."""
    found: list[str] = []

    def walk(value: Any) -> None:
        if isinstance(value, FixedDict):
            file = value.get("file")
            if isinstance(file, str):
                found.append(file)
            for key in ("stages", "steps", "photos", "patterns", "photo"):
                if key in value:
                    walk(value[key])
        elif isinstance(value, FixedList):
            for held in value:
                walk(held)

    walk(data)
    return list(dict.fromkeys(found))


def _tell_unread(held: Located) -> Remark:
    """What keeps the sheet from being read, placed at the field that it is about."""
    path, said = held.path, f"{held.trouble.what} {held.trouble.next}".strip()
    missing = re.match(r'The key "(\w+)" is missing', held.trouble.what)
    if missing:
        path, word = (*path, missing[1]), missing[1].replace("_", " ")
        said = f"{word[:1].upper()}{word[1:]} is missing. Write it."
    return Remark(
        "stops work",
        held.trouble.where.removeprefix(SHEET_NAME).removeprefix(", "),
        said,
        "A sheet that cannot be read cannot be worked from.",
        "",
        path,
    )


def _is_told(finding: Finding, unread: tuple[Remark, ...]) -> bool:
    """True where a fault that keeps the sheet from being read says the same already."""
    first = finding.sentence.partition(". ")[0]
    return finding.severity == "stops work" and any(
        one.sentence.partition(". ")[0] == first for one in unread
    )


def _place(data: FixedDict, finding: Finding) -> Remark:
    path: SheetPath = ()
    # An edit since then may have taken away what it is about.
    with contextlib.suppress(Trouble):
        if finding.task:
            path = find_task(data, finding.task)
        elif finding.step:
            path = find_step(data, finding.step)
        elif finding.listed in ("specs", "parts", "tools", "fluids", "patterns"):
            path = find_entry(data, finding.listed, finding.name)
        elif finding.listed == "cautions":
            path = ("cautions",)
    return Remark(
        finding.severity,
        finding.where,
        finding.sentence,
        finding.reason,
        finding.rule,
        path,
        finding.fix,
    )
