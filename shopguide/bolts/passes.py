"""Passes: the trips through a pattern, in the words of the trade, and ready-made schedules."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from shopguide.torque.entry import Entry, Line, Name, Prose

PassKind = Literal["snug", "torque", "back off", "angle", "check"]
Way = Literal["order", "reverse", "around"]

MOST_TRIPS = 12
"""A check that still finds screws turning after this many trips asks instead of going on."""


class Pass(Entry):
    """One trip through a pattern.

    snug: by hand or to a low torque.  torque: to a spec, or to `share` of it.
    back off: loosen, by `turn` or until loose; in reverse order unless `way` says otherwise.
    angle: a further turn, the angle by spec.  check: at the torque of its spec, trip after trip
    until one in which no fastener turned.
    """

    kind: PassKind
    spec: Name | None = None
    share: Annotated[float, Field(gt=0, le=1, allow_inf_nan=False)] = 1.0
    turn: Line | None = None
    way: Way | None = None
    after: Line | None = None
    """A time to wait before this pass begins, as written: "4 h"."""
    yields: bool = False
    """True where this pass takes the screw into yield: it is used once and never checked."""
    note: Prose = ""

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.kind == "angle" and self.spec is None:
            raise ValueError(
                'An angle pass has no spec. Write "spec" with the name of an angle spec.'
            )
        if self.turn is not None and self.kind != "back off":
            raise ValueError("turn: Only a back off pass has a turn. Take it out.")
        if self.share != 1.0 and self.kind not in ("torque", "snug"):
            raise ValueError("share: Only a torque or snug pass has a share. Take it out.")
        if self.yields and self.kind != "angle":
            raise ValueError("yields: Only an angle pass takes a screw into yield. Take it out.")
        return self

    @property
    def travel(self) -> Way:
        """The way this pass goes: as stated, else reverse for back off, around for check."""
        if self.way is not None:
            return self.way
        return {"back off": "reverse", "check": "around"}.get(self.kind, "order")

    @property
    def leaves_stroke(self) -> bool:
        """True where the finished pass is drawn as a paint-pen stroke across the head."""
        return self.kind in ("torque", "angle")

    def tell(self) -> str:
        """The pass in words, without its figure: "to torque", "to 30 % of torque", "back off"."""
        match self.kind:
            case "torque" if self.share != 1.0:
                return f"to {self.share * 100:g} % of torque"
            case "torque":
                return "to torque" if self.travel != "around" else "around, to torque"
            case "snug":
                return "snug"
            case "back off":
                return f"back off {self.turn}" if self.turn else "back off"
            case "angle":
                return "to angle"
            case _:
                return "check until nothing turns"


SCHEDULES: dict[str, tuple[Pass, ...]] = {
    "torque": (Pass(kind="torque"),),
    "torque twice": (Pass(kind="torque"), Pass(kind="torque")),
    "torque, back off, torque": (
        Pass(kind="torque"),
        Pass(kind="back off"),
        Pass(kind="torque"),
    ),
    "30/70/100 and around": (
        Pass(kind="torque", share=0.3),
        Pass(kind="torque", share=0.7),
        Pass(kind="torque"),
        Pass(kind="torque", way="around"),
    ),
    "30/60/100 and check": (
        Pass(kind="torque", share=0.3),
        Pass(kind="torque", share=0.6),
        Pass(kind="torque"),
        Pass(kind="check"),
    ),
    "snug, 30/70/100 and check": (
        Pass(kind="snug"),
        Pass(kind="torque", share=0.3),
        Pass(kind="torque", share=0.7),
        Pass(kind="torque"),
        Pass(kind="check"),
    ),
    "50/100": (Pass(kind="torque", share=0.5), Pass(kind="torque")),
    "20/40/60/80/100 and twice around": (
        *(Pass(kind="torque", share=share) for share in (0.2, 0.4, 0.6, 0.8)),
        Pass(kind="torque"),
        Pass(kind="torque", way="around"),
        Pass(kind="torque", way="around"),
    ),
    "30/70/100, check, and check after 4 h": (
        Pass(kind="torque", share=0.3),
        Pass(kind="torque", share=0.7),
        Pass(kind="torque"),
        Pass(kind="check"),
        Pass(kind="check", after="4 h"),
    ),
    "loosen by half a turn, then all the way": (
        Pass(kind="back off", turn="1/2 turn"),
        Pass(kind="back off"),
    ),
    "loosen": (Pass(kind="back off"),),
}
"""Ready-made schedules by name; each pass takes the torque task's own spec."""


def strokes_left(passes: tuple[Pass, ...], done: int) -> list[tuple[int, bool]]:
    """The strokes on a head that has had its first `done` passes.

    Returns (index of the pass, still holds) for each finished torque or angle pass; a later
    back off leaves the stroke in place but hollow (False).
    """
    strokes: list[tuple[int, bool]] = []
    for index, one in enumerate(passes[:done]):
        if one.leaves_stroke:
            strokes.append((index, True))
        elif one.kind == "back off":
            strokes = [(i, False) for i, _ in strokes]
    return strokes


def find_check_faults(passes: tuple[Pass, ...]) -> str:
    """Why these passes cannot be: a check of screws that were taken into yield; "" if they can."""
    yielded = False
    for one in passes:
        if one.kind == "check" and yielded:
            return (
                "A screw that was tightened into yield cannot be checked by torque. "
                "Take the check out; fit new screws each time."
            )
        yielded = yielded or one.yields
        if one.kind == "back off":
            yielded = False
    return ""


def ends_loose(passes: tuple[Pass, ...]) -> bool:
    """True where the last pass that turns the screws loosens them."""
    turning = [p for p in passes if p.kind != "check"]
    return bool(turning) and turning[-1].kind == "back off"


def ends_tight(passes: tuple[Pass, ...]) -> bool:
    """True where the last pass that turns the screws tightens them."""
    turning = [p for p in passes if p.kind != "check"]
    return bool(turning) and turning[-1].kind != "back off"
