"""The words of the pattern board: its heading, its caption, and the tools that are of use now."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopguide.bolts.draft import Draft
from shopguide.bolts.homography import size_of_pixel_mm
from shopguide.bolts.order import Order

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard
    from shopguide.window.tool_rows import Row

MOST_NUMBERS = 20
USING = {"outline": "O", "scale": "S", "corners": "K", "check": "X", "walk": "W", "pin": "I"}
"""The key of the tool that is in hand."""
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
