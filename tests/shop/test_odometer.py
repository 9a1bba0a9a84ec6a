"""What the odometer shows, typed in the ways people type it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import UnitTrouble
from shopguide.shop.odometer import read_odometer


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("123456 km", "123456 km"),
        ("123 456 km", "123456 km"),
        ("123.456km", "123456 km"),
        ("123,456 miles", "123456 mi"),
        ("76'700 mi", "76700 mi"),
        ("820 h", "820 h"),
        ("820 hours", "820 h"),
        ("000123 km", "123 km"),
    ],
)
def test_it_is_read_with_its_unit(typed, kept):
    assert read_odometer(typed) == kept


@pytest.mark.parametrize("typed", ["123456", "km", "12.5 km", "-5 km", "12,34,56 km", "9 N·m"])
def test_a_bare_or_odd_figure_is_asked_about(typed):
    with pytest.raises(UnitTrouble, match="cannot be read as what the odometer shows"):
        read_odometer(typed)


@given(st.integers(0, 10**7), st.sampled_from(["km", "mi", "h"]))
def test_a_tidy_reading_reads_to_itself(figure, unit):
    assert read_odometer(f"{figure} {unit}") == f"{figure} {unit}"
