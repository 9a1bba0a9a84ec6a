"""One writer at a time, across processes, whatever becomes of them."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys

import pytest

from shopguide.errors import RecordTrouble
from shopguide.record.file import RecordFile
from shopguide.record.lock import Holder, RecordLocked, WriteLock

HOLDER = """
import sys
from shopguide.record.file import RecordFile
record = RecordFile.open(sys.argv[1])
print("open", flush=True)
sys.stdin.readline()
record.close()
"""


@pytest.fixture
def holder(make, checkout):
    """A closed record, and another process that has it open for writing."""
    record = make(marks=2)
    record.close()
    process = subprocess.Popen(
        [sys.executable, "-c", HOLDER, record.path],
        cwd=checkout,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout.readline() == "open\n"
    yield record.path, process
    process.kill()
    process.communicate()


def test_the_second_process_is_told_who_writes(holder):
    path, process = holder
    with pytest.raises(RecordLocked) as caught:
        RecordFile.open(path)
    assert caught.value.holder.pid == process.pid
    assert caught.value.holder.host == socket.gethostname()
    assert f"by process {process.pid} of this computer" in caught.value.what
    assert "looked at" in caught.value.next
    with RecordFile.open(path, read_only=True) as view:
        assert len(view.events()) == 3


def test_being_refused_does_not_disturb_the_holder(holder):
    path, process = holder
    for _ in range(3):
        with pytest.raises(RecordLocked) as caught:
            RecordFile.open(path)
        assert caught.value.holder.pid == process.pid


def test_once_it_is_closed_the_next_may_write(holder):
    path, process = holder
    process.communicate("close\n")
    assert process.returncode == 0
    assert [p.name for p in path.parent.iterdir()] == [path.name]
    RecordFile.open(path).close()


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX systems")
def test_the_lock_of_a_killed_process_counts_for_nothing(holder):
    path, process = holder
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert (path.parent / f".{path.name}.lock").exists()
    with RecordFile.open(path) as record:
        assert not record.read_only
    assert [p.name for p in path.parent.iterdir()] == [path.name]


def test_one_file_under_two_names_has_one_lock(make, tmp_path):
    record = make(marks=1)
    other = tmp_path / "shortcut.shopguide"
    other.symlink_to(record.path)
    with pytest.raises(RecordLocked):
        RecordFile.open(other)


def test_a_lock_is_taken_once_and_leaves_nothing(tmp_path):
    first, second = WriteLock(tmp_path / "a"), WriteLock(tmp_path / "a")
    first.take()
    with pytest.raises(RecordLocked, match="another window of this program"):
        second.take()
    second.drop()
    assert first.path.exists(), "one that does not hold it does not take it away"
    first.drop()
    assert list(tmp_path.iterdir()) == []
    second.take()
    second.drop()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="an open file keeps its name there")
def test_a_lock_whose_name_was_taken_away_meanwhile_is_not_trusted(tmp_path, monkeypatch):
    """Between opening the file and locking it, the holder before lets go and removes it."""
    from shopguide.record import lock as module

    first, second, third = (WriteLock(tmp_path / "a") for _ in range(3))
    first.take()
    plain = module._lock
    met = []

    def lock_late(fd: int) -> bool:
        if not met:
            met.append(fd)
            first.drop()
        return plain(fd)

    monkeypatch.setattr(module, "_lock", lock_late)
    second.take()
    assert met
    with pytest.raises(RecordLocked):
        third.take()
    second.drop()


@pytest.mark.parametrize("words", [b"", b"{", b"[]", b'{"pid": "x"}', b"\xff\xfe", b"0" * 5000])
def test_unreadable_words_in_the_lock_do_not_matter(tmp_path, words):
    first, second = WriteLock(tmp_path / "a"), WriteLock(tmp_path / "a")
    first.take()
    first.path.write_bytes(words)
    with pytest.raises(RecordLocked) as caught:
        second.take()
    assert caught.value.holder is None
    first.drop()


def test_a_holder_on_another_computer_is_named():
    holder = Holder(7, "garage-laptop", "2031-05-04T09:30:00.000Z")
    assert holder.tell().endswith("by process 7 of “garage-laptop”")


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(RecordTrouble, match="folder is not there"):
        WriteLock(tmp_path / "no" / "a").take()


@pytest.mark.parametrize(
    ("number", "said"),
    [(30, "read-only"), (13, "read-only"), (28, "disk is full"), (38, "keep two writers apart")],
)
def test_what_keeps_a_lock_from_being_taken_is_told(tmp_path, monkeypatch, number, said):
    def refuse(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "open", refuse)
    with pytest.raises(RecordTrouble, match=said):
        WriteLock(tmp_path / "a").take()
