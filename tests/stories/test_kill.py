"""The program is killed at random moments: what the screen had shown is on disk, and work resumes.

`pytest --kills 200` kills it that often instead of 20 times.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from shopguide.job.files import read_sheet
from shopguide.record.contents import as_row
from shopguide.record.file import RecordFile, verify_record
from shopguide.work.chain import follow
from shopguide.work.next_up import next_up
from shopguide.work.progress import fold

HERE = Path(__file__).parent
LANES = 2
LONGEST_LIFE_S = 60


@dataclass
class Life:
    """What one run of the program had said when it was killed."""

    shown: dict[int, str] = field(default_factory=dict)
    stands: str | None = None
    told: int = 0

    def take(self, line: str) -> None:
        if not line.endswith("\n"):
            return  # cut off by the kill in the middle of being written
        said = json.loads(line)
        if "hash" in said:
            self.shown[said["seq"]] = said["hash"]
            self.told += 1
        elif "stands" in said:
            self.stands = said["stands"]


@dataclass
class Left:
    """What was in the file after a kill: every hash, where the work stands, how many marks."""

    hashes: dict[int, str] = field(default_factory=dict)
    bar: str = ""
    marks: int = 0


def live(folder: Path, path: Path, checkout: Path, luck: random.Random, early: bool) -> Life:
    """Starts the program on a sheet or record, and kills it.

    early: while the record is being made; else after a number of shown events.
    """
    life = Life()
    env = {**os.environ, "SHOPGUIDE_HOME": str(folder), "PYTHONPATH": str(checkout)}
    words = [sys.executable, str(HERE / "kill_run.py"), str(path), str(luck.randrange(1 << 30))]
    errors = folder.parent / f"{folder.name} errors.txt"
    with (
        errors.open("w") as stderr,
        subprocess.Popen(words, env=env, stdout=subprocess.PIPE, stderr=stderr, text=True) as run,
    ):
        watch = threading.Timer(LONGEST_LIFE_S, run.kill)
        watch.start()
        line = run.stdout.readline()
        assert line and json.loads(line) == {"ready": True}, errors.read_text()
        if early:
            wait_s = luck.random() * 0.06
        else:
            wanted = luck.randint(1, 25)
            while life.told < wanted:
                line = run.stdout.readline()
                assert line, f"it ended by itself: {errors.read_text()}"
                life.take(line)
            # So that not every kill falls into the same moment of a commit.
            wait_s = luck.random() * 0.02
        until = time.perf_counter() + wait_s
        while time.perf_counter() < until:
            pass
        assert watch.is_alive(), "it hung"
        assert run.poll() is None, f"it ended by itself: {errors.read_text()}"
        os.kill(run.pid, signal.SIGKILL)
        watch.cancel()
        for line in run.stdout.read().splitlines(keepends=True):
            life.take(line)
    assert run.returncode == -signal.SIGKILL
    assert errors.read_text() == ""
    return life


def find_record(folder: Path) -> Path | None:
    found = sorted((folder / "records").glob("*.shopguide"))
    assert len(found) <= 1, "one job has one record, however often it was broken off"
    return found[0] if found else None


def look_at_copy(path: Path, scratch: Path, life: Life, before: Left) -> Left:
    """Checks a copy of what the kill left, so that the program itself meets it untouched."""
    scratch.mkdir()
    copy = scratch / path.name
    for ending in ("", "-wal"):
        left = Path(f"{path}{ending}")
        if left.exists():
            shutil.copyfile(left, f"{copy}{ending}")
    with RecordFile.open(copy) as record:
        events = record.events()
        there = {event.seq: event.hash for event in events}
        assert life.shown.items() <= there.items(), "the screen had shown what is not in the file"
        assert before.hashes.items() <= there.items(), "what was there before is gone or changed"
        # The one on its way when the kill came may be there or not. Where the record was being
        # made, its own beginning comes with it.
        known = max(life.shown, default=len(before.hashes))
        assert len(there) - known <= (1 if known else 2)
        head, fault = follow(as_row(event) for event in events)
        assert fault is None and head == record.head
        sheet = read_sheet(record.sheet_raw(), where=copy.name)
        bar = next_up(fold(sheet, events)).bar
        appended = record.append("note", {"step": 1, "text": "after the kill"})
        assert appended.seq == len(events) + 1
    assert verify_record(copy).good
    assert [p.name for p in scratch.iterdir()] == [copy.name], "closed to one file"
    shutil.rmtree(scratch)
    return Left(there, bar, len([e for e in events if e.kind == "mark"]))


def kill_often(folder: Path, checkout: Path, kills: int, seed: int) -> tuple[int, int, int]:
    """One job after another in one user's folder, killed so often; returns what was met.

    That is: kills while a record was being made, kills after it, marks on disk in the end.
    """
    luck = random.Random(seed)
    left = Left()
    early_kills = later_kills = marks = 0
    for number in range(kills):
        record = find_record(folder)
        if record is not None and number % 5 == 0:
            # Another job begins, so that the making of a record is hit again.
            marks += left.marks
            shutil.move(folder / "records", folder / f"records until {number}")
            record, left = None, Left()
        # How often a record is being made depends on the disk's speed; every tenth time it is
        # sure to be hit.
        early = record is None and (number % 10 == 0 or luck.random() < 0.7)
        life = live(folder, record or HERE / "small_cover", checkout, luck, early)
        early_kills += early
        later_kills += not early
        if record is not None and life.stands is not None:
            assert life.stands == left.bar, "it resumed at another place than the events say"
        record = find_record(folder)
        if record is None:
            assert not life.shown, "it had shown what is in no record"
        else:
            left = look_at_copy(record, folder / "scratch", life, left)
    return early_kills, later_kills, marks + left.marks


@pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL is of POSIX systems")
def test_what_the_screen_had_shown_is_on_disk_and_work_resumes(tmp_path, checkout, request):
    kills = request.config.getoption("--kills")
    folders = [tmp_path / f"user {lane}" for lane in range(LANES)]
    for folder in folders:
        folder.mkdir()
    shares = [len(range(lane, kills, LANES)) for lane in range(LANES)]
    with ThreadPoolExecutor(LANES) as pool:
        lanes = [
            pool.submit(kill_often, folder, checkout, share, seed)
            for seed, (folder, share) in enumerate(zip(folders, shares, strict=True), 1)
        ]
        met = [lane.result() for lane in lanes]
    early, later, marks = (sum(column) for column in zip(*met, strict=True))
    assert early + later == kills
    if kills >= 20:
        assert early >= kills // 10 and later >= kills // 2
        assert marks >= kills, "the kills fell into work that was done"
