"""Marking out: the fasteners of a draft on their photo or blank board, and what is being done."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from PySide6.QtCore import QEvent, QLineF, QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFontMetricsF,
    QImage,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QPolygonF,
)

from shopguide.bolts.draft import Draft
from shopguide.bolts.heads import draw_head, draw_loose, draw_struck
from shopguide.bolts.homography import Mapping as ToMm
from shopguide.bolts.homography import invert, map_point
from shopguide.bolts.outline import nearest_two
from shopguide.bolts.placing import Guide
from shopguide.window.bolt_diagram import paint_each
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.light_table import XY, LightTable
from shopguide.window.palette import Look
from shopguide.window.pattern_numbers import find_numbered

HEAD_PX = 11.0
LEAST_HEAD_PX = 4.5
REACH_PX = 14.0
"""A fastener is taken hold of within this distance of its middle, on the screen."""
FARTHEST_PX = 20_000.0
BLANK_MM = (240.0, 160.0)
"""A blank board shows at least so much."""
GRID_MM = (1.0, 5.0, 10.0, 50.0, 100.0, 500.0, 1000.0)
GRID_PX = 22.0
MANY_LINES = 40
FEW_MOVING = 12
"""More than so many are dragged without the lines of the order."""


@dataclass(frozen=True, slots=True)
class Doing:
    """What is going on besides the draft.

    spots: places clicked with a tool, in pixels of the picture.  joined: whether a line runs
    through them, and whether back to the first.  guides: lines a dragged fastener is held by, mm.
    played: how much of the order is drawn, None for all of it.  rubber: a band to choose by.
    corners: the outline shows its corners.  walked: who has been walked by already.  asked: who is
    to be shown on the photo, by its place in the draft.
    """

    spots: tuple[XY, ...] = ()
    joined: str = ""
    guides: tuple[Guide, ...] = ()
    played: int | None = None
    rubber: tuple[XY, XY] | None = None
    corners: bool = False
    walked: tuple[int, ...] = ()
    asked: int | None = None


IDLE = Doing()


class MarkingOut(LightTable):
    """Paints the draft; the board tells what presses do. Places are pixels of the picture."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        self.draft = Draft()
        self.chosen: frozenset[int] = frozenset()
        self.order: tuple[int, ...] = ()
        self.doing = IDLE
        self._back: ToMm = invert(self.draft.to_mm)
        self._seats: list[QPointF] = []
        self._moving: frozenset[int] = frozenset()
        self._ways: list[QPointF] = []
        self._walked_segments: tuple[tuple, list[tuple[int, int]]] | None = None
        self._radius = HEAD_PX
        self._numbered: list[bool] = []
        self._sprites: dict[tuple[object, ...], QPixmap] = {}
        self.presses: Callable[[XY, QMouseEvent], None] = lambda *_: None
        self.drags: Callable[[XY, QMouseEvent], None] = lambda *_: None
        self.releases: Callable[[XY, QMouseEvent], None] = lambda *_: None
        self.hovers: Callable[[XY], None] = lambda _: None
        super().__init__(look, factor)

    # --- what is shown --------------------------------------------------------------------

    def show_board(self, draft: Draft, image: QImage | None, full: QSize) -> None:
        """A draft on its photo, or with no photo on a blank board large enough for it."""
        self.draft = draft
        self._back = invert(draft.to_mm)
        self.chosen, self.order, self.doing = frozenset(), (), IDLE
        if draft.file:
            self.show_picture(image, full)
        else:
            self.show_picture(None, QSize(), self._find_bounds())

    def _find_bounds(self) -> QRectF:
        points = [*self.draft.points, *self.draft.outline, (0.0, 0.0)]
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        wide, high = max(xs) - min(xs), max(ys) - min(ys)
        pad = 0.12 * max(wide, high) + 10
        box = QRectF(min(xs) - pad, -max(ys) - pad, wide + 2 * pad, high + 2 * pad)
        for least, have, grow in (
            (BLANK_MM[0], box.width(), (1, 0)),
            (BLANK_MM[1], box.height(), (0, 1)),
        ):
            more = max(0.0, least - have) / 2
            box.adjust(-more * grow[0], -more * grow[1], more * grow[0], more * grow[1])
        return box

    def show_draft(
        self, draft: Draft, chosen: frozenset[int], order: tuple[int, ...], doing: Doing
    ) -> None:
        """The draft as it is now; only what changed is painted anew."""
        still = (
            draft is not self.draft
            or order != self.order
            or doing.played != self.doing.played
            or doing.corners != self.doing.corners
            or self._moving
        )
        if draft is not self.draft:
            self.draft = draft
            self._back = invert(draft.to_mm)
            if not draft.file and not self._bounds.contains(self._find_bounds()):
                self._bounds = self._bounds.united(self._find_bounds())
                self.fit()
        self.chosen, self.order, self.doing, self._moving = chosen, order, doing, frozenset()
        self._find_seats()
        if still:
            self.lay_still()
        else:
            self.update()

    def show_moving(self, places: Mapping[int, XY], guides: tuple[Guide, ...]) -> None:
        """Some fasteners while they are dragged: mm by their place in the draft."""
        moving = frozenset(places)
        dirty = self._guide_room(self.doing.guides)
        if len(moving) <= FEW_MOVING:
            for index in moving & self._moving:
                dirty = dirty.united(self._room_of(index))
        if moving != self._moving:
            self._moving = moving
            self.lay_still()
        for index, point in places.items():
            self._seats[index] = self._screen_of(point)
        self.doing = Doing(guides=guides)
        if len(moving) > FEW_MOVING:
            self.update()
            return
        for index in moving:
            dirty = dirty.united(self._room_of(index))
        self.update(dirty.united(self._guide_room(guides)).toAlignedRect())

    def show_guides(self, guides: tuple[Guide, ...]) -> None:
        """The lines that would hold what is placed now."""
        if guides == self.doing.guides:
            return
        dirty = self._guide_room(self.doing.guides).united(self._guide_room(guides))
        self.doing = replace(self.doing, guides=guides)
        self.update(dirty.toAlignedRect())

    def pressed_at(self, event: QMouseEvent) -> XY:
        """Where the button went down, in pixels of the picture."""
        start = self.to_picture(self._pressed or event.position())
        return (start.x(), start.y())

    def seat_of(self, index: int) -> QPointF:
        """Where a fastener is on the widget."""
        return self._seats[index]

    def to_mm(self, place: XY) -> XY:
        """A pixel of the picture in mm."""
        return map_point(self.draft.to_mm, place)

    def mm_a_screen_px(self, place: XY) -> float:
        """How many mm a pixel of the screen is at a pixel of the picture."""
        x, y = place
        step = 1 / self.scale
        one, other = self.to_mm((x - step / 2, y)), self.to_mm((x + step / 2, y))
        three, four = self.to_mm((x, y - step / 2)), self.to_mm((x, y + step / 2))
        return max(math.dist(one, other), math.dist(three, four), 1e-6)

    def fastener_at(self, place: XY) -> int | None:
        """The fastener at a pixel of the picture, by its place in the draft."""
        at = self.to_screen(place)
        best, reach = None, max(REACH_PX, 1.3 * self._radius) * self._factor
        for index, seat in enumerate(self._seats):
            away = math.hypot(seat.x() - at.x(), seat.y() - at.y())
            if away <= reach:
                best, reach = index, away
        return best

    def corner_at(self, place: XY) -> int | None:
        """The corner of the outline at a pixel of the picture."""
        at = self.to_screen(place)
        for index, corner in enumerate(self.draft.outline):
            if (self._screen_of(corner) - at).manhattanLength() <= REACH_PX * self._factor:
                return index
        return None

    # --- where things are -----------------------------------------------------------------

    def _screen_of(self, point: XY) -> QPointF:
        place = self.to_screen(map_point(self._back, point))
        # What lies beyond a photo's horizon must not make a line without end.
        x, y = (min(max(v, -FARTHEST_PX), FARTHEST_PX) for v in (place.x(), place.y()))
        return QPointF(x, y) if x == x and y == y else QPointF(FARTHEST_PX, FARTHEST_PX)

    def view_moved(self) -> None:
        self._find_seats()

    def _find_seats(self) -> None:
        points = self.draft.points
        self._seats = [self._screen_of(p) for p in points]
        plain = [(s.x(), s.y()) for s in self._seats]
        f = self._factor
        near = sorted(pair[0] for pair in nearest_two(plain)) if len(plain) > 1 else []
        middle = near[len(near) // 2] if near else 1e9
        self._radius = max(LEAST_HEAD_PX * f, min(HEAD_PX * f, 0.3 * middle))
        cx = sum(x for x, _ in plain) / max(1, len(plain))
        cy = sum(y for _, y in plain) / max(1, len(plain))
        self._ways = []
        for x, y in plain:
            away = math.hypot(x - cx, y - cy)
            # Numbers stand outside the joint, so that the lines of the order do not cross them.
            self._ways.append(
                QPointF((x - cx) / away, (y - cy) / away) if away > 1 else QPointF(0.7, -0.7)
            )

        self._numbered = self._find_numbered()

    def _find_numbered(self) -> list[bool]:
        f, numbers = self._factor, [one.number for one in self.draft.fasteners]
        metrics = QFontMetricsF(font_px(SIZES_PX["text"] * f, "bold"))
        digit, high = metrics.horizontalAdvance("0"), metrics.capHeight()
        rooms = []
        for index, number in enumerate(numbers):
            wide = digit * len(str(number))
            at = self._label_place(index, wide + 8 * f, high + 10 * f, 1.5)
            half = QPointF(wide, high) / 2
            rooms.append(QRectF(at - half, at + half))
        return find_numbered(numbers, self._seats, rooms, self._radius)

    def _label_place(self, index: int, wide: float, high: float, away: float) -> QPointF:
        """The middle of a number's label; away: from the middle of its head, in its radii."""
        seat, f = self._seats[index], self._factor
        way = self._ways[index] if index < len(self._ways) else QPointF(0.7, -0.7)
        reach = away * self._radius + f
        return QPointF(
            seat.x() + way.x() * (reach + wide / 2 - 4 * f),
            seat.y() + way.y() * (reach + high / 2 - 6 * f),
        )

    def _room_of(self, index: int) -> QRectF:
        seat, reach = self._seats[index], 2.2 * self._radius + 44 * self._factor
        room = QRectF(seat.x() - reach, seat.y() - reach, 2 * reach, 2 * reach)
        for one, other in self._segments():
            if index in (one, other):
                room = room.united(QRectF(self._seats[one], self._seats[other]).normalized())
        return room

    def _guide_room(self, guides: Sequence[Guide]) -> QRectF:
        room = QRectF()
        for guide in guides:
            line = QRectF(self._screen_of(guide.start), self._screen_of(guide.to)).normalized()
            reach = 130 * self._factor
            room = room.united(line.adjusted(-reach, -40, reach, 40))
        return room

    def _segments(self) -> list[tuple[int, int]]:
        """The order as pairs of places in the draft, as far as it is played."""
        key = (self.draft, self.order, self.doing.played)
        if self._walked_segments is None or any(
            a is not b for a, b in zip(self._walked_segments[0], key, strict=True)
        ):
            self._walked_segments = (key, self._find_segments())
        return self._walked_segments[1]

    def _find_segments(self) -> list[tuple[int, int]]:
        places = {f.number: k for k, f in enumerate(self.draft.fasteners)}
        played = len(self.order) if self.doing.played is None else self.doing.played
        walk = [places[n] for n in self.order[:played] if n in places]
        return list(pairwise(walk))

    # --- painting -------------------------------------------------------------------------

    def paint_still(self, painter: QPainter) -> None:
        if self.image is None:
            self._paint_grid(painter)
        self._paint_outline(painter)
        self._paint_order(
            painter, [s for s in self._segments() if not self._moving.intersection(s)]
        )

    def _paint_grid(self, painter: QPainter) -> None:
        """Hairlines at a round number of mm; the two axes a little stronger, and the step said."""
        s, look = self.scale, self._look
        step = next((g for g in GRID_MM if g * s >= GRID_PX * self._factor), GRID_MM[-1])
        upper = self.to_picture(QPointF(0, 0))
        lower = self.to_picture(QPointF(self.width(), self.height()))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for begin, end, upright in (
            (upper.x(), lower.x(), True),
            (upper.y(), lower.y(), False),
        ):
            for k in range(math.ceil(begin / step), math.floor(end / step) + 1):
                painter.setPen(QPen(look.color("soft" if k == 0 else "hairline"), 1))
                if upright:
                    x = round(self.to_screen((k * step, 0)).x())
                    painter.drawLine(x, 0, x, self.height())
                else:
                    y = round(self.to_screen((0, k * step)).y())
                    painter.drawLine(0, y, self.width(), y)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f = self._factor
        text = f"one square {step:g} mm"
        font = font_px(SIZES_PX["text"] * f)
        wide = QFontMetricsF(font).horizontalAdvance(text)
        room = QRectF(10 * f, self.height() - 38 * f, wide + 16 * f, 30 * f)
        painter.fillRect(room, look.color("card"))
        painter.setFont(font)
        painter.setPen(look.color("soft"))
        painter.drawText(room, int(Qt.AlignmentFlag.AlignCenter), text)

    def _paint_outline(self, painter: QPainter) -> None:
        line = [self._screen_of(p) for p in self.draft.outline]
        if len(line) > 1:
            self._paint_line(painter, line, "" if len(line) < 3 else "closed")
        if self.doing.corners:
            for place in line:
                self._paint_spot(painter, place)

    def _paint_line(self, painter: QPainter, line: list[QPointF], joined: str) -> None:
        f = self._factor
        polygon = QPolygonF(line)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for role, width in (("card", 4.5), ("ink", 1.5)):
            painter.setPen(QPen(self._look.color(role), width * f * self._look.heavier))
            if joined == "closed":
                painter.drawPolygon(polygon)
            else:
                painter.drawPolyline(polygon)

    def _paint_order(self, painter: QPainter, segments: list[tuple[int, int]]) -> None:
        """A dotted thin line from one to the next, light under ink so that it reads on a photo.

        Many lines are drawn finer and without the light: they would cover what is below.
        """
        f, look = self._factor, self._look
        many = len(segments) > MANY_LINES
        under, ink = look.color("card"), look.color("ink")
        under.setAlpha(120)
        ink.setAlpha(150 if many else 255)
        # Flat ends: round ones take twenty times as long to draw.
        dots = QPen(ink, (1.3 if many else 1.9) * f * look.heavier)
        dots.setDashPattern([1.0, 1.8])
        dots.setCapStyle(Qt.PenCapStyle.FlatCap)
        gap = self._radius + 2 * f
        lines = []
        for one, other in segments:
            a, b = self._seats[one], self._seats[other]
            away = b - a
            length = math.hypot(away.x(), away.y())
            if length > 2.5 * gap:
                cut = away * (gap / length)
                lines.append(QLineF(a + cut, b - cut))
        for pen in (dots,) if many else (QPen(under, 3.4 * f), dots):
            painter.setPen(pen)
            painter.drawLines(lines)

    def paint_moving(self, painter: QPainter, where: QRect) -> None:
        if 0 < len(self._moving) <= FEW_MOVING:
            self._paint_order(
                painter, [s for s in self._segments() if self._moving.intersection(s)]
            )
        for guide in self.doing.guides:
            self._paint_guide(painter, guide)
        if self.doing.spots:
            line = [self.to_screen(p) for p in self.doing.spots]
            if self.doing.joined and len(line) > 1:
                self._paint_line(painter, line, self.doing.joined)
            for place in line:
                self._paint_spot(painter, place)
        reach = 2.2 * self._radius + 44 * self._factor
        room = QRectF(where).adjusted(-reach, -reach, reach, reach)
        seen = [k for k, seat in enumerate(self._seats) if room.contains(seat)]
        # Those that are chosen lie over the others, and no head over a number.
        for some in ([k for k in seen if k not in self.chosen], sorted(self.chosen)):
            for index in some:
                if index < len(self._seats):
                    self._paint_fastener(painter, index, self._seats[index])
            for index in some:
                if index < len(self._seats):
                    self._paint_number(painter, index)
        if self.doing.rubber is not None:
            one, other = (self.to_screen(p) for p in self.doing.rubber)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for role, width in (("card", 4.0), ("ink", 1.5)):
                painter.setPen(QPen(self._look.color(role), width * self._factor))
                painter.drawRect(QRectF(one, other).normalized())

    def _paint_fastener(self, painter: QPainter, index: int, seat: QPointF) -> None:
        one = self.draft.fasteners[index]
        f, look, r = self._factor, self._look, self._radius
        chosen = index in self.chosen
        now = self._due()
        if chosen or one.number == now or index == self.doing.asked:
            ring = 1.95 * r
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for role, width in (("card", 6.0), ("ink", 3.0)):
                painter.setPen(QPen(look.color(role), width * f * look.heavier))
                painter.drawEllipse(seat, ring, ring)
        kind = one.head or self.draft.details.get("head", "hex")
        sprite = self._head(kind, one.use)
        half = sprite.width() / sprite.devicePixelRatio() / 2
        painter.drawPixmap(QPointF(seat.x() - half, seat.y() - half), sprite)
        if index in self.doing.walked:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(look.color("ink"))
            painter.drawEllipse(seat, 0.45 * r, 0.45 * r)

    def _paint_number(self, painter: QPainter, index: int) -> None:
        chosen = index in self.chosen
        if chosen or (index < len(self._numbered) and self._numbered[index]):
            label = self._label(str(self.draft.fasteners[index].number))
            ratio = label.devicePixelRatio()
            wide, high = label.width() / ratio, label.height() / ratio
            at = self._label_place(index, wide, high, 2.25 if chosen else 1.5)
            painter.drawPixmap(QPointF(at.x() - wide / 2, at.y() - high / 2), label)

    def _due(self) -> int | None:
        played = self.doing.played
        return self.order[played - 1] if played and played <= len(self.order) else None

    def _head(self, kind: str, use: str) -> QPixmap:
        """The head from above, drawn once for each kind and size."""
        ratio = self.devicePixelRatioF()
        key = ("head", kind, use, round(self._radius, 1), ratio, self._look.name)
        if key not in self._sprites:
            half = math.ceil(2.0 * self._radius) + 2
            pixmap = self._blank(2 * half, 2 * half, ratio)
            painter = QPainter(pixmap)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            draw = {"leave loose": draw_loose, "do not touch": draw_struck}.get(use)
            if draw is not None:
                shapes = draw(kind, half, half, self._radius)  # type: ignore[arg-type]
                paint_each(painter, shapes, self._look)
            else:
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(self._look.color("card"))
                painter.drawEllipse(QPointF(half, half), self._radius * 1.2, self._radius * 1.2)
                shapes = draw_head(kind, half, half, self._radius, 0.16)  # type: ignore[arg-type]
                paint_each(painter, shapes, self._look)
            painter.end()
            self._sprites[key] = pixmap
        return self._sprites[key]

    def _label(self, text: str) -> QPixmap:
        """A number in ink with a light rim, so that it reads on any photo; drawn once each."""
        ratio, f = self.devicePixelRatioF(), self._factor
        key = ("label", text, f, ratio, self._look.name)
        if key not in self._sprites:
            font = font_px(SIZES_PX["text"] * f, "bold")
            metrics = QFontMetricsF(font)
            wide = math.ceil(metrics.horizontalAdvance(text) + 8 * f)
            high = math.ceil(metrics.capHeight() + 10 * f)
            pixmap = self._blank(wide, high, ratio)
            painter = QPainter(pixmap)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            path = QPainterPath()
            path.addText(QPointF(4 * f, high - 5 * f), font, text)
            pen = QPen(self._look.color("card"), 5 * f)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.strokePath(path, pen)
            painter.fillPath(path, self._look.color("ink"))
            painter.end()
            self._sprites[key] = pixmap
        return self._sprites[key]

    @staticmethod
    def _blank(wide: float, high: float, ratio: float) -> QPixmap:
        pixmap = QPixmap(math.ceil(wide * ratio), math.ceil(high * ratio))
        pixmap.setDevicePixelRatio(ratio)
        pixmap.fill(QColor(0, 0, 0, 0))
        return pixmap

    def _paint_guide(self, painter: QPainter, guide: Guide) -> None:
        f, look = self._factor, self._look
        a, b = self._screen_of(guide.start), self._screen_of(guide.to)
        for role, width in (("card", 4.0), ("ink", 1.2)):
            painter.setPen(QPen(look.color(role), width * f))
            painter.drawLine(a, b)
        if "°" in guide.why:
            label = self._label(guide.why)
            painter.drawPixmap((a + b) / 2 + QPointF(8 * f, 4 * f), label)

    def _paint_spot(self, painter: QPainter, place: QPointF) -> None:
        """A place clicked with a tool: a small open square."""
        f, side = self._factor, 5 * self._factor
        painter.setBrush(self._look.color("card"))
        painter.setPen(QPen(self._look.color("ink"), 2 * f))
        painter.drawRect(QRectF(place.x() - side, place.y() - side, 2 * side, 2 * side))

    # --- the mouse ------------------------------------------------------------------------

    def press_at(self, point: XY, event: QMouseEvent) -> None:
        self.presses(point, event)

    def drag_to(self, point: XY, event: QMouseEvent) -> None:
        self.drags(point, event)

    def release_at(self, point: XY, event: QMouseEvent) -> None:
        self.releases(point, event)

    def hover_at(self, point: XY) -> None:
        self.hovers(point)

    def leaveEvent(self, event: QEvent) -> None:
        super().leaveEvent(event)
        self.show_guides(())
