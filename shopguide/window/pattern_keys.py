"""The keys of the pattern board: arrows, what stands beside the letters, and the letters."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from shopguide.bolts import draft as drafting
from shopguide.bolts.homography import invert, map_point
from shopguide.window.light_table import XY

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard

LETTERS = frozenset("PCRGVODLMNWTYASKXIBJEQUF")
STEP_MM, FAR_MM, FINE_MM = 1.0, 10.0, 0.1
ARROWS: dict[int, tuple[int, int]] = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
}


class PatternKeys:
    """Gets the keys that no line to type in has taken."""

    def __init__(self, board: PatternBoard) -> None:
        self._board = board

    def take(self, event: QKeyEvent) -> bool:
        """True where the key was one of the board's."""
        key, more = event.key(), event.modifiers()
        control = bool(more & Qt.KeyboardModifier.ControlModifier)
        if self._board.panel.in_use and not control:
            return True  # no word to choose begins with it
        shift = bool(more & Qt.KeyboardModifier.ShiftModifier)
        set_yet = self._board.spots.places or self._board.spots.walked
        if key in ARROWS and control and shift:
            dx, dy = ARROWS[key]
            self._board.table.pan(-60 * dx, -60 * dy)
        elif key in ARROWS:
            self._nudge(*ARROWS[key], FAR_MM if shift else FINE_MM if control else STEP_MM)
        elif control:
            return self._take_control(key, shift)
        elif key == Qt.Key.Key_Backspace and set_yet:
            self._board.spots.step_back()
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._board.try_to(self._board.tools.remove)
        elif key == Qt.Key.Key_Insert:
            self._add_at_pen()
        elif key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._board.table.zoom(1.25)
        elif key == Qt.Key.Key_Minus:
            self._board.table.zoom(0.8)
        elif key == Qt.Key.Key_0:
            self._board.table.fit()
        elif key == Qt.Key.Key_F1:
            self._board.keys_wanted.emit()
        elif event.text().upper() in LETTERS and event.text():
            self._board.take_tool(event.text().upper(), shift)
        else:
            return False
        return True

    def _take_control(self, key: int, shift: bool) -> bool:
        if key == Qt.Key.Key_Z:
            self._board.redo() if shift else self._board.undo()
        elif key == Qt.Key.Key_Y:
            self._board.redo()
        elif key == Qt.Key.Key_A:
            self._board.chosen = frozenset(range(len(self._board.draft.fasteners)))
            self._board.tell("")
        elif key == Qt.Key.Key_V:
            self._board.try_to(self._board.tools.paste)
        else:
            return False
        return True

    def choose_next(self, step: int) -> None:
        """The next by number; while walking round, the next that was not walked by."""
        by_number = sorted(
            (
                k
                for k in range(len(self._board.draft.fasteners))
                if k not in self._board.spots.walked
            ),
            key=lambda k: self._board.draft.fasteners[k].number,
        )
        if not by_number:
            return
        if len(self._board.chosen) == 1 and min(self._board.chosen) in by_number:
            at = by_number.index(min(self._board.chosen)) + step
        else:
            at = 0 if step > 0 else -1
        self._board.chosen = frozenset({by_number[at % len(by_number)]})
        self._board.log.end_merge()
        self._board.tell("")

    def _add_at_pen(self) -> None:
        if self._board.table.pen is None:
            self._board.table.move_pen(0, 0)
        pen = self._board.table.pen
        assert pen is not None
        self._board.add_at(self._board.table.to_mm((pen.x(), pen.y())))
        self._board.chosen = frozenset()
        self._board.tell()

    def _nudge(self, dx: int, dy: int, step_mm: float) -> None:
        """Moves the chosen, or the cross hair, the way the arrow points on the screen."""
        place = self._find_nudged()
        mm_px = self._board.table.mm_a_screen_px(place) * self._board.table.scale
        if self._board.spots.mode or not self._board.chosen:
            self._board.table.move_pen(dx * step_mm / mm_px, dy * step_mm / mm_px)
            return
        x, y = self._board.table.to_mm(place)
        ahead = self._board.table.to_mm((place[0] + dx / self._board.table.scale,
                                  place[1] + dy / self._board.table.scale))  # fmt: skip
        # Along the axis of the joint that lies nearest to the arrow.
        across, up = ahead[0] - x, ahead[1] - y
        if abs(across) >= abs(up):
            move = (math.copysign(step_mm, across), 0.0)
        else:
            move = (0.0, math.copysign(step_mm, up))
        indices = sorted(self._board.chosen)
        points = [self._board.draft.points[k] for k in indices]
        draft = drafting.put_points(
            self._board.draft,
            {k: (p[0] + move[0], p[1] + move[1]) for k, p in zip(indices, points, strict=True)},
        )
        self._board.apply(
            f"move of {self._board.name_of(indices)}", draft, merge=f"nudge {indices}"
        )

    def _find_nudged(self) -> XY:
        if self._board.spots.mode or not self._board.chosen:
            pen = self._board.table.pen or self._board.table.to_picture(
                self._board.table.rect().center().toPointF()
            )
            return (pen.x(), pen.y())
        return map_point(
            invert(self._board.draft.to_mm), self._board.draft.points[min(self._board.chosen)]
        )
