"""Tools of the pattern board that take effect at once, or after one line of figures."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtGui import QGuiApplication

from shopguide.bolts import draft as drafting
from shopguide.bolts.order import find_order, read_order
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
    read_numbers,
    read_place,
    read_rectangle,
    spread_along,
    walk,
)
from shopguide.bolts.positions import read_pasted
from shopguide.errors import Trouble
from shopguide.window.light_table import XY

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard

MODES = {"O": "outline", "W": "walk", "S": "scale", "K": "corners", "X": "check", "I": "pin"}
"""Tools that stay in hand, by their keys."""
SHAPES: dict[str, tuple[str, Callable[[str], tuple]]] = {
    "C": ("Circle: how many, and its diameter in mm", read_circle),
    "R": ("Rectangle: width, height, how many along and up", read_rectangle),
    "G": ("Grid: columns, rows, step across and down", read_grid),
}


class PatternTools:
    """Each tool by its key; what cannot be done raises Trouble."""

    def __init__(self, board: PatternBoard) -> None:
        self._board = board

    def take(self, key: str, shift: bool) -> None:
        """Does what a key stands for."""
        board = self._board
        if key in MODES:
            board.stop()
            board.spots.begin(MODES[key])
            return
        if board.spots.mode == "outline" and key in "FP":
            board.spots.outline_through() if key == "F" else board.spots.ask_outline()
            return
        board.leave_mode()
        if key != "A":
            board.stop()
        if key in SHAPES:
            wanted, read = SHAPES[key]
            board.question.ask(wanted, read, lambda text: self._add_shape(text, read))
            return
        {
            "P": self._ask_place,
            "V": self.paste,
            "D": self._spread,
            "L": lambda: self._line_up(shift),
            "M": lambda: self._mirror("up-down" if shift else "left-right"),
            "N": lambda: self._renumber(not shift),
            "T": self._ask_order,
            "Y": self._compute,
            "J": self._ask_whom,
            "A": board.play,
            "B": board.file_wanted.emit,
            "E": board.side.describe,
            "Q": board.turn_snap,
            "Del": self.remove,
            "U": board.undo,
        }[key]()  # type: ignore[operator]

    # --- placing --------------------------------------------------------------------------

    def _ask_place(self) -> None:
        board = self._board
        board.question.ask(
            f"x and y of a new {board.draft.word} in mm",
            read_place,
            lambda text: board.add_at(read_place(text), exactly=True),
        )

    def _add_shape(self, text: str, read: Callable[[str], tuple]) -> None:
        shape, at = read(text)
        draft = drafting.add_shape(self._board.draft, shape, at)
        self._take_new(f"{type(shape).__name__.lower()} of {{}}", draft)

    def _take_new(self, what: str, draft: drafting.Draft, told: str = "") -> None:
        """A draft with further fasteners, which are chosen now."""
        before, now = len(self._board.draft.fasteners), len(draft.fasteners)
        self._board.apply(what.format(now - before), draft, range(before, now), told=told)

    def paste(self) -> None:
        """Takes x and y from a table on the clipboard."""
        board = self._board
        placed = read_pasted(QGuiApplication.clipboard().text())
        draft = drafting.take_table(board.draft, placed)
        numbers = {number for number, _, _ in placed}
        chosen = [k for k, f in enumerate(draft.fasteners) if f.number in numbers]
        new = len(draft.fasteners) - len(board.draft.fasteners)
        told = f"{len(placed)} taken from the table: {new} new"
        told += f", {len(placed) - new} moved to the table's place." if new < len(placed) else "."
        board.apply(f"paste of {len(placed)}", draft, chosen, told=told)

    def remove(self) -> None:
        """Removes the chosen fasteners."""
        board = self._board
        if not board.chosen:
            raise Trouble("None is chosen.", next="Tab or a click chooses one.")
        what = board.name_of(sorted(board.chosen))
        draft = drafting.remove(board.draft, sorted(board.chosen))
        board.apply(f"removal of {what}", draft, [], told=f"Removed: {what}.")

    # --- arranging ------------------------------------------------------------------------

    def _pick(self, least: int, all_else: bool = True) -> list[int]:
        """The chosen, or all where none is; Trouble where they are too few."""
        board = self._board
        if not board.chosen and not all_else:
            raise Trouble("None is chosen.", next="Choose those that are to stand in one line.")
        chosen = sorted(board.chosen) or list(range(len(board.draft.fasteners)))
        if len(chosen) < least:
            raise Trouble(
                f"{least} {board.draft.word}s or more are needed for that.",
                next="Choose them with Shift and a click, or by a drag on the ground.",
            )
        return chosen

    def _put(self, what: str, indices: Sequence[int], points: Sequence[XY]) -> None:
        board = self._board
        draft = drafting.put_points(board.draft, dict(zip(indices, points, strict=True)))
        board.apply(f"{what} of {board.name_of(indices)}", draft)

    def _line_up(self, other: bool) -> None:
        """In a row or a column, as they stand already; other: the other one."""
        indices = self._pick(2, all_else=False)
        points = [self._board.draft.points[k] for k in indices]
        axis = find_axis(points)
        if other:
            axis = "column" if axis == "row" else "row"
        self._put(axis, indices, align(points, axis))

    def _spread(self) -> None:
        board, outline = self._board, self._board.draft.outline
        if not board.chosen and outline:
            word = f"How many {board.draft.word}s evenly along the outline?"
            board.question.ask(word, _read_count, self._add_along)
            return
        if not board.chosen:
            raise Trouble("None is chosen.", next="Choose some, or trace an outline with O.")
        indices = self._pick(3)
        points = [board.draft.points[k] for k in indices]
        size = max(math.dist(points[0], p) for p in points)
        on_edge = outline and all(find_on_outline(outline, p)[2] <= 0.15 * size for p in points)
        self._put(
            "spread", indices, spread_along(points, outline) if on_edge else distribute(points)
        )

    def _add_along(self, text: str) -> None:
        board = self._board
        points = place_along(board.draft.outline, _read_count(text))
        self._take_new("{} along the outline", drafting.add_points(board.draft, points))

    def _mirror(self, sides: str) -> None:
        board, draft = self._board, self._board.draft
        indices = self._pick(1)
        middle = find_middle(draft.outline or draft.points)
        turned = mirror([draft.points[k] for k in indices], sides, middle)  # type: ignore[arg-type]
        if len(indices) == len(draft.fasteners):
            moved = drafting.put_points(draft, dict(zip(indices, turned, strict=True)))
            outline = mirror(draft.outline, sides, middle)  # type: ignore[arg-type]
            moved = drafting.set_outline(moved, outline)
            board.apply("mirror of all", moved, told="All of it is mirrored.")
            return
        fresh = [p for p in turned if not drafting.find_doubled(draft, p)]
        if not fresh:
            raise Trouble("On the other side there is one for each already.")
        self._take_new(
            f"mirror of {board.name_of(indices)}",
            drafting.add_points(draft, fresh),
            f"{len(fresh)} placed on the other side.",
        )

    # --- numbers and order ----------------------------------------------------------------

    def _renumber(self, clockwise: bool) -> None:
        board, draft = self._board, self._board.draft
        if len(draft.fasteners) < 2:
            raise Trouble("There is nothing to number yet.")
        sequence = walk(draft.points, draft.outline, min(board.chosen, default=0), clockwise)
        way = "clockwise" if clockwise else "counter-clockwise"
        # They are listed by their numbers now; the chosen stay the same ones.
        chosen = [sequence.index(k) for k in board.chosen]
        numbered = drafting.renumber(draft, sequence)
        board.apply(f"numbers {way}", numbered, chosen, told=f"Numbered {way}.")

    def _ask_order(self) -> None:
        board, draft = self._board, self._board.draft
        bare = drafting.make_pattern(drafting.set_order(draft, None))
        numbers = draft.order or find_order(bare).numbers

        def read(text: str) -> str:
            board.show_typed(text)
            read_order(text, bare)
            return "Every number stands there once."

        def take(text: str) -> None:
            order = read_order(text, bare)
            board.apply("the order", drafting.set_order(board.draft, order))

        whose = "The manual's order" if draft.order_by == "manual" else "Your own order"
        text = " ".join(str(n) for n in numbers)
        board.question.ask(f"{whose}, number by number", read, take, text)

    def _compute(self) -> None:
        draft = drafting.set_order(self._board.draft, None)
        self._board.apply("the computed order", draft, told="The order is computed.")

    def _ask_whom(self) -> None:
        """Chooses by their numbers."""
        board, fasteners = self._board, self._board.draft.fasteners
        if not fasteners:
            raise Trouble(f"There is no {board.draft.word} yet.")

        def find(text: str) -> frozenset[int]:
            wanted = read_numbers(text, [f.number for f in fasteners])
            return frozenset(k for k, f in enumerate(fasteners) if f.number in wanted)

        def read(text: str) -> str:
            return f"Enter chooses {board.draft.count(len(find(text)))}."

        def take(text: str) -> None:
            board.chosen = find(text)
            board.tell("")

        board.question.ask("Which ones? Their numbers, as 1-4 9 12", read, take)


def _read_count(text: str) -> int:
    plain = text.strip()
    if not (plain.isascii() and plain.isdigit() and len(plain) < 4):
        raise Trouble("How many is not there yet.", next="Write a whole number.")
    return int(plain)
