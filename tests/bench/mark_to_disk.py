"""How long a mark takes to be on disk, against a bare SQLite insert that is as safe.

    python tests/bench/mark_to_disk.py [FOLDER]

Both write to the same disk in the same run, by turns, so that a slow moment of the disk meets both.
The aim is a ratio of 1.5 at most, and under 16 ms a mark outside the disk's own time.
"""

from __future__ import annotations

import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from shopguide.record.file import RecordFile

ROUNDS = 200
WARM_UP = 20


def open_bare(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")
    if sys.platform == "darwin":
        connection.execute("PRAGMA fullfsync = ON")
    connection.execute("CREATE TABLE marks (seq INTEGER PRIMARY KEY, line TEXT NOT NULL) STRICT")
    return connection


def take_ms(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def describe(name: str, times_ms: list[float]) -> str:
    ordered = sorted(times_ms)
    slow = ordered[int(0.99 * len(ordered))]
    return f"{name:34} median {statistics.median(ordered):7.3f} ms   p99 {slow:7.3f} ms"


def measure(folder: Path) -> None:
    bare = open_bare(folder / "bare.db")
    record = RecordFile.create(
        folder / "bench.shopguide", b"{}", [], {"title": "Bench", "rehearsal": True, "orders": {}}
    )
    # As many bytes as a row of the record has, so that both fill their pages alike.
    line = "x" * 320
    mark = {"task": "12.1", "pass": 2, "trip": 1, "target": "9 N·m", "wrench": "Small one"}
    works = {
        "bare": lambda number: bare.execute("INSERT INTO marks (line) VALUES (?)", (line,)),
        "record": lambda number: record.append("mark", {**mark, "fastener": number}),
    }
    times_ms: dict[str, list[float]] = {name: [] for name in works}
    for number in range(ROUNDS + WARM_UP):
        # Each goes first every other time: the second finds the disk as the first left it.
        for name in sorted(works, reverse=number % 2 == 1):
            times_ms[name].append(take_ms(lambda work=works[name], n=number: work(n)))
    bare.close()
    record.close()
    bare_ms, record_ms = times_ms["bare"][WARM_UP:], times_ms["record"][WARM_UP:]
    print(describe("bare SQLite, WAL and FULL", bare_ms))
    print(describe("mark to disk", record_ms))
    outside_ms = statistics.median(record_ms) - statistics.median(bare_ms)
    print(f"mark outside what bare SQLite takes: {outside_ms:.3f} ms (aim: under 16 ms)")
    ratio = statistics.median(record_ms) / statistics.median(bare_ms)
    print(f"ratio of the medians of {ROUNDS}: {ratio:.2f} (aim: 1.50 at most)")


def main() -> None:
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as folder:
        measure(Path(folder))


if __name__ == "__main__":
    main()
