"""Pasting into a table of Write: one cell, a block of cells, or rows; many rows off the window's
thread."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, NamedTuple

from shopguide.errors import Trouble
from shopguide.job.edits import SetValue, Together
from shopguide.job.text import MOST_BYTES, write_text
from shopguide.job.written import FixedDict, FixedList, freeze, read_errors
from shopguide.window.background import Errand, Runner
from shopguide.window.large import keep_what_stays
from shopguide.window.write_cells import names_columns, split_cells
from shopguide.window.write_edits import read_rows

if TYPE_CHECKING:
    from shopguide.window.write_desk import WriteDesk
    from shopguide.window.write_place import WritePlace

MOST_SIGNS_AT_ONCE, MOST_LINES_AT_ONCE = 20_000, 200
"""So much is read within a blink; more goes to a thread."""
MOST_TOLD = 4


class Pasted(NamedTuple):
    """What was read: rows to be put in, or cells to be written over others."""

    rows: FixedList = FixedList()
    troubles: tuple[Trouble, ...] = ()
    cells: list[list[str]] | None = None


class PasteDesk:
    """Takes what was copied into the table that is shown, and tells what of it cannot be read."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner

    def paste(self, text: str) -> None:
        """Pastes into the cell, over cells, or rows behind the one that is chosen."""
        place, desk = self._place, self._place.writing
        if desk is None or not place.shows_table:
            return
        section, (row, column) = str(place.path[0]), place.table.cell
        several = place.table.choice.block.several
        text = text.removeprefix("\ufeff")
        tidy = text.strip("\r\n")
        if len(text) > MOST_BYTES:
            place.notice.tell(
                f"What was copied has {len(text) / 1e6:.1f} million signs; nothing was pasted.",
                next=f"At most {MOST_BYTES // 1_000_000} million can be taken in at a time.",
            )
            return
        if tidy and not _is_parted(tidy) and (column or ";" not in tidy) and not several:
            place.lists.keep_cell(row, column, tidy)
            return
        room = len(place.table.rows.columns) - column
        begins = row >= len(place.table.rows.entries) and not several
        # In the row for a new one, what is too wide for the cells there is whole rows.
        over = several or bool(column and not (begins and _is_wider(tidy, room)))
        lines = text.count("\n") + text.count("\r")
        if len(text) <= MOST_SIGNS_AT_ONCE and lines <= MOST_LINES_AT_ONCE:
            try:
                self._take(desk, section, row, _read(text, section, over, desk.data))
            except Trouble as trouble:
                place.notice.tell_trouble(trouble)
            return
        data = desk.data
        errand = Errand(f"Reading {lines + 1:,} pasted rows", place)
        errand.done.connect(lambda pasted: self._take(desk, section, row, pasted))
        place.show_errand(errand)

        def work(_: Errand) -> Pasted:
            with keep_what_stays():
                return _read(text, section, over, data)

        self._runner.run(errand, work)

    def _take(self, desk: WriteDesk, section: str, row: int, pasted: Pasted) -> None:
        """Puts in what was read, in the sheet as it is by now."""
        place = self._place
        if desk is not place.writing:
            return
        if pasted.cells is not None:
            room = len(place.table.rows.columns) - place.table.choice.block.left
            lost = sum(1 for line in pasted.cells for cell in line[room:] if cell.strip())
            before_this = desk.data
            place.lists.fill(pasted.cells)
            if lost and desk.data is not before_this:
                cells = "1 cell stood" if lost == 1 else f"{lost} cells stood"
                place.notice.tell(
                    f"{cells} beyond the last column and could not be taken in.",
                    next="Ctrl Z takes the pasting back. Whole rows go into the first column.",
                )
            return
        held = desk.data.get(section)
        before = held if isinstance(held, FixedList) else FixedList()
        at, count = min(row + 1, len(before)), len(pasted.rows)
        new = FixedList([*before[:at], *pasted.rows, *before[at:]])
        word = "row" if count == 1 else "rows"
        said = f"pasting of {count} {word} into {section.replace('_', '-')}"
        done = place.apply(Together((SetValue((section,), new),), said))
        if done and pasted.troubles:
            shown = [str(trouble) for trouble in pasted.troubles[:MOST_TOLD]]
            if len(pasted.troubles) > MOST_TOLD:
                shown.append(f"and {len(pasted.troubles) - MOST_TOLD} more")
            place.notice.tell(
                "Not all of it can be read; it stands as it was pasted.", "\n".join(shown)
            )


def _is_parted(text: str) -> bool:
    return any(sign in text for sign in "\t\n\r")


def _is_wider(tidy: str, room: int) -> bool:
    """True where the first line has more cells than there is room for."""
    return _is_parted(tidy) and len(split_cells(tidy.splitlines()[0])[0]) > room


def _read(text: str, section: str, over: bool, data: FixedDict) -> Pasted:
    """What was copied. Raises Trouble where it cannot be taken in. For any thread.

    over: cells are written over others, unless the first line names the columns.
    """
    cells = split_cells(text) if over else []
    if over and not names_columns(cells[0], section):
        return Pasted(cells=cells)
    read, troubles = read_rows(section, text)
    rows: FixedList = freeze(read)
    # Read here, so that neither the window nor the review has to wait for it.
    for one in rows:
        read_errors(one, section)
    _check_room(data, rows)
    return Pasted(rows, tuple(troubles))


def _check_room(data: Any, rows: FixedList) -> None:
    """Raises Trouble where the sheet would become larger than what can be opened again."""
    if len(rows) <= MOST_LINES_AT_ONCE and sum(map(len, map(json.dumps, rows))) < MOST_BYTES // 50:
        return
    size = sum(len(json.dumps(held, ensure_ascii=False).encode()) for held in (data, rows))
    if size > MOST_BYTES // 3:
        # As it is saved there is more space between.
        size = sum(len(write_text(held)) for held in (data, rows))
    if size > MOST_BYTES:
        raise Trouble(
            f"The sheet would have {size / 1e6:.1f} MB with these rows; at most "
            f"{MOST_BYTES // 1_000_000} MB can be opened again.",
            next="Nothing was pasted. Paste a part of the rows.",
        )
