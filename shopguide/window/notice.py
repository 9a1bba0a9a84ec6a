"""The one kind of place where the window tells something: what happened, where, what to do."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.errors import SheetTrouble, Trouble
from shopguide.window.lettering import font_px, let_break
from shopguide.window.palette import Look

MOST_LINES = 12


class Notice(QWidget):
    """A strip above the bar, hidden while there is nothing to tell. Escape or a click closes it."""

    closed = Signal()

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.what = self.where = self.next = ""
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.hide()

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.updateGeometry()
        self.update()

    def tell_trouble(self, trouble: Trouble) -> None:
        """Shows a Trouble; of a sheet with many faults as many as there is room for."""
        if isinstance(trouble, SheetTrouble) and len(trouble.troubles) == 1:
            trouble = trouble.troubles[0]  # one fault speaks for itself
        what, where, then = trouble.what, trouble.where, trouble.next
        if isinstance(trouble, SheetTrouble) and trouble.troubles:
            lines = [str(t) for t in trouble.troubles[:MOST_LINES]]
            if len(trouble.troubles) > MOST_LINES:
                lines.append(f"and {len(trouble.troubles) - MOST_LINES} more")
            where = "\n".join(([where] if where else []) + lines)
        self.tell(what, where, then)

    def tell(self, what: str, where: str = "", next: str = "") -> None:
        """Shows a line of words, with where and what to do next under it."""
        self.what, self.where, self.next = what, where, next
        self.setAccessibleName(" ".join(x for x in (what, where, next) if x))
        self.updateGeometry()
        self.update()
        self.show()

    def close_notice(self) -> None:
        """Hides the strip."""
        # Its place may be behind another one just now.
        if not self.isHidden():
            self.hide()
            self.closed.emit()

    def _rows(self) -> list[tuple[str, str]]:
        rows = [(let_break(self.what), "bold")]
        rows += [(let_break(text), "regular") for text in (self.where, self.next) if text]
        return rows

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        f = self._factor
        total = 20 * f
        for text, weight in self._rows():
            metrics = QFontMetricsF(font_px(20 * f, weight))  # type: ignore[arg-type]
            box = metrics.boundingRect(
                QRectF(0, 0, width - 60 * f, 100_000), int(Qt.TextFlag.TextWordWrap), text
            )
            total += box.height() + 4 * f
        return round(total)

    def sizeHint(self) -> QSize:
        width = max(self.width(), 400)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.heightForWidth(max(self.width(), 400)))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        f, look = self._factor, self._look
        painter.fillRect(self.rect(), look.color("card"))
        painter.setPen(QPen(look.color("ink"), 3 * f))
        painter.drawLine(0, round(1.5 * f), self.width(), round(1.5 * f))
        y = 12 * f
        for text, weight in self._rows():
            font = font_px(20 * f, weight)  # type: ignore[arg-type]
            painter.setFont(font)
            painter.setPen(look.color("ink"))
            room = QRectF(24 * f, y, self.width() - 60 * f, 100_000)
            box = QFontMetricsF(font).boundingRect(room, int(Qt.TextFlag.TextWordWrap), text)
            painter.drawText(room, int(Qt.TextFlag.TextWordWrap), text)
            y += box.height() + 4 * f

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.close_notice()
