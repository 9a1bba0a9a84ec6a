"""What the tests of the window stand on: records that stand at a wished place, made without it."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication

from shopguide.job.files import OpenedSheet, load_sheet, read_sheet
from shopguide.record.file import RecordFile
from shopguide.window.app import make_app
from shopguide.window.frame import Frame, make_record
from shopguide.work.next_up import (
    Due,
    cautions_to_acknowledge,
    next_up,
    read_value,
    value_data,
)
from shopguide.work.progress import Progress, fold

PATIENCE_MS = 30_000
Wanted = Callable[[Progress, Due], bool]
WRENCHES = [
    {"name": "small click wrench", "low": "2 N·m", "high": "25 N·m"},
    {"name": "half-inch wrench", "low": "20 N·m", "high": "200 N·m"},
]


def choose_value(progress: Progress, address: str) -> str:
    """A value that a task takes without a question."""
    task = progress.sheet.tasks[address]
    if task.kind in ("drain", "fill"):
        return "4 qt + 250 mL"
    spec = progress.sheet.spec(task.spec)
    return spec.value or spec.low or spec.high


def _write_until(record: RecordFile, wanted: Wanted) -> Progress:
    """Writes what is due into a record until `wanted` is true of what is due then, or the end."""
    opened_sheet = record_sheet(record)
    if not any(e.kind == "started" for e in record.events()):
        record.append("laid out", {"field": "wrenches", "value": WRENCHES})
        for key, _ in cautions_to_acknowledge(opened_sheet):
            record.append("acknowledged", {"caution": key, "place": "lay out"})
        record.append("started", {})
    progress = fold(opened_sheet, record.events())
    while True:
        due = next_up(progress)
        if wanted(progress, due) or due.act == "end":
            return progress
        match due.act:
            case "value":
                reading = read_value(progress, due.task, choose_value(progress, due.task))
                event = record.append("done", value_data(due.task, reading))
            case "photo":
                event = record.append("done", {"task": due.task, "value": "photo.jpg"})
            case _:
                event = record.append(due.kind, dict(due.data))
        progress.take(event)


def record_sheet(record: RecordFile):
    """The sheet that is frozen in a record."""
    return read_sheet(record.sheet_raw(), where="record")


@pytest.fixture(scope="session")
def hard_sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sheet that is hard on the layout."""
    # The tests' folders are no packages: the file beside this one is loaded by its path.
    source = Path(__file__).with_name("hard_sheet.py")
    spec = importlib.util.spec_from_file_location("hard_sheet", source)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.make_hard_sheet(tmp_path_factory.mktemp("hard"))


@pytest.fixture
def write_until() -> Callable[[RecordFile, Wanted], Progress]:
    """Writes what is due into a record until it stands at a wished place."""
    return _write_until


@pytest.fixture
def make_standing(tmp_path: Path) -> Callable[[Path, Wanted], Path]:
    """Makes a record of a sheet that stands at a wished place; its path."""

    def make(sheet: Path, wanted: Wanted) -> Path:
        opened: OpenedSheet = load_sheet(sheet)
        record = make_record(opened, rehearsal=False, folder=tmp_path)
        _write_until(record, wanted)
        path = record.path
        record.close()
        return path

    return make


@pytest.fixture
def frame(qtbot, tmp_path: Path) -> Iterator[Frame]:
    """The real window at 1366×768, its dead times off; closed at the end."""
    make_app()
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    frame = Frame(settings=settings)
    qtbot.addWidget(frame)
    for place in frame.places.values():
        place.gate.dead_ms = place.gate.settle_ms = 0
    frame.resize(1366, 768)
    frame.show()
    yield frame
    if frame.desk is not None:
        frame.desk.drop_waiting()
    frame.close()


@pytest.fixture
def open_in(qtbot, frame: Frame) -> Callable[[Path], Frame]:
    """Opens a sheet or a record in the window and waits until it is there."""

    def open_it(path: Path) -> Frame:
        before = frame.desk
        frame.open_path(path)
        qtbot.waitUntil(
            lambda: frame.desk is not None and frame.desk is not before, timeout=PATIENCE_MS
        )
        settle(qtbot, frame)
        return frame

    return open_it


def settle(qtbot, frame: Frame) -> None:
    """Until nothing is on its way to disk and the layout stands."""
    qtbot.waitUntil(lambda: frame.desk is None or not frame.desk.waiting, timeout=PATIENCE_MS)
    for _ in range(4):
        QApplication.processEvents()
