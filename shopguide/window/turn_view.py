"""The picture of an angle pass on the card: from where to where the paint mark turns."""

from __future__ import annotations

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.bolts.pattern import Head
from shopguide.bolts.protractor import draw_turn
from shopguide.window.bolt_diagram import paint_each
from shopguide.window.palette import Look

SIDE_PX = 200


class TurnView(QWidget):
    """Hidden while there is no angle to show."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._turn: tuple[float, float | None, float | None, Head] | None = None
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.hide()

    def show_turn(
        self, degrees: float | None, low: float | None, high: float | None, head: Head
    ) -> None:
        """The turn in degrees with its limits; None hides the picture."""
        self._turn = None if degrees is None else (degrees, low, high, head)
        if degrees is not None:
            self.setAccessibleName(f"turn {degrees:g} degrees clockwise from the start mark")
        self.setVisible(degrees is not None)
        self.update()

    def sizeHint(self) -> QSize:
        side = round(SIDE_PX * self._factor)
        return QSize(side, side)

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._turn is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._look.color("card"))
        painter.scale(self.width() / SIDE_PX, self.height() / SIDE_PX)
        degrees, low, high, head = self._turn
        shapes = draw_turn(degrees, low=low, high=high, head=head, size=SIDE_PX)
        paint_each(painter, shapes, self._look)
