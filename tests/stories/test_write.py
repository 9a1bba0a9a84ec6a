"""A mechanic writes the sheet of their own repair in an evening, works from it, changes it."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.files import load_sheet
from shopguide.review.findings import stops_work
from shopguide.window.frame import Frame
from shopguide.window.shelf_place import ROW

PATIENCE_MS = 30_000
PLAIN, CONTROL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier
SPECS = """name\tvalue\ttolerance\tsource kind\tsource
pump screws\t9 N·m\t±1 N·m\tmanual\tpage 4
pump oil\t0.6 L\t\tlabel\ton the lid
"""


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
    widget = QApplication.focusWidget()
    assert widget is not None
    QTest.keyClick(widget, key, held)
    for _ in range(3):
        QApplication.processEvents()


def write(text: str) -> None:
    """Writes over what stands in the field, and goes on."""
    press(Qt.Key.Key_A, CONTROL)
    for letter in text:
        QTest.keyClicks(QApplication.focusWidget(), letter)
    press(Qt.Key.Key_Tab)


def go_to_row(frame: Frame, title: str) -> None:
    """Up and down the list at the left to a row."""
    outline = frame.write.outline
    if not outline.hasFocus():
        press(Qt.Key.Key_Escape)
    wanted = [i for i, row in enumerate(outline.rows.rows) if row.title == title]
    assert wanted, title
    for _ in range(200):
        at = outline.currentIndex().row()
        if at == wanted[0]:
            return
        press(Qt.Key.Key_Down if at < wanted[0] else Qt.Key.Key_Up)
    raise AssertionError(f"{title} is not reached")


def settle(qtbot, frame: Frame) -> None:
    desk = frame.write.writing
    qtbot.waitUntil(lambda: not desk.busy and desk.reviewed_data is desk.data, timeout=PATIENCE_MS)


def begin_new(qtbot, frame: Frame, down: int, title: str) -> None:
    """N on the Shelf, one of the ways to begin, title and author."""
    qtbot.waitUntil(lambda: frame.shelf.row() is not None, timeout=PATIENCE_MS)
    press(Qt.Key.Key_N)
    qtbot.waitUntil(lambda: frame.shelf.board is not None, timeout=PATIENCE_MS)
    for _ in range(down):
        press(Qt.Key.Key_Down)
    press(Qt.Key.Key_Return)
    for text in (title, "Ada Hill"):
        assert frame.shelf.ask.is_open
        press(Qt.Key.Key_A, CONTROL)
        QTest.keyClicks(QApplication.focusWidget(), text)
        press(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: frame.place.name == "write", timeout=PATIENCE_MS)
    settle(qtbot, frame)


def save(qtbot, frame: Frame) -> None:
    with qtbot.waitSignal(frame.write.writing.saved, timeout=PATIENCE_MS):
        press(Qt.Key.Key_S, CONTROL)


def add_task(kind_keys: str, text: str, *fields: str) -> None:
    """Fills in the task whose text has the keys."""
    write(text)
    for letter in kind_keys:
        QTest.keyClicks(QApplication.focusWidget(), letter)
    press(Qt.Key.Key_Tab)
    for field in fields:
        if field:
            write(field)
        else:
            press(Qt.Key.Key_Tab)


@pytest.fixture
def evening(qtbot, frame, tmp_path) -> tuple[Frame, Path]:
    """A sheet written by keys from blank, its specs pasted, its putting back proposed."""
    folder = tmp_path / "Pump"
    begin_new(qtbot, frame, 0, "Oil pump cover of a compressor")
    frame.write.choose_folder = lambda title: str(folder)
    go_to_row(frame, "Specs")
    press(Qt.Key.Key_Return)
    QApplication.clipboard().setText(SPECS)
    press(Qt.Key.Key_V, CONTROL)
    go_to_row(frame, "Fluids")
    press(Qt.Key.Key_Return)
    for cell in ("pump oil", "ISO VG 100", "pump oil"):
        QTest.keyClicks(QApplication.focusWidget(), cell[0])
        QTest.keyClicks(QApplication.focusWidget(), cell[1:])
        press(Qt.Key.Key_Return)
        press(Qt.Key.Key_Right)
    go_to_row(frame, "First step")
    press(Qt.Key.Key_Return)
    write("Drain the oil")
    add_task("d", "Drain the oil.", "pump oil", "", "drain hole")
    press(Qt.Key.Key_Escape)
    press(Qt.Key.Key_Insert)
    write("Remove the cover")
    add_task("o", "Remove the pump screws.", "", "pump screws")
    press(Qt.Key.Key_Escape)
    settle(qtbot, frame)
    press(Qt.Key.Key_B)
    qtbot.waitUntil(lambda: frame.write.board is not None, timeout=PATIENCE_MS)
    press(Qt.Key.Key_Return)
    settle(qtbot, frame)
    save(qtbot, frame)
    return frame, folder


def test_a_sheet_is_written_in_an_evening_and_nothing_is_forgotten(evening):
    _, folder = evening
    sheet = load_sheet(folder).sheet
    assert sheet.title == "Oil pump cover of a compressor" and sheet.author == "Ada Hill"
    assert [(s.name, s.value, s.source.tell()) for s in sheet.specs] == [
        ("pump screws", "9 N·m", "manual: page 4"),
        ("pump oil", "0.6 L", "label: on the lid"),
    ]
    assert (sheet.fluids[0].name, sheet.fluids[0].spec) == ("pump oil", "pump oil")
    opened = {task.opens for task in sheet.tasks.values() if task.opens}
    closed = {task.closes for task in sheet.tasks.values() if task.closes}
    assert opened == {"drain hole", "pump screws"} and closed == opened
    assert any(task.kind == "fill" for task in sheet.tasks.values())
    assert stops_work(sheet) == ()


def test_what_was_written_is_worked_from_and_changed_again(qtbot, evening):
    frame, folder = evening
    press(Qt.Key.Key_F3)
    qtbot.waitUntil(lambda: frame.place.name == "lay out", timeout=PATIENCE_MS)
    assert frame.desk.sheet == load_sheet(folder).sheet
    press(Qt.Key.Key_F5)
    assert frame.place.name == "write"
    go_to_row(frame, "Remove the cover")
    press(Qt.Key.Key_Return)
    write("Take the cover off")
    press(Qt.Key.Key_Escape)
    # Work goes by what is saved, and says so.
    before = frame.desk
    press(Qt.Key.Key_F3)
    assert frame.place.name == "write" and "Ctrl S" in frame.write.notice.next
    save(qtbot, frame)
    press(Qt.Key.Key_F3)
    qtbot.waitUntil(
        lambda: frame.place.name == "lay out" and frame.desk is not before, timeout=PATIENCE_MS
    )
    assert "Take the cover off" in [place.step.title for place in frame.desk.sheet.steps]


def test_the_shelf_opens_a_saved_sheet_in_write(qtbot, evening):
    frame, folder = evening
    press(Qt.Key.Key_F2)
    rows = frame.shelf.list
    wanted = folder.absolute()

    def list_paths() -> list[Path | None]:
        held = [rows.item(i).data(ROW) for i in range(rows.count())]
        return [row.path if row is not None else None for row in held]

    qtbot.waitUntil(lambda: wanted in list_paths(), timeout=PATIENCE_MS)
    before = frame.write.writing
    for _ in range(20):
        if frame.shelf.row().path == wanted:
            break
        press(Qt.Key.Key_Down if rows.currentRow() < list_paths().index(wanted) else Qt.Key.Key_Up)
    assert frame.shelf.row().path == wanted
    assert "E writes in it" in frame.shelf.bar.keys
    press(Qt.Key.Key_E)
    qtbot.waitUntil(
        lambda: frame.place.name == "write" and frame.write.writing is not before,
        timeout=PATIENCE_MS,
    )
    assert frame.write.writing.folder == folder
    assert not frame.write.ask.is_open


def test_a_sample_is_written_in_as_a_copy(qtbot, frame, sample):
    before = (sample / "job.json").read_bytes()
    frame.opening.open_sheet(sample)
    qtbot.waitUntil(lambda: frame.place.name == "write", timeout=PATIENCE_MS)
    assert "copy of the sample" in frame.write.notice.what
    assert frame.write.writing.folder is None
    press(Qt.Key.Key_Return)
    write("Changed")
    frame.write.choose_folder = lambda title: ""
    press(Qt.Key.Key_S, CONTROL)
    assert (sample / "job.json").read_bytes() == before


def test_a_sheet_from_a_sample_has_its_pictures(qtbot, frame, tmp_path, sample):
    folder = tmp_path / "Mine"
    begin_new(qtbot, frame, 4, "My own gearbox")
    frame.write.choose_folder = lambda title: str(folder)
    save(qtbot, frame)
    mine, theirs = load_sheet(folder), load_sheet(sample)
    assert mine.sheet.title == "My own gearbox" and mine.sheet.revision == "1"
    assert mine.sheet.stages == theirs.sheet.stages
    assert mine.names() == theirs.names()
    name = mine.names()[0]
    assert mine.photo_bytes(name) == theirs.photo_bytes(name)


def test_a_draft_that_was_never_saved_is_offered_among_the_new_sheets(qtbot, frame, user_home):
    begin_new(qtbot, frame, 1, "Never saved")
    press(Qt.Key.Key_Return)
    write("Half of it")
    frame.write.writing.put_aside()
    settle(qtbot, frame)
    assert list((user_home / "drafts").glob("new-*.draft.json"))
    # The window dies here, and with it its right to the draft; another one is opened.
    frame.write.writing._hold.drop()
    second = Frame()
    qtbot.addWidget(second)
    second.resize(1366, 768)
    second.show()
    second.activateWindow()
    second.shelf.list.setFocus()
    qtbot.waitUntil(lambda: second.shelf.row() is not None, timeout=PATIENCE_MS)
    QTest.keyClick(second.shelf.list, Qt.Key.Key_N)
    qtbot.waitUntil(lambda: second.shelf.board is not None, timeout=PATIENCE_MS)
    board = second.shelf.board
    assert board.rows[0].sort == "draft" and board.rows[0].title == "Never saved"
    QTest.keyClick(board, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: second.place.name == "write", timeout=PATIENCE_MS)
    titles = [place.step.title for place in second.write.writing.draft.sheet.steps]
    assert "Half of it" in titles
    second.close()
