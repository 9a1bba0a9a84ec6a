"""The place Sign off: what is open, what departed, what is missing; then name, signature, paper."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QLocale, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from shopguide.errors import Trouble
from shopguide.paper.findings import tell_findings
from shopguide.window.background import Errand, Runner
from shopguide.window.column import Column
from shopguide.window.desk import Desk
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.paper_desk import (
    Page,
    find_key_state,
    get_identity,
    make_draft,
    write_signed,
)
from shopguide.window.paper_view import PaperView
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place
from shopguide.window.signature_pad import SignaturePad
from shopguide.window.tick_row import TickRow
from shopguide.work.events import OWN_STATEMENT, Event
from shopguide.work.ledger import list_departures, list_items, list_missing, still_open

if TYPE_CHECKING:
    from shopguide.paper.identity import Identity


class SignOffPlace(Place):
    """Lines to settle on the left, the paper on the right. Signing closes the record for good."""

    name = "sign off"

    def __init__(self, look: Look, factor: float = 1.0, *, runner: Runner) -> None:
        super().__init__(look, factor)
        self._runner = runner
        self.rehearsal_identity: Identity | None = None
        self.choose_path: Callable[[str], str] = self._open_path_dialog
        self.written: Path | None = None
        self.page: Page = "Letter" if QLocale().territory() in LETTER_LANDS else "A4"
        self.scroll = Column(look, factor)
        self.paper = PaperView(look, factor)
        self.pad = SignaturePad(look, factor)
        self.pad.drawn.connect(self.say)
        self._sides = QHBoxLayout()
        self._sides.addWidget(self.scroll)
        self._sides.addWidget(self.paper, 1)
        self.middle.addLayout(self._sides, 1)
        self._rows: list[TickRow] = []
        self._acts: dict[TickRow, Callable[[], None]] = {}
        self._now: TickRow | None = None
        self._preview: Errand | None = None
        self.set_look(look, factor)

    # --- taking up a job ------------------------------------------------------------------

    def set_desk(self, desk: Desk, pictures: Pictures) -> None:
        super().set_desk(desk, pictures)
        self.pad.strokes = []
        self.written = None
        desk.changed.connect(self._changed)
        desk.failed.connect(self.notice.tell_trouble)

    def begin(self) -> None:
        self._build()
        super().begin()
        if self._rows:
            self._go_to(self._rows[0])
        self.scroll.go_to_top()  # what is open and what departed is read first
        self._make_preview()
        self.say()

    def leave(self) -> None:
        if self._preview is not None:
            self._preview.cancel()
        super().leave()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        self.scroll.set_look(look, factor)
        self.pad.set_look(look, factor)
        self.paper.set_look(look, factor)
        pad = round(24 * factor)
        self._sides.setContentsMargins(pad, round(4 * factor), pad, round(12 * factor))
        self._sides.setSpacing(round(24 * factor))
        self._set_width()
        if self.desk is not None and self.isVisible():
            self._build()

    def _set_width(self) -> None:
        self.scroll.setFixedWidth(round(max(self.width(), 600) * 0.5))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._set_width()
        super().resizeEvent(event)

    # --- building -------------------------------------------------------------------------

    def _build(self) -> None:
        desk = self.desk
        if desk is None:
            return
        f = self._factor
        progress = desk.progress
        before = self._rows.index(self._now) if self._now in self._rows else 0
        self._rows, self._acts, self._now = [], {}, None
        self.pad.setParent(None)
        body = QWidget()
        self._column = QVBoxLayout(body)
        self._column.setContentsMargins(0, 0, round(12 * f), round(24 * f))
        self._column.setSpacing(round(2 * f))
        self._head("What the first page says", top=0)
        for line in tell_findings(progress):
            self._line(line)
        items = list_items(progress)
        open_now = still_open(progress)
        self._head("Open items")
        if not items:
            self._line("Nothing was taken apart.")
        elif not open_now:
            self._line(f"All {len(items)} are closed or accounted for.")
        for item in open_now:
            self._row(
                f"{item.item}: {item.how}",
                item.note,
                f"Space asks why this stays open: {item.item}",
                lambda item=item: self._account(item.item),  # type: ignore[misc]
            )
        for item in items:
            if item.state == "accounted for":
                self._line(f"{item.item} stays open: {item.reason}")
        missing = list_missing(progress)
        self._head("Not recorded")
        if not missing:
            self._line("Every task is recorded.")
        else:
            count = f"{len(missing)} task{'s' if len(missing) > 1 else ''} not recorded"
            first = missing[0]
            number = first[0].split(".")[0]
            self._row(
                count,
                f"first: step {number}, {first[1]}",
                "Space goes to Work, where the first of them is due",
                lambda: self.goes.emit("work"),
            )
            self._row(
                "or sign without them",
                "Each is written down as skipped, with your reason.",
                "Space asks why they are skipped",
                self._skip_missing,
            )
        departures = list_departures(progress)
        self._head("Departures from the sheet")
        if not departures:
            self._line("None.")
        for departure in departures:
            self._line(f"{departure.where}: {departure.what}. Reason: {departure.reason}")
        self._build_signing(bool(open_now) or bool(missing))
        self._column.addStretch(1)
        self.scroll.fill(body)
        if self._rows and self.isVisible():
            self._go_to(self._rows[min(before, len(self._rows) - 1)])

    def _build_signing(self, waits: bool) -> None:
        desk = self.desk
        assert desk is not None
        self._head("Signature")
        if desk.signed:
            event = desk.progress.signed
            assert event is not None
            self._line(f"Signed by {event.data['name']} on {_tell_day(event.when)}.")
            self._line("Nothing is added to this record any more.")
        elif waits:
            self._line("First settle the open items and the tasks above.")
        elif not desk.read_only:
            self._line(OWN_STATEMENT)
            self._column.addSpacing(round(8 * self._factor))
            self._column.addWidget(self.pad)
            self.pad.show()
            if self.pad.strokes:
                self._row("Clear the pad", "", "Space clears the pad", self._clear_pad)
            self._row(
                "Sign and close the record",
                "This cannot be taken back. Your name is asked first.",
                "Space asks for your name, then signs",
                self._ask_name,
            )
        self._head("Paper")
        self._row(
            f"Page size: {self.page}",
            "",
            f"Space takes {'Letter' if self.page == 'A4' else 'A4'}",
            self._swap_page,
        )
        said = "signed with your key" if desk.signed else "a draft; the record is not signed yet"
        self._row(
            "Write the PDF",
            f"{said}; the record's own data goes with it"
            + (f". Written: {self.written}" if self.written else ""),
            "Space writes the PDF",
            self._export,
        )

    def _head(self, text: str, top: int = 22) -> None:
        label = QLabel(text)
        label.setFont(font_px(24 * self._factor, "bold"))
        self._column.addSpacing(round(top * self._factor))
        self._column.addWidget(label)

    def _line(self, text: str) -> None:
        label = QLabel(let_break(text))
        label.setWordWrap(True)
        label.setMinimumWidth(1)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setFont(font_px(SIZES_PX["text"] * self._factor))
        self._column.addWidget(label)

    def _row(self, text: str, under: str, does: str, act: Callable[[], None]) -> None:
        row = TickRow(text, under, does, self._look, self._factor, box=False)
        row.came.connect(lambda: self._came(row))
        row.ticked.connect(self.press)
        self._rows.append(row)
        self._acts[row] = act
        self._column.addWidget(row)

    # --- showing --------------------------------------------------------------------------

    def _changed(self, event: Event) -> None:
        # Of many entries at once only the last one is drawn.
        if self.isVisible() and self.desk is not None and not self.desk.waiting:
            self._build()
            self._make_preview()
            self.say()

    def find_line_in_use(self) -> TickRow | None:
        return self._now

    def _go_to(self, row: TickRow) -> None:
        """The row takes the keys, whether or not the window is in front just now."""
        row.setFocus()
        self._came(row)

    def _came(self, row: TickRow) -> None:
        self._now = row
        self.scroll.ensureWidgetVisible(row, 0, round(80 * self._factor))
        self.say()

    def say(self) -> None:
        desk = self.desk
        if desk is None:
            return
        if self.ask.is_open:
            self.bar.say(self.ask.does, "Escape leaves it")
        elif desk.trouble is not None:
            self.bar.say(desk.tell_trouble(), "It is tried again", waits=True)
        elif self._now is not None:
            self.bar.say(self._now.does, keys="Up and Down move   [ and ] turn the page")
        else:
            self.bar.say("", keys="Up and Down move   [ and ] turn the page")

    def press(self) -> None:
        if self._now is not None and self.desk is not None and not self.desk.waiting:
            act = self._acts.get(self._now)
            if act is not None and not self.ask.is_open:
                act()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_Up, Qt.Key.Key_PageUp) and self._rows:
            by = 1 if key == Qt.Key.Key_Down else -1
            index = self._rows.index(self._now) if self._now in self._rows else 0
            if index == 0 and by < 0:
                self.scroll.go_to_top()
                return
            self._go_to(self._rows[min(max(index + by, 0), len(self._rows) - 1)])
        elif key == Qt.Key.Key_BracketLeft:
            self.paper.turn(-1)
        elif key == Qt.Key.Key_BracketRight:
            self.paper.turn(1)
        else:
            super().keyPressEvent(event)

    # --- settling -------------------------------------------------------------------------

    def _record(self, kind: str, data: dict[str, Any]) -> None:
        assert self.desk is not None
        self.desk.record(kind, data)

    def _account(self, item: str) -> None:
        self.ask.open(
            f"Why does this stay open: {item}?",
            "Enter records your reason",
            lambda reason: self._record("accounted", {"item": item, "reason": reason}),
        )

    def _skip_missing(self) -> None:
        assert self.desk is not None
        missing = list_missing(self.desk.progress)

        def take(reason: str) -> None:
            for address, _ in missing:
                self._record("skipped", {"task": address, "reason": reason})

        self.ask.open(
            f"Why are {len(missing)} tasks skipped?", "Enter records your reason for each", take
        )

    def _clear_pad(self) -> None:
        self.pad.clear()
        self._build()

    def _ask_name(self) -> None:
        assert self.desk is not None
        person = str(self.desk.progress.laid_out.get("person", ""))
        self.ask.open(
            "Your name, as the paper shows it. Enter signs and closes the record.",
            "Enter signs and closes the record for good",
            self._sign,
            text=person,
        )

    def _sign(self, name: str) -> None:
        strokes = [[[x, y] for x, y in stroke] for stroke in self.pad.strokes]
        self._record("signed", {"name": name, "statement": OWN_STATEMENT, "strokes": strokes})

    # --- the paper ------------------------------------------------------------------------

    def _swap_page(self) -> None:
        self.page = "Letter" if self.page == "A4" else "A4"
        self._build()
        self._make_preview()

    def _make_preview(self) -> None:
        desk = self.desk
        if self._preview is not None:
            self._preview.cancel()
            self._preview = None
        if desk is None or desk.record_file is None:
            self.paper.tell("There is no record yet: the paper begins with the first entry.")
            return
        record, sheet, page = desk.record_file, desk.sheet, self.page
        errand = Errand("Making the paper", self)

        errand.done.connect(self.paper.show_pdf)
        errand.failed.connect(lambda trouble: self.paper.tell(str(trouble)))
        self._preview = self._runner.run(
            errand, lambda errand: make_draft(errand, record, sheet, page)
        )

    def _open_path_dialog(self, suggested: str) -> str:
        name, _ = QFileDialog.getSaveFileName(self, "Write the PDF", suggested, "PDF (*.pdf)")
        return name

    def _export(self) -> None:
        desk = self.desk
        if desk is None or desk.record_file is None or self.errand is not None:
            return
        name = self.choose_path(str(desk.record_file.path.with_suffix(".pdf")))
        if not name:
            return
        path = Path(name)
        person = str(desk.progress.laid_out.get("person", "")) or "not named"
        if desk.progress.signed is not None:
            person = str(desk.progress.signed.data["name"])
        needed = "nothing" if self.rehearsal_identity is not None else find_key_state()
        if needed == "new passphrase":
            self._ask_new_passphrase(path, person)
        elif needed == "passphrase":
            self.ask.open(
                "Your passphrase, for the key that signs",
                "Enter signs the PDF",
                lambda text: self._write(path, person, text),
                hidden=True,
            )
        else:
            self._write(path, person, None)

    def _ask_new_passphrase(self, path: Path, person: str) -> None:
        def long_enough(text: str) -> str:
            if len(text) < 8:
                raise Trouble("A passphrase needs at least 8 characters.")
            return "Write it down: without it the key is lost."

        def again(first: str) -> None:
            def same(text: str) -> str:
                if text != first:
                    raise Trouble("The two differ.")
                return "The same."

            self.ask.open(
                "The passphrase once more",
                "Enter makes your key and signs the PDF",
                lambda text: self._write(path, person, text),
                check=same,
                hidden=True,
            )

        self.ask.open(
            "Your first signature makes a key on this computer. Choose a passphrase for it.",
            "Enter takes the passphrase",
            again,
            check=long_enough,
            hidden=True,
        )

    def _write(self, path: Path, person: str, passphrase: str | None) -> None:
        desk = self.desk
        assert desk is not None and desk.record_file is not None
        record, sheet, page = desk.record_file, desk.sheet, self.page
        throwaway = self.rehearsal_identity
        errand = Errand(f"Writing {path.name}", self)

        def work(errand: Errand) -> bytes:
            identity = throwaway or get_identity(person, passphrase)
            return write_signed(errand, record, sheet, page, path, identity)

        def done(data: bytes) -> None:
            self.written = path
            self.paper.show_pdf(data)
            self._build()
            self.notice.tell("The PDF is written and signed.", str(path))

        errand.done.connect(done)
        self.show_errand(errand)
        self._runner.run(errand, work)


LETTER_LANDS = (
    QLocale.Country.UnitedStates,
    QLocale.Country.Canada,
    QLocale.Country.Mexico,
    QLocale.Country.Philippines,
)


def _tell_day(moment: datetime) -> str:
    local = moment.astimezone()
    return f"{local.day} {local.strftime('%B %Y, %H:%M')}"
