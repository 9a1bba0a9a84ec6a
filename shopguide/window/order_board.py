"""The order board: set a pattern's tightening order by hand before its first screw is marked."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.bolts.drawing import HeadState
from shopguide.bolts.order import (
    Order,
    compute_pattern_order,
    find_order,
    mirror_order,
    move_in_order,
    read_order,
    start_order,
)
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble
from shopguide.window.board import Board
from shopguide.window.bolt_diagram import BoltDiagram
from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

STEP_MS = 350


class OrderBoard(Board):
    """Left the diagram with its numbers, right whose order it is and how it differs.

    Drag a screw onto another one: it takes that one's place. Keys: arrows choose, Page Up and Page
    Down move the chosen one in the order, B begins with it, M mirrors, T types the manual's list,
    C takes the computed one, G the sheet's, A plays it.
    """

    kept = Signal(str, object)
    """The pattern's name and the Order to keep."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.pattern: Pattern | None = None
        self.order = Order((), "computed")
        self._before = self.order
        self._chosen = 0
        self._played = 0
        self._frozen = False
        self.diagram = DraggedDiagram(look, factor)
        self.diagram.picked.connect(self._choose_number)
        self.diagram.dropped.connect(self._drop)
        self.title, self.whose, self.differs, self.fault = (QLabel() for _ in range(4))
        self.list = QLabel()
        self.entry = EntryLine(look, factor)
        self.entry.setAccessibleName("The order, number by number")
        self.entry.textChanged.connect(self._look_at)
        self.entry.returnPressed.connect(self._take_typed)
        self.hint = QLabel()
        side = QWidget(self)
        self._side = side
        column = QVBoxLayout(side)
        column.setContentsMargins(0, 0, 0, 0)
        for label in (self.title, self.whose, self.differs, self.list):
            label.setWordWrap(True)
            column.addWidget(label)
        column.addWidget(self.entry)
        for label in (self.fault, self.hint):
            label.setWordWrap(True)
            column.addWidget(label)
        column.addStretch(1)
        self._column = column
        self.diagram.setParent(self)
        self.entry.hide()
        self._clock = QTimer(self)
        self._clock.setInterval(STEP_MS)
        self._clock.timeout.connect(self._play_on)
        self.set_look(look, factor)

    # --- showing --------------------------------------------------------------------------

    def show_order(self, pattern: Pattern, order: Order, *, frozen: bool) -> None:
        """frozen: the pattern has marks already, so the order can only be looked at."""
        self.pattern, self.order, self._before, self._frozen = pattern, order, order, frozen
        self._chosen = 0
        self._played = len(order.numbers)
        self.entry.hide()
        self.fault.clear()
        self._show()

    def _show(self) -> None:
        pattern = self.pattern
        if pattern is None:
            return
        numbers = self.order.numbers
        chosen = numbers[self._chosen] if numbers else None
        states = {
            n: HeadState(
                strokes=(True,) if k < self._played and self._clock.isActive() else (),
                done=self._clock.isActive() and k < self._played,
                due=n == (numbers[self._played] if self._playing() else chosen),
            )
            for k, n in enumerate(numbers)
        }
        self.diagram.show_pattern(pattern, numbers, states, (), self.order.tell())
        self.title.setText(f"Order of {pattern.title}")
        said = self.order.tell()
        self.whose.setText(
            said[:1].upper()
            + said[1:]
            + (
                " · " + pattern.order_source
                if (self.order.by == "manual" and pattern.order_source)
                else ""
            )
        )
        computed = compute_pattern_order(pattern)
        self.differs.setText(
            "" if self.order.by == "computed" else self.order.tell_difference(computed)
        )
        self.differs.setVisible(bool(self.differs.text()))
        plain = numbers == tuple(sorted(numbers))
        self.list.setText(
            "In the order of the fasteners' own numbers."
            if plain
            else "Fastener numbers: " + " · ".join(str(n) for n in numbers)
        )
        self._say()

    def _playing(self) -> bool:
        return self._clock.isActive() and self._played < len(self.order.numbers)

    def _say(self) -> None:
        numbers = self.order.numbers
        if self._frozen:
            self.does = "Space closes this: work on it has begun, the order stays"
            self.keys = "A plays it   Escape closes"
            self.hint.setText("The order is frozen with the first mark of the pattern.")
        elif not self.entry.isHidden():
            self.does = "Enter takes the typed order"
            self.keys = "Escape leaves it"
        else:
            same = self.order == self._before
            self.does = "Space closes this" if same else "Space keeps this order"
            self.keys = "A plays it   Escape leaves it as it was"
            self.hint.setText(
                "Left and Right choose a screw\n"
                "Page Up and Page Down move it in the order\n"
                "B begins with it   M mirrors   C computed   G as the sheet\n"
                "T types the manual's list\n"
                "or drag a screw onto another one: it takes its place"
            )
        if numbers and not self._frozen:
            self.after = f"chosen: place {self._chosen + 1} of {len(numbers)}"
        else:
            self.after = ""
        self.said.emit()

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        self.diagram.set_look(look, factor)
        self.entry.set_look(look, factor)
        self.title.setFont(font_px(SIZES_PX["instruction"] * factor, "bold"))
        self.whose.setFont(font_px(SIZES_PX["text"] * factor, "bold"))
        for label in (self.differs, self.list, self.hint, self.fault):
            label.setFont(font_px(SIZES_PX["text"] * factor))
        self.entry.setFont(font_px(SIZES_PX["text"] * 1.1 * factor))
        self.entry.setMinimumHeight(round(48 * factor))
        palette = self.hint.palette()
        palette.setColor(self.hint.foregroundRole(), look.color("soft"))
        self.hint.setPalette(palette)
        self._column.setSpacing(round(12 * factor))
        self._place_parts()

    def _place_parts(self) -> None:
        f = self._factor
        pad = round(24 * f)
        side = round(min(490 * f, self.width() * 0.38))
        height = self.height() - round(22 * f)
        self.diagram.setGeometry(
            pad, round(6 * f), max(10, self.width() - side - 3 * pad), max(10, height)
        )
        self._side.setGeometry(
            self.width() - side - pad, round(6 * f), max(10, side), max(10, height)
        )

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_parts()

    # --- doing ----------------------------------------------------------------------------

    def _take(self, numbers: tuple[int, ...], by: str = "user") -> None:
        if not self._frozen:
            self._stop()
            self.order = Order(numbers, by)  # type: ignore[arg-type]
            self._show()

    def press(self) -> None:
        if not self.entry.isHidden():
            self._take_typed()
            return
        if self.pattern is not None and self.order != self._before:
            self.kept.emit(self.pattern.name, self.order)
        self.close_board()

    def close_board(self) -> None:
        self._stop()
        super().close_board()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and not self.entry.isHidden():
            self._leave_typing()
        else:
            super().keyPressEvent(event)

    def take_key(self, event: QKeyEvent) -> bool:
        numbers, pattern = self.order.numbers, self.pattern
        if pattern is None or not numbers:
            return False
        key = event.key()
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Up):
            self._choose(self._chosen - 1)
        elif key in (Qt.Key.Key_Right, Qt.Key.Key_Down):
            self._choose(self._chosen + 1)
        elif key == Qt.Key.Key_A:
            self._play()
        elif self._frozen:
            return False
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self._move(-1 if key == Qt.Key.Key_PageUp else 1)
        elif key == Qt.Key.Key_B:
            self._take(start_order(pattern, numbers, numbers[self._chosen]))
            self._choose(0)
        elif key == Qt.Key.Key_M:
            self._take(mirror_order(pattern, numbers))
        elif key == Qt.Key.Key_C:
            self._take(compute_pattern_order(pattern).numbers, "computed")
        elif key == Qt.Key.Key_G:
            given = find_order(pattern)
            self._take(given.numbers, given.by)
        elif key == Qt.Key.Key_T:
            self._type()
        else:
            return False
        return True

    def _choose(self, place: int) -> None:
        self._stop()
        self._chosen = place % len(self.order.numbers)
        self._show()

    def _choose_number(self, number: int) -> None:
        if number in self.order.numbers:
            self._choose(self.order.numbers.index(number))

    def _move(self, by: int) -> None:
        place = min(max(self._chosen + by, 0), len(self.order.numbers) - 1)
        number = self.order.numbers[self._chosen]
        self._take(move_in_order(self.order.numbers, number, place + 1))
        self._choose(place)

    def _drop(self, number: int, onto: int) -> None:
        if self._frozen or number == onto:
            return
        place = self.order.numbers.index(onto) + 1
        self._take(move_in_order(self.order.numbers, number, place))
        self._choose(place - 1)

    # --- typing ---------------------------------------------------------------------------

    def _type(self) -> None:
        self.entry.setText(" ".join(str(n) for n in self.order.numbers))
        self.entry.show()
        self.entry.setFocus()
        self.entry.selectAll()
        self._look_at()
        self._say()

    def _look_at(self) -> None:
        if self.pattern is None or self.entry.isHidden():
            return
        try:
            read_order(self.entry.text(), self.pattern)
        except Trouble as trouble:
            self.fault.setText(str(trouble))
        else:
            self.fault.setText("Every number stands there once.")

    def _take_typed(self) -> None:
        if self.pattern is None:
            return
        try:
            numbers = read_order(self.entry.text(), self.pattern)
        except Trouble as trouble:
            self.fault.setText(str(trouble))
            return
        self._leave_typing()
        self._take(numbers, "manual")

    def _leave_typing(self) -> None:
        self.entry.hide()
        self.fault.clear()
        self.setFocus()
        self._say()

    # --- playing --------------------------------------------------------------------------

    def _play(self) -> None:
        if self._clock.isActive():
            self._stop()
        else:
            self._played = 0
            self._clock.start()
        self._show()

    def _play_on(self) -> None:
        self._played += 1
        if self._played > len(self.order.numbers):
            self._stop()
        self._show()

    def _stop(self) -> None:
        self._clock.stop()
        self._played = len(self.order.numbers)


class DraggedDiagram(BoltDiagram):
    """The diagram, whose screws can be dragged onto one another."""

    dropped = Signal(int, int)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self._dragged: int | None = None
        self._at = QPointF()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._dragged = self.number_at(event.position())
        self._at = event.position()
        event.accept()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._dragged is not None:
            self._at = event.position()
            self.update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        dragged, self._dragged = self._dragged, None
        onto = self.number_at(event.position())
        self.update()
        if onto is None:
            return
        if dragged is None or dragged == onto:
            self.picked.emit(onto)
        else:
            self.dropped.emit(dragged, onto)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self._dragged is not None:
            painter = QPainter(self)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            side = 36 * self._factor
            painter.setPen(QPen(self._look.color("ink"), 3 * self._factor))
            painter.drawEllipse(
                QRectF(self._at.x() - side / 2, self._at.y() - side / 2, side, side)
            )
