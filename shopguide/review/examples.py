"""A good and a bad example of each rule: a few lines of a sheet, made whole by what is usual."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from shopguide.job.model import Sheet
from shopguide.review.facts import PictureSizes

Parts = dict[str, Any]
MANUAL = {"kind": "manual", "text": "invented, page 3"}


class Example(NamedTuple):
    """What a rule lets through, and what it finds; keys of a sheet, `steps` for its only stage.

    pictures: sizes of the pictures at hand, where the rule asks for them.
    """

    good: Parts
    bad: Parts
    pictures: PictureSizes | None = None


def make_sheet(parts: Parts) -> Sheet:
    """A whole sheet of these parts. What refers to nothing is left so: some rules look for it."""
    given = dict(parts)
    steps = given.pop("steps", None) or [_step(_do("Look at it."))]
    data: Parts = {
        "format": "shopguide-job/1",
        "title": "Example",
        "author": "an invented owner",
        "date": "2026-03-02",
        "stages": [{"title": "All of it", "steps": steps}],
        **given,
    }
    return Sheet.model_validate_json(json.dumps(data), strict=True)


def _step(*tasks: Parts, **more: Any) -> Parts:
    return {"title": "Cover", "tasks": list(tasks), **more}


def _do(text: str, **more: Any) -> Parts:
    return {"kind": "confirm", "text": text, **more}


def _open(item: str, how: str = "remove", **more: Any) -> Parts:
    return {"kind": "open", "text": "Take it off.", "how": how, "item": item, **more}


def _close(item: str, how: str = "refit", **more: Any) -> Parts:
    return {"kind": "close", "text": "Put it on.", "how": how, "item": item, **more}


def _torque(**more: Any) -> Parts:
    whose = {} if "pattern" in more else {"fastener": "plug"}
    return {"kind": "torque", "text": "Tighten it.", "spec": "plug", **whose, **more}


def _loose(**more: Any) -> Parts:
    return {
        "kind": "leave",
        "text": "Leave it loose.",
        "how": "left loose",
        "fastener": "plug",
        "reason": "The tube is seated later.",
        **more,
    }


def _drain(**more: Any) -> Parts:
    return {"kind": "drain", "text": "Measure it.", "fluid": "oil", **more}


def _fill(spec: str | None = None, **more: Any) -> Parts:
    what = {"spec": spec} if spec else {"like_drained": True}
    return {"kind": "fill", "text": "Fill it in.", "fluid": "oil", **what, **more}


def _spec(
    name: str = "plug", kind: str = "torque", value: str | None = "25 N·m", **more: Any
) -> Parts:
    held = {"name": name, "kind": kind, "source": MANUAL, **more}
    return held if value is None else {**held, "value": value}


def _pattern(**more: Any) -> Parts:
    return {
        "name": "cover",
        "title": "Cover",
        "circle": {"count": 4, "diameter_mm": 80},
        **more,
    }


def _caution(hazard: str, signal: str = "WARNING", **more: Any) -> Parts:
    return {
        "signal": signal,
        "hazard": hazard,
        "consequence": "It can crush you.",
        "avoid": "Use stands.",
        **more,
    }


_PLUG = {"specs": [_spec()]}
_BACK_OFF = [{"kind": "torque"}, {"kind": "back off"}]
_ANGLE = _spec("turn", "angle", "90°")
_SCREWS = [{"number": n, "x_mm": 10.0 * n, "y_mm": 0.0} for n in (1, 2, 3)]
_LEFT_OUT = [*_SCREWS[:2], {**_SCREWS[2], "use": "leave loose"}]
_UNTOUCHED = [{**screw, "use": "do not touch"} for screw in _SCREWS]
_OIL = [{"name": "oil", "spec": "sump"}]
_SUMP = _spec("sump", "volume", "4 L")
_ALT = {"file": "cover.jpg", "alt": "The cover."}
_SHOWN = [_step(_do("Look at it."), photos=[_ALT])]
_BRAKES = _caution("Brakes that were opened.")
_CALIPER = [
    _step(_open("brake caliper")),
    _step(_close("brake caliper")),
]


def _with_caution(caution: Parts, *steps: Parts, at: int = 0) -> list[Parts]:
    told = [dict(step) for step in steps]
    told[at]["cautions"] = [caution]
    return told


EXAMPLES: dict[str, Example] = {
    # --- names
    "name leads somewhere": Example(
        good={**_PLUG, "steps": [_step(_torque())]},
        bad={**_PLUG, "steps": [_step(_torque(spec="plugg"))]},
    ),
    "name in a list leads somewhere": Example(
        good={"specs": [_SUMP], "fluids": _OIL},
        bad={"specs": [], "fluids": _OIL},
    ),
    "spec is of the right kind": Example(
        good={**_PLUG, "steps": [_step(_torque())]},
        bad={"specs": [_spec(kind="length", value="9 mm")], "steps": [_step(_torque())]},
    ),
    "names are single": Example(
        good={"specs": [_spec("plug"), _spec("cover")]},
        bad={"specs": [_spec("plug"), _spec("plug")]},
    ),
    "switched-off hint exists": Example(
        good={"hints_off": ["no should"]},
        bad={"hints_off": ["no shoud"]},
    ),
    # --- open items
    "left loose is finished": Example(
        good={**_PLUG, "steps": [_step(_loose(), _torque())]},
        bad={**_PLUG, "steps": [_step(_loose(), _torque(fastener="another"))]},
    ),
    "loosened is tightened": Example(
        good={"steps": [_step(_open("wheel nuts", "loosen"), _close("wheel nuts", "tighten"))]},
        bad={"steps": [_step(_open("wheel nuts", "loosen"))]},
    ),
    "opened before closed": Example(
        good={"steps": [_step(_open("cover"), _close("cover"))]},
        bad={"steps": [_step(_close("cover"), _open("cover"))]},
    ),
    "closed was opened": Example(
        good={"steps": [_step(_open("cover"), _close("cover"))]},
        bad={"steps": [_step(_close("cover"))]},
    ),
    "opened once at a time": Example(
        good={"steps": [_step(_open("cover"), _close("cover"), _open("cover"), _close("cover"))]},
        bad={"steps": [_step(_open("cover"), _open("cover"), _close("cover"))]},
    ),
    "opened is closed": Example(
        good={"steps": [_step(_open("cover")), _step(_close("cover"))]},
        bad={"steps": [_step(_open("cover")), _step(_do("Look at the cover."))]},
    ),
    "closed once": Example(
        good={"steps": [_step(_open("hose"), _open("tube"), _close("tube"), _close("hose"))]},
        bad={"steps": [_step(_open("hose"), _open("tube"), _close("tube"), _close("tube"))]},
    ),
    "loose in the pattern is finished": Example(
        good={
            **_PLUG,
            "patterns": [{"name": "cover", "title": "Cover", "fasteners": _LEFT_OUT}],
            "steps": [_step(_torque(pattern="cover"), _torque(fastener="cover screw 3"))],
        },
        bad={
            **_PLUG,
            "patterns": [{"name": "cover", "title": "Cover", "fasteners": _LEFT_OUT}],
            "steps": [_step(_torque(pattern="cover"))],
        },
    ),
    "fasteners off first, on last": Example(
        good={
            "steps": [
                _step(_open("tray screws"), _open("tray")),
                _step(_close("tray"), _close("tray screws", "tighten")),
            ]
        },
        bad={
            "steps": [
                _step(_open("tray screws"), _open("tray")),
                _step(_close("tray screws", "tighten"), _close("tray")),
            ]
        },
    ),
    # --- tightening
    "passes end tight": Example(
        good={**_PLUG, "steps": [_step(_torque(passes="torque, back off, torque"))]},
        bad={**_PLUG, "steps": [_step(_torque(passes=_BACK_OFF))]},
    ),
    "threadlock is not checked": Example(
        good={**_PLUG, "steps": [_step(_torque(passes="torque", condition="threadlock"))]},
        bad={
            **_PLUG,
            "steps": [_step(_torque(passes="30/60/100 and check", condition="threadlock"))],
        },
    ),
    "pattern has a screw to tighten": Example(
        good={**_PLUG, "patterns": [_pattern()], "steps": [_step(_torque(pattern="cover"))]},
        bad={
            **_PLUG,
            "patterns": [{"name": "cover", "title": "Cover", "fasteners": _UNTOUCHED}],
            "steps": [_step(_torque(pattern="cover"))],
        },
    ),
    "torque task has a spec": Example(
        good={**_PLUG, "steps": [_step(_torque(passes=[{"kind": "snug", "spec": "plug"}]))]},
        bad={"steps": [_step(_torque(spec=None, passes=[{"kind": "snug"}]))]},
    ),
    "torque has a figure": Example(
        good={**_PLUG, "steps": [_step(_torque())]},
        bad={"specs": [_spec(value=None)], "steps": [_step(_torque())]},
    ),
    "last pass is the whole torque": Example(
        good={**_PLUG, "steps": [_step(_torque(passes="50/100"))]},
        bad={**_PLUG, "steps": [_step(_torque(passes=[{"kind": "torque", "share": 0.7}]))]},
    ),
    "angle starts from a torque": Example(
        good={
            "specs": [_spec(), _ANGLE],
            "steps": [
                _step(_torque(passes=[{"kind": "torque"}, {"kind": "angle", "spec": "turn"}]))
            ],
        },
        bad={
            "specs": [_spec(), _ANGLE],
            "steps": [_step(_torque(passes=[{"kind": "angle", "spec": "turn"}]))],
        },
    ),
    "order has a source": Example(
        good={
            **_PLUG,
            "patterns": [_pattern(order=[1, 3, 2, 4], order_source="page 4, figure 3")],
            "steps": [_step(_torque(pattern="cover"))],
        },
        bad={
            **_PLUG,
            "patterns": [_pattern(order=[1, 3, 2, 4])],
            "steps": [_step(_torque(pattern="cover"))],
        },
    ),
    "passes rise": Example(
        good={**_PLUG, "steps": [_step(_torque(passes="30/70/100 and around"))]},
        bad={
            **_PLUG,
            "steps": [
                _step(
                    _torque(
                        passes=[
                            {"kind": "torque", "share": 0.7},
                            {"kind": "torque", "share": 0.3},
                            {"kind": "torque"},
                        ]
                    )
                )
            ],
        },
    ),
    "torque by its note": Example(
        good={**_PLUG, "steps": [_step(_torque())]},
        bad={"specs": [_spec(value=None, note="By hand.")], "steps": [_step(_torque())]},
    ),
    "torque suits the screw": Example(
        good={
            "specs": [_spec(value="9 N·m")],
            "steps": [_step(_torque(thread="M6", grade="8.8"))],
        },
        bad={
            "specs": [_spec(value="90 N·m")],
            "steps": [_step(_torque(thread="M6", grade="8.8"))],
        },
    ),
    "screw can be looked up": Example(
        good={**_PLUG, "steps": [_step(_torque(thread="M8", grade="8.8"))]},
        bad={**_PLUG, "steps": [_step(_torque(grade="8.8"))]},
    ),
    "size of a screw can be read": Example(
        good={"patterns": [_pattern(thread="G 1/4", length="20 mm")]},
        bad={"patterns": [_pattern(thread="M99x0", length="20 mm")]},
    ),
    # --- fluids
    "drained is filled": Example(
        good={"fluids": [{"name": "oil"}], "steps": [_step(_drain(), _fill())]},
        bad={"fluids": [{"name": "oil"}], "steps": [_step(_fill(), _drain())]},
    ),
    "fill suits the capacity": Example(
        good={
            "fluids": _OIL,
            "specs": [
                _SUMP,
                _spec("first", "volume", "3 US qt"),
                _spec("rest", "volume", "1.15 L"),
            ],
            "steps": [_step(_drain(), _fill("first"), _fill("rest"))],
        },
        bad={
            "fluids": _OIL,
            "specs": [
                _SUMP,
                _spec("first", "volume", "4 US qt"),
                _spec("rest", "volume", "1.15 L"),
            ],
            "steps": [_step(_drain(), _fill("first"), _fill("rest"))],
        },
    ),
    # --- cautions
    "caution is whole": Example(
        good={"steps": [_step(_do("Look."), cautions=[_caution("The van can fall.")])]},
        bad={"steps": [_step(_do("Look."), cautions=[_caution("The van can fall.", avoid="")])]},
    ),
    "caution of the job is whole": Example(
        good={"cautions": [_caution("The van can fall.")]},
        bad={"cautions": [_caution("The van can fall.", consequence="")]},
    ),
    "caution stands above": Example(
        good={"steps": [_step(_do("Open the cap."), cautions=[_caution("It is hot.")])]},
        bad={"steps": [_step(_do("Open the cap.", note="Caution: it is hot."))]},
    ),
    "caution comes first": Example(
        good={"steps": _with_caution(_BRAKES, *_CALIPER)},
        bad={"steps": _with_caution(_BRAKES, *_CALIPER, at=1)},
    ),
    "dangerous system has its caution": Example(
        good={"cautions": [_BRAKES], "steps": _CALIPER},
        bad={"cautions": [_caution("Dirt.")], "steps": _CALIPER},
    ),
    # --- time
    "curing is waited for": Example(
        good={
            "specs": [_spec("cure", "time", "4 h")],
            "steps": [
                _step(
                    _do("Apply a bead of sealant."),
                    {"kind": "wait", "text": "Let it cure.", "spec": "cure"},
                )
            ],
        },
        bad={"steps": [_step(_do("Apply a bead of sealant."))]},
    ),
    "wheel is checked again": Example(
        good={
            **_PLUG,
            "steps": [_step(_torque(fastener="wheel nuts"))],
            "follow_ups": [{"text": "Bring the wheel nuts up to torque.", "after": "80 km"}],
        },
        bad={**_PLUG, "steps": [_step(_torque(fastener="wheel nuts"))]},
    ),
    "heat cycle is followed up": Example(
        good={
            "steps": [_step(_do("Run it through one heat cycle."))],
            "follow_ups": [{"text": "Check the torque, cold.", "after": "one heat cycle"}],
        },
        bad={"steps": [_step(_do("Run it through one heat cycle."))]},
    ),
    "hot joint is checked again": Example(
        good={
            **_PLUG,
            "steps": [_step(_torque(fastener="exhaust manifold nut"))],
            "follow_ups": [{"text": "Check the torque, cold.", "after": "100 km"}],
        },
        bad={**_PLUG, "steps": [_step(_torque(fastener="exhaust manifold nut"))]},
    ),
    # --- tools
    "socket is listed": Example(
        good={
            **_PLUG,
            "tools": [{"name": "Socket 13 mm"}],
            "steps": [_step(_torque(fastener="cover screw", thread="M8"))],
        },
        bad={
            **_PLUG,
            "tools": [{"name": "Socket 1/2 in"}],
            "steps": [_step(_torque(fastener="cover screw", thread="M8"))],
        },
    ),
    "torque wrench reaches": Example(
        good={
            **_PLUG,
            "tools": [{"name": "Torque wrench 10 N·m to 50 N·m"}],
            "steps": [_step(_torque())],
        },
        bad={
            **_PLUG,
            "tools": [{"name": "Torque wrench 40 N·m to 200 N·m"}],
            "steps": [_step(_torque())],
        },
    ),
    "torque wrench says its range": Example(
        good={"tools": [{"name": "Torque wrench", "note": "20 to 100 lbf·in"}]},
        bad={"tools": [{"name": "Torque wrench, the small one"}]},
    ),
    "measuring tool is listed": Example(
        good={
            "specs": [_spec("gap", "length", "0.2 mm")],
            "tools": [{"name": "Feeler gauges"}],
            "steps": [_step({"kind": "measure", "text": "Measure it.", "spec": "gap"})],
        },
        bad={
            "specs": [_spec("gap", "length", "0.2 mm")],
            "steps": [_step({"kind": "measure", "text": "Measure it.", "spec": "gap"})],
        },
    ),
    # --- lists
    "spec has a source": Example(
        good=_PLUG,
        bad={"specs": [{"name": "plug", "kind": "torque", "value": "25 N·m"}]},
    ),
    "printed units agree": Example(
        good={"specs": [_spec(printed_also=["18 lbf·ft"])]},
        bad={"specs": [_spec(printed_also=["25 lbf·ft"])]},
    ),
    "single-use part is bought": Example(
        good={
            "parts": [{"name": "Cover gasket", "number": "A 1", "single_use": True}],
            "steps": [_step(_do("Lay the new gasket on the flange."))],
        },
        bad={"steps": [_step(_do("Lay the new gasket on the flange."))]},
    ),
    "source not known": Example(
        good=_PLUG,
        bad={"specs": [_spec(source={"kind": "not known", "text": "asked in vain"})]},
    ),
    "spec is used": Example(
        good={**_PLUG, "steps": [_step(_torque())]},
        bad={**_PLUG, "steps": [_step(_do("Look at it."))]},
    ),
    "single-use part has a number": Example(
        good={"parts": [{"name": "Gasket", "number": "A 1", "single_use": True}]},
        bad={"parts": [{"name": "Gasket", "single_use": True}]},
    ),
    "single-use part is marked": Example(
        good={"parts": [{"name": "Gasket", "single_use": True}]},
        bad={"parts": [{"name": "Gasket"}]},
    ),
    "new part is fitted": Example(
        good={
            "parts": [{"name": "Cover gasket", "single_use": True}],
            "steps": [_step(_do("Lay the new cover gasket on the flange."))],
        },
        bad={
            "parts": [{"name": "Cover gasket", "single_use": True}],
            "steps": [_step(_do("Raise the cover."))],
        },
    ),
    # --- photos
    "photo is there": Example(
        good={"steps": _SHOWN},
        bad={"steps": [_step(_do("Look."), photos=[{"file": "gone.jpg", "alt": "Gone."}])]},
        pictures={"cover.jpg": (1600, 1200)},
    ),
    "photo has alternative text": Example(
        good={"steps": _SHOWN},
        bad={"steps": [_step(_do("Look."), photos=[{"file": "cover.jpg"}])]},
    ),
    "photo is used": Example(
        good={"steps": _SHOWN},
        bad={},
        pictures={"cover.jpg": (1600, 1200)},
    ),
    "photo is large enough": Example(
        good={"steps": _SHOWN},
        bad={"steps": [_step(_do("Look."), photos=[{"file": "small.jpg", "alt": "Small."}])]},
        pictures={"cover.jpg": (900, 1200), "small.jpg": (640, 480)},
    ),
    "a photo shows how it was": Example(
        good={
            "steps": [
                _step({"kind": "photo", "text": "Take a photo of the plugs."}),
                _step(_open("plug", "disconnect"), _close("plug", "reconnect")),
            ]
        },
        bad={"steps": [_step(_open("plug", "disconnect"), _close("plug", "reconnect"))]},
    ),
    # --- wording
    "one action a task": Example(
        good={"steps": [_step(_do("Lower the cover level, and empty it."))]},
        bad={"steps": [_step(_do("Lower the cover. Empty it. Put it on the bench."))]},
    ),
    "deed comes first": Example(
        good={"steps": [_step(_do("Remove the cover."))]},
        bad={"steps": [_step(_do("The cover is removed."))]},
    ),
    "sentences are short": Example(
        good={"steps": [_step(_do("Lay the cover on the bench with its flange up."))]},
        bad={
            "steps": [
                _step(
                    _do(
                        "Lay the cover on the bench with its flange up so that nothing touches the "
                        "sealing face while you clean the thread holes of the casing."
                    )
                )
            ]
        },
    ),
    "no should": Example(
        good={"steps": [_step(_do("Check that the joint is dry."))]},
        bad={"steps": [_step(_do("Check the joint, which should be dry."))]},
    ),
    "figure is a spec": Example(
        good={"steps": [_step(_do("Remove it with the 10 mm socket."))]},
        bad={"steps": [_step(_do("Pull the bracket up to 9 N·m."))]},
    ),
    "figure has a unit": Example(
        good={"steps": [_step(_do("Tighten the screws from 1 to 16 in order."))]},
        bad={"steps": [_step(_do("Tighten the screws to 9."))]},
    ),
}
