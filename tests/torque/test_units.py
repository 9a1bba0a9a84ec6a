"""Reading and telling quantities the way mechanics write them."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shopguide.errors import UnitTrouble
from shopguide.torque import units
from shopguide.torque.units import Kind

TORQUE_SPELLINGS = {
    "N·m": "Nm|N.m|N-m|N m|N·m|N⋅m|N•m|N∙m|N*m|N×m|nm|NM|N–m|newton metres|Newton-metre|"
    "newton meter|newtonmeters",
    "lbf·ft": "ft-lb|ft lbs|ft. lbs.|ft-lbs|ftlb|FT-LB|lb-ft|lbs ft|lb.ft|lbf·ft|lb ft|lbf.ft|"
    "foot pounds|foot-pound|pound feet|pound-foot|ft/lbs|lbf-ft|ft·lbf|pounds-force feet",
    "lbf·in": "in lb|in-lb|in. lbs|in.-lb.|inlb|lb-in|lbf·in|lbf in|inch pounds|inch-pound|IN-LBS|"
    "in·lbf|in/lb",
    "kgf·m": "kgf·m|kgf-m|kg-m|kgm|kg m|m·kg|mkg|m.kgf|kp·m|mkp|KGM",
    "kgf·cm": "kgf·cm|kg-cm|kgcm|kgf cm|cmkg|cm·kp",
    "cN·m": "cNm|cN·m|cN.m",
    "daN·m": "daNm|daN·m|m.daN|mdaN",
    "mN·m": "mNm|mN·m",
    "ozf·in": "ozf·in|oz-in|in-oz|in oz|ounce inches|oz.in.",
}
OTHER_SPELLINGS = {
    Kind.VOLUME: {
        "L": "L|l|ℓ|litre|liters|Ltr",
        "mL": "mL|ml|ML|millilitres",
        "cm³": "cc|cm3|cm^3|cm³|ccm",
        "US qt": "qt|qts|qt.|quart|quarts|US qt|U.S. qt|U.S. quarts|qt (US)|usqt|American quarts",
        "imp qt": "imp qt|imp. qt|imperial quart|UK qt|U.K. quarts|quarts (imp)|qt (UK)",
        "US pt": "pt|pints|US pint",
        "imp pt": "imp pt|imperial pints",
        "US gal": "gal|gallons|US gal",
        "imp gal": "imp gal|imperial gallons",
        "US fl oz": "fl oz|fl. oz.|fluid ounces|US fl oz",
        "imp fl oz": "imp fl oz|UK fl. oz.",
        "in³": "cu in|in³|in3|cubic inches",
    },
    Kind.LENGTH: {
        "mm": "mm|MM|millimetres",
        "in": "in|in.|inch|inches|\"|″|”|''",
        "thou": "thou|thousandths",
        "µm": "µm|μm|um|micron",
        "cm": "cm",
        "m": "m|metres",
        "km": "km",
        "ft": "ft|feet|'|′",
        "mi": "mi|miles",
    },
    Kind.ANGLE: {"°": "°|º|˚|deg|deg.|degrees| °", "turn": "turn|turns|rev|revolutions"},
    Kind.TEMPERATURE: {
        "°C": "°C|° C|ºC|C|℃|deg C|degrees C|celsius",
        "°F": "°F|F|℉|deg F|Fahrenheit",
        "K": "K|kelvin",
    },
    Kind.PRESSURE: {
        "kPa": "kPa|KPA|kpa",
        "MPa": "MPa|N/mm²|N/mm2",
        "bar": "bar|BAR",
        "mbar": "mbar",
        "psi": "psi|PSI|lb/in²|lbf/in2|lbs/sq in|lb/sq. in.",
        "kgf/cm²": "kgf/cm²|kg/cm2|kg/cm^2|kp/cm²",
        "inHg": "inHg|in. Hg|inches Hg",
    },
    Kind.MASS: {
        "kg": "kg|Kg|KG|kilograms",
        "g": "g|grams",
        "lb": "lb|lbs|pounds",
        "oz": "oz|ounces",
    },
    Kind.TIME: {
        "s": "s|sec|seconds",
        "min": "min|mins|minutes",
        "h": "h|hr|hrs|hours",
        "day": "day|days|d",
        "week": "weeks",
    },
    Kind.COUNT: {"": "|pcs|pc.|pieces|off"},
}
SPELLINGS = [
    (kind, symbol, spelling)
    for kind, by_symbol in {Kind.TORQUE: TORQUE_SPELLINGS, **OTHER_SPELLINGS}.items()
    for symbol, row in by_symbol.items()
    for spelling in row.split("|")
]


def _words(trouble: pytest.ExceptionInfo[UnitTrouble]) -> str:
    return str(trouble.value)


@pytest.mark.parametrize(("kind", "symbol", "spelling"), SPELLINGS)
@pytest.mark.parametrize("gap", ["", " ", "\u00a0", "\u2009", "  "])
def test_every_spelling_reads_as_its_unit(kind: Kind, symbol: str, spelling: str, gap: str) -> None:
    amount = units.read(f"12{gap}{spelling}", kind)
    assert (amount.kind, amount.value, amount.unit) == (kind, Decimal(12), symbol)


@pytest.mark.parametrize(
    ("typed", "kind", "text", "value"),
    [
        ("9 Nm", Kind.TORQUE, "9 N·m", "9"),
        ("9 N.m", Kind.TORQUE, "9 N·m", "9"),
        ("1.20 kg-m", Kind.TORQUE, "1.20 kgf·m", "1.20"),
        ("  80 in lb ", Kind.TORQUE, "80 lbf·in", "80"),
        ("0,35 mm", Kind.LENGTH, "0.35 mm", "0.35"),
        ("0,350 mm", Kind.LENGTH, "0.350 mm", "0.350"),
        ("12,5 Nm", Kind.TORQUE, "12.5 N·m", "12.5"),
        (".35mm", Kind.LENGTH, "0.35 mm", "0.35"),
        (",35mm", Kind.LENGTH, "0.35 mm", "0.35"),
        ("9. Nm", Kind.TORQUE, "9 N·m", "9"),
        ("+9 Nm", Kind.TORQUE, "9 N·m", "9"),
        ("007 mm", Kind.LENGTH, "7 mm", "7"),
        ("1/2 in", Kind.LENGTH, "1/2 in", "0.5"),
        ("1 1/2 in", Kind.LENGTH, "1 1/2 in", "1.5"),
        ('1-1/2"', Kind.LENGTH, "1 1/2 in", "1.5"),
        ("½ in", Kind.LENGTH, "1/2 in", "0.5"),
        ("1½ in", Kind.LENGTH, "1 1/2 in", "1.5"),
        ("1⁄4 in", Kind.LENGTH, "1/4 in", "0.25"),
        ("5' 6\"", Kind.LENGTH, "5 ft 6 in", "5.5"),
        ("1/2 turn", Kind.ANGLE, "1/2 turn", "0.5"),
        ("¾ turn", Kind.ANGLE, "3/4 turn", "0.75"),
        ("2 revs", Kind.ANGLE, "2 turns", "2"),
        ("90 deg", Kind.ANGLE, "90°", "90"),
        ("90 °", Kind.ANGLE, "90°", "90"),
        ("-20 C", Kind.TEMPERATURE, "-20 °C", "-20"),
        ("−20 °C", Kind.TEMPERATURE, "-20 °C", "-20"),
        ("-0 °C", Kind.TEMPERATURE, "0 °C", "0"),
        ("1 h 30 min", Kind.TIME, "1 h 30 min", "1.5"),
        ("1h30min", Kind.TIME, "1 h 30 min", "1.5"),
        ("2 days", Kind.TIME, "2 days", "2"),
        ("1 days", Kind.TIME, "1 day", "1"),
        ("24 h", Kind.TIME, "24 h", "24"),
        ("4 qt", Kind.VOLUME, "4 US qt", "4"),
        ("3 1/2 qt", Kind.VOLUME, "3 1/2 US qt", "3.5"),
        ("16", Kind.COUNT, "16", "16"),
        ("16 pcs", Kind.COUNT, "16", "16"),
        ("0 Nm", Kind.TORQUE, "0 N·m", "0"),
    ],
)
def test_the_text_is_tidy_and_the_figure_as_typed(
    typed: str, kind: Kind, text: str, value: str
) -> None:
    amount = units.read(typed, kind)
    assert amount.text == text
    assert str(amount.value) == value or amount.value == Decimal(value)


@pytest.mark.parametrize(
    ("typed", "kind", "base"),
    [
        ("80 lbf·in", Kind.TORQUE, 9.038786),
        ("1/2 turn", Kind.ANGLE, 180),
        ("3/4 turn", Kind.ANGLE, 270),
        ("90°", Kind.ANGLE, 90),
        ("14 thou", Kind.LENGTH, 0.3556),
        ("4 imp qt", Kind.VOLUME, 4.54609),
        ("32 psi", Kind.PRESSURE, 220.632233),
        ("212 °F", Kind.TEMPERATURE, 100),
        ("0 K", Kind.TEMPERATURE, -273.15),
        ("-40 °F", Kind.TEMPERATURE, -40),
        ("5 lb 4 oz", Kind.MASS, 2.381360),
        ("1 h 30 min", Kind.TIME, 5400),
        ("2 days", Kind.TIME, 172800),
        ("16 pcs", Kind.COUNT, 16),
    ],
)
def test_the_base_figure(typed: str, kind: Kind, base: float) -> None:
    assert units.read(typed, kind).base == pytest.approx(base, rel=1e-6)


def test_a_sum_keeps_both_terms_and_the_unit_of_the_first() -> None:
    amount = units.read("4 qt + 250 ml", Kind.VOLUME)
    assert amount.text == "4 US qt + 250 mL"
    assert amount.unit == "US qt"
    assert float(amount.value) == pytest.approx(4 + 0.25 / 0.946352946)
    assert amount.base == pytest.approx(4 * 0.946352946 + 0.25)
    assert units.read("1 L + 1 L + 1 L", Kind.VOLUME).value == 3


def test_us_and_imperial_quarts_are_told_apart() -> None:
    us, imperial = units.read_any("1 qt"), units.read_any("1 imperial quart")
    assert us.text == "1 US qt"
    assert imperial.text == "1 imp qt"
    assert imperial.base / us.base == pytest.approx(1.2009499)


@pytest.mark.parametrize(
    ("typed", "kind", "words"),
    [
        ("9", Kind.TORQUE, ["no unit", "N·m", "lbf·in"]),
        ("4.2", Kind.VOLUME, ["no unit", "L"]),
        ("4 qt + 250", Kind.VOLUME, ['"250"', "no unit"]),
        ("1 h 30", Kind.TIME, ['"30"', "no unit"]),
        ("9 L", Kind.TORQUE, ["9 L is a volume, not a torque", "N·m"]),
        ("90°", Kind.TORQUE, ["90° is an angle, not a torque"]),
        ("9 Nm", Kind.ANGLE, ["9 N·m is a torque, not an angle", "1/4 turn"]),
        ("4 qt + 250 g", Kind.VOLUME, ["250 g is a mass, not a volume"]),
        ("30 m", Kind.TIME, ["30 m is a length, not a time", "30 min"]),
        ("9 lb", Kind.TORQUE, ["Is that lbf·ft or lbf·in?", "9 lbf·ft or 9 lbf·in"]),
        ("9 LBS.", Kind.TORQUE, ["Is that lbf·ft or lbf·in?"]),
        ("9 pounds", Kind.TORQUE, ["Is that lbf·ft or lbf·in?"]),
        ("9 lbf", Kind.TORQUE, ["Is that lbf·ft or lbf·in?"]),
        ("1.2 kg", Kind.TORQUE, ["Is that kgf·m or kgf·cm?"]),
        ("8 oz", Kind.VOLUME, ["US fl oz or imp fl oz?"]),
        ("5 mil", Kind.LENGTH, ["Is that thou or mm?"]),
        ("42°", Kind.TEMPERATURE, ["Is that °C or °F?"]),
        ("42 degrees", Kind.TEMPERATURE, ["Is that °C or °F?"]),
        ("-9 Nm", Kind.TORQUE, ["A torque cannot be below zero"]),
        ("−9 Nm", Kind.TORQUE, ["cannot be below zero"]),
        ("-90°", Kind.ANGLE, ["An angle cannot be below zero"]),
        ("-1", Kind.COUNT, ["A count cannot be below zero"]),
        ("-4 qt + 5 qt", Kind.VOLUME, ["cannot be below zero"]),
        ("4 qt + -1 qt", Kind.VOLUME, ["no differences"]),
        ("-300 °C", Kind.TEMPERATURE, ["colder than anything can be"]),
        ("20 °C + 5 °C", Kind.TEMPERATURE, ["not added up"]),
        ("inf Nm", Kind.TORQUE, ["cannot be read as a torque", "N·m"]),
        ("∞ Nm", Kind.TORQUE, ["cannot be read"]),
        ("nan Nm", Kind.TORQUE, ["cannot be read"]),
        ("1e999 Nm", Kind.TORQUE, ["power of ten", "all digits"]),
        ("1e3 Nm", Kind.TORQUE, ["power of ten"]),
        ("1 E +3 Nm", Kind.TORQUE, ["power of ten"]),
        ("", Kind.TORQUE, ["nothing written", "N·m"]),
        ("\u200b \u00a0", Kind.TORQUE, ["nothing written"]),
        ("1,234 Nm", Kind.TORQUE, ["two ways", "Is that 1234 or 1.234?"]),
        ("1.234,5 Nm", Kind.TORQUE, ["thousands"]),
        ("1,234.5 Nm", Kind.TORQUE, ["thousands"]),
        ("1.234.567 Nm", Kind.TORQUE, ["thousands"]),
        ("1 234 Nm", Kind.TORQUE, ["two figures", "without a space"]),
        ("1\u2009234 Nm", Kind.TORQUE, ["two figures"]),
        ("8-10 Nm", Kind.TORQUE, ["range"]),
        ("8–10 Nm", Kind.TORQUE, ["range"]),
        ("8 Nm to 10 Nm", Kind.TORQUE, ["range"]),
        ("40 °C…45 °C", Kind.TEMPERATURE, ["range"]),
        ("9 Nm (80 in-lb)", Kind.TORQUE, ["more than one figure"]),
        ("9 Nm / 80 in-lb", Kind.TORQUE, ["more than one figure"]),
        ("9 Nm 80 in-lb", Kind.TORQUE, ["more than one figure"]),
        ("30 min 1 h", Kind.TIME, ["more than one figure"]),
        ("20/22 mm", Kind.LENGTH, ["not a fraction", "decimal"]),
        ("1/2 Nm", Kind.TORQUE, ["not a fraction"]),
        ("1/0 in", Kind.LENGTH, ["not a fraction"]),
        ("0/4 in", Kind.LENGTH, ["not a fraction"]),
        ("1 5/4 in", Kind.LENGTH, ["not a fraction"]),
        ("1.5", Kind.COUNT, ["whole number"]),
        ("±1 Nm", Kind.TORQUE, ["cannot be read"]),
        ("Nm 9", Kind.TORQUE, ["cannot be read"]),
        ("9 furlongs", Kind.LENGTH, ['"furlongs" is not a unit known here']),
        ("9 lb/ft", Kind.TORQUE, ["not a unit known here"]),
        ("5 mPa", Kind.PRESSURE, ["not a unit known here"]),
        ("5 MNm", Kind.TORQUE, ["not a unit known here"]),
        ("9 N·m²", Kind.TORQUE, ["not a unit known here"]),
        ("٩ Nm", Kind.TORQUE, ["cannot be read"]),
        ("9 Nm" + "m" * 90, Kind.TORQUE, ["too long"]),
    ],
)
def test_what_is_refused_is_told_calmly(typed: str, kind: Kind, words: list[str]) -> None:
    with pytest.raises(UnitTrouble) as trouble:
        units.read(typed, kind)
    for word in words:
        assert word in _words(trouble)
    assert trouble.value.next
    assert len(_words(trouble)) < 200
    assert _words(trouble).isprintable()


@pytest.mark.parametrize(
    ("typed", "kind", "text"),
    [
        ("12 ft-lb", Kind.TORQUE, "12 lbf·ft"),
        ("9 lb", Kind.MASS, "9 lb"),
        ("42°", Kind.ANGLE, "42°"),
        ("42 C", Kind.TEMPERATURE, "42 °C"),
        ("16 pcs", Kind.COUNT, "16"),
        ("4 qt + 250 mL", Kind.VOLUME, "4 US qt + 250 mL"),
        ("5 ft 3 in", Kind.LENGTH, "5 ft 3 in"),
        ("30 min", Kind.TIME, "30 min"),
        ("2 bar", Kind.PRESSURE, "2 bar"),
    ],
)
def test_the_unit_tells_the_kind(typed: str, kind: Kind, text: str) -> None:
    amount = units.read_any(typed)
    assert (amount.kind, amount.text) == (kind, text)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("9", "no unit"),
        ("9 lbf", "lbf·ft or lbf·in"),
        ("5 mil", "thou or mm"),
        ("4 qt + 2 g", "mass"),
    ],
)
def test_without_a_kind_the_same_is_refused(typed: str, words: str) -> None:
    with pytest.raises(UnitTrouble) as trouble:
        units.read_any(typed)
    assert words in _words(trouble)


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("9 N·m", "80 lbf·in"),
        ("19.9 N·m", "176 lbf·in"),
        ("20 N·m", "15.0 lbf·ft"),
        ("120 N·m", "88.5 lbf·ft"),
        ("80 lbf·in", "9.0 N·m"),
        ("9 ft-lb", "12.2 N·m"),
        ("90 ft-lb", "122.0 N·m"),
        ("1.2 kgf·m", "11.8 N·m"),
        ("120 kgf·cm", "11.8 N·m"),
        ("1.5 daN·m", "15.0 N·m"),
        ("500 cN·m", "44 lbf·in"),
        ("0.5 N·m", "4.4 lbf·in"),
        ("0 N·m", "0 lbf·in"),
        ("4.2 L", "4.4 US qt"),
        ("250 mL", "8.5 US fl oz"),
        ("60 L", "15.9 US gal"),
        ("4 US qt + 250 mL", "4.04 L"),
        ("1 imp pt", "568 mL"),
        ("1 qt", "946 mL"),
        ("14 thou", "0.36 mm"),
        ("1 thou", "0.025 mm"),
        ("0.35 mm", "0.014 in"),
        ("1/2 in", "12.70 mm"),
        ("80 km", "50 mi"),
        ("50 mi", "80 km"),
        ("42 °C", "108 °F"),
        ("-40 °C", "-40 °F"),
        ("108 °F", "42 °C"),
        ("2.2 bar", "32 psi"),
        ("220 kPa", "32 psi"),
        ("32 psi", "2.2 bar"),
        ("7 psi", "48 kPa"),
        ("2 kg", "4.4 lb"),
        ("250 g", "8.8 oz"),
        ("3 lb", "1.36 kg"),
        ("90°", ""),
        ("1/2 turn", ""),
        ("30 min", ""),
        ("16 pcs", ""),
    ],
)
def test_told_in_the_other_system(typed: str, told: str) -> None:
    assert units.tell_converted(units.read_any(typed)) == told


def test_told_in_every_unit_the_printed_one_first() -> None:
    told = units.tell_all(units.read_any("12 Nm"))
    assert told[0] == "12 N·m"
    assert {"106 lbf·in", "8.85 lbf·ft", "1.22 kgf·m", "122 kgf·cm"} < set(told)
    assert len(told) == len(set(told))
    sum_told = units.tell_all(units.read_any("4 qt + 250 mL"))
    assert sum_told[0] == "4 US qt + 250 mL"
    assert {"4.04 L", "4.26 US qt", "3.55 imp qt"} < set(sum_told)
    assert units.tell_all(units.read("16", Kind.COUNT)) == ("16",)
    assert units.tell_all(units.read_any("42 °C")) == ("42 °C", "108 °F")
    assert "0.0138 in" in units.tell_all(units.read_any("0.35 mm"))


def test_the_figure_in_another_unit() -> None:
    assert units.in_unit(units.read_any("9 Nm"), "N·m") == 9
    assert units.in_unit(units.read_any("90°"), "turn") == 0.25
    assert units.in_unit(units.read_any("100 °C"), "°F") == pytest.approx(212)
    assert units.in_unit(units.read_any("1 in"), "thou") == pytest.approx(1000)
    with pytest.raises(UnitTrouble, match="L measures a volume"):
        units.in_unit(units.read_any("9 Nm"), "L")
    with pytest.raises(UnitTrouble, match="not a unit known here"):
        units.in_unit(units.read_any("9 Nm"), "cubits")


@pytest.mark.parametrize(
    ("typed", "share", "text"),
    [
        ("9 N·m", 0.3, "2.7 N·m"),
        ("9 N·m", 0.7, "6.3 N·m"),
        ("9 N·m", 1.0, "9 N·m"),
        ("1.20 kgf·m", 1, "1.20 kgf·m"),
        ("80 lbf·in", 0.3, "24 lbf·in"),
        ("80 ft-lb", 0.3, "24.0 lbf·ft"),
        ("9 ft-lb", 0.3, "2.7 lbf·ft"),
        ("65 N·m", 0.7, "45.5 N·m"),
        ("1.2 kgf·m", 0.3, "0.36 kgf·m"),
        ("4 qt + 250 mL", 0.5, "2.1 US qt"),
    ],
)
def test_a_share_of_a_torque(typed: str, share: float, text: str) -> None:
    part = units.scale(units.read_any(typed), share)
    assert part.text == text
    if share != 1:
        assert part == units.read_any(text)


@pytest.mark.parametrize("share", [0, -0.3, float("nan"), float("inf")])
def test_a_share_that_is_none_is_refused(share: float) -> None:
    with pytest.raises(UnitTrouble):
        units.scale(units.read_any("9 N·m"), share)


def test_a_share_of_a_temperature_is_refused() -> None:
    with pytest.raises(UnitTrouble):
        units.scale(units.read_any("42 °C"), 0.5)


# Rules that hold for all inputs.

FIGURES = st.decimals(
    min_value="0.0001", max_value="1e20", places=4, allow_nan=False, allow_infinity=False
)
# read and its cache are as fast as text goes; a slow shared machine must not fail the run.
SETTINGS = settings(deadline=None, max_examples=300)


@SETTINGS
@given(figure=FIGURES, row=st.sampled_from(SPELLINGS), gap=st.sampled_from(["", " ", "\u202f"]))
def test_any_positive_figure_reads_in_any_spelling(
    figure: Decimal, row: tuple[Kind, str, str], gap: str
) -> None:
    kind, symbol, spelling = row
    figure = figure.to_integral_value() if kind is Kind.COUNT else figure
    amount = units.read(f"{figure:f}{gap}{spelling}", kind)
    assert amount.value == figure
    assert amount.unit == symbol
    assert units.in_unit(amount, symbol) == float(figure)
    assert units.read(amount.text, kind) == amount
    if kind is not Kind.TEMPERATURE:
        assert amount.base >= 0
    units.tell_converted(amount)
    assert units.tell_all(amount)[0] == amount.text


@SETTINGS
@given(figure=FIGURES, share=st.floats(0.01, 0.99), symbol=st.sampled_from(list(TORQUE_SPELLINGS)))
def test_a_rounded_figure_is_never_far_off(figure: Decimal, share: float, symbol: str) -> None:
    amount = units.read(f"{figure:f} {symbol}", Kind.TORQUE)
    part = units.scale(amount, share)
    assert part.base == pytest.approx(amount.base * share, rel=0.051)
    assert units.read(part.text, Kind.TORQUE) == part
    converted = units.read(units.tell_converted(amount), Kind.TORQUE)
    assert converted.base == pytest.approx(amount.base, rel=0.051)


ALPHABET = "0123456789.,-+/ ½°·*×'\"nmNlbftikgqzLcoe²³()\u00a0\u200b"
TEXTS = st.one_of(
    st.text(max_size=100),
    st.text(alphabet=ALPHABET, max_size=100),
    st.lists(
        st.sampled_from([*(row[2] for row in SPELLINGS), *"0123456789.,+-/", " ", "1/2", "e9"]),
        max_size=12,
    ).map("".join),
)


@settings(deadline=None, max_examples=1500)
@given(text=TEXTS, kind=st.sampled_from([None, *Kind]))
def test_any_text_reads_or_is_refused_in_words(text: str, kind: Kind | None) -> None:
    try:
        amount = units.read_any(text) if kind is None else units.read(text, kind)
    except UnitTrouble as trouble:
        assert trouble.what
        assert trouble.next
        assert str(trouble).isprintable()
    else:
        assert kind is None or amount.kind is kind
        assert amount.value.is_finite()
        again = units.read(amount.text, amount.kind)
        assert (again.text, again.value, again.base) == (amount.text, amount.value, amount.base)
        assert float(again.value) == units.in_unit(amount, amount.unit)


@pytest.mark.parametrize(
    "piece", ["1", "1,", "1 ", "1/", "+", "-", "1-", "(", "1 1/2", "1e", "9 m"]
)
def test_no_text_keeps_the_reader_busy(piece: str) -> None:
    text = (piece * 80)[:80]
    started = time.perf_counter()
    with pytest.raises(UnitTrouble):
        units.read_any(text)
    assert time.perf_counter() - started < 0.5


# What importing and reading cost.


def _run(lines: str) -> str:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", lines], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def test_pint_is_imported_only_when_a_factor_is_needed() -> None:
    told = _run(
        "import sys\n"
        "import shopguide.torque.units as units\n"
        "print('pint' in sys.modules)\n"
        "units.read('9 Nm', units.Kind.TORQUE), units.read('4,2 l', units.Kind.VOLUME)\n"
        "print('pint' in sys.modules)\n"
        "units.warm_up()\n"
        "print('pint' in sys.modules)\n"
    )
    assert told.split() == ["False", "False", "True"]


def test_reading_while_another_thread_warms_up() -> None:
    told = _run(
        "import threading\n"
        "import shopguide.torque.units as units\n"
        "thread = threading.Thread(target=units.warm_up)\n"
        "thread.start()\n"
        "print(units.tell_converted(units.read_any('9 ft-lb')))\n"
        "thread.join()\n"
        "print(units.tell_converted(units.read_any('80 in-lb')))\n"
    )
    assert told.split("\n") == ["12.2 N·m", "9.0 N·m"]


def test_many_threads_read_the_same() -> None:
    told: list[str] = []
    texts = [f"{figure} ft-lb" for figure in range(10, 60)]

    def read_all() -> None:
        told.extend(units.tell_converted(units.read(text, Kind.TORQUE)) for text in texts)

    threads = [threading.Thread(target=read_all) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    once = {units.tell_converted(units.read(text, Kind.TORQUE)) for text in texts}
    assert set(told) == once
    assert len(told) == 4 * len(texts)


def test_the_usual_hundred_texts_are_read_quickly() -> None:
    units.warm_up()
    texts = [f"{figure}.25 ft-lb" for figure in range(100)]
    started = time.perf_counter()
    for text in texts:
        units.read(text, Kind.TORQUE)
    assert time.perf_counter() - started < 0.25
