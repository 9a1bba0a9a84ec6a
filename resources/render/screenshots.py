"""The README's pictures of the window, taken from the real one on the first sample sheet.

    python resources/render/screenshots.py

writes resources/pictures/{shelf,lay_out,work,sign_off,write,pattern}.png at 1366 × 768. What was
recorded in them is made up and kept in a folder that goes away with the script.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from shopguide import places
from shopguide.job.files import OpenedSheet, load_sheet
from shopguide.job.model import Sheet
from shopguide.record.file import RecordFile
from shopguide.window.app import make_app
from shopguide.window.frame import Frame, make_record
from shopguide.window.rehearsal import is_drawn, let_work
from shopguide.window.write_fixes import find_step
from shopguide.work.events import OWN_STATEMENT
from shopguide.work.next_up import Due, cautions_to_acknowledge, next_up, read_value, value_data
from shopguide.work.progress import Progress, fold

WIDTH_PX, HEIGHT_PX = 1366, 768
PATIENCE_S = 60
PICTURES = Path(__file__).resolve().parents[1] / "pictures"
# An invented owner and an invented van; the serial is nobody's.
ENTRIES = {
    "make": "Quennerbeck",
    "model": "Tidewold 540",
    "year": "2014",
    "serial": "QT-540-00317",
    "odometer": "148250 km",
    "person": "Ilka Brandvoll",
    "wrenches": [
        {"name": "small click wrench", "low": "4 N·m", "high": "20 N·m"},
        {"name": "3/8 inch wrench", "low": "10 N·m", "high": "50 N·m"},
    ],
}
DRAINED = "4 US qt + 250 mL"


def main() -> int:
    """Take the six pictures; returns the exit code."""
    opened = load_sheet(places.list_samples()[0])
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="shopguide-pictures-") as home:
        os.environ[places.HOME_VARIABLE] = home
        app = make_app()
        finished = fill_record(opened, lambda progress, due: due.act == "end", sign=True)
        halfway = fill_record(opened, is_second_torque_pass)
        begun = make_record(opened, rehearsal=False)
        # The odometer is still to be read: the window then stands at its line, near the top.
        lay_out(begun, opened.sheet, gathered=5, without="odometer")
        begun.close()
        frame = Frame()
        frame.resize(WIDTH_PX, HEIGHT_PX)
        frame.show()
        wait(lambda: frame.shelf.row() is not None)
        take(frame, "shelf")
        for path, place, name in (
            (begun.path, "lay out", "lay_out"),
            (halfway, "work", "work"),
            (finished, "sign off", "sign_off"),
        ):
            frame.open_record(path)
            wait(lambda path=path: frame.desk is not None and frame.desk.path == path)
            wait(lambda place=place: frame.place.name == place)
            wait(lambda: frame.desk is not None and not frame.desk.waiting)
            frame.place.notice.close_notice()
            if place == "sign off":
                wait(lambda: is_drawn(frame.sign_off.paper))
            take(frame, name)
        take_writing(frame)
        frame.close()
        app.processEvents()
    return 0


def take_writing(frame: Frame) -> None:
    """The sample in Write, at the step that tightens its cover, and that cover's pattern."""
    frame.opening.open_sheet(places.list_samples()[0])
    wait(lambda: frame.place.name == "write")
    desk = frame.write.writing
    assert desk is not None and desk.draft.sheet is not None
    task = next(p for p in desk.draft.sheet.steps if p.step.title == "Tighten the cover screws")
    frame.write.choose(find_step(desk.data, task.number))
    frame.write.notice.close_notice()
    wait(lambda: not desk.busy and desk.reviewed_data is desk.data)
    take(frame, "write")
    frame.write.patterns.open(0)
    wait(lambda: frame.write.board is not None and not frame.write.board.table.busy)
    take(frame, "pattern")
    frame.write.board.close_board()


def is_second_torque_pass(progress: Progress, due: Due) -> bool:
    """Seven of the cover's screws have been torqued again after the backing off."""
    trip = due.trip
    return trip is not None and trip.pass_number == 3 and len(trip.marked) == 6


def fill_record(
    opened: OpenedSheet, until: Callable[[Progress, Due], bool], *, sign: bool = False
) -> Path:
    """A record worked on as the sheet says, as far as `until`; its path."""
    record = make_record(opened, rehearsal=False)
    sheet = opened.sheet
    lay_out(record, sheet, gathered=1000)
    record.append("started", {})
    while True:
        progress = fold(sheet, record.events())
        due = next_up(progress)
        if until(progress, due):
            break
        append_due(record, progress, due)
    if sign:
        strokes = [[[150 + 60 * i, 120 + (70 if i % 2 else 0)] for i in range(10)]]
        record.append(
            "signed",
            {"name": ENTRIES["person"], "statement": OWN_STATEMENT, "strokes": strokes},
        )
    record.close()
    return record.path


def lay_out(record: RecordFile, sheet: Sheet, *, gathered: int, without: str = "") -> None:
    """Fill in Lay out, with this many of the parts and tools ticked, and one entry left empty."""
    for field, value in ENTRIES.items():
        if field != without:
            record.append("laid out", {"field": field, "value": value})
    for key, _ in cautions_to_acknowledge(sheet)[:gathered]:
        record.append("acknowledged", {"caution": key, "place": "lay out"})
    for kind in ("parts", "supplies", "fluids", "tools"):
        names = [entry.name for entry in getattr(sheet, kind)][:gathered]
        record.append("laid out", {"field": kind, "value": dict.fromkeys(names, True)})


def append_due(record: RecordFile, progress: Progress, due: Due) -> None:
    """Record what is due, with a made-up value where one is asked for."""
    task = progress.sheet.tasks[due.task]
    match due.act:
        case "value":
            text = DRAINED
            if task.kind == "measure":
                spec = progress.sheet.spec(task.spec)
                text = spec.value or spec.low or spec.high or "1"
            reading = read_value(progress, due.task, text)
            record.append("done", value_data(due.task, reading))
        case "photo":
            record.append("done", {"task": due.task, "value": "photo.jpg"})
        case _:
            record.append(due.kind, due.data)


def take(frame: Frame, name: str) -> None:
    """Save what the window shows now."""
    frame.grab()
    pictures = frame.place.pictures
    wait(lambda: pictures is None or not pictures.busy)
    path = PICTURES / f"{name}.png"
    frame.grab().save(str(path))
    print(path.relative_to(PICTURES.parent.parent))


def wait(true: Callable[[], bool]) -> None:
    """Let the window work until it is so."""
    if not let_work(true, PATIENCE_S):
        raise SystemExit("The window does not do what these pictures are to show.")


if __name__ == "__main__":
    sys.exit(main())
