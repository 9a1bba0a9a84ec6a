"""Damaged and changed records: told, with what can still be read, and never written to."""

from __future__ import annotations

import hashlib
import os
import random
import sqlite3
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from shopguide.errors import RecordTrouble
from shopguide.record.file import (
    RecordDamaged,
    RecordFile,
    look_into,
    rescue,
    verify_record,
)
from shopguide.record.schema import APPLICATION_ID

SHEET_PHOTOS = [(1, "cover.jpg"), (2, "magnets.png")]


@pytest.fixture(scope="module")
def built(tmp_path_factory, sheet, shot, mark) -> bytes:
    """The bytes of a closed record of 40 marks and one photo, made once."""
    path = tmp_path_factory.mktemp("built") / "a.shopguide"
    photos = [(name, shot(n).original, shot(n).paper, 40, 30) for n, name in SHEET_PHOTOS]
    with RecordFile.create(path, sheet, photos, {"title": "Sump cover"}) as record:
        for number in range(1, 41):
            record.append("mark", mark(number))
        record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    return path.read_bytes()


@pytest.fixture
def closed(built, tmp_path) -> Path:
    """That record, to be damaged."""
    path = tmp_path / "sump cover.shopguide"
    path.write_bytes(built)
    return path


@pytest.fixture
def change() -> Callable[..., None]:
    """Changes a record as somebody with a database program would, guards put back after."""

    def apply(path: Path, table: str, statement: str, *values: object) -> None:
        connection = sqlite3.connect(path)
        connection.execute("PRAGMA foreign_keys = OFF")
        guards = connection.execute(
            "SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = ?", (table,)
        ).fetchall()
        for name, _ in guards:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute(statement, values)
        for _, sql in guards:
            connection.execute(sql)
        connection.commit()
        connection.close()

    return apply


def assert_refused(path: Path, digest, said: str) -> RecordDamaged:
    """Opening is refused both ways, the verdict is not good, and the file is as it was."""
    before = digest(path)
    with pytest.raises(RecordDamaged, match=said) as caught:
        RecordFile.open(path)
    with pytest.raises(RecordDamaged, match=said):
        RecordFile.open(path, read_only=True)
    verdict = verify_record(path)
    assert not verdict.good
    look_into(path)
    assert digest(path) == before
    assert [p.name for p in path.parent.iterdir() if p.name.startswith(path.name)] == [path.name]
    assert "left as it is" in caught.value.next
    return caught.value


# --- changed on purpose -------------------------------------------------------------------


def test_an_edited_event_is_told_with_its_number(closed, change, digest):
    change(
        closed,
        "events",
        "UPDATE events SET data = replace(data, '9 N·m', '10 N·m') WHERE seq = 17",
    )
    trouble = assert_refused(closed, digest, "event 17 was changed after it was written")
    assert len(trouble.rescued.events) == 41
    assert trouble.rescued.lost == ("event 17 was changed after it was written",)
    assert "41 events can still be read" in trouble.what
    statements = {s.about: s for s in verify_record(closed).statements}
    assert statements["chain"].good is False
    assert statements["file"].good is True
    assert statements["guards"].good is True
    assert statements["photos"].good is True


def test_a_deleted_event_is_told(closed, change, digest):
    change(closed, "events", "DELETE FROM events WHERE seq = 9")
    trouble = assert_refused(closed, digest, "event 9 is missing")
    assert trouble.rescued.lost == ("event 9 is missing",)


def test_exchanged_events_are_told(closed, change, digest):
    change(
        closed,
        "events",
        "UPDATE events SET seq = CASE seq WHEN 5 THEN 900 WHEN 6 THEN 901 END WHERE seq IN (5, 6)",
    )
    change(
        closed,
        "events",
        "UPDATE events SET seq = CASE seq WHEN 900 THEN 6 WHEN 901 THEN 5 END WHERE seq >= 900",
    )
    trouble = assert_refused(closed, digest, "event 5 was changed after it was written")
    assert trouble.rescued.lost == (
        "event 5 was changed after it was written",
        "event 6 was changed after it was written",
    )


def test_an_event_written_otherwise_is_told(closed, change, digest):
    change(closed, "events", "UPDATE events SET data = data || ' ' WHERE seq = 4")
    assert_refused(closed, digest, "event 4 cannot be read")


def test_a_missing_guard_is_told(closed, digest):
    connection = sqlite3.connect(closed)
    connection.execute("DROP TRIGGER events_never_changed")
    connection.commit()
    connection.close()
    assert_refused(closed, digest, "the trigger events_never_changed .* is missing")


def test_something_put_in_is_told(closed, digest):
    connection = sqlite3.connect(closed)
    connection.execute("CREATE TABLE extra (x)")
    connection.commit()
    connection.close()
    assert_refused(closed, digest, "the table extra was put into it")


def test_another_sheet_is_told(closed, change, digest):
    change(closed, "sheet", "UPDATE sheet SET raw = x'7b7d'")
    assert_refused(closed, digest, "job sheet in the record was changed")


def test_another_sheet_with_its_hash_is_told(closed, change, digest):
    change(
        closed,
        "sheet",
        "UPDATE sheet SET raw = ?, sha256 = ?",
        b"{}",
        hashlib.sha256(b"{}").hexdigest(),
    )
    assert_refused(closed, digest, "job sheet in the record was changed")


def test_another_photo_with_its_hash_is_told(closed, change, digest):
    with RecordFile.open(closed) as record:
        known = record.photos()[-1].sha256
    new = hashlib.sha256(b"other").hexdigest()
    change(
        closed, "pictures", "INSERT INTO pictures (sha256, content) VALUES (?, ?)", new, b"other"
    )
    change(closed, "photos", "UPDATE photos SET sha256 = ? WHERE sha256 = ?", new, known)
    trouble = assert_refused(closed, digest, "“IMG_1.jpg” of event 42 is missing")
    assert len(trouble.rescued.events) == 42


def test_a_tail_cut_off_and_a_chain_written_anew_are_not_seen_and_that_is_said(closed, change):
    head = verify_record(closed).head
    change(closed, "photos", "DELETE FROM photos WHERE seq = 42")
    change(closed, "events", "DELETE FROM events WHERE seq >= 42")
    verdict = verify_record(closed)
    assert verdict.good, "the chain cannot know"
    assert verdict.head != head, "but its head differs from the one on the paper"
    limit = next(s for s in verdict.statements if s.about == "limit")
    assert limit.good is None
    assert "Compare its head with the one on a signed paper" in limit.says
    assert verdict.head in limit.says


def test_tables_that_would_never_end_are_not_read(closed, digest):
    connection = sqlite3.connect(closed)
    connection.execute("ALTER TABLE events RENAME TO others")
    connection.execute(
        "CREATE VIEW events AS WITH RECURSIVE n (seq) AS (SELECT 1 UNION ALL SELECT seq + 1 FROM n)"
        " SELECT seq, '' AS prev, '' AS at, 'note' AS kind, '{}' AS data, '' AS hash FROM n"
    )
    connection.commit()
    connection.close()
    trouble = assert_refused(closed, digest, "tables are not those of a record")
    assert trouble.rescued.events == ()
    assert "tables are not those of a record" in look_into(closed).damage


# --- broken by accident -------------------------------------------------------------------


def test_a_flipped_bit_in_a_photo_is_told_and_all_events_are_read(closed, shot, digest):
    raw = bytearray(closed.read_bytes())
    at = raw.index(shot(2).original[:32] * 4) + 70
    raw[at] ^= 4
    closed.write_bytes(raw)
    trouble = assert_refused(closed, digest, "photo “magnets.png” was changed or damaged")
    assert len(trouble.rescued.events) == 42
    assert trouble.rescued.lost == ("the photo “magnets.png” was changed or damaged",)
    statements = {s.about: s.good for s in verify_record(closed).statements}
    assert statements["file"] is True, "SQLite's own check does not see this"
    assert statements["chain"] is True
    assert statements["photos"] is False


def test_a_flipped_byte_anywhere_is_told_or_touches_nothing(closed, digest):
    raw = closed.read_bytes()
    with RecordFile.open(closed, read_only=True) as record:
        known = record.events(), record.data_for_paper()
    luck = random.Random(11)
    told = 0
    spots = [*range(0, 100, 3), *(luck.randrange(len(raw)) for _ in range(150))]
    for at in spots:
        broken = bytearray(raw)
        broken[at] ^= 1 << luck.randrange(8)
        closed.write_bytes(broken)
        before = digest(closed)
        try:
            with RecordFile.open(closed, read_only=True) as record:
                assert (record.events(), record.data_for_paper()) == known, at
        except RecordTrouble as trouble:
            told += 1
            assert str(trouble)
            with pytest.raises(RecordTrouble):
                RecordFile.open(closed)
        look_into(closed)
        assert digest(closed) == before
        assert [p.name for p in closed.parent.iterdir()] == [closed.name]
    assert told > len(spots) // 2


def test_a_smashed_page_costs_only_what_was_on_it(make, digest):
    with make(marks=120) as record:
        events = record.events()
    raw = record.path.read_bytes()
    spot = raw.index(events[60].hash.encode()) // 4096 * 4096
    record.path.write_bytes(raw[:spot] + b"\xff" * 4096 + raw[spot + 4096 :])
    trouble = assert_refused(record.path, digest, "damaged")
    read = trouble.rescued.events
    assert events[0] in read
    assert events[-1] in read
    assert 90 < len(read) < 121
    assert all(event in events for event in read)
    assert "event 61 is missing" in trouble.rescued.lost


def test_a_layout_that_is_no_text_is_told(closed, digest):
    raw = closed.read_bytes()
    closed.write_bytes(raw.replace(b"CREATE TABLE photos", b"CREATE TABL\xff photos", 1))
    assert_refused(closed, digest, "damaged")


@pytest.mark.parametrize("share", [0.02, 0.3, 0.6, 0.9, 0.999])
def test_a_file_cut_short_is_told(closed, digest, share):
    raw = closed.read_bytes()
    closed.write_bytes(raw[: int(len(raw) * share)])
    before = digest(closed)
    for read_only in (False, True):
        with pytest.raises(RecordTrouble, match=r"damaged|can still be read|No event"):
            RecordFile.open(closed, read_only=read_only)
    assert look_into(closed).path == closed
    assert digest(closed) == before
    assert [p.name for p in closed.parent.iterdir()] == [closed.name]


def test_a_broken_beginning_is_told_and_the_events_are_read(closed, digest):
    raw = closed.read_bytes()
    closed.write_bytes(b"\0" * 48 + raw[48:])
    before = digest(closed)
    with pytest.raises(RecordTrouble, match="beginning of the record is damaged"):
        RecordFile.open(closed)
    rescued = rescue(closed)
    assert len(rescued.events) == 42
    assert rescued.lost == ("the beginning of the file is damaged",)
    assert digest(closed) == before


def test_a_copy_taken_while_it_was_open_is_told(make, tmp_path, digest, mark):
    record = make(marks=5)
    copy = tmp_path / "copy.shopguide"
    copy.write_bytes(record.path.read_bytes())
    before = digest(copy)
    with pytest.raises(RecordDamaged, match="copied or moved while it was open") as caught:
        RecordFile.open(copy)
    assert [e.kind for e in caught.value.rescued.events] == ["begun"]
    verdict = verify_record(copy)
    assert not verdict.good
    assert "may be missing" in verdict.faults[0]
    with RecordFile.open(copy, read_only=True) as view:
        assert len(view.events()) == 1
    assert digest(copy) == before
    assert sorted(p.name for p in tmp_path.glob("*copy*")) == ["copy.shopguide"]


# --- not records at all -------------------------------------------------------------------


def make_foreign(path: Path, application_id: int, version: int) -> None:
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA application_id = {application_id}")
    connection.execute(f"PRAGMA user_version = {version}")
    connection.execute("CREATE TABLE events (seq)")
    connection.commit()
    connection.close()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty"),
        (b"x", "not a record"),
        (b"PK\x03\x04" + bytes(5000), "not a record"),
        (b"SQLite format 3\0", "another program"),
        (bytes(10_000), "not a record"),
    ],
)
def test_a_file_that_is_no_record(tmp_path, content, said, digest):
    path = tmp_path / "a.shopguide"
    path.write_bytes(content)
    before = digest(path)
    for look in (RecordFile.open, verify_record, lambda p: RecordFile.open(p, read_only=True)):
        with pytest.raises(RecordTrouble, match=said):
            look(path)
    assert look_into(path).damage
    assert digest(path) == before
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize(
    ("application_id", "version", "said"),
    [
        (0x12345678, 1, "another program"),
        (0, 0, "another program"),
        (APPLICATION_ID, 2, "layout 2; this program knows layouts up to 1"),
        (APPLICATION_ID, 0, "no number"),
    ],
)
def test_a_foreign_or_newer_file_is_refused_before_any_write(
    tmp_path, application_id, version, said, digest
):
    path = tmp_path / "a.shopguide"
    make_foreign(path, application_id, version)
    before = digest(path)
    for look in (RecordFile.open, verify_record, lambda p: RecordFile.open(p, read_only=True)):
        with pytest.raises(RecordTrouble, match=said):
            look(path)
    assert said.split(";")[0] in look_into(path).damage
    assert digest(path) == before
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_a_record_in_name_only(tmp_path, digest):
    path = tmp_path / "a.shopguide"
    make_foreign(path, APPLICATION_ID, 1)
    assert_refused(path, digest, "is missing or was changed")
    assert "damaged" in look_into(path).damage


def test_a_folder_and_a_missing_file(tmp_path):
    for path, said in [(tmp_path, "folder"), (tmp_path / "no.shopguide", "no such file")]:
        for look in (RecordFile.open, verify_record, rescue):
            with pytest.raises(RecordTrouble, match=said):
                look(path)
        assert said in look_into(path).damage


@pytest.mark.skipif(sys.platform == "win32", reason="pipes have no names in folders there")
def test_a_pipe_is_refused_without_waiting(tmp_path):
    path = tmp_path / "a.shopguide"
    os.mkfifo(path)
    for look in (RecordFile.open, verify_record, rescue):
        with pytest.raises(RecordTrouble, match="not a file that can hold a record"):
            look(path)
    assert look_into(path).damage


def test_a_link_that_leads_in_a_circle(tmp_path):
    path = tmp_path / "a.shopguide"
    path.symlink_to(path)
    with pytest.raises(RecordTrouble):
        RecordFile.open(path)
    assert look_into(path).damage
