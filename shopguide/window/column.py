"""A column that can be longer than the window: no scroll bar, a slim line shows where one is."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QScrollArea, QWidget

from shopguide.window.palette import Look


class Column(QScrollArea):
    """A scroll area without frame; wheel, touch and the focus move it."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._line = PlaceLine(self, look, factor)
        self._edges = (_Edge(self), _Edge(self))
        bar = self.verticalScrollBar()
        bar.valueChanged.connect(lambda _: self._show_edges())
        bar.rangeChanged.connect(lambda *_: self._show_edges())

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._line.look, self._line.factor = look, factor
        self._place_line()

    def fill(self, body: QWidget) -> None:
        """Shows another column; the one before goes."""
        old = self.takeWidget()
        if old is not None:
            old.deleteLater()
        self.setWidget(body)
        body.setAutoFillBackground(False)
        self.viewport().setAutoFillBackground(False)
        self._line.raise_()

    def go_to_top(self) -> None:
        """Shows what stands above the first line that takes the keys."""
        self.verticalScrollBar().setValue(0)

    def _place_line(self) -> None:
        self._line.place()
        f = self._line.factor
        thick = max(1, round(f))
        for edge, y in zip(self._edges, (0, self.height() - thick), strict=True):
            edge.color = self._line.look.color("hairline")
            edge.setGeometry(0, y, self.width() - round(6 * f), thick)
            edge.raise_()
            edge.update()
        self._show_edges()

    def _show_edges(self) -> None:
        """A hairline where the column goes on, so that a cut text is seen to go on too."""
        bar = self.verticalScrollBar()
        self._edges[0].setVisible(bar.value() > 0)
        self._edges[1].setVisible(bar.value() < bar.maximum())

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # The keys belong to the place: it moves from line to line and the column follows.
        event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_line()


class _Edge(QWidget):
    """A hairline at the upper or lower edge."""

    def __init__(self, column: Column) -> None:
        super().__init__(column)
        self.color = QColor()
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)

    def paintEvent(self, event: QPaintEvent) -> None:
        QPainter(self).fillRect(self.rect(), self.color)


class PlaceLine(QWidget):
    """The slim line at the right edge of what can be longer than the window."""

    def __init__(self, area: QAbstractScrollArea, look: Look, factor: float) -> None:
        super().__init__(area)
        self._area, self.look, self.factor = area, look, factor
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        bar = area.verticalScrollBar()
        bar.valueChanged.connect(lambda _: self.update())
        bar.rangeChanged.connect(lambda *_: self.update())

    def place(self) -> None:
        """Follows the size of the area."""
        width = max(4, round(6 * self.factor))
        self.setGeometry(self._area.width() - width, 0, width, self._area.height())
        self.raise_()

    def paintEvent(self, event: QPaintEvent) -> None:
        bar = self._area.verticalScrollBar()
        whole = bar.maximum() + bar.pageStep()
        if bar.maximum() <= 0 or whole <= 0:
            return
        painter = QPainter(self)
        painter.fillRect(self.rect(), self.look.color("hairline"))
        top = self.height() * bar.value() / whole
        height = max(24.0, self.height() * bar.pageStep() / whole)
        painter.fillRect(QRectF(0, top, self.width(), height), self.look.color("soft"))
