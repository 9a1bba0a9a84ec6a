"""The review of a sheet being written: every remark with the place in the data that it leads to.

Used on the desk's own thread alone.
"""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.model import Sheet
from shopguide.job.packing import SHEET_NAME, Packing
from shopguide.job.text import Path as SheetPath
from shopguide.job.written import (
    FixedDict,
    Located,
    find_troubles,
    list_photo_files,
    read_written,
)
from shopguide.review.findings import Reviewer
from shopguide.review.photos import Gauge
from shopguide.review.rule import Finding
from shopguide.review.unfinished import find_said_twice
from shopguide.window.write_jump import find_path
from shopguide.window.write_left_out import LeftOut
from shopguide.window.write_remarks import Remark


class SheetReviewer:
    """Looks again only at what has changed since it looked last."""

    def __init__(self) -> None:
        self._reviewer = Reviewer()
        self._gauge = Gauge()
        self._unreadable: dict[int, FixedDict] = {}

    def find_remarks(
        self,
        states: list[FixedDict],
        packing: Packing | None,
        waiting: dict[str, Path],
        left_out: LeftOut,
        *,
        unused: bool,
    ) -> list[Remark]:
        """What is found in the first state, or in the next that can be read at all.

        packing: where its pictures lie; waiting: those that are not saved yet, by name; unused:
        whether pictures that nothing uses are told of.
        """
        data = states[0]
        reading = read_written(data)
        troubles = find_troubles(data, reading, SHEET_NAME)
        sheet = reading.sheet or self._read_last(states)
        sizes = self._gauge.measure(
            packing,
            sheet.photo_files() if sheet is not None else (),
            waiting,
            unused=unused,
        )
        gone = left_out.list_names(data) - set(list_photo_files(data))
        if sizes is not None and gone:
            sizes = {name: size for name, size in sizes.items() if name not in gone}
        found = self._reviewer.review(sheet, sizes) if sheet is not None else ()
        twice = tuple(find_said_twice(data, troubles, found))
        unread = [_tell_unread(held) for held in troubles if held not in twice]
        return [*unread, *(_place(data, one) for one in found)]

    def _read_last(self, states: list[FixedDict]) -> Sheet | None:
        """The newest sheet that can be read."""
        for data in states:
            if self._unreadable.get(id(data)) is not data:
                sheet = read_written(data).sheet
                if sheet is not None:
                    return sheet
                self._unreadable[id(data)] = data
        return None


def _tell_unread(held: Located) -> Remark:
    """What keeps the sheet from being read, placed at the field that it is about."""
    path, said = held.path, f"{held.trouble.what} {held.trouble.next}".strip()
    missing = re.match(r'The key "(\w+)" is missing', held.trouble.what)
    if missing:
        # The words are those that stand beside the field.
        word = "open item" if missing[1] == "item" else missing[1].replace("_", " ")
        path = (*path, missing[1])
        said = f"{word[:1].upper()}{word[1:]} is missing. Write it."
    return Remark(
        "stops work",
        held.trouble.where.removeprefix(SHEET_NAME).removeprefix(", "),
        said,
        "A sheet that cannot be read cannot be worked from.",
        "",
        path,
    )


def _place(data: FixedDict, finding: Finding) -> Remark:
    path: SheetPath = ()
    # An edit since then may have taken away what it is about.
    with contextlib.suppress(Trouble):
        path = find_path(data, finding)
    return Remark(
        finding.severity,
        finding.where,
        finding.sentence,
        finding.reason,
        finding.rule,
        path,
        finding.fix,
    )
