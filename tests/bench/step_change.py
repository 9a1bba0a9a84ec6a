"""From a key press to the next step's picture on the screen, with photos of 12 megapixels.

    python tests/bench/step_change.py

Cold: nothing was decoded ahead; held against a scaled decode by QImageReader at the same size, by
turns. Prefetched: the neighbour of the step on the screen, as it is when somebody works along.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from bench_window import BenchWindow, open_bench_window
from made_sheet import make_photo, make_sheet
from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImageReader
from ratios import Row, hand_over, middle, take_ms

STEPS = 9
ROUNDS = 5


def is_shown(window: BenchWindow) -> bool:
    """True where the step's picture is decoded, so that the paint that follows shows it."""
    view, pictures = window.frame.work.picture, window.frame.pictures
    size = view.frame_size()
    return (view._photos[view._index].file, size.width(), size.height()) in pictures._kept


def show(window: BenchWindow, move) -> float:
    """Milliseconds from a move to the picture on the screen."""

    def go() -> None:
        move()
        window.paint()
        window.wait(lambda: is_shown(window))
        window.paint()

    took_ms = take_ms(go)
    window.wait(lambda: not window.frame.pictures.busy)
    return took_ms


def decode_plainly(path: Path, size: QSize) -> None:
    """What Qt does at the least: read the file, scaled to fit the box, upright."""
    reader = QImageReader(str(path))
    reader.setAutoTransform(True)
    # The stored picture lies on its side, so the box does too.
    reader.setScaledSize(
        reader.size().scaled(size.transposed(), Qt.AspectRatioMode.KeepAspectRatio)
    )
    if reader.read().isNull():
        raise SystemExit("the photo cannot be read")


def measure(folder: Path) -> list[Row]:
    photos = tuple(make_photo(folder / f"part_{n}.jpg", seed=n) for n in range(1, STEPS + 1))
    cold_ms, plain_ms, ready_ms = [], [], []
    with open_bench_window() as window:
        window.open(make_sheet(folder / "sheet", steps=STEPS, photos=photos))
        window.go_to_work()
        window.wait(lambda: not window.frame.pictures.busy)
        work, pictures = window.frame.work, window.frame.pictures
        for _ in range(ROUNDS):
            # Two steps on each time: the one between is a neighbour, the next one is not.
            for number in range(1, STEPS + 1, 2):
                work.look_at_step(STEPS if number == 1 else 1)
                window.wait(lambda: not pictures.busy)
                window.paint()
                pictures._kept.clear()
                cold_ms.append(show(window, lambda n=number: work.look_at_step(n)))
                size = work.picture.frame_size()
                plain_ms.append(
                    take_ms(lambda n=number, size=size: decode_plainly(photos[n - 1], size))
                )
                if number < STEPS:
                    ready_ms.append(show(window, lambda: window.key(Qt.Key.Key_Right)))
    return [
        Row("step with a 12-megapixel photo, cold", middle(cold_ms), "ms", middle(plain_ms), 1.2),
        Row("the same, prefetched", middle(ready_ms), "ms", most=16),
    ]


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        hand_over(measure(Path(folder)))
