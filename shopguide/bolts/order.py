"""The tightening order of a pattern: the manual's, the user's, or computed; and the ways to go.

Computed orders follow one rule. On a circle it gives the star rows of the pipe-fitting trade: the
fasteners are taken in opposite pairs, and pairs of pairs where their number divides by four, and
the next group is always the one whose nearest finished neighbour is farthest. On any other outline
the same rule runs on distances in mm; a part that is longer than wide is worked in bands from the
middle to the ends.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from shopguide.bolts.outline import XY, nearest_two, signed_area, walk_round
from shopguide.bolts.passes import Way
from shopguide.bolts.pattern import MOST_FASTENERS, Pattern
from shopguide.bolts.positions import Placed, read_points
from shopguide.errors import Trouble

__all__ = [
    "Order",
    "compute_order",
    "compute_pattern_order",
    "find_order",
    "mirror_order",
    "move_in_order",
    "read_order",
    "read_points",
    "start_order",
    "travel",
]

LONG_FROM = 1.35
"""From this length-to-width ratio on a part is worked from the middle to the ends."""
BAND_SPACINGS = 0.55
"""A new band begins this share of the median spacing further along the part."""
TIE_SPACINGS = 0.4
"""Distances that differ by less than this share of the median spacing count as equal."""
FURTHEST = 1e9
LEAST_SIZE = 1e-6
"""Positions beyond the one, or all within the other, are slips of the pen in any unit of length."""
EVEN_SPACINGS = 0.01
"""How far a fastener may stand from its place on an even circle, as a share of the spacing."""


@dataclass(frozen=True, slots=True)
class Order:
    """Fastener numbers in the sequence they are tightened, and whose sequence it is."""

    numbers: tuple[int, ...]
    by: Literal["manual", "user", "computed"]

    def tell(self) -> str:
        """Whose order it is, in words for screen and paper."""
        return {
            "manual": "the manual's order",
            "user": "the user's order",
            "computed": "computed order",
        }[self.by]

    def tell_difference(self, other: Order) -> str:
        """How this order differs from another of the same fasteners, in a sentence."""
        if self.numbers == other.numbers:
            return f"It is the same as the {other.tell()}."
        if set(self.numbers) != set(other.numbers):
            return f"It holds other fasteners than the {other.tell()}."
        place = next(
            k for k, (a, b) in enumerate(zip(self.numbers, other.numbers, strict=True), 1) if a != b
        )
        moved = sum(a != b for a, b in zip(self.numbers, other.numbers, strict=True))
        begins = ", ".join(str(n) for n in other.numbers[:4])
        return (
            f"It differs from the {other.tell()} in {moved} of {len(self.numbers)} places, "
            f"first in place {place}; that one begins {begins}."
        )

    def place_of(self, number: int) -> int:
        """The place of a fastener in the order, counted from 1; ValueError if it has none."""
        return self.numbers.index(number) + 1


def find_order(pattern: Pattern) -> Order:
    """The order the sheet gives for the pattern, else a computed one.

    Fasteners left loose or never to be touched have no place in it. A pattern without anything
    to tighten has an empty order.
    """
    if pattern.order is not None:
        return Order(pattern.order, pattern.order_by)
    return compute_pattern_order(pattern)


def compute_pattern_order(pattern: Pattern) -> Order:
    """The computed order, whatever the sheet gives: groups that come first, the rest, the last.

    Each group is ordered for itself, by the same rule.
    """
    named = {*pattern.first, *pattern.last}
    rest = [f for f in pattern.tightened if f.group not in named]
    batches = [
        *([f for f in pattern.tightened if f.group == name] for name in pattern.first),
        rest,
        *([f for f in pattern.tightened if f.group == name] for name in pattern.last),
    ]
    numbers: list[int] = []
    for batch in batches:
        if batch:
            placed = [(f.number, f.x_mm, f.y_mm) for f in batch]
            numbers += compute_order(placed, pattern.outline)
    return Order(tuple(numbers), "computed")


def mirror_order(pattern: Pattern, numbers: Sequence[int]) -> tuple[int, ...]:
    """The same sequence walked the other way round, from the same first fastener.

    Each fastener is exchanged for the one as many places on the other side of the first, counted
    along the outline. Raises ValueError for an empty order.
    """
    ring = list(travel(numbers, pattern, "around"))
    start = ring.index(numbers[0])
    return tuple(ring[(2 * start - ring.index(n)) % len(ring)] for n in numbers)


def start_order(pattern: Pattern, numbers: Sequence[int], first: int) -> tuple[int, ...]:
    """The same sequence turned so that it begins with another fastener.

    Each fastener is exchanged for the one as many places further along the outline. Raises
    ValueError where `first` is none of the numbers.
    """
    ring = list(travel(numbers, pattern, "around"))
    shift = ring.index(first) - ring.index(numbers[0])
    return tuple(ring[(ring.index(n) + shift) % len(ring)] for n in numbers)


def move_in_order(numbers: Sequence[int], number: int, place: int) -> tuple[int, ...]:
    """The sequence with one fastener moved to another place, counted from 1."""
    rest = [n for n in numbers if n != number]
    rest.insert(min(max(place - 1, 0), len(rest)), number)
    return tuple(rest)


def read_order(text: str, pattern: Pattern) -> tuple[int, ...]:
    """A typed list of fastener numbers, as the manual prints it: "3 12 4 13", "3-12-4", "3, 12".

    Raises Trouble that names every number that is missing, doubled or unknown.
    """
    parts = [p for p in re.split(r"[\s,;/–—-]+", text.strip()) if p]
    odd = [p for p in parts if not (p.isascii() and p.isdigit() and len(p) < 10)]
    if odd or not parts:
        raise Trouble(
            f"“{odd[0][:20]}” is not a number." if odd else "There is no number yet.",
            next="Write the fastener numbers in their order: 3 12 4 13.",
        )
    numbers = [int(p) for p in parts]
    wanted = {f.number for f in pattern.tightened}
    faults = []
    unknown = sorted(set(numbers) - wanted)
    missing = sorted(wanted - set(numbers))
    doubled = sorted({n for n in numbers if numbers.count(n) > 1})
    if unknown:
        faults.append("unknown or not to be tightened: " + _some(unknown))
    if doubled:
        faults.append("twice: " + _some(doubled))
    if missing:
        faults.append("missing: " + _some(missing))
    if faults:
        raise Trouble(
            f"{'; '.join(faults)[:1].upper()}{'; '.join(faults)[1:]}.",
            next="Write every number once.",
        )
    return tuple(numbers)


def _some(numbers: Sequence[int]) -> str:
    shown = ", ".join(str(n) for n in numbers[:12])
    return shown + (" …" if len(numbers) > 12 else "")


def compute_order(
    points: Sequence[Placed], outline: Sequence[tuple[float, float]] = ()
) -> tuple[int, ...]:
    """The numbers of the points (number, x, y) in the sequence to tighten them.

    Any unit of length does; the points should come along the outline where there is one. The
    result does not change when the joint is turned, mirrored, shifted or scaled. It starts with
    the lowest number (on a long part: with the lowest number of the middle band), so renumbering
    a circle moves the start and nothing else.

    Raises Trouble for no point, more than 500, a coordinate that is no number, a number used
    twice, or two points in one place.

    Source: star rows remembered from ASME PCC-1 and trade pages on it, one rule fitted to all of
    them; see tests/published/test_order_published.py for what each row rests on.
    """
    _check(points)
    if len(points) <= 2:
        return tuple(sorted(number for number, _, _ in points))
    return _star_of_circle(points) or _order_joint(points, outline)


def travel(order: Order | Sequence[int], pattern: Pattern, way: Way) -> tuple[int, ...]:
    """The fastener numbers in the sequence of one pass.

    "order" is the order itself, "reverse" its reverse, "around" clockwise as `seen` along the
    outline from the first of the order; fasteners inside the outline come after those along it.
    """
    numbers = tuple(order.numbers if isinstance(order, Order) else order)
    if way == "order" or len(numbers) < 2:
        return numbers
    if way == "reverse":
        return numbers[::-1]
    seats = {f.number: (f.x_mm, f.y_mm) for f in pattern.placed}
    listed = [f.number for f in pattern.placed if f.number in set(numbers)]
    points = [seats[number] for number in listed]
    edge, inside = walk_round(points, pattern.outline)
    if signed_area([points[i] for i in edge]) > 0:
        edge = edge[::-1]
    ring, rest = [listed[i] for i in edge], [listed[i] for i in inside]
    if numbers[0] in ring:
        start = ring.index(numbers[0])
        ring = ring[start:] + ring[:start]
    return tuple(ring + rest)


# --- checks -------------------------------------------------------------------------------------


def _check(points: Sequence[Placed]) -> None:
    if not points:
        raise Trouble(
            "There is no fastener to put in order.", next="Give at least one with its position."
        )
    if len(points) > MOST_FASTENERS:
        raise Trouble(
            f"There are {len(points)} fasteners; at most {MOST_FASTENERS} can be put in order.",
            next="Split the joint into patterns.",
        )
    for number, x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            raise Trouble(
                f"The position of fastener {number} is not a number.",
                next="Give x and y as plain lengths.",
            )
        if max(abs(x), abs(y)) > FURTHEST:
            raise Trouble(
                f"The position of fastener {number} is beyond any joint.",
                next="Give x and y in millimetres.",
            )
    x0, y0 = min(x for _, x, _ in points), min(y for _, _, y in points)
    size = max(max(x - x0, y - y0) for _, x, y in points)
    grain = max(size, LEAST_SIZE) * 1e-6
    numbers: set[int] = set()
    seats: dict[tuple[float, float], int] = {}
    for number, x, y in points:
        if number in numbers:
            raise Trouble(f"Number {number} is used twice.", next="Give each fastener its own.")
        numbers.add(number)
        other = seats.setdefault((round((x - x0) / grain), round((y - y0) / grain)), number)
        if other != number:
            raise Trouble(
                f"Fasteners {other} and {number} sit in the same place.",
                next="Correct one of the two positions.",
            )


# --- circles ------------------------------------------------------------------------------------


def _star_of_circle(placed: Sequence[Placed]) -> tuple[int, ...] | None:
    """The star row where the points sit evenly on a circle, else None."""
    n = len(placed)
    cx, cy = sum(x for _, x, _ in placed) / n, sum(y for _, _, y in placed) / n
    radius = sum(math.hypot(x - cx, y - cy) for _, x, y in placed) / n
    turned = sorted((math.atan2(y - cy, x - cx), number, x, y) for number, x, y in placed)
    step = math.tau / n
    mean_lag = (
        turned[0][0]
        + sum(_wrap(angle - turned[0][0] - k * step) for k, (angle, *_) in enumerate(turned)) / n
    )
    slack = EVEN_SPACINGS * radius * step
    for k, (_, _, x, y) in enumerate(turned):
        angle = mean_lag + k * step
        if (
            math.dist((x, y), (cx + radius * math.cos(angle), cy + radius * math.sin(angle)))
            > slack
        ):
            return None
    ring = [number for _, number, _, _ in turned]
    start = ring.index(min(ring))
    ring = ring[start:] + ring[:start]
    if ring[-1] < ring[1]:
        ring = ring[:1] + ring[:0:-1]
    return tuple(ring[i] for i in star_row(n))


def _wrap(angle: float) -> float:
    return (angle + math.pi) % math.tau - math.pi


def star_row(count: int) -> list[int]:
    """The star row of an even circle, as indices from 0 in the sequence round it.

    Divisible by four: quads i, i+N/2, i+N/4, i+3N/4; even: opposite pairs; odd: one by one. The
    leaders of the groups stand on a circle of their own, and the next is always the one whose
    nearest finished leader is farthest; ties go to the farthest from the last, then from the one
    before it, and so on, then to the lowest number.
    """
    if count % 4 == 0:
        offsets = [0, count // 2, count // 4, 3 * count // 4]
    elif count % 2 == 0:
        offsets = [0, count // 2]
    else:
        offsets = [0]
    leaders = count // len(offsets)

    def apart(a: int, b: int) -> int:
        return min((a - b) % leaders, (b - a) % leaders)

    return [
        leader + offset for leader in _farthest_first(range(leaders), apart) for offset in offsets
    ]


def _farthest_first(
    candidates: Sequence[int],
    apart: Callable[[int, int], float],
    tolerance: float = 0.0,
    done: Sequence[int] = (),
) -> list[int]:
    """The candidates, each next one the farthest from its nearest finished neighbour.

    `apart(a, b)` is the distance of two; distances that differ by no more than the tolerance are
    equal and settled by the next criterion: from the last one done, from the one before, and so
    on, then by the place among the candidates. With nothing done the first candidate starts.
    """
    trail = list(done)
    left = list(candidates)
    if not trail and left:
        trail.append(left.pop(0))
    nearest = {i: min(apart(i, one) for one in trail) for i in left}
    while left:
        equal = _keep_farthest(left, nearest.__getitem__, tolerance)
        for one in reversed(trail):
            if len(equal) == 1:
                break
            equal = _keep_farthest(equal, lambda i, one=one: apart(i, one), tolerance)
        pick = equal[0]
        trail.append(pick)
        left.remove(pick)
        for i in left:
            nearest[i] = min(nearest[i], apart(i, pick))
    return trail[len(done) :]


def _keep_farthest(
    candidates: list[int], distance: Callable[[int], float], tolerance: float
) -> list[int]:
    """The candidates whose distance is within the tolerance of the greatest."""
    away = [distance(i) for i in candidates]
    least = max(away) - tolerance
    return [i for i, far in zip(candidates, away, strict=True) if far >= least]


# --- any outline --------------------------------------------------------------------------------


def _order_joint(points: Sequence[Placed], outline: Sequence[XY]) -> tuple[int, ...]:
    """The order for a joint of any shape; see compute_order."""
    listed = [(x, y) for _, x, y in points]
    weights, spacing = _weigh(listed, outline)
    total = math.fsum(weights)
    cx = math.fsum(w * x for w, (x, _) in zip(weights, listed, strict=True)) / total
    cy = math.fsum(w * y for w, (_, y) in zip(weights, listed, strict=True)) / total
    radius = max(math.hypot(x - cx, y - cy) for x, y in listed)
    # From here on lengths are shares of the radius, from the middle: size and place drop out.
    by_number = sorted(range(len(points)), key=lambda i: points[i][0])
    seats = [((listed[i][0] - cx) / radius, (listed[i][1] - cy) / radius) for i in by_number]
    shares = [weights[i] for i in by_number]
    spacing /= radius
    along = _find_long_axis(seats, shares)
    tolerance = TIE_SPACINGS * spacing
    if along is None:
        groups = _group_round(seats)
        done = _order_groups(seats, groups, tolerance)
    else:
        done = []
        pairs = _pair_opposite(seats)
        for band in _split_bands(seats, pairs, along, BAND_SPACINGS * spacing):
            done += _order_groups(seats, band, tolerance, done, alternate=True)
    return tuple(points[by_number[i]][0] for i in done)


def _weigh(seats: list[XY], outline: Sequence[XY]) -> tuple[list[float], float]:
    """The length of edge each fastener holds, and the median spacing.

    Along the edge it is half the way to either neighbour, so that a cluster of screws does not
    drag the middle of the joint towards it; inside the edge the distances to the nearest two.
    """
    near = nearest_two(seats)
    weights = [(a + b) / 2 for a, b in near]
    edge, inside = walk_round(seats, outline)
    gaps = [near[i][0] for i in inside]
    is_line = abs(signed_area([seats[i] for i in edge])) <= 1e-9 * sum(weights) ** 2
    if len(edge) < 3 or is_line:
        gaps = [pair[0] for pair in near]
    else:
        ahead = [
            math.dist(seats[i], seats[j]) for i, j in zip(edge, edge[1:] + edge[:1], strict=True)
        ]
        for k, i in enumerate(edge):
            weights[i] = (ahead[k - 1] + ahead[k]) / 2
        gaps += ahead
    return weights, median(gaps)


def _find_long_axis(seats: list[XY], shares: list[float]) -> XY | None:
    """The unit vector along a part that is clearly longer than wide, else None."""
    xx = math.fsum(w * x * x for w, (x, _) in zip(shares, seats, strict=True))
    yy = math.fsum(w * y * y for w, (_, y) in zip(shares, seats, strict=True))
    xy = math.fsum(w * x * y for w, (x, y) in zip(shares, seats, strict=True))
    angle = 0.5 * math.atan2(2 * xy, xx - yy)
    ux, uy = math.cos(angle), math.sin(angle)
    lengths = [x * ux + y * uy for x, y in seats]
    widths = [y * ux - x * uy for x, y in seats]
    length, width = max(lengths) - min(lengths), max(widths) - min(widths)
    return (ux, uy) if length >= LONG_FROM * width else None


def _split_bands(
    seats: list[XY], pairs: list[list[int]], along: XY, gap: float
) -> list[list[list[int]]]:
    """Bands of pairs by their mean distance from the middle along the part, middle first.

    The pairs are made before the bands: a band of single fasteners may hold an odd number, and
    then two neighbours follow each other and the joint is pulled down on one side.
    """
    reach = [abs(x * along[0] + y * along[1]) for x, y in seats]
    means = [round(sum(reach[i] for i in pair) / len(pair), 9) for pair in pairs]
    bands: list[list[list[int]]] = []
    begins = -math.inf
    for k in sorted(range(len(pairs)), key=lambda k: means[k]):
        if means[k] - begins > gap:
            bands.append([])
            begins = means[k]
        bands[-1].append(pairs[k])
    return [sorted(band) for band in bands]


def _group_round(seats: list[XY]) -> list[list[int]]:
    """Quads, pairs or singles of a part that is about as wide as long."""
    if len(seats) % 2:
        return [[i] for i in range(len(seats))]
    pairs = _pair_opposite(seats)
    if len(pairs) % 2:
        return pairs

    def nearness(a: int, b: int) -> float:
        return -min(math.dist(seats[i], seats[j]) for i in pairs[a] for j in pairs[b])

    return sorted(pairs[a] + pairs[b] for a, b in _match(len(pairs), nearness))


def _pair_opposite(seats: list[XY]) -> list[list[int]]:
    """Pairs that balance about the middle and stand far apart; one is left single if odd."""

    def imbalance(a: int, b: int) -> float:
        (ax, ay), (bx, by) = seats[a], seats[b]
        return math.hypot(ax + bx, ay + by) / 2 - 0.25 * math.hypot(ax - bx, ay - by)

    return sorted([a] if a == b else [a, b] for a, b in _match(len(seats), imbalance))


def _match(count: int, cost: Callable[[int, int], float]) -> list[tuple[int, int]]:
    """Pairs of 0 to count-1 at a small total cost: cheapest first, then exchanges that help.

    An odd one out is paired with itself, at the cost of that. Costs are compared to nine digits,
    so that turning or mirroring the joint does not settle ties another way.
    """
    table = [[0.0] * count for _ in range(count)]
    ranked = []
    for a in range(count):
        for b in range(a, count):
            table[a][b] = table[b][a] = value = round(cost(a, b), 9)
            if a != b:
                ranked.append((value, a, b))
    ranked.sort()
    free = set(range(count))
    pairs = []
    for _, a, b in ranked:
        if a in free and b in free:
            free -= {a, b}
            pairs.append((a, b))
    pairs += [(a, a) for a in free]
    for _ in range(20):
        before = list(pairs)
        for i in range(len(pairs)):
            for j in range(i + 1, len(pairs)):
                _exchange(pairs, i, j, table)
        if pairs == before:
            break
    return [(min(pair), max(pair)) for pair in pairs]


def _exchange(pairs: list[tuple[int, int]], i: int, j: int, table: list[list[float]]) -> None:
    """Exchange partners between two pairs where that costs less."""
    (a, b), (c, d) = pairs[i], pairs[j]
    now = table[a][b] + table[c][d] - 1e-8
    if c != d:
        if table[a][c] + table[b][d] < now:
            pairs[i], pairs[j] = (a, c), (b, d)
        elif table[a][d] + table[b][c] < now:
            pairs[i], pairs[j] = (a, d), (b, c)
    elif table[a][c] + table[b][b] < now:
        pairs[i], pairs[j] = (a, c), (b, b)
    elif table[b][c] + table[a][a] < now:
        pairs[i], pairs[j] = (b, c), (a, a)


def _order_groups(
    seats: list[XY],
    groups: list[list[int]],
    tolerance: float,
    done: Sequence[int] = (),
    alternate: bool = False,
) -> list[int]:
    """The members of the groups in sequence, after those done; farthest group first.

    alternate: inside a group the one farther from the last tightened comes first.
    """
    trail = [[i] for i in done]
    every = trail + groups
    known: dict[tuple[int, int], float] = {}

    def apart(a: int, b: int) -> float:
        key = (a, b) if a < b else (b, a)
        if key not in known:
            known[key] = min(math.dist(seats[i], seats[j]) for i in every[a] for j in every[b])
        return known[key]

    picked = _farthest_first(range(len(trail), len(every)), apart, tolerance, range(len(trail)))
    out: list[int] = []
    for group in (every[k] for k in picked):
        if alternate and len(group) == 2:
            for last in reversed([*done, *out]):
                first, second = (math.dist(seats[i], seats[last]) for i in group)
                if abs(first - second) > tolerance:
                    out += group if first > second else group[::-1]
                    break
            else:
                out += group
        else:
            out += group
    return out
