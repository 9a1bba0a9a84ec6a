"""The marks board: arrows, rings, numbers, words and lines by hand on a photo of a step."""

from __future__ import annotations

import math
from typing import Any

from PySide6.QtCore import QEvent, QObject, QSize, Qt, Signal
from PySide6.QtGui import (
    QImage,
    QKeyEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.errors import Trouble
from shopguide.job.model import Arrow, Freehand, Number, Photo, PictureMark, Ring, Text
from shopguide.window.board import Board
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.light_table import XY
from shopguide.window.mark_numbers import (
    LARGEST_PX,
    MOST_POINTS,
    ask_for_numbers,
    read_numbers,
    write_numbers,
)
from shopguide.window.marks_table import REACH_PX, MarksTable
from shopguide.window.palette import Look
from shopguide.window.tool_words import ToolWords

TOOLS = (("A", "arrow"), ("R", "ring"), ("N", "number"), ("T", "text"), ("F", "by hand"))
OTHERS = (("P", "place"), ("E", "write"), ("Del", "remove"), ("U", "undo"), ("Y", "redo"))
LEAST_RING_PX = 8.0
STEP_PX, FAR_PX = 2.0, 20.0
"""By how far an arrow key moves on the screen, and with Shift."""
MOST_SIGNS, MOST_NUMBERS = 200, 30_000
"""How long words on a photo may be, and the numbers of a mark."""
THIN_PX = 1.5
"""Points of a line by hand nearer than this on the screen are one."""


class MarksBoard(Board):
    """Left the photo, right what is chosen. A tool draws; without one, marks are moved.

    Keys: A arrow, R ring, N number, T text, F by hand; with a tool the arrow keys move the cross
    hair and Space sets a point; without one Tab chooses a mark and the arrow keys move it, + and −
    make a ring larger or smaller, P asks its place in numbers, E its words. Delete removes, Ctrl+Z
    undoes, Space keeps.
    """

    kept = Signal(object)
    """The Photo with its new marks."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.photo: Photo | None = None
        self.tool = ""
        self.told = ""
        self._before: tuple[PictureMark, ...] = ()
        self._done: list[tuple[str, tuple[PictureMark, ...]]] = []
        self._undone: list[tuple[str, tuple[PictureMark, ...]]] = []
        self._merge = ""
        self._start: XY | None = None
        self._trail: list[XY] = []
        self._grabbed: tuple[int, XY, PictureMark, str] | None = None
        self._at: XY | None = None
        self._asked = ""
        self._warned = False
        self.table = MarksTable(look, factor)
        self.table.setParent(self)
        self.table.presses, self.table.drags = self._press_at, self._drag_to
        self.table.releases = self._release_at
        self.words = ToolWords(look, factor, [*TOOLS, *OTHERS])
        self.words.setParent(self)
        self.words.taken.connect(self._take_word)
        self.title, self.said_of, self.message, self.wanted = (QLabel() for _ in range(4))
        self.entry = EntryLine(look, factor)
        self.entry.setMaxLength(MOST_NUMBERS)
        self.entry.setAccessibleName("Words on the photo")
        self.entry.installEventFilter(self)
        self._side = QWidget(self)
        column = QVBoxLayout(self._side)
        column.setContentsMargins(0, 0, 0, 0)
        for label in (self.title, self.said_of, self.wanted):
            column.addWidget(label)
        column.addWidget(self.entry)
        column.addWidget(self.message)
        column.addStretch(1)
        for label in (self.title, self.said_of, self.wanted, self.message):
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
        self._column = column
        self._leave_entry()
        self.set_look(look, factor)

    # --- showing --------------------------------------------------------------------------

    def show_photo(self, photo: Photo, image: QImage, full_size: QSize) -> None:
        """A photo with its marks; image: at any size, full_size: in the marks' own pixels."""
        self.photo, self._before = photo, photo.marks
        self._done, self._undone, self._merge = [], [], ""
        self.tool, self.told, self._warned = "", "", False
        self.table.marks, self.table.drawn, self.table.chosen = photo.marks, None, None
        self.table.show_picture(image, full_size)
        self.table.setAccessibleName(photo.alt or photo.caption or photo.file)
        self._leave_entry()
        self._say()

    @property
    def marks(self) -> tuple[PictureMark, ...]:
        """The marks as they are now."""
        return self.table.marks

    def _say(self, told: str | None = None) -> None:
        if told is not None:
            self.told = told
        chosen = self.table.chosen
        self.words.use(self.tool)
        words = dict(TOOLS)
        if self.photo is not None:
            self.title.setText(self.photo.caption or self.photo.file)
        count = len(self.marks)
        lines = ["No marks yet" if not count else f"{count} mark{'s' * (count != 1)}"]
        if chosen is not None:
            lines.append(f"Chosen: {tell_mark(self.marks[chosen])}, {chosen + 1} of {count}")
        elif count and not self.tool:
            lines.append("Tab or a click chooses one")
        self.said_of.setText("\n".join(lines))
        self.message.setText(self.told)
        self.after = f"Ctrl+Z takes back: {self._done[-1][0]}" if self._done else ""
        if not self.entry.isHidden():
            does = {"place": "Enter puts the mark there", "change": "Enter writes it anew"}
            self.does = does.get(self._asked, "Enter puts the words on the photo")
            self.keys = "Escape leaves it"
        elif self.tool:
            what = {
                "A": "where the arrow begins"
                if self._start is None
                else "what the arrow points at",
                "R": "the middle of the ring" if self._start is None else "how large the ring is",
                "N": f"where number {self._next_number()} goes",
                "T": "where the words go",
                "F": "where the line begins" if self._start is None else "where it goes on",
            }[self.tool]
            self.does = f"Space sets {what}"
            self.keys = "arrow keys move the cross hair   Escape leaves the " + words[self.tool]
        else:
            self.does = (
                "Space keeps the marks" if self.marks != self._before else ("Space closes this")
            )
            self.keys = "Tab chooses   arrow keys move   P place in numbers   Escape closes"
        self.said.emit()
        self.table.update()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        self.table.set_look(look, factor)
        self.words.set_look(look, factor)
        self.entry.set_look(look, factor)
        self.title.setFont(font_px(SIZES_PX["instruction"] * factor, "bold"))
        for label in (self.said_of, self.wanted, self.message):
            label.setFont(font_px(SIZES_PX["text"] * factor))
        palette = self.said_of.palette()
        palette.setColor(self.said_of.foregroundRole(), look.color("soft"))
        self.said_of.setPalette(palette)
        self.entry.setFont(font_px(22 * factor))
        self.entry.setFixedHeight(round(44 * factor))
        self._column.setSpacing(round(12 * factor))
        self._place_parts()

    def _place_parts(self) -> None:
        f = self._factor
        pad, side = round(24 * f), round(min(340 * f, self.width() * 0.3))
        wide = max(10, self.width() - side - 3 * pad)
        high = self.words.height_for(wide)
        top, foot = round(8 * f), round(8 * f)
        self.words.setGeometry(pad, self.height() - high - foot, wide, high)
        self.table.setGeometry(pad, top, wide, max(10, self.height() - high - foot - 2 * top))
        self._side.setGeometry(
            self.width() - side - pad, top, side, max(10, self.height() - top - foot)
        )

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_parts()

    # --- changing -------------------------------------------------------------------------

    def _apply(self, what: str, marks: tuple[PictureMark, ...], merge: str = "") -> None:
        """Other marks. merge: changes with the same word after one another are undone as one."""
        if marks == self.marks:
            return
        if not (merge and merge == self._merge):
            self._done.append((what, self.marks))
        self._merge, self._undone, self._warned = merge, [], False
        self.table.marks = marks
        self.told = ""

    def undo(self) -> None:
        """Takes the last change back."""
        self._swap(self._done, self._undone, "Taken back")

    def redo(self) -> None:
        """Does again what was taken back."""
        self._swap(self._undone, self._done, "Done again")

    def _swap(self, source: list, onto: list, word: str) -> None:
        self._drop_drawing()
        if not source:
            self._say("There is nothing to take back." if onto is self._undone else
                      "There is nothing to do again.")  # fmt: skip
            return
        what, marks = source.pop()
        onto.append((what, self.marks))
        self.table.marks, self._merge = marks, ""
        if self.table.chosen is not None and self.table.chosen >= len(marks):
            self.table.chosen = None
        self._say(f"{word}: {what}.")

    def _add(self, mark: PictureMark) -> None:
        self._apply(f"{tell_mark(mark)}", (*self.marks, mark))
        self.table.chosen = len(self.marks) - 1
        self._drop_drawing()
        self._say()

    def _replace(self, index: int, mark: PictureMark, what: str, merge: str = "") -> None:
        marks = list(self.marks)
        marks[index] = mark
        self._apply(what, tuple(marks), merge)

    def remove(self) -> None:
        """Removes the chosen mark."""
        chosen = self.table.chosen
        if chosen is None:
            self._say("No mark is chosen: Tab or a click chooses one.")
            return
        self._apply(f"removal of {tell_mark(self.marks[chosen])}",
                    self.marks[:chosen] + self.marks[chosen + 1 :])  # fmt: skip
        self.table.chosen = None
        self._say("Removed.")

    def _next_number(self) -> int:
        return max((m.number for m in self.marks if isinstance(m, Number)), default=0) % 9999 + 1

    # --- drawing --------------------------------------------------------------------------

    def _drop_drawing(self) -> None:
        self._start, self._trail, self._grabbed, self.table.drawn = None, [], None, None

    def _set_tool(self, tool: str) -> None:
        self._drop_drawing()
        self.tool = "" if tool == self.tool else tool
        self.table.chosen = None if self.tool else self.table.chosen
        if self.tool and self.table.pen is None:
            self.table.move_pen(0, 0)
        if not self.tool:
            self.table.pen = None
        self._say("")

    def _make(self, start: XY, to: XY) -> PictureMark | None:
        """What the tool draws from one place to another; None where it is too small."""
        start, to = _clip(start), _clip(to)
        away = math.dist(start, to) * self.table.scale
        if self.tool == "A":
            return Arrow(start=start, to=to) if away > REACH_PX else None
        if self.tool == "R":
            return Ring(at=start, radius=math.dist(start, to)) if away > LEAST_RING_PX else None
        return Freehand(points=tuple(self._trail)) if len(self._trail) > 1 else None

    def _press_at(self, point: XY) -> None:
        self.setFocus()
        if not self.entry.isHidden():
            self._leave_entry()
        if self.tool in ("A", "R") and self._start is not None:
            return  # the second of two clicks
        if self.tool in ("A", "R", "F"):
            self._start, self._trail = point, [_clip(point)]
        elif not self.tool:
            index = self.table.mark_at(point)
            self.table.chosen = index
            if index is not None:
                mark = self.marks[index]
                self._grabbed = (index, point, mark, self._find_handle(mark, point))
        self._say("")

    def _find_handle(self, mark: PictureMark, point: XY) -> str:
        """Which part of a mark is taken hold of: an arrow's end, a ring's line, or all of it."""
        reach = 1.5 * REACH_PX * self._factor / self.table.scale
        if isinstance(mark, Arrow):
            for name in ("to", "start"):
                if math.dist(getattr(mark, name), point) <= reach:
                    return name
        return "all"

    def _drag_to(self, point: XY) -> None:
        if self._grabbed is not None:
            index, start, mark, handle = self._grabbed
            if handle == "all":
                moved = move_mark(mark, point[0] - start[0], point[1] - start[1])
            else:
                moved = mark.model_copy(update={handle: _clip(point)})
            self._replace(index, moved, f"move of {tell_mark(mark)}", f"drag {id(mark)}")
            self.table.update()
        elif self._start is not None:
            if self.tool == "F":
                self._go_on(point)
            self.table.drawn = self._make(self._start, point)
            self.table.update()

    def _go_on(self, point: XY) -> None:
        point = _clip(point)
        near = math.dist(self._trail[-1], point) * self.table.scale < THIN_PX
        if not near and len(self._trail) < MOST_POINTS:
            self._trail.append(point)

    def _release_at(self, point: XY) -> None:
        self._merge = ""
        if self._grabbed is not None:
            self._grabbed = None
            self._say()
        elif self.tool in ("N", "T"):
            self._set_point(point)
        elif self._start is not None and (self.tool == "F" or self.table.dragging):
            mark = self._make(self._start, point)
            if mark is not None:
                self._add(mark)
            else:
                self._drop_drawing()
                self._say("That was too short: draw with the button held down.")
        elif self._start is not None and self._start != point:
            self._set_point(point)

    def _set_point(self, point: XY) -> None:
        """A click, or Space on the cross hair, with a tool."""
        point = _clip(point)
        if self.tool == "N":
            self._add(Number(at=point, number=self._next_number()))
        elif self.tool == "T":
            self._at = point
            self._open_entry("Words on the photo")
        elif self._start is None:
            self._start, self._trail = point, [point]
            self._say()
        elif self.tool == "F":
            self._go_on(point)
            self.table.drawn = self._make(self._start, point)
            self._say("Enter ends the line.")
        else:
            mark = self._make(self._start, point)
            if mark is None:
                self._say("That is too small: move the cross hair farther.")
            else:
                self._add(mark)

    # --- words ----------------------------------------------------------------------------

    def _open_entry(self, wanted: str, text: str = "", asked: str = "") -> None:
        """asked: "change" or "place" of the mark that is chosen; "" where it is a new one."""
        self._asked = asked
        self.entry.setMaxLength(MOST_NUMBERS if asked == "place" else MOST_SIGNS)
        self.entry.setAccessibleName(wanted)
        self.wanted.setText(wanted)
        self.wanted.show()
        self.entry.setText(text)
        self.entry.show()
        self.entry.setFocus()
        self.entry.selectAll()
        self._say()

    def _leave_entry(self) -> None:
        # The focus goes first: hiding the line that has it would press Tab.
        self.setFocus()
        self.entry.hide()
        self.wanted.hide()

    def _take_entry(self) -> None:
        text = self.entry.text().strip()
        self._leave_entry()
        if not text:
            self._say("Nothing was written.")
            return
        chosen = self.table.chosen
        try:
            if not self._asked:
                self._add(Text(at=self._at or (0.0, 0.0), text=text))
            elif self._asked == "place" and chosen is not None:
                if text != write_numbers(self.marks[chosen]):
                    placed = read_numbers(self.marks[chosen], text)
                    self._replace(chosen, placed, f"place of {tell_mark(placed)}")
                self._say("")
            elif chosen is not None and isinstance(self.marks[chosen], Number):
                number = Number(at=self.marks[chosen].at, number=text)  # type: ignore[union-attr]
                self._replace(chosen, number, "change of a number")
                self._say("")
            elif chosen is not None and isinstance(self.marks[chosen], Text):
                self._replace(chosen, Text(at=self.marks[chosen].at, text=text), "other words")
                self._say("")
        except Trouble as trouble:
            self._say(str(trouble))
        except ValueError:
            self._say("That cannot stand there: write a whole number up to 9999, or plain words.")

    def _edit(self) -> None:
        chosen = self.table.chosen
        mark = self.marks[chosen] if chosen is not None else None
        if isinstance(mark, Text):
            self._open_entry("Words on the photo", mark.text, "change")
        elif isinstance(mark, Number):
            self._open_entry("Number on the photo", str(mark.number), "change")
        else:
            self._say("Choose a number or words to change them.")

    def _ask_place(self) -> None:
        chosen = self.table.chosen
        if chosen is None:
            self._say("No mark is chosen: Tab or a click chooses one.")
            return
        mark = self.marks[chosen]
        self._open_entry(ask_for_numbers(mark), write_numbers(mark), "place")

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if watched is self.entry and event.type() == QEvent.Type.KeyPress:
            assert isinstance(event, QKeyEvent)
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self._take_entry()
                return True
            if event.key() == Qt.Key.Key_Escape:
                self._leave_entry()
                self._say("")
                return True
        return super().eventFilter(watched, event)

    # --- keys -----------------------------------------------------------------------------

    def _take_word(self, key: str) -> None:
        self.setFocus()
        if key == "P":
            self._ask_place()
        elif key == "E":
            self._edit()
        elif key == "Del":
            self.remove()
        elif key == "U":
            self.undo()
        elif key == "Y":
            self.redo()
        else:
            self._set_tool(key)

    def press(self) -> None:
        if not self.entry.isHidden():
            self._take_entry()
        elif self.tool:
            pen = self.table.pen
            if pen is None:
                self.table.move_pen(0, 0)
                pen = self.table.pen
            assert pen is not None
            self._set_point((pen.x(), pen.y()))
        else:
            if self.photo is not None and self.marks != self._before:
                self.kept.emit(self.photo.model_copy(update={"marks": self.marks}))
            self.close_board()

    def close_board(self) -> None:
        self._drop_drawing()
        self.tool = ""
        self._leave_entry()
        self.table.put_away()
        super().close_board()

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab chooses marks instead of leaving the board."""
        if not self.entry.isHidden():
            return True
        if self.marks and not self.tool:
            chosen = self.table.chosen
            step = 1 if forward else -1
            begin = -1 if forward else 0
            self.table.chosen = ((begin if chosen is None else chosen) + step) % len(self.marks)
            self._merge = ""
            self._say("")
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() != Qt.Key.Key_Escape:
            if self.tool == "F" and self._start is not None and event.key() in (
                Qt.Key.Key_Return, Qt.Key.Key_Enter
            ):  # fmt: skip
                mark = self._make(self._start, self._start)
                if mark is not None:
                    self._add(mark)
                return
            super().keyPressEvent(event)
        elif self._start is not None:
            self._drop_drawing()
            self._say("")
        elif self.tool:
            self._set_tool("")
        elif self.table.chosen is not None:
            self.table.chosen = None
            self._say("")
        elif self.marks != self._before and not self._warned:
            self._warned = True
            self._say("Escape again leaves the photo as it was. Space keeps the marks.")
        else:
            self.close_board()

    def take_key(self, event: QKeyEvent) -> bool:
        key, more = event.key(), event.modifiers()
        control = bool(more & Qt.KeyboardModifier.ControlModifier)
        shift = bool(more & Qt.KeyboardModifier.ShiftModifier)
        if key == Qt.Key.Key_Z and control:
            self.redo() if shift else self.undo()
        elif key == Qt.Key.Key_Y:
            self.redo()
        elif key == Qt.Key.Key_U:
            self.undo()
        elif key in _ARROWS:
            self._nudge(*_ARROWS[key], FAR_PX if shift else STEP_PX)
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove()
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal, Qt.Key.Key_Minus):
            self._grow(1 / 1.1 if key == Qt.Key.Key_Minus else 1.1)
        elif key == Qt.Key.Key_0:
            self.table.fit()
        elif key == Qt.Key.Key_E:
            self._edit()
        elif key == Qt.Key.Key_P and not control:
            self._ask_place()
        elif event.text().upper() in dict(TOOLS) and not control:
            self._set_tool(event.text().upper())
        else:
            return False
        return True

    def _nudge(self, dx: int, dy: int, far_px: float) -> None:
        step = far_px * self._factor / self.table.scale
        chosen = self.table.chosen
        if self.tool or chosen is None:
            self.table.move_pen(dx * step, dy * step)
            pen = self.table.pen
            if self._start is not None and pen is not None and self.tool in ("A", "R"):
                self.table.drawn = self._make(self._start, (pen.x(), pen.y()))
            return
        mark = self.marks[chosen]
        self._replace(chosen, move_mark(mark, dx * step, dy * step),
                      f"move of {tell_mark(mark)}", f"nudge {chosen}")  # fmt: skip
        self._say("")

    def _grow(self, factor: float) -> None:
        chosen = self.table.chosen
        mark = self.marks[chosen] if chosen is not None else None
        if isinstance(mark, Ring):
            radius = min(max(mark.radius * factor, 1.0), LARGEST_PX)
            self._replace(chosen, Ring(at=mark.at, radius=radius), "size of a ring",
                          f"grow {chosen}")  # fmt: skip
            self._say("")
        elif chosen is None:
            self.table.zoom(factor)


_ARROWS: dict[int, tuple[int, int]] = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


def tell_mark(mark: PictureMark) -> str:
    """A mark in words."""
    match mark:
        case Arrow():
            return "an arrow"
        case Ring():
            return "a ring"
        case Number():
            return f"number {mark.number}"
        case Freehand():
            return "a line by hand"
        case _:
            text = mark.text if len(mark.text) <= 24 else mark.text[:23] + "…"
            return f"“{text}”"


def move_mark(mark: PictureMark, dx: float, dy: float) -> PictureMark:
    """The mark elsewhere, by pixels of the picture."""

    def move(spot: XY) -> XY:
        return _clip((spot[0] + dx, spot[1] + dy))

    changed: dict[str, Any] = {}
    for key in ("start", "to", "at"):
        if hasattr(mark, key):
            changed[key] = move(getattr(mark, key))
    if isinstance(mark, Freehand):
        changed["points"] = tuple(move(p) for p in mark.points)
    return mark.model_copy(update=changed)


def _clip(spot: XY) -> XY:
    """Tenths of a pixel, and never beyond what the sheet takes."""
    x, y = (round(max(-LARGEST_PX, min(LARGEST_PX, v)), 1) + 0.0 for v in spot)
    return (x, y)
