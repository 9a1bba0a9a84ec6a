"""Sheets made for the benches: as many steps, screws and photos as are asked for. All invented."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path
from typing import Any

from PIL import Image

SOURCE = {"kind": "manual", "text": "invented for the benches"}


def make_photo(path: Path, width_px: int = 4000, height_px: int = 3000, seed: int = 1) -> Path:
    """A 12-megapixel JPEG of about 4 MB, as a camera makes them; turned by its EXIF data."""
    luck = random.Random(seed)
    small = Image.frombytes("RGB", (400, 300), luck.randbytes(400 * 300 * 3))
    image = small.resize((width_px, height_px), Image.Resampling.BICUBIC)
    grain = Image.effect_noise((width_px, height_px), 22).convert("RGB")
    image = Image.blend(image, grain, 0.5)
    exif = Image.Exif()
    exif[0x0112] = 6
    image.save(path, quality=83, exif=exif)
    return path


def place_screws(count: int) -> list[dict[str, Any]]:
    """Screws around an outline that is no circle."""
    screws = []
    for number in range(count):
        turn = 2 * math.pi * number / count
        reach = 1 + 0.18 * math.sin(3 * turn) + 0.08 * math.cos(5 * turn)
        screws.append(
            {
                "number": number + 1,
                "x_mm": round(240 * reach * math.cos(turn), 1),
                "y_mm": round(150 * reach * math.sin(turn), 1),
            }
        )
    return screws


def make_sheet(
    folder: Path, *, steps: int = 1, screws: int = 0, photos: tuple[Path, ...] = ()
) -> Path:
    """A sheet folder: so many steps of three tasks, then one of a torqued pattern.

    photos: the first steps show one each.
    """
    places: list[dict[str, Any]] = []
    for number in range(1, steps + 1):
        step: dict[str, Any] = {
            "title": f"Part {number}",
            "text": "Look at it from both sides before you go on.",
            "tasks": [
                {"kind": "confirm", "text": f"Clean the seat of part {number}."},
                {"kind": "confirm", "text": f"Look for cracks in part {number}."},
                {"kind": "torque", "text": "Tighten it.", "fastener": f"screw {number}",
                 "spec": "cover screws"},
            ],
        }  # fmt: skip
        if number <= len(photos):
            step["photos"] = [
                {"file": photos[number - 1].name, "caption": f"Part {number}", "alt": "A part"}
            ]
        places.append(step)
    sheet: dict[str, Any] = {
        "format": "shopguide-job/1",
        "title": f"Bench: {steps} steps",
        "author": "an invented owner",
        "date": "2026-03-02",
        "specs": [
            {"name": "cover screws", "kind": "torque", "value": "9 N·m", "source": SOURCE}
        ],
        "stages": [{"title": "All of it", "steps": places}],
    }  # fmt: skip
    if screws:
        sheet["patterns"] = [
            {
                "name": "cover",
                "title": f"Cover, {screws} screws",
                "seen": "seen from below, front is left",
                "fasteners": place_screws(screws),
            }
        ]
        places.append(
            {
                "title": "Cover screws",
                "tasks": [
                    {
                        "kind": "torque",
                        "text": "Tighten the cover screws.",
                        "pattern": "cover",
                        "spec": "cover screws",
                        "passes": "torque, back off, torque",
                    }
                ],
            }
        )
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "job.json").write_text(json.dumps(sheet), encoding="utf-8")
    if photos:
        (folder / "photos").mkdir(exist_ok=True)
        for photo in photos:
            (folder / "photos" / photo.name).write_bytes(photo.read_bytes())
    return folder
