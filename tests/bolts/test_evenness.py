"""The forecast in words and shapes: it says what its figures bear out, and all is on the canvas."""

from __future__ import annotations

import json
import math
import subprocess
import sys

import pytest

from shopguide.bolts.evenness import (
    EVEN,
    Evenness,
    find_shares,
    forecast_evenness,
    read_torques_nm,
    tell_share,
    tell_spread,
)
from shopguide.bolts.evenness_drawing import draw_evenness
from shopguide.bolts.joints import TYPICAL_JOINTS, choose_joint, read_diameter_mm
from shopguide.bolts.order import find_order
from shopguide.bolts.passes import SCHEDULES, Pass
from shopguide.bolts.pattern import Circle, Fastener, Grid, Pattern, Rectangle
from shopguide.bolts.shapes import Circle as Disc
from shopguide.bolts.shapes import Label, Polygon, Stroke
from shopguide.errors import Trouble
from shopguide.torque.spec import Spec
from shopguide.torque.units import Kind

STAGED = SCHEDULES["30/70/100 and around"]


def make_pan(**more: object) -> Pattern:
    shape = Rectangle(width_mm=400, height_mm=200, along=6, up=4)
    return Pattern(name="pan", title="Pan, 16 screws", rectangle=shape, thread="M6", **more)


def forecast_of(pattern: Pattern, passes: tuple[Pass, ...], **more: object) -> Evenness:
    return forecast_evenness(pattern, find_order(pattern).numbers, passes, **more)


@pytest.fixture(scope="module")
def staged() -> Evenness:
    return forecast_of(make_pan(), STAGED)


@pytest.fixture(scope="module")
def once() -> Evenness:
    return forecast_of(make_pan(), SCHEDULES["torque"])


def test_every_step_is_there_to_be_scrubbed(staged: Evenness) -> None:
    assert len(staged.moments) == 1 + 4 * 16
    assert [m.number for m in staged.moments[1:17]] == list(staged.order)
    assert [m.place for m in staged.moments[1:17]] == list(range(1, 17))
    assert [m.trip for m in staged.moments[1::16]] == [0, 1, 2, 3]
    first = staged.moments[1]
    assert first.loads[staged.edge.index(first.number)] == pytest.approx(0.3)


def test_the_outcome_is_that_of_the_last_moment(staged: Evenness) -> None:
    last = staged.moments[-1]
    assert staged.chosen.least == last.least == min(last.loads)
    assert staged.chosen.scatter == pytest.approx(last.scatter)
    assert staged.edge[last.loads.index(last.least)] == staged.chosen.least_number


def test_one_more_pass_is_more_even_and_around_cocks_more(staged: Evenness) -> None:
    assert staged.one_more.scatter < staged.chosen.scatter
    assert staged.around.tilt > 1.5 * staged.chosen.tilt


def test_further_passes_are_counted(once: Evenness) -> None:
    assert once.chosen.least < EVEN
    assert once.further is not None and once.further >= 1
    more = (*SCHEDULES["torque"], *(Pass(kind="torque", way="around"),) * once.further)
    assert forecast_of(make_pan(), more).further == 0
    if once.further > 1:
        assert forecast_of(make_pan(), more[:-1]).further == 1


def test_more_than_twelve_passes_are_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shopguide.bolts.evenness.EVEN", 1.01)
    found = forecast_of(make_pan(), SCHEDULES["torque"])
    assert found.further is None
    assert "More than 12 further passes around" in found.tell_further()


# --- words ----------------------------------------------------------------------------------------


def test_the_words_say_what_is_left_out_and_that_nothing_was_measured(staged: Evenness) -> None:
    said = " ".join(staged.tell())
    for words in (
        "bending of plate and screws",
        "heat",
        "friction beyond its band",
        "Typical figures, not measured",
        "no pass takes that away",
    ):
        assert words in said


def test_the_star_is_never_said_to_make_it_even(staged: Evenness, once: Evenness) -> None:
    for found in (staged, once):
        said = found.tell_lesson()
        assert said.startswith("Passes even out the load; the order keeps the part from cocking.")
        assert ("The order by itself does not make the load even." in said) == (
            found.around.scatter < found.chosen.scatter
        )
    assert "does not make the load even" in once.tell_lesson()


def test_what_the_figures_do_not_bear_out_is_not_said() -> None:
    # Going around anyway: the order keeps nothing from cocking.
    found = forecast_of(make_pan(), (Pass(kind="torque", way="around"),) * 2)
    assert found.around.tilt == pytest.approx(found.chosen.tilt)
    assert "cocking" not in found.tell_lesson()


def test_screws_are_called_as_the_drawing_calls_them(once: Evenness) -> None:
    number = next(n for k, n in enumerate(once.order, 1) if n != k)
    place = once.order.index(number) + 1
    assert once.tell_name(number) == f"screw {place} (no. {number})"
    nuts = forecast_of(make_pan(fastener_word="nut"), SCHEDULES["torque"])
    assert nuts.tell_name(nuts.order[0]).startswith("nut 1")


def test_moments_in_words(staged: Evenness) -> None:
    assert staged.tell_moment(0) == "all screws by hand"
    assert staged.tell_moment(17) == "pass 2 of 4, to 70 % of torque · 1 of 16"
    assert staged.tell_screw(0) == ""
    assert staged.tell_screw(17).endswith("turned, to 70 %")
    clicked = next(k for k, m in enumerate(staged.moments) if m.number and not m.turned)
    assert "clicks at once" in staged.tell_screw(clicked)


def test_shares_are_never_rounded_up_to_the_target() -> None:
    assert tell_share(0.9499) == "94 %"
    assert tell_share(0.95) == "95 %"
    assert tell_share(1.0) == "100 %"
    assert tell_spread(0.004) == "under 1 %"
    assert tell_spread(0.0977) == "10 %"
    assert tell_spread(0.0) == "0 %"


def test_the_forecast_as_plain_data(staged: Evenness) -> None:
    told = json.loads(json.dumps(staged.as_dict()))
    assert sorted(map(int, told["loads"])) == list(range(1, 17))
    assert told["chosen"]["least_share"] == pytest.approx(staged.chosen.least, abs=1e-4)
    assert told["assumed"]["source"] == "typical, not measured; assumed"


def test_friction_is_that_of_the_condition_named() -> None:
    oiled = forecast_of(make_pan(condition="oiled"), SCHEDULES["torque"])
    assert "K 0.10 to 0.26, oiled" in oiled.tell_friction()
    strange = forecast_of(make_pan(condition="polished by moonlight"), SCHEDULES["torque"])
    assert strange.condition.name == "condition not known"
    assert oiled.friction.scatter > 0.1


# --- passes ---------------------------------------------------------------------------------------


def test_shares_of_passes() -> None:
    assert find_shares(STAGED) == pytest.approx([0.3, 0.7, 1.0, 1.0])
    assert find_shares(SCHEDULES["snug, 30/70/100 and check"])[0] == pytest.approx(0.08)
    angle = (Pass(kind="torque"), Pass(kind="angle", spec="a"), Pass(kind="angle", spec="a"))
    assert find_shares(angle) == pytest.approx([0.5, 0.75, 1.0])


def test_passes_to_different_torques_are_told_apart() -> None:
    passes = (Pass(kind="torque", spec="low"), Pass(kind="torque", spec="high"))
    specs = [
        Spec(name="low", kind=Kind.TORQUE, value="5 N·m"),
        Spec(name="high", kind=Kind.TORQUE, value="10 N·m"),
    ]
    assert read_torques_nm([*specs, None]) == pytest.approx([5.0, 10.0, None])
    assert find_shares(passes, read_torques_nm(specs)) == pytest.approx([0.5, 1.0])


def test_only_a_snug_pass_is_its_own_target() -> None:
    assert find_shares((Pass(kind="snug"),)) == pytest.approx([1.0])
    found = forecast_of(make_pan(), (Pass(kind="snug"),))
    assert found.moments[-1].loads[found.edge.index(found.order[-1])] == pytest.approx(1.0)
    assert "Snug is taken" not in found.tell_assumed()


def test_what_is_assumed_of_the_passes_is_said() -> None:
    said = forecast_of(make_pan(), SCHEDULES["snug, 30/70/100 and check"]).tell_assumed()
    assert "Snug is taken as 8 % of the target: assumed." in said
    waits = forecast_of(make_pan(), SCHEDULES["30/70/100, check, and check after 4 h"])
    assert "bed in by 8 µm" in waits.tell_assumed()
    assert "after 4 h" in waits.trips
    stood = waits.trips.index("after 4 h")
    at = next(k for k, m in enumerate(waits.moments) if m.trip == stood)
    assert sum(waits.moments[at].loads) < sum(waits.moments[at - 1].loads)


def test_backing_off_is_gone_through_and_leaves_the_last_pass() -> None:
    found = forecast_of(make_pan(), SCHEDULES["torque, back off, torque"])
    loose = [m for m in found.moments if m.trip == 1][-1]
    assert max(loose.loads) == pytest.approx(0.01)
    assert found.chosen.least > 0.3


# --- joints ---------------------------------------------------------------------------------------


def test_typical_joints_are_marked_as_such() -> None:
    for joint in TYPICAL_JOINTS:
        assert "not measured" in joint.source
        assert 0 < joint.torsion_mm4 < joint.rim_mm * joint.thick_mm**3 / 3
        assert joint.gasket_n_per_mm2 > 0


def test_a_square_strip_has_the_torsion_of_a_square() -> None:
    # From memory: 0.1406 a⁴ for a square (Saint-Venant).
    square = type(TYPICAL_JOINTS[0])("square", 70_000, 10, 10, 1, 10, 10, 1e5, 10, 7)
    assert square.torsion_mm4 == pytest.approx(0.1406 * 10**4, rel=0.01)


@pytest.mark.parametrize(
    ("thread", "diameter_mm"),
    [("M6", 6.0), ("M8x1", 8.0), ("m 3,5", 3.5), ("3/8-16", 9.525), ("#10-32", None), ("x", None)],
)
def test_the_diameter_is_read_off_the_thread(thread: str, diameter_mm: float | None) -> None:
    assert read_diameter_mm(thread) == pytest.approx(diameter_mm)


def test_the_joint_goes_with_the_thread() -> None:
    for thread, word in (
        (None, "M6"),
        ("M6", "M6"),
        ("M8", "M8"),
        ("M12", "M12"),
        ("3/8-16", "M8"),
    ):
        pattern = Pattern(
            name="p", title="P", circle=Circle(count=6, diameter_mm=90), thread=thread
        )
        assert choose_joint(pattern).name.endswith(word)


# --- what is refused ------------------------------------------------------------------------------


def make_line(count: int) -> Pattern:
    seats = tuple(Fastener(number=k + 1, x_mm=40.0 * k, y_mm=0.0) for k in range(count))
    return Pattern(name="p", title="Rail", fasteners=seats)


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        (make_line(1), "One screw has no rim"),
        (make_line(2), "2 screws have no rim"),
        (make_line(5), "on one line"),
        (
            Pattern(name="p", title="Head", grid=Grid(columns=5, rows=5, across_mm=90, down_mm=90)),
            "sit inside the rim",
        ),
    ],
)
def test_no_rim_gives_a_sentence(pattern: Pattern, said: str) -> None:
    with pytest.raises(Trouble, match=said) as caught:
        forecast_of(pattern, STAGED)
    assert caught.value.where == pattern.title
    assert caught.value.next


def test_passes_that_end_loose_or_are_none_give_a_sentence() -> None:
    with pytest.raises(Trouble, match="end loose"):
        forecast_of(make_pan(), SCHEDULES["loosen"])
    with pytest.raises(Trouble, match="no pass"):
        forecast_of(make_pan(), ())


def test_a_screw_inside_is_left_out_and_told() -> None:
    ring = Circle(count=8, diameter_mm=200).points()
    seats = [Fastener(number=k, x_mm=x, y_mm=y) for k, (x, y) in enumerate(ring, 1)]
    edge = tuple((f.x_mm * 1.01, f.y_mm * 1.01) for f in seats)
    seats.append(Fastener(number=9, x_mm=3.0, y_mm=4.0))
    pattern = Pattern(name="p", title="P", fasteners=tuple(seats), outline=edge)
    found = forecast_of(pattern, STAGED)
    assert found.left_out == (9,)
    assert "inside the rim: 9." in found.tell_model()
    assert 9 not in found.edge


def test_a_stopped_forecast_is_a_trouble() -> None:
    with pytest.raises(Trouble, match="was stopped"):
        forecast_of(make_pan(), STAGED, cancelled=lambda: True)


def test_importing_it_brings_no_numpy() -> None:
    code = (
        "import sys, shopguide.bolts.evenness, shopguide.bolts.evenness_drawing\n"
        "print('numpy' in sys.modules)"
    )
    answer = subprocess.run([sys.executable, "-c", code], capture_output=True, encoding="utf-8")
    assert answer.stdout.strip() == "False", answer.stderr


# --- drawing --------------------------------------------------------------------------------------


def boxes_of(drawing: object) -> list[tuple[float, float, float, float]]:
    boxes = []
    for shape in drawing.shapes:
        match shape:
            case Label():
                boxes.append(shape.box())
            case Disc():
                r = shape.radius
                boxes.append((shape.x - r, shape.y - r, shape.x + r, shape.y + r))
            case Stroke() | Polygon():
                xs, ys = zip(*shape.points, strict=True)
                boxes.append((min(xs), min(ys), max(xs), max(ys)))
    return boxes


@pytest.mark.parametrize("size", [(718.0, 430.0), (320.0, 240.0), (430.0, 718.0)])
@pytest.mark.parametrize("moment", [0, 5, 40, -1])
def test_nothing_is_drawn_outside_the_canvas(
    staged: Evenness, size: tuple[float, float], moment: int
) -> None:
    drawing = draw_evenness(staged, moment, width=size[0], height=size[1])
    for left, top, right, bottom in boxes_of(drawing):
        assert left >= -0.5 and top >= -0.5 and right <= size[0] + 0.5 and bottom <= size[1] + 0.5


def bars_of(drawing: object) -> list[Polygon]:
    """One a screw, in the sequence of the edge: the solid ones and the outlines of the others."""
    shapes = [s for s in drawing.shapes if isinstance(s, Polygon) and len(s.points) == 4]
    bars = [s for s in shapes if s.role == "number" or (s.role == "head" and not s.filled)]
    return bars[:-2]  # without the two in the explanation


def long_of(bar: Polygon) -> float:
    return math.dist(bar.points[0], bar.points[1])


def test_bars_are_as_long_as_their_loads(once: Evenness) -> None:
    drawing = draw_evenness(once, width=718, height=430)
    bars = bars_of(drawing)
    loads = once.moments[-1].loads
    assert len(bars) == 16
    target = long_of(bars[loads.index(max(loads))]) / max(loads)
    assert [long_of(bar) for bar in bars] == pytest.approx([target * x for x in loads], rel=1e-6)


def test_up_to_target_is_told_by_shape_and_not_by_colour(once: Evenness) -> None:
    bars = bars_of(draw_evenness(once, width=718, height=430))
    loads = once.moments[-1].loads
    assert [bar.filled for bar in bars] == [x >= EVEN for x in loads]
    assert {True, False} == {bar.filled for bar in bars}


def test_the_accent_is_for_witness_marks_alone(once: Evenness) -> None:
    for moment in (0, 3, -1):
        roles = {s.role for s in draw_evenness(once, moment, width=718, height=430).shapes}
        assert not roles & {"mark", "mark hollow"}


def test_the_wrench_has_a_double_ring(once: Evenness) -> None:
    with_ring = draw_evenness(once, 3, width=718, height=430)
    rings = [s for s in with_ring.shapes if s.role == "due"]
    assert len(rings) == 2
    assert not [
        s for s in draw_evenness(once, 3, width=718, height=430, wrench=False).shapes
        if s.role == "due"
    ]  # fmt: skip


def test_the_least_loaded_screw_has_its_share_beside_it(once: Evenness) -> None:
    drawing = draw_evenness(once, width=718, height=430)
    (label,) = [s for s in drawing.shapes if s.role == "number due"]
    assert label.text == tell_share(once.chosen.least)


@pytest.mark.parametrize("count", [3, 16, 60, 120])
def test_numbers_do_not_touch_at_any_count(count: int) -> None:
    shape = Circle(count=count, diameter_mm=max(80.0, 20.0 * count))
    found = forecast_of(Pattern(name="p", title="P", circle=shape), SCHEDULES["torque"])
    drawing = draw_evenness(found, 0, width=718, height=430)
    boxes = [
        s.box() for s in drawing.shapes if isinstance(s, Label) and s.role.startswith("number")
    ]
    for k, a in enumerate(boxes):
        for b in boxes[:k]:
            # As high as figures are, which is a good deal less than the font's size.
            low = 0.1 * 18
            assert (
                a[0] >= b[2]
                or b[0] >= a[2]
                or a[1] + low >= b[3] - low
                or (b[1] + low >= a[3] - low)
            )
    assert all(s.size >= 18 for s in drawing.shapes if isinstance(s, Label))
