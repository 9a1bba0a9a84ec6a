"""A saved sheet that is not what was opened: what stands there now, and what is to be done."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Literal, NamedTuple

from shopguide.errors import Trouble
from shopguide.job.compare import compare_sheets
from shopguide.job.edits import Draft
from shopguide.job.packing import SHEET_NAME, find_packing
from shopguide.job.written import FixedDict, read_written

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace

Sort = Literal["same", "changed", "gone", "odd"]
MOST_LINES = 2000


@dataclass(frozen=True, slots=True)
class Standing:
    """What job.json is now: as it was known, another one, not there, or no file that can be read.

    raw: its bytes, where it was changed.  why: what is odd about it.
    """

    sort: Sort
    digest: str = ""
    raw: bytes = field(default=b"", repr=False)
    why: str = ""


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """Why nothing was saved. lines: what differs, in words; readable: theirs can be taken."""

    target: Path
    standing: Standing
    lines: tuple[str, ...] = ()
    readable: bool = False

    @classmethod
    def make(cls, target: Path, standing: Standing, data: FixedDict) -> Elsewhere:
        """With what differs between what is saved there and this data."""
        if standing.sort != "changed":
            return cls(target, standing)
        try:
            theirs = Draft.open(standing.raw, SHEET_NAME).sheet
        except Trouble as trouble:
            return cls(target, standing, (f"What is saved there cannot be read. {trouble}",))
        mine = read_written(data).sheet
        if theirs is None or mine is None:
            whose = "there" if theirs is None else "here"
            return cls(target, standing, (f"Not all that stands {whose} can be read.",), True)
        lines = tuple(change.tell() for change in compare_sheets(theirs, mine))[:MOST_LINES]
        return cls(target, standing, lines or ("Only the look of the file differs.",), True)

    def tell(self) -> str:
        """What happened, in a sentence."""
        match self.standing.sort:
            case "gone":
                return "The saved sheet is not there any more."
            case "odd":
                return f"The saved sheet is something else now. {self.standing.why}"
            case _:
                return "The saved sheet was changed elsewhere after it was opened here."


def look_at_saved(folder: Path, base: str) -> Standing:
    """What stands in a sheet's folder, compared with the SHA-256 that is known of it."""
    path = folder / SHEET_NAME
    try:
        mode = os.lstat(path).st_mode
    except (FileNotFoundError, NotADirectoryError):
        return Standing("gone")
    except (OSError, ValueError) as fault:
        return Standing("odd", why=f"It cannot be looked at: {getattr(fault, 'strerror', fault)}.")
    if stat.S_ISDIR(mode):
        return Standing("odd", why=f"{SHEET_NAME} is a folder.")
    try:
        raw = find_packing(folder).read_sheet()
    except Trouble as trouble:
        return Standing("odd", why=trouble.what)
    digest = hashlib.sha256(raw).hexdigest()
    return Standing("same", digest) if digest == base else Standing("changed", digest, raw)


class Choice(NamedTuple):
    """One thing that can be done."""

    title: str
    under: str
    do: Callable[[], None]


class ElsewhereDesk:
    """Lays what can be done over Write, and does what is chosen."""

    def __init__(self, place: WritePlace) -> None:
        self._place = place

    def show(self, found: Elsewhere) -> None:
        """Shows what can be done; Escape leaves everything as it is."""
        from shopguide.window.rows_board import RowsBoard

        place = self._place
        if place.writing is None:
            return
        board = RowsBoard(found.tell(), place.look, place.factor)
        board.does_with = "Nothing was saved. Enter does this"
        board.picked.connect(lambda choice: choice.do())
        board.show_rows(self._list_choices(found))
        place.open_board(board)
        board.closed.connect(board.deleteLater)

    def _list_choices(self, found: Elsewhere) -> list[Choice]:
        count = len(found.lines)
        there = found.standing.sort == "changed"
        under = "both are kept" if there else "what is written here is laid there"
        other = Choice("Save into another folder", under, self._place.save_as)
        if found.standing.sort != "changed":
            again = Choice(
                "Save here all the same",
                f"with all pictures that can still be found, in {found.target}",
                self._overwrite,
            )
            return [other, again]
        look = Choice(
            "Look at what differs",
            f"{count} line{'' if count == 1 else 's'}; nothing is changed by looking",
            lambda: self._look(found),
        )
        take = Choice(
            "Take what was saved elsewhere",
            "in place of what is written here; Ctrl Z brings that back",
            lambda: self._take(found),
        )
        over = Choice(
            "Overwrite what was saved elsewhere",
            "with what is written here; the other text is kept in the folder of drafts",
            self._overwrite,
        )
        return [look, other, *([take] if found.readable else []), over]

    def _overwrite(self) -> None:
        if self._place.writing is not None:
            self._place.writing.save(knowingly=True)

    def _take(self, found: Elsewhere) -> None:
        if self._place.writing is not None:
            try:
                self._place.writing.take_saved_elsewhere(found.standing.raw)
            except Trouble as trouble:
                self._place.notice.tell_trouble(trouble)

    def _look(self, found: Elsewhere) -> None:
        from shopguide.window.report_board import ReportBoard, ReportLine

        board = ReportBoard(self._place.look, self._place.factor)
        board.show_report(
            "What differs",
            "From what was saved elsewhere to what is written here",
            [("", [ReportLine(line) for line in found.lines])],
        )
        self._place.open_board(board)
        # After the place has put the board away.
        board.closed.connect(lambda: self.show(found))
        board.closed.connect(board.deleteLater)
