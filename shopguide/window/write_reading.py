"""What the program reads in a figure, a date or a thread as it is typed; the typed text stays."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from shopguide.errors import UnitTrouble
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.paper.clock import MONTHS
from shopguide.torque import units
from shopguide.torque.calibration import read_date
from shopguide.torque.friction import find_condition
from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.threads import read_thread
from shopguide.torque.units import Kind

FIRST_YEAR = 1900
_SLASHED = re.compile(r"([0-9]{1,2})/([0-9]{1,2})/([0-9]{4})")
_RANGE = re.compile(r"\s*(?:-|–|—|\bto\b)\s*")
_PARTS = re.compile(r"\s*(?:,\s|;|\bor\b|\band\b)\s*")
_WHICHEVER = re.compile(r",?\s*(?:whichever|what(?:ever)?)\b.*$", re.IGNORECASE)
_YEAR_FIRST = re.compile(r"([0-9]{4})[/.]([0-9]{1,2})[/.]([0-9]{1,2})")
_UNIT = re.compile(r"[^0-9.,/\s].*$")
_COUNT = re.compile(r"([0-9]{1,6})(?:[.,]0+)?\s*(?:pcs?\.?|pieces?|off|[x×])?", re.IGNORECASE)
_COUNTED_BEFORE = re.compile(r"[x×]\s*([0-9]{1,6})", re.IGNORECASE)
KINDS = {kind.value: kind for kind in Kind}


def read_day(text: str) -> str | None:
    """A whole date as ISO 8601 writes it ("24.3.2026", "March 24 2026"); None where it is none.

    One that may be read two ways (1/3/2026) is none; 24/3/2026 and 3/24/2026 can only be one.
    """
    tidy = _YEAR_FIRST.sub(r"\1-\2-\3", text.strip())
    slashed = _SLASHED.fullmatch(tidy)
    if slashed is not None:
        one, other, year = (int(part) for part in slashed.groups())
        if (one > 12) == (other > 12) and one != other:
            return None
        day, month = (one, other) if one > 12 else (other, one)
        tidy = f"{year}-{month}-{day}"
    found = read_date(re.sub(r"(?<=[0-9])(?:st|nd|rd|th)\b", "", tidy))
    if found is None or found.first != found.last or found.first.year < FIRST_YEAR:
        return None
    return found.first.isoformat()


def read_count(text: str) -> int | None:
    """A whole number of pieces: "2", "2 pcs", "2 ×", "×2"; None where it is none."""
    found = _COUNT.fullmatch(text.strip()) or _COUNTED_BEFORE.fullmatch(text.strip())
    return int(found[1]) if found else None


def split_range(text: str, kind: Kind | None) -> tuple[str, str] | None:
    """The two ends of "15-18 Nm" or "15 Nm to 18 Nm", each with its unit; None where it is none."""
    parts = [part.strip() for part in _RANGE.split(text.strip())]
    if len(parts) != 2 or not all(parts):
        return None
    unit = _UNIT.search(parts[1])
    if unit is not None and parts[0][-1].isdigit():
        parts[0] = f"{parts[0]} {unit[0]}"
    try:
        one, other = (units.read(part, kind) if kind else units.read_any(part) for part in parts)
    except UnitTrouble:
        return None
    if one.kind is not other.kind or one.base > other.base:
        return None
    return parts[0], parts[1]


def tell_reading(sort: str, text: str) -> str:
    """What is read in a field of this sort: "date", "time", "after", "thread" or "condition"."""
    if not text:
        return ""
    match sort:
        case "date":
            return _tell_day(text)
        case "time":
            return _tell_time(text)
        case "after":
            return _tell_after(text)
        case "thread":
            return _tell_thread(text)
        case "condition":
            return _tell_condition(text)
    return ""


def _tell_day(text: str) -> str:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return ""
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def _tell_time(text: str) -> str:
    """A time or a span of times; its unit may stand once, behind both."""
    told = _list_amounts(_RANGE.split(text), (Kind.TIME,))
    return f"Read as {' to '.join(told)}." if told else ""


def _tell_after(text: str) -> str:
    told = []
    for part in _PARTS.split(_WHICHEVER.sub("", text.strip())):
        one = _list_amounts(_RANGE.split(part), (Kind.TIME, Kind.LENGTH))
        if not one:
            return ""
        told.append(" to ".join(one))
    return f"Read as {' or '.join(told)}."


def _list_amounts(parts: list[str], kinds: tuple[Kind, ...]) -> list[str]:
    """The parts as quantities; () where one of them is none."""
    told: list[str] = []
    unit = _UNIT.search(parts[-1]) if parts else None
    for part in parts:
        written = part.strip()
        if unit is not None and written and written[-1].isdigit():
            written = f"{written} {unit[0]}"
        for kind in kinds:
            try:
                told.append(tell_amount(units.read(written, kind)))
                break
            except UnitTrouble:
                continue
        else:
            return []
    return told


def _tell_thread(text: str) -> str:
    try:
        thread = read_thread(text)
    except UnitTrouble as trouble:
        return f"{trouble.what} It stays as it is written."
    try:
        return f"{thread.name}, hexagon head {find_hex_head(thread).size}"
    except KeyError:
        return thread.name


def _tell_condition(text: str) -> str:
    try:
        return find_condition(text).name
    except UnitTrouble as trouble:
        return f"{trouble} It stays as it is written."


def tell_amount(amount: units.Amount) -> str:
    """A quantity as it is read, with the other system beside it: "7 N·m (62 lbf·in)"."""
    other = units.tell_converted(amount)
    return f"{amount.text} ({other})" if other else amount.text


# --- cells of tables ----------------------------------------------------------------------------

_HINTS: dict[tuple[str, str], str] = {
    ("specs", "tolerance"): "With its unit or in percent: ±1 N·m, ±10 %.",
    ("parts", "quantity"): "A whole number of pieces.",
    ("parts", "price"): "The price of one, with its currency: 24.50 €.",
    ("supplies", "quantity"): "With its unit: 250 mL, 2 cans.",
    ("follow_ups", "after"): "A time or a distance with its unit: 3 days or 200 km.",
}


def tell_cell(section: str, entry: FixedDict | None, keys: Path, text: str) -> str:
    """What is read in a cell of a table, or what belongs there; "" where there is nothing to say.

    entry: the row, None for a new one.
    """
    if not keys:
        return ""
    key = str(keys[0])
    if section == "specs" and key in ("value", "low", "high", "printed_also"):
        return _tell_figure(_find_kind(entry), key, text)
    if section == "specs" and key == "tolerance" and text:
        return _tell_tolerance(_find_kind(entry), text)
    if section == "follow_ups" and key == "after" and text:
        return _tell_after(text)
    if section == "parts" and key == "quantity" and text and not text.isdecimal():
        count = read_count(text)
        return "" if count is None else f"{count} piece{'s' if count != 1 else ''}"
    return "" if text else _HINTS.get((section, key), "")


def _find_kind(entry: FixedDict | None) -> Kind | None:
    held: Any = entry.get("kind") if entry is not None else None
    return KINDS.get(held) if isinstance(held, str) else None


def _tell_figure(kind: Kind | None, key: str, text: str) -> str:
    if not text:
        if key == "printed_also":
            return "The value as its source prints it in other units, parted by |."
        return f"A figure with its unit. {_tell_example(kind)}"
    told = []
    for part in text.split("|") if key == "printed_also" else [text]:
        try:
            told.append(tell_amount(units.read(part, kind) if kind else units.read_any(part)))
        except UnitTrouble as trouble:
            return str(trouble)
    return f"Read as {', '.join(told)}."


def _tell_example(kind: Kind | None) -> str:
    """How a figure of this kind is written."""
    try:
        units.read("", kind) if kind else units.read_any("")
    except UnitTrouble as trouble:
        return trouble.next
    return ""


def _tell_tolerance(kind: Kind | None, text: str) -> str:
    tidy = text.strip()
    for sign in ("±", "+/-", "+-"):
        tidy = tidy.removeprefix(sign)
    tidy = tidy.strip()
    if tidy.endswith("%") or kind is None:
        return f"Read as ±{tidy.removesuffix('%').strip()} %." if tidy.endswith("%") else ""
    try:
        amount = units.read(tidy, kind)
    except UnitTrouble as trouble:
        return str(trouble)
    # A difference of temperatures is not converted like a temperature.
    told = amount.text if kind is Kind.TEMPERATURE else tell_amount(amount)
    return f"Read as ±{told}."
