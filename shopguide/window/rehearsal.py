"""Rehearsal: the real window worked through a whole sheet by key presses, with made-up entries.

It shows a sheet's writer every screen and the paper before anybody stands under a machine. What
comes of it says REHEARSAL everywhere, so that it can never pass for a record.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from PySide6.QtCore import QEventLoop, QPoint, QSettings, Qt, QTimer
from PySide6.QtGui import QColor, QPainter, QPixmap
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from shopguide import places
from shopguide.errors import Trouble
from shopguide.job.files import OpenedSheet, load_sheet
from shopguide.job.model import Drain, Fill, Measure, Torque
from shopguide.window.app import FaultCatcher, make_app
from shopguide.window.desk import Desk
from shopguide.window.field_row import FieldRow
from shopguide.window.frame import Frame
from shopguide.window.lettering import font_px
from shopguide.window.log_book import keep_log
from shopguide.window.paper_view import PaperView
from shopguide.window.tick_row import TickRow
from shopguide.work.ledger import still_open
from shopguide.work.next_up import Due

WORD = "REHEARSAL"
WIDTH_PX, HEIGHT_PX = 1366, 768
PATIENCE_S = 60
"""How long one thing may take before the rehearsal is given up."""
MOST_TURNS = 200_000
MADE_UP = {
    "make": f"{WORD} (made up)",
    "model": f"{WORD} (made up)",
    "year": WORD,
    "vin": "",
    "serial": WORD,
    "odometer": "0 km",
    "person": f"{WORD}, nobody",
}
WRENCH = f"{WORD} wrench, 1 N·m, 500 N·m"
NOT_WAITED = "rehearsal: not waited"
REASON = "rehearsal: made up"


def rehearse(sheet: Path, out: Path, *, say: Callable[[str], None] | None = None) -> list[Path]:
    """Work a sheet through; returns the pictures, the signed PDF and the record, all in `out`.

    say takes a line on how far it is; without one the lines are printed. Raises SheetTrouble for a
    sheet that cannot be opened, and Trouble where the window does not do what its bar says.
    """
    opened = load_sheet(sheet)
    out = _make_folder(out)
    log_path = keep_log()
    app = make_app()
    faults = FaultCatcher(log_path)
    met: list[str] = []
    faults.met.connect(lambda what, where, then: met.append(f"{what} {where}"))
    with _a_home_of_its_own() as home:
        settings = QSettings(str(home / "window.ini"), QSettings.Format.IniFormat)
        # The sheet stands on the Shelf, to be opened there by key like any other.
        settings.setValue("recent", [str(opened.path.absolute())])
        frame = Frame(rehearsal=True, settings=settings)
        faults.catch()
        try:
            run = _Rehearsal(frame, opened, out, home, met, say or _print)
            files = run.go()
        finally:
            faults.let_go()
            _close(frame)
            app.processEvents()
        record = run.find_record()
        files.append(_replace(record, out / f"{WORD}.shopguide"))
    return files


class _Rehearsal:
    """One rehearsal: presses keys until the paper is written."""

    def __init__(
        self,
        frame: Frame,
        opened: OpenedSheet,
        out: Path,
        home: Path,
        met: list[str],
        say: Callable[[str], None],
    ) -> None:
        self.frame, self.opened, self.out, self.home = frame, opened, out, home
        self.say = say
        self._met = met
        self._files: list[Path] = []
        self._shot: set[str] = set()
        self._step = 0
        self._record: Path | None = None
        self._photos = 0
        frame.work.choose_photos = self._choose_photo
        frame.sign_off.choose_path = lambda _: str(out / f"{WORD}.pdf")
        for place in frame.places.values():
            # A machine's presses do not bounce, and they mean what is on the screen.
            place.gate.dead_ms = place.gate.settle_ms = 0

    # --- the whole way --------------------------------------------------------------------

    def go(self) -> list[Path]:
        """Shelf, Lay out, Work, Sign off; returns the pictures and the PDF."""
        self._show()
        self._work_shelf()
        self._work_lay_out()
        self._work_through()
        self._sign_off()
        return self._files

    def find_record(self) -> Path:
        """Where the record of this rehearsal lies."""
        assert self._record is not None
        return self._record

    def _show(self) -> None:
        frame = self.frame
        frame.resize(WIDTH_PX, HEIGHT_PX)
        frame.show()
        frame.activateWindow()
        frame.raise_()
        self._wait(frame.isActiveWindow, "The window does not come to the front.")

    # --- the four places ------------------------------------------------------------------

    def _work_shelf(self) -> None:
        shelf, wanted = self.frame.shelf, self.opened.path.absolute()
        self._wait(lambda: shelf.row() is not None, "The Shelf stays empty.")
        for _ in range(shelf.list.count()):
            row = shelf.row()
            if row is not None and row.path == wanted:
                break
            self._press(Qt.Key.Key_Down)
        else:
            raise self._stands_still("The sheet does not stand on the Shelf.")
        self._shoot("shelf")
        self._press(Qt.Key.Key_Space)
        self._wait(lambda: self.frame.place.name == "lay out", "The sheet is not opened.")

    def _work_lay_out(self) -> None:
        place, desk = self.frame.lay_out, self._desk()
        self.say(f"{desk.sheet.title}: laying out")
        wrench_given = False
        for _ in range(MOST_TURNS):
            if self.frame.place is not place:
                return
            row = self._row()
            before = (self._events(), row)
            if isinstance(row, FieldRow):
                if row is place.wrench_field:
                    self._shoot("lay out")
                    if not wrench_given:
                        self._type(WRENCH)
                        wrench_given = True
                        self._press(Qt.Key.Key_Return)
                        self._wait(lambda: bool(desk.progress.laid_out.get("wrenches")), "wrench")
                        continue
                    self._press(Qt.Key.Key_Down)
                else:
                    key = next(k for k, r in place.fields.items() if r is row)
                    self._type(MADE_UP[key])
                    self._press(Qt.Key.Key_Return)
            else:
                pair = next((k for k, r in place.ticks.items() if r is row), ("", ""))
                if pair[0] == "cautions" and not row.on:
                    self._shoot("lay out, caution to read")
                elif pair[0] == "tools":
                    self._shoot("lay out, tools")
                self._press(Qt.Key.Key_Space)
            self._wait(
                lambda before=before: (
                    (self._events(), self._row()) != before or self.frame.place is not place
                ),
                "Lay out does not go on.",
            )
            self._settle()
        raise self._stands_still("Lay out does not end.")

    def _work_through(self) -> None:
        work, desk = self.frame.work, self._desk()
        self._record = desk.path
        self._wait(
            lambda: any(e.kind == "started" for e in desk.progress.events), "Work does not start."
        )
        for _ in range(MOST_TURNS):
            self._settle()
            due = work.due()
            self._tell_step(due)
            if due.act == "end":
                break
            self._shoot_work(due)
            self._record = desk.path
            before = self._events()
            self._do(due)
            self._wait(
                lambda before=before: self._events() > before and not desk.waiting,
                f"“{due.bar}” does not happen.",
            )
        else:
            raise self._stands_still("Work does not end.")
        self._press(Qt.Key.Key_Space)
        self._wait(lambda: self.frame.place.name == "sign off", "Sign off does not come.")

    def _do(self, due: Due) -> None:
        """Presses what carries out the thing that is due."""
        self._press(Qt.Key.Key_Space)
        ask = self.frame.work.ask
        match due.act:
            case "value":
                self._type(self._choose_value(due))
                self._shoot("work, a value is typed")
                self._press(Qt.Key.Key_Return)
                if ask.is_open:
                    # Outside its limits after all: the sheet's own limits contradict each other.
                    self._answer(REASON)
            case "wait" if due.kind == "done" and ask.is_open:
                self._shoot("work, a question")
                self._answer(NOT_WAITED)
            case "stuck":
                self._answer(REASON)

    def _sign_off(self) -> None:
        place, desk = self.frame.sign_off, self._desk()
        self.say("signing off")
        self._wait(lambda: self._row() is not None, "Sign off is empty.")
        for _ in range(MOST_TURNS):
            if not still_open(desk.progress):
                break
            before = self._events()
            self._press(Qt.Key.Key_Space)
            self._answer(REASON)
            self._wait(lambda before=before: self._events() > before, "An item stays open.")
            self._settle()
        self._draw_signature()
        self._wait_for_paper()
        self._shoot("sign off")
        self._go_to_row("Sign and close the record")
        self._press(Qt.Key.Key_Space)
        self._answer(MADE_UP["person"])
        self._wait(lambda: desk.signed, "The record is not signed.")
        self._settle()
        place.rehearsal_identity = _make_key()
        self._go_to_row("Write the PDF")
        self._press(Qt.Key.Key_Space)
        self._wait(
            lambda: place.written is not None or self._trouble_told(), "The PDF is not written."
        )
        if place.written is None:
            raise Trouble(place.notice.what, place.notice.where or str(self.out), place.notice.next)
        self._files.append(place.written)
        self._wait_for_paper()
        self._shoot("sign off, signed")

    def _draw_signature(self) -> None:
        pad = self.frame.sign_off.pad
        if not pad.isVisible():
            raise self._stands_still("There is nothing to sign on.")
        width, height = pad.width(), pad.height()
        points = [
            QPoint(round(width * (0.15 + 0.07 * step)), round(height * (0.3 + 0.4 * (step % 2))))
            for step in range(11)
        ]
        button = Qt.MouseButton.LeftButton
        QTest.mousePress(pad, button, Qt.KeyboardModifier.NoModifier, points[0])
        for point in points[1:]:
            QTest.mouseMove(pad, point)
        QTest.mouseRelease(pad, button, Qt.KeyboardModifier.NoModifier, points[-1])

    def _go_to_row(self, text: str) -> None:
        """Down through the lines of Sign off to the one that begins so."""
        for key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            for _ in range(MOST_TURNS):
                row = self._row()
                if isinstance(row, TickRow) and row.text.startswith(text):
                    return
                self._press(key)
                if self._row() is row:
                    break
        raise self._stands_still(f"Sign off has no line “{text}”.")

    # --- what is entered ------------------------------------------------------------------

    def _choose_value(self, due: Due) -> str:
        """A value within the limits of the task's spec, as a person would type it."""
        progress = self._desk().progress
        task = progress.sheet.tasks[due.task]
        if isinstance(task, Fill) and task.like_drained:
            drained = progress.drained(task.fluid)
            if drained:
                return " + ".join(drained)
        if isinstance(task, (Drain, Fill, Measure)) and task.spec_names:
            spec = progress.sheet.spec(task.spec_names[0])
            for text in (spec.value, spec.low, spec.high):
                if text is not None:
                    return text
            return {"volume": "1 L", "temperature": "20 °C", "count": "1"}.get(
                spec.kind.value, f"1 {_first_unit(spec.kind.value)}"
            )
        return "1 L"

    def _choose_photo(self) -> list[str]:
        """One of the sheet's own pictures, or one that says what it is."""
        names = self.opened.names()
        if names:
            name = names[self._photos % len(names)]
            self._photos += 1
            path = self.home / f"{WORD} {name}"
            path.write_bytes(self.opened.photo_bytes(name))
            return [str(path)]
        path = self.home / f"{WORD}.png"
        pixmap = QPixmap(640, 480)
        pixmap.fill(QColor("#888888"))
        stamp(pixmap, QColor("#FFFFFF"))
        pixmap.save(str(path))
        return [str(path)]

    # --- keys and waiting -----------------------------------------------------------------

    def _target(self) -> QWidget:
        """Where a key goes: the entry or line in use, else the place."""
        place = self.frame.place
        line = place.ask.taker if place.ask.is_open else place.find_line_in_use()
        if line is None:
            return self.frame.focusWidget() or place
        return line.focusProxy() or line

    def _press(self, key: Qt.Key) -> None:
        QTest.keyClick(self._target(), key)

    def _type(self, text: str) -> None:
        """Types over what stands in the entry."""
        target = self._target()
        QTest.keyClick(target, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClick(target, Qt.Key.Key_Delete)
        QTest.keyClicks(target, text)

    def _answer(self, text: str) -> None:
        ask = self.frame.place.ask
        self._wait(lambda: ask.is_open, "No question comes.")
        self._type(text)
        self._press(Qt.Key.Key_Return)

    def _desk(self) -> Desk:
        assert self.frame.desk is not None
        return self.frame.desk

    def _events(self) -> int:
        return len(self._desk().progress.events)

    def _row(self) -> QWidget | None:
        """The line of Lay out or Sign off that is in use."""
        return self.frame.place.find_line_in_use()

    def _trouble_told(self) -> bool:
        place = self.frame.place
        return place.notice.isVisible() and place.errand is None and bool(place.notice.what)

    def _settle(self) -> None:
        """Waits until what was pressed is on disk."""
        desk = self._desk()
        self._wait(
            lambda: not desk.waiting or desk.trouble is not None, "The record is not written."
        )
        if desk.trouble is not None:
            raise desk.trouble

    def _wait(self, true: Callable[[], bool], what: str | Callable[[], str]) -> None:
        """Lets the window work until it is so; raises Trouble when that takes too long.

        what: what then has not come, a sentence.
        """

        def true_without_fault() -> bool:
            if self._met:
                raise Trouble(
                    self._met[0], where=self._where(), next="The log file tells what it was."
                )
            return true()

        if not let_work(true_without_fault, PATIENCE_S):
            raise self._stands_still(what if isinstance(what, str) else what())

    def _where(self) -> str:
        place = self.frame.place.name
        return f"rehearsal, {place}, step {self._step}" if self._step else f"rehearsal, {place}"

    def _stands_still(self, what: str) -> Trouble:
        notice = self.frame.place.notice
        told = f" The window says: {notice.what}" if notice.isVisible() and notice.what else ""
        return Trouble(
            f"The rehearsal stands still. {what}{told}",
            where=self._where(),
            next="Keep hands off keyboard and mouse meanwhile; if it comes again, "
            "work the sheet by hand up to there.",
        )

    def _tell_step(self, due: Due) -> None:
        if due.step != self._step:
            self._step = due.step
            step = self._desk().sheet.steps[due.step - 1].step
            self.say(f"step {due.step} of {len(self._desk().sheet.steps)}: {step.title}")

    # --- pictures -------------------------------------------------------------------------

    def _shoot_work(self, due: Due) -> None:
        """A picture of each kind of screen of Work, once."""
        name = f"work, {due.act}"
        work = self.frame.work
        if due.act == "acknowledge":
            name = "work, caution to read"
        elif due.act == "do":
            photos = self._desk().sheet.steps[due.step - 1].step.photos
            name = "work, a step with its picture" if photos else "work, a step"
        elif due.act == "wait":
            name = "work, the clock runs" if due.kind == "done" else ""
        elif due.act in ("value", "photo"):
            name = f"work, {due.act} is due"
        elif due.trip is not None:
            task = self._desk().sheet.tasks[due.task]
            assert isinstance(task, Torque)
            if task.pattern is None:
                name = "work, one fastener"
            elif len(due.trip.marked) < len(due.trip.way) // 2 or len(due.trip.way) < 4:
                return
            elif len(task.schedule) > 1:
                name = f"work, pass {due.trip.pass_number}, {due.trip.one.tell()}"
            else:
                name = f"work, {due.trip.one.tell()}"
        if due.act == "do" and len(still_open(work.progress)) >= 5:
            self._shoot_open_items()
        if not name or name in self._shot:
            return
        self._shoot(name)
        if due.trip is not None and due.trip.pass_number > 1 and "work, dark" not in self._shot:
            self._press(Qt.Key.Key_L)
            self._shoot("work, dark")
            self._press(Qt.Key.Key_L)
            self._shoot("work, bright sun")
            self._press(Qt.Key.Key_L)

    def _shoot_open_items(self) -> None:
        if "work, open items" not in self._shot:
            self._press(Qt.Key.Key_I)
            self._shoot("work, open items")
            self._press(Qt.Key.Key_I)

    def _shoot(self, name: str) -> None:
        """Saves a stamped picture of the window, the first time the name comes."""
        if name in self._shot:
            return
        self._shot.add(name)
        ground = self.frame.look.color("ground")
        self._wait(lambda: self.frame.palette().window().color() == ground, "The look stays.")
        # What was asked for meanwhile (a new height, another paint) is done as for a person.
        QApplication.processEvents()
        pictures = self.frame.pictures
        if pictures is not None:
            # The first look asks for the pictures that the second one has.
            self.frame.grab()
            self._wait(lambda: not pictures.busy, "The pictures do not come.")
        pixmap = self.frame.grab()
        stamp(pixmap, self.frame.look.color("soft"))
        plain = name.replace(",", "").replace("%", "percent").replace(" ", "_")
        path = self.out / f"{len(self._shot):02d}_{plain}.png"
        if not pixmap.save(str(path)):
            raise Trouble(
                "A picture cannot be written.",
                where=str(path),
                next="Free the place or its rights.",
            )
        self._files.append(path)

    def _wait_for_paper(self) -> None:
        """Waits until the paper in the window is drawn, not only loaded."""
        paper = self.frame.sign_off.paper
        # Qt may drop the drawing of a page that it was asked for while it closed the paper before;
        # another paint asks again.
        again = QTimer()
        again.setInterval(200)
        again.timeout.connect(paper.view.viewport().update)
        again.start()
        self._wait(
            lambda: is_drawn(paper), lambda: f"The paper does not come. {paper.words.text()}"
        )


def let_work(true: Callable[[], bool], patience_s: float) -> bool:
    """Lets the window work until it is so; False where that took longer than the patience."""
    over: list[bool] = []
    timer = QTimer()
    timer.setSingleShot(True)
    timer.timeout.connect(lambda: over.append(True))
    timer.start(round(patience_s * 1000))
    loop = QEventLoop()
    while not true():
        if over:
            return False
        # Asleep until something happens: a signal from another thread, a paint, a timer.
        loop.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
    timer.stop()
    return True


def is_drawn(paper: PaperView) -> bool:
    """Whether there is ink on the page that the window shows; Qt draws pages when it has time."""
    if not paper.view.isVisible():
        return False
    image = paper.view.grab().toImage().scaledToWidth(160)
    dark = sum(
        image.pixelColor(x, y).lightness() < 128
        for x in range(20, image.width() - 20, 2)
        for y in range(10, image.height() - 10, 2)
    )
    return dark > 3


def stamp(pixmap: QPixmap, color: QColor) -> None:
    """Paints REHEARSAL across a picture: light enough to read what is under it.

    color: grey; magenta is for witness marks alone.
    """
    painter = QPainter(pixmap)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    ratio = pixmap.devicePixelRatio()
    width, height = pixmap.width() / ratio, pixmap.height() / ratio
    faint = QColor(color)
    faint.setAlpha(56)
    painter.setPen(faint)
    painter.setFont(font_px(width * 0.15, "bold"))
    painter.translate(width / 2, height / 2)
    painter.rotate(-26)
    box = painter.fontMetrics().boundingRect(WORD)
    painter.drawText(-box.width() // 2, box.height() // 3, WORD)
    painter.end()


def _make_key() -> object:
    from shopguide.paper.identity import throwaway_identity

    return throwaway_identity(WORD)


def _first_unit(kind: str) -> str:
    return {
        "torque": "N·m",
        "angle": "°",
        "length": "mm",
        "pressure": "kPa",
        "mass": "kg",
        "time": "min",
    }[kind]


@contextlib.contextmanager
def _a_home_of_its_own() -> Iterator[Path]:
    """A user's folder for this rehearsal alone, so that nothing of it comes among the user's."""
    before = os.environ.get(places.HOME_VARIABLE)
    with tempfile.TemporaryDirectory(prefix="shopguide-rehearsal-") as folder:
        os.environ[places.HOME_VARIABLE] = folder
        try:
            yield Path(folder)
        finally:
            if before is None:
                del os.environ[places.HOME_VARIABLE]
            else:
                os.environ[places.HOME_VARIABLE] = before


def _close(frame: Frame) -> None:
    """Closes the window whatever state it is in."""
    if frame.desk is not None:
        frame.desk.drop_waiting()
    frame.close()
    frame.deleteLater()


def _make_folder(out: Path) -> Path:
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise Trouble(
            f"The folder cannot be made ({error.strerror or error}).",
            where=str(out),
            next="Name another one with --out.",
        ) from None
    return out


def _replace(source: Path, target: Path) -> Path:
    """Moves a file over an older one of an earlier rehearsal."""
    try:
        target.unlink(missing_ok=True)
        shutil.move(source, target)
    except OSError as error:
        raise Trouble(
            f"The record of the rehearsal cannot be put there ({error.strerror or error}).",
            where=str(target),
            next="Free the place or its rights.",
        ) from None
    return target


def _print(line: str) -> None:
    print(line, flush=True)
