"""The camera in Write: a made camera on the board, and the lines where there is none."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import QObject, QSize, Qt, QTimer
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.edits import Draft
from shopguide.job.skeletons import make_skeleton
from shopguide.window import camera as camera_part
from shopguide.window.camera import Camera, tell_missing
from shopguide.window.camera_board import CameraBoard
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 30_000


def make_view(shade: int, wide: int = 1600, high: int = 1200) -> QImage:
    """A made picture of which no two shades are the same."""
    image = QImage(wide, high, QImage.Format.Format_RGB32)
    image.fill(QColor(shade, 90, 70))
    painter = QPainter(image)
    painter.fillRect(10, 10, 10 + shade, 40, QColor("#EEEEEE"))
    painter.end()
    return image


class MadeCamera(Camera):
    """Cameras of this test's own. It sees a picture as soon as it runs, and another after each."""

    def __init__(self, names: tuple[str, ...] = ("front", "bench")) -> None:
        super().__init__()
        self._names = names
        self.started: list[int] = []
        self.stops = 0
        self.shade = 20

    @property
    def names(self) -> tuple[str, ...]:
        return self._names

    def start(self, index: int = 0) -> None:
        self.now = index
        self.started.append(index)
        QTimer.singleShot(0, self, lambda: self.seen.emit(make_view(self.shade, 640, 480)))

    def take(self) -> None:
        QTimer.singleShot(0, self, self._hand_over)

    def _hand_over(self) -> None:
        self.taken.emit(make_view(self.shade))

    def stop(self) -> None:
        self.stops += 1


@pytest.fixture
def place(frame) -> Iterator[WritePlace]:
    """Write with a blank sheet, the keys on the line for pictures, and nothing of the machine."""
    draft = Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24"))
    frame.write.take_up(WriteDesk(draft, parent=frame.write))
    frame.go("write")
    QApplication.processEvents()
    place = frame.write
    place.camera.load = lambda: None
    place.camera.ask = lambda context, answer: answer(True)
    assert place.card.go_to(("add photos",))
    yield place


@pytest.fixture
def until(qtbot) -> Callable[[Callable[[], bool]], None]:
    """Waits until something is so."""
    return lambda so: qtbot.waitUntil(so, timeout=PATIENCE_MS)


def press(key: Qt.Key) -> None:
    QTest.keyClick(QApplication.focusWidget(), key)
    QApplication.processEvents()


def list_files(place: WritePlace) -> list[str]:
    return [p.file for p in place.writing.draft.sheet.steps[0].step.photos]


@pytest.fixture
def made(place, until) -> MadeCamera:
    """A made camera, its board open and its first picture seen."""
    made = MadeCamera()
    place.camera.make = lambda: made
    assert "C camera" in place.bar.keys
    press(Qt.Key.Key_C)
    until(lambda: isinstance(place.board, CameraBoard) and place.board.finder.image is not None)
    return made


def test_pictures_are_taken_by_keys_and_are_in_the_step_at_once(place, made, until):
    before = place.writing.data
    board = place.board
    assert board.title.text() == "front" and board.does == "Space takes the picture"
    press(Qt.Key.Key_Space)
    until(lambda: board.taken == ("camera.jpg",))
    made.shade = 60
    press(Qt.Key.Key_Space)
    until(lambda: len(board.taken) == 2)
    assert board.count.text() == "1 of 2 cameras\n2 pictures taken"
    assert list_files(place) == ["camera.jpg", "camera_2.jpg"]
    kept = QImage.fromData(place.writing.read_photo("camera_2.jpg"))
    assert kept.size().toTuple() == (1600, 1200)
    assert abs(kept.pixelColor(800, 600).red() - 60) < 6
    press(Qt.Key.Key_Escape)
    assert place.board is None and made.stops >= 1
    assert place.wish_in_use() == "add photos"
    place.undo()
    place.undo()
    assert place.writing.data is before


def test_the_last_picture_is_taken_back(place, made, until):
    board = place.board
    press(Qt.Key.Key_U)
    assert board.told == "There is nothing to take back."
    for shade in (20, 90):
        made.shade = shade
        press(Qt.Key.Key_Space)
        until(lambda shade=shade: len(board.taken) == 1 + (shade == 90))
    assert board.after == "U takes back: camera_2.jpg"
    press(Qt.Key.Key_U)
    assert board.taken == ("camera.jpg",) and list_files(place) == ["camera.jpg"]
    assert board.told == "Taken back: camera_2.jpg."
    press(Qt.Key.Key_Backspace)
    assert board.taken == () and list_files(place) == []


def test_the_same_picture_is_not_added_twice_and_that_is_said(place, made, until):
    board = place.board
    press(Qt.Key.Key_Space)
    until(lambda: len(board.taken) == 1)
    press(Qt.Key.Key_Space)
    until(lambda: bool(board.told))
    assert "The same picture is there already, as camera.jpg." in board.told
    assert list_files(place) == ["camera.jpg"]


def test_another_camera_is_a_key_away(place, made, until):
    board = place.board
    assert "N next camera" in board.keys
    press(Qt.Key.Key_N)
    assert made.started == [0, 1] and board.title.text() == "bench"
    press(Qt.Key.Key_N)
    assert made.started == [0, 1, 0]
    made._names = ("front",)
    made.changed.emit()
    assert "N next camera" not in board.keys
    press(Qt.Key.Key_N)
    assert made.started == [0, 1, 0] and board.told == "There is no other camera."


def test_a_camera_that_stops_says_why_and_is_started_again(place, made, until):
    board = place.board
    made.stopped.emit("It was unplugged.")
    assert board.finder.words == "The camera has stopped. It was unplugged."
    assert board.does == "Space starts the camera again"
    press(Qt.Key.Key_Space)
    assert made.started == [0, 0]
    until(lambda: board.finder.image is not None)
    assert board.does == "Space takes the picture"


def test_going_to_another_place_lets_the_camera_go(place, made, frame):
    frame.go("shelf")
    assert place.board is None and made.stops >= 1


def test_closing_the_window_lets_the_camera_go(place, made, frame):
    frame.close()
    assert made.stops >= 1


def test_nothing_is_taken_while_one_is_on_its_way(place, made):
    asked = []
    made.take = lambda: asked.append(1)
    press(Qt.Key.Key_Space)
    press(Qt.Key.Key_Space)
    assert asked == [1]


# --- where there is none ------------------------------------------------------------------------


def open_without(place, until) -> None:
    press(Qt.Key.Key_C)
    until(lambda: place.errand is None and place.notice.what.endswith("."))
    assert place.board is None
    assert "Enter" in place.notice.next and "telephone" in place.notice.next


@pytest.mark.parametrize(
    ("fault", "what", "then"),
    [
        (
            ImportError("libpulse.so.0: cannot open shared object file: No such file"),
            "The camera cannot be used: this machine lacks the library libpulse.so.0.",
            "Install libpulse0 and start again; or take",
        ),
        (
            ImportError("libodd.so.7: cannot open shared object file: No such file"),
            "The camera cannot be used: this machine lacks the library libodd.so.7.",
            "Install it and start again; or take",
        ),
        (
            ModuleNotFoundError("No module named 'PySide6.QtMultimedia'"),
            "The camera cannot be used: Qt's part for cameras is not installed.",
            'Run "pip install PySide6-Addons"',
        ),
        (
            ImportError("DLL load failed"),
            "The camera cannot be used: Qt's part for cameras cannot be loaded.",
            "Take the pictures with a telephone",
        ),
    ],
)
def test_without_the_library_a_line_says_what_to_do(
    place, until, monkeypatch, capfd, fault, what, then
):
    def refuse(name: str):
        raise fault

    monkeypatch.setattr(camera_part, "import_alone", refuse)
    place.camera.load = camera_part.load
    capfd.readouterr()
    open_without(place, until)
    assert place.notice.what == what
    assert place.notice.next.startswith(then)
    assert capfd.readouterr() == ("", "")


def test_a_library_that_is_really_missing_is_named(monkeypatch):
    monkeypatch.setitem(sys.modules, "PySide6.QtMultimedia", None)
    with pytest.raises(Trouble) as caught:
        camera_part.load()
    assert caught.value.what == tell_missing(ModuleNotFoundError("x")).what


def test_without_a_camera_a_line_says_so(place, until):
    place.camera.make = lambda: MadeCamera(())
    open_without(place, until)
    assert place.notice.what == "No camera is connected."


def test_a_refusal_of_the_system_is_told(place, until):
    place.camera.ask = lambda context, answer: answer(False)
    open_without(place, until)
    assert place.notice.what == "This program is not allowed to use the camera."


def test_an_answer_that_comes_late_opens_nothing(place, until):
    answers = []
    place.camera.ask = lambda context, answer: answers.append(answer)
    place.camera.make = MadeCamera
    press(Qt.Key.Key_C)
    until(lambda: bool(answers))
    place.choose(("sheet",))
    answers[0](True)
    assert place.board is None


def test_the_window_does_not_load_the_camera_s_part_before_it_is_asked_for():
    found = (
        "import sys, shopguide.window.write_place, shopguide.window.camera_board\n"
        "sys.exit('PySide6.QtMultimedia' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", found], timeout=60).returncode == 0


# --- Qt's own -----------------------------------------------------------------------------------


@pytest.fixture
def multimedia():
    """Qt's part for cameras, where this machine can load it."""
    try:
        camera_part.load()
    except Trouble as trouble:
        pytest.skip(trouble.what)
    import PySide6.QtMultimedia as multimedia

    return multimedia


def test_loading_says_nothing_on_the_console(multimedia, capfd, qtbot):
    multimedia.QMediaDevices.videoInputs()
    assert capfd.readouterr() == ("", "")


def make_frame(multimedia, image: QImage):
    """A frame as cameras give them: brightness and colour in two planes."""
    form = multimedia.QVideoFrameFormat(
        image.size(), multimedia.QVideoFrameFormat.PixelFormat.Format_NV12
    )
    frame = multimedia.QVideoFrame(form)
    assert frame.map(multimedia.QVideoFrame.MapMode.WriteOnly)
    grey = image.convertToFormat(QImage.Format.Format_Grayscale8)
    bright, colour, line = frame.bits(0), frame.bits(1), frame.bytesPerLine(0)
    for y in range(image.height()):
        bright[y * line : y * line + image.width()] = bytes(grey.constScanLine(y))[: image.width()]
    colour[:] = b"\x80" * len(colour)
    frame.unmap()
    return frame


@pytest.fixture
def fed(multimedia):
    """The real camera class, fed with made frames in place of a device's."""
    from shopguide.window.qt_camera import QtCamera

    class FedCamera(QtCamera):
        def list_devices(self) -> list:
            return [multimedia.QCameraDevice(), multimedia.QCameraDevice()]

        def attach(self, session, device) -> QObject:
            feed = multimedia.QVideoFrameInput(self)
            session.setVideoFrameInput(feed)
            self.feed = feed
            return feed

    fed = FedCamera()
    yield fed
    fed.stop()


def feed_it(multimedia, fed, until, image: QImage) -> None:
    frame = make_frame(multimedia, image)
    until(lambda: fed.feed.sendVideoFrame(frame))


# Without a screen Qt says that it converts frames by itself.
@pytest.mark.qt_log_ignore("No RHI backend", extend=True)
def test_frames_are_seen_small_and_taken_in_full(multimedia, fed, until):
    seen, taken = [], []
    fed.seen.connect(seen.append)
    fed.taken.connect(taken.append)
    fed.box = QSize(320, 240)
    fed.start(0)
    feed_it(multimedia, fed, until, make_view(50))
    until(lambda: bool(seen))
    assert seen[-1].size() == QSize(320, 240) and taken == []
    fed.take()
    feed_it(multimedia, fed, until, make_view(200))
    until(lambda: bool(taken))
    assert taken[0].size() == QSize(1600, 1200)
    # Told apart by their brightness: the light field of the second picture is wider.
    assert taken[0].pixelColor(150, 30).lightness() > 200
    fed.start(1)
    assert fed.now == 1 and len(taken) == 1
    fed.stop()
    count = len(seen)
    fed.take()
    QApplication.processEvents()
    assert len(seen) == count


def test_the_largest_format_that_is_quick_enough_is_chosen(multimedia):
    from shopguide.window.qt_camera import choose_format

    class Made:
        def __init__(self, wide: int, high: int, frames: float) -> None:
            self._size, self._frames = QSize(wide, high), frames

        def resolution(self) -> QSize:
            return self._size

        def maxFrameRate(self) -> float:
            return self._frames

    formats = [Made(640, 480, 30), Made(1920, 1080, 30), Made(1920, 1080, 60),
               Made(3840, 2160, 2), Made(9000, 6000, 30)]  # fmt: skip
    assert choose_format(formats) is formats[2]
    assert choose_format([Made(640, 480, 1)]) is None
