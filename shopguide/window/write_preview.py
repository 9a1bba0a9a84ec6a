"""Looking at a step from Write as Work will show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopguide.window.as_in_work_board import AsInWorkBoard
from shopguide.window.background import Errand, Runner
from shopguide.window.write_edits import number_of
from shopguide.window.write_fixes import list_step_paths
from shopguide.work.progress import Progress

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


class PreviewDesk:
    """Makes what Work would begin with, off the window's thread, and lays the board over Write."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner
        self.board: AsInWorkBoard | None = None
        self._began = 0

    def open(self) -> None:
        """Shows the step that is chosen, else the first."""
        place, desk = self._place, self._place.writing
        if desk is None:
            return
        place.keep()
        sheet = desk.draft.sheet or desk.draft.last_sheet
        if sheet is None:
            place.notice.tell(
                "Too little of the sheet can be read yet for Work to show it.",
                next="F9 goes to what is to be put right first.",
            )
            return
        old = desk.draft.sheet is None
        number = number_of(desk.data, place.path) if len(place.path) == 4 else 1
        errand = Errand("Looking at the orders", place)

        def show(progress: Progress) -> None:
            if place.writing is not desk or place.pictures is None:
                return
            if not place.has_room_for("The step as Work will show it"):
                return
            if self.board is None:
                self.board = AsInWorkBoard(place.look, place.factor)
                self.board.left_at.connect(self._go_on)
            self.board.show_sheet(progress, number, place.pictures, old=old)
            self._began = self.board.number
            place.open_board(self.board)

        errand.done.connect(show)
        errand.failed.connect(place.notice.tell_trouble)
        self._runner.run(errand, lambda _: Progress(sheet))

    def _go_on(self, number: int) -> None:
        """The step looked at last is the one that is chosen then, where it is another one."""
        desk = self._place.writing
        steps = list_step_paths(desk.data) if desk is not None else []
        if number != self._began and 1 <= number <= len(steps):
            self._place.choose(steps[number - 1])
        self._place.outline.setFocus()
