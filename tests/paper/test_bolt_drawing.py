"""The printed diagram: the same shapes as on the screen, in the paper's inks, inside its room."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader
from reportlab.pdfgen.canvas import Canvas

from shopguide.bolts.heads import HeadState
from shopguide.bolts.order import find_order
from shopguide.bolts.pattern import Pattern
from shopguide.bolts.shapes import Role
from shopguide.paper.bolt_drawing import BoltDrawing, HeadMark
from shopguide.paper.inks import MARK, ROLES
from shopguide.paper.lettering import BASE, load_fonts

DONE = HeadState(strokes=(False, True), done=True)


def ring(count: int) -> Pattern:
    return Pattern.model_validate(
        {"name": "ring", "title": "Ring", "circle": {"count": count, "diameter_mm": 200}}
    )


def draw(flowable, x: float = 50, y: float = 50) -> tuple[str, str]:
    """The page's drawing operators and its text."""
    load_fonts()
    target = io.BytesIO()
    canvas = Canvas(target, initialFontName=BASE, pageCompression=0)
    flowable.wrap(500, 700)
    flowable.drawOn(canvas, x, y)
    canvas.save()
    page = PdfReader(io.BytesIO(target.getvalue())).pages[0]
    return page.get_contents().get_data().decode("latin-1"), page.extract_text()


def drawing_of(count: int, state: HeadState = DONE, **more) -> BoltDrawing:
    pattern = ring(count)
    order = find_order(pattern).numbers
    return BoltDrawing(pattern, order, dict.fromkeys(order, state), 480, **more)


def rgb(color) -> str:
    return " ".join(f"{part:.6f}".lstrip("0").rstrip("0") for part in color.rgb())


def test_every_role_has_an_ink() -> None:
    assert set(ROLES) == set(Role.__args__)
    assert [role for role, ink in ROLES.items() if ink == MARK] == ["mark", "mark hollow"], (
        "the colour of the paint pen is for witness marks alone"
    )


def test_numbers_and_middle_can_be_read_back() -> None:
    _, text = draw(drawing_of(8, middle=("8 of 8", "have every pass")))
    words = set(re.findall(r"\d+|[a-z]+", text))
    assert {str(n) for n in range(1, 9)} <= words and {"have", "every", "pass"} <= words


def test_marks_are_drawn_solid_and_hollow() -> None:
    operators, _ = draw(drawing_of(8))
    untouched, _ = draw(drawing_of(8, HeadState()))
    mark = rgb(MARK)
    assert f"{mark} rg" in operators and f"{mark} RG" in operators
    assert mark not in untouched


def test_it_keeps_to_its_room() -> None:
    for tallest in (120.0, 300.0):
        drawing = drawing_of(24, tallest=tallest)
        assert drawing.width == 480 and drawing.height <= tallest + 0.01
        for _, x, y, _ in drawing.drawing.hits:
            assert 0 <= x * drawing.scale <= drawing.width
            assert 0 <= y * drawing.scale <= drawing.height


@pytest.mark.parametrize("count", [4, 16, 60, 120])
def test_it_says_which_numbers_it_shows(count: int) -> None:
    drawing = drawing_of(count)
    _, text = draw(drawing)
    shown = {int(n) for n in re.findall(r"\d+", text)}
    said = drawing.tell_numbers()
    if drawing.drawing.every == 1:
        assert said == "Numbers: place in the order." and shown == set(range(1, count + 1))
    else:
        assert len(shown) < count and "the table has" in said


def test_a_small_head_carries_the_same_marks() -> None:
    operators, _ = draw(HeadMark(DONE, 12))
    assert rgb(MARK) in operators
    assert rgb(MARK) not in draw(HeadMark(HeadState(), 12))[0]
