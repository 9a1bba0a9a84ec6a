"""How long a mark takes to be on disk, against a bare SQLite insert that is as safe.

    python tests/bench/mark_to_disk.py [FOLDER]

Both write to the same disk in the same run, by turns, so that a slow moment of the disk meets both.
The second half goes through the real window: from the key press until the mark is on disk, and
until it is drawn.
"""

from __future__ import annotations

import sqlite3
import sys
import tempfile
import threading
import time
from pathlib import Path

from bench_window import BenchWindow, open_bench_window
from made_sheet import make_sheet
from PySide6.QtCore import Qt
from ratios import Row, hand_over, middle, take_by_turns, take_ms

from shopguide.record.file import RecordFile
from shopguide.window.desk import Desk

ROUNDS = 200
WARM_UP = 20
SCREWS = 60


def open_bare(path: Path) -> sqlite3.Connection:
    """A plain table, synced as fully as a record is. Any thread may use it."""
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    if sys.platform == "darwin":
        connection.execute("PRAGMA fullfsync = ON")
    connection.execute("CREATE TABLE marks (seq INTEGER PRIMARY KEY, line TEXT NOT NULL) STRICT")
    return connection


class Bare:
    """Inserts as many bytes as a row of the record has, so that both fill their pages alike."""

    def __init__(self, folder: Path) -> None:
        self.connection = open_bare(folder / "bare.db")

    def insert(self) -> None:
        self.connection.execute("INSERT INTO marks (line) VALUES (?)", ("x" * 320,))


def measure_record(folder: Path) -> list[Row]:
    """The record file by itself."""
    bare = Bare(folder)
    record = RecordFile.create(
        folder / "bench.shopguide", b"{}", [], {"title": "Bench", "rehearsal": True, "orders": {}}
    )
    mark = {"task": "12.1", "pass": 2, "trip": 1, "target": "9 N·m", "wrench": "Small one"}
    times_ms = take_by_turns(
        {
            "bare": bare.insert,
            "record": lambda: record.append("mark", {**mark, "fastener": 7}),
        },
        ROUNDS,
        WARM_UP,
    )
    bare.connection.close()
    record.close()
    bare_ms, record_ms = middle(times_ms["bare"]), middle(times_ms["record"])
    return [
        Row("mark to disk, the record alone", record_ms, "ms", bare_ms, most_ratio=1.5),
        Row("  of that outside the bare insert", record_ms - bare_ms, "ms", most=16),
    ]


class DiskClock:
    """When the record's thread has written what a key press sent it."""

    def __init__(self, desk: Desk) -> None:
        self.at = 0.0
        self.written = threading.Event()
        write = desk._write

        def write_and_look(kind: str, data: dict, picture: object) -> None:
            write(kind, data, picture)
            self.at = time.perf_counter()
            self.written.set()

        desk._write = write_and_look


def press(window: BenchWindow, clock: DiskClock) -> tuple[float, float, float]:
    """One press of Space: ms until it is on disk, until it is drawn, and the thread's own work."""
    clock.written.clear()
    begun, worked = time.perf_counter(), time.thread_time()
    window.record(Qt.Key.Key_Space)
    drawn_ms = (time.perf_counter() - begun) * 1000
    worked_ms = (time.thread_time() - worked) * 1000
    clock.written.wait()
    return (clock.at - begun) * 1000, drawn_ms, worked_ms


def measure_window(folder: Path) -> list[Row]:
    """Key press, disk and screen, at a pattern of 60 screws."""
    with open_bench_window() as window:
        window.open(make_sheet(folder / "sheet", screws=SCREWS))
        window.go_to_work()
        for _ in range(3):
            window.record()
        clock = DiskClock(window.frame.desk)
        # On the same disk as the record, which lies in the window's own home.
        bare = Bare(window.frame.desk.path.parent)
        bare_ms: list[float] = []
        pressed: list[tuple[float, float, float]] = []
        for number in range(SCREWS * 2 + WARM_UP):
            if number % 2:
                bare_ms.append(take_ms(bare.insert))
            pressed.append(press(window, clock))
            if not number % 2:
                bare_ms.append(take_ms(bare.insert))
        bare.connection.close()
    pressed, bare_ms = pressed[WARM_UP:], bare_ms[WARM_UP:]
    disk_ms, drawn_ms, worked_ms = (middle(column) for column in zip(*pressed, strict=True))
    outside_ms = middle(
        [drawn - bare for (_, drawn, _), bare in zip(pressed, bare_ms, strict=True)]
    )
    return [
        Row(
            "key press to disk, through the window", disk_ms, "ms", middle(bare_ms), most_ratio=1.5
        ),
        Row("key press to disk and drawn", drawn_ms, "ms", middle(bare_ms)),
        Row("  of that outside the bare insert", outside_ms, "ms", most=16),
        # Without what other programs took of the processor meanwhile.
        Row("  of that the window's own work", worked_ms, "ms", most=16),
    ]


def measure(folder: Path) -> list[Row]:
    return [*measure_record(folder), *measure_window(folder)]


if __name__ == "__main__":
    named = [word for word in sys.argv[1:] if not word.startswith("--")]
    with tempfile.TemporaryDirectory(dir=named[0] if named else None) as folder:
        hand_over(measure(Path(folder)))
