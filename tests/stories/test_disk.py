"""The disk is full, read-only or gone: it is said, nothing is shown as done, nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from shopguide import places
from shopguide.record.file import RecordFile, verify_record
from shopguide.record.schema import make_schema

SMALL_COVER = Path(__file__).parent / "small_cover"
ROOM_PAGES = 1_000_000


class Disk:
    """The room that the open record has: none, or plenty. SQLite says the same of a full disk."""

    def __init__(self, person) -> None:
        self.person = person

    def ask(self, words: str):
        """One word with SQLite on the record's own connection."""
        return self.person.frame.desk.record_file._connection.execute(words).fetchone()

    def fill(self) -> None:
        (pages,) = self.ask("PRAGMA page_count")
        self.ask(f"PRAGMA max_page_count = {pages}")

    def free(self) -> None:
        self.ask(f"PRAGMA max_page_count = {ROOM_PAGES}")


def wait_for_trouble(person) -> None:
    person.qtbot.waitUntil(lambda: person.frame.desk.trouble is not None)


def press_until_full(person) -> None:
    """Presses Space for screw after screw, until one of them finds no room."""
    desk = person.frame.desk
    for _ in range(40):
        person.key(Qt.Key.Key_Space)
        person.qtbot.waitUntil(lambda: not desk.waiting or desk.trouble is not None)
        if desk.trouble is not None:
            return
    raise AssertionError("the disk did not become full")


def read_marks(events) -> list[tuple[int, int]]:
    return [(e.data["pass"], e.data["fastener"]) for e in events if e.kind == "mark"]


def drawn(person) -> object:
    """What the diagram shows: every shape of it."""
    drawing = person.frame.work.diagram.drawing()
    assert drawing is not None and drawing.shapes
    return drawing.shapes


@pytest.fixture
def at_screws(person):
    """The person stands before screw 4 of the small cover; the record holds the three before."""
    person.open(SMALL_COVER)
    person.key(Qt.Key.Key_F4)
    person.settle()
    person.work_until(lambda due: due.act == "mark" and len(due.trip.marked) == 3)
    # An automatic try in the middle of a check would only blur what the keys do.
    person.frame.desk._retry.setInterval(600_000)
    return person


def test_a_full_disk_shows_no_mark_and_records_it_once_when_space_returns(at_screws):
    person, disk = at_screws, Disk(at_screws)
    frame, desk = person.frame, person.frame.desk
    disk.fill()
    press_until_full(person)
    due, events, shapes = person.due, len(desk.progress.events), drawn(person)
    marks = read_marks(desk.progress.events)
    assert due.fastener is not None and (1, due.fastener) not in marks
    assert not frame.work.diagram._states[due.fastener].done
    assert frame.work.diagram._states[due.fastener].due
    assert person.bar == "Not on disk yet: the disk is full."
    assert frame.work.bar.after == "Space tries again"
    assert person.notice == (
        f"This is not on disk yet: the disk is full. {desk.path} "
        "Free some space; it is written as soon as there is room."
    )

    # Space tries again: still no room, and still nothing is shown.
    with person.qtbot.waitSignal(desk.failed):
        person.key(Qt.Key.Key_Space)
    # Neither taking back, nor another screw, a note, a reason gets in between.
    for key in (Qt.Key.Key_Backspace, Qt.Key.Key_O, Qt.Key.Key_N, Qt.Key.Key_S, Qt.Key.Key_T):
        person.key(key)
        assert not frame.work.ask.is_open
    _, x, y, _ = find_hit(frame, 9)
    spot = QPoint(round(x * frame.factor), round((y + 40) * frame.factor))
    QTest.mouseClick(frame.work.diagram, Qt.MouseButton.LeftButton, pos=spot)
    assert desk.waiting == 1 and len(desk.progress.events) == events == len(person.events)
    assert drawn(person) == shapes
    assert person.due == due

    disk.free()
    person.record()
    assert desk.trouble is None and person.notice == ""
    assert read_marks(person.events) == [*marks, (1, due.fastener)]
    assert person.bar.startswith("Space records: screw ")
    assert drawn(person) != shapes
    person.record(Qt.Key.Key_Backspace)
    assert person.events[-1].kind == "withdrawn"


def find_hit(frame, number: int) -> tuple[int, float, float, float]:
    return next(hit for hit in frame.work.diagram.drawing().hits if hit[0] == number)


def test_it_is_tried_again_without_a_key(at_screws):
    person, disk = at_screws, Disk(at_screws)
    desk = person.frame.desk
    desk._retry.setInterval(20)
    disk.fill()
    press_until_full(person)
    before = len(person.events)
    with person.qtbot.waitSignals([desk.failed, desk.failed, desk.failed]):
        pass
    with person.qtbot.waitSignal(desk.changed):
        disk.free()
    assert len(person.events) == before + 1
    assert person.notice == ""


def test_closing_meanwhile_asks_before_anything_is_lost(at_screws):
    person, disk = at_screws, Disk(at_screws)
    frame, desk = person.frame, person.frame.desk
    disk.fill()
    press_until_full(person)
    path, events = desk.path, person.events
    frame.close()
    ask = frame.work.ask
    assert frame.isVisible() and ask.is_open
    assert ask.question.text().startswith(
        "One entry is not on disk yet. This is not on disk yet: the disk is full."
    )
    QTest.keyClicks(ask.entry, "yes")
    QTest.keyClick(ask.entry, Qt.Key.Key_Return)
    assert frame.isVisible() and ask.is_open and desk.waiting == 1
    QTest.keyClick(ask.entry, Qt.Key.Key_Escape)
    assert not ask.is_open and desk.waiting == 1 and person.bar.startswith("Not on disk yet")

    frame.close()
    ask.entry.clear()
    QTest.keyClicks(ask.entry, "lose")
    QTest.keyClick(ask.entry, Qt.Key.Key_Return)
    assert not frame.isVisible()
    with RecordFile.open(path) as record:
        there = record.events()
    assert there[: len(events)] == events
    assert read_marks(there) == read_marks(events), "only what was never shown is lost"


def test_closing_once_there_is_room_again_loses_nothing(at_screws):
    person, disk = at_screws, Disk(at_screws)
    disk.fill()
    press_until_full(person)
    path, marks, due = person.frame.desk.path, read_marks(person.events), person.due
    disk.free()
    person.frame.close()
    assert not person.frame.isVisible()
    with RecordFile.open(path) as record:
        assert read_marks(record.events()) == [*marks, (1, due.fastener)]
        assert record.events()[-1].kind == "paused"


def test_another_job_is_not_opened_over_what_is_not_on_disk(at_screws):
    person, disk = at_screws, Disk(at_screws)
    desk = person.frame.desk
    disk.fill()
    press_until_full(person)
    person.frame.open_path(SMALL_COVER)
    assert person.frame.desk is desk and person.frame.work.ask.is_open
    before = len(person.events)
    disk.free()
    QTest.keyClick(person.frame.work.ask.entry, Qt.Key.Key_Escape)
    person.record()
    assert len(person.events) == before + 1


def test_a_read_only_record_is_told_and_the_mark_comes_later(at_screws):
    person, disk = at_screws, Disk(at_screws)
    desk, due, marks = person.frame.desk, person.due, read_marks(person.events)
    disk.ask("PRAGMA query_only = ON")
    person.key(Qt.Key.Key_Space)
    wait_for_trouble(person)
    assert person.bar == "Not on disk yet: the record's file or folder is read-only."
    assert "Allow writing there" in person.notice
    assert read_marks(desk.progress.events) == marks and person.due == due
    disk.ask("PRAGMA query_only = OFF")
    person.record()
    assert read_marks(person.events) == [*marks, (1, due.fastener)]


@pytest.mark.parametrize("way", ["moved", "replaced"])
def test_a_record_file_that_is_taken_away_is_told(at_screws, tmp_path, way):
    person = at_screws
    path, due, marks = person.frame.desk.path, person.due, read_marks(person.events)
    away = path.with_name("elsewhere")
    path.rename(away)
    if way == "replaced":
        path.write_bytes(b"another file")
    person.key(Qt.Key.Key_Space)
    wait_for_trouble(person)
    assert person.bar == f"Not on disk yet: {path.name} was moved, deleted or replaced."
    assert str(path) in person.notice and "Put it back where it was" in person.notice
    assert person.due == due and read_marks(person.frame.desk.progress.events) == marks
    if way == "replaced":
        assert path.read_bytes() == b"another file", "it is left as it is"
    away.replace(path)
    person.record()
    person.frame.go("shelf")
    person.frame.close_desk()
    assert verify_record(path).good
    with RecordFile.open(path) as record:
        assert read_marks(record.events()) == [*marks, (1, due.fastener)]


def test_no_folder_for_records_at_the_first_event_loses_nothing_typed(person):
    records = places.user_folder() / "records"
    if records.exists():
        records.rmdir()  # the shelf has looked into it
    records.write_text("a file where the folder should be")
    person.open(SMALL_COVER)
    desk, lay_out = person.frame.desk, person.frame.lay_out
    desk._retry.setInterval(20)
    typed = {"make": "Corvane", "model": "Tarn 260", "year": "2014"}
    for text in typed.values():
        QTest.keyClicks(person.focus(), text)
        QTest.keyClick(person.focus(), Qt.Key.Key_Return)
    wait_for_trouble(person)
    notice = lay_out.notice
    assert notice.what.startswith("The folder for your records cannot be used")
    assert notice.where == str(records)
    assert notice.next.startswith("Free the place or its rights")
    assert person.bar == f"Not on disk yet. {notice.what}"
    assert desk.record_file is None and not desk.progress.laid_out
    assert {key: lay_out.fields[key].entry.text() for key in typed} == typed
    # The line that is being typed stays with the person while the others go to disk.
    QTest.keyClicks(person.focus(), "1M8GD")
    records.unlink()
    person.settle()
    assert person.notice == ""
    assert {
        e.data["field"]: e.data["value"] for e in person.events if e.kind == "laid out"
    } == typed
    assert lay_out.fields["vin"].entry.text() == "1M8GD"
    assert {key: lay_out.fields[key].entry.text() for key in typed} == typed
    person.frame.close()
    path = next(places.records_folder().glob("*.shopguide"))
    with RecordFile.open(path) as record:
        kept = {e.data["field"]: e.data["value"] for e in record.events() if e.kind == "laid out"}
    assert kept == {**typed, "vin": "1M8GD"}, "what was being typed is kept on closing"


def test_what_is_still_on_its_way_when_the_window_closes_is_written(person):
    """Making a record with photos takes seconds; a person types and closes within them."""
    person.open(SMALL_COVER)
    typed = {"make": "Corvane", "model": "Tarn 260", "year": "2014"}
    for text in typed.values():
        QTest.keyClicks(person.focus(), text)
        QTest.keyClick(person.focus(), Qt.Key.Key_Return)
    assert person.frame.desk.waiting > 1, "the test is quicker than the disk"
    person.frame.close()
    path = next(places.records_folder().glob("*.shopguide"))
    with RecordFile.open(path) as record:
        kept = {e.data["field"]: e.data["value"] for e in record.events() if e.kind == "laid out"}
    assert kept == typed


def test_a_photo_that_is_being_taken_in_when_the_window_closes_is_kept(at_screws, own_photo):
    person = at_screws
    person.photo, path = own_photo, person.frame.desk.path
    person.key(Qt.Key.Key_P)
    person.frame.close()
    with RecordFile.open(path) as record:
        photos = [e for e in record.events() if e.kind == "photo"]
        assert len(photos) == 1 and record.photo(photos[0].data["sha256"])


def test_a_full_disk_while_the_record_is_made_leaves_none_behind(person, monkeypatch):
    def run_full(connection):
        connection.execute("PRAGMA max_page_count = 1")
        make_schema(connection)

    monkeypatch.setattr("shopguide.record.file.make_schema", run_full)
    person.open(SMALL_COVER)
    person.frame.desk._retry.setInterval(600_000)
    person.key(Qt.Key.Key_F4)
    wait_for_trouble(person)
    assert "The record was not made. The disk is full." in person.notice
    assert person.bar == "Not on disk yet. The record was not made. The disk is full."
    assert list(places.records_folder().iterdir()) == []
    monkeypatch.undo()
    person.record()
    assert person.events[-1].kind == "started" and person.notice == ""
