"""The board from which a sheet is handed on, and from which something is taken in."""

from __future__ import annotations

from typing import Literal, NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from shopguide.job.tables import Fit
from shopguide.window.palette import Look
from shopguide.window.rows_board import RowsBoard

Sort = Literal["pack", "card", "compare", "compare saved", "table", "unpack"]
PAPERS = ("A4", "Letter")
AS_WRITTEN = "as it is written now, saved or not"


class SharingRow(NamedTuple):
    """One thing that can be done: its words and what it is."""

    sort: Sort
    title: str
    under: str


def list_rows(paper: str, pictures: int, saved_as: str) -> list[SharingRow]:
    """What can be done with a sheet. saved_as: the name of its folder, "" where it has none."""
    count = f"{pictures} picture{'' if pictures == 1 else 's'}"
    rows = [
        SharingRow(
            "pack", "Pack this sheet into one file", f"A zip of it and its {count}, {AS_WRITTEN}."
        ),
        SharingRow(
            "card",
            f"Write the job card as a PDF, {paper}",
            f"With an empty box for every screw and pass, to print and fill in; {AS_WRITTEN}.",
        ),
        SharingRow(
            "compare",
            "Compare with another revision",
            "Choose its job.json or its zip: what changed from it to what is written now.",
        ),
    ]
    if saved_as:
        rows.append(
            SharingRow(
                "compare saved",
                "Compare with what was saved",
                f"What changed since {saved_as} was saved last.",
            )
        )
    return [
        *rows,
        SharingRow(
            "table",
            "Take in a table from a file",
            "CSV or tabs, into parts, specs, tools, supplies or fluids. One Ctrl Z takes it back.",
        ),
        SharingRow(
            "unpack",
            "Unpack a sheet from a zip",
            "It is looked over, laid into a folder of your choice, and opened here.",
        ),
    ]


class SharingBoard(RowsBoard):
    """Up and Down choose, Enter does it; at the job card Left and Right choose the paper."""

    does_with = "Enter"

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__("Hand on and take in", look, factor)
        self.paper = PAPERS[0]
        self._pictures, self._saved_as = 0, ""

    def show_sheet(self, pictures: int, saved_as: str) -> None:
        """Shows what can be done with a sheet of so many pictures. saved_as: its folder's name."""
        self._pictures, self._saved_as = pictures, saved_as
        self.show_rows(list_rows(self.paper, pictures, saved_as))

    def _say(self) -> None:
        super()._say()
        row = self.rows[self.at] if self.rows else None
        if isinstance(row, SharingRow) and row.sort == "card":
            other = PAPERS[1 - PAPERS.index(self.paper)]
            self.after = f"Left or Right: on {other} paper"
            self.said.emit()

    def take_key(self, event: QKeyEvent) -> bool:
        row = self.rows[self.at] if self.rows else None
        turns = event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right)
        if turns and isinstance(row, SharingRow) and row.sort == "card":
            self.paper = PAPERS[1 - PAPERS.index(self.paper)]
            self.show_rows(list_rows(self.paper, self._pictures, self._saved_as), self.at)
            return True
        return super().take_key(event)


class ListRow(NamedTuple):
    """One list into which a table may go, and how it fits there."""

    section: str
    title: str
    under: str


class ListBoard(RowsBoard):
    """Up and Down choose the list into which a table goes; the one that fits best stands first."""

    does_with = "Enter takes the table into"

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__("Take in a table", look, factor)

    def show_fits(self, name: str, fits: tuple[Fit, ...]) -> None:
        """Shows how the table in the file of this name fits into each list."""
        self.heading = f"Where does {name} go?"
        self.setAccessibleName(self.heading)
        self.show_rows([_tell_fit(fit) for fit in fits])


def _tell_fit(fit: Fit) -> ListRow:
    rows = f"{'First ' if fit.cut else ''}{fit.rows} row{'' if fit.rows == 1 else 's'}"
    if fit.unread:
        said = f"{fit.unread} place{'' if fit.unread == 1 else 's'} would not be read"
    else:
        said = "all of it can be read"
    how = "columns named" if fit.named else "columns not named, taken as"
    return ListRow(
        fit.section, fit.section.capitalize(), f"{rows}: {said}; {how} {', '.join(fit.columns)}."
    )
