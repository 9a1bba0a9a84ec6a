"""The wrench with its adapter on the screen: paints the plain shapes of bolts.adapter_drawing."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.bolts.adapter_drawing import AdapterDrawing, AdapterSketch, draw_adapter
from shopguide.window.bolt_diagram import paint_each
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look


class AdapterView(QWidget):
    """A drawing to scale, or the words for why there is none."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.sketch: AdapterSketch | None = None
        self.words = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(200, 120)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()

    def show_sketch(self, sketch: AdapterSketch | None, words: str = "") -> None:
        """Shows a wrench with its adapter; the words where there is no sketch."""
        self.sketch, self.words = sketch, words
        said = words
        if sketch is not None:
            said = f"wrench, lever L {sketch.lever_text}, hand in the middle of the grip"
            if sketch.length_mm:
                said += f"; adapter E {sketch.length_text} at {sketch.angle_text}"
        self.setAccessibleName(said)
        self.update()

    def drawing(self) -> AdapterDrawing | None:
        """The shapes as they are painted."""
        if self.sketch is None:
            return None
        f = self._factor
        return draw_adapter(self.sketch, width=self.width() / f, height=self.height() / f)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._look.color("card"))
        f, drawing = self._factor, self.drawing()
        if drawing is None:
            painter.setFont(font_px(SIZES_PX["text"] * f))
            painter.setPen(self._look.color("soft"))
            room = QRectF(self.rect()).adjusted(24 * f, 16 * f, -24 * f, -16 * f)
            flags = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignCenter
            painter.drawText(room, int(flags), self.words)
            return
        painter.scale(f, f)
        paint_each(painter, drawing.shapes, self._look)
