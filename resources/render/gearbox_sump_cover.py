"""Renders the pictures of the gearbox sump cover sample, or lists where their marks lie.

    python resources/render/gearbox_sump_cover.py [--only NAME] [--samples 48]
    python resources/render/gearbox_sump_cover.py --list marks.json

Needs Python 3.11 with the packages bpy 5.0 and Pillow; nothing else in the project needs them.
"""

import argparse
import io
import json
import sys
import tempfile
from pathlib import Path

import bpy
from materials import forget
from picture_list import list_pictures, place_camera
from pictures import PICTURES, WIDTH_PX, find_picture
from PIL import Image
from scenes import set_scene
from screw_table import SAMPLE

MOST_BYTES = 450_000


def set_renderer(samples, width):
    scene = bpy.context.scene
    scene.render.engine = "CYCLES"
    scene.cycles.device = "CPU"
    scene.cycles.samples = samples
    scene.cycles.use_adaptive_sampling = True
    scene.cycles.adaptive_threshold = 0.04
    scene.cycles.light_sampling_threshold = 0.03
    scene.cycles.use_denoising = True
    scene.cycles.denoising_prefilter = "FAST"
    scene.cycles.max_bounces = 8
    scene.cycles.diffuse_bounces = 1
    scene.cycles.glossy_bounces = 2
    scene.cycles.transmission_bounces = 8
    scene.cycles.sample_clamp_indirect = 4.0
    scene.render.resolution_percentage = round(100 * width / WIDTH_PX)
    scene.render.image_settings.file_format = "PNG"
    scene.view_settings.view_transform = "AgX"
    scene.view_settings.exposure = 0.45
    scene.view_settings.look = "AgX - High Contrast"


def save_jpeg(raw, target):
    """A plain sRGB JPEG without any data about its making, small enough to travel."""
    with Image.open(raw) as opened:
        picture = opened.convert("RGB")
    for quality in (86, 82, 78, 72):
        kept = io.BytesIO()
        picture.save(kept, "JPEG", quality=quality, optimize=True, progressive=True)
        if kept.tell() <= MOST_BYTES:
            break
    target.write_bytes(kept.getvalue())


def render_picture(picture, samples, width, folder):
    bpy.ops.wm.read_factory_settings(use_empty=True)
    forget()
    set_scene(picture)
    place_camera(picture.camera)
    set_renderer(samples, width)
    with tempfile.TemporaryDirectory() as scratch:
        raw = Path(scratch) / "picture.png"
        bpy.context.scene.render.filepath = str(raw)
        bpy.ops.render.render(write_still=True)
        save_jpeg(raw, folder / f"{picture.name}.jpg")


def main():
    ask = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ask.add_argument("--only", metavar="NAME", action="append", help="one picture; may be repeated")
    ask.add_argument("--samples", type=int, default=48, help="light samples a pixel")
    ask.add_argument("--width", type=int, default=WIDTH_PX, help="pixels across, for trials")
    ask.add_argument("--out", type=Path, default=SAMPLE / "photos", help="folder for the JPEGs")
    ask.add_argument("--list", type=Path, metavar="FILE", help="write the marks, render nothing")
    told = ask.parse_args()
    if told.list:
        told.list.write_text(json.dumps(list_pictures(), indent=1, ensure_ascii=False) + "\n")
        return 0
    told.out.mkdir(parents=True, exist_ok=True)
    for picture in [find_picture(n) for n in told.only] if told.only else PICTURES:
        render_picture(picture, told.samples, told.width, told.out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
