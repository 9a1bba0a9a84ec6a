"""Whole jobs through the real window: the keys of a person, and what they can read."""

from __future__ import annotations

import importlib.util
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from shopguide.window.app import make_app
from shopguide.window.frame import Frame
from shopguide.work.next_up import Due

PATIENCE_MS = 30_000


class Person:
    """Sits before one window. Presses keys, waits for what the window says it did."""

    def __init__(self, qtbot, frame: Frame) -> None:
        self.qtbot = qtbot
        self.frame = frame
        self.photo = ""
        frame.work.choose_photos = lambda: [self.photo] if self.photo else []

    # What can be seen.

    @property
    def bar(self) -> str:
        return self.frame.place.bar.does

    @property
    def notice(self) -> str:
        notice = self.frame.place.notice
        words = (notice.what, notice.where, notice.next)
        return " ".join(w for w in words if w) if not notice.isHidden() else ""

    @property
    def due(self) -> Due:
        return self.frame.work.due()

    @property
    def events(self) -> tuple:
        return self.frame.desk.record_file.events()

    # What can be done.

    def focus(self) -> QWidget:
        return self.frame.focusWidget() or self.frame.place

    def key(self, key: Qt.Key, to: QWidget | None = None) -> None:
        """One key press, without waiting."""
        QTest.keyClick(to or self.focus(), key)

    def record(self, key: Qt.Key = Qt.Key.Key_Space) -> None:
        """A key press that records something, until that is on disk and on the screen."""
        with self.qtbot.waitSignal(self.frame.desk.changed, timeout=PATIENCE_MS):
            self.key(key)
        self.settle()

    def settle(self) -> None:
        """Until nothing is on its way to disk."""
        self.qtbot.waitUntil(lambda: not self.frame.desk.waiting, timeout=PATIENCE_MS)

    def answer(self, text: str) -> None:
        """Types into the question that is open and records the answer."""
        ask = self.frame.place.ask
        assert ask.is_open, "no question is open"
        ask.entry.clear()
        QTest.keyClicks(ask.entry, text)
        with self.qtbot.waitSignal(self.frame.desk.changed, timeout=PATIENCE_MS):
            QTest.keyClick(ask.entry, Qt.Key.Key_Return)
        self.settle()

    def open(self, path: Path) -> None:
        """Opens a sheet or a record, until it is there."""
        before = self.frame.desk
        self.frame.open_path(path)
        self.qtbot.waitUntil(
            lambda: self.frame.desk is not None and self.frame.desk is not before,
            timeout=PATIENCE_MS,
        )

    def fill_in(self, *texts: str) -> None:
        """Types into the fields of Lay out one after another; an empty text leaves one empty."""
        for text in texts:
            entry = self.focus()
            QTest.keyClicks(entry, text)
            QTest.keyClick(entry, Qt.Key.Key_Return)
            self.settle()

    def lay_out(self) -> None:
        """Goes through the whole of Lay out and on to Work."""
        self.fill_in(
            "Corvane", "Tarn 260", "2014", "1M8GDM9AXKP042788", "", "123456 km", "Ada Hill"
        )
        self.fill_in("small click wrench, 2 N·m, 25 N·m, 4711, March 2026")
        self.fill_in("half-inch wrench, 20 N·m, 200 N·m", "")
        for _ in range(200):
            if self.frame.place is not self.frame.lay_out:
                return
            self.key(Qt.Key.Key_Space)
            self.settle()
        raise AssertionError(f"Lay out does not end: {self.bar}")

    def go_down_to(self, bar: str) -> None:
        """Presses Down until the bar says this."""
        for _ in range(60):
            if self.bar == bar:
                return
            self.key(Qt.Key.Key_Down)
        raise AssertionError(f"no line says “{bar}”; the last says “{self.bar}”")

    def do(self, value: str = "") -> Due:
        """Does what is due, whatever that takes; returns what it was."""
        due = self.due
        match due.act:
            case "value":
                self.key(Qt.Key.Key_Space)
                self.answer(value or self.likely_value(due))
            case "wait" if due.kind == "done":
                self.key(Qt.Key.Key_Space)
                self.answer("a test does not wait")
            case "photo":
                before = len(self.frame.desk.progress.outcomes)
                self.key(Qt.Key.Key_Space)
                self.qtbot.waitUntil(
                    lambda: len(self.frame.desk.progress.outcomes) > before, timeout=PATIENCE_MS
                )
                self.settle()
            case _:
                self.record()
        return due

    def likely_value(self, due: Due) -> str:
        """A value within its limits."""
        task = self.frame.desk.sheet.tasks[due.task]
        if task.kind == "measure":
            spec = self.frame.desk.sheet.spec(task.spec)
            return spec.value or spec.low or spec.high
        return "4 qt + 250 mL"

    def work_until(self, wanted) -> Due:
        """Does what is due until `wanted(due)` is true of what is due then."""
        for _ in range(1000):
            due = self.due
            if wanted(due):
                return due
            assert due.act != "end", "the sheet ended before that"
            self.do()
        raise AssertionError(f"the work does not come on: {self.bar}")


@contextmanager
def open_window(qtbot) -> Iterator[Frame]:
    """The real window. A person is slower than its dead times, which have tests of their own."""
    make_app()
    frame = Frame()
    qtbot.addWidget(frame)
    for place in frame.places.values():
        place.gate.dead_ms = place.gate.settle_ms = 0
    frame.resize(1366, 768)
    frame.show()
    yield frame
    frame.close()


@pytest.fixture
def frame(qtbot, user_home) -> Iterator[Frame]:
    """A new window with an empty shelf."""
    with open_window(qtbot) as frame:
        yield frame


@pytest.fixture
def person(qtbot, frame) -> Person:
    """A person before the window."""
    return Person(qtbot, frame)


@pytest.fixture
def second_person(qtbot, person) -> Iterator[Person]:
    """Somebody at a second window on the same computer."""
    with open_window(qtbot) as frame:
        yield Person(qtbot, frame)


@pytest.fixture(scope="session")
def mechanics() -> ModuleType:
    """The mechanic's module, which stands beside this one."""
    source = Path(__file__).with_name("mechanic.py")
    spec = importlib.util.spec_from_file_location("mechanic", source)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def own_photo(tmp_path) -> str:
    """A picture as a camera would make it, with a place and a serial number in it."""
    from PIL import Image

    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0xA431] = "SERIAL-12345"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2] = "N", (51.0, 30.0, 0.0)
    path = tmp_path / "camera.jpg"
    Image.new("RGB", (1600, 1200), (120, 110, 90)).save(path, exif=exif)
    return str(path)


@pytest.fixture
def small_cover(checkout, tmp_path) -> Path:
    """A copy of the small sheet, to be changed."""
    folder = tmp_path / "small cover"
    shutil.copytree(checkout / "tests" / "stories" / "small_cover", folder)
    return folder
