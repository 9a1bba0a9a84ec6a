"""The diagram on the screen: clicks, words, and states that are told apart without colour."""

from __future__ import annotations

import itertools
import math

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest

from shopguide.bolts.heads import HeadState
from shopguide.job.files import load_sheet
from shopguide.window.app import make_app
from shopguide.window.bolt_diagram import INKS, BoltDiagram
from shopguide.window.palette import LOOKS

MIDDLE = ("to torque", "5 of 16 done")
STATES = {
    "nothing done": HeadState(),
    "snug": HeadState(snug=True),
    "one pass": HeadState(strokes=(True,), done=True),
    "two passes": HeadState(strokes=(True, True), done=True),
    "backed off": HeadState(strokes=(False,)),
    "backed off, then torqued": HeadState(strokes=(False, True), done=True),
    "due": HeadState(due=True),
    "departed": HeadState(strokes=(True,), done=True, departed=True),
}


@pytest.fixture(scope="module")
def cover(sample):
    return next(p for p in load_sheet(sample).sheet.patterns if p.name == "cover")


@pytest.fixture
def show(qtbot, cover):
    make_app()

    def show_it(states=None, size=(778, 536), factor=1.0, look="light") -> BoltDiagram:
        diagram = BoltDiagram(LOOKS[look], factor)
        qtbot.addWidget(diagram)
        diagram.resize(*size)
        all_states = {f.number: HeadState() for f in cover.tightened} | (states or {})
        diagram.show_pattern(cover, cover.order, all_states, MIDDLE, "the manual's order")
        return diagram

    return show_it


@pytest.mark.parametrize(("size", "factor"), [((778, 536), 1.0), ((2180, 1500), 2.81)])
def test_a_click_picks_the_nearest_head(show, qtbot, size, factor):
    diagram = show(size=size, factor=factor)
    hits = {number: (x, y) for number, x, y, _ in diagram.drawing().hits}
    assert sorted(hits) == list(range(1, 17))
    for number, (x, y) in hits.items():
        for dx, dy in ((0, 0), (8, 5), (-6, 9)):
            spot = QPoint(round((x + dx) * factor), round((y + dy + 40) * factor))
            with qtbot.waitSignal(diagram.picked) as told:
                QTest.mouseClick(diagram, Qt.MouseButton.LeftButton, pos=spot)
            assert told.args == [number]


def test_between_two_heads_the_nearer_one_is_taken(show):
    diagram = show()
    for (one, ax, ay, _), (other, bx, by, _) in itertools.combinations(diagram.drawing().hits, 2):
        if math.hypot(ax - bx, ay - by) < 44:
            spot = QPointF(ax + (bx - ax) * 0.4, ay + (by - ay) * 0.4 + 40)
            assert diagram.number_at(spot) == one != other


def test_a_click_beside_every_head_picks_none(show, qtbot):
    diagram = show()
    with qtbot.assertNotEmitted(diagram.picked):
        QTest.mouseClick(diagram, Qt.MouseButton.LeftButton, pos=QPoint(380, 300))
        QTest.mouseClick(diagram, Qt.MouseButton.LeftButton, pos=QPoint(5, 5))


def test_it_says_what_it_shows(show, cover):
    diagram = show()
    name = diagram.accessibleName()
    assert cover.title in name and cover.seen in name and "the manual's order" in name
    assert diagram.accessibleDescription() == "to torque, 5 of 16 done"


def test_every_role_of_a_shape_has_its_colour(show):
    drawing = show(states={n: s for n, s in enumerate(STATES.values(), 1)}).drawing()
    assert {shape.role for shape in drawing.shapes} <= set(INKS)


def test_magenta_is_on_marks_alone(show):
    assert {role for role, ink in INKS.items() if ink == "mark"} == {"mark", "mark hollow"}
    image = show().grab().toImage()
    pink = [
        (x, y)
        for x in range(0, image.width(), 2)
        for y in range(0, image.height(), 2)
        if image.pixelColor(x, y).hsvSaturation() > 150 and image.pixelColor(x, y).value() > 100
    ]
    assert pink == [], "nothing is marked, so nothing is magenta"


def lightness(color) -> float:
    """CIE L* of a colour, 0 to 100 (CIE 15, from sRGB by IEC 61966-2-1; from memory)."""
    parts = (color.redF(), color.greenF(), color.blueF())
    lin = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    y = 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]
    return 116 * (y ** (1 / 3) if y > 0.008856 else 7.787 * y + 16 / 116) - 16


@pytest.mark.parametrize("look", LOOKS)
def test_states_are_told_apart_in_grey(show, look):
    """Each pair differs in so many pixels, by so much lightness, that a shape differs."""
    number, half = 10, 34
    pictures = {}
    for name, state in STATES.items():
        diagram = show(states={number: state}, look=look)
        x, y = next((x, y + 40) for n, x, y, _ in diagram.drawing().hits if n == number)
        image = diagram.grab().toImage().copy(round(x) - half, round(y) - half, 2 * half, 2 * half)
        pictures[name] = [
            lightness(image.pixelColor(px, py)) for px in range(2 * half) for py in range(2 * half)
        ]
    for one, other in itertools.combinations(pictures, 2):
        differ = sum(abs(a - b) > 25 for a, b in zip(pictures[one], pictures[other], strict=True))
        assert differ >= 40, f"{one} and {other} differ in {differ} pixels in {look}"
