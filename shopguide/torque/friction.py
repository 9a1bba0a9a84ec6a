"""Friction of a screw as the nut factor K: a band for each condition, never a single figure."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from difflib import get_close_matches

from shopguide.errors import UnitTrouble

_RANGES = "ranges: a fastener maker's table of nut factors"
_SHIGLEY = "Shigley's Mechanical Engineering Design, 9th edition, Table 8-15, second-hand copy"


@dataclass(frozen=True, slots=True)
class Condition:
    """A state of thread and bearing face. k_low, k_usual, k_high: nut factors, no unit.

    source: where they were read; it says "from memory" or "estimated" where that is so.
    """

    name: str
    k_low: float
    k_usual: float
    k_high: float
    source: str


NOT_KNOWN = Condition(
    "condition not known",
    0.10,
    0.20,
    0.35,
    "the lowest and highest of the rows for plain and plated steel here; 0.20 is the default of "
    "torque charts",
)

CONDITIONS: tuple[Condition, ...] = (
    Condition(
        "dry",
        0.18,
        0.20,
        0.30,
        f"{_RANGES} (dry steel 0.18 to 0.27); torque charts (0.20); {_SHIGLEY} (0.30 for black)",
    ),
    Condition(
        "oiled",
        0.10,
        0.18,
        0.26,
        f"{_RANGES} (machine oil 0.10 to 0.26); {_SHIGLEY} (0.18); torque charts say 0.15",
    ),
    Condition("zinc plated", 0.17, 0.20, 0.35, f"{_RANGES} (0.17 to 0.35); {_SHIGLEY} (0.20)"),
    Condition(
        "phosphated and oiled",
        0.15,
        0.185,
        0.22,
        f"{_RANGES} (0.15 to 0.22); the middle stands for usual",
    ),
    Condition("cadmium plated", 0.15, 0.16, 0.19, f"{_RANGES} (0.15 to 0.19); {_SHIGLEY} (0.16)"),
    Condition(
        "zinc flake",
        0.16,
        0.24,
        0.32,
        f"{_RANGES} (0.16 to 0.32); the middle stands for usual",
    ),
    Condition(
        "anti-seize",
        0.09,
        0.12,
        0.15,
        f"{_SHIGLEY} (0.12); band estimated: ±25 %, the scatter of a lubricated screw in "
        "NASA-STD-5020B Table 3, second-hand copy",
    ),
    Condition(
        "threadlock",
        0.11,
        0.198,
        0.286,
        "a gearbox maker's manual (torque × 1.1 with cement in the thread), applied to the band "
        "for oiled; estimated",
    ),
    Condition(
        "stainless, dry",
        0.30,
        0.40,
        0.50,
        f"{_RANGES} (stainless on stainless 0.30 to 0.50); the middle stands for usual",
    ),
    NOT_KNOWN,
)

_ALSO: dict[str, str] = {
    "clean and dry": "dry",
    "dry steel": "dry",
    "plain": "dry",
    "black": "dry",
    "oil": "oiled",
    "lightly oiled": "oiled",
    "engine oil": "oiled",
    "machine oil": "oiled",
    "lubricated": "oiled",
    "greased": "oiled",
    "zinc": "zinc plated",
    "zinc-plated": "zinc plated",
    "phosphated": "phosphated and oiled",
    "phosphate and oil": "phosphated and oiled",
    "cadmium": "cadmium plated",
    "antiseize": "anti-seize",
    "anti seize": "anti-seize",
    "copper paste": "anti-seize",
    "thread lock": "threadlock",
    "threadlocker": "threadlock",
    "thread cement": "threadlock",
    "stainless": "stainless, dry",
    "stainless dry": "stainless, dry",
    "not known": "condition not known",
    "unknown": "condition not known",
}


def find_condition(text: str | None) -> Condition:
    """The condition that a text names; None and "not known" have the widest band.

    Raises UnitTrouble for a word that none of them goes by.
    """
    if text is None:
        return NOT_KNOWN
    plain = " ".join(unicodedata.normalize("NFKC", text).lower().split())
    by_name = {condition.name: condition for condition in CONDITIONS}
    found = by_name.get(_ALSO.get(plain, plain))
    if found is None:
        near = get_close_matches(plain, [*by_name, *_ALSO], 1)
        names = ", ".join(condition.name for condition in CONDITIONS[:-1])
        raise UnitTrouble(
            f'"{text.strip()[:40]}" is not a condition of a screw known here.',
            next=f"Did you mean {near[0]}?" if near else f"Write one of: {names}; or not known.",
        )
    return found
