"""What Work will show of a step besides its words: the large figure, and the joint drawn."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QVBoxLayout, QWidget

from shopguide.bolts.heads import HeadState
from shopguide.bolts.order import Order, find_order
from shopguide.bolts.pattern import Pattern
from shopguide.window.background import Errand, Runner
from shopguide.window.bolt_diagram import BoltDiagram
from shopguide.window.figure import Figure
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look
from shopguide.work.figures import Figure as Figures

JOINT_PX = 300
MOST_KEPT = 40


class FigureView(QWidget):
    """The largest thing on the card, with what stands under it, as in Work."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(round(3 * factor), round(4 * factor), 0, round(4 * factor))
        column.setSpacing(round(6 * factor))
        self.figure = Figure(look, factor)
        self.under = QLabel()
        self.under.setWordWrap(True)
        self.under.setMinimumWidth(1)
        self.under.setTextFormat(Qt.TextFormat.PlainText)
        self.under.setFont(font_px(SIZES_PX["text"] * factor))
        palette = self.under.palette()
        palette.setColor(self.under.foregroundRole(), look.color("soft"))
        self.under.setPalette(palette)
        column.addWidget(self.figure)
        column.addWidget(self.under)
        self.hide()

    def show_figure(self, told: Figures) -> None:
        """Shows a figure; an empty one hides the widget."""
        self.figure.set_text(told.figure)
        self.under.setText(let_break(told.under))
        self.under.setVisible(bool(told.under))
        self.setVisible(bool(told.figure))


class Orders(QObject):
    """The tightening orders of patterns, computed off the window's thread and kept."""

    ready = Signal(object, object)
    """A pattern and its order, after it was computed."""

    def __init__(self, runner: Runner) -> None:
        super().__init__()
        self._runner = runner
        self._kept: dict[int, tuple[Pattern, Order]] = {}
        self._asked: set[int] = set()

    def find(self, pattern: Pattern) -> Order | None:
        """The order where it is known; else None, and `ready` tells it later."""
        held = self._kept.get(id(pattern))
        if held is not None:
            return held[1]
        if pattern.order is not None:
            return self._keep(pattern, find_order(pattern))
        if id(pattern) not in self._asked:
            self._asked.add(id(pattern))
            errand = Errand(f"The order of {pattern.title}")
            errand.done.connect(lambda order: self.ready.emit(pattern, self._keep(pattern, order)))
            errand.ended.connect(lambda: self._asked.discard(id(pattern)))
            self._runner.run(errand, lambda _: find_order(pattern))
        return None

    def _keep(self, pattern: Pattern, order: Order) -> Order:
        while len(self._kept) >= MOST_KEPT:
            self._kept.pop(next(iter(self._kept)))
        # The pattern is kept as well: so long no other has its id.
        self._kept[id(pattern)] = (pattern, order)
        return order


class JointView(QWidget):
    """The joint of a torque task as Work draws it before the first pass; a click opens it."""

    chosen = Signal()

    def __init__(self, look: Look, factor: float, orders: Orders | None) -> None:
        super().__init__()
        self._orders = orders
        self._pattern: Pattern | None = None
        self._passes = ""
        self.diagram = BoltDiagram(look, factor)
        self.diagram.setMinimumHeight(round(JOINT_PX * factor))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, round(8 * factor), 0, round(4 * factor))
        column.addWidget(self.diagram)
        if orders is not None:
            orders.ready.connect(self._take_order)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.hide()

    def show_joint(self, pattern: Pattern | None, passes: str) -> None:
        """Shows a pattern; None, or one that cannot be read, hides the widget."""
        if pattern is not None and pattern is self._pattern and passes == self._passes:
            return
        self._pattern, self._passes = pattern, passes
        if pattern is None or self._orders is None or not pattern.tightened:
            self.hide()
        else:
            order = self._orders.find(pattern)
            if order is not None:
                self._take_order(pattern, order)

    def _take_order(self, pattern: Pattern, order: Order) -> None:
        """The order of a pattern is there; that of another than the one shown is let go."""
        if pattern is not self._pattern:
            return
        states = {f.number: HeadState() for f in pattern.tightened}
        self.diagram.show_pattern(
            pattern,
            order.numbers,
            states,
            (self._passes, f"{len(pattern.tightened)} to tighten"),
            order.tell(),
        )
        self.show()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self.rect().contains(event.position().toPoint()):
            self.chosen.emit()
