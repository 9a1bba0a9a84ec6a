"""Torque wrenches: what each is called, from which to which torque it goes, and its calibration."""

from __future__ import annotations

from typing import Self

from pydantic import model_validator

from shopguide.errors import UnitTrouble
from shopguide.torque import units
from shopguide.torque.entry import Entry, Line, Prose


class Wrench(Entry):
    """One torque wrench. low and high are the lowest and highest marked torque, with unit."""

    name: Line
    low: Line
    high: Line
    serial: Prose = ""
    calibrated: Prose = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        try:
            low = units.read(self.low, units.Kind.TORQUE)
            high = units.read(self.high, units.Kind.TORQUE)
        except UnitTrouble as trouble:
            raise ValueError(str(trouble)) from None
        if low.base >= high.base:
            raise ValueError("the lowest marked torque must be below the highest; exchange them")
        return self

    def tell(self) -> str:
        """ "small click wrench, 2 N·m to 25 N·m"."""
        return f"{self.name}, {self.low} to {self.high}"


def read_wrench(text: str) -> Wrench:
    """A wrench typed on one line: name, lowest, highest[, serial[, date of calibration]].

    Raises UnitTrouble that says what is missing.
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) < 3 or not parts[0]:
        raise UnitTrouble(
            "A wrench needs a name, its lowest and its highest marked torque.",
            next="Write: small click wrench, 2 N·m, 25 N·m. Serial and calibration may follow.",
        )
    tidy = []
    for part in parts[1:3]:
        tidy.append(units.read(part, units.Kind.TORQUE).text)
    if units.read(tidy[0], units.Kind.TORQUE).base >= units.read(tidy[1], units.Kind.TORQUE).base:
        raise UnitTrouble(
            "The lowest marked torque must be below the highest.",
            next="Exchange the two.",
        )
    return Wrench(
        name=parts[0],
        low=tidy[0],
        high=tidy[1],
        serial=parts[3] if len(parts) > 3 else "",
        calibrated=", ".join(parts[4:]) if len(parts) > 4 else "",
    )
