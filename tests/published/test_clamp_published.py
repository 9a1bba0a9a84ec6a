"""The clamp model against closed forms, and its trends against what the trade says of order.

"Computed": evaluated from the formula beside it. "From memory": the formula's source was not seen.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from shopguide.bolts.clamp import Forecast, Joint, Trip, find_influence, forecast
from shopguide.bolts.order import star_row
from shopguide.bolts.rim import join_beams

BENDING, TORSION = 3.58e7, 2.0e7
"""E·I and G·J of the closed forms, N·mm²."""
GASKET, PULL = 20.0, 1000.0
"""N/mm² and N."""


def press_straight(length_mm: float, count: int) -> np.ndarray:
    """Ways down of a straight beam closed on itself, pressed at its first node."""
    h = length_mm / count
    resists = join_beams([h] * count, [0.0] * count, BENDING, TORSION)
    push = np.zeros(count)
    push[0] = PULL
    return np.linalg.solve(resists + np.eye(count) * GASKET * h, push)


def press_ring(radius_mm: float, count: int = 360) -> np.ndarray:
    """Ways down of a ring of many short beams, pressed at its first node."""
    turns = [math.tau * (k + 0.5) / count + math.pi / 2 for k in range(count)]
    h = 2 * radius_mm * math.sin(math.pi / count)
    resists = join_beams([h] * count, turns, BENDING, TORSION)
    push = np.zeros(count)
    push[0] = PULL
    return np.linalg.solve(resists + np.eye(count) * GASKET * h, push)


BETA = (GASKET / (4 * BENDING)) ** 0.25


def test_infinite_beam_on_an_elastic_bed() -> None:
    # From memory: Hetényi, Beams on Elastic Foundation: β = (k/4EI)^¼, w0 = Pβ/2k,
    # zero at 3π/4β, w(π/β) = -0.0432139 w0 (computed: -e^-π).
    assert pytest.approx(0.019331, rel=1e-4) == BETA
    length = 16 * math.pi / BETA  # so long that its ends do not feel each other
    w = press_straight(length, 640)
    w0 = PULL * BETA / (2 * GASKET)
    per_node = length / 640
    at = np.arange(641) * per_node
    ways = np.append(w, w[0])
    assert w[0] == pytest.approx(w0, rel=1e-3)
    assert np.interp(math.pi / BETA, at, ways) == pytest.approx(-0.0432139 * w0, rel=5e-3)
    assert abs(np.interp(3 * math.pi / (4 * BETA), at, ways)) < 1e-3 * w0


def test_infinite_beam_moment_under_the_load() -> None:
    # From memory: Hetényi: M0 = P/4β. The moment is EI times the curvature, here by differences.
    length, count = 8 * math.pi / BETA, 800
    w = press_straight(length, count)
    h = length / count
    beside = BENDING * (w[0] - 2 * w[1] + w[2]) / h**2
    further = BENDING * (w[1] - 2 * w[2] + w[3]) / h**2
    under = 2 * beside - further  # one node back, to the load itself
    assert -under == pytest.approx(PULL / (4 * BETA), rel=5e-3)


@pytest.mark.parametrize(("length_mm", "printed"), [(2449.0, 0.483294), (183.67, 0.447905)])
def test_closed_straight_beam(length_mm: float, printed: float) -> None:
    # Computed, sum of images: w0 = (Pβ/2k)(sinh βL + sin βL)/(cosh βL - cos βL).
    u = BETA * length_mm
    formula = (PULL * BETA / (2 * GASKET)) * (math.sinh(u) + math.sin(u))
    formula /= math.cosh(u) - math.cos(u)
    # The shorter length is printed rounded, and so is the figure that was computed from it.
    assert formula == pytest.approx(printed, rel=2e-5)
    assert press_straight(length_mm, 400)[0] == pytest.approx(printed, rel=1e-3)


def test_a_stiff_straight_beam_sinks_as_a_whole() -> None:
    # Computed, the limit of the same form: P/kL.
    h = 1.0
    resists = join_beams([h] * 20, [0.0] * 20, 1e9, 1e9)
    push = np.zeros(20)
    push[0] = PULL
    w = np.linalg.solve(resists + np.eye(20) * GASKET * h, push)
    assert w == pytest.approx(PULL / (GASKET * 20.0), rel=1e-3)


RING = [
    (150, 0, 0.50688),
    (150, 30, 0.10477),
    (150, 90, -0.00444),
    (75, 0, 0.55978),
    (75, 30, 0.34956),
    (75, 90, -0.03630),
    (75, 180, 0.01048),
    (40, 0, 0.68667),
    (40, 30, 0.57774),
    (40, 90, 0.12695),
    (40, 180, -0.13286),
]


@pytest.mark.parametrize(("radius_mm", "angle_deg", "printed"), RING)
def test_ring_with_bending_and_torsion(radius_mm: float, angle_deg: int, printed: float) -> None:
    # Computed: w(θ) = P/(2πR) [1/k + 2 Σ cos nθ / K_n],
    # K_n = k + (EI/R⁴) n²(n²-1)²/(n² + EI/GJ).
    total = 1 / GASKET
    for n in range(1, 3000):
        spring = GASKET + BENDING / radius_mm**4 * n * n * (n * n - 1) ** 2 / (
            n * n + BENDING / TORSION
        )
        total += 2 * math.cos(n * math.radians(angle_deg)) / spring
    rounding = 0.6e-5
    assert PULL / (math.tau * radius_mm) * total == pytest.approx(printed, abs=rounding)
    found = press_ring(radius_mm)[angle_deg]
    assert found == pytest.approx(printed, rel=1e-3, abs=rounding)


def ring_joint(count: int, radius_mm: float, *, stiff: float = 1.0, screw: float = 5e4) -> Joint:
    points = tuple(
        (radius_mm * math.cos(math.tau * k / count), radius_mm * math.sin(math.tau * k / count))
        for k in range(count)
    )
    modulus = 70_000.0
    return Joint(
        points,
        modulus,
        stiff * BENDING / modulus,
        stiff * TORSION * 2.6 / modulus,
        GASKET,
        screw,
        PULL,
    )


def test_rigid_ring_influence() -> None:
    # Computed: G_ij = (1 + 2 cos Δ)/(k L): self 3, 90° 1, 120° 0, opposite -1. The ring of this
    # model runs straight between its 96 screws, which hardly shortens it.
    joint = ring_joint(96, 150, stiff=1e5)
    length = 96 * 2 * 150 * math.sin(math.pi / 96)
    by_angle = find_influence(joint)[0] * GASKET * length
    for place, wanted in ((0, 3.0), (24, 1.0), (32, 0.0), (48, -1.0)):
        assert by_angle[place] == pytest.approx(wanted, abs=6e-3)


def test_opposite_screw_of_a_rigid_ring_gains_a_third() -> None:
    # Computed: ΔF_i = -ΔF_j (1 + 2 cos Δ)/(3 + kL/k_b); for stiff screws the opposite one gains
    # one third, and one at 120° nothing.
    joint = ring_joint(96, 150, stiff=1e5, screw=1e9)
    give = 1 / joint.screw_n_per_mm
    influence = find_influence(joint)
    # Screws 0 and 48 alone, then 0 and 32: the second is tightened by 1, the first follows.
    for other, gain in ((48, 1 / 3), (32, 0.0), (24, -1 / 3)):
        got = -influence[0, other] / (influence[0, 0] + give)
        assert got == pytest.approx(gain, abs=3e-3)


def test_second_screw_takes_from_the_first() -> None:
    # Computed from F = (I/k_b + G)⁻¹ δ: tighten 0, then its neighbour: F0 = T[1 - G01/(1/k_b +
    # G00)] = 982.8318 on an octagon of R 150. That figure is one mesh's; finer ones tend to 982.68.
    joint = ring_joint(8, 150)
    influence = find_influence(joint)
    assert influence == pytest.approx(influence.T, rel=1e-9)
    by_formula = PULL * (1 - influence[0, 1] / (1 / joint.screw_n_per_mm + influence[0, 0]))
    assert by_formula == pytest.approx(982.8318, rel=2e-4)


def test_matrix_form_and_simulation_agree() -> None:
    # Computed: with the screws' δ as the unknowns, in the same linear joint with all screws held.
    joint = ring_joint(8, 150)
    found = forecast(joint, [Trip((0, 1))], gasket="linear")
    held = np.linalg.inv(np.eye(8) / joint.screw_n_per_mm + find_influence(joint))
    hand = np.full(8, 0.01)
    first = hand + held[:, 0] * (1 - hand[0]) / held[0, 0]
    second = first + held[:, 1] * (1 - first[1]) / held[1, 1]
    assert found.loads[-1] == pytest.approx(second, rel=1e-9)


PASSES = (0.3, 0.7, 1.0)


def test_loosening_changes_nothing_on_a_linear_gasket() -> None:
    # Computed identity: tighten, loosen all, the same passes = the same passes once.
    joint = ring_joint(12, 150)
    order = star(12)
    tighten = [Trip(order, share=s) for s in PASSES]
    once = forecast(joint, tighten, gasket="linear")
    again = forecast(joint, [*tighten, Trip(order[::-1], "loosen"), *tighten], gasket="linear")
    assert again.loads[-1] == pytest.approx(once.loads[-1], rel=1e-9)
    assert once.scatter_cov > 0.01  # else the identity would say nothing


@pytest.mark.parametrize("gasket", ["linear", "one-way"])
def test_all_loads_scale_with_the_target(gasket: str) -> None:
    # Computed: nothing in either law has a load of its own.
    one = ring_joint(12, 150)
    ten = Joint(*(getattr(one, k) for k in ("points", "modulus_mpa", "bending_mm4", "torsion_mm4",
                "gasket_n_per_mm2", "screw_n_per_mm")), 10 * PULL)  # fmt: skip
    trips = [Trip(star(12), share=s) for s in PASSES]
    assert forecast(ten, trips, gasket=gasket).loads == pytest.approx(
        forecast(one, trips, gasket=gasket).loads, rel=1e-7
    )


# --- trends: of an elastic model with plausible figures; only their direction is checked ---------


def star(count: int) -> tuple[int, ...]:
    row = star_row(count)
    return tuple(k - min(row) for k in row)


def around(count: int) -> tuple[int, ...]:
    return tuple(range(count))


def cover(count: int, gasket: float) -> Joint:
    """A round light-alloy cover with M6 screws every 65 mm; figures assumed."""
    radius = 65 * count / math.tau
    points = tuple(
        (radius * math.cos(math.tau * k / count), radius * math.sin(math.tau * k / count))
        for k in range(count)
    )
    return Joint(points, 70_000, 512, 1150, gasket, 130_000, 8_000)


COVERS = [(12, 18.0), (12, 60.0), (16, 200.0)]


@pytest.fixture(scope="module", params=COVERS, ids=lambda one: f"{one[0]} screws, {one[1]:g} N/mm²")
def runs(request: pytest.FixtureRequest) -> dict[str, Forecast]:
    count, gasket = request.param
    joint, star_way, ring_way = cover(count, gasket), star(count), around(count)
    staged = [Trip(star_way, share=s) for s in PASSES]
    once = Trip(ring_way)
    sets = {
        "once around": [once],
        "once star": [Trip(star_way)],
        "twice star": [Trip(star_way)] * 2,
        "three times star": [Trip(star_way)] * 3,
        "staged star": staged,
        "staged around": [Trip(ring_way, share=s) for s in PASSES],
        "and one around": [*staged, once],
        "and two around": [*staged, once, once],
        "loosened, again": [*staged, Trip(star_way[::-1], "loosen"), *staged],
        "settled": [*staged, once, once, Trip((), "settle")],
        "settled, retorqued": [*staged, once, once, Trip((), "settle"), once],
        "settled, loosened, again": [
            *staged, once, once, Trip((), "settle"), Trip(ring_way[::-1], "loosen"),
            *staged, once, once,
        ],
    }  # fmt: skip
    return {name: forecast(joint, trips) for name, trips in sets.items()}


def test_one_star_pass_leaves_more_scatter_than_going_around(runs: dict[str, Forecast]) -> None:
    assert runs["once star"].scatter_cov > 1.2 * runs["once around"].scatter_cov


def test_passes_even_out(runs: dict[str, Forecast]) -> None:
    falling = [runs[k].scatter_cov for k in ("once star", "twice star", "three times star")]
    assert falling[0] > 1.5 * falling[1] > 1.5 * 1.5 * falling[2]
    more = [runs[k].scatter_cov for k in ("staged star", "and one around", "and two around")]
    assert more[0] > 1.5 * more[1] > 1.5 * 1.5 * more[2]


def test_star_and_stages_cut_the_tilt(runs: dict[str, Forecast]) -> None:
    assert runs["staged star"].worst_tilt < 0.5 * runs["staged around"].worst_tilt
    assert runs["staged star"].worst_tilt < 0.5 * runs["once star"].worst_tilt


def test_two_passes_around_beat_loosening(runs: dict[str, Forecast]) -> None:
    assert runs["and two around"].scatter_cov < 0.6 * runs["loosened, again"].scatter_cov
    assert runs["and two around"].min_share > runs["loosened, again"].min_share


def test_one_retorque_recovers_what_settling_took(runs: dict[str, Forecast]) -> None:
    settled, again = (runs[k].loads[-1].mean() for k in ("settled", "settled, retorqued"))
    before = runs["and two around"].loads[-1].mean()
    assert settled < before - 0.03
    assert again > settled + 0.5 * (before - settled)
    # Loosening first adds a few points at most.
    assert runs["settled, loosened, again"].loads[-1].mean() < again + 0.06


def test_without_hand_load_one_screw_ends_far_above_its_target() -> None:
    # An artefact of a part that nothing holds but the first screw; a hand load of 1 % of all
    # screws takes it away.
    joint = cover(12, 60.0)
    trips = [Trip(star(12))]
    assert forecast(joint, trips).loads.max() < 1.2
    assert forecast(joint, trips, by_hand=False).loads.max() > 2


def test_friction_sets_a_floor_that_no_pass_lowers() -> None:
    # A screw keeps its K, so its wrench clicks at the same wrong load each time.
    joint, way = cover(12, 60.0), around(12)
    scatter = [
        forecast(joint, [Trip(way)] * trips, scatter=0.10).scatter_cov for trips in (3, 6, 10)
    ]
    assert scatter == pytest.approx([0.10] * 3, abs=0.025)
