"""The mouse on the pattern board: a click places, a drag moves, a drag on the ground chooses."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QMouseEvent

from shopguide.bolts import draft as drafting
from shopguide.bolts.draft import Draft
from shopguide.bolts.placing import Guide, Snapped, snap
from shopguide.window.light_table import XY

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard

SNAP_PX = 8.0


class PatternHand:
    """What is held: fasteners by where they stood, a corner of the outline, or a band."""

    def __init__(self, board: PatternBoard) -> None:
        self._board = board
        self._held: tuple[XY, dict[int, XY]] | None = None
        self._corner: tuple[int, Draft] | None = None
        self.rubber: tuple[XY, XY] | None = None
        self.snaps = True
        table = board.table
        table.presses, table.drags, table.releases = self._press, self._drag, self._release
        table.hovers = self._hover

    def let_go(self) -> None:
        """Nothing is held."""
        self._held = self._corner = self.rubber = None

    # --- where a thing comes to lie ---------------------------------------------------------

    def find_place(self, place: XY, held: dict[int, XY], at: XY, share: float = 1.0) -> Snapped:
        """Where what is at `at` in mm comes to lie; held: who moves with it and is no guide.

        place: the mouse, in pixels of the picture.  share: of the usual reach.
        """
        board, draft = self._board, self._board.draft
        others = [p for k, p in enumerate(draft.points) if k not in held]
        number = draft.fasteners[next(iter(held))].number if held else drafting.next_number(draft)
        # Angles are told from the fastener before it.
        pivot = next(
            (p for k, p in enumerate(draft.points)
             if k not in held and draft.fasteners[k].number == number - 1), None,
        )  # fmt: skip
        reach = share * SNAP_PX * board.factor * board.table.mm_a_screen_px(place)
        return snap(at, others, reach, draft.outline, pivot)

    def _find_held(self, place: XY, event: QMouseEvent) -> tuple[dict[int, XY], tuple[Guide, ...]]:
        """Where the held ones are now, and the guides that hold the first of them."""
        assert self._held is not None
        table = self._board.table
        start, held = self._held
        (x0, y0), (x, y) = table.to_mm(start), table.to_mm(place)
        first = next(iter(held))
        at = (held[first][0] + x - x0, held[first][1] + y - y0)
        guides: tuple[Guide, ...] = ()
        if self.snaps and not event.modifiers() & Qt.KeyboardModifier.AltModifier:
            found = self.find_place(place, held, at)
            at, guides = found.at, found.guides
        dx, dy = at[0] - held[first][0], at[1] - held[first][1]
        return {k: (px + dx, py + dy) for k, (px, py) in held.items()}, guides

    # --- the mouse ------------------------------------------------------------------------

    def _press(self, place: XY, event: QMouseEvent) -> None:
        board = self._board
        board.setFocus()
        board.stop()
        self.let_go()
        if board.question.asked is not None:
            board.leave_mode()
        if board.spots.mode:
            if board.spots.mode == "outline" and not board.spots.places:
                corner = board.table.corner_at(place)
                if corner is not None:
                    self._corner = (corner, board.draft)
            return
        index = board.table.fastener_at(place)
        if index is None:
            return
        if _is_shifted(event):
            board.chosen = board.chosen ^ {index}
        elif index not in board.chosen:
            board.chosen = frozenset({index})
        if index in board.chosen:
            # The one under the hand comes first: it is the one that snaps.
            held = [index, *sorted(board.chosen - {index})]
            self._held = (place, {k: board.draft.points[k] for k in held})
        board.log.end_merge()
        board.tell("")

    def _drag(self, place: XY, event: QMouseEvent) -> None:
        board = self._board
        if self._held is not None:
            board.table.show_moving(*self._find_held(place, event))
        elif self._corner is not None:
            index, before = self._corner
            outline = list(before.outline)
            outline[index] = board.table.to_mm(place)
            draft = drafting.set_outline(before, outline)
            board.apply("corner of the outline", draft, merge=f"corner {index}")
        elif not board.spots.mode:
            start = self.rubber[0] if self.rubber else board.table.pressed_at(event)
            self.rubber = (start, place)
            board.tell()

    def _release(self, place: XY, event: QMouseEvent) -> None:
        board = self._board
        held, corner, rubber = self._held, self._corner, self.rubber
        dragged, shifted = board.table.dragging, _is_shifted(event)
        if held is not None and dragged:
            moved, _ = self._find_held(place, event)
            self._held = None
            draft = drafting.put_points(board.draft, moved)
            board.apply(f"move of {board.name_of(list(moved))}", draft)
        elif rubber is not None:
            self._choose_in(rubber, shifted)
        elif corner is not None:
            board.log.end_merge()
        elif held is None and not dragged and not shifted:
            self._click(place)
        self.let_go()
        if held is not None and not dragged:
            if not shifted:
                board.chosen = frozenset({next(iter(held[1]))})
            board.tell()

    def _click(self, place: XY) -> None:
        board = self._board
        if board.spots.mode:
            board.spots.click(place)
            return
        at = board.table.to_mm(place)
        if self.snaps:
            at = self.find_place(place, {}, at, share=0.5).at
        board.add_at(at)

    def _choose_in(self, rubber: tuple[XY, XY], shifted: bool) -> None:
        board = self._board
        one, other = (board.table.to_screen(p) for p in rubber)
        box = QRectF(one, other).normalized()
        count = len(board.draft.fasteners)
        inside = {k for k in range(count) if box.contains(board.table.seat_of(k))}
        self.rubber = None
        board.chosen = frozenset(inside | (board.chosen if shifted else set()))
        board.tell(f"{board.draft.count(len(board.chosen))} chosen." if board.chosen else "")

    def _hover(self, place: XY) -> None:
        """Where a click would place one: the lines that would hold it."""
        board = self._board
        guides: tuple[Guide, ...] = ()
        free = not board.spots.mode and board.question.asked is None
        if free and self.snaps and board.table.fastener_at(place) is None:
            at = board.table.to_mm(place)
            if math.isfinite(at[0]) and math.isfinite(at[1]):
                guides = self.find_place(place, {}, at, share=0.5).guides
        board.table.show_guides(guides)


def _is_shifted(event: QMouseEvent) -> bool:
    return bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
