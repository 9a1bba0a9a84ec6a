"""The pad: strokes in thousandths of its width, whatever its size."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from shopguide.window.palette import LOOKS
from shopguide.window.signature_pad import MOST_POINTS, SignaturePad, smooth_path

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture(params=[500, 1000])
def pad(qtbot, request) -> SignaturePad:
    pad = SignaturePad(LOOKS["light"])
    qtbot.addWidget(pad)
    pad.resize(request.param, request.param * 3 // 10)
    return pad


def draw(pad: SignaturePad, *points: tuple[int, int]) -> None:
    """Points in thousandths of the width."""
    spots = [QPoint(x * pad.width() // 1000, y * pad.width() // 1000) for x, y in points]
    QTest.mousePress(pad, LEFT, pos=spots[0])
    for spot in spots[1:]:
        QTest.mouseMove(pad, spot)
    QTest.mouseRelease(pad, LEFT, pos=spots[-1])


def test_a_stroke_is_kept_in_thousandths_of_the_width(pad, qtbot):
    with qtbot.waitSignal(pad.drawn):
        draw(pad, (100, 100), (200, 50), (300, 100))
    assert pad.strokes == [[(100, 100), (200, 50), (300, 100)]]
    draw(pad, (400, 100), (500, 100))
    assert len(pad.strokes) == 2


def test_what_leaves_the_pad_stays_at_its_edge(pad):
    draw(pad, (100, 100), (-300, 100), (2000, 900))
    assert pad.strokes[0][1:] == [(0, 100), (1000, 300)]


def test_a_point_that_does_not_move_is_kept_once(pad):
    draw(pad, (100, 100), (100, 100), (100, 100))
    assert pad.strokes == [[(100, 100)]]


def test_it_does_not_grow_without_end(pad):
    pad.strokes = [[(n % 1000, n % 300) for n in range(MOST_POINTS)]]
    QTest.mousePress(pad, LEFT, pos=QPoint(5, 5))
    QTest.mouseMove(pad, QPoint(50, 50))
    assert sum(map(len, pad.strokes)) <= MOST_POINTS + 1


def test_it_can_be_cleared_and_shows_what_is_drawn(pad, qtbot):
    empty = pad.grab().toImage()
    draw(pad, (100, 100), (500, 50), (900, 100))
    assert pad.grab().toImage() != empty
    with qtbot.waitSignal(pad.drawn):
        pad.clear()
    assert pad.strokes == [] and pad.grab().toImage() == empty


def test_a_curve_ends_where_the_stroke_ends():
    path = smooth_path([(0, 0), (100, 100), (200, 0)], 0.5)
    assert (path.currentPosition().x(), path.currentPosition().y()) == (100, 0)
    assert not smooth_path([(10, 10)], 1.0).isEmpty(), "a dot is seen"
