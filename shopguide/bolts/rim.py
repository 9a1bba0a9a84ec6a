"""The rim of a part as a closed beam: how it bends and twists between its screws.

A grillage: at each node how far the rim is pressed down and its two slopes. Forces press down,
lengths are mm, forces N.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

XY = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Rim:
    """A meshed rim. seats: the nodes that have a screw, in the screws' sequence.

    resists: what it takes, N, to press each node by 1 mm with every other held (slopes free).
    share_mm: the length of rim that belongs to each node.  xy: where the nodes are, mm.
    """

    xy: np.ndarray
    share_mm: np.ndarray
    resists: np.ndarray
    seats: tuple[int, ...]


def mesh_rim(points: Sequence[XY], bending_n_mm2: float, torsion_n_mm2: float, about: int) -> Rim:
    """A rim that runs straight from screw to screw, in `about` so many elements.

    They are dealt out by the length of the gaps, an even number to each, from 2 to 12; so short
    gaps have no needlessly short elements, whose great stiffness would cost figures.
    bending_n_mm2: E·I, for bending out of the plane of the joint; torsion_n_mm2: G·J.
    """
    import numpy as np

    corners = np.asarray(points, dtype=float)
    gaps = np.roll(corners, -1, axis=0) - corners
    long = np.hypot(gaps[:, 0], gaps[:, 1])
    wanted = np.rint(about * long / long.sum() / 2)
    counts = [2 * int(min(6, max(1, half))) for half in wanted]
    starts = np.concatenate([[0], np.cumsum(counts)])
    xy = np.concatenate(
        [
            corner + np.arange(count)[:, None] / count * gap
            for corner, count, gap in zip(corners, counts, gaps, strict=True)
        ]
    )
    lengths = np.repeat(long / counts, counts)
    directions = np.repeat(np.arctan2(gaps[:, 1], gaps[:, 0]), counts)
    # Simpson's rule: the gasket of a gap bends its ends as an evenly spread load does.
    share = np.zeros(len(xy))
    for first, count in zip(starts, counts, strict=False):
        weights = np.array([1, *[4, 2] * (count // 2 - 1), 4, 1]) / 3.0
        share[np.arange(first, first + count + 1) % len(xy)] += weights * lengths[first]
    return Rim(
        xy,
        share,
        join_beams(lengths, directions, bending_n_mm2, torsion_n_mm2),
        tuple(int(k) for k in starts[:-1]),
    )


def join_beams(
    lengths_mm: Sequence[float],
    directions_rad: Sequence[float],
    bending_n_mm2: float,
    torsion_n_mm2: float,
) -> np.ndarray:
    """The stiffness (N/mm) between the nodes of beams joined end to end and closed on themselves.

    The exact stiffness of a slender beam for bending, the same for torsion; the slopes are taken
    out (they carry no load), so what is left joins the nodes' own ways down.
    """
    import numpy as np

    count = len(lengths_mm)
    whole = np.zeros((3 * count, 3 * count))
    for k, (h, turn) in enumerate(zip(lengths_mm, directions_rad, strict=True)):
        c, s = math.cos(turn), math.sin(turn)
        bend = bending_n_mm2 / h**3
        twist = torsion_n_mm2 / h
        # In the beam's own directions: way down, slope along it, slope across it; at both ends.
        own = np.zeros((6, 6))
        along = [0, 1, 3, 4]
        own[np.ix_(along, along)] = bend * np.array(
            [
                [12, 6 * h, -12, 6 * h],
                [6 * h, 4 * h * h, -6 * h, 2 * h * h],
                [-12, -6 * h, 12, -6 * h],
                [6 * h, 2 * h * h, -6 * h, 4 * h * h],
            ]
        )
        across = [2, 5]
        own[np.ix_(across, across)] = twist * np.array([[1, -1], [-1, 1]])
        turned = np.array([[1, 0, 0], [0, c, s], [0, -s, c]])
        both = np.zeros((6, 6))
        both[:3, :3] = both[3:, 3:] = turned
        after = (k + 1) % count
        where = [3 * k, 3 * k + 1, 3 * k + 2, 3 * after, 3 * after + 1, 3 * after + 2]
        whole[np.ix_(where, where)] += both.T @ own @ both
    down = np.arange(0, 3 * count, 3)
    slopes = np.setdiff1d(np.arange(3 * count), down)
    inner = whole[np.ix_(slopes, slopes)]
    # A rim that lies on one straight line may roll about it freely; a trace of stiffness holds it.
    inner[np.diag_indices_from(inner)] += 1e-12 * inner.trace() / len(inner)
    between = whole[np.ix_(slopes, down)]
    resists = whole[np.ix_(down, down)] - between.T @ np.linalg.solve(inner, between)
    return (resists + resists.T) / 2
