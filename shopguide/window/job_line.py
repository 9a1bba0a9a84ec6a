"""The line across the top: the job from end to end, stages as ticks, how far as the inked part."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import font_px
from shopguide.window.palette import Look

LEAD, TAIL = 0.075, 0.075
"""Shares of the line that stand for Lay out, before the steps, and for Sign off, after them."""


class JobLine(QWidget):
    """Title, open items and time, and the line. A click on a tick's word goes there."""

    chosen = Signal(str)
    """ "shelf", "write", "lay out", "work" or "sign off"."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self._title = ""
        self._right: tuple[str, ...] = ()
        self._stages: tuple[tuple[str, float], ...] = ()
        self._share = 0.0
        self._place = "work"
        self._stage_now = -1
        self._words: list[tuple[QRectF, str]] = []
        self._writes = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMouseTracking(True)
        self.setAccessibleName("The job from end to end")

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.updateGeometry()
        self.update()

    def show_job(
        self,
        title: str,
        stages: tuple[tuple[str, float], ...],
        share: float,
        place: str,
        right: tuple[str, ...],
        stage_now: int = -1,
        *,
        writes: bool = False,
    ) -> None:
        """stages: (title, share of the steps at which it begins); share: how far, 0 to 1.

        writes: the sheet can be written in.
        """
        self._writes = writes or place == "write"
        self._title, self._stages, self._share = title, stages, share
        self._place, self._right, self._stage_now = place, right, stage_now
        self.setAccessibleDescription(", ".join([title, *right]))
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(round(800 * self._factor), round(86 * self._factor))

    def _ticks(self) -> list[tuple[str, float, str, bool]]:
        """(word, position 0 to 1, place, is now) for each tick."""
        middle = 1 - LEAD - TAIL
        ticks = [("Lay out", 0.0, "lay out", self._place == "lay out")]
        for index, (word, at) in enumerate(self._stages):
            now = self._place in ("work", "write") and index == self._stage_now
            ticks.append((word, LEAD + middle * at, "work", now))
        ticks.append(("Sign off", 1 - TAIL, "sign off", self._place == "sign off"))
        return ticks

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f = self._factor
        left, right = 24 * f, self.width() - 24 * f
        look = self._look
        text, strong = font_px(20 * f), font_px(20 * f, "bold")
        small, small_strong = font_px(18 * f), font_px(18 * f, "bold")
        self._words = []

        # The words of the upper line.
        top = QRectF(left, 10 * f, right - left, 28 * f)
        x = self._write_word(painter, "Shelf", "shelf", left, top)
        if self._writes and (self._place == "write" or right - left > 1000 * f):
            x = self._write_word(painter, "Write", "write", x, top)
        painter.setFont(text)
        said = "     ".join(self._right)
        said_width = QFontMetricsF(text).horizontalAdvance(said)
        painter.setPen(look.color("soft"))
        painter.drawText(
            top, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight), said
        )
        painter.setFont(strong)
        painter.setPen(look.color("ink"))
        room = right - said_width - 24 * f - x
        title = QFontMetricsF(strong).elidedText(self._title, Qt.TextElideMode.ElideRight, room)
        painter.drawText(
            QRectF(x, top.top(), room, top.height()), int(Qt.AlignmentFlag.AlignVCenter), title
        )

        # The line: thin to the end, thick and in ink as far as the work has come.
        y = 50 * f
        painter.setPen(QPen(look.color("soft"), 1.4 * f))
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        span = right - left
        if self._place in ("lay out", "write"):
            reach = 0.0
        elif self._place == "sign off" and self._share >= 1:
            reach = 1 - TAIL
        else:
            reach = LEAD + (1 - LEAD - TAIL) * self._share
        if reach > 0:
            painter.setPen(QPen(look.color("ink"), 4 * f))
            painter.drawLine(QPointF(left, y), QPointF(left + span * reach, y))
        ticks = self._ticks()
        taken = 0.0
        for index, (word, at, place, now) in enumerate(ticks):
            x = left + span * at
            passed = at <= reach + 1e-9
            reached = passed or now
            painter.setPen(
                QPen(look.color("ink" if reached else "soft"), (3 if reached else 1.4) * f)
            )
            painter.drawLine(QPointF(x, y - 7 * f), QPointF(x, y + 7 * f))
            end = left + span * (ticks[index + 1][1] if index + 1 < len(ticks) else 1.0)
            font = small_strong if now else small
            painter.setFont(font)
            painter.setPen(look.color("ink" if now else "soft"))
            room = max(0.0, end - x - 3 * f)
            width = QFontMetricsF(font).horizontalAdvance(word)
            if now:
                # The stage under way is always told in full; a neighbour's word gives way.
                taken = max(taken, x + width + 6 * f)
                room = max(room, width)
            elif x < taken:
                continue
            shown = QFontMetricsF(font).elidedText(word, Qt.TextElideMode.ElideRight, room)
            if shown in ("…", ""):
                continue
            box = QRectF(x, y + 8 * f, room, 26 * f)
            painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)
            self._words.append((box, place))

    def _write_word(
        self, painter: QPainter, word: str, place: str, left: float, top: QRectF
    ) -> float:
        """A word of the upper line that leads to a place; where the next one may begin."""
        f, look = self._factor, self._look
        here = self._place == place
        font = font_px(20 * f, "bold" if here else "regular")
        width = QFontMetricsF(font).horizontalAdvance(word)
        painter.setFont(font)
        painter.setPen(look.color("ink" if here else "soft"))
        room = QRectF(left, top.top(), width + 2, top.height())
        painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter), word)
        if not here:
            painter.setPen(QPen(look.color("soft"), 1.2 * f))
            base = top.center().y() + 11 * f
            painter.drawLine(QPointF(left, base), QPointF(left + width, base))
        self._words.append((QRectF(left, 0, width, 44 * f), place))
        return left + width + 22 * f

    def _word_at(self, x: float, y: float) -> str:
        for box, place in self._words:
            if box.contains(QPointF(x, y)):
                return place
        return ""

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        over = self._word_at(event.position().x(), event.position().y())
        self.setCursor(Qt.CursorShape.PointingHandCursor if over else Qt.CursorShape.ArrowCursor)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        place = self._word_at(event.position().x(), event.position().y())
        if place:
            self.chosen.emit(place)
