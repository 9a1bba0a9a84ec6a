"""The words of the pattern board: its heading, its caption, and the tools that are of use now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopguide.bolts.draft import Draft
from shopguide.bolts.homography import size_of_pixel_mm
from shopguide.bolts.order import Order
from shopguide.window.keys_board import KeyGroup
from shopguide.window.pattern_keys import FAR_MM, FINE_MM, STEP_MM

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard
    from shopguide.window.tool_rows import Row

MOST_NUMBERS = 20
USING = {"outline": "O", "scale": "S", "corners": "K", "check": "X", "walk": "W", "pin": "I"}
"""The key of the tool that is in hand."""
PATTERN_KEYS = (
    KeyGroup(
        "Placing",
        (
            ("Insert", "place one at the cross hair"),
            ("P", "by x and y"),
            ("C, R, G", "circle, rectangle, grid"),
            ("V", "paste a table of x and y"),
            ("O", "trace the outline"),
            ("D, nothing chosen", "so many along the outline"),
        ),
    ),
    KeyGroup(
        "Choosing and moving",
        (
            ("Tab, Shift Tab", "the next, the one before"),
            ("J, Ctrl A", "by numbers, all"),
            ("Arrow keys", "move it, or the cross hair"),
            ("Shift, Ctrl arrows", "ten times as far, a tenth"),
            ("L, D", "in line, spread evenly"),
            ("M, Shift M", "mirror left-right, up-down"),
            ("E", "describe what is chosen"),
            ("Del", "remove"),
        ),
    ),
    KeyGroup(
        "Numbers and order",
        (
            ("N, Shift N", "number round, the other way"),
            ("W", "walk round and number"),
            ("T, Y", "type the order, compute it"),
            ("A", "play the order"),
        ),
    ),
    KeyGroup(
        "The photo",
        (
            ("B", "take one from a file"),
            ("S", "scale by a known distance"),
            ("K", "straighten by four corners"),
            ("X", "check a distance"),
            ("I", "lay it under the places"),
            ("+ − 0", "nearer, farther, all of it"),
            ("Ctrl Shift arrows", "move the view"),
        ),
    ),
    KeyGroup(
        "The board",
        (
            ("U, Ctrl Z", "undo"),
            ("Ctrl Shift Z", "redo"),
            ("Q", "snap into line, or not"),
            ("Space", "keep the pattern"),
            ("Escape", "one step back, then leave"),
        ),
    ),
)
BACK, END, LEAVE = ("Bksp", "one back"), ("Enter", "ends it"), ("Esc", "leaves it")


def tell_heading(board: PatternBoard) -> str:
    """Who is described at the right: the joint, one fastener or several."""
    draft = board.draft
    if len(board.chosen) == 1:
        word = draft.word[:1].upper() + draft.word[1:]
        return f"{word} {draft.fasteners[min(board.chosen)].number}"
    return f"{draft.count(len(board.chosen))} chosen" if board.chosen else "The joint"


def tell_state(board: PatternBoard) -> str:
    """How many there are, and the scale of the photo."""
    draft = board.draft
    count = len(draft.fasteners)
    parts = [draft.count(count) if count else f"no {draft.word}s yet"]
    if draft.file and draft.scaled:
        size = size_of_pixel_mm(draft.to_mm, board.ground.middle)
        parts.append(f"{size:.2g} mm a pixel")
    elif draft.file:
        parts.append("no scale yet: S or K")
    return " · ".join(parts)


def tell_order(order: Order | None, played: int | None, draft: Draft) -> str:
    """The caption under the drawing: whose order it is, and how it begins."""
    if order is None:
        return "No order yet." if draft.fasteners else ""
    if not order.numbers:
        return "Nothing here is to be tightened."
    said = order.tell()
    numbers = " ".join(str(n) for n in order.numbers[:MOST_NUMBERS])
    if len(order.numbers) > MOST_NUMBERS:
        numbers += " …"
    if played is not None and played <= len(order.numbers):
        place = f"place {played} of {len(order.numbers)}"
        numbers = f"{draft.word} {order.numbers[played - 1]}, {place}"
    return f"{said[:1].upper()}{said[1:]}: {numbers}"


def tell_arrows(board: PatternBoard) -> str:
    """How far the arrow keys move what is chosen: in pixels of a photo whose scale is a guess."""
    draft, steps = board.draft, (STEP_MM, FAR_MM, FINE_MM)
    unit = "mm"
    if draft.file and not draft.scaled and not draft.in_mm:
        size = size_of_pixel_mm(draft.to_mm, board.ground.middle)
        steps, unit = tuple(step / size for step in steps), "pixels"  # type: ignore[assignment]
    one, far, fine = (f"{float(f'{step:.2g}'):g}" for step in steps)
    return f"arrow keys move {one} {unit}, Shift {far}, Ctrl {fine}"


def list_tools(board: PatternBoard) -> list[Row]:
    """The tools that are of use now, in at most three groups."""
    if board.question.asked is not None:
        return [("answer", (("Enter", "takes it"), LEAVE))]
    if board.spots.mode:
        return [_list_in_hand(board)]
    rows = [_list_chosen() if board.chosen else _list_placing(board)]
    if board.draft.fasteners:
        playing = "stop" if board.is_playing else "play"
        rows.append(
            ("order", (("T", "type"), ("Y", "compute"), ("A", playing), ("N", "number round"),
                       ("W", "walk round"), ("J", "choose"))),
        )  # fmt: skip
    rows.append(_list_board(board))
    return rows


def _list_in_hand(board: PatternBoard) -> Row:
    mode, set_yet = board.spots.mode, bool(board.spots.places or board.spots.walked)
    tools: list[tuple[str, str]] = []
    if mode == "outline":
        tools += [("P", "type corners"), ("F", f"through the {board.draft.word}s")]
    if set_yet:
        tools.append(BACK)
    if mode in ("outline", "walk", "pin") and set_yet:
        tools.append(END)
    names = {"corners": "straighten", "pin": "lay photo", "walk": "walk round"}
    return (names.get(mode, mode), (*tools, LEAVE))


def _list_placing(board: PatternBoard) -> Row:
    tools = [("P", "x, y"), ("C", "circle"), ("R", "rectangle"), ("G", "grid"), ("V", "paste")]
    tools.append(("O", "outline"))
    if board.draft.outline:
        tools.append(("D", "along it"))
    if board.draft.fasteners:
        tools.append(("M", "mirror"))
    return ("place", tuple(tools))


def _list_chosen() -> Row:
    return (
        "chosen",
        (("E", "describe"), ("L", "in line"), ("D", "spread"), ("M", "mirror"), ("Del", "remove"),
         ("Esc", "none")),
    )  # fmt: skip


def _list_board(board: PatternBoard) -> Row:
    tools = [("B", "photo")]
    if board.draft.file:
        tools += [("S", "scale"), ("K", "straighten")]
        if board.draft.scaled:
            tools.append(("X", "check"))
        if board.draft.in_mm and len(board.draft.fasteners) > 1:
            tools.append(("I", "lay under"))
    if not board.chosen:
        tools.append(("E", "describe"))
    tools.append(("Q", "snap off" if board.hand.snaps else "snap on"))
    if board.log.done:
        tools.append(("U", "undo"))
    return ("board", tuple(tools))
