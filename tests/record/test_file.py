"""The record file: what is added stays, in order, on disk; nothing else can be done to it."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path
from types import SimpleNamespace

import pytest

from shopguide.errors import RecordTrouble
from shopguide.record.disk import look
from shopguide.record.file import (
    RecordFile,
    RecordLocked,
    StoredPhoto,
    look_into,
    rescue,
    verify_record,
)
from shopguide.record.schema import APPLICATION_ID, VERSION
from shopguide.work.chain import GENESIS, follow


def list_names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def as_rows(events) -> list[dict]:
    return [
        {name: getattr(e, name) for name in ("seq", "prev", "at", "kind", "data", "hash")}
        for e in events
    ]


# --- making -------------------------------------------------------------------------------


def test_a_new_record_holds_sheet_photos_and_its_beginning(make, sheet, shot):
    record = make()
    (begun,) = record.events()
    assert (begun.seq, begun.kind, begun.prev) == (1, "begun", GENESIS)
    assert begun.data["sheet_sha256"] == hashlib.sha256(sheet).hexdigest()
    assert begun.data["title"] == "Sump cover"
    assert record.sheet_raw() == sheet
    assert record.photo("cover.jpg") == shot(1).original
    assert record.photo("magnets.png", paper=True) == shot(2).paper
    assert record.photos()[0] == StoredPhoto(
        "cover.jpg",
        hashlib.sha256(shot(1).original).hexdigest(),
        hashlib.sha256(shot(1).paper).hexdigest(),
        4000,
        3000,
    )


def test_the_file_says_what_it_is_in_its_first_bytes(make):
    record = make()
    record.close()
    head = record.path.read_bytes()[:100]
    assert int.from_bytes(head[68:72], "big") == APPLICATION_ID
    assert int.from_bytes(head[60:64], "big") == VERSION


def test_making_never_overwrites(make, tmp_path, digest):
    record = make(marks=2)
    record.close()
    before = digest(record.path)
    with pytest.raises(RecordTrouble, match="file of this name already"):
        make()
    assert digest(record.path) == before
    assert list_names(tmp_path) == [record.path.name]


@pytest.mark.parametrize("ending", ["-wal", "-journal", "-shm"])
def test_remains_of_another_record_are_not_swallowed(make, tmp_path, ending):
    left = tmp_path / f"sump cover.shopguide{ending}"
    left.write_bytes(b"marks of another job")
    with pytest.raises(RecordTrouble, match="older record") as caught:
        make()
    assert left.name in caught.value.where
    assert left.read_bytes() == b"marks of another job"
    assert list_names(tmp_path) == [left.name]


def test_a_making_that_fails_leaves_nothing(tmp_path, shot):
    def photos():
        yield ("cover.jpg", shot(1).original, shot(1).paper, 4000, 3000)
        raise RecordTrouble("The second picture is damaged.")

    with pytest.raises(RecordTrouble, match="second picture"):
        RecordFile.create(tmp_path / "a.shopguide", b"{}", photos(), {"title": "A"})
    assert list_names(tmp_path) == []


def test_a_making_broken_off_before_is_made_again(make, tmp_path):
    (tmp_path / ".sump cover.shopguide.part").write_bytes(b"half a record")
    record = make()
    record.close()
    assert list_names(tmp_path) == ["sump cover.shopguide"]


def test_a_disk_without_hard_links_does_too(make, tmp_path, monkeypatch):
    def refuse(*_, **__):
        raise OSError(95, "not supported")

    monkeypatch.setattr(os, "link", refuse)
    record = make(marks=1)
    record.close()
    assert list_names(tmp_path) == ["sump cover.shopguide"]
    with RecordFile.open(record.path) as again:
        assert len(again.events()) == 2


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(RecordTrouble, match="folder is not there"):
        RecordFile.create(tmp_path / "no" / "a.shopguide", b"{}", [], {"title": "A"})


@pytest.mark.parametrize(
    ("number", "said"), [(errno.EROFS, "folder is read-only"), (errno.ENOSPC, "disk is full")]
)
def test_a_folder_that_takes_nothing(tmp_path, monkeypatch, number, said):
    def refuse(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr("shopguide.record.lock.os.open", refuse)
    with pytest.raises(RecordTrouble, match=rf"was not made\. The {said}") as caught:
        RecordFile.create(tmp_path / "a.shopguide", b"{}", [], {"title": "A"})
    assert not isinstance(caught.value, RecordLocked), "there is nothing that could be looked at"


def test_a_disk_that_fills_up_while_a_record_is_made(tmp_path, shot, monkeypatch):
    from shopguide.record import file as module

    def open_small(path):
        connection = open_fresh(path)
        connection.execute("PRAGMA max_page_count = 30")
        return connection

    open_fresh = module.open_fresh
    monkeypatch.setattr(module, "open_fresh", open_small)
    photos = [(f"{n}.jpg", shot(n).original, shot(n).paper, 40, 30) for n in range(9)]
    with pytest.raises(RecordTrouble, match=r"The record was not made\. The disk is full"):
        RecordFile.create(tmp_path / "a.shopguide", b"{}", photos, {"title": "A"})
    assert list_names(tmp_path) == []


def test_a_sheet_that_changed_meanwhile_is_refused(tmp_path):
    with pytest.raises(RecordTrouble, match="changed while"):
        RecordFile.create(tmp_path / "a.shopguide", b"{}", [], {"sheet_sha256": "0" * 64})
    assert list_names(tmp_path) == []


# --- adding -------------------------------------------------------------------------------


def test_events_come_back_as_they_were_handed_out(make, mark):
    record = make()
    given = [
        record.append("started", {}),
        record.append("mark", mark(1)),
        record.append("withdrawn", {"seq": 3}),
        record.append("mark", {**mark(1), "departure": "out of turn"}),
        record.append("signed", {"name": "Jo", "strokes": (((1, 2), (3, 4)),), "hidden": []}),
    ]
    assert [event.seq for event in given] == [2, 3, 4, 5, 6]
    assert given[-1].data["strokes"] == [[[1, 2], [3, 4]]]
    before = record.events()
    assert before[1:] == tuple(given)
    record.close()
    with RecordFile.open(record.path) as again:
        assert again.events() == before
        assert again.head == given[-1].hash
        assert follow(as_rows(again.events())) == (given[-1].hash, None)


def test_text_is_kept_in_one_form(make):
    record = make()
    event = record.append("note", {"step": 3, "text": "u\u0308ber"})
    assert event.data["text"] == "\u00fcber"
    record.close()
    with RecordFile.open(record.path) as again:
        assert again.events()[-1] == event


def test_what_a_record_cannot_hold_is_refused_and_nothing_is_written(make, mark):
    record = make(marks=1)
    before = record.events()
    for kind, data in [
        ("mark", {**mark(2), "reading": 9.2}),
        ("mark", {**mark(2), "trip": 2.0}),
        ("note", {"step": 1, "text": "half \ud800"}),
        ("scribble", {}),
    ]:
        with pytest.raises(RecordTrouble):
            record.append(kind, data)
    assert record.events() == before
    assert record.append("mark", mark(2)).seq == 3
    assert record.check().good


def test_the_clock_may_go_back_and_the_order_stays(make, monkeypatch, mark):
    record = make()
    moments = iter(["2031-05-04T09:30:00.000Z", "2031-05-04T08:30:00.000Z"])
    monkeypatch.setattr("shopguide.record.file.tell_moment", lambda: next(moments))
    late, early = record.append("mark", mark(1)), record.append("mark", mark(2))
    assert early.at < late.at
    assert early.seq > late.seq
    assert record.check().good


def test_a_photo_is_added_with_its_event(make, shot):
    record = make()
    picture = shot(7)
    event = record.append_photo({"step": 4, "task": "4.3", "name": "IMG_1.jpg"}, picture)
    assert event.kind == "photo"
    assert event.data == {
        "step": 4,
        "task": "4.3",
        "name": "IMG_1.jpg",
        "sha256": hashlib.sha256(picture.original).hexdigest(),
        "paper_sha256": hashlib.sha256(picture.paper).hexdigest(),
        "width": 4000,
        "height": 3000,
    }
    assert record.photo(event.data["sha256"]) == picture.original
    assert record.photo(event.data["sha256"], paper=True) == picture.paper
    assert record.photo("IMG_1.jpg") == picture.original
    assert [photo.name for photo in record.photos()] == ["cover.jpg", "magnets.png", "IMG_1.jpg"]


def test_photos_of_one_name_and_of_one_picture(make, shot):
    record = make()
    record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    record.append_photo({"step": 2, "name": "IMG_1.jpg"}, shot(8))
    record.append_photo({"step": 3, "name": "cover.jpg"}, shot(8))
    assert record.photo("IMG_1.jpg") == shot(8).original, "the last one taken in"
    assert record.photo("cover.jpg") == shot(1).original, "the sheet's own"
    assert len(record.photos()) == 5
    assert record.check().good
    with pytest.raises(RecordTrouble, match=r"no photo “cover\.gif”"):
        record.photo("cover.gif")


def test_a_photo_that_fails_leaves_neither_bytes_nor_event(make, shot):
    record = make()
    broken = SimpleNamespace(**{**vars(shot(7)), "width": 0})
    with pytest.raises(RecordTrouble, match="not on disk yet"):
        record.append_photo({"step": 4, "name": "IMG_1.jpg"}, broken)
    assert len(record.events()) == 1
    assert len(record.photos()) == 2
    assert record.append_photo({"step": 4, "name": "IMG_1.jpg"}, shot(7)).seq == 2
    assert record.check().good


def test_many_threads_may_add(make, mark):
    record = make()
    seqs: list[int] = []

    def work(start: int) -> None:
        for number in range(start, start + 10):
            seqs.append(record.append("mark", mark(number)).seq)
            record.events()

    threads = [threading.Thread(target=work, args=(start,)) for start in (1, 11, 21, 31)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(seqs) == list(range(2, 42))
    assert record.check().good


def test_the_data_for_the_paper(make, sheet, mark):
    record = make(marks=3)
    raw = record.data_for_paper()
    data = json.loads(raw)
    assert raw == record.data_for_paper()
    assert data["format"] == "shopguide-record/1"
    assert data["rehearsal"] is False
    assert data["sheet"] == json.loads(sheet)
    assert follow(data["events"]) == (record.head, None)
    assert data["head"] == record.head
    assert data["photos"] == [
        {"name": photo.name, "sha256": photo.sha256} for photo in record.photos()
    ]


def test_a_sheet_that_is_no_json_gives_no_paper(tmp_path):
    with RecordFile.create(tmp_path / "a.shopguide", b"{", [], {"title": "A"}) as record:
        assert record.sheet_raw() == b"{"
        with pytest.raises(RecordTrouble, match="no JSON"):
            record.data_for_paper()


# --- only ever added to -------------------------------------------------------------------


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE events SET data = '{}' WHERE seq = 2",
        "DELETE FROM events WHERE seq = 3",
        "DELETE FROM events",
        "INSERT OR REPLACE INTO events SELECT * FROM events WHERE seq = 2",
        "INSERT INTO events SELECT seq + 2, prev, at, kind, data, hash FROM events WHERE seq = 3",
        "INSERT INTO events SELECT seq + 1, prev, at, kind, data, hash FROM events WHERE seq = 3",
        "UPDATE sheet SET raw = x'7b7d'",
        "DELETE FROM sheet",
        "INSERT OR REPLACE INTO sheet VALUES (1, 'x', x'7b7d')",
        "UPDATE photos SET name = 'other.jpg'",
        "DELETE FROM photos",
        "UPDATE pictures SET content = x'00'",
        "DELETE FROM pictures",
        "INSERT OR REPLACE INTO pictures SELECT sha256, x'00' FROM pictures",
    ],
)
def test_the_guards_refuse(make, statement):
    record = make(marks=2)
    record.close()
    connection = sqlite3.connect(record.path)
    with pytest.raises(sqlite3.IntegrityError, match=r"nothing in|only follows"):
        connection.execute(statement)
    connection.close()
    with RecordFile.open(record.path) as again:
        assert len(again.events()) == 3


# --- one file, one writer -----------------------------------------------------------------


def test_closed_it_is_one_file(make, tmp_path):
    record = make(marks=5)
    assert f"{record.path.name}-wal" in list_names(tmp_path)
    record.close()
    record.close()
    assert list_names(tmp_path) == [record.path.name]
    assert record.path.read_bytes()[18:20] == b"\1\1"


def test_closed_it_takes_nothing_more(make, mark):
    with make() as record:
        pass
    with pytest.raises(RecordTrouble, match="closed"):
        record.append("mark", mark(1))
    with pytest.raises(RecordTrouble, match="closed"):
        record.sheet_raw()
    assert len(record.events()) == 1


def test_a_second_writer_is_told_and_may_look(make, mark):
    record = make(marks=2)
    with pytest.raises(RecordLocked, match="written elsewhere"):
        RecordFile.open(record.path)
    with RecordFile.open(record.path, read_only=True) as view:
        assert view.read_only
        assert view.events() == record.events()
        assert view.refresh() == ()
        event = record.append("mark", mark(3))
        assert len(view.events()) == 3
        assert view.refresh() == (event,)
        assert view.head == record.head
        with pytest.raises(RecordTrouble, match="reading only"):
            view.append("mark", mark(4))
        record.close()
        assert view.refresh() == ()
        assert view.photo("cover.jpg")
        assert view.check().good


def test_a_reader_does_not_keep_the_writer_from_closing_to_one_file(make, tmp_path):
    record = make(marks=2)
    with RecordFile.open(record.path, read_only=True):
        record.close()
        assert list_names(tmp_path) == [record.path.name]
        assert record.path.read_bytes()[18:20] == b"\1\1"


def test_closing_waits_for_a_reader_that_is_about_to_go(make, tmp_path, monkeypatch):
    record = make(marks=2)
    record._connection.execute("PRAGMA busy_timeout = 50")
    waits = []
    with contextlib.ExitStack() as reader:
        reader.enter_context(look(record.path))

        def wait(seconds: float) -> None:
            waits.append(seconds)
            reader.close()

        monkeypatch.setattr("shopguide.record.disk.time.sleep", wait)
        record.close()
    assert len(waits) == 1
    assert list_names(tmp_path) == [record.path.name]
    assert record.path.read_bytes()[18:20] == b"\1\1"


def test_a_reader_that_stays_costs_nothing_but_the_one_file(make, monkeypatch):
    monkeypatch.setattr("shopguide.record.disk._BUSY_SECONDS", 0.05)
    record = make(marks=2)
    record._connection.execute("PRAGMA busy_timeout = 50")
    with look(record.path) as connection:
        record.close()
        assert connection.execute("SELECT count(*) FROM events").fetchone() == (3,)
    with RecordFile.open(record.path) as again:
        assert again.events() == record.events()


def test_the_connection_is_as_safe_as_it_can_be(make):
    """A kill cannot show this: only a power cut could, and that cannot be tried here."""
    connection = make()._connection
    found = {
        name: connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "trusted_schema", "cell_size_check")
    }
    assert found == {
        "journal_mode": "wal",
        "synchronous": 2,
        "trusted_schema": 0,
        "cell_size_check": 1,
    }
    assert connection.execute("PRAGMA foreign_keys").fetchone() == (1,)


def test_a_reader_sees_when_the_record_was_exchanged(make, tmp_path):
    first, second = make("first", marks=3), make("second", marks=5)
    first.close()
    second.close()
    with RecordFile.open(first.path, read_only=True) as view:
        os.replace(second.path, first.path)
        with pytest.raises(RecordTrouble, match="no longer the one"):
            view.refresh()


def test_looking_changes_nothing(make, digest, tmp_path):
    record = make(marks=3)
    record.close()
    before = digest(record.path)
    with RecordFile.open(record.path, read_only=True) as view:
        view.sheet_raw()
        view.photos()
        view.data_for_paper()
    assert digest(record.path) == before
    assert list_names(tmp_path) == [record.path.name]


HOLD = """
import sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None, timeout=0)
try:
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    connection.execute("PRAGMA journal_mode = DELETE")
    print("taken")
except sqlite3.OperationalError as error:
    print(error)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="locks go with a handle there, not a process")
def test_looking_from_the_same_process_lets_no_lock_go(make, mark):
    """POSIX drops all of a process's locks on a file when it closes that file anywhere."""
    record = make(marks=2)
    look_into(record.path)
    verify_record(record.path)
    rescue(record.path)
    with RecordFile.open(record.path, read_only=True) as view:
        view.refresh()
    with pytest.raises(RecordLocked):
        RecordFile.open(record.path)
    done = subprocess.run(
        [sys.executable, "-c", HOLD, record.path], capture_output=True, text=True, check=True
    )
    assert done.stdout == "database is locked\n"
    record.append("mark", mark(3))
    assert record.check().good


# --- when it cannot be written ------------------------------------------------------------


def test_a_full_disk_is_told_and_the_mark_comes_in_later(make, mark):
    record = make()
    pages = "PRAGMA max_page_count"
    (now,) = record._connection.execute("PRAGMA page_count").fetchone()
    record._connection.execute(f"{pages} = {now}")
    before = 0
    with pytest.raises(RecordTrouble) as caught:
        for number in range(1, 200):
            record.append("mark", mark(number))
            before = number
    assert caught.value.what == "This is not on disk yet: the disk is full."
    assert caught.value.next.startswith("Free some space")
    assert caught.value.where == str(record.path)
    with pytest.raises(RecordTrouble, match="disk is full"):
        record.append("mark", mark(before + 1))
    assert len(record.events()) == before + 1
    record._connection.execute(f"{pages} = 1000000")
    event = record.append("mark", mark(before + 1))
    assert event.seq == before + 2
    head = record.head
    record.close()
    with RecordFile.open(record.path) as again:
        assert again.head == head
        fasteners = [e.data["fastener"] for e in again.events() if e.kind == "mark"]
        assert fasteners == list(range(1, before + 2))


def test_a_full_disk_while_a_photo_is_taken_in(make, shot):
    record = make()
    (now,) = record._connection.execute("PRAGMA page_count").fetchone()
    record._connection.execute(f"PRAGMA max_page_count = {now}")
    with pytest.raises(RecordTrouble, match="disk is full"):
        record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    record._connection.execute("PRAGMA max_page_count = 1000000")
    assert len(record.photos()) == 2
    record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    assert record.check().good


LIMITED = """
import json, resource, signal, sys
from shopguide.errors import RecordTrouble
from shopguide.record.file import RecordFile
record = RecordFile.open(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, resource.RLIM_INFINITY))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
said, count = "", 0
for number in range(500):
    try:
        record.append("note", {"step": 1, "text": f"{number} " + "x" * 3000})
    except RecordTrouble as trouble:
        said = trouble.what
        break
    count += 1
resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
seq = record.append("note", {"step": 1, "text": f"{count} " + "x" * 3000}).seq
record.close()
print(json.dumps([said, count, seq]))
"""


@pytest.mark.skipif(sys.platform == "win32", reason="the system has no such limit")
def test_a_write_that_the_system_itself_refuses(make, checkout):
    record = make()
    record.close()
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, record.path],
        cwd=checkout,
        capture_output=True,
        text=True,
        check=True,
    )
    said, count, seq = json.loads(done.stdout)
    assert said.startswith("This is not on disk yet: the disk ")
    assert 0 < count < 500
    assert seq == count + 2
    with RecordFile.open(record.path) as again:
        texts = [e.data["text"].split()[0] for e in again.events()[1:]]
        assert texts == [str(number) for number in range(count + 1)]


def test_a_place_that_turns_read_only_is_told(make, mark):
    record = make()
    record._connection.execute("PRAGMA query_only = ON")
    with pytest.raises(RecordTrouble, match="folder is read-only") as caught:
        record.append("mark", mark(1))
    assert "Allow writing" in caught.value.next
    record._connection.execute("PRAGMA query_only = OFF")
    assert record.append("mark", mark(1)).seq == 2


def test_a_file_that_is_moved_away_is_noticed(make, mark, tmp_path):
    record = make(marks=1)
    aside = tmp_path / "aside.shopguide"
    record.path.rename(aside)
    with pytest.raises(RecordTrouble, match="moved, deleted or replaced"):
        record.append("mark", mark(2))
    aside.rename(record.path)
    assert record.append("mark", mark(2)).seq == 3


def test_a_wal_that_is_taken_away_is_noticed(make, mark, tmp_path):
    record = make(marks=1)
    wal = record.path.with_name(record.path.name + "-wal")
    aside = tmp_path / "aside"
    wal.rename(aside)
    with pytest.raises(RecordTrouble, match="-wal was moved"):
        record.append("mark", mark(2))
    aside.rename(wal)
    assert record.append("mark", mark(2)).seq == 3
    assert record.check().good


def test_another_program_that_holds_the_file(make, mark, monkeypatch):
    record = make(marks=1)
    record._connection.execute("PRAGMA busy_timeout = 20")
    other = sqlite3.connect(record.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with pytest.raises(RecordTrouble, match="another program holds"):
        record.append("mark", mark(2))
    other.execute("ROLLBACK")
    other.close()
    assert record.append("mark", mark(2)).seq == 3


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root writes anywhere")
def test_a_read_only_folder(make, mark):
    record = make(marks=1)
    record.close()
    folder = record.path.parent
    folder.chmod(0o555)
    try:
        with pytest.raises(RecordLocked, match="read-only"):
            RecordFile.open(record.path)
        with RecordFile.open(record.path, read_only=True) as view:
            assert len(view.events()) == 2
        with pytest.raises(RecordTrouble, match="read-only"):
            make("another")
    finally:
        folder.chmod(0o755)


def test_a_disk_that_is_full_at_opening_still_shows_the_record(make, monkeypatch):
    from shopguide.record import file as module

    def refuse(path):
        connection = sqlite3.connect(path, isolation_level=None)
        connection.execute("PRAGMA max_page_count = 1")
        try:
            connection.execute("CREATE TABLE t AS SELECT randomblob(100000)")
        finally:
            connection.close()

    record = make(marks=1)
    record.close()
    monkeypatch.setattr(module, "open_to_write", refuse)
    with pytest.raises(RecordLocked, match="disk is full"):
        RecordFile.open(record.path)
    with RecordFile.open(record.path, read_only=True) as view:
        assert len(view.events()) == 2


def test_a_read_only_file(make, monkeypatch):
    record = make(marks=1)
    record.close()
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(RecordLocked, match="file is read-only"):
        RecordFile.open(record.path)
    assert not list(record.path.parent.glob(".*.lock"))
