"""Drawings: nothing overlaps, nothing leaves the canvas, every state has a form of its own.

The geometry is checked by sampling points along the shapes, not with the code under test.
"""

from __future__ import annotations

import math
import random
import time
from itertools import combinations, pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from shopguide.bolts.drawing import (
    Circle,
    Drawing,
    HeadState,
    Label,
    Polygon,
    Stroke,
    draw_pattern,
)
from shopguide.bolts.order import find_order
from shopguide.bolts.pattern import Circle as Round
from shopguide.bolts.pattern import Fastener, Grid, Pattern, Rectangle

SUMP = [
    (-158, 92), (-96, 104), (-30, 110), (36, 111), (98, 102), (146, 84), (160, 30), (154, -26),
    (146, -74), (100, -106), (44, -104), (-12, -103), (-66, -112), (-122, -104), (-152, -52),
    (-164, 18),
]  # fmt: skip
SIZES = [(600, 400), (800, 540), (1600, 1000), (600, 600)]
ON_HEADS = {"mark", "mark hollow", "struck", "loose"}


def pattern_of(points, outline=True, extra=(), **more) -> Pattern:
    fasteners = [Fastener(number=i + 1, x_mm=x, y_mm=y) for i, (x, y) in enumerate(points)]
    return Pattern(
        name="p",
        title="p",
        fasteners=(*fasteners, *extra),
        outline=tuple(points) if outline else (),
        **more,
    )


def wavy(count: int) -> list[tuple[float, float]]:
    points = []
    for i in range(count):
        a = -math.tau * i / count
        radius = 300 * (1 + 0.16 * math.sin(3 * a + 0.4) + 0.07 * math.sin(5 * a))
        points.append((1.3 * radius * math.cos(a), radius * math.sin(a)))
    return points


ALONE = (
    Fastener(number=30, x_mm=-70, y_mm=20, use="do not touch", head="nut"),
    Fastener(number=31, x_mm=70, y_mm=0, use="leave loose"),
)
FEW = {
    "sump": pattern_of(SUMP),
    "sump with two left alone": pattern_of(SUMP, extra=ALONE),
    "two": pattern_of([(0, 0), (50, 20)], outline=False),
    "line": Pattern(name="l", title="l", grid=Grid(columns=7, rows=1, across_mm=60, down_mm=60)),
    "post": Pattern(name="l", title="l", grid=Grid(columns=1, rows=6, across_mm=60, down_mm=60)),
    "rectangle": Pattern(
        name="r", title="r", rectangle=Rectangle(width_mm=400, height_mm=200, along=7, up=4)
    ),
    "head": Pattern(name="g", title="g", grid=Grid(columns=6, rows=3, across_mm=80, down_mm=80)),
    "rows": Pattern(name="g", title="g", grid=Grid(columns=5, rows=2, across_mm=90, down_mm=100)),
    "wavy 24": pattern_of(wavy(24)),
    **{
        f"circle {n}": Pattern(name="c", title="c", circle=Round(count=n, diameter_mm=200))
        for n in (1, 3, 4, 5, 8, 12, 16, 20)
    },
}
MANY = {
    "wavy 40": pattern_of(wavy(40)),
    "wavy 80": pattern_of(wavy(80)),
    "wavy 120": pattern_of(wavy(120)),
    "circle 60": Pattern(name="c", title="c", circle=Round(count=60, diameter_mm=200)),
    "circle 120": Pattern(name="c", title="c", circle=Round(count=120, diameter_mm=200)),
    "block": Pattern(name="g", title="g", grid=Grid(columns=12, rows=6, across_mm=80, down_mm=80)),
}


def states_at(order, place: int) -> dict[int, HeadState]:
    """Second trip of the two-trip procedure, with `place` fasteners done and the next one due."""
    return {
        number: HeadState(
            strokes=(False, True) if k < place else (False,),
            done=k < place,
            due=k == place,
            departed=k in (1, 2),
        )
        for k, number in enumerate(order)
    }


def draw(pattern: Pattern, size, place: int, middle=("to torque", "7 of 16 done")) -> Drawing:
    order = find_order(pattern).numbers
    return draw_pattern(
        pattern, order, states_at(order, place), width=size[0], height=size[1], middle=middle
    )


# --- sampling -----------------------------------------------------------------------------------


def along(points, closed: bool, step: float = 1.0) -> np.ndarray:
    """Points at most a step apart on the line through the points."""
    ends = np.array([*points, points[0]] if closed else list(points), dtype=float)
    out = []
    for a, b in pairwise(ends):
        count = max(1, math.ceil(math.dist(a, b) / step))
        out.append(a + (b - a) * np.linspace(0, 1, count + 1)[:, None])
    return np.concatenate(out)


def rim(shape) -> np.ndarray:
    if isinstance(shape, Circle):
        turns = np.linspace(0, math.tau, max(16, math.ceil(7 * shape.radius)))
        return shape.radius * np.stack([np.cos(turns), np.sin(turns)], 1) + (shape.x, shape.y)
    return along(shape.points, isinstance(shape, Polygon))


def half_line(shape) -> float:
    if isinstance(shape, Stroke):
        return shape.width / 2
    return 0.0 if shape.filled else shape.width / 2


def labels_of(drawing: Drawing, *roles: str) -> list[Label]:
    return [s for s in drawing.shapes if isinstance(s, Label) and (not roles or s.role in roles)]


def numbers_of(drawing: Drawing) -> set[str]:
    return {label.text for label in labels_of(drawing, "number", "number soft", "number due")}


def faults(drawing: Drawing) -> list[str]:
    """Everything that overlaps or leaves the canvas, in words."""
    found = []
    labels = [(label, label.box()) for label in labels_of(drawing)]
    rims, heads = [], []
    for shape in drawing.shapes:
        if isinstance(shape, Label):
            left, top, right, bottom = shape.box()
        else:
            points, half = rim(shape), half_line(shape)
            (left, top), (right, bottom) = points.min(axis=0) - half, points.max(axis=0) + half
            if shape.role in ON_HEADS | {"head", "due", "leader", "flag"}:
                rims.append((shape.role, points, half, (left, top, right, bottom)))
            if shape.role in ON_HEADS | {"head"}:
                heads.append((points, (left, top, right, bottom)))
        if left < 0 or top < 0 or right > drawing.width or bottom > drawing.height:
            found.append(f"{shape.role} leaves the canvas")
    for (one, a), (other, b) in combinations(labels, 2):
        if meet(a, b):
            found.append(f"{one.text!r} on {other.text!r}")
    for role, points, half, around in rims:
        for label, box in labels:
            if not meet(around, box) or (role == "leader" and label.role == "number due"):
                continue
            if role == "leader" and label.text.startswith("no. "):
                continue
            inside = (points > np.array(box[:2]) - half) & (points < np.array(box[2:]) + half)
            if inside.all(axis=1).any():
                found.append(f"{label.text!r} on a {role}")
    for shape in drawing.shapes:
        if shape.role != "leader":
            continue
        ring = next(s for s in drawing.shapes if s.role == "due")
        line = along(shape.points, False)
        # What belongs to the due head is within its ring, where the leader does not go.
        line = line[np.hypot(*(line - (ring.x, ring.y)).T) > ring.radius]
        around = (*line.min(axis=0), *line.max(axis=0))
        for points, box in heads:
            if meet(around, (box[0] - 2, box[1] - 2, box[2] + 2, box[3] + 2)):
                gaps = np.hypot(*(line[:, None] - points[None]).transpose(2, 0, 1))
                if gaps.min() < shape.width / 2:
                    found.append("leader over a head")
    return found


def meet(a, b) -> bool:
    return bool(a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3])


# --- nothing overlaps ---------------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", FEW)
def test_every_number_is_there_and_touches_nothing(name: str, size) -> None:
    pattern = FEW[name]
    count = len(pattern.tightened)
    for place in range(0, count, 1 if size == SIZES[0] else 2):
        drawing = draw(pattern, size, place)
        assert faults(drawing) == [], (name, size, place)
        assert numbers_of(drawing) == {str(k + 1) for k in range(count)}
        assert drawing.every == 1


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", MANY)
def test_with_many_fasteners_fewer_numbers_but_none_touching(name: str, size) -> None:
    pattern = MANY[name]
    order = find_order(pattern).numbers
    count = len(order)
    for place in (1, count // 3, count - 1):
        drawing = draw(pattern, size, place)
        assert faults(drawing) == [], (name, size, place)
        shown = numbers_of(drawing)
        assert str(place + 1) in shown
        assert len(shown) >= min(count / drawing.every, 8) - 4
        least = min(18.0, 11.0 * size[0] / 600)
        assert all(label.size >= least for label in labels_of(drawing))


def test_all_numbers_come_where_there_is_room_for_them() -> None:
    assert draw(MANY["wavy 40"], (600, 400), 3).every == 1
    assert draw(MANY["circle 60"], (1600, 1000), 3).every == 1
    assert draw(MANY["wavy 120"], (600, 400), 3).every > 1


clouds = st.lists(
    st.tuples(st.integers(-200, 200), st.integers(-120, 120)), min_size=1, max_size=30, unique=True
)


@given(clouds, st.integers(300, 1600), st.integers(250, 1000), st.integers(0, 29))
@settings(max_examples=40, deadline=None)
def test_any_cloud_of_fasteners_stays_on_the_canvas_and_untangled(points, w, h, place) -> None:
    drawing = draw(pattern_of(points, outline=False), (w, h), place % len(points))
    wrong = [f for f in faults(drawing) if "leader" not in f and "flag" not in f]
    assert wrong == []
    assert all(s.radius > 0 for s in drawing.shapes if isinstance(s, Circle))


def test_the_middle_is_dropped_and_said_where_there_is_no_room() -> None:
    roomy = draw(FEW["sump"], (800, 540), 3)
    assert roomy.middle_fits
    assert [label.text for label in labels_of(roomy, "middle strong", "middle")] == [
        "to torque",
        "7 of 16 done",
    ]
    tight = draw(FEW["head"], (600, 400), 3)
    assert not tight.middle_fits
    assert labels_of(tight, "middle strong", "middle") == []
    assert draw(FEW["head"], (600, 400), 3, middle=()).middle_fits


# --- what is written ----------------------------------------------------------------------------


def test_numbers_keep_their_places_while_work_goes_on() -> None:
    def places(place: int) -> dict[str, tuple[float, float]]:
        return {
            label.text: (label.x, label.y)
            for label in labels_of(draw(FEW["sump"], (800, 540), place), "number", "number soft")
        }

    first = places(0)
    for place in range(1, 16):
        now = places(place)
        assert all(first[text] == spot for text, spot in now.items() if text in first)


def test_the_due_number_is_much_larger_and_says_the_manuals_number() -> None:
    order = find_order(FEW["sump"]).numbers
    drawing = draw(FEW["sump"], (800, 540), 6)
    (due,) = labels_of(drawing, "number due")
    assert due.text == "7"
    others = labels_of(drawing, "number", "number soft")
    assert due.size >= 2 * max(label.size for label in others)
    assert due.size >= 72
    assert f"no. {order[6]}" in [label.text for label in labels_of(drawing, "note")]
    same = draw_pattern(FEW["sump"], range(1, 17), {7: HeadState(due=True)}, width=800, height=540)
    assert labels_of(same, "note") == []


def test_done_numbers_are_dark_and_bold_others_soft() -> None:
    drawing = draw(FEW["circle 8"], (600, 400), 3)
    assert {label.text for label in labels_of(drawing, "number")} == {"1", "2", "3"}
    assert {label.weight for label in labels_of(drawing, "number")} == {"bold"}
    assert {label.text for label in labels_of(drawing, "number soft")} == {"5", "6", "7", "8"}


def test_own_numbers_instead_of_places() -> None:
    drawing = draw_pattern(
        FEW["circle 8"], (3, 1, 2, 4, 5, 6, 7, 8), {}, width=600, height=400, show="number"
    )
    first = next(label for label in labels_of(drawing) if label.text == "1")
    _, x, y, _ = drawing.hits[0]
    assert math.dist((first.x, first.y), (x, y)) == min(
        math.dist((first.x, first.y), hit[1:3]) for hit in drawing.hits
    )


def test_each_number_is_nearest_to_its_own_head() -> None:
    for name in ("sump", "circle 16", "rectangle", "wavy 24"):
        pattern = FEW[name]
        order = find_order(pattern).numbers
        drawing = draw(pattern, (800, 540), len(order) - 1)
        seats = {number: (x, y) for number, x, y, _ in drawing.hits}
        for label in labels_of(drawing, "number"):
            near = min(seats, key=lambda n: math.dist(seats[n], (label.x, label.y)))
            assert order[int(label.text) - 1] == near


def test_what_is_left_alone_has_no_number_but_words() -> None:
    drawing = draw(FEW["sump with two left alone"], (800, 540), 0)
    assert numbers_of(drawing) == {str(k) for k in range(1, 17)}
    notes = {label.text for label in labels_of(drawing, "note")}
    assert {"not to be touched", "left loose"} <= notes
    assert {"struck", "loose"} <= {shape.role for shape in drawing.shapes}


def test_sparse_numbers_include_the_due_one_and_what_comes_next() -> None:
    pattern = MANY["wavy 120"]
    with_next = 0
    for place in range(3, 118, 9):
        drawing = draw(pattern, (600, 400), place)
        assert drawing.every == 5
        shown = numbers_of(drawing)
        assert str(place + 1) in shown
        with_next += str(place + 2) in shown
    # The large number of the due one may stand where the next one's would go.
    assert with_next >= 11


def test_a_click_finds_the_nearest_fastener() -> None:
    drawing = draw(FEW["sump"], (800, 540), 2)
    for number, x, y, radius in drawing.hits:
        assert drawing.number_at(x + 0.3 * radius, y) == number
    assert drawing.number_at(400, 270) is None


def test_the_drawing_keeps_the_shape_of_the_joint() -> None:
    drawing = draw(FEW["sump"], (800, 540), 2)
    seats = {number: (x, y) for number, x, y, _ in drawing.hits}
    scale = math.dist(seats[1], seats[9]) / math.dist(SUMP[0], SUMP[8])
    for a, b in combinations(range(1, 17), 2):
        wanted = scale * math.dist(SUMP[a - 1], SUMP[b - 1])
        assert math.dist(seats[a], seats[b]) == pytest.approx(wanted)
    assert seats[2][1] < seats[13][1]  # y grows downwards on the canvas


def test_the_same_drawing_twice() -> None:
    assert draw(FEW["sump"], (640, 480), 4) == draw(FEW["sump"], (640, 480), 4)


# --- states by shape ----------------------------------------------------------------------------


def ink(drawing: Drawing, x: float, y: float, half: int = 62) -> np.ndarray:
    """Black and white around a point: heads, marks, rings and flags, no numbers, no band."""
    grow = 2
    image = Image.new("1", (2 * half * grow, 2 * half * grow), 1)
    pen = ImageDraw.Draw(image)

    def at(point):
        return ((point[0] - x + half) * grow, (point[1] - y + half) * grow)

    for shape in drawing.shapes:
        if isinstance(shape, Label) or shape.role in ("band", "leader"):
            continue
        color = 1 if shape.role == "head fill" else 0
        wide = max(1, round(getattr(shape, "width", 1) * grow))
        if isinstance(shape, Stroke):
            pen.line([at(p) for p in shape.points], color, wide)
        elif isinstance(shape, Polygon):
            corners = [at(p) for p in shape.points]
            if shape.filled:
                pen.polygon(corners, color)
            else:
                pen.line([*corners, corners[0]], color, wide)
        else:
            r = shape.radius + (0 if shape.filled else shape.width / 2)
            box = [at((shape.x - r, shape.y - r)), at((shape.x + r, shape.y + r))]
            if shape.filled:
                pen.ellipse(box, color)
            else:
                pen.ellipse(box, None, color, wide)
    return np.array(image)


STROKES = [
    (), (True,), (False,), (True, True), (False, True), (False, False), (True, True, True),
    (False, False, True), (True,) * 4,
]  # fmt: skip
EVERY_STATE = [
    HeadState(strokes, snug, done, due, departed)
    for strokes, snug, done, due, departed in product(STROKES, *[(False, True)] * 4)
]


def test_every_pair_of_states_differs_in_black_and_white() -> None:
    plain = Pattern(name="c", title="c", circle=Round(count=6, diameter_mm=100))
    pictures = {}
    for state in EVERY_STATE:
        drawing = draw_pattern(plain, range(1, 7), {1: state}, width=600, height=400)
        _, x, y, _ = drawing.hits[0]
        pictures[state] = ink(drawing, x, y)
    for use in ("do not touch", "leave loose"):
        fasteners = [
            f.model_copy(update={"use": use} if f.number == 1 else {}) for f in plain.placed
        ]
        alone = Pattern(name="c", title="c", fasteners=tuple(fasteners))
        drawing = draw_pattern(alone, range(2, 7), {}, width=600, height=400)
        _, x, y, _ = drawing.hits[0]
        pictures[use] = ink(drawing, x, y)
    names = list(pictures)
    flat = np.stack([pictures[name].ravel() for name in names])
    for k, name in enumerate(names):
        differing = (flat[k] ^ flat[k + 1 :]).sum(axis=1)
        # 120 of the doubled pixels are 30 on the screen: a fifteenth of the head's own area.
        for other, count in zip(names[k + 1 :], differing, strict=True):
            assert count >= 120, (name, other, int(count))


def test_every_kind_of_head_has_its_own_form() -> None:
    kinds = ["hex", "socket", "torx", "cross", "slot", "nut", "stud", "other"]
    pictures = []
    for kind in kinds:
        one = Pattern(name="c", title="c", circle=Round(count=6, diameter_mm=100), head=kind)
        drawing = draw_pattern(one, range(1, 7), {}, width=600, height=400)
        _, x, y, _ = drawing.hits[0]
        pictures.append(ink(drawing, x, y).ravel())
    for one, other in combinations(pictures, 2):
        assert (one ^ other).sum() >= 120


def test_strokes_are_longer_than_the_head_and_cross_each_other() -> None:
    drawing = draw_pattern(
        FEW["circle 8"], range(1, 9), {1: HeadState(strokes=(True, True))}, width=600, height=400
    )
    _, x, y, _ = drawing.hits[0]
    head = next(s for s in drawing.shapes if s.role == "head")
    radius = max(math.dist((x, y), p) for p in head.points)
    first, second = (s for s in drawing.shapes if s.role == "mark")
    for stroke in (first, second):
        assert max(math.dist((x, y), p) for p in stroke.points) > 1.4 * radius

    def rises(stroke: Polygon) -> bool:
        right = max(stroke.points)
        return right[1] < y

    assert rises(first)
    assert not rises(second)


# --- speed --------------------------------------------------------------------------------------


def test_redrawing_120_fasteners_is_quick() -> None:
    pattern = MANY["wavy 120"]
    order = find_order(pattern).numbers
    taken = []
    for place in random.Random(1).sample(range(120), 15):
        states = states_at(order, place)
        began = time.process_time()
        draw_pattern(pattern, order, states, width=810, height=540)
        taken.append(time.process_time() - began)
    assert sorted(taken)[7] < 0.020
