"""Type: the project's own fonts, the sizes that a person two steps away can read."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QFontDatabase, QFontInfo, QFontMetricsF, QRawFont

from shopguide.window.app import make_app
from shopguide.window.lettering import (
    FALLBACK,
    FAMILY,
    LEAST_TEXT_PX,
    SIZES_PX,
    WEIGHTS,
    factor_for,
    font_px,
    make_font,
)


@pytest.fixture(autouse=True)
def app(qapp):
    return make_app()


def test_the_fonts_are_the_projects_own():
    assert {FAMILY, FALLBACK} <= set(QFontDatabase.families())
    for weight in WEIGHTS:
        info = QFontInfo(font_px(20, weight))
        assert info.family() == FAMILY
        assert info.pixelSize() == 20


def test_three_weights_differ():
    widths = [
        QFontMetricsF(font_px(40, weight)).horizontalAdvance("torque")
        for weight in ("regular", "strong", "bold")
    ]
    assert widths == sorted(set(widths))
    # Plain drawings call one of them by another name.
    assert WEIGHTS["semibold"] == WEIGHTS["strong"]


@pytest.mark.parametrize(
    ("size", "least"),
    # What a mechanic reads from where: sizes on a 14-inch screen of 1366 by 768.
    [("torque", 96), ("due", 72), ("bar", 40), ("instruction", 28), ("text", 18)],
)
def test_sizes_at_a_small_laptop(size, least):
    assert factor_for(1366, 768) == 1.0
    assert make_font(size).pixelSize() >= least
    assert len(SIZES_PX) <= 5


@pytest.mark.parametrize(
    ("width", "height", "low", "high"),
    [
        (1280, 720, 0.9, 0.95),  # 2560 by 1440 at a scale of two
        (1366, 768, 1.0, 1.0),
        (1920, 1080, 1.40, 1.41),
        (3840, 2160, 2.8, 2.82),
        (800, 600, 0.9, 0.9),
        (20_000, 9000, 4.0, 4.0),
    ],
)
def test_sizes_grow_with_the_window(width, height, low, high):
    factor = factor_for(width, height)
    assert low <= round(factor, 3) <= high
    assert round(SIZES_PX["text"] * factor) >= LEAST_TEXT_PX


def _has(family: str, sign: str) -> bool:
    raw = QRawFont.fromFont(font_px(20) if family == FAMILY else _fallback())
    return raw.supportsCharacter(ord(sign))


def _fallback():
    font = font_px(20)
    font.setFamilies([FALLBACK])
    return font


@pytest.mark.parametrize("sign", "N·m°×½Ωμ−≥éüñčß→✓αЖЯ")
def test_every_sign_has_a_shape_in_one_of_the_two(sign):
    assert _has(FAMILY, sign) or _has(FALLBACK, sign)


@pytest.mark.parametrize("sign", "→✓αЖ")
def test_what_the_first_lacks_comes_from_the_second(sign):
    assert not _has(FAMILY, sign)
    both, second = QFontMetricsF(font_px(40)), _fallback()
    second.setPixelSize(40)
    assert both.horizontalAdvance(sign) == pytest.approx(
        QFontMetricsF(second).horizontalAdvance(sign), abs=0.5
    )
