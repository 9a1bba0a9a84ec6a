"""Tightening orders against published and remembered rows; each row names what it rests on."""

from __future__ import annotations

import pytest

from shopguide.bolts.order import compute_order
from shopguide.bolts.pattern import Circle


def row(text: str) -> tuple[int, ...]:
    return tuple(int(number) for number in text.replace("/", "-").split("-"))


def order_of_circle(count: int) -> tuple[int, ...]:
    points = Circle(count=count, diameter_mm=240).points()
    return compute_order([(i + 1, x, y) for i, (x, y) in enumerate(points)])


STAR_ROWS = [
    # From memory: ASME PCC-1, legacy cross-pattern for a single tool.
    (4, "1-3-2-4", "from memory"),
    # From memory: the same table.
    (8, "1-5-3-7/2-6-4-8", "from memory"),
    # Seen printed on two trade pages about ASME PCC-1 flange bolting.
    (12, "1-7-4-10/2-8-5-11/3-9-6-12", "two trade pages on ASME PCC-1"),
    # From memory: ASME PCC-1, the same table as for 4 and 8.
    (16, "1-9-5-13/3-11-7-15/2-10-6-14/4-12-8-16", "from memory"),
]

WHEEL_ROWS = [
    # Road wheels: common practice, no source. Mirrored and turned rows do the same.
    (4, "1-3-2-4", "common practice, no source"),
    (5, "1-3-5-2-4", "common practice, no source"),
    # 1A Auto repair text for six studs: across, diagonal, across, diagonal, across.
    (6, "1-4-2-5-3-6", "1A Auto, six-stud wheel text"),
    (8, "1-5-3-7-2-6-4-8", "common practice, no source"),
]


@pytest.mark.parametrize(("count", "printed", "source"), STAR_ROWS + WHEEL_ROWS)
def test_star_rows(count: int, printed: str, source: str) -> None:
    assert order_of_circle(count) == row(printed), source


@pytest.mark.parametrize("count", [6, 12, 16, 20, 24])
def test_opposite_pairs_follow_each_other(count: int) -> None:
    # Common practice, no source: the bolt across comes right after its partner.
    order = order_of_circle(count)
    for first, second in zip(order[::2], order[1::2], strict=True):
        assert abs(first - second) == count // 2


def test_a_head_is_tightened_from_the_middle_outwards() -> None:
    # Factory texts for cylinder heads (Suzuki 2007, Infiniti VQ35DE 2008): "numerical order in
    # the figure", the figures going from the middle out. Rows differ; the direction is checked.
    head = [(i + 1, i * 90.0, 100.0) for i in range(5)]
    head += [(i + 6, 360.0 - i * 90.0, 0.0) for i in range(5)]
    seats = {number: x for number, x, _ in head}
    reach = [abs(seats[number] - 180) for number in compute_order(head)]
    assert reach == sorted(reach)
    assert reach[:2] == [0, 0]
