"""Places set one after another for a tool: an outline, a known distance, corners, a walk round."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from shopguide.bolts import draft as drafting
from shopguide.bolts.homography import (
    invert,
    map_point,
    pin_photo,
    set_scale,
    straighten,
)
from shopguide.bolts.placing import (
    MOST_CORNERS,
    pick_far_apart,
    read_length,
    read_outline,
    read_rectangle_size,
    snap,
    walk,
    write_outline,
)
from shopguide.errors import Trouble
from shopguide.window.light_table import XY
from shopguide.window.pattern_hand import SNAP_PX

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard

ON_PHOTO = ("scale", "corners", "check", "pin")
"""These have no sense on a blank board."""
MOST_PINS = 8
JOINED = {"outline": "open", "scale": "open", "check": "open"}
BEGIN = {
    "scale": "Set two places whose distance you know, as far apart as there are. Or choose two "
    "screws first.",
    "corners": "Set the four corners of a rectangle whose size you know, one after another. It "
    "must lie in the plane of the joint.",
    "check": "Set two places whose distance you know.",
    "walk": "Click them in the sequence of their numbers, or Tab and Space. Enter ends it.",
    "outline": "Click its corners one after another. One that is there already can be dragged.",
    "pin": "",
}


class PatternSpots:
    """mode: the tool that is in hand, "" for none.  places: set with it, in pixels of the picture.
    walked: who has been walked by, by their place in the draft.
    """

    def __init__(self, board: PatternBoard) -> None:
        self._board = board
        self.mode = ""
        self.places: tuple[XY, ...] = ()
        self.walked: tuple[int, ...] = ()
        self._pins: list[int] = []

    @property
    def joined(self) -> str:
        """How a line runs through the places: "open", "closed" or not."""
        if self.mode == "corners":
            return "closed" if len(self.places) == 4 else "open"
        return JOINED.get(self.mode, "")

    @property
    def due(self) -> int | None:
        """Who is to be shown on the photo next, by its place in the draft."""
        at = len(self.places)
        return self._pins[at] if self.mode == "pin" and at < len(self._pins) else None

    def begin(self, mode: str) -> None:
        """Takes the tool, or puts it away where it is in hand already. Raises Trouble."""
        board, draft = self._board, self._board.draft
        again = mode == self.mode
        board.leave_mode()
        if again:
            board.tell("")
            return
        if mode in ON_PHOTO and not draft.file:
            raise Trouble("A blank board is in mm already.")
        if mode == "check" and not draft.scaled:
            raise Trouble("The photo has no scale to check yet: S or K sets one.")
        if mode == "pin":
            if len(draft.fasteners) < 2:
                raise Trouble(
                    f"Two {draft.word}s or more are needed, whose places in mm are known.",
                    next="Place them by their figures first, or use S or K.",
                )
            picked = sorted(board.chosen) if len(board.chosen) > 1 else range(len(draft.points))
            far = pick_far_apart([draft.points[k] for k in picked], MOST_PINS)
            self._pins = [list(picked)[k] for k in far]
        chosen = sorted(board.chosen)
        self.mode = mode
        if mode in ("scale", "check") and len(chosen) == 2:
            back = invert(draft.to_mm)
            self.places = tuple(map_point(back, draft.points[k]) for k in chosen)
            self._ask_for_length()
            return
        if mode in ("walk", "pin"):
            board.chosen = frozenset()
        if mode != "walk" and board.table.pen is None:
            board.table.move_pen(0, 0)
        board.tell(self._tell_pin() if mode == "pin" else BEGIN[mode])

    def put_away(self) -> None:
        """No tool is in hand."""
        self.mode, self.places, self.walked, self._pins = "", (), (), []
        self._board.table.pen = None

    def step_back(self) -> None:
        """Without the place that was set last."""
        self.places, self.walked = self.places[:-1], self.walked[:-1]
        self._board.tell(self._tell_pin() if self.mode == "pin" else "")

    def press(self) -> None:
        """Space: at the cross hair, or by the chosen one."""
        table = self._board.table
        if self.mode == "walk":
            self._walk_by(min(self._board.chosen, default=None))
            return
        if table.pen is None:
            table.move_pen(0, 0)
        pen = table.pen
        assert pen is not None
        self._set((pen.x(), pen.y()))

    def click(self, place: XY) -> None:
        """The mouse, at a pixel of the picture."""
        if self.mode == "walk":
            self._walk_by(self._board.table.fastener_at(place))
        else:
            self._set(self._snap_corner(place) if self.mode == "outline" else place)

    def end(self) -> None:
        """Enter: the tool takes what has been set so far."""
        match self.mode:
            case "walk":
                self._end_walk()
            case "outline" if self.places:
                self._end_outline()
            case "pin" if self.places:
                self._end_pins()
            case _:
                self._board.leave_mode()
                self._board.tell("")

    def tell_step(self) -> str:
        """What Space does with the tool in hand."""
        count = len(self.places)
        match self.mode:
            case "corners":
                names = ("first", "second", "third", "fourth")
                return f"Space sets the {names[min(count, 3)]} corner of a rectangle you know"
            case "scale" | "check":
                return f"Space sets {'the other' if count else 'one'} end of a known distance"
            case "walk":
                return f"Space makes the chosen one number {len(self.walked) + 1}"
            case "pin" if self.due is not None:
                draft = self._board.draft
                return f"Space says where {draft.word} {draft.fasteners[self.due].number} is"
            case "outline" if count:
                return "Space sets the next corner, Enter ends the outline"
        return "Space sets a corner of the outline"

    # --- places ---------------------------------------------------------------------------

    def _set(self, place: XY) -> None:
        most = {"outline": MOST_CORNERS, "corners": 4, "pin": len(self._pins)}
        count = most.get(self.mode, 2)
        if len(self.places) < count:
            self.places = (*self.places, place)
        self._board.tell(self._tell_pin() if self.mode == "pin" else "")
        if len(self.places) < count:
            return
        if self.mode == "corners":
            self._board.question.ask(
                "Width and height of the rectangle in mm", read_rectangle_size, self._take_corners
            )
        elif self.mode == "pin":
            self._end_pins()
        elif self.mode != "outline":
            self._ask_for_length()

    def _ask_for_length(self) -> None:
        board = self._board
        one, other = (board.table.to_mm(place) for place in self.places)
        now = math.dist(one, other)
        board.tell("")
        if self.mode == "check":
            board.question.ask(
                f"It measures {now:.1f} mm here. How long is it really?",
                read_length,
                lambda text: self._check(now, read_length(text)),
            )
        else:
            board.question.ask("How long is that in mm?", read_length, self._take_scale)

    def _take_scale(self, text: str) -> None:
        board, draft = self._board, self._board.draft
        before = draft.to_mm if draft.scaled else None
        one, other = self.places
        mapping = set_scale(one, other, read_length(text), board.ground.middle, before)
        scaled = drafting.set_mapping(draft, mapping)
        board.leave_mode()
        said = "The scale is set. X checks it by another distance."
        if draft.in_mm and draft.fasteners:
            said = (
                f"The scale is set; the {draft.word}s keep their places in mm. I lays the photo "
                "under them."
            )
        board.apply("the scale", scaled, told=said)

    def _take_corners(self, text: str) -> None:
        board = self._board
        wide, high = read_rectangle_size(text)
        found = straighten(self.places, wide, high, board.ground.middle)
        draft = drafting.set_mapping(board.draft, found.to_mm)
        said = (
            f"Residual {found.worst_mm:.2f} mm, as four corners always fit; without straightening "
            f"{found.by_scale_mm:.1f} mm."
        )
        if found.ratio is not None:
            off = abs(found.ratio / (wide / high) - 1)
            said += f" The photo tells {found.ratio:.2f} to 1, you wrote {wide / high:.2f}" + (
                ": look at the corners and the size again." if off > 0.1 else "."
            )
        board.leave_mode()
        board.apply("the straightening", draft, told=said + " X checks.")

    def _check(self, now_mm: float, really_mm: float) -> None:
        if really_mm <= 0:
            raise Trouble("That is no distance.", next="Write it in mm, as 120.")
        off = now_mm - really_mm
        self._board.leave_mode()
        self._board.tell(
            f"Residual {abs(off):.1f} mm, {abs(off) / really_mm:.1%}: it measures {now_mm:.1f} mm "
            f"and is {really_mm:g} mm."
        )

    # --- the photo laid under known places ----------------------------------------------------

    def _tell_pin(self) -> str:
        if self.due is None:
            return ""
        draft, count = self._board.draft, len(self.places)
        said = f"Show on the photo where {draft.word} {draft.fasteners[self.due].number} is."
        if count < 2:
            return said
        why = "four or more straighten the photo too" if count < 4 else "more make it surer"
        return f"{said} Enter ends it; {why}."

    def _end_pins(self) -> None:
        board, draft = self._board, self._board.draft
        pairs = [
            (place, draft.points[k]) for place, k in zip(self.places, self._pins, strict=False)
        ]
        if len(pairs) < 2:
            board.tell("Two are needed at least. " + self._tell_pin())
            return
        found = pin_photo(pairs)
        known = drafting.keep_in_mm(draft)
        most = max(range(len(pairs)), key=lambda k: found.misses_mm[k])
        worst = draft.fasteners[self._pins[most]]
        said = f"The photo lies under the {draft.word}s. Residual {max(found.misses_mm):.2f} mm"
        said += (
            f", at {draft.word} {worst.number}."
            if len(pairs) not in (2, 4)
            else f": {len(pairs)} always fit. X checks by a distance."
        )
        board.leave_mode()
        board.apply("the photo's place", drafting.set_mapping(known, found.to_mm), told=said)

    # --- the outline ----------------------------------------------------------------------

    def _snap_corner(self, place: XY) -> XY:
        """A corner clicked near a fastener's place, or nearly at an angle, is meant so."""
        board = self._board
        if not board.hand.snaps:
            return place
        at = board.table.to_mm(place)
        before = board.table.to_mm(self.places[-1]) if self.places else None
        reach = SNAP_PX * board.factor * board.table.mm_a_screen_px(place) / 2
        near = min(board.draft.points, key=lambda p: math.dist(p, at), default=None)
        if near is not None and math.dist(near, at) <= 2 * reach:
            found = near
        else:
            found = snap(at, [], reach, (), before).at
        return map_point(invert(board.draft.to_mm), found)

    def _end_outline(self) -> None:
        board = self._board
        if len(self.places) < 3:
            board.tell("An outline needs at least three corners.")
            return
        corners = [board.table.to_mm(place) for place in self.places]
        draft = drafting.set_outline(board.draft, corners)
        board.leave_mode()
        board.apply("the outline", draft, told="The outline is drawn. D places along it.")

    def outline_through(self) -> None:
        """The outline through the fasteners, one after another round."""
        board, points = self._board, self._board.draft.points
        if len(points) < 3:
            raise Trouble("An outline needs at least three corners.")
        sequence = walk(points, [], min(board.chosen, default=0))
        draft = drafting.set_outline(board.draft, [points[k] for k in sequence], exactly=True)
        board.leave_mode()
        board.apply("the outline", draft, told="The outline goes through them.")

    def ask_outline(self) -> None:
        """Its corners by their figures."""
        board = self._board

        def take(text: str) -> None:
            draft = drafting.set_outline(board.draft, read_outline(text), exactly=True)
            board.apply("the outline", draft)

        text = write_outline(board.draft.outline)
        board.leave_mode()
        board.question.ask("Corners of the outline: x y; x y; … in mm", _tell_corners, take, text)

    # --- walking round --------------------------------------------------------------------

    def _walk_by(self, index: int | None) -> None:
        board = self._board
        if index is None or index in self.walked:
            return
        self.walked = (*self.walked, index)
        board.chosen = frozenset()
        if len(self.walked) == len(board.draft.fasteners):
            self._end_walk()
        else:
            board.tell("")

    def _end_walk(self) -> None:
        board, sequence = self._board, self.walked
        board.leave_mode()
        if sequence:
            draft = drafting.renumber(board.draft, sequence)
            board.apply("numbers by walking round", draft, [], told="Numbered as you walked.")
        else:
            board.tell("")


def _tell_corners(text: str) -> str:
    count = len(read_outline(text))
    return f"Enter takes {count} corners." if count else "Enter takes the outline away."
