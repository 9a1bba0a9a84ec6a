"""Pixels to mm: by one distance, by four corners, and what the residual and the ratio tell."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.bolts.homography import (
    BLANK,
    fit,
    guess_ratio,
    invert,
    map_point,
    pin_photo,
    set_scale,
    size_of_pixel_mm,
    sort_corners,
    straighten,
)
from shopguide.errors import Trouble

MIDDLE = (2000.0, 1500.0)


def photograph(point, *, focal_px=3000.0, away_mm=900.0, tilt_deg=25.0, turn_deg=15.0):
    """Where a camera tilted about two axes sees a point of the plane, in pixels."""
    x, y, z = point[0], -point[1], 0.0
    a, b = math.radians(tilt_deg), math.radians(turn_deg)
    y, z = y * math.cos(a) - z * math.sin(a), y * math.sin(a) + z * math.cos(a)
    x, z = x * math.cos(b) + z * math.sin(b), -x * math.sin(b) + z * math.cos(b)
    return (
        MIDDLE[0] + focal_px * x / (z + away_mm),
        MIDDLE[1] + focal_px * y / (z + away_mm),
    )


def corners_of(width, height):
    w, h = width / 2, height / 2
    return [(-w, h), (w, h), (w, -h), (-w, -h)]


def test_one_known_distance_sets_the_scale_and_the_origin():
    mapping = set_scale((100, 200), (100, 600), 120, (800, 600))
    assert map_point(mapping, (800, 600)) == pytest.approx((0, 0))
    assert map_point(mapping, (800, 500)) == pytest.approx((0, 30)), "up is up"
    assert size_of_pixel_mm(mapping, (3, 4)) == pytest.approx(0.3)


def test_a_second_distance_only_stretches_what_is_there():
    before = straighten([photograph(p) for p in corners_of(200, 120)], 200, 120, MIDDLE).to_mm
    a, b = photograph((-50, 10)), photograph((50, 10))
    after = set_scale(a, b, 110, MIDDLE, before)
    assert math.dist(map_point(after, a), map_point(after, b)) == pytest.approx(110)
    assert map_point(after, photograph((0, 0))) == pytest.approx((0, 0), abs=1e-6)


@pytest.mark.parametrize("distance_mm", [0, -5, math.inf, math.nan])
def test_no_distance_is_told(distance_mm):
    with pytest.raises(Trouble, match="no distance"):
        set_scale((0, 0), (100, 0), distance_mm, MIDDLE)


def test_two_clicks_in_one_place_are_told():
    with pytest.raises(Trouble, match="nearly one"):
        set_scale((10, 10), (11, 10), 50, MIDDLE)


def test_four_corners_straighten_everything_in_the_plane():
    found = straighten([photograph(p) for p in corners_of(200, 120)], 200, 120, MIDDLE)
    for point in [(0, 0), (90, -50), (-30, 44), (130, 90)]:
        assert map_point(found.to_mm, photograph(point)) == pytest.approx(point, abs=1e-6)
    assert found.residual_mm == found.worst_mm == 0
    assert found.by_scale_mm > 3, "without it the corners are off by millimetres"


@pytest.mark.parametrize("start", range(4))
@pytest.mark.parametrize("way", [1, -1])
def test_corners_may_be_clicked_from_any_and_either_way_round(start, way):
    pixels = [photograph(p) for p in corners_of(200, 120)]
    clicked = (pixels[start:] + pixels[:start])[::way]
    found = straighten(clicked, 200, 120, MIDDLE)
    assert map_point(found.to_mm, photograph((90, 50))) == pytest.approx((90, 50), abs=1e-6)


def test_further_points_make_a_residual():
    pixels = [photograph(p) for p in corners_of(200, 120)]
    x, y = photograph((20, 10))
    exact = straighten(pixels, 200, 120, MIDDLE, [((x, y), (20, 10))])
    assert exact.worst_mm < 1e-6
    off = straighten(pixels, 200, 120, MIDDLE, [((x + 8, y), (20, 10))])
    per_px = size_of_pixel_mm(off.to_mm, (x, y))
    assert 0 < off.residual_mm < off.worst_mm < 8 * per_px


def test_a_picture_taken_square_on_needs_no_straightening():
    pixels = [(1000, 1000), (3000, 1000), (3000, 2200), (1000, 2200)]
    found = straighten(pixels, 200, 120, MIDDLE)
    assert found.by_scale_mm == pytest.approx(0, abs=1e-9)
    assert found.ratio is None, "nor does it tell the shape"


@pytest.mark.parametrize(
    "corners",
    [
        [(0, 0), (100, 0), (100, 100)],
        [(0, 0), (100, 0), (200, 0), (100, 100)],
        [(0, 0), (100, 100), (100, 0), (0, 100)],
        [(0, 0), (100, 0), (30, 30), (0, 100)],
        [(5, 5)] * 4,
    ],
    ids=["three", "on one line", "crossed", "dented", "one place"],
)
def test_what_is_no_rectangle_is_told(corners):
    with pytest.raises(Trouble):
        sort_corners(corners)


@pytest.mark.parametrize("size", [(0, 100), (100, -1), (math.nan, 10)])
def test_a_rectangle_without_size_is_told(size):
    with pytest.raises(Trouble, match="no rectangle"):
        straighten([(0, 0), (100, 0), (100, 90), (0, 90)], *size, MIDDLE)


def test_a_mapping_that_leads_nowhere_is_told():
    with pytest.raises(Trouble, match="leads nowhere"):
        invert((1, 2, 0, 2, 4, 0, 0, 0, 1))


def test_three_points_are_too_few():
    with pytest.raises(Trouble, match="Four points"):
        fit([((0, 0), (0, 0)), ((1, 0), (1, 0)), ((1, 1), (1, 1))])


@given(
    tilt=st.floats(10, 40),
    turn=st.floats(10, 40),
    width=st.floats(60, 300),
    height=st.floats(60, 300),
)
def test_the_picture_itself_tells_the_shape_of_the_rectangle(tilt, turn, width, height):
    ring = [photograph(p, tilt_deg=tilt, turn_deg=turn) for p in corners_of(width, height)]
    ratio = guess_ratio(ring, MIDDLE)
    assert ratio is None or ratio == pytest.approx(width / height, rel=1e-6)


def test_the_shape_is_told_for_an_ordinary_slant():
    ring = [photograph(p) for p in corners_of(200, 120)]
    assert guess_ratio(ring, MIDDLE) == pytest.approx(200 / 120)


@given(st.tuples(st.floats(-900, 900), st.floats(-900, 900)))
def test_there_and_back(point):
    for mapping in (
        BLANK,
        straighten([photograph(p) for p in corners_of(200, 120)], 200, 120, MIDDLE).to_mm,
    ):
        pixel = map_point(invert(mapping), point)
        assert map_point(mapping, pixel) == pytest.approx(point, abs=1e-5)


TURN = math.radians(20)


def _seen(point, turn=TURN, tilt=0.0):
    """Where a camera sees a place in mm, in pixels with y down."""
    x, y = point
    u = 2.5 * (x * math.cos(turn) - y * math.sin(turn))
    v = -2.5 * (x * math.sin(turn) + y * math.cos(turn))
    w = 1 + tilt * u
    return (800 + u / w, 600 + v / w)


SEATS = [(-100, -60), (100, -60), (110, 60), (-90, 70), (0, 65), (30, -62)]


@pytest.mark.parametrize("count", [2, 3])
def test_a_photo_is_laid_under_two_known_places_or_three(count):
    found = pin_photo([(_seen(p), p) for p in SEATS[:count]])
    for place in SEATS:
        assert map_point(found.to_mm, _seen(place)) == pytest.approx(place, abs=1e-6)
    assert max(found.misses_mm) == 0


def test_four_known_places_straighten_and_a_fifth_tells_what_misses():
    pairs = [(_seen(p, tilt=2e-4), p) for p in SEATS]
    exact = pin_photo(pairs)
    assert map_point(exact.to_mm, _seen((7, 9), tilt=2e-4)) == pytest.approx((7, 9), abs=1e-6)
    (x, y), place = pairs[2]
    found = pin_photo([*pairs[:2], ((x + 20, y), place), *pairs[3:]])
    assert 1 < max(found.misses_mm) < 20


def test_places_that_are_one_lay_nothing():
    with pytest.raises(Trouble, match="stand apart"):
        pin_photo([((5, 5), (0, 0)), ((5, 5), (10, 0))])
    with pytest.raises(Trouble, match="one in mm"):
        pin_photo([((5, 5), (3, 3)), ((500, 5), (3, 3))])
    with pytest.raises(Trouble):
        pin_photo([((5, 5), (0, 0))])


def test_a_scale_in_round_figures_stays_round():
    assert set_scale((400, 600), (720, 600), 88, (800, 600)) == (
        0.275, 0, -220, 0, -0.275, 165, 0, 0, 1,
    )  # fmt: skip
