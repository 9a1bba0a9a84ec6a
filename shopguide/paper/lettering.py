"""Type on paper: the project's fonts, figures of one width, and the fallback glyph by glyph.

A character that Atkinson Hyperlegible Next lacks is set in DejaVu Sans; one that both lack becomes
an open box, so that nothing is lost without a trace. Nothing is ever set in a font that is not
embedded: PDF/A forbids it.
"""

from __future__ import annotations

import struct
import threading
import unicodedata
from functools import lru_cache
from typing import Literal
from xml.sax.saxutils import escape

from reportlab import rl_config

# Before anything of reportlab that makes styles: else they name Helvetica, which is not embedded.
BASE = "Shop"
rl_config.canvas_basefontname = BASE
rl_config.defaultGraphicsFontName = BASE

from reportlab.lib.fonts import addMapping  # noqa: E402
from reportlab.pdfbase import pdfmetrics  # noqa: E402
from reportlab.pdfbase.ttfonts import TTFont  # noqa: E402

from shopguide import places  # noqa: E402

Weight = Literal["regular", "semibold", "bold"]

_FILES = {
    "regular": "AtkinsonHyperlegibleNext-Regular.ttf",
    "semibold": "AtkinsonHyperlegibleNext-SemiBold.ttf",
    "bold": "AtkinsonHyperlegibleNext-Bold.ttf",
}
_FALLBACK_FILES = {"regular": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}
FONTS: dict[str, str] = {"regular": BASE, "semibold": "Shop-Strong", "bold": "Shop-Bold"}
FIGURES = "Shop-Figures"
"""The regular weight with figures of one width, for what stands under one another."""
FALLBACKS: dict[str, str] = {
    FONTS["regular"]: "Shop-Other",
    FIGURES: "Shop-Other",
    FONTS["semibold"]: "Shop-Other-Bold",
    FONTS["bold"]: "Shop-Other-Bold",
}
BOX = "\u25a1"
CAP_HEIGHT = 0.668
"""Height of the capitals by the font size."""

for _bold in (0, 1):
    for _italic in (0, 1):
        # A weight is always asked for by its own name, so all four stand for the same font.
        addMapping(BASE, _bold, _italic, BASE)

_lock = threading.Lock()
_known: dict[str, frozenset[int]] = {}


def load_fonts() -> None:
    """Makes the fonts known to reportlab, once. Raises Trouble where one of them is missing."""
    with _lock:
        if _known:
            return
        faces: dict[str, frozenset[int]] = {}
        for weight, file in _FILES.items():
            faces[FONTS[weight]] = _register(FONTS[weight], file)
        faces[FIGURES] = _register(FIGURES, _FILES["regular"], tabular=True)
        for weight, file in _FALLBACK_FILES.items():
            name = "Shop-Other" if weight == "regular" else "Shop-Other-Bold"
            faces[name] = _register(name, file)
        _known.update(faces)


def _register(name: str, file: str, *, tabular: bool = False) -> frozenset[int]:
    path = places.find_resource("fonts", file)
    font = TTFont(name, str(path))
    if tabular:
        _set_tabular(font, path.read_bytes())
    pdfmetrics.registerFont(font)
    pdfmetrics.registerFontFamily(name, name, name, name, name)
    return frozenset(code for code, glyph in font.face.charToGlyph.items() if glyph)


def _set_tabular(font: TTFont, data: bytes) -> None:
    """Puts the glyphs "zero.tf" to "nine.tf" in the place of the proportional figures."""
    names = _glyph_names(data)
    digits = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    face = font.face
    widths = face.hmetrics
    for place, digit in enumerate(digits):
        glyph = names.get(f"{digit}.tf")
        if glyph is None:
            return
        face.charToGlyph[ord("0") + place] = glyph
        face.charWidths[ord("0") + place] = widths[glyph][0] * 1000.0 / face.unitsPerEm
    face.name = face.name + b"-Figures"


def _glyph_names(data: bytes) -> dict[str, int]:
    """Glyph numbers by name, from the table `post` of a TrueType font (format 2 only)."""
    tables = struct.unpack(">H", data[4:6])[0]
    for index in range(tables):
        tag, _, offset, length = struct.unpack(">4sLLL", data[12 + 16 * index : 28 + 16 * index])
        if tag == b"post":
            break
    else:
        return {}
    post = data[offset : offset + length]
    if post[:4] != b"\x00\x02\x00\x00":
        return {}
    (count,) = struct.unpack(">H", post[32:34])
    indices = struct.unpack(f">{count}H", post[34 : 34 + 2 * count])
    strings, at = [], 34 + 2 * count
    while at < len(post):
        size = post[at]
        strings.append(post[at + 1 : at + 1 + size].decode("latin-1"))
        at += 1 + size
    return {
        strings[index - 258]: glyph
        for glyph, index in enumerate(indices)
        if index >= 258 and index - 258 < len(strings)
    }


# --- text ---------------------------------------------------------------------------------------


def tidy(text: str) -> str:
    """The text without what no font draws: controls and direction marks go, tabs become spaces."""
    out = []
    for char in unicodedata.normalize("NFC", text):
        if char in "\n\u2028\u2029\x85":
            out.append("\n")
        elif char in "\t\u2007":
            out.append(" ")
        elif unicodedata.category(char) in ("Cc", "Cf") or 0xFE00 <= ord(char) <= 0xFE0F:
            continue
        elif unicodedata.category(char) == "Cs":
            out.append(BOX)
        else:
            out.append(char)
    return "".join(out)


def split_runs(text: str, font: str) -> tuple[tuple[str, str], ...]:
    """(font name, text) runs: the font's own glyphs, else the fallback's, else a box."""
    load_fonts()
    return _split_runs(text, font)


@lru_cache(maxsize=4096)
def _split_runs(text: str, font: str) -> tuple[tuple[str, str], ...]:
    other = FALLBACKS[font]
    runs: list[list[str]] = []
    for char in tidy(text).replace("\n", " "):
        code = ord(char)
        if code in _known[font]:
            name = font
        else:
            name = other
            if code not in _known[other]:
                char = BOX
        if runs and unicodedata.combining(char) and runs[-1][0] != name:
            # An accent is set in the font of its letter, else it would stand beside it.
            base = runs[-1][1][-1]
            if ord(base) in _known[other]:
                runs[-1][1] = runs[-1][1][:-1]
                runs.append([other, base])
                name = other
        # A space stays with the run that it ends, so that words are not cut into pieces.
        if runs and (runs[-1][0] == name or char == " "):
            runs[-1][1] += char
        else:
            runs.append([name, char])
    return tuple((name, run) for name, run in runs if run)


def find_lacking(text: str) -> str:
    """The letters of a text, each once, that neither font has: they are set as a box."""
    load_fonts()
    font = FONTS["regular"]
    held = _known[font] | _known[FALLBACKS[font]]
    return "".join(c for c in dict.fromkeys(tidy(text)) if c != "\n" and ord(c) not in held)


def mark_up(text: str, font: str) -> str:
    """The text as reportlab's paragraph markup, with its line breaks and its fallbacks."""
    lines = []
    for line in tidy(text).strip("\n").split("\n"):
        parts = []
        for name, run in split_runs(line, font):
            said = escape(run)
            parts.append(said if name == font else f'<font name="{name}">{said}</font>')
        lines.append("".join(parts))
    return "<br/>".join(lines)


def width_of(text: str, font: str, size: float) -> float:
    """The width of one line of text in points."""
    return sum(pdfmetrics.stringWidth(run, name, size) for name, run in split_runs(text, font))


def fit(text: str, font: str, size: float, room: float) -> str:
    """The text, cut short with an ellipsis where it is wider than the room in points."""
    text = tidy(text).replace("\n", " ")
    if width_of(text, font, size) <= room:
        return text
    low, high = 0, len(text)
    while low < high:
        half = (low + high + 1) // 2
        if width_of(text[:half].rstrip() + "…", font, size) <= room:
            low = half
        else:
            high = half - 1
    return text[:low].rstrip() + "…"


def draw_text(
    canvas: object,
    x: float,
    y: float,
    text: str,
    font: str,
    size: float,
    anchor: Literal["start", "middle", "end"] = "start",
) -> float:
    """One line of text with its baseline at y; returns its width. The fill colour is the ink."""
    runs = split_runs(text, font)
    widths = [pdfmetrics.stringWidth(run, name, size) for name, run in runs]
    total = sum(widths)
    x -= {"start": 0.0, "middle": total / 2, "end": total}[anchor]
    for (name, run), width in zip(runs, widths, strict=True):
        canvas.setFont(name, size)  # type: ignore[attr-defined]
        canvas.drawString(x, y, run)  # type: ignore[attr-defined]
        x += width
    return total
