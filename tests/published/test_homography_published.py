"""The mapping of four corners against figures and a closed form from elsewhere."""

from __future__ import annotations

import pytest

from shopguide.bolts.homography import fit, map_point


def test_nine_figures_as_printed_by_another_program():
    # Source: what OpenCV's getPerspectiveTransform prints for these corners, in single precision,
    # as quoted at the head of the tests of a public JavaScript port of that one function.
    corners = [(33, 582), (151, 579), (145, 702), (25, 703)]
    square = [(0, 0), (300, 0), (300, 300), (0, 300)]
    printed = (
        2.86405074e00, 1.89358727e-01, -2.04720453e02,
        7.10878995e-02, 2.79612405e00, -1.62969010e03,
        1.60734029e-04, 1.73337133e-04, 1.0,
    )  # fmt: skip
    # The printed figures carry single precision in their making: six digits agree, fewer in the
    # small ones of the last row.
    found = fit(list(zip(corners, square, strict=True)))
    assert found[:6] == pytest.approx(printed[:6], rel=2e-5)
    assert found[6:] == pytest.approx(printed[6:], rel=1e-4)


def test_a_quarter_turn():
    # Source: the reference matrix in the unit test of mexopencv's getPerspectiveTransform.
    pixels = [(0.0, 1.0), (1.0, 1.0), (1.0, 0.0), (0.25, 0.25)]
    places = [(1.0, 1.0), (1.0, 0.0), (0.0, 0.0), (0.25, 0.75)]
    found = fit(list(zip(pixels, places, strict=True)))
    assert found == pytest.approx((0, 1, 0, -1, 0, 1, 0, 0, 1), abs=1e-10)


@pytest.mark.parametrize(
    "corners",
    [
        [(10.0, 20.0), (410.0, 60.0), (380.0, 330.0), (40.0, 300.0)],
        [(0.0, 0.0), (4.0, 0.0), (3.0, 2.0), (1.0, 2.0)],
    ],
)
def test_the_closed_form_from_the_unit_square(corners):
    # Source: P. Heckbert, "Fundamentals of Texture Mapping and Image Warping" (1989), the mapping
    # of the unit square to a quadrilateral in closed form; from memory.
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = corners
    dx1, dx2, sx = x1 - x2, x3 - x2, x0 - x1 + x2 - x3
    dy1, dy2, sy = y1 - y2, y3 - y2, y0 - y1 + y2 - y3
    whole = dx1 * dy2 - dx2 * dy1
    g = (sx * dy2 - dx2 * sy) / whole
    h = (dx1 * sy - sx * dy1) / whole
    closed = (
        x1 - x0 + g * x1, x3 - x0 + h * x3, x0,
        y1 - y0 + g * y1, y3 - y0 + h * y3, y0,
        g, h, 1.0,
    )  # fmt: skip
    unit = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    found = fit(list(zip(unit, corners, strict=True)))
    assert found == pytest.approx(closed, rel=1e-9, abs=1e-9)


def test_the_middle_of_a_trapezium_lies_where_its_diagonals_cross():
    # Source: plane geometry; a mapping of this kind keeps straight lines straight. The diagonals
    # of this trapezium cross at two thirds of its height.
    corners = [(0.0, 0.0), (4.0, 0.0), (3.0, 2.0), (1.0, 2.0)]
    unit = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
    found = fit(list(zip(unit, corners, strict=True)))
    assert map_point(found, (0.5, 0.5)) == pytest.approx((2, 4 / 3))
