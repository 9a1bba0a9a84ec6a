"""From a photo's pixels to mm in the plane of a joint: by one known distance, or by four corners.

Pixels count from the upper left corner, x right, y down; mm have y up. A mapping is nine figures,
row by row, as in pattern.Backdrop: (x_mm, y_mm, 1) ~ M · (px, py, 1). It holds for what lies in
the plane of the joint, and not for what stands above or below it. Lens distortion is left out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopguide.bolts.outline import XY, signed_area
from shopguide.errors import Trouble

Mapping = tuple[float, float, float, float, float, float, float, float, float]

BLANK: Mapping = (1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0, 0.0, 1.0)
"""A board without a photo: one of its units is one mm."""
LEAST_PX = 4.0
"""Points clicked nearer than this, in pixels, tell nothing of a distance."""
LEAST_PERSPECTIVE = 0.02
"""Below this share the sides of the four corners count as parallel in the picture."""


@dataclass(frozen=True, slots=True)
class Straightened:
    """What four corners give.

    to_mm: the mapping.  residual_mm: how far the points miss their places, root mean square; 0
    for four corners alone, which always fit.  worst_mm: the greatest of these.  by_scale_mm: how
    far they would miss at the worst if the picture were only turned and scaled.  ratio: width by
    height as the perspective of the picture itself tells it, for a lens whose axis goes through
    the middle of a picture that was not cropped; None where the picture does not tell.
    """

    to_mm: Mapping
    residual_mm: float
    worst_mm: float
    by_scale_mm: float
    ratio: float | None


def map_point(mapping: Mapping, point: XY) -> XY:
    """Where a point goes; (inf, inf) on the line that the mapping sends to infinity."""
    a, b, c, d, e, f, g, h, i = mapping
    x, y = point
    w = g * x + h * y + i
    if w == 0:
        return (math.inf, math.inf)
    return ((a * x + b * y + c) / w, (d * x + e * y + f) / w)


def invert(mapping: Mapping) -> Mapping:
    """The way back. Raises Trouble where there is none."""
    a, b, c, d, e, f, g, h, i = mapping
    cofactors = (
        e * i - f * h, c * h - b * i, b * f - c * e,
        f * g - d * i, a * i - c * g, c * d - a * f,
        d * h - e * g, b * g - a * h, a * e - b * d,
    )  # fmt: skip
    whole = a * cofactors[0] + b * cofactors[3] + c * cofactors[6]
    if not math.isfinite(whole) or whole == 0:
        raise Trouble(
            "The photo's mapping to mm leads nowhere.", next="Set the photo's scale again."
        )
    return tuple(value / whole for value in cofactors)  # type: ignore[return-value]


def size_of_pixel_mm(mapping: Mapping, at: XY) -> float:
    """Length of one pixel in mm at a place of the picture, the mean of both ways."""
    x, y = at
    here, right, down = (map_point(mapping, p) for p in ((x, y), (x + 1, y), (x, y + 1)))
    return math.sqrt(max(1e-18, math.dist(here, right) * math.dist(here, down)))


def set_scale(
    one: XY, other: XY, distance_mm: float, middle: XY, before: Mapping | None = None
) -> Mapping:
    """The mapping by two pixels a known distance apart.

    A photo without a mapping gets the origin in its middle; one that has one keeps its origin and
    its straightening, and is only made larger or smaller.

    Raises Trouble where the two are one place, or the distance is none.
    """
    if not 0 < distance_mm < 100_000:
        raise Trouble("That is no distance.", next="Give the distance in mm, as 120.")
    if math.dist(one, other) < LEAST_PX:
        raise Trouble(
            "The two places are nearly one.", next="Click two places that stand well apart."
        )
    if before is not None:
        now = math.dist(map_point(before, one), map_point(before, other))
        if not 0 < now < math.inf:
            raise Trouble("The distance cannot be read there.", next="Click two other places.")
        factor = distance_mm / now
        return tuple(v * factor if k < 6 else v for k, v in enumerate(before))  # type: ignore
    scale = distance_mm / math.dist(one, other)
    x, y = middle
    mapping = (scale, 0.0, -scale * x, 0.0, -scale, scale * y, 0.0, 0.0, 1.0)
    # 0.275 · 800 is 220, not 220.00000000000003.
    return tuple(float(f"{value:.12g}") + 0.0 for value in mapping)  # type: ignore[return-value]


def straighten(
    corners: Sequence[XY],
    width_mm: float,
    height_mm: float,
    middle: XY,
    more: Sequence[tuple[XY, XY]] = (),
) -> Straightened:
    """The mapping by the four corners of a rectangle of known size, clicked one after another.

    The corners may be clicked either way round and from any of them: the width is that of the
    side that is uppermost in the picture. The origin is the middle of the rectangle.  middle: of
    the picture, in pixels.  more: further pixels whose place in mm is known; with these the fit
    is that of least squares, and the residual tells how well they agree.

    Raises Trouble where the four are no such corners.
    """
    ring = sort_corners(corners)
    if not (0 < width_mm < 100_000 and 0 < height_mm < 100_000):
        raise Trouble("That is no rectangle.", next="Give its width and height in mm: 200 120.")
    w, h = width_mm / 2, height_mm / 2
    pairs = list(zip(ring, ((-w, h), (w, h), (w, -h), (-w, -h)), strict=True)) + list(more)
    mapping = fit(pairs)
    misses = [math.dist(map_point(mapping, pixel), place) for pixel, place in pairs]
    return Straightened(
        mapping,
        _tidy(math.sqrt(sum(m * m for m in misses) / len(misses)), width_mm),
        _tidy(max(misses), width_mm),
        _miss_by_scale(pairs),
        guess_ratio(ring, middle),
    )


def sort_corners(corners: Sequence[XY]) -> list[XY]:
    """The four corners as upper left, upper right, lower right, lower left of the picture.

    Raises Trouble where they are not four, or where their line crosses itself or has a dent.
    """
    if len(corners) != 4:
        raise Trouble(
            f"There are {len(corners)} corners where four are needed.",
            next="Click the four corners of the rectangle one after another.",
        )
    area = signed_area(corners)
    size = max(math.dist(a, b) for a in corners for b in corners)
    turns = [
        signed_area([corners[k - 1], corners[k], corners[(k + 1) % 4]]) * math.copysign(1, area)
        for k in range(4)
    ]
    if size < LEAST_PX or min(turns) < 0.002 * size * size:
        raise Trouble(
            "These four are not the corners of a rectangle: three lie on one line, or the line "
            "through them crosses itself.",
            next="Click the corners one after another round the rectangle.",
        )
    # y points down, so that a positive area runs clockwise as seen.
    ring = list(corners) if area > 0 else list(corners)[::-1]
    upper = min(range(4), key=lambda k: (ring[k][1] + ring[(k + 1) % 4][1], ring[k][0]))
    return ring[upper:] + ring[:upper]


def fit(pairs: Sequence[tuple[XY, XY]]) -> Mapping:
    """The mapping that takes each pixel to its place in mm: exact for four, else least squares.

    Direct linear transformation with both sets shifted to their middle and scaled to a mean
    distance of √2 (Hartley's normalising; from memory).  Raises Trouble where nothing fits.
    """
    if len(pairs) < 4:
        raise Trouble("Four points are needed.", next="Give four corners.")
    pixels, to_pixels = _normalise([pixel for pixel, _ in pairs])
    places, to_places = _normalise([place for _, place in pairs])
    rows = []
    for (x, y), (u, v) in zip(pixels, places, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y, -u])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y, -v])
    _, sizes, turned = np.linalg.svd(np.array(rows, dtype=float))
    if sizes[7] < 1e-9 * sizes[0]:
        raise Trouble("The corners leave the picture undecided.", next="Click four others.")
    matrix = np.linalg.inv(to_places) @ turned[-1].reshape(3, 3) @ to_pixels
    depths = matrix[2] @ np.array([[*pixel, 1.0] for pixel, _ in pairs]).T
    if not np.all(np.isfinite(matrix)) or depths.min() * depths.max() <= 0:
        raise Trouble("The corners do not fit such a rectangle.", next="Click four others.")
    # Positive where the rectangle is, so that a sign tells on which side of the horizon one is.
    matrix = matrix / (matrix[2, 2] if abs(matrix[2, 2]) > 1e-12 else depths[0])
    return tuple(float(value) for value in matrix.ravel())  # type: ignore[return-value]


@dataclass(frozen=True, slots=True)
class Pinned:
    """to_mm: the mapping.  misses_mm: how far each pair misses, in the sequence given."""

    to_mm: Mapping
    misses_mm: tuple[float, ...]


def pin_photo(pairs: Sequence[tuple[XY, XY]]) -> Pinned:
    """The mapping by pixels whose place in mm is known.

    Two or three give turn, scale and shift (least squares), four or more the perspective too. Two
    and four always fit, so that their misses tell nothing.

    Raises Trouble where they are too few, or too near one another.
    """
    if len(pairs) >= 4:
        mapping = fit(pairs)
    else:
        pixels = np.array([complex(x, -y) for (x, y), _ in pairs])
        places = np.array([complex(x, y) for _, (x, y) in pairs])
        spread = pixels - pixels.mean() if len(pairs) else pixels
        if len(pairs) < 2 or float(np.abs(spread).max()) < LEAST_PX / 2:
            raise Trouble("Two places that stand apart are needed.", next="Set them again.")
        turn = complex(np.vdot(spread, places - places.mean()) / np.vdot(spread, spread))
        shift = complex(places.mean() - turn * pixels.mean())
        if abs(turn) < 1e-9:
            raise Trouble("The places are one in mm.", next="Take others.")
        # (x, y) stands for x − iy, so that y points up in mm.
        mapping = (
            turn.real, turn.imag, shift.real, turn.imag, -turn.real, shift.imag, 0.0, 0.0, 1.0,
        )  # fmt: skip
    size = max((math.dist(a[1], b[1]) for a in pairs for b in pairs), default=1.0)
    misses = (math.dist(map_point(mapping, pixel), place) for pixel, place in pairs)
    return Pinned(mapping, tuple(_tidy(miss, size) for miss in misses))


def _normalise(points: Sequence[XY]) -> tuple[np.ndarray, np.ndarray]:
    array = np.array(points, dtype=float)
    middle = array.mean(axis=0)
    spread = float(np.hypot(*(array - middle).T).mean()) or 1.0
    scale = math.sqrt(2) / spread
    to = np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1]])
    return (array - middle) * scale, to


def _miss_by_scale(pairs: Sequence[tuple[XY, XY]]) -> float:
    """Worst miss of the best turn and scale without perspective, in mm."""
    pixels = np.array([complex(x, -y) for (x, y), _ in pairs])
    places = np.array([complex(x, y) for _, (x, y) in pairs])
    pixels = pixels - pixels.mean()
    places = places - places.mean()
    turn = np.vdot(pixels, places) / np.vdot(pixels, pixels)
    return float(np.abs(turn * pixels - places).max())


def _tidy(miss_mm: float, size_mm: float) -> float:
    """Rounding errors of the machine are no residual."""
    return 0.0 if miss_mm < 1e-9 * max(size_mm, 1.0) else miss_mm


def guess_ratio(ring: Sequence[XY], middle: XY) -> float | None:
    """Width by height of a rectangle, from the perspective of its picture alone.

    ring: its corners in sequence, the first side being the width.  middle: of the picture, taken
    for the lens's axis; pixels are square.  None where a pair of sides is so nearly parallel that
    the picture says nothing reliable: taken square on, or from far away.

    The focal length follows from the directions of the two pairs of sides being square to each
    other (the method is known from straightening photos of whiteboards; from memory).
    """
    m1, m2, m3, m4 = (np.array([x - middle[0], y - middle[1], 1.0]) for x, y in ring)
    # Sides 1-2 (width) and 1-4 (height); the opposite corner is 3.
    k2 = float(np.dot(np.cross(m1, m3), m4) / np.dot(np.cross(m2, m3), m4))
    k4 = float(np.dot(np.cross(m1, m3), m2) / np.dot(np.cross(m4, m3), m2))
    wide, high = k2 * m2 - m1, k4 * m4 - m1
    if abs(k2 - 1) < LEAST_PERSPECTIVE or abs(k4 - 1) < LEAST_PERSPECTIVE:
        return None
    focal = -float(np.dot(wide[:2], high[:2])) / float(wide[2] * high[2])
    if focal <= 0:
        return None
    lengths = [math.sqrt((n[0] ** 2 + n[1] ** 2) / focal + n[2] ** 2) for n in (wide, high)]
    return float(lengths[0] / lengths[1])
