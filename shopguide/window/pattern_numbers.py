"""Which fasteners of a crowded pattern have their number written: those that find room for it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF


def find_numbered(
    numbers: Sequence[int], seats: Sequence[QPointF], rooms: Sequence[QRectF], radius: float
) -> list[bool]:
    """True for each whose label lies beside all other heads and labels.

    The first and every fifth come before the others.  rooms: where each label would stand, in the
    sequence of the seats.  radius: of a head, on the screen as all of these.
    """
    cell = 2 * radius + max((room.width() for room in rooms), default=1.0) + 1
    heads: dict[tuple[int, int], list[int]] = {}
    labels: dict[tuple[int, int], list[QRectF]] = {}
    for index, seat in enumerate(seats):
        heads.setdefault(_find_cell(seat, cell), []).append(index)
    out = [False] * len(seats)
    for index in sorted(
        range(len(seats)), key=lambda k: (numbers[k] % 5 > 0 and numbers[k] > 1, k)
    ):
        room = rooms[index]
        column, row = home = _find_cell(room.center(), cell)
        near = [(column + dx, row + dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]
        crowded = any(
            k != index and _distance(room, seats[k]) < radius
            for key in near
            for k in heads.get(key, ())
        ) or any(room.intersects(other) for key in near for other in labels.get(key, ()))
        if not crowded:
            labels.setdefault(home, []).append(room)
            out[index] = True
    return out


def _find_cell(place: QPointF, cell: float) -> tuple[int, int]:
    return (math.floor(place.x() / cell), math.floor(place.y() / cell))


def _distance(room: QRectF, point: QPointF) -> float:
    """From a point to the nearest of a box; 0 inside it."""
    dx = max(room.left() - point.x(), 0.0, point.x() - room.right())
    dy = max(room.top() - point.y(), 0.0, point.y() - room.bottom())
    return math.hypot(dx, dy)
