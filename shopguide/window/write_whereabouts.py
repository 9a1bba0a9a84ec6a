"""Where a step stands by now, while long work is done for it and the sheet goes on changing."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QObject

from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window.write_card import find
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_fixes import list_step_paths


class Whereabouts(QObject):
    """Follows one step from edit to edit. It ends with the desk, or by `deleteLater`."""

    def __init__(self, desk: WriteDesk, path: Path) -> None:
        super().__init__(desk)
        self._desk, self._data = desk, desk.data
        self._step = find(desk.data, path)
        self.path: Path = path
        """The path of the step; () while it is taken out."""
        desk.changed.connect(self._follow)

    def _follow(self) -> None:
        """A step that was moved is the same piece elsewhere, one written in another piece there."""
        before, self._data = self._data, self._desk.data
        data = self._data
        here = find(data, self.path) if self.path else None
        if here is not None and here is self._step:
            return
        steps = {p: find(data, p) for p in list_step_paths(data)}
        moved = next((p for p, step in steps.items() if step is self._step), None)
        if moved is not None:
            self.path = moved
            return
        others = {id(find(before, p)) for p in list_step_paths(before)}
        title = _find_title(self._step)
        if _find_title(here) != title:
            # Where the whole sheet was taken over, every piece may be another one elsewhere.
            called = [
                p for p, s in steps.items() if _find_title(s) == title and id(s) not in others
            ]
            if title and len(called) == 1:
                self.path, self._step = called[0], steps[called[0]]
                return
        if here is None or id(here) in others:
            self.path = ()
        else:
            self._step = here


def _find_title(step: Any) -> Any:
    return step.get("title") if isinstance(step, FixedDict) else None
