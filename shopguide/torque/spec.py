"""Spec values: one named figure kept as its source prints it, with tolerance and source."""

from __future__ import annotations

from enum import StrEnum
from typing import Self

from pydantic import ValidationInfo, field_validator, model_validator

from shopguide.torque import units
from shopguide.torque.entry import Entry, Line, Name, Prose


class SourceKind(StrEnum):
    """Where a figure comes from."""

    MANUAL = "manual"
    LABEL = "label"
    STANDARD = "standard"
    COMMON_PRACTICE = "common practice"
    NOT_KNOWN = "not known"


class Source(Entry):
    """Where a figure was read, so that somebody else can look it up."""

    kind: SourceKind = SourceKind.NOT_KNOWN
    text: Prose = ""

    def tell(self) -> str:
        """`manual: section 3, page 17`, or `source not known`."""
        if self.kind is SourceKind.NOT_KNOWN:
            return f"source not known: {self.text}" if self.text else "source not known"
        return f"{self.kind.value}: {self.text}" if self.text else self.kind.value


class Spec(Entry):
    """One value a step refers to by name.

    value, low and high are texts with a unit, as printed ("9 N·m", "4.2 L", "40 °C").
    tolerance is a text too: "±1 N·m", "±10 %". A spec whose figure nobody knows has none of them.
    printed_also: the value as the source prints it in other units ("80 lbf·in"); never reckoned
    with, only held against the value.
    """

    name: Name
    kind: units.Kind
    value: Line | None = None
    low: Line | None = None
    high: Line | None = None
    tolerance: Line | None = None
    printed_also: tuple[Line, ...] = ()
    note: Prose = ""
    source: Source = Source()

    @field_validator("value", "low", "high")
    @classmethod
    def _read_figure(cls, text: str | None, info: ValidationInfo) -> str | None:
        # Without a kind there is nothing to read it as; that the kind is wrong is told anyway.
        if text is not None and "kind" in info.data:
            try:
                units.read(text, info.data["kind"])
            except units.UnitTrouble as trouble:
                raise ValueError(str(trouble)) from trouble
        return text

    @field_validator("printed_also")
    @classmethod
    def _read_others(cls, texts: tuple[str, ...], info: ValidationInfo) -> tuple[str, ...]:
        for text in texts:
            cls._read_figure(text, info)
        return texts

    @model_validator(mode="after")
    def _compare_figures(self) -> Self:
        if self.printed_also and self.value is None:
            raise ValueError("printed_also: There is no value that it belongs to. Write value.")
        if self.tolerance is not None:
            self._read_tolerance()
        low, high = self.limits()
        if low is not None and high is not None and low > high:
            raise ValueError("The low limit lies above the high limit. Exchange them.")
        return self

    def _read_tolerance(self) -> float:
        """Half the width of the allowed band, in the kind's base unit."""
        text = (self.tolerance or "").strip()
        for sign in ("±", "+/-", "+-"):
            text = text.removeprefix(sign)
        text = text.strip()
        if self.value is None:
            raise ValueError("tolerance: There is no value that it belongs to. Write low and high.")
        base = units.read(self.value, self.kind).base
        if text.endswith("%"):
            try:
                share = float(text[:-1].strip().replace(",", "."))
            except ValueError:
                raise ValueError(
                    f'tolerance: "{text}" is not a percentage. Write it like "±10 %".'
                ) from None
            if not 0 <= share <= 100:
                raise ValueError(
                    f'tolerance: "{text}" does not lie between 0 and 100 %. Write it like "±10 %".'
                )
            return abs(base) * share / 100
        if self.kind is units.Kind.TEMPERATURE:
            try:
                low = units.read(text, self.kind)
            except units.UnitTrouble as trouble:
                raise ValueError(f"tolerance: {trouble}") from trouble
            # A difference of temperature, not a temperature: only the size of the degree counts.
            return float(low.value) * (5 / 9 if low.unit == "°F" else 1.0)
        try:
            return units.read(text, self.kind).base
        except units.UnitTrouble as trouble:
            raise ValueError(f"tolerance: {trouble}") from trouble

    @property
    def has_figure(self) -> bool:
        """True where a value or a limit is known."""
        return any(text is not None for text in (self.value, self.low, self.high))

    def amount(self) -> units.Amount | None:
        """The printed value as a quantity; None where only limits, or nothing, is known."""
        return units.read(self.value, self.kind) if self.value is not None else None

    def limits(self) -> tuple[float | None, float | None]:
        """Lowest and highest allowed figure in the kind's base unit; None where not given."""
        low = units.read(self.low, self.kind).base if self.low is not None else None
        high = units.read(self.high, self.kind).base if self.high is not None else None
        if self.tolerance is not None and self.value is not None:
            base, band = units.read(self.value, self.kind).base, self._read_tolerance()
            low = base - band if low is None else low
            high = base + band if high is None else high
        return low, high

    def find_disagreements(self) -> tuple[tuple[units.Amount, str], ...]:
        """What is printed beside the value and is no such quantity: (it, value in its unit).

        Allowed are 2 % (manuals reckon 10 N to the kgf) and what rounding to the printed digits
        explains, of either figure; temperatures may differ by 1 °C.
        """
        value = self.amount()
        if value is None:
            return ()
        found = []
        for text in self.printed_also:
            other = units.read(text, self.kind)
            if not _agree(value, other):
                found.append(
                    (other, f"{units.in_unit(value, other.unit):.4g} {other.unit}".strip())
                )
        return tuple(found)

    def tell(self) -> str:
        """The figure in words: "9 N·m ±1 N·m", "40 °C to 45 °C", "not known"."""
        if self.value is not None:
            text = units.read(self.value, self.kind).text
            if self.tolerance:
                return f"{text} {self.tolerance}"
            if self.low is not None and self.high is not None:
                return f"{text} ({self.low} to {self.high})"
            return text
        if self.low is not None and self.high is not None:
            return f"{self.low} to {self.high}"
        if self.low is not None:
            return f"at least {self.low}"
        if self.high is not None:
            return f"at most {self.high}"
        return "not known"


AGREE_SHARE = 0.02
"""By how much two printings of one value may differ, as a share."""


def _agree(value: units.Amount, other: units.Amount) -> bool:
    """True where two printed figures can be the same quantity."""
    apart = abs(other.base - value.base)
    if value.kind is units.Kind.TEMPERATURE:
        return apart <= 1 + 1e-9
    if apart <= AGREE_SHARE * abs(value.base) + 1e-12:
        return True
    return any(
        abs(units.in_unit(one, two.unit) - float(two.value)) <= _half_digit(two) + 1e-9
        for one, two in ((value, other), (other, value))
    )


def _half_digit(amount: units.Amount) -> float:
    """Half of the last printed digit: 0.5 for "18 lbf·ft", 0.05 for "8.5 L"."""
    exponent = amount.value.as_tuple().exponent
    return 0.5 * 10.0 ** (exponent if isinstance(exponent, int) else 0)
