"""Putting back in Write: what is proposed is looked at beside the sheet, then put into it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shopguide.job.edits import TakeOver
from shopguide.job.reassembly import propose_putback
from shopguide.job.written import FixedDict
from shopguide.window.background import Errand, Runner
from shopguide.window.write_card import find
from shopguide.window.write_fixes import list_step_paths
from shopguide.window.write_putback_board import PutBackBoard

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


class PutBackDesk:
    """Proposes, shows the board, and takes over what was accepted."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner
        self.board = PutBackBoard(place.look, place.factor)
        self.board.accepted.connect(self._take)

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

        def show(proposals: tuple[Any, ...]) -> None:
            if desk is not self._place.writing or desk.data is not data:
                return
            if not proposals:
                self._place.notice.tell("Everything that is taken apart is put back in this sheet.")
                return
            self.board.show_proposals(sheet, proposals)
            self._place.open_board(self.board)

        errand.done.connect(show)
        errand.failed.connect(self._place.notice.tell_trouble)
        self._runner.run(errand, lambda _: propose_putback(sheet))

    def _take(self, merged: Any, count: int) -> None:
        said = f"putting in of {count} proposal{'s' if count > 1 else ''} for putting back"
        before = self._place.writing.data if self._place.writing is not None else FixedDict()
        if self._place.apply(TakeOver(merged, said)) and self._place.writing is not None:
            data = self._place.writing.data
            old = {id(find(before, path)) for path in list_step_paths(before)}
            new = [p for p in list_step_paths(data) if id(find(data, p)) not in old]
            if new:
                self._place.choose(new[0])
            self._place.outline.setFocus()
