"""Preload, torque and stripping against outside sources; each row names where it was read."""

from __future__ import annotations

import pytest

from shopguide.torque import joint, preload, units
from shopguide.torque.friction import find_condition
from shopguide.torque.screw_report import judge_torque, screw_report
from shopguide.torque.strength import read_grade
from shopguide.torque.threads import read_thread

LBF_N = 4.4482216152605
LBF_FT = 1.3558179483314004

# VDI 2230:2001, hexagon head, medium hole, 90 % of yield, as reprinted by a fastener supplier
# (mastik.pt, page 685): friction, preload in kN and torque in N·m for 8.8, 10.9 and 12.9. Tables
# from before 2001 are 6 to 9 % lower and must not be mixed in.
VDI_FINE = [
    ("M8x1", 0.10, (20.7, 30.4, 35.6), (22.8, 33.5, 39.2)),
    ("M8x1", 0.12, (20.2, 29.7, 34.7), (26.1, 38.3, 44.9)),
    ("M8x1", 0.14, (19.7, 28.9, 33.9), (29.2, 42.8, 50.1)),
    ("M10x1.25", 0.10, (32.4, 47.5, 55.6), (44, 65, 76)),
    ("M10x1.25", 0.12, (31.6, 46.4, 54.3), (51, 75, 87)),
    ("M10x1.25", 0.14, (30.8, 45.2, 52.9), (57, 83, 98)),
    ("M14x1.5", 0.10, (66.4, 97.5, 114.1), (124, 182, 213)),
    ("M14x1.5", 0.12, (64.8, 95.2, 111.4), (142, 209, 244)),
    ("M14x1.5", 0.14, (63.2, 92.9, 108.7), (159, 234, 274)),
]


@pytest.mark.parametrize(
    ("typed", "friction", "grade", "force_kn", "torque_nm"),
    [
        (typed, friction, grade, force, torque)
        for typed, friction, forces, torques in VDI_FINE
        for grade, force, torque in zip(("8.8", "10.9", "12.9"), forces, torques, strict=True)
    ],
)
def test_against_vdi_2230_fine_threads(typed, friction, grade, force_kn, torque_nm) -> None:
    thread = read_thread(typed)
    found = preload.find_tightening(thread, read_grade(grade, thread), friction)
    assert found.preload_n / 1000 == pytest.approx(force_kn, rel=0.01)
    # Whole newton metres are printed for M10 and M14: half of one is more than 1 % there.
    whole = 0.5 if torque_nm == int(torque_nm) else 0.0
    assert found.torque_nm == pytest.approx(torque_nm, abs=max(whole, 0.01 * torque_nm))


# VDI 2230:2003 coarse threads at friction 0.12, kN and N·m for 8.8 and 10.9: from memory.
VDI_COARSE = [
    ("M6", (10.2, 14.9), (10.1, 14.9)),
    ("M8", (18.6, 27.3), (24.6, 36.1)),
    ("M10", (29.6, 43.4), (48, 71)),
    ("M12", (43.0, 63.2), (84, 123)),
    ("M16", (80.9, 118.8), (206, 302)),
]


@pytest.mark.parametrize(("typed", "forces", "torques"), VDI_COARSE)
def test_against_vdi_2230_coarse_threads(typed, forces, torques) -> None:
    thread = read_thread(typed)
    for grade, force, torque in zip(("8.8", "10.9"), forces, torques, strict=True):
        found = preload.find_tightening(thread, read_grade(grade, thread), 0.12)
        assert found.preload_n / 1000 == pytest.approx(force, rel=0.01)
        assert found.torque_nm == pytest.approx(torque, rel=0.012)


# T = K·d·F with F = 75 % of the proof load. Grade 5, 3/8-16: worked example of
# mobiletechengineering.com (4940 lbf; 30 lbf·ft dry and 23 lubricated, rounded down there).
# Grade 2: coxhardware.com, torque at K 0.20 and clamping force for each thread; its 5/16-18 is left
# out, whose 11.5 does not follow from its own formula (11.3).
CHART = [
    ("3/8-16", "grade 5", 0.20, 4_940, 30.9),
    ("3/8-16", "grade 5", 0.15, 4_940, 23.2),
    ("1/4-20", "grade 2", 0.20, 1_312, 5.4),
    ("1/4-28", "grade 2", 0.20, 1_502, 6.3),
    ("5/16-24", "grade 2", 0.20, 2_397, 12.5),
    ("3/8-16", "grade 2", 0.20, 3_197, 20.0),
    ("3/8-24", "grade 2", 0.20, 3_622, 22.6),
    ("7/16-14", "grade 2", 0.20, 4_385, 32.0),
    ("7/16-20", "grade 2", 0.20, 4_896, 35.7),
    ("1/2-13", "grade 2", 0.20, 5_853, 48.8),
    ("1/2-20", "grade 2", 0.20, 6_600, 55.0),
    ("9/16-12", "grade 2", 0.20, 7_508, 70.4),
    ("5/8-11", "grade 2", 0.20, 9_323, 97.1),
    ("3/4-10", "grade 2", 0.20, 13_778, 172.0),
]


@pytest.mark.parametrize(("typed", "grade", "k", "force_lbf", "torque_lbf_ft"), CHART)
def test_against_torque_charts(typed, grade, k, force_lbf, torque_lbf_ft) -> None:
    thread = read_thread(typed)
    strength = read_grade(grade, thread)
    proof = strength.proof_load_n(thread)
    assert proof is not None
    assert 0.75 * proof / LBF_N == pytest.approx(force_lbf, rel=2e-3)
    torque = preload.torque_for_share(thread, strength, 0.75, k) / LBF_FT
    assert torque == pytest.approx(torque_lbf_ft, abs=max(0.1, 0.01 * torque_lbf_ft))


# Half inch, 75 % of proof at K 0.20, in lbf and lbf·ft: by hand from J429's proof stress and the
# printed area of 0.1419 in²: 0.75 × 120 000 × 0.1419 = 12 771; 0.2 × 0.5 × 12 771 / 12 = 106.4.
@pytest.mark.parametrize(
    ("grade", "force_lbf", "torque_lbf_ft"),
    [("grade 8", 12_771, 106.4), ("grade 5", 9_046, 75.4)],
)
def test_half_inch(grade: str, force_lbf: float, torque_lbf_ft: float) -> None:
    thread = read_thread("1/2-13")
    strength = read_grade(grade, thread)
    proof = strength.proof_load_n(thread)
    assert proof is not None
    assert 0.75 * proof / LBF_N == pytest.approx(force_lbf, rel=1e-3)
    torque = preload.torque_for_share(thread, strength, 0.75, 0.2) / LBF_FT
    assert torque == pytest.approx(torque_lbf_ft, rel=1e-3)


# Nut factors. Ranges: zipfastener.com, "Engineering Data". Single figures: Shigley's Mechanical
# Engineering Design, 9th edition, Table 8-15, second-hand copy; Bowman's anti-seize there 0.12.
K_ROWS = [
    ("dry", (0.18, 0.27), 0.30),
    ("oiled", (0.10, 0.26), 0.18),
    ("zinc plated", (0.17, 0.35), 0.20),
    ("phosphated and oiled", (0.15, 0.22), None),
    ("cadmium plated", (0.15, 0.19), 0.16),
    ("zinc flake", (0.16, 0.32), None),
    ("stainless, dry", (0.30, 0.50), None),
    ("anti-seize", None, 0.12),
]


@pytest.mark.parametrize(("name", "band", "single"), K_ROWS)
def test_the_bands_of_k_hold_the_published_figures(name, band, single) -> None:
    condition = find_condition(name)
    for figure in (*(band or ()), *([single] if single else [])):
        assert condition.k_low <= figure <= condition.k_high
    if band and single is None:
        assert (condition.k_low, condition.k_high) == band


# Length of engagement at which an 8.8 screw breaks before the hole strips, in diameters: a
# supplier's table from trials with M6 to M16 (mastik.pt, page 677). Cast iron is no case for this
# estimate (its shear strength is a larger share of the tensile one).
@pytest.mark.parametrize(
    ("hole", "tensile_mpa", "diameters"), [("Al 99.5", 180, 2.0), ("S 235", 360, 1.0)]
)
@pytest.mark.parametrize("typed", ["M6", "M8", "M10", "M12", "M16"])
def test_length_of_engagement(hole, tensile_mpa, diameters, typed) -> None:
    thread = read_thread(typed)
    found = joint.estimate_stripping(thread, read_grade("8.8", thread), 10, tensile_mpa)
    needed = found.engagement_needed_mm / thread.diameter_mm
    assert needed == pytest.approx(diameters, rel=0.05), hole


@pytest.mark.parametrize(
    ("thread", "verdict"),
    [("M6", "usual"), ("M5", "far above")],
)
def test_small_screws_of_a_light_alloy_pan_at_12_nm(thread: str, verdict: str) -> None:
    # Common practice, no source: taken to 12 N·m, M6 8.8 stands it and M5 8.8 does not.
    torque = units.read("12 N·m", units.Kind.TORQUE)
    for condition in (None, "dry"):
        report = screw_report(thread, "8.8", torque=torque, condition=condition)
        assert report.verdict == verdict
    # Oiled it is no longer usual on the smaller one, and still below yield on the larger one.
    found = judge_torque(report.thread, report.strength, 12, find_condition("oiled"))
    assert found == verdict


def test_torque_of_a_clamp_and_of_stud_nuts() -> None:
    # Common practice, no source: exhaust stud nuts at 13 N·m, a clamp at 20, a larger fixing at 25.
    # None of them is too much for the 8.8 screw of the size that it is found on.
    for typed, torque_nm in (("M6", 13), ("M8", 13), ("M8", 20), ("M8", 25)):
        thread = read_thread(typed)
        found = judge_torque(thread, read_grade("8.8", thread), torque_nm, find_condition("dry"))
        assert found == "usual"


@pytest.mark.parametrize(
    ("thread", "torque"),
    # Common practice, no source: exhaust stud nuts at 13 N·m, a clamp at 20, a larger fixing at
    # 25 on the same vehicle. The threads are assumed: M8 for all three.
    [("M8", "13 N·m"), ("M8", "20 N·m"), ("M8", "25 N·m")],
)
def test_usual_torques_beside_a_light_alloy_pan_are_neither_far_above_nor_far_below(
    thread: str, torque: str
) -> None:
    report = screw_report(thread, "8.8", torque=units.read(torque, units.Kind.TORQUE))
    assert report.verdict in ("usual", "high")
