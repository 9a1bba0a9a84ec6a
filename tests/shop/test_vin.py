"""What is said of a typed VIN."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.shop.vin import find_check_digit, look_at_vin

LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"


@given(st.text(LETTERS, min_size=17, max_size=17))
def test_the_found_digit_fits_and_no_other_does(text):
    digit = find_check_digit(text)
    for other in "0123456789X":
        vin = text[:8] + other + text[9:]
        assert (look_at_vin(vin).fits is True) is (other == digit)


@given(st.text(max_size=40))
def test_nothing_that_is_typed_breaks_it(text):
    finding = look_at_vin(text)
    assert finding.vin == "" or finding.told


def test_a_north_american_number_with_a_wrong_digit_is_told_which_it_should_be():
    finding = look_at_vin("1G4AH59H55G118341")
    assert finding.fits is False
    assert "should be 4, not 5" in finding.told


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1G4AH59H4", "9 characters"),
        ("IG4AH59H45G118341", "I is not used"),
        ("1O4AH59H45G11834Q", "O, Q is not used"),
    ],
)
def test_what_is_odd_is_said(text, said):
    finding = look_at_vin(text)
    assert finding.fits is None and said in finding.told


def test_spaces_hyphens_and_small_letters_do_not_matter():
    assert look_at_vin("1g4ah59h-4 5g118341").vin == "1G4AH59H45G118341"


def test_an_empty_entry_says_nothing():
    assert look_at_vin("  ").told == ""


@pytest.mark.parametrize("text", ["", "123", "1G4AH59H45G11834I"])
def test_what_cannot_have_a_digit_raises(text):
    with pytest.raises(ValueError):
        find_check_digit(text)
