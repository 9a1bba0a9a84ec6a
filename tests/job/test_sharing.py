"""Packing to one zip and unpacking: equal both ways, and nothing hostile gets out of a zip."""

from __future__ import annotations

import json
import os
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job import packing, sharing, upgrade
from shopguide.job.files import OpeningStopped, load_sheet


@pytest.fixture
def folder(tmp_path: Path, make_sheet: Any, lay_folder: Any) -> Path:
    return lay_folder(tmp_path / "sheet", json.dumps(make_sheet()).encode())


@pytest.fixture
def zipped(folder: Path, tmp_path: Path) -> Path:
    sharing.pack(folder, tmp_path / "sheet.zip")
    return tmp_path / "sheet.zip"


def list_all(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_there_and_back_is_the_same_byte_for_byte(folder: Path, tmp_path: Path) -> None:
    (folder / "photos" / "unused.jpg").write_bytes(b"not the sheet's")
    packed = sharing.pack(folder, tmp_path / "one.ZIP")
    out = sharing.unpack(packed.path, tmp_path / "deep" / "out")
    (folder / "photos" / "unused.jpg").unlink()
    assert list_all(out.path) == list_all(folder)
    assert packed.tell() == (
        f"Sump cover: gasket: job.json (shopguide-job/1) and 2 pictures, "
        f"{max(0.1, packed.size_bytes / 1e6):.1f} MB.",
    )
    assert packed.size_bytes == packed.path.stat().st_size
    assert out.size_bytes == sum(len(data) for data in list_all(out.path).values())


def test_equal_sheets_give_equal_zips_and_a_zip_packs_itself(zipped: Path, tmp_path: Path) -> None:
    sharing.pack(zipped, tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == zipped.read_bytes()
    before = zipped.read_bytes()
    sharing.pack(zipped, zipped)
    assert zipped.read_bytes() == before


def test_what_is_no_zip_name_is_refused(folder: Path, tmp_path: Path) -> None:
    before = list_all(folder)
    for name in (folder / "job.json", folder / "photos" / "cover.jpg", tmp_path / "sheet"):
        with pytest.raises(Trouble, match=r"does not end in \.zip"):
            sharing.pack(folder, name)
    assert list_all(folder) == before


def test_sheet_with_faults_is_not_packed(folder: Path, tmp_path: Path) -> None:
    (folder / "photos" / "cover.jpg").write_bytes(b"no picture")
    with pytest.raises(SheetTrouble):
        sharing.pack(folder, tmp_path / "bad.zip")
    assert not (tmp_path / "bad.zip").exists()


def test_sheet_that_could_not_be_opened_again_is_not_packed(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sharing, "MOST_ENTRIES", 2)
    with pytest.raises(Trouble, match="could not be opened again"):
        sharing.pack(folder, tmp_path / "large.zip")
    assert not (tmp_path / "large.zip").exists()


@pytest.mark.parametrize("there", ["file", "full", "dangling"])
def test_only_a_new_or_empty_folder_is_filled(zipped: Path, tmp_path: Path, there: str) -> None:
    out = tmp_path / "out"
    if there == "file":
        out.write_bytes(b"mine")
    elif there == "full":
        out.mkdir()
        (out / "mine.txt").write_bytes(b"mine")
    else:
        out.symlink_to(tmp_path / "nowhere")
    with pytest.raises(Trouble):
        sharing.unpack(zipped, out)
    kept = out if there == "file" else out / "mine.txt"
    assert there == "dangling" or kept.read_bytes() == b"mine"
    assert not (tmp_path / "nowhere").exists()


def test_an_empty_folder_will_do(zipped: Path, tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    sharing.unpack(zipped, tmp_path / "out")
    assert load_sheet(tmp_path / "out").sheet == load_sheet(zipped).sheet


def test_a_folder_is_no_zip(folder: Path, tmp_path: Path) -> None:
    with pytest.raises(Trouble, match="folder already"):
        sharing.unpack(folder, tmp_path / "out")


# --- hostile zips -------------------------------------------------------------------------------


def add(name: str, data: bytes = b"x", mode: int = 0) -> Callable[[zipfile.ZipFile], None]:
    def fill(archive: zipfile.ZipFile) -> None:
        entry = zipfile.ZipInfo(name)
        entry.external_attr = mode << 16
        archive.writestr(entry, data)

    return fill


HOSTILE = {
    "leads out": add("../../evil.txt"),
    "leads out of photos": add("photos/../../evil.jpg"),
    "absolute": add("/evil.txt"),
    "drive": add("C:/evil.txt"),
    "backslash": add("photos\\..\\..\\evil.txt"),
    "link": add("photos/link.jpg", b"/etc/passwd", stat.S_IFLNK | 0o777),
    "device": add("photos/tty.jpg", b"", stat.S_IFCHR | 0o666),
    "twice": add("photos/COVER.JPG"),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_hostile_entries_leave_nothing_behind(zipped: Path, tmp_path: Path, kind: str) -> None:
    with zipfile.ZipFile(zipped, "a") as archive:
        HOSTILE[kind](archive)
    before = {str(path) for path in tmp_path.rglob("*")}
    with pytest.raises(SheetTrouble):
        sharing.unpack(zipped, tmp_path / "deep" / "out")
    assert {str(path) for path in tmp_path.rglob("*")} == before


def test_limits_of_the_loader_hold(
    zipped: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(packing, "MOST_UNPACKED_BYTES", 1000)
    with pytest.raises(SheetTrouble, match="unpacked"):
        sharing.unpack(zipped, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_each_picture_is_counted_once(
    zipped: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with zipfile.ZipFile(zipped) as archive:
        whole = sum(entry.file_size for entry in archive.infolist())
    monkeypatch.setattr(packing, "MOST_UNPACKED_BYTES", whole + 1)
    assert sharing.unpack(zipped, tmp_path / "out").pictures == 2


def test_what_the_sheet_does_not_use_stays_in_the_zip(zipped: Path, tmp_path: Path) -> None:
    with zipfile.ZipFile(zipped, "a") as archive:
        archive.writestr("run_me.sh", "rm -r /")
        archive.writestr("photos/other.jpg", "x")
    out = sharing.unpack(zipped, tmp_path / "out")
    assert sorted(list_all(out.path)) == [
        "job.json",
        os.path.join("photos", "cover.jpg"),
        os.path.join("photos", "drain.png"),
    ]


@pytest.mark.parametrize("calls", range(1, 8))
def test_stopped_at_any_time_leaves_the_folder_as_it_was(
    zipped: Path, tmp_path: Path, calls: int
) -> None:
    asked = 0

    def cancelled() -> bool:
        nonlocal asked
        asked += 1
        return asked == calls

    (tmp_path / "out").mkdir()
    if calls < 6:
        with pytest.raises(OpeningStopped):
            sharing.unpack(zipped, tmp_path / "out", cancelled=cancelled)
        assert list((tmp_path / "out").iterdir()) == []
    else:
        sharing.unpack(zipped, tmp_path / "out", cancelled=cancelled)
        assert asked == 5


def test_full_disk_leaves_nothing_half_done(
    zipped: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> int:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_bytes", refuse)
    with pytest.raises(Trouble, match="the disk is full"):
        sharing.unpack(zipped, tmp_path / "deep" / "out")
    assert not (tmp_path / "deep").exists()


def test_a_folder_that_cannot_be_made_is_told(zipped: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"mine")
    with pytest.raises(Trouble) as caught:
        sharing.unpack(zipped, tmp_path / "file" / "out")
    assert caught.value.next and str(tmp_path / "file" / "out") in caught.value.where
    assert (tmp_path / "file").read_bytes() == b"mine"


def test_progress_counts_the_pictures(zipped: Path, tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    sharing.unpack(zipped, tmp_path / "out", progress=lambda *one: told.append(one))
    assert [one for one in told if one[0] == "Unpacking"] == [
        ("Unpacking", 0, 2),
        ("Unpacking", 1, 2),
    ]


def test_upgrade_is_told_and_job_json_stays_as_it_was_written(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def from_0(data: dict[str, Any]) -> upgrade.Upgraded:
        data["author"] = data.pop("writer")
        return upgrade.Upgraded(data, ('The "writer" is now called "author".',))

    monkeypatch.setitem(upgrade.UPGRADES, 0, from_0)
    data = json.loads((folder / "job.json").read_bytes())
    data["format"], data["writer"] = "shopguide-job/0", data.pop("author")
    raw = json.dumps(data).encode()
    (folder / "job.json").write_bytes(raw)
    packed = sharing.pack(folder, tmp_path / "old.zip")
    out = sharing.unpack(packed.path, tmp_path / "out")
    assert out.format == "shopguide-job/0"
    assert (
        out.words
        == packed.words
        == (
            "Format 0 became format 1:",
            '  The "writer" is now called "author".',
        )
    )
    assert (out.path / "job.json").read_bytes() == raw
