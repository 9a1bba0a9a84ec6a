"""Bad pictures brought to Write: each gets a line, none is looked at in the window's thread."""

from __future__ import annotations

import io
import os
import struct
import sys
import threading
import zlib
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QSettings
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from shopguide.job import album
from shopguide.job.album import NOTES_KEPT
from shopguide.job.edits import Draft
from shopguide.job.packing import MOST_PICTURE_BYTES, judge_picture_name
from shopguide.job.skeletons import make_skeleton
from shopguide.window.app import make_app
from shopguide.window.frame import Frame
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 8_000


@pytest.fixture(scope="module")
def window(tmp_path_factory) -> Iterator[Frame]:
    """One real window for all of them: after each it is still the same one."""
    make_app()
    ini = tmp_path_factory.mktemp("window") / "window.ini"
    frame = Frame(settings=QSettings(str(ini), QSettings.Format.IniFormat))
    frame.resize(1366, 768)
    frame.show()
    yield frame
    frame.close()
    frame.deleteLater()


@pytest.fixture
def place(window, monkeypatch) -> Iterator[WritePlace]:
    """Write with a blank sheet. Whoever takes a picture in within the window's thread is caught."""
    taken_in = album.take_in
    main = threading.main_thread()

    def look(*given, **more):
        assert threading.current_thread() is not main, "unpacked in the window's thread"
        return taken_in(*given, **more)

    monkeypatch.setattr(album, "take_in", look)
    draft = Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24"))
    window.write.take_up(WriteDesk(draft, parent=window.write))
    window.go("write")
    QApplication.processEvents()
    yield window.write
    window.write.close_desk()


@pytest.fixture
def bring(place, qtbot) -> Callable[[Path | str], list[str]]:
    """Brings a file to the step and waits; the names of the pictures that it has then."""

    def call(path: Path | str) -> list[str]:
        place.photos.add([str(path)])
        qtbot.waitUntil(lambda: place.errand is None, timeout=PATIENCE_MS)
        QApplication.processEvents()
        return [p.file for p in place.writing.draft.sheet.steps[0].step.photos]

    return call


# --- files, made here ---------------------------------------------------------------------------


def save(kind: str, size: tuple[int, int] = (40, 30), **more) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, (90, 120, 150)).save(out, kind, **more)
    return out.getvalue()


def animate(kind: str) -> bytes:
    frames = [Image.new("RGB", (16, 12), color) for color in ("red", "blue", "green")]
    out = io.BytesIO()
    frames[0].save(out, kind, save_all=True, append_images=frames[1:], duration=50)
    return out.getvalue()


def chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def png(wide: int, high: int, *more: bytes, packed: bytes | None = None) -> bytes:
    head = chunk(b"IHDR", struct.pack(">IIBBBBB", wide, high, 8, 2, 0, 0, 0))
    rows = packed if packed is not None else zlib.compress(bytes((wide * 3 + 1) * high))
    start = b"\x89PNG\r\n\x1a\n" + head + b"".join(more)
    return start + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def jpeg_that_claims(wide: int, high: int) -> bytes:
    data = bytearray(save("JPEG"))
    at = data.index(b"\xff\xc0")
    data[at + 5 : at + 9] = struct.pack(">HH", high, wide)
    return bytes(data)


def tiff(*entries: tuple[int, int, int, int], count: int | None = None, then: int = 0) -> bytes:
    body = b"".join(struct.pack("<HHII", *entry) for entry in entries)
    number = len(entries) if count is None else count
    return b"II*\x00" + struct.pack("<IH", 8, number) + body + struct.pack("<I", then)


SIZES = ((256, 4, 1, 40), (257, 4, 1, 30))
LOOP = b"II*\x00\x08\x00\x00\x00" + struct.pack("<HHHII", 1, 0x8769, 4, 1, 8) + b"\x08\x00\x00\x00"
PROFILE = struct.pack(">I", 50_000_132) + bytes(32) + b"acsp" + bytes(92)
SVG = b"""<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">
<!ENTITY f SYSTEM "file:///etc/hostname">]><svg xmlns="http://www.w3.org/2000/svg">&b;&f;</svg>"""
NOT_ONE = "The file is not a picture."
DAMAGED = "The picture is damaged."
CUT = "The picture is cut off before its end."

REFUSED: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "30,000 by 30,000 claimed": ("a.png", lambda: png(30_000, 30_000, packed=b""), "100 megapix"),
    "a bomb of a JPEG": ("a.jpg", lambda: jpeg_that_claims(65_500, 65_500), "100 megapixels"),
    "2 billion wide": ("a.png", lambda: png(2**31 - 1, 1, packed=b""), "100 megapixels"),
    "no width": ("a.png", lambda: png(0, 40, packed=b""), DAMAGED),
    "too heavy": ("a.jpg", lambda: bytes(MOST_PICTURE_BYTES + 1), "more than 50 MB"),
    "no rows": ("a.png", lambda: png(90, 90, packed=zlib.compress(b"")), "The picture is"),
    "cut JPEG": ("a.jpg", lambda: save("JPEG")[:-200], CUT),
    "cut PNG": ("a.png", lambda: save("PNG")[:-20], CUT),
    "cut WebP": ("a.webp", lambda: save("WEBP")[:-9], CUT),
    "only a beginning": ("a.jpg", lambda: b"\xff\xd8\xff", "The picture is"),
    "empty": ("a.jpg", lambda: b"", "The file is empty."),
    "text called JPEG": ("a.jpg", lambda: b"Dear all, please find", NOT_ONE),
    "page called JPEG": ("a.jpg", lambda: b"%PDF-1.7\n%\xff\xff", NOT_ONE),
    "program called JPEG": ("a.jpg", lambda: b"MZ\x90\x00" + bytes(60), NOT_ONE),
    "drawing with entities": ("a.svg", lambda: SVG, NOT_ONE),
    "drawing called PNG": ("a.png", lambda: SVG, NOT_ONE),
    "animated GIF": ("a.gif", lambda: animate("GIF"), "The picture is in GIF format"),
    "film": ("a.jpg", lambda: b"\x00\x00\x00\x20ftypisom" + bytes(60), "The file is a film"),
    "AVIF": ("a.avif", lambda: b"\x00\x00\x00\x20ftypavif" + bytes(60), "AVIF format"),
    "TIFF of 65,535 entries": ("a.tif", lambda: tiff(*SIZES, count=0xFFFF), DAMAGED),
    "TIFF that begins beyond": ("a.tif", lambda: b"II*\x00\xf0\xff\xff\xff" + bytes(40), DAMAGED),
    "TIFF whose pixels are nowhere": (
        "a.tif",
        lambda: tiff(*SIZES, (258, 3, 1, 8), (262, 3, 1, 1), (273, 4, 1, 4_294_967_040)),
        "The picture is",
    ),
    "TIFF of one row of 4 billion": (
        "a.tif", lambda: tiff((256, 4, 1, 0xFFFFFFFF), (257, 4, 1, 1)), "100 megapixels",
    ),
    "TIFF that follows itself": ("a.tif", lambda: tiff(*SIZES, then=8), "The picture is"),
    "BMP of no size": ("a.bmp", lambda: b"BM" + bytes(60), DAMAGED),
}  # fmt: skip
TAKEN: dict[str, tuple[str, Callable[[], bytes], str]] = {
    "PNG called JPEG": ("a.jpg", lambda: save("PNG"), "it is kept as a.png"),
    "animated PNG": ("a.png", lambda: animate("PNG"), "only its first frame is kept"),
    "animated WebP": ("a.webp", lambda: animate("WEBP"), "only its first frame is kept"),
    "TIFF of pages": ("a.tif", lambda: animate("TIFF"), "only the first is kept"),
    "notes that lead into themselves": ("a.png", lambda: png(9, 9, chunk(b"eXIf", LOOP)), ""),
    "notes of 65,000 signs": ("a.jpg", lambda: save("JPEG", comment=b"x" * 65_000), ""),
    "a profile that is none": (
        "a.jpg", lambda: save("JPEG", icc_profile=b"\xff" * 900_000), "profile is damaged",
    ),
    "a profile of 50 MB, packed": (
        "a.png",
        lambda: png(8, 8, chunk(b"iCCP", b"x\0\0" + zlib.compress(PROFILE + bytes(50_000_000), 9))),
        "far too long",
    ),
    "a profile that cannot be unpacked": (
        "a.png", lambda: png(8, 8, chunk(b"iCCP", b"x\0\0rubbish")), "profile is damaged",
    ),
}  # fmt: skip


@pytest.mark.parametrize("which", list(REFUSED))
def test_it_is_refused_with_a_line(place, bring, tmp_path, which):
    name, make, said = REFUSED[which]
    (tmp_path / name).write_bytes(make())
    before = place.writing.data
    assert bring(tmp_path / name) == []
    assert place.writing.data is before
    assert place.notice.what == "No picture was added." and place.notice.isVisible()
    assert place.notice.where.startswith(f"{name}: ")
    assert said in place.notice.where
    # What happened, and what to do next: two sentences at least.
    assert place.notice.where.count(". ") + place.notice.where.endswith(".") >= 2


@pytest.mark.parametrize("which", list(TAKEN))
@pytest.mark.parametrize("with_notes", [False, True])
def test_it_is_taken_and_what_was_done_is_said(place, bring, tmp_path, qtbot, which, with_notes):
    name, make, said = TAKEN[which]
    (tmp_path / name).write_bytes(make())
    if with_notes:
        place.photos.change_notes()
    (kept,) = bring(tmp_path / name)
    assert place.notice.what == "1 picture added to this step."
    assert said in place.notice.where
    assert (place.notice.next == NOTES_KEPT) is with_notes
    # And the card shows it.
    assert place.card.go_to(("stages", 0, "steps", 0, "photos", 0, "caption"))
    thumb = place.card.find_block(QApplication.focusWidget()).thumb
    thumb.grab()
    qtbot.waitUntil(lambda: not place.pictures.busy, timeout=PATIENCE_MS)
    image, full = place.pictures.get(kept, thumb.box())
    assert not image.isNull() and not full.isEmpty()
    decoded = QImage.fromData(place.writing.read_photo(kept))
    assert decoded.size() == full


def test_heic_without_its_reader_gets_a_line(place, bring, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    (tmp_path / "phone.heic").write_bytes(b"\x00\x00\x00\x20ftypheic" + bytes(200))
    assert bring(tmp_path / "phone.heic") == []
    assert "needs pillow-heif, which is not installed" in place.notice.where
    assert "pip install pillow-heif" in place.notice.where


# --- what is no file ----------------------------------------------------------------------------


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes here")
def test_a_pipe_holds_nothing_up(place, bring, tmp_path):
    os.mkfifo(tmp_path / "pipe.jpg")
    assert bring(tmp_path / "pipe.jpg") == []
    assert place.notice.where.startswith("pipe.jpg: It is no ordinary file.")
    (tmp_path / "link.jpg").symlink_to(tmp_path / "pipe.jpg")
    assert bring(tmp_path / "link.jpg") == []
    assert place.notice.where.startswith("link.jpg: It is no ordinary file.")


def test_a_folder_called_like_a_picture_is_looked_into_and_told_when_it_holds_none(
    place, bring, tmp_path
):
    folder = tmp_path / "folder.jpg"
    folder.mkdir()
    assert bring(folder) == []
    assert place.notice.what == "No picture was added."
    assert place.notice.where.startswith("folder.jpg: There is no picture in this folder.")
    (folder / "inside.png").write_bytes(save("PNG"))
    assert bring(folder) == ["inside.png"]


def test_what_is_gone_and_what_cannot_be_named_is_told(place, bring, tmp_path):
    assert bring(tmp_path / "gone.jpg") == []
    assert "gone.jpg: The file cannot be read: No such file or directory." in place.notice.where
    assert bring("zero\0byte.jpg") == []
    assert place.notice.where.startswith("zero·byte.jpg: The file cannot be read")


# --- names --------------------------------------------------------------------------------------

NAMES = (
    "крышка.jpg", "油底壳.jpg", "מכסה.jpg", "غطاء علبة.jpg", "ฝาครอบ.jpg", "ढक्कन.jpg", "덮개.jpg",
    "🔧🛠️👨‍🔧.jpg", "a\u202egpj.exe.jpg", "two\nlines.jpg", "tab\there.jpg", "cafe\u0301 vorn.jpg",
    "\u0627\u0301" * 60 + ".jpg", "x" * 251 + ".jpg", "CON.jpg", " lead and trail .jpg",
    "no_ending", "100% & <b>\"quoted\"</b>.jpg", "\udcff\udcfe.jpg", "-rf.jpg", "A\u0308\u0323.jpg",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES, ids=[ascii(n)[:40] for n in NAMES])
def test_names_of_every_sort(place, bring, tmp_path, qtbot, name):
    try:
        (tmp_path / name).write_bytes(save("JPEG"))
    except OSError:
        pytest.skip("this disk takes no such name")
    (kept,) = bring(tmp_path / name)
    assert judge_picture_name(kept) is None
    assert place.notice.what == "1 picture added to this step."
    # It can be saved, and what is saved is opened again.
    target = tmp_path / "saved"
    place.choose_folder = lambda title: str(target)
    with qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        place.save()
    assert [p.name for p in (target / "photos").iterdir()] == [kept]
    assert Draft.open((target / "job.json").read_bytes()).sheet.photo_files() == (kept,)
