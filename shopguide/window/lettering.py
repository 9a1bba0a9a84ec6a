"""Type in the window: the fonts, and the five sizes from which every text takes its own."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFont, QFontDatabase, QFontMetricsF

from shopguide import places

FAMILY = "Atkinson Hyperlegible Next"
FALLBACK = "DejaVu Sans"
FONT_FILES = (
    "AtkinsonHyperlegibleNext-Regular.ttf",
    "AtkinsonHyperlegibleNext-SemiBold.ttf",
    "AtkinsonHyperlegibleNext-Bold.ttf",
    "DejaVuSans.ttf",
    "DejaVuSans-Bold.ttf",
)

Size = Literal["torque", "due", "bar", "instruction", "text"]
Weight = Literal["regular", "strong", "semibold", "bold"]

SIZES_PX: dict[str, float] = {
    "torque": 116,
    "due": 74,
    "bar": 40,
    "instruction": 29,
    "text": 20,
}
"""Pixel sizes at 1366×768; a larger window scales them all by one factor."""

WEIGHTS = {
    "regular": QFont.Weight.Normal,
    "strong": QFont.Weight.DemiBold,
    "semibold": QFont.Weight.DemiBold,  # the same, as plain drawings call it
    "bold": QFont.Weight.Bold,
}

BASE_WIDTH, BASE_HEIGHT = 1366, 768
LEAST_TEXT_PX = 18


def load_fonts() -> None:
    """Makes the project's own fonts known to Qt; a missing file is left to Qt's fallback."""
    known = set(QFontDatabase.families())
    if FAMILY in known and FALLBACK in known:
        return
    for name in FONT_FILES:
        QFontDatabase.addApplicationFont(str(places.find_resource("fonts", name)))
    wrapped_height.cache_clear()


def factor_for(width: int, height: int, text_scale: float = 1.0) -> float:
    """By how much sizes grow in a window of this size; never so small that 20 px fall below 18."""
    by_window = min(width / BASE_WIDTH, height / BASE_HEIGHT)
    return max(LEAST_TEXT_PX / SIZES_PX["text"], min(by_window, 4.0)) * text_scale


LONGEST_WORD = 26
"""Letters of a word that fit on any line; a longer word may be broken."""


def let_break(text: str) -> str:
    """The text with invisible places to break in words too long for a line; it looks the same."""

    def loosen(found: re.Match[str]) -> str:
        word = found.group()
        return word[:12] + "".join(f"\u200b{letter}" for letter in word[12:])

    return re.sub(rf"\S{{{LONGEST_WORD + 1},}}", loosen, text)


@lru_cache(maxsize=4096)
def wrapped_height(text: str, room_px: float, pixels: float, weight: Weight = "regular") -> float:
    """How high a text stands when it is wrapped into this room; asked many times for one layout."""
    box = QFontMetricsF(font_px(pixels, weight)).boundingRect(
        QRectF(0, 0, room_px, 1e5), int(Qt.TextFlag.TextWordWrap), let_break(text)
    )
    return box.height()


def make_font(size: Size, weight: Weight = "regular", factor: float = 1.0) -> QFont:
    """The font of a size and weight, in pixels."""
    return font_px(SIZES_PX[size] * factor, weight)


def font_px(pixels: float, weight: Weight = "regular") -> QFont:
    """The project's font at an exact pixel size."""
    font = QFont()
    font.setFamilies([FAMILY, FALLBACK])
    font.setWeight(WEIGHTS[weight])
    font.setPixelSize(max(1, round(pixels)))
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font
