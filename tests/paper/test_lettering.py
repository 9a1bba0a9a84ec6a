"""Type on paper: fallback glyph by glyph, boxes for what no font has, figures of one width."""

from __future__ import annotations

import pytest
from reportlab.pdfbase import pdfmetrics

from shopguide.paper.lettering import (
    BASE,
    BOX,
    FALLBACKS,
    FIGURES,
    FONTS,
    fit,
    load_fonts,
    mark_up,
    split_runs,
    tidy,
    width_of,
)


def test_what_the_font_has_stays_in_it() -> None:
    assert split_runs("9 N·m ±10 % × ½ Ω “æøå”", BASE) == ((BASE, "9 N·m ±10 % × ½ Ω “æøå”"),)


@pytest.mark.parametrize("font", [*FONTS.values(), FIGURES])
def test_other_scripts_fall_back_run_by_run(font: str) -> None:
    runs = split_runs("Жук 9 N·m → Ελλ", font)
    assert [name for name, _ in runs] == [FALLBACKS[font], font, FALLBACKS[font]]
    assert "".join(text for _, text in runs) == "Жук 9 N·m → Ελλ"


def test_what_no_font_has_becomes_a_box_each() -> None:
    ((name, text),) = split_runs("漢字", BASE)
    assert (name, text) == (FALLBACKS[BASE], BOX * 2)


def test_an_accent_goes_with_its_letter() -> None:
    runs = split_runs("ax\u0335b", BASE)
    assert runs == ((BASE, "a"), (FALLBACKS[BASE], "x\u0335"), (BASE, "b"))


def test_controls_and_direction_marks_go_but_lines_stay() -> None:
    assert tidy("a\u202eb\u200b\tc\nd\x07") == "ab c\nd"


def test_markup_is_escaped_and_lines_are_broken() -> None:
    assert mark_up("a<b> & c\nd", BASE) == "a&lt;b&gt; &amp; c<br/>d"
    assert mark_up("Ж", BASE) == f'<font name="{FALLBACKS[BASE]}">Ж</font>'


def test_figures_have_one_width() -> None:
    load_fonts()
    assert len({width_of(digit, FIGURES, 10) for digit in "0123456789"}) == 1
    assert len({width_of(digit, BASE, 10) for digit in "0123456789"}) > 1
    assert pdfmetrics.getFont(FIGURES).face.name != pdfmetrics.getFont(BASE).face.name


def test_fit_shortens_to_the_room() -> None:
    assert fit("short", BASE, 8, 100) == "short"
    long = fit("W" * 300, BASE, 8, 100)
    assert long.endswith("…") and width_of(long, BASE, 8) <= 100 < width_of(long + "W", BASE, 8)
