"""The put-back board: what is proposed for putting back, beside the sheet as it would be then."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
    QWheelEvent,
)

from shopguide.job.model import Fill, Sheet, Task, Torque
from shopguide.job.reassembly import Proposal, merge
from shopguide.window.board import Board
from shopguide.window.lettering import SIZES_PX, Weight, font_px, let_break, wrapped_height
from shopguide.window.palette import Look

HEAD = 76.0
FOOT = 40.0
PAD = 24.0
ROW = 34.0
GROUP = 40.0
WRAP = int(Qt.TextFlag.TextWordWrap)
MIDDLE = int(Qt.AlignmentFlag.AlignVCenter)
GROUPS = {"put back": "Put back", "check": "Check", "follow-up": "Follow-ups"}


class Paragraph(NamedTuple):
    """Text, pixels at factor 1, weight, colour role, what stands before it, and room above it."""

    text: str
    px: float = 20
    weight: Weight = "regular"
    role: str = "ink"
    sign: str = ""
    above: float = 0


class PutBackBoard(Board):
    """Up and Down choose, Space takes one or leaves it out, A all, Enter puts them in the sheet."""

    accepted = Signal(object)
    """The proposals that are taken."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__(look, factor)
        self.proposals: tuple[Proposal, ...] = ()
        self.taken: set[str] = set()
        self.at = 0
        self._sheet: Sheet | None = None
        self._whole: Sheet | None = None
        self._places: list[tuple[float, float, int]] = []
        self._rows: list[tuple[float, float, int]] = []
        self._old: set[int] = set()
        self._mine: dict[int, int] = {}
        self._by_title: dict[str, int] = {}
        self.setAccessibleName("Putting back")

    def show_proposals(
        self, sheet: Sheet, proposals: Sequence[Proposal], whole: Sheet | None = None
    ) -> None:
        """Shows what is proposed for this sheet; all of it is taken at first.

        whole: the sheet with all of it, where that is reckoned already.
        """
        self._sheet = sheet
        self.proposals = tuple(one for place in GROUPS for one in proposals if one.place == place)
        self._whole = whole if whole is not None else merge(sheet, self.proposals)
        self.taken = {one.key for one in proposals}
        self.at = 0
        steps = [(one.step, k) for k, one in enumerate(self.proposals) if one.step is not None]
        self._old = {id(place.step) for place in sheet.steps}
        self._mine = {id(step): index for step, index in steps}
        self._by_title = {step.title: index for step, index in steps}
        self._say()

    @property
    def chosen(self) -> tuple[Proposal, ...]:
        """What is taken now."""
        return tuple(one for one in self.proposals if one.key in self.taken)

    @property
    def merged(self) -> Sheet | None:
        """The sheet with what is taken now."""
        if self._sheet is None:
            return None
        return merge(self._sheet, self.chosen)

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
            said = " ".join((*one.asks, one.words))
            self.setAccessibleDescription(f"{tell_title(one)}, {state}. {said}")
        self.keys = "A all or none   Up and Down choose   Escape leaves it"
        self.said.emit()
        self.update()

    # --- keys and mouse -------------------------------------------------------------------

    def press(self) -> None:
        if self.taken:
            chosen = self.chosen
            self.close_board()
            self.accepted.emit(chosen)

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
            self._say()

    def choose(self, index: int) -> None:
        """Goes to a proposal, or to the nearest one that there is."""
        self.at = min(max(index, 0), max(0, len(self.proposals) - 1))
        self._say()

    def take_key(self, event: QKeyEvent) -> bool:
        page = max(1, len(self._places) - 1)
        match event.key():
            case Qt.Key.Key_Up:
                self.choose(self.at - 1)
            case Qt.Key.Key_Down:
                self.choose(self.at + 1)
            case Qt.Key.Key_PageUp:
                self.choose(self.at - page)
            case Qt.Key.Key_PageDown:
                self.choose(self.at + page)
            case Qt.Key.Key_Home:
                self.choose(0)
            case Qt.Key.Key_End:
                self.choose(len(self.proposals) - 1)
            case Qt.Key.Key_A:
                every = {one.key for one in self.proposals}
                self.taken = set() if self.taken == every else every
                self._say()
            case _:
                return False
        return True

    def mousePressEvent(self, event: QMouseEvent) -> None:
        x, y = event.position().x(), event.position().y()
        left = x <= self._split()
        for top, bottom, index in self._places if left else self._rows:
            if top <= y < bottom:
                self.choose(index)
                if left and x < (PAD + 56) * self._factor:
                    self.tick()
                return

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """The second click of a quick pair is a click like any other."""
        self.mousePressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:
        notches = event.angleDelta().y()
        if notches:
            self.choose(self.at + (-1 if notches > 0 else 1))

    # --- painting -------------------------------------------------------------------------

    def _split(self) -> float:
        return self.width() * 0.56

    def _list_paragraphs(self, index: int) -> list[Paragraph]:
        one = self.proposals[index]
        title = Paragraph(tell_title(one), 22, "strong")
        if index != self.at:
            return [title, Paragraph(_sum_up(one), 18, role="soft")]
        parts: list[Paragraph] = []
        for task in one.step.tasks if one.step is not None else ():
            parts.append(Paragraph(task.text, sign="–", above=4))
            told = [self._tell_task(task, one), *task.note.splitlines()]
            parts += [Paragraph(line, 18, role="soft", sign=" ") for line in told if line]
        if one.follow_up is not None:
            parts.append(Paragraph(f"After {one.follow_up.after}.", above=4))
        asks = [Paragraph(ask, 20, "bold", sign="?", above=6) for ask in one.asks]
        why = Paragraph(one.words, 18, role="soft", above=6)
        return [title, *parts, *asks, why]

    def _tell_task(self, task: Task, one: Proposal) -> str:
        """The figure that a task works to, in a few words."""
        if isinstance(task, Torque) and task.spec is not None:
            known = {s.name: s for s in (*one.specs, *(self._sheet.specs if self._sheet else ()))}
            spec = known.get(task.spec)
            figure = spec.tell() if spec is not None else "not known"
            passes = task.passes if isinstance(task.passes, str) else ""
            said = "torque not known" if figure == "not known" else figure
            return f"{said}, {passes}" if passes not in ("", "torque") else said
        if isinstance(task, Fill) and task.like_drained:
            return "as much as was drained"
        return ""

    def _fit(self, index: int, room: float, view: float) -> list[Paragraph]:
        """The paragraphs of a proposal; where they are too many, tasks are left out and told."""
        parts = self._list_paragraphs(index)
        tasks = [k for k, part in enumerate(parts) if part.sign == "–"]
        end = next((k for k, p in enumerate(parts) if tasks and k > tasks[-1] and p.above == 6), 0)
        left = len(tasks)
        while self._measure(parts, index, room) > view and left > 1:
            left -= 1
            rest = Paragraph(f"and {len(tasks) - left} more", 18, role="soft", sign=" ", above=4)
            parts = [*parts[: tasks[left]], rest, *self._list_paragraphs(index)[end:]]
        return parts

    def _measure(self, parts: Sequence[Paragraph], index: int, room: float) -> float:
        f = self._factor
        if index != self.at:
            return sum(part.px * 1.35 * f for part in parts) + 16 * f
        return 20 * f + sum(part.above * f + self._measure_one(part, room) for part in parts)

    def _measure_one(self, part: Paragraph, room: float) -> float:
        inner = room - (22 * self._factor if part.sign else 0)
        return wrapped_height(part.text, inner, part.px * self._factor, part.weight)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        split = self._split()
        steps = self._count_steps()
        for left, right, word, more in (
            (PAD * f, split, "Proposed", f"{len(self.taken)} of {len(self.proposals)} taken"),
            (split + PAD * f, self.width(), "The sheet then", _count(steps, "step")),
        ):
            box = QRectF(left, 18 * f, right - left - PAD * f, 44 * f)
            painter.setFont(font_px(SIZES_PX["instruction"] * f, "bold"))
            painter.setPen(look.color("ink"))
            painter.drawText(box, MIDDLE, word)
            painter.setFont(font_px(20 * f))
            painter.setPen(look.color("soft"))
            painter.drawText(box, MIDDLE | int(Qt.AlignmentFlag.AlignRight), more)
            painter.setPen(QPen(look.color("ink"), 1.5 * f))
            painter.drawLine(
                QPointF(left, (HEAD - 4) * f), QPointF(right - PAD * f, (HEAD - 4) * f)
            )
        self._paint_proposals(painter, split)
        self._paint_sheet(painter, split)

    def _count_steps(self) -> int:
        old = len(self._sheet.steps) if self._sheet is not None else 0
        return old + sum(1 for one in self.chosen if one.step is not None)

    # --- the proposals, at the left ---

    def _paint_proposals(self, painter: QPainter, split: float) -> None:
        f = self._factor
        self._places = []
        if not self.proposals:
            return
        room = split - (PAD + 64 + PAD + 10) * f
        view = self.height() - (HEAD + FOOT) * f
        first, last = self._find_shown(room, view)
        top = HEAD * f
        for index in range(first, last + 1):
            if self._begins_group(index) or index == first:
                top = self._paint_group(painter, index, top, split)
            parts = self._fit(index, room, view - GROUP * f)
            height = self._measure(parts, index, room)
            box = QRectF(PAD * f, top, split - 2 * PAD * f, height)
            self._places.append((box.top(), box.bottom(), index))
            self._paint_proposal(painter, box, index, room, parts)
            top += height
        hidden = [(first, "above"), (len(self.proposals) - 1 - last, "below")]
        said = ", ".join(f"{count} more {where}" for count, where in hidden if count)
        painter.setFont(font_px(18 * f))
        painter.setPen(self._look.color("soft"))
        foot = QRectF(PAD * f, self.height() - FOOT * f, split - 2 * PAD * f, FOOT * f)
        painter.drawText(foot, MIDDLE, said)

    def _begins_group(self, index: int) -> bool:
        here, before = self.proposals[index], self.proposals[index - 1]
        return index == 0 or here.place != before.place

    def _find_shown(self, room: float, view: float) -> tuple[int, int]:
        """The first and the last proposal that are shown: the chosen one with what fits round it,
        each of them whole."""
        f = self._factor
        one_line = (22 + 18) * 1.35 * f + 16 * f
        chosen = self._measure(self._fit(self.at, room, view - GROUP * f), self.at, room)

        def reckon(first: int, last: int) -> float:
            groups = 1 + sum(self._begins_group(k) for k in range(first + 1, last + 1))
            return groups * GROUP * f + (last - first) * one_line + chosen

        first = last = self.at
        # Two thirds of the room above the chosen one stay with what comes before it.
        while first > 0 and reckon(first - 1, last) <= view * 0.66:
            first -= 1
        while last + 1 < len(self.proposals) and reckon(first, last + 1) <= view:
            last += 1
        while first > 0 and reckon(first - 1, last) <= view:
            first -= 1
        return first, last

    def _paint_group(self, painter: QPainter, index: int, top: float, split: float) -> float:
        f = self._factor
        box = QRectF(PAD * f, top, split - 2 * PAD * f, GROUP * f)
        painter.setFont(font_px(20 * f, "bold"))
        painter.setPen(self._look.color("ink"))
        word = GROUPS[self.proposals[index].place]
        painter.drawText(box.adjusted(0, 4 * f, 0, 0), MIDDLE, word)
        painter.setPen(QPen(self._look.color("hairline"), max(1.0, f)))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        return box.bottom()

    def _paint_proposal(
        self, painter: QPainter, box: QRectF, index: int, room: float, parts: list[Paragraph]
    ) -> None:
        f, look = self._factor, self._look
        here = index == self.at
        if here:
            painter.fillRect(box, look.color("card"))
            painter.fillRect(QRectF(box.left(), box.top(), 8 * f, box.height()), look.color("ink"))
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        taken = self.proposals[index].key in self.taken
        self._paint_tick(painter, QPointF(box.left() + 22 * f, box.top() + 12 * f), taken)
        top = box.top() + 8 * f
        for part in parts:
            font = font_px(part.px * f, part.weight)
            painter.setFont(font)
            painter.setPen(look.color(part.role if taken or here else "soft"))
            left = box.left() + 60 * f
            if here:
                top += part.above * f
                height = self._measure_one(part, room)
                if part.sign:
                    sign = QRectF(left, top, 22 * f, part.px * 1.35 * f)
                    painter.drawText(sign, int(Qt.AlignmentFlag.AlignTop), part.sign)
                    left += 22 * f
                text = QRectF(left, top, box.left() + 60 * f + room - left, height + 2)
                painter.drawText(text, WRAP, let_break(part.text))
            else:
                height = part.px * f * 1.35
                shown = QFontMetricsF(font).elidedText(part.text, Qt.TextElideMode.ElideRight, room)
                painter.drawText(QRectF(left, top, room, height), MIDDLE, shown)
            top += height

    def _paint_tick(self, painter: QPainter, at: QPointF, taken: bool) -> None:
        f, look = self._factor, self._look
        x, y = at.x(), at.y()
        painter.setPen(QPen(look.color("ink"), 2 * f))
        painter.drawRect(QRectF(x, y, 22 * f, 22 * f))
        if taken:
            painter.setPen(QPen(look.color("ink"), 4 * f))
            painter.drawPolyline(
                QPolygonF(
                    [
                        QPointF(x + 4 * f, y + 11 * f),
                        QPointF(x + 9 * f, y + 17 * f),
                        QPointF(x + 20 * f, y + 2 * f),
                    ]
                )
            )

    # --- the sheet, at the right ---

    def _list_rows(self) -> tuple[list[tuple[str, str, int]], int]:
        """(number, words, proposal or -1) of each row, and the row of the one that is chosen.

        The rows of what is left out are not there; the chosen row is then the nearest before it.
        """
        assert self._sheet is not None and self._whole is not None
        rows: list[tuple[str, str, int]] = []
        focus, nearest, number = 0, -1, 0
        for stage in self._whole.stages:
            head = len(rows)
            rows.append(("", stage.title, -1))
            for step in stage.steps:
                index = -1
                if id(step) not in self._old:
                    index = self._mine.get(id(step), self._by_title.get(step.title, -1))
                    if index >= 0 and self.proposals[index].key not in self.taken:
                        continue
                number += 1
                if nearest < index <= self.at:
                    nearest, focus = index, len(rows)
                rows.append((str(number), step.title, index))
            if len(rows) == head + 1:
                rows.pop()
        later = [
            (" ", f"{one.follow_up.text} ({one.follow_up.after})", index)
            for index, one in enumerate(self.proposals)
            if one.follow_up is not None and one.key in self.taken
        ]
        if later:
            rows.append(("", "Follow-ups", -1))
            for row in later:
                if nearest < row[2] <= self.at:
                    nearest, focus = row[2], len(rows)
                rows.append(row)
        return rows, focus

    def _paint_sheet(self, painter: QPainter, split: float) -> None:
        """The stages and steps with what is taken: new ones in bold behind a bar."""
        self._rows = []
        if self._whole is None or self._sheet is None:
            return
        f, look = self._factor, self._look
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(QPointF(split, HEAD * f), QPointF(split, self.height()))
        rows, focus = self._list_rows()
        height = ROW * f
        shown = max(1, int((self.height() - (HEAD + 8) * f) / height))
        first = min(max(0, focus - shown // 2), max(0, len(rows) - shown))
        left, right = split + PAD * f, self.width() - PAD * f
        for k, (told, title, index) in enumerate(rows[first : first + shown]):
            box = QRectF(left, HEAD * f + k * height, right - left, height)
            new = index >= 0
            if new:
                self._rows.append((box.top(), box.bottom(), index))
                if index == self.at:
                    painter.fillRect(box, look.color("card"))
                bar = QRectF(box.left(), box.top() + 4 * f, 4 * f, height - 8 * f)
                painter.fillRect(bar, look.color("ink"))
            if not told:
                painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
                painter.drawLine(box.bottomLeft(), box.bottomRight())
            painter.setPen(look.color("soft"))
            painter.setFont(font_px(18 * f))
            painter.drawText(box.adjusted(14 * f, 0, 0, 0), MIDDLE, told)
            weight: Weight = "bold" if not told else "strong" if new else "regular"
            font = font_px(20 * f, weight)
            painter.setFont(font)
            painter.setPen(look.color("ink" if new or not told else "soft"))
            room = box.adjusted(60 * f if told else 0, 0, -4 * f, 0)
            text = QFontMetricsF(font).elidedText(title, Qt.TextElideMode.ElideRight, room.width())
            painter.drawText(room, MIDDLE, text)


def tell_title(one: Proposal) -> str:
    """What a proposal is called."""
    if one.step is not None:
        return one.step.title
    return one.follow_up.text if one.follow_up is not None else one.key


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'s' if number != 1 else ''}"


def _sum_up(one: Proposal) -> str:
    """Under a title: how much is in it, and whether anything is asked."""
    tell: list[str] = []
    if one.step is not None:
        tell.append(_count(len(one.step.tasks), "task"))
        new = sum(task.text.startswith("Fit the new") for task in one.step.tasks)
        if new:
            tell.append(_count(new, "new part"))
    elif one.follow_up is not None:
        tell.append(f"after {one.follow_up.after}")
    if one.asks:
        tell.append(_count(len(one.asks), "question"))
    return " · ".join(tell)
