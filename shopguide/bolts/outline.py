"""The way round a joint: which fasteners sit along its edge, in what sequence, and how far apart.

Plane geometry without units: what comes in as mm goes out as mm. x to the right, y up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from heapq import nsmallest
from itertools import pairwise

XY = tuple[float, float]


def walk_round(points: Sequence[XY], outline: Sequence[XY] = ()) -> tuple[list[int], list[int]]:
    """Indices of the points in sequence along the edge, and of those that sit inside it.

    With an outline (closed, at least three corners) the points are sorted by their place on it.
    Without one the given sequence is taken where its closed line does not cross itself; else the
    points are sorted by direction from the middle; and where that makes a zigzag (the rows of a
    head) the convex edge is taken and the rest is inside. The sequence keeps the sense of the
    first two points given, so that mirroring a joint does not change it.
    """
    every = list(range(len(points)))
    if len(points) < 3:
        return every, []
    if len(outline) >= 3:
        edge, inside = _sort_along(points, outline)
        if len(edge) >= 3:
            return _keep_sense(edge), inside
    if _is_simple(points):
        return every, []
    hull = hull_of(points)
    if len(hull) < 3:
        return _sort_on_line(points), []
    turned = _sort_by_direction(points)
    if _length([points[i] for i in turned]) <= 1.25 * _length([points[i] for i in hull]):
        return _keep_sense(turned), []
    rim = _on_hull(points, hull)
    left = set(every) - set(rim)
    return _keep_sense(rim), [i for i in turned if i in left]


def signed_area(corners: Sequence[XY]) -> float:
    """Area of a closed line; positive where it runs counter-clockwise (y up)."""
    return 0.5 * sum(
        x0 * y1 - x1 * y0
        for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], *corners[:1]], strict=True)
    )


def hull_of(points: Sequence[XY]) -> list[int]:
    """Indices of the convex hull's corners, counter-clockwise; two where all lie on one line."""
    order = sorted(range(len(points)), key=lambda i: points[i])
    size = max(math.dist(points[order[0]], p) for p in points) or 1.0

    def turn(o: int, a: int, b: int) -> float:
        (ox, oy), (ax, ay), (bx, by) = points[o], points[a], points[b]
        return (ax - ox) * (by - oy) - (ay - oy) * (bx - ox)

    def half(indices: Sequence[int]) -> list[int]:
        chain: list[int] = []
        for i in indices:
            while len(chain) > 1 and turn(chain[-2], chain[-1], i) <= 1e-9 * size * size:
                chain.pop()
            chain.append(i)
        return chain[:-1]

    return half(order) + half(order[::-1])


def distance_to_line(point: XY, a: XY, b: XY) -> tuple[float, float]:
    """Distance from a point to the stretch a-b, and the share of it (0 to 1) nearest to it."""
    (px, py), (ax, ay), (bx, by) = point, a, b
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    share = 0.0 if square == 0 else min(1.0, max(0.0, ((px - ax) * dx + (py - ay) * dy) / square))
    return math.hypot(px - ax - share * dx, py - ay - share * dy), share


def nearest_two(points: Sequence[XY]) -> list[tuple[float, float]]:
    """Distances from each point to its two nearest neighbours (twice the one where only two)."""
    out = []
    for x, y in points:
        near = nsmallest(3, [math.hypot(x - qx, y - qy) for qx, qy in points])[1:]
        out.append((near[0], near[-1]) if near else (0.0, 0.0))
    return out


def _length(corners: Sequence[XY]) -> float:
    return sum(math.dist(a, b) for a, b in zip(corners, [*corners[1:], *corners[:1]], strict=True))


def _keep_sense(ring: list[int]) -> list[int]:
    """Start at the lowest index and go towards the lower of its two neighbours."""
    start = ring.index(min(ring))
    ring = ring[start:] + ring[:start]
    if len(ring) > 2 and ring[-1] < ring[1]:
        ring = ring[:1] + ring[:0:-1]
    return ring


def _sort_along(points: Sequence[XY], outline: Sequence[XY]) -> tuple[list[int], list[int]]:
    """By place on the outline; what stands further from it than the spacing is inside."""
    starts, total = [], 0.0
    corners = [*outline, outline[0]]
    for a, b in pairwise(corners):
        starts.append(total)
        total += math.dist(a, b)
    near = [pair[0] for pair in nearest_two(points)]
    reach = 0.75 * sorted(near)[len(near) // 2]
    edge, inside = [], []
    for i, p in enumerate(points):
        away, k = _nearest_side(p, corners)
        place = starts[k] + distance_to_line(p, corners[k], corners[k + 1])[1] * math.dist(
            corners[k], corners[k + 1]
        )
        (edge if away <= reach else inside).append((place, i))
    return [i for _, i in sorted(edge)], [i for _, i in sorted(inside)]


def _nearest_side(point: XY, corners: Sequence[XY]) -> tuple[float, int]:
    """Distance to the nearest of the sides, and which; the first of those equally near."""
    x, y = point
    best, which = math.inf, 0
    ax, ay = corners[0]
    for k in range(1, len(corners)):
        bx, by = corners[k]
        dx, dy = bx - ax, by - ay
        ex, ey = x - ax, y - ay
        square = dx * dx + dy * dy
        along = ex * dx + ey * dy
        if along > 0 and square > 0:
            share = along / square if along < square else 1.0
            ex -= share * dx
            ey -= share * dy
        away = ex * ex + ey * ey
        if away < best * (1 - 1e-9):
            best, which = away, k - 1
        ax, ay = bx, by
    return math.sqrt(best), which


def _sort_by_direction(points: Sequence[XY]) -> list[int]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    cx, cy = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    return sorted(
        range(len(points)), key=lambda i: (math.atan2(points[i][1] - cy, points[i][0] - cx), i)
    )


def _sort_on_line(points: Sequence[XY]) -> list[int]:
    order = sorted(range(len(points)), key=lambda i: points[i])
    return order if order[0] < order[-1] else order[::-1]


def _on_hull(points: Sequence[XY], hull: list[int]) -> list[int]:
    """Every point on the hull's sides, in sequence."""
    size = _length([points[i] for i in hull])
    corners = [points[i] for i in hull] + [points[hull[0]]]
    found: list[tuple[int, float, int]] = []
    for i, p in enumerate(points):
        for k, (a, b) in enumerate(pairwise(corners)):
            away, share = distance_to_line(p, a, b)
            if away <= 0.005 * size and share < 1.0:
                found.append((k, share, i))
                break
    return [i for _, _, i in sorted(found)]


def _is_simple(points: Sequence[XY]) -> bool:
    """True where the closed line through the points in sequence neither crosses nor folds."""
    n = len(points)
    size = max(math.dist(points[0], p) for p in points)
    if abs(signed_area(points)) <= 1e-6 * size * size:
        return False
    sides = [(*points[i], *points[(i + 1) % n]) for i in range(n)]
    for i in range(n - 1):
        ax, ay, bx, by = sides[i]
        dx, dy = bx - ax, by - ay
        low_x, high_x = (ax, bx) if ax < bx else (bx, ax)
        low_y, high_y = (ay, by) if ay < by else (by, ay)
        for j in range(i + 2, n - (i == 0)):
            cx, cy, ex, ey = sides[j]
            if (
                (cx < low_x and ex < low_x)
                or (cx > high_x and ex > high_x)
                or (cy < low_y and ey < low_y)
                or (cy > high_y and ey > high_y)
            ):
                continue
            one = dx * (cy - ay) - dy * (cx - ax)
            two = dx * (ey - ay) - dy * (ex - ax)
            if (one > 0 and two > 0) or (one < 0 and two < 0):
                continue
            fx, fy = ex - cx, ey - cy
            three = fx * (ay - cy) - fy * (ax - cx)
            four = fx * (by - cy) - fy * (bx - cx)
            if (three > 0 and four > 0) or (three < 0 and four < 0):
                continue
            return False
    return True
