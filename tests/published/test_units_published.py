"""Unit factors against outside sources; each row names where its figure was read."""

from __future__ import annotations

import pytest
import scipy.constants as sc

from shopguide.torque import units

# NIST Special Publication 811 (2008), Appendix B.8, "Factors for units listed alphabetically":
# seven digits each. The rows were read in published copies of B.8 (the data file of the R
# package NISTunits, which names B.8 as its source; the torque and pressure rows also in a second
# one), not in the booklet. The row's name in B.8 stands beside each.
SP_811 = [
    ("1 lbf·ft", "N·m", 1.355818, "pound-force foot (lbf · ft)"),
    ("1 lbf·in", "N·m", 0.1129848, "pound-force inch (lbf · in)"),
    ("1 ozf·in", "N·m", 7.061552e-3, "ounce (avoirdupois)-force inch (ozf · in)"),
    ("1 kgf·m", "N·m", 9.80665, "kilogram-force meter (kgf · m), exact"),
    ("1 psi", "kPa", 6.894757, "pound-force per square inch (psi) (lbf/in2)"),
    ("1 kgf/cm²", "kPa", 98.0665, "kilogram-force per square centimeter (kgf/cm2), exact"),
    ("1 inHg", "kPa", 3.386389, "inch of mercury, conventional (inHg)"),
    ("1 US qt", "L", 0.9463529, "quart (U.S. liquid) (liq qt)"),
    ("1 US pt", "L", 0.4731765, "pint (U.S. liquid) (liq pt)"),
    ("1 US gal", "L", 3.785412, "gallon (U.S.) (gal)"),
    ("1 imp gal", "L", 4.54609, "gallon [Canadian and U.K. (Imperial)] (gal), exact"),
    ("1 US fl oz", "mL", 29.57353, "ounce (U.S. fluid) (fl oz)"),
    ("1 imp fl oz", "mL", 28.41306, "ounce [Canadian and U.K. fluid (Imperial)] (fl oz)"),
    ("1 in³", "cm³", 16.38706, "cubic inch (in3)"),
    ("1 lb", "kg", 0.4535924, "pound (avoirdupois) (lb)"),
    ("1 oz", "g", 28.34952, "ounce (avoirdupois) (oz)"),
    ("1 thou", "mm", 0.0254, "mil (0.001 in), exact"),
    ("1 mi", "km", 1.609344, "mile (mi), exact"),
]


@pytest.mark.parametrize(("typed", "unit", "factor", "row"), SP_811)
def test_against_nist_sp_811(typed: str, unit: str, factor: float, row: str) -> None:
    # Seven digits are printed, so half a unit of the seventh is the most it may differ.
    assert units.in_unit(units.read_any(typed), unit) == pytest.approx(factor, rel=5e-7), row


def test_imperial_quart_and_pint_are_parts_of_the_gallon() -> None:
    # Source: SP 811 B.8 as above gives the gallon, 4.54609 L exact; that it holds four quarts or
    # eight pints is common practice, no source.
    assert units.read_any("1 imp qt").base == pytest.approx(4.54609 / 4, rel=1e-12)
    assert units.read_any("1 imp pt").base == pytest.approx(4.54609 / 8, rel=1e-12)


# Source: scipy.constants of the installed SciPy (its table of units, double precision).
SCIPY = [
    ("1 lbf·ft", sc.lbf * sc.foot, "lbf × foot"),
    ("1 lbf·in", sc.lbf * sc.inch, "lbf × inch"),
    ("1 ozf·in", sc.oz * sc.g * sc.inch, "oz × g × inch"),
    ("1 kgf·m", sc.kgf, "kgf"),
    ("1 kgf·cm", sc.kgf * sc.centi, "kgf × centi"),
    ("1 kgf/cm²", sc.kgf / sc.centi**2 / sc.kilo, "kgf / centi²"),
    ("1 psi", sc.psi / sc.kilo, "psi"),
    ("1 bar", sc.bar / sc.kilo, "bar"),
    ("1 in", sc.inch / sc.milli, "inch"),
    ("1 thou", sc.mil / sc.milli, "mil"),
    ("1 ft", sc.foot / sc.milli, "foot"),
    ("1 mi", sc.mile / sc.milli, "mile"),
    ("1 US gal", sc.gallon_US / sc.liter, "gallon_US"),
    ("1 US qt", sc.gallon_US / 4 / sc.liter, "gallon_US / 4"),
    ("1 imp gal", sc.gallon_imp / sc.liter, "gallon_imp"),
    ("1 imp qt", sc.gallon_imp / 4 / sc.liter, "gallon_imp / 4"),
    ("1 US fl oz", sc.fluid_ounce_US / sc.liter, "fluid_ounce_US"),
    ("1 imp fl oz", sc.fluid_ounce_imp / sc.liter, "fluid_ounce_imp"),
    ("1 lb", sc.lb, "lb"),
    ("1 oz", sc.oz, "oz"),
    ("1 h", sc.hour, "hour"),
    ("1 day", sc.day, "day"),
]


@pytest.mark.parametrize(("typed", "base", "name"), SCIPY)
def test_against_scipy_constants(typed: str, base: float, name: str) -> None:
    assert units.read_any(typed).base == pytest.approx(base, rel=1e-12), name


@pytest.mark.parametrize("celsius", [-40.0, 0.0, 40.0, 42.0, 45.0, 100.0])
def test_temperatures_against_scipy(celsius: float) -> None:
    # Source: scipy.constants.convert_temperature of the installed SciPy.
    fahrenheit = float(sc.convert_temperature(celsius, "Celsius", "Fahrenheit"))
    told = units.in_unit(units.read_any(f"{celsius} °C"), "°F")
    assert told == pytest.approx(fahrenheit, abs=1e-9)
    assert units.read_any(f"{fahrenheit:.4f} °F").base == pytest.approx(celsius, abs=1e-4)


def test_what_a_workshop_chart_says() -> None:
    # Source: common practice, no source.
    assert {"106 lbf·in", "8.85 lbf·ft"} < set(units.tell_all(units.read_any("12 N·m")))
    assert units.tell_converted(units.read_any("4 US qt + 250 mL")) == "4.04 L"


@pytest.mark.parametrize(
    ("newton_metres", "printed_kgf_m", "printed_lbf_ft"),
    # Source: Suzuki service manual of 2007, seen on a page that quotes it, where each torque is
    # printed three times. It reckons 10 N to the kgf, so its triplets are up to 2 % apart: the
    # printed figure must be kept.
    [(53, 5.3, 38.5), (84, 8.4, 61.0), (105, 10.5, 76.0)],
)
def test_printed_triplets_disagree_by_about_two_percent(
    newton_metres: int, printed_kgf_m: float, printed_lbf_ft: float
) -> None:
    amount = units.read_any(f"{newton_metres} N·m")
    for unit, printed in (("kgf·m", printed_kgf_m), ("lbf·ft", printed_lbf_ft)):
        apart = abs(units.in_unit(amount, unit) / printed - 1)
        assert 0.005 < apart < 0.021
    assert amount.text == f"{newton_metres} N·m"
