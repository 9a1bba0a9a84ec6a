"""The check digit of a VIN, against the regulation's own example and others."""

from __future__ import annotations

import pytest

from shopguide.shop.vin import find_check_digit, look_at_vin


def test_the_regulations_example() -> None:
    # Source: 49 CFR 565.15(c), the worked example: 1G4AH59H?5G118341 gives the sum 411, and 411
    # divided by 11 leaves 4.
    assert find_check_digit("1G4AH59H05G118341") == "4"
    assert look_at_vin("1G4AH59H45G118341").fits is True


@pytest.mark.parametrize(
    ("vin", "digit"),
    [
        # Source: an often printed example of the same rule; the sum is 351, the rest 10: X.
        ("1M8GDM9AXKP042788", "X"),
        # Source: the trivial case that descriptions of the rule give; the sum is 89, the rest 1.
        ("11111111111111111", "1"),
        # From memory: an example of the federal form; the sum is 314, the rest 6.
        ("1J9RP1A3?A1644345".replace("?", "0"), "6"),
    ],
)
def test_other_examples(vin: str, digit: str) -> None:
    assert find_check_digit(vin) == digit


def test_a_european_number_is_warned_about_and_never_refused() -> None:
    # ISO 3779 fixes 17 characters and no check digit (from memory); many makers outside North
    # America fill the place with Z.
    finding = look_at_vin("WVWZZZ1JZXW000001")
    assert finding.fits is None and "many makers outside North America" in finding.told
