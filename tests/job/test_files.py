"""Opening and saving: every limit and every refusal, for the folder and for the zip."""

from __future__ import annotations

import errno
import io
import json
import os
import stat
import struct
import threading
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job import files, packing, saving
from shopguide.job.files import (
    OpenedSheet,
    OpeningStopped,
    dump_sheet,
    load_sheet,
    pack_sheet,
    read_sheet,
    save_sheet,
    write_atomically,
)

Make = Callable[..., Any]
on_posix = pytest.mark.skipif(os.name != "posix", reason="needs links and pipes of a file system")


@pytest.fixture
def text(make_sheet: Make) -> bytes:
    """The job.json of the sheet."""
    return json.dumps(make_sheet()).encode()


@pytest.fixture
def folder(tmp_path: Path, lay_folder: Make, text: bytes) -> Path:
    """The folder of the sheet."""
    return lay_folder(tmp_path / "sump", text)


@pytest.fixture
def entries(text: bytes, make_jpeg: Make, make_png: Make) -> dict[str, bytes]:
    """What a zip of the sheet holds."""
    return {"job.json": text, "photos/cover.jpg": make_jpeg(), "photos/drain.png": make_png()}


def make_zip(path: Path, entries: dict[Any, bytes], method: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", method) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return path


def refused(path: Path) -> list[Trouble]:
    """The faults for which the sheet is refused; each has all three parts."""
    with pytest.raises(SheetTrouble) as caught:
        load_sheet(path)
    assert caught.value.where == str(path)
    assert caught.value.troubles
    for trouble in caught.value.troubles:
        assert trouble.what and trouble.where and trouble.next, trouble.args
    return list(caught.value.troubles)


def only(path: Path) -> str:
    (trouble,) = refused(path)
    return trouble.what


# --- opening what is right ---


def test_folder_its_job_json_and_its_zip_give_the_same(folder: Path, tmp_path: Path) -> None:
    by_folder = load_sheet(folder)
    by_file = load_sheet(folder / "job.json")
    pack_sheet(by_folder, tmp_path / "sump.zip")
    by_zip = load_sheet(tmp_path / "sump.zip")
    assert by_folder.sheet == by_file.sheet == by_zip.sheet
    assert by_folder.raw == by_file.raw == by_zip.raw == (folder / "job.json").read_bytes()
    assert by_folder.names() == by_zip.names() == ("drain.png", "cover.jpg")
    for opened in (by_folder, by_file, by_zip):
        assert opened.photo_bytes("cover.jpg") == (folder / "photos/cover.jpg").read_bytes()
        assert opened.photos.names() == opened.names()
    assert by_folder.photo_path("cover.jpg") == folder / "photos" / "cover.jpg"
    assert by_zip.photo_path("cover.jpg") is None
    assert by_zip.path == tmp_path / "sump.zip"
    assert by_file.path == folder


def test_packing_twice_gives_equal_zips(folder: Path, tmp_path: Path) -> None:
    opened = load_sheet(folder)
    pack_sheet(opened, tmp_path / "a.zip")
    pack_sheet(opened, tmp_path / "b.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_zip_of_the_folder_itself_as_a_mac_makes_it(
    tmp_path: Path, entries: dict[str, bytes]
) -> None:
    inner = {f"sump/{name}": data for name, data in entries.items()}
    stray = {"__MACOSX/sump/._job.json": b"x", "sump/.DS_Store": b"x"}
    opened = load_sheet(make_zip(tmp_path / "a.zip", {"sump/": b"", **inner, **stray}))
    assert opened.photo_bytes("drain.png") == entries["photos/drain.png"]


def test_zip_with_utf8_names_not_marked_as_such(
    tmp_path: Path, make_sheet: Make, entries: dict[str, bytes]
) -> None:
    data = make_sheet()
    data["patterns"][0]["photo"]["file"] = "Ölwanne.jpg"
    entries["job.json"] = json.dumps(data).encode()
    # An ASCII name is not marked as UTF-8; the zip is then given the two bytes of the Ö.
    entries["photos/XXlwanne.jpg"] = entries.pop("photos/cover.jpg")
    raw = make_zip(tmp_path / "a.zip", entries, zipfile.ZIP_STORED).read_bytes()
    (tmp_path / "a.zip").write_bytes(raw.replace(b"XXlwanne.jpg", "Ölwanne.jpg".encode()))
    assert "Ölwanne.jpg" in load_sheet(tmp_path / "a.zip").names()


def test_picture_named_in_the_other_unicode_form_is_found(
    tmp_path: Path, folder: Path, make_sheet: Make
) -> None:
    data = make_sheet()
    data["patterns"][0]["photo"]["file"] = "O\u0308l.jpg"
    (folder / "job.json").write_text(json.dumps(data))
    (folder / "photos/cover.jpg").rename(folder / "photos/O\u0308l.jpg")
    opened = load_sheet(folder)
    assert "\u00d6l.jpg" in opened.names()
    assert opened.photo_bytes("\u00d6l.jpg")


def test_byte_order_mark_is_taken(folder: Path) -> None:
    (folder / "job.json").write_bytes(b"\xef\xbb\xbf" + (folder / "job.json").read_bytes())
    assert load_sheet(folder).sheet.author == "Nobody"


def test_progress_is_told_and_opening_can_be_stopped(folder: Path) -> None:
    told: list[tuple[str, int, int]] = []
    load_sheet(folder, progress=lambda *args: told.append(args))
    assert [doing for doing, _, _ in told] == [
        "Reading the sheet",
        "Checking the sheet",
        "Looking at the pictures",
    ]
    for stop_at in range(len(told)):
        asked = iter([False] * stop_at + [True])
        with pytest.raises(OpeningStopped, match="stopped"):
            load_sheet(folder, cancelled=lambda asked=asked: next(asked))


# --- what cannot be opened ---


def test_what_is_not_there_or_no_sheet(tmp_path: Path) -> None:
    assert only(tmp_path / "none") == "none is not there."
    (tmp_path / "empty").mkdir()
    assert only(tmp_path / "empty") == "job.json is not there."
    (tmp_path / "letter.txt").write_text("Dear")
    assert only(tmp_path / "letter.txt") == "letter.txt is no job sheet."
    (tmp_path / "empty.zip").write_bytes(b"")
    assert only(tmp_path / "empty.zip") == "The zip is damaged, or is no zip."
    assert only(tmp_path / "a\0b") == "a·b is no name of a file."
    (tmp_path / "odd" / "job.json").mkdir(parents=True)
    assert only(tmp_path / "odd") == "job.json is a folder, not a file."


@on_posix
def test_pipes_and_devices_are_refused_without_hanging(folder: Path, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert only(tmp_path / "pipe") == "pipe is a device or a pipe, not a file."
    (folder / "photos/cover.jpg").unlink()
    os.mkfifo(folder / "photos/cover.jpg")
    assert only(folder) == "cover.jpg is a device or a pipe, not a file."
    (folder / "job.json").unlink()
    os.mkfifo(folder / "job.json")
    assert only(folder) == "job.json is a device or a pipe, not a file."
    assert only(Path("/dev/zero")) == "zero is a device or a pipe, not a file."


@on_posix
def test_links_are_refused(folder: Path, tmp_path: Path, make_jpeg: Make) -> None:
    (tmp_path / "elsewhere.jpg").write_bytes(make_jpeg())
    (folder / "photos/cover.jpg").unlink()
    (folder / "photos/cover.jpg").symlink_to(tmp_path / "elsewhere.jpg")
    assert only(folder) == "cover.jpg is a link, not a file."
    (folder / "photos").rename(tmp_path / "photos")
    (folder / "photos").symlink_to(tmp_path / "photos")
    assert {trouble.what for trouble in refused(folder)} == {"The folder photos/ is a link."}
    (folder / "job.json").rename(tmp_path / "job.json")
    (folder / "job.json").symlink_to(tmp_path / "job.json")
    assert only(folder) == "job.json is a link, not a file."


def test_file_that_may_not_be_read(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> int:
        raise PermissionError(errno.EACCES, "Permission denied", str(folder / "job.json"))

    # The tests may run as root, whom no file's rights stop.
    monkeypatch.setattr(packing.os, "open", refuse)
    assert only(folder) == "job.json may not be read."


def test_job_json_over_5_mb(folder: Path) -> None:
    (folder / "job.json").write_bytes(b" " * 5_000_000 + b"{")
    (trouble,) = refused(folder)
    assert trouble.where == "job.json"
    assert trouble.what == "The file has 5.0 MB; at most 5 MB are read."


def test_job_json_of_just_5_mb_is_read(folder: Path) -> None:
    raw = (folder / "job.json").read_bytes()
    (folder / "job.json").write_bytes(raw.ljust(5_000_000))
    assert load_sheet(folder).sheet.title == "Sump cover: gasket"


def many_steps(count: int) -> bytes:
    step = {"title": "a", "tasks": [{"kind": "photo", "text": "b"}]}
    steps = [step] * count
    return json.dumps(
        {
            "format": "shopguide-job/1",
            "title": "Long",
            "author": "Nobody",
            "date": "2024-04-03",
            "stages": [
                {"title": "one", "steps": steps[: count // 2]},
                {"title": "two", "steps": steps[count // 2 :]},
            ],
        },
        separators=(",", ":"),
    ).encode()


def test_20_000_steps_and_one_more() -> None:
    sheet = read_sheet(many_steps(20_000))
    assert len(sheet.steps) == 20_000
    with pytest.raises(SheetTrouble) as caught:
        read_sheet(many_steps(20_001))
    (trouble,) = caught.value.troubles
    assert trouble.what == "The sheet has 20,001 steps; at most 20,000 are possible."
    assert trouble.where == "job.json"


# --- pictures ---


def test_pictures_missing_wrong_and_mislabelled_are_told_together(folder: Path) -> None:
    (folder / "photos/cover.jpg").write_text("no picture")
    (folder / "photos/drain.png").unlink()
    assert [trouble.args for trouble in refused(folder)] == [
        (
            "The file is not a picture.",
            "job.json, pattern 'sump cover', photo, file",
            "Use a picture in JPEG, PNG, WebP, TIFF or BMP.",
        ),
        (
            'There is no picture "drain.png" in photos/.',
            "job.json, step 1, 'Drain', photo 1, file",
            "Put it there, or take it out of the sheet.",
        ),
    ]


def test_picture_faults_come_with_the_faults_of_reference(folder: Path, make_sheet: Make) -> None:
    data = make_sheet()
    data["stages"][0]["steps"][1]["tasks"][2]["spec"] = "magnet gab"
    (folder / "job.json").write_text(json.dumps(data))
    (folder / "photos/drain.png").write_bytes(b"")
    assert [trouble.what for trouble in refused(folder)] == [
        'No spec is called "magnet gab".',
        "The file is empty.",
    ]


def test_picture_with_other_capitals(folder: Path) -> None:
    (folder / "photos/cover.jpg").rename(folder / "photos/Cover.JPG")
    assert only(folder) == 'photos/ holds "Cover.JPG", with other capitals than "cover.jpg".'


def test_two_pictures_that_differ_in_capitals_only(
    tmp_path: Path, make_sheet: Make, entries: dict[str, bytes]
) -> None:
    data = make_sheet()
    data["stages"][0]["steps"][0]["photos"].append({"file": "COVER.jpg"})
    entries["job.json"] = json.dumps(data).encode()
    assert '"COVER.jpg" and "cover.jpg" differ in capitals only' in only(
        make_zip(tmp_path / "a.zip", entries)
    )


@pytest.mark.parametrize(
    "name",
    [
        "../job.jpg",
        "/etc/a.jpg",
        "C:\\a.jpg",
        "a/b.jpg",
        "..",
        "C:a.jpg",
        ".a.jpg",
        "nul.jpg",
        "a.jpg.",
        "a?.jpg",
        "ü" * 150 + ".jpg",
    ],
)
@pytest.mark.parametrize("packed", [False, True])
def test_picture_names_that_lead_away(
    name: str,
    packed: bool,
    tmp_path: Path,
    folder: Path,
    make_sheet: Make,
    entries: dict[str, bytes],
) -> None:
    data = make_sheet()
    data["patterns"][0]["photo"]["file"] = name
    entries["job.json"] = json.dumps(data).encode()
    (folder / "job.json").write_bytes(entries["job.json"])
    (trouble,) = refused(make_zip(tmp_path / "a.zip", entries) if packed else folder)
    assert trouble.where == "job.json, pattern 'sump cover', photo, file"
    with pytest.raises(Trouble):
        save_sheet(read_any_sheet(make_sheet), tmp_path / "new", {name: b"x"})
    assert not (tmp_path / "new").exists()


def read_any_sheet(make_sheet: Make) -> Any:
    return read_sheet(json.dumps(make_sheet()).encode())


def test_picture_over_50_mb(folder: Path, tmp_path: Path, entries: dict[str, bytes]) -> None:
    with (folder / "photos/cover.jpg").open("r+b") as file:
        file.truncate(50_000_001)
    assert only(folder) == "The picture has more than 50 MB."
    entries["photos/cover.jpg"] = entries["photos/cover.jpg"].ljust(50_000_001, b"\0")
    assert only(make_zip(tmp_path / "a.zip", entries)) == "The picture has more than 50 MB."


def test_picture_over_100_megapixels(folder: Path, make_png: Make) -> None:
    raw = bytearray(make_png())
    raw[16:24] = struct.pack(">II", 10_000, 10_000)
    (folder / "photos/drain.png").write_bytes(raw)
    load_sheet(folder)
    raw[16:24] = struct.pack(">II", 10_001, 10_000)
    (folder / "photos/drain.png").write_bytes(raw)
    assert "10,001 × 10,000 pixels; at most 100 megapixels" in only(folder)


def test_picture_that_goes_after_opening(folder: Path, tmp_path: Path) -> None:
    opened = load_sheet(folder)
    pack_sheet(opened, tmp_path / "a.zip")
    by_zip = load_sheet(tmp_path / "a.zip")
    (folder / "photos/cover.jpg").unlink()
    (tmp_path / "a.zip").write_bytes(b"PK")
    for one in (opened, by_zip):
        with pytest.raises(SheetTrouble) as caught:
            one.photo_bytes("cover.jpg")
        assert caught.value.troubles
        with pytest.raises(SheetTrouble, match=r'uses no picture "other\.jpg"'):
            one.photo_bytes("other.jpg")
        with pytest.raises(SheetTrouble, match=r'uses no picture "other\.jpg"'):
            one.photo_path("other.jpg")


# --- zips ---


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("../out.jpg", 'The entry "../out.jpg" leads out of the folder.'),
        ("photos/../../out", 'The entry "photos/../../out" leads out of the folder.'),
        ("/etc/passwd", 'The entry "/etc/passwd" has an absolute path.'),
        ("C:/a", 'The entry "C:/a" has an absolute path.'),
        ("c:a", 'The entry "c:a" has an absolute path.'),
        ("photos\\a.jpg", 'The entry "photos\\a.jpg" has a backslash in its name.'),
        ("photos//a.jpg", 'The entry "photos//a.jpg" has a name that is no file name.'),
        ("./a.jpg", 'The entry "./a.jpg" has a name that is no file name.'),
        (
            "Photos/COVER.jpg",
            'The zip holds two entries for one name: "photos/cover.jpg" and "Photos/COVER.jpg".',
        ),
    ],
)
def test_zip_entries_that_are_refused(
    name: str, what: str, tmp_path: Path, entries: dict[str, bytes]
) -> None:
    assert only(make_zip(tmp_path / "a.zip", {**entries, name: b"x"})) == what


def test_zip_with_a_name_twice(tmp_path: Path, entries: dict[str, bytes]) -> None:
    entries["photos/cover.jpX"] = b"x"
    path = make_zip(tmp_path / "a.zip", entries)
    path.write_bytes(path.read_bytes().replace(b"cover.jpX", b"cover.jpg"))
    assert "two entries for one name" in only(path)


def test_zip_with_a_name_cut_by_nul(tmp_path: Path, entries: dict[str, bytes]) -> None:
    entries["photos/coverXjpg"] = b"x"
    path = make_zip(tmp_path / "a.zip", entries)
    path.write_bytes(path.read_bytes().replace(b"coverXjpg", b"cover\0jpg"))
    assert "has a name that is no file name" in only(path)


@pytest.mark.parametrize(
    ("mode", "what"), [(stat.S_IFLNK, "is a link."), (stat.S_IFIFO, "is a device or a pipe.")]
)
def test_zip_with_a_link_or_a_device(
    mode: int, what: str, tmp_path: Path, entries: dict[str, bytes]
) -> None:
    odd = zipfile.ZipInfo("photos/odd.jpg")
    odd.external_attr = (mode | 0o777) << 16
    assert only(make_zip(tmp_path / "a.zip", {**entries, odd: b"/etc/passwd"})).endswith(what)


def test_encrypted_zip(tmp_path: Path, entries: dict[str, bytes]) -> None:
    path = make_zip(tmp_path / "a.zip", entries)
    raw = bytearray(path.read_bytes())
    # The mark of an encrypted entry, in the entry's own head and in the list of contents.
    raw[6] |= 1
    raw[raw.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(raw)
    assert only(path) == "The zip is encrypted."


def test_zip_packed_in_a_way_that_may_swell(tmp_path: Path, entries: dict[str, bytes]) -> None:
    for method in (zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA):
        assert "packed in a way that is not read here" in only(
            make_zip(tmp_path / "a.zip", entries, method)
        )


def test_zip_of_10_000_entries_and_one_more(tmp_path: Path, entries: dict[str, bytes]) -> None:
    many = {f"extra/{number}": b"" for number in range(10_000 - len(entries))}
    load_sheet(make_zip(tmp_path / "a.zip", {**entries, **many}, zipfile.ZIP_STORED))
    many["extra/more"] = b""
    path = make_zip(tmp_path / "a.zip", {**entries, **many}, zipfile.ZIP_STORED)
    assert only(path) == "The zip has more than 10,000 entries."


def test_zip_with_an_endless_list_of_contents_is_not_read(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        for number in range(200):
            archive.writestr(f"{number:03}" + "x" * 60_000, b"")
    assert only(tmp_path / "a.zip") == "The zip has more than 10,000 entries."


def test_zip_that_claims_more_than_2_gb(tmp_path: Path, entries: dict[str, bytes]) -> None:
    path = make_zip(tmp_path / "a.zip", entries)
    raw = bytearray(path.read_bytes())
    at = raw.rindex(b"PK\x01\x02")
    raw[at + 24 : at + 28] = struct.pack("<I", 2_000_000_001)
    path.write_bytes(raw)
    assert only(path) == "The zip holds more than 2 GB unpacked."


def test_what_comes_out_of_a_zip_is_counted(
    tmp_path: Path, entries: dict[str, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = make_zip(tmp_path / "a.zip", entries)
    size = sum(len(data) for data in entries.values())
    monkeypatch.setattr(packing, "MOST_UNPACKED_BYTES", size)
    opened = load_sheet(path)
    # Everything that may come out has come out once; the claims are as they were.
    with pytest.raises(SheetTrouble) as caught:
        opened.photo_bytes("cover.jpg")
    assert "holds more than" in caught.value.troubles[0].what


def test_job_json_that_swells_is_cut_off(tmp_path: Path) -> None:
    path = make_zip(tmp_path / "a.zip", {"job.json": b" " * 300_000_000})
    assert path.stat().st_size < 1_000_000
    assert "at most 5 MB are read" in only(path)


def test_entry_that_is_longer_than_it_claims(tmp_path: Path, entries: dict[str, bytes]) -> None:
    path = make_zip(tmp_path / "a.zip", {"job.json": b"x" * 100_000})
    raw = bytearray(path.read_bytes())
    at = raw.rindex(b"PK\x01\x02")
    raw[at + 24 : at + 28] = struct.pack("<I", 10)
    path.write_bytes(raw)
    assert only(path) == "The zip is damaged, or is no zip."


def test_zip_without_sheet_with_two_and_with_other_things(
    tmp_path: Path, entries: dict[str, bytes]
) -> None:
    path = tmp_path / "a.zip"
    assert only(make_zip(path, {"a.txt": b""})) == "The zip holds no job.json."
    two = {f"{top}/{name}": data for top in "ab" for name, data in entries.items()}
    assert only(make_zip(path, two)) == "The zip holds 2 job sheets."
    one = {f"a/{name}": data for name, data in entries.items()}
    assert "other things beside" in only(make_zip(path, {**one, "b.txt": b""}))
    deep = {f"a/b/{name}": data for name, data in entries.items()}
    assert only(make_zip(path, deep)) == "The zip holds no job.json."


def test_every_cut_and_many_flips_of_a_zip_are_told(
    tmp_path: Path, make_sheet: Make, entries: dict[str, bytes]
) -> None:
    path = make_zip(tmp_path / "a.zip", {"job.json": entries["job.json"]})
    raw = path.read_bytes()
    told = 0
    cuts = [raw[:end] for end in range(0, len(raw), 7)]
    flips = [raw[:at] + bytes([raw[at] ^ 0x41]) + raw[at + 1 :] for at in range(0, len(raw), 5)]
    for damaged in cuts + flips:
        path.write_bytes(damaged)
        try:
            load_sheet(path)
        except SheetTrouble as fault:
            assert fault.troubles
            told += 1
    assert told >= len(cuts)


# --- saving ---


def test_saved_sheet_is_opened_again(folder: Path, tmp_path: Path, make_jpeg: Make) -> None:
    opened = load_sheet(folder)
    photos: dict[str, bytes | Path] = {
        "cover.jpg": make_jpeg(),
        "drain.png": folder / "photos/drain.png",
    }
    save_sheet(opened.sheet, tmp_path / "new" / "place", photos)
    again = load_sheet(tmp_path / "new" / "place")
    assert again.sheet == opened.sheet
    assert again.raw == dump_sheet(opened.sheet)
    assert again.photo_bytes("drain.png") == opened.photo_bytes("drain.png")
    assert sorted(p.name for p in (tmp_path / "new" / "place").rglob("*")) == [
        "cover.jpg",
        "drain.png",
        "job.json",
        "photos",
    ]


def test_saving_keeps_the_pictures_and_the_rights(folder: Path) -> None:
    opened = load_sheet(folder)
    (folder / "job.json").chmod(0o640)
    save_sheet(opened.sheet.model_copy(update={"title": "Other"}), folder)
    assert load_sheet(folder).sheet.title == "Other"
    if os.name == "posix":
        assert stat.S_IMODE((folder / "job.json").stat().st_mode) == 0o640


class Fault:
    """Makes one of the system's calls fail from its n-th use on."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, name: str, number: int, from_use: int):
        real = getattr(os, name)
        self.uses = 0

        def call(*args: Any, **named: Any) -> Any:
            self.uses += 1
            if self.uses >= from_use:
                raise OSError(number, os.strerror(number))
            return real(*args, **named)

        monkeypatch.setattr(saving.os, name, call)


@pytest.mark.parametrize(
    ("name", "number", "reason"),
    [
        ("write", errno.ENOSPC, "the disk is full"),
        ("fsync", errno.ENOSPC, "the disk is full"),
        ("fsync", errno.EIO, "the disk reports a fault"),
        ("open", errno.EROFS, "the disk is read-only"),
        ("open", errno.EACCES, "writing there is not allowed"),
        ("replace", errno.EACCES, "writing there is not allowed"),
    ],
)
@pytest.mark.parametrize("from_use", [1, 2])
def test_failed_save_leaves_everything_as_it_was(
    name: str,
    number: int,
    reason: str,
    from_use: int,
    folder: Path,
    make_jpeg: Make,
) -> None:
    opened = load_sheet(folder)
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    other = opened.sheet.model_copy(update={"title": "Other"})
    with pytest.MonkeyPatch.context() as patch:
        Fault(patch, name, number, from_use)
        with pytest.raises(Trouble) as caught:
            save_sheet(other, folder, {"cover.jpg": make_jpeg(20, 20)})
    assert reason in caught.value.what
    assert caught.value.where
    after = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    assert after.keys() == before.keys()
    if (name, from_use) == ("replace", 2):
        # The picture was exchanged already; the sheet itself is the old one, and whole.
        assert after[folder / "job.json"] == before[folder / "job.json"]
        assert "A part of it may be saved already" in caught.value.next
    else:
        assert after == before
        assert "untouched" in caught.value.next
    save_sheet(other, folder)
    assert load_sheet(folder).sheet.title == "Other"


def test_half_written_pieces_are_gone_on_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.write
    monkeypatch.setattr(saving.os, "write", lambda handle, data: real(handle, data[:7]))
    write_atomically(tmp_path / "a", bytes(range(100)))
    assert (tmp_path / "a").read_bytes() == bytes(range(100))


def test_folder_that_cannot_be_synced_is_no_fault(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    Fault(monkeypatch, "fsync", errno.EINVAL, 2)
    write_atomically(tmp_path / "a", b"x")
    assert (tmp_path / "a").read_bytes() == b"x"


def test_readers_see_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    path = tmp_path / "a"
    contents = [bytes([65 + index]) * 200_000 for index in range(2)]
    write_atomically(path, contents[0])
    seen: set[bytes] = set()
    stop = threading.Event()

    def look() -> None:
        while not stop.is_set():
            seen.add(path.read_bytes())

    reader = threading.Thread(target=look)
    reader.start()
    for index in range(40):
        write_atomically(path, contents[index % 2])
    stop.set()
    reader.join()
    assert seen <= set(contents)


def test_saving_where_there_is_no_folder_to_make(tmp_path: Path, make_sheet: Make) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(Trouble, match="cannot be made"):
        save_sheet(read_any_sheet(make_sheet), tmp_path / "file")
    with pytest.raises(Trouble, match=r"gone\.jpg cannot be read"):
        save_sheet(read_any_sheet(make_sheet), tmp_path / "a", {"b.jpg": tmp_path / "gone.jpg"})
    assert not (tmp_path / "a").exists()
    with pytest.raises(Trouble, match="the folder is not there"):
        write_atomically(tmp_path / "none" / "a", b"x")


def test_sheet_too_large_to_be_opened_again_is_not_saved(
    tmp_path: Path, make_sheet: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    sheet = read_any_sheet(make_sheet)
    monkeypatch.setattr(files, "MOST_BYTES", 3_000)
    with pytest.raises(Trouble, match="Split the job"):
        save_sheet(sheet, tmp_path / "new")
    monkeypatch.undo()
    monkeypatch.setattr(files, "MOST_STEPS", 3)
    with pytest.raises(Trouble, match="The sheet has 4 steps"):
        save_sheet(sheet, tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_failed_packing_leaves_the_old_zip(folder: Path, tmp_path: Path) -> None:
    opened = load_sheet(folder)
    pack_sheet(opened, tmp_path / "a.zip")
    before = (tmp_path / "a.zip").read_bytes()
    (folder / "photos/drain.png").unlink()
    with pytest.raises(SheetTrouble, match=r"drain\.png"):
        pack_sheet(OpenedSheet(opened.sheet, opened.path, b"{}", opened.photos), tmp_path / "a.zip")
    assert (tmp_path / "a.zip").read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.zip", "sump"]


def test_zip_is_read_in_place(folder: Path, tmp_path: Path) -> None:
    pack_sheet(load_sheet(folder), tmp_path / "a.zip")
    there = sorted(tmp_path.rglob("*"))
    load_sheet(tmp_path / "a.zip").photo_bytes("cover.jpg")
    assert sorted(tmp_path.rglob("*")) == there
    with zipfile.ZipFile(io.BytesIO((tmp_path / "a.zip").read_bytes())) as archive:
        assert archive.testzip() is None
