"""Quantities as mechanics write them: read, kept as printed, and told in the other system.

Only this file knows pint, and only for conversion factors: what a person typed is taken apart here
and never reaches pint's own parser, which evaluates expressions and can be made to hang. pint is
imported when the first factor is needed (0.4 s); `warm_up` does that ahead of need.

Choices made here, visible in the tidy text so that nobody is misled:
a bare qt, pt, gal or fl oz is the US one ("4 qt" reads as "4 US qt"); imperial ones must say so.
The point and the comma are both decimal signs; separators of thousands are refused.
"""

from __future__ import annotations

import re
import threading
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Context, Decimal
from enum import StrEnum
from functools import cache, lru_cache
from itertools import chain, pairwise, product
from typing import Any

from shopguide.errors import UnitTrouble

LONGEST_TEXT = 80
"""A longer text is no quantity; it is refused unread."""


class Kind(StrEnum):
    """What sort of quantity a figure is."""

    TORQUE = "torque"
    ANGLE = "angle"
    LENGTH = "length"
    VOLUME = "volume"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    MASS = "mass"
    TIME = "time"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Amount:
    """One quantity.

    text: as typed but tidy, in the typed unit ("9 N·m"); the printed figure is never converted and
    back.  value: the figure in `unit`.  base: the figure in the base unit of its kind: N·m, °, mm,
    L, kPa, °C, kg, s, 1.
    """

    text: str
    kind: Kind
    value: Decimal
    unit: str
    base: float


_Ladder = tuple[tuple[float, str], ...]
"""Which unit to tell a size in: (from this size in the base unit upward, unit), smallest first."""


@dataclass(frozen=True, slots=True)
class _Unit:
    """symbol: tidy.  pint_name: what pint calls it.  other: the units of the other system.

    steps: what a scale in this unit shows: (from this figure upward, step), smallest first.
    """

    symbol: str
    kind: Kind
    pint_name: str
    steps: tuple[tuple[Decimal, Decimal], ...]
    other: _Ladder
    fractions: bool


_EXACT = Context(prec=28, rounding=ROUND_HALF_UP)
# Rounding a figure of 80 digits to hundredths needs more digits than that.
_WIDE = Context(prec=200, rounding=ROUND_HALF_UP)

_BASE = {
    Kind.TORQUE: "N·m",
    Kind.ANGLE: "°",
    Kind.LENGTH: "mm",
    Kind.VOLUME: "L",
    Kind.PRESSURE: "kPa",
    Kind.TEMPERATURE: "°C",
    Kind.MASS: "kg",
    Kind.TIME: "s",
    Kind.COUNT: "",
}

_EXAMPLES = {
    Kind.TORQUE: "9 N·m, 80 lbf·in or 15 lbf·ft",
    Kind.ANGLE: "90° or 1/4 turn",
    Kind.LENGTH: "0.35 mm, 14 thou or 1/2 in",
    Kind.VOLUME: "4.2 L, 250 mL or 4 US qt",
    Kind.PRESSURE: "2.2 bar, 220 kPa or 32 psi",
    Kind.TEMPERATURE: "42 °C or 108 °F",
    Kind.MASS: "1.5 kg, 250 g or 3 lb",
    Kind.TIME: "30 min, 1 h 30 min or 2 days",
    Kind.COUNT: "16 or 16 pcs",
}
_ANY_EXAMPLE = "9 N·m, 0.35 mm, 4.2 L, 90° or 30 min"

# ---------------------------------------------------------------------------------------------
# The units, and every way of writing them.

_UNITS: dict[str, _Unit] = {}
_SPELLINGS: dict[str, str] = {}  # lower case, no separators -> symbol
_STRICT_SPELLINGS: dict[str, str] = {}  # where the case makes the difference -> symbol

_TO_LBF: _Ladder = ((0, "lbf·in"), (20, "lbf·ft"))
_TO_NM: _Ladder = ((0, "N·m"),)
_TO_INCH: _Ladder = ((0, "in"), (3_000, "ft"), (1_000_000, "mi"))
_TO_MM: _Ladder = ((0, "mm"), (1_000, "m"), (1_000_000, "km"))
_TO_US: _Ladder = ((0, "US fl oz"), (0.9, "US qt"), (20, "US gal"))
_TO_LITRE: _Ladder = ((0, "mL"), (1, "L"))
_TO_PSI: _Ladder = ((0, "psi"),)
_TO_BAR: _Ladder = ((0, "kPa"), (100, "bar"))
_TO_LB: _Ladder = ((0, "oz"), (0.5, "lb"))
_TO_KG: _Ladder = ((0, "g"), (1, "kg"))


def _add(
    kind: Kind,
    symbol: str,
    pint_name: str,
    steps: str,
    other: _Ladder = (),
    spellings: str = "",
    strict: str = "",
    fractions: bool = False,
) -> None:
    """Enter a unit. steps: "0.1 20:0.5" is 0.1, and 0.5 from 20 upward."""
    ladder = []
    for rung in steps.split():
        start, _, step = rung.rpartition(":")
        ladder.append((Decimal(start or "0"), Decimal(step)))
    _UNITS[symbol] = _Unit(symbol, kind, pint_name, tuple(ladder), other, fractions)
    for spelling in spellings.split():
        assert _SPELLINGS.setdefault(spelling, symbol) == symbol, f"{spelling} means two units"
    for spelling in strict.split():
        _STRICT_SPELLINGS[spelling] = symbol


def _pair(first: str, second: str) -> str:
    """Every word of `first` before every word of `second`: "n newton", "m metre" -> "nm nmetre"."""
    return " ".join(a + b for a, b in product(first.split(), second.split()))


def _either_way(first: str, second: str) -> str:
    """Both orders: "lbft" and "ftlb"."""
    return f"{_pair(first, second)} {_pair(second, first)}"


def _enter_torques() -> None:
    metre, cm = "m metre metres meter meters", "cm centimetre centimetres centimeter centimeters"
    inch, foot = "in inch inches", "ft foot feet"
    pound = "lb lbs lbf lbsf pound pounds poundforce poundsforce"
    ounce = "oz ozs ozf ounce ounces ounceforce"
    kilo = "kgf kg kgs kp kilogram kilograms kilogramforce kilopond"
    torque, ways = Kind.TORQUE, _either_way
    newton = _pair("n newton newtons", metre)
    _add(torque, "N·m", "newton*meter", "0.1 20:0.5", _TO_LBF, newton)
    _add(torque, "cN·m", "centinewton*meter", "10 2000:50", _TO_LBF, _pair("cn centinewton", metre))
    # "mNm" and "MNm" differ by a thousand million: only the exact case is read.
    _add(torque, "mN·m", "millinewton*meter", "1", _TO_LBF, strict="mNm")
    # French manuals turn it round: m.daN.
    _add(torque, "daN·m", "decanewton*meter", "0.01 2:0.05", _TO_NM, ways("dan decanewton", metre))
    _add(torque, "kgf·m", "kilogram_force*meter", "0.01 2:0.05", _TO_NM, ways(kilo, metre))
    _add(torque, "kgf·cm", "kilogram_force*centimeter", "1 200:5", _TO_NM, ways(kilo, cm))
    # "ft/lb" is wrongly written but can only mean lbf·ft; "lb/ft" is a weight per length, so not.
    feet = ways(pound, foot) + " " + _pair(_pair(foot, "/"), pound)
    inches = ways(pound, inch) + " " + _pair(_pair(inch, "/"), pound)
    _add(torque, "lbf·ft", "force_pound*foot", "0.5", _TO_NM, feet)
    _add(torque, "lbf·in", "force_pound*inch", "1", _TO_NM, inches)
    _add(torque, "ozf·in", "force_ounce*inch", "1", _TO_NM, ways(ounce, inch))


def _enter_volumes() -> None:
    volume = Kind.VOLUME
    _add(volume, "L", "liter", "0.01", _TO_US, "l lt ltr ltrs litre litres liter liters", "", True)
    _add(volume, "dL", "deciliter", "0.1", _TO_US, "dl")
    _add(volume, "cL", "centiliter", "1", _TO_US, "cl")
    _add(
        volume,
        "mL",
        "milliliter",
        "1",
        _TO_US,
        _pair("m milli", "l litre litres liter liters"),
    )
    _add(volume, "cm³", "centimeter**3", "1", _TO_US, "cm³ cc ccs ccm")
    _add(volume, "in³", "inch**3", "0.1", _TO_LITRE, "in³ cuin cuinch cubicinch cubicinches cid")
    measures = (
        ("fl oz", "fluid_ounce", "0.5", "floz flozs fluidounce fluidounces ozfl"),
        ("pt", "pint", "0.1", "pt pts pint pints"),
        ("qt", "quart", "0.1", "qt qts quart quarts"),
        ("gal", "gallon", "0.1", "gal gals gallon gallons"),
    )
    pint_us = {"fluid_ounce": "US_fluid_ounce", "pint": "US_pint", "gallon": "US_liquid_gallon"}
    for symbol, name, steps, words in measures:
        american = f"{words} {_either_way('us usa american', words)}"
        imperial = _either_way("imp imperial uk british", words)
        us_name = pint_us.get(name, "US_liquid_quart")
        _add(volume, f"US {symbol}", us_name, steps, _TO_LITRE, american, "", True)
        _add(volume, f"imp {symbol}", f"imperial_{name}", steps, _TO_LITRE, imperial, "", True)


def _enter_others() -> None:
    angle, length, pressure = Kind.ANGLE, Kind.LENGTH, Kind.PRESSURE
    temperature, mass, time = Kind.TEMPERATURE, Kind.MASS, Kind.TIME
    _add(angle, "°", "degree", "1", (), "° deg degs degree degrees")
    turns = "turn turns rev revs revolution revolutions"
    _add(angle, "turn", "turn", "0.05", (), turns, "", True)

    metre = "metre metres meter meters"
    _add(length, "mm", "millimeter", "0.01 100:0.1 1000:1", _TO_INCH, "mm " + _pair("milli", metre))
    _add(length, "µm", "micrometer", "1", _TO_INCH, "µm um micron microns " + _pair("micro", metre))
    _add(length, "cm", "centimeter", "0.1", _TO_INCH, "cm " + _pair("centi", metre))
    _add(length, "m", "meter", "0.01 10:0.1", _TO_INCH, "m " + metre)
    _add(length, "km", "kilometer", "1", _TO_INCH, "km kms " + _pair("kilo", metre))
    _add(length, "in", "inch", "0.001 1:0.01 40:0.1", _TO_MM, "in inch inches \" ''", "", True)
    _add(length, "thou", "thou", "1", _TO_MM, "thou thous thousandth thousandths")
    _add(length, "ft", "foot", "0.1", _TO_MM, "ft foot feet '", "", True)
    _add(length, "mi", "mile", "1", _TO_MM, "mi mile miles", "", True)

    square = "in² sqin sqinch squareinch"
    psi = "psi psig " + _pair(_pair("lb lbs lbf", "/"), square)
    kgf = _pair("kgf/ kg/ kp/", "cm² sqcm")
    _add(pressure, "kPa", "kilopascal", "1", _TO_PSI, "kpa kilopascal kilopascals")
    # "mPa" would be a thousand-millionth of "MPa": only the exact case is read.
    _add(pressure, "MPa", "megapascal", "0.01", _TO_PSI, "n/mm² megapascal", "MPa Mpa")
    _add(pressure, "hPa", "hectopascal", "1", _TO_PSI, "hpa hectopascal")
    _add(pressure, "Pa", "pascal", "1", _TO_PSI, "pa pascal pascals")
    _add(pressure, "bar", "bar", "0.1 20:1", _TO_PSI, "bar bars")
    _add(pressure, "mbar", "millibar", "1", _TO_PSI, "mbar millibar millibars")
    _add(pressure, "kgf/cm²", "kilogram_force/centimeter**2", "0.1 20:1", _TO_PSI, kgf)
    _add(pressure, "psi", "pound_force_per_square_inch", "0.5 20:1", _TO_BAR, psi)
    _add(pressure, "inHg", "inch_Hg", "0.5", _TO_BAR, "inhg incheshg inchhg inchesofmercury")

    celsius = "°c c degc degreec degreesc celsius °celsius degreescelsius centigrade"
    fahrenheit = "°f f degf degreef degreesf fahrenheit °fahrenheit degreesfahrenheit"
    _add(temperature, "°C", "degC", "1", ((-1e9, "°F"),), celsius)
    _add(temperature, "°F", "degF", "1", ((-1e9, "°C"),), fahrenheit)
    _add(temperature, "K", "kelvin", "1", ((-1e9, "°C"),), "kelvin kelvins", "K")

    gram = "gram grams gramme grammes"
    _add(mass, "kg", "kilogram", "0.01 10:0.1", _TO_LB, "kg kgs kilo kilos " + _pair("kilo", gram))
    _add(mass, "g", "gram", "1", _TO_LB, "g " + gram)
    _add(mass, "lb", "pound", "0.1 50:1", _TO_KG, "lb lbs pound pounds", "", True)
    _add(mass, "oz", "ounce", "0.1", _TO_KG, "oz ozs ounce ounces", "", True)

    _add(time, "s", "second", "1", (), "s sec secs second seconds")
    _add(time, "min", "minute", "1", (), "min mins minute minutes", "", True)
    _add(time, "h", "hour", "0.1", (), "h hr hrs hour hours", "", True)
    _add(time, "day", "day", "0.1", (), "d day days", "", True)
    _add(time, "week", "week", "0.1", (), "wk wks week weeks", "", True)

    _add(Kind.COUNT, "", "", "1", (), "pc pcs piece pieces off")


_enter_torques()
_enter_volumes()
_enter_others()

# Spellings that two units share, asked about and never guessed. "mil" is a thousandth of an inch
# on one side of the ocean and a millimetre on the other.
_POUND, _KILO = "lb lbs lbf pound pounds poundforce", "kg kgs kgf kp kilo kilos kilogram kilograms"
_ASKED: dict[Kind, dict[str, tuple[str, str]]] = {
    Kind.TORQUE: {
        **dict.fromkeys(_POUND.split(), ("lbf·ft", "lbf·in")),
        **dict.fromkeys(_KILO.split(), ("kgf·m", "kgf·cm")),
    },
    Kind.VOLUME: dict.fromkeys(("oz", "ozs", "ounce", "ounces"), ("US fl oz", "imp fl oz")),
    Kind.LENGTH: dict.fromkeys(("mil", "mils"), ("thou", "mm")),
    Kind.TEMPERATURE: dict.fromkeys(("°", "deg", "degree", "degrees"), ("°C", "°F")),
}

# Units that follow one another without a plus, larger before smaller: "1 h 30 min", "5 ft 3 in".
_RUNS = (
    ("week", "day", "h", "min", "s"),
    ("mi", "ft", "in"),
    ("lb", "oz"),
    ("US gal", "US qt", "US pt", "US fl oz"),
    ("imp gal", "imp qt", "imp pt", "imp fl oz"),
)

_PLURAL = {"turn": "turns", "day": "days", "week": "weeks"}

# What `tell_all` shows, in this order.
_SHOWN = {
    Kind.TORQUE: ("N·m", "lbf·in", "lbf·ft", "kgf·m", "kgf·cm", "daN·m", "cN·m", "ozf·in"),
    Kind.ANGLE: ("°", "turn"),
    Kind.LENGTH: ("mm", "in", "thou", "m", "ft", "km", "mi"),
    Kind.VOLUME: (
        *("L", "mL", "US fl oz", "US pt", "US qt", "US gal"),
        *("imp fl oz", "imp pt", "imp qt", "imp gal"),
    ),
    Kind.PRESSURE: ("bar", "kPa", "psi", "kgf/cm²", "MPa", "inHg"),
    Kind.TEMPERATURE: ("°C", "°F"),
    Kind.MASS: ("kg", "g", "lb", "oz"),
    Kind.TIME: ("s", "min", "h", "day"),
    Kind.COUNT: ("",),
}

# Figures below 0.1 are unwieldy in any other unit; in inches they are everyday.
_LEAST_SHOWN = {"in": Decimal("0.001")}

# ---------------------------------------------------------------------------------------------
# Conversion.

_lock = threading.Lock()
_registry: Any = None


def _convert(figure: Decimal, pint_from: str, pint_to: str) -> Decimal:
    """One conversion by pint, between two names of the table above, in decimals."""
    global _registry
    with _lock:  # the window may ask while the background thread still warms up
        if _registry is None:
            import pint

            _registry = pint.UnitRegistry(cache_folder=None, non_int_type=Decimal)
        return Decimal(_registry.Quantity(figure, pint_from).to(pint_to).magnitude)


@cache
def _line(symbol: str) -> tuple[Decimal, Decimal]:
    """(factor, offset) so that base = figure × factor + offset. Base units need no pint."""
    unit = _UNITS[symbol]
    base = _UNITS[_BASE[unit.kind]]
    if symbol == base.symbol:
        return Decimal(1), Decimal(0)
    if unit.kind is not Kind.TEMPERATURE:
        return _convert(Decimal(1), unit.pint_name, base.pint_name), Decimal(0)
    offset = _convert(Decimal(0), unit.pint_name, base.pint_name)
    hundred = _convert(Decimal(100), unit.pint_name, base.pint_name)
    return _EXACT.divide(_EXACT.subtract(hundred, offset), Decimal(100)), offset


def _to_base(figure: Decimal, symbol: str) -> Decimal:
    factor, offset = _line(symbol)
    return _EXACT.add(_EXACT.multiply(figure, factor), offset)


def _from_base(base: Decimal, symbol: str) -> Decimal:
    factor, offset = _line(symbol)
    return _EXACT.divide(_EXACT.subtract(base, offset), factor)


def warm_up() -> None:
    """Import pint and make its table of units (0.5 s), ahead of need, from a background thread."""
    for symbol in _UNITS:
        _line(symbol)


# ---------------------------------------------------------------------------------------------
# Reading.

_TIDY_SIGNS = str.maketrans(
    {
        **dict.fromkeys("⋅•∙‧・*×", "·"),
        **dict.fromkeys("‐‑‒–—−﹣－", "-"),
        **dict.fromkeys("º˚∘", "°"),
        **dict.fromkeys("″“”", '"'),
        **dict.fromkeys("′‘’", "'"),
        **dict.fromkeys("⁄∕", "/"),
        **dict.fromkeys("\u200b\u200c\u200d\u2060\ufeff", None),
        "℃": "°C",
        "℉": "°F",
        "ℓ": "l",
        "\u03bc": "\u00b5",  # the Greek letter for the micro sign
        "（": "(",
        "）": ")",
        "＋": "+",
        **{
            sign: " " + unicodedata.normalize("NFKC", sign).replace("⁄", "/") + " "
            for sign in "½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
        },
    }
)
_POWER = re.compile(r"(?<![a-z])(cm|mm|in)\^?([23])(?![0-9.,])", re.IGNORECASE)
_COUNTRY = re.compile(r"\(\s*(u\.?s\.?a?\.?|u\.?k\.?|imp\.?|imperial)\s*\)", re.IGNORECASE)
_SEPARATORS = re.compile(r"[\s.·\-]+")
_TERM = re.compile(
    r"\s*(?P<figure>(?:[0-9]+(?:-|\s+))?[0-9]+/[0-9]+|[.,]?[0-9][0-9.,]*)"
    r"(?P<unit>(?:[^0-9.,]|[.,](?![0-9]))*)"
)
_MIXED = re.compile(r"(?:([0-9]+)(?:-|\s+))?([0-9]+)/([0-9]+)")
_DECIMAL = re.compile(r"[0-9]*(?:[.,][0-9]+)?[.]?")
_MAYBE_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
_TENS = re.compile(r"[0-9.]\s?e\s?[+-]?[0-9]", re.IGNORECASE)
_RANGE_WORD = re.compile(r"(?:-|…|~|\bto|\bbis|\band|\bor)\s*$", re.IGNORECASE)
_LISTED = re.compile(r"[(/,;|=≈]\s*$")
# A rule is marked in these; other fractions are more likely two figures ("20/22 mm").
_PARTS = frozenset((2, 3, 4, 5, 6, 8, 10, 12, 16, 32, 64))


@dataclass(frozen=True, slots=True)
class _Term:
    """One figure with its unit: `text` tidy, `figure` in `unit`."""

    text: str
    figure: Decimal
    unit: _Unit


def read(text: str, kind: Kind) -> Amount:
    """Read a quantity of the given kind.

    Raises UnitTrouble, with what to write instead in `next`: no unit (a count may have none), a
    unit of another kind, a unit that two trades use differently, a negative (temperatures may be),
    a range, a separator of thousands, or no quantity at all.
    """
    _check_length(text, Kind(kind))
    return _read_cached(text, Kind(kind))


def read_any(text: str) -> Amount:
    """Read a quantity whose kind its unit tells; a bare number is refused. Raises UnitTrouble."""
    _check_length(text, None)
    return _read_cached(text, None)


def _check_length(text: str, kind: Kind | None) -> None:
    if len(text) > LONGEST_TEXT:
        raise _trouble(f"{_quote(text)} is too long for a quantity.", kind)


@lru_cache(maxsize=1024)
def _read_cached(text: str, kind: Kind | None) -> Amount:
    tidy = _COUNTRY.sub(r" \1", text.translate(_TIDY_SIGNS))
    tidy = _POWER.sub(lambda found: found[1] + "²³"[int(found[2]) - 2], tidy).strip()
    if not tidy:
        raise _trouble("There is nothing written.", kind)
    if _TENS.search(tidy):
        raise _trouble(f"{_quote(text)} has a power of ten in it; write all digits.", kind)
    tidy = tidy.removeprefix("+")
    negative = tidy.startswith("-")
    parts = tidy.removeprefix("-").split("+")
    terms: list[list[_Term]] = []
    for part in parts:
        if not _TERM.match(part):  # from the first digit on, everything is figure or unit
            if part.lstrip().startswith("-"):
                raise _trouble("Only sums are read, no differences.", kind)
            raise _trouble(f"{_quote(text)} cannot be read as {_name(kind)}.", kind)
        terms.append(_read_part(part, kind, text))
    kind = kind or terms[0][0].unit.kind
    for term in chain.from_iterable(terms):
        if term.unit.kind is not kind:
            raise _wrong_kind(term, kind)
    return _sum_up(terms, kind, negative)


def _read_part(part: str, kind: Kind | None, text: str) -> list[_Term]:
    """Read the terms between two plus signs: one, or a run such as "1 h 30 min"."""
    found = [(match["figure"], match["unit"].strip()) for match in _TERM.finditer(part)]
    for _, unit in found[:-1]:
        if _RANGE_WORD.search(unit):
            raise _trouble(f"{_quote(text)} is a range; one figure is wanted here.", kind)
        if not _SEPARATORS.sub("", unit):
            raise _trouble(
                f"{_quote(text)} holds two figures and one unit.",
                kind,
                "Write one figure, without a space between its digits",
            )
        if _LISTED.search(unit):
            raise _more_than_one(text, kind)
    terms = [_read_term(figure, unit, kind) for figure, unit in found]
    if len(terms) > 1 and not _runs_on([term.unit.symbol for term in terms]):
        raise _more_than_one(text, kind)
    return terms


def _runs_on(symbols: list[str]) -> bool:
    for run in _RUNS:
        if all(symbol in run for symbol in symbols):
            return all(run.index(a) < run.index(b) for a, b in pairwise(symbols))
    return False


def _read_term(figure_text: str, unit_text: str, kind: Kind | None) -> _Term:
    unit = _find_unit(figure_text, unit_text, kind)
    if "/" in figure_text:
        tidy, figure = _read_fraction(figure_text, unit, kind)
    else:
        tidy, figure = _read_decimal(figure_text, unit, kind)
    return _Term(_join(tidy, figure, unit.symbol), figure, unit)


def _find_unit(figure: str, unit_text: str, kind: Kind | None) -> _Unit:
    key = _SEPARATORS.sub("", unit_text)
    if not key:
        if kind is Kind.COUNT:
            return _UNITS[""]
        wanted = _name(kind) if kind else "a quantity"
        raise _trouble(f"{_quote(figure)} is not {wanted} because it has no unit.", kind)
    folded = key.lower()
    if kind and folded in _ASKED.get(kind, ()):
        raise _ask(figure, unit_text, *_ASKED[kind][folded])
    symbol = _STRICT_SPELLINGS.get(key, _SPELLINGS.get(folded))
    if symbol is not None:
        return _UNITS[symbol]
    for pairs in _ASKED.values():  # "lbf" and "mil" are no unit of any other kind
        if kind is None and folded in pairs:
            raise _ask(figure, unit_text, *pairs[folded])
    raise _trouble(f"{_quote(unit_text)} is not a unit known here.", kind)


def _read_decimal(text: str, unit: _Unit, kind: Kind | None) -> tuple[str, Decimal]:
    """ "1,20" -> ("1.20", 1.20). A comma before three digits may be either sign, so it is asked."""
    if _MAYBE_THOUSANDS.fullmatch(text):
        plain, point = text.replace(",", ""), text.replace(",", ".")
        raise UnitTrouble(
            f"{_quote(text)} can be read two ways.",
            next=f"Is that {plain} or {point}? Write it without a comma.",
        )
    if not _DECIMAL.fullmatch(text):
        raise _trouble(
            f"{_quote(text)} is not a figure read here.",
            kind or unit.kind,
            "Write no separators of thousands and one decimal sign",
        )
    whole, _, rest = text.replace(",", ".").rstrip(".").partition(".")
    tidy = (whole.lstrip("0") or "0") + (f".{rest}" if rest else "")
    if unit.kind is Kind.COUNT and rest.strip("0"):
        raise _trouble(f"{_quote(text)} is not a count; a count is a whole number.", Kind.COUNT)
    return tidy, Decimal(tidy)


def _read_fraction(text: str, unit: _Unit, kind: Kind | None) -> tuple[str, Decimal]:
    """ "1-1/2" -> ("1 1/2", 1.5)."""
    match = _MIXED.fullmatch(text)
    assert match is not None, "the grammar lets nothing else through"
    whole, above, below = int(match[1] or 0), int(match[2]), int(match[3])
    sound = below in _PARTS and above > 0 and (above < below or match[1] is None)
    if not unit.fractions or not sound:
        raise _trouble(
            f"{_quote(text)} is not a fraction read here.", kind or unit.kind, "Write a decimal"
        )
    tidy = f"{whole} {above}/{below}" if whole else f"{above}/{below}"
    return tidy, _EXACT.divide(Decimal(whole * below + above), Decimal(below))


def _sum_up(terms: list[list[_Term]], kind: Kind, negative: bool) -> Amount:
    every = list(chain.from_iterable(terms))
    unit = every[0].unit
    text = " + ".join(" ".join(term.text for term in part) for part in terms)
    if kind is Kind.TEMPERATURE and len(every) > 1:
        raise _trouble("Temperatures are not added up.", kind)
    if len(every) == 1:
        value = every[0].figure
        if negative and value:
            if kind is not Kind.TEMPERATURE:
                raise _negative(kind)
            text, value = f"-{text}", value.copy_negate()
        base = _to_base(value, unit.symbol)
        if kind is Kind.TEMPERATURE and base < Decimal("-273.15"):
            raise _trouble(f"{text} is colder than anything can be.", kind)
    else:
        if negative:
            raise _negative(kind)
        base = Decimal(0)
        for term in every:
            base = _EXACT.add(base, _to_base(term.figure, term.unit.symbol))
        value = _from_base(base, unit.symbol)
    return Amount(text, kind, value, unit.symbol, float(base))


# ---------------------------------------------------------------------------------------------
# What is said when a text cannot be read.


def _name(kind: Kind | None) -> str:
    if kind is None:
        return "a quantity"
    return f"an {kind}" if kind is Kind.ANGLE else f"a {kind}"


def _quote(text: str) -> str:
    """The typed text in quotes, short, and with nothing in it that a screen cannot show."""
    shown = "".join(sign if sign.isprintable() else " " for sign in text).strip()
    return f'"{shown[:40]}…"' if len(shown) > 41 else f'"{shown}"'


def _trouble(what: str, kind: Kind | None, advice: str = "Write") -> UnitTrouble:
    examples = _EXAMPLES[kind] if kind else _ANY_EXAMPLE
    joint = " " if advice == "Write" else ", for example "
    return UnitTrouble(what, next=f"{advice}{joint}{examples}.")


def _more_than_one(text: str, kind: Kind | None) -> UnitTrouble:
    return _trouble(
        f"{_quote(text)} holds more than one figure.", kind, "Write one, or a sum with +"
    )


def _negative(kind: Kind) -> UnitTrouble:
    name = _name(kind)
    return _trouble(f"{name[0].upper()}{name[1:]} cannot be below zero.", kind)


def _wrong_kind(term: _Term, kind: Kind) -> UnitTrouble:
    return _trouble(f"{term.text} is {_name(term.unit.kind)}, not {_name(kind)}.", kind)


def _ask(figure: str, unit: str, one: str, other: str) -> UnitTrouble:
    return UnitTrouble(
        f"{_quote(f'{figure} {unit}')} can be read two ways.",
        next=f"Is that {one} or {other}? Write {_join(figure, None, one)} or "
        f"{_join(figure, None, other)}.",
    )


# ---------------------------------------------------------------------------------------------
# Telling.


def _join(figure_text: str, figure: Decimal | None, symbol: str) -> str:
    """The figure and its unit as they are printed: "9 N·m", "90°", "2 days", "16"."""
    if symbol in _PLURAL and figure is not None and figure > 1:
        symbol = _PLURAL[symbol]
    gap = "" if symbol in ("", "°") else " "
    return f"{figure_text}{gap}{symbol}"


def in_unit(amount: Amount, unit: str) -> float:
    """The amount's figure in another unit of its kind, unrounded. Raises UnitTrouble."""
    if unit == amount.unit:
        return float(amount.value)
    known = _UNITS.get(unit)
    if known is None:
        raise _trouble(f"{_quote(unit)} is not a unit known here.", amount.kind)
    if known.kind is not amount.kind:
        raise _trouble(
            f"{amount.text} is {_name(amount.kind)}; {unit} measures {_name(known.kind)}.",
            amount.kind,
        )
    return float(_from_base(_base(amount), unit))


def _base(amount: Amount) -> Decimal:
    """The base figure in decimals: `amount.base` has been through a float."""
    return _to_base(amount.value, amount.unit)


def _round_to(figure: Decimal, step: Decimal) -> Decimal:
    """To the nearest multiple of step, with as many decimals as the step has."""
    count = _WIDE.divide(figure, step).to_integral_value(ROUND_HALF_UP)
    return _WIDE.multiply(count, step).quantize(
        Decimal(1).scaleb(min(0, int(step.as_tuple().exponent))), context=_WIDE
    )


def _round_digits(figure: Decimal, digits: int) -> Decimal:
    """To so many significant digits, but never coarser than whole ones."""
    if not figure:
        return Decimal(0)
    step = Decimal(1).scaleb(min(0, figure.adjusted() - digits + 1))
    return _round_to(figure, step)


def _round_to_scale(figure: Decimal, unit: _Unit) -> Decimal:
    """What a scale in this unit shows.

    Where its step would move the figure by more than 5 % (a small torque on a coarse scale), two
    significant digits are told instead: 0.5 N·m is 4.4 lbf·in, not 4.
    """
    step = next(step for start, step in reversed(unit.steps) if figure >= start or not start)
    shown = _round_to(figure, step)
    if unit.kind is not Kind.TEMPERATURE and abs(shown - figure) > abs(figure) * Decimal("0.05"):
        return _round_digits(figure, 2)
    return shown


def _tell(figure: Decimal, symbol: str) -> str:
    return _join(f"{figure:f}", figure, symbol)


def tell_converted(amount: Amount) -> str:
    """The amount in the other system, rounded to what a scale can show; "" where nothing helps.

    N·m becomes lbf·in (to 1) below 20 N·m and lbf·ft (to 0.5) from there on; everything else
    becomes N·m (to 0.1 below 20, else 0.5), since wrenches are marked so: kgf·m too.
    """
    ladder = _UNITS[amount.unit].other
    if not ladder:
        return ""
    base = _base(amount)
    symbol = next(unit for start, unit in reversed(ladder) if base >= Decimal(start))
    return _tell(_round_to_scale(_from_base(base, symbol), _UNITS[symbol]), symbol)


def tell_all(amount: Amount) -> tuple[str, ...]:
    """The amount as printed, then in every unit of its kind that a mechanic may meet.

    Three significant digits (temperatures to whole degrees); units in which the figure would be
    unwieldy are left out.
    """
    return (amount.text, *_tell_others(amount))


def _tell_others(amount: Amount) -> Iterator[str]:
    base = _base(amount)
    for symbol in _SHOWN[amount.kind]:
        figure = _from_base(base, symbol)
        if amount.kind in (Kind.TEMPERATURE, Kind.COUNT):
            shown = _round_to(figure, Decimal(1))
        elif _LEAST_SHOWN.get(symbol, Decimal("0.1")) <= figure < 10_000:
            shown = _round_digits(figure, 3)
        else:
            continue
        if symbol != amount.unit or " + " in amount.text:
            yield _tell(shown, symbol)


def scale(amount: Amount, share: float) -> Amount:
    """A share of an amount (0.3 for 30 %), in its own unit, rounded to what a scale shows.

    The whole (share 1) is the amount itself, as printed. Raises UnitTrouble for a temperature or a
    share that is not a positive number.
    """
    if amount.kind is Kind.TEMPERATURE:
        raise _trouble("A share of a temperature means nothing.", amount.kind)
    if not 0 < share < float("inf"):
        raise UnitTrouble(
            f"{share} is not a share.", next="Write a share above 0, such as 0.3 for 30 %."
        )
    if share == 1:
        return amount
    unit = _UNITS[amount.unit]
    value = _round_to_scale(_EXACT.multiply(amount.value, Decimal(str(share))), unit)
    base = _to_base(value, unit.symbol)
    return Amount(_tell(value, unit.symbol), amount.kind, value, unit.symbol, float(base))
