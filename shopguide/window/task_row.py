"""One line of a card: a task or a pass, with a sign for done, due, skipped or still to come."""

from __future__ import annotations

from typing import Literal

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px, let_break, wrapped_height
from shopguide.window.palette import Look

State = Literal["done", "due", "skipped", "to come"]


class TaskRow(QWidget):
    """A sign, a text that wraps, and what was recorded under it. `picked` on a click."""

    picked = Signal(str)

    def __init__(self, look: Look, factor: float, *, large: bool = True) -> None:
        super().__init__()
        self._look, self._factor, self._large = look, factor, large
        self.address = self.text = self.under = ""
        self.state: State = "to come"
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_task(self, address: str, text: str, state: State, under: str = "") -> None:
        """under: what was recorded, or a figure that belongs to the task."""
        changed = (address, text, state, under) != (
            self.address,
            self.text,
            self.state,
            self.under,
        )
        self.address, self.text, self.state, self.under = address, text, state, under
        self.setAccessibleName(f"{text}: {state}" + (f", {under}" if under else ""))
        if changed:
            self.updateGeometry()
            self.update()

    def _font(self) -> tuple[float, str]:
        size = SIZES_PX["instruction"] if self._large and self.state == "due" else SIZES_PX["text"]
        return size * self._factor, "strong" if self.state == "due" else "regular"

    def _heights(self, width: float) -> tuple[float, float]:
        f = self._factor
        room = width - 40 * f
        size, weight = self._font()
        main = wrapped_height(self.text, room, size, weight)  # type: ignore[arg-type]
        if not self.under:
            return main, 0.0
        return main, wrapped_height(self.under, room, SIZES_PX["text"] * f)

    def cut_between_lines(self, room: float) -> float:
        """The largest height up to `room` at which no line of the text is cut in half."""
        size, weight = self._font()
        main, under = self._heights(self.width())
        top = (6 if self._large else 3) * self._factor
        first = QFontMetricsF(font_px(size, weight)).lineSpacing()  # type: ignore[arg-type]
        second = QFontMetricsF(font_px(SIZES_PX["text"] * self._factor)).lineSpacing()
        if room < top + main:
            return max(0.0, top + (room - top) // first * first)
        return min(top + main + under, top + main + (room - top - main) // second * second)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        main, under = self._heights(width)
        return round(main + under + (12 if self._large else 6) * self._factor)

    def sizeHint(self) -> QSize:
        width = max(self.width(), round(300 * self._factor))
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(160 * self._factor), self.heightForWidth(max(1, self.width())))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        main, under = self._heights(self.width())
        top = (6 if self._large else 3) * f
        ink = look.color("soft" if self.state in ("done", "skipped", "to come") else "ink")
        middle = top + min(main, 34 * f) / 2
        self._paint_sign(painter, middle)
        size, weight = self._font()
        painter.setFont(font_px(size, weight))  # type: ignore[arg-type]
        painter.setPen(ink)
        room = QRectF(40 * f, top, self.width() - 40 * f, main + 2)
        painter.drawText(room, int(Qt.TextFlag.TextWordWrap), let_break(self.text))
        if under:
            painter.setFont(font_px(SIZES_PX["text"] * f))
            painter.setPen(look.color("soft"))
            painter.drawText(
                QRectF(40 * f, top + main, self.width() - 40 * f, under + 2),
                int(Qt.TextFlag.TextWordWrap),
                let_break(self.under),
            )

    def _paint_sign(self, painter: QPainter, y: float) -> None:
        f, look = self._factor, self._look
        if self.state == "done":
            pen = QPen(look.color("soft"), 3 * f)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPolyline(
                QPolygonF(
                    [
                        QPointF(4 * f, y),
                        QPointF(10 * f, y + 7 * f),
                        QPointF(23 * f, y - 8 * f),
                    ]
                )
            )
        elif self.state == "due":
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(look.color("ink"))
            painter.drawRect(QRectF(4 * f, 4 * f, 8 * f, self.height() - 8 * f))
        elif self.state == "skipped":
            painter.setPen(QPen(look.color("soft"), 3 * f))
            painter.drawLine(QPointF(4 * f, y), QPointF(24 * f, y))
        else:
            painter.setPen(QPen(look.color("soft"), 1.6 * f))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(5 * f, y - 8 * f, 16 * f, 16 * f))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self.address and self.rect().contains(event.position().toPoint()):
            self.picked.emit(self.address)
