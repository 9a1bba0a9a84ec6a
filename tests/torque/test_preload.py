"""From torque to clamp force and back: the worked examples, the verdicts, and bad input."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import UnitTrouble
from shopguide.torque import joint, preload, units
from shopguide.torque.friction import CONDITIONS, find_condition
from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.screw_report import judge_torque, screw_report, tell_force
from shopguide.torque.strength import Strength, read_grade
from shopguide.torque.threads import Thread, list_threads, read_thread

LBF_FT = 1.3558179483314004
M6, M8, M10 = (read_thread(name) for name in ("M6", "M8", "M10"))
THREADS = list_threads()
frictions = st.floats(0.05, 0.4)


def nm(text: str) -> units.Amount:
    return units.read(text, units.Kind.TORQUE)


def strong(thread: Thread, grade: str = "8.8") -> Strength:
    return read_grade(grade, thread)


# --- the examples that the docstrings give --------------------------------------------------------


def test_example_of_the_nut_factor() -> None:
    screw = read_thread("3/8-16")
    torque = preload.torque_by_nut_factor(screw, 0.20, 21_974)
    assert torque == pytest.approx(41.9, abs=0.05)
    assert torque / LBF_FT == pytest.approx(30.9, abs=0.05)
    assert preload.torque_by_nut_factor(screw, 0.15, 21_974) / LBF_FT == pytest.approx(
        23.2, abs=0.05
    )
    assert preload.force_by_nut_factor(M10, 0.2, 50) == pytest.approx(25_000)


def test_example_of_the_long_form() -> None:
    assert preload.torque_long_form(read_thread("M8x1"), 29_700, 0.12) == pytest.approx(
        38.3, abs=0.05
    )
    assert preload.torque_by_lever_arms(M8, 18_600, 0.12) == pytest.approx(24.474, abs=0.005)
    assert preload.torque_long_form(M8, 18_600, 0.12) == pytest.approx(24.54, abs=0.005)


def test_example_of_friction_from_a_test() -> None:
    assert preload.friction_from_test(M8, 24.6, 18_600) == pytest.approx(0.121, abs=0.0005)


def test_example_of_the_nut_factor_from_friction() -> None:
    assert preload.nut_factor_from_friction(M8, 0.10) == pytest.approx(0.142, abs=0.0005)
    assert preload.nut_factor_from_friction(M8, 0.12) == pytest.approx(0.165, abs=0.0005)


def test_example_of_tightening() -> None:
    screw = read_thread("M8x1")
    found = preload.find_tightening(screw, strong(screw, "10.9"), 0.12)
    assert found.preload_n == pytest.approx(29_700, rel=0.005)
    assert found.torque_nm == pytest.approx(38.3, rel=0.005)


def test_example_of_a_share_of_the_proof_load() -> None:
    screw = read_thread("3/8-16")
    torque = preload.torque_for_share(screw, strong(screw, "grade 5"), 0.75, 0.2)
    assert torque / LBF_FT == pytest.approx(30.9, abs=0.05)
    with pytest.raises(UnitTrouble, match="no proof load is known"):
        preload.torque_for_share(M6, strong(M6, "A2-70"), 0.75, 0.2)


def test_example_of_the_clamp_band() -> None:
    band = preload.find_clamp_band(M10, strong(M10), 50, find_condition("dry"))
    assert band.low_n == pytest.approx(16_667, abs=1)
    assert band.high_n == pytest.approx(27_778, abs=1)
    assert band.share_high == pytest.approx(27_778 / 33_634, rel=1e-3)


def test_example_of_stiffness_and_of_a_degree() -> None:
    soft = joint.estimate_stiffness(M6, 14, joint.ALUMINIUM_MPA)
    assert soft.screw_n_per_mm == pytest.approx(180e3, rel=0.005)
    assert soft.parts_n_per_mm == pytest.approx(383e3, rel=0.005)
    assert joint.force_per_degree(M6, soft.joint_n_per_mm) == pytest.approx(340, abs=1)
    assert joint.force_per_degree(M8, 151_600) == pytest.approx(526, abs=1)


def test_example_of_stripping() -> None:
    hole = joint.estimate_stripping(M6, strong(M6), 12.2, 180)
    assert hole.engagement_needed_mm == pytest.approx(12.2, abs=0.15)
    assert hole.holds
    short = joint.estimate_stripping(M6, strong(M6), 6, 180)
    assert not short.holds
    assert "12.1 mm of engaged thread would be needed" in short.tell()
    assert "screw would break before the hole strips" in hole.tell()
    assert short.strips_at_n == pytest.approx(7_980, abs=10)
    assert "may strip where friction is low" in short.tell_at(5_000, 10_000)
    assert "the hole strips" in short.tell_at(8_100, 10_000)
    assert "the hole holds" in short.tell_at(5_000, 7_900)


# --- what must hold for every screw ---------------------------------------------------------------


@pytest.mark.parametrize("thread", THREADS, ids=lambda thread: thread.name)
def test_every_thread_has_a_head_that_covers_its_hole(thread: Thread) -> None:
    head = find_hex_head(thread)
    assert head.flats_mm > head.least_flats_mm > head.hole_mm > thread.diameter_mm
    assert head.flats_mm >= head.bearing_mm > head.hole_mm
    assert head.source


@given(st.sampled_from(THREADS), frictions, frictions)
def test_more_friction_means_less_preload_and_more_torque(
    thread: Thread, one: float, other: float
) -> None:
    less, more = sorted((one, other))
    strength = strong(thread) if thread.metric else Strength("made up", 800, 640, 580, "none")
    slick, rough = (preload.find_tightening(thread, strength, mu) for mu in (less, more))
    assert slick.preload_n >= rough.preload_n
    assert slick.torque_nm <= rough.torque_nm * (1 + 1e-12)
    assert rough.preload_n < 0.9 * strength.yield_load_n(thread)


@given(st.sampled_from(THREADS), frictions, st.floats(100, 1e6))
def test_torque_and_force_turn_round(thread: Thread, friction: float, force_n: float) -> None:
    k = preload.nut_factor_from_friction(thread, friction)
    torque = preload.torque_long_form(thread, force_n, friction)
    assert preload.force_by_nut_factor(thread, k, torque) == pytest.approx(force_n)
    assert preload.friction_from_nut_factor(thread, k) == pytest.approx(friction)
    # The two long forms differ by the rounding of their constants only.
    assert preload.torque_by_lever_arms(thread, force_n, friction) == pytest.approx(
        torque, rel=0.007
    )
    assert preload.friction_from_test(thread, torque, force_n) == pytest.approx(friction, rel=0.02)


@pytest.mark.parametrize("condition", CONDITIONS, ids=lambda condition: condition.name)
def test_a_condition_is_a_band_with_a_source(condition) -> None:
    assert 0.05 < condition.k_low < condition.k_usual < condition.k_high < 0.6
    assert len(condition.source) > 20
    assert find_condition(condition.name.upper()) is condition


def test_a_condition_that_is_not_known_is_told() -> None:
    assert find_condition(None).name == "condition not known"
    assert find_condition("lubricated").name == "oiled"
    with pytest.raises(UnitTrouble, match="Did you mean oiled"):
        find_condition("oilled")
    with pytest.raises(UnitTrouble, match="Write one of: dry, oiled"):
        find_condition("xyz 1234")


def test_the_wrench_widens_the_band() -> None:
    oiled = find_condition("oiled")
    bare = preload.find_clamp_band(M6, strong(M6), 10, oiled)
    held = preload.find_clamp_band(M6, strong(M6), 10, oiled, wrench_deviation=0.06)
    assert held.low_n == pytest.approx(0.94 * bare.low_n)
    assert held.high_n == pytest.approx(1.06 * bare.high_n)


# --- the report and its words ---------------------------------------------------------------------


def test_the_report_as_plain_json() -> None:
    told = json.loads(json.dumps(screw_report("M8x1", "10.9", friction=0.12).as_dict()))
    assert told["stress_area"] == {"value": pytest.approx(39.17, abs=0.01), "unit": "mm²"}
    assert told["proof_load"] == {"value": pytest.approx(32_509, abs=1), "unit": "N"}
    assert told["assembly_preload"]["unit"] == "N"
    assert told["assembly_torque"] == {"value": pytest.approx(38.3, rel=0.005), "unit": "N·m"}
    assert told["friction"]["assumed"] is False
    assert "clamp_low" not in told


def test_the_report_with_a_torque() -> None:
    told = screw_report("M8x1", "10.9", torque=nm("25 N·m"), condition="oiled").as_dict()
    assert told["friction"] == {"value": 0.12, "unit": "", "assumed": True}
    assert told["clamp_low"] == {"value": pytest.approx(25_000 / (0.26 * 8)), "unit": "N"}
    assert told["clamp_high"] == {"value": pytest.approx(25_000 / (0.10 * 8)), "unit": "N"}
    assert told["share_high"] == {"value": pytest.approx(31_250 / 32_508.7 * 100), "unit": "%"}
    assert told["share_low"]["value"] < told["share_high"]["value"]


def test_the_report_of_a_screw_without_proof_load() -> None:
    report = screw_report("M6", "A2-70", torque=nm("7 N·m"), condition="stainless")
    told = report.as_dict()
    assert told["proof_load"] is None
    assert told["share_low"] is None
    assert told["clamp_low"]["value"] > 0
    assert "proof load: not known" in "\n".join(report.tell())


@pytest.mark.parametrize(
    ("thread", "grade", "torque", "condition", "verdict", "words"),
    [
        (
            "M6",
            "8.8",
            "25 N·m",
            None,
            "far above",
            "25 N·m on an M6 8.8 passes its yield: about 10",
        ),
        ("M5", "8.8", "12 N·m", None, "far above", "passes its yield: about 5.8 N·m is usual"),
        ("M6", "8.8", "12 N·m", None, "usual", "within what it usually takes"),
        ("M6", "8.8", "14 N·m", "oiled", "high", "on the high side"),
        ("M6", "8.8", "10 lbf·in", None, "far below", "no more than snug: about 90 lbf·in"),
        ("3/8-16", "grade 5", "30 lbf·ft", "dry", "usual", "about 29 lbf·ft is usual"),
        ("3/8-16", "grade 5", "80 lbf·ft", "dry", "far above", "on a 3/8-16 UNC grade 5 passes"),
    ],
)
def test_the_verdict_in_plain_words(thread, grade, torque, condition, verdict, words) -> None:
    report = screw_report(thread, grade, torque=nm(torque), condition=condition)
    assert report.verdict == verdict
    assert words in report.tell_verdict()
    assert report.tell_verdict().endswith("It never replaces the manual's figure.")
    assert report.tell()[-1] == report.tell_verdict()


@pytest.mark.parametrize("thread", [t for t in THREADS if t.metric], ids=lambda t: t.name)
def test_the_usual_torque_is_usual_whatever_the_condition(thread: Thread) -> None:
    strength = strong(thread)
    usual = preload.find_tightening(thread, strength, 0.12).torque_nm
    for condition in CONDITIONS:
        if condition.k_usual >= 0.16:
            assert judge_torque(thread, strength, usual, condition) == "usual"
        assert judge_torque(thread, strength, usual * 4, condition) == "far above"
        assert judge_torque(thread, strength, usual * 0.1, condition) == "far below"


def test_without_a_torque_the_words_still_defer_to_the_manual() -> None:
    assert "never replaces the manual" in screw_report("M6", "8.8").tell()[-1]


def test_a_force_is_told_in_three_digits() -> None:
    assert tell_force(21_974) == "22 kN (4940 lbf)"
    assert tell_force(500) == "0.5 kN (112 lbf)"


# --- bad input ------------------------------------------------------------------------------------

NO_FIGURES = [math.nan, math.inf, -math.inf, 0.0, -1.0]


@pytest.mark.parametrize("bad", NO_FIGURES)
def test_figures_that_are_none_get_a_sentence(bad: float) -> None:
    strength, dry = strong(M6), find_condition("dry")
    calls = [
        lambda: preload.torque_by_nut_factor(M6, bad, 1000),
        lambda: preload.torque_by_nut_factor(M6, 0.2, bad),
        lambda: preload.force_by_nut_factor(M6, 0.2, bad),
        lambda: preload.torque_long_form(M6, bad, 0.12),
        lambda: preload.torque_long_form(M6, 1000, bad),
        lambda: preload.torque_long_form(M6, 1000, 0.12, bad),
        lambda: preload.friction_from_test(M6, 10, bad),
        lambda: preload.find_tightening(M6, strength, bad),
        lambda: preload.find_tightening(M6, strength, 0.12, use=bad),
        lambda: preload.torque_for_share(M6, strength, bad, 0.2),
        lambda: preload.find_clamp_band(M6, strength, bad, dry),
        lambda: joint.estimate_stiffness(M6, bad),
        lambda: joint.estimate_stiffness(M6, 10, bad),
        lambda: joint.force_per_degree(M6, bad),
        lambda: joint.estimate_stripping(M6, strength, bad, 200),
        lambda: joint.estimate_stripping(M6, strength, 10, bad),
        lambda: screw_report("M6", "8.8", friction=bad),
    ]
    for call in calls:
        with pytest.raises(UnitTrouble) as trouble:
            call()
        assert trouble.value.what.endswith(".")
        assert trouble.value.next.endswith(".")


def test_a_deviation_that_no_wrench_has_gets_a_sentence() -> None:
    for bad in (math.nan, -0.01, 4.0):
        with pytest.raises(UnitTrouble, match="is not the deviation of a wrench"):
            preload.find_clamp_band(M6, strong(M6), 10, find_condition("dry"), bad)


def test_a_report_refuses_what_is_no_torque() -> None:
    with pytest.raises(UnitTrouble, match="is not a torque"):
        screw_report("M6", "8.8", torque=units.read("9 mm", units.Kind.LENGTH))
    with pytest.raises(UnitTrouble, match=r"0\.0 is not a torque"):
        screw_report("M6", "8.8", torque=nm("0 N·m"))
