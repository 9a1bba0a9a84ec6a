"""The place Lay out: what has to be there before work begins, in one column to go down."""

from __future__ import annotations

import contextlib
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from shopguide import places
from shopguide.bolts.order import Order, compute_pattern_order
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble
from shopguide.shop.book import Machine, ShopBook, read_book, write_book
from shopguide.shop.odometer import read_odometer
from shopguide.shop.vin import look_at_vin
from shopguide.shop.wrenches import Wrench, read_wrench
from shopguide.window.caution_panel import CautionPanel
from shopguide.window.column import Column
from shopguide.window.desk import Desk
from shopguide.window.field_row import Check, FieldRow
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.order_board import OrderBoard
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place
from shopguide.window.tick_row import TickRow
from shopguide.work.events import Event
from shopguide.work.next_up import cautions_to_acknowledge, unread_cautions
from shopguide.work.progress import ORDER_FIELD

FIELDS: tuple[tuple[str, str, str], ...] = (
    ("make", "Make", "who made it"),
    ("model", "Model", "as on its papers"),
    ("year", "Year", "first registered"),
    ("vin", "VIN", "17 characters, from the plate"),
    ("serial", "or serial", "for a machine without VIN"),
    ("odometer", "Odometer, hours", "123456 km, 76700 mi or 820 h"),
    ("person", "Work done by", "your name, as you will sign"),
)
MEASURE_PX = 1000
"""How wide the column may be at factor 1: about 90 characters of its text."""
GATHERED = ("parts", "supplies", "fluids", "tools")


def _say_vin(text: str) -> str:
    return look_at_vin(text).told


def _say_odometer(text: str) -> str:
    return read_odometer(text)


def _say_wrench(text: str) -> str:
    return f"{read_wrench(text).tell_all()}. Enter adds it."


CHECKS: dict[str, Check] = {"vin": _say_vin, "odometer": _say_odometer}


class LayOutPlace(Place):
    """Fields, wrenches, cautions, parts and tools. Each entry is kept as soon as it is left."""

    name = "lay out"

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.book = ShopBook()
        self.scroll = Column(look, factor)
        self.foot = QLabel()
        self.middle.addWidget(self.scroll, 1)
        self.middle.addWidget(self.foot)
        self.fields: dict[str, FieldRow] = {}
        self.wrench_field = FieldRow("", "", look, factor)
        self.ticks: dict[tuple[str, str], TickRow] = {}
        self._order_rows: dict[str, TickRow] = {}
        self.orders = OrderBoard(look, factor)
        self.orders.kept.connect(self._keep_order)
        self._rows: list[FieldRow | TickRow] = []
        self._now: FieldRow | TickRow | None = None
        self._stays = False  # a wrench was just added: Enter does not move on as well
        self.set_look(look, factor)

    # --- taking up a job ------------------------------------------------------------------

    def set_desk(self, desk: Desk, pictures: Pictures) -> None:
        super().set_desk(desk, pictures)
        self.book = read_book(places.user_folder())
        desk.changed.connect(self._changed)
        desk.failed.connect(self.notice.tell_trouble)
        self._build()

    def begin(self) -> None:
        if self.desk is not None:
            self._show()
        super().begin()
        first = self._first_undone()
        if first is not None:
            self._go_to(first)
        self.say()

    def leave(self) -> None:
        if isinstance(self._now, FieldRow) and self.desk is not None:
            self._keep_field(self._now)
        super().leave()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        pad = round(24 * factor)
        self.middle.setContentsMargins(pad, round(4 * factor), pad, round(8 * factor))
        self.scroll.set_look(look, factor)
        self.foot.setFont(font_px(SIZES_PX["text"] * factor, "bold"))
        if self.desk is not None:
            self._build()
            self._show()

    # --- building -------------------------------------------------------------------------

    def _build(self) -> None:
        assert self.desk is not None
        sheet, f = self.desk.sheet, self._factor
        body, sheet_of_lines = QWidget(), QWidget()
        # Longer lines are hard to read, however wide the window is.
        sheet_of_lines.setMaximumWidth(round(MEASURE_PX * f))
        beside = QHBoxLayout(body)
        beside.setContentsMargins(0, 0, round(12 * f), 0)
        beside.addWidget(sheet_of_lines, 1000)
        beside.addStretch(1)
        self._column = QVBoxLayout(sheet_of_lines)
        self._column.setContentsMargins(0, 0, 0, round(24 * f))
        self._column.setSpacing(0)
        self.fields, self.ticks, self._rows = {}, {}, []
        self._now = None
        self._text(sheet.summary, top=8)
        about = [", ".join(sheet.applies_to), f"time: {sheet.time}" if sheet.time else ""]
        about += [sheet.skill, f"revision {sheet.revision}, {sheet.date}, {sheet.author}"]
        self._text(" · ".join(a for a in about if a), soft=True, top=4)
        self._head("Machine and person")
        for key, word, hint in FIELDS:
            self._add_field(key, word, hint)
        self._head("Torque wrenches")
        for wrench in self._known_wrenches():
            does = f"Space ticks: {wrench.name} is at hand"
            self._add_tick("wrenches", wrench.name, wrench.tell(), does, wrench.tell_more())
        field = FieldRow(
            "Another wrench", "name, lowest, highest torque", self._look, f, check=_say_wrench
        )
        field.onward.connect(self._move)
        field.came.connect(lambda: self._came(field))
        field.left.connect(self._add_wrench)
        self.wrench_field = field
        self._rows.append(field)
        self._column.addWidget(field)
        cautions = cautions_to_acknowledge(sheet)
        if cautions:
            self._head("Cautions to read before work starts")
            for key, caution in cautions:
                self._column.addSpacing(round(10 * f))
                self._column.addWidget(CautionPanel(caution, self._look, f))
                does = f"Space records: I have read this {caution.signal}"
                self._add_tick("cautions", key, "I have read this", does, called="the next caution")
        for part in sheet.parts:
            if part is sheet.parts[0]:
                self._head("Parts")
            count = f"{part.quantity} × " if part.quantity > 1 else ""
            under = [part.number, "single-use: must be new" if part.single_use else ""]
            under += [part.price, part.note]
            self._gather("parts", part.name, f"{count}{part.name}", under)
        for supply in sheet.supplies:
            if supply is sheet.supplies[0]:
                self._head("Supplies")
            self._gather("supplies", supply.name, supply.name, [supply.quantity, supply.note])
        for fluid in sheet.fluids:
            if fluid is sheet.fluids[0]:
                self._head("Fluids")
            amount = sheet.spec(fluid.spec).tell() if fluid.spec else ""
            self._gather("fluids", fluid.name, fluid.name, [fluid.grade, amount, fluid.note])
        for tool in sheet.tools:
            if tool is sheet.tools[0]:
                self._head("Tools")
            self._gather("tools", tool.name, tool.name, [tool.note])
        self._order_rows = {}
        for pattern in sheet.patterns:
            if len(pattern.tightened) > 1:
                if not self._order_rows:
                    self._head("Tightening orders")
                self._add_order(pattern)
        self._column.addStretch(1)
        self.scroll.fill(body)

    def _text(self, text: str, *, soft: bool = False, top: int = 0) -> None:
        if not text:
            return
        label = QLabel(let_break(text))
        label.setWordWrap(True)
        label.setMinimumWidth(1)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setFont(font_px(SIZES_PX["text"] * self._factor))
        palette = label.palette()
        palette.setColor(label.foregroundRole(), self._look.color("soft" if soft else "ink"))
        label.setPalette(palette)
        self._column.addSpacing(round(top * self._factor))
        self._column.addWidget(label)

    def _head(self, text: str) -> None:
        label = QLabel(text)
        label.setFont(font_px(SIZES_PX["instruction"] * self._factor, "bold"))
        self._column.addSpacing(round(24 * self._factor))
        self._column.addWidget(label)
        self._column.addSpacing(round(4 * self._factor))

    def _add_field(self, key: str, word: str, hint: str) -> None:
        row = FieldRow(word, hint, self._look, self._factor, CHECKS.get(key))
        row.onward.connect(self._move)
        row.came.connect(lambda: self._came(row))
        row.left.connect(lambda _: self._keep_field(row))
        self.fields[key] = row
        self._rows.append(row)
        self._column.addWidget(row)

    def _gather(self, kind: str, key: str, text: str, under: list[str]) -> None:
        said = " · ".join(u for u in under if u)
        self._add_tick(kind, key, text, f"Space ticks: {text} is here", said)

    def _add_tick(
        self, kind: str, key: str, text: str, does: str, under: str = "", called: str = ""
    ) -> None:
        row = TickRow(text, under, does, self._look, self._factor, called)
        row.came.connect(lambda: self._came(row))
        row.ticked.connect(lambda: self._tick(row))
        self.ticks[(kind, key)] = row
        self._rows.append(row)
        self._column.addWidget(row)

    def _add_order(self, pattern: Pattern) -> None:
        does = f"Space opens the order of {pattern.title}"
        row = TickRow(pattern.title, "", does, self._look, self._factor, box=False)
        row.came.connect(lambda: self._came(row))
        row.ticked.connect(lambda: self._open_order(pattern))
        self._order_rows[pattern.name] = row
        self._rows.append(row)
        self._column.addWidget(row)

    def _open_order(self, pattern: Pattern) -> None:
        desk = self.desk
        if desk is None:
            return
        progress = desk.progress
        frozen = progress.order_is_frozen(pattern.name) or desk.read_only or desk.signed
        self.orders.show_order(pattern, progress.orders[pattern.name], frozen=frozen)
        self.open_board(self.orders)

    def _keep_order(self, name: str, order: Order) -> None:
        if self.desk is not None:
            value = {"numbers": list(order.numbers), "by": order.by}
            self.desk.lay_out(f"{ORDER_FIELD}{name}", value)

    def _known_wrenches(self) -> list[Wrench]:
        """The book's wrenches, and those of the record that are not in the book."""
        assert self.desk is not None
        known = {w.name: w for w in self.book.wrenches}
        for data in self.desk.progress.laid_out.get("wrenches", []):
            fields = {k: data[k] for k in Wrench.model_fields if k in data}
            known.setdefault(data["name"], Wrench(**fields))
        return list(known.values())

    # --- showing --------------------------------------------------------------------------

    def _laid_out(self) -> dict[str, Any]:
        assert self.desk is not None
        return self.desk.progress.laid_out

    def _changed(self, event: Event) -> None:
        if event.kind in ("begun", "laid out", "acknowledged", "withdrawn"):
            self._show()
            self.say()

    def _show(self) -> None:
        assert self.desk is not None
        kept = self._laid_out()
        for key, field in self.fields.items():
            # What was typed stays as typed while it is on its way to disk.
            text = self.desk.find_laid_out(key) or ""
            if not text and key == "person" and not self.desk.record_file:
                text = self.book.person
            field.set_text(text)
        chosen = {w["name"] for w in kept.get("wrenches", [])}
        for (kind, key), row in self.ticks.items():
            if kind == "cautions":
                row.set_on(key in self.desk.progress.acknowledged)
            elif kind == "wrenches":
                row.set_on(key in chosen)
            else:
                row.set_on(bool(kept.get(kind, {}).get(key)))
        for name, row in self._order_rows.items():
            order = self.desk.progress.orders[name]
            computed = compute_pattern_order(self.desk.sheet.pattern(name))
            differs = "" if order.by == "computed" else f". {order.tell_difference(computed)}"
            row.set_text(row.text, f"{order.tell()}{differs}")
        self.foot.setText(self._totals())

    def _totals(self) -> str:
        counts = []
        for kind in GATHERED:
            rows = [row for (k, _), row in self.ticks.items() if k == kind]
            if rows:
                counts.append(f"{sum(r.on for r in rows)} of {len(rows)} {kind}")
        assert self.desk is not None
        unread = len(unread_cautions(self.desk.progress))
        if unread:
            counts.append(f"{unread} caution{'s' if unread > 1 else ''} to read")
        return "   ·   ".join(counts)

    def say(self) -> None:
        if self.desk is None or (not self.ask.is_open and self.say_board()):
            return
        if self.ask.is_open:
            self.bar.say(self.ask.does, "Escape leaves it")
            return
        if self.desk.trouble is not None:
            self.bar.say(self.desk.tell_trouble(), "It is tried again", waits=True)
            return
        keys = "Up and Down move   F4 Work"
        now = self._now
        if self.desk.read_only or self.desk.signed:
            self.bar.say("Only to look at. Space goes to Work", keys=keys)
        elif now is not None and now is self.wrench_field:
            self.bar.say("Enter adds the wrench, or goes on", self._say_after(now), keys=keys)
        elif isinstance(now, FieldRow):
            self.bar.say(f"Enter keeps: {now.word}", self._say_after(now), keys=keys)
        elif isinstance(now, TickRow):
            if not now.on:
                self.bar.say(now.does, self._say_after(now), keys=keys)
            elif self._first_undone() is None:
                self.bar.say("Space goes to Work: everything is laid out", keys=keys)
            else:
                self.bar.say(f"Space goes on from: {now.called}", self._say_after(now), keys=keys)
        else:
            self.bar.say("Space goes to Work", keys=keys)

    def _say_after(self, row: FieldRow | TickRow) -> str:
        index = self._rows.index(row)
        if index + 1 < len(self._rows):
            then = self._rows[index + 1]
            return f"then: {then.word if isinstance(then, FieldRow) else then.called}"
        return "then: Work"

    # --- doing ----------------------------------------------------------------------------

    def _came(self, row: FieldRow | TickRow) -> None:
        self._now = row
        self.scroll.ensureWidgetVisible(row, 0, round(120 * self._factor))
        self.say()

    def _first_undone(self) -> FieldRow | TickRow | None:
        """The first line that is still empty; fields may stay empty once they were gone past."""
        for row in self._rows:
            if isinstance(row, TickRow) and row.has_box and not row.on:
                return row
            if isinstance(row, FieldRow) and row is not self.wrench_field and not row.entry.text():
                if row is self.fields.get("serial") and self.fields["vin"].entry.text():
                    continue
                if row is self.fields.get("vin") and self.fields["serial"].entry.text():
                    continue
                return row
        return None

    def _move(self, by: int, *, boxes: bool = False) -> None:
        """Goes up or down; with `boxes` only to a line that is ticked or filled in."""
        stays, self._stays = self._stays, False
        if self._now is None or stays:
            return
        index = self._rows.index(self._now) + by
        if boxes and index < len(self._rows) and self._rows[index] in self._order_rows.values():
            return
        if index < 0:
            self.scroll.go_to_top()
            return
        self._go_to(self._rows[min(index, len(self._rows) - 1)])

    def _move_on(self) -> None:
        """From a line that is done: the next one, or back to the first that is not."""
        index = self._rows.index(self._now) if self._now is not None else 0
        before, first = self._now, self._first_undone()
        self._move(1, boxes=True)
        if self._now is before and first is not None and self._rows.index(first) < index:
            self._go_to(first)

    def find_line_in_use(self) -> FieldRow | TickRow | None:
        return self._now

    def _go_to(self, row: FieldRow | TickRow) -> None:
        """The row takes the keys, whether or not the window is in front just now."""
        row.setFocus()
        self._came(row)

    def _keep_field(self, row: FieldRow) -> None:
        if self.desk is None or self.desk.read_only or self.desk.signed:
            return
        key = next((k for k, r in self.fields.items() if r is row), None)
        if key is None:
            return
        text = row.entry.text().strip()
        if key == "vin" and text:
            text = look_at_vin(text).vin
        if key == "odometer" and text:
            # What cannot be read is kept as typed; the line beside it says why.
            with contextlib.suppress(Trouble):
                text = read_odometer(text)
        if not text and self.desk.find_laid_out(key) is None:
            return
        self._keep_in_book(key, text)
        self.desk.lay_out(key, text)

    def _keep_in_book(self, key: str, text: str) -> None:
        book = self.book
        if key == "person":
            book = book.model_copy(update={"person": text})
        else:
            fields = {
                k: self.fields[k].entry.text().strip()
                for k in ("make", "model", "year", "vin", "serial")
            }
            book = book.with_machine(Machine(**fields))
        if book != self.book:
            self.book = book
            self._write_book()

    def _write_book(self) -> None:
        """Not on the window's thread: a disk may take its time."""
        assert self.desk is not None
        folder, book = places.user_folder(), self.book
        self.desk.write_aside(lambda: write_book(folder, book))

    def _add_wrench(self, text: str) -> None:
        field = self.wrench_field
        if not text or self.desk is None:
            return
        try:
            wrench = read_wrench(text)
        except Trouble:
            return  # the line beside it says what is missing
        field.entry.clear()
        kept = [w for w in self.book.wrenches if w.name != wrench.name]
        self.book = self.book.model_copy(update={"wrenches": (*kept, wrench)})
        self._write_book()
        before = self.desk.find_laid_out("wrenches") or []
        chosen = [w for w in before if w["name"] != wrench.name]
        self.desk.lay_out("wrenches", [*chosen, wrench.model_dump()])
        self._build()
        self._show()
        self._go_to(self.wrench_field)
        self._stays = True

    def _tick(self, row: TickRow) -> None:
        """Ticks a line, or takes the tick away again; what was read stays read."""
        desk = self.desk
        if desk is None or desk.read_only or desk.signed:
            return
        kind, key = next(pair for pair, r in self.ticks.items() if r is row)
        if kind == "cautions":
            if key not in desk.progress.acknowledged:
                desk.record("acknowledged", {"caution": key, "place": "lay out"})
                row.set_on(False)
        elif kind == "wrenches":
            before = desk.find_laid_out("wrenches") or []
            chosen = [w for w in before if w["name"] != key]
            if not row.on:
                wrench = next(w for w in self._known_wrenches() if w.name == key)
                chosen.append(wrench.model_dump())
            desk.lay_out("wrenches", chosen)
        else:
            kept = dict(desk.find_laid_out(kind) or {})
            if row.on:
                kept.pop(key, None)
            else:
                kept[key] = True
            desk.lay_out(kind, kept)

    def press(self) -> None:
        desk = self.desk
        if desk is None or desk.waiting:
            if desk is not None and desk.trouble is not None:
                desk.try_again()
            return
        now = self._now
        if desk.read_only or desk.signed or now is None:
            self.goes.emit("work")
        elif isinstance(now, TickRow) and not now.has_box:
            now.ticked.emit()
        elif isinstance(now, TickRow):
            if not now.on:
                self._tick(now)
                self._move(1, boxes=True)
            elif self._first_undone() is None:
                self.goes.emit("work")
            else:
                self._move_on()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if key == Qt.Key.Key_Down:
            self._move(1)
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_PageUp):
            self._move(-1)
        else:
            super().keyPressEvent(event)
