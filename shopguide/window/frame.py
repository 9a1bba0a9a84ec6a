"""The window's frame: the line across the top, the places under it, and opening and closing.

To be painted soon after the start it needs only the Shelf. What is large (the sheet's models, the
record, the other places) is imported on a thread while the person looks at the Shelf.
"""

from __future__ import annotations

import hashlib
import logging
import re
from collections.abc import Callable
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from PySide6.QtCore import QEvent, QEventLoop, QSettings, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QApplication, QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from shopguide import __version__, places
from shopguide.errors import RecordTrouble, Trouble
from shopguide.window.background import Errand, Runner
from shopguide.window.job_line import JobLine
from shopguide.window.large import import_large, keep_what_stays
from shopguide.window.lettering import factor_for
from shopguide.window.palette import LOOKS, qt_palette
from shopguide.window.place import Place
from shopguide.window.shelf_place import ShelfPlace

if TYPE_CHECKING:
    from shopguide.job.files import OpenedSheet
    from shopguide.job.model import Sheet
    from shopguide.record.file import RecordFile
    from shopguide.review.findings import Finding
    from shopguide.window.desk import Desk
    from shopguide.window.lay_out_place import LayOutPlace
    from shopguide.window.pictures import Pictures
    from shopguide.window.sign_off_place import SignOffPlace
    from shopguide.window.work_place import WorkPlace
    from shopguide.window.write_opening import Opening
    from shopguide.window.write_place import WritePlace
    from shopguide.work.progress import Progress

log = logging.getLogger(__name__)


AnyPlace = TypeVar("AnyPlace", bound=Place)


class FoundRecord(NamedTuple):
    """A record that was opened; locked: why it is only read, where it is."""

    record: RecordFile
    sheet: Sheet
    progress: Progress
    locked: Trouble | None
    stops: tuple[Finding, ...]


class FoundSheet(NamedTuple):
    """A sheet that was opened; stops: what the review found that stops work from beginning."""

    opened: OpenedSheet
    stops: tuple[Finding, ...]


PLACE_KEYS = {
    Qt.Key.Key_F2: "shelf",
    Qt.Key.Key_F3: "lay out",
    Qt.Key.Key_F4: "work",
    Qt.Key.Key_F5: "write",
    Qt.Key.Key_F6: "sign off",
}


class Frame(QMainWindow):
    """The one window of the program."""

    def __init__(self, *, rehearsal: bool = False, settings: QSettings | None = None) -> None:
        super().__init__()
        self.rehearsal = rehearsal
        self.settings = settings or QSettings(
            str(places.user_folder() / "window.ini"), QSettings.Format.IniFormat
        )
        look_name = str(self.settings.value("look", "light"))
        self.look = LOOKS.get(look_name, LOOKS["light"])
        self.factor = 1.0
        self.runner = Runner()
        self.desk: Desk | None = None
        self.pictures: Pictures | None = None
        self._sheet_path: Path | None = None  # of the job, where it was opened from its sheet
        self._loses = False
        self._taking = 0  # photos on their way into the record
        self._told = ""
        self.line = JobLine(self.look)
        self.shelf = ShelfPlace(self.look, runner=self.runner, settings=self.settings)
        self.stack = QStackedWidget()
        self._made: dict[str, Place] = {}
        self._add_place(self.shelf)
        middle = QWidget()
        column = QVBoxLayout(middle)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.line)
        column.addWidget(self.stack, 1)
        self.setCentralWidget(middle)
        self.setAcceptDrops(True)
        self.setWindowTitle("shopguide")
        self.line.chosen.connect(self.go)
        self.shelf.opens.connect(lambda path: self.open_path(Path(path)))
        self.shelf.writes.connect(lambda path: self.opening.open_sheet(Path(path)))
        self.shelf.begins.connect(lambda: self.opening.begin_new())
        self.shelf.takes_draft.connect(lambda key, title: self.opening.open_draft(key, title))
        self.shelf.drops_draft.connect(lambda key, title: self.opening.drop_draft(key, title))
        self._apply_look()
        self.go("shelf")

    # --- places ---------------------------------------------------------------------------

    @property
    def places(self) -> dict[str, Place]:
        """All places by their names; those not needed before are made now."""
        every = (self.shelf, self.lay_out, self.work, self.sign_off)
        return {place.name: place for place in every}

    @cached_property
    def lay_out(self) -> LayOutPlace:
        """The place Lay out."""
        import_large()
        from shopguide.window.lay_out_place import LayOutPlace

        return self._add_place(LayOutPlace(self.look, self.factor))

    @cached_property
    def work(self) -> WorkPlace:
        """The place Work."""
        import_large()
        from shopguide.window.work_place import WorkPlace

        place = self._add_place(WorkPlace(self.look, self.factor, runner=self.runner))
        place.moved.connect(self._show_line)
        place.add_photo.connect(self.take_photo)
        return place

    @cached_property
    def sign_off(self) -> SignOffPlace:
        """The place Sign off."""
        import_large()
        from shopguide.window.sign_off_place import SignOffPlace

        return self._add_place(SignOffPlace(self.look, self.factor, runner=self.runner))

    @cached_property
    def write(self) -> WritePlace:
        """The place Write."""
        import_large()
        from shopguide.window.write_place import WritePlace

        place = self._add_place(WritePlace(self.look, self.factor, runner=self.runner))
        place.told.connect(self._show_writing)
        place.sharing.unpacks.connect(lambda: self.opening.unpack())
        return place

    @cached_property
    def opening(self) -> Opening:
        """What brings sheets into Write."""
        import_large()
        from shopguide.window.write_opening import Opening

        return Opening(self)

    def _add_place(self, place: AnyPlace) -> AnyPlace:
        self._made[place.name] = place
        self.stack.addWidget(place)
        place.goes.connect(self.go)
        return place

    @property
    def place(self) -> Place:
        """The place in front."""
        widget = self.stack.currentWidget()
        assert isinstance(widget, Place)
        return widget

    def go(self, name: str) -> None:
        """Brings a place to the front; without a job there is only the Shelf."""
        if name == "write" and not self.is_writing:
            self._begin_writing()
            return
        if self.place.name == "write" and self._work_with_written(name):
            return
        if name not in ("shelf", "write") and self.desk is None:
            return
        self.place.leave()
        place = self._made.get(name) or self.places[name]
        self.stack.setCurrentWidget(place)
        self.line.setVisible(name != "shelf")
        self._show_line()
        place.begin()

    @property
    def is_writing(self) -> bool:
        """True while there is a sheet in Write."""
        return "write" in self._made and self.write.writing is not None

    def _begin_writing(self) -> None:
        """Takes into Write what is at hand: the job's own sheet, or the row of the Shelf."""
        row = self.shelf.row()
        if self.place is self.shelf:
            if row is not None and row.draft:
                self.opening.open_draft(row.draft, row.title)
            elif row is not None and row.path.suffix != ".shopguide":
                self.opening.open_sheet(row.path)
            else:
                self.opening.begin_new()
        elif self._sheet_path is not None:
            self.opening.open_sheet(self._sheet_path)
        else:
            self.place.notice.tell(
                "A record holds its own copy of the sheet, which does not change any more.",
                next="Choose the sheet on the Shelf and press E to write in it.",
            )

    def _work_with_written(self, name: str) -> bool:
        """Leaving Write: what was written there is opened for work, where it is saved."""
        writing = self.write.writing
        if name in ("shelf", "write") or writing is None:
            return False
        same = writing.folder is not None and self._sheet_path == writing.folder.absolute()
        if self.desk is not None and (not same or self.desk.record_file is not None):
            return False
        if not writing.is_saved or writing.folder is None:
            self.write.notice.tell(
                "What is written here is not saved yet; work goes by what is saved.",
                next="Ctrl S saves it.",
            )
        elif same and self.desk is not None and not writing.saves:
            return False
        else:
            writing.saves = 0
            self.open_path(writing.folder)
        return True

    def _show_writing(self) -> None:
        if self.place.name == "write":
            self._show_line()

    def _show_written_line(self) -> None:
        """The line across the top while a sheet is being written."""
        writing = self.write.writing
        if writing is None:
            return
        stages, now = self.write.tell_stages()
        saved = "saved" if writing.is_saved else "not saved"
        self.setWindowTitle(f"{writing.title}, {saved} \N{EN DASH} shopguide")
        self.line.show_job(writing.title, stages, 0.0, "write", (saved,), now)

    def _show_line(self) -> None:
        if self.place.name == "write":
            self._show_written_line()
            return
        self.setWindowTitle("shopguide")
        desk = self.desk
        if desk is None or self.place is self.shelf:
            return
        from shopguide.work.ledger import still_open

        progress = desk.progress
        steps = len(desk.sheet.steps)
        stages, begins = [], 0
        for stage in desk.sheet.stages:
            stages.append((stage.title, begins / steps))
            begins += len(stage.steps)
        now = desk.sheet.steps[self.work.step_shown() - 1].stage_number - 1
        count = len(still_open(progress))
        said = f"{count} open item{'' if count == 1 else 's'}"
        minutes = int(progress.working_time().total_seconds() // 60)
        clock = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
        right = (said, clock)
        if progress.rehearsal:
            right = ("REHEARSAL", *right)
        self.line.show_job(
            desk.sheet.title,
            tuple(stages),
            progress.share_done(),
            self.place.name,
            right,
            now,
            writes=self.is_writing or self._sheet_path is not None,
        )

    # --- opening --------------------------------------------------------------------------

    def open_path(self, path: Path) -> Errand:
        """Opens a sheet (folder, job.json or zip) or a record, off the window's thread.

        Where entries of the job before cannot be written, that is asked about first.
        """
        if self.desk is not None and self.desk.trouble is not None:
            return self._ask_to_lose(lambda: self.open_path(path))
        if path.suffix == ".shopguide":
            return self.open_record(path)
        errand = Errand(f"Opening {path.name}", self)

        def work(errand: Errand) -> FoundSheet:
            import_large()
            from shopguide.job.files import load_sheet
            from shopguide.review.findings import stops_work

            with keep_what_stays():
                opened = load_sheet(path, progress=errand.tell, cancelled=errand.is_cancelled)
                return FoundSheet(opened, stops_work(opened.sheet))

        errand.done.connect(self._take_sheet)
        self.place.show_errand(errand)
        return self.runner.run(errand, work)

    def _take_sheet(self, found: FoundSheet) -> None:
        from shopguide.window.desk import Desk

        opened = found.opened
        self.shelf.remember(opened.path)
        self._sheet_path = opened.path.absolute()
        self.set_desk(
            Desk(
                opened.sheet,
                opened.photo_bytes,
                make_record=lambda: make_record(opened, rehearsal=self.rehearsal),
                stops=found.stops,
                parent=self,
            )
        )
        self.go("lay out")

    def open_record(self, path: Path) -> Errand:
        """Opens a record where it was left; read-only where another window writes it."""
        errand = Errand(f"Opening {path.name}", self)

        def work(errand: Errand) -> FoundRecord:
            import_large()
            from shopguide.job.files import read_sheet
            from shopguide.record.file import RecordFile, RecordLocked
            from shopguide.review.findings import stops_work
            from shopguide.work.progress import fold

            locked: Trouble | None = None
            with keep_what_stays():
                try:
                    record = RecordFile.open(path)
                except RecordLocked as trouble:
                    locked = trouble
                    record = RecordFile.open(path, read_only=True)
                try:
                    sheet = read_sheet(record.sheet_raw(), where=path.name)
                    # Thousands of events take a while to add up, so not on the window's thread.
                    progress = fold(sheet, record.events())
                except BaseException:
                    record.close()
                    raise
            return FoundRecord(record, sheet, progress, locked, stops_work(sheet))

        errand.done.connect(self._take_record)
        self.place.show_errand(errand)
        return self.runner.run(errand, work)

    def _take_record(self, found: FoundRecord) -> None:
        from shopguide.window.desk import Desk

        self._sheet_path = None
        record, sheet, progress, locked, stops = found
        desk = Desk(sheet, record.photo, record=record, progress=progress, stops=stops, parent=self)
        self.set_desk(desk)
        started = any(e.kind == "started" for e in desk.progress.events)
        if desk.signed:
            self.go("sign off")
        elif started or desk.read_only:
            self.work.tell_resumed()
            self.go("work")
        else:
            self.go("lay out")
        if locked is not None:
            self.place.notice.tell_trouble(locked)

    def set_desk(self, desk: Desk) -> None:
        """Takes up another job; the one before is closed first."""
        from shopguide.window.pictures import Pictures

        while self.desk is not None:
            # Another one may be opened while the one before is waited for.
            self.close_desk()
        self.desk = desk

        def read(name: str) -> bytes:
            if name.startswith("record:"):
                assert desk.record_file is not None
                return desk.record_file.photo(name.removeprefix("record:"))
            return desk.read_photo(name)

        self.pictures = Pictures(read, self)
        desk.failed.connect(self._keep_told)
        desk.changed.connect(lambda _: self._stop_telling())
        for place in (self.lay_out, self.work, self.sign_off):
            place.set_desk(desk, self.pictures)

    def close_desk(self) -> None:
        """Closes the job: what is on its way is written, work pauses, the record is one file."""
        self._finish_photos()
        desk, self.desk = self.desk, None
        pictures, self.pictures = self.pictures, None
        if desk is None:
            return
        for place in (self.lay_out, self.work, self.sign_off):
            place.leave()
        trouble = desk.finish()
        last = next(
            (e for e in reversed(desk.progress.events) if e.kind in ("started", "paused")), None
        )
        if last is not None and last.kind == "started" and trouble is None:
            desk.record("paused", {"why": "the window was closed"})
            desk.finish()
        desk.close()
        if pictures is not None:
            pictures.close()
        desk.deleteLater()

    # --- photos ---------------------------------------------------------------------------

    def take_photo(self, path: str, step: int, address: str) -> None:
        """Takes a picture file into the record, off the window's thread."""
        desk = self.desk
        if desk is None:
            return
        errand = Errand(f"Taking in {Path(path).name}", self)

        def work(errand: Errand) -> object:
            try:
                data = Path(path).read_bytes()
            except OSError as error:
                raise Trouble(
                    "The picture cannot be read.",
                    where=path,
                    next=f"Choose another one ({error.strerror or error}).",
                ) from None
            from shopguide.job.picture import take_in

            return take_in(data)

        def keep(picture: object) -> None:
            data = {"step": step, "name": Path(path).name}
            if address:
                data["task"] = address
            desk.record("photo", data, picture)
            if address:
                desk.record("done", {"task": address, "value": Path(path).name})

        def forget() -> None:
            self._taking -= 1

        self._taking += 1
        errand.done.connect(keep)
        errand.ended.connect(forget)
        self.place.show_errand(errand)
        self.runner.run(errand, work)

    def _finish_photos(self) -> None:
        """Waits for photos that are being taken in; the window is drawn and takes no key."""
        loop, flags = QEventLoop(), QEventLoop.ProcessEventsFlag
        while self._taking:
            loop.processEvents(flags.ExcludeUserInputEvents | flags.WaitForMoreEvents)

    # --- look, size, keys -------------------------------------------------------------------

    def set_look(self, name: str) -> None:
        """Takes the look "light", "dark" or "sun", and keeps it."""
        self.look = LOOKS[name]
        self.settings.setValue("look", name)
        self._apply_look()

    def _apply_look(self) -> None:
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.setPalette(qt_palette(self.look))
        self.line.set_look(self.look, self.factor)
        for place in self._made.values():
            place.set_look(self.look, self.factor)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        factor = round(factor_for(self.width(), self.height()), 3)
        if abs(factor - self.factor) > 0.001:
            self.factor = factor
            self._apply_look()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.ActivationChange and self.isActiveWindow():
            self.place.gate.settle()
        super().changeEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if event.isAutoRepeat():
            return
        if key in PLACE_KEYS:
            self.go(PLACE_KEYS[key])
        elif key == Qt.Key.Key_L and not event.modifiers():
            names = list(LOOKS)
            self.set_look(names[(names.index(self.look.name) + 1) % len(names)])
        else:
            super().keyPressEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        for url in event.mimeData().urls():
            if url.isLocalFile():
                self.open_path(Path(url.toLocalFile()))
                return

    def closeEvent(self, event: QCloseEvent) -> None:
        desk = self.desk
        if desk is not None and not self._loses:
            if self.place is self.lay_out:
                self.lay_out.leave()  # keeps the entry that is being typed
            self._finish_photos()
            if desk.finish() is not None:
                event.ignore()
                self._ask_to_lose(self.close)
                return
        self.close_desk()
        if "write" in self._made:
            self.write.close_desk()  # what is not saved is put aside
        self.runner.close()
        self.settings.sync()
        event.accept()

    # --- what cannot be written -------------------------------------------------------------

    def _ask_to_lose(self, then: Callable[[], object]) -> Errand:
        """Asks before anything is given up that is not on disk; `then` goes on without it."""
        desk = self.desk
        assert desk is not None and desk.trouble is not None
        count = desk.waiting
        entries = "One entry is" if count == 1 else f"{count} entries are"

        def lose(_: str) -> None:
            desk.drop_waiting()
            self._loses = True
            try:
                then()
            finally:
                self._loses = False

        self.place.ask.open(
            f"{entries} not on disk yet. {desk.trouble.what} Write “lose” to go on all the same.",
            "Enter goes on, and what is not on disk is lost",
            lose,
            check=_check_word("lose"),
        )
        return Errand("Waiting for the disk", self)

    def _keep_told(self, trouble: Trouble) -> None:
        self._told = trouble.what
        self.place.say()

    def _stop_telling(self) -> None:
        """What could not be written is on disk now: no place says otherwise any longer."""
        told, self._told = self._told, ""
        if not told:
            return
        for place in self._made.values():
            if place.notice.what == told:
                place.notice.hide()
        self.place.say()


def _check_word(word: str) -> Callable[[str], str]:
    def check(text: str) -> str:
        if text != word:
            raise Trouble(f"Write {word}, or leave with Escape.")
        return ""

    return check


def make_record(opened: OpenedSheet, *, rehearsal: bool, folder: Path | None = None) -> RecordFile:
    """Makes the record file of a sheet: its frozen copy, its photos, its frozen orders.

    Raises RecordTrouble where the folder cannot be written.
    """
    from shopguide.job.picture import take_in
    from shopguide.record.file import RecordFile
    from shopguide.work.progress import freeze_orders

    folder = folder or places.records_folder()
    words = re.sub(r"[^\w -]+", "", opened.sheet.title).strip() or "job"
    stem = f"{date.today().isoformat()} {words[:60]}" + (" REHEARSAL" if rehearsal else "")
    photos = []
    for name in opened.names():
        picture = take_in(opened.photo_bytes(name))
        photos.append((name, picture.original, picture.paper, picture.width, picture.height))
    first = {
        "program": f"shopguide {__version__}",
        "sheet_sha256": hashlib.sha256(opened.raw).hexdigest(),
        "title": opened.sheet.title,
        "rehearsal": rehearsal,
        "orders": freeze_orders(opened.sheet),
    }
    for count in range(1, 1000):
        path = folder / (f"{stem}.shopguide" if count == 1 else f"{stem} {count}.shopguide")
        if not path.exists():
            return RecordFile.create(path, opened.raw, photos, first)
    raise RecordTrouble("There are too many records of this name.", where=str(folder))
