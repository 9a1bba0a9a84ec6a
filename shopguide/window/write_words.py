"""What the bar says in Write: what Enter does where the keys go now, and the other keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QApplication, QWidget

from shopguide.window.write_action import WriteAction
from shopguide.window.write_choice import WriteChoice
from shopguide.window.write_text import WriteText

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


def tell_focus(place: WritePlace) -> tuple[str, str]:
    """What Enter does where the keys go now, and the other keys."""
    widget = QApplication.focusWidget()
    if widget is place.findings:
        return _say_finding(place)
    if widget is place.table or (place.table.isAncestorOf(widget) if widget else False):
        if place.table.writes:
            return (
                "Enter keeps what is written in the cell",
                "Shift Enter begins a new line   Escape leaves it as it was",
            )
        block = place.table.choice.block
        if block.several:
            high, wide = block.bottom - block.top + 1, block.right - block.left + 1
            rows = "   Ctrl Del removes the rows" if place.table.choice.whole_rows else ""
            said = f"{high} row{'s' if high > 1 else ''}" if rows else f"{high * wide} cells"
            return f"Ctrl C copies {said}", f"Ctrl V writes over them   Del empties them{rows}"
        if place.table.cell[0] >= len(place.table.rows.entries):
            return "Write to begin a new row", "Ctrl V pastes rows   Escape back"
        if not place.table.rows.columns[place.table.cell[1]].keys:
            return "Enter goes to where it is used", "Ctrl U the next use   Escape back"
        uses = "Ctrl U its uses   " if place.path[0] in ("specs", "fluids") else ""
        few = bool(place.table.rows.columns[place.table.cell[1]].choices)
        return (
            "Space takes the next word, or write" if few else "Write, or Enter to change this cell",
            f"Insert row   Ctrl Del removes   Shift chooses more   {uses}Escape",
        )
    if widget is not None and place.card.isAncestorOf(widget):
        return _say_card(place, widget)
    row = place.outline.row
    everywhere = "B put back   F7 as in Work   F8 hand on   F9 findings   F1 keys"
    keys = f"Insert adds   Del takes it out   {everywhere}   Ctrl S saves"
    if row is None or row.sort == "section":
        word = row.title if row else ""
        return f"Enter writes in: {word}", f"{everywhere}   Ctrl S saves"
    if row.sort == "stage":
        return f"Enter names the stage: {row.title}", keys
    return f"Enter writes in step {row.number}: {row.title}", keys


def _say_finding(place: WritePlace) -> tuple[str, str]:
    remark = place.findings.remark
    if remark is None:
        return "Nothing found", "Escape back"
    keys = ["Escape back"]
    if remark.severity == "hint":
        keys.insert(0, "H no such hints in this sheet")
    if remark.fix is not None:
        keys.insert(0, f"F {remark.fix.says[:60]}")
    return f"Enter goes to: {remark.where or 'the sheet'}", "   ".join(keys)


def _say_card(place: WritePlace, widget: QWidget) -> tuple[str, str]:
    block = place.card.find_block(widget)
    keys = "Tab goes on   Ctrl Down past this   Escape to the list"
    if block is not None and block.path[-2] == "tasks":
        keys = "Ctrl Down past it   Insert adds a task   Ctrl Del removes   Alt Up, Down move"
    elif block is not None and block.path[-2] == "photos":
        keys = "Ctrl M marks on the picture   Ctrl Del removes   Escape to the list"
    elif block is not None:
        keys = "Ctrl Del removes   Alt Up, Down move   Escape"
    line = place.card.find_line(widget)
    if line is not None and line.field.names:
        keys = "Page Down takes a name   Ctrl U its next use   Escape to the list"
    if place.pattern_in_use() is not None and isinstance(widget, WriteAction):
        return (
            f"Enter opens: {widget.text}",
            "Ctrl E evenness   Ctrl Del removes   Escape to the list",
        )
    if place.wish_in_use() == "add photos":
        notes = "K leaves notes out" if place.photos.keeps_notes else "K keeps notes"
        return "Enter: add pictures", f"C camera   Shift Enter a folder   Ctrl V pastes   {notes}"
    if isinstance(widget, WriteAction):
        return widget.does, "Escape to the list"
    if isinstance(widget, WriteChoice):
        word = line.field.word if line is not None else "it"
        return f"Left and Right choose: {word}", keys
    if isinstance(widget, WriteText) and widget.lines:
        return "Enter begins a new line, Tab goes on", keys.removeprefix("Tab goes on   ")
    if isinstance(widget, WriteText) and widget.breaks:
        return "Enter keeps this and goes on, Shift Enter begins a new line", keys
    return "Enter keeps this and goes on", keys
