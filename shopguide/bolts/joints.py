"""Typical joints: what is assumed of rim, gasket and screws where nobody has measured them.

None of these figures is measured. Rims are plain strips of usual size; gasket moduli are plausible
and assumed; the stiffness of a screw is computed after VDI 2230-1 (from memory) for the grip named.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from shopguide.bolts.pattern import Pattern

ASSUMED = "typical, not measured; assumed"


@dataclass(frozen=True, slots=True)
class TypicalJoint:
    """One set of assumptions. The rim is a strip `rim_mm` wide and `thick_mm` thick.

    gasket_mpa: modulus of the gasket when it is pressed.  screw_n_per_mm: of one screw; grip_mm is
    what it was computed for.  up_to_mm: the thickest screw it stands for.
    """

    name: str
    modulus_mpa: float
    rim_mm: float
    thick_mm: float
    gasket_mm: float
    gasket_wide_mm: float
    gasket_mpa: float
    screw_n_per_mm: float
    grip_mm: float
    up_to_mm: float
    source: str = ASSUMED

    @property
    def bending_mm4(self) -> float:
        """Second moment of area of the strip, about the axis in the plane of the joint."""
        return self.rim_mm * self.thick_mm**3 / 12

    @property
    def torsion_mm4(self) -> float:
        """Torsion constant of a rectangle, within 1 %: a usual approximation, from memory."""
        long, short = max(self.rim_mm, self.thick_mm), min(self.rim_mm, self.thick_mm)
        slim = short / long
        return long * short**3 * (1 / 3 - 0.21 * slim * (1 - slim**4 / 12))

    @property
    def gasket_n_per_mm2(self) -> float:
        """Force by length of rim and by mm pressed."""
        return self.gasket_mpa * self.gasket_wide_mm / self.gasket_mm


TYPICAL_JOINTS: tuple[TypicalJoint, ...] = (
    TypicalJoint(
        "thin light-alloy cover, 1.5 mm soft gasket, M6",
        modulus_mpa=70_000, rim_mm=14, thick_mm=8, gasket_mm=1.5, gasket_wide_mm=12,
        gasket_mpa=10, screw_n_per_mm=180_000, grip_mm=14, up_to_mm=7,
    ),
    TypicalJoint(
        "light-alloy pan, 3 mm cork and rubber gasket, M6",
        modulus_mpa=70_000, rim_mm=14, thick_mm=8, gasket_mm=3, gasket_wide_mm=12,
        gasket_mpa=8, screw_n_per_mm=180_000, grip_mm=14, up_to_mm=7,
    ),
    TypicalJoint(
        "thin light-alloy cover, 0.5 mm paper or fibre gasket, M6",
        modulus_mpa=70_000, rim_mm=14, thick_mm=8, gasket_mm=0.5, gasket_wide_mm=12,
        gasket_mpa=60, screw_n_per_mm=180_000, grip_mm=14, up_to_mm=7,
    ),
    TypicalJoint(
        "light-alloy housing, 1 mm fibre gasket, M8",
        modulus_mpa=70_000, rim_mm=22, thick_mm=14, gasket_mm=1, gasket_wide_mm=18,
        gasket_mpa=60, screw_n_per_mm=174_000, grip_mm=30, up_to_mm=10.9,
    ),
    TypicalJoint(
        "steel flange, 2 mm sheet gasket, M12",
        modulus_mpa=205_000, rim_mm=40, thick_mm=18, gasket_mm=2, gasket_wide_mm=30,
        gasket_mpa=200, screw_n_per_mm=151_000, grip_mm=90, up_to_mm=1e9,
    ),
)  # fmt: skip


def choose_joint(pattern: Pattern) -> TypicalJoint:
    """The assumptions that go with the pattern's thread; without one, a thin cover with M6."""
    threads = [f.thread for f in pattern.tightened if f.thread]
    diameter_mm = read_diameter_mm(threads[0]) if threads else None
    if diameter_mm is None:
        return TYPICAL_JOINTS[0]
    return next(joint for joint in TYPICAL_JOINTS if diameter_mm <= joint.up_to_mm)


def read_diameter_mm(thread: str) -> float | None:
    """The nominal diameter that a thread's name begins with: M6, M8x1, 3/8-16; else None."""
    metric = re.match(r"\s*M\s*(\d+(?:[.,]\d+)?)", thread, re.IGNORECASE)
    if metric:
        return float(metric[1].replace(",", "."))
    inch = re.match(r"\s*(\d+)\s*/\s*(\d+)", thread)
    if inch and int(inch[2]):
        return 25.4 * int(inch[1]) / int(inch[2])
    return None
