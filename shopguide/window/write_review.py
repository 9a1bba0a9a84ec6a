"""The review beside the sheet in Write: what was found, where it leads, what it proposes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.errors import Trouble
from shopguide.job.edits import SetValue
from shopguide.job.written import FixedDict, FixedList
from shopguide.review.rule import Fix
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.write_edits import find_difference
from shopguide.window.write_findings import Findings
from shopguide.window.write_fixes import make_fix
from shopguide.window.write_remarks import Remark

if TYPE_CHECKING:
    from shopguide.window.write_desk import WriteDesk
    from shopguide.window.write_place import WritePlace

RIGHT_PX = 340
COUNTED = (
    ("stops work", "stops work", "stop work"),
    ("wants an answer", "wants an answer", "want an answer"),
    ("hint", "hint", "hints"),
)


class ReviewDesk:
    """Shows the findings and does what they propose."""

    def __init__(self, place: WritePlace) -> None:
        self._place = place
        self._done: list[tuple[Fix, FixedDict]] = []
        self.findings = Findings(place.look, place.factor)
        self.summary = QLabel()
        self.summary.setWordWrap(True)
        self.view = QWidget()
        column = QVBoxLayout(self.view)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.summary)
        column.addWidget(self.findings, 1)
        self.findings.jumps.connect(lambda remark: place.go_to(remark.path))
        self.findings.fixes.connect(self.fix)
        self.findings.hushes.connect(self.hush)
        self.findings.came.connect(place.say)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.view.setFixedWidth(round(RIGHT_PX * factor))
        self.findings.set_look(look, factor)
        self.summary.setFont(font_px(SIZES_PX["text"] * factor, "bold"))
        self.summary.setContentsMargins(round(14 * factor), 0, 0, round(2 * factor))

    def begin(self) -> None:
        """F9: the keys go to the findings, which a table covers."""
        self._place.keep()
        self.view.show()
        if not self.findings.begin():
            self._place.notice.tell("The review has found nothing.")
        self._place.update()
        self._place.say()

    def show_findings(self) -> None:
        """Those of what is chosen come first; above them how many there are in all."""
        desk = self._place.writing
        if desk is None:
            return
        said = []
        for severity, one, more in COUNTED:
            count = desk.book.count(severity)
            if count:
                said.append(f"{count} {one if count == 1 else more}")
        if desk.reviewed_data is None:
            self.summary.setText("The review is looking")
        else:
            self.summary.setText("Review: " + (", ".join(said) if said else "nothing found"))
        here = self._place.path if self._place.path[0] == "stages" else self._place.path[:1]
        self.findings.show_remarks(desk.book, here)

    def fix(self, remark: Remark) -> None:
        """Does what a finding proposes."""
        desk = self._place.writing
        if desk is None or remark.fix is None:
            return
        if desk.reviewed_data is not desk.data:
            said = "The review is still looking at the last change."
            self._place.notice.tell(said, next="Press F again.")
            return
        if self._is_done(desk, remark.fix):
            said = "This is done; it stays listed until all of the sheet can be read."
            self._place.notice.tell(said, next="Put right first what stops work.")
            return
        try:
            edit = make_fix(desk.data, remark.fix)
        except Trouble as trouble:
            self._place.notice.tell_trouble(trouble)
            return
        before = desk.data
        if self._place.apply(edit):
            self._done.append((remark.fix, desk.data))
            path = find_difference(before, desk.data)
            if path and path[0] == "stages" and len(path) >= 4:
                self._place.choose(path)
            self.findings.setFocus()

    def _is_done(self, desk: WriteDesk, fix: Fix) -> bool:
        """True where it was done already and not undone, and the review cannot know of it yet.

        While something cannot be read, the review speaks of the sheet as it was before that.
        """
        if desk.draft.sheet is not None:
            self._done.clear()
            return False
        states = desk.draft.states
        return any(one == fix and any(s is data for s in states) for one, data in self._done)

    def hush(self, remark: Remark) -> None:
        """Switches a hint off for this sheet."""
        if self._place.writing is None:
            return
        off = self._place.writing.data.get("hints_off")
        held = list(off) if isinstance(off, FixedList) else []
        if remark.rule not in held:
            self._place.apply(SetValue(("hints_off",), [*held, remark.rule]))
