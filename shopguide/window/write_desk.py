"""The desk of a sheet being written: its draft, the review beside it, putting aside, saving."""

from __future__ import annotations

import contextlib
import hashlib
import json
import logging
import os
import threading
import time
import unicodedata
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
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
    sum_up,
)
from shopguide.job.edits import Draft, Edit, Restore
from shopguide.job.files import check_size, dump_sheet, save_sheet
from shopguide.job.packing import PHOTO_FOLDER, SHEET_NAME, Packing, find_packing
from shopguide.job.saving import make_folders, write_all_atomically
from shopguide.job.text import write_text
from shopguide.job.written import FixedDict, list_photo_files, read_written
from shopguide.window import write_drafts
from shopguide.window.large import keep_what_stays
from shopguide.window.write_drafts import Aside, Hold
from shopguide.window.write_elsewhere import Elsewhere, Standing, look_at_saved
from shopguide.window.write_left_out import LeftOut
from shopguide.window.write_remarks import Remark, RemarkBook
from shopguide.window.write_reviewer import SheetReviewer
from shopguide.window.written_packing import WrittenPacking

log = logging.getLogger(__name__)

ASIDE_MS = 3000
"""At most so often the draft is put aside; what changes after a rest is put aside at once."""
ASIDE_SOON_MS = 150
"""So long at least after a change, for one key may do several edits."""
REVIEW_MS = 120
"""So long after a change the review looks at it: not at every letter."""


class WriteDesk(QObject):
    """Holds the draft, and is the only way by which the window changes it."""

    changed = Signal()
    """The sheet as written is another one; the views redraw."""
    reviewed = Signal()
    """`remarks` are those of what there is now."""
    saved = Signal()
    failed = Signal(object)
    """A Trouble: something was not saved, or not put aside."""
    kept_aside = Signal(object)
    """This data is in the user's folder now."""
    elsewhere = Signal(object)
    """An Elsewhere: nothing was saved, for what is saved is not what this desk knows."""
    mended = Signal(str)
    """What could not be put aside can be again; the words in which that was told."""

    _found = Signal(object, object)
    _kept = Signal(object)
    _refused = Signal(object)
    _lost = Signal(object)

    def __init__(
        self,
        draft: Draft,
        folder: Path | None = None,
        packing: Packing | None = None,
        key: str = "",
        parent: QObject | None = None,
        *,
        hold: Hold | None = None,
        base: str | None = None,
    ) -> None:
        """folder: where it is saved, None until then; packing: where its pictures lie.

        hold: the right to its draft's key; base: the SHA-256 of the job.json it was read from.
        """
        super().__init__(parent)
        self.draft, self.folder, self._packing = draft, folder, packing
        self._hold = hold or write_drafts.take_hold(key or write_drafts.name_draft(folder))
        if base is None:
            base = look_at_saved(folder, "").digest if folder is not None else ""
        self.base = base
        """The SHA-256 of the job.json that this desk read or wrote last; "" where none."""
        self.book = RemarkBook()
        """What the review says of `reviewed_data`."""
        self.reviewed_data: FixedDict | None = None
        self._new_photos: dict[str, Path] = {}
        self._taking_in, self._noting = threading.Lock(), threading.Lock()
        self._reviewer = SheetReviewer()
        self.left_out = LeftOut()
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="write")
        self._looking = False
        self._on_disk: FixedDict | None = None
        """What this desk has saved last."""
        self.offers = False
        """A draft that was put aside waits to be taken or left; nothing is written over it."""
        self._aside: FixedDict | None = draft.data
        self._aside_s, self._aside_told = -1e9, ""
        self.saves = 0
        """How often it was saved since the job was last opened from it."""
        self._closed = False
        self._waiting: list[Future[Any]] = []
        self._review_soon = self._make_timer(REVIEW_MS, self._review)
        self._aside_soon = self._make_timer(ASIDE_MS, self.put_aside)
        self._found.connect(self._take_remarks)
        self._kept.connect(self._take_saved)
        self._refused.connect(self.failed)
        self._lost.connect(self._tell_not_aside)
        self.kept_aside.connect(self._tell_aside)
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
    def key(self) -> str:
        """Under which its draft is put aside."""
        return self._hold.key

    def lend_key(self) -> None:
        """Lets the key go for a moment, as the same sheet is read anew to take this one's place."""
        self._hold.drop()

    def take_key_back(self) -> None:
        """Holds the key again, after nothing came of that."""
        if not self._closed and self._hold.lock is None:
            self._hold = write_drafts.take_hold(self.key)

    @property
    def held_elsewhere(self) -> str:
        """Who else writes this sheet, "" where nobody did when it was opened."""
        return self._hold.elsewhere

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """What the review has found."""
        return self.book.remarks

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
            try:
                return waiting.read_bytes()
            except FileNotFoundError:
                # It may have been saved just now.
                if self._new_photos.get(name) == waiting:
                    raise
        if self._packing is None:
            raise Trouble(f"{name} is not there.", next="Add the picture again.")
        with self._packing.look_into(name) as found:
            return bytes(found)

    def pack_as_written(self, raw: bytes) -> WrittenPacking:
        """The sheet with this job.json and the pictures that it has now; for any thread."""
        lying = self._packing
        if lying is not None and lying.path.is_file():
            # What is read of a zip is counted, so it is opened anew.
            lying = find_packing(lying.path)
        return WrittenPacking(raw, self.folder or Path(self.title), self._new_photos, lying)

    # --- changing it ----------------------------------------------------------------------

    def apply(self, edit: Edit) -> bool:
        """Does an edit; False where it changes nothing. Raises Trouble where it cannot be done."""
        before = self.data
        if not self.draft.apply(edit):
            return False
        self.left_out.follow(before, self.data, edit)
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
        self._put_aside_soon()
        self.changed.emit()
        return True

    # --- the review -----------------------------------------------------------------------

    def begin_review(self) -> None:
        """Looks the sheet over, off the window's thread."""
        self._review()

    def _review(self) -> None:
        if self._closed:
            return
        if self._looking:
            self._review_soon.start()
            return
        self._looking = True
        self._pool.submit(self._look_over, self.draft.states)

    def _look_over(self, states: list[FixedDict]) -> None:
        """On the desk's thread: reviews the first state, or the next that can be read at all."""
        book = RemarkBook()
        # What is seen in a large sheet the first time stays as long as the sheet does.
        with keep_what_stays() if self.reviewed_data is None else contextlib.nullcontext():
            try:
                book = RemarkBook(
                    self._reviewer.find_remarks(
                        states,
                        self._packing,
                        dict(self._new_photos),
                        self.left_out,
                        unused=self.folder is not None,
                    )
                )
            except Exception:
                log.exception("reviewing")
        with contextlib.suppress(RuntimeError):
            self._found.emit(states[0], book)

    def _take_remarks(self, data: FixedDict, book: RemarkBook) -> None:
        self._looking = False
        if self._closed:
            return
        self.book, self.reviewed_data = book, data
        self.reviewed.emit()
        if data is not self.data:
            self._review_soon.start()

    # --- putting aside and saving ---------------------------------------------------------

    def _put_aside_soon(self) -> None:
        """Puts aside at once after a rest, else when the last time is long enough ago."""
        if not self._aside_soon.isActive():
            # By a clock that nobody sets.
            since_ms = round((time.monotonic() - self._aside_s) * 1000)
            self._aside_soon.start(max(min(ASIDE_SOON_MS, ASIDE_MS), ASIDE_MS - since_ms))

    def put_aside(self) -> None:
        """Puts what is not saved yet into the user's folder, off the window's thread."""
        self._aside_soon.stop()
        data = self.data
        if self._closed or data is self._aside or self.is_saved:
            return
        if self.offers:
            self.leave_aside()
        self._aside, self._aside_s = data, time.monotonic()
        self._submit(self._write_aside, data, self.title)

    def _write_aside(self, data: FixedDict, title: str) -> None:
        """On the desk's thread."""
        if data is self._on_disk:
            return
        try:
            raw = json.dumps(data, ensure_ascii=False).encode("utf-8")
            write_drafts.put_aside(self.key, self.folder, title, raw, self.base)
        except Trouble as trouble:
            self._lost.emit(trouble)
        except Exception:
            log.exception("putting aside")
            said = "The draft is not put aside."
            self._lost.emit(Trouble(said, next="Save the sheet. The log file tells more."))
        else:
            self.kept_aside.emit(data)

    def _tell_not_aside(self, trouble: Trouble) -> None:
        """Told once, and tried again until it can be done."""
        self._aside = None
        if not self._closed:
            self._aside_soon.start(ASIDE_MS)
        if trouble.what != self._aside_told:
            self._aside_told = trouble.what
            self.failed.emit(trouble)

    def _tell_aside(self, _: object) -> None:
        told, self._aside_told = self._aside_told, ""
        if told:
            self.mended.emit(told)

    def restore(self, aside: Aside) -> bool:
        """Takes what was put aside in place of what is saved. Raises Trouble."""
        self.offers = False
        done = self.apply(Restore(aside.raw))
        # What it began from may have been saved over since.
        self.base = aside.base or self.base
        return done

    def leave_aside(self) -> None:
        """Lets the draft that was put aside lie, out of the way, with its pictures."""
        self.offers = False
        self._submit(self._set_apart)

    def _set_apart(self) -> None:
        """On the desk's thread."""
        with self._taking_in, self._noting, contextlib.suppress(Trouble):
            waiting = write_drafts.find_pictures(self.key)
            if write_drafts.keep_one_more(self.key) is not None:
                held = self._new_photos.items()
                self._new_photos = {n: path for n, path in held if path.parent != waiting}

    def save(self, folder: Path | None = None, *, knowingly: bool = False) -> None:
        """Saves into its folder, or into another one from now on.

        `saved`, `failed` or `elsewhere` tells what came of it. knowingly: over what another one
        has saved meanwhile. Raises Trouble where there is no folder yet.
        """
        target = folder or self.folder
        if target is None:
            raise Trouble("This sheet has no place yet.", next="Choose a folder for it.")
        writes = any(not future.done() for future in self._waiting)
        known = self._on_disk is None or self._on_disk is self.data
        if target == self.folder and self.draft.is_saved and known and not (writes or knowingly):
            self.saved.emit()
            return
        self._aside_soon.stop()
        if self.offers:
            self.leave_aside()
        self._submit(self._write, target, self.data, self.title, knowingly)

    def _write(self, target: Path, data: FixedDict, title: str, knowingly: bool) -> None:
        """On the desk's thread."""
        try:
            # Whatever becomes of the saving, no draft is older than what is on disk then.
            with contextlib.suppress(Trouble):
                raw = json.dumps(data, ensure_ascii=False).encode("utf-8")
                write_drafts.put_aside(self.key, self.folder, title, raw, self.base)
            with write_drafts.save_alone(target):
                found = self._look_at(target, knowingly)
                if found is None:
                    photos, lost = self._gather_photos(target, data)
                    self._write_sheet(target, data, photos)
                    self._take_out(target, data)
                    base = look_at_saved(target, "").digest
            if found is not None:
                self.elsewhere.emit(Elsewhere.make(target, found, data))
                return
            packing = find_packing(target)
        except Trouble as trouble:
            self._refused.emit(trouble)
        except Exception:
            log.exception("saving %s", target)
            self._refused.emit(
                Trouble("The sheet is not saved.", next="What happened is in the log file.")
            )
        else:
            # The draft goes now, so that nothing counts as put aside.
            self._on_disk, self._aside = data, None
            self._settle(target, packing, base, set(photos))
            self._kept.emit(data)
            if lost:
                self._refused.emit(_tell_lost(lost, target))

    def _look_at(self, target: Path, knowingly: bool) -> Standing | None:
        """What stands where it is to be saved, where that is a question."""
        if target != self.folder:
            if os.path.lexists(target / SHEET_NAME):
                raise Trouble(
                    "There is a sheet in that folder already.",
                    str(target),
                    "Choose a folder of another name; nothing was saved.",
                )
            return None
        found = look_at_saved(target, self.base)
        if found.sort == "same":
            return None
        if not knowingly:
            return found
        if found.raw:
            write_drafts.keep_overwritten(self.key, found.raw)
        return None

    def _gather_photos(
        self, target: Path, data: FixedDict
    ) -> tuple[dict[str, Path | bytes], list[str]]:
        """The pictures that have to be written, and the names of those that are nowhere."""
        photos: dict[str, Path | bytes] = {}
        lost: list[str] = []
        moves = target != self.folder or not (target / PHOTO_FOLDER).is_dir()
        back = self.left_out.list_returning(data) if target == self.folder else ()
        for name in dict.fromkeys([*list_photo_files(data), *back]):
            if name in self._new_photos:
                photos[name] = self._new_photos[name]
            elif moves and self._packing is not None:
                try:
                    photos[name] = self.read_photo(name)
                except (Trouble, OSError):
                    lost.append(name)
        return photos, lost

    def _take_out(self, target: Path, data: FixedDict) -> None:
        """Takes the pictures out that are to go, once a sheet without them is on disk."""
        # Where nothing can wait, nothing is taken out: the sheet is saved all the same.
        with self._noting, contextlib.suppress(Trouble):
            self.left_out.gone -= self.left_out.list_returning(data)
            if target == self.folder:
                waiting = write_drafts.find_pictures(self.key)
                used = list_photo_files(data)
                self._new_photos |= self.left_out.take_out(data, used, target, waiting)

    def _write_sheet(self, target: Path, data: FixedDict, photos: dict[str, Path | bytes]) -> None:
        sheet = read_written(data).sheet
        folders = [target, target / PHOTO_FOLDER] if photos else [target]
        try:
            with make_folders(*folders):
                if sheet is not None:
                    save_sheet(sheet, target, photos)
                else:
                    contents: dict[Path, Any] = {
                        target / PHOTO_FOLDER / name: held for name, held in photos.items()
                    }
                    raw = write_text(data)
                    check_size(raw, target)
                    write_all_atomically({**contents, target / SHEET_NAME: raw})
        except Trouble:
            # The disk may have failed after the file was exchanged: then it is ours all the same.
            raw = dump_sheet(sheet) if sheet is not None else write_text(data)
            if look_at_saved(target, hashlib.sha256(raw).hexdigest()).sort == "same":
                self.base = hashlib.sha256(raw).hexdigest()
            raise

    def _settle(self, target: Path, packing: Packing, base: str, photos: set[str]) -> None:
        """On the desk's thread, so that what is put aside next goes by it."""
        hold, moves = self._hold, target != self.folder
        with self._noting, contextlib.suppress(Trouble):
            self.folder, self._packing, self.base = target, packing, base
            # A picture whose adding was undone, or that came meanwhile, goes on waiting.
            rest = {n: path for n, path in self._new_photos.items() if n not in photos}
            self._new_photos = rest
            write_drafts.drop_aside(hold.key, photos)
            if moves:
                self._hold = write_drafts.take_hold(write_drafts.name_draft(target))
                self._new_photos = write_drafts.move_pictures(rest, self.key)
        if hold is not self._hold:
            hold.drop()

    def _take_saved(self, data: FixedDict) -> None:
        if self._closed:
            return
        self.saves += 1
        self._aside_told = ""
        # It may have been changed, or undone, since: then that one is saved, and this is not.
        self.draft.keep_saved(data)
        if data is not self.data:
            self._put_aside_soon()
        self.saved.emit()

    def take_saved_elsewhere(self, raw: bytes) -> None:
        """Takes what another one has saved; undo brings back what was here. Raises Trouble."""
        assert self.folder is not None
        self.apply(Restore(raw, "taking of what was saved elsewhere"))
        self.base = hashlib.sha256(raw).hexdigest()
        self._packing = find_packing(self.folder)
        self._on_disk = self.data
        self.draft.keep_saved()
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
        *,
        keep_notes: bool = False,
    ) -> Album:
        """Takes in picture files, and every picture in folders; for any thread. Raises Trouble.

        keep_notes: as for `add_photos`. What cannot be taken is told in the album. After a cancel
        nothing new waits.
        """
        waiting = write_drafts.find_pictures(self.key)
        # Two errands at once could give two pictures one name.
        with self._taking_in:
            shelf = self._list_shelf(waiting)
            files = [source for source in sources if not source.is_dir()]

            def take(add: Callable[..., Album], what: Any) -> Album:
                return add(what, shelf, waiting, progress, cancelled, keep_notes=keep_notes)

            albums = [take(add_photos, files)]
            for folder in (source for source in sources if source.is_dir()):
                if albums[-1].stopped:
                    break
                try:
                    found = take(add_folder, folder)
                    if not (found.kept or found.refused or found.stopped):
                        raise Trouble(
                            "There is no picture in this folder.",
                            next="Folders in it are not looked into.",
                        )
                    albums.append(found)
                except Trouble as trouble:
                    albums.append(Album(refused=(Refused(folder.name, trouble),)))
            album = Album(
                tuple(one for a in albums for one in a.kept),
                tuple(one for a in albums for one in a.refused),
                sum(a.left_alone for a in albums),
                albums[-1].stopped,
                keep_notes,
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
        for name in dict.fromkeys([*list_photo_files(self.data), *self._new_photos]):
            try:
                shelf.note(name, *sum_up(self.read_photo(name)))
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
        if self._on_disk is not None:
            self.draft.keep_saved(self._on_disk)
        with contextlib.suppress(Trouble):
            if not self.is_saved and self.data is not self._aside:
                self._write_aside(self.data, self.title)
            elif self.is_saved and not self.offers:
                write_drafts.drop_aside(self.key)
        self._hold.drop()


def _tell_lost(lost: list[str], target: Path) -> Trouble:
    """The sheet is saved, but pictures of it were nowhere to be found."""
    some = ", ".join(lost[:3]) + (f" and {len(lost) - 3} more" if len(lost) > 3 else "")
    what = "one picture" if len(lost) == 1 else f"{len(lost)} pictures"
    return Trouble(
        f"The sheet is saved, but {what} could not be found: {some}.",
        str(target / PHOTO_FOLDER),
        "Put them there, or take them out of the sheet.",
    )
