"""The pattern board: place the fasteners of a joint on a photo or a blank board, and describe them.

What geometry and model make of it is in bolts/placing.py, homography.py and draft.py; here are
the tools, the keys, and what is said.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace

from PySide6.QtCore import QEvent, QObject, QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QGuiApplication, QImage, QKeyEvent, QMouseEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.bolts import draft as drafting
from shopguide.bolts.draft import Draft
from shopguide.bolts.homography import (
    Mapping,
    invert,
    map_point,
    set_scale,
    size_of_pixel_mm,
    straighten,
)
from shopguide.bolts.order import Order, find_order, read_order
from shopguide.bolts.particulars import change_fasteners, change_joint, tell_fastener, tell_joint
from shopguide.bolts.pattern import Pattern
from shopguide.bolts.placing import (
    align,
    distribute,
    find_axis,
    find_middle,
    find_on_outline,
    mirror,
    place_along,
    read_circle,
    read_grid,
    read_length,
    read_numbers,
    read_place,
    read_rectangle,
    read_rectangle_size,
    snap,
    spread_along,
    walk,
)
from shopguide.bolts.positions import read_pasted
from shopguide.errors import Trouble
from shopguide.window.board import Board
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.light_table import XY
from shopguide.window.marking_out import Doing, MarkingOut
from shopguide.window.palette import Look
from shopguide.window.pattern_fields import (
    AS_JOINT,
    CHOSEN,
    JOINT,
    NO_PHOTO,
    SEVERAL,
    FieldChoice,
    PatternFields,
)
from shopguide.window.tool_words import NEW_ROW, ToolWords

TOOLS = (
    ("P", "place"), ("C", "circle"), ("R", "rectangle"), ("G", "grid"), ("V", "paste"),
    ("O", "outline"), ("D", "spread"), NEW_ROW,
    ("L", "in line"), ("M", "mirror"), ("N", "renumber"), ("W", "walk round"), ("T", "order"),
    ("Y", "computed"), ("A", "play"), NEW_ROW,
    ("B", "photo"), ("S", "scale"), ("K", "straighten"), ("X", "check"), ("J", "choose"),
    ("E", "describe"), ("Q", "snap off"), ("Del", "remove"), ("U", "undo"),
)  # fmt: skip
SNAP_PX = 8.0
STEP_MM, FAR_MM, FINE_MM = 1.0, 10.0, 0.1
PLAY_MS = 350
MOST_GROUNDS = 6
"""So many photos are kept at hand while one looks for the right one."""
ORDER_MS = 60
FEW = 60
"""So many fasteners have their order computed at each change; more wait a moment for it."""


@dataclass(frozen=True, slots=True)
class Question:
    """Something asked for in the entry. read: raises Trouble while the text is not good yet."""

    prompt: str
    read: Callable[[str], object]
    take: Callable[[str], None]


class PatternBoard(Board):
    """Left the photo or blank board, right what is chosen, below the tools.

    A click places a fastener, a drag moves it, a drag on the ground chooses. Keys: Tab chooses the
    next, arrows move by 1 mm (Shift 10, Ctrl 0.1) or, with nothing chosen, move the cross hair
    where Insert places one; the tools by their letters; Ctrl+Z and Ctrl+Shift+Z; Space keeps.
    """

    kept = Signal(object)
    """The new Pattern."""
    photo_wanted = Signal(str)
    """A photo of the sheet is to be laid under it: `lay_photo` takes it."""
    file_wanted = Signal()
    """A photo is to be taken from a file."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.draft = Draft()
        self._grounds: dict[str, tuple[QImage | None, QSize]] = {}
        self._mappings: dict[str, Mapping] = {}
        self._ground = ""
        self._photo_names: tuple[str, ...] = ()
        self._others: frozenset[str] = frozenset()
        self._described: frozenset[int] = frozenset()
        self.chosen: frozenset[int] = frozenset()
        self.mode = ""
        self.told = self._fault = ""
        self.snaps = True
        self._opened = self.draft
        self._done: list[tuple[str, Draft]] = []
        self._undone: list[tuple[str, Draft]] = []
        self._merge = ""
        self._warned = False
        self._spots: tuple[XY, ...] = ()
        self._walked: tuple[int, ...] = ()
        self._grabbed: tuple[XY, dict[int, XY]] | None = None
        self._corner: tuple[int, Draft] | None = None
        self._rubber: tuple[XY, XY] | None = None
        self._question: Question | None = None
        self._played: int | None = None
        self._order: tuple[Draft, Order | None, str] | None = None
        self.table = MarkingOut(look, factor)
        self.table.setParent(self)
        self.table.presses, self.table.drags = self._press_at, self._drag_to
        self.table.releases = self._release_at
        self.words = ToolWords(look, factor, TOOLS)
        self.words.setParent(self)
        self.words.taken.connect(self._take_word)
        self.who, self.state = QLabel(), QLabel()
        self.order_words, self.prompt, self.message = QLabel(), QLabel(), QLabel()
        self.entry = EntryLine(look, factor)
        self.entry.installEventFilter(self)
        self.entry.textChanged.connect(lambda _: self._look_at())
        self.joint_fields = PatternFields(look, factor, JOINT)
        self.chosen_fields = PatternFields(look, factor, CHOSEN)
        for panel in (self.joint_fields, self.chosen_fields):
            panel.takes, panel.came, panel.leaves = self._take_field, self._hint, self._leave_field
        self._side = QWidget(self)
        column_of = QVBoxLayout(self._side)
        column_of.setContentsMargins(0, 0, 0, 0)
        column_of.addWidget(self.who)
        column_of.addWidget(self.state)
        column_of.addWidget(self.joint_fields)
        column_of.addWidget(self.chosen_fields)
        column_of.addWidget(self.prompt)
        column_of.addWidget(self.entry)
        column_of.addStretch(1)
        column_of.addWidget(self.message)
        self._column = column_of
        self.order_words.setParent(self)
        for label in self._labels():
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(label not in (self.who, self.order_words))
        self.chosen_fields.hide()
        self.entry.hide()
        self.prompt.hide()
        self._clock, self._later = QTimer(self), QTimer(self)
        self._clock.setInterval(PLAY_MS)
        self._clock.timeout.connect(self._play_on)
        self._later.setSingleShot(True)
        self._later.setInterval(ORDER_MS)
        self._later.timeout.connect(self._take_order)
        self.set_look(look, factor)

    def _labels(self) -> tuple[QLabel, ...]:
        return (self.who, self.state, self.order_words, self.prompt, self.message)

    @property
    def panel(self) -> PatternFields:
        """The lines at the right: of the joint, or of those that are chosen."""
        return self.chosen_fields if self.chosen else self.joint_fields

    @property
    def fields(self) -> dict[str, EntryLine | FieldChoice]:
        """The lines of the panel by their keys."""
        return self.panel.fields

    @property
    def _picture_size(self) -> QSize:
        return self._grounds.get(self.draft.file, (None, QSize()))[1]

    # --- showing --------------------------------------------------------------------------

    def show_pattern(
        self,
        pattern: Pattern | None,
        picture: QImage | None,
        picture_size: QSize,
        name: str,
        photos: Sequence[str] = (),
        others: Collection[str] = (),
    ) -> None:
        """A pattern, or None for a new one, on a photo, or with None on a blank board.

        picture: at any size; picture_size: its full size in pixels; name: of the photo in the
        sheet.  photos: the names of all photos of the sheet.  others: names of its other patterns.
        """
        file = name if picture is not None and not picture.isNull() else ""
        self.draft = drafting.open_draft(
            pattern, file, float(picture_size.width()), float(picture_size.height())
        )
        self._others = frozenset(others)
        if pattern is None and self.draft.details["name"] in self._others:
            free = next(n for n in range(2, 10_000) if f"pattern {n}" not in self._others)
            details = {**self.draft.details, "name": f"pattern {free}"}
            self.draft = replace(self.draft, details=details)
        self._opened = self.draft
        self._grounds = {file: (picture, picture_size)} if file else {}
        self._mappings, self._ground = {}, file
        held = drafting.find_photo(self.draft)
        self._photo_names = tuple(dict.fromkeys([*photos, *([held] if held else [])]))
        self.joint_fields.set_choices("photo", (NO_PHOTO, *self._photo_names))
        for panel in (self.joint_fields, self.chosen_fields):
            panel.forget_refused()
        self.chosen, self._done, self._undone, self._merge = frozenset(), [], [], ""
        self._played, self._order, self._warned = None, None, False
        self._leave_mode()
        self.table.show_board(self.draft, picture if file else None, picture_size)
        self._show("" if self.draft.fasteners else "Click where the first one sits.")

    def lay_photo(self, picture: QImage, size: QSize, name: str) -> None:
        """Lays a photo of the sheet under what is drawn; one that lay there before comes back."""
        self._grounds.pop(name, None)
        while len(self._grounds) >= MOST_GROUNDS:
            del self._grounds[next(iter(self._grounds))]
        self._grounds[name] = (picture, size)
        if name not in self._photo_names:
            self._photo_names = (*self._photo_names, name)
            self.joint_fields.set_choices("photo", (NO_PHOTO, *self._photo_names))
        if self.draft.file == name:
            self._ground = ""
            self._show()
            return
        mapping = self._mappings.get(name)
        draft = drafting.lay_photo(
            self.draft, name, float(size.width()), float(size.height()), mapping
        )
        self._apply("the photo", draft, merge="photo")

    def _take_photo(self, name: str) -> None:
        """A photo behind it, none, or with "" one from a file."""
        if self.draft.file and self.draft.scaled:
            self._mappings[self.draft.file] = self.draft.to_mm
        if name == NO_PHOTO:
            self._apply("the photo", drafting.take_photo_away(self.draft), merge="photo")
        elif name in self._grounds and self._grounds[name][0] is not None:
            self.lay_photo(*self._grounds[name], name)  # type: ignore[arg-type]
        else:
            self.photo_wanted.emit(name)

    @property
    def order(self) -> Order | None:
        """The order of the draft as it is now; None where it is no pattern yet."""
        return self._find_order()[0]

    def _find_order(self) -> tuple[Order | None, str]:
        """The order, and what keeps the draft from being a pattern."""
        if self._order is None or self._order[0] is not self.draft:
            try:
                found: Order | None = find_order(drafting.make_pattern(self.draft))
                fault = ""
            except Trouble as trouble:
                found, fault = None, str(trouble)
            self._order = (self.draft, found, fault)
        return self._order[1], self._order[2]

    def _take_order(self) -> None:
        self._find_order()
        self._show()

    def _show(self, told: str | None = None) -> None:
        if told is not None:
            self.told = told
        few = len(self.draft.fasteners) <= FEW
        known = self._order is not None and self._order[0] is self.draft
        if few or known:
            order, fault = self._find_order()
        else:
            order, fault = (self._order[1] if self._order else None), ""
            self._later.start()
        doing = Doing(
            spots=self._spots,
            joined={"outline": "open", "corners": "closed" if len(self._spots) == 4 else "open",
                    "scale": "open", "check": "open"}.get(self.mode, ""),
            played=self._played,
            rubber=self._rubber,
            corners=self.mode == "outline" and not self._spots,
            walked=self._walked,
        )  # fmt: skip
        chosen = frozenset(k for k in self.chosen if k < len(self.draft.fasteners))
        self.chosen = chosen
        if self.draft.file != self._ground:
            self._lay_ground()
        self.table.show_draft(self.draft, chosen, order.numbers if order else (), doing)
        self._write_words(order, fault)
        self._write_fields()
        self._say()

    def _lay_ground(self) -> None:
        """What lies under the draft is another photo than before, or none."""
        self._ground = self.draft.file
        picture, size = self._grounds.get(self._ground, (None, QSize(1600, 1200)))
        self.table.show_board(self.draft, picture, size)
        if self._ground and picture is None:
            self.photo_wanted.emit(self._ground)

    def _write_words(self, order: Order | None, fault: str) -> None:
        draft, count = self.draft, len(self.draft.fasteners)
        title = draft.details.get("title", "Pattern")
        word = draft.word[:1].upper() + draft.word[1:]
        if len(self.chosen) == 1:
            self.who.setText(f"{word} {draft.fasteners[min(self.chosen)].number}")
        else:
            self.who.setText(
                f"{draft.count(len(self.chosen))} chosen" if self.chosen else "The joint"
            )
        parts = [title if self.chosen and not draft.file else draft.count(count)]
        if draft.file and draft.scaled:
            middle = (self._picture_size.width() / 2, self._picture_size.height() / 2)
            parts.append(f"{size_of_pixel_mm(draft.to_mm, middle):.2g} mm a pixel")
        elif draft.file and not draft.scaled:
            parts.append("no scale yet: S or K")
        self.state.setText(" · ".join(parts))
        if order is not None and order.numbers:
            said = order.tell()
            numbers = " ".join(str(n) for n in order.numbers[:20])
            more = " …" if len(order.numbers) > 20 else ""
            if self._played is not None and self._played <= len(order.numbers):
                numbers, more = f"place {self._played} of {len(order.numbers)}", ""
            self.order_words.setText(f"{said[:1].upper()}{said[1:]}: {numbers}{more}")
        elif order is not None:
            self.order_words.setText("Nothing here is to be tightened.")
        else:
            self.order_words.setText("No pattern yet." if count else "")
        self._fault = fault if count else ""
        self._write_message()
        self.table.setAccessibleName(f"{title}, {draft.count(count)}")
        self.table.setAccessibleDescription(self.who.text())

    def _write_message(self) -> None:
        """What was told last, and what keeps the draft from being a pattern."""
        self.message.setText("\n".join(dict.fromkeys(t for t in (self.told, self._fault) if t)))

    def _hint(self, hint: str) -> None:
        """What a line that came into use asks for; what could not be taken is told before it."""
        if not self.panel.refused:
            self.told = hint
            self._write_message()
        self._say()

    def _write_fields(self) -> None:
        if self._described != self.chosen:
            self._described = self.chosen
            self.chosen_fields.forget_refused()
        if not self.chosen:
            texts = {key: tell_joint(self.draft, key) for key in self.joint_fields.kinds}
            texts["photo"] = texts["photo"] or NO_PHOTO
            self.joint_fields.show_texts(texts, {})
            return
        chosen = [self.draft.fasteners[k] for k in sorted(self.chosen)]
        texts, behind = {}, {}
        for key in self.chosen_fields.kinds:
            values = {tell_fastener(one, key) for one in chosen}
            texts[key] = values.pop() if len(values) == 1 else ""
            behind[key] = SEVERAL if values else str(self.draft.details.get(key) or "")
        if not texts["head"] and behind["head"] != SEVERAL:
            texts["head"] = AS_JOINT
        alone = len(chosen) == 1
        self.chosen_fields.show_texts(texts, behind, () if alone else ("number", "place"))

    def _say(self) -> None:
        # While a tool asks for something there is nothing to describe.
        busy = bool(self.mode) or self._question is not None
        panel = self.panel
        for other in (self.joint_fields, self.chosen_fields):
            other.setVisible(other is panel and not busy)
        using = {"outline": "O", "scale": "S", "corners": "K", "check": "X", "walk": "W"}
        self.words.use(using.get(self.mode, ""))
        self.words.words["Q"].say("snap off" if self.snaps else "snap on")
        self.words.words["A"].say("stop" if self._clock.isActive() else "play")
        self.after = f"U takes back: {self._done[-1][0]}" if self._done else ""
        if self._question is not None:
            self.does, self.keys = "Enter takes what is written", "Escape leaves it"
        elif panel.in_use:
            self.does = "Enter takes it and goes on"
            if panel.kinds[panel.in_use].choices:
                self.does = "The arrow keys choose, Enter goes on"
            self.keys = "Tab goes on   Escape goes back to the board"
        elif self.mode:
            self.does, self.keys = self._tell_mode(), "arrow keys move the cross hair"
            self.keys += "   Escape leaves"
        else:
            same = self.draft == self._opened
            self.does = "Space closes this" if same else "Space keeps the pattern"
            self.keys = "Tab chooses   arrow keys move   Insert places   Escape closes"
        self.said.emit()

    def _tell_mode(self) -> str:
        count = len(self._spots)
        if self.mode == "corners":
            names = ("first", "second", "third", "fourth")
            return f"Space sets the {names[min(count, 3)]} corner of a rectangle you know"
        if self.mode in ("scale", "check"):
            return f"Space sets {'one end' if not count else 'the other end'} of a known distance"
        if self.mode == "walk":
            return f"Space makes the chosen one number {len(self._walked) + 1}"
        if count:
            return "Space sets the next corner, Enter ends the outline"
        return "Space sets a corner, F goes through the " + self.draft.word + "s"

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        f = factor
        self.table.set_look(look, f)
        self.words.set_look(look, f)
        for panel in (self.joint_fields, self.chosen_fields):
            panel.set_look(look, f)
        self.entry.set_look(look, f)
        self.entry.setFont(font_px(SIZES_PX["text"] * f))
        self.entry.setFixedHeight(round(42 * f))
        for label in self._labels():
            label.setFont(font_px(SIZES_PX["text"] * f))
        self.who.setFont(font_px(SIZES_PX["instruction"] * f, "bold"))
        palette = self.state.palette()
        palette.setColor(self.state.foregroundRole(), look.color("soft"))
        self.state.setPalette(palette)
        self._column.setSpacing(round(6 * f))
        self._place_parts()

    def _place_parts(self) -> None:
        f = self._factor
        pad, side = round(24 * f), round(min(420 * f, self.width() * 0.34))
        wide = max(10, self.width() - side - 3 * pad)
        high, line = self.words.height_for(wide), round(30 * f)
        top = round(8 * f)
        below = self.height() - high - top
        self.words.setGeometry(pad, below, wide, high)
        self.order_words.setGeometry(pad, below - line, wide, line)
        self.table.setGeometry(pad, top, wide, max(10, below - line - 2 * top))
        self._side.setGeometry(self.width() - side - pad, top, side, self.height() - 2 * top)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_parts()

    # --- changing -------------------------------------------------------------------------

    def _apply(
        self, what: str, draft: Draft, chosen: Sequence[int] | None = None, merge: str = "",
        told: str = "",
    ) -> None:  # fmt: skip
        """Another draft. merge: changes with the same word after one another are undone as one."""
        if draft != self.draft:
            if not (merge and merge == self._merge):
                self._done.append((what, self.draft))
            self._undone, self._warned = [], False
            self.draft = draft
        self._merge = merge
        self._stop()
        if chosen is not None:
            self.chosen = frozenset(chosen)
        self._show(told)

    def _try(self, act: Callable[[], None]) -> bool:
        """Does something; what cannot be done is told."""
        try:
            act()
        except Trouble as trouble:
            self._show(str(trouble))
            return False
        return True

    def undo(self) -> None:
        """Takes the last change back."""
        self._swap(self._done, self._undone, "Taken back", "There is nothing to take back.")

    def redo(self) -> None:
        """Does again what was taken back."""
        self._swap(self._undone, self._done, "Done again", "There is nothing to do again.")

    def _swap(self, source: list, onto: list, word: str, none: str) -> None:
        self._stop()
        self._leave_mode()
        if not source:
            self._show(none)
            return
        what, draft = source.pop()
        onto.append((what, self.draft))
        self.draft, self._merge = draft, ""
        self._show(f"{word}: {what}.")

    def _name(self, indices: Sequence[int]) -> str:
        """Some fasteners in words: "screw 7", "4 screws"."""
        if len(indices) == 1:
            return f"{self.draft.word} {self.draft.fasteners[min(indices)].number}"
        return self.draft.count(len(indices))

    def _add_at(self, point: XY, exactly: bool = False) -> None:
        """A new fastener at a place in mm; exactly: as typed, else in whole thousandths."""

        def add() -> None:
            if drafting.find_doubled(self.draft, point):
                raise Trouble("One sits there already.", next="Choose another place.")
            number = drafting.next_number(self.draft)
            draft = drafting.add_points(self.draft, [point], exactly)
            self._apply(f"{self.draft.word} {number}", draft, [len(draft.fasteners) - 1])

        self._try(add)

    def _add_shape(self, text: str, read: Callable[[str], tuple]) -> None:
        shape, at = read(text)
        before = len(self.draft.fasteners)
        draft = drafting.add_shape(self.draft, shape, at)
        what = type(shape).__name__.lower()
        self._apply(f"{what} of {len(draft.fasteners) - before}", draft,
                    range(before, len(draft.fasteners)))  # fmt: skip

    def _add_along(self, text: str) -> None:
        count = text.strip()
        if not (count.isascii() and count.isdigit() and len(count) < 4):
            raise Trouble("How many is not there yet.", next="Write a whole number.")
        points = place_along(self.draft.outline, int(count))
        before = len(self.draft.fasteners)
        draft = drafting.add_points(self.draft, points)
        self._apply(f"{count} along the outline", draft, range(before, len(draft.fasteners)))

    def paste(self) -> None:
        """Takes x and y from a table on the clipboard."""

        def take() -> None:
            placed = read_pasted(QGuiApplication.clipboard().text())
            draft = drafting.take_table(self.draft, placed)
            numbers = {number for number, _, _ in placed}
            chosen = [k for k, f in enumerate(draft.fasteners) if f.number in numbers]
            self._apply(f"paste of {len(placed)}", draft, chosen,
                        told=f"{len(placed)} taken from the table.")  # fmt: skip

        self._try(take)

    def remove(self) -> None:
        """Removes the chosen fasteners."""
        if not self.chosen:
            self._show("None is chosen: Tab or a click chooses one.")
            return
        what = self._name(sorted(self.chosen))
        draft = drafting.remove(self.draft, sorted(self.chosen))
        self._apply(f"removal of {what}", draft, [], told=f"Removed: {what}.")

    def _put(self, what: str, indices: Sequence[int], points: Sequence[XY]) -> None:
        draft = drafting.put_points(self.draft, dict(zip(indices, points, strict=True)))
        self._apply(f"{what} of {self._name(indices)}", draft)

    def _picked(self, least: int) -> list[int]:
        """The chosen, or all where none is; Trouble where they are too few."""
        chosen = sorted(self.chosen) or list(range(len(self.draft.fasteners)))
        if len(chosen) < least:
            raise Trouble(
                f"{least} {self.draft.word}s or more are needed for that.",
                next="Choose them with Shift and a click, or by a drag on the ground.",
            )
        return chosen

    def _line_up(self) -> None:
        indices = self._picked(2)
        if not self.chosen:
            raise Trouble("None is chosen.", next="Choose those that are to stand in one line.")
        points = [self.draft.points[k] for k in indices]
        axis = find_axis(points)
        self._put("row" if axis == "row" else "column", indices, align(points, axis))

    def _spread(self) -> None:
        if not self.chosen and self.draft.outline:
            word = f"How many {self.draft.word}s evenly along the outline?"
            self._ask(word, lambda text: int(text), self._add_along)
            return
        if not self.chosen:
            raise Trouble("None is chosen.", next="Choose some, or trace an outline with O.")
        indices = self._picked(3)
        points = [self.draft.points[k] for k in indices]
        outline = self.draft.outline
        size = max(math.dist(points[0], p) for p in points)
        on_edge = outline and all(find_on_outline(outline, p)[2] <= 0.15 * size for p in points)
        self._put(
            "spread", indices, spread_along(points, outline) if on_edge else distribute(points)
        )

    def _mirror(self, sides: str) -> None:
        indices = self._picked(1)
        outline = self.draft.outline
        middle = find_middle(outline or self.draft.points)
        points = [self.draft.points[k] for k in indices]
        turned = mirror(points, sides, middle)  # type: ignore[arg-type]
        if len(indices) == len(self.draft.fasteners):
            draft = drafting.put_points(self.draft, dict(zip(indices, turned, strict=True)))
            draft = drafting.set_outline(draft, mirror(outline, sides, middle))  # type: ignore
            self._apply("mirror of all", draft, told="All of it is mirrored.")
            return
        fresh = [p for p in turned if not drafting.find_doubled(self.draft, p)]
        if not fresh:
            raise Trouble("On the other side there is one for each already.")
        before = len(self.draft.fasteners)
        draft = drafting.add_points(self.draft, fresh)
        self._apply(f"mirror of {self._name(indices)}", draft,
                    range(before, len(draft.fasteners)),
                    told=f"{len(fresh)} placed on the other side.")  # fmt: skip

    def _renumber(self, clockwise: bool) -> None:
        if len(self.draft.fasteners) < 2:
            raise Trouble("There is nothing to number yet.")
        start = min(self.chosen, default=0)
        sequence = walk(self.draft.points, self.draft.outline, start, clockwise)
        draft = drafting.renumber(self.draft, sequence)
        way = "clockwise" if clockwise else "counter-clockwise"
        # They are listed by their numbers now; the chosen stay the same ones.
        chosen = [sequence.index(k) for k in self.chosen]
        self._apply(f"numbers {way}", draft, chosen, told=f"Numbered {way}.")

    def _set_computed(self) -> None:
        self._apply("the computed order", drafting.set_order(self.draft, None),
                    told="The order is computed.")  # fmt: skip

    # --- questions ------------------------------------------------------------------------

    def _ask(
        self, prompt: str, read: Callable[[str], object], take: Callable[[str], None],
        text: str = "",
    ) -> None:  # fmt: skip
        self._question = Question(prompt, read, take)
        self.prompt.setText(prompt)
        self.prompt.show()
        self.entry.setAccessibleName(prompt)
        self.entry.setText(text)
        self.entry.show()
        self.entry.setFocus()
        self.entry.selectAll()
        self._look_at()
        self._say()

    def _look_at(self) -> None:
        """Reads what is being typed, and says at once what is missing in it."""
        if self._question is None:
            return
        try:
            found = self._question.read(self.entry.text())
        except Trouble as trouble:
            self.told = str(trouble)
        except ValueError:
            self.told = "Write a whole number."
        else:
            self.told = found if isinstance(found, str) else "Enter takes it."
        self._write_message()

    def _take_answer(self) -> None:
        question, text = self._question, self.entry.text()
        if question is None:
            return
        try:
            question.read(text)
            self._close_question()
            question.take(text)
        except Trouble as trouble:
            if self._question is None:
                self._question = question
                self._ask(question.prompt, question.read, question.take, text)
            self.told = str(trouble)
            self._write_message()
        except ValueError:
            self.told = "Write a whole number."
            self._write_message()

    def _close_question(self) -> None:
        # The focus goes first: hiding the line that has it would press Tab.
        self.setFocus()
        self._question = None
        self.entry.hide()
        self.prompt.hide()
        self.told = ""

    def _ask_for_order(self) -> None:
        bare = replace(self.draft, order=None)
        pattern = drafting.make_pattern(bare)
        given = find_order(drafting.make_pattern(self.draft)) if self.draft.order is None else None
        numbers = self.draft.order or (given.numbers if given else ())

        def read(text: str) -> str:
            read_order(text, pattern)
            return "Every number stands there once."

        def take(text: str) -> None:
            order = read_order(text, pattern)
            self._apply("the order", drafting.set_order(self.draft, order))

        whose = "The manual's order" if self.draft.order_by == "manual" else "Your own order"
        self._ask(f"{whose}, number by number", read, take,
                  " ".join(str(n) for n in numbers))  # fmt: skip

    # --- modes: places clicked for a tool -------------------------------------------------

    def _set_mode(self, mode: str) -> None:
        again = mode == self.mode
        self._leave_mode()
        self._stop()
        if again:
            self._show("")
            return
        if mode in ("scale", "corners", "check") and not self.draft.file:
            self._show("A blank board is in mm already.")
            return
        if mode == "check" and not self.draft.scaled:
            self._show("The photo has no scale to check yet: S or K sets one.")
            return
        self.mode = mode
        chosen = sorted(self.chosen)
        if mode in ("scale", "check") and len(chosen) == 2:
            back = invert(self.draft.to_mm)
            self._spots = tuple(map_point(back, self.draft.points[k]) for k in chosen)
            self._ask_for_length()
            return
        if mode == "walk":
            self.chosen = frozenset()
        elif self.table.pen is None:
            self.table.move_pen(0, 0)
        self._show(
            {
                "scale": "Set two places whose distance you know, as far apart as there are. Or "
                "choose two screws first.",
                "corners": "Set the four corners of a rectangle whose size you know, one after "
                "another. It must lie in the plane of the joint.",
                "check": "Set two places whose distance you know.",
                "walk": "Click them in the sequence of their numbers, or Tab and Space. Enter ends "
                "it.",
                "outline": "",
            }[mode]
        )

    def _leave_mode(self) -> None:
        if self._question is not None:
            self._close_question()
        self.mode, self._spots, self._walked = "", (), ()
        self._rubber = self._grabbed = self._corner = None
        self.table.pen = None

    def _set_spot(self, place: XY) -> None:
        """A place set with the tool of the mode, in pixels of the picture."""
        if self.mode == "outline":
            self._spots = (*self._spots, place)
            self._show("")
            return
        most = 4 if self.mode == "corners" else 2
        if len(self._spots) < most:
            self._spots = (*self._spots, place)
        self._show("")
        if len(self._spots) < most:
            return
        if self.mode == "corners":
            self._ask("Width and height of the rectangle in mm", read_rectangle_size,
                      self._take_corners)  # fmt: skip
        else:
            self._ask_for_length()

    def _ask_for_length(self) -> None:
        one, other = self._spots
        now = math.dist(self.table.to_mm(one), self.table.to_mm(other))
        self._show("")
        if self.mode == "check":
            self._ask(f"It measures {now:.1f} mm here. How long is it really?", read_length,
                      lambda text: self._check(now, read_length(text)))  # fmt: skip
        else:
            self._ask("How long is that in mm?", read_length, self._take_scale)

    def _take_scale(self, text: str) -> None:
        before = self.draft.to_mm if self.draft.scaled else None
        size = self._picture_size
        mapping = set_scale(
            *self._spots, read_length(text), (size.width() / 2, size.height() / 2), before
        )
        draft = drafting.set_mapping(self.draft, mapping)
        self._leave_mode()
        self._apply("the scale", draft, told="The scale is set. X checks it by another distance.")

    def _take_corners(self, text: str) -> None:
        size = self._picture_size
        middle = (size.width() / 2, size.height() / 2)
        wide, high = read_rectangle_size(text)
        found = straighten(self._spots, wide, high, middle)
        draft = drafting.set_mapping(self.draft, found.to_mm)
        said = (
            f"Straightened. Residual {found.worst_mm:.2f} mm: four corners always fit. Without it "
            f"a corner would miss by {found.by_scale_mm:.1f} mm."
        )
        if found.ratio is not None:
            off = abs(found.ratio / (wide / high) - 1)
            said += (
                f" The photo itself says {found.ratio:.2f} to 1, you wrote {wide / high:.2f} to 1"
                + (": look at the corners and the size again." if off > 0.1 else ".")
            )
        self._leave_mode()
        self._apply("the straightening", draft, told=said + " X checks by a distance.")

    def _check(self, now: float, really: float) -> None:
        if really <= 0:
            raise Trouble("That is no distance.", next="Write it in mm, as 120.")
        off = now - really
        self._leave_mode()
        self._show(
            f"Residual {abs(off):.1f} mm, {abs(off) / really:.1%}: it measures {now:.1f} mm and is "
            f"{really:g} mm."
        )

    def _end_outline(self) -> None:
        spots = self._spots
        if len(spots) < 3:
            self._show("An outline needs at least three corners.")
            return
        draft = drafting.set_outline(self.draft, [self.table.to_mm(p) for p in spots])
        self._leave_mode()
        self._apply("the outline", draft, told="The outline is drawn. D places along it.")

    def _outline_through(self) -> None:
        if len(self.draft.fasteners) < 3:
            raise Trouble("An outline needs at least three corners.")
        sequence = walk(self.draft.points, [], min(self.chosen, default=0))
        points = [self.draft.points[k] for k in sequence]
        draft = drafting.set_outline(self.draft, points)
        self._leave_mode()
        self._apply("the outline", draft, told="The outline goes through them.")

    def _walk_by(self, index: int | None) -> None:
        if index is None or index in self._walked:
            return
        self._walked = (*self._walked, index)
        self.chosen = frozenset()
        if len(self._walked) == len(self.draft.fasteners):
            self._end_walk()
        else:
            self._show("")

    def _end_walk(self) -> None:
        sequence = self._walked
        self._leave_mode()
        if sequence:
            draft = drafting.renumber(self.draft, sequence)
            self._apply("numbers by walking round", draft, [], told="Numbered as you walked.")
        else:
            self._show("")

    # --- the mouse ------------------------------------------------------------------------

    def _press_at(self, place: XY, event: QMouseEvent) -> None:
        self.setFocus()
        self._stop()
        self._grabbed = self._corner = self._rubber = None
        if self._question is not None:
            self._leave_mode()
        if self.mode:
            if self.mode == "outline" and not self._spots:
                corner = self.table.corner_at(place)
                if corner is not None:
                    self._corner = (corner, self.draft)
            return
        index = self.table.fastener_at(place)
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if index is None:
            return
        if shift:
            self.chosen = self.chosen ^ {index}
        elif index not in self.chosen:
            self.chosen = frozenset({index})
        if index in self.chosen:
            # The one under the hand comes first: it is the one that snaps.
            held = [index, *sorted(self.chosen - {index})]
            self._grabbed = (place, {k: self.draft.points[k] for k in held})
        self._merge = ""
        self._show("")

    def _drag_to(self, place: XY, event: QMouseEvent) -> None:
        if self._grabbed is not None:
            moved, guides = self._drag_places(place, event)
            self.table.show_moving(moved, guides)
        elif self._corner is not None:
            index, before = self._corner
            outline = list(before.outline)
            outline[index] = self.table.to_mm(place)
            draft = drafting.set_outline(before, outline)
            self._apply("corner of the outline", draft, merge=f"corner {index}")
        elif not self.mode:
            start = self._rubber[0] if self._rubber else self._pressed_place(event)
            self._rubber = (start, place)
            self._show()

    def _pressed_place(self, event: QMouseEvent) -> XY:
        at = self.table._pressed or event.position()
        start = self.table.to_picture(at)
        return (start.x(), start.y())

    def _drag_places(self, place: XY, event: QMouseEvent) -> tuple[dict[int, XY], tuple]:
        """Where the held ones are now, and the guides that hold the first of them."""
        assert self._grabbed is not None
        start, held = self._grabbed
        (x0, y0), (x, y) = self.table.to_mm(start), self.table.to_mm(place)
        dx, dy = x - x0, y - y0
        first = next(iter(held))
        at = (held[first][0] + dx, held[first][1] + dy)
        guides: tuple = ()
        if self.snaps and not event.modifiers() & Qt.KeyboardModifier.AltModifier:
            others = [p for k, p in enumerate(self.draft.points) if k not in held]
            number = self.draft.fasteners[first].number
            pivot = next(
                (p for k, p in enumerate(self.draft.points)
                 if k not in held and self.draft.fasteners[k].number == number - 1), None,
            )  # fmt: skip
            reach = SNAP_PX * self._factor * self.table.mm_a_screen_px(place)
            found = snap(at, others, reach, self.draft.outline, pivot)
            at, guides = found.at, found.guides
        dx, dy = at[0] - held[first][0], at[1] - held[first][1]
        return {k: (px + dx, py + dy) for k, (px, py) in held.items()}, guides

    def _release_at(self, place: XY, event: QMouseEvent) -> None:
        grabbed, corner, rubber = self._grabbed, self._corner, self._rubber
        dragged = self.table.dragging
        if grabbed is not None and dragged:
            moved, _ = self._drag_places(place, event)
            self._grabbed = None
            draft = drafting.put_points(self.draft, moved)
            self._apply(f"move of {self._name(list(moved))}", draft)
        elif rubber is not None:
            self._choose_in(rubber, event)
        elif corner is not None:
            self._merge = ""
        elif grabbed is None and not dragged and not self._shifted(event):
            self._click(place)
        self._grabbed = self._corner = self._rubber = None
        if grabbed is not None and not dragged:
            if not self._shifted(event):
                self.chosen = frozenset({next(iter(grabbed[1]))})
            self._show()

    @staticmethod
    def _shifted(event: QMouseEvent) -> bool:
        return bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)

    def _click(self, place: XY) -> None:
        if self.mode == "walk":
            self._walk_by(self.table.fastener_at(place))
        elif self.mode:
            self._set_spot(place)
        else:
            at = self.table.to_mm(place)
            if self.snaps:
                reach = SNAP_PX * self._factor * self.table.mm_a_screen_px(place) / 2
                at = snap(at, self.draft.points, reach, self.draft.outline).at
            self._add_at(at)

    def _choose_in(self, rubber: tuple[XY, XY], event: QMouseEvent) -> None:
        one, other = (self.table.to_screen(p) for p in rubber)
        box = QRectF(one, other).normalized()
        inside = {
            k for k in range(len(self.draft.fasteners)) if box.contains(self.table.seat_of(k))
        }
        self._rubber = None
        self.chosen = frozenset(inside | (self.chosen if self._shifted(event) else set()))
        self._show(f"{self.draft.count(len(self.chosen))} chosen." if self.chosen else "")

    # --- playing --------------------------------------------------------------------------

    def _play(self) -> None:
        if self._clock.isActive():
            self._stop()
        elif self.order is None or not self.order.numbers:
            self._show("There is no order to play yet.")
            return
        else:
            self._played = 1
            self._clock.start()
        self._show("")

    def _play_on(self) -> None:
        order = self.order
        self._played = (self._played or 0) + 1
        if order is None or self._played > len(order.numbers):
            self._stop()
        self._show()

    def _stop(self) -> None:
        self._clock.stop()
        self._played = None

    # --- keys -----------------------------------------------------------------------------

    def press(self) -> None:
        if self._question is not None:
            self._take_answer()
        elif self.panel.in_use:
            if self.panel.take(self.panel.in_use):
                self.panel.go_on(1)
        elif self.mode == "walk":
            self._walk_by(min(self.chosen, default=None))
        elif self.mode:
            if self.table.pen is None:
                self.table.move_pen(0, 0)
            pen = self.table.pen
            assert pen is not None
            self._set_spot((pen.x(), pen.y()))
        else:
            self.keep()

    def keep(self) -> None:
        """Hands the pattern over and closes; what is still missing is told instead."""
        refused = next(iter(self.panel.refused), "")
        if refused:
            told = self.told
            self.panel.go_to(refused)
            self._show(f"Not kept: this cannot be taken. {told}")
            return
        if self.draft == self._opened:
            self.close_board()
            return
        if self.draft.file and not self.draft.scaled:
            self._show(
                "The photo has no scale yet, so nothing here is in mm. S sets it by one known "
                "distance, K by four corners."
            )
            return
        try:
            pattern = drafting.make_pattern(self.draft)
        except Trouble as trouble:
            self._show(f"Not kept. {trouble}")
            return
        self.kept.emit(pattern)
        self.close_board()

    def close_board(self) -> None:
        self._stop()
        self._later.stop()
        self._leave_mode()
        self.setFocus()
        self.table.put_away()
        super().close_board()

    def escape(self) -> None:
        """One step back: question, tool, field, choice; then the board itself."""
        if self.panel.in_use:
            self._leave_field()
        elif self._question is not None or self.mode:
            self._leave_mode()
            self._show("")
        elif self._clock.isActive():
            self._stop()
            self._show("")
        elif self.table.pen is not None:
            self.table.pen = None
            self.table.update()
        elif self.chosen:
            self.chosen = frozenset()
            self._show("")
        elif self.draft != self._opened and not self._warned:
            self._warned = True
            self._show("Escape again leaves the pattern as it was. Space keeps it.")
        else:
            self.close_board()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.escape()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.mode in (
            "outline",
            "walk",
        ):
            if self.mode == "walk":
                self._end_walk()
            elif self._spots:
                self._end_outline()
            else:
                self._leave_mode()
                self._show("")
        else:
            super().keyPressEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab chooses fasteners; in the fields it goes from one to the next."""
        if self._question is not None:
            return True
        if self.panel.in_use:
            self.panel.go_on(1 if forward else -1)
            return True
        self._choose_next(1 if forward else -1)
        return True

    def _choose_next(self, step: int) -> None:
        """The next by number; while walking round, the next that was not walked by."""
        by_number = sorted(
            (k for k in range(len(self.draft.fasteners)) if k not in self._walked),
            key=lambda k: self.draft.fasteners[k].number,
        )
        if not by_number:
            return
        if len(self.chosen) == 1 and min(self.chosen) in by_number:
            at = by_number.index(min(self.chosen)) + step
        else:
            at = 0 if step > 0 else -1
        self.chosen = frozenset({by_number[at % len(by_number)]})
        self._merge = ""
        self._show("")

    def take_key(self, event: QKeyEvent) -> bool:
        key, more = event.key(), event.modifiers()
        control = bool(more & Qt.KeyboardModifier.ControlModifier)
        if self.panel.in_use and not control:
            return True  # no word to choose begins with it
        shift = bool(more & Qt.KeyboardModifier.ShiftModifier)
        if key in _ARROWS:
            if control and shift:
                dx, dy = _ARROWS[key]
                self.table.pan(-60 * dx, -60 * dy)
            else:
                self._nudge(*_ARROWS[key], FAR_MM if shift else FINE_MM if control else STEP_MM)
        elif control and key == Qt.Key.Key_Z:
            self.redo() if shift else self.undo()
        elif control and key == Qt.Key.Key_Y:
            self.redo()
        elif control and key == Qt.Key.Key_A:
            self.chosen = frozenset(range(len(self.draft.fasteners)))
            self._show("")
        elif control and key == Qt.Key.Key_V:
            self.paste()
        elif key == Qt.Key.Key_Backspace and (self._spots or self._walked):
            self._spots, self._walked = self._spots[:-1], self._walked[:-1]
            self._show("")
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.remove()
        elif key == Qt.Key.Key_Insert:
            if self.table.pen is None:
                self.table.move_pen(0, 0)
            pen = self.table.pen
            assert pen is not None
            self._add_at(self.table.to_mm((pen.x(), pen.y())))
            self.chosen = frozenset()
            self._show()
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.table.zoom(1.25)
        elif key == Qt.Key.Key_Minus:
            self.table.zoom(0.8)
        elif key == Qt.Key.Key_0:
            self.table.fit()
        elif key == Qt.Key.Key_F and self.mode == "outline":
            self._try(self._outline_through)
        elif not control and event.text().upper() in self.words.words:
            self._take_tool(event.text().upper(), shift)
        else:
            return False
        return True

    def _take_word(self, key: str) -> None:
        self.setFocus()
        self._take_tool(key, False)

    def _take_tool(self, key: str, shift: bool) -> None:
        tools: dict[str, Callable[[], None]] = {
            "P": lambda: self._ask(f"x and y of a new {self.draft.word} in mm", read_place,
                                   lambda text: self._add_at(read_place(text), True)),
            "C": lambda: self._ask("Circle: how many, and its diameter in mm", read_circle,
                                   lambda text: self._add_shape(text, read_circle)),
            "R": lambda: self._ask("Rectangle: width, height, how many along and up",
                                   read_rectangle,
                                   lambda text: self._add_shape(text, read_rectangle)),
            "G": lambda: self._ask("Grid: columns, rows, step across and down", read_grid,
                                   lambda text: self._add_shape(text, read_grid)),
            "V": self.paste,
            "O": lambda: self._set_mode("outline"),
            "D": self._spread,
            "L": self._line_up,
            "M": lambda: self._mirror("up-down" if shift else "left-right"),
            "N": lambda: self._renumber(not shift),
            "W": lambda: self._set_mode("walk"),
            "S": lambda: self._set_mode("scale"),
            "K": lambda: self._set_mode("corners"),
            "X": lambda: self._set_mode("check"),
            "T": self._ask_for_order,
            "Y": self._set_computed,
            "A": self._play,
            "B": self.file_wanted.emit,
            "J": self._ask_whom,
            "E": self._describe,
            "Q": self._turn_snap,
            "Del": self.remove,
            "U": self.undo,
        }  # fmt: skip
        if key not in ("O", "W", "S", "K", "X") and (self.mode or self._question is not None):
            self._leave_mode()
        self._stop() if key != "A" else None
        self._try(tools[key])

    def _turn_snap(self) -> None:
        self.snaps = not self.snaps
        self._show(
            "Dragged ones snap into line; Alt lets go." if self.snaps else "Nothing snaps now."
        )

    def _nudge(self, dx: int, dy: int, step_mm: float) -> None:
        """Moves the chosen, or the cross hair, the way the arrow points on the screen."""
        place = self._find_nudged()
        mm_px = self.table.mm_a_screen_px(place) * self.table.scale
        if self.mode or not self.chosen:
            self.table.move_pen(dx * step_mm / mm_px, dy * step_mm / mm_px)
            return
        x, y = self.table.to_mm(place)
        ahead = self.table.to_mm((place[0] + dx / self.table.scale,
                                  place[1] + dy / self.table.scale))  # fmt: skip
        # Along the axis of the joint that lies nearest to the arrow.
        across, up = ahead[0] - x, ahead[1] - y
        if abs(across) >= abs(up):
            move = (math.copysign(step_mm, across), 0.0)
        else:
            move = (0.0, math.copysign(step_mm, up))
        indices = sorted(self.chosen)
        points = [self.draft.points[k] for k in indices]
        draft = drafting.put_points(
            self.draft,
            {k: (p[0] + move[0], p[1] + move[1]) for k, p in zip(indices, points, strict=True)},
        )
        self._apply(f"move of {self._name(indices)}", draft, merge=f"nudge {indices}")

    def _find_nudged(self) -> XY:
        if self.mode or not self.chosen:
            pen = self.table.pen
            if pen is not None:
                return (pen.x(), pen.y())
            middle = self.table.rect().center().toPointF()
            place = self.table.to_picture(middle)
            return (place.x(), place.y())
        return map_point(invert(self.draft.to_mm), self.draft.points[min(self.chosen)])

    # --- what each one is -----------------------------------------------------------------

    def _ask_whom(self) -> None:
        """Chooses by their numbers."""
        fasteners = self.draft.fasteners
        if not fasteners:
            raise Trouble(f"There is no {self.draft.word} yet.")

        def find(text: str) -> frozenset[int]:
            wanted = read_numbers(text, [f.number for f in fasteners])
            return frozenset(k for k, f in enumerate(fasteners) if f.number in wanted)

        def read(text: str) -> str:
            return f"Enter chooses {self.draft.count(len(find(text)))}."

        def take(text: str) -> None:
            self.chosen = find(text)
            self._show("")

        self._ask("Which ones? Their numbers, as 1-4 9 12", read, take)

    def _describe(self) -> None:
        self.panel.go_to("thread" if self.chosen else "title")

    def _leave_field(self) -> None:
        self.setFocus()
        self._show("")

    def _take_field(self, key: str, text: str) -> bool:
        """What stands in a line, said of the joint or of all chosen; False where it cannot be."""
        indices = sorted(self.chosen)
        if not indices and key == "photo":
            self._take_photo(text)
            return True

        def take() -> None:
            if indices:
                said = "" if (key, text) == ("head", AS_JOINT) else text
                draft = change_fasteners(self.draft, indices, key, said)
                what = f"{self.chosen_fields.kinds[key].word} of {self._name(indices)}"
            else:
                draft = change_joint(self.draft, key, text)
                name = draft.details.get("name")
                if key == "name" and name in self._others:
                    raise Trouble(f"Another pattern is called “{name}”.", next="Give another name.")
                what = f"{self.joint_fields.kinds[key].word} of the joint"
            merge = f"{key} {indices}" if self.panel.kinds[key].choices else ""
            self._apply(what, draft, merge=merge)

        return self._try(take)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
            escape = event.key() == Qt.Key.Key_Escape
            if watched is self.entry and (enter or escape):
                self._take_answer() if enter else self.escape()
                return True
        return super().eventFilter(watched, event)


_ARROWS: dict[int, tuple[int, int]] = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}
