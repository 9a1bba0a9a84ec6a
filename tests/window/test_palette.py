"""The three looks: every text and every shape can be told from what it stands on."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QPalette

from shopguide.window.palette import LOOKS, SIGNALS, contrast, list_roles, qt_palette

# Which role is painted on which, as the widgets do it.
MAIN_TEXT = [("ink", "ground"), ("ink", "card"), ("bar_ink", "bar")]
SOFT_TEXT = [("soft", "ground"), ("soft", "card"), ("bar_soft", "bar")]
SHAPES = [
    ("mark", "card"),  # a stroke beside its head, and across it
    ("mark", "band"),  # the same stroke where it crosses the joint
    ("ink", "band"),  # heads, rings and leaders on the joint
    ("soft", "ground"),  # entry lines, boxes, the line across the top
    ("soft", "hairline"),  # the slim line that tells the place in a column
    ("bar", "ground"),
]


@pytest.mark.parametrize("name", LOOKS)
@pytest.mark.parametrize(
    ("pairs", "least"), [(MAIN_TEXT, 12.0), (SOFT_TEXT, 7.0), (SHAPES, 3.0)], ids=str
)
def test_each_pair_is_told_apart(name, pairs, least):
    look = LOOKS[name]
    told = {
        (role, on): round(contrast(getattr(look, role), getattr(look, on)), 2) for role, on in pairs
    }
    assert all(value >= least for value in told.values()), told


def test_contrast_is_that_of_wcag():
    # WCAG 2.2, definition of contrast ratio: black on white is 21, a colour on itself 1.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#B5126F", "#B5126F") == pytest.approx(1)
    # The definition reckoned by hand for one grey: ((0x77/255 + 0.055) / 1.055) ** 2.4 = 0.18447.
    assert contrast("#777777", "#FFFFFF") == pytest.approx(1.05 / (0.18447 + 0.05), abs=0.01)


def test_signal_colours_are_those_of_iso_3864_4():
    # The RAL approximations in ISO 3864-4, read in an encyclopaedia's table of that standard.
    assert {word: ground for word, (ground, _) in SIGNALS.items()} == {
        "DANGER": "#9B2423",  # RAL 3001
        "WARNING": "#D05D29",  # RAL 2010
        "CAUTION": "#F9A800",  # RAL 1003
        "NOTICE": "#005387",  # RAL 5005
    }


@pytest.mark.parametrize("word", SIGNALS)
def test_the_signal_word_reads_on_its_colour(word):
    ground, ink = SIGNALS[word]
    # The words are bold and at least 20 px: WCAG's large text. The blacks and whites on them are
    # those of ANSI Z535 (from memory).
    assert contrast(ground, ink) >= 4.5
    assert ink == ("#FFFFFF" if word in ("DANGER", "NOTICE") else "#000000")


def test_magenta_is_for_witness_marks_alone():
    for look in LOOKS.values():
        others = {getattr(look, role) for role in list_roles() if role != "mark"}
        assert look.mark not in others


@pytest.mark.parametrize("name", LOOKS)
def test_plain_widgets_follow_the_look(name):
    look, palette = LOOKS[name], qt_palette(LOOKS[name])
    for text, ground in (
        (QPalette.ColorRole.WindowText, QPalette.ColorRole.Window),
        (QPalette.ColorRole.Text, QPalette.ColorRole.Base),
        (QPalette.ColorRole.ButtonText, QPalette.ColorRole.Button),
        (QPalette.ColorRole.HighlightedText, QPalette.ColorRole.Highlight),
        (QPalette.ColorRole.ToolTipText, QPalette.ColorRole.ToolTipBase),
    ):
        assert contrast(palette.color(text).name(), palette.color(ground).name()) >= 12
    hint = palette.color(QPalette.ColorRole.PlaceholderText).name()
    assert contrast(hint, look.card) >= 7


def test_bright_sun_is_black_on_white_with_heavier_strokes():
    sun = LOOKS["sun"]
    assert (sun.ink, sun.ground, sun.card) == ("#000000", "#FFFFFF", "#FFFFFF")
    assert sun.heavier > 1.2 > LOOKS["light"].heavier
