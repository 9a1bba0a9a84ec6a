"""Putting back in Write: what is proposed is looked at beside the sheet, then put into it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shopguide.job.edits import TakeOver
from shopguide.job.model import Sheet
from shopguide.job.reassembly import Proposal, merge, propose_putback
from shopguide.job.written import FixedDict
from shopguide.window.background import Errand, Runner
from shopguide.window.write_card import find
from shopguide.window.write_fixes import list_step_paths
from shopguide.window.write_putback_board import PutBackBoard

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


MOST_AT_ONCE = 400
"""Steps and proposals that are put together within a blink."""


class PutBackDesk:
    """Proposes, shows the board, and takes over what was accepted."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner
        self.board = PutBackBoard(place.look, place.factor)
        self.board.accepted.connect(self._take)
        self._sheet: Sheet | None = None

    def propose(self) -> None:
        """Shows beside the sheet what it lacks to put back what it takes apart."""
        desk = self._place.writing
        if desk is None:
            return
        self._place.keep()
        sheet, data = desk.draft.sheet, desk.data
        if sheet is None:
            self._place.notice.tell(
                "Something in the sheet cannot be read yet, so nothing can be proposed.",
                next="F9 goes to what is to be put right first.",
            )
            return
        errand = Errand("Looking at what is taken apart", self._place)

        def show(found: tuple[tuple[Proposal, ...], Sheet]) -> None:
            proposals, whole = found
            if desk is not self._place.writing:
                return
            if desk.data is not data:
                self._place.notice.tell("The sheet was changed meanwhile.", next="Ask once more.")
                return
            if not proposals:
                self._place.notice.tell("Everything that is taken apart is put back in this sheet.")
                return
            if not self._place.has_room_for("What is proposed for putting back"):
                return
            self._sheet = sheet
            self.board.show_proposals(sheet, proposals, whole)
            self._place.open_board(self.board)

        errand.done.connect(show)
        errand.failed.connect(self._place.notice.tell_trouble)
        self._runner.run(errand, lambda _: _propose(sheet))

    def _take(self, chosen: tuple[Proposal, ...]) -> None:
        """Puts the proposals into the sheet; into a very long one off the window's thread."""
        sheet, desk = self._sheet, self._place.writing
        if sheet is None or desk is None:
            return
        if len(sheet.steps) + len(chosen) <= MOST_AT_ONCE:
            self._put_in(merge(sheet, chosen), len(chosen))
            return
        data = desk.data
        errand = Errand("Putting the proposals into the sheet", self._place)

        def put_in(merged: Sheet) -> None:
            if desk is not self._place.writing:
                return
            if desk.data is data:
                self._put_in(merged, len(chosen))
            else:
                said = "The sheet was changed meanwhile; nothing was put into it."
                self._place.notice.tell(said, next="Ask for the proposals once more.")

        errand.done.connect(put_in)
        errand.failed.connect(self._place.notice.tell_trouble)
        self._runner.run(errand, lambda _: merge(sheet, chosen))

    def _put_in(self, merged: Sheet, count: int) -> None:
        said = f"putting in of {count} proposal{'s' if count > 1 else ''} for putting back"
        before = self._place.writing.data if self._place.writing is not None else FixedDict()
        if self._place.apply(TakeOver(merged, said)) and self._place.writing is not None:
            data = self._place.writing.data
            old: dict[Any, list[Any]] = {}
            for path in list_step_paths(before):
                old.setdefault(find(before, path).get("title"), []).append(find(before, path))
            # A step that was only tidied, its keys in another sequence, is not a new one.
            steps = ((path, find(data, path)) for path in list_step_paths(data))
            new = [path for path, step in steps if step not in old.get(step.get("title"), ())]
            if new:
                self._place.choose(new[0])
            self._place.outline.setFocus()


def _propose(sheet: Sheet) -> tuple[tuple[Proposal, ...], Sheet]:
    """What is proposed, and the sheet with all of it."""
    proposals = propose_putback(sheet)
    return proposals, merge(sheet, proposals)
