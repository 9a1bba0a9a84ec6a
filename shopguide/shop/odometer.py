"""What the odometer or hour meter shows: a figure with km, mi or h, kept as typed."""

from __future__ import annotations

import re

from shopguide.errors import UnitTrouble

_SHAPE = re.compile(
    r"^(\d{1,3}(?:[ .,'\u00a0\u202f]?\d{3})*|\d+)\s*(km|kilometres?|mi|miles?|h|hours?|hrs?)$", re.I
)
_UNITS = {"k": "km", "m": "mi", "h": "h"}


def read_odometer(text: str) -> str:
    """ "123 456 km", "76700 miles" or "820 h" in one tidy form; UnitTrouble for anything else."""
    found = _SHAPE.match(text.strip())
    if found is None:
        raise UnitTrouble(
            f"“{text.strip()}” cannot be read as what the odometer shows.",
            next="Write it with its unit and without tenths: 123456 km, 76700 mi or 820 h.",
        )
    figure = re.sub(r"\D", "", found.group(1))
    return f"{int(figure)} {_UNITS[found.group(2)[0].lower()]}"
