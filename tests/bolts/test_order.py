"""Orders: whose they are, that they are whole, balanced, spread, and do not depend on the pose."""

from __future__ import annotations

import math
import random
import time
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopguide.bolts.order import Order, compute_order, find_order, read_points, travel
from shopguide.bolts.pattern import Circle, Fastener, Grid, Pattern, Rectangle
from shopguide.errors import Trouble

SUMP = [
    (-158, 92), (-96, 104), (-30, 110), (36, 111), (98, 102), (146, 84), (160, 30), (154, -26),
    (146, -74), (100, -106), (44, -104), (-12, -103), (-66, -112), (-122, -104), (-152, -52),
    (-164, 18),
]  # fmt: skip


def number_them(points) -> list[tuple[int, float, float]]:
    return [(i + 1, x, y) for i, (x, y) in enumerate(points)]


def blob(count: int, seed: int, flat: float = 1.0) -> list[tuple[int, float, float]]:
    """Fasteners round an irregular outline, clockwise; `flat` is its width to length."""
    rng = random.Random(seed)
    lean, wave = rng.uniform(0, math.tau), rng.uniform(0, 0.12)
    points = []
    for i in range(count):
        angle = -math.tau * (i + rng.uniform(-0.15, 0.15)) / count
        radius = 200 * (1 + wave * math.sin(3 * angle + lean))
        points.append((radius * math.cos(angle), flat * radius * math.sin(angle)))
    return number_them(points)


def edge_middle(points) -> tuple[float, float]:
    """The middle of the fasteners, each weighted by half the edge to either neighbour."""
    weights = []
    for i, (_, x, y) in enumerate(points):
        before, after = points[i - 1], points[(i + 1) % len(points)]
        weights.append(math.dist((x, y), before[1:]) / 2 + math.dist((x, y), after[1:]) / 2)
    total = sum(weights)
    return (
        sum(w * x for w, (_, x, _) in zip(weights, points, strict=True)) / total,
        sum(w * y for w, (_, _, y) in zip(weights, points, strict=True)) / total,
    )


def worst_offset(points, order) -> float:
    """Farthest that the middle of the tightened ones strays after a whole pair, by radius."""
    cx, cy = edge_middle(points)
    seats = {number: (x, y) for number, x, y in points}
    radius = max(math.dist((cx, cy), seat) for seat in seats.values())
    worst = 0.0
    for k in range(2, len(order) + 1, 2):
        mx = sum(seats[n][0] for n in order[:k]) / k
        my = sum(seats[n][1] for n in order[:k]) / k
        worst = max(worst, math.dist((mx, my), (cx, cy)) / radius)
    return worst


def shortest_jump(points, order) -> float:
    """The shortest way from one fastener to the next in the order, by spacing."""
    seats = {number: (x, y) for number, x, y in points}
    gaps = sorted(math.dist(points[i - 1][1:], points[i][1:]) for i in range(len(points)))
    spacing = gaps[len(gaps) // 2]
    jumps = [math.dist(seats[a], seats[b]) for a, b in pairwise(order)]
    return min(jumps) / spacing


def turn(points, angle: float, scale: float = 1.0, shift=(0.0, 0.0), mirror: bool = False):
    c, s = math.cos(angle), math.sin(angle)
    out = []
    for number, x, y in points:
        if mirror:
            x = -x
        out.append((number, scale * (c * x - s * y) + shift[0], scale * (s * x + c * y) + shift[1]))
    return out


# --- whose order --------------------------------------------------------------------------------


def test_the_sheets_own_order_comes_first_and_says_whose_it_is() -> None:
    circle = Circle(count=4, diameter_mm=80)
    manual = Pattern(name="c", title="c", circle=circle, order=(4, 2, 3, 1))
    user = Pattern(name="c", title="c", circle=circle, order=(4, 2, 3, 1), order_by="user")
    assert find_order(manual) == Order((4, 2, 3, 1), "manual")
    assert find_order(manual).tell() == "the manual's order"
    assert find_order(user).tell() == "the user's order"
    computed = find_order(Pattern(name="c", title="c", circle=circle))
    assert computed == Order((1, 3, 2, 4), "computed")
    assert computed.tell() == "computed order"
    assert computed.place_of(2) == 3


def test_fasteners_left_alone_have_no_place() -> None:
    fasteners = [Fastener(number=i + 1, x_mm=x, y_mm=y) for i, (x, y) in enumerate(SUMP)]
    fasteners.append(Fastener(number=17, x_mm=0, y_mm=0, use="do not touch"))
    fasteners.append(Fastener(number=18, x_mm=20, y_mm=0, use="leave loose"))
    order = find_order(Pattern(name="s", title="s", fasteners=tuple(fasteners)))
    assert sorted(order.numbers) == list(range(1, 17))
    alone = Pattern(name="s", title="s", fasteners=(fasteners[16],))
    assert find_order(alone).numbers == ()


# --- the rule -----------------------------------------------------------------------------------


@given(st.lists(
    st.tuples(st.integers(-500, 500), st.integers(-500, 500)),
    min_size=1, max_size=60, unique=True,
))  # fmt: skip
@settings(deadline=None)
def test_every_fastener_once_wherever_they_sit(points) -> None:
    order = compute_order(number_them(points))
    assert sorted(order) == list(range(1, len(points) + 1))


@given(st.integers(1, 500))
@settings(max_examples=30, deadline=None)
def test_every_circle_is_whole_and_starts_with_its_first(count: int) -> None:
    order = compute_order(number_them(Circle(count=count, diameter_mm=400).points()))
    assert sorted(order) == list(range(1, count + 1))
    assert order[0] == 1


poses = st.tuples(st.floats(0, math.tau), st.floats(0.01, 100), st.floats(-1e4, 1e4), st.booleans())


@given(st.integers(3, 40), poses)
@settings(deadline=None)
def test_a_circle_keeps_its_row_in_any_pose(count: int, pose) -> None:
    angle, scale, shift, mirror = pose
    points = number_them(Circle(count=count, diameter_mm=200).points())
    moved = turn(points, angle, scale, (shift, -shift), mirror)
    assert compute_order(moved) == compute_order(points)


@given(st.integers(5, 30), st.integers(0, 10_000), st.sampled_from([1.0, 0.5]), poses)
@settings(deadline=None)
def test_an_irregular_part_keeps_its_order_in_any_pose(count, seed, flat, pose) -> None:
    angle, scale, shift, mirror = pose
    points = blob(count, seed, flat)
    assert compute_order(turn(points, angle, scale, (shift, shift), mirror)) == compute_order(
        points
    )


@given(st.integers(4, 32).filter(lambda n: n % 2 == 0), st.integers(0, 10_000))
@settings(deadline=None)
def test_a_row_survives_holes_a_little_out_of_place(count: int, seed: int) -> None:
    rng = random.Random(seed)
    points = number_them(Circle(count=count, diameter_mm=200).points())
    noise = 0.02 * 200 * math.pi / count
    moved = [(n, x + rng.gauss(0, noise), y + rng.gauss(0, noise)) for n, x, y in points]
    assert compute_order(moved) == compute_order(points)


def test_renumbering_a_circle_moves_the_start_and_nothing_else() -> None:
    points = Circle(count=12, diameter_mm=200).points()
    row = compute_order(number_them(points))
    moved = compute_order(number_them(points[5:] + points[:5]))
    assert moved == row


@pytest.mark.parametrize("count", [8, 10, 12, 14, 16, 18, 24, 26])
@pytest.mark.parametrize("seed", range(8))
def test_round_parts_stay_balanced_and_jump_far(count: int, seed: int) -> None:
    points = blob(count, seed, 0.9)
    order = compute_order(points)
    plain = [number for number, _, _ in points]
    assert worst_offset(points, order) <= 0.13
    assert worst_offset(points, plain) >= 0.5
    assert shortest_jump(points, order) >= 1.3


@pytest.mark.parametrize("count", [10, 12, 14, 16, 18, 24, 26])
@pytest.mark.parametrize("seed", range(8))
def test_long_parts_go_from_the_middle_to_the_ends(count: int, seed: int) -> None:
    points = blob(count, seed, 0.5)
    order = compute_order(points)
    seats = {number: x for number, x, _ in points}
    middle = edge_middle(points)[0]
    half = len(order) // 2
    reach = [abs(seats[number] - middle) for number in order]
    assert sum(reach[:half]) / half < 0.62 * sum(reach[half:]) / (len(order) - half)
    assert worst_offset(points, order) <= 0.13
    assert shortest_jump(points, order) >= 1.3


@pytest.mark.parametrize(
    "shape",
    [
        Rectangle(width_mm=400, height_mm=200, along=7, up=4),
        Rectangle(width_mm=300, height_mm=120, along=6, up=3),
        Grid(columns=6, rows=3, across_mm=80, down_mm=80),
        Grid(columns=5, rows=2, across_mm=90, down_mm=100),
    ],
)
def test_even_long_parts_are_exactly_balanced_band_by_band(shape) -> None:
    points = number_them(shape.points())
    order = compute_order(points)
    seats = {number: (x, y) for number, x, y in points}
    for k in range(2, len(order) + 1, 2):
        assert abs(sum(seats[n][0] for n in order[:k])) < 1e-6
        assert abs(sum(seats[n][1] for n in order[:k])) < 1e-6
    reach = [round(abs(seats[n][0]), 6) for n in order]
    assert reach == sorted(reach)


def test_the_sump_cover_goes_across_every_time() -> None:
    points = number_them(SUMP)
    order = compute_order(points)
    seats = {number: (x, y) for number, x, y in points}
    for first, second in zip(order[::2], order[1::2], strict=True):
        assert seats[first][1] * seats[second][1] < 0
    assert worst_offset(points, order) <= 0.1
    assert shortest_jump(points, order) >= 2.0
    assert compute_order(points, SUMP) == order


def test_a_row_of_fasteners_goes_from_the_middle_to_the_ends() -> None:
    assert compute_order([(i, 10.0 * i, 5.0 * i) for i in range(1, 8)]) == (4, 3, 5, 2, 6, 1, 7)


def test_the_list_may_come_in_any_sequence() -> None:
    points = number_them(Grid(columns=6, rows=3, across_mm=80, down_mm=80).points())
    shuffled = points[:]
    random.Random(4).shuffle(shuffled)
    assert compute_order(shuffled) == compute_order(points)
    circle = number_them(Circle(count=16, diameter_mm=90).points())
    shuffled = circle[:]
    random.Random(4).shuffle(shuffled)
    assert compute_order(shuffled) == compute_order(circle)


def test_500_fasteners_take_at_most_a_second() -> None:
    rng = random.Random(5)
    worst = [(i + 1, rng.uniform(0, 900), rng.uniform(0, 900)) for i in range(500)]
    began = time.process_time()
    order = compute_order(worst)
    assert time.process_time() - began < 1.0
    assert sorted(order) == list(range(1, 501))


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([], "no fastener"),
        ([(1, 0, 0), (2, math.nan, 0)], "fastener 2 is not a number"),
        ([(1, 0, 0), (2, math.inf, 0)], "fastener 2 is not a number"),
        ([(1, 0, 0), (2, 1e300, 0)], "fastener 2 is beyond"),
        ([(1, 0, 0), (1, 5, 0)], "Number 1 is used twice"),
        ([(1, 0, 0), (2, 5, 0), (3, 0, 0)], "Fasteners 1 and 3 sit in the same place"),
        ([(i + 1, i, 0) for i in range(501)], "501 fasteners"),
    ],
)
def test_what_cannot_be_ordered_is_told(points, says: str) -> None:
    with pytest.raises(Trouble, match=says) as caught:
        compute_order(points)
    assert caught.value.next


# --- ways ---------------------------------------------------------------------------------------


def test_the_three_ways() -> None:
    pattern = Pattern(name="c", title="c", circle=Circle(count=8, diameter_mm=100))
    order = find_order(pattern)
    assert travel(order, pattern, "order") == (1, 5, 3, 7, 2, 6, 4, 8)
    assert travel(order, pattern, "reverse") == (8, 4, 6, 2, 7, 3, 5, 1)
    assert travel(order, pattern, "around") == (1, 2, 3, 4, 5, 6, 7, 8)
    backwards = Pattern(
        name="c", title="c", circle=Circle(count=8, diameter_mm=100, clockwise=False)
    )
    assert travel((3, 1, 2, 4, 5, 6, 7, 8), backwards, "around") == (3, 2, 1, 8, 7, 6, 5, 4)


def test_around_follows_the_outline_whatever_the_numbers() -> None:
    shuffled = list(range(1, 17))
    random.Random(2).shuffle(shuffled)
    fasteners = tuple(
        Fastener(number=number, x_mm=SUMP[k][0], y_mm=SUMP[k][1])
        for number, k in sorted((number, k) for k, number in enumerate(shuffled))
    )
    for outline in ((), tuple(SUMP)):
        pattern = Pattern(name="s", title="s", fasteners=fasteners, outline=outline)
        order = find_order(pattern)
        begin = shuffled.index(order.numbers[0])
        assert travel(order, pattern, "around") == tuple(shuffled[begin:] + shuffled[:begin])


def test_around_comes_to_those_inside_last() -> None:
    grid = Pattern(name="h", title="h", grid=Grid(columns=5, rows=3, across_mm=80, down_mm=80))
    ring = travel(find_order(grid), grid, "around")
    # Order starts with 3, the middle of the upper row.
    assert ring[:12] == (3, 4, 5, 10, 15, 14, 13, 12, 11, 6, 1, 2)
    assert sorted(ring[12:]) == [7, 8, 9]
    inside = Pattern(
        name="s",
        title="s",
        fasteners=tuple(
            Fastener(number=i + 1, x_mm=x, y_mm=y)
            for i, (x, y) in enumerate([(0, 0), *SUMP, (40, 10)])
        ),
        outline=tuple(SUMP),
    )
    ring = travel(find_order(inside), inside, "around")
    assert sorted(ring) == list(range(1, 19))
    assert set(ring[16:]) == {1, 18}


@given(st.sampled_from(["order", "reverse", "around"]), st.integers(1, 40), st.integers(0, 999))
@settings(deadline=None)
def test_every_way_comes_to_every_fastener_once(way, count: int, seed: int) -> None:
    rng = random.Random(seed)
    seats = rng.sample(range(2500), count)
    pattern = Pattern(
        name="x",
        title="x",
        fasteners=tuple(
            Fastener(number=i + 1, x_mm=seat % 50, y_mm=seat // 50) for i, seat in enumerate(seats)
        ),
    )
    order = find_order(pattern)
    assert sorted(travel(order, pattern, way)) == list(range(1, count + 1))


# --- tables of positions ------------------------------------------------------------------------


def write(tmp_path: Path, text: str | bytes) -> Path:
    path = tmp_path / "cover.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


@pytest.mark.parametrize(
    "text",
    [
        "number,x_mm,y_mm\n1,0,10.5\n2,-3,4\n",
        "number;x_mm;y_mm\r\n1;0;10,5\r\n2;-3;4\r\n",
        "﻿number,x_mm,y_mm\n1,0,10.5\n\n# upper row\n2,−3,4\n",
        "y_mm\tnumber\tnote\tx_mm\n10,5\t1\tlong\t0\n4\t2\t\t-3\n",
        "Number, X_mm, Y_mm\n1, 0, 10.5\n2, -3, 4",
        "number;x_mm;y_mm\n1;0;10.5\n2;-3;4".encode("utf-16"),
    ],
)
def test_tables_as_people_save_them(tmp_path: Path, text) -> None:
    assert read_points(write(tmp_path, text)) == [(1, 0.0, 10.5), (2, -3.0, 4.0)]


@pytest.mark.parametrize(
    ("text", "where", "says"),
    [
        ("", "cover.csv", "empty"),
        ("number,x_mm,y_mm\n", "cover.csv", "no fastener"),
        ("number,x,y\n1,2,3\n", "line 1", "x_mm and y_mm is missing"),
        ("number,x_mm,y_mm\n1,0,0\n2,zero,0\n", "line 3", "x_mm is 'zero'"),
        ("number,x_mm,y_mm\n1,0,0\n\n2,0,nan\n", "line 4", "y_mm is 'nan'"),
        ("number,x_mm,y_mm\n1,0,0\n2,1_0,0\n", "line 3", "x_mm is '1_0'"),
        ("number,x_mm,y_mm\n1,0,\n", "line 2", "y_mm is missing"),
        ("number,x_mm,y_mm\n1,0\n", "line 2", "2 values where 3"),
        ("number,x_mm,y_mm\n1,0,5,10,5\n", "line 2", "5 values under 3"),
        ("number,x_mm,y_mm\n1.5,0,0\n", "line 2", "'1.5' is not a fastener number"),
        ("number,x_mm,y_mm\n0,0,0\n", "line 2", "'0' is not a fastener number"),
        ("number,x_mm,y_mm\n1,0,0\n1,5,0\n", "line 3", "given before, in line 2"),
        ("number,x_mm,y_mm\n1,0,2e9\n", "line 2", "beyond"),
        ('number,x_mm,y_mm\n1,"0,2\n', "line 2", "split into columns"),
        (b"number,x_mm,y_mm\n1,0,\xff\xe9\n", "line 2", "UTF-8"),
    ],
)
def test_faults_in_a_table_are_located(tmp_path: Path, text, where: str, says: str) -> None:
    with pytest.raises(Trouble) as caught:
        read_points(write(tmp_path, text))
    assert where in caught.value.where
    assert says in caught.value.what
    assert caught.value.next


def test_a_table_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="no such file"):
        read_points(tmp_path / "none.csv")
    with pytest.raises(Trouble, match="cannot be read"):
        read_points(tmp_path)
