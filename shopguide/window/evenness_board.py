"""The evenness board: how evenly a joint will end, screw by screw and step by step."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, Qt, QTimer
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFileDialog

from shopguide.bolts.evenness import Evenness, Outcome, forecast_evenness, tell_share, tell_spread
from shopguide.bolts.evenness_drawing import draw_evenness
from shopguide.bolts.joints import TYPICAL_JOINTS, TypicalJoint, choose_joint
from shopguide.bolts.passes import Pass
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble
from shopguide.window.background import Errand, Runner
from shopguide.window.board import Board
from shopguide.window.bolt_diagram import paint_shapes
from shopguide.window.lettering import LEAST_TEXT_PX, SIZES_PX, font_px
from shopguide.window.palette import Look

FRAME_MS = 34
"""At most 30 pictures a second."""
SLOWEST_MS = 240
PLAYS_MS = 9_000
"""How long the whole is to play, about."""
PAD = 24.0
LINE = 66.0
"""Room below the drawing for the line that is scrubbed."""
SIDE = 560.0
WRAP = int(Qt.TextFlag.TextWordWrap)
TITLE = "The forecast is being made"


class EvennessBoard(Board):
    """Left the bars and the line to scrub, right the figures and what they are worth.

    Space plays and stops; Left and Right go screw by screw, Page Up and Page Down pass by pass,
    Home and End to either end; G takes the next kind of gasket, P prints.
    """

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.forecast: Evenness | None = None
        self.moment = 0
        self.choose_path: Callable[[str], str] = self._open_path_dialog
        self.told = ""
        self._trouble: Trouble | None = None
        self._errand: Errand | None = None
        self._ask: tuple[Pattern, tuple[int, ...], tuple[Pass, ...], Runner] | None = None
        self._torques: tuple[float | None, ...] | None = None
        self._joint: TypicalJoint | None = None
        self._clock = QTimer(self)
        self._clock.timeout.connect(self._play_on)
        self._stride = 1
        self._say()

    # --- showing --------------------------------------------------------------------------

    def show_pattern(
        self,
        pattern: Pattern,
        order: Sequence[int],
        passes: Sequence[Pass],
        runner: Runner,
        torques_nm: Sequence[float | None] | None = None,
    ) -> None:
        """Begins the forecast, off this thread. torques_nm: of each pass, where known."""
        self._ask = (pattern, tuple(order), tuple(passes), runner)
        self._torques = tuple(torques_nm) if torques_nm is not None else None
        self._joint = choose_joint(pattern)
        self._begin()

    @property
    def busy(self) -> bool:
        """True while a forecast is being made."""
        return self._errand is not None

    def _begin(self) -> None:
        if self._ask is None:
            return
        self._leave_errand()
        self._stop()
        pattern, order, passes, runner = self._ask
        self.forecast, self._trouble, self.told = None, None, ""
        errand = Errand(TITLE)
        self._errand = errand
        errand.told.connect(self._tell)
        errand.done.connect(lambda found: self._show(errand, found))
        errand.failed.connect(lambda trouble: self._fail(errand, trouble))
        joint, torques = self._joint, self._torques
        runner.run(
            errand,
            lambda errand: forecast_evenness(
                pattern,
                order,
                passes,
                joint=joint,
                torques_nm=torques,
                cancelled=errand.is_cancelled,
                tell=errand.tell,
            ),
        )
        self._say()

    def _leave_errand(self) -> None:
        if self._errand is not None:
            self._errand.cancel()
            self._errand = None

    def _tell(self, what: str, done: int, of: int) -> None:
        if self._errand is not None and self.forecast is None:
            self.told = f"{what}, {done} of {of}"
            self.update()

    def _show(self, errand: Errand, found: Evenness) -> None:
        if errand is not self._errand:
            return
        self._errand = None
        self.told = ""
        self.forecast = found
        self.moment = len(found.moments) - 1
        self._say()

    def _fail(self, errand: Errand, trouble: Trouble) -> None:
        if errand is self._errand:
            self._errand = None
            self._trouble = trouble
            self._say()

    def _say(self) -> None:
        found = self.forecast
        self.keys = "Escape closes this"
        self.after = ""
        if found is None:
            self.does = "Space closes this"
        else:
            self.does = "Space stops" if self._clock.isActive() else "Space plays it, step by step"
            self.after = "Left and Right: screw by screw"
            self.keys = "G another gasket   P paper   Escape closes"
            self.setAccessibleName(f"Forecast of evenness, {found.pattern.title}")
            self.setAccessibleDescription(" ".join(found.tell()))
        self.said.emit()
        self.update()

    # --- keys and mouse -------------------------------------------------------------------

    def press(self) -> None:
        if self.forecast is None:
            self.close_board()
        elif self._clock.isActive():
            self._stop()
            self._say()
        else:
            self._play()

    def close_board(self) -> None:
        self._stop()
        self._leave_errand()
        super().close_board()

    def take_key(self, event: QKeyEvent) -> bool:
        if event.key() == Qt.Key.Key_G and self._ask is not None:
            self._change_joint()
            return True
        found = self.forecast
        if found is None:
            return False
        last = len(found.moments) - 1
        match event.key():
            case Qt.Key.Key_Left:
                self.go_to(self.moment - 1)
            case Qt.Key.Key_Right:
                self.go_to(self.moment + 1)
            case Qt.Key.Key_PageUp:
                self.go_to(max((e for e in self._ends() if e < self.moment), default=0))
            case Qt.Key.Key_PageDown:
                self.go_to(min((e for e in self._ends() if e > self.moment), default=last))
            case Qt.Key.Key_Home:
                self.go_to(0)
            case Qt.Key.Key_End:
                self.go_to(last)
            case Qt.Key.Key_P:
                self._print()
            case _:
                return False
        return True

    def go_to(self, moment: int) -> None:
        """Shows a moment, the nearest there is; stops the playing."""
        if self.forecast is None:
            return
        was_playing = self._clock.isActive()
        self._stop()
        self.moment = min(max(moment, 0), len(self.forecast.moments) - 1)
        self.told = ""
        if was_playing:
            self._say()
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        event.accept()
        self._scrub(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._scrub(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        event.accept()

    def _scrub(self, event: QMouseEvent) -> None:
        if self.forecast is None:
            return
        x, y = event.position().x() / self._factor, event.position().y() / self._factor
        left, right, middle = self._rail()
        if middle - 26 <= y <= middle + 40 and left - 20 <= x <= right + 20:
            share = (x - left) / max(1.0, right - left)
            self.go_to(round(share * (len(self.forecast.moments) - 1)))

    def _change_joint(self) -> None:
        assert self._joint is not None
        place = TYPICAL_JOINTS.index(self._joint) if self._joint in TYPICAL_JOINTS else -1
        self._joint = TYPICAL_JOINTS[(place + 1) % len(TYPICAL_JOINTS)]
        self._begin()

    # --- playing --------------------------------------------------------------------------

    def _play(self) -> None:
        assert self.forecast is not None
        steps = max(1, len(self.forecast.moments) - 1)
        if self.moment >= steps:
            self.moment = 0
        interval = min(SLOWEST_MS, max(FRAME_MS, PLAYS_MS // steps))
        self._stride = max(1, round(steps * interval / (2 * PLAYS_MS)))
        self._clock.start(interval)
        self._say()

    def _play_on(self) -> None:
        if self.forecast is None or not self.isVisible():
            self._stop()
            return
        last = len(self.forecast.moments) - 1
        self.moment = min(self.moment + self._stride, last)
        if self.moment == last:
            self._stop()
            self._say()
        self.update()

    def _stop(self) -> None:
        self._clock.stop()

    # --- paper ----------------------------------------------------------------------------

    def _open_path_dialog(self, suggested: str) -> str:
        name, _ = QFileDialog.getSaveFileName(self, "Write the PDF", suggested, "PDF (*.pdf)")
        return name

    def _print(self) -> None:
        """Writes the page with the moment that is shown; says where it went, or why not."""
        found = self.forecast
        if found is None or self._ask is None or self.busy:
            return
        self._stop()
        name = self.choose_path(str(Path.home() / f"evenness {found.pattern.name}.pdf"))
        self.setFocus()
        if not name:
            return
        moment = self.moment
        errand = Errand("The page is being made")
        self._errand = errand
        self.told = errand.title
        errand.done.connect(lambda path: self._tell_end(errand, f"Written: {path}"))
        errand.failed.connect(lambda trouble: self._tell_end(errand, str(trouble)))
        self._ask[3].run(errand, lambda errand: _write_page(found, moment, Path(name)))
        self._say()

    def _tell_end(self, errand: Errand, text: str) -> None:
        if errand is self._errand:
            self._errand = None
            self.told = text
            self._say()

    # --- painting -------------------------------------------------------------------------

    def _size(self) -> tuple[float, float]:
        return self.width() / self._factor, self.height() / self._factor

    def _least_text(self) -> float:
        """The smallest text in units: 18 px in a small window, never less than 18 units."""
        return math.ceil(LEAST_TEXT_PX / min(1.0, self._factor) - 0.01)

    def _left_wide(self) -> float:
        width, _ = self._size()
        return max(200.0, width - min(SIDE, 0.43 * width) - 3 * PAD)

    def _rail(self) -> tuple[float, float, float]:
        """Left and right end of the line to scrub, and its height, in units."""
        _, height = self._size()
        return PAD + 20, PAD + self._left_wide() - 20, height - LINE + 10

    def _ends(self) -> list[int]:
        """The last moment of each trip."""
        assert self.forecast is not None
        moments = self.forecast.moments
        return [
            k for k in range(1, len(moments))
            if k + 1 == len(moments) or moments[k + 1].trip != moments[k].trip
        ]  # fmt: skip

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), self._look.color("ground"))
        painter.scale(self._factor, self._factor)
        _, height = self._size()
        card = QRectF(PAD, 6, self._left_wide(), height - 22)
        painter.fillRect(card, self._look.color("card"))
        if self.forecast is None:
            self._paint_waiting(painter, card)
            return
        room = card.adjusted(8, 40, -8, -LINE)
        self._paint_place(painter, card)
        drawing = draw_evenness(
            self.forecast,
            self.moment,
            width=room.width(),
            height=room.height(),
            least_text=self._least_text(),
        )
        painter.save()
        painter.translate(room.topLeft())
        paint_shapes(painter, drawing, self._look)
        painter.restore()
        self._paint_rail(painter)
        self._paint_words(painter)

    def _paint_waiting(self, painter: QPainter, card: QRectF) -> None:
        inner = card.adjusted(PAD, PAD, -PAD, -PAD)
        what = self._trouble.what if self._trouble is not None else TITLE
        below = self._trouble.next if self._trouble is not None else self.told
        painter.setPen(self._look.color("ink"))
        font = font_px(SIZES_PX["instruction"], "strong")
        painter.setFont(font)
        took = painter.boundingRect(inner, WRAP, what)
        painter.drawText(inner, WRAP, what)
        painter.setPen(self._look.color("soft"))
        painter.setFont(font_px(SIZES_PX["text"]))
        painter.drawText(inner.adjusted(0, took.height() + 12, 0, 0), WRAP, below)

    def _paint_place(self, painter: QPainter, card: QRectF) -> None:
        """Over the drawing: where in the passes this is, and what the wrench did."""
        assert self.forecast is not None
        line = card.adjusted(16, 8, -16, 0)
        line.setHeight(28)
        font = font_px(SIZES_PX["text"])
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        screw = self.forecast.tell_screw(self.moment)
        painter.setPen(self._look.color("ink"))
        middle = int(Qt.AlignmentFlag.AlignVCenter)
        painter.drawText(line, middle | int(Qt.AlignmentFlag.AlignRight), screw)
        painter.setPen(self._look.color("soft"))
        room = line.width() - metrics.horizontalAdvance(screw) - 24
        said = self.forecast.tell_moment(self.moment)
        said = metrics.elidedText(
            said[:1].upper() + said[1:], Qt.TextElideMode.ElideRight, max(40.0, room)
        )
        painter.drawText(line, middle, said)

    def _paint_rail(self, painter: QPainter) -> None:
        """The line to scrub: a tick at the end of each trip, inked as far as it is shown."""
        assert self.forecast is not None
        look = self._look
        left, right, y = self._rail()
        steps = max(1, len(self.forecast.moments) - 1)

        def at(moment: int) -> float:
            return left + (right - left) * moment / steps

        painter.setPen(QPen(look.color("soft"), 1.2 * look.heavier))
        painter.drawLine(QPointF(left, y), QPointF(right, y))
        for end in (0, *self._ends()):
            painter.drawLine(QPointF(at(end), y - 7), QPointF(at(end), y + 7))
        here = at(self.moment)
        painter.setPen(QPen(look.color("ink"), 4.0 * look.heavier))
        painter.drawLine(QPointF(left, y), QPointF(here, y))
        painter.drawLine(QPointF(here, y - 13), QPointF(here, y + 13))
        font = font_px(self._least_text())
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        now = self.forecast.moments[self.moment].trip if self.moment else -1
        start, edge = 0, -1e9
        for trip, end in enumerate(self._ends()):
            words = self.forecast.trips[trip] if trip < len(self.forecast.trips) else ""
            wide = metrics.horizontalAdvance(words)
            x = (at(start) + at(end) - wide) / 2
            x = min(max(x, left - 18), right + 18 - wide)
            if x > edge + 14 and wide <= max(60.0, at(end) - at(start) + 30):
                painter.setPen(look.color("ink" if trip == now else "soft"))
                painter.drawText(QPointF(x, y + 33), words)
                edge = x + wide
            start = end

    def _paint_words(self, painter: QPainter) -> None:
        found = self.forecast
        assert found is not None
        width, height = self._size()
        left = self._left_wide() + 2 * PAD
        column = QRectF(left, 6, width - left - PAD, height - 22)
        strong = [found.tell_verdict() + " " + found.tell_further(), found.tell_lesson()]
        soft = [found.tell_friction(), found.tell_assumed(), found.tell_model()]
        least = self._least_text()
        for size in range(max(round(SIZES_PX["text"]), least), least - 1, -1):
            high = self._measure(painter, column.width(), size, [*strong, *soft])
            top = self._paint_figures(None, column, size)
            if top + high <= column.bottom() or size == least:
                break
        y = self._paint_figures(painter, column, size)
        for color, texts in (("ink", strong), ("soft", soft)):
            for text in texts:
                painter.setFont(font_px(size))
                painter.setPen(self._look.color(color))
                room = QRectF(column.left(), y, column.width(), 400)
                took = painter.boundingRect(room, WRAP, text)
                painter.drawText(room, WRAP, text)
                y += took.height() + 7
            y += 2

    @staticmethod
    def _measure(painter: QPainter, width: float, size: float, texts: Sequence[str]) -> float:
        painter.setFont(font_px(size))
        room = QRectF(0, 0, width, 1000)
        return sum(painter.boundingRect(room, WRAP, text).height() + 7 for text in texts)

    def _paint_figures(self, painter: QPainter | None, column: QRectF, size: float) -> float:
        """The moment's own figures and the three outcomes; returns where they end."""
        found = self.forecast
        assert found is not None
        row = 1.42 * size
        table = column.top() + 114
        if painter is not None:
            self._paint_moment(painter, column)
            self._paint_table(painter, column, table, row, size, found.outcomes)
        return table + 4 * row + 16

    def _paint_moment(self, painter: QPainter, column: QRectF) -> None:
        found = self.forecast
        assert found is not None
        now = found.moments[self.moment]
        painter.setFont(font_px(SIZES_PX["text"]))
        painter.setPen(self._look.color("soft"))
        title = self.told or f"How evenly will this end? {found.pattern.title}"
        title = QFontMetricsF(painter.font()).elidedText(
            title, Qt.TextElideMode.ElideRight, column.width()
        )
        painter.drawText(QPointF(column.left(), column.top() + 23), title)
        top = column.top() + 30
        big = font_px(SIZES_PX["due"], "bold")
        painter.setFont(big)
        painter.setPen(self._look.color("ink"))
        said = tell_share(now.least)
        painter.drawText(QPointF(column.left() - 3, top + 62), said)
        x = column.left() + QFontMetricsF(big).horizontalAdvance("100 %") + 14
        painter.setFont(font_px(SIZES_PX["text"]))
        number = found.edge[min(range(len(found.edge)), key=lambda k: now.loads[k])]
        painter.drawText(QPointF(x, top + 31), f"of its target has {found.tell_name(number)},")
        painter.drawText(QPointF(x, top + 57), "the least loaded now")

    def _paint_table(
        self,
        painter: QPainter,
        column: QRectF,
        top: float,
        row: float,
        size: float,
        outcomes: Sequence[Outcome],
    ) -> None:
        look = self._look
        rights = [column.right() - 228, column.right() - 102, column.right()]
        middle = int(Qt.AlignmentFlag.AlignVCenter)
        end = middle | int(Qt.AlignmentFlag.AlignRight)
        painter.setFont(font_px(size))
        painter.setPen(look.color("soft"))
        painter.drawText(QRectF(column.left(), top, 260, row), middle, "At the end")
        for right, word in zip(rights, ("least", "scatter", "off level"), strict=True):
            painter.drawText(QRectF(right - 120, top, 120, row), end, word)
        for k, one in enumerate(outcomes):
            y = top + (k + 1) * row
            painter.setPen(QPen(look.color("hairline"), look.heavier))
            painter.drawLine(QPointF(column.left(), y), QPointF(column.right(), y))
            painter.setFont(font_px(size, "bold" if k == 0 else "regular"))
            painter.setPen(look.color("ink"))
            painter.drawText(QRectF(column.left(), y, 300, row), middle, one.name)
            told = (tell_share(one.least), tell_spread(one.scatter), tell_spread(one.tilt))
            for right, text in zip(rights, told, strict=True):
                painter.drawText(QRectF(right - 120, y, 120, row), end, text)


def _write_page(found: Evenness, moment: int, path: Path) -> Path:
    from shopguide.job.saving import write_atomically
    from shopguide.paper.evenness_page import make_evenness_page

    write_atomically(path, make_evenness_page(found, moment))
    return path
