"""Colours of the window: three looks, one role a colour, and the safety colours of the signals."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Literal

from PySide6.QtGui import QColor, QPalette

LookName = Literal["light", "dark", "sun"]


@dataclass(frozen=True, slots=True)
class Look:
    """One look; every colour as #RRGGBB. `heavier` widens strokes for bright sun."""

    name: LookName
    ground: str
    card: str
    ink: str
    soft: str
    hairline: str
    band: str
    mark: str
    bar: str
    bar_ink: str
    bar_soft: str
    heavier: float = 1.0

    def color(self, role: str) -> QColor:
        """The colour of a role; KeyError-like AttributeError for an unknown one."""
        return QColor(getattr(self, role))


LOOKS: dict[str, Look] = {
    "light": Look(
        name="light",
        ground="#F4F2EC",
        card="#FFFFFF",
        ink="#17191B",
        soft="#4A4F53",
        hairline="#CFCBC0",
        band="#CFCBC0",
        mark="#B5126F",
        bar="#17191B",
        bar_ink="#F4F2EC",
        bar_soft="#C9C6BD",
    ),
    "dark": Look(
        name="dark",
        ground="#16181A",
        card="#1F2225",
        ink="#F2F0EA",
        soft="#A8AEB4",
        hairline="#3A3F44",
        band="#3F454B",
        mark="#FF5CC0",
        bar="#F2F0EA",
        bar_ink="#16181A",
        bar_soft="#3F444A",
    ),
    "sun": Look(
        name="sun",
        ground="#FFFFFF",
        card="#FFFFFF",
        ink="#000000",
        soft="#1C1C1C",
        hairline="#6B6B6B",
        band="#B9B9B9",
        mark="#8A0050",
        bar="#000000",
        bar_ink="#FFFFFF",
        bar_soft="#E6E6E6",
        heavier=1.4,
    ),
}

# ISO 3864-4 colours, and the ink that reads on each (ANSI Z535 word colours).
SIGNALS: dict[str, tuple[str, str]] = {
    "DANGER": ("#9B2423", "#FFFFFF"),
    "WARNING": ("#D05D29", "#000000"),
    "CAUTION": ("#F9A800", "#000000"),
    "NOTICE": ("#005387", "#FFFFFF"),
}


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours after WCAG 2.2, from 1 to 21."""

    def luminance(code: str) -> float:
        parts = [int(code[i : i + 2], 16) / 255 for i in (1, 3, 5)]
        lin = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
        return 0.2126 * lin[0] + 0.7152 * lin[1] + 0.0722 * lin[2]

    a, b = sorted((luminance(one), luminance(other)), reverse=True)
    return (a + 0.05) / (b + 0.05)


def qt_palette(look: Look) -> QPalette:
    """The look as Qt's own palette, so that plain widgets follow it."""
    palette = QPalette()
    roles = {
        QPalette.ColorRole.Window: look.ground,
        QPalette.ColorRole.WindowText: look.ink,
        QPalette.ColorRole.Base: look.card,
        QPalette.ColorRole.AlternateBase: look.ground,
        QPalette.ColorRole.Text: look.ink,
        QPalette.ColorRole.Button: look.ground,
        QPalette.ColorRole.ButtonText: look.ink,
        QPalette.ColorRole.BrightText: look.ink,
        QPalette.ColorRole.ToolTipBase: look.card,
        QPalette.ColorRole.ToolTipText: look.ink,
        QPalette.ColorRole.Highlight: look.ink,
        QPalette.ColorRole.HighlightedText: look.ground,
        QPalette.ColorRole.PlaceholderText: look.soft,
        QPalette.ColorRole.Mid: look.hairline,
        QPalette.ColorRole.Midlight: look.hairline,
        QPalette.ColorRole.Dark: look.soft,
        QPalette.ColorRole.Light: look.card,
        QPalette.ColorRole.Shadow: look.ink,
        QPalette.ColorRole.Accent: look.ink,
        QPalette.ColorRole.Link: look.ink,
    }
    for role, code in roles.items():
        palette.setColor(role, QColor(code))
    for role in (
        QPalette.ColorRole.WindowText,
        QPalette.ColorRole.Text,
        QPalette.ColorRole.ButtonText,
    ):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(look.soft))
    return palette


def list_roles() -> tuple[str, ...]:
    """The names of the colour roles of a look."""
    return tuple(f.name for f in fields(Look) if f.name not in ("name", "heavier"))
