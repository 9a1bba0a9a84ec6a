"""Vehicle identification numbers: shape after ISO 3779, check digit after 49 CFR 565.15(c).

North American vehicles carry the check digit in place 9. Elsewhere it is not a duty, so a digit
that does not fit is a warning there, never a refusal.
"""

from __future__ import annotations

from dataclasses import dataclass

# 49 CFR 565.15(c), tables IV to VI: the value of each character and the weight of each place.
_VALUES = {
    **{str(n): n for n in range(10)},
    **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)


@dataclass(frozen=True, slots=True)
class VinFinding:
    """What a typed VIN tells. `fits` is None where nothing can be said about its check digit."""

    vin: str
    fits: bool | None
    told: str


def find_check_digit(vin: str) -> str:
    """The check digit that belongs in place 9: "0" to "9" or "X".

    Raises ValueError unless there are 17 characters that a VIN may have (place 9 is not looked at).
    """
    if len(vin) != 17:
        raise ValueError("a VIN has 17 characters")
    total = 0
    for index, (char, weight) in enumerate(zip(vin, _WEIGHTS, strict=True)):
        if index == 8:
            continue
        if char not in _VALUES:
            raise ValueError(f"{char} is not a character of a VIN")
        total += _VALUES[char] * weight
    rest = total % 11
    return "X" if rest == 10 else str(rest)


def look_at_vin(text: str) -> VinFinding:
    """What can be said about a typed VIN; never refuses, since older vehicles have other forms."""
    vin = "".join(text.split()).replace("-", "").upper()
    if not vin:
        return VinFinding("", None, "")
    odd = sorted({c for c in vin if c not in _VALUES})
    if len(vin) != 17:
        return VinFinding(
            vin,
            None,
            f"{len(vin)} characters; a VIN has 17 since 1981. Older numbers differ: kept as typed.",
        )
    if odd:
        return VinFinding(
            vin, None, f"{', '.join(odd)} is not used in a VIN (I, O and Q never are). Look again."
        )
    wanted = find_check_digit(vin)
    fits = vin[8] == wanted
    if fits:
        return VinFinding(vin, True, "The check digit fits.")
    if vin[0] in "12345":
        return VinFinding(
            vin,
            False,
            f"The check digit should be {wanted}, not {vin[8]}: a character is wrong. Look again.",
        )
    return VinFinding(
        vin,
        None,
        "The check digit does not fit; many makers outside North America do not use one.",
    )
