"""Runs every bench, each in a process of its own, and prints one table of ratios and aims.

    python tests/bench/run.py [NAME...]

On a machine that does other work too, look at the ratios: both sides were measured by turns.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from ratios import HEAD, Row

HERE = Path(__file__).parent
BENCHES = (
    "start_up",
    "mark_to_disk",
    "step_change",
    "drawing_and_order",
    "opening",
    "review_speed",
    "write_speed",
    "forecast",
    "longest_gap",
)


def run(name: str) -> list[Row]:
    """The rows of one bench; none, and a word on standard error, where it did not run."""
    done = subprocess.run(
        [sys.executable, str(HERE / f"{name}.py"), "--json"], stdout=subprocess.PIPE, text=True
    )
    if done.returncode or not done.stdout.strip():
        print(f"{name}: exit code {done.returncode}", file=sys.stderr)
        return []
    return [Row(**row) for row in json.loads(done.stdout.splitlines()[-1])]


def main() -> int:
    names = sys.argv[1:] or list(BENCHES)
    unknown = sorted(set(names) - set(BENCHES))
    if unknown:
        print(f"No bench is called {unknown[0]}. There are: {', '.join(BENCHES)}", file=sys.stderr)
        return 2
    ran = True
    print(HEAD)
    for name in names:
        print(f"\n{name}")
        rows = run(name)
        ran = ran and bool(rows)
        for row in rows:
            print(row.tell(), flush=True)
    return 0 if ran else 2


if __name__ == "__main__":
    sys.exit(main())
