"""How long a clamp forecast takes: 16, 60 and 120 screws in six passes, and how that grows.

    python tests/bench/forecast.py

The aim is under 1 s for 120 screws on one core. Time of this process is measured beside the clock,
so that other work on the machine does not tell against it.
"""

from __future__ import annotations

import math
import os
import time
from itertools import pairwise

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # before numpy is imported: one core

from ratios import Row, hand_over

from shopguide.bolts import clamp
from shopguide.bolts.order import star_row

COUNTS = (16, 60, 120)
SPACING_MM = 65
AIM_S = 1.0
ROUNDS = 5


def make_joint(count: int) -> clamp.Joint:
    radius = SPACING_MM * count / math.tau
    points = tuple(
        (radius * math.cos(math.tau * k / count), radius * math.sin(math.tau * k / count))
        for k in range(count)
    )
    return clamp.Joint(points, 70_000, 512, 1150, 60, 130_000, 8_000)


def make_trips(count: int) -> list[clamp.Trip]:
    row = star_row(count)
    star = tuple(k - min(row) for k in row)
    around = tuple(range(count))
    return [
        *(clamp.Trip(star, share=share) for share in (0.3, 0.7, 1.0)),
        *(clamp.Trip(around) for _ in range(3)),
    ]


def take_s(count: int) -> tuple[float, float]:
    """Time of this process and of the clock for one forecast, mesh and all."""
    clamp._factor.cache_clear()
    start_cpu, start = time.process_time(), time.perf_counter()
    clamp.forecast(make_joint(count), make_trips(count))
    return time.process_time() - start_cpu, time.perf_counter() - start


def measure() -> list[Row]:
    take_s(16)
    best = {count: min(take_s(count) for _ in range(ROUNDS)) for count in COUNTS}
    rows = []
    for count, (cpu_s, clock_s) in best.items():
        most = AIM_S * 1000 if count == COUNTS[-1] else None
        rows.append(Row(f"{count} screws, 6 passes: of one core", cpu_s * 1000, "ms", most=most))
        rows.append(Row("  by the clock", clock_s * 1000, "ms"))
    for few, many in pairwise(COUNTS):
        power = math.log(best[many][0] / best[few][0]) / math.log(many / few)
        rows.append(Row(f"growth from {few} to {many}, as a power of their number", power, ""))
    return rows


if __name__ == "__main__":
    hand_over(measure())
