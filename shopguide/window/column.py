"""A column that can be longer than the window: no scroll bar, a slim line shows where one is."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

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
        self._line = _PlaceLine(self, look, factor)
        bar = self.verticalScrollBar()
        bar.valueChanged.connect(lambda _: self._line.update())
        bar.rangeChanged.connect(lambda *_: self._line.update())

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

    def _place_line(self) -> None:
        width = max(4, round(6 * self._line.factor))
        self._line.setGeometry(self.width() - width, 0, width, self.height())
        self._line.raise_()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        # The keys belong to the place: it moves from line to line and the column follows.
        event.ignore()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_line()


class _PlaceLine(QWidget):
    """The slim line at the right edge."""

    def __init__(self, column: Column, look: Look, factor: float) -> None:
        super().__init__(column)
        self._column, self.look, self.factor = column, look, factor
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)

    def paintEvent(self, event: QPaintEvent) -> None:
        bar = self._column.verticalScrollBar()
        whole = bar.maximum() + bar.pageStep()
        if bar.maximum() <= 0 or whole <= 0:
            return
        painter = QPainter(self)
        painter.fillRect(self.rect(), self.look.color("hairline"))
        top = self.height() * bar.value() / whole
        height = max(24.0, self.height() * bar.pageStep() / whole)
        painter.fillRect(QRectF(0, top, self.width(), height), self.look.color("soft"))
