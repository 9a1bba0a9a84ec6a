"""A record survives whatever ends the program: every event that was acknowledged is there.

SHOPGUIDE_KILLS sets how often the program is killed; 20 times if it is not set.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from shopguide.record.file import RecordFile

KILLS = int(os.environ.get("SHOPGUIDE_KILLS", "20"))

WRITER = """
import sys
from types import SimpleNamespace
from shopguide.record.file import RecordFile
record = RecordFile.open(sys.argv[1])
picture = SimpleNamespace(original=b"x" * 30_000, paper=b"y" * 3_000, width=40, height=30)
while True:
    number = len(record.events())
    if number % 7:
        event = record.append("mark", {"task": "1.1", "pass": 1, "trip": 1, "fastener": number,
                                       "target": "9 N·m"})
    else:
        picture.original = str(number).encode() * 10_000
        event = record.append_photo({"step": 1, "name": f"IMG_{number}.jpg"}, picture)
    sys.stdout.write(f"{event.seq} {event.hash}\\n")
    sys.stdout.flush()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX systems")
def test_what_was_acknowledged_is_there_after_a_kill(make, checkout):
    record = make()
    record.close()
    path = record.path
    luck = random.Random(0x53474A52)
    for _ in range(KILLS):
        known = {}
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, path], cwd=checkout, stdout=subprocess.PIPE, text=True
        ) as writer:
            for _ in range(luck.randint(1, 20)):
                seq, head = writer.stdout.readline().split()
                known[int(seq)] = head
            # So that not every kill falls into the same moment of a commit.
            until = time.perf_counter() + luck.random() * 0.003
            while time.perf_counter() < until:
                pass
            os.kill(writer.pid, signal.SIGKILL)
            for line in writer.stdout.read().splitlines(keepends=True):
                if line.endswith("\n"):
                    seq, head = line.split()
                    known[int(seq)] = head
        assert list(path.parent.glob(".*.lock")), "a lock that nobody holds is left by the kill"
        with RecordFile.open(path) as again:
            there = {event.seq: event.hash for event in again.events()}
            assert known.items() <= there.items()
            assert len(there) - max(known) in (0, 1), "at most the one not yet acknowledged"
            assert again.check().good
    assert [p.name for p in path.parent.iterdir()] == [path.name]


MAKER = """
import os, signal, sys
from shopguide.record.file import RecordFile
def photos():
    for number in range(int(sys.argv[2])):
        yield (f"{number}.jpg", os.urandom(30_000), os.urandom(3_000), 40, 30)
    os.kill(os.getpid(), signal.SIGKILL)
RecordFile.create(sys.argv[1], b"{}", photos(), {"title": "A"})
"""


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX systems")
@pytest.mark.parametrize("photos", [0, 3, 200])
def test_a_kill_while_a_record_is_made_leaves_no_record(tmp_path, checkout, photos):
    path = tmp_path / "a.shopguide"
    done = subprocess.run([sys.executable, "-c", MAKER, path, str(photos)], cwd=checkout)
    assert done.returncode == -signal.SIGKILL
    assert not path.exists()
    with RecordFile.create(path, b"{}", [], {"title": "A"}) as record:
        assert record.check().good
    assert [p.name for p in tmp_path.iterdir()] == ["a.shopguide"]


@pytest.fixture
def left_open(make, shot, tmp_path) -> tuple[Path, tuple]:
    """A record as a crash leaves it: the file with its -wal beside, and the events it had."""
    record = make(marks=12)
    record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    record.append("note", {"step": 1, "text": "the last"})
    folder = tmp_path / "left"
    folder.mkdir()
    for ending in ("", "-wal"):
        shutil.copyfile(f"{record.path}{ending}", folder / f"a.shopguide{ending}")
    return folder / "a.shopguide", record.events()


def test_a_wal_cut_anywhere_opens_to_a_clean_prefix(left_open, tmp_path, mark):
    path, events = left_open
    wal = Path(f"{path}-wal").read_bytes()
    frame = 24 + 4096
    luck = random.Random(5)
    cuts = {0, 1, 31, 32, 33, len(wal)}
    for start in range(32, len(wal), frame):
        cuts |= {start, start + 24, start + luck.randrange(frame)}
    lengths = set()
    for number, cut in enumerate(sorted(cuts)):
        folder = tmp_path / f"cut {number}"
        folder.mkdir()
        copy = folder / "a.shopguide"
        shutil.copyfile(path, copy)
        Path(f"{copy}-wal").write_bytes(wal[:cut])
        with RecordFile.open(copy) as record:
            there = record.events()
            assert there == events[: len(there)]
            assert record.append("mark", mark(99)).seq == len(there) + 1
        lengths.add(len(there))
    assert lengths == set(range(1, len(events) + 1)), "every prefix was met, and the whole"


def test_a_wal_with_a_flipped_byte_opens_to_a_clean_prefix(left_open, tmp_path):
    path, events = left_open
    wal = Path(f"{path}-wal").read_bytes()
    luck = random.Random(6)
    shorter = 0
    for number in range(25):
        broken = bytearray(wal)
        broken[luck.randrange(len(broken))] ^= 1 << luck.randrange(8)
        folder = tmp_path / f"flip {number}"
        folder.mkdir()
        copy = folder / "a.shopguide"
        shutil.copyfile(path, copy)
        Path(f"{copy}-wal").write_bytes(broken)
        with RecordFile.open(copy) as record:
            there = record.events()
        assert there == events[: len(there)]
        shorter += len(there) < len(events)
    assert shorter > 15


def test_looking_at_what_a_crash_left_changes_neither_file_nor_wal(left_open, digest):
    path, events = left_open
    before = digest(path), digest(Path(f"{path}-wal"))
    with RecordFile.open(path, read_only=True) as view:
        assert view.events() == events
        assert view.photo("IMG_1.jpg")
    assert (digest(path), digest(Path(f"{path}-wal"))) == before


CLOSER = """
import os, signal, sys
from shopguide.record import disk
from shopguide.record.file import RecordFile
record = RecordFile.open(sys.argv[1])
record.append("note", {"step": 1, "text": "the last"})
left = int(sys.argv[2])
def count(statement):
    global left
    if not left:
        os.kill(os.getpid(), signal.SIGKILL)
    left -= 1
record._connection.set_trace_callback(count)
record.close()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX systems")
def test_a_kill_between_any_two_steps_of_closing_loses_nothing(make, checkout, tmp_path):
    with make(marks=2) as record:
        pass
    killed = 0
    for step in range(100):
        copy = tmp_path / f"{step}.shopguide"
        shutil.copyfile(record.path, copy)
        done = subprocess.run([sys.executable, "-c", CLOSER, copy, str(step)], cwd=checkout)
        with RecordFile.open(copy) as again:
            assert again.events()[-1].data.get("text") == "the last"
        if done.returncode == 0:
            break
        assert done.returncode == -signal.SIGKILL
        killed += 1
    assert done.returncode == 0
    assert killed > 4


def test_where_closing_to_one_file_fails_nothing_is_lost(make, tmp_path):
    record = make(marks=2)
    record.append("note", {"step": 1, "text": "the last"})
    record._connection.execute("PRAGMA query_only = ON")
    record.close()
    assert Path(f"{record.path}-wal").exists()
    with RecordFile.open(record.path) as again:
        assert again.events() == record.events()
    assert [p.name for p in tmp_path.iterdir()] == [record.path.name]


def test_where_the_way_to_one_file_is_half_gone_it_opens_all_the_same(make, monkeypatch, tmp_path):
    """All is in the file, which says that it is shut; only SQLite's own sign still says WAL."""
    monkeypatch.setattr("shopguide.record.disk._leave_wal", lambda connection: True)
    with make(marks=2) as record:
        pass
    assert record.path.read_bytes()[18:20] == b"\2\2"
    assert [p.name for p in tmp_path.iterdir()] == [record.path.name]
    monkeypatch.undo()
    with RecordFile.open(record.path, read_only=True) as view:
        assert len(view.events()) == 3
    assert [p.name for p in tmp_path.iterdir()] == [record.path.name]
    with RecordFile.open(record.path) as again:
        assert len(again.events()) == 3
    assert record.path.read_bytes()[18:20] == b"\1\1"


def test_a_change_that_was_broken_off_is_taken_back(make, tmp_path, digest):
    """What a crash leaves where WAL cannot work: a journal with pages to put back."""
    with make(marks=3) as record:
        events = record.events()
    connection = sqlite3.connect(record.path, isolation_level=None)
    connection.execute("PRAGMA cache_size = 1")
    connection.execute("BEGIN")
    for number in range(60):
        connection.execute(
            "INSERT INTO pictures (sha256, content) VALUES (?, ?)", (str(number), bytes(9000))
        )
    folder = tmp_path / "left"
    folder.mkdir()
    path = folder / "a.shopguide"
    for ending in ("", "-journal"):
        shutil.copyfile(f"{record.path}{ending}", f"{path}{ending}")
    connection.close()
    assert path.stat().st_size > record.path.stat().st_size, "half of it is in the file already"
    before = digest(path)
    with RecordFile.open(path, read_only=True) as view:
        assert view.events() == events
    assert digest(path) == before
    with RecordFile.open(path) as again:
        assert again.events() == events
    assert [p.name for p in folder.iterdir()] == [path.name]
