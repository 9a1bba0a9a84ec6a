"""Drafts and saving when things go wrong: two windows, full disks, damage, odd names and clocks."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import random
import stat
import unicodedata
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job import saving
from shopguide.job.edits import Add, Draft, SetValue
from shopguide.job.files import dump_sheet, load_sheet, save_sheet
from shopguide.job.packing import find_packing
from shopguide.job.skeletons import make_skeleton
from shopguide.window import write_drafts
from shopguide.window.app import make_app
from shopguide.window.frame import Frame
from shopguide.window.shelf_place import ROW
from shopguide.window.shelf_rows import ShelfRow
from shopguide.window.write_desk import ASIDE_MS, ASIDE_SOON_MS, WriteDesk

PATIENCE_MS = 30_000
PLAIN, CONTROL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier
Key = Qt.Key
TITLE = ("stages", 0, "steps", 0, "title")
SCRIPTS = (
    "Kühlmittelpumpe",
    unicodedata.normalize("NFD", "Kühlmittelpumpe é"),
    "水泵盖",
    "غطاء المضخة",
    "מכסה משאבה",
    "Крышка насоса",
    "पंप का ढक्कन",
    "👩‍🔧🔩 cover",
    "a & b; c, d'e",
    "ปั๊มน้ำ",
)


def make_sheet(title: str = "Pump") -> object:
    return make_skeleton("blank", title, "Ada Hill", "2026-03-24")


def find_parts(folder: Path) -> list[Path]:
    """What was half written and left behind."""
    return list(folder.rglob("*.part"))


class Window:
    """Somebody who writes at one window."""

    def __init__(self, qtbot, frame: Frame) -> None:
        self.qtbot, self.frame = qtbot, frame
        self.troubles: list[Trouble] = []

    @property
    def place(self):
        return self.frame.write

    @property
    def desk(self) -> WriteDesk:
        return self.place.writing

    @property
    def notice(self) -> str:
        notice = self.frame.place.notice
        words = (notice.what, notice.where, notice.next)
        return "" if notice.isHidden() else " ".join(w for w in words if w)

    def wait(self, until: Callable[[], bool]) -> None:
        self.qtbot.waitUntil(until, timeout=PATIENCE_MS)

    def key(self, key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
        self.frame.activateWindow()
        QTest.keyClick(self.frame.focusWidget() or self.frame.place, key, held)
        for _ in range(3):
            QApplication.processEvents()

    def open(self, folder: Path) -> WriteDesk:
        before = self.desk if self.frame.is_writing else None
        self.frame.opening.open_sheet(folder)
        self.wait(lambda: self.frame.is_writing and self.desk is not before)
        self.settle()
        self.desk.failed.connect(self.troubles.append)
        return self.desk

    def settle(self) -> None:
        self.wait(lambda: not self.desk.busy and self.desk.reviewed_data is self.desk.data)
        for _ in range(3):
            QApplication.processEvents()

    def change(self, text: str) -> None:
        """Writes over the title of the first step."""
        self.place.apply(SetValue(TITLE, text))

    def put_aside(self) -> None:
        with self.qtbot.waitSignal(self.desk.kept_aside, timeout=PATIENCE_MS):
            self.desk.put_aside()

    def save(self) -> None:
        with self.qtbot.waitSignal(self.desk.saved, timeout=PATIENCE_MS):
            self.key(Key.Key_S, CONTROL)
        self.settle()

    def die(self) -> None:
        """The program dies: nothing of what closing does is done, its rights are gone."""
        desk = self.desk
        self.settle()
        desk._closed = True
        desk._hold.drop()
        self.place.writing = None
        self.frame.close()

    def list_rows(self) -> list[ShelfRow]:
        rows = self.frame.shelf.list
        held = [rows.item(i).data(ROW) for i in range(rows.count())]
        return [row for row in held if row is not None]


@pytest.fixture
def open_window(qtbot, user_home) -> Iterator[Callable[[], Window]]:
    """Opens a window; every one is closed at the end."""
    make_app()
    frames: list[Frame] = []

    def open_it() -> Window:
        frame = Frame()
        qtbot.addWidget(frame)
        for place in frame.places.values():
            place.gate.dead_ms = place.gate.settle_ms = 0
        frame.resize(1366, 768)
        frame.show()
        frames.append(frame)
        return Window(qtbot, frame)

    yield open_it
    for frame in frames:
        frame.close()


@pytest.fixture
def window(open_window) -> Window:
    return open_window()


@pytest.fixture
def folder(tmp_path) -> Path:
    """A saved sheet."""
    folder = tmp_path / "sheet"
    save_sheet(make_sheet(), folder)
    return folder


def read_title(folder: Path) -> str:
    return load_sheet(folder).sheet.steps[0].step.title


# --- how often ----------------------------------------------------------------------------------


def test_a_change_after_a_rest_is_put_aside_at_once_and_then_every_few_seconds(window, folder):
    desk = window.open(folder)
    window.change("one")
    assert desk._aside_soon.isActive() and desk._aside_soon.interval() <= ASIDE_SOON_MS
    window.put_aside()
    window.change("two")
    begun = desk._aside_soon.interval()
    assert ASIDE_MS / 2 < begun <= ASIDE_MS, "not so soon again"
    for letter in "abcdef":
        window.change(letter)
        # Whoever goes on and on does not put it off.
        assert desk._aside_soon.isActive() and desk._aside_soon.interval() == begun
    assert ASIDE_MS <= 3000


def test_looking_away_puts_aside_at_once(window, folder):
    desk = window.open(folder)
    window.change("one")
    with window.qtbot.waitSignal(desk.kept_aside, timeout=PATIENCE_MS):
        window.place._look_away(Qt.ApplicationState.ApplicationInactive)
    assert write_drafts.find_aside(desk.key) is not None


def test_what_could_not_be_put_aside_is_told_once_and_tried_again(window, folder, monkeypatch):
    desk = window.open(folder)
    monkeypatch.setattr("shopguide.window.write_desk.ASIDE_MS", 1)
    monkeypatch.setattr("shopguide.window.write_desk.ASIDE_SOON_MS", 1)
    real, tries = os.write, []

    def full(handle: int, data: object) -> int:
        tries.append(1)
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(saving.os, "write", full)
    window.change("one")
    window.wait(lambda: len(tries) >= 3)
    assert "the disk is full" in window.notice
    assert len(window.troubles) == 1
    monkeypatch.setattr(saving.os, "write", real)
    with window.qtbot.waitSignal(desk.kept_aside, timeout=PATIENCE_MS):
        pass
    window.settle()
    assert window.notice == "", "it is put right"
    assert json.loads(write_drafts.find_aside(desk.key).raw)["stages"][0]["steps"][0]["title"]
    assert find_parts(write_drafts.find_folder()) == []


def test_what_is_being_typed_is_kept_when_the_card_is_built_anew_under_it(window, folder):
    window.open(folder)
    window.key(Key.Key_Return)
    QTest.keyClicks(QApplication.focusWidget(), "half typed ")
    # A task comes from elsewhere, as a picture does that was being taken in meanwhile.
    task = {"kind": "confirm", "text": "One more."}
    window.place.apply(Add(("stages", 0, "steps", 0, "tasks", 1), task))
    window.settle()
    step = window.desk.draft.sheet.steps[0].step
    assert "half typed" in step.title and len(step.tasks) == 2


@pytest.mark.parametrize("closes", [False, True])
def test_what_was_undone_while_it_was_saved_is_not_taken_for_saved(
    window, folder, open_window, closes
):
    desk = window.open(folder)
    before = desk.data
    window.change("one")
    # The disk is at it; nothing of that has come back to the window yet.
    desk.save()
    desk.undo()
    assert desk.data is before
    if closes:
        window.frame.close()
        other = open_window()
        other.open(folder)
        assert read_title(folder) == "one" and other.place.ask.is_open
        other.key(Key.Key_Return)
        assert other.desk.draft.sheet.steps[0].step.title == "First step"
        return
    with window.qtbot.waitSignal(desk.saved, timeout=PATIENCE_MS):
        desk.save()
    window.settle()
    assert desk.is_saved == (read_title(folder) == "First step")
    window.save()
    assert desk.is_saved and read_title(folder) == "First step"


def test_without_a_folder_for_drafts_everything_goes_on_and_is_told(
    open_window, folder, user_home, monkeypatch
):
    monkeypatch.setattr("shopguide.window.write_desk.ASIDE_SOON_MS", 1)
    (user_home / "drafts").write_text("a file where the folder should be")
    window = open_window()
    window.wait(lambda: bool(window.list_rows()))
    window.key(Key.Key_N)
    window.wait(lambda: window.frame.shelf.board is not None)
    assert all(row.sort != "draft" for row in window.frame.shelf.board.rows)
    window.key(Key.Key_Escape)
    window.open(folder)
    window.change("changed")
    window.wait(lambda: "Drafts cannot be put aside" in window.notice)
    window.save()
    assert read_title(folder) == "changed"


# --- the Shelf ----------------------------------------------------------------------------------


def test_a_sheet_that_was_never_saved_stands_first_on_the_shelf_and_goes_on(open_window):
    one = open_window()
    desk = WriteDesk(Draft(make_sheet("Water pump")), parent=one.place)
    one.place.take_up(desk)
    one.frame.go("write")
    one.change("Half of it")
    one.put_aside()
    one.die()
    two = open_window()
    two.wait(lambda: bool(two.list_rows()))
    row = two.list_rows()[0]
    assert (row.section, row.title) == ("Go on", "Water pump")
    assert row.under == "A sheet that was never saved" and row.state.startswith("put aside ")
    assert two.frame.shelf.row() == row
    assert "Water pump" in two.frame.shelf.bar.does and "Del" in two.frame.shelf.bar.keys
    two.key(Key.Key_Space)
    two.wait(lambda: two.frame.place.name == "write")
    assert two.desk.draft.sheet.steps[0].step.title == "Half of it"
    assert not two.place.ask.is_open and not two.desk.is_saved


def test_a_draft_is_thrown_away_only_after_asking(open_window, tmp_path):
    key = write_drafts.name_draft(None)
    write_drafts.put_aside(key, None, "Old one", Draft(make_sheet()).dump_as_typed())
    pictures = write_drafts.find_pictures(key)
    pictures.mkdir()
    (pictures / "a.jpg").write_bytes(b"x")
    window = open_window()
    window.wait(lambda: bool(window.list_rows()))
    window.key(Key.Key_Delete)
    assert window.frame.shelf.ask.is_open
    window.key(Key.Key_Escape)
    assert write_drafts.find_aside(key) is not None
    window.frame.shelf.list.setFocus()
    window.key(Key.Key_Delete)
    window.key(Key.Key_Return)
    window.wait(lambda: all(not row.draft for row in window.list_rows()))
    assert write_drafts.find_aside(key) is None and not pictures.exists()


def test_changes_put_aside_stand_in_the_row_of_their_sheet(open_window, folder):
    one = open_window()
    one.open(folder)
    one.change("not saved")
    one.put_aside()
    one.die()
    two = open_window()
    two.wait(lambda: any(row.path == folder for row in two.list_rows()))
    (row,) = (row for row in two.list_rows() if row.path == folder)
    assert row.date == "changes not saved" and row.state.startswith("put aside ")
    assert all(not row.draft for row in two.list_rows())


def test_a_draft_whose_sheet_is_gone_is_offered_by_itself(open_window, tmp_path, folder):
    one = open_window()
    one.open(folder)
    one.change("not saved")
    one.put_aside()
    one.die()
    folder.rename(tmp_path / "moved")
    two = open_window()
    two.wait(lambda: bool(two.list_rows()))
    row = two.list_rows()[0]
    assert row.draft and "not there any more" in row.under
    two.key(Key.Key_Space)
    two.wait(lambda: two.frame.place.name == "write")
    assert "not there any more" in two.notice
    assert two.desk.folder is None
    assert two.desk.draft.sheet.steps[0].step.title == "not saved"


def test_a_draft_that_another_window_writes_is_left_to_it(open_window):
    one = open_window()
    one.place.take_up(WriteDesk(Draft(make_sheet("Mine")), parent=one.place))
    one.frame.go("write")
    one.change("Half of it")
    one.put_aside()
    two = open_window()
    two.wait(lambda: bool(two.list_rows()))
    assert two.list_rows()[0].state == "being written now"
    two.key(Key.Key_Space)
    two.wait(lambda: "in another window" in two.notice)
    two.frame.shelf.notice.close_notice()
    two.key(Key.Key_Delete)
    two.key(Key.Key_Return)
    two.wait(lambda: "Nothing was thrown away" in two.notice)
    # In its own window the row leads back to it.
    one.frame.go("shelf")
    one.wait(lambda: bool(one.list_rows()) and one.list_rows()[0].draft != "")
    while one.frame.shelf.row() != one.list_rows()[0]:
        one.key(Key.Key_Up)
    one.key(Key.Key_Space)
    assert one.frame.place.name == "write" and one.desk.data["stages"][0]["steps"][0]["title"]
    assert write_drafts.find_aside(one.desk.key) is not None


# --- two windows --------------------------------------------------------------------------------


@pytest.fixture
def two_windows(open_window, folder) -> tuple[Window, Window]:
    """Two windows with the same sheet, the second of which has lost."""
    one, two = open_window(), open_window()
    one.open(folder)
    two.open(folder)
    return one, two


def test_two_windows_have_two_drafts_and_the_second_is_told(two_windows):
    one, two = two_windows
    assert "in another window too" in two.notice and one.notice == ""
    assert one.desk.key != two.desk.key
    one.change("first")
    two.change("second")
    one.put_aside()
    two.put_aside()
    drafts = [write_drafts.find_aside(w.desk.key) for w in two_windows]
    found = [json.loads(d.raw)["stages"][0]["steps"][0]["title"] for d in drafts]
    assert found == ["first", "second"]


def lose(one: Window, two: Window) -> None:
    """The first one saves, then the second one tries to."""
    one.change("first")
    one.save()
    two.change("second")
    two.key(Key.Key_S, CONTROL)
    two.wait(lambda: two.place.board is not None)


def choose(window: Window, words: str) -> None:
    """Goes down the board to a choice and takes it."""
    board = window.place.board
    for _ in range(6):
        if words in board.does:
            break
        window.key(Key.Key_Down)
    assert words in board.does
    window.key(Key.Key_Return)


def test_what_was_saved_elsewhere_is_not_overwritten_unasked(two_windows, folder):
    one, two = two_windows
    lose(one, two)
    assert two.place.board.heading == (
        "The saved sheet was changed elsewhere after it was opened here."
    )
    assert read_title(folder) == "first"
    two.key(Key.Key_Escape)
    assert two.place.board is None and not two.desk.is_saved
    assert read_title(folder) == "first"
    assert write_drafts.find_aside(two.desk.key) is not None, "the draft remains"


def test_it_is_overwritten_knowingly_and_the_other_text_is_kept(two_windows, folder, user_home):
    one, two = two_windows
    lose(one, two)
    with two.qtbot.waitSignal(two.desk.saved, timeout=PATIENCE_MS):
        choose(two, "Overwrite")
    assert read_title(folder) == "second"
    (left,) = (user_home / "drafts").glob("*.left*.json")
    assert Draft.open(left.read_bytes()).sheet.steps[0].step.title == "first"
    # And now the first window is the one that is told.
    one.change("third")
    one.key(Key.Key_S, CONTROL)
    one.wait(lambda: one.place.board is not None)
    assert read_title(folder) == "second"


def test_what_was_saved_elsewhere_is_taken_and_undo_brings_back_what_was_here(two_windows, folder):
    one, two = two_windows
    lose(one, two)
    choose(two, "Take")
    assert two.desk.is_saved
    assert two.desk.draft.sheet.steps[0].step.title == "first"
    two.key(Key.Key_Z, CONTROL)
    assert two.desk.draft.sheet.steps[0].step.title == "second"
    two.save()
    assert read_title(folder) == "second", "it was known what is overwritten"


def test_it_is_saved_into_another_folder_and_both_are_kept(two_windows, folder, tmp_path):
    one, two = two_windows
    lose(one, two)
    two.place.choose_folder = lambda title: str(tmp_path / "other")
    with two.qtbot.waitSignal(two.desk.saved, timeout=PATIENCE_MS):
        choose(two, "another folder")
    assert read_title(folder) == "first" and read_title(tmp_path / "other") == "second"


def test_what_differs_is_told_in_words(two_windows):
    one, two = two_windows
    lose(one, two)
    question = two.place.board
    choose(two, "Look")
    said = " ".join(row.text for row in two.place.board.rows if not isinstance(row, str))
    assert "first" in said and "second" in said
    two.key(Key.Key_Escape)
    assert two.place.board is not question and "changed elsewhere" in two.place.board.heading


def test_a_draft_that_began_from_an_older_sheet_does_not_overwrite_it(open_window, folder):
    one = open_window()
    one.open(folder)
    one.change("not saved")
    one.put_aside()
    one.die()
    two = open_window()
    edited = Draft.open((folder / "job.json").read_bytes())
    edited.apply(SetValue(TITLE, "by hand"))
    (folder / "job.json").write_bytes(edited.dump())
    two.open(folder)
    assert two.place.ask.is_open and "saved elsewhere after that" in two.place.ask.question.text()
    two.key(Key.Key_Return)
    assert two.desk.draft.sheet.steps[0].step.title == "not saved"
    two.key(Key.Key_S, CONTROL)
    two.wait(lambda: two.place.board is not None)
    assert read_title(folder) == "by hand"


def test_an_offered_draft_is_neither_overwritten_nor_forgotten_before_the_answer(
    open_window, folder, user_home
):
    one = open_window()
    one.open(folder)
    one.change("not saved")
    one.put_aside()
    one.die()
    two = open_window()
    two.open(folder)
    two.frame.go("shelf")
    two.frame.go("write")
    assert two.place.ask.is_open, "asked until it is answered"
    two.change("written before the answer")
    two.put_aside()
    (left,) = (user_home / "drafts").glob("*.left.json")
    assert b"not saved" in left.read_bytes()


# --- what becomes of the folder -----------------------------------------------------------------


def spoil(folder: Path, how: str) -> None:
    """Something happens to the folder while the sheet is written."""
    sheet = folder / "job.json"
    match how:
        case "removed":
            sheet.unlink()
            folder.rmdir()
        case "renamed":
            folder.rename(folder.with_name("renamed"))
        case "a file":
            folder.rename(folder.with_name("renamed"))
            folder.write_text("not a folder")
        case "no sheet":
            sheet.unlink()
        case "a link":
            sheet.rename(folder / "real.json")
            sheet.symlink_to("real.json")
        case "a folder":
            sheet.unlink()
            sheet.mkdir()


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
@pytest.mark.parametrize(
    ("how", "heading"),
    [
        ("removed", "not there any more"),
        ("renamed", "not there any more"),
        ("a file", "not there any more"),
        ("no sheet", "not there any more"),
        ("a link", "something else now"),
        ("a folder", "something else now"),
    ],
)
def test_a_sheet_that_is_not_where_it_was_is_asked_about(window, folder, tmp_path, how, heading):
    window.open(folder)
    window.change("changed")
    before = (folder / "job.json").read_bytes()
    spoil(folder, how)
    window.key(Key.Key_S, CONTROL)
    window.wait(lambda: window.place.board is not None)
    assert heading in window.place.board.heading
    assert write_drafts.find_aside(window.desk.key) is not None, "the draft remains"
    assert find_parts(tmp_path) == []
    # Here all the same: saved, or told why not; what the link leads to is untouched.
    outcomes: list[object] = []
    window.desk.saved.connect(lambda: outcomes.append("saved"))
    window.desk.failed.connect(outcomes.append)
    choose(window, "Save here")
    window.wait(lambda: bool(outcomes))
    if how in ("a file", "a folder"):
        assert isinstance(outcomes[0], Trouble)
        assert outcomes[0].what and outcomes[0].next and not window.desk.is_saved
    else:
        assert outcomes == ["saved"] and read_title(folder) == "changed"
        assert not (folder / "job.json").is_symlink()
    if how == "a link":
        assert (folder / "real.json").read_bytes() == before
        assert stat.S_IMODE((folder / "job.json").stat().st_mode) & 0o022 == 0
    assert find_parts(tmp_path) == []


@pytest.fixture
def with_photo(window, folder, tmp_path) -> Window:
    """A window in which a picture and a text were added and are not saved."""
    Image.new("RGB", (400, 300), (90, 80, 70)).save(tmp_path / "cover.jpg")
    window.open(folder)
    window.place.photos.add([str(tmp_path / "cover.jpg")])
    window.wait(lambda: window.place.errand is None)
    window.change("changed")
    window.put_aside()
    return window


CALLS = ("open", "write", "fsync", "replace")


@pytest.mark.parametrize("fault", [errno.ENOSPC, errno.EACCES, errno.EIO])
@pytest.mark.parametrize("call", CALLS)
@pytest.mark.parametrize("at", ["cover.jpg", "job.json"])
def test_a_disk_that_fails_leaves_what_was_saved_and_the_draft(
    with_photo, folder, monkeypatch, call, at, fault
):
    window, before = with_photo, (folder / "job.json").read_bytes()
    real = getattr(os, call)
    names: dict[int, str] = {}

    def fail(*given: object, **named: object) -> object:
        told = str(given[0])
        if call in ("write", "fsync"):
            told = names.get(given[0], "")
        if f"{folder}/" in told and f".{at}." in told:
            raise OSError(fault, os.strerror(fault))
        return real(*given, **named)

    real_open = os.open

    def note(path: object, *given: object, **named: object) -> int:
        handle = real_open(path, *given, **named)
        names[handle] = str(path)
        return handle

    with monkeypatch.context() as patch:
        if call != "open":
            patch.setattr(saving.os, "open", note)
        patch.setattr(saving.os, call, fail)
        with window.qtbot.waitSignal(window.desk.failed, timeout=PATIENCE_MS) as failed:
            window.key(Key.Key_S, CONTROL)
    window.settle()
    (trouble,) = failed.args
    assert at in trouble.what and trouble.next and trouble.what in window.notice
    assert (folder / "job.json").read_bytes() == before
    assert find_parts(folder) == [] and not window.desk.is_saved
    assert b"changed" in write_drafts.find_aside(window.desk.key).raw
    assert window.desk.read_photo("cover.jpg")
    if at == "cover.jpg":
        assert not (folder / "photos").exists(), "no folder is left behind"
    # When that is put right it is saved as if nothing had been.
    window.save()
    assert read_title(folder) == "changed"
    assert load_sheet(folder).photo_bytes("cover.jpg")
    assert not list(write_drafts.find_folder().glob("*.photos/*"))


def test_a_disk_that_fails_at_the_very_end_does_not_make_the_sheet_somebody_elses(
    window, folder, monkeypatch
):
    window.open(folder)
    window.change("changed")

    def fail(path: Path) -> None:
        if path == folder:
            raise OSError(errno.EIO, os.strerror(errno.EIO))

    with monkeypatch.context() as patch:
        patch.setattr(saving, "_sync_folder", fail)
        with window.qtbot.waitSignal(window.desk.failed, timeout=PATIENCE_MS):
            window.key(Key.Key_S, CONTROL)
    assert read_title(folder) == "changed"
    window.settle()
    window.save()
    assert window.place.board is None


@pytest.mark.parametrize("name", ["x" * 300, "水" * 100])
def test_a_name_that_is_too_long_is_told(window, tmp_path, name):
    window.place.take_up(WriteDesk(Draft(make_sheet()), parent=window.place))
    window.frame.go("write")
    window.place.choose_folder = lambda title: str(tmp_path / "new" / name)
    with window.qtbot.waitSignal(window.desk.failed, timeout=PATIENCE_MS) as failed:
        window.key(Key.Key_S, CONTROL)
    assert "the name is too long" in failed.args[0].what
    assert not (tmp_path / "new").exists(), "no folder is left behind"
    assert window.desk.folder is None


def test_a_saved_sheet_goes_into_another_folder_with_its_pictures(with_photo, folder, tmp_path):
    window = with_photo
    window.save()
    before = (folder / "job.json").read_bytes()
    window.change("goes on elsewhere")
    window.put_aside()
    old_key = window.desk.key
    window.place.choose_folder = lambda title: str(tmp_path / "other")
    with window.qtbot.waitSignal(window.desk.saved, timeout=PATIENCE_MS):
        window.key(Key.Key_S, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    other = load_sheet(tmp_path / "other")
    assert other.sheet.steps[0].step.title == "goes on elsewhere"
    assert other.photo_bytes("cover.jpg")
    assert (folder / "job.json").read_bytes() == before
    # Its draft goes with it, and the one it had is let go.
    assert window.desk.key == write_drafts.name_draft(tmp_path / "other") != old_key
    assert write_drafts.find_aside(old_key) is None and not write_drafts.is_held(old_key)


def test_a_folder_with_a_sheet_in_it_is_not_saved_into(window, folder):
    before = (folder / "job.json").read_bytes()
    window.place.take_up(WriteDesk(Draft(make_sheet("Other")), parent=window.place))
    window.frame.go("write")
    window.place.choose_folder = lambda title: str(folder)
    with window.qtbot.waitSignal(window.desk.failed, timeout=PATIENCE_MS) as failed:
        window.key(Key.Key_S, CONTROL)
    assert "already" in failed.args[0].what
    assert (folder / "job.json").read_bytes() == before


@pytest.mark.parametrize("name", SCRIPTS)
def test_names_of_every_script(window, tmp_path, name):
    picture = tmp_path / f"{name}.jpg"
    Image.new("RGB", (40, 30), (90, 80, 70)).save(picture, "JPEG")
    window.place.take_up(WriteDesk(Draft(make_sheet(name)), parent=window.place))
    window.frame.go("write")
    window.settle()
    window.place.photos.add([str(picture)])
    window.wait(lambda: window.place.errand is None)
    window.change(name)
    window.put_aside()
    aside = write_drafts.find_aside(window.desk.key)
    assert aside.title == window.desk.title
    folder = tmp_path / "to" / name
    window.place.choose_folder = lambda title: str(folder)
    window.save()
    opened = load_sheet(folder)
    assert opened.sheet.title == opened.sheet.steps[0].step.title
    assert unicodedata.normalize("NFC", name) == opened.sheet.title
    (photo,) = opened.names()
    assert opened.photo_bytes(photo)
    window.change("once more")
    window.put_aside()
    assert write_drafts.find_aside(write_drafts.name_draft(folder)).source == str(folder)


@pytest.mark.skipif(os.name == "nt", reason="names are no bytes there")
def test_a_folder_whose_name_is_no_text_is_written_in_all_the_same(window, tmp_path):
    folder = Path(os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9"))
    save_sheet(make_sheet(), folder)
    window.open(folder)
    window.change("changed")
    window.put_aside()
    assert write_drafts.find_aside(window.desk.key).source == str(folder)
    window.save()
    assert read_title(folder) == "changed"


def test_what_a_killed_process_had_half_written_is_swept_an_hour_later(folder, tmp_path):
    sheet = folder / "job.json"
    old, young = folder / ".job.json.0123456789ab.part", folder / ".job.json.ba9876543210.part"
    other = folder / ".job.json.my.part"
    for path in (old, young, other):
        path.write_bytes(b"{")
    before = sheet.stat().st_mtime - 2 * 3600
    os.utime(old, (before, before))
    os.utime(other, (before, before))
    saving.write_atomically(sheet, sheet.read_bytes())
    assert not old.exists() and young.exists() and other.exists()


# --- damage, other versions, the clock ----------------------------------------------------------


@pytest.fixture
def crashed(open_window, folder) -> tuple[str, bytes]:
    """The key and the bytes of a draft that a crash has left."""
    one = open_window()
    desk = one.open(folder)
    one.change("not saved")
    one.put_aside()
    key = desk.key
    one.die()
    return key, (write_drafts.find_folder() / f"{key}.draft.json").read_bytes()


def test_a_draft_cut_off_anywhere_or_flipped_is_known_as_such(crashed):
    key, whole = crashed
    path = write_drafts.find_folder() / f"{key}.draft.json"
    right = write_drafts.look_at(path)
    assert right.fault == "" and not right.doubtful
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        found, head = write_drafts.look_at(path), write_drafts.look_at(path, head_only=True)
        assert found.fault == "damaged" and head.fault == "damaged", length
    luck = random.Random(4)
    for _ in range(200):
        at, bit = luck.randrange(len(whole)), 1 << luck.randrange(8)
        path.write_bytes(whole[:at] + bytes([whole[at] ^ bit]) + whole[at + 1 :])
        found = write_drafts.look_at(path)
        write_drafts.look_at(path, head_only=True)
        assert found.fault or found.doubtful or found.raw == right.raw, (at, bit)


@pytest.mark.parametrize("how", ["cut", "empty", "deep", "folder", "bytes", "list"])
def test_a_damaged_draft_is_told_and_kept_and_the_sheet_opens(open_window, folder, crashed, how):
    key, whole = crashed
    path = write_drafts.find_folder() / f"{key}.draft.json"
    path.unlink()
    begun = whole.partition(b', "sheet": ')[0] + b', "sheet": '
    raw = {
        "cut": whole[:-40],
        "empty": b"",
        "deep": begun + b"[" * 9999 + b"]" * 9999 + b"}",
        "bytes": b"\xff\xfe" * 50,
        "list": b"[]",
    }.get(how)
    if raw is None:
        path.mkdir()
    else:
        path.write_bytes(raw)
    window = open_window()
    window.open(folder)
    assert "damaged and cannot be read" in window.notice and not window.place.ask.is_open
    (left,) = write_drafts.find_folder().glob("*.left.json")
    assert str(left) in window.notice
    assert raw is None or left.read_bytes() == raw
    window.change("goes on")
    window.put_aside()
    assert write_drafts.find_aside(key) is not None
    window.save()
    assert read_title(folder) == "goes on" and left.exists()


def test_a_draft_with_a_letter_changed_is_offered_with_a_warning(open_window, folder, crashed):
    key, whole = crashed
    path = write_drafts.find_folder() / f"{key}.draft.json"
    path.write_bytes(whole.replace(b"not saved", b"mot saved"))
    window = open_window()
    window.open(folder)
    assert window.place.ask.is_open and "damaged in a place" in window.place.ask.question.text()


@pytest.mark.parametrize("what", ["draft", "sheet"])
def test_a_draft_of_a_newer_version_is_left_to_it(open_window, folder, crashed, what):
    key, whole = crashed
    path = write_drafts.find_folder() / f"{key}.draft.json"
    names = {"draft": b"shopguide-draft/", "sheet": b"shopguide-job/"}
    newer = whole.replace(names[what] + b"1", names[what] + b"2")
    assert newer != whole
    path.write_bytes(newer)
    window = open_window()
    desk = window.open(folder)
    assert "newer version" in window.notice and not window.place.ask.is_open
    window.change("goes on")
    window.put_aside()
    assert desk.key != key and path.read_bytes() == newer
    # And what is written here is not lost either.
    window.die()
    again = open_window()
    again.open(folder)
    assert again.place.ask.is_open
    again.key(Key.Key_Return)
    assert again.desk.draft.sheet.steps[0].step.title == "goes on"
    assert path.read_bytes() == newer


@pytest.mark.parametrize("how", ["cut", "newer"])
def test_a_draft_never_saved_that_cannot_be_read_stands_on_the_shelf(open_window, how):
    key = write_drafts.name_draft(None)
    path = write_drafts.put_aside(key, None, "Mine", Draft(make_sheet()).dump_as_typed())
    whole = path.read_bytes()
    path.write_bytes(whole[:-9] if how == "cut" else whole.replace(b"draft/1", b"draft/7"))
    bytes_then = path.read_bytes()
    window = open_window()
    window.wait(lambda: bool(window.list_rows()))
    row = window.list_rows()[0]
    assert row.draft == key and ("damaged" if how == "cut" else "newer version") in row.under
    window.key(Key.Key_Space)
    window.wait(lambda: str(path) in window.notice)
    assert path.read_bytes() == bytes_then


@pytest.mark.parametrize(
    "at", ["2999-01-01T10:00:00+00:00", "0001-01-01T00:00:00+14:00", "yesterday", ""]
)
def test_the_clock_decides_nothing(open_window, folder, crashed, at):
    key, whole = crashed
    path = write_drafts.find_folder() / f"{key}.draft.json"
    head, begins, rest = whole.partition(b', "sheet": ')
    told = {**json.loads(head + b"}"), "at": at}
    path.write_bytes(json.dumps(told).removesuffix("}").encode() + begins + rest)
    other = write_drafts.name_draft(None)
    write_drafts.put_aside(other, None, "Other", Draft(make_sheet()).dump_as_typed())
    window = open_window()
    window.wait(lambda: bool(window.list_rows()))
    rows = window.list_rows()
    assert [row.draft for row in rows if row.draft] == [other]
    assert [row.date for row in rows if row.path == folder] == ["changes not saved"]
    window.open(folder)
    assert window.place.ask.is_open
    window.key(Key.Key_Return)
    window.save()
    assert read_title(folder) == "not saved" and write_drafts.find_aside(key) is None


def test_an_older_draft_than_was_ever_dated_is_read(user_home):
    raw = Draft(make_sheet()).dump_as_typed()
    head = b'{"source": "", "title": "Old", "at": "2026-01-02T10:00:00+01:00"'
    path = write_drafts.find_folder() / "new-1.draft.json"
    path.write_bytes(head + b', "sheet": ' + raw + b"}")
    assert write_drafts.find_aside("new-1").raw == raw


def test_one_saved_sheet_is_written_by_one_window_at_a_time(folder, monkeypatch):
    monkeypatch.setattr(write_drafts, "_SAVE_TRIES", 2)
    monkeypatch.setattr(write_drafts, "_SAVE_TRY_S", 0)
    with (
        write_drafts.save_alone(folder),
        pytest.raises(Trouble, match="Another window"),
        write_drafts.save_alone(folder),
    ):
        raise AssertionError("both at once")
    with write_drafts.save_alone(folder):
        pass


def test_what_is_saved_is_what_a_digest_tells(folder):
    raw = dump_sheet(load_sheet(folder).sheet)
    desk = WriteDesk(Draft.open(raw), folder, find_packing(folder))
    assert desk.base == hashlib.sha256(raw).hexdigest()
    desk.close()
