"""The wrench in hand: which one serves a torque, what it is set to, and how near that comes.

What ISO 6789-1 says of types, classes and permitted deviations is from memory, but for the figures
of type II class A, which were read in a maker's manual that quotes the standard's 2003 edition
(Facom S.325DA, chapter 1): ±4 % where the tool's maximum is above 10 N·m, ±6 % up to 10 N·m, of
what the testing device shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Literal

from shopguide.errors import Trouble
from shopguide.torque import units
from shopguide.torque.adapter import Adapter, find_share
from shopguide.torque.calibration import Calibration, look_at_calibration

TYPES: dict[str, str] = {"I": "indicating", "II": "setting"}
"""ISO 6789-1, clause 4, from memory."""

CLASSES: dict[str, dict[str, str]] = {
    "I": {
        "A": "wrench with a torsion or flexion bar",
        "B": "wrench with a rigid housing, with scale, dial or display",
        "C": "wrench with a rigid housing and electronic measurement",
        "D": "screwdriver with scale, dial or display",
        "E": "screwdriver with electronic measurement",
    },
    "II": {
        "A": "wrench, adjustable, graduated or with display",
        "B": "wrench, of fixed setting",
        "C": "wrench, adjustable, not graduated",
        "D": "screwdriver, adjustable, graduated or with display",
        "E": "screwdriver, of fixed setting",
        "F": "screwdriver, adjustable, not graduated",
        "G": "wrench with a flexion bar, adjustable, graduated",
    },
}
"""ISO 6789-1, clause 4, from memory."""

ALWAYS_SIX = frozenset({("I", "A"), ("I", "D"), *(("II", letter) for letter in "DEFG")})
"""Types and classes that are permitted ±6 % whatever their maximum; from memory."""

SMALL_NM = 10.0
LEAST_SHARE = 0.2
"""Share of the maximum from which the 2003 edition checks a tool; it is checked at 20, 60, 100 %
(Facom S.325DA manual). The 2017 edition begins at the lowest marked value instead (clause 5.1.3,
as norbar.com tells it)."""
MIDDLE_SHARE = 0.6
NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class WrenchFacts:
    """What is known of one torque wrench; unknown texts are "", unknown figures None.

    high, low: the highest and lowest marked value. unit: of its scale. lever: from the middle of
    the drive to the middle of the grip. calibrated, due: dates as written.
    """

    name: str
    high: units.Amount
    low: units.Amount | None = None
    drive: str = ""
    iso_type: str = ""
    iso_class: str = ""
    unit: str = ""
    resolution: units.Amount | None = None
    lever: units.Amount | None = None
    serial: str = ""
    calibrated: str = ""
    due: str = ""

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> WrenchFacts:
        """The facts of a wrench as record and shop book keep them; raises Trouble.

        A wrench kept by an older program has fewer of them.
        """
        texts = {key: str(data.get(key) or "").strip() for key in cls.__slots__}
        if not texts["high"]:
            raise Trouble(
                f"The highest marked torque of “{texts['name'] or 'a wrench'}” is missing.",
                next="Write it in Lay out.",
            )
        _check_class(texts["iso_type"], texts["iso_class"])
        torque, length = units.Kind.TORQUE, units.Kind.LENGTH
        high = units.read(texts["high"], torque)
        resolution = texts["resolution"]
        return cls(
            name=texts["name"],
            high=high,
            low=units.read(texts["low"], torque) if texts["low"] else None,
            drive=texts["drive"],
            iso_type=texts["iso_type"],
            iso_class=texts["iso_class"],
            unit=texts["unit"] or high.unit,
            resolution=units.read(resolution, torque) if resolution else None,
            lever=units.read(texts["lever"], length) if texts["lever"] else None,
            serial=texts["serial"],
            calibrated=texts["calibrated"],
            due=texts["due"],
        )

    @property
    def scale(self) -> str:
        """The unit of its scale."""
        return self.unit or self.high.unit

    def least_nm(self) -> float:
        """The lowest torque in N·m that it may be set to: its lowest mark, else 20 % of maximum."""
        return self.low.base if self.low is not None else LEAST_SHARE * self.high.base


def _check_class(iso_type: str, iso_class: str) -> None:
    """Raises Trouble for a type or class that ISO 6789-1 does not have."""
    if iso_type and iso_type not in TYPES:
        raise Trouble(
            f'"{iso_type[:40]}" is no type of ISO 6789-1.',
            next="Write I (indicating) or II (setting).",
        )
    letters = CLASSES[iso_type or "II"]
    if iso_class and iso_class not in letters:
        said = f"Type {iso_type}" if iso_type else "ISO 6789-1"
        raise Trouble(
            f'{said} has no class "{iso_class[:40]}".', next=f"Write one of {', '.join(letters)}."
        )


# --- what the standard permits --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Deviation:
    """What the standard permits a tool to be off by: 0.04 for ±4 %. source: whence, in words."""

    share: float
    source: str

    def tell(self) -> str:
        """ "±4 %"."""
        return f"±{self.share:.0%}".replace("%", " %")


def find_deviation(wrench: WrenchFacts) -> Deviation:
    """The permitted deviation of this wrench after ISO 6789-1.

    Type II class A: ±4 % where the tool's maximum is above 10 N·m, ±6 % where it is 10 N·m or
    less; the same is taken for I B, I C, I E, II B and II C, and ±6 % for the rest, from memory.
    """
    pair = (wrench.iso_type or "II", wrench.iso_class)
    if pair == ("I", ""):
        said = "type I, class not given, the widest of its classes, from memory"
        return Deviation(0.06, f"ISO 6789-1, {said}")
    small = wrench.high.base <= SMALL_NM + NEAR
    share = 0.06 if small or pair in ALWAYS_SIX else 0.04
    size = "a maximum of 10 N·m or less" if small else "a maximum above 10 N·m"
    if not pair[1]:
        said = "class" if wrench.iso_type else "type and class"
        said += f" not given, taken as II A, {size}"
    elif pair == ("II", "A"):
        said = f"type II class A, {size}"
    elif pair in ALWAYS_SIX:
        said = f"type {pair[0]} class {pair[1]}, from memory"
    else:
        said = f"type {pair[0]} class {pair[1]}, {size}, from memory"
    return Deviation(share, f"ISO 6789-1, {said}")


# --- one wrench at one torque ---------------------------------------------------------------

Reach = Literal["reaches", "below its marks", "above its marks"]


@dataclass(frozen=True, slots=True)
class Setting:
    """One wrench at one torque.

    exact: what to set, unrounded, in the unit of its scale; figure, text: rounded to its
    resolution. at_screw_nm: what the rounded setting gives at the screw; low_nm, high_nm: the band
    that the permitted deviation leaves there. warnings: sentences. note: a sentence, or "".
    """

    wrench: WrenchFacts
    target: units.Amount
    adapter: Adapter | None
    exact: float
    figure: Decimal
    text: str
    reach: Reach
    at_screw_nm: float
    low_nm: float
    high_nm: float
    deviation: Deviation
    calibration: Calibration
    warnings: tuple[str, ...]
    note: str = ""

    @property
    def share_of_maximum(self) -> float:
        """Where on its scale the setting lies, 1 at its highest mark."""
        return self.set_nm / self.wrench.high.base

    @property
    def set_nm(self) -> float:
        """The unrounded setting in N·m."""
        return _to_nm(self.exact, self.wrench.scale)

    def tell_band(self) -> str:
        """ "8.65 N·m to 9.38 N·m", in the unit of the target."""
        unit = self.target.unit
        low, high = (_tell_figure(nm, unit, zeros=True) for nm in (self.low_nm, self.high_nm))
        return f"{low} to {high}"

    def tell_set(self) -> str:
        """ "Set 8.2 N·m on the small click wrench with the 30 mm crow-foot"."""
        said = f"Set {self.text} on the {self.wrench.name}"
        return said + (f" with the {self.adapter.name()}" if self.adapter is not None else "")

    def tell(self) -> str:
        """Everything in sentences: what to set, the band, its source, what to mind."""
        if self.reach == "above its marks":
            return f"The {self.wrench.name} ends at {self.wrench.high.text}; {self.text} is needed."
        band = (
            f"Permitted deviation {self.deviation.tell()} ({self.deviation.source}): "
            f"{self.tell_band()} at the screw."
        )
        return " ".join(p for p in (f"{self.tell_set()}.", band, self.note, *self.warnings) if p)


def set_wrench(
    wrench: WrenchFacts, target: units.Amount, adapter: Adapter | None, *, on: date
) -> Setting:
    """What this wrench is set to for this torque at the screw.

    on: the day of work, against which its calibration is held. Worked example: 9 N·m, lever
    300 mm, crow-foot 30 mm at 0°: 9·300/330 = 8.18, on a scale of 0.1 N·m 8.2 N·m; that gives
    9.02 N·m at the screw, and ±4 % of what the testing device shows leaves 8.67 to 9.40 N·m.
    Raises Trouble: the adapter needs the wrench's lever length, or leaves no lever.
    """
    share = find_share(adapter, wrench.lever, wrench.name or "wrench")
    exact = units.in_unit(target, wrench.scale) / share
    figure, text, note = _round_setting(wrench, target, exact, plain=share == 1.0)
    set_nm = _to_nm(exact, wrench.scale)
    # The permitted deviation is a share of the true torque: (set - true) / true.
    deviation = find_deviation(wrench)
    at_screw = _to_nm(float(figure), wrench.scale) * share
    reach: Reach = "reaches"
    warnings = []
    if set_nm > wrench.high.base * (1 + NEAR):
        reach = "above its marks"
        warnings.append(f"{text} lies above its highest marked value, {wrench.high.text}.")
    elif set_nm < wrench.least_nm() * (1 - NEAR):
        reach = "below its marks"
        if wrench.low is not None:
            warnings.append(f"{text} lies below its lowest marked value, {wrench.low.text}.")
    if wrench.low is None:
        least = _tell_figure(wrench.least_nm(), wrench.scale)
        warnings.append(
            f"Its lowest marked value is not known: 20 % of its maximum, {least}, is assumed"
            + (f", and {text} lies below it." if reach == "below its marks" else ".")
        )
    elif reach == "reaches" and set_nm < LEAST_SHARE * wrench.high.base * (1 - NEAR):
        warnings.append(
            f"{text} lies below 20 % of its maximum: a tool of the 2003 edition of ISO 6789 was "
            "checked from there up only."
        )
    calibration = look_at_calibration(wrench.calibrated, wrench.due, on)
    if calibration.warning:
        warnings.append(calibration.warning)
    return Setting(
        wrench=wrench,
        target=target,
        adapter=adapter,
        exact=exact,
        figure=figure,
        text=text,
        reach=reach,
        at_screw_nm=at_screw,
        low_nm=at_screw / (1 + deviation.share),
        high_nm=at_screw / (1 - deviation.share),
        deviation=deviation,
        calibration=calibration,
        warnings=tuple(warnings),
        note=note,
    )


def _round_setting(
    wrench: WrenchFacts, target: units.Amount, exact: float, *, plain: bool
) -> tuple[Decimal, str, str]:
    """The setting on the wrench's own scale: its figure, its text, and a word on the rounding."""
    unit = wrench.scale
    if wrench.resolution is None:
        if plain and unit == target.unit:
            return target.value, target.text, ""
        # Half of twice the figure, rounded to what a scale in this unit usually shows.
        twice = units.read(f"{Decimal(repr(exact)) * 2:f} {unit}", units.Kind.TORQUE)
        usual = units.scale(twice, 0.5)
        return usual.value, usual.text, "Its resolution is not given; rounded as such scales show."
    step = Decimal(repr(units.in_unit(wrench.resolution, unit))).quantize(Decimal("1e-6"))
    count = (Decimal(repr(exact)) / step).to_integral_value(ROUND_HALF_UP)
    figure = (count * step).normalize()
    decimals = max(0, -int(step.normalize().as_tuple().exponent))
    text = units.read(f"{figure:.{decimals}f} {unit}", units.Kind.TORQUE).text
    if plain and unit == target.unit and figure == target.value:
        return target.value, target.text, ""
    off = float(figure) / exact - 1 if exact else 0.0
    note = f"That is the nearest of its marks to {_short(exact)} {unit}." if abs(off) > 2e-3 else ""
    return figure, text, note


# --- which of them --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Choice:
    """All wrenches at one torque.

    settings: in the sequence given. refused: (name, sentence) of those that cannot be reckoned
    with. best: None where none reaches. why: a sentence. borrow: what to borrow, where none does.
    """

    target: units.Amount
    settings: tuple[Setting, ...]
    refused: tuple[tuple[str, str], ...]
    best: Setting | None
    why: str
    borrow: str

    def tell(self) -> str:
        """The one that serves best and why, or what to borrow."""
        if self.best is None:
            return " ".join([self.borrow, *(said for _, said in self.refused)])
        return f"{self.best.tell()} {self.why}".strip()


def choose_wrench(
    wrenches: Iterable[Mapping[str, Any]],
    target: units.Amount,
    adapter: Adapter | None = None,
    *,
    on: date,
) -> Choice:
    """Which of these wrenches (as record and shop book keep them) serves a torque best.

    It must reach the setting within its marks. Of those: one in date before one that is not,
    one at 20 % of its maximum or above before one below, the smaller permitted deviation, then the
    one nearer to 60 % of its maximum, the middle of the three points at which ISO 6789 checks.
    """
    settings, refused = [], []
    for data in wrenches:
        try:
            settings.append(set_wrench(WrenchFacts.from_dict(data), target, adapter, on=on))
        except Trouble as trouble:
            name = str(data.get("name") or "a wrench")
            refused.append((name, f"{trouble.what} {trouble.next}".strip()))
    reaching = sorted((s for s in settings if s.reach == "reaches"), key=_rank)
    best = reaching[0] if reaching else None
    why = _tell_why(best, reaching[1] if len(reaching) > 1 else None) if best else ""
    borrow = "" if best else _tell_borrow(target, adapter, settings)
    return Choice(target, tuple(settings), tuple(refused), best, why, borrow)


def _rank(setting: Setting) -> tuple[int, bool, float, float]:
    state = setting.calibration.state
    return (
        {"in date": 0, "not known": 1, "old": 1, "past due": 2}[state],
        setting.share_of_maximum < LEAST_SHARE - NEAR,
        setting.deviation.share,
        round(abs(setting.share_of_maximum - MIDDLE_SHARE), 6),
    )


def _tell_why(best: Setting, other: Setting | None) -> str:
    if other is None:
        return "It is the only one that reaches this."
    name = other.wrench.name
    for first, second, said in zip(
        _rank(best),
        _rank(other),
        (
            f"It serves best: its calibration stands better than that of the {name}.",
            f"It serves best: the {name} would be below 20 % of its maximum.",
            f"It serves best: {best.deviation.tell()} is permitted, "
            f"{other.deviation.tell()} to the {name}.",
            f"It serves best: {best.text} lies at {best.share_of_maximum:.0%} of its maximum, "
            f"nearer to the middle than on the {name} ({other.share_of_maximum:.0%}).".replace(
                "%", " %"
            ),
        ),
        strict=True,
    ):
        if first != second:
            return said
    return f"The {name} would serve as well."


def _tell_borrow(target: units.Amount, adapter: Adapter | None, settings: Iterable[Setting]) -> str:
    """Which range to borrow: the setting at 20 % of its maximum or above, within its marks."""
    if adapter is not None and adapter.counts and adapter.angle.base != 90:
        known = [s for s in settings if s.wrench.lever is not None]
        if not known:
            return (
                f"With the {adapter.tell()} no setting can be told before a lever length is known. "
                "Measure that of your wrench first."
            )
        needed = max(s.set_nm for s in known)
        start = f"With a lever as long as yours, {_tell_figure(needed, target.unit)} is to be set. "
    else:
        needed, start = target.base, ""
    least = _tell_figure(needed, target.unit) if start else target.text
    most = _tell_figure(needed / LEAST_SHARE, target.unit)
    return (
        f"None of the wrenches reaches it. {start}Borrow one whose scale begins at {least} or "
        f"below and ends between {least} and {most}."
    )


# --- figures --------------------------------------------------------------------------------


def _to_nm(figure: float, unit: str) -> float:
    return units.read(f"{Decimal(repr(figure)):f} {unit}", units.Kind.TORQUE).base


def _tell_figure(newton_metres: float, unit: str, *, zeros: bool = False) -> str:
    """A torque in a unit, to three digits; zeros: also where the last ones are noughts."""
    base = units.read(f"{Decimal(repr(newton_metres)):f} N·m", units.Kind.TORQUE)
    return f"{_short(units.in_unit(base, unit), zeros=zeros)} {unit}"


def _short(figure: float, *, zeros: bool = False) -> str:
    """Three significant digits, never more than two decimals; whole ones from 100 up."""
    decimals = 0 if figure >= 100 else 1 if figure >= 10 else 2
    text = f"{figure:.{decimals}f}"
    return text if zeros or "." not in text else text.rstrip("0").rstrip(".")
