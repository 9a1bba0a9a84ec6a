"""When a wrench was calibrated and when it is due again, from dates as people write them."""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date
from typing import Literal

MONTHS = {name.lower(): number for number, name in enumerate(calendar.month_name) if name}
MONTHS |= {name.lower(): number for number, name in enumerate(calendar.month_abbr) if name}
MONTHS["sept"] = 9

USUAL_INTERVAL = "12 months is usual (ISO 6789, from memory)"
USUAL_DAYS = 366

_FORMS = (
    re.compile(r"(?P<y>\d{4})-(?P<m>\d{1,2})-(?P<d>\d{1,2})"),
    re.compile(r"(?P<y>\d{4})-(?P<m>\d{1,2})"),
    re.compile(r"(?P<d>\d{1,2})\.\s?(?P<m>\d{1,2})\.\s?(?P<y>\d{4})"),
    re.compile(r"(?P<m>\d{1,2})/(?P<y>\d{4})"),
    re.compile(r"(?P<d>\d{1,2})\.?\s+(?P<m>[a-z]+)\.?,?\s+(?P<y>\d{4})"),
    re.compile(r"(?P<m>[a-z]+)\.?\s+(?P<d>\d{1,2}),?\s+(?P<y>\d{4})"),
    re.compile(r"(?P<m>[a-z]+)\.?\s+(?P<y>\d{4})"),
    re.compile(r"(?P<y>\d{4})"),
)


@dataclass(frozen=True, slots=True)
class Span:
    """The days that a written date may mean: "March 2026" is all of March."""

    first: date
    last: date


def read_date(text: str) -> Span | None:
    """The days that a text means; None where it is no date, or may be read two ways (1/3/2026)."""
    tidy = text.strip().lower()
    for form in _FORMS:
        found = form.fullmatch(tidy)
        if found is None:
            continue
        parts = found.groupdict()
        month_text = parts.get("m")
        month = int(month_text) if month_text and month_text.isdecimal() else None
        if month_text and month is None:
            month = MONTHS.get(month_text)
            if month is None:
                return None
        year, day = int(parts["y"]), parts.get("d")
        try:
            if month is None:
                return Span(date(year, 1, 1), date(year, 12, 31))
            if day is None:
                last = calendar.monthrange(year, month)[1]
                return Span(date(year, month, 1), date(year, month, last))
            return Span(date(year, month, int(day)), date(year, month, int(day)))
        except (ValueError, calendar.IllegalMonthError):
            return None
    return None


State = Literal["in date", "past due", "old", "not known"]


@dataclass(frozen=True, slots=True)
class Calibration:
    """How a wrench's calibration stands on a day. warning: a sentence, "" where all is well."""

    state: State
    warning: str = ""


def look_at_calibration(calibrated: str, due: str, on: date) -> Calibration:
    """How the calibration stands on the day of work. A month counts to its last day."""
    day = on.isoformat()
    if due.strip():
        until = read_date(due)
        if until is None:
            return Calibration(
                "not known",
                f"Whether its calibration is past due is not known: “{due}” is no date.",
            )
        if on > until.last:
            return Calibration("past due", f"Its calibration was due {due}; the work is of {day}.")
        return Calibration("in date")
    if not calibrated.strip():
        return Calibration("not known", "When it was calibrated is not known.")
    made = read_date(calibrated)
    if made is None:
        return Calibration(
            "not known", f"When it was calibrated is not known: “{calibrated}” is no date."
        )
    if made.first > on:
        return Calibration("not known", f"It was calibrated {calibrated}, after this work ({day}).")
    if (on - made.last).days > USUAL_DAYS:
        return Calibration(
            "old", f"It was calibrated {calibrated} and no due date is given; {USUAL_INTERVAL}."
        )
    return Calibration("in date")
