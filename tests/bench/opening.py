"""Opening sheets of 50, 500 and 2000 steps, and a record that was worked through.

    python tests/bench/opening.py

From the asking until the window shows it, and how long the window's thread stood still at the
longest meanwhile. The plain thing is Python's own reading of the same JSON.
"""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

from bench_window import BenchWindow, open_bench_window
from longest_gap import Gaps
from made_sheet import make_sheet
from ratios import Row, hand_over, take_ms

SIZES = (50, 500, 2000)
AIM_GAP_MS = 50


def open_once(window: BenchWindow, path: Path) -> tuple[float, float]:
    """Milliseconds until it is shown, and the longest gap."""
    with Gaps(window) as gaps:
        took_ms = take_ms(lambda: window.open(path))
    return took_ms, gaps.longest_ms


def measure(folder: Path) -> list[Row]:
    rows = []
    for steps in SIZES:
        sheet = make_sheet(folder / f"sheet {steps}", steps=steps, screws=16)
        raw = (sheet / "job.json").read_bytes()
        with open_bench_window() as window:
            window.open(make_sheet(folder / "first", steps=2))  # what the first opening imports
            took_ms, gap_ms = open_once(window, sheet)
            rows.append(
                Row(f"opening a sheet of {steps} steps", took_ms, "ms",
                    take_ms(lambda raw=raw: json.loads(raw)))
            )  # fmt: skip
            rows.append(Row("  longest gap meanwhile", gap_ms, "ms", most=AIM_GAP_MS))
            window.go_to_work()
            desk = window.frame.desk
            for address in list(desk.sheet.tasks)[:-1]:
                desk.record("skipped", {"task": address, "reason": "bench"})
            window.wait(lambda desk=desk: not desk.waiting)
            path, events = desk.path, len(desk.progress.events)
            window.frame.go("shelf")
            window.frame.close_desk()
            took_ms, gap_ms = open_once(window, path)
            rows.append(Row(f"opening its record of {events} events", took_ms, "ms"))
            rows.append(Row("  longest gap meanwhile", gap_ms, "ms", most=AIM_GAP_MS))
    return rows


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        hand_over(measure(Path(folder)))
