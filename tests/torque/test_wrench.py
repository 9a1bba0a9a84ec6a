"""Which wrench serves, what it is set to, how near that comes, and what is said of it."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import Trouble
from shopguide.torque import units
from shopguide.torque.adapter import read_adapter
from shopguide.torque.calibration import look_at_calibration, read_date
from shopguide.torque.wrench import (
    ALWAYS_SIX,
    CLASSES,
    WrenchFacts,
    choose_wrench,
    find_deviation,
    set_wrench,
)

DAY = date(2026, 6, 1)
SMALL = {
    "name": "small click wrench",
    "low": "2 N·m",
    "high": "25 N·m",
    "lever": "300 mm",
    "due": "2027-03-01",
}
HALF_INCH = {"name": "half-inch wrench", "low": "20 N·m", "high": "200 N·m", "due": "2027-03-01"}
INCH = {
    "name": "inch wrench",
    "low": "30 lbf·in",
    "high": "200 lbf·in",
    "resolution": "1 lbf·in",
    "due": "2027-03-01",
}
CROW_FOOT = read_adapter({"length": "30 mm", "angle": "0°", "kind": "crow-foot"})


def torque(text: str) -> units.Amount:
    return units.read(text, units.Kind.TORQUE)


def choose(*wrenches, text: str = "9 N·m", adapter=None, on: date = DAY):
    return choose_wrench(wrenches, torque(text), adapter, on=on)


def set_one(data: dict, text: str = "9 N·m", adapter=None, on: date = DAY):
    return set_wrench(WrenchFacts.from_dict(data), torque(text), adapter, on=on)


# --- setting and band -----------------------------------------------------------------------


def test_the_torque_itself_stays_as_printed() -> None:
    found = set_one(SMALL, "9.25 N·m")
    assert found.text == "9.25 N·m"
    assert found.at_screw_nm == pytest.approx(9.25)


def test_with_a_crow_foot() -> None:
    found = set_one(SMALL, adapter=CROW_FOOT)
    assert found.exact == pytest.approx(9 * 300 / 330)
    assert found.text == "8.2 N·m"
    assert found.at_screw_nm == pytest.approx(8.2 * 1.1)
    assert found.tell_band() == "8.67 N·m to 9.40 N·m"
    assert found.tell_set() == "Set 8.2 N·m on the small click wrench with the 30 mm crow-foot"
    assert "resolution is not given" in found.tell()


def test_on_a_scale_in_another_unit_rounded_to_its_resolution() -> None:
    found = set_one(INCH)
    assert (found.text, found.figure) == ("80 lbf·in", 80)
    assert found.exact == pytest.approx(79.6567, abs=1e-4)
    assert found.tell_band().endswith("N·m")
    coarse = set_one({**INCH, "resolution": "5 lbf·in"}, "9.3 N·m")
    assert coarse.text == "80 lbf·in" and "nearest of its marks to 82.3 lbf·in" in coarse.note


def test_the_scale_may_differ_from_the_unit_of_its_maximum() -> None:
    assert set_one({**SMALL, "unit": "lbf·ft"}, "20 N·m").text == "15.0 lbf·ft"


@given(st.floats(2, 25), st.sampled_from(["0.1 N·m", "0.25 N·m", "0.5 N·m", "1 N·m"]))
def test_a_setting_is_a_mark_and_the_nearest(figure: float, resolution: str) -> None:
    text = f"{figure:.3f} N·m"
    found = set_one({**SMALL, "resolution": resolution}, text)
    step = torque(resolution).value
    assert found.figure % step == 0
    assert abs(float(found.figure) - found.exact) <= float(step) / 2 + 1e-9
    assert found.low_nm < float(found.figure) < found.high_nm


def test_what_the_standard_permits() -> None:
    assert find_deviation(WrenchFacts.from_dict(SMALL)).tell() == "±4 %"
    assert "not given, taken as II A" in find_deviation(WrenchFacts.from_dict(SMALL)).source
    for type_, letters in CLASSES.items():
        for letter in letters:
            facts = WrenchFacts("w", torque("25 N·m"), iso_type=type_, iso_class=letter)
            share = 0.06 if (type_, letter) in ALWAYS_SIX else 0.04
            assert find_deviation(facts).share == share
            small = WrenchFacts("w", torque("10 N·m"), iso_type=type_, iso_class=letter)
            assert find_deviation(small).share == 0.06
            if (type_, letter) != ("II", "A"):
                assert "from memory" in find_deviation(facts).source


@pytest.mark.parametrize(
    ("known", "share", "said"),
    [
        ({}, 0.04, "type and class not given, taken as II A"),
        ({"iso_type": "II"}, 0.04, "class not given, taken as II A"),
        ({"iso_class": "G"}, 0.06, "type II class G"),
        ({"iso_type": "I"}, 0.06, "type I, class not given, the widest of its classes"),
    ],
)
def test_what_is_taken_where_type_or_class_is_not_given(known, share, said) -> None:
    found = find_deviation(WrenchFacts.from_dict({**SMALL, **known}))
    assert found.share == share and said in found.source


@pytest.mark.parametrize(
    ("known", "says"),
    [
        ({"iso_type": "III"}, '"III" is no type'),
        ({"iso_type": "I", "iso_class": "F"}, 'Type I has no class "F"'),
        ({"iso_class": "H"}, 'ISO 6789-1 has no class "H"'),
    ],
)
def test_an_unknown_type_or_class_is_a_sentence_and_no_default(known, says) -> None:
    choice = choose({**SMALL, **known})
    assert choice.best is None
    assert says in choice.refused[0][1]


def test_it_is_the_maximum_of_the_tool_that_counts_not_the_setting() -> None:
    assert set_one(SMALL, "5 N·m").deviation.share == 0.04
    assert set_one({**SMALL, "high": "10 N·m"}, "9 N·m").deviation.share == 0.06


# --- reach and warnings ---------------------------------------------------------------------


def test_below_the_lowest_mark() -> None:
    found = set_one(HALF_INCH)
    assert found.reach == "below its marks"
    assert "9 N·m lies below its lowest marked value, 20 N·m." in found.warnings


def test_an_adapter_can_push_a_setting_below_the_marks() -> None:
    wrench = {**SMALL, "low": "8.5 N·m"}
    assert set_one(wrench).reach == "reaches"
    assert set_one(wrench, adapter=CROW_FOOT).reach == "below its marks"


def test_above_the_highest_mark() -> None:
    found = set_one(SMALL, "25.1 N·m")
    assert found.reach == "above its marks"
    assert found.tell() == "The small click wrench ends at 25 N·m; 25.1 N·m is needed."
    assert set_one(SMALL, "25 N·m").reach == "reaches"
    assert set_one(SMALL, "2 N·m").reach == "reaches"


def test_an_unknown_lowest_mark_is_assumed_and_said() -> None:
    wrench = {"name": "old one", "high": "50 N·m", "due": "2027-03-01"}
    (said,) = set_one(wrench, "12 N·m").warnings
    assert said == (
        "Its lowest marked value is not known: 20 % of its maximum, 10 N·m, is assumed."
    )
    low = set_one(wrench, "9 N·m")
    assert low.reach == "below its marks"
    assert "is assumed, and 9 N·m lies below it." in low.warnings[0]


def test_below_a_fifth_of_the_maximum_is_said() -> None:
    (said,) = set_one(SMALL, "4 N·m").warnings
    assert "below 20 % of its maximum" in said and "2003" in said
    assert not set_one(SMALL, "5 N·m").warnings


def test_lever_length_missing() -> None:
    with pytest.raises(Trouble, match="lever length of the half-inch wrench is not known"):
        set_one(HALF_INCH, "25 N·m", CROW_FOOT)


# --- which one ------------------------------------------------------------------------------


def test_the_only_one_that_reaches() -> None:
    choice = choose(HALF_INCH, SMALL)
    assert choice.best.wrench.name == "small click wrench"
    assert choice.why == "It is the only one that reaches this."
    assert [s.wrench.name for s in choice.settings] == ["half-inch wrench", "small click wrench"]


@pytest.mark.parametrize(
    ("one", "other", "text", "why"),
    [
        # (the first must serve best): a calibration in date, at least a fifth of the maximum, the
        # smaller permitted deviation, and last the nearer to 60 % of the maximum.
        ({**SMALL, "name": "good"}, {**SMALL, "due": "2026-01-01"}, "9 N·m", "calibration"),
        ({**SMALL, "name": "good"}, {**SMALL, "high": "60 N·m"}, "9 N·m", "below 20 %"),
        ({**SMALL, "name": "good"}, {**SMALL, "high": "10 N·m"}, "9 N·m", "±4 % is permitted"),
        ({**SMALL, "name": "good"}, {**SMALL, "high": "40 N·m"}, "9 N·m", "nearer to the middle"),
    ],
)
def test_why_one_serves_better(one, other, text: str, why: str) -> None:
    for wrenches in ((one, other), (other, one)):
        choice = choose(*wrenches, text=text)
        assert choice.best.wrench.name == "good"
        assert why in choice.why
        assert choice.why.startswith("It serves best: ") and choice.why in choice.tell()


def test_two_alike() -> None:
    choice = choose(SMALL, {**SMALL, "name": "second wrench"})
    assert choice.best.wrench.name == "small click wrench"
    assert choice.why == "The second wrench would serve as well."


def test_none_reaches_and_what_to_borrow() -> None:
    choice = choose(HALF_INCH, text="9 N·m")
    assert choice.best is None
    assert choice.borrow == (
        "None of the wrenches reaches it. Borrow one whose scale begins at 9 N·m or below and "
        "ends between 9 N·m and 45 N·m."
    )
    assert choice.tell() == choice.borrow


def test_what_to_borrow_with_an_adapter() -> None:
    choice = choose({**SMALL, "high": "8 N·m"}, adapter=CROW_FOOT)
    assert "With a lever as long as yours, 8.18 N·m is to be set" in choice.borrow
    unknown = choose(HALF_INCH, adapter=CROW_FOOT)
    assert unknown.best is None and "Measure that of your wrench first." in unknown.borrow
    assert unknown.refused[0][0] == "half-inch wrench"
    assert "lever length" in unknown.tell()


def test_what_it_advises_to_borrow_would_serve() -> None:
    for high in ("9 N·m", "20 N·m", "45 N·m"):
        lent = {"name": "lent", "low": "1 N·m", "high": high, "due": "2027-01-01"}
        found = choose(lent).best
        assert found is not None and not found.warnings


def test_a_wrench_whose_figures_cannot_be_read_is_told_of() -> None:
    choice = choose({"name": "odd", "low": "2", "high": "25 N·m"}, {"name": "bare"}, SMALL)
    assert choice.best.wrench.name == "small click wrench"
    assert [name for name, _ in choice.refused] == ["odd", "bare"]
    assert "has no unit" in choice.refused[0][1] and "missing" in choice.refused[1][1]


def test_old_records_keep_fewer_facts() -> None:
    facts = WrenchFacts.from_dict({"name": "w", "low": "2 N·m", "high": "25 N·m"})
    assert facts.scale == "N·m" and facts.lever is None and facts.least_nm() == 2


# --- calibration ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("calibrated", "due", "state", "says"),
    [
        ("", "2027-03-01", "in date", ""),
        ("2020-01-01", "2026-06-01", "in date", ""),
        ("", "2026-05-31", "past due", "was due 2026-05-31; the work is of 2026-06-01"),
        ("", "June 2026", "in date", ""),
        ("", "May 2026", "past due", "was due May 2026"),
        ("", "2026", "in date", ""),
        ("March 2026", "", "in date", ""),
        ("1 June 2025", "", "in date", ""),
        ("April 2025", "", "old", "12 months is usual (ISO 6789, from memory)"),
        ("", "", "not known", "When it was calibrated is not known."),
        ("in spring", "", "not known", "“in spring” is no date"),
        ("", "1/3/2027", "not known", "“1/3/2027” is no date"),
        ("2026-07-01", "", "not known", "after this work"),
    ],
)
def test_calibration_on_the_day_of_work(calibrated, due, state, says) -> None:
    found = look_at_calibration(calibrated, due, DAY)
    assert found.state == state
    assert says in found.warning and bool(found.warning) is bool(says)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026-02-03", (2026, 2, 3), (2026, 2, 3)),
        ("2026-02", (2026, 2, 1), (2026, 2, 28)),
        ("2/2028", (2028, 2, 1), (2028, 2, 29)),
        ("March 2026", (2026, 3, 1), (2026, 3, 31)),
        ("3 Mar 2026", (2026, 3, 3), (2026, 3, 3)),
        ("March 3, 2026", (2026, 3, 3), (2026, 3, 3)),
        ("3. 2. 2026", (2026, 2, 3), (2026, 2, 3)),
        ("2026", (2026, 1, 1), (2026, 12, 31)),
    ],
)
def test_dates_as_people_write_them(text: str, first, last) -> None:
    span = read_date(text)
    assert (span.first, span.last) == (date(*first), date(*last))


@pytest.mark.parametrize("text", ["", "1/3/2026", "2026-13-01", "31 February 2026", "soon", "0000"])
def test_what_is_no_date(text: str) -> None:
    assert read_date(text) is None
