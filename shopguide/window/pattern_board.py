"""The pattern board: place the fasteners of a joint on a photo or a blank board, and describe them.

What geometry and model make of it is in bolts/placing.py, homography.py, draft.py, particulars.py.
Here drawing, panel and keys come together; the tools are in pattern_tools.py, what stays in hand in
pattern_spots.py, the mouse in pattern_hand.py, the photo in pattern_ground.py, the words in
pattern_words.py.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

from PySide6.QtCore import QSize, Qt, QTimer, Signal
from PySide6.QtGui import QImage, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QLabel

from shopguide.bolts import draft as drafting
from shopguide.bolts.draft import Draft
from shopguide.bolts.draft_log import DraftLog
from shopguide.bolts.order import Order, find_order
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble
from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.light_table import XY
from shopguide.window.marking_out import Doing, MarkingOut
from shopguide.window.palette import Look
from shopguide.window.pattern_fields import (
    PatternFields,
)
from shopguide.window.pattern_ground import PatternGround
from shopguide.window.pattern_hand import PatternHand
from shopguide.window.pattern_keys import PatternKeys
from shopguide.window.pattern_side import PatternSide
from shopguide.window.pattern_spots import PatternSpots
from shopguide.window.pattern_tools import PatternTools
from shopguide.window.pattern_words import USING, list_tools, tell_arrows, tell_order
from shopguide.window.tool_rows import ToolRows

PLAY_MS = 350
ORDER_MS = 60
FEW = 60
"""So many fasteners have their order computed at each change; more wait a moment for it."""
SIDE_PX = 420
ROWS = 3


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
    keys_wanted = Signal()
    """All keys of the board are to be shown; the board is laid over again afterwards."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.log = DraftLog()
        self.chosen: frozenset[int] = frozenset()
        self.told = self._fault = ""
        self._warned = False
        self._played: int | None = None
        self._typed: tuple[int, ...] | None = None
        self._order: tuple[Draft, Order | None, str] | None = None
        self.table = MarkingOut(look, factor)
        self.table.setParent(self)
        self.words = ToolRows(look, factor, ROWS)
        self.words.setParent(self)
        self.words.taken.connect(self._take_word)
        self.order_words = QLabel(self)
        self.order_words.setTextFormat(Qt.TextFormat.PlainText)
        self.side = PatternSide(self, look, factor)
        self.who, self.message = self.side.who, self.side.message
        self.question = self.side.question
        self.question.tells, self.question.leaves = self.tell_typed, self.escape
        self.question.ends = self._end_question
        self.tools, self.spots = PatternTools(self), PatternSpots(self)
        self.hand, self.ground = PatternHand(self), PatternGround(self)
        self.letters = PatternKeys(self)
        self._clock, self._later = QTimer(self), QTimer(self)
        self._clock.setInterval(PLAY_MS)
        self._clock.timeout.connect(self._play_on)
        self._later.setSingleShot(True)
        self._later.setInterval(ORDER_MS)
        self._later.timeout.connect(self._take_order)
        self.set_look(look, factor)

    @property
    def draft(self) -> Draft:
        """The pattern as it is drawn now."""
        return self.log.draft

    @property
    def factor(self) -> float:
        """By how much everything is larger than at 1366×768."""
        return self._factor

    @property
    def panel(self) -> PatternFields:
        """The lines at the right: of the joint, or of those that are chosen."""
        return self.side.panel

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
        draft = drafting.open_draft(
            pattern, file, float(picture_size.width()), float(picture_size.height())
        )
        if pattern is None and draft.details["name"] in others:
            free = next(n for n in range(2, 10_000) if f"pattern {n}" not in others)
            draft = replace(draft, details={**draft.details, "name": f"pattern {free}"})
        self.log.begin(draft)
        self.chosen = frozenset()
        self._played, self._order, self._warned = None, None, False
        self.side.begin(frozenset(others))
        self.leave_mode()
        held = drafting.find_photo(draft)
        self.ground.begin(picture, picture_size, file, [*photos, *([held] if held else [])])
        self.tell("" if draft.fasteners else "Click where the first one sits.")

    def lay_photo(self, picture: QImage, size: QSize, name: str) -> None:
        """Lays a photo of the sheet under what is drawn; one that lay there before comes back."""
        self.ground.lay(picture, size, name)

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
        self.tell()

    def tell(self, told: str | None = None) -> None:
        """Shows everything as it is now; told: what is said of it, None for what was said."""
        if told is not None:
            self.told = told
        count = len(self.draft.fasteners)
        if count <= FEW or (self._order is not None and self._order[0] is self.draft):
            order, fault = self._find_order()
        else:
            order, fault = (self._order[1] if self._order else None), ""
            self._later.start()
        self.chosen = frozenset(k for k in self.chosen if k < count)
        self.ground.follow()
        self._draw(order)
        self.order_words.setText(tell_order(order, self._played, self.draft))
        self._fault = fault if count else ""
        self.side.write_message(self.told, self._fault)
        title = self.draft.details.get("title", "Pattern")
        self.setAccessibleName(f"Pattern: {title}")
        self.table.setAccessibleName(f"{title}, {self.draft.count(count)}")
        self.side.write()
        self.table.setAccessibleDescription(self.side.who.text())
        self._say()

    def _draw(self, order: Order | None) -> None:
        spots = self.spots
        numbers = order.numbers if order else ()
        doing = Doing(
            spots=spots.places,
            joined=spots.joined,
            played=self._played,
            rubber=self.hand.rubber,
            corners=spots.mode == "outline" and not spots.places,
            walked=spots.walked,
            asked=spots.due,
        )
        self.table.show_draft(
            self.draft, self.chosen, numbers if self._typed is None else self._typed, doing
        )

    def show_typed(self, text: str) -> None:
        """Draws an order as far as it is typed."""
        known = {f.number for f in self.draft.fasteners}
        numbers = (int(n) for n in re.findall(r"[0-9]{1,6}", text))
        self._typed = tuple(n for n in numbers if n in known)
        self._draw(None)

    def _end_question(self) -> None:
        self.setFocus()
        self._typed, self.told = None, ""

    def tell_typed(self, told: str) -> None:
        """What is said of what is being typed; nothing else is shown anew."""
        self.told = told
        self.side.write_message(told, self._fault)
        self.side.make_room()
        self._say()

    def _say(self) -> None:
        """The words of the tools and of the bar."""
        mode, panel = self.spots.mode, self.panel
        self.words.show_rows(list_tools(self), USING.get(mode, ""))
        self.after = f"U takes back: {self.log.last}" if self.log.last else ""
        if self.question.asked is not None:
            self.does, self.keys = "Enter takes what is written", "Escape leaves it"
        elif panel.in_use:
            self.does = "Enter takes it and goes on"
            if panel.kinds[panel.in_use].choices:
                self.does = "The arrow keys choose, Enter goes on"
            self.keys = "Tab goes on   Escape goes back to the board"
        elif mode:
            self.does = self.spots.tell_step()
            how = "Tab chooses" if mode == "walk" else "arrow keys move the cross hair"
            self.keys = f"{how}   Escape leaves"
        else:
            same = not self.log.is_changed
            self.does = "Space closes this" if same else "Space keeps the pattern"
            self.keys = "Tab chooses   Insert places   + − 0 zoom   F1 keys   Escape closes"
            if self.chosen:
                self.keys = f"{tell_arrows(self)}   Escape lets go"
        self.said.emit()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        for part in (self.table, self.words, self.side):
            part.set_look(look, factor)
        self.order_words.setFont(font_px(SIZES_PX["text"] * factor))
        self._place_parts()

    def _place_parts(self) -> None:
        f = self._factor
        pad, side = round(24 * f), round(min(SIDE_PX * f, self.width() * 0.34))
        wide = max(10, self.width() - side - 3 * pad)
        high, line, top = self.words.high, round(34 * f), round(8 * f)
        below = self.height() - high - top
        self.words.setGeometry(pad, below, wide, high)
        self.order_words.setGeometry(pad, below - line, wide, line)
        self.table.setGeometry(pad, top, wide, max(10, below - line - top))
        self.side.setGeometry(self.width() - side - pad, top, side, self.height() - 2 * top)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_parts()

    # --- changing -------------------------------------------------------------------------

    def apply(
        self, what: str, draft: Draft, chosen: Sequence[int] | None = None, merge: str = "",
        told: str = "",
    ) -> None:  # fmt: skip
        """Another draft. merge: changes with the same word after one another are undone as one."""
        if self.log.put(what, draft, merge):
            self._warned = False
        self.stop()
        if chosen is not None:
            self.chosen = frozenset(chosen)
        self.tell(told)

    def try_to(self, act: Callable[[], object]) -> bool:
        """Does something; what cannot be done is told."""
        try:
            act()
        except Trouble as trouble:
            self.tell(str(trouble))
            return False
        return True

    def undo(self) -> None:
        """Takes the last change back."""
        self._step(self.log.undo, "Taken back", "There is nothing to take back.")

    def redo(self) -> None:
        """Does again what was taken back."""
        self._step(self.log.redo, "Done again", "There is nothing to do again.")

    def _step(self, step: Callable[[], str], word: str, none: str) -> None:
        self.stop()
        self.leave_mode()
        what = step()
        self.tell(f"{word}: {what}." if what else none)

    def name_of(self, indices: Sequence[int]) -> str:
        """Some fasteners in words: "screw 7", "4 screws"."""
        if len(indices) == 1:
            return f"{self.draft.word} {self.draft.fasteners[min(indices)].number}"
        return self.draft.count(len(indices))

    def add_at(self, point: XY, exactly: bool = False) -> None:
        """A new fastener at a place in mm; exactly: as typed, else in whole thousandths."""

        def add() -> None:
            if drafting.find_doubled(self.draft, point):
                raise Trouble("One sits there already.", next="Choose another place.")
            number = drafting.next_number(self.draft)
            draft = drafting.add_points(self.draft, [point], exactly)
            self.apply(f"{self.draft.word} {number}", draft, [len(draft.fasteners) - 1])

        self.try_to(add)

    def leave_mode(self) -> None:
        """Nothing is asked, held or in hand any more."""
        if self.question.asked is not None:
            self.question.close_question()
        self.spots.put_away()
        self.hand.let_go()

    def turn_snap(self) -> None:
        """What is placed or dragged snaps into line, or does not any more."""
        self.hand.snaps = not self.hand.snaps
        self.tell(
            "Dragged ones snap into line; Alt lets go." if self.hand.snaps else "Nothing snaps now."
        )

    # --- playing --------------------------------------------------------------------------

    @property
    def is_playing(self) -> bool:
        """True while the order is shown one after another."""
        return self._clock.isActive()

    def play(self) -> None:
        """Shows the order one after another, or stops that."""
        if self.is_playing:
            self.stop()
        elif self.order is None or not self.order.numbers:
            raise Trouble("There is no order to play yet.")
        else:
            self._played = 1
            self._clock.start()
        self.tell("")

    def _play_on(self) -> None:
        order = self.order
        self._played = (self._played or 0) + 1
        if order is None or self._played > len(order.numbers):
            self.stop()
        self.tell()

    def stop(self) -> None:
        """The order is shown as a whole again."""
        self._clock.stop()
        self._played = None

    # --- keys -----------------------------------------------------------------------------

    def press(self) -> None:
        if self.question.asked is not None:
            self.question.answer()
        elif self.panel.in_use:
            if self.panel.take(self.panel.in_use):
                self.panel.go_on(1)
        elif self.spots.mode:
            self.try_to(self.spots.press)
        else:
            self.keep()

    def keep(self) -> None:
        """Hands the pattern over and closes; what is still missing is told instead."""
        told = self.told
        if self.side.go_to_refused():
            self.tell(f"Not kept: this cannot be taken. {told}")
            return
        if not self.log.is_changed:
            self.close_board()
            return
        if self.draft.file and not self.draft.scaled:
            self.tell(
                "The photo has no scale yet, so nothing here is in mm. S sets it by one known "
                "distance, K by four corners."
            )
            return
        try:
            pattern = drafting.make_pattern(self.draft)
        except Trouble as trouble:
            self.tell(f"Not kept. {trouble}")
            return
        self.kept.emit(pattern)
        self.close_board()

    def close_board(self) -> None:
        self.stop()
        self._later.stop()
        self.leave_mode()
        self.setFocus()
        self.table.put_away()
        super().close_board()

    def escape(self) -> None:
        """One step back: question, tool, field, choice; then the board itself."""
        if self.panel.in_use:
            self.setFocus()
            self.tell("")
        elif self.question.asked is not None or self.spots.mode:
            self.leave_mode()
            self.tell("")
        elif self.is_playing:
            self.stop()
            self.tell("")
        elif self.table.pen is not None:
            self.table.pen = None
            self.table.update()
        elif self.chosen:
            self.chosen = frozenset()
            self.tell("")
        elif self.log.is_changed and not self._warned:
            self._warned = True
            self.tell("Escape again leaves the pattern as it was. Space keeps it.")
        else:
            self.close_board()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.escape()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.spots.mode in (
            "outline", "walk", "pin",
        ):  # fmt: skip
            self.try_to(self.spots.end)
        else:
            super().keyPressEvent(event)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Tab chooses fasteners; in the fields it goes from one to the next."""
        step = 1 if forward else -1
        if self.panel.in_use:
            self.panel.go_on(step)
        elif self.question.asked is None:
            self.letters.choose_next(step)
        return True

    def take_key(self, event: QKeyEvent) -> bool:
        return self.letters.take(event)

    def _take_word(self, word: str) -> None:
        """A tool that was clicked."""
        self.setFocus()
        if word == "Esc":
            self.escape()
        elif word == "Bksp":
            self.spots.step_back()
        elif word == "Enter" and self.question.asked is not None:
            self.question.answer()
        elif word == "Enter":
            self.try_to(self.spots.end)
        else:
            self.take_tool(word, False)

    def take_tool(self, key: str, shift: bool) -> None:
        """A tool by its letter."""
        if key != "F" or self.spots.mode == "outline":
            self.try_to(lambda: self.tools.take(key, shift))
