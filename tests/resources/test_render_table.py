"""The rendered pictures agree with the sample's pattern: screws, mapping, files and sizes."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from PIL import Image

CHECKOUT = Path(__file__).resolve().parents[2]
SAMPLE = CHECKOUT / "sample_jobs" / "gearbox_sump_cover"
PHOTOS = sorted((SAMPLE / "photos").glob("*.jpg"))


@pytest.fixture(scope="module")
def render():
    """The parts of the render script that need no renderer."""
    sys.path.insert(0, str(CHECKOUT / "resources" / "render"))
    try:
        import pictures
        import screw_table

        yield pictures, screw_table
    finally:
        sys.path.pop(0)
        for name in ("pictures", "screw_table"):
            sys.modules.pop(name, None)


@pytest.fixture(scope="module")
def pattern():
    job = json.loads((SAMPLE / "job.json").read_text(encoding="utf-8"))
    return next(p for p in job["patterns"] if p["name"] == "cover")


def test_script_draws_the_screws_of_the_sheet(render, pattern):
    _, screw_table = render
    drawn = {s.number: (s.x_mm, s.y_mm, s.length_mm) for s in screw_table.read_screws()}
    written = {
        f["number"]: (f["x_mm"], f["y_mm"], float(f["length"].removesuffix(" mm")))
        for f in pattern["fasteners"]
    }
    assert drawn == written
    assert len(drawn) == 16
    assert sum(length == 35 for _, _, length in drawn.values()) == 4


def test_walk_goes_clockwise_from_the_front(render):
    _, screw_table = render
    walk = screw_table.walk_round()
    twice_the_area = sum(
        a.x_mm * b.y_mm - b.x_mm * a.y_mm for a, b in zip(walk, (*walk[1:], walk[0]), strict=True)
    )
    assert twice_the_area < 0
    assert len({s.number for s in walk}) == 16
    assert walk[0].x_mm < -100


def test_mapping_of_the_sheet_is_that_of_the_camera(render, pattern):
    pictures, _ = render
    camera = pictures.find_picture("cover_from_below").camera
    mm_per_px = camera.wide_mm / pictures.WIDTH_PX
    a, b, c, d, e, f, *last = pattern["photo"]["to_mm"]
    assert (b, d, last) == (0, 0, [0, 0, 1])
    assert a == pytest.approx(mm_per_px, abs=1e-6)
    assert e == pytest.approx(-mm_per_px, abs=1e-6)
    # The camera looks straight at the pattern's zero, which is the picture's middle.
    assert (camera.at[:2], camera.towards[:2]) == ((0, 0), (0, 0))
    assert a * pictures.WIDTH_PX / 2 + c == pytest.approx(0, abs=1e-3)
    assert e * pictures.HEIGHT_PX / 2 + f == pytest.approx(0, abs=1e-3)


def test_every_screw_of_the_pattern_stands_inside_its_photo(render, pattern):
    pictures, _ = render
    a, _, c, _, e, f, *_ = pattern["photo"]["to_mm"]
    for screw in pattern["fasteners"]:
        x_px, y_px = (screw["x_mm"] - c) / a, (screw["y_mm"] - f) / e
        assert 40 < x_px < pictures.WIDTH_PX - 40
        assert 40 < y_px < pictures.HEIGHT_PX - 40


def test_photos_are_those_the_script_renders(render):
    pictures, _ = render
    assert {p.stem for p in PHOTOS} == {p.name for p in pictures.PICTURES}


def test_captions_are_short_and_name_screws_of_the_sheet(render):
    pictures, _ = render
    assert all(0 < len(p.caption) <= 90 for p in pictures.PICTURES)
    assert "screws 7 and 11" in pictures.find_picture("cable_bracket").caption
    assert "screws 9 and 15" in pictures.find_picture("band_screw").caption


@pytest.mark.parametrize("photo", PHOTOS, ids=lambda p: p.stem)
def test_photo_is_plain_and_small(photo):
    assert photo.stat().st_size <= 450_000
    with Image.open(photo) as picture:
        assert (picture.size, picture.mode) == ((1600, 1200), "RGB")
        assert not picture.getexif()
        assert "comment" not in picture.info
