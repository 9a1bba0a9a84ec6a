"""How the benches print: each figure beside the plain one it is held against, and the aim."""

from __future__ import annotations

import json
import os
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(CHECKOUT))


@dataclass(frozen=True)
class Row:
    """One line of the table. bare: the plain thing of the same run; None where there is none.

    most_ratio, most: the aim, as a ratio to the plain thing or as a figure; None where none is set.
    """

    what: str
    ours: float
    unit: str
    bare: float | None = None
    most_ratio: float | None = None
    most: float | None = None

    @property
    def ratio(self) -> float | None:
        """How many times the plain thing."""
        return self.ours / self.bare if self.bare else None

    @property
    def met(self) -> bool | None:
        """Whether the aim is met; None where there is none."""
        if self.most_ratio is not None and self.ratio is not None:
            return self.ratio <= self.most_ratio
        return self.ours <= self.most if self.most is not None else None

    def tell(self) -> str:
        """The line as printed."""
        bare = f"{self.bare:9.2f}" if self.bare is not None else " " * 9
        ratio = f"{self.ratio:7.2f}" if self.ratio is not None else " " * 7
        aim = ""
        if self.most_ratio is not None:
            aim = f"{self.most_ratio:g} times"
        elif self.most is not None:
            aim = f"{self.most:g} {self.unit}"
        word = {None: "", True: "met", False: "MISSED"}[self.met]
        line = f"{self.what:56} {self.ours:9.2f} {bare} {self.unit:3} {ratio}  {aim:10} {word}"
        return line.rstrip()


HEAD = f"{'':56} {'here':>9} {'plain':>9} {'':3} {'ratio':>7}  aim"


def take_ms(work: Callable[[], object]) -> float:
    """How long a piece of work takes, in milliseconds."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def take_by_turns(
    works: dict[str, Callable[[], object]], rounds: int, warm_up: int = 1
) -> dict[str, list[float]]:
    """Times in ms of each work, taken by turns, so that a slow moment of the machine meets all.

    Each goes first every so often: the second finds disk and caches as the first left them.
    """
    times_ms: dict[str, list[float]] = {name: [] for name in works}
    names = list(works)
    for number in range(rounds + warm_up):
        for name in names[number % len(names) :] + names[: number % len(names)]:
            took_ms = take_ms(works[name])
            if number >= warm_up:
                times_ms[name].append(took_ms)
    return times_ms


def middle(values: Sequence[float]) -> float:
    """The median."""
    return statistics.median(values)


def hand_over(rows: Sequence[Row]) -> None:
    """Prints the rows: as a table, or as JSON where run.py asks for it."""
    if "--json" in sys.argv:
        print(json.dumps([asdict(row) for row in rows]))
        return
    print(HEAD)
    for row in rows:
        print(row.tell())
