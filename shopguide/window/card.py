"""The card of a step: cautions above the instruction, the figure largest, then the tasks."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from shopguide.job.model import StepPlace, Task, Torque
from shopguide.window.caution_panel import CautionPanel
from shopguide.window.figure import Figure
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.task_row import State, TaskRow
from shopguide.window.turn_view import TurnView
from shopguide.work.figures import Figure as Figures
from shopguide.work.figures import find_turn, tell_figure
from shopguide.work.next_up import Due
from shopguide.work.progress import Progress

DIRECT = Qt.FindChildOption.FindDirectChildrenOnly


class Card(QScrollArea):
    """One step, painted from sheet and progress. `picked` tells the address of a clicked task."""

    picked = Signal(str)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._shown: tuple[int, int] | None = None
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._rows: dict[str, TaskRow] = {}
        self._pass_rows: list[TaskRow] = []
        self._here = ""
        self.more = QLabel("more below, Down and Up", self)
        self.more.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignBottom)
        self.above = QLabel("more above, Down and Up", self)
        self.above.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
        for words in (self.more, self.above):
            words.setAutoFillBackground(True)
            words.hide()
        self.verticalScrollBar().valueChanged.connect(lambda _: self._show_more())

    def scroll_by(self, lines: int) -> None:
        """Moves the card up or down, where it is longer than the window."""
        bar = self.verticalScrollBar()
        bar.setValue(bar.value() + round(lines * 60 * self._factor))

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self._shown = None
        for words in (self.more, self.above):
            words.setFont(font_px(18 * factor, "bold"))

    # --- building -----------------------------------------------------------------------

    def _label(self, size: str, weight: str = "regular", soft: bool = False) -> QLabel:
        label = QLabel()
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.PlainText)
        # No word, however long, makes the card wider than it is.
        label.setMinimumWidth(1)
        label.setFont(font_px(SIZES_PX[size] * self._factor, weight))  # type: ignore[arg-type]
        palette = label.palette()
        palette.setColor(label.foregroundRole(), self._look.color("soft" if soft else "ink"))
        label.setPalette(palette)
        return label

    def _build(self, place: StepPlace, of: int) -> None:
        f = self._factor
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, round(4 * f), 0)
        column.setSpacing(round(4 * f))
        self.where = self._label("text", soft=True)
        self.where.setText(f"Step {place.number} of {of}")
        self.title = self._label("instruction", "bold")
        self.title.setText(let_break(place.step.title))
        column.addWidget(self.where)
        column.addWidget(self.title)
        for caution in place.step.cautions:
            column.addWidget(CautionPanel(caution, self._look, f))
        self.figure = Figure(self._look, f)
        self.figure_under = self._label("text", soft=True)
        self.set_line = self._label("text", "bold")
        self.turn = TurnView(self._look, f)
        words = QVBoxLayout()
        words.setSpacing(round(6 * f))
        words.addWidget(self.figure)
        words.addWidget(self.figure_under)
        words.addWidget(self.set_line)
        words.addStretch(1)
        beside = QHBoxLayout()
        beside.addLayout(words, 1)
        beside.addWidget(self.turn)
        column.addLayout(beside)
        line = QFrame()
        line.setFixedHeight(max(1, round(1.5 * f)))
        line.setAutoFillBackground(True)
        palette = line.palette()
        palette.setColor(line.backgroundRole(), self._look.color("hairline"))
        line.setPalette(palette)
        column.addWidget(line)
        self._rows, self._pass_rows = {}, []
        for index, task in enumerate(place.step.tasks, 1):
            address = f"{place.number}.{index}"
            passes = isinstance(task, Torque) and len(task.schedule) > 1
            row = TaskRow(self._look, f, large=not passes)
            row.picked.connect(self.picked)
            self._rows[address] = row
            column.addWidget(row)
            if isinstance(task, Torque) and passes:
                for _ in task.schedule:
                    under = TaskRow(self._look, f, large=False)
                    self._pass_rows.append(under)
                    column.addWidget(under)
        self.remarks = self._label("text", soft=True)
        column.addWidget(self.remarks)
        self.text = self._label("text", soft=True)
        self.text.setText(let_break(place.step.text))
        # Shown before it has its place in the column, it would be a window of its own.
        column.addWidget(self.text)
        self.text.setVisible(bool(place.step.text))
        column.addStretch(1)
        old = self.takeWidget()
        if old is not None:
            old.deleteLater()
        self.setWidget(body)
        body.setAutoFillBackground(False)
        self.viewport().setAutoFillBackground(False)

    # --- showing ------------------------------------------------------------------------

    def show_step(self, progress: Progress, number: int, due: Due) -> None:
        """Shows a step; `due` is what Space records now, in this step or elsewhere."""
        place = progress.sheet.steps[number - 1]
        key = (id(progress.sheet), number)
        if key != self._shown:
            self._build(place, len(progress.sheet.steps))
            self._shown = key
        here = due.task if due.step == number else ""
        self._show_figure(progress, place, here)
        pass_rows = iter(self._pass_rows)
        for index, task in enumerate(place.step.tasks, 1):
            address = f"{number}.{index}"
            row = self._rows[address]
            state = _state(progress, address, here)
            row.show_task(address, task.text, state, _under(progress, address, task, state))
            # While a torque task is due, title, figure, diagram and passes say what to do; the
            # card then fits a small laptop without scrolling.
            passes = isinstance(task, Torque) and len(task.schedule) > 1
            row.setVisible(not (passes and state == "due"))
            if isinstance(task, Torque) and len(task.schedule) > 1:
                for pass_number, one in enumerate(task.schedule, 1):
                    self._show_pass(
                        next(pass_rows), progress, address, task, pass_number, one.tell(), here
                    )
        self._show_remarks(progress, number)
        self._here = here
        # The layout settles first; only then is it known where the due line stands.
        QTimer.singleShot(0, self, self._bring_due)

    def _bring_due(self) -> None:
        """Scrolls so that the due line is seen; the top of the card stays if it can."""
        body = self.widget()
        if body is None:
            return
        layout = body.layout()
        if layout is not None:
            layout.activate()
        body.resize(self.viewport().width(), max(body.sizeHint().height(), self._need(body)))
        due_pass = next((r for r in self._pass_rows if r.state == "due"), None)
        row: QWidget | None = due_pass or self._rows.get(self._here)
        if row is None:
            self.verticalScrollBar().setValue(0)
        else:
            self.verticalScrollBar().setValue(self._find_scroll(body, row))
        self._show_more()

    def _find_scroll(self, body: QWidget, row: QWidget) -> int:
        """How far to scroll for a row to be seen whole, beside the words for more."""
        view, words = self.viewport().height(), self._words_height()
        if row.geometry().bottom() < view - (words if body.height() > view else 0):
            return 0
        tops = [part.y() for part in _list_parts(body)]
        last = row is _list_parts(body)[-1]
        least = row.geometry().bottom() + 1 - view + (0 if last else words)
        # From the top of a line on, with room for the words above it; a row that is longer
        # than the window begins at its top.
        return next((y for y in tops if least + words <= y <= row.y()), row.y()) - words

    def _need(self, body: QWidget) -> int:
        """The height that the column takes at the width it has."""
        layout = body.layout()
        return layout.heightForWidth(self.viewport().width()) if layout is not None else 0

    def _show_more(self) -> None:
        """Says so where the card goes on below or above what is seen; cuts no line in half."""
        bar, body = self.verticalScrollBar(), self.widget()
        view, words = self.viewport().height(), self._words_height()
        is_below, is_above = bar.maximum() > bar.value(), bar.value() > 0
        self.more.setVisible(is_below)
        self.above.setVisible(is_above)
        if body is None:
            return
        parts = [
            (p, p.y() - bar.value(), p.y() + p.height() - bar.value()) for p in _list_parts(body)
        ]
        if is_below:
            top = view - words
            for part, upper, lower in parts:
                if upper < top < lower:
                    small = part.height() < view / 3 and upper > words
                    top = upper if small else upper + _cut_between_lines(part, top - upper)
                    break
            self.more.setGeometry(0, round(top), self.width(), self.height() - round(top))
            self.more.raise_()
        if is_above:
            end = words
            for part, upper, lower in parts:
                if upper < end < lower:
                    if part.height() < view / 3:
                        end = lower
                    else:
                        # The first gap between two lines under the words.
                        room = words - upper + 1.4 * SIZES_PX["instruction"] * self._factor
                        end = upper + _cut_between_lines(part, room)
                    break
            self.above.setGeometry(0, 0, self.width(), round(end))
            self.above.raise_()

    def _words_height(self) -> int:
        """The room that the words for more take."""
        return round(26 * self._factor)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        QTimer.singleShot(0, self, self._bring_due)

    def _show_pass(
        self,
        row: TaskRow,
        progress: Progress,
        address: str,
        task: Torque,
        pass_number: int,
        told: str,
        here: str,
    ) -> None:
        trip = progress.trip(address)
        of = len(progress.order_of(task))
        under_way = trip is not None and trip.pass_number == pass_number
        if address in progress.outcomes and progress.outcomes[address].skipped:
            count = len(
                [m for m in progress.marks.get(address, []) if m.pass_number == pass_number]
            )
            state: State = "done" if count >= of else "skipped"
        elif trip is None or trip.pass_number > pass_number:
            count, state = of, "done"
        elif under_way:
            count, state = len(trip.marked), "due" if here == address else "to come"
        else:
            count, state = 0, "to come"
        extra = f", trip {trip.trip}" if under_way and trip is not None and trip.trip > 1 else ""
        row.show_task("", f"{pass_number}  {told}{extra}   {count} of {of}", state)

    def _show_figure(self, progress: Progress, place: StepPlace, here: str) -> None:
        """The largest thing on the card: the torque, the amount or the time that is due."""
        found = Figures()
        for index, task in enumerate(place.step.tasks, 1):
            address = f"{place.number}.{index}"
            if address == here or (not here and isinstance(task, Torque)):
                found = tell_figure(progress, address, task, due=address == here)
                break
        figure, under, set_line = found
        turn = find_turn(progress, here, progress.sheet.tasks[here]) if here else None
        self.turn.show_turn(*(turn or (None, None, None, "hex")))
        self.figure.set_text(figure)
        self.figure_under.setText(let_break(under))
        self.figure_under.setVisible(bool(under))
        # What is dialled differs from the torque: that must not be overlooked.
        differs = set_line.startswith("Set ") and not set_line.startswith(f"Set {figure} ")
        size = SIZES_PX["instruction" if differs else "text"] * self._factor
        self.set_line.setFont(font_px(size, "bold"))
        self.set_line.setText(let_break(_hold_figures(set_line)))
        self.set_line.setVisible(bool(set_line))

    def _show_remarks(self, progress: Progress, number: int) -> None:
        lines = [f"Note: {e.data['text']}" for e in progress.notes if e.data["step"] == number]
        photos = sum(1 for e in progress.photos if e.data["step"] == number)
        if photos:
            lines.append(f"{photos} photo{'s' if photos > 1 else ''} added")
        self.remarks.setText(let_break("\n".join(lines)))
        self.remarks.setVisible(bool(lines))


def _list_parts(body: QWidget) -> list[QWidget]:
    """What is shown in the card's column, from top to bottom."""
    parts = [p for p in body.findChildren(QWidget, options=DIRECT) if not p.isHidden()]
    return sorted(parts, key=lambda part: part.y())


def _cut_between_lines(part: QWidget, room: float) -> float:
    """The largest height up to `room` at which a part is cut between two of its lines."""
    if isinstance(part, (TaskRow, CautionPanel)):
        return part.cut_between_lines(room)
    if isinstance(part, QLabel):
        line = QFontMetricsF(part.font()).lineSpacing()
        return max(0.0, room // line * line)
    return room


def _hold_figures(text: str) -> str:
    """Keeps each figure and its unit on one line."""
    return re.sub(r"(?<=\d) (?=\S)", "\u00a0", text)


def _state(progress: Progress, address: str, here: str) -> State:
    outcome = progress.outcomes.get(address)
    if outcome is not None:
        return "skipped" if outcome.skipped else "done"
    return "due" if address == here else "to come"


def _under(progress: Progress, address: str, task: Task, state: State) -> str:
    """What was recorded for a task, or its note while it is due."""
    outcome = progress.outcomes.get(address)
    if outcome is None:
        return task.note if state == "due" else ""
    if outcome.skipped:
        return f"skipped: {outcome.reason}"
    parts = [outcome.value, f"departed: {outcome.departure}" if outcome.departure else ""]
    return ", ".join(part for part in parts if part)
