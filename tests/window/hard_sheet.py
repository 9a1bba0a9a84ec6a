"""A sheet that is hard on the layout: long words, long texts, other letters, many fasteners."""

from __future__ import annotations

import json
from pathlib import Path

LONG_TITLE = "Renew the gasket between the intermediate housing and the rear extension"
LONG_TEXT = (
    "Lift the housing straight off its dowels with both hands, turn it so that the flange looks "
    "up, lay it on the board with the felt, and look along the sealing face from both ends while "
    "the lamp stands low behind it. "
)
GREEK = "Σφίξτε τις βίδες του καλύμματος σταυρωτά, με ροπή 9 N·m, και ελέγξτε ξανά."
CYRILLIC = "Затяните болты крышки крест-накрест моментом 9 Н·м и проверьте ещё раз."
GERMAN = (
    "Getriebeölwannenbefestigungsschraubenanzugsdrehmomentprüfung nach Werkstatthandbuch "
    "durchführen; Kühlflüssigkeitsausgleichsbehälterverschlussdeckel öffnen."
)
UNBROKEN = "W" * 120


def caution(signal: str, *, acknowledge: bool = False) -> dict:
    return {
        "signal": signal,
        "hazard": "A housing that stands on its edge.",
        "consequence": "It falls over and crushes fingers, feet and whatever else lies beside it.",
        "avoid": "Lay it flat at once, and never turn it alone. " + GERMAN,
        "acknowledge": acknowledge,
    }


def confirm(text: str) -> dict:
    return {"kind": "confirm", "text": text[:400]}


def make_hard_sheet(folder: Path) -> Path:
    """Writes the sheet into the folder; the folder."""
    text = (LONG_TEXT * 2)[:400].strip()
    circle = [
        {"number": n, "x_mm": round(400 * c, 2), "y_mm": round(400 * s, 2)}
        for n, (c, s) in enumerate(_round(120), 1)
    ]
    step_cautions = [caution("WARNING"), caution("CAUTION"), caution("NOTICE")]
    sheet = {
        "format": "shopguide-job/1",
        "title": f"{LONG_TITLE}, {LONG_TITLE.lower()}",
        "summary": text + "\n" + GREEK + "\n" + CYRILLIC,
        "applies_to": [GERMAN, LONG_TITLE],
        "time": "two days",
        "skill": text,
        "author": "nobody",
        "date": "2026-01-31",
        "cautions": [caution("DANGER", acknowledge=True), caution("NOTICE", acknowledge=True)],
        "specs": [
            {
                "name": "flange bolts",
                "kind": "torque",
                "low": "1100 N·m",
                "high": "1150 N·m",
                "note": text,
                "source": {"kind": "manual", "text": LONG_TITLE + ", page 1234"},
            },
            {
                "name": "gap",
                "kind": "length",
                "low": "0.05 mm",
                "high": "0.08 mm",
                "source": {"kind": "not known"},
            },
        ],
        "parts": [
            {"name": GERMAN[:120], "number": UNBROKEN[:60], "single_use": True, "note": text},
            {"name": GREEK, "number": "7", "quantity": 12},
        ],
        "tools": [{"name": LONG_TITLE, "note": text}],
        "patterns": [
            {
                "name": "flange",
                "title": LONG_TITLE,
                "seen": "seen from below, front is left, " + LONG_TITLE,
                "thread": "M20",
                "drive": "30 mm",
                "fasteners": circle,
            }
        ],
        "stages": [
            {
                "title": "Disassembling and cleaning everything",
                "steps": [
                    {
                        "title": LONG_TITLE,
                        "text": text,
                        "cautions": step_cautions,
                        "tasks": [confirm(f"{n}. {LONG_TEXT}") for n in range(1, 13)],
                    },
                    {
                        "title": GREEK,
                        "text": CYRILLIC,
                        "tasks": [confirm(t) for t in (text, GREEK, CYRILLIC, GERMAN, UNBROKEN)],
                    },
                ],
            },
            {
                "title": "Zusammenbau",
                "steps": [
                    {
                        "title": GERMAN,
                        "cautions": step_cautions,
                        "text": text,
                        "tasks": [
                            {
                                "kind": "torque",
                                "text": text,
                                "pattern": "flange",
                                "spec": "flange bolts",
                                "passes": "torque, back off, torque",
                            },
                            {"kind": "measure", "text": text, "spec": "gap"},
                        ],
                    }
                ],
            },
        ],
    }
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.json").write_text(json.dumps(sheet, ensure_ascii=False), encoding="utf-8")
    return folder


def _round(count: int) -> list[tuple[float, float]]:
    from math import cos, pi, sin

    return [(sin(2 * pi * n / count), cos(2 * pi * n / count)) for n in range(count)]
