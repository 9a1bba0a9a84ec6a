"""Solid shapes with soft fillets, as castings have them: distances to a surface, made into a mesh.

Everything is in mm. A shape is a function of x, y, z that is negative inside; a Solid gathers
shapes on a lattice, blending where they meet, and hands out the surface where it crosses zero.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

FAR_MM = 60.0


@dataclass(frozen=True)
class Shape:
    """A distance function and the box outside which it need not be asked."""

    distance: Callable
    low: tuple[float, float, float]
    high: tuple[float, float, float]


def round_join(a, b, radius):
    """The larger of two distances with the outer corner rounded: the corner of a solid."""
    a, b = a + radius, b + radius
    outside = np.hypot(np.maximum(a, 0), np.maximum(b, 0))
    return np.minimum(np.maximum(a, b), 0) + outside - radius


def soft_min(a, b, blend):
    """Both shapes together, with a fillet of about `blend` mm where they meet."""
    if blend <= 0:
        return np.minimum(a, b)
    near = np.maximum(blend - np.abs(a - b), 0) / blend
    return np.minimum(a, b) - near * near * blend * 0.25


def soft_max(a, b, blend):
    return -soft_min(-a, -b, blend)


def _box_round(points, reach):
    points = np.array(points, dtype=float)
    return tuple(points.min(0) - reach), tuple(points.max(0) + reach)


def rod(start, end, radius, end_radius=None, edge=0.6):
    """A round bar from start to end, tapering if end_radius differs, with rounded edges."""
    start, end = np.array(start, float), np.array(end, float)
    end_radius = radius if end_radius is None else end_radius
    length = float(np.linalg.norm(end - start))
    axis = (end - start) / length
    slope = (end_radius - radius) / length
    lean = 1 / np.hypot(1, slope)

    def distance(x, y, z):
        x, y, z = x - start[0], y - start[1], z - start[2]
        along = x * axis[0] + y * axis[1] + z * axis[2]
        across = np.sqrt(np.maximum(x * x + y * y + z * z - along * along, 0))
        side = (across - radius - slope * along) * lean
        return round_join(side, np.maximum(-along, along - length), edge)

    return Shape(distance, *_box_round((start, end), max(radius, end_radius)))


def block(low, high, edge=1.0, turn_deg=0.0, draft=0.0):
    """A box; turned about its own z axis; `draft` widens it towards low z (mm per mm)."""
    low, high = np.array(low, float), np.array(high, float)
    middle, half = (low + high) / 2, (high - low) / 2
    cos, sin = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))

    def distance(x, y, z):
        x, y, z = x - middle[0], y - middle[1], z - middle[2]
        across, along = x * cos + y * sin, -x * sin + y * cos
        wider = draft * (half[2] - z)
        qx, qy = np.abs(across) - half[0] - wider + edge, np.abs(along) - half[1] - wider + edge
        qz = np.abs(z) - half[2] + edge
        inside = np.minimum(np.maximum(np.maximum(qx, qy), qz), 0)
        px, py, pz = np.maximum(qx, 0), np.maximum(qy, 0), np.maximum(qz, 0)
        return inside + np.sqrt(px * px + py * py + pz * pz) - edge

    reach = float(np.hypot(half[0], half[1])) if turn_deg else 0
    spread = 2 * draft * half[2]
    if turn_deg:
        around = np.array((reach, reach, half[2]))
        box = (middle - around, middle + around)
    else:
        box = (low, high)
    return Shape(distance, tuple(box[0] - spread), tuple(box[1] + spread))


def web(start, end, bottom, top, thick, draft=0.06, edge=1.0):
    """An upright rib over the line start-end (x, y), from z bottom to z top, thinner at the top."""
    start, end = np.array(start, float), np.array(end, float)
    run = end - start
    run_2 = float(run @ run)

    def distance(x, y, z):
        x, y = x - start[0], y - start[1]
        share = np.clip((x * run[0] + y * run[1]) / run_2, 0, 1)
        across = np.hypot(x - share * run[0], y - share * run[1])
        side = across - thick / 2 - draft * (top - z)
        return round_join(side, np.maximum(bottom - z, z - top), edge)

    reach = thick + draft * (top - bottom)
    low, high = np.minimum(start, end) - reach, np.maximum(start, end) + reach
    return Shape(distance, (*low, bottom), (*high, top))


def hexagon(at, across_flats, bottom, top, chamfer=True, edge=0.25):
    """An upright hex with the corners turned off by a 30 degree cone, as screw heads have."""

    def distance(x, y, z):
        x, y = x - at[0], y - at[1]
        flat = np.abs(x)
        for angle in (60, 120):
            turn = np.radians(angle)
            flat = np.maximum(flat, np.abs(x * np.cos(turn) + y * np.sin(turn)))
        side = flat - across_flats / 2
        d = round_join(side, np.maximum(bottom - z, z - top), edge)
        if chamfer:
            cone = (np.hypot(x, y) - across_flats * 0.48) * 0.5 + (z - top) * 0.866
            d = soft_max(d, cone, edge)
        return d

    reach = across_flats * 0.6
    return Shape(
        distance, (at[0] - reach, at[1] - reach, bottom), (at[0] + reach, at[1] + reach, top)
    )


def thread(at, radius, pitch, bottom, top):
    """A screw thread about an upright axis; its end is chamfered."""
    depth = 0.55 * pitch

    def distance(x, y, z):
        x, y = x - at[0], y - at[1]
        across, turn = np.hypot(x, y), np.arctan2(y, x) / (2 * np.pi)
        wave = np.abs(((z / pitch - turn) % 1.0) * 2 - 1)
        flank = across - radius + depth * wave
        ends = np.maximum(bottom - z, z - top)
        lead = (across - radius + depth * 1.3) * 0.7 + (bottom - z) * 0.7
        return np.maximum(np.maximum(flank * 0.75, ends), lead)

    return Shape(
        distance, (at[0] - radius, at[1] - radius, bottom), (at[0] + radius, at[1] + radius, top)
    )


def ring(at, radius, thick, axis=2):
    """A doughnut about a point; `thick` is the radius of its round section."""

    def distance(x, y, z):
        parts = [x - at[0], y - at[1], z - at[2]]
        along = parts.pop(axis)
        return np.hypot(np.hypot(*parts) - radius, along) - thick

    reach = np.full(3, radius + thick)
    reach[axis] = thick
    return Shape(distance, tuple(np.array(at) - reach), tuple(np.array(at) + reach))


class Solid:
    """Shapes gathered on a lattice; `step` is its spacing in mm."""

    def __init__(self, low, high, step):
        self.step = step
        self.low = np.array(low, dtype=float)
        counts = np.ceil((np.array(high) - self.low) / step).astype(int) + 1
        self.axes = [
            (self.low[i] + step * np.arange(n)).astype(np.float32) for i, n in enumerate(counts)
        ]
        self.field = np.full(counts, FAR_MM, dtype=np.float32)

    def _find_window(self, shape, reach):
        window = []
        for i, axis in enumerate(self.axes):
            first = np.searchsorted(axis, shape.low[i] - reach)
            last = np.searchsorted(axis, shape.high[i] + reach, side="right")
            window.append(slice(int(first), int(last)))
        return tuple(window)

    def _ask(self, shape, window):
        x, y, z = (axis[part] for axis, part in zip(self.axes, window, strict=True))
        return shape.distance(x[:, None, None], y[None, :, None], z[None, None, :])

    def add(self, shape, blend=0.0):
        window = self._find_window(shape, 3 * self.step + blend)
        self.field[window] = soft_min(self.field[window], self._ask(shape, window), blend)
        return self

    def cut(self, shape, blend=0.0):
        window = self._find_window(shape, 3 * self.step + blend)
        self.field[window] = soft_max(self.field[window], -self._ask(shape, window), blend)
        return self

    def mesh(self):
        """Points (mm), four-cornered faces and the directions of the surface at the points."""
        return net_surface(self.field, self.low, self.step)


CORNERS = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)])
EDGES = [
    (a, b) for a in range(8) for b in range(a + 1, 8) if np.abs(CORNERS[a] - CORNERS[b]).sum() == 1
]


def net_surface(field, low, step):
    """The zero surface of a lattice: one point a crossed cell, one face a crossed edge."""
    inside = field < 0
    shape = np.array(field.shape) - 1
    count = np.zeros(shape, dtype=np.int8)
    for i, j, k in CORNERS:
        count += inside[i : i + shape[0], j : j + shape[1], k : k + shape[2]]
    cells = np.argwhere((count > 0) & (count < 8))
    number = np.full(shape, -1, dtype=np.int32)
    number[tuple(cells.T)] = np.arange(len(cells))
    values = np.stack([field[tuple((cells + c).T)] for c in CORNERS], axis=1)
    total, crossings = np.zeros((len(cells), 3)), np.zeros(len(cells))
    for a, b in EDGES:
        va, vb = values[:, a], values[:, b]
        crossed = (va < 0) != (vb < 0)
        share = np.where(crossed, va / np.where(crossed, va - vb, 1), 0)
        place = CORNERS[a] + share[:, None] * (CORNERS[b] - CORNERS[a])
        total += place * crossed[:, None]
        crossings += crossed
    local = total / crossings[:, None]
    normals = _lean_of(values, local)
    faces = []
    for axis in range(3):
        step_to = np.eye(3, dtype=int)[axis]
        ends = tuple(slice(int(s), None) for s in step_to)
        starts = tuple(slice(None, -1) if s else slice(None) for s in step_to)
        crossed = np.argwhere(inside[starts] != inside[ends])
        one, two = np.eye(3, dtype=int)[(axis + 1) % 3], np.eye(3, dtype=int)[(axis + 2) % 3]
        keep = np.all((crossed - one - two >= 0) & (crossed < shape), axis=1)
        crossed = crossed[keep]
        quad = np.stack(
            [number[tuple((crossed - d).T)] for d in (0 * one, one, one + two, two)], axis=1
        )
        flip = ~inside[tuple(crossed.T)]
        quad[flip] = quad[flip][:, ::-1]
        faces.append(quad)
    faces = np.concatenate(faces)
    faces = faces[np.all(faces >= 0, axis=1)]
    return (cells + local) * step + np.asarray(low), faces, normals


def _lean_of(values, local):
    """The direction in which the field grows fastest, inside each cell."""
    lean = np.zeros_like(local)
    for index, corner in enumerate(CORNERS):
        weight = np.where(corner, local, 1 - local)
        sign = np.where(corner, 1.0, -1.0)
        for axis in range(3):
            other = [i for i in range(3) if i != axis]
            lean[:, axis] += (
                sign[axis] * weight[:, other[0]] * weight[:, other[1]] * values[:, index]
            )
    return lean / np.maximum(np.linalg.norm(lean, axis=1), 1e-9)[:, None]
