"""Torque wrenches: what each is called, what it reaches, its lever, and its calibration."""

from __future__ import annotations

import re
from typing import Self

from pydantic import model_validator

from shopguide.errors import Trouble, UnitTrouble
from shopguide.torque import units
from shopguide.torque.calibration import read_date
from shopguide.torque.entry import Entry, Line, Prose
from shopguide.torque.wrench import WrenchFacts, find_deviation

DRIVES = ("1/4 in", "3/8 in", "1/2 in", "3/4 in", "1 in")
"""Square drives (ISO 1174-1; 6.3, 10, 12.5, 20 and 25 mm there), the sizes from memory."""

EXAMPLE = "Write: small click wrench, 2 N·m, 25 N·m, 4711, lever 320 mm, due 2027-03-01."


class Wrench(Entry):
    """One torque wrench. Texts with units, as typed; what is not known is "".

    low and high: the lowest and highest marked torque. iso_type and iso_class: as ISO 6789-1 names
    them ("II", "A"). unit: of the scale, where it is not that of `high`. resolution: the smallest
    step of the scale. lever: from the middle of the drive to the middle of the grip.
    """

    name: Line
    low: Prose = ""
    high: Line
    drive: Prose = ""
    iso_type: Prose = ""
    iso_class: Prose = ""
    unit: Prose = ""
    resolution: Prose = ""
    lever: Prose = ""
    serial: Prose = ""
    calibrated: Prose = ""
    due: Prose = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        try:
            facts = self.facts()
            units.in_unit(facts.high, facts.scale)
        except Trouble as trouble:
            raise ValueError(str(trouble)) from None
        fault = _find_fault(facts)
        if fault:
            raise ValueError(fault)
        return self

    def facts(self) -> WrenchFacts:
        """The same as quantities, for reckoning."""
        return WrenchFacts.from_dict(self.model_dump())

    def tell(self) -> str:
        """ "small click wrench, 2 N·m to 25 N·m"."""
        return (
            f"{self.name}, {self.low} to {self.high}"
            if self.low
            else (f"{self.name}, up to {self.high}")
        )

    def tell_more(self) -> str:
        """What else is known of it: "3/8 in drive, lever 320 mm, due 2027-03-01"; may be empty."""
        parts = [f"{self.drive} drive"] if self.drive else []
        if self.unit and self.unit != self.facts().high.unit:
            parts.append(f"scale in {self.unit}")
        classed = (
            (self.iso_type and f"type {self.iso_type}"),
            (self.iso_class and f"class {self.iso_class}"),
        )
        parts.append(" ".join(part for part in classed if part))
        for word, text in (
            ("resolution", self.resolution),
            ("lever", self.lever),
            ("serial", self.serial),
            ("calibrated", self.calibrated),
            ("due", self.due),
        ):
            parts.append(f"{word} {text}" if text else "")
        return ", ".join(part for part in parts if part)

    def tell_all(self) -> str:
        """Everything that is known of it, and what the standard permits it to be off by."""
        parts = [self.tell(), "" if self.low else "lowest mark not known", self.tell_more()]
        said = ", ".join(part for part in parts if part)
        return f"{said}. Permitted deviation {find_deviation(self.facts()).tell()}"


def _find_fault(facts: WrenchFacts) -> str:
    """What does not fit together, a sentence; "" where all is well."""
    if facts.low is not None and facts.low.base >= facts.high.base:
        return "The lowest marked torque must be below the highest. Exchange the two."
    if facts.high.base <= 0:
        return "The highest marked torque must be above nought."
    if facts.resolution is not None and not 0 < facts.resolution.base < facts.high.base:
        return "The resolution must be a step of the scale, such as 0.5 N·m."
    if facts.lever is not None and facts.lever.base <= 0:
        return "The lever must have a length, such as 320 mm."
    return ""


# --- typed on one line ------------------------------------------------------------------------

_CLASS = re.compile(
    r"(?:iso\s*6789(?:-1)?(?::\d{4})?\s+)?"
    r"(?:type\s+(?P<t1>i{1,3}|[12])\s+class\s+(?P<c1>[a-z])"
    r"|class\s+(?P<c2>[a-z])\s+type\s+(?P<t2>i{1,3}|[12])"
    r"|type\s+(?P<t3>\w+)|class\s+(?P<c3>\w+)|(?P<t4>ii?)\s+(?P<c4>[a-g]))",
    re.IGNORECASE,
)
_WORDS: tuple[tuple[str, str], ...] = (
    ("lever length", "lever"),
    ("lever", "lever"),
    ("resolution", "resolution"),
    ("lowest", "low"),
    ("from", "low"),
    ("highest", "high"),
    ("up to", "high"),
    ("to", "high"),
    ("scale in", "unit"),
    ("scale", "unit"),
    ("serial number", "serial"),
    ("serial no.", "serial"),
    ("serial", "serial"),
    ("calibrated", "calibrated"),
    ("calibration", "calibrated"),
    ("due", "due"),
)
_TORQUES, _LENGTHS = ("low", "high", "resolution"), ("lever",)


def read_wrench(text: str) -> Wrench:
    """A wrench typed on one line: its name, then in parts with commas between what is known.

    Without words: lowest and highest torque in this sequence, then serial, then date of
    calibration. With words, in any sequence: lever 320 mm, 3/8 in drive, type II class A,
    resolution 0.5 N·m, scale in lbf·in, serial 4711, calibrated March 2026, due 2027-03-01.
    Raises UnitTrouble that says what is missing or cannot be read.
    """
    name, *parts = [part.strip() for part in _keep_decimal_commas(text).split(",")]
    known: dict[str, str] = {}
    plain: list[str] = []
    torques: list[str] = []
    for part in parts:
        if part and not _take_part(part, known, torques):
            plain.append(part)
    for key, torque in zip(
        [key for key in ("low", "high") if key not in known], torques, strict=False
    ):
        known[key] = torque
    if len(torques) > 2 or not name or "high" not in known:
        raise UnitTrouble(
            "A wrench needs a name, its lowest and its highest marked torque."
            if len(torques) <= 2
            else "A wrench has one lowest and one highest marked torque; more are written here.",
            next=EXAMPLE,
        )
    _take_plain(plain, known)
    try:
        wrench = Wrench(name=name, **known)
    except ValueError as error:
        raise UnitTrouble(_tell_fault(error), next="" if known else EXAMPLE) from None
    if wrench.due and read_date(wrench.due) is None:
        raise _no_date(wrench.due)
    return wrench


def _keep_decimal_commas(text: str) -> str:
    """A comma between two digits is a decimal sign ("2,5 N·m"); one with a space parts."""
    return re.sub(r"(?<=\d),(?=\d)", ".", text)


def _take_part(part: str, known: dict[str, str], torques: list[str]) -> bool:
    """Enters a part that says itself what it is; False for one that does not."""
    found = _CLASS.fullmatch(part)
    if found is not None:
        said = found.groupdict()
        for key, names in (("iso_type", "t1 t2 t3 t4"), ("iso_class", "c1 c2 c3 c4")):
            value = next((said[n] for n in names.split() if said[n]), "")
            if value:
                value = value.upper()
                value = {"1": "I", "2": "II"}.get(value, value) if key == "iso_type" else value
                _enter(known, key, value)
        return True
    lower = part.lower()
    if lower.endswith(" drive"):
        _enter(known, "drive", _tidy_drive(part[: -len(" drive")].strip()))
        return True
    for word, key in _WORDS:
        rest = part[len(word) :].lstrip(" :")
        if lower.startswith(word) and rest and not part[len(word)].isalnum():
            if key in _TORQUES:
                rest = units.read(rest, units.Kind.TORQUE).text
            elif key in _LENGTHS:
                rest = units.read(rest, units.Kind.LENGTH).text
            elif key == "unit":
                rest = units.read(f"1 {rest}", units.Kind.TORQUE).unit
            _enter(known, key, rest)
            return True
    return _take_figure(part, known, torques)


def _take_figure(part: str, known: dict[str, str], torques: list[str]) -> bool:
    """A bare torque, two of them with "to", or a length; while a torque is due, it has a unit."""
    low, to, high = part.partition(" to ")
    if to and not torques:
        torques += [units.read(figure, units.Kind.TORQUE).text for figure in (low, high)]
        return True
    try:
        amount = units.read_any(part)
    except UnitTrouble:
        if len(torques) < 2 and "high" not in known and part[:1].isdigit():
            if read_date(part) is not None and not part.isdecimal():
                return False
            torques.append(units.read(part, units.Kind.TORQUE).text)  # raises, and says why
            return True
        return False
    if amount.kind is units.Kind.TORQUE:
        torques.append(amount.text)
    elif amount.kind is units.Kind.LENGTH:
        if amount.text in DRIVES:
            _enter(known, "drive", amount.text)
        else:
            _enter(known, "lever", amount.text)
    elif len(torques) < 2 and "high" not in known:
        torques.append(units.read(part, units.Kind.TORQUE).text)  # raises, and says why
    else:
        return False
    return True


def _take_plain(plain: list[str], known: dict[str, str]) -> None:
    """What has no word with it: a date of calibration, else the serial, else more of the date."""
    rest = []
    for part in plain:
        if "calibrated" not in known and not part.isdecimal() and read_date(part) is not None:
            known["calibrated"] = part
        elif "serial" not in known and not rest:
            known["serial"] = part
        else:
            rest.append(part)
    if rest:
        if "calibrated" in known:
            raise UnitTrouble(
                f'"{rest[0][:40]}" cannot be told: it is no torque, length, class or date.',
                next=EXAMPLE,
            )
        known["calibrated"] = ", ".join(rest)


def _enter(known: dict[str, str], key: str, value: str) -> None:
    if known.get(key, value) != value:
        raise UnitTrouble(
            f"Two values are written for one thing: {known[key]} and {value}.",
            next="Leave one of them.",
        )
    known[key] = value


def _tidy_drive(text: str) -> str:
    try:
        return units.read(text, units.Kind.LENGTH).text
    except UnitTrouble:
        return text


def _tell_fault(error: ValueError) -> str:
    """The sentence of a model's complaint."""
    errors = getattr(error, "errors", None)
    said = str(errors()[0]["msg"]) if errors is not None else str(error)
    return said.removeprefix("Value error, ")


def _no_date(text: str) -> UnitTrouble:
    return UnitTrouble(
        f'"{text[:40]}" is not a date that can be read one way only.',
        next="Write 2027-03-01, March 2027 or 1 March 2027.",
    )
