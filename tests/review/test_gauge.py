"""Measuring pictures: each file once, whether saved in a folder or zip, or still waiting."""

from __future__ import annotations

import unicodedata
import zipfile
from pathlib import Path

import pytest
from PIL import Image

from shopguide.job.packing import find_packing
from shopguide.review.photos import Gauge

SHEET = b'{"format": "shopguide-job/1"}'


def draw(path: Path, width: int, height: int = 20) -> Path:
    path.parent.mkdir(exist_ok=True)
    Image.new("RGB", (width, height), "grey").save(path)
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "sheet").mkdir()
    (tmp_path / "sheet" / "job.json").write_bytes(SHEET)
    draw(tmp_path / "sheet" / "photos" / "used.png", 30)
    draw(tmp_path / "sheet" / "photos" / "spare.png", 40)
    return tmp_path / "sheet"


def test_a_file_is_looked_into_once_until_it_is_another(folder):
    gauge, packing = Gauge(), find_packing(folder)
    assert gauge.measure(packing, ["used.png"]) == {"used.png": (30, 20), "spare.png": (40, 20)}
    assert gauge.measured == 2
    gauge.measure(packing, ["used.png"])
    assert gauge.measured == 0
    draw(folder / "photos" / "used.png", 3000, 2000)
    draw(folder / "photos" / "new.png", 50)
    assert gauge.measure(packing, ["used.png"]) == {
        "used.png": (3000, 2000),
        "spare.png": (40, 20),
        "new.png": (50, 20),
    }
    assert gauge.measured == 2
    (folder / "photos" / "used.png").unlink()
    assert "used.png" not in gauge.measure(packing, ["used.png"])


def test_of_a_copy_only_what_the_sheet_names_counts(folder):
    assert Gauge().measure(find_packing(folder), ["used.png"], unused=False) == {
        "used.png": (30, 20)
    }


def test_a_waiting_picture_counts_where_the_sheet_names_it(folder, tmp_path):
    waiting = {"w.png": draw(tmp_path / "w.png", 60), "x.png": draw(tmp_path / "x.png", 70)}
    assert Gauge().measure(None, ["w.png", "gone.png"], waiting) == {"w.png": (60, 20)}
    assert Gauge().measure(None, ["gone.png"]) is None
    both = Gauge().measure(find_packing(folder), ["w.png"], waiting)
    assert set(both) == {"w.png", "used.png", "spare.png"}


def test_a_zip_is_measured_as_the_folder_is(folder, tmp_path):
    packed = tmp_path / "sheet.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for path in sorted(folder.rglob("*.*")):
            archive.write(path, path.relative_to(folder).as_posix())
    gauge, names = Gauge(), ["used.png"]
    assert gauge.measure(find_packing(packed), names) == Gauge().measure(
        find_packing(folder), names
    )
    gauge.measure(find_packing(packed), names)
    assert gauge.measured == 0


def test_a_zip_that_goes_bad_while_it_is_written_in_has_no_pictures(folder, tmp_path):
    packed = tmp_path / "sheet.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for path in sorted(folder.rglob("*.*")):
            archive.write(path, path.relative_to(folder).as_posix())
    packing, gauge = find_packing(packed), Gauge()
    assert "used.png" in gauge.measure(packing, ["used.png"])
    packed.write_bytes(packed.read_bytes().replace(b"PK\x01\x02", b"PK\x00\x02"))
    assert zipfile.is_zipfile(packed)
    assert gauge.measure(packing, ["used.png"]) == {}
    packed.unlink()
    assert gauge.measure(packing, ["used.png"]) == {}


def test_what_is_no_picture_and_names_in_another_form(folder):
    (folder / "photos" / "bad.png").write_bytes(b"no picture")
    name = unicodedata.normalize("NFC", "Öl.png")
    draw(folder / "photos" / unicodedata.normalize("NFD", name), 80)
    found = Gauge().measure(find_packing(folder), [name, "bad.png", "gone.png"])
    assert found[name] == (80, 20)
    assert "bad.png" not in found and "gone.png" not in found
