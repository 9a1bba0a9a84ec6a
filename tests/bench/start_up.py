"""From starting the program to its first painted window, against a bare PySide6 window.

    python tests/bench/start_up.py

Fresh processes by turns, a fresh user's folder each; the memory is the most that the process had
held when the window was painted.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time

from ratios import CHECKOUT, Row, hand_over, middle

ROUNDS = 7

TELL = """
import resource, sys
def tell():
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    # In kilobytes, but in bytes on macOS.
    print(most / (1 << 20 if sys.platform == "darwin" else 1 << 10), flush=True)
"""

BARE = (
    TELL
    + """
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMainWindow
class Window(QMainWindow):
    def paintEvent(self, event):
        super().paintEvent(event)
        QTimer.singleShot(0, end)
def end():
    tell()
    app.quit()
app = QApplication(sys.argv)
window = Window()
window.resize(1366, 768)
window.show()
app.exec()
"""
)

OURS = (
    TELL
    + """
from shopguide.__main__ import main
from shopguide import cli
from PySide6.QtWidgets import QApplication
import shopguide.window.app as app
def end():
    tell()
    QApplication.instance().closeAllWindows()
# What the program does as soon as its window is painted.
app.prepare_units = end
main([])
"""
)


def start(script: str) -> tuple[float, float]:
    """Milliseconds until it is painted, and megabytes held then."""
    with tempfile.TemporaryDirectory() as home:
        env = {
            **os.environ,
            "SHOPGUIDE_HOME": home,
            "PYTHONPATH": str(CHECKOUT),
            "XDG_RUNTIME_DIR": home,
        }
        begun = time.perf_counter()
        with subprocess.Popen(
            [sys.executable, "-c", script],
            env=env,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        ) as run:
            line = run.stdout.readline()
            took_ms = (time.perf_counter() - begun) * 1000
        if not line:
            raise SystemExit(f"it did not start: exit code {run.returncode}")
        return took_ms, float(line)


def measure() -> list[Row]:
    times: dict[str, list[tuple[float, float]]] = {"bare": [], "ours": []}
    scripts = {"bare": BARE, "ours": OURS}
    for number in range(ROUNDS + 1):
        for name in sorted(scripts, reverse=number % 2 == 1):
            took = start(scripts[name])
            if number:  # the first of each fills the disk's cache
                times[name].append(took)
    bare_ms, bare_mb = (middle(column) for column in zip(*times["bare"], strict=True))
    ours_ms, ours_mb = (middle(column) for column in zip(*times["ours"], strict=True))
    return [
        Row("start to first painted window", ours_ms, "ms", bare_ms, most_ratio=2.5),
        Row("memory at the first painted window", ours_mb, "MB", bare_mb, most_ratio=2.5),
    ]


if __name__ == "__main__":
    hand_over(measure())
