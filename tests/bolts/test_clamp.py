"""The clamp model: what a wrench does to screws that share a rim, and what is refused."""

from __future__ import annotations

import math
import statistics
from dataclasses import replace

import numpy as np
import pytest

from shopguide.bolts.clamp import (
    HAND,
    Clamping,
    Joint,
    Trip,
    draw_pulls,
    find_influence,
    forecast,
)
from shopguide.bolts.gasket import LinearGasket, OneWayGasket
from shopguide.bolts.rim import mesh_rim
from shopguide.errors import Trouble
from shopguide.torque.friction import find_condition

AROUND = tuple(range(12))


def round_joint(count: int = 12, radius_mm: float = 124.0, gasket: float = 60.0) -> Joint:
    points = tuple(
        (radius_mm * math.cos(math.tau * k / count), radius_mm * math.sin(math.tau * k / count))
        for k in range(count)
    )
    return Joint(points, 70_000, 512, 1150, gasket, 130_000, 8_000)


JOINT = round_joint()


# --- rim and gasket -------------------------------------------------------------------------------


def test_a_rim_does_not_resist_sinking_or_tipping() -> None:
    rim = mesh_rim(JOINT.points, JOINT.bending_n_mm2, JOINT.torsion_n_mm2, 48)
    largest = np.abs(rim.resists).max()
    for way in (np.ones(48), rim.xy[:, 0] / 124, rim.xy[:, 1] / 124):
        assert np.abs(rim.resists @ way).max() < 1e-7 * largest
    bent = np.cos(2 * np.arctan2(rim.xy[:, 1], rim.xy[:, 0]))
    assert bent @ rim.resists @ bent > 0


def test_the_gasket_is_as_long_as_the_rim() -> None:
    points = ((0.0, 0.0), (90.0, 0.0), (90.0, 40.0), (0.0, 40.0))
    rim = mesh_rim(points, 1e7, 1e7, 26)
    assert rim.share_mm.sum() == pytest.approx(260.0)
    assert np.diff([*rim.seats, len(rim.xy)]).tolist() == [8, 4, 8, 4]
    assert [tuple(rim.xy[k]) for k in rim.seats] == list(points)


def test_finer_meshes_change_little(monkeypatch: pytest.MonkeyPatch) -> None:
    rough = find_influence(JOINT)
    monkeypatch.setattr("shopguide.bolts.clamp.NODES", 48)
    assert find_influence(JOINT) == pytest.approx(rough, rel=0.01, abs=0.004 * rough.max())


def force_of(gasket: LinearGasket | OneWayGasket, pressed: float) -> float:
    ways = np.array([pressed])
    stiffness, constant = gasket.piece(ways)
    return float((stiffness * ways + constant)[0])


def test_a_one_way_gasket_springs_back_steeply_and_never_pulls() -> None:
    gasket = OneWayGasket(np.array([10.0]))
    assert force_of(gasket, 1.0) == 10.0
    gasket.keep(np.array([1.0]))
    assert force_of(gasket, 0.95) == pytest.approx(10.0 - 80.0 * 0.05)
    # Lifted off, a trace of it is left for the reckoning: a hundred thousandth.
    assert force_of(gasket, 0.8) == pytest.approx(0.0, abs=1e-4)
    assert force_of(gasket, -5.0) == pytest.approx(0.0, abs=1e-3)
    assert force_of(gasket, 1.5) == pytest.approx(15.0)


def test_a_linear_gasket_keeps_no_memory() -> None:
    gasket = LinearGasket(np.array([10.0]))
    gasket.keep(np.array([1.0]))
    assert force_of(gasket, 0.5) == 5.0
    assert force_of(gasket, -0.5) == -5.0


@pytest.mark.parametrize("law", [LinearGasket, OneWayGasket])
def test_a_gasket_relaxes_at_the_same_thickness(law: type) -> None:
    gasket = law(np.array([10.0]))
    gasket.keep(np.array([1.0]))
    gasket.relax(np.array([1.0]), 0.08)
    assert force_of(gasket, 1.0) == pytest.approx(9.2)


# --- the wrench -----------------------------------------------------------------------------------


@pytest.mark.parametrize("gasket", ["linear", "one-way"])
def test_all_forces_balance(gasket: str) -> None:
    clamping = Clamping(JOINT, gasket)
    for k in (0, 6, 3, 9, 1):
        clamping.tighten(k)
    stiffness, constant = clamping._gasket.piece(clamping.pressed)
    pushed_back = stiffness * clamping.pressed + constant
    pulled = clamping.loads()
    assert pushed_back.sum() == pytest.approx(pulled.sum(), rel=1e-6)
    # Moments about both axes too.
    seats = clamping.rim.xy[list(clamping.rim.seats)]
    assert pushed_back @ clamping.rim.xy == pytest.approx(
        pulled @ seats, abs=1e-6 * pulled.sum() * 124
    )


def test_before_the_first_screw_every_one_has_hand_load() -> None:
    assert forecast(JOINT, [Trip((0,))]).loads[0] == pytest.approx([HAND] * 12)


def test_a_click_wrench_turns_only_a_screw_below_its_target() -> None:
    found = forecast(JOINT, [Trip((0,)), Trip((0,))])
    assert [step.turned for step in found.steps] == [True, False]
    assert found.loads[1][0] == pytest.approx(1.0)
    assert (found.loads[2] == found.loads[1]).all()


def test_a_neighbour_takes_load_away() -> None:
    found = forecast(JOINT, [Trip((0, 1))])
    assert found.loads[-1][0] < 0.95
    assert found.loads[-1][1] == pytest.approx(1.0)


def test_the_result_turns_with_the_joint() -> None:
    angle = 0.7
    turned = replace(
        JOINT,
        points=tuple(
            (x * math.cos(angle) - y * math.sin(angle), x * math.sin(angle) + y * math.cos(angle))
            for x, y in JOINT.points
        ),
    )
    trips = [Trip(AROUND)]
    assert forecast(turned, trips).loads[-1] == pytest.approx(
        forecast(JOINT, trips).loads[-1], rel=1e-6
    )


def test_loosened_screws_are_at_hand_load_again() -> None:
    found = forecast(JOINT, [Trip(AROUND), Trip(AROUND[::-1], "loosen")])
    assert found.loads[-1] == pytest.approx([HAND] * 12)
    assert not found.steps[-2].tightens


def test_a_check_goes_on_until_no_screw_turned() -> None:
    found = forecast(JOINT, [Trip(AROUND), Trip(AROUND, "check")])
    rounds = max(step.round for step in found.steps)
    assert 2 <= rounds <= 12
    assert found.trips == 1 + rounds
    last = [k for k, step in enumerate(found.steps) if step.round == rounds]
    assert all(found.loads[k][found.steps[k].fastener] >= 0.95 for k in last)
    assert found.min_share > 0.95


def test_a_check_stops_asking_at_twelve(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopguide.bolts.clamp.ENOUGH", 1.1)
    found = forecast(JOINT, [Trip(AROUND, "check")])
    assert max(step.round for step in found.steps) == 12


def test_an_end_before_the_trips_are_over() -> None:
    asked: list[int] = []

    def enough(trip: int, loads: np.ndarray) -> bool:
        asked.append(trip)
        return bool(loads.min() > 0.9)

    found = forecast(JOINT, [Trip(AROUND)] * 8, enough=enough)
    assert asked == list(range(len(found.ends)))
    assert len(found.ends) < 8
    assert found.min_share > 0.9


def test_the_worst_tilt_is_that_of_the_way_there() -> None:
    found = forecast(JOINT, [Trip(AROUND)])
    half = found.tilts_mm[6] / found.pressed_mm[-1]
    assert found.worst_tilt >= half > 0.2


# --- friction -------------------------------------------------------------------------------------


def test_friction_is_drawn_alike_from_the_same_seed() -> None:
    assert draw_pulls(0.1, 16, 3) == draw_pulls(0.1, 16, 3)
    assert draw_pulls(0.1, 16, 3) != draw_pulls(0.1, 16, 4)
    assert sorted(draw_pulls(0.1, 16, 3)) == sorted(draw_pulls(0.1, 16, 4))


def test_friction_has_the_scatter_asked_for() -> None:
    ks = [1 / pull for pull in draw_pulls(0.1, 200, 1)]
    assert statistics.mean(ks) == pytest.approx(1.0, abs=0.002)
    assert statistics.pstdev(ks) == pytest.approx(0.1, abs=0.003)


def test_friction_fills_the_band_of_a_condition_and_stays_in_it() -> None:
    oiled = find_condition("oiled")
    ks = [oiled.k_usual / pull for pull in draw_pulls(oiled, 300, 1)]
    assert oiled.k_low <= min(ks) < oiled.k_low * 1.1
    assert oiled.k_high >= max(ks) > oiled.k_high * 0.95
    # A triangle's mean is that of its three corners.
    mean = (oiled.k_low + oiled.k_usual + oiled.k_high) / 3
    assert statistics.mean(ks) == pytest.approx(mean, rel=0.01)


def test_a_screw_keeps_its_friction() -> None:
    found = forecast(JOINT, [Trip(AROUND)] * 6, scatter=0.1, seed=5)
    assert found.loads[-1] == pytest.approx(draw_pulls(0.1, 12, 5), rel=0.03)


# --- what is refused ------------------------------------------------------------------------------

BAD_POINTS = {
    "one": ((0.0, 0.0),),
    "two": ((0.0, 0.0), (50.0, 0.0)),
    "none": (),
    "in line": ((0.0, 0.0), (50.0, 0.0), (120.0, 0.0)),
    "same place": ((0.0, 0.0), (50.0, 0.0), (50.0, 40.0), (0.0, 0.0)),
    "not a number": ((0.0, 0.0), (math.nan, 0.0), (50.0, 40.0)),
    "without end": ((0.0, 0.0), (math.inf, 0.0), (50.0, 40.0)),
    "too many": tuple((float(k), float(k * k)) for k in range(600)),
}
SAID = {
    "one": "One screw has no rim",
    "two": "2 screws have no rim",
    "none": "0 screws have no rim",
    "in line": "on one line",
    "same place": "Screws 1 and 4 of the rim sit in the same place",
    "not a number": "not a number",
    "without end": "not a number",
    "too many": "600 screws are too many",
}


@pytest.mark.parametrize("name", BAD_POINTS)
def test_bad_positions_give_a_sentence(name: str) -> None:
    with pytest.raises(Trouble, match=SAID[name]) as caught:
        forecast(replace(JOINT, points=BAD_POINTS[name]), [Trip((0,))])
    assert caught.value.next


@pytest.mark.parametrize(
    "figure",
    ["modulus_mpa", "bending_mm4", "torsion_mm4", "gasket_n_per_mm2", "screw_n_per_mm", "target_n"],
)
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_bad_figures_give_a_sentence(figure: str, value: float) -> None:
    with pytest.raises(Trouble, match="that is no joint"):
        forecast(replace(JOINT, **{figure: value}), [Trip((0,))])


@pytest.mark.parametrize(
    ("trips", "said"),
    [
        ([], "No trip is given"),
        ([Trip((12,))], "names screw 13, and the joint has 12"),
        ([Trip((0,), share=0.0)], "not a share"),
        ([Trip((0,), share=math.nan)], "not a share"),
    ],
)
def test_bad_trips_give_a_sentence(trips: list[Trip], said: str) -> None:
    with pytest.raises(Trouble, match=said):
        forecast(JOINT, trips)


@pytest.mark.parametrize("scatter", [-0.1, 0.6, math.nan])
def test_bad_scatter_gives_a_sentence(scatter: float) -> None:
    with pytest.raises(Trouble, match="not a scatter of friction"):
        forecast(JOINT, [Trip(AROUND)], scatter=scatter)


def test_a_forecast_can_be_stopped() -> None:
    seen: list[int] = []

    def cancelled() -> bool:
        seen.append(1)
        return len(seen) > 5

    with pytest.raises(Trouble, match="was stopped"):
        forecast(JOINT, [Trip(AROUND)] * 3, cancelled=cancelled)
    assert len(seen) == 6


def test_a_forecast_tells_how_far_it_is() -> None:
    told: list[tuple[str, int, int]] = []
    forecast(JOINT, [Trip(AROUND)] * 2, tell=lambda *words: told.append(words))
    assert told == [("trip", 1, 2), ("trip", 2, 2)]


ODD = {
    # Three screws, two of them close together: loosening leaves a part that hardly touches.
    "two together": ((248.3, 163.3), (-116.4, -192.2), (-76.5, -220.3)),
    "pan corner": ((58.5, 52.6), (-45.4, 76.6), (-100.3, -5.8), (-101.8, -15.2), (93.9, -52.3)),
    "very close": ((36.2, 7.1), (35.9, 6.2), (17.3, 17.6), (1.3, -21.9), (31.9, -8.9)),
}


@pytest.mark.parametrize("name", ODD)
def test_odd_joints_come_to_rest_at_every_step(name: str) -> None:
    joint = replace(JOINT, points=ODD[name], gasket_n_per_mm2=1080.0)
    clamping = Clamping(joint)
    way = range(len(joint.points))

    def check() -> None:
        stiffness, constant = clamping._gasket.piece(clamping.pressed)
        pushed_back = stiffness * clamping.pressed + constant
        assert pushed_back.sum() == pytest.approx(clamping.loads().sum(), rel=1e-4)

    for k in way:
        clamping.tighten(k)
        check()
    for k in reversed(way):
        clamping.loosen(k)
        check()
    clamping.hand_tighten()
    for k in way:
        clamping.tighten(k)
        check()
