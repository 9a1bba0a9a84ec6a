"""Strength of screws: ISO 898-1 classes, SAE J429 grades, and stainless steels of ISO 3506-1."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from shopguide.errors import UnitTrouble
from shopguide.torque.threads import Thread

KSI_MPA = 6.894757293168361
"""One thousand pounds-force per square inch in N/mm²: 0.45359237 kg × 9.80665 m/s² / (25.4 mm)²."""

_ISO = "ISO 898-1:2013, read in two manufacturers' extracts"
_SAE = "SAE J429, read in two extracts"
_STAINLESS = "ISO 3506-1, read in two manufacturers' extracts"

# Class: (tensile, yield or 0.2 % limit, proof), all minima in N/mm². 8.8 has a second row above
# 16 mm; tables that give that row for every size call small screws stronger than they are.
_CLASSES: dict[str, tuple[int, int, int]] = {
    "4.6": (400, 240, 225),
    "4.8": (420, 340, 310),
    "5.6": (500, 300, 280),
    "5.8": (520, 420, 380),
    "6.8": (600, 480, 440),
    "8.8": (800, 640, 580),
    "9.8": (900, 720, 650),
    "10.9": (1040, 940, 830),
    "12.9": (1220, 1100, 970),
}
_THICK_8_8 = (830, 660, 600)
_ENDS_AT_16_MM = frozenset({"9.8"})

# Grade: (tensile, yield, proof) in ksi, for 1/4 to 3/4 in (the whole range of threads here).
_GRADES: dict[str, tuple[int, int, int]] = {
    "2": (74, 57, 55),
    "5": (120, 92, 85),
    "8": (150, 130, 120),
}
_SMALLEST_GRADED_MM = 6.35

# Class: (tensile, 0.2 % limit); ISO 3506-1 has no proof load.
_STAINLESS_CLASSES: dict[str, tuple[int, int]] = {
    "50": (500, 210),
    "70": (700, 450),
    "80": (800, 600),
}

_CLASS_TEXT = re.compile(r"(?:iso\s*|class\s*|cl\.?\s*|grade\s*)?(?P<name>\d{1,2}\.\d)")
_GRADE_TEXT = re.compile(r"(?:sae\s*)?(?:j429\s*)?(?:grade|gr\.?|sae)\s*(?P<name>\d(?:\.\d)?)")
_STAINLESS_TEXT = re.compile(r"(?:class\s*)?(?P<steel>a[1-5])\s*-?\s*(?P<name>\d{2,3})")

_METRIC_EXAMPLES = "4.6, 5.8, 8.8, 10.9, 12.9 or A2-70"
_INCH_EXAMPLES = "grade 2, grade 5 or grade 8"


@dataclass(frozen=True, slots=True)
class Strength:
    """What a screw of one class stands, N/mm², each a minimum.

    yield_mpa: ReL, or the 0.2 % limit where that is what is given. proof_mpa: None where the
    standard gives none. source: where the figures were read.
    """

    name: str
    tensile_mpa: float
    yield_mpa: float
    proof_mpa: float | None
    source: str

    def proof_load_n(self, thread: Thread) -> float | None:
        """Proof stress times stress area, N. ISO 898-1, table of proof loads: M8 8.8, 21 200 N."""
        return None if self.proof_mpa is None else self.proof_mpa * thread.stress_area_mm2

    def yield_load_n(self, thread: Thread) -> float:
        """Yield limit times stress area, N: pulled only, not twisted."""
        return self.yield_mpa * thread.stress_area_mm2

    def breaking_load_n(self, thread: Thread) -> float:
        """Tensile strength times stress area, N. ISO 898-1: M6 8.8, 16 100 N."""
        return self.tensile_mpa * thread.stress_area_mm2


def read_grade(text: str, thread: Thread) -> Strength:
    """Read a class or grade ("8.8", "class 10.9", "grade 5", "A2-70") as it holds for a thread.

    Raises UnitTrouble for one that is not known, that belongs to the other system of threads, or
    that its standard does not give for this size.
    """
    shown = text.strip()[:40] if isinstance(text, str) else str(text)
    if not isinstance(text, str) or not shown:
        raise _trouble(f'"{shown}" is not a class of screws.', thread)
    plain = unicodedata.normalize("NFKC", text).strip().lower().replace(",", ".")
    if found := _CLASS_TEXT.fullmatch(plain):
        return _read_class(found["name"], thread)
    if found := _GRADE_TEXT.fullmatch(plain):
        return _read_sae(found["name"], thread)
    if found := _STAINLESS_TEXT.fullmatch(plain):
        return _read_stainless(found["steel"].upper(), found["name"], thread)
    raise _trouble(f'"{shown}" is not a class or grade known here.', thread)


def _read_class(name: str, thread: Thread) -> Strength:
    if name not in _CLASSES:
        raise _trouble(f"The strength of class {name} is not known here.", thread)
    if not thread.metric:
        raise _trouble(f"{name} is a class of metric screws; {thread.name} is an inch one.", thread)
    if thread.diameter_mm > 16 and name in _ENDS_AT_16_MM:
        raise _trouble(f"ISO 898-1 gives class {name} only up to M16.", thread)
    figures = _THICK_8_8 if name == "8.8" and thread.diameter_mm > 16 else _CLASSES[name]
    return Strength(name, *figures, source=_ISO)


def _read_sae(name: str, thread: Thread) -> Strength:
    if thread.metric:
        raise _trouble(f"Grade {name} is one of inch screws; {thread.name} is metric.", thread)
    if name not in _GRADES:
        raise _trouble(f"The strength of SAE grade {name} is not known here.", thread)
    if thread.diameter_mm < _SMALLEST_GRADED_MM:
        raise UnitTrouble(
            f"SAE J429 gives grade {name} from 1/4 in upward; for {thread.name} it is not known.",
            next="Ask the maker of the screw what it stands.",
        )
    tensile, yields, proof = (ksi * KSI_MPA for ksi in _GRADES[name])
    return Strength(f"grade {name}", tensile, yields, proof, _SAE)


def _read_stainless(steel: str, name: str, thread: Thread) -> Strength:
    if name not in _STAINLESS_CLASSES:
        raise _trouble(f"The strength of {steel}-{name} is not known here.", thread)
    if not thread.metric:
        raise UnitTrouble(
            f"ISO 3506-1 gives {steel}-{name} for metric screws; for {thread.name} it is "
            "not known.",
            next="Ask the maker of the screw what it stands.",
        )
    tensile, yields = _STAINLESS_CLASSES[name]
    return Strength(f"{steel}-{name}", tensile, yields, None, _STAINLESS)


def _trouble(what: str, thread: Thread) -> UnitTrouble:
    examples = _METRIC_EXAMPLES if thread.metric else _INCH_EXAMPLES
    return UnitTrouble(what, next=f"Write for example {examples}.")
