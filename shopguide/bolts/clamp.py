"""The clamp forecast: how each screw of a joint takes load from the others as it is tightened.

The part's rim is a closed beam on a gasket, the screws are springs, and a click wrench turns a
screw only while it is below its target. Left out: bending of the part's plate and of the screws,
give of the housing, heat. The stiffness of a gasket is rarely known; see joints.py for what is
assumed. Forces N, lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from shopguide.bolts.gasket import LinearGasket, OneWayGasket
from shopguide.bolts.outline import signed_area
from shopguide.bolts.pattern import MOST_FASTENERS
from shopguide.bolts.rim import XY, Rim, mesh_rim
from shopguide.errors import Trouble
from shopguide.torque.friction import Condition

Law = Literal["linear", "one-way"]
Deed = Literal["tighten", "loosen", "settle", "check"]
Tell = Callable[[str, int, int], None]
Cancelled = Callable[[], bool]

HAND = 0.01
"""Load of every screw by hand before the first is tightened, by its target; assumed. Without it
the first screw tips a part that nothing else holds, and one screw ends far above its target."""
ENOUGH = 0.95
"""A screw at this share of its target is taken not to move when it is checked."""
MOST_TRIPS = 12
EMBEDDING_MM = 0.008
"""By how much the faces of one screw bed in; assumed, after VDI 2230 Table 5, from memory."""
RELAXES = 0.08
"""Share of its load that a gasket loses on standing; assumed."""
NODES = 120
"""Nodes of the rim, about; never fewer than two elements from screw to screw."""
MOST_SCATTER = 0.5
NEAR = 1e-8
"""A step shorter than this, by the stretch of a screw at its target, is none."""
PATIENT_TURNS = 12
MOST_TURNS = 200
"""Turns of Newton's method; a handful is usual, and after some more each is solved afresh."""


@dataclass(frozen=True, slots=True)
class Joint:
    """One line of screws round a rim. points: the screws, mm, in sequence along the rim.

    modulus_mpa: of the part.  bending_mm4, torsion_mm4: the rim's second moment of area about the
    axis in the plane of the joint, and its torsion constant.  gasket_n_per_mm2: force by length of
    rim and by mm pressed.  screw_n_per_mm: one screw.  target_n: load wanted in each.
    """

    points: tuple[XY, ...]
    modulus_mpa: float
    bending_mm4: float
    torsion_mm4: float
    gasket_n_per_mm2: float
    screw_n_per_mm: float
    target_n: float
    poisson: float = 0.3

    @property
    def bending_n_mm2(self) -> float:
        """E·I."""
        return self.modulus_mpa * self.bending_mm4

    @property
    def torsion_n_mm2(self) -> float:
        """G·J."""
        return self.modulus_mpa / (2 * (1 + self.poisson)) * self.torsion_mm4

    def check(self) -> None:
        """Raises Trouble where there is no such joint."""
        for name, figure in (
            ("The modulus", self.modulus_mpa),
            ("The rim's bending figure", self.bending_mm4),
            ("The rim's torsion figure", self.torsion_mm4),
            ("The gasket's stiffness", self.gasket_n_per_mm2),
            ("The screws' stiffness", self.screw_n_per_mm),
            ("The target", self.target_n),
        ):
            if not 0 < figure < math.inf:
                raise Trouble(
                    f"{name} is {figure}; that is no joint.", next="Give a figure above zero."
                )
        check_points(self.points)


def check_points(points: Sequence[XY]) -> None:
    """Raises Trouble where the points are no line of screws round a rim."""
    count = len(points)
    if count < 3:
        raise Trouble(
            f"{'One screw has' if count == 1 else f'{count} screws have'} no rim between them: "
            "there is nothing to forecast.",
            next="The forecast is for three screws or more round an edge.",
        )
    if count > MOST_FASTENERS:
        raise Trouble(
            f"{count} screws are too many.", next=f"At most {MOST_FASTENERS} are possible."
        )
    if not all(math.isfinite(v) for point in points for v in point):
        raise Trouble("A position is not a number.", next="Put right x_mm and y_mm of it.")
    size = max(math.dist(points[0], p) for p in points)
    for k, one in enumerate(points):
        for j in range(k + 1, count):
            if math.dist(one, points[j]) <= 1e-6 * size:
                raise Trouble(
                    f"Screws {k + 1} and {j + 1} of the rim sit in the same place.",
                    next="Put right the position of one of them.",
                )
    if abs(signed_area(points)) <= 1e-4 * size * size:
        raise Trouble(
            "The screws stand on one line, so that no rim goes round between them.",
            next="The forecast is for screws round an edge.",
        )


@dataclass(frozen=True, slots=True)
class Trip:
    """One trip through the screws. fasteners: indices into the joint's points, in order.

    tighten: each to `share` of its target, if it is below.  loosen: each until loose, and at the
    end all to hand load again.  settle: the joint stands, faces bed in and the gasket relaxes.
    check: trips at the target until one in which no screw was below 95 % of it, at most 12.
    """

    fasteners: tuple[int, ...]
    deed: Deed = "tighten"
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Step:
    """One screw of one trip. trip: index into the trips asked for; round: trip of a check, from 1.

    fastener: index, -1 where the whole joint changed.  turned: False where it was up to its target
    already.  tightens: False while screws are loosened.
    """

    trip: int
    fastener: int
    turned: bool
    round: int = 1
    tightens: bool = True


@dataclass(frozen=True, eq=False)
class Forecast:
    """What a sequence of trips leads to.

    loads: one row before the first step and one after each; screws across; share of the target.
    tilts_mm: for each row, how far the rim stands off level at its worst; pressed_mm: how far it
    is pressed in under the screws, on average.  ends: the row at which each trip asked for was
    over.  trips: how many were made, those of a check counted.
    """

    loads: np.ndarray
    steps: tuple[Step, ...]
    tilts_mm: np.ndarray
    pressed_mm: np.ndarray
    ends: tuple[int, ...]
    trips: int

    def min_share_at(self, row: int) -> float:
        """The least loaded screw, share of the target."""
        return float(self.loads[row].min())

    def scatter_at(self, row: int) -> float:
        """Standard deviation of the loads by their mean."""
        loads = self.loads[row]
        mean = float(loads.mean())
        return float(loads.std() / mean) if mean > 0 else math.inf

    @property
    def min_share(self) -> float:
        """The least loaded screw at the end, share of the target."""
        return self.min_share_at(-1)

    @property
    def scatter_cov(self) -> float:
        """Standard deviation of the loads at the end, by their mean."""
        return self.scatter_at(-1)

    def worst_tilt_to(self, row: int) -> float:
        """The worst tilt up to a row, by how far the rim is pressed in then.

        Only while screws were tightened, not while they were loosened.
        """
        tight = [0, *(k for k, step in enumerate(self.steps, 1) if step.tightens)]
        worst = float(max(self.tilts_mm[k] for k in tight if k <= row))
        pressed = float(self.pressed_mm[row])
        return worst / pressed if pressed > 0 else math.inf

    @property
    def worst_tilt(self) -> float:
        """`worst_tilt_to` the end."""
        return self.worst_tilt_to(len(self.loads) - 1)


class Clamping:
    """A joint in the course of being tightened."""

    def __init__(
        self,
        joint: Joint,
        gasket: Law = "one-way",
        pulls: Sequence[float] | None = None,
        by_hand: bool = True,
    ) -> None:
        """pulls: for each screw the load at which its wrench clicks, by the target.

        by_hand: all screws are run up by hand first; else each is put in when its turn comes.
        """
        joint.check()
        count = len(joint.points)
        self.joint = joint
        self.rim, factored, gives = _factor(joint, NODES)
        self._seats = np.array(self.rim.seats)
        springs = joint.gasket_n_per_mm2 * self.rim.share_mm
        self._one_way = gasket == "one-way"
        self._gasket = OneWayGasket(springs) if self._one_way else LinearGasket(springs)
        self._screw = joint.screw_n_per_mm
        self._clicks = joint.target_n * np.asarray(pulls if pulls is not None else [1.0] * count)
        nodes = len(springs)
        # A screw is held (its head has come down by `_drawn`) or pulls with a given force.
        self._drawn = np.zeros(count)
        self._held = np.zeros(count, dtype=bool)
        self._hand = HAND * joint.target_n if by_hand else 0.0
        self._force = np.zeros(count)
        self.pressed = np.zeros(nodes)
        self._factored, self._gives = factored, gives
        self._level = self._level_of()
        self.hand_tighten()

    # --- deeds ----------------------------------------------------------------------------

    def loads(self) -> np.ndarray:
        """The load of each screw, N."""
        held = self._screw * (self._drawn - self.pressed[self._seats])
        if self._one_way:
            held = np.maximum(0.0, held)
        return np.where(self._held, held, self._force)

    def tighten(self, index: int, share: float = 1.0) -> bool:
        """Turns a screw to a share of its target; False where the wrench clicks at once.

        A screw whose wrench clicks differs by its friction: `pulls`.
        """
        wanted = share * float(self._clicks[index])
        if float(self.loads()[index]) >= wanted * (1 - 1e-12):
            return False
        self._pull(index, wanted)
        self._hold(index)
        return True

    def click_at(self, index: int) -> float:
        """The load at which the wrench clicks on this screw, by the target."""
        return float(self._clicks[index]) / self.joint.target_n

    def loosen(self, index: int) -> None:
        """Backs a screw off; it keeps the load of a hand."""
        self._pull(index, self._hand)

    def settle(self, embedding_mm: float = EMBEDDING_MM, relaxes: float = RELAXES) -> None:
        """The joint stands: the faces bed in, the gasket relaxes."""
        self._drawn = self._drawn - embedding_mm * self._held
        self._gasket.relax(self.pressed, relaxes)
        self._balance()

    def tilt(self) -> float:
        """How far the rim's best plane stands off level at its worst, mm."""
        slopes = self._level @ self.pressed
        return float(np.abs(self._arms @ slopes).max())

    def mean_pressed(self) -> float:
        """How far the rim is pressed in under the screws, on average, mm."""
        return float(self.pressed[self._seats].mean())

    # --- balance --------------------------------------------------------------------------

    def hand_tighten(self) -> None:
        """Runs all screws up by hand at once: at the start, and after all were loosened."""
        self._held[:] = False
        self._force[:] = self._hand
        self._balance()
        if self._hand:
            for index in range(len(self._held)):
                self._hold(index)

    def _pull(self, index: int, force: float) -> None:
        self._held[index] = False
        self._force[index] = force
        self._balance()

    def _hold(self, index: int) -> None:
        self._drawn[index] = self._force[index] / self._screw + self.pressed[self._seats[index]]
        self._held[index] = True

    def _piece(self, pressed: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """What resists at each node as stiffness · pressed - push, where it stands now."""
        stiffness, constant = self._gasket.piece(pressed)
        stiffness, push = stiffness.copy(), -constant
        seats = self._seats
        grips = self._held
        if self._one_way:
            grips = grips & (self._drawn > pressed[seats])
        stiffness[seats] += self._screw * grips
        push[seats] += np.where(self._held, self._screw * self._drawn * grips, self._force)
        return stiffness, push

    def _balance(self) -> None:
        """Finds where the rim comes to rest: Newton's method on straight pieces.

        Everything that resists does so the more the further it is pressed, so there is one place
        of rest and a step towards it, cut where it goes too far, always comes closer.
        """
        pressed = self.pressed
        stiffness, push = self._piece(pressed)
        scale = self.joint.target_n / self._screw
        for turn in range(MOST_TURNS):
            there = whole = self._solve(stiffness, push, afresh=turn > PATIENT_TURNS)
            if turn > 3:
                there = self._cut_step(pressed, whole)
            new_stiffness, new_push = self._piece(there)
            same = np.array_equal(new_stiffness, stiffness) and np.array_equal(new_push, push)
            near = float(np.abs(whole - pressed).max()) <= NEAR * scale
            pressed, stiffness, push = there, new_stiffness, new_push
            # At the end of a step that was cut short nothing is at rest, same piece or not.
            if near or (same and there is whole):
                break
        else:
            raise Trouble(
                "The forecast found no rest for this joint.", next="Try it with another gasket."
            )
        self.pressed = pressed
        self._gasket.keep(pressed)
        if np.count_nonzero(stiffness != self._factored) > len(pressed) // 8:
            self._gives = self._gives - self._correct(stiffness, self._gives)
            self._factored = stiffness.copy()

    def _solve(self, stiffness: np.ndarray, push: np.ndarray, afresh: bool = False) -> np.ndarray:
        """(resists + stiffness)⁻¹ · push, from the factored matrix and what differs from it.

        afresh: without the factored one, where its rounding may be what keeps rest from being
        found (a part that hardly touches anything).
        """
        if afresh:
            return np.linalg.solve(self.rim.resists + np.diag(stiffness), push)
        rest = _times(self._gives, push)
        return rest - self._correct(stiffness, rest[:, None])[:, 0]

    def _correct(self, stiffness: np.ndarray, columns: np.ndarray) -> np.ndarray:
        """What to take from columns (of `_gives` times something) for another stiffness.

        Woodbury's formula: only the nodes that differ from what was factored are solved for.
        """
        where = np.flatnonzero(stiffness != self._factored)
        by = stiffness[where] - self._factored[where]
        inner = self._gives[np.ix_(where, where)] + np.diag(1.0 / by)
        return _times(self._gives[:, where], _solve_few(inner, columns[where]))

    def _cut_step(self, start: np.ndarray, end: np.ndarray) -> np.ndarray:
        """The best place on the way from start to end, where the whole step went too far."""
        way = end - start
        at_start, by_way = _times(self.rim.resists, start), _times(self.rim.resists, way)

        def climbs(t: float) -> float:
            there = start + t * way
            stiffness, push = self._piece(there)
            return float(way @ (at_start + t * by_way + stiffness * there - push))

        if climbs(1.0) <= 0:
            return end
        low, high = 0.0, 1.0
        for _ in range(50):
            middle = (low + high) / 2
            low, high = (middle, high) if climbs(middle) <= 0 else (low, middle)
        return start + high * way

    def _level_of(self) -> np.ndarray:
        """Takes the ways down of all nodes to the two slopes of their best plane."""
        weight = self.rim.share_mm / self.rim.share_mm.sum()
        self._arms = self.rim.xy - weight @ self.rim.xy
        table = np.column_stack([np.ones(len(weight)), self._arms])
        weighted = table.T * weight
        return np.linalg.solve(weighted @ table, weighted)[1:]


def forecast(
    joint: Joint,
    trips: Sequence[Trip],
    *,
    gasket: Law = "one-way",
    scatter: float | Condition = 0.0,
    seed: int = 1,
    by_hand: bool = True,
    cancelled: Cancelled | None = None,
    tell: Tell | None = None,
    enough: Callable[[int, np.ndarray], bool] | None = None,
) -> Forecast:
    """What the screws are loaded with after each step of the trips.

    scatter: friction from screw to screw, as a standard deviation of K by its mean, or a condition
    whose band of K is spread over the screws; a screw keeps its K.  seed: which screw has which.
    by_hand: all screws are run up by hand before the first is tightened.
    enough: asked after each trip with its index and the loads by the target; True ends it all.

    Raises Trouble for a joint that is none, for a trip that names no screw of it, and when
    `cancelled` says so.
    """
    clamping = Clamping(joint, gasket, draw_pulls(scatter, len(joint.points), seed), by_hand)
    _check_trips(trips, len(joint.points))
    target = joint.target_n
    loads, tilts, pressed = [clamping.loads() / target], [clamping.tilt()], [0.0]
    steps: list[Step] = []
    ends: list[int] = []
    made = 0

    def note(trip: int, fastener: int, turned: bool, round_number: int = 1) -> None:
        loads.append(clamping.loads() / target)
        tilts.append(clamping.tilt())
        pressed.append(clamping.mean_pressed())
        steps.append(Step(trip, fastener, turned, round_number, trips[trip].deed != "loosen"))

    for number, trip in enumerate(trips):
        if tell is not None:
            tell("trip", number + 1, len(trips))
        if trip.deed == "settle":
            clamping.settle()
            note(number, -1, False)
        for round_number in range(1, (MOST_TRIPS if trip.deed == "check" else 1) + 1):
            if trip.deed == "settle":
                break
            moved = False
            made += 1
            for fastener in trip.fasteners:
                if cancelled is not None and cancelled():
                    raise Trouble("The forecast was stopped.", next="Ask for it again.")
                if trip.deed == "loosen":
                    clamping.loosen(fastener)
                    note(number, fastener, True)
                    continue
                moved = moved or loads[-1][fastener] < ENOUGH * clamping.click_at(fastener)
                note(number, fastener, clamping.tighten(fastener, trip.share), round_number)
            if not moved:
                break
        if trip.deed == "loosen" and len(set(trip.fasteners)) == len(joint.points):
            clamping.hand_tighten()
            note(number, -1, True)
        ends.append(len(loads) - 1)
        if enough is not None and enough(number, loads[-1]):
            break
    return Forecast(
        np.array(loads), tuple(steps), np.array(tilts), np.array(pressed), tuple(ends), made
    )


@lru_cache(maxsize=4)
def _factor(joint: Joint, about: int) -> tuple[Rim, np.ndarray, np.ndarray]:
    """The rim, its bed with all screws held (N/mm at each node), and the inverse of the two.

    about: how many nodes. Kept, for one joint is tightened in several ways.
    """
    rim = mesh_rim(joint.points, joint.bending_n_mm2, joint.torsion_n_mm2, about)
    bed = joint.gasket_n_per_mm2 * rim.share_mm
    bed[list(rim.seats)] += joint.screw_n_per_mm
    return rim, bed, np.linalg.inv(rim.resists + np.diag(bed))


def draw_pulls(scatter: float | Condition, count: int, seed: int) -> list[float]:
    """For each screw the load at which its wrench clicks, by the target: usual K by its own K.

    The Ks are spread evenly over their distribution (normal, cut at three standard deviations; or
    a triangle over the band of a condition) and dealt out by the seed, so that few screws show as
    much scatter as many.
    """
    import random
    from statistics import NormalDist

    if isinstance(scatter, Condition):
        low, usual, high = scatter.k_low, scatter.k_usual, scatter.k_high

        def by_usual(p: float) -> float:
            peak = (usual - low) / (high - low)
            if p < peak:
                return (low + math.sqrt(p * (high - low) * (usual - low))) / usual
            return (high - math.sqrt((1 - p) * (high - low) * (high - usual))) / usual
    else:
        if not 0 <= scatter <= MOST_SCATTER:
            raise Trouble(
                f"{scatter} is not a scatter of friction.",
                next=f"Write a share from 0 to {MOST_SCATTER}.",
            )
        if scatter == 0:
            return [1.0] * count
        width = NormalDist()

        def by_usual(p: float) -> float:
            return max(0.1, 1 + scatter * max(-3.0, min(3.0, width.inv_cdf(p))))

    pulls = [1 / by_usual((k + 0.5) / count) for k in range(count)]
    random.Random(seed).shuffle(pulls)
    return pulls


def _solve_few(matrix: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """matrix⁻¹ · columns by elimination, in this thread like `_times`.

    Without pivoting: what was stiffened makes a positive block and what was softened a negative
    one, and such a matrix can be eliminated in any sequence.
    """
    whole = np.concatenate([matrix, columns], axis=1)
    for k in range(len(matrix)):
        whole[k] /= whole[k, k]
        factors = whole[:, k].copy()
        factors[k] = 0.0
        whole -= factors[:, None] * whole[k]
    return whole[:, len(matrix) :]


def _times(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Their product, in this thread: handing so little to others costs more than it saves."""
    return np.einsum("ik,k...->i...", left, right)


def find_influence(joint: Joint) -> np.ndarray:
    """G of a linear gasket, mm/N: how far the rim goes down at one screw by a pull at another."""
    clamping = Clamping(joint, "linear")
    gives = np.linalg.inv(
        clamping.rim.resists + np.diag(joint.gasket_n_per_mm2 * clamping.rim.share_mm)
    )
    seats = np.array(clamping.rim.seats)
    return gives[np.ix_(seats, seats)]


def _check_trips(trips: Sequence[Trip], count: int) -> None:
    if not trips:
        raise Trouble("No trip is given.", next="Give at least one.")
    for trip in trips:
        unknown = [k for k in trip.fasteners if not 0 <= k < count]
        if unknown:
            raise Trouble(
                f"A trip names screw {unknown[0] + 1}, and the joint has {count}.",
                next="Name the screws of the joint.",
            )
        if not 0 < trip.share <= 1.5:
            raise Trouble(
                f"{trip.share} is not a share of the target.", next="Write a share from 0 to 1."
            )
