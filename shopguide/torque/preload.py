"""From torque to clamp force and back, and what share of a screw's strength that takes.

Every figure here is an estimate by a textbook formula. It never replaces the manual's figure.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shopguide.errors import UnitTrouble
from shopguide.torque.friction import Condition
from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.strength import Strength
from shopguide.torque.threads import Thread

USE_OF_YIELD = 0.9
"""ν of VDI 2230-1: how much of the yield limit tightening may use, pull and twist together."""

MIDDLE_FRICTION = 0.12
"""Friction where none is given: the middle of friction class B of VDI 2230 (0.08 to 0.16), from
memory."""

_COS_FLANK = math.cos(math.radians(30))


@dataclass(frozen=True, slots=True)
class Tightening:
    """What a screw may be tightened to: the force along it and the torque that gives it."""

    preload_n: float
    torque_nm: float


@dataclass(frozen=True, slots=True)
class ClampBand:
    """The clamp force that a torque may give, and the share of the proof load that this is.

    The shares are None where the standard of the screw gives no proof load.
    """

    low_n: float
    high_n: float
    share_low: float | None
    share_high: float | None


def torque_by_nut_factor(thread: Thread, k: float, force_n: float) -> float:
    """T = K·d·F, in N·m; d the thread's outside diameter, K without unit.

    Source: any machine design textbook, such as Shigley 8-8; K hides all friction, so a single
    figure for it is never right to better than a quarter. Validity: K 0.05 to 1.
    Worked example (torque charts): 3/8-16 grade 5 at 4940 lbf (21 974 N), K 0.20: 30.9 lbf·ft
    (41.9 N·m), K 0.15: 23.2 lbf·ft.
    """
    _check(k, "nut factor K", 0.05, 1)
    _check(force_n, "clamp force", 0, 1e7)
    return k * thread.diameter_mm / 1000 * force_n


def force_by_nut_factor(thread: Thread, k: float, torque_nm: float) -> float:
    """F = T/(K·d), in N: `torque_by_nut_factor` turned round. M10 at 50 N·m, K 0.2: 25 000 N."""
    _check(k, "nut factor K", 0.05, 1)
    _check(torque_nm, "torque", 0, 1e6)
    return torque_nm * 1000 / (k * thread.diameter_mm)


def torque_long_form(
    thread: Thread, force_n: float, friction: float, head_friction: float | None = None
) -> float:
    """The long form by friction in thread and under the head, in N·m.

    M = F·(0.16·P + 0.58·d2·μG + DKm/2·μK), VDI 2230-1 (number of the equation from memory).
    head_friction: as the thread where it is not given. Validity: hexagon head, medium hole, 60°
    thread, μ from 0.03 to 0.6.
    Worked example (a fastener supplier's reprint of the VDI 2230:2001 tables): M8×1, 29.7 kN,
    μ 0.12: 38.3 N·m.
    """
    mu_thread, mu_head = _read_frictions(friction, head_friction)
    _check(force_n, "clamp force", 0, 1e7)
    lever_mm = (
        0.16 * thread.pitch_mm
        + 0.58 * thread.pitch_diameter_mm * mu_thread
        + find_hex_head(thread).friction_diameter_mm / 2 * mu_head
    )
    return force_n * lever_mm / 1000


def torque_by_lever_arms(
    thread: Thread, force_n: float, friction: float, head_friction: float | None = None
) -> float:
    """The same with its lever arms written out (Motosh), in N·m.

    T = F·(P/2π + μt·rt/cos β + μb·rb), rt = d2/2, β = 30°, rb = DKm/2. It agrees with the form of
    VDI 2230 to 0.6 %, whose 0.16 and 0.58 are 1/2π and 1/(2 cos 30°) rounded.
    Source: the form from memory. Worked example: M8, 18.6 kN, μ 0.12: 24.47 N·m (the form of
    VDI 2230: 24.54).
    """
    mu_thread, mu_head = _read_frictions(friction, head_friction)
    _check(force_n, "clamp force", 0, 1e7)
    lever_mm = (
        thread.pitch_mm / (2 * math.pi)
        + mu_thread * thread.pitch_diameter_mm / 2 / _COS_FLANK
        + mu_head * find_hex_head(thread).friction_diameter_mm / 2
    )
    return force_n * lever_mm / 1000


def friction_from_test(thread: Thread, torque_nm: float, force_n: float) -> float:
    """The friction of thread and head together that a measured torque and force speak of.

    μtot = (T/F - P/2π)/(0.577·d2 + 0.5·Db), ISO 16047 (from memory); Db the mean bearing
    diameter, here that of a hexagon head on a medium hole.
    Worked example: M8, 24.6 N·m, 18.6 kN: 0.121; that row of VDI 2230 is for 0.12.
    """
    _check(force_n, "clamp force", 0, 1e7)
    _check(torque_nm, "torque", 0, 1e6)
    arm_mm = torque_nm * 1000 / force_n - thread.pitch_mm / (2 * math.pi)
    return arm_mm / (
        0.577 * thread.pitch_diameter_mm + 0.5 * find_hex_head(thread).friction_diameter_mm
    )


def nut_factor_from_friction(thread: Thread, friction: float) -> float:
    """The K that the long form amounts to. M8: 0.142 at μ 0.10, 0.165 at 0.12 (computed)."""
    return torque_long_form(thread, 1000, friction) / thread.diameter_mm


def friction_from_nut_factor(thread: Thread, k: float) -> float:
    """The friction in thread and under the head alike that a K amounts to; at least 0.03."""
    _check(k, "nut factor K", 0.05, 1)
    lever_mm = 0.58 * thread.pitch_diameter_mm + find_hex_head(thread).friction_diameter_mm / 2
    return max(0.03, (k * thread.diameter_mm - 0.16 * thread.pitch_mm) / lever_mm)


def find_tightening(
    thread: Thread, strength: Strength, friction: float, use: float = USE_OF_YIELD
) -> Tightening:
    """Preload (N) and torque (N·m) at which pull and twist use this share of the yield limit.

    σM = ν·Rp0.2/√(1 + 3·[1.5·(d2/d0)·(P/(π·d2) + 1.155·μG)]²), FM = AS·σM, then the long form;
    VDI 2230-1 (equation numbers from memory). Validity: hexagon head, medium hole, the same
    friction in thread and under the head, d0 = (d2 + d3)/2.
    Worked example (reprint of VDI 2230:2001): M8×1 10.9, μ 0.12: 29.7 kN and 38.3 N·m.
    """
    mu, _ = _read_frictions(friction, None)
    _check(use, "use of the yield limit", 0, 1.5)
    d2, d0 = thread.pitch_diameter_mm, thread.stress_diameter_mm
    twist = 1.5 * d2 / d0 * (thread.pitch_mm / (math.pi * d2) + 1.155 * mu)
    stress = use * strength.yield_mpa / math.sqrt(1 + 3 * twist**2)
    preload = stress * thread.stress_area_mm2
    return Tightening(preload, torque_long_form(thread, preload, mu))


def torque_for_share(thread: Thread, strength: Strength, share: float, k: float) -> float:
    """Torque (N·m) that brings a screw to a share of its proof load, by K.

    Source: T = K·d·F with F = share × proof stress × stress area. Worked example (torque charts):
    3/8-16 grade 5, 75 %, K 0.20: 30.9 lbf·ft. Raises UnitTrouble where no proof load is known.
    """
    _check(share, "share of the proof load", 0, 1.5)
    proof = strength.proof_load_n(thread)
    if proof is None:
        raise UnitTrouble(
            f"For {strength.name} no proof load is known.",
            next="Ask for a share of the yield limit instead.",
        )
    return torque_by_nut_factor(thread, k, share * proof)


def find_clamp_band(
    thread: Thread,
    strength: Strength,
    torque_nm: float,
    condition: Condition,
    wrench_deviation: float = 0.0,
) -> ClampBand:
    """The clamp force that a torque may give under a condition, N.

    Low: the torque less the wrench's permitted deviation, at the highest K; high: the other way.
    wrench_deviation: 0.04 for ±4 %. Worked example: M10 at 50 N·m and K 0.20: 25 kN; with the
    band of dry steel (0.18 to 0.30) 16.7 to 27.8 kN.
    """
    if not 0 <= wrench_deviation < 0.5:
        raise UnitTrouble(
            f"{wrench_deviation} is not the deviation of a wrench.",
            next="Write a share from 0 to 0.5, such as 0.04 for ±4 %.",
        )
    low = force_by_nut_factor(thread, condition.k_high, torque_nm * (1 - wrench_deviation))
    high = force_by_nut_factor(thread, condition.k_low, torque_nm * (1 + wrench_deviation))
    proof = strength.proof_load_n(thread)
    if proof is None:
        return ClampBand(low, high, None, None)
    return ClampBand(low, high, low / proof, high / proof)


def _read_frictions(friction: float, head_friction: float | None) -> tuple[float, float]:
    head = friction if head_friction is None else head_friction
    for one in (friction, head):
        if not 0.03 <= one <= 0.6:
            raise UnitTrouble(
                f"A friction of {one} is not that of a screw.",
                next="Write a figure from 0.03 to 0.6; oiled steel has about 0.12.",
            )
    return friction, head


def _check(figure: float, name: str, above: float, most: float) -> None:
    if not above < figure <= most and not (above > 0 and figure == above):
        raise UnitTrouble(
            f"{figure} is not a {name} that can be reckoned with.",
            next=f"Write a figure above {above:g}, at most {most:,.12g}.",
        )
