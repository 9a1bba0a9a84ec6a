"""Long work beside the window: called off, two at once, and boards that were long in coming."""

from __future__ import annotations

import gc
import threading
import weakref
from typing import Any

import pytest
from PySide6.QtCore import QSize
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.window.background import Errand, Runner
from shopguide.window.board import Board
from shopguide.window.palette import LOOKS
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place

PATIENCE_MS = 30_000


@pytest.fixture
def runner() -> Any:
    one = Runner()
    yield one
    one.close()


@pytest.fixture
def place(qtbot: Any) -> Place:
    one = Place(LOOKS["light"])
    qtbot.addWidget(one)
    one.show()
    return one


def test_nothing_arrives_of_what_was_called_off_when_all_was_done(qtbot, runner):
    errand, told = Errand("Reading"), []
    errand.done.connect(told.append)
    with qtbot.waitSignal(errand.ended, timeout=PATIENCE_MS):
        runner.run(errand, lambda _: "read")
        assert errand.wait(30)
        # The result is on its way by now.
        errand.cancel()
    assert told == []


def test_what_an_errand_held_on_to_goes_with_it(qtbot, runner, place):
    class Large:
        """Something that nobody else holds."""

    held = Large()
    seen = weakref.ref(held)
    errand = Errand("Reading", place)
    errand.done.connect(lambda _, held=held: None)
    with qtbot.waitSignal(errand.ended, timeout=PATIENCE_MS):
        runner.run(errand, lambda _, held=held: None)
    del held, errand
    qtbot.waitUntil(lambda: gc.collect() >= 0 and seen() is None, timeout=PATIENCE_MS)


def test_closed_pictures_hold_on_to_neither_sheet_nor_picture(qtbot):
    class Drawer:
        """Where pictures are read from."""

        def read(self, name: str) -> bytes:
            return b""

    drawer = Drawer()
    seen = weakref.ref(drawer)
    pictures = Pictures(drawer.read)
    with qtbot.waitSignal(pictures.ready, timeout=PATIENCE_MS):
        pictures.get("one.png", QSize(10, 10))
    assert pictures.get("one.png", QSize(10, 10)) is not None
    pictures.close()
    assert pictures.get("one.png", QSize(10, 10)) is None
    del drawer
    gc.collect()
    assert seen() is None


def test_what_was_done_and_what_failed_arrive_before_the_end(qtbot, runner):
    told: list[Any] = []

    def fail(_: Errand) -> None:
        raise Trouble("It cannot be read.")

    for work in (lambda _: "read", fail):
        errand = Errand("Reading")
        errand.done.connect(told.append)
        errand.failed.connect(lambda trouble: told.append(trouble.what))
        errand.ended.connect(lambda: told.append("ended"))
        with qtbot.waitSignal(errand.ended, timeout=PATIENCE_MS):
            runner.run(errand, work)
        QApplication.processEvents()
    assert told == ["read", "ended", "It cannot be read.", "ended"]


def test_the_end_of_one_errand_leaves_the_other_to_be_called_off(qtbot, runner, place):
    first_goes_on, second_goes_on = threading.Event(), threading.Event()
    first, second = Errand("First", place), Errand("Second", place)

    def work_first(errand: Errand) -> None:
        assert first_goes_on.wait(30)
        errand.tell("half of the first", 1, 2)

    place.show_errand(first)
    runner.run(first, work_first)
    place.show_errand(second)
    runner.run(second, lambda _: second_goes_on.wait(30))
    with qtbot.waitSignal(first.ended, timeout=PATIENCE_MS):
        first_goes_on.set()
    QApplication.processEvents()
    assert place.errand is second
    assert (place.notice.what, place.notice.next) == ("Second", "Escape cancels")
    assert "first" not in place.notice.where
    place.escape()
    assert second.is_cancelled() and not first.is_cancelled()
    second_goes_on.set()
    qtbot.waitUntil(lambda: place.errand is None, timeout=PATIENCE_MS)


def test_a_board_that_was_long_in_coming_is_not_laid_over_another(place):
    assert place.has_room_for("The picture")
    board = Board(LOOKS["light"])
    place.open_board(board)
    assert not place.has_room_for("The picture")
    assert "The picture" in place.notice.what
    board.close_board()
    place.hide()
    assert not place.has_room_for("The picture")


def test_a_place_is_left_with_no_board_over_it(place):
    below, above = Board(LOOKS["light"]), Board(LOOKS["light"])
    place.open_board(above)
    above.closed.connect(lambda: place.open_board(below))
    place.leave()
    assert place.board is None
    assert below.isHidden()
