"""The sixteen cover screws: number, place in mm and length, read from the sample's job sheet.

x runs to the right and y up, as seen from below with the vehicle's front to the left.
"""

import json
import math
from dataclasses import dataclass
from pathlib import Path

SAMPLE = Path(__file__).resolve().parents[2] / "sample_jobs" / "gearbox_sump_cover"
JOB_FILE = SAMPLE / "job.json"
PATTERN_NAME = "cover"


@dataclass(frozen=True)
class Screw:
    """One cover screw; lengths and places in mm."""

    number: int
    x_mm: float
    y_mm: float
    length_mm: float

    @property
    def is_long(self) -> bool:
        return self.length_mm > 25


def read_length(text: object) -> float:
    """The length in mm out of 20, "20", "20 mm" or "M6x20"."""
    words = str(text).lower().replace("mm", "").replace("×", "x").split("x")
    return float(words[-1])


def read_screws(job_file: Path = JOB_FILE) -> tuple[Screw, ...]:
    """The screws of the pattern "cover", in the order of their numbers."""
    job = json.loads(job_file.read_text(encoding="utf-8"))
    pattern = next(p for p in job["patterns"] if p["name"] == PATTERN_NAME)
    screws = (
        Screw(
            int(f["number"]),
            float(f["x_mm"]),
            float(f["y_mm"]),
            read_length(f["length"]),
        )
        for f in pattern["fasteners"]
    )
    return tuple(sorted(screws, key=lambda screw: screw.number))


def walk_round(screws: tuple[Screw, ...] | None = None) -> tuple[Screw, ...]:
    """The screws clockwise along the edge, from the front; numbers may run in another order."""
    screws = screws or read_screws()
    return tuple(sorted(screws, key=lambda s: -math.atan2(s.y_mm, s.x_mm)))


def name_screw(x_mm: float, y_mm: float) -> int:
    """The number of the screw nearest to a place."""
    return min(read_screws(), key=lambda s: math.hypot(s.x_mm - x_mm, s.y_mm - y_mm)).number
