"""Screw threads: their names as people write them, their diameters, and the stress area."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shopguide.errors import UnitTrouble

Series = Literal["metric coarse", "metric fine", "UNC", "UNF"]

INCH_MM = 25.4

# ISO 261 and ISO 262, the sizes that a mechanic meets; the list of pitches is from memory, each
# stress area that a published table prints is checked in the tests.
_COARSE: dict[str, str] = {
    "3": "0.5",
    "3.5": "0.6",
    "4": "0.7",
    "5": "0.8",
    "6": "1",
    "7": "1",
    "8": "1.25",
    "10": "1.5",
    "12": "1.75",
    "14": "2",
    "16": "2",
    "18": "2.5",
    "20": "2.5",
    "22": "2.5",
    "24": "3",
}
_FINE: dict[str, tuple[str, ...]] = {
    "3": ("0.35",),
    "4": ("0.5",),
    "5": ("0.5",),
    "6": ("0.75",),
    "8": ("1", "0.75"),
    "10": ("1.25", "1", "0.75"),
    "12": ("1.5", "1.25", "1"),
    "14": ("1.5", "1.25", "1"),
    "16": ("1.5", "1"),
    "18": ("2", "1.5", "1"),
    "20": ("2", "1.5", "1"),
    "22": ("2", "1.5", "1"),
    "24": ("2", "1.5", "1"),
}
# ANSI/ASME B1.1: size -> (diameter in inches, threads per inch UNC, UNF).
_UNIFIED: dict[str, tuple[float, int, int]] = {
    "#8": (0.164, 32, 36),
    "#10": (0.190, 24, 32),
    "#12": (0.216, 24, 28),
    "1/4": (0.25, 20, 28),
    "5/16": (0.3125, 18, 24),
    "3/8": (0.375, 16, 24),
    "7/16": (0.4375, 14, 20),
    "1/2": (0.5, 13, 20),
    "9/16": (0.5625, 12, 18),
    "5/8": (0.625, 11, 18),
    "3/4": (0.75, 10, 16),
}

_METRIC = re.compile(
    r"m\s*(?P<size>\d+(?:\.\d+)?)(?:\s*[x*-]\s*(?P<pitch>\d+(?:\.\d+)?)(?:\s*mm)?)?"
    r"(?:\s*-?\s*6[efgh])?"
)
_INCH = re.compile(
    r"(?P<size>(?:#|no\.?|nr\.?)\s*\d+|\d+/\d+|\d+)\s*(?:\"|in\.?|inch)?"
    r"(?:\s*[-x]\s*(?P<count>\d+)(?:\s*tpi)?)?\s*-?\s*(?P<series>unc|unf|un)?"
    r"(?:\s*-?\s*[123][ab])?"
)
_LONGEST = 40
_EXAMPLES = "M6, M8x1, 3/8-16 or #10-32"


@dataclass(frozen=True, slots=True)
class Thread:
    """One screw thread, 60° profile. name: tidy ("M6", "M8×1", "3/8-16 UNC").

    size: the part before the pitch ("M8", "3/8", "#10"): heads and holes go by it.
    """

    name: str
    size: str
    series: Series
    diameter_mm: float
    pitch_mm: float

    @property
    def metric(self) -> bool:
        """True for ISO metric, False for unified (inch) threads."""
        return self.series.startswith("metric")

    @property
    def pitch_diameter_mm(self) -> float:
        """d2 = d - 0.649519 P, mm. Source: ISO 724 and ASME B1.1. M6: 5.350."""
        return self.diameter_mm - 0.649519 * self.pitch_mm

    @property
    def root_diameter_mm(self) -> float:
        """d3, the diameter at the root of the screw's thread, mm.

        ISO 898-1: d - 1.226869 P (M6: 4.773). Unified: d - 1.299038 P, as in the note to Table 8-2
        of Shigley's Mechanical Engineering Design, since the stress area there rests on it.
        """
        factor = 1.226869 if self.metric else 1.299038
        return self.diameter_mm - factor * self.pitch_mm

    @property
    def bore_diameter_mm(self) -> float:
        """D1 = d - 1.082532 P, the basic bore of the nut thread, mm. Source: ISO 724. M6: 4.917."""
        return self.diameter_mm - 1.082532 * self.pitch_mm

    @property
    def stress_diameter_mm(self) -> float:
        """d0 = (d2 + d3)/2, mm: the diameter that the stress area is the circle of."""
        return (self.pitch_diameter_mm + self.root_diameter_mm) / 2

    @property
    def stress_area_mm2(self) -> float:
        """Stress area, mm².

        Metric: π/4 ((d2 + d3)/2)² = π/4 (d - 0.9382 P)², ISO 898-1 (M10: 57.99). Unified:
        π/4 (D - 0.9743/n)², ASME B1.1 (1/2-13: 0.1419 in²). The two constants differ; the metric
        one on an inch thread would read 1.3 % too much.
        """
        return math.pi / 4 * self.stress_diameter_mm**2


def list_threads() -> tuple[Thread, ...]:
    """Every thread known here: metric by size, then unified by size."""
    metric = [
        _make_metric(size, pitch)
        for size in _COARSE
        for pitch in (_COARSE[size], *_FINE.get(size, ()))
    ]
    unified = [_make_unified(size, series) for size in _UNIFIED for series in ("UNC", "UNF")]
    return (*metric, *unified)


def read_thread(text: str) -> Thread:
    """Read a thread as it is written: "M6", "M8x1", "M8×1.25", "3/8-16", "#10-32", "1/4 UNF".

    Raises UnitTrouble where it is no thread, none of M3 to M24 or #8 to 3/4, a pitch that does not
    belong to its size, or an inch size without its threads per inch.
    """
    if not isinstance(text, str) or not text.strip() or len(text) > _LONGEST:
        shown = text.strip()[:_LONGEST] if isinstance(text, str) else str(text)
        raise _trouble(f'"{shown}" is not the name of a thread.')
    plain = unicodedata.normalize("NFKC", text).strip().lower()
    for sign, stands_for in (("×", "x"), ("⁄", "/"), ("–", "-"), ("″", '"'), ("”", '"')):
        plain = plain.replace(sign, stands_for)
    plain = re.sub(r"(?<=\d),(?=\d)", ".", plain)
    if found := _METRIC.fullmatch(plain):
        return _read_metric(text.strip(), found)
    if found := _INCH.fullmatch(plain):
        return _read_unified(text.strip(), found)
    raise _trouble(f'"{text.strip()}" is not a thread known here.')


def _read_metric(text: str, found: re.Match[str]) -> Thread:
    size = _plain_number(found["size"])
    if size not in _COARSE:
        raise _trouble(f'"{text}" is not a thread known here: metric ones go from M3 to M24.')
    if found["pitch"] is None:
        return _make_metric(size, _COARSE[size])
    pitch = _plain_number(found["pitch"])
    known = (_COARSE[size], *_FINE.get(size, ()))
    if pitch not in known:
        length = (
            " If that is the length of the screw, leave it out here." if (float(pitch) > 3) else ""
        )
        raise UnitTrouble(
            f"A pitch of {pitch} mm is not known for M{size}.{length}",
            next=f"Write one of {', '.join(_name_metric(size, p) for p in known)}.",
        )
    return _make_metric(size, pitch)


def _read_unified(text: str, found: re.Match[str]) -> Thread:
    size = re.sub(r"^(?:#|no\.?|nr\.?)\s*", "#", found["size"])
    if size.isdigit() and f"#{size}" in _UNIFIED:
        size = f"#{size}"
    elif "/" in size:
        above, below = (int(part) for part in size.split("/"))
        if below:
            size = str(Fraction(above, below))
    if size not in _UNIFIED:
        raise _trouble(f'"{text}" is not a thread known here: inch ones go from #8 to 3/4.')
    _, coarse, fine = _UNIFIED[size]
    count = int(found["count"]) if found["count"] else None
    said = {"unc": "UNC", "unf": "UNF"}.get(found["series"] or "")
    if count is None and said is None:
        raise UnitTrouble(
            f'"{text}" can be {size}-{coarse} or {size}-{fine}.',
            next=f"Write {size}-{coarse} (UNC) or {size}-{fine} (UNF).",
        )
    by_count = {coarse: "UNC", fine: "UNF"}.get(count) if count is not None else said
    if by_count is None or (said is not None and by_count != said):
        raise UnitTrouble(
            f'"{text}" is not a thread known here: {size} has {coarse} threads per inch (UNC) '
            f"or {fine} (UNF).",
            next=f"Write {size}-{coarse} or {size}-{fine}.",
        )
    return _make_unified(size, by_count)


def _plain_number(text: str) -> str:
    """ "1.50" and "01.5" are "1.5"."""
    return f"{float(text):g}"


def _name_metric(size: str, pitch: str) -> str:
    return f"M{size}" if pitch == _COARSE[size] else f"M{size}×{pitch}"


def _make_metric(size: str, pitch: str) -> Thread:
    series: Series = "metric coarse" if pitch == _COARSE[size] else "metric fine"
    return Thread(_name_metric(size, pitch), f"M{size}", series, float(size), float(pitch))


def _make_unified(size: str, series: Literal["UNC", "UNF"] | str) -> Thread:
    diameter, coarse, fine = _UNIFIED[size]
    count, made = (coarse, "UNC") if series == "UNC" else (fine, "UNF")
    return Thread(f"{size}-{count} {made}", size, made, diameter * INCH_MM, INCH_MM / count)


def _trouble(what: str) -> UnitTrouble:
    return UnitTrouble(what, next=f"Write for example {_EXAMPLES}.")
