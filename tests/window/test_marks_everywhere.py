"""Marks stand at the same places of a picture in Work, in its strip, in Write and on paper."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF, QSize
from PySide6.QtGui import QImage, QPainter
from PySide6.QtPdf import QPdfDocument

from shopguide.job.edits import Draft, SetValue
from shopguide.job.files import load_sheet, save_sheet
from shopguide.job.model import Arrow, Freehand, Number, Photo, PictureMark, Ring, Text
from shopguide.job.skeletons import make_skeleton
from shopguide.paper.job_card import make_job_card
from shopguide.window.app import make_app
from shopguide.window.palette import LOOKS
from shopguide.window.picture_view import SMALL_MARKS, PictureView, paint_photo
from shopguide.window.pictures import Pictures
from shopguide.window.write_photo_block import Thumb

FULL = QSize(2400, 1600)
"""More than the 1000 pixels of the copy for the paper: its marks have to be scaled there."""
GREEN = (40, 170, 60)
MARKS: tuple[PictureMark, ...] = (
    Arrow(start=(200, 300), to=(800, 300)),
    Ring(at=(1900, 420), radius=280),
    Number(at=(420, 1250), number=7),
    Text(at=(1250, 1250), text="plug"),
    Freehand(points=((1700, 1050), (2050, 1450), (2300, 1100))),
)
INK = {
    "the arrow's shaft": (400, 300),
    "the arrow's tip": (785, 300),
    "the ring, right": (2180, 420),
    "the ring, left": (1620, 420),
    "the ring, above": (1900, 140),
    "the ring, below": (1900, 700),
    "the number": (420, 1250),
    "the words": (1250, 1250),
    "the line, first part": (1875, 1250),
    "the line, second part": (2175, 1275),
}
"""Places of the picture at or beside which there is ink."""
BARE = ((1900, 420), (1200, 500), (1000, 900), (200, 700), (1100, 300), (150, 1500))
"""Places where there is none, in the ring and beyond the arrow's tip among them."""


@pytest.fixture(scope="module")
def picture(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("picture") / "cover.jpg"
    Image.new("RGB", FULL.toTuple(), GREEN).save(path, quality=90)
    return path


@pytest.fixture
def pictures(picture, qtbot) -> Iterator[Pictures]:
    make_app()
    data = picture.read_bytes()
    found = Pictures(lambda _: data)
    yield found
    found.close()


PHOTO = Photo(file="cover.jpg", caption="The cover", alt="The cover", marks=MARKS)


def find_picture(image: QImage) -> QRectF | None:
    """Where the green picture lies in an image: from its first to its last column and row."""

    def is_green(x: int, y: int) -> bool:
        color = image.pixelColor(x, y)
        return color.green() > 130 and color.red() < 90 and color.blue() < 110

    rows = [y for y in range(image.height()) if any(
        is_green(x, y) for x in range(0, image.width(), 7))]  # fmt: skip
    if not rows:
        return None
    some = range(rows[0], rows[-1] + 1, 5)
    columns = [x for x in range(image.width()) if any(is_green(x, y) for y in some)]
    return QRectF(columns[0], rows[0], columns[-1] - columns[0] + 1, rows[-1] - rows[0] + 1)


def check_marks(image: QImage, reach_px: int) -> None:
    """Ink where there has to be ink, the picture where it has to be free.

    reach_px: so far beside its place may the ink of a letter be.
    """
    room = find_picture(image)
    assert room is not None
    assert room.width() / room.height() == pytest.approx(1.5, rel=0.03)
    scale = room.width() / FULL.width()

    def darkest(spot: tuple[float, float], reach: int) -> int:
        at_x, at_y = round(room.x() + spot[0] * scale), round(room.y() + spot[1] * scale)
        return min(
            image.pixelColor(at_x + dx, at_y + dy).green()
            for dx in range(-reach, reach + 1)
            for dy in range(-reach, reach + 1)
        )

    for name, spot in INK.items():
        letters = name in ("the number", "the words")
        assert darkest(spot, reach_px if letters else 2) < 90, name
    for spot in BARE:
        assert darkest(spot, 1) > 140, spot


def grab(widget, pictures: Pictures, qtbot) -> QImage:
    widget.grab()
    qtbot.waitUntil(lambda: not pictures.busy)
    return widget.grab().toImage()


def test_in_work(pictures, qtbot):
    view = PictureView(LOOKS["light"])
    qtbot.addWidget(view)
    view.resize(900, 700)
    view.set_pictures(pictures)
    view.show_photos((PHOTO,))
    check_marks(grab(view, pictures, qtbot), 5)


def test_in_the_strip_of_work(pictures, qtbot):
    view = PictureView(LOOKS["light"], 3.0)
    qtbot.addWidget(view)
    view.resize(1500, 1500)
    view.set_pictures(pictures)
    view.show_photos((PHOTO.model_copy(update={"marks": ()}), PHOTO))
    image = grab(view, pictures, qtbot)
    box = view._boxes[1].toRect()
    frame = 4  # the line round a picture of the strip
    check_marks(image.copy(box.adjusted(frame, frame, -frame, -frame)), 5)


def show_small(pictures, qtbot, factor: float) -> Thumb:
    thumb = Thumb(LOOKS["light"], factor, pictures)
    qtbot.addWidget(thumb)
    thumb.show_photo(PHOTO, PHOTO.file)
    return thumb


def test_in_write(pictures, qtbot):
    check_marks(grab(show_small(pictures, qtbot, 3.0), pictures, qtbot), 5)


@pytest.mark.parametrize("factor", [1.0, 1.7])
def test_the_small_picture_in_write_is_the_one_of_work_to_the_pixel(pictures, qtbot, factor):
    thumb = show_small(pictures, qtbot, factor)
    small = grab(thumb, pictures, qtbot)
    found = pictures.get(PHOTO.file, thumb.box())
    assert found is not None
    for marks, same in ((MARKS, True), ((), False), (MARKS[1:], False)):
        drawn = QImage(small.size(), small.format())
        drawn.fill(thumb.palette().window().color())
        painter = QPainter(drawn)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        room = QRectF(0, 0, small.width(), small.height())
        paint_photo(painter, room, *found, marks, LOOKS["light"], factor * SMALL_MARKS)
        painter.end()
        assert (drawn == small) is same


def test_on_paper(picture, tmp_path, qtbot):
    make_app()
    draft = Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24"))
    draft.apply(SetValue(("stages", 0, "steps", 0, "photos"), [PHOTO]))
    assert draft.sheet is not None
    save_sheet(draft.sheet, tmp_path / "sheet", {"cover.jpg": picture})
    pdf = make_job_card(load_sheet(tmp_path / "sheet"))
    held = QBuffer()
    held.setData(QByteArray(pdf))
    held.open(QIODevice.OpenModeFlag.ReadOnly)
    document = QPdfDocument()
    document.load(held)
    assert document.status() == QPdfDocument.Status.Ready
    shown = []
    for page in range(document.pageCount()):
        size = document.pagePointSize(page) * 2.5
        image = document.render(page, size.toSize())
        # Paper is white where the page says nothing.
        whole = QImage(image.size(), QImage.Format.Format_RGB32)
        whole.fill(0xFFFFFFFF)
        painter = QPainter(whole)
        painter.drawImage(0, 0, image)
        painter.end()
        if find_picture(whole) is not None:
            shown.append(whole)
    document.close()
    assert len(shown) == 1
    check_marks(shown[0], 8)
