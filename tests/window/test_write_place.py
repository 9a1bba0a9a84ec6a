"""Write: a sheet is built and changed by keys, and what the window says of it."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from shopguide.job.edits import Draft, SetValue
from shopguide.job.files import load_sheet, save_sheet
from shopguide.job.model import Sheet
from shopguide.job.packing import find_packing
from shopguide.job.skeletons import make_skeleton
from shopguide.window.write_desk import REVIEW_MS, WriteDesk
from shopguide.window.write_fixes import find_step
from shopguide.window.write_place import WritePlace
from shopguide.window.write_text import WriteText

PATIENCE_MS = 30_000
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
ALT = Qt.KeyboardModifier.AltModifier
PLAIN = Qt.KeyboardModifier.NoModifier


class Writer:
    """Somebody who writes a sheet with the keyboard."""

    def __init__(self, qtbot, frame) -> None:
        self.qtbot, self.frame = qtbot, frame
        self.place: WritePlace = frame.write

    @property
    def desk(self) -> WriteDesk:
        return self.place.writing

    @property
    def sheet(self) -> Sheet:
        assert self.desk.draft.sheet is not None, self.desk.draft.troubles
        return self.desk.draft.sheet

    @property
    def bar(self) -> str:
        return self.place.bar.does

    def take_up(self, draft: Draft, folder: Path | None = None) -> None:
        packing = find_packing(folder) if folder is not None else None
        self.place.take_up(WriteDesk(draft, folder, packing, parent=self.place))
        self.frame.go("write")
        self.settle()

    def key(self, key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
        widget = QApplication.focusWidget()
        assert widget is not None
        QTest.keyClick(widget, key, held)
        # A cell hands on what was typed only when its view has closed the entry.
        for _ in range(3):
            QApplication.processEvents()

    def type(self, text: str) -> None:
        for letter in text:
            QTest.keyClicks(QApplication.focusWidget(), letter)
        QApplication.processEvents()

    def write(self, text: str) -> None:
        """Writes over what stands in the field, and goes on."""
        self.key(Qt.Key.Key_A, CONTROL)
        self.type(text)
        self.key(Qt.Key.Key_Tab)

    def choose(self, number: int) -> None:
        """Goes up and down the list to a step."""
        outline = self.place.outline
        outline.setFocus()
        wanted = next(i for i, row in enumerate(outline.rows.rows) if row.number == str(number))
        for _ in range(500):
            at = outline.currentIndex().row()
            if at == wanted:
                return
            self.key(Qt.Key.Key_Down if at < wanted else Qt.Key.Key_Up)
        raise AssertionError("the step is not reached")

    def settle(self) -> None:
        """Until the review has looked and the disk is done."""
        self.qtbot.waitUntil(
            lambda: not self.desk.busy and self.desk.reviewed_data is self.desk.data,
            timeout=PATIENCE_MS,
        )
        for _ in range(3):
            QApplication.processEvents()


@pytest.fixture
def writer(qtbot, frame) -> Iterator[Writer]:
    """A writer before the real window, with a blank sheet."""
    one = Writer(qtbot, frame)
    one.take_up(Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24")))
    yield one


def titles(sheet: Sheet) -> list[str]:
    return [place.step.title for place in sheet.steps]


def test_a_small_sheet_is_built_from_blank_by_keys_alone(writer):
    writer.key(Qt.Key.Key_Return)
    writer.write("Loosen the pump cover")
    writer.write("Remove the pump cover.")
    # Its kind, by the first letter, then how and which open item.
    writer.key(Qt.Key.Key_O)
    assert writer.desk.draft.sheet is None, "an open item has no name yet"
    writer.key(Qt.Key.Key_Return)
    assert "How" in writer.bar
    writer.key(Qt.Key.Key_Return)
    writer.write("pump cover")
    writer.write("It holds four screws.")
    writer.key(Qt.Key.Key_Escape)
    writer.key(Qt.Key.Key_Insert)
    writer.write("Refit the pump cover")
    writer.write("Refit the pump cover.")
    writer.key(Qt.Key.Key_C)
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_PageDown)
    writer.key(Qt.Key.Key_Escape)
    expected = Sheet.model_validate(
        {
            "format": "shopguide-job/1",
            "title": "Pump cover",
            "author": "Ada Hill",
            "date": "2026-03-24",
            "stages": (
                {
                    "title": "Work",
                    "steps": (
                        {
                            "title": "Loosen the pump cover",
                            "tasks": (
                                {
                                    "kind": "open",
                                    "text": "Remove the pump cover.",
                                    "how": "remove",
                                    "item": "pump cover",
                                    "note": "It holds four screws.",
                                },
                            ),
                        },
                        {
                            "title": "Refit the pump cover",
                            "tasks": (
                                {
                                    "kind": "close",
                                    "text": "Refit the pump cover.",
                                    "how": "refit",
                                    "item": "pump cover",
                                },
                            ),
                        },
                    ),
                },
            ),
        }
    )
    assert writer.sheet == expected


def test_undoing_everything_gives_the_bytes_back(writer):
    before = writer.desk.draft.dump()
    test_a_small_sheet_is_built_from_blank_by_keys_alone(writer)
    after = writer.desk.draft.dump()
    assert after != before
    steps = 0
    while writer.desk.draft.undo_words:
        writer.key(Qt.Key.Key_Z, CONTROL)
        steps += 1
        assert steps < 100
    assert writer.desk.draft.dump() == before
    assert steps >= 8
    for _ in range(steps):
        writer.key(Qt.Key.Key_Z, CONTROL | SHIFT)
    assert writer.desk.draft.dump() == after


def test_steps_are_added_moved_doubled_and_taken_out(writer):
    for word in ("Second", "Third"):
        writer.key(Qt.Key.Key_Insert)
        writer.write(word)
        writer.key(Qt.Key.Key_Escape)
    assert titles(writer.sheet) == ["First step", "Second", "Third"]
    writer.key(Qt.Key.Key_Up, ALT)
    assert titles(writer.sheet) == ["First step", "Third", "Second"]
    assert writer.place.bar.after == "Ctrl Z undoes: move of step 3"
    assert writer.place.outline.row.title == "Third"
    writer.key(Qt.Key.Key_D, CONTROL)
    assert titles(writer.sheet) == ["First step", "Third", "Third", "Second"]
    writer.key(Qt.Key.Key_Delete)
    assert titles(writer.sheet) == ["First step", "Third", "Second"]
    writer.key(Qt.Key.Key_Z, CONTROL)
    writer.key(Qt.Key.Key_Z, CONTROL)
    writer.key(Qt.Key.Key_Z, CONTROL)
    assert titles(writer.sheet) == ["First step", "Second", "Third"]


def test_a_step_is_moved_by_dragging_it(writer):
    for word in ("Second", "Third"):
        writer.key(Qt.Key.Key_Insert)
        writer.write(word)
        writer.key(Qt.Key.Key_Escape)
    outline = writer.place.outline
    rows = outline.rows
    number = {row.title: i for i, row in enumerate(rows.rows)}
    box = outline.visualRect(rows.index(number["Third"]))
    target = outline.visualRect(rows.index(number["First step"]))
    view = outline.viewport()
    QTest.mousePress(view, Qt.MouseButton.LeftButton, PLAIN, box.center())
    QTest.mouseMove(view, target.center())
    QTest.mouseMove(view, target.topLeft() + (box.center() - box.topLeft()) / 8)
    assert outline.drop_at == number["First step"]
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton)
    assert titles(writer.sheet) == ["Third", "First step", "Second"]


def test_what_cannot_be_read_is_kept_as_typed_and_marked(writer):
    writer.place.choose(("specs",))
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Return)
    writer.type("cover screws")
    writer.key(Qt.Key.Key_Return)
    writer.place.table.go_to(0, "value")
    writer.type("nine or so")
    writer.key(Qt.Key.Key_Return)
    writer.settle()
    assert writer.desk.data["specs"][0]["value"] == "nine or so"
    assert writer.desk.draft.sheet is None
    assert ("specs", 0, "value") in writer.place.table.rows.told
    writer.place.table.go_to(0, "value")
    assert "nine or so" in writer.place.lists.foot.text()
    assert any(r.severity == "stops work" for r in writer.desk.remarks)
    writer.type("9 Nm")
    writer.key(Qt.Key.Key_Return)
    writer.settle()
    assert writer.sheet.specs[0].value == "9 Nm"
    assert "9 N·m" in writer.place.lists.foot.text()
    assert not writer.place.table.rows.told


def test_a_field_of_a_task_is_marked_where_it_cannot_be_read(writer):
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Tab)
    writer.key(Qt.Key.Key_Tab)
    writer.key(Qt.Key.Key_W)
    writer.settle()
    block = writer.place.card._blocks[0]
    line = next(line for line in block.lines if line.field.key == "spec")
    assert block.kind == "wait" and line.trouble
    assert line.told.text()


def test_renaming_a_spec_changes_every_step(writer, sample):
    writer.take_up(Draft.open((sample / "job.json").read_bytes()))
    writer.place.choose(("specs",))
    writer.key(Qt.Key.Key_Return)
    old = writer.desk.data["specs"][0]["name"]
    uses = [a for a, task in writer.sheet.tasks.items() if old in task.spec_names]
    assert uses
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_A, CONTROL)
    writer.type("sump screws")
    writer.key(Qt.Key.Key_Return)
    sheet = writer.sheet
    assert sheet.specs[0].name == "sump screws"
    assert [a for a, task in sheet.tasks.items() if "sump screws" in task.spec_names] == uses
    assert not any(old in task.spec_names for task in sheet.tasks.values())


@pytest.mark.parametrize("parter", ["\t", ";", ","])
def test_rows_from_a_spreadsheet_are_pasted(writer, parter):
    rows = [["name", "value", "source kind", "source"], ["cover", "9 N·m", "manual", "page 4"],
            ["plug", "25 Nm", "", ""]]  # fmt: skip
    QApplication.clipboard().setText("\n".join(parter.join(row) for row in rows))
    writer.place.choose(("specs",))
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_V, CONTROL)
    assert [(s.name, s.value) for s in writer.sheet.specs] == [
        ("cover", "9 N·m"),
        ("plug", "25 Nm"),
    ]
    assert writer.sheet.specs[0].source.tell() == "manual: page 4"
    writer.settle()
    assert writer.place.table.rows.text(1, 6) == "not known"
    assert writer.place.bar.after == "Ctrl Z undoes: pasting of 2 rows into specs"


def test_pasted_cells_that_cannot_be_read_stay_and_are_told(writer):
    QApplication.clipboard().setText("name\tquantity\ngasket\ttwo\nscrew\t16")
    writer.place.choose(("parts",))
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_V, CONTROL)
    assert writer.desk.data["parts"][0]["quantity"] == "two"
    assert writer.desk.data["parts"][1]["quantity"] == 16
    assert "two" in writer.place.notice.where


def test_a_finding_is_jumped_to_and_its_fix_applied_with_one_key(writer):
    writer.key(Qt.Key.Key_Return)
    writer.write("Remove the cover")
    writer.write("Remove the cover.")
    writer.key(Qt.Key.Key_O)
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Return)
    writer.write("cover")
    writer.key(Qt.Key.Key_Escape)
    writer.settle()
    before = writer.desk.remarks
    (remark,) = [r for r in before if r.fix is not None and r.fix.kind == "add task"]
    writer.key(Qt.Key.Key_F9)
    for _ in range(20):
        if writer.place.findings.remark == remark:
            break
        writer.key(Qt.Key.Key_Down)
    assert remark.fix.says[:20] in writer.place.bar.keys
    writer.key(Qt.Key.Key_F)
    assert any(task.closes == "cover" for task in writer.sheet.tasks.values())
    writer.settle()
    assert remark.sentence not in {r.sentence for r in writer.desk.remarks}
    writer.key(Qt.Key.Key_Z, CONTROL)
    writer.settle()
    assert writer.desk.remarks == before
    writer.key(Qt.Key.Key_Escape)
    writer.key(Qt.Key.Key_F9)
    writer.place.findings.begin()
    writer.key(Qt.Key.Key_Return)
    assert writer.place.card.isAncestorOf(QApplication.focusWidget())


def test_a_hint_is_switched_off_for_the_sheet(writer, sample):
    writer.take_up(Draft.open((sample / "job.json").read_bytes()))
    hint = next(r for r in writer.desk.remarks if r.severity == "hint")
    writer.key(Qt.Key.Key_F9)
    while writer.place.findings.remark != hint:
        writer.key(Qt.Key.Key_Down)
    writer.key(Qt.Key.Key_H)
    assert hint.rule in writer.sheet.hints_off
    writer.settle()
    assert hint.rule not in {r.rule for r in writer.desk.remarks}


def test_saving_is_asked_for_a_place_and_then_goes_there(writer, tmp_path):
    folder = tmp_path / "Pump cover"
    writer.place.choose_folder = lambda title: str(folder)
    assert not writer.desk.is_saved
    assert "not saved" in writer.frame.windowTitle()
    with writer.qtbot.waitSignal(writer.desk.saved, timeout=PATIENCE_MS):
        writer.key(Qt.Key.Key_S, CONTROL)
    assert load_sheet(folder).sheet == writer.sheet
    assert writer.desk.is_saved and "not saved" not in writer.frame.windowTitle()
    writer.key(Qt.Key.Key_Return)
    writer.write("Another title")
    assert "not saved" in writer.frame.windowTitle()
    saved = (folder / "job.json").read_bytes()
    writer.desk.put_aside()
    writer.settle()
    assert (folder / "job.json").read_bytes() == saved
    with writer.qtbot.waitSignal(writer.desk.saved, timeout=PATIENCE_MS):
        writer.key(Qt.Key.Key_S, CONTROL)
    assert load_sheet(folder).sheet.steps[0].step.title == "Another title"


def test_a_half_finished_sheet_is_saved_as_typed_and_opened_again(writer, tmp_path):
    folder = tmp_path / "half"
    writer.place.choose_folder = lambda title: str(folder)
    writer.key(Qt.Key.Key_Return)
    writer.write("Drain it")
    writer.write("Drain the oil.")
    writer.key(Qt.Key.Key_D)
    with writer.qtbot.waitSignal(writer.desk.saved, timeout=PATIENCE_MS):
        writer.key(Qt.Key.Key_S, CONTROL)
    assert writer.desk.draft.sheet is None
    held = json.loads((folder / "job.json").read_bytes())
    assert held["stages"][0]["steps"][0]["tasks"][0] == {"kind": "drain", "text": "Drain the oil."}
    before = writer.desk
    writer.frame.opening.open_sheet(folder)
    writer.qtbot.waitUntil(lambda: writer.desk is not before, timeout=PATIENCE_MS)
    assert writer.desk.data == held


def test_a_full_disk_leaves_what_was_saved_whole(writer, tmp_path, monkeypatch):
    import errno
    import os

    folder = tmp_path / "kept"
    save_sheet(writer.sheet, folder)
    writer.take_up(Draft.open((folder / "job.json").read_bytes()), folder)
    saved = (folder / "job.json").read_bytes()
    writer.key(Qt.Key.Key_Return)
    writer.write("Changed")

    def refuse(*_: object) -> int:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "write", refuse)
        with writer.qtbot.waitSignal(writer.desk.failed, timeout=PATIENCE_MS):
            writer.key(Qt.Key.Key_S, CONTROL)
    assert (folder / "job.json").read_bytes() == saved
    assert "disk is full" in writer.place.notice.what
    assert not writer.desk.is_saved


def test_pictures_are_added_to_a_step_once(writer, tmp_path):
    from PIL import Image

    one, same = tmp_path / "Camera 1.jpg", tmp_path / "other.jpg"
    Image.new("RGB", (1600, 1200), (120, 110, 90)).save(one)
    same.write_bytes(one.read_bytes())
    for path in (one, one, same):
        writer.place.photos.add([str(path)])
        writer.qtbot.waitUntil(lambda: writer.place.errand is None, timeout=PATIENCE_MS)
    photos = writer.sheet.steps[0].step.photos
    assert [p.file for p in photos] == ["Camera_1.jpg"]
    folder = tmp_path / "with picture"
    writer.place.choose_folder = lambda title: str(folder)
    with writer.qtbot.waitSignal(writer.desk.saved, timeout=PATIENCE_MS):
        writer.place.save()
    assert load_sheet(folder).names() == ("Camera_1.jpg",)
    assert writer.desk.read_photo("Camera_1.jpg")


def test_everything_that_takes_the_keys_has_a_name(writer, sample):
    writer.take_up(Draft.open((sample / "job.json").read_bytes()))
    for path in (find_step(writer.desk.data, 24), ("specs",), ("sheet",), ("cautions",)):
        writer.place.choose(path)
        writer.place.enter()
        QApplication.processEvents()
        nameless = []
        for widget in writer.place.findChildren(QWidget):
            if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or not widget.isVisible():
                continue
            face = QAccessible.queryAccessibleInterface(widget)
            if face is None or not face.text(QAccessible.Text.Name).strip():
                nameless.append(f"{type(widget).__name__} at {path}")
        assert nameless == []


def test_the_review_of_a_step_left_alone_does_not_wait_for_the_window(writer):
    """What is typed is counted as one edit after a pause, without leaving the field."""
    writer.key(Qt.Key.Key_Return)
    writer.type("Check it")
    assert writer.sheet.steps[0].step.title != "Check it"
    text = QApplication.focusWidget()
    assert isinstance(text, WriteText)
    writer.qtbot.waitUntil(
        lambda: writer.sheet.steps[0].step.title == "Check it", timeout=PATIENCE_MS
    )
    assert QApplication.focusWidget() is text


def test_the_review_waits_for_a_pause_after_every_change(writer):
    for text in ("One", "Two"):
        assert writer.desk.apply(SetValue(("title",), text))
        # Not at every letter, however often it has looked.
        assert writer.desk._review_soon.isActive()
        assert writer.desk._review_soon.interval() == REVIEW_MS
        writer.settle()


def test_cautions_are_written_and_shown_as_work_shows_them(writer):
    writer.place.choose(("cautions",))
    writer.key(Qt.Key.Key_Return)
    for cell in ("danger", "Hot oil.", "It burns.", "Let it cool.", "yes"):
        writer.type(cell)
        writer.key(Qt.Key.Key_Return)
        writer.key(Qt.Key.Key_Right)
    (caution,) = writer.sheet.cautions
    assert caution.signal == "DANGER" and caution.acknowledge
    assert (caution.hazard, caution.consequence, caution.avoid) == (
        "Hot oil.",
        "It burns.",
        "Let it cool.",
    )
    face = writer.place.lists.face
    assert face is not None and face.caution == caution and face.isVisible()
    writer.key(Qt.Key.Key_Down)
    assert writer.place.lists.face is None, "a row to be written has none yet"


def test_cautions_are_pasted_from_a_spreadsheet(writer):
    writer.place.choose(("cautions",))
    writer.key(Qt.Key.Key_Return)
    QApplication.clipboard().setText(
        "signal word\thazard\tconsequence\tavoid\tto be read\n"
        "Warning\tA car on stands can fall.\tIt crushes.\tPut it on level ground.\tyes\n"
        "NOTICE\tThe flange is soft.\tIt bends.\tUse no lever.\tno\n"
        "beware\tFumes.\tThey make drowsy.\tOpen the door.\tperhaps\n"
    )
    writer.key(Qt.Key.Key_V, CONTROL)
    writer.settle()
    held = writer.desk.data["cautions"]
    assert [one["signal"] for one in held] == ["WARNING", "NOTICE", "beware"]
    assert held[0]["acknowledge"] is True and "acknowledge" not in held[1]
    assert held[2]["acknowledge"] == "perhaps", "what cannot be read stays as it was pasted"
    told = writer.place.table.rows.told
    assert {("cautions", 2, "signal"), ("cautions", 2, "acknowledge")} <= set(told)
    writer.key(Qt.Key.Key_Z, CONTROL)
    assert "cautions" not in writer.desk.data or not writer.desk.data["cautions"]


Opened = Callable[[Path], None]


@pytest.fixture
def open_written(writer) -> Opened:
    """Opens a saved sheet in Write from the Shelf's side."""

    def open_it(folder: Path) -> None:
        before = writer.desk
        writer.frame.opening.open_sheet(folder)
        writer.qtbot.waitUntil(lambda: writer.desk is not before, timeout=PATIENCE_MS)

    return open_it


def test_a_draft_is_offered_after_a_crash(writer, open_written, tmp_path, qtbot):
    folder = tmp_path / "sheet"
    save_sheet(writer.sheet, folder)
    open_written(folder)
    saved = (folder / "job.json").read_bytes()
    writer.key(Qt.Key.Key_Return)
    writer.write("Written before the crash")
    writer.desk.put_aside()
    writer.settle()
    # The program dies: nothing of what closing does is done.
    crashed = writer.desk
    crashed._closed = True
    crashed._hold.drop()
    writer.place.writing = None
    assert (folder / "job.json").read_bytes() == saved
    open_written(folder)
    assert writer.place.ask.is_open
    assert "put aside" in writer.place.ask.question.text()
    writer.key(Qt.Key.Key_Return)
    assert writer.sheet.steps[0].step.title == "Written before the crash"
    assert not writer.desk.is_saved
    writer.key(Qt.Key.Key_Z, CONTROL)
    assert writer.desk.draft.dump() == saved
    crashed._pool.shutdown()


def test_a_draft_that_is_not_wanted_is_left(writer, open_written, tmp_path):
    folder = tmp_path / "sheet"
    save_sheet(writer.sheet, folder)
    open_written(folder)
    writer.key(Qt.Key.Key_Return)
    writer.write("Not wanted")
    writer.place.close_desk()
    open_written(folder)
    assert writer.place.ask.is_open
    writer.key(Qt.Key.Key_Escape)
    assert writer.sheet.steps[0].step.title == "First step"
    assert not writer.place.ask.is_open
    open_written(folder)
    assert not writer.place.ask.is_open


def test_leaving_the_window_puts_the_draft_aside(writer, user_home):
    writer.key(Qt.Key.Key_Return)
    writer.type("Half a ti")
    writer.place._look_away(Qt.ApplicationState.ApplicationInactive)
    writer.settle()
    (aside,) = (user_home / "drafts").glob("*.draft.json")
    assert "Half a ti" in aside.read_text("utf-8")


KEYS = (
    (Qt.Key.Key_Down, PLAIN),
    (Qt.Key.Key_Down, PLAIN),
    (Qt.Key.Key_Up, PLAIN),
    (Qt.Key.Key_Tab, PLAIN),
    (Qt.Key.Key_Tab, PLAIN),
    (Qt.Key.Key_Return, PLAIN),
    (Qt.Key.Key_Return, PLAIN),
    (Qt.Key.Key_Escape, PLAIN),
    (Qt.Key.Key_Insert, PLAIN),
    (Qt.Key.Key_Insert, SHIFT),
    (Qt.Key.Key_Delete, PLAIN),
    (Qt.Key.Key_Delete, CONTROL),
    (Qt.Key.Key_D, CONTROL),
    (Qt.Key.Key_J, CONTROL),
    (Qt.Key.Key_Return, CONTROL),
    (Qt.Key.Key_Up, ALT),
    (Qt.Key.Key_Down, ALT),
    (Qt.Key.Key_PageDown, PLAIN),
    (Qt.Key.Key_Right, PLAIN),
    (Qt.Key.Key_Left, PLAIN),
    (Qt.Key.Key_Space, PLAIN),
    (Qt.Key.Key_O, PLAIN),
    (Qt.Key.Key_T, PLAIN),
    (Qt.Key.Key_9, PLAIN),
    (Qt.Key.Key_F9, PLAIN),
    (Qt.Key.Key_F, PLAIN),
    (Qt.Key.Key_H, PLAIN),
    (Qt.Key.Key_B, PLAIN),
    (Qt.Key.Key_Home, PLAIN),
    (Qt.Key.Key_End, PLAIN),
    (Qt.Key.Key_V, CONTROL),
    (Qt.Key.Key_M, CONTROL),
    (Qt.Key.Key_Return, SHIFT),
    (Qt.Key.Key_Z, CONTROL),
    (Qt.Key.Key_Z, CONTROL | SHIFT),
)


@pytest.mark.parametrize("seed", range(2))
def test_whatever_keys_are_pressed_undo_gives_the_bytes_back(writer, sample, seed):
    """500 random keys; the photo dialog is never answered."""
    chance = random.Random(seed)
    if seed % 2:
        writer.take_up(Draft.open((sample / "job.json").read_bytes()))
    writer.place.choose_photos = lambda _: []
    writer.place.choose_photo_folder = lambda: ""
    QApplication.clipboard().setText("name\tvalue\nplug\t25 N·m\n;;odd")
    before = writer.desk.draft.dump()
    for _ in range(500):
        key, held = chance.choice(KEYS)
        widget = QApplication.focusWidget() or writer.place
        QTest.keyClick(widget, key, held)
        QApplication.processEvents()
        if writer.frame.place is not writer.place:
            writer.frame.go("write")
    if writer.place.board is not None:
        writer.key(Qt.Key.Key_Escape)
    writer.settle()
    words = 0
    while writer.desk.draft.undo_words:
        writer.place.undo()
        words += 1
        assert words < 1000
    assert words >= 20
    assert writer.desk.draft.dump() == before


def test_a_pattern_is_placed_and_renamed_wherever_it_is_named(writer, sample):
    writer.take_up(Draft.open((sample / "job.json").read_bytes()), sample)
    place = writer.place
    name = writer.sheet.patterns[0].name
    uses = [a for a, t in writer.sheet.tasks.items() if getattr(t, "pattern", None) == name]
    assert uses
    place.choose(("patterns",))
    writer.key(Qt.Key.Key_Return)
    assert writer.bar.startswith(f"Enter opens: {writer.sheet.patterns[0].title}")
    writer.key(Qt.Key.Key_Return)
    writer.qtbot.waitUntil(lambda: place.board is not None, timeout=PATIENCE_MS)
    pattern = writer.sheet.patterns[0].model_copy(update={"name": "sump", "title": "Sump"})
    place.board.kept.emit(pattern)
    place.board.close_board()
    sheet = writer.sheet
    assert sheet.patterns[0] == pattern
    assert [a for a, t in sheet.tasks.items() if getattr(t, "pattern", None) == "sump"] == uses
    assert place.bar.after == "Ctrl Z undoes: change of pattern 'sump'"


def test_a_new_pattern_stands_in_the_sheet(writer, sample):
    place = writer.place
    place.choose(("patterns",))
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Return)
    assert place.board is not None
    pattern = load_sheet(sample).sheet.patterns[1].model_copy(update={"photo": None})
    place.board.kept.emit(pattern)
    place.board.close_board()
    assert writer.sheet.patterns == (pattern,)
    place.choose(("patterns",))
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Delete, CONTROL)
    assert writer.sheet.patterns == ()


def test_a_step_is_split_before_a_task_and_joined_again(writer):
    writer.key(Qt.Key.Key_Return)
    writer.key(Qt.Key.Key_Tab)
    writer.key(Qt.Key.Key_Insert)
    writer.write("The second task.")
    whole = writer.sheet
    assert [len(p.step.tasks) for p in whole.steps] == [2]
    writer.place.card.go_to(("stages", 0, "steps", 0, "tasks", 1, "text"))
    writer.key(Qt.Key.Key_Return, CONTROL)
    assert [len(p.step.tasks) for p in writer.sheet.steps] == [1, 1]
    writer.choose(1)
    writer.key(Qt.Key.Key_J, CONTROL)
    assert writer.sheet == whole


def test_the_forecast_is_reached_from_a_patterns_line(writer, sample):
    writer.take_up(Draft.open((sample / "job.json").read_bytes()), sample)
    place = writer.place
    place.choose(("patterns",))
    writer.key(Qt.Key.Key_Return)
    assert place.pattern_in_use() == 0
    writer.key(Qt.Key.Key_E, Qt.KeyboardModifier.ControlModifier)
    board = place.board
    writer.qtbot.waitUntil(lambda: board.forecast is not None, timeout=30_000)
    assert board.forecast.pattern == writer.sheet.patterns[0]
    board.close_board()
    assert place.board is None


def test_the_keys_of_a_pattern_are_shown_and_the_board_comes_back(writer):
    place = writer.place
    place.patterns.begin()
    board = place.board
    QTest.keyClick(board, Qt.Key.Key_Insert)
    QTest.keyClick(board, Qt.Key.Key_F1)
    assert place.board is not board and place.board.accessibleName() == "Keys of a pattern"
    QTest.keyClick(place.board, Qt.Key.Key_Escape)
    assert place.board is board and len(board.draft.fasteners) == 1
    assert QApplication.focusWidget() is board
    place.leave()
    assert place.board is None


def test_a_new_pattern_that_is_left_is_told_to_be_nowhere(writer):
    place = writer.place
    before = writer.desk.draft.dump()
    place.patterns.begin()
    QTest.keyClick(place.board, Qt.Key.Key_Escape)
    assert place.notice.what == "Nothing was kept: no pattern was added."
    assert writer.desk.draft.dump() == before
    place.patterns.begin()
    QTest.keyClick(place.board, Qt.Key.Key_Insert)
    place.board.press()
    assert place.board is None and place.notice.isHidden()
    assert writer.desk.draft.dump() != before


def test_beside_undo_redo_says_its_key_alone(writer):
    place = writer.place
    for title in ("One", "Two"):
        place.apply(SetValue(("title",), title))
    assert place.bar.back == ""
    place.undo()
    assert place.bar.after.startswith("Ctrl Z undoes: ")
    assert place.bar.back == "Ctrl Shift Z redoes"
    place.choose(("stages", 0, "steps", 0))
    assert "Del takes it out" in place.bar.keys and writer.frame.width() == 1366
    words = [one.words for one in place.bar.list_keys()]
    assert place.bar.after in words and place.bar.back in words, "neither is cut"
    place.undo()
    assert place.bar.after == "" and place.bar.back.startswith("Ctrl Shift Z redoes: ")


def test_a_picture_of_a_pattern_is_asked_for_as_such(writer):
    asked = []
    writer.place.choose_photos = lambda title: asked.append(title) or []
    writer.place.steps.do(("patterns",), "add pattern on photo")
    assert asked == ["A picture of the part"]
