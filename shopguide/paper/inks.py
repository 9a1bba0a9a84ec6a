"""The colours of the paper. Everything is told by shape and word first, so it reads in grey too."""

from __future__ import annotations

from reportlab.lib.colors import Color, HexColor

INK = HexColor("#17191B")
SOFT = HexColor("#4A4F53")
HAIRLINE = HexColor("#CFCBC0")
BAND = HexColor("#DDD9CF")
MARK = HexColor("#B5126F")
WHITE = HexColor("#FFFFFF")

# ISO 3864-4 colours with the ink that reads on each, as ANSI Z535 pairs them.
SIGNALS: dict[str, tuple[Color, Color]] = {
    "DANGER": (HexColor("#9B2423"), WHITE),
    "WARNING": (HexColor("#D05D29"), HexColor("#000000")),
    "CAUTION": (HexColor("#F9A800"), HexColor("#000000")),
    "NOTICE": (HexColor("#005387"), WHITE),
}

ROLES: dict[str, Color] = {
    "band": BAND,
    "head": INK,
    "head fill": WHITE,
    "mark": MARK,
    "mark hollow": MARK,
    "due": INK,
    "number": INK,
    "number soft": SOFT,
    "number due": INK,
    "leader": INK,
    "middle": SOFT,
    "middle strong": INK,
    "struck": INK,
    "loose": INK,
    "flag": INK,
    "note": SOFT,
}
"""The ink of each role of a drawn shape."""
