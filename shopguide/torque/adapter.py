"""An adapter between wrench and screw: how it changes what the wrench has to be set to."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shopguide.errors import Trouble
from shopguide.torque import units

CROW_FOOT, LEVER, BAR = "crow-foot", "lever extension", "extension bar"
KINDS: dict[str, str] = {
    CROW_FOOT: "an open or ring end beside the drive",
    LEVER: "a flat piece that makes the wrench longer or cranks it",
    BAR: "a bar along the drive's own axis, between drive and socket",
}
"""What may stand between wrench and screw; the words are the trade's."""

OTHER_NAMES = {
    "crowfoot": CROW_FOOT,
    "crow foot": CROW_FOOT,
    "crow's foot": CROW_FOOT,
    "lever": LEVER,
    "adapter": LEVER,
    "bar": BAR,
    "drive extension": BAR,
    "socket extension": BAR,
    "extension along the drive": BAR,
}

NO_LEVER = "The lever length of the {name} is not known; with an adapter the setting depends on it."
MEASURE_IT = (
    "Measure from the middle of the drive to the middle of the grip, and write it at the wrench "
    "in Lay out: lever 320 mm."
)
LEAST_SHARE = 1e-3
"""Below this share of the wrench's own lever, no setting turns the screw the right way."""


@dataclass(frozen=True, slots=True)
class Adapter:
    """One adapter. length: from the drive's middle to the screw's; None for an extension bar.

    angle: 0° where it points straight out, away from the grip; 180° back along the handle.
    """

    kind: str
    length: units.Amount | None
    angle: units.Amount

    @property
    def counts(self) -> bool:
        """False for an extension along the drive axis, which changes nothing."""
        return self.kind != BAR

    @property
    def length_mm(self) -> float:
        """Its length in mm; 0 for an extension bar whose length nobody needs."""
        return self.length.base if self.length is not None else 0.0

    def name(self) -> str:
        """ "30 mm crow-foot", or "extension bar"."""
        return f"{self.length.text} {self.kind}" if self.length is not None else self.kind

    def tell(self) -> str:
        """ "30 mm crow-foot at 0°"; an extension bar has no angle."""
        return f"{self.name()} at {self.angle.text}" if self.counts else self.name()

    def as_data(self) -> dict[str, str]:
        """What the record keeps of it: {"length", "angle", "kind"}."""
        data = {"kind": self.kind}
        if self.length is not None:
            data["length"] = self.length.text
        if self.counts:
            data["angle"] = self.angle.text
        return data


_BARE = re.compile(r"[+-]?[0-9]+([.,][0-9]+)?")


def read_angle(text: str) -> units.Amount:
    """An angle of an adapter from 0° to 180°; a bare number is degrees. Raises Trouble."""
    text = text.strip()
    if _BARE.fullmatch(text):
        text += "°"
    angle = units.read(text, units.Kind.ANGLE)
    if angle.base > 180:
        other = f"{360 - angle.base:g}°"
        raise Trouble(
            f"An adapter stands at 0° (straight out) to 180° (back along the handle), "
            f"not at {angle.text}.",
            where="angle",
            next=f"Write {other}: left and right of the handle are the same."
            if angle.base <= 360
            else "Write an angle from 0° to 180°.",
        )
    return angle


def read_kind(text: str) -> str:
    """The kind of adapter that a text names. Raises Trouble."""
    tidy = text.strip().lower()
    if not tidy:
        return CROW_FOOT
    if tidy == "extension":
        raise Trouble(
            '"Extension" can be read two ways.',
            where="kind",
            next=f"Write {LEVER}, or {BAR} for one along the drive axis.",
        )
    kind = OTHER_NAMES.get(tidy, tidy)
    if kind not in KINDS:
        raise Trouble(
            f'"{text.strip()[:40]}" is no kind of adapter known here.',
            where="kind",
            next=f"Write {', '.join(list(KINDS)[:-1])} or {BAR}.",
        )
    return kind


def read_adapter(data: Mapping[str, Any] | None) -> Adapter | None:
    """The adapter that a record or a form holds as texts; None for {}: no adapter.

    Raises Trouble where length, angle or kind cannot be read, or the length is missing or nought.
    """
    if not data:
        return None
    texts = {key: str(data.get(key) or "").strip() for key in ("length", "angle", "kind")}
    if not any(texts.values()):
        return None
    kind = read_kind(texts["kind"])
    length = None
    if texts["length"]:
        length = units.read(texts["length"], units.Kind.LENGTH)
        if length.base <= 0:
            raise Trouble(
                "An adapter of no length is none.", where="length", next="Leave its length empty."
            )
    if kind == BAR:
        return Adapter(BAR, length, read_angle("0"))
    if length is None:
        raise Trouble(
            f"The length of the {kind} is missing.",
            where="length",
            next="Measure from the middle of the drive to the middle of the screw: 40 mm.",
        )
    return Adapter(kind, length, read_angle(texts["angle"] or "0"))


def find_lever_share(lever_mm: float, length_mm: float, angle_deg: float) -> float:
    """How many times the wrench's own lever acts at the screw: (L + E·cos α) / L.

    lever_mm (L): drive to grip, in mm, above 0. length_mm (E): drive to screw, from 0 up.
    angle_deg (α): 0 straight out, 90 square, 180 back along the handle.
    It holds with the hand in the middle of the grip, pulling square to the handle. Source of the
    angle's part: TM 9-254, figure 46: L_eff = L + E·cos a.
    Raises Trouble for figures that are no lengths, or where nothing of the lever is left.
    """
    figures = (lever_mm, length_mm, angle_deg)
    if not all(math.isfinite(figure) for figure in figures) or lever_mm <= 0 or length_mm < 0:
        raise Trouble(
            "A lever of this length cannot be reckoned with.",
            where="lever and adapter",
            next="Write lengths above nought, such as 320 mm and 40 mm.",
        )
    # cos 90° is no exact nought in floats; at 90° the adapter changes nothing at all.
    share = 1.0 if angle_deg in (90, 270) else 1 + length_mm * _cos(angle_deg) / lever_mm
    if share < LEAST_SHARE:
        raise Trouble(
            f"At {angle_deg:g}° an adapter of {length_mm:g} mm reaches back as far as the grip "
            f"({lever_mm:g} mm) or beyond it: no setting tightens this screw rightly.",
            where="lever and adapter",
            next="Turn the adapter outward, or take a longer wrench.",
        )
    return share


def _cos(angle_deg: float) -> float:
    return math.cos(math.radians(angle_deg))


def find_setting(torque: float, lever_mm: float, length_mm: float, angle_deg: float) -> float:
    """What to set for a torque at the screw: S = T·L / (L + E·cos α), in the unit of `torque`.

    Worked example (Robinson R66 maintenance manual, section 20, page 20.4): T 135 in-lb,
    L 10 in, E 1.5 in, straight out: S = 117.39 in-lb. Limits and Troubles: `find_lever_share`.
    """
    return torque / find_lever_share(lever_mm, length_mm, angle_deg)


def find_share(adapter: Adapter | None, lever: units.Amount | None, name: str = "wrench") -> float:
    """Torque at the screw for each unit of setting; 1 without adapter. Raises Trouble.

    name: what the wrench is called where its lever length is missing.
    """
    if adapter is None or not adapter.counts:
        return 1.0
    if lever is None:
        raise Trouble(NO_LEVER.format(name=name), where="lever length", next=MEASURE_IT)
    return find_lever_share(lever.base, adapter.length_mm, adapter.angle.base)


def explain(adapter: Adapter | None) -> str:
    """What the adapter does to the setting, in one or two sentences; "" without one."""
    if adapter is None:
        return ""
    if not adapter.counts:
        return (
            "An extension along the drive axis lengthens no lever: it changes nothing, set the "
            "torque itself."
        )
    angle = adapter.angle.base
    if angle == 90:
        return "At 90° the adapter changes nothing: set the torque itself. Keep it at 90°."
    if angle > 90:
        return (
            "Beyond 90° the adapter points back along the handle and the lever is shorter: "
            "set more than the torque."
        )
    return "The adapter lengthens the lever: set less than the torque."


def tell_reckoning(target: units.Amount, lever: units.Amount, adapter: Adapter) -> str:
    """The reckoning in figures: "S = T·L / (L + E·cos α) = 9 · 300 / (300 + 30 · cos 0°) = 8.18".

    Raises Trouble where nothing of the lever is left.
    """
    share = find_share(adapter, lever)
    figures = [f"{figure:.4g}" for figure in (target.value, lever.base, adapter.length_mm)]
    torque, long, short = figures
    angle = f"{adapter.angle.base:.4g}°"
    return (
        f"S = T·L / (L + E·cos α) = {torque} · {long} / ({long} + {short} · cos {angle}) = "
        f"{float(target.value) / share:.4g} {target.unit}"
    )


HAND = (
    "Pull in the middle of the grip, square to the handle, with one hand: only there is the "
    "setting right."
)
"""Where the hand must be; L is measured to there."""
