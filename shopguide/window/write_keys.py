"""The keys of Write in words, for the board that F1 opens."""

from __future__ import annotations

from shopguide.window.keys_board import KeyGroup

WRITE_KEYS = (
    KeyGroup(
        "Everywhere",
        (
            ("Ctrl S, Ctrl Shift S", "save, into another folder"),
            ("Ctrl Z, Ctrl Shift Z", "undo, redo"),
            ("Escape", "back to the list"),
            ("Ctrl B", "propose the putting back"),
            ("F7", "the step as Work will show it"),
            ("F8", "hand on: pack, print, compare"),
            ("F9", "go to the findings"),
            ("F2 F3 F4 F6", "Shelf, Lay out, Work, Sign off"),
            ("L in the list", "light, dark, bright sun"),
        ),
    ),
    KeyGroup(
        "In the findings",
        (
            ("Enter", "go to the place"),
            ("F", "do what is proposed"),
            ("H", "no such hints in this sheet"),
        ),
    ),
    KeyGroup(
        "In the list",
        (
            ("Enter", "write in what is chosen"),
            ("Insert", "add a step"),
            ("Shift Insert", "add a stage"),
            ("Del", "take it out"),
            ("Alt Up, Alt Down", "move it; the mouse drags it"),
            ("Ctrl D", "double it"),
            ("Ctrl J", "join it with the next"),
        ),
    ),
    KeyGroup(
        "On pictures and patterns",
        (
            ("Enter, Shift Enter", "add files, a whole folder"),
            ("Ctrl V, C", "paste what is copied, camera"),
            ("K", "keep place, serial number"),
            ("Ctrl M", "marks on the picture"),
            ("Ctrl E", "how evenly it will clamp"),
        ),
    ),
    KeyGroup(
        "On the card",
        (
            ("Tab, Shift Tab", "next field, the one before"),
            ("Ctrl Down, Ctrl Up", "past this task or picture"),
            ("Insert", "add a task or caution here"),
            ("Alt Up, Alt Down", "move it"),
            ("Ctrl D, Ctrl Del", "double it, take it out"),
            ("Ctrl J", "join the task with the next"),
            ("Ctrl Enter", "split the step before this task"),
            ("Page Down, Ctrl U", "take a name, its next use"),
        ),
    ),
    KeyGroup(
        "In a table",
        (
            ("Enter, or letters", "write in the cell"),
            ("Space", "the next of few words"),
            ("Insert, Ctrl Del", "add a row, take it out"),
            ("Alt Up, Alt Down", "move the row"),
            ("Shift, Ctrl C, Ctrl V", "choose, copy, paste cells"),
        ),
    ),
)
