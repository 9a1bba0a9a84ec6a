"""Which picture is decoded first: the one looked at, before those only about to be."""

from __future__ import annotations

import io
import threading

import pytest
from PIL import Image
from PySide6.QtCore import QSize

from shopguide.window.pictures import MOST_WAITING, THREADS, Pictures

BOX = QSize(320, 240)


def make_jpeg(width: int, height: int) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (width, height), (90, 110, 130)).save(out, "JPEG")
    return out.getvalue()


class Drawer:
    """Hands out pictures by name, and only as many as it is let; notes what was asked for."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.let = threading.Semaphore(0)
        self.data = make_jpeg(64, 48)

    def read(self, name: str) -> bytes:
        self.asked.append(name)
        assert self.let.acquire(timeout=30)
        return self.data


@pytest.fixture
def drawer(qtbot):
    drawer = Drawer()
    pictures = Pictures(drawer.read)
    drawer.pictures = pictures
    yield drawer
    for _ in range(100):
        drawer.let.release()
    pictures.close()


def wait_for(qtbot, drawer, names: set[str]) -> None:
    qtbot.waitUntil(lambda: set(drawer.asked) >= names)


def let_all(qtbot, drawer) -> None:
    for _ in range(50):
        drawer.let.release()
    qtbot.waitUntil(lambda: not drawer.pictures.busy)


def test_what_is_looked_at_comes_before_what_is_only_ahead(qtbot, drawer):
    pictures = drawer.pictures
    for number in range(THREADS):
        pictures.fetch(f"busy {number}", BOX)
    wait_for(qtbot, drawer, {f"busy {n}" for n in range(THREADS)})
    pictures.fetch("ahead", BOX)
    pictures.fetch("then", BOX)
    assert pictures.get("here", BOX) is None
    assert pictures.get("then", BOX) is None, "it was only ahead, and is looked at now"
    let_all(qtbot, drawer)
    assert drawer.asked[THREADS:] in (["then", "here", "ahead"], ["here", "then", "ahead"])
    assert pictures.get("here", BOX) is not None and pictures.get("ahead", BOX) is not None


def test_nothing_is_fetched_ahead_while_somebody_waits(qtbot, drawer):
    pictures = drawer.pictures
    pictures.get("here", BOX)
    wait_for(qtbot, drawer, {"here"})
    pictures.fetch("ahead", BOX)
    # By now the second thread has had its turn at what was asked for ahead.
    pictures._pool.submit(lambda: None).result(timeout=30)
    assert drawer.asked == ["here"], "both at once would take twice as long"
    drawer.let.release()
    wait_for(qtbot, drawer, {"ahead"})
    let_all(qtbot, drawer)


def test_who_leafs_on_does_not_wait_for_what_was_passed_by(qtbot, drawer):
    pictures = drawer.pictures
    for number in range(THREADS):
        pictures.get(f"busy {number}", BOX)
    wait_for(qtbot, drawer, {f"busy {n}" for n in range(THREADS)})
    for number in range(40):
        pictures.get(f"step {number}", BOX)
    let_all(qtbot, drawer)
    assert drawer.asked[THREADS] == "step 39"
    assert len(drawer.asked) == THREADS + MOST_WAITING
    assert pictures.get("step 0", BOX) is None, "and it can be asked for again"
    let_all(qtbot, drawer)
    assert pictures.get("step 0", BOX) is not None
