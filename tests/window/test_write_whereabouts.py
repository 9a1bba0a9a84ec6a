"""A step is found again after edits; pictures that were long in coming go into the step they were
meant for."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Add, Draft, Move, Remove, Restore, SetValue, TypeIn
from shopguide.job.skeletons import make_skeleton
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_edits import NEW_STEP
from shopguide.window.write_place import WritePlace
from shopguide.window.write_whereabouts import Whereabouts

PATIENCE_MS = 30_000
FIRST, SECOND, THIRD = (("stages", 0, "steps", p) for p in range(3))


@pytest.fixture
def place(frame: Any, qtbot: Any) -> Iterator[WritePlace]:
    """Write with two steps, called one and other."""
    draft = Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24"))
    desk = WriteDesk(draft, parent=frame.write)
    frame.write.take_up(desk)
    frame.go("write")
    desk.apply(Add(SECOND, NEW_STEP))
    desk.apply(TypeIn((*FIRST, "title"), "one"))
    desk.apply(TypeIn((*SECOND, "title"), "other"))
    yield frame.write


def test_a_step_that_is_written_in_and_then_moved_is_found_again(place):
    desk = place.writing
    where = Whereabouts(desk, FIRST)
    desk.apply(TypeIn((*FIRST, "title"), "one, written in"))
    desk.apply(Move(FIRST, SECOND))
    assert where.path == SECOND
    desk.apply(TypeIn((*SECOND, "title"), "moved and written in"))
    desk.apply(Add(FIRST, NEW_STEP))
    assert where.path == THIRD
    for _ in range(4):
        desk.undo()
    assert where.path == FIRST


def test_a_step_that_is_taken_out_is_nowhere_until_it_is_back(place):
    desk = place.writing
    where, other = Whereabouts(desk, FIRST), Whereabouts(desk, SECOND)
    desk.apply(Remove(FIRST))
    assert (where.path, other.path) == ((), FIRST)
    desk.apply(SetValue(("summary",), "something else"))
    assert where.path == ()
    desk.undo()
    desk.undo()
    assert (where.path, other.path) == (FIRST, SECOND)


def test_a_step_is_found_where_the_whole_sheet_was_written_anew(place):
    desk = place.writing
    where = Whereabouts(desk, FIRST)
    held = json.loads(json.dumps(desk.data))
    held["stages"][0]["steps"].insert(0, {**NEW_STEP, "title": "before it"})
    desk.apply(Restore(json.dumps(held).encode()))
    assert where.path == SECOND
    desk.undo()
    assert where.path == FIRST


@pytest.fixture
def taking_in(place: WritePlace, qtbot: Any, tmp_path: Path) -> Iterator[Any]:
    """A picture on its way into the first step; called, it arrives."""
    goes_on, desk = threading.Event(), place.writing
    take_in = desk.take_in

    def take_later(*given: Any, **more: Any) -> Any:
        assert goes_on.wait(30)
        return take_in(*given, **more)

    desk.take_in = take_later  # type: ignore[method-assign]
    picture = tmp_path / "cover.png"
    Image.new("RGB", (40, 30), (90, 120, 150)).save(picture)
    place.choose(FIRST)
    place.photos.add([str(picture)])

    def arrive() -> None:
        goes_on.set()
        qtbot.waitUntil(lambda: place.errand is None, timeout=PATIENCE_MS)
        QApplication.processEvents()

    yield arrive
    goes_on.set()


def list_files(place: WritePlace) -> list[tuple[str, list[str]]]:
    return [
        (at.step.title, [photo.file for photo in at.step.photos])
        for at in place.writing.draft.sheet.steps
    ]


def test_a_picture_goes_into_its_step_wherever_that_is_by_then(place, taking_in):
    place.writing.apply(TypeIn((*FIRST, "title"), "one, written in"))
    place.writing.apply(Move(FIRST, SECOND))
    taking_in()
    assert list_files(place) == [("other", []), ("one, written in", ["cover.png"])]


def test_a_picture_of_a_step_that_was_taken_out_goes_into_no_other(place, taking_in):
    place.writing.apply(Remove(FIRST))
    taking_in()
    assert list_files(place) == [("other", [])]
    assert "taken out meanwhile" in place.notice.what
