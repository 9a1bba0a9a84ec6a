"""The wrench board: which wrench serves a torque task, what to set, and the adapter on it."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from shopguide.bolts.adapter_drawing import AdapterSketch
from shopguide.errors import Trouble
from shopguide.job.model import Torque
from shopguide.torque import units
from shopguide.torque.adapter import CROW_FOOT, HAND, Adapter, explain, read_adapter, tell_reckoning
from shopguide.torque.wrench import Choice, choose_wrench
from shopguide.window.adapter_view import AdapterView
from shopguide.window.board import Board
from shopguide.window.column import Column
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.wrench_row import WrenchRow, tell_setting
from shopguide.work.progress import Progress
from shopguide.work.screws import tell_screws
from shopguide.work.wrench_choice import ADAPTER_FIELD, find_day, list_wrenches

ENTRIES: tuple[tuple[str, str, str], ...] = (
    ("length", "Adapter, E", "none"),
    ("angle", "at α", "0°"),
    ("kind", "kind", CROW_FOOT),
)
"""Key in the record, word, and what stands in the empty entry."""


class WrenchBoard(Board):
    """Left the wrenches, right the drawing to scale and the entries for the adapter.

    Keys: A types the adapter; there Enter keeps it and goes on, Up and Down move, Escape leaves it.
    """

    adapter_set = Signal(str, object)
    """The torque task's address, and {"length", "angle", "kind"}, or {} for no adapter."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.progress: Progress | None = None
        self.address = ""
        self.target: units.Amount | None = None
        self.choice: Choice | None = None
        self.fault = ""
        self._may_change = True
        # As it will be once it is on disk, which takes its time.
        self._kept: dict[str, str] = {}
        self.title, self.where, self.words = QLabel(), QLabel(), QLabel()
        self.told = QLabel()
        self.rows = Column(look, factor)
        self.view = AdapterView(look, factor)
        self.entries: dict[str, EntryLine] = {}
        self._entry_words: list[QLabel] = []
        self._grid = QGridLayout()
        for column, (key, word, hint) in enumerate(ENTRIES):
            label, entry = QLabel(word), EntryLine(look, factor)
            entry.setPlaceholderText(hint)
            entry.setMaxLength(40)
            entry.setAccessibleName(word)
            entry.installEventFilter(self)
            entry.textChanged.connect(lambda _: self._look_at())
            self.entries[key] = entry
            self._entry_words.append(label)
            self._grid.addWidget(label, 0, column)
            self._grid.addWidget(entry, 1, column)
            self._grid.setColumnStretch(column, (3, 2, 4)[column])
        self._left, self._right = QVBoxLayout(), QVBoxLayout()
        for label in (self.title, self.where, self.words, self.told):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setAlignment(Qt.AlignmentFlag.AlignTop)
        for label in (self.title, self.where):
            self._left.addWidget(label)
        self._left.addWidget(self.rows, 1)
        self._left.addWidget(self.words)
        self._left.addStretch(0)
        self._right.addWidget(self.view, 1)
        self._right.addLayout(self._grid)
        self._right.addWidget(self.told)
        self._beside = QHBoxLayout(self)
        self._beside.addLayout(self._left, 1)
        self._side = QWidget()
        self._side.setLayout(self._right)
        self._beside.addWidget(self._side)
        self.set_look(look, factor)

    # --- showing --------------------------------------------------------------------------

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        f = factor
        self.rows.set_look(look, f)
        self.view.set_look(look, f)
        self.title.setFont(font_px(SIZES_PX["instruction"] * f, "bold"))
        for label in (self.where, self.words, self.told, *self._entry_words):
            label.setFont(font_px(SIZES_PX["text"] * f))
        for label in (self.where, *self._entry_words):
            palette = label.palette()
            palette.setColor(label.foregroundRole(), look.color("soft"))
            label.setPalette(palette)
        for entry in self.entries.values():
            entry.set_look(look, f)
            entry.setFont(font_px(22 * f))
            entry.setFixedHeight(round(44 * f))
        # Room for its longest words, so that nothing jumps while an adapter is typed.
        self.told.setMinimumHeight(round(106 * f))
        pad = round(24 * f)
        self._beside.setContentsMargins(pad, round(8 * f), pad, round(14 * f))
        self._beside.setSpacing(round(28 * f))
        self._left.setSpacing(round(6 * f))
        self._right.setContentsMargins(0, 0, 0, 0)
        self._right.setSpacing(round(8 * f))
        self._grid.setHorizontalSpacing(round(16 * f))
        self._grid.setVerticalSpacing(0)
        self._set_side()
        if self.progress is not None:
            self._show()

    def _set_side(self) -> None:
        self._side.setFixedWidth(round(min(640 * self._factor, max(self.width(), 600) * 0.48)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._set_side()

    def show_task(self, progress: Progress, address: str, *, may_change: bool = True) -> None:
        """Shows a torque task; may_change: False where the record is only looked at.

        What is being typed just now stays.
        """
        again = address == self.address and self.is_typing
        self.progress, self.address, self._may_change = progress, address, may_change
        self.target = find_target(progress, address)
        if not again:
            self._kept = dict(progress.laid_out.get(ADAPTER_FIELD + address) or {})
            self._fill_entries()
        self._show()
        self._say()

    def _fill_entries(self) -> None:
        """The entries hold what is kept."""
        for key, entry in self.entries.items():
            before = entry.blockSignals(True)
            entry.setText(str(self._kept.get(key) or ""))
            entry.setReadOnly(not self._may_change)
            entry.setFocusPolicy(
                Qt.FocusPolicy.StrongFocus if self._may_change else Qt.FocusPolicy.NoFocus
            )
            entry.blockSignals(before)

    def read_typed(self) -> Adapter | None:
        """The adapter that stands in the entries; None for none. Raises Trouble."""
        texts = {key: entry.text().strip() for key, entry in self.entries.items()}
        if not texts["length"] and texts["kind"] in ("", CROW_FOOT):
            if texts["angle"].strip("0°. "):
                raise Trouble(
                    "An angle is that of an adapter, and no length is written.",
                    next="Write its length: 40 mm.",
                )
            return None
        return read_adapter(texts)

    def _look_at(self) -> None:
        self._show()
        self._say()

    def _show(self) -> None:
        progress, target = self.progress, self.target
        if progress is None:
            return
        place = progress.sheet.step_of(self.address)
        task = progress.sheet.tasks[self.address]
        assert isinstance(task, Torque)
        what = progress.pattern_of(task).title
        self.where.setText(let_break(f"Step {place.number}, {place.step.title}: {what}"))
        self.fault, adapter = "", None
        try:
            adapter = self.read_typed()
        except Trouble as trouble:
            self.fault = str(trouble)
        if target is None:
            self.title.setText("The wrench: no torque is known here")
            self.choice = None
        else:
            self.title.setText(f"The wrench for {target.text}")
            wrenches = list_wrenches(progress)
            self.choice = choose_wrench(wrenches, target, adapter, on=find_day(progress))
        self._show_rows()
        self._show_words()
        self._show_drawing(adapter)

    def _show_rows(self) -> None:
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, round(10 * self._factor), 0)
        column.setSpacing(0)
        rows = self.list_rows()
        for row in rows:
            column.addWidget(row)
        column.addStretch(1)
        self.rows.setVisible(bool(rows))
        self.rows.fill(body)

    def list_rows(self) -> list[WrenchRow]:
        """A row for each wrench, that which serves best first."""
        choice = self.choice
        if choice is None:
            return []
        best = choice.best
        rank = {"reaches": 1, "below its marks": 2, "above its marks": 2}
        ordered = sorted(choice.settings, key=lambda s: 0 if s is best else rank[s.reach])
        rows = []
        for setting in ordered:
            figure, lines = tell_setting(setting, best)
            span = setting.wrench
            marks = f"{span.low.text} to {span.high.text}" if span.low else f"to {span.high.text}"
            name = f"{span.name}, {marks}"
            rows.append(WrenchRow(name, figure, lines, setting is best, self._look, self._factor))
        for name, sentence in choice.refused:
            rows.append(WrenchRow(name, "?", (sentence,), False, self._look, self._factor))
        return rows

    def _show_words(self) -> None:
        choice = self.choice
        if self.progress is not None and not list_wrenches(self.progress):
            said = "No wrench is laid out. Write one in Lay out."
        elif choice is None:
            said = "Write a torque with its source into the sheet first."
        elif choice.best is None:
            said = choice.borrow
        else:
            best = choice.best
            band = f"{best.deviation.tell()}: {best.deviation.source}."
            said = " ".join(part for part in (choice.why, best.note, band) if part)
        self.words.setText("\n".join([said, *self._tell_screws()]))

    def _tell_screws(self) -> tuple[str, ...]:
        """What the torque does to the screws, where the sheet names thread and class."""
        task = self.progress.sheet.tasks.get(self.address) if self.progress is not None else None
        if self.progress is None or not isinstance(task, Torque):
            return ()
        return tell_screws(self.progress, task)

    def _show_drawing(self, adapter: Adapter | None) -> None:
        lever, choice = self._find_lever(), self.choice
        told = self.fault
        if lever is None:
            self.view.show_sketch(
                None,
                "For the drawing, and for any setting with an adapter, the wrench's lever length "
                "is needed: from the middle of the drive to the middle of the grip. Write it at "
                "the wrench in Lay out: lever 320 mm.",
            )
        else:
            sketch = AdapterSketch(lever.base, lever_text=lever.text)
            if adapter is not None and adapter.counts and adapter.length is not None:
                sketch = AdapterSketch(
                    lever.base,
                    adapter.length_mm,
                    adapter.angle.base,
                    lever.text,
                    adapter.length.text,
                    adapter.angle.text,
                )
            self.view.show_sketch(sketch)
        if not told and adapter is not None:
            told = explain(adapter)
            if lever is not None and adapter.counts and self.target is not None:
                try:
                    told = f"{tell_reckoning(self.target, lever, adapter)}. {told} {HAND}"
                except Trouble as trouble:
                    told = str(trouble)
        if not told and choice is not None:
            told = "No adapter: the torque itself is set. A types one."
        self.told.setText(let_break(told))

    def _find_lever(self) -> units.Amount | None:
        """The lever of the wrench that serves best, else of the first whose lever is known."""
        if self.choice is None or self.progress is None:
            return None
        settings = list(self.choice.settings)
        if self.choice.best is not None:
            return self.choice.best.wrench.lever
        for setting in settings:
            if setting.wrench.lever is not None:
                return setting.wrench.lever
        for data in list_wrenches(self.progress):
            if data.get("lever"):
                return units.read(str(data["lever"]), units.Kind.LENGTH)
        return None

    # --- the bar --------------------------------------------------------------------------

    @property
    def is_typing(self) -> bool:
        """True while one of the entries takes the keys."""
        return any(entry.hasFocus() for entry in self.entries.values())

    def _say(self) -> None:
        if not self.is_typing:
            self.does, self.after = "Space goes back to the work", ""
            self.keys = ("A adapter   " if self._may_change else "") + "Escape closes this"
        else:
            self.keys = "Up and Down move   Escape leaves the adapter as it was"
            if self.fault:
                self.does, self.after = "Enter cannot keep this adapter yet", ""
            else:
                adapter = self.read_typed()
                named = adapter.tell() if adapter is not None else "no adapter"
                self.does = f"Enter keeps: {named}"
                keys = list(self.entries)
                here = next(k for k in keys if self.entries[k].hasFocus())
                rest = keys[keys.index(here) + 1 :]
                then = {"angle": "its angle", "kind": "its kind"}
                self.after = f"then: {then[rest[0]]}" if rest and adapter else "then: the work"
        self.said.emit()

    # --- keys -----------------------------------------------------------------------------

    def take_key(self, event: QKeyEvent) -> bool:
        key = event.key()
        if key == Qt.Key.Key_A and self._may_change:
            self._type("length")
            return True
        bar = self.rows.verticalScrollBar()
        if key in (Qt.Key.Key_Down, Qt.Key.Key_PageDown):
            bar.setValue(bar.value() + round(60 * self._factor))
            return True
        if key in (Qt.Key.Key_Up, Qt.Key.Key_PageUp):
            bar.setValue(bar.value() - round(60 * self._factor))
            return True
        return False

    def _type(self, key: str) -> None:
        self.entries[key].setFocus()
        self.entries[key].selectAll()
        self._say()

    def _move(self, by: int) -> None:
        keys = list(self.entries)
        here = next((k for k in keys if self.entries[k].hasFocus()), keys[0])
        at = keys.index(here) + by
        if 0 <= at < len(keys):
            self._type(keys[at])
        elif at >= len(keys):
            self._leave_entries()

    def _leave_entries(self) -> None:
        self.setFocus()
        self._show()
        self._say()

    def _keep(self) -> None:
        """Enter: keeps what is typed, and goes on to the next entry or back to the board."""
        if self.fault:
            self._say()
            return
        adapter = self.read_typed()
        data = adapter.as_data() if adapter is not None else {}
        if data != self._kept:
            self._kept = data
            self.adapter_set.emit(self.address, data)
        if adapter is None:
            self._leave_entries()
        else:
            self._move(1)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.FocusIn, QEvent.Type.FocusOut):
            self._say()
        elif event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            key = event.key()
            if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                if not event.isAutoRepeat():
                    self._keep()
                return True
            if key == Qt.Key.Key_Escape:
                self._fill_entries()
                self._leave_entries()
                return True
            if key in (Qt.Key.Key_Down, Qt.Key.Key_Up):
                self._move(1 if key == Qt.Key.Key_Down else -1)
                return True
        return super().eventFilter(watched, event)

    def press(self) -> None:
        """Space, or a click on the bar: keeps what is being typed, else closes the board."""
        if self.is_typing:
            self._keep()
        else:
            self.close_board()


def find_target(progress: Progress, address: str) -> units.Amount | None:
    """The torque that the wrench is wanted for: of the pass under way, else of the next to torque.

    None where the sheet knows no figure.
    """
    task = progress.sheet.tasks[address]
    if not isinstance(task, Torque):
        return None
    trip = progress.trip(address)
    start = trip.pass_number - 1 if trip is not None else 0
    for one in (*task.schedule[start:], *task.schedule):
        name = task.spec_of(one)
        spec = progress.sheet.spec(name) if name else None
        if spec is None or spec.kind is not units.Kind.TORQUE:
            continue
        amount = spec.amount()
        if amount is not None:
            return units.scale(amount, one.share)
    return None
