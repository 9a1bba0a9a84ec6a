"""What one screw takes, and whether a torque suits it: figures with units, and plain words.

It estimates. It never replaces the manual's figure, and its words say so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from shopguide.errors import UnitTrouble
from shopguide.torque import units
from shopguide.torque.friction import Condition, find_condition
from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.preload import (
    MIDDLE_FRICTION,
    USE_OF_YIELD,
    ClampBand,
    Tightening,
    find_clamp_band,
    find_tightening,
    friction_from_nut_factor,
)
from shopguide.torque.strength import Strength, read_grade
from shopguide.torque.threads import Thread, read_thread

Verdict = Literal["far above", "high", "usual", "far below"]

DEFERENCE = "It never replaces the manual's figure."

FAR_BELOW = 0.2
"""A torque under this share of the usual one is far below it: a fifth of the target is the most
that snugging may take (the torque form of PPI TN-38), so the screw would be no more than snug."""


@dataclass(frozen=True, slots=True)
class ScrewReport:
    """One screw, what it takes after VDI 2230 with 90 % of yield, and what a torque does to it.

    friction_given: False where `friction` was assumed. usual: at friction, or 0.12.
    torque, clamp, verdict: None where no torque was given.
    """

    thread: Thread
    strength: Strength
    friction: float
    friction_given: bool
    assembly: Tightening
    condition: Condition
    torque: units.Amount | None = None
    clamp: ClampBand | None = None
    verdict: Verdict | None = None

    @property
    def name(self) -> str:
        """The screw in words: "M6 8.8", "3/8-16 UNC grade 5"."""
        return f"{self.thread.name} {self.strength.name}"

    def as_dict(self) -> dict[str, Any]:
        """Plain JSON; each quantity is {"value", "unit"}, null where it is not known."""
        told: dict[str, Any] = {
            "thread": self.thread.name,
            "class": self.strength.name,
            "friction": {"value": self.friction, "unit": "", "assumed": not self.friction_given},
            "socket": find_hex_head(self.thread).size,
            "stress_area": _quantity(self.thread.stress_area_mm2, "mm²"),
            "proof_load": _quantity(self.strength.proof_load_n(self.thread), "N"),
            "assembly_preload": _quantity(self.assembly.preload_n, "N"),
            "assembly_torque": _quantity(self.assembly.torque_nm, "N·m"),
            "source": self.strength.source,
        }
        if self.torque is None or self.clamp is None:
            return told
        shares = (self.clamp.share_low, self.clamp.share_high)
        low, high = (_quantity(None if s is None else s * 100, "%") for s in shares)
        return told | {
            "torque": _quantity(float(self.torque.value), self.torque.unit),
            "condition": self.condition.name,
            "nut_factor_low": _quantity(self.condition.k_low, ""),
            "nut_factor_high": _quantity(self.condition.k_high, ""),
            "clamp_low": _quantity(self.clamp.low_n, "N"),
            "clamp_high": _quantity(self.clamp.high_n, "N"),
            "share_low": low,
            "share_high": high,
            "verdict": self.verdict,
            "words": self.tell_verdict(),
        }

    def tell(self) -> tuple[str, ...]:
        """The report in lines."""
        assumed = "" if self.friction_given else ", assumed"
        proof = self.strength.proof_load_n(self.thread)
        lines = [
            f"{self.name}: stress area {self.thread.stress_area_mm2:.3g} mm², "
            f"hexagon head {find_hex_head(self.thread).size} across flats",
            f"proof load: {tell_force(proof)}"
            if proof is not None
            else f"proof load: not known, the standard of {self.strength.name} gives none",
            f"assembly preload: {tell_force(self.assembly.preload_n)} "
            f"(VDI 2230, {USE_OF_YIELD * 100:.0f} % of yield, friction {self.friction:g}{assumed})",
            f"assembly torque: {self.tell_usual()}",
            f"strength: {self.strength.source}",
        ]
        if self.torque is not None and self.clamp is not None:
            lines += [
                self._tell_band(),
                f"K: {self.condition.source}",
                self.tell_verdict(),
            ]
        else:
            lines.append(f"This is an estimate. {DEFERENCE}")
        return tuple(lines)

    def _tell_band(self) -> str:
        """What the torque clamps with: "9 N·m (dry, K 0.18 to 0.27): clamps with …"."""
        if self.torque is None or self.clamp is None:
            return ""
        k = self.condition
        share = (
            f", {self.clamp.share_low * 100:.0f} to {self.clamp.share_high * 100:.0f} % of "
            "proof load"
            if self.clamp.share_low is not None and self.clamp.share_high is not None
            else ""
        )
        return (
            f"{self.torque.text} ({k.name}, K {k.k_low:.2f} to {k.k_high:.2f}): clamps with "
            f"{tell_force(self.clamp.low_n)} to {tell_force(self.clamp.high_n)}{share}"
        )

    def tell_clamp(self) -> str:
        """The clamp force and the share of proof load in one sentence; "" without a torque."""
        band = self._tell_band()
        return f"{self.name}, {band}." if band else ""

    def tell_usual(self) -> str:
        """The assembly torque in two digits, in the unit that the torque was given in."""
        usual = units.read(f"{self.assembly.torque_nm:.9f} N·m", units.Kind.TORQUE)
        unit = self.torque.unit if self.torque is not None else "N·m"
        figure = units.in_unit(usual, unit)
        return f"{figure:.2g} {unit}" if figure < 99.5 else f"{figure:.0f} {unit}"

    def tell_verdict(self) -> str:
        """Whether the torque suits the screw, in plain words; "" without a torque."""
        if self.torque is None or self.verdict is None:
            return ""
        article = "an" if self.thread.metric else "a"
        head, usual = f"{self.torque.text} on {article} {self.name}", self.tell_usual()
        match self.verdict:
            case "far above":
                said = f"{head} passes its yield: about {usual} is usual."
            case "high":
                said = (
                    f"{head} is on the high side: with little friction it passes the yield; "
                    f"about {usual} is usual."
                )
            case "far below":
                said = f"{head} is no more than snug: about {usual} is usual."
            case _:
                said = f"{head} is within what it usually takes; about {usual} is usual."
        return f"{said} {DEFERENCE}"


def screw_report(
    thread: str | Thread,
    grade: str,
    *,
    friction: float | None = None,
    torque: units.Amount | None = None,
    condition: str | None = None,
    wrench_deviation: float = 0.0,
) -> ScrewReport:
    """What a screw takes, and, where a torque is given, what that torque does to it.

    thread: "M8x1", "3/8-16". grade: "10.9", "grade 5", "A2-70". friction: of thread and head;
    0.12 is assumed without it. condition: by which the band of K is chosen; the widest without it.
    wrench_deviation: 0.04 for ±4 %.
    Raises UnitTrouble for a thread, class or condition that is not known, a friction that no screw
    has, or a torque that is none.
    Worked example (reprint of VDI 2230:2001): M8x1, 10.9, friction 0.12: 29.7 kN and 38.3 N·m.
    """
    if isinstance(thread, str):
        thread = read_thread(thread)
    strength = read_grade(grade, thread)
    given = MIDDLE_FRICTION if friction is None else friction
    assembly = find_tightening(thread, strength, given)
    state = find_condition(condition)
    if torque is None:
        return ScrewReport(thread, strength, given, friction is not None, assembly, state)
    if torque.kind is not units.Kind.TORQUE:
        raise UnitTrouble(f"{torque.text} is not a torque.", next="Write it like 9 N·m.")
    return ScrewReport(
        thread,
        strength,
        given,
        friction is not None,
        assembly,
        state,
        torque,
        find_clamp_band(thread, strength, torque.base, state, wrench_deviation),
        judge_torque(thread, strength, torque.base, state),
    )


def judge_torque(
    thread: Thread, strength: Strength, torque_nm: float, condition: Condition
) -> Verdict:
    """Whether a torque lies where this screw is usually tightened.

    Far above: pull and twist pass the yield limit even at the highest friction of the condition.
    High: they pass it at the usual friction. Far below: less than a fifth of the torque for 90 %
    of yield at friction 0.12. What an angle adds after the torque is no matter of this: torque and
    angle go into yield on purpose.
    Source: VDI 2230-1 for the yield (see `find_tightening`); the limits are our own choice, set so
    that 12 N·m passes on an M6 8.8 and not on an M5 8.8 (common practice, no source).
    """

    def yields_at(k: float) -> float:
        friction = min(0.6, friction_from_nut_factor(thread, k))
        return find_tightening(thread, strength, friction, use=1.0).torque_nm

    if torque_nm > yields_at(condition.k_high):
        return "far above"
    if torque_nm > yields_at(condition.k_usual):
        return "high"
    usual = find_tightening(thread, strength, MIDDLE_FRICTION).torque_nm
    return "far below" if torque_nm < FAR_BELOW * usual else "usual"


def tell_force(force_n: float) -> str:
    """A force to three digits, in kN and pounds-force: "16.7 kN (3750 lbf)"."""
    pounds = force_n / 4.4482216152605
    step = 10 ** max(0, len(f"{pounds:.0f}") - 3)
    return f"{force_n / 1000:.3g} kN ({round(pounds / step) * step:.0f} lbf)"


def _quantity(value: float | None, unit: str) -> dict[str, Any] | None:
    return None if value is None else {"value": value, "unit": unit}
