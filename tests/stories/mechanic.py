"""A mechanic at the window, who makes a sheet again from a sheet on paper: by keys and mouse alone.

Knows only what a person knows who looks at the screen: how the list at the left is gone through,
which field has the keys, what the bar says. Nothing is put into the draft but by the window.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from shopguide.job.model import Arrow, Caution, Freehand, Number, Photo, Ring, Sheet, Step, Text
from shopguide.window.frame import Frame
from shopguide.window.write_action import WriteAction
from shopguide.window.write_choice import WriteChoice
from shopguide.window.write_passes import OWN

PATIENCE_MS = 30_000
PLAIN = Qt.KeyboardModifier.NoModifier
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key
TYPED = 160
"""Texts up to so many signs are typed letter by letter, longer ones are pasted."""
TOOLS = {Arrow: Key.Key_A, Ring: Key.Key_R, Number: Key.Key_N, Text: Key.Key_T, Freehand: Key.Key_F}


class Mechanic:
    """Writes a sheet. `letters` counts what was typed, `keys` all presses, `clicks` the mouse."""

    def __init__(self, qtbot: Any, frame: Frame, pictures: Path) -> None:
        """pictures: the folder in which the pictures of the sheet lie."""
        self.qtbot, self.frame, self.pictures = qtbot, frame, pictures
        self.keys = self.letters = self.clicks = 0
        self.wrong: str = ""
        """A text that is mistyped, to see whether that is noticed."""
        self._files: list[str] = []
        frame.write.choose_photos = lambda _: self._files

    # --- hands and eyes -------------------------------------------------------------------

    def focus(self) -> QWidget:
        """What has the keys."""
        widget = QApplication.focusWidget()
        assert widget is not None, "nothing has the keys"
        return widget

    def press(self, key: Key, held: Qt.KeyboardModifier = PLAIN) -> None:
        """One key, to whatever has the keys; then the window is let go on."""
        self.keys += 1
        QTest.keyClick(self.focus(), key, held)
        QApplication.processEvents()
        assert self.frame.place.bar.does, f"the bar says nothing after {key}"

    def type(self, text: str) -> None:
        """Letter by letter."""
        for letter in text:
            self.letters += 1
            if letter == "\n":
                self.press(Key.Key_Return, SHIFT)
            elif letter.isascii():
                QTest.keyClicks(self.focus(), letter)
            else:
                # QTest knows the keys of ASCII alone; "±" and "·" come from a compose key.
                for sort in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
                    event = QKeyEvent(sort, Key.Key_unknown, PLAIN, letter)
                    QApplication.sendEvent(self.focus(), event)

    def paste(self, text: str) -> None:
        """Copied elsewhere, and pasted."""
        QApplication.clipboard().setText(text)
        self.press(Key.Key_V, CONTROL)

    def write(self, text: str) -> None:
        """Writes over what stands in a field."""
        if self.wrong and text == self.wrong:
            text = text[:-1] + ("e" if text[-1:] != "e" else "a")
        self.press(Key.Key_A, CONTROL)
        if not text:
            self.press(Key.Key_Backspace)
        elif len(text) > TYPED or "\n" in text:
            self.paste(text)
        else:
            self.type(text)

    def wait(self, seen: Any) -> None:
        """Until something is seen on the screen."""
        self.qtbot.waitUntil(seen, timeout=PATIENCE_MS)

    def drag(self, widget: QWidget, *places: QPoint) -> None:
        """The left button held down from the first place to the last."""
        self.clicks += 1
        QTest.mousePress(widget, LEFT, pos=places[0])
        for place in places[1:]:
            QTest.mouseMove(widget, place)
        QTest.mouseRelease(widget, LEFT, pos=places[-1])
        QApplication.processEvents()

    def click(self, widget: QWidget, place: QPoint) -> None:
        """The left button, where the pointer is."""
        self.clicks += 1
        QTest.mouseClick(widget, LEFT, pos=place)
        QApplication.processEvents()

    def settle(self) -> None:
        """Until the review has looked at what there is now."""
        desk = self.frame.write.writing
        self.wait(lambda: not desk.busy and desk.reviewed_data is desk.data)

    # --- the list at the left -------------------------------------------------------------

    def go_to_list(self) -> None:
        """Escape, where the keys are elsewhere."""
        for _ in range(3):
            if self.frame.write.outline.hasFocus():
                return
            self.press(Key.Key_Escape)
        raise AssertionError("Escape does not lead to the list")

    def go_to_row(self, seen: Any) -> None:
        """Up and down to the row for which `seen` is true."""
        self.go_to_list()
        outline = self.frame.write.outline
        wanted = next((i for i, row in enumerate(outline.rows.rows) if seen(row)), None)
        assert wanted is not None, "there is no such row"
        for _ in range(500):
            at = outline.currentIndex().row()
            if at == wanted:
                return
            self.press(Key.Key_Down if at < wanted else Key.Key_Up)
        raise AssertionError("the row is not reached")

    def open_section(self, word: str) -> None:
        """One of the lists above the stages, and Enter."""
        self.go_to_row(lambda row: row.sort == "section" and row.title == word)
        self.press(Key.Key_Return)

    # --- the card -------------------------------------------------------------------------

    def at(self) -> tuple[Any, ...]:
        """What has the keys: ("tasks", 1, "spec"), ("title",), ("add task",) …"""
        card, widget = self.frame.write.card, self.focus()
        if not card.isAncestorOf(widget):
            return ("elsewhere", widget.accessibleName())
        block, line = card.find_block(widget), card.find_line(widget)
        if isinstance(widget, WriteAction):
            return (widget.wish,)
        if block is not None:
            return (*block.path[-2:], line.field.key if line is not None else "text")
        if line is not None:
            return (line.field.key,)
        return ({"title of the step": "title"}.get(widget.accessibleName(), "text"),)

    def go_to(self, *wanted: Any, back: bool = False) -> None:
        """Tab, or Shift and Tab, until this has the keys."""
        for _ in range(400):
            if self.at() == wanted:
                return
            self.press(Key.Key_Backtab if back else Key.Key_Tab, SHIFT if back else PLAIN)
        raise AssertionError(f"{wanted} is not reached from {self.at()}")

    def fill(self, text: str) -> None:
        """Puts a text into the field that has the keys, whatever sort of field it is."""
        widget = self.focus()
        if isinstance(widget, WriteChoice):
            self.choose(text or "no")
        elif widget.toPlainText() != text:  # type: ignore[attr-defined]
            self.write(text)

    def choose(self, word: str) -> None:
        """Its first letter, as often as it takes."""
        for _ in range(20):
            widget = self.focus()
            assert isinstance(widget, WriteChoice), f"{word}: no choice has the keys"
            if widget.text == word:
                return
            self.type(word[0])
            QApplication.processEvents()
        raise AssertionError(f"{word} cannot be chosen")

    # --- the whole sheet ------------------------------------------------------------------

    def begin(self, sheet: Sheet) -> None:
        """N on the Shelf, a blank sheet, its title and who writes it."""
        self.wait(lambda: self.frame.shelf.row() is not None)
        self.press(Key.Key_N)
        self.wait(lambda: self.frame.shelf.board is not None)
        self.press(Key.Key_Return)
        for text in (sheet.title, sheet.author):
            assert self.frame.shelf.ask.is_open
            self.write(text)
            self.press(Key.Key_Return)
        self.wait(lambda: self.frame.place.name == "write")
        self.settle()

    def write_sheet(self, sheet: Sheet) -> None:
        """Everything, from a blank sheet on."""
        self.begin(sheet)
        self.write_head(sheet)
        self.write_tables(sheet)
        self.write_stages(sheet)
        self.draw_patterns(sheet)

    def write_head(self, sheet: Sheet) -> None:
        """Title, summary, machines …"""
        self.open_section("The sheet")
        while self.at()[0] != "elsewhere":
            held = getattr(sheet, self.at()[0])
            self.fill("\n".join(held) if isinstance(held, tuple) else str(held or ""))
            self.press(Key.Key_Tab)
        self.go_to_list()

    def add_cautions(self, cautions: tuple[Caution, ...]) -> None:
        """From the line that adds one on; Insert adds the next."""
        for index, caution in enumerate(cautions):
            if index:
                self.press(Key.Key_Insert)
            else:
                self.go_to("add caution")
                self.press(Key.Key_Return)
            for key in ("signal", "hazard", "consequence", "avoid", "acknowledge"):
                assert self.at() == ("cautions", index, key), self.at()
                held = getattr(caution, key)
                self.fill(("yes" if held else "no") if isinstance(held, bool) else held)
                if key != "acknowledge":
                    self.press(Key.Key_Tab)

    # --- tables ---------------------------------------------------------------------------

    def write_tables(self, sheet: Sheet) -> None:
        """The first row of each is typed, the others are pasted from a spreadsheet."""
        for word, key in (
            ("Cautions of the job", "cautions"),
            ("Specs", "specs"),
            ("Parts", "parts"),
            ("Supplies", "supplies"),
            ("Fluids", "fluids"),
            ("Tools", "tools"),
            ("Follow-ups", "follow_ups"),
        ):
            entries = getattr(sheet, key)
            if not entries:
                continue
            self.open_section(word)
            self.type_row(list_cells(entries[0]))
            if len(entries) > 1:
                rows = [list_cells(entry) for entry in entries[1:]]
                copied = io.StringIO()
                sheet_of_cells = csv.writer(copied, delimiter="\t", lineterminator="\n")
                sheet_of_cells.writerow(rows[0])
                sheet_of_cells.writerows(row.values() for row in rows)
                self.paste(copied.getvalue())
            self.go_to_list()

    def type_row(self, cells: dict[str, str]) -> None:
        """From cell to cell in the empty row; what holds nothing is passed by."""
        table = self.frame.write.table
        row = table.cell[0]
        while table.rows.text(row, 0):
            self.press(Key.Key_Down)
            row += 1
        for column in range(table.rows.columnCount()):
            assert table.cell == (row, column)
            word = table.rows.headerData(column, Qt.Orientation.Horizontal)
            text = cells.get(word, "")
            if text and text != table.rows.text(row, column):
                self.type(text)
                self.press(Key.Key_Return)
            if column + 1 < table.rows.columnCount():
                self.press(Key.Key_Right)

    # --- stages and steps -----------------------------------------------------------------

    def write_stages(self, sheet: Sheet) -> None:
        """The stages one after another, each with its steps."""
        for s, stage in enumerate(sheet.stages):
            if s:
                self.press(Key.Key_Insert, SHIFT)
            else:
                self.go_to_row(lambda row: row.sort == "stage")
                self.press(Key.Key_Return)
            self.write(stage.title)
            self.go_to_list()
            self.press(Key.Key_Down)
            for p, step in enumerate(stage.steps):
                self.press(Key.Key_Insert if p else Key.Key_Return)
                self.write_step(step)
                self.go_to_list()

    def write_step(self, step: Step) -> None:
        """The card from top to bottom, its pictures and cautions last."""
        assert self.at() == ("title",)
        self.fill(step.title)
        self.press(Key.Key_Tab)
        for index, task in enumerate(step.tasks):
            if index:
                self.go_to("add task")
                self.press(Key.Key_Return)
            self.write_task(index, task)
        self.go_to("text")
        self.fill(step.text)
        if step.photos:
            self.add_photos(step)
        if step.cautions:
            self.add_cautions(step.cautions)

    def write_task(self, index: int, task: Any) -> None:
        """Its text, its kind, and what the kind asks for."""
        assert self.at() == ("tasks", index, "text"), self.at()
        first, *others = task.text.split("\n")
        self.fill(first)
        for line in others:
            self.press(Key.Key_Return, SHIFT)
            self.type(line)
        for _ in range(20):
            self.press(Key.Key_Tab)
            where = self.at()
            if where[:2] != ("tasks", index):
                return
            self.fill(self._tell_field(task, where[2]))
        raise AssertionError("the task does not end")

    def _tell_field(self, task: Any, key: str) -> str:
        held = getattr(task, key)
        if key == "passes" and not isinstance(held, str):
            if isinstance(self.focus(), WriteChoice):
                return OWN
            return "\n".join(tell_pass(one) for one in held)
        return ("yes" if held else "no") if isinstance(held, bool) else str(held or "")

    # --- pictures -------------------------------------------------------------------------

    def add_photos(self, step: Step) -> None:
        """All of a step in one go, then the words and marks of each."""
        self.go_to("add photos")
        files = list(dict.fromkeys(photo.file for photo in step.photos))
        self._files = [str(self.pictures / file) for file in files]
        self.press(Key.Key_Return)
        self.wait(lambda: len(self._photo_blocks()) == len(files))
        for index, photo in enumerate(step.photos[1:]):
            # The same picture with other marks stands once more behind itself.
            if photo.file == step.photos[index].file:
                self.go_to("photos", index, "caption", back=True)
                self.press(Key.Key_D, CONTROL)
        self.go_to("photos", 0, "caption", back=True)
        for index, photo in enumerate(step.photos):
            self.go_to("photos", index, "caption")
            self.fill(photo.caption)
            self.press(Key.Key_Tab)
            self.fill(photo.alt)
            if photo.marks:
                self.press(Key.Key_M, CONTROL)
                self.wait(lambda: self.frame.write.board is not None)
                self.draw_marks(photo)
                self.press(Key.Key_Space)
                assert self.frame.write.board is None
                assert self.at()[:2] == ("photos", index)

    def _photo_blocks(self) -> list[QWidget]:
        card = self.frame.write.card
        found = {card.find_block(widget) for widget in card.list_entries()}
        return [block for block in found if block is not None and block.path[-2] == "photos"]

    def draw_marks(self, photo: Photo) -> None:
        """With the mouse, as near as hand and screen allow, then put right in numbers."""
        board = self.frame.write.board
        for mark in photo.marks:
            if board.words.words[chr(TOOLS[type(mark)])].in_use is False:
                self.press(TOOLS[type(mark)])
            self._draw(board.table, mark)
            if isinstance(mark, Text):
                self.type(mark.text)
                self.press(Key.Key_Return)
            if isinstance(mark, Number) and f"number {mark.number}," not in board.said_of.text():
                self.press(Key.Key_E)
                self.write(str(mark.number))
                self.press(Key.Key_Return)
            self.press(Key.Key_P)
            self.write(tell_numbers(mark))
            self.press(Key.Key_Return)
        self.press(Key.Key_Escape)

    def _draw(self, table: Any, mark: Any) -> None:
        """As near as it goes; what is too small to be drawn is drawn larger."""

        def find(spot: tuple[float, float]) -> QPoint:
            place = table.to_screen(spot).toPoint()
            x = min(max(place.x(), 1), table.width() - 2)
            return QPoint(x, min(max(place.y(), 1), table.height() - 2))

        match mark:
            case Arrow():
                self.drag(table, *stretch(find(mark.start), find(mark.to)))
            case Ring():
                x, y = mark.at
                self.drag(table, *stretch(find((x, y)), find((x + mark.radius, y))))
            case Freehand():
                self.drag(table, *(find(point) for point in mark.points))
            case _:
                self.click(table, find(mark.at))

    # --- patterns -------------------------------------------------------------------------

    def draw_patterns(self, sheet: Sheet) -> None:
        """Each on its board: places, what each fastener is, what the joint is, the order."""
        for number, pattern in enumerate(sheet.patterns, 1):
            self.open_section("Patterns")
            wish = "add pattern" if pattern.photo is None else "add pattern on photo"
            if pattern.photo is not None:
                self._files = [str(self.pictures / pattern.photo.file)]
            self.go_to(wish)
            self.press(Key.Key_Return)
            self.wait(lambda: self.frame.write.board is not None)
            if pattern.photo is not None:
                self.set_scale(pattern.photo.to_mm)
            if pattern.fasteners is not None:
                self.place_fasteners(pattern.fasteners)
                self.describe_fasteners(pattern.fasteners)
            self.describe_joint(pattern)
            if pattern.order is not None:
                self.press(Key.Key_T)
                self.write(" ".join(str(n) for n in pattern.order))
                self.press(Key.Key_Return)
            self.press(Key.Key_Space)
            assert self.frame.write.board is None, self.frame.write.board.message.text()
            assert f"{number}" in self._row_count("Patterns")
            self.go_to_list()

    def _row_count(self, word: str) -> str:
        rows = self.frame.write.outline.rows.rows
        return next(row.count for row in rows if row.title == word)

    def set_scale(self, to_mm: tuple[float, ...]) -> None:
        """Two places with the cross hair, a fifth of the picture apart, and how long that is."""
        self.press(Key.Key_S)
        self.press(Key.Key_Space)
        for _ in range(8):
            self.press(Key.Key_Right, SHIFT)
        self.press(Key.Key_Space)
        whole_mm = 2 * abs(to_mm[2])
        self.write(f"{whole_mm / 5:.12g}")
        self.press(Key.Key_Return)

    def place_fasteners(self, fasteners: tuple[Any, ...]) -> None:
        """The first two by typing, the others by a table."""
        for one in fasteners[:2]:
            self.press(Key.Key_P)
            self.write(f"{one.x_mm:.12g}, {one.y_mm:.12g}")
            self.press(Key.Key_Return)
        lines = [f"{one.number}\t{one.x_mm:.12g}\t{one.y_mm:.12g}" for one in fasteners[2:]]
        if [one.number for one in fasteners[:2]] != [1, 2][: len(fasteners)]:
            for index, one in enumerate(fasteners[:2]):
                self.choose_fastener(index + 1)
                self.fill_field("number", str(one.number))
        if lines:
            self.press(Key.Key_Escape)
            self.paste("number\tx_mm\ty_mm\n" + "\n".join(lines))
        self.leave_choice()

    def leave_choice(self) -> None:
        """Escape, until the joint as a whole is described."""
        for _ in range(3):
            if self.frame.write.board.who.text() == "The joint":
                return
            self.press(Key.Key_Escape)

    def choose_fastener(self, number: int) -> None:
        """Tab, until it is the one with this number."""
        board = self.frame.write.board
        for _ in range(600):
            if board.who.text().split(" ")[-1] == str(number):
                return
            self.press(Key.Key_Tab)
        raise AssertionError(f"{number} is not chosen")

    def fill_field(self, key: str, text: str) -> None:
        """One line of what is chosen, and back to the board."""
        board = self.frame.write.board
        self.press(Key.Key_E)
        for _ in range(40):
            if board.panel.in_use == key:
                break
            self.press(Key.Key_Tab)
        assert board.panel.in_use == key, key
        if isinstance(self.focus(), WriteChoice):
            self.choose(text)
        else:
            self.write(text)
            self.press(Key.Key_Return)
        self.press(Key.Key_Escape)

    def describe_fasteners(self, fasteners: tuple[Any, ...]) -> None:
        """What most of them are, said of all at once; then those that differ, one by one."""
        keys = ("thread", "length", "head", "drive", "grade", "condition", "use", "group", "note")
        for key in keys:
            told = [str(getattr(one, key) or "") for one in fasteners]
            most = max(dict.fromkeys(told), key=told.count)
            empty = {"use": "tighten", "head": "as the joint"}.get(key, "")
            if most != "" and most != empty:
                self.press(Key.Key_A, CONTROL)
                self.fill_field(key, most)
            for one, text in zip(fasteners, told, strict=True):
                if text != most:
                    self.leave_choice()
                    self.choose_fastener(one.number)
                    self.fill_field(key, text or empty)
            self.leave_choice()

    def describe_joint(self, pattern: Any) -> None:
        """Line by line from the title on."""
        board = self.frame.write.board
        self.press(Key.Key_E)
        for _ in range(len(board.panel.kinds)):
            key = board.panel.in_use
            text = tell_joint(pattern, key)
            if isinstance(self.focus(), WriteChoice):
                if text:
                    self.choose(text)
            elif text is not None and text != self.focus().text():  # type: ignore[attr-defined]
                self.write(text)
            self.press(Key.Key_Tab)
        self.press(Key.Key_Escape)

    # --- saving ---------------------------------------------------------------------------

    def save(self, folder: Path) -> None:
        """Ctrl S, and a folder where it is asked for."""
        self.frame.write.choose_folder = lambda title: str(folder)
        with self.qtbot.waitSignal(self.frame.write.writing.saved, timeout=PATIENCE_MS):
            self.press(Key.Key_S, CONTROL)


# --- what stands on the paper, in the words of the fields -----------------------------------------


def list_cells(entry: Any) -> dict[str, str]:
    """An entry of a table by the words over the columns."""
    words = {
        "quantity": "pieces",
        "single_use": "single-use",
        "text": "what",
        "acknowledge": "to be read",
    }
    cells = {}
    for key in type(entry).model_fields:
        held = getattr(entry, key)
        if key == "source":
            cells["source"], cells["source in words"] = held.kind.value, held.text
        elif key == "printed_also":
            cells["printed also"] = " | ".join(held)
        elif key == "signal":
            cells["signal word"] = held
        elif isinstance(held, bool):
            cells[words.get(key, key)] = "yes" if held else "no"
        else:
            word = words.get(key, key) if isinstance(held, int) or key == "text" else key
            cells[word] = "" if held is None else str(getattr(held, "value", held))
    return cells


def tell_pass(one: Any) -> str:
    """A pass on one line."""
    head = one.kind
    if one.share != 1:
        head += f" {round(one.share * 100, 6):g} %"
    parts = [f"{head} {one.turn}" if one.turn else head]
    for key in ("spec", "way", "after"):
        held = getattr(one, key)
        parts += [f"{key} {held}"] if held else []
    parts += ["yields"] if one.yields else []
    parts += [f"note {one.note}"] if one.note else []
    return "; ".join(parts)


def tell_joint(pattern: Any, key: str) -> str | None:
    """What the paper says of a joint; None where that is seen on the drawing."""
    match key:
        case "shape" if pattern.circle is not None:
            one = pattern.circle
            told = f"circle {one.count} {one.diameter_mm:.12g}"
            told += f" {one.start_deg:.12g}" if one.start_deg else ""
            return told + ("" if one.clockwise else " anticlockwise")
        case "shape" if pattern.rectangle is not None:
            one = pattern.rectangle
            return f"rectangle {one.width_mm:.12g} {one.height_mm:.12g} {one.along} {one.up}"
        case "shape" if pattern.grid is not None:
            one = pattern.grid
            return f"grid {one.columns} {one.rows} {one.across_mm:.12g} {one.down_mm:.12g}"
        case "shape" | "photo":
            return None
        case "outline":
            return "; ".join(f"{x:.12g} {y:.12g}" for x, y in pattern.outline)
        case "first" | "last":
            return "; ".join(getattr(pattern, key))
    return str(getattr(pattern, key) or "")


def stretch(one: QPoint, other: QPoint) -> tuple[QPoint, QPoint]:
    """Two places on the screen, the other one moved away where they are nearly one."""
    near = (other - one).manhattanLength() < 30
    return one, one + QPoint(40, 0) if near else other


def tell_numbers(mark: Any) -> str:
    """The places of a mark, in pixels of its picture."""
    spots = [getattr(mark, key) for key in ("start", "to", "at") if hasattr(mark, key)]
    spots = list(mark.points) if isinstance(mark, Freehand) else spots
    told = [f"{x:.12g}, {y:.12g}" for x, y in spots]
    return "; ".join([*told, f"{mark.radius:.12g}"] if isinstance(mark, Ring) else told)
