"""Several cells of a table at once: chosen with Shift, copied, written over, emptied."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import Qt

from shopguide.errors import Trouble
from shopguide.job.edits import Edit, SetValue, Together
from shopguide.job.tables import COLUMNS
from shopguide.job.written import FixedDict, FixedList, clean_signs
from shopguide.window.write_edits import type_in_cell
from shopguide.window.write_fields import TABLES
from shopguide.window.write_renaming import name_entry

if TYPE_CHECKING:
    from shopguide.window.write_table import WriteTable

MOST_CELLS = 2_000
"""So many cells are filled within a blink; whole rows may be many more."""
WAYS = {
    Qt.Key.Key_Up: (-1, 0),
    Qt.Key.Key_Down: (1, 0),
    Qt.Key.Key_Left: (0, -1),
    Qt.Key.Key_Right: (0, 1),
}


class Block(NamedTuple):
    """The cells from one corner to the other, both in it."""

    top: int
    left: int
    bottom: int
    right: int

    def holds(self, row: int, column: int) -> bool:
        """True where a cell is one of them."""
        return self.top <= row <= self.bottom and self.left <= column <= self.right

    @property
    def several(self) -> bool:
        """True where it is more than one cell."""
        return (self.top, self.left) != (self.bottom, self.right)


class CellChoice:
    """Which cells of a table are chosen: the current one, and with Shift those up to it."""

    def __init__(self, table: WriteTable) -> None:
        self._table = table
        self._anchor: tuple[int, int] | None = None

    @property
    def block(self) -> Block:
        """What is chosen."""
        row, column = self._table.cell
        anchor = self._anchor or (row, column)
        return Block(
            min(anchor[0], row), min(anchor[1], column), max(anchor[0], row), max(anchor[1], column)
        )

    @property
    def whole_rows(self) -> bool:
        """True where all columns are in it."""
        block = self.block
        return block.several and block.right - block.left + 1 == len(self._table.rows.columns)

    def end(self) -> None:
        """Only the current cell is chosen."""
        if self._anchor is not None:
            self._anchor = None
            self._table.viewport().update()

    def stretch(self, key: Qt.Key) -> None:
        """Shift and an arrow: one row or column more, or less."""
        row, column = self._table.cell
        by_row, by_column = WAYS[key]
        if self._anchor is None:
            self._anchor = (row, column)
        self._go_to(row + by_row, column + by_column)

    def stretch_to(self, row: int, column: int) -> None:
        """A click with Shift: everything up to this cell."""
        if self._anchor is None:
            self._anchor = self._table.cell
        self._go_to(row, column)

    def take_rows(self) -> None:
        """Shift and Space: the rows of the chosen cells, whole."""
        block = self.block
        self._anchor = (block.top, 0)
        self._go_to(block.bottom, len(self._table.rows.columns) - 1)

    def take_all(self) -> None:
        """Ctrl A: every row."""
        self._anchor = (0, 0)
        last = max(0, len(self._table.rows.entries) - 1)
        self._go_to(last, len(self._table.rows.columns) - 1)

    def _go_to(self, row: int, column: int) -> None:
        table = self._table
        last = max(0, len(table.rows.entries) - 1)
        row = min(max(row, 0), last)
        column = min(max(column, 0), len(table.rows.columns) - 1)
        anchor = self._anchor
        table.setCurrentIndex(table.rows.index(row, column))
        self._anchor = anchor
        table.viewport().update()
        table.came.emit()

    def copy(self) -> str:
        """What is chosen as a spreadsheet takes it; whole rows with the words over the columns."""
        block, rows = self.block, self._table.rows
        if not block.several:
            return rows.written(block.top, block.left)
        columns = list(range(block.left, block.right + 1))
        out = io.StringIO()
        writer = csv.writer(out, delimiter="\t", lineterminator="\n")
        if self.whole_rows:
            columns = [column for column in columns if rows.columns[column].keys]
            writer.writerow(rows.columns[column].word for column in columns)
        for row in range(block.top, min(block.bottom, len(rows.entries) - 1) + 1):
            writer.writerow(rows.written(row, column) for column in columns)
        return out.getvalue()


def split_cells(text: str) -> list[list[str]]:
    """Copied cells, row by row; a cell of several lines stands in quotation marks."""
    tidy = clean_signs(text).replace("\r\n", "\n").replace("\r", "\n").strip("\n")
    try:
        found = list(csv.reader(io.StringIO(tidy, newline=""), delimiter="\t", strict=True))
    except csv.Error:
        # A lone quotation mark stands for inches.
        found = [line.split("\t") for line in tidy.split("\n")]
    return [cells or [""] for cells in found or [[""]]]


def names_columns(cells: Sequence[str], section: str) -> bool:
    """True where a first line is the words over the columns."""
    words = {column.word for column in TABLES[section]} | set(COLUMNS.get(section, ()))
    filled = [cell.strip().casefold() for cell in cells if cell.strip()]
    known = [cell for cell in filled if cell in words]
    return TABLES[section][0].word in known and 2 * len(known) > len(filled)


def fill_cells(
    data: FixedDict, section: str, block: Block, cells: Sequence[Sequence[str]], said: str = ""
) -> Edit:
    """The edit that writes cells from the upper left corner of a block on, over what is there.

    One cell alone fills the block. Under the last row new ones begin. Cells beyond the last column
    and under a column that cannot be written in are left out.
    Raises Trouble where they are too many.
    """
    if len(cells) == 1 and len(cells[0]) == 1:
        width, height = block.right - block.left + 1, block.bottom - block.top + 1
        cells = [[cells[0][0]] * width] * height
    count = sum(len(row) for row in cells)
    if count > MOST_CELLS:
        raise Trouble(
            f"These are {count:,} cells; at most {MOST_CELLS:,} are written over at once.",
            next="Paste a part of them, or whole rows in the first column.",
        )
    held = data.get(section)
    before = held if isinstance(held, FixedList) else FixedList()
    columns = TABLES[section]
    named: list[Edit] = []
    now = data
    entries = list(before)
    for index, row in enumerate(cells):
        at = block.top + index
        entry = entries[at] if at < len(entries) else None
        for column, text in enumerate(row, block.left):
            if column >= len(columns) or not columns[column].keys:
                continue
            renames = section in ("specs", "fluids") and columns[column].keys == ("name",)
            if renames and at < len(before):
                # What refers to it follows; the row itself gets its name below.
                named.append(name_entry(now, section, at, text.strip()))
                now = named[-1].make(now)
            entry = _write(section, entry, column, text)
        if entry is not None:
            entries[at : at + 1] = [entry]
    words = f"{count} cell{'s' if count != 1 else ''}"
    put = SetValue((section,), entries)
    word = section.replace("_", "-")
    return Together((*named, put), said or f"pasting of {words} into {word}")


def remove_rows(data: FixedDict, section: str, block: Block) -> Edit:
    """The edit that takes every row of a block out, at once: there may be thousands."""
    held = data[section]
    left = FixedList([*held[: block.top], *held[block.bottom + 1 :]])
    said = f"removal of {len(held) - len(left)} rows of {section.replace('_', '-')}"
    return Together((SetValue((section,), left),), said)


def _write(section: str, entry: FixedDict | None, column: int, text: str) -> FixedDict | None:
    """A row with a cell written in; None where nothing begins a new one."""
    if entry is None and not text.strip():
        return None
    alone = FixedDict({section: FixedList([entry] if entry is not None else [])})
    return type_in_cell(alone, section, 0, column, text).make(alone)[section][0]
