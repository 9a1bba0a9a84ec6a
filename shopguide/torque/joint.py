"""The joint round one screw: how stiff it is, what a degree of turn adds, when the thread strips.

Estimates by textbook formulae; they never replace the manual's figure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopguide.errors import UnitTrouble
from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.strength import Strength
from shopguide.torque.threads import Thread

STEEL_MPA = 205_000.0
"""Modulus of elasticity of steel, N/mm²."""
ALUMINIUM_MPA = 70_000.0
"""Modulus of elasticity of light alloys, N/mm²."""

SHEAR_OF_TENSILE = 0.6
"""Shear strength over tensile strength of a light alloy; common practice, no source. A supplier's
worked example takes 0.7, which strips later than is wise to hope for."""


@dataclass(frozen=True, slots=True)
class Stiffness:
    """Of one screwed joint, N per mm: the screw, the parts under its head, the two in a row."""

    screw_n_per_mm: float
    parts_n_per_mm: float

    @property
    def joint_n_per_mm(self) -> float:
        """1/(1/k_screw + 1/k_parts): what the turning nut feels."""
        return 1 / (1 / self.screw_n_per_mm + 1 / self.parts_n_per_mm)


MODULUS_MPA = {"steel": STEEL_MPA, "alloy": ALUMINIUM_MPA}
"""Modulus of elasticity by what the parts are made of, N/mm²."""


@dataclass(frozen=True, slots=True)
class Stripping:
    """Whether a tapped hole holds: the pull at which its thread shears off, and what is needed.

    engagement_needed_mm: at which the screw would break before the hole strips.
    """

    strips_at_n: float
    screw_breaks_at_n: float
    engagement_needed_mm: float

    @property
    def holds(self) -> bool:
        """True where the screw would break first."""
        return self.strips_at_n >= self.screw_breaks_at_n

    def tell_at(self, low_n: float, high_n: float) -> str:
        """What a clamp force between these two, N, does to the hole, in words."""
        if self.strips_at_n < low_n:
            return "at this torque the thread in the hole strips (estimate)"
        if self.strips_at_n < high_n:
            return (
                "at this torque the thread in the hole may strip where friction is low (estimate)"
            )
        return "at this torque the thread in the hole holds (estimate)"

    def tell(self) -> str:
        """Which of the two gives way first, in words."""
        if self.holds:
            first = "the screw would break before the hole strips"
        else:
            first = (
                f"the hole strips before the screw breaks; {self.engagement_needed_mm:.1f} mm of "
                "engaged thread would be needed"
            )
        return (
            f"thread in the hole holds about {self.strips_at_n / 1000:.3g} kN: {first} (estimate)"
        )


def estimate_stiffness(
    thread: Thread, grip_mm: float, parts_mpa: float = STEEL_MPA, screw_mpa: float = STEEL_MPA
) -> Stiffness:
    """Stiffness of screw and parts, through-bolted, after VDI 2230-1 (from memory).

    Screw: head 0.5 d and nut 0.4 d on the nominal section, grip and 0.5 d of engaged thread on the
    root section (threaded over the whole grip). Parts: two 30° cones from the bearing face, wide
    enough to hold them. Validity: hexagon head, medium hole, one material.
    Worked example: M6, grip 14 mm, light alloy: 180, 383 and together 122 kN/mm; 340 N a degree.
    """
    for figure, name in ((grip_mm, "grip"), (parts_mpa, "modulus"), (screw_mpa, "modulus")):
        _demand_positive(figure, name)
    head, d = find_hex_head(thread), thread.diameter_mm
    shank = math.pi / 4 * d**2
    root = math.pi / 4 * thread.root_diameter_mm**2
    give = (0.9 * d / shank + (grip_mm + 0.5 * d) / root) / screw_mpa
    slope = math.tan(math.radians(30))
    dw, dh = head.bearing_mm, head.hole_mm
    wide = dw + grip_mm * slope
    cones = math.log((dw + dh) * (wide - dh) / ((dw - dh) * (wide + dh)))
    parts = parts_mpa * math.pi * dh * slope / (2 * cones)
    return Stiffness(1 / give, parts)


def force_per_degree(thread: Thread, joint_n_per_mm: float) -> float:
    """What one more degree of turn adds to the clamp force, N, while all is elastic.

    dF/dθ = (P/360)·k. Validity: from snug until the screw yields; a further 90° takes most short
    screws past that on purpose, so this is no measure of what torque and angle end at.
    Worked example: M8, grip 30 mm, steel, 152 kN/mm: 526 N.
    """
    _demand_positive(joint_n_per_mm, "stiffness")
    return thread.pitch_mm / 360 * joint_n_per_mm


def estimate_stripping(
    thread: Thread, strength: Strength, engagement_mm: float, hole_tensile_mpa: float
) -> Stripping:
    """When the thread of a tapped hole shears off, for a hole softer than the screw.

    An = π·Le·Ds·(1/2 + 0.57735·(Ds - En)/P), Machinery's Handbook (shear area of the internal
    thread; Ds smallest outside diameter of the screw, En largest pitch diameter of the hole),
    times 0.6 of the hole's tensile strength. Ds and En are those of 6g and 6H by the formulae of
    ISO 965-1, from memory, and stand for 2A and 2B too. The hole's widening is left out, so the
    true figure is rather lower. Validity: light alloys and soft steels, full threads only.
    Worked example (a supplier's table of trials M6 to M16): aluminium of 180 N/mm² and an 8.8
    screw want 2.0 d; here M6 comes to 12.2 mm.
    """
    _demand_positive(engagement_mm, "length of engagement")
    _demand_positive(hole_tensile_mpa, "tensile strength")
    d, p = thread.diameter_mm, thread.pitch_mm
    screw_mm = d - ((15 + 11 * p) + 180 * p ** (2 / 3) - 3.15 / math.sqrt(p)) / 1000
    hole_mm = thread.pitch_diameter_mm + 1.32 * 90 * p**0.4 * d**0.1 / 1000
    per_mm = math.pi * screw_mm * (0.5 + 0.57735 * (screw_mm - hole_mm) / p)
    strips_per_mm = per_mm * SHEAR_OF_TENSILE * hole_tensile_mpa
    breaks = strength.breaking_load_n(thread)
    return Stripping(strips_per_mm * engagement_mm, breaks, breaks / strips_per_mm)


def _demand_positive(figure: float, name: str) -> None:
    if not 0 < figure < math.inf:
        raise UnitTrouble(f"{figure:g} is not a {name}.", next="Write a figure above zero.")
