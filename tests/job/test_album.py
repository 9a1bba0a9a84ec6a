"""Adding photos: what is kept, under which name, how often, and what hostile files come to."""

from __future__ import annotations

import errno
import io
import json
import os
import struct
import sys
import zlib
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from shopguide.errors import Trouble
from shopguide.job import album
from shopguide.job.album import (
    NOTES_KEPT,
    STRIPPED,
    Album,
    Shelf,
    add_folder,
    add_photos,
    find_name,
    sum_up,
)
from shopguide.job.files import load_sheet, save_sheet
from shopguide.job.packing import judge_picture_name
from shopguide.job.picture_head import probe


@pytest.fixture
def bring(tmp_path: Path):
    """Lays these files down and takes them in, in this sequence; the same shelf every time."""
    shelf = Shelf()

    def call(**files: bytes) -> Album:
        paths = []
        for name, data in files.items():
            paths.append(tmp_path / name.replace("__", "."))
            paths[-1].write_bytes(data)
        return add_photos(paths, shelf, tmp_path / "waiting")

    return call


def read(taken: Album, index: int = 0) -> Image.Image:
    path = taken.kept[index].path
    assert path is not None
    image = Image.open(path)
    image.load()
    return image


def note_exif(orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[274] = orientation
    exif[0x010F] = "Invented maker"
    exif[0xA431] = "SERIAL-4711"
    exif.get_ifd(0x8825)[2] = (52.0, 30.0, 0.0)
    return exif.tobytes()


def test_picture_is_set_upright_and_relieved_of_notes(bring, make_jpeg) -> None:
    taken = bring(cover__jpg=make_jpeg(64, 48, exif=note_exif(6)))
    (one,) = taken.kept
    assert (one.name, one.width, one.height, one.said) == ("cover.jpg", 48, 64, "")
    image = read(taken)
    assert image.size == (48, 64)
    # The dark upper edge of what was stored is the right edge of the upright picture.
    assert image.getpixel((46, 32))[0] < 40 < 200 < image.getpixel((1, 32))[0]
    assert not image.getexif()
    assert b"SERIAL" not in one.path.read_bytes()
    assert taken.tell() == ("1 picture added.", STRIPPED)


def test_upright_picture_keeps_its_pixels_bit_for_bit(bring, make_jpeg) -> None:
    plain = make_jpeg(64, 48)
    taken = bring(cover__jpg=plain)
    assert read(taken).tobytes() == Image.open(io.BytesIO(plain)).tobytes()


def test_24_megapixels_are_kept_and_more_are_made_smaller(
    bring, make_png, make_jpeg, monkeypatch
) -> None:
    monkeypatch.setattr(album, "MOST_KEPT_PIXELS", 6000)
    taken = bring(
        just__png=make_png(100, 60), over__jpg=make_jpeg(200, 120), odd__png=make_png(101, 60)
    )
    just, over, odd = taken.kept
    assert (just.width, just.height, just.said) == (100, 60, "")
    assert (over.width, over.height) == (100, 60) == read(taken, 1).size
    assert over.said == "It had 200 × 120 pixels and is kept with 100 × 60."
    assert odd.width * odd.height <= 6000


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "CMYK", "I;16"])
def test_larger_ones_of_every_sort_of_colours(bring, monkeypatch, mode: str) -> None:
    monkeypatch.setattr(album, "MOST_KEPT_PIXELS", 500)
    image = Image.linear_gradient("L").resize((40, 30))
    image = (
        image.convert("I").point(lambda v: v * 257).convert(mode)
        if mode == "I;16"
        else image.convert(mode)
    )
    out = io.BytesIO()
    image.save(out, "JPEG" if mode == "CMYK" else "PNG")
    taken = bring(picture__jpg=out.getvalue())
    assert taken.refused == ()
    small = read(taken).convert("L")
    assert small.width * small.height <= 500
    assert small.getpixel((3, 1)) < 70 < 180 < small.getpixel((3, small.height - 1))


def test_real_limit_is_24_megapixels(bring) -> None:
    out = io.BytesIO()
    Image.new("L", (6001, 4000), 200).save(out, "PNG")
    (one,) = bring(large__png=out.getvalue()).kept
    assert 23_900_000 < one.width * one.height <= 24_000_000


# --- with the camera's notes, when that is asked for ----------------------------------------------


def list_notes(data: bytes) -> tuple[Any, ...]:
    """Maker, serial number, latitude and orientation as a reader of EXIF finds them."""
    notes = Image.open(io.BytesIO(data)).getexif()
    place = notes.get_ifd(0x8825).get(2)
    return (
        notes.get(0x010F),
        notes.get(0xA431) or notes.get_ifd(0x8769).get(0xA431),
        tuple(map(float, place)) if place else None,
        notes.get(274),
    )


NOTED = ("Invented maker", "SERIAL-4711", (52.0, 30.0, 0.0), None)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
@pytest.mark.parametrize("turn", [1, 6])
@pytest.mark.parametrize("kept_px", [24_000_000, 700])
def test_notes_stay_where_that_is_asked_for(
    tmp_path, make_jpeg, monkeypatch, kind: str, turn: int, kept_px: int
) -> None:
    monkeypatch.setattr(album, "MOST_KEPT_PIXELS", kept_px)
    path = tmp_path / f"cover.{kind.lower()}"
    Image.open(io.BytesIO(make_jpeg(64, 48))).save(path, kind, exif=note_exif(turn))
    bare = add_photos([path], Shelf(), tmp_path / "bare").kept[0].path
    taken = add_photos([path], Shelf(), tmp_path / "noted", keep_notes=True)
    noted = taken.kept[0].path
    assert list_notes(bare.read_bytes()) == (None, None, None, None)
    assert list_notes(noted.read_bytes())[:3] == NOTED[:3]
    # Without its notes it is the very picture that would have been kept without them.
    assert Image.open(noted).tobytes() == Image.open(bare).tobytes()
    assert list_notes(noted.read_bytes())[3] in (None, 1), "it stands upright, and says so"
    assert taken.tell()[1] == NOTES_KEPT
    same = (kind, turn, kept_px) == ("JPEG", 1, 24_000_000)
    assert (noted.read_bytes() == path.read_bytes()) is same


def test_picture_is_the_same_with_and_without_notes(tmp_path, make_jpeg) -> None:
    (tmp_path / "a.jpg").write_bytes(make_jpeg(exif=note_exif(1)))
    (tmp_path / "b.jpg").write_bytes(make_jpeg())
    shelf, files = Shelf(), [tmp_path / "a.jpg", tmp_path / "b.jpg"]
    assert add_photos(files, shelf, tmp_path / "w", keep_notes=True).names == ("a.jpg",)
    # After saving and opening it is known by what lies in photos/.
    again = Shelf()
    again.note("a.jpg", *sum_up((tmp_path / "w" / "a.jpg").read_bytes()))
    assert add_photos(files, again, tmp_path / "x").contents == {}


def test_notes_that_run_in_a_circle_are_left_out_or_kept_and_hold_nothing_up(
    tmp_path, make_png
) -> None:
    for notes in make_hostile_notes():
        data = make_png()
        chunk = b"eXIf" + notes
        sealed = struct.pack(">I", len(notes)) + chunk + struct.pack(">I", zlib.crc32(chunk))
        (tmp_path / "loop.png").write_bytes(data[:33] + sealed + data[33:])
        for keep in (False, True):
            taken = add_photos([tmp_path / "loop.png"], Shelf(), tmp_path / "w", keep_notes=keep)
            assert taken.names == ("loop.png",)


def make_hostile_notes() -> list[bytes]:
    """EXIF whose directories lead into themselves, beyond the end, or are without measure."""
    head = b"II*\x00\x08\x00\x00\x00"
    inner = [(0x8769, 4, 1, 8), (0x8825, 4, 1, 8)]
    loop = struct.pack("<H", 2) + b"".join(struct.pack("<HHII", *one) for one in inner)
    beyond = struct.pack("<HHHII", 1, 0x8769, 4, 1, 0xFFFFFFF0) + b"\xff\xff\xff\x7f"
    endless = struct.pack("<HHHII", 0xFFFF, 0x010F, 2, 0xFFFFFFFF, 8)
    return [head + loop + struct.pack("<I", 8), head + beyond, head + endless, b"MM", b"XX" * 40]


def test_same_contents_are_kept_once(bring, make_jpeg, make_png) -> None:
    first = bring(a__jpg=make_jpeg(), b__jpg=make_jpeg(), c__png=make_png())
    assert first.names == ("a.jpg", "c.png")
    assert sorted(first.contents) == ["a.jpg", "c.png"]
    assert "b.jpg: The same picture is there already, as a.jpg." in first.tell()
    # Other notes of the camera make another file, and still the same picture.
    again = bring(d__jpg=make_jpeg(exif=note_exif(1)), e__jpg=make_jpeg(exif=note_exif(1)))
    assert again.names == ("a.jpg",) and again.contents == {}
    assert again.tell()[0] == "0 pictures added." and STRIPPED not in again.tell()


def test_pictures_of_the_sheet_are_known_and_never_overwritten(
    tmp_path: Path, make_sheet: Any, lay_folder: Any, make_jpeg, make_png
) -> None:
    folder = lay_folder(tmp_path / "sheet", json.dumps(make_sheet()).encode())
    (folder / "photos" / "Spare.JPG").write_bytes(make_jpeg(20, 20))
    opened = load_sheet(folder)
    (tmp_path / "again.jpg").write_bytes(opened.photo_bytes("cover.jpg"))
    (tmp_path / "COVER.jpg").write_bytes(make_jpeg(30, 30))
    (tmp_path / "spare.jpg").write_bytes(make_jpeg(40, 40))
    files = [tmp_path / name for name in ("again.jpg", "COVER.jpg", "spare.jpg")]
    shelf = Shelf()
    for name in opened.names():
        shelf.note(name, *sum_up(opened.photo_bytes(name)))
    shelf.note("Spare.JPG")
    taken = add_photos(files, shelf, tmp_path / "waiting")
    assert taken.names == ("cover.jpg", "COVER_2.jpg", "spare_2.jpg")
    save_sheet(opened.sheet, folder, taken.contents)
    assert (folder / "photos" / "cover.jpg").read_bytes() == opened.photo_bytes("cover.jpg")
    assert (folder / "photos" / "COVER_2.jpg").exists()


# --- a whole folder -------------------------------------------------------------------------------


@pytest.fixture
def camera(tmp_path: Path, make_jpeg) -> Path:
    folder = tmp_path / "camera"
    (folder / "below").mkdir(parents=True)
    for number in (10, 2, 1):
        (folder / f"IMG {number}.jpg").write_bytes(make_jpeg(20 + number, 20))
    (folder / "below" / "no.jpg").write_bytes(make_jpeg(70, 20))
    (folder / "notes.txt").write_bytes(b"mine")
    (folder / ".hidden.jpg").write_bytes(make_jpeg(80, 20))
    (folder / "link.jpg").symlink_to(folder / "below" / "no.jpg")
    return folder


def test_folder_is_taken_in_one_go_by_number(camera: Path, tmp_path: Path) -> None:
    told: list[tuple[str, int, int]] = []
    taken = add_folder(camera, Shelf(), tmp_path / "w", lambda *one: told.append(one))
    assert taken.names == ("IMG_1.jpg", "IMG_2.jpg", "IMG_10.jpg")
    assert told[1] == ("Taking in IMG 2.jpg", 1, 3)
    assert taken.tell()[-1] == "1 file is no picture by name, and left alone."


@pytest.mark.parametrize("after", [0, 1, 2])
def test_stopped_in_between_keeps_what_was_done(camera: Path, tmp_path: Path, after: int) -> None:
    asked = iter(range(100))
    taken = add_folder(camera, Shelf(), tmp_path / "w", cancelled=lambda: next(asked) == after)
    assert (taken.stopped, len(taken.kept)) == (True, after)
    assert taken.tell()[-1].startswith("Stopped")
    assert sorted(taken.contents) == sorted(os.listdir(tmp_path / "w")) if after else True


def test_folder_that_cannot_be_listed_or_is_too_full(camera: Path, tmp_path, monkeypatch) -> None:
    with pytest.raises(Trouble, match="cannot be read"):
        add_folder(tmp_path / "nowhere", Shelf(), tmp_path / "w")
    monkeypatch.setattr(album, "MOST_FILES", 2)
    with pytest.raises(Trouble, match="3 pictures; at most 2"):
        add_folder(camera, Shelf(), tmp_path / "w")


def test_full_disk_ends_it_and_is_told(camera: Path, tmp_path: Path, monkeypatch) -> None:
    def refuse(path: Path, data: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(album, "write_atomically", refuse)
    taken = add_folder(camera, Shelf(), tmp_path / "w")
    assert (taken.kept, len(taken.refused), taken.stopped) == ((), 1, True)
    assert "No space left" in taken.tell()[1]


# --- hostile files --------------------------------------------------------------------------------


def make_bomb() -> bytes:
    """A PNG that says it has 60,000 × 60,000 pixels."""
    head = struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0)
    out = [b"\x89PNG\r\n\x1a\n"]
    for name, body in ((b"IHDR", head), (b"IDAT", zlib.compress(bytes(100))), (b"IEND", b"")):
        sum_ = struct.pack(">I", zlib.crc32(name + body))
        out += [struct.pack(">I", len(body)), name, body, sum_]
    return b"".join(out)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "The file is empty."),
        (b"#!/bin/sh\necho hello\n", "The file is not a picture."),
        (b"GIF89a" + bytes(40), "The picture is in GIF format"),
        (b"\x00\x00\x00\x20ftypavif" + bytes(40), "The picture is in AVIF format"),
        (b"\x00\x00\x00\x20ftypmp42" + bytes(40), "The file is a film"),
        (make_bomb(), "60,000 × 60,000 pixels; at most 100 megapixels"),
        (b"\xff\xd8\xff\xe0" + bytes(40), "The picture is damaged."),
        (bytes(50_000_001), "more than 50 MB"),
    ],
)
def test_hostile_file_is_told_and_stops_nothing(bring, make_png, data: bytes, said: str) -> None:
    taken = bring(bad__jpg=data, good__png=make_png())
    assert taken.names == ("good.png",)
    (refused,) = taken.refused
    assert said in refused.trouble.what
    assert refused.trouble.next
    assert any(line.startswith("bad.jpg: ") for line in taken.tell())


def test_cut_off_picture_is_told_at_every_length(bring, make_jpeg, make_png) -> None:
    for data in (make_jpeg(), make_png()):
        for length in range(1, len(data) - 1, max(1, len(data) // 40)):
            assert bring(cut__jpg=data[:length]).kept == (), length


def test_mislabelled_picture_gets_the_ending_it_has(bring, make_png) -> None:
    (one,) = bring(photo__jpg=make_png()).kept
    assert one.name == "photo.png"
    assert one.said == "Its name does not fit what is in it; it is kept as photo.png."
    assert probe(one.path.read_bytes(), one.name)[2] == "PNG"


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_animated_picture_keeps_its_first_frame(bring, kind: str) -> None:
    frames = [Image.new("RGB", (8, 8), color) for color in ("red", "blue")]
    out = io.BytesIO()
    frames[0].save(out, kind, save_all=True, append_images=frames[1:], lossless=True)
    taken = bring(film__png=out.getvalue())
    assert "only its first frame" in taken.kept[0].said
    assert read(taken).convert("RGB").getpixel((3, 3)) == (255, 0, 0)
    assert getattr(read(taken), "n_frames", 1) == 1


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes here")
def test_pipe_folder_and_nothing_are_no_pictures(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    (tmp_path / "folder.jpg").mkdir()
    files = [tmp_path / name for name in ("pipe.jpg", "folder.jpg", "nothing.jpg")]
    taken = add_photos(files, Shelf(), tmp_path / "w")
    assert len(taken.refused) == 3 and taken.kept == ()
    assert not (tmp_path / "w").exists()


# --- HEIC -----------------------------------------------------------------------------------------

HEIC = b"\x00\x00\x00\x20ftypheic" + bytes(200)


def test_heic_without_its_reader_says_what_to_do(bring, monkeypatch) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    (refused,) = bring(phone__heic=HEIC).refused
    assert "needs pillow-heif, which is not installed" in refused.trouble.what
    assert "pip install pillow-heif" in refused.trouble.next


def test_damaged_heic_is_told(bring) -> None:
    (refused,) = bring(phone__heic=HEIC).refused
    assert refused.trouble.what == "The picture is damaged."


@pytest.mark.parametrize("kept_px", [24_000_000, 700])
def test_heic_is_kept_as_an_upright_jpeg(bring, make_jpeg, monkeypatch, kept_px: int) -> None:
    import pillow_heif as heif

    monkeypatch.setattr(album, "MOST_KEPT_PIXELS", kept_px)
    image = Image.open(io.BytesIO(make_jpeg(64, 48)))
    out = io.BytesIO()
    heif.from_pillow(image).save(out, quality=90, exif=note_exif(6))
    taken = bring(phone__heic=out.getvalue(), again__heic=out.getvalue())
    assert taken.names == ("phone.jpg",)
    assert "It was in HEIC format and is kept as JPEG." in taken.kept[0].said
    read_back = read(taken)
    assert read_back.format == "JPEG" and not read_back.getexif()
    assert read_back.height > read_back.width
    wide, middle = read_back.width, read_back.height // 2
    assert read_back.getpixel((wide - 2, middle))[0] < 70 < 180 < read_back.getpixel((1, middle))[0]


# --- names ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("source", "name"),
    [
        ("cover.jpg", "cover.jpg"),
        ("Ölwanne vorn.JPEG", "Ölwanne_vorn.jpg"),
        ("поддон.jpg", "поддон.jpg"),
        ("油底壳.png", "油底壳.jpg"),
        ("מכסה.jpg", "מכסה.jpg"),
        ("غطاء.jpg", "غطاء.jpg"),
        ("ฝาครอบ.jpg", "ฝาครอบ.jpg"),
        ("🔧.jpg", "🔧.jpg"),
        ("a\u202egpj.exe", "agpj.exe.jpg"),
        ("..\\..\\evil.jpg", "evil.jpg"),
        ("a/b.jpg", "a_b.jpg"),
        ("CON.jpg", "picture_CON.jpg"),
        ("...", "picture.jpg"),
        ("", "picture.jpg"),
        (".jpg", "picture.jpg"),
        ("\x00\x07.jpg", "picture.jpg"),
        ('what? "this": <a|b>*.jpg', "what_this_a_b.jpg"),
        ("\udcff\udcfe.jpg", "picture.jpg"),
    ],
)
def test_names_in_every_script(source: str, name: str) -> None:
    assert find_name(source, "jpg", set()) == name
    assert judge_picture_name(name) is None


@pytest.mark.parametrize("sign", ["a", "ä", "油", "🔧", "e\u0301"])
def test_long_names_are_cut_and_still_told_apart(sign: str) -> None:
    taken: set[str] = set()
    for _ in range(12):
        name = find_name(sign * 400 + ".jpg", "jpg", taken)
        assert judge_picture_name(name) is None
        assert name.casefold() not in taken
        taken.add(name.casefold())


def test_capitals_do_not_make_another_name() -> None:
    assert find_name("STRASSE.jpg", "jpg", {"strasse.jpg"}) == "STRASSE_2.jpg"
    assert find_name("Straße.jpg", "jpg", {"strasse.jpg"}) == "Straße_2.jpg"
