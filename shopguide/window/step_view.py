"""One step as Work shows it: diagram, picture or open items at the left, the card at the right."""

from __future__ import annotations

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QStackedWidget, QWidget

from shopguide.job.model import Photo, Torque
from shopguide.window.bolt_diagram import BoltDiagram
from shopguide.window.card import Card
from shopguide.window.open_items import OpenItems
from shopguide.window.palette import Look
from shopguide.window.picture_view import PictureView
from shopguide.work.heads import head_states
from shopguide.work.ledger import still_open
from shopguide.work.next_up import Due
from shopguide.work.progress import Progress


class StepView(QWidget):
    """Draws a step from progress and what is due; holds only which of its sides is asked for."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._factor = factor
        self.picture_first = False
        self.items_first = False
        self.diagram = BoltDiagram(look, factor)
        self.picture = PictureView(look, factor)
        self.items = OpenItems(look, factor)
        self.left = QStackedWidget()
        for part in (self.diagram, self.picture, self.items):
            self.left.addWidget(part)
        self.card = Card(look, factor)
        self._row = QHBoxLayout(self)
        self._row.addWidget(self.left, 1)
        self._row.addWidget(self.card)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._factor = factor
        for part in (self.diagram, self.picture, self.items, self.card):
            part.set_look(look, factor)
        pad = round(24 * factor)
        self._row.setContentsMargins(pad, round(6 * factor), pad, round(16 * factor))
        self._row.setSpacing(round(28 * factor))
        self._set_card_width()

    def _set_card_width(self) -> None:
        self.card.setFixedWidth(round(min(512 * self._factor, max(self.width(), 600) * 0.42)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._set_card_width()
        super().resizeEvent(event)

    def show_step(self, progress: Progress, number: int, due: Due) -> None:
        """Shows a step; `due` is what Space records now, in this step or elsewhere."""
        self.card.show_step(progress, number, due)
        step = progress.sheet.steps[number - 1].step
        photos = step.photos + _list_taken(progress, number)
        found = find_torque_shown(progress, number, due)
        self.picture.show_photos(photos)
        self.items.show_items(still_open(progress))
        if self.items_first or (found is None and not photos):
            self.left.setCurrentWidget(self.items)
            return
        if found is None or (self.picture_first and photos):
            self.left.setCurrentWidget(self.picture)
            return
        address, task = found
        self.left.setCurrentWidget(self.diagram)
        pattern = progress.pattern_of(task)
        states = head_states(progress, address, due.fastener if due.task == address else None)
        trip = progress.trip(address)
        if trip is not None:
            middle = (
                trip.one.tell() + (f", trip {trip.trip}" if trip.trip > 1 else ""),
                f"{len(trip.marked)} of {len(trip.way)} done",
            )
        else:
            middle = ("all passes done", f"{len(pattern.tightened)} of {len(pattern.tightened)}")
        whose = progress.orders[pattern.name].tell()
        self.diagram.show_pattern(pattern, progress.order_of(task), states, middle, whose)


def find_torque_shown(progress: Progress, number: int, due: Due) -> tuple[str, Torque] | None:
    """The torque task whose diagram a step shows, with its address: the one due, else its first."""
    step = progress.sheet.steps[number - 1].step
    if due.step == number and due.task:
        task = progress.sheet.tasks[due.task]
        if isinstance(task, Torque) and task.pattern is not None:
            return due.task, task
        if step.photos:
            return None
    for index, task in enumerate(step.tasks, 1):
        if isinstance(task, Torque) and task.pattern is not None:
            return f"{number}.{index}", task
    return None


def _list_taken(progress: Progress, number: int) -> tuple[Photo, ...]:
    """The photos taken at a step while working."""
    return tuple(
        Photo(file=f"record:{e.data['sha256']}", caption="taken at this step", alt="own photo")
        for e in progress.photos
        if e.data["step"] == number
    )
