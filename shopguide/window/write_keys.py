"""The keys of Write: what each does where the keys go now, and their words for the board of F1."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from shopguide.window.keys_board import KeyGroup

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace

Deeds = Mapping[tuple[Qt.Key, Qt.KeyboardModifier], Callable[["WritePlace"], object]]

_PLAIN = Qt.KeyboardModifier.NoModifier
_CTRL, _SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
_ALT = Qt.KeyboardModifier.AltModifier
_MEANT = _CTRL | _SHIFT | _ALT
"""A keypad's keys are the same keys."""

EVERYWHERE: Deeds = {
    (Qt.Key.Key_Z, _CTRL): lambda place: place.undo(),
    (Qt.Key.Key_Z, _CTRL | _SHIFT): lambda place: place.redo(),
    (Qt.Key.Key_Y, _CTRL): lambda place: place.redo(),
    (Qt.Key.Key_S, _CTRL): lambda place: place.save(),
    (Qt.Key.Key_S, _CTRL | _SHIFT): lambda place: place.save_as(),
    (Qt.Key.Key_D, _CTRL): lambda place: place.steps.duplicate(),
    (Qt.Key.Key_J, _CTRL): lambda place: place.steps.join(),
    (Qt.Key.Key_U, _CTRL): lambda place: place.go_to_use(),
    (Qt.Key.Key_M, _CTRL): lambda place: place.marks.open_in_use(),
    (Qt.Key.Key_B, _CTRL): lambda place: place.putting_back.propose(),
    (Qt.Key.Key_B, _PLAIN): lambda place: place.putting_back.propose(),
    (Qt.Key.Key_F1, _PLAIN): lambda place: place.show_keys(),
    (Qt.Key.Key_F7, _PLAIN): lambda place: place.preview.open(),
    (Qt.Key.Key_F8, _PLAIN): lambda place: place.sharing.open(),
    (Qt.Key.Key_F9, _PLAIN): lambda place: place.review.begin(),
    (Qt.Key.Key_Up, _ALT): lambda place: place.steps.move(-1),
    (Qt.Key.Key_Down, _ALT): lambda place: place.steps.move(1),
    (Qt.Key.Key_Insert, _PLAIN): lambda place: place.steps.add_step(),
    (Qt.Key.Key_Insert, _SHIFT): lambda place: place.steps.add_stage(),
    (Qt.Key.Key_Escape, _PLAIN): lambda place: place.go_back(),
}
ON_CARD: Deeds = {
    (Qt.Key.Key_Up, _CTRL): lambda place: place.card.skip(-1),
    (Qt.Key.Key_Down, _CTRL): lambda place: place.card.skip(1),
}
IN_STEP: Deeds = {
    (Qt.Key.Key_V, _CTRL): lambda place: place.photos.paste(),
}
AT_PHOTOS: Deeds = {
    (Qt.Key.Key_Return, _SHIFT): lambda place: place.photos.add_folder(),
    (Qt.Key.Key_Enter, _SHIFT): lambda place: place.photos.add_folder(),
    (Qt.Key.Key_C, _PLAIN): lambda place: place.camera.open(),
    (Qt.Key.Key_K, _PLAIN): lambda place: place.photos.change_notes(),
}
AT_PATTERN: Deeds = {
    (Qt.Key.Key_Delete, _CTRL): lambda place: place.patterns.remove(place.pattern_in_use()),
    (Qt.Key.Key_E, _CTRL): lambda place: place.patterns.forecast(place.pattern_in_use()),
}
IN_LIST: Deeds = {
    (Qt.Key.Key_Delete, _PLAIN): lambda place: place.steps.remove(),
    (Qt.Key.Key_Escape, _PLAIN): lambda place: place.escape(),
}


def press_key(place: WritePlace, event: QKeyEvent) -> bool:
    """Does what a key means where the keys go now; False where it means nothing here."""
    pressed = Qt.Key(event.key()), event.modifiers() & _MEANT
    for deeds in _list_deeds(place):
        if pressed in deeds:
            deeds[pressed](place)
            return True
    return False


def _list_deeds(place: WritePlace) -> list[Deeds]:
    """What holds where the keys go now, the narrower first."""
    found: list[Deeds] = []
    if place.wish_in_use() == "add photos":
        found.append(AT_PHOTOS)
    if place.pattern_in_use() is not None:
        found.append(AT_PATTERN)
    if len(place.path) == 4:
        found.append(IN_STEP)
    if not place.shows_table:
        found.append(ON_CARD)
    if place.outline.hasFocus():
        found.append(IN_LIST)
    return [*found, EVERYWHERE]


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
