"""Write at 50, 500 and 2000 steps: opening, every sort of edit, the review, saving, pasting.

    python tests/bench/write_speed.py

The figures are processor time of the window's thread, the longest piece of it between two beats:
so long a key press had to wait. Beside each size stands the size before, so that the ratio is the
growth: ten times the steps first, then four times. The sheets are those of review_speed with
something to be found in every step.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from bench_window import BenchWindow, open_bench_window
from longest_gap import Gaps
from PySide6.QtCore import Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from ratios import Row, hand_over, middle
from review_speed import make_raw

from shopguide.job.tables import COLUMNS

SIZES = (50, 500, 2000)
ROUNDS = 5
AIM_MS = 50
REVIEW_AIM_MS = 200
PASTED_ROWS = 10_000
CONTROL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
ALT, PLAIN = Qt.KeyboardModifier.AltModifier, Qt.KeyboardModifier.NoModifier
Key = Qt.Key


class Writing:
    """Somebody who writes in a sheet; each deed tells how long the window stood still by it."""

    def __init__(self, window: BenchWindow, path: Path) -> None:
        self.window = window
        self.place = window.frame.write
        before = self.place.writing
        with Gaps(window) as gaps:
            window.frame.opening.open_sheet(path)
            window.wait(lambda: self.place.writing is not before)
            window.paint()
        self.opening_ms = gaps.worked_ms
        # The disk is done a moment after it has told so; something has to look again then.
        self._look_again = QTimer()
        self._look_again.start(10)
        self.settle()

    def settle(self) -> None:
        """Until the review has looked and the disk is done."""
        desk = self.place.writing
        assert desk is not None
        self.window.wait(lambda: not desk.busy and desk.reviewed_data is desk.data)
        self.window.paint()

    def press(self, key: Key, held: Qt.KeyboardModifier = PLAIN) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.place, key, held)
        self.window.paint()

    def go_to_step(self, path: tuple[Any, ...]) -> None:
        self.place.choose(path)
        self.place.outline.setFocus()
        self.window.paint()

    def go_to_cell(self, section: str, row: int, key: str) -> None:
        self.place.choose((section,))
        self.place.table.go_to(row, key)
        self.window.paint()

    def replace_text(self, text: str) -> None:
        """Writes over what stands in a cell."""
        self.press(Key.Key_Return)
        self.press(Key.Key_A, CONTROL)
        QTest.keyClicks(QApplication.focusWidget(), text)
        self.press(Key.Key_Return)

    def time(self, deed: Callable[[], object]) -> float:
        """The longest stop of the window's thread by a deed, in milliseconds of its own work."""
        with Gaps(self.window) as gaps:
            deed()
            self.window.paint()
        return gaps.worked_ms


def list_deeds(write: Writing, steps: int) -> Iterator[tuple[str, Callable[[int], None], Any]]:
    """What is done, each with what comes before it (not timed) and the key press itself."""
    middle_step = ("stages", 0, "steps", steps // 4)
    task = (*middle_step, "tasks", 1)

    def at_step(_: int) -> None:
        write.go_to_step(middle_step)

    def at_task(_: int) -> None:
        write.go_to_step(middle_step)
        write.place.card.go_to(task)
        write.window.paint()

    def at_title(number: int) -> None:
        write.go_to_step(middle_step)
        write.place.card.begin()
        QTest.keyClicks(QApplication.focusWidget(), f"{number}")
        write.window.paint()

    def at_spec(key: str) -> Callable[[int], None]:
        return lambda _: write.go_to_cell("specs", 3, key)

    def press(key: Key, held: Qt.KeyboardModifier = PLAIN) -> Callable[[int], None]:
        return lambda _: write.press(key, held)

    yield "going to the next step", at_step, press(Key.Key_Down)
    yield "a letter typed", at_title, press(Key.Key_X)
    yield "what was typed kept", at_title, press(Key.Key_Tab)
    yield "undo of it", lambda _: None, press(Key.Key_Z, CONTROL)
    yield "redo of it", lambda _: None, press(Key.Key_Z, CONTROL | SHIFT)
    # Of two steps that are the same neither can be moved past the other: so this comes first.
    yield "a step moved", at_step, press(Key.Key_Down, ALT)
    yield "a step added", at_step, press(Key.Key_Insert)
    yield "a step doubled", at_step, press(Key.Key_D, CONTROL)
    yield "a step taken out", at_step, press(Key.Key_Delete)
    yield "undo of that", lambda _: None, press(Key.Key_Z, CONTROL)
    yield "redo of that", lambda _: None, press(Key.Key_Z, CONTROL | SHIFT)
    yield "a step split", at_task, press(Key.Key_Return, CONTROL)
    yield "two steps joined", at_step, press(Key.Key_J, CONTROL)
    yield "a stage added", at_step, press(Key.Key_Insert, SHIFT)
    yield "undo of that again", lambda _: None, press(Key.Key_Z, CONTROL)
    yield "going to the specs", at_step, lambda _: write.place.choose(("specs",))
    yield (
        "a spec changed that every second step uses",
        at_spec("value"),
        lambda n: write.replace_text(f"{n + 10} N·m"),
    )
    yield (
        "a spec renamed that every second step uses",
        at_spec("name"),
        lambda n: write.replace_text(f"screws {n}"),
    )
    yield "undo of the renaming", lambda _: None, press(Key.Key_Z, CONTROL)


def measure_size(window: BenchWindow, folder: Path, steps: int) -> dict[str, float]:
    """Every figure of one size, by what was done."""
    found: dict[str, float] = {}
    sheet = folder / f"sheet {steps}"
    sheet.mkdir()
    (sheet / "job.json").write_bytes(make_raw(steps, poor=True))
    openings = [Writing(window, sheet) for _ in range(ROUNDS)]
    write = openings[-1]
    # The first one also clears away what the size before has left: 200 edits and their findings.
    found["opening until the card is there"] = middle([one.opening_ms for one in openings])
    for what, before, deed in list_deeds(write, steps):
        times = []
        for number in range(ROUNDS):
            before(number)
            write.settle()
            times.append(write.time(lambda deed=deed, number=number: deed(number)))
            write.settle()
        found[what] = max(times)
    stops, spent = [], []
    for number in range(ROUNDS):
        write.go_to_step(("stages", 0, "steps", number))
        write.press(Key.Key_Delete)
        begun = time.process_time()
        stops.append(write.time(write.settle))
        spent.append((time.process_time() - begun) * 1000)
    found["REVIEW"] = middle(spent)
    found["its findings shown"] = max(stops)
    begun = time.process_time()
    found["saving"] = write.time(lambda: (write.press(Key.Key_S, CONTROL), write.settle()))
    found["SAVE"] = (time.process_time() - begun) * 1000
    assert write.place.writing is not None and write.place.writing.is_saved
    return found


def make_rows(section: str) -> str:
    """Rows as a spreadsheet copies them, one in a hundred with something that cannot be read."""
    lines = ["\t".join(COLUMNS[section])]
    for n in range(PASTED_ROWS):
        odd = n % 100 == 50
        cells = {
            "name": f"{section} {n}",
            "number": f"QB {n}",
            "quantity": "two" if odd else "2",
            "single-use": "x" if n % 2 else "",
            "note": f"row {n}",
            "kind": "",
            "value": "9" if odd else f"{n % 90 + 1} N·m",
            "source kind": "manual",
            "source": f"page {n}",
        }
        lines.append("\t".join(cells.get(column, "") for column in COLUMNS[section]))
    return "\n".join(lines)


def measure_pasting(window: BenchWindow, folder: Path) -> dict[str, float]:
    """Ten thousand rows pasted into a table, and taken back."""
    found: dict[str, float] = {}
    sheet = folder / "pasted"
    sheet.mkdir()
    (sheet / "job.json").write_bytes(make_raw(50))
    write = Writing(window, sheet)
    desk = write.place.writing
    assert desk is not None
    for section in ("specs", "parts", "tools"):
        write.go_to_cell(section, 0, "name")
        write.settle()
        QApplication.clipboard().setText(make_rows(section))
        before, count = desk.data, len(desk.data[section])

        def paste(section: str = section, count: int = count) -> None:
            write.press(Key.Key_V, CONTROL)
            window.wait(lambda: len(desk.data[section]) == count + PASTED_ROWS)

        word = f"{PASTED_ROWS:,} rows pasted into {section}"
        found[word] = write.time(paste)
        found[f"the review of {section} shown"] = write.time(write.settle)
        found[f"one of {section} changed"] = write.time(lambda: write.replace_text("another"))
        write.settle()
        found[f"a row of {section} taken out"] = write.time(
            lambda: write.press(Key.Key_Delete, CONTROL)
        )
        for _ in range(2):
            write.press(Key.Key_Z, CONTROL)
        found[f"undo of the pasting into {section}"] = write.time(
            lambda: write.press(Key.Key_Z, CONTROL)
        )
        assert desk.data is before
        write.settle()
    return found


def measure(folder: Path) -> list[Row]:
    sizes: dict[int, dict[str, float]] = {}
    with open_bench_window() as window:
        first = folder / "first"
        first.mkdir()
        (first / "job.json").write_bytes(make_raw(2))
        Writing(window, first)  # what the first opening imports
        for steps in SIZES:
            sizes[steps] = measure_size(window, folder, steps)
        pasted = measure_pasting(window, folder)
    words = {
        "REVIEW": "the review after it, all threads, with showing it",
        "SAVE": "saving, all threads",
    }
    aims = {"REVIEW": REVIEW_AIM_MS, "SAVE": None}
    rows = []
    for what in sizes[SIZES[0]]:
        smaller: float | None = None
        for steps, found in sizes.items():
            said = f"{words.get(what, what)}, {steps}" if smaller is None else f"  {steps} steps"
            rows.append(Row(said, found[what], "ms", smaller, most=aims.get(what, AIM_MS)))
            smaller = found[what]
    rows += [Row(what, took_ms, "ms", most=AIM_MS) for what, took_ms in pasted.items()]
    return rows


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        hand_over(measure(Path(folder)))
