"""The plain shapes a drawing is made of, for screen and paper alike.

All lengths are in drawing units: the pixels of a canvas of the size asked for, y down. A painter
maps the roles to its colours, scales everything alike, and paints in the sequence given.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Role = Literal[
    "band",
    "head",
    "head fill",
    "mark",
    "mark hollow",
    "due",
    "number",
    "number soft",
    "number due",
    "leader",
    "middle",
    "middle strong",
    "struck",
    "loose",
    "flag",
    "note",
]
Weight = Literal["regular", "semibold", "bold"]
Anchor = Literal["start", "middle", "end"]
XY = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, top, right, bottom."""

DIGIT_EM = 0.58
"""Width of a figure as a share of the text size, on the safe side for the project's fonts."""
LETTER_EM = 0.56
"""Average width of a letter in a line of words, as a share of the text size."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through the points, with round ends and joints; closed where last equals first."""

    role: Role
    points: tuple[XY, ...]
    width: float


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed figure with mitred corners: filled in its role's colour, or an outline `width` wide.

    A filled one is painted without an outline.
    """

    role: Role
    points: tuple[XY, ...]
    filled: bool
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Circle:
    """A disc, or a ring whose line of `width` is centred on the radius."""

    role: Role
    x: float
    y: float
    radius: float
    filled: bool
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Label:
    """One line of text. `size` is the font size (1 em); `y` is the middle of its capitals."""

    role: Role
    x: float
    y: float
    text: str
    size: float
    weight: Weight = "semibold"
    anchor: Anchor = "middle"

    def box(self) -> Box:
        """The room it takes: 1 em high, wide enough for its text in the project's fonts."""
        wide = text_width(self.text, self.size)
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * wide
        return (left, self.y - self.size / 2, left + wide, self.y + self.size / 2)


Shape = Stroke | Polygon | Circle | Label


def text_width(text: str, size: float) -> float:
    """A safe guess of the width of a text at a size, in the same unit as the size."""
    return size * (DIGIT_EM if text.isdigit() else LETTER_EM) * len(text)
