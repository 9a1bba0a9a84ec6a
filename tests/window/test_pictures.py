"""Pictures: decoded off the window's thread, upright, bounded; their marks where they belong."""

from __future__ import annotations

import io
import threading

import pytest
from PIL import Image
from PySide6.QtCore import QPoint, QSize, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest

from shopguide.job.model import Arrow, Number, Photo, Ring
from shopguide.window import pictures as source
from shopguide.window.app import make_app
from shopguide.window.palette import LOOKS
from shopguide.window.picture_view import PictureView
from shopguide.window.pictures import Pictures, decode

RED, BLUE, GREY = (200, 30, 30), (30, 30, 200), (128, 128, 128)
TURNED = 6
"""EXIF orientation: the camera was held upright, the picture is stored lying."""


def make_picture(kind: str = "JPEG", size: tuple[int, int] = (800, 400), turn: int = 1) -> bytes:
    """Grey with a red upper left quarter, as it is stored."""
    image = Image.new("RGB", size, GREY)
    image.paste(RED, (0, 0, size[0] // 2, size[1] // 2))
    exif = Image.Exif()
    exif[0x0112] = turn
    out = io.BytesIO()
    image.save(out, kind, exif=exif, quality=95)
    return out.getvalue()


def color_at(image: QImage, x: int, y: int) -> tuple[int, int, int]:
    color = image.pixelColor(x, y)
    return color.red(), color.green(), color.blue()


def near(one, other, most: int = 30) -> bool:
    return all(abs(a - b) <= most for a, b in zip(one, other, strict=True))


# Decoding.


def test_a_picture_is_scaled_into_its_box():
    image, full = decode(make_picture(), QSize(200, 200))
    assert (image.width(), image.height()) == (200, 100)
    assert (full.width(), full.height()) == (800, 400)
    assert near(color_at(image, 20, 20), RED) and near(color_at(image, 180, 80), GREY)


def test_a_small_picture_is_not_blown_up():
    image, full = decode(make_picture(size=(80, 40)), QSize(2000, 2000))
    assert image.size() == full == QSize(80, 40)


def test_a_picture_taken_upright_stands_upright():
    image, full = decode(make_picture(turn=TURNED), QSize(200, 200))
    assert (full.width(), full.height()) == (400, 800)
    assert (image.width(), image.height()) == (100, 200)
    # Turned a quarter clockwise: the stored upper left corner is now the upper right one.
    assert near(color_at(image, 90, 20), RED) and near(color_at(image, 10, 20), GREY)


@pytest.mark.parametrize("turn", range(1, 9))
def test_each_of_the_eight_turns_gives_the_upright_size(turn):
    image, full = decode(make_picture(turn=turn), QSize(300, 120))
    lies = turn < 5
    assert (full.width() > full.height()) == (image.width() > image.height()) == lies
    assert image.width() <= 300 and image.height() <= 120
    assert image.width() == 300 or image.height() == 120


HOSTILE = {
    "nothing": b"",
    "text": b"this is no picture",
    "zeros": bytes(5000),
    "a header alone": make_picture("PNG")[:33],
    "half a png": make_picture("PNG")[:60],
    "a jpeg's first bytes": b"\xff\xd8\xff\xe0" + b"\xff" * 400,
    "a bmp of two thousand million pixels": b"BM"
    + (54).to_bytes(4, "little")
    + bytes(4)
    + (54).to_bytes(4, "little")
    + (40).to_bytes(4, "little")
    + (45_000).to_bytes(4, "little") * 2
    + (1).to_bytes(2, "little")
    + (24).to_bytes(2, "little")
    + bytes(24),
}


@pytest.mark.parametrize("name", HOSTILE)
@pytest.mark.qt_log_level_fail("CRITICAL")
def test_what_is_no_picture_gives_none_and_no_fault(qapp, qtbot, name):
    pictures = Pictures(lambda _: HOSTILE[name])
    with qtbot.waitSignal(pictures.ready):
        assert pictures.get("x", QSize(100, 100)) is None
    image, _ = pictures.get("x", QSize(100, 100))
    pictures.close()
    assert image.isNull() or image.width() <= 100


def test_a_name_that_cannot_be_read_gives_none(qapp, qtbot):
    def read(name: str) -> bytes:
        raise OSError(name)

    pictures = Pictures(read)
    with qtbot.waitSignal(pictures.ready):
        pictures.get("gone", QSize(10, 10))
    assert pictures.get("gone", QSize(10, 10))[0].isNull()
    pictures.close()


# Off the thread, and bounded.


def test_the_window_does_not_wait_for_a_picture(qapp, qtbot):
    gate, threads = threading.Event(), []

    def read(name: str) -> bytes:
        threads.append(threading.current_thread())
        gate.wait(10)
        return make_picture()

    pictures = Pictures(read)
    assert pictures.get("slow", QSize(100, 100)) is None
    assert pictures.busy
    with qtbot.waitSignal(pictures.ready) as told:
        gate.set()
    assert told.args == ["slow"]
    assert threads and threading.main_thread() not in threads
    assert not pictures.busy
    pictures.close()


def test_the_same_size_is_decoded_once(qapp, qtbot):
    read = []
    pictures = Pictures(lambda name: read.append(name) or make_picture())
    with qtbot.waitSignal(pictures.ready):
        for _ in range(5):
            pictures.get("a", QSize(100, 100))
            pictures.fetch("a", QSize(100, 100))
    pictures.get("a", QSize(100, 100))
    assert read == ["a"]
    pictures.close()


def test_what_is_kept_is_bounded_and_the_oldest_goes(qapp, qtbot, monkeypatch):
    monkeypatch.setattr(source, "KEPT_BYTES", 4 * 100 * 50 * 4 + 100)
    pictures = Pictures(lambda name: make_picture(size=(100, 50)))
    for number in range(10):
        with qtbot.waitSignal(pictures.ready):
            pictures.get(f"p{number}", QSize(100, 50))
        pictures.get("p0", QSize(100, 50)) if number < 3 else None
    sizes = [image.sizeInBytes() for image, _ in pictures._kept.values()]
    assert sum(sizes) <= source.KEPT_BYTES
    assert [key[0] for key in pictures._kept] == ["p6", "p7", "p8", "p9"]
    pictures.close()


def test_nothing_arrives_after_closing(qapp, qtbot):
    pictures = Pictures(lambda name: make_picture())
    pictures.close()
    with qtbot.assertNotEmitted(pictures.ready, wait=50):
        assert pictures.get("a", QSize(10, 10)) is None


# Shown with its marks.


def show(qtbot, photo: Photo, data: bytes, size=(800, 700), factor: float = 1.0) -> QImage:
    make_app()
    pictures = Pictures(lambda _: data)
    view = PictureView(LOOKS["light"], factor)
    qtbot.addWidget(view)
    view.resize(*size)
    view.set_pictures(pictures)
    view.show_photos((photo,))
    view.grab()
    qtbot.waitUntil(lambda: not pictures.busy)
    image = view.grab().toImage()
    pictures.close()
    view.pictured = image
    return image


def place_of(image: QImage, full: QSize, size, x: float, y: float, factor: float) -> QPoint:
    """Where a pixel of the picture stands in the view: fitted, in the middle, over the caption."""
    height = size[1] - 60 * factor
    scale = min(size[0] / full.width(), height / full.height())
    left = (size[0] - full.width() * scale) / 2
    top = (height - full.height() * scale) / 2
    return QPoint(round(left + x * scale), round(top + y * scale))


@pytest.mark.parametrize("factor", [1.0, 1.5])
@pytest.mark.parametrize(("turn", "full"), [(1, QSize(800, 400)), (TURNED, QSize(400, 800))])
@pytest.mark.parametrize("size", [(800, 700), (500, 900)])
def test_marks_stand_at_their_place_in_the_upright_picture(qtbot, turn, full, size, factor):
    spot = (100.0, 300.0)
    bare = Photo(file="a.jpg", caption="A cover")
    tag = bare.model_copy(update={"marks": (Number(at=spot, number=7),)})
    before = show(qtbot, bare, make_picture(turn=turn), size, factor)
    after = show(qtbot, tag, make_picture(turn=turn), size, factor)
    where = place_of(after, full, size, *spot, factor)
    changed = [
        (x, y)
        for x in range(0, after.width())
        for y in range(0, after.height())
        if before.pixel(x, y) != after.pixel(x, y)
    ]
    middle_x = (min(x for x, _ in changed) + max(x for x, _ in changed)) / 2
    middle_y = (min(y for _, y in changed) + max(y for _, y in changed)) / 2
    assert abs(middle_x - where.x()) <= 2 and abs(middle_y - where.y()) <= 2


def test_a_ring_goes_round_its_place_and_leaves_it_free(qtbot):
    photo = Photo(file="a.jpg", marks=(Ring(at=(600, 300), radius=60),))
    image = show(qtbot, photo, make_picture())
    full, size = QSize(800, 400), (800, 700)
    for x, y in ((660, 300), (540, 300), (600, 360), (600, 240)):
        spot = place_of(image, full, size, x, y, 1.0)
        assert image.pixelColor(spot).name() == "#17191b"
    assert near(color_at(image, *place_of(image, full, size, 600, 300, 1.0).toTuple()), GREY)


def test_an_arrow_ends_at_what_it_shows(qtbot):
    photo = Photo(file="a.jpg", marks=(Arrow(start=(500, 100), to=(700, 300)),))
    image = show(qtbot, photo, make_picture())
    full, size = QSize(800, 400), (800, 700)
    tip = place_of(image, full, size, 695, 295, 1.0)
    beyond = place_of(image, full, size, 715, 315, 1.0)
    shaft = place_of(image, full, size, 600, 200, 1.0)
    assert image.pixelColor(tip).name() == image.pixelColor(shaft).name() == "#17191b"
    assert near(color_at(image, beyond.x(), beyond.y()), GREY)


def test_marks_outside_the_picture_are_not_painted_beside_it(qtbot):
    inside = Photo(file="a.jpg")
    outside = Photo(
        file="a.jpg", marks=(Ring(at=(-200, 200), radius=120), Number(at=(400, 900), number=1))
    )
    assert show(qtbot, inside, make_picture()) == show(qtbot, outside, make_picture())


def test_a_picture_that_cannot_be_shown_says_what_it_was(qtbot):
    make_app()
    pictures = Pictures(lambda _: b"no picture")
    view = PictureView(LOOKS["light"])
    qtbot.addWidget(view)
    view.resize(600, 500)
    view.set_pictures(pictures)
    told = []
    view._tell = lambda painter, room, text: told.append(text)
    view.show_photos((Photo(file="a.jpg", alt="The cover from below"),))
    view.grab()
    assert told == ["the picture is coming"]
    qtbot.waitUntil(lambda: not pictures.busy)
    view.grab()
    assert told[-1] == "a.jpg cannot be shown: The cover from below"
    pictures.close()


def test_the_strip_shows_the_others_and_a_click_takes_one(qtbot):
    make_app()
    pictures = Pictures(lambda _: make_picture())
    view = PictureView(LOOKS["light"])
    qtbot.addWidget(view)
    view.resize(800, 700)
    view.set_pictures(pictures)
    photos = tuple(Photo(file=f"{n}.jpg", alt=f"picture {n}") for n in range(3))
    view.show_photos(photos)
    view.grab()
    qtbot.waitUntil(lambda: not pictures.busy)
    view.grab()
    assert len(view._boxes) == 3
    with qtbot.waitSignal(view.turned) as told:
        QTest.mouseClick(view, Qt.MouseButton.LeftButton, pos=view._boxes[2].center().toPoint())
    assert told.args == [2]
    assert view.accessibleName() == "picture 2"
    view.turn(1)
    assert view.accessibleName() == "picture 0"
    pictures.close()
