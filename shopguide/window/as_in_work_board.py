"""A step as Work will show it, laid over Write: the very views of Work, with nothing recorded."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QVBoxLayout

from shopguide.window.board import Board
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.step_view import StepView, find_torque_shown
from shopguide.work.next_up import Due, due_for
from shopguide.work.progress import Progress


class AsInWorkBoard(Board):
    """Left and Right go through the steps; `left_at` tells the step shown when it is put away."""

    left_at = Signal(int)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.view = StepView(look, factor)
        self.number = 1
        self._progress: Progress | None = None
        self._old = False
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.view)
        self.does = "Space goes back to writing"

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        self.view.set_look(look, factor)
        if self._progress is not None:
            self._show()

    def show_sheet(self, progress: Progress, number: int, pictures: Pictures, *, old: bool) -> None:
        """Shows a step of a sheet on which no work was done; old: it was changed since then."""
        self._progress, self._old = progress, old
        self.number = min(max(number, 1), len(progress.sheet.steps))
        self.view.picture_first = self.view.items_first = False
        self.view.picture.set_pictures(pictures)
        self._show()

    def _due(self) -> Due:
        """The first task of the step, as if its turn had come."""
        assert self._progress is not None
        return due_for(self._progress, f"{self.number}.1")

    def _show(self) -> None:
        assert self._progress is not None
        due, steps = self._due(), len(self._progress.sheet.steps)
        self.view.show_step(self._progress, self.number, due)
        step = self._progress.sheet.steps[self.number - 1].step
        said = f"As Work will show step {self.number} of {steps}; there {_lower(due.bar)}"
        self.after = (
            "What cannot be read yet is left out: this is the sheet as it was before."
            if self._old
            else said
        )
        keys = ["Left and Right other steps"]
        if step.photos and find_torque_shown(self._progress, self.number, due) is not None:
            keys.append("V diagram or picture")
        if len(step.photos) > 1:
            keys.append("[ ] further pictures")
        self.keys = "   ".join([*keys, "Escape"])
        self.setAccessibleName(f"Step {self.number} as Work will show it")
        self.said.emit()

    def press(self) -> None:
        self.close_board()

    def close_board(self) -> None:
        super().close_board()
        self.left_at.emit(self.number)

    def take_key(self, event: QKeyEvent) -> bool:
        if self._progress is None:
            return False
        steps = len(self._progress.sheet.steps)
        match Qt.Key(event.key()):
            case Qt.Key.Key_Left | Qt.Key.Key_PageUp:
                self.number = max(1, self.number - 1)
            case Qt.Key.Key_Right | Qt.Key.Key_PageDown:
                self.number = min(steps, self.number + 1)
            case Qt.Key.Key_V:
                self.view.picture_first = not self.view.picture_first
            case Qt.Key.Key_BracketLeft | Qt.Key.Key_BracketRight:
                self.view.picture.turn(1 if event.key() == Qt.Key.Key_BracketRight else -1)
                return True
            case Qt.Key.Key_Up | Qt.Key.Key_Down:
                self.view.card.scroll_by(1 if event.key() == Qt.Key.Key_Down else -1)
                return True
            case _:
                return False
        self._show()
        return True


def _lower(text: str) -> str:
    return text[0].lower() + text[1:] if text else text
