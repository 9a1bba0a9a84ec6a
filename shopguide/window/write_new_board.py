"""The board with which a new sheet is begun: blank, from a sample, a copy, or a draft put aside."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shopguide.window.palette import Look
from shopguide.window.rows_board import RowsBoard


class Beginning(NamedTuple):
    """One way to begin: its words, what it is, and the name or path that belongs to it."""

    sort: Literal["skeleton", "sample", "copy", "draft", "unpack"]
    title: str
    under: str
    name: str = ""


class NewSheetBoard(RowsBoard):
    """Up and Down choose, Enter begins. `picked` tells how."""

    does_with = "Enter begins with"

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__("A new sheet", look, factor)
