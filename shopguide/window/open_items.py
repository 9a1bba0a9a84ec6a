"""The open items on the screen: what is off, undone or drained, and how it was left."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.work.ledger import OpenItem


class OpenItems(QWidget):
    """Painted rows; as many as there is room for, then how many more."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._items: tuple[OpenItem, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.update()

    def show_items(self, items: tuple[OpenItem, ...]) -> None:
        """The items still open, oldest first; the latest is shown on top."""
        self._items = items
        count = len(items)
        self.setAccessibleName(f"{count} open item{'' if count == 1 else 's'}")
        self.setAccessibleDescription("; ".join(f"{i.item} {i.how}" for i in items))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        f, look = self._factor, self._look
        painter.fillRect(self.rect(), look.color("card"))
        left, width = 28 * f, self.width() - 56 * f
        title = font_px(SIZES_PX["instruction"] * f, "bold")
        painter.setFont(title)
        painter.setPen(look.color("ink"))
        count = len(self._items)
        head = f"{count} open item{'' if count == 1 else 's'}" if count else "Nothing is open"
        painter.drawText(QRectF(left, 22 * f, width, 40 * f), 0, head)
        y = 74 * f
        strong, text = font_px(22 * f, "strong"), font_px(SIZES_PX["text"] * f)
        metrics = QFontMetricsF(text)
        if not count:
            painter.setFont(text)
            painter.setPen(look.color("soft"))
            painter.drawText(
                QRectF(left, y, width, 80 * f),
                int(Qt.TextFlag.TextWordWrap),
                "What is taken off, undone or drained stands here until it is back.",
            )
            return
        for index, item in enumerate(reversed(self._items)):
            if y + 100 * f > self.height() and index < count - 1:
                painter.setFont(text)
                painter.setPen(look.color("ink"))
                painter.drawText(
                    QRectF(left, y + 6 * f, width, 30 * f), 0, f"and {count - index} more"
                )
                return
            painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
            painter.drawLine(round(left), round(y), round(left + width), round(y))
            painter.setFont(strong)
            painter.setPen(look.color("ink"))
            row = QRectF(left, y + 8 * f, width, 30 * f)
            how_width = metrics.horizontalAdvance(item.how) + 20 * f
            name = QFontMetricsF(strong).elidedText(
                item.item, Qt.TextElideMode.ElideRight, width - how_width
            )
            painter.drawText(row, int(Qt.AlignmentFlag.AlignVCenter), name)
            painter.setFont(text)
            painter.drawText(
                row, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight), item.how
            )
            painter.setPen(look.color("soft"))
            note = metrics.elidedText(item.note, Qt.TextElideMode.ElideRight, width)
            painter.drawText(QRectF(left, y + 38 * f, width, 28 * f), 0, note)
            y += 78 * f
