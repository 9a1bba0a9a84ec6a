"""How evenly a joint will end: the clamp forecast of a pattern in words and figures.

It says what the figures support and no more. Nothing here imports numpy until a forecast is made.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shopguide.bolts.joints import TypicalJoint, choose_joint
from shopguide.bolts.order import travel
from shopguide.bolts.outline import XY, walk_round
from shopguide.bolts.passes import MOST_TRIPS, Pass, ends_loose
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble, UnitTrouble
from shopguide.torque.friction import NOT_KNOWN, Condition, find_condition
from shopguide.torque.spec import Spec
from shopguide.torque.units import Kind

if TYPE_CHECKING:
    from shopguide.bolts.clamp import Forecast, Trip

EVEN = 0.95
"""From this share of its target on a screw counts as up to it."""
SNUG = 0.08
"""A snug pass without a torque, by the target; assumed."""
BEFORE_ANGLE = 0.5
"""The torque before an angle pass, by the load the angle ends at; assumed."""
TARGET_N = 8_000.0
"""All loads go with the target, so any will do where nothing settles; M6 at 10 N·m, about."""
MOST_INSIDE = 0.34
"""Share of the screws that may sit inside the rim and be left out."""
WORDS = ("No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten",
         "Eleven", "Twelve")  # fmt: skip
AFTER = "after "
"""How the words of standing between two passes begin."""
LEAVES_OUT = (
    "Left out: bending of plate and screws, give of the housing, heat, friction beyond its band."
)

Cancelled = Callable[[], bool]
Tell = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one way of tightening ends.

    least: load of the least loaded screw by its target; least_number: which.  scatter: standard
    deviation of the loads by their mean.  tilt: how far the part stood off level at its worst
    while it was tightened, by how far the gasket is pressed in under the screws at the
    end.
    """

    name: str
    least: float
    least_number: int
    scatter: float
    tilt: float

    def as_dict(self) -> dict[str, object]:
        """For printing as JSON."""
        return {
            "name": self.name,
            "least_share": round(self.least, 4),
            "least_fastener": self.least_number,
            "scatter": round(self.scatter, 4),
            "worst_tilt": round(self.tilt, 4),
        }


@dataclass(frozen=True, slots=True)
class Moment:
    """The joint after one step. loads: by the target, in the sequence of `Evenness.edge`.

    number: the fastener the wrench was on, 0 where none; turned: False where it clicked at once.
    trip: index into `Evenness.trips`; place: how many fasteners of that trip had their turn.
    """

    loads: tuple[float, ...]
    number: int
    turned: bool
    trip: int
    place: int

    @property
    def least(self) -> float:
        """The least loaded screw."""
        return min(self.loads)

    @property
    def scatter(self) -> float:
        """Standard deviation of the loads by their mean."""
        mean = sum(self.loads) / len(self.loads)
        wide = (sum((x - mean) ** 2 for x in self.loads) / len(self.loads)) ** 0.5
        return wide / mean if mean > 0 else 0.0


@dataclass(frozen=True, eq=False)
class Evenness:
    """The forecast for a pattern in its order and passes.

    edge: the fasteners it covers, in sequence along the rim, with their seats in mm.  left_out:
    those inside the rim.  trips: each trip in words; moments: from hand load to the end.
    further: how many more trips around bring every screw to 95 %; None for more than 12.
    friction: condition and scatter where the screws' friction is spread over its band.
    """

    pattern: Pattern
    order: tuple[int, ...]
    edge: tuple[int, ...]
    seats: tuple[XY, ...]
    left_out: tuple[int, ...]
    trips: tuple[str, ...]
    moments: tuple[Moment, ...]
    chosen: Outcome
    around: Outcome
    one_more: Outcome
    further: int | None
    condition: Condition
    friction: Outcome
    joint: TypicalJoint
    assumed: tuple[str, ...]

    @property
    def outcomes(self) -> tuple[Outcome, Outcome, Outcome]:
        """The chosen way and the two beside it."""
        return self.chosen, self.around, self.one_more

    def tell_verdict(self) -> str:
        """How it ends, in a sentence."""
        least = f"{tell_share(self.chosen.least)} of its target"
        if self.chosen.least >= EVEN:
            every = f"Every {self.pattern.fastener_word}"
            return f"{every} ends near its target, the least loaded at {least}."
        return f"The least loaded, {self.tell_name(self.chosen.least_number)}, ends at {least}."

    def tell_name(self, number: int) -> str:
        """What a screw is called beside a drawing whose numbers are places in the order."""
        place = self.order.index(number) + 1
        word = self.pattern.fastener_word
        return f"{word} {place}" if place == number else f"{word} {place} (no. {number})"

    def tell_further(self) -> str:
        """What more passes around would do, in a sentence."""
        every = f"every {self.pattern.fastener_word}"
        if self.further == 0:
            return f"No further pass is needed to have {every} at {tell_share(EVEN)}."
        if self.further is None:
            return (
                f"More than {MOST_TRIPS} further passes around would be needed to have "
                f"{every} at {tell_share(EVEN)}."
            )
        if self.further == 1:
            return f"One further pass around brings {every} to {tell_share(EVEN)}."
        return f"{WORDS[self.further]} further passes around bring {every} to {tell_share(EVEN)}."

    def tell_lesson(self) -> str:
        """What order and passes do here, as far as the figures bear it out."""
        told = []
        more_even = self.one_more.scatter < self.chosen.scatter
        cocks_less = self.chosen.tilt < 0.8 * self.around.tilt
        if more_even:
            told.append("Passes even out the load")
        if cocks_less:
            told.append("the order keeps the part from cocking" if told else
                        "The order keeps the part from cocking")  # fmt: skip
        if not told:
            return "Here neither the order nor another pass changes much."
        said = "; ".join(told) + "."
        if cocks_less and self.around.scatter < self.chosen.scatter:
            said += " The order by itself does not make the load even."
        return said

    def tell_tilt(self) -> str:
        """How far the part cocks, in a sentence."""
        return (
            f"While it is tightened the part stands off level by at most "
            f"{tell_spread(self.chosen.tilt)} of how far the gasket is pressed in under the "
            f"screws at the end; going around, {tell_spread(self.around.tilt)}."
        )

    def tell_friction(self) -> str:
        """What friction adds, in a sentence."""
        known = "" if self.condition is NOT_KNOWN else f", {self.condition.name}"
        return (
            f"With friction spread over its whole band (K {self.condition.k_low:.2f} to "
            f"{self.condition.k_high:.2f}{known}) the loads scatter by "
            f"{tell_spread(self.friction.scatter)}, and no pass takes that away."
        )

    def tell_assumed(self) -> str:
        """What was assumed, in a sentence or two."""
        return " ".join(
            (
                f"Typical figures, not measured: {self.joint.name}.",
                *self.assumed,
            )
        )

    def tell_model(self) -> str:
        """What the forecast leaves out."""
        inside = ""
        if self.left_out:
            numbers = ", ".join(str(n) for n in self.left_out[:8])
            numbers += " …" if len(self.left_out) > 8 else ""
            inside = f" Also left out, inside the rim: {numbers}."
        return LEAVES_OUT + inside

    def tell(self) -> tuple[str, ...]:
        """All sentences, the most important first."""
        return (
            self.tell_verdict(),
            self.tell_further(),
            self.tell_lesson(),
            self.tell_tilt(),
            self.tell_friction(),
            self.tell_assumed(),
            self.tell_model(),
        )

    def tell_table(self) -> list[str]:
        """The load of each screw, and the three outcomes, as lines of one width."""
        loads = self.moments[-1].loads
        lines = [
            f"{self.tell_name(n):>20}  {tell_share(x):>6}  {'#' * round(20 * x)}"
            for n, x in sorted(
                zip(self.edge, loads, strict=True), key=lambda one: self.order.index(one[0])
            )
        ]
        lines.append(f"{'':20}  {'least':>6}  {'scatter':>9}  {'off level':>9}")
        for one in self.outcomes:
            told = f"{tell_spread(one.scatter):>9}  {tell_spread(one.tilt):>9}"
            lines.append(f"{one.name:20}  {tell_share(one.least):>6}  {told}")
        return lines

    def tell_moment(self, index: int) -> str:
        """Where in the passes a moment is, in words."""
        moment = self.moments[index]
        if index == 0:
            return "all screws by hand"
        words = self.trips[moment.trip]
        if moment.number == 0:
            return words
        turned = [k for k, one in enumerate(self.trips) if not one.startswith(AFTER)]
        which = f"pass {turned.index(moment.trip) + 1} of {len(turned)}"
        return f"{which}, {words} · {moment.place} of {len(self.edge)}"

    def tell_screw(self, index: int) -> str:
        """What the wrench did at a moment, in words."""
        moment = self.moments[index]
        if moment.number == 0:
            return ""
        did = tell_share(moment.loads[self.edge.index(moment.number)])
        if not moment.turned:
            return f"{self.tell_name(moment.number)} clicks at once, at {did}"
        return f"{self.tell_name(moment.number)} turned, to {did}"

    def as_dict(self) -> dict[str, object]:
        """For printing as JSON."""
        last = self.moments[-1].loads
        return {
            "pattern": self.pattern.name,
            "order": list(self.order),
            "passes": list(self.trips),
            "loads": {str(n): round(x, 4) for n, x in zip(self.edge, last, strict=True)},
            "chosen": self.chosen.as_dict(),
            "around": self.around.as_dict(),
            "one_more_pass_around": self.one_more.as_dict(),
            "further_passes_around": self.further,
            "friction": {
                "condition": self.condition.name,
                "k_low": self.condition.k_low,
                "k_high": self.condition.k_high,
                "scatter": round(self.friction.scatter, 4),
            },
            "assumed": {"joint": self.joint.name, "source": self.joint.source},
            "left_out": list(self.left_out),
            "words": list(self.tell()),
        }


def tell_share(share: float) -> str:
    """A share in words: "61 %"; never rounded up to what was not reached."""
    return f"{int(share * 100 + 1e-6)} %"


def tell_spread(share: float) -> str:
    """A scatter or a tilt in words: "12 %", "under 1 %"."""
    if 0 < share < 0.01:
        return "under 1 %"
    return f"{round(share * 100)} %"


def forecast_evenness(
    pattern: Pattern,
    order: Sequence[int],
    passes: Sequence[Pass],
    *,
    joint: TypicalJoint | None = None,
    torques_nm: Sequence[float | None] | None = None,
    seed: int = 1,
    cancelled: Cancelled | None = None,
    tell: Tell | None = None,
) -> Evenness:
    """The forecast for a pattern tightened in this order and these passes.

    joint: what is assumed of it; by the thread where not given.  torques_nm: the torque of each
    pass where it is known, so that passes to different torques are told apart.

    Raises Trouble where there is no rim to forecast, where the passes end loose, or on a cancel.
    """
    from shopguide.bolts.clamp import Joint, check_points, forecast

    if not passes:
        raise Trouble("There is no pass to forecast.", next="Give the pattern a torque task first.")
    if ends_loose(tuple(passes)):
        raise Trouble(
            "These passes end loose: there is no clamp load to forecast.",
            where=pattern.title,
            next="Ask for the passes that tighten it.",
        )
    try:
        edge, seats, inside = find_edge(pattern)
        check_points(seats)
    except Trouble as trouble:
        raise Trouble(trouble.what, where=pattern.title, next=trouble.next) from None
    joint = joint or choose_joint(pattern)
    model = Joint(
        seats, joint.modulus_mpa, joint.bending_mm4, joint.torsion_mm4, joint.gasket_n_per_mm2,
        joint.screw_n_per_mm, TARGET_N,
    )  # fmt: skip
    places = {number: k for k, number in enumerate(edge)}
    order = tuple(order)

    def plan(every: Sequence[Pass], all_around: bool) -> list[Trip]:
        return _plan_trips(pattern, order, every, torques_nm, places, all_around)

    trips = plan(passes, False)
    said = _tell_trips(passes)
    more = plan([Pass(kind="torque", way="around")], False) * MOST_TRIPS
    asked = len(trips)

    def is_even(trip: int, loads: object) -> bool:
        # One more trip around is always made, to be shown beside.
        return trip >= asked and float(loads.min()) >= EVEN  # type: ignore[attr-defined]

    runs = (("the chosen order", 1), ("going around", 2), ("friction", 3))

    def say(run: int) -> None:
        if tell is not None:
            tell(f"Forecast of {runs[run][0]}", runs[run][1], len(runs))

    say(0)
    found = forecast(model, [*trips, *more], cancelled=cancelled, enough=is_even)
    end = found.ends[asked - 1]
    say(1)
    other = forecast(model, plan(passes, True), cancelled=cancelled)
    say(2)
    condition = _find_condition(pattern)
    rough = forecast(model, trips, scatter=condition, seed=seed, cancelled=cancelled)
    further = next(
        (k for k, row in enumerate(found.ends[asked - 1 :]) if found.min_share_at(row) >= EVEN),
        None,
    )
    moments = _list_moments(found, end, edge)
    return Evenness(
        pattern=pattern,
        order=order,
        edge=edge,
        seats=seats,
        left_out=inside,
        trips=said,
        moments=moments,
        chosen=_sum_up("as chosen", found, end, edge),
        around=_sum_up("around instead", other, -1, edge),
        one_more=_sum_up("one more pass around", found, found.ends[asked], edge),
        further=further,
        condition=condition,
        friction=_sum_up("with friction", rough, -1, edge),
        joint=joint,
        assumed=_list_assumed(passes, torques_nm),
    )


def find_edge(pattern: Pattern) -> tuple[tuple[int, ...], tuple[XY, ...], tuple[int, ...]]:
    """Numbers and seats of the fasteners along the rim, and the numbers of those inside it.

    Raises Trouble where too many of them sit inside for the forecast to mean anything.
    """
    fasteners = pattern.tightened
    points = [(f.x_mm, f.y_mm) for f in fasteners]
    edge, inside = walk_round(points, pattern.outline)
    if len(inside) > MOST_INSIDE * len(points):
        raise Trouble(
            f"{len(inside)} of {len(points)} screws sit inside the rim; the forecast is for one "
            "line of screws round an edge.",
            next="Rows of screws, as on a cylinder head, cannot be forecast.",
        )
    return (
        tuple(fasteners[i].number for i in edge),
        tuple(points[i] for i in edge),
        tuple(sorted(fasteners[i].number for i in inside)),
    )


def _plan_trips(
    pattern: Pattern,
    order: tuple[int, ...],
    passes: Sequence[Pass],
    torques_nm: Sequence[float | None] | None,
    places: dict[int, int],
    all_around: bool,
) -> list[Trip]:
    from shopguide.bolts.clamp import Trip

    trips = []
    shares = find_shares(passes, torques_nm)
    for one, share in zip(passes, shares, strict=True):
        if one.after is not None and trips:
            trips.append(Trip((), "settle"))
        way = "around" if all_around and one.travel == "order" else one.travel
        numbers = travel(order, pattern, way)
        seats = tuple(places[n] for n in numbers if n in places)
        deed = {"back off": "loosen", "check": "check"}.get(one.kind, "tighten")
        trips.append(Trip(seats, deed, share))  # type: ignore[arg-type]
    return trips


def _tell_trips(passes: Sequence[Pass]) -> tuple[str, ...]:
    """The words for each trip of `_plan_trips`."""
    said = []
    for one in passes:
        if one.after is not None and said:
            said.append(f"{AFTER}{one.after}")
        said.append(one.tell())
    return tuple(said)


def find_shares(
    passes: Sequence[Pass], torques_nm: Sequence[float | None] | None = None
) -> list[float]:
    """What each pass is to reach, by the load that the highest of them aims at.

    Where every torque is known their ratio counts. A screw turned by an angle is taken to end at
    the target, and the torque before it to be half of that: both assumed.
    """
    angles = [k for k, one in enumerate(passes) if one.kind == "angle"]
    known = [t for t in torques_nm or () if t]
    highest = max(known) if known else None
    shares = []
    for k, one in enumerate(passes):
        given = (torques_nm or [None] * len(passes))[k]
        share = one.share
        if highest and given and one.kind in ("torque", "snug", "check"):
            share *= given / highest
        if one.kind == "snug" and share == 1.0:
            share = SNUG
        if angles and one.kind in ("torque", "snug") and k < angles[-1]:
            share *= BEFORE_ANGLE
        if one.kind == "angle":
            share = BEFORE_ANGLE + (1 - BEFORE_ANGLE) * (angles.index(k) + 1) / len(angles)
        shares.append(share)
    reached = max(
        (x for x, one in zip(shares, passes, strict=True) if one.kind != "back off"), default=1.0
    )
    # Where no pass goes to the full torque, what the highest aims at is the target.
    return [min(1.0, share / reached) for share in shares]


def read_torques_nm(specs: Sequence[Spec | None]) -> list[float | None]:
    """The torque of each pass in N·m from the spec it works to; None where it has none."""
    torques: list[float | None] = []
    for spec in specs:
        amount = spec.amount() if spec is not None and spec.kind is Kind.TORQUE else None
        torques.append(amount.base if amount is not None else None)
    return torques


def _list_assumed(
    passes: Sequence[Pass], torques_nm: Sequence[float | None] | None
) -> tuple[str, ...]:
    said = []
    if any(one.kind == "angle" for one in passes):
        said.append(
            "The angle is taken to end at the target, the torque before it at half: assumed."
        )
    kinds = {one.kind for one in passes}
    if "snug" in kinds and kinds & {"torque", "angle", "check"} and not any(torques_nm or ()):
        said.append(f"Snug is taken as {tell_share(SNUG)} of the target: assumed.")
    if any(one.after is not None for one in passes[1:]):
        said.append("While it stands the faces bed in by 8 µm and the gasket loses 8 %: assumed.")
    return tuple(said)


def _find_condition(pattern: Pattern) -> Condition:
    """The condition of the screws where the pattern names one that is known."""
    named = next((f.condition for f in pattern.tightened if f.condition), None)
    try:
        return find_condition(named)
    except UnitTrouble:
        return NOT_KNOWN


def _sum_up(name: str, found: Forecast, row: int, edge: tuple[int, ...]) -> Outcome:
    return Outcome(
        name=name,
        least=found.min_share_at(row),
        least_number=edge[int(found.loads[row].argmin())],
        scatter=found.scatter_at(row),
        tilt=found.worst_tilt_to(row % len(found.loads)),
    )


def _list_moments(found: Forecast, end: int, edge: tuple[int, ...]) -> tuple[Moment, ...]:
    moments = [Moment(tuple(map(float, found.loads[0])), 0, False, 0, 0)]
    place, before = 0, (-1, 0)
    for step, loads in zip(found.steps[:end], found.loads[1 : end + 1], strict=True):
        place = place + 1 if (step.trip, step.round) == before else 1
        before = (step.trip, step.round)
        number = edge[step.fastener] if step.fastener >= 0 else 0
        moments.append(Moment(tuple(map(float, loads)), number, step.turned, step.trip, place))
    return tuple(moments)
