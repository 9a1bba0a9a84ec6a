"""The put-back board: what is proposed for putting back, beside the sheet as it would be then."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)

from shopguide.job.model import Sheet
from shopguide.job.reassembly import Proposal, merge
from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, Weight, font_px, let_break, wrapped_height
from shopguide.window.palette import Look

HEAD = 76.0
PAD = 24.0
WRAP = int(Qt.TextFlag.TextWordWrap)
Paragraph = tuple[str, float, Weight, str]
"""Text, pixels at factor 1, weight, colour role."""


class PutBackBoard(Board):
    """Up and Down choose, Space takes one or leaves it out, A all, Enter puts them in the sheet."""

    accepted = Signal(object, int)
    """The sheet with what was taken in it, and how many proposals that were."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.proposals: tuple[Proposal, ...] = ()
        self.taken: set[str] = set()
        self.at = 0
        self._sheet: Sheet | None = None
        self._merged: Sheet | None = None
        self._tops: list[tuple[float, float]] = []
        self.setAccessibleName("Putting back")

    def show_proposals(self, sheet: Sheet, proposals: Sequence[Proposal]) -> None:
        """Shows what is proposed for this sheet; all of it is taken at first."""
        self._sheet, self.proposals = sheet, tuple(proposals)
        self.taken = {one.key for one in proposals}
        self.at = 0
        self._merge()

    @property
    def merged(self) -> Sheet | None:
        """The sheet with what is taken now."""
        return self._merged

    def _merge(self) -> None:
        assert self._sheet is not None
        chosen = [one for one in self.proposals if one.key in self.taken]
        self._merged = merge(self._sheet, chosen) if chosen else self._sheet
        self._say()

    def _say(self) -> None:
        count = len(self.taken)
        if count:
            self.does = f"Enter puts {count} of {len(self.proposals)} into the sheet"
        else:
            self.does = "Nothing is taken. Escape leaves the sheet as it is"
        if self.proposals:
            one = self.proposals[self.at]
            deed = "leaves this one out" if one.key in self.taken else "takes this one"
            self.after = f"Space {deed}"
            state = "taken" if one.key in self.taken else "left out"
            self.setAccessibleDescription(f"{_tell_title(one)}, {state}. {one.words}")
        self.keys = "A all or none   Up and Down choose   Escape leaves it"
        self.said.emit()
        self.update()

    # --- keys and mouse -------------------------------------------------------------------

    def press(self) -> None:
        if self.taken and self._merged is not None:
            merged, count = self._merged, len(self.taken)
            self.close_board()
            self.accepted.emit(merged, count)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space:
            if not event.isAutoRepeat():
                self.tick()
        else:
            super().keyPressEvent(event)

    def tick(self) -> None:
        """Takes the proposal that is chosen, or leaves it out."""
        if self.proposals:
            self.taken ^= {self.proposals[self.at].key}
            self._merge()

    def take_key(self, event: QKeyEvent) -> bool:
        match event.key():
            case Qt.Key.Key_Up | Qt.Key.Key_Down:
                by = -1 if event.key() == Qt.Key.Key_Up else 1
                self.at = min(max(self.at + by, 0), max(0, len(self.proposals) - 1))
                self._say()
            case Qt.Key.Key_A:
                every = {one.key for one in self.proposals}
                self.taken = set() if self.taken == every else every
                self._merge()
            case _:
                return False
        return True

    def mousePressEvent(self, event: QMouseEvent) -> None:
        y = event.position().y()
        if event.position().x() > self._split():
            return
        for index, (top, bottom) in enumerate(self._tops):
            if top <= y < bottom:
                if index == self.at:
                    self.tick()
                else:
                    self.at = index
                    self._say()

    # --- painting -------------------------------------------------------------------------

    def _split(self) -> float:
        return self.width() * 0.56

    def _list_paragraphs(self, index: int) -> list[Paragraph]:
        one = self.proposals[index]
        parts: list[Paragraph] = [(_tell_title(one), 22, "strong", "ink")]
        if index != self.at:
            return [*parts, (_shorten(one), 18, "regular", "soft")]
        if one.step is not None:
            parts += [(f"– {task.text}", 20, "regular", "ink") for task in one.step.tasks]
        parts.append((one.words, 18, "regular", "soft"))
        parts += [(f"Asks: {ask}", 20, "bold", "ink") for ask in one.asks]
        return parts

    def _height(self, index: int, room: float) -> float:
        f = self._factor
        height = sum(
            wrapped_height(text, room, px * f, weight) if index == self.at else px * f * 1.35
            for text, px, weight, _ in self._list_paragraphs(index)
        )
        return height + 16 * f

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        split = self._split()
        painter.setFont(font_px(SIZES_PX["instruction"] * f, "bold"))
        painter.setPen(look.color("ink"))
        for left, right, word in (
            (PAD * f, split, f"Proposed for putting back: {len(self.proposals)}"),
            (split + PAD * f, self.width(), "The sheet then"),
        ):
            box = QRectF(left, 18 * f, right - left - PAD * f, 44 * f)
            painter.setPen(look.color("ink"))
            painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), word)
            painter.setPen(QPen(look.color("ink"), 1.5 * f))
            painter.drawLine(
                QPointF(left, (HEAD - 4) * f), QPointF(right - PAD * f, (HEAD - 4) * f)
            )
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(QPointF(split, HEAD * f), QPointF(split, self.height()))
        painter.setClipRect(QRectF(0, HEAD * f, self.width(), self.height() - HEAD * f))
        self._paint_proposals(painter, split)
        self._paint_sheet(painter, split)

    def _paint_proposals(self, painter: QPainter, split: float) -> None:
        f = self._factor
        room = split - (PAD + 64 + PAD) * f
        heights = [self._height(index, room) for index in range(len(self.proposals))]
        view = self.height() - HEAD * f
        first = self.at
        used = heights[self.at] if heights else 0.0
        while first > 0 and used + heights[first - 1] <= view * 0.8:
            first -= 1
            used += heights[first]
        self._tops = [(0.0, 0.0)] * len(heights)
        top = HEAD * f
        for index in range(first, len(heights)):
            if top > self.height():
                break
            box = QRectF(PAD * f, top, split - 2 * PAD * f, heights[index])
            self._tops[index] = (box.top(), box.bottom())
            self._paint_proposal(painter, box, index, room)
            top += heights[index]

    def _paint_proposal(self, painter: QPainter, box: QRectF, index: int, room: float) -> None:
        f, look = self._factor, self._look
        here = index == self.at
        if here:
            painter.fillRect(box, look.color("card"))
            painter.fillRect(QRectF(box.left(), box.top(), 8 * f, box.height()), look.color("ink"))
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        side = 22 * f
        tick = QRectF(box.left() + 22 * f, box.top() + 12 * f, side, side)
        painter.setPen(QPen(look.color("ink"), 2 * f))
        painter.drawRect(tick)
        taken = self.proposals[index].key in self.taken
        if taken:
            painter.setPen(QPen(look.color("ink"), 4 * f))
            x, y = tick.left(), tick.top()
            painter.drawPolyline(
                QPolygonF(
                    [
                        QPointF(x + 4 * f, y + 11 * f),
                        QPointF(x + 9 * f, y + 17 * f),
                        QPointF(x + 20 * f, y + 2 * f),
                    ]
                )
            )
        top = box.top() + 8 * f
        for text, px, weight, role in self._list_paragraphs(index):
            painter.setFont(font_px(px * f, weight))
            painter.setPen(look.color(role if taken or here else "soft"))
            left = box.left() + 60 * f
            if here:
                height = wrapped_height(text, room, px * f, weight)
                painter.drawText(QRectF(left, top, room, height + 2), WRAP, let_break(text))
            else:
                height = px * f * 1.35
                shown = QFontMetricsF(painter.font()).elidedText(
                    text, Qt.TextElideMode.ElideRight, room
                )
                painter.drawText(
                    QRectF(left, top, room, height), int(Qt.AlignmentFlag.AlignVCenter), shown
                )
            top += height

    def _paint_sheet(self, painter: QPainter, split: float) -> None:
        """The stages and steps with what is taken: new ones in bold behind a bar."""
        if self._merged is None or self._sheet is None:
            return
        f, look = self._factor, self._look
        old = {id(place.step) for place in self._sheet.steps}
        rows: list[tuple[str, str, bool]] = []
        focus = 0
        now = self.proposals[self.at].step if self.proposals else None
        number = 0
        for stage in self._merged.stages:
            rows.append(("", stage.title, False))
            for step in stage.steps:
                number += 1
                new = id(step) not in old
                if new and now is not None and step.title == now.title:
                    focus = len(rows)
                rows.append((str(number), step.title, new))
        kept = {(one.text, one.after) for one in self._sheet.follow_ups}
        later = [u for u in self._merged.follow_ups if (u.text, u.after) not in kept]
        if later:
            rows.append(("", "Follow-ups", False))
            rows += [(" ", f"{one.text} ({one.after})", True) for one in later]
            if self.proposals and self.proposals[self.at].follow_up is not None:
                focus = len(rows) - 1
        height = 34 * f
        shown = max(1, int((self.height() - HEAD * f) / height))
        first = min(max(0, focus - shown // 2), max(0, len(rows) - shown))
        left, right = split + PAD * f, self.width() - PAD * f
        for index, (told, title, new) in enumerate(rows[first : first + shown], first):
            box = QRectF(left, HEAD * f + (index - first) * height, right - left, height)
            if index == focus and focus:
                painter.fillRect(box, look.color("card"))
            if new:
                bar = QRectF(box.left(), box.top() + 4 * f, 4 * f, height - 8 * f)
                painter.fillRect(bar, look.color("ink"))
            if not told:
                painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
                painter.drawLine(box.bottomLeft(), box.bottomRight())
            weight: Weight = "bold" if new or not told else "regular"
            painter.setPen(look.color("soft"))
            painter.setFont(font_px(18 * f))
            painter.drawText(
                box.adjusted(14 * f, 0, 0, 0), int(Qt.AlignmentFlag.AlignVCenter), told
            )
            font = font_px(20 * f, weight)
            painter.setFont(font)
            painter.setPen(look.color("ink" if new or not told else "soft"))
            begin = 52 * f if told else 14 * f
            said = f"new: {title}" if new else title
            room = box.adjusted(begin, 0, -4 * f, 0)
            text = QFontMetricsF(font).elidedText(said, Qt.TextElideMode.ElideRight, room.width())
            painter.drawText(room, int(Qt.AlignmentFlag.AlignVCenter), text)


def _tell_title(one: Proposal) -> str:
    if one.step is not None:
        return one.step.title
    return one.follow_up.text if one.follow_up is not None else one.key


def _shorten(one: Proposal) -> str:
    asks = f"asks {len(one.asks)} thing{'s' if len(one.asks) > 1 else ''}, " if one.asks else ""
    count = len(one.step.tasks) if one.step is not None else 0
    tasks = f"{count} task{'s' if count != 1 else ''}, " if count else ""
    where = f"to {one.place}" if one.place == "put back" else f"among the {one.place}s"
    return f"{tasks}{asks}{where}"
