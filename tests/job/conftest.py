"""What the tests of job sheets stand on: one compact sheet that uses every kind of task, spec,
pattern and mark, and pictures to go with it.

The fixtures hand out functions, so that a test may ask more than once.
"""

from __future__ import annotations

import copy
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

_SHEET: dict[str, Any] = {
    "format": "shopguide-job/1",
    "title": "Sump cover: gasket",
    "summary": "An invented job.\nFor the tests only.",
    "applies_to": ["Invented van, any year"],
    "time": "2 h",
    "author": "Nobody",
    "revision": "2",
    "date": "2024-04-03",
    "cautions": [
        {
            "signal": "WARNING",
            "hazard": "The van can fall.",
            "consequence": "You can be crushed.",
            "avoid": "Use stands.",
            "acknowledge": True,
        }
    ],
    "specs": [
        {"name": "cover torque", "kind": "torque", "value": "9 N·m", "tolerance": "±1 N·m"},
        {"name": "cover angle", "kind": "angle", "value": "90°"},
        {"name": "sump fill", "kind": "volume", "value": "4.2 L", "low": "4 L", "high": "4.4 L"},
        {"name": "fluid temperature", "kind": "temperature", "low": "40 °C", "high": "45 °C"},
        {"name": "draining time", "kind": "time", "value": "10 min"},
        {
            "name": "magnet gap",
            "kind": "length",
            "high": "0.35 mm",
            "source": {"kind": "manual", "text": "invented, page 7"},
        },
        {"name": "band screw", "kind": "torque", "note": "nobody knows"},
    ],
    "parts": [{"name": "Gasket", "number": "123", "quantity": 2, "single_use": True}],
    "supplies": [{"name": "Rags"}],
    "fluids": [{"name": "gear fluid", "grade": "any", "spec": "sump fill"}],
    "tools": [{"name": "Torque wrench", "note": "2 to 25 N·m"}],
    "patterns": [
        {
            "name": "sump cover",
            "title": "Sump cover",
            "seen": "from below",
            "thread": "M6",
            "fasteners": [
                {"number": 1, "x_mm": -50, "y_mm": 40},
                {"number": 2, "x_mm": 50, "y_mm": 40, "length": "25 mm"},
                {"number": 3, "x_mm": 50.5, "y_mm": -40},
                {"number": 4, "x_mm": -50, "y_mm": -40},
                {"number": 5, "x_mm": 0, "y_mm": 0, "use": "do not touch"},
            ],
            "outline": [[-60, 50], [60, 50], [60, -50], [-60, -50]],
            "photo": {"file": "cover.jpg", "to_mm": [0.1, 0, -60, 0, -0.1, 50, 0, 0, 1]},
            "order": [1, 3, 2, 4],
            "order_source": "invented",
        },
        {"name": "flange", "title": "Flange", "circle": {"count": 6, "diameter_mm": 80}},
        {
            "name": "lid",
            "title": "Lid",
            "rectangle": {"width_mm": 90, "height_mm": 60, "along": 3, "up": 2},
        },
        {
            "name": "plate",
            "title": "Plate",
            "grid": {"columns": 2, "rows": 2, "across_mm": 30, "down_mm": 20},
        },
    ],
    "stages": [
        {
            "title": "Take apart",
            "steps": [
                {
                    "title": "Drain",
                    "text": "Let it run out.",
                    "cautions": [
                        {
                            "signal": "CAUTION",
                            "hazard": "Hot fluid.",
                            "consequence": "Burns.",
                            "avoid": "Let it cool.",
                        }
                    ],
                    "photos": [
                        {
                            "file": "drain.png",
                            "caption": "The plug",
                            "alt": "A plug",
                            "marks": [
                                {"kind": "arrow", "start": [1, 2], "to": [10, 12]},
                                {"kind": "ring", "at": [10, 12], "radius": 4},
                                {"kind": "number", "at": [3, 3], "number": 1},
                                {"kind": "text", "at": [5.5, 5], "text": "plug"},
                            ],
                        }
                    ],
                    "tasks": [
                        {"kind": "confirm", "text": "The van stands on stands."},
                        {
                            "kind": "drain",
                            "text": "Drain the fluid.",
                            "fluid": "gear fluid",
                            "item": "fluid drained",
                        },
                        {"kind": "wait", "text": "Let it drip.", "spec": "draining time"},
                        {
                            "kind": "leave",
                            "text": "The band screw stays.",
                            "how": "do not touch",
                            "fastener": "band screw",
                            "reason": "It sets the band.",
                        },
                    ],
                },
                {
                    "title": "Remove the cover",
                    "tasks": [
                        {
                            "kind": "open",
                            "text": "Take the cover off.",
                            "how": "remove",
                            "item": "cover",
                        },
                        {"kind": "photo", "text": "Take a picture of the magnets."},
                        {"kind": "measure", "text": "Measure the gap.", "spec": "magnet gap"},
                        {
                            "kind": "leave",
                            "text": "Leave the bracket screw loose.",
                            "how": "left loose",
                            "fastener": "bracket screw",
                            "reason": "The tube must find its seat.",
                            "item": "bracket screw",
                        },
                    ],
                },
            ],
        },
        {
            "title": "Put back",
            "steps": [
                {
                    "title": "Cover screws",
                    "tasks": [
                        {
                            "kind": "torque",
                            "text": "Tighten the cover.",
                            "pattern": "sump cover",
                            "spec": "cover torque",
                            "passes": "torque, back off, torque",
                            "item": "cover",
                        },
                        {
                            "kind": "torque",
                            "text": "Tighten the flange.",
                            "pattern": "flange",
                            "spec": "cover torque",
                            "passes": [
                                {"kind": "snug"},
                                {"kind": "torque", "share": 0.5},
                                {"kind": "back off", "turn": "half a turn"},
                                {"kind": "torque"},
                                {"kind": "angle", "spec": "cover angle"},
                                {"kind": "check"},
                            ],
                        },
                        {
                            "kind": "torque",
                            "text": "Tighten the bracket screw.",
                            "fastener": "bracket screw",
                            "spec": "cover torque",
                            "item": "bracket screw",
                        },
                    ],
                },
                {
                    "title": "Fill",
                    "tasks": [
                        {
                            "kind": "fill",
                            "text": "Fill in what came out.",
                            "fluid": "gear fluid",
                            "spec": "sump fill",
                            "like_drained": True,
                            "item": "fluid drained",
                        },
                        {
                            "kind": "open",
                            "text": "Unplug the sensor.",
                            "how": "disconnect",
                            "item": "sensor",
                        },
                        {
                            "kind": "close",
                            "text": "Plug the sensor in.",
                            "how": "reconnect",
                            "item": "sensor",
                        },
                    ],
                },
            ],
        },
    ],
    "follow_ups": [{"text": "Look for leaks.", "after": "3 days", "spec": "cover torque"}],
}


@pytest.fixture(scope="session")
def make_sheet() -> Callable[[], dict[str, Any]]:
    """Gives the data of the sheet, to be changed at will."""
    return lambda: copy.deepcopy(_SHEET)


@pytest.fixture(scope="session")
def make_jpeg() -> Callable[..., bytes]:
    """Gives a small JPEG, dark above and light below, so that its corners can be told apart."""
    return _make_jpeg


@pytest.fixture(scope="session")
def make_png() -> Callable[..., bytes]:
    """Gives a small red PNG."""
    return _make_png


@pytest.fixture(scope="session")
def lay_folder() -> Callable[[Path, bytes], Path]:
    """Lays a sheet's folder with this job.json and the pictures of the sheet."""
    return _lay_folder


def _make_jpeg(width: int = 64, height: int = 48, **options: Any) -> bytes:
    image = Image.linear_gradient("L").resize((width, height)).convert("RGB")
    return _save(image, "JPEG", **options)


def _make_png(width: int = 32, height: int = 24, **options: Any) -> bytes:
    return _save(Image.new("RGB", (width, height), (200, 30, 30)), "PNG", **options)


def _save(image: Image.Image, kind: str, **options: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def _lay_folder(folder: Path, text: bytes) -> Path:
    photos = folder / "photos"
    photos.mkdir(parents=True)
    (folder / "job.json").write_bytes(text)
    (photos / "cover.jpg").write_bytes(_make_jpeg())
    (photos / "drain.png").write_bytes(_make_png())
    return folder
