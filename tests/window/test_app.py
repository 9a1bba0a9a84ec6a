"""Starting the window: what is imported before it is seen, and what becomes of a fault."""

from __future__ import annotations

import subprocess
import sys
import threading

import pytest
from PySide6.QtCore import QTimer, qWarning
from PySide6.QtWidgets import QApplication

from shopguide import places
from shopguide.window import app as starting
from shopguide.window import large
from shopguide.window.app import FaultCatcher, FirstPaint, open_window
from shopguide.window.frame import Frame
from shopguide.window.log_book import keep_log, log

SAMPLE = places.list_samples()[0]
HEAVY = ("pint", "reportlab", "pyhanko", "pikepdf", "numpy", "scipy", "cryptography")

START = f"""
import sys
from shopguide.window import app
def look():
    print(sorted(set(sys.modules) & set({HEAVY!r})))
    app.QApplication.instance().closeAllWindows()
app.prepare_units = look
sys.exit(app.open_window())
"""


@pytest.fixture(autouse=True)
def forget_log():
    """The log file of this test's own home is let go of with it."""
    yield
    for handler in list(log.handlers):
        log.removeHandler(handler)
        handler.close()
    log.propagate = True


def find_frame() -> Frame:
    (frame,) = [w for w in QApplication.topLevelWidgets() if isinstance(w, Frame) and w.isVisible()]
    return frame


def test_the_first_paint_waits_for_nothing_heavy(checkout):
    answer = subprocess.run(
        [sys.executable, "-c", START], cwd=checkout, capture_output=True, encoding="utf-8"
    )
    assert (answer.returncode, answer.stdout.strip()) == (0, "[]"), answer.stderr


@pytest.fixture
def opened(qapp, qtbot, monkeypatch):
    """Opens the window as the program does, and calls the test's function inside its loop."""

    def call(inside, path=None) -> int:
        ended: list[BaseException | None] = []

        def begin() -> None:
            frame = find_frame()
            try:
                inside(frame)
                ended.append(None)
            except BaseException as fault:
                ended.append(fault)
            finally:
                frame.close()  # which ends Qt's loop

        monkeypatch.setattr(starting, "prepare_units", lambda: QTimer.singleShot(0, begin))
        code = open_window(path)
        (fault,) = ended
        if fault is not None:
            raise fault
        return code

    return call


def test_a_sheet_given_by_path_is_opened(opened, qtbot):
    def inside(frame: Frame) -> None:
        qtbot.waitUntil(lambda: frame.place.name == "lay out", timeout=20_000)
        assert frame.desk is not None
        assert frame.desk.record_file is None  # looking leaves nothing behind

    assert opened(inside, SAMPLE) == 0


def test_a_path_that_is_no_sheet_is_told_in_the_window(opened, qtbot, tmp_path):
    path = tmp_path / "sheet"
    path.mkdir()

    def inside(frame: Frame) -> None:
        notice = frame.place.notice
        qtbot.waitUntil(lambda: str(path) in notice.where, timeout=20_000)
        assert frame.place.name == "shelf"
        assert "job.json" in f"{notice.what} {notice.where} {notice.next}"

    assert opened(inside, path) == 0


def test_a_fault_inside_is_logged_and_told_in_a_sentence(opened, qtbot, user_home):
    def inside(frame: Frame) -> None:
        QTimer.singleShot(0, lambda: 1 / 0)
        qtbot.waitUntil(lambda: "fault of its own" in frame.place.notice.what)
        told = " ".join((frame.place.notice.what, frame.place.notice.where))
        assert "ZeroDivision" not in told
        assert str(user_home / "shopguide.log") in told

    assert opened(inside) == 0
    text = (user_home / "shopguide.log").read_text(encoding="utf-8")
    assert "ZeroDivisionError" in text
    assert "Traceback" in text


def test_a_fault_in_a_thread_is_told_too(qapp, qtbot, user_home):
    faults = FaultCatcher(keep_log())
    before = (sys.excepthook, threading.excepthook)
    faults.catch()
    try:
        with qtbot.waitSignal(faults.met) as told:
            thread = threading.Thread(target=lambda: [][1])
            thread.start()
            thread.join()
    finally:
        faults.let_go()
    assert "fault of its own" in told.args[0]
    assert (sys.excepthook, threading.excepthook) == before
    assert "IndexError" in (user_home / "shopguide.log").read_text(encoding="utf-8")


def test_what_qt_says_goes_to_the_log(qapp, user_home):
    faults = FaultCatcher(keep_log())
    faults.catch()
    try:
        qWarning("something of Qt's own")
    finally:
        faults.let_go()
    assert "something of Qt's own" in (user_home / "shopguide.log").read_text(encoding="utf-8")


def test_the_first_paint_is_told_once(qtbot):
    frame = Frame()
    qtbot.addWidget(frame)
    first = FirstPaint(frame)
    told = []
    first.painted.connect(lambda: told.append(True))
    with qtbot.waitSignal(first.painted):
        frame.show()
    frame.repaint()
    QApplication.processEvents()
    assert told == [True]


def test_the_log_is_bounded(user_home, monkeypatch):
    from shopguide.window import log_book

    monkeypatch.setattr(log_book, "MOST_BYTES", 2000)
    keep_log()
    for number in range(200):
        log.warning("line %d, long enough to fill a file of two thousand bytes soon", number)
    files = sorted(path.name for path in user_home.glob("shopguide.log*"))
    assert files == ["shopguide.log", "shopguide.log.1", "shopguide.log.2"]
    assert all(path.stat().st_size <= 2000 for path in user_home.glob("shopguide.log*"))


def test_without_a_screen_qt_draws_all_the_same(monkeypatch):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(starting.sys, "platform", "linux")
    starting.choose_platform()
    assert starting.os.environ["QT_QPA_PLATFORM"] == "offscreen"
    monkeypatch.setenv("QT_QPA_PLATFORM", "xcb")
    monkeypatch.setenv("DISPLAY", ":0")
    starting.choose_platform()
    assert starting.os.environ["QT_QPA_PLATFORM"] == "xcb"


def test_threads_take_turns_at_importing():
    """One could meet a package that the other has half made: that was seen once, by chance."""
    for what in (lambda: large.import_alone("json"), large.import_large):
        done = threading.Event()

        def run(what=what, done=done):
            what()
            done.set()

        thread = threading.Thread(target=run)
        with large._alone:
            thread.start()
            assert not done.wait(0.1), "it did not wait for its turn"
        assert done.wait(60)
        thread.join()
