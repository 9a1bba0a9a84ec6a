"""Handing on and taking in, in Write: packing, job card, comparing, tables, zips, old formats."""

from __future__ import annotations

import io
import json
import shutil
import stat
import struct
import threading
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job import upgrade
from shopguide.job.edits import SetValue
from shopguide.job.files import load_sheet
from shopguide.window import write_drafts, write_sharing
from shopguide.window.report_board import ReportLine
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 30_000
CONTROL = Qt.KeyboardModifier.ControlModifier
PLAIN = Qt.KeyboardModifier.NoModifier
SCRIPTS = (
    "Öl wechseln – größe", "Σφίξτε τις βίδες", "Затяните болты", "拧紧螺栓", "ボルトを締める",
    "볼트를 조이세요", "شد البراغي", "הדק את הברגים", "बोल्ट कसें", "ขันสลักเกลียว", "እንደገና",
    "Şcoală ğ İ", "e\u0301 and \u00e9", "🔩 nut", "a  b’s “c” & <d>",
)  # fmt: skip


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
    QTest.keyClick(QApplication.focusWidget(), key, held)
    for _ in range(3):
        QApplication.processEvents()


@pytest.fixture
def folder(bare_sample: Path, tmp_path: Path) -> Path:
    """A sheet of one's own, without pictures."""
    return Path(shutil.copytree(bare_sample, tmp_path / "sump"))


@pytest.fixture
def open_sheet(qtbot, frame) -> Callable[[Path], WritePlace]:
    """Opens a sheet in Write."""

    def open_it(path: Path) -> WritePlace:
        before = frame.write.writing
        frame.opening.open_sheet(path)
        qtbot.waitUntil(
            lambda: frame.write.writing is not None and frame.write.writing is not before,
            timeout=PATIENCE_MS,
        )
        return frame.write

    return open_it


@pytest.fixture
def place(folder: Path, open_sheet) -> Iterator[WritePlace]:
    """Write with that sheet."""
    yield open_sheet(folder)


def choose(place: WritePlace, sort: str) -> None:
    """Opens the board by its key, goes to a row by keys, and takes it."""
    press(Qt.Key.Key_F8)
    board = place.sharing.board
    assert place.board is board
    for _ in board.rows:
        if board.rows[board.at].sort == sort:
            break
        press(Qt.Key.Key_Down)
    assert board.rows[board.at].sort == sort
    press(Qt.Key.Key_Return)


def wait_told(qtbot, place: Any, begins: str) -> None:
    qtbot.waitUntil(lambda: place.notice.what.startswith(begins), timeout=PATIENCE_MS)


def test_every_row_is_reached_and_told(place: WritePlace) -> None:
    press(Qt.Key.Key_F8)
    board, told = place.board, []
    for _ in board.rows:
        told.append((place.bar.does, board.accessibleDescription()))
        press(Qt.Key.Key_Down)
    assert [does for does, _ in told] == [f"Enter: {row.title}" for row in board.rows]
    assert [words for _, words in told] == [f"{row.title}, {row.under}" for row in board.rows]
    assert len(told) == 6
    press(Qt.Key.Key_Escape)
    assert place.board is None and place.outline.hasFocus()


# --- handing on ---------------------------------------------------------------------------------


def test_packed_is_what_is_written_now_and_nothing_is_saved(
    qtbot, place: WritePlace, folder: Path, tmp_path: Path
) -> None:
    before = (folder / "job.json").read_bytes()
    place.apply(SetValue(("title",), "Another title"))
    place.sharing.choose_zip = lambda name: str(tmp_path / "handed on")
    choose(place, "pack")
    wait_told(qtbot, place, "Packed: handed on.zip")
    assert load_sheet(tmp_path / "handed on.zip").sheet == place.writing.draft.sheet
    assert load_sheet(tmp_path / "handed on.zip").sheet.title == "Another title"
    assert (folder / "job.json").read_bytes() == before and not place.writing.is_saved


def test_a_file_that_nobody_was_asked_about_stays(qtbot, place: WritePlace, tmp_path: Path) -> None:
    (tmp_path / "mine.zip").write_bytes(b"mine")
    place.sharing.choose_zip = lambda name: str(tmp_path / "mine")
    choose(place, "pack")
    wait_told(qtbot, place, "There is a file mine.zip already.")
    assert (tmp_path / "mine.zip").read_bytes() == b"mine"


def test_a_sheet_that_cannot_be_read_is_not_handed_on(
    qtbot, place: WritePlace, tmp_path: Path
) -> None:
    place.apply(SetValue(("specs", 0, "value"), "nine or so"))
    place.sharing.choose_zip = lambda name: str(tmp_path / "a.zip")
    choose(place, "pack")
    wait_told(qtbot, place, "Something in the sheet cannot be read yet.")
    assert place.notice.next.startswith("F9") and not (tmp_path / "a.zip").exists()


def test_packing_ends_on_escape(qtbot, place: WritePlace, tmp_path: Path, monkeypatch) -> None:
    begun, ended = threading.Event(), threading.Event()
    real = write_sharing.pack

    def pack(source: Any, path: Path, progress: Any, cancelled: Callable[[], bool]) -> Any:
        begun.set()
        while not cancelled():
            ended.wait(0.002)
        try:
            return real(source, path, progress, cancelled)
        finally:
            ended.set()

    monkeypatch.setattr(write_sharing, "pack", pack)
    place.sharing.choose_zip = lambda name: str(tmp_path / "a.zip")
    choose(place, "pack")
    assert begun.wait(10)
    press(Qt.Key.Key_Escape)
    assert ended.wait(10)
    qtbot.waitUntil(lambda: place.errand is None, timeout=PATIENCE_MS)
    assert list(tmp_path.glob("a*")) == [] and place.notice.isHidden()


def test_job_card_is_written_on_the_paper_chosen(qtbot, place: WritePlace, tmp_path: Path) -> None:
    place.apply(SetValue(("title",), "Another title"))
    place.sharing.choose_card = lambda name: str(tmp_path / name)
    press(Qt.Key.Key_F8)
    press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Right)
    assert place.bar.does == "Enter: Write the job card as a PDF, Letter"
    press(Qt.Key.Key_Return)
    wait_told(qtbot, place, "The job card is written: Another title, job card.pdf")
    with pikepdf.open(tmp_path / "Another title, job card.pdf") as pdf:
        assert [float(side) for side in pdf.pages[0].MediaBox] == [0, 0, 612, 792]
        assert pdf.docinfo["/Title"] == "Job card: Another title"


# --- comparing ----------------------------------------------------------------------------------


def test_changes_are_told_and_enter_goes_there(
    qtbot, place: WritePlace, folder: Path, tmp_path: Path
) -> None:
    other = tmp_path / "other"
    other.mkdir()
    data = json.loads((folder / "job.json").read_bytes())
    data["specs"][2]["value"] = "26 N·m"
    data["stages"][1]["steps"][0]["text"] = "Something else."
    (other / "job.json").write_text(json.dumps(data))
    place.sharing.choose_revision = lambda: str(other / "job.json")
    choose(place, "compare")
    board = place.sharing.report
    qtbot.waitUntil(lambda: place.board is board, timeout=PATIENCE_MS)
    lines = [row for row in board.rows if isinstance(row, ReportLine)]
    assert board.heading == "2 changes" and len(lines) == 2
    assert lines[0].text == "Spec 'drain plug': now 25 N·m ±3 N·m, before 26 N·m ±3 N·m."
    assert [row for row in board.rows if isinstance(row, str)][1].startswith("Step 5, ")
    assert "changed, Spec 'drain plug'" in board.accessibleDescription()
    assert place.bar.does == "Enter goes to: Specs" and place.bar.after == "Line 1 of 2"
    board.grab()
    press(Qt.Key.Key_End)
    assert place.bar.does.startswith("Enter goes to: Step 5, ")
    press(Qt.Key.Key_Return)
    assert place.board is None and place.path == ("stages", 1, "steps", 0)
    choose(place, "compare")
    qtbot.waitUntil(lambda: place.board is board, timeout=PATIENCE_MS)
    press(Qt.Key.Key_Return)
    assert place.path == ("specs",) and place.table.cell[0] == 2


def test_compared_with_what_was_saved(qtbot, place: WritePlace, folder: Path) -> None:
    choose(place, "compare saved")
    wait_told(qtbot, place, "Nothing differs between sump and what is written here.")
    place.apply(SetValue(("author",), "Somebody"))
    choose(place, "compare saved")
    qtbot.waitUntil(lambda: place.board is place.sharing.report, timeout=PATIENCE_MS)
    assert [row.text for row in place.board.rows[1:]] == [
        "Author now “Somebody”, before “an invented owner”."
    ]


def test_what_is_no_sheet_cannot_be_compared(qtbot, place: WritePlace, tmp_path: Path) -> None:
    (tmp_path / "job.json").write_text('{"format": "shopguide-job/1", "title": 7}')
    place.sharing.choose_revision = lambda: str(tmp_path / "job.json")
    choose(place, "compare")
    wait_told(qtbot, place, "The job sheet")
    assert "title" in place.notice.where


def test_pictures_are_compared_by_what_they_show(
    qtbot, open_sheet, sample: Path, tmp_path: Path
) -> None:
    mine = Path(shutil.copytree(sample, tmp_path / "mine"))
    picture = next((mine / "photos").iterdir())
    place = open_sheet(mine)
    picture.write_bytes(_draw_picture())
    place.sharing.choose_revision = lambda: str(sample / "job.json")
    choose(place, "compare")
    qtbot.waitUntil(lambda: place.board is place.sharing.report, timeout=PATIENCE_MS)
    said = f"Picture '{picture.name}': is another file under the same name."
    assert list(place.board.rows) == ["Pictures", ReportLine(said, "changed")]


# --- tables -------------------------------------------------------------------------------------

TABLE = "Part;Part no;Qty;Single use\nRing;X 1;2;yes\nBolt;X 2;a dozen;no\nCover gasket;X 3;1;yes\n"


def take_in(qtbot, place: WritePlace, path: Path) -> None:
    place.sharing.choose_table = lambda: str(path)
    choose(place, "table")
    qtbot.waitUntil(lambda: place.board is place.sharing.lists, timeout=PATIENCE_MS)


def test_a_table_goes_in_as_one_edit_and_keeps_what_cannot_be_read(
    qtbot, place: WritePlace, tmp_path: Path
) -> None:
    (tmp_path / "list.csv").write_text(TABLE, encoding="utf-8")
    before = place.writing.data
    count = len(before["parts"])
    take_in(qtbot, place, tmp_path / "list.csv")
    assert place.bar.does == "Enter takes the table into: Parts"
    assert "3 rows: 1 place would not be read" in place.board.rows[0].under
    assert {row.section for row in place.board.rows} == {
        "parts", "specs", "tools", "supplies", "fluids"
    }  # fmt: skip
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: place.board is place.sharing.report, timeout=PATIENCE_MS)
    assert [one["name"] for one in place.writing.data["parts"][count:]] == [
        "Ring", "Bolt", "Cover gasket"
    ]  # fmt: skip
    assert place.writing.data["parts"][count + 1]["quantity"] == "a dozen"
    assert place.board.heading == "3 rows taken into parts from list.csv"
    (line,) = place.board.rows
    assert line.text == (
        "line 3, quantity: “a dozen” cannot be read here. Write a whole number, such as 2."
    )
    press(Qt.Key.Key_Return)
    assert place.path == ("parts",) and place.table.cell[0] == count + 1
    assert place.table.rows.path(*place.table.cell)[-1] == "quantity"
    press(Qt.Key.Key_Z, CONTROL)
    assert place.writing.data == before


def test_names_that_stand_there_twice_are_told(qtbot, place: WritePlace, tmp_path: Path) -> None:
    (tmp_path / "list.tsv").write_text("name\tnumber\nCover gasket\tY\nNut\tZ\n", encoding="utf-16")
    take_in(qtbot, place, tmp_path / "list.tsv")
    press(Qt.Key.Key_Return)
    wait_told(qtbot, place, "2 rows taken into parts from list.tsv.")
    assert place.notice.next == "1 name stands there twice now. Ctrl Z takes it back."


def test_what_is_no_table_is_told(qtbot, place: WritePlace, tmp_path: Path) -> None:
    for raw, told in ((b"PK\x03\x04" + b"\x00" * 50, "The file is not"), (b"", "The table is")):
        (tmp_path / "list.csv").write_bytes(raw)
        place.sharing.choose_table = lambda: str(tmp_path / "list.csv")
        choose(place, "table")
        wait_told(qtbot, place, told)


# --- unpacking ----------------------------------------------------------------------------------


def _draw_picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (9, 90, 160)).save(out, "JPEG")
    return out.getvalue()


def _make_scripts(folder: Path) -> Path:
    """A sheet whose every text, and whose pictures' names, are in some script."""
    (folder / "photos").mkdir(parents=True)
    steps = []
    for number, words in enumerate(SCRIPTS):
        name = "".join(c for c in words if c not in '<>&"“”') + f" {number}.jpg"
        (folder / "photos" / name).write_bytes(_draw_picture())
        steps.append(
            {
                "title": words,
                "photos": [{"file": name, "caption": words}],
                "tasks": [{"kind": "confirm", "text": words}],
            }
        )
    data = {
        "format": "shopguide-job/1",
        "title": SCRIPTS[3],
        "author": SCRIPTS[6],
        "date": "2026-02-01",
        "parts": [{"name": words} for words in SCRIPTS],
        "stages": [{"title": SCRIPTS[1], "steps": steps}],
    }
    (folder / "job.json").write_text(json.dumps(data, ensure_ascii=False), encoding="utf-8")
    return folder


def test_every_script_comes_back_from_a_zip_as_it_went_in(
    qtbot, frame, open_sheet, tmp_path: Path
) -> None:
    folder = _make_scripts(tmp_path / "mine")
    place = open_sheet(folder)
    place.sharing.choose_zip = lambda name: str(tmp_path / "packed.zip")
    choose(place, "pack")
    wait_told(qtbot, place, "Packed")
    before = load_sheet(folder)
    frame.go("shelf")
    frame.opening.choose_zip = lambda: str(tmp_path / "packed.zip")
    frame.opening.choose_folder = lambda title: str(tmp_path / f"from a friend {title}")
    press(Qt.Key.Key_N)
    qtbot.waitUntil(lambda: frame.shelf.board is not None, timeout=PATIENCE_MS)
    while frame.shelf.board.rows[frame.shelf.board.at].sort != "unpack":
        press(Qt.Key.Key_Down)
    assert frame.shelf.bar.does == "Enter begins with: A sheet that somebody packed"
    press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: frame.place is place, timeout=PATIENCE_MS)
    out = tmp_path / f"from a friend {SCRIPTS[3]}"
    assert place.writing.folder == out and place.writing.is_saved
    assert place.notice.what == f"Unpacked into {out}"
    after = load_sheet(out)
    assert after.sheet == before.sheet and after.names() == before.names()
    assert len(after.names()) == len(SCRIPTS)
    assert all(after.photo_bytes(n) == before.photo_bytes(n) for n in after.names())


def _fill(path: Path, entries: dict[Any, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in entries.items():
            archive.writestr(name, data)
    return path


def _mode(name: str, mode: int) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name)
    entry.external_attr = mode << 16
    return entry


def _claim(path: Path, offset: int, value: bytes) -> None:
    """Writes over what the list of contents says of its last entry."""
    raw = bytearray(path.read_bytes())
    at = raw.rindex(b"PK\x01\x02") + offset
    raw[at : at + len(value)] = value
    path.write_bytes(raw)


def _make_many(path: Path, count: int) -> None:
    """A zip whose list of contents names so many entries."""
    entry = struct.pack("<4s6H3I5H2I", b"PK\x01\x02", *(20, 20, 0, 0, 0, 0), 0, 0, 0, 8, *[0] * 6)
    listed = b"".join(entry + b"%08d" % number for number in range(count))
    end = struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, 0xFFFF, 0xFFFF, len(listed), 0, 0)
    path.write_bytes(listed + end)


HOSTILE = {
    "swells": "The picture has more than 50 MB.",
    "claims": "The zip holds more than 2 GB unpacked.",
    "climbs": 'The entry "photos/../../out.jpg" leads out of the folder.',
    "link": 'The entry "photos/link.jpg" is a link.',
    "many": "The zip has more than 10,000 entries.",
    "cut": "The zip is damaged, or is no zip.",
    "encrypted": "The zip is encrypted.",
    "two sheets": 'The zip holds two entries for one name: "job.json" and "job.json".',
    "two folders": "The zip holds 2 job sheets.",
    "capitals": 'The zip holds two entries for one name: "photos/a.jpg" and "photos/A.jpg".',
    "no zip": "The zip is damaged, or is no zip.",
}


def _make_hostile(kind: str, path: Path, make: Callable[[], dict[str, bytes]]) -> None:
    entries: dict[Any, bytes] = make()
    match kind:
        case "swells":
            entries["photos/a.jpg"] = b"\xff\xd8" + bytes(60_000_000)
        case "climbs":
            entries["photos/../../out.jpg"] = b"x"
        case "link":
            entries[_mode("photos/link.jpg", stat.S_IFLNK | 0o777)] = b"/etc/passwd"
        case "two sheets":
            entries["jobXjson"] = b"{}"
        case "two folders":
            entries = {f"{top}/{name}": data for top in "ab" for name, data in entries.items()}
        case "capitals":
            entries["photos/A.jpg"] = entries["photos/a.jpg"]
    _fill(path, entries)
    match kind:
        case "claims":
            _claim(path, 24, struct.pack("<I", 2_000_000_001))
        case "many":
            _make_many(path, 100_000)
        case "cut":
            path.write_bytes(path.read_bytes()[:-40])
        case "encrypted":
            _claim(path, 8, b"\x01")
        case "two sheets":
            path.write_bytes(path.read_bytes().replace(b"jobXjson", b"job.json"))
        case "no zip":
            path.write_bytes(b"PK but nothing else")


def _make_small() -> dict[str, bytes]:
    data = {
        "format": "shopguide-job/1", "title": "T", "author": "A", "date": "2026-01-01",
        "stages": [{"title": "S", "steps": [{"title": "One", "photos": [{"file": "a.jpg"}],
                                             "tasks": [{"kind": "confirm", "text": "Do it."}]}]}],
    }  # fmt: skip
    return {"job.json": json.dumps(data).encode(), "photos/a.jpg": _draw_picture()}


def test_hostile_zips_each_get_a_clear_line_and_write_nothing(qtbot, frame, tmp_path: Path) -> None:
    inside = tmp_path / "inside"
    inside.mkdir()
    frame.opening.choose_folder = lambda title: str(inside / "out")
    for kind, told in HOSTILE.items():
        path = tmp_path / f"{kind}.zip"
        _make_hostile(kind, path, _make_small)
        before = sorted(tmp_path.rglob("*"))
        frame.opening.choose_zip = lambda path=path: str(path)
        for go in (frame.opening.unpack, lambda path=path: frame.open_path(path)):
            frame.shelf.notice.close_notice()
            frame.shelf.notice.tell("")
            go()
            wait_told(qtbot, frame.shelf, told)
            assert frame.shelf.notice.next.endswith(".")
        qtbot.waitUntil(lambda: frame.shelf.errand is None, timeout=PATIENCE_MS)
        assert sorted(tmp_path.rglob("*")) == before and frame.desk is None
    assert frame.place is frame.shelf


def test_a_sound_zip_of_this_sort_is_unpacked(qtbot, frame, tmp_path: Path) -> None:
    _fill(tmp_path / "sound.zip", _make_small())
    frame.opening.choose_zip = lambda: str(tmp_path / "sound.zip")
    frame.opening.choose_folder = lambda title: ""
    frame.opening.unpack()
    wait_told(qtbot, frame.shelf, "sound.zip is a sound sheet. Nothing was unpacked.")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_bytes(b"mine")
    frame.opening.choose_folder = lambda title: str(tmp_path / "full")
    frame.opening.unpack()
    wait_told(qtbot, frame.shelf, "The folder full is not empty.")
    frame.opening.choose_folder = lambda title: str(tmp_path / title)
    frame.opening.unpack()
    qtbot.waitUntil(lambda: frame.is_writing, timeout=PATIENCE_MS)
    assert (tmp_path / "T" / "photos" / "a.jpg").read_bytes() == _draw_picture()


# --- an older format ----------------------------------------------------------------------------


@pytest.fixture
def older(folder: Path, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """The sheet as an invented older version of the program would have written it."""

    def from_0(data: dict[str, Any]) -> upgrade.Upgraded:
        data["author"] = data.pop("writer")
        return upgrade.Upgraded(data, ('The "writer" is now called "author".',))

    monkeypatch.setitem(upgrade.UPGRADES, 0, from_0)
    data = json.loads((folder / "job.json").read_bytes())
    data["format"], data["writer"] = "shopguide-job/0", data.pop("author")
    raw = json.dumps(data).encode()
    (folder / "job.json").write_bytes(raw)
    return raw


def test_what_an_older_sheet_was_changed_to_is_shown_and_only_a_save_writes_it(
    qtbot, older: bytes, folder: Path, open_sheet
) -> None:
    place = open_sheet(folder)
    board = place.sharing.report
    assert place.board is board and board.heading == "This sheet was written in an older format"
    assert list(board.rows) == [
        "From format 0 to format 1",
        ReportLine('The "writer" is now called "author".'),
    ]
    press(Qt.Key.Key_Escape)
    assert place.board is None
    assert (folder / "job.json").read_bytes() == older and not place.writing.is_saved
    press(Qt.Key.Key_S, CONTROL)
    qtbot.waitUntil(lambda: place.writing.is_saved, timeout=PATIENCE_MS)
    saved = json.loads((folder / "job.json").read_bytes())
    assert saved["format"] == "shopguide-job/1" and saved["author"] == "an invented owner"
    assert load_sheet(folder).sheet == place.writing.draft.sheet


@pytest.mark.parametrize("key", [Qt.Key.Key_Return, Qt.Key.Key_Escape])
def test_the_report_comes_after_the_question_about_a_draft(
    qtbot, older: bytes, folder: Path, open_sheet, key: Qt.Key
) -> None:
    draft = json.loads(older) | {"title": "Title in the draft"}
    write_drafts.put_aside(
        write_drafts.name_draft(folder), folder, "Draft", json.dumps(draft).encode()
    )
    place = open_sheet(folder)
    assert place.ask.is_open and place.board is None
    press(key)
    assert place.board is place.sharing.report
    taken = key == Qt.Key.Key_Return
    assert (place.writing.data["title"] == "Title in the draft") == taken
    # A draft that an older version of the program put aside is brought up to date as well.
    assert place.writing.draft.sheet is not None and "writer" not in place.writing.data
    press(Qt.Key.Key_Escape)
    assert place.board is None and place.outline.hasFocus()


def test_a_sheet_of_today_has_no_report(place: WritePlace) -> None:
    assert place.board is None and place.writing.is_saved
