"""The numbers of a mark on a picture, in the picture's own pixels, written and read as text."""

from __future__ import annotations

import re
from collections.abc import Sequence

from shopguide.errors import Trouble
from shopguide.job.model import Arrow, Freehand, PictureMark, Ring

LARGEST_PX = 100_000.0
MOST_POINTS = 2000
_FIGURE = re.compile(r"[-−]?[0-9]+(?:\.[0-9]+)?")


def ask_for_numbers(mark: PictureMark) -> str:
    """What is asked for."""
    match mark:
        case Arrow():
            return "Arrow: x, y where it begins, then where it points, in pixels of the picture"
        case Ring():
            return "Ring: x, y of its middle, then its radius, in pixels of the picture"
        case Freehand():
            return "Line: x, y of each of its points, in pixels of the picture"
        case _:
            return "Its place: x, y in pixels of the picture"


def write_numbers(mark: PictureMark) -> str:
    """The numbers of a mark: "1040, 820 to 830, 520"."""
    match mark:
        case Arrow():
            return f"{_pair(mark.start)} to {_pair(mark.to)}"
        case Ring():
            return f"{_pair(mark.at)} radius {mark.radius:.10g}"
        case Freehand():
            return "; ".join(_pair(point) for point in mark.points)
        case _:
            return _pair(mark.at)


def read_numbers(mark: PictureMark, text: str) -> PictureMark:
    """The mark with other numbers; the words between them do not count.

    Raises Trouble where there are too few or too many, or where one cannot be.
    """
    found = [float(figure.replace("−", "-")) for figure in _FIGURE.findall(text)]
    if any(abs(value) > LARGEST_PX for value in found):
        raise Trouble("That is too far from the picture.", next="Write pixels of the picture.")
    pairs = tuple(zip(found[0::2], found[1::2], strict=False))
    match mark:
        case Arrow():
            _count(found, 4, "four: x, y where it begins, and x, y where it points")
            return Arrow(start=pairs[0], to=pairs[1])
        case Ring():
            _count(found, 3, "three: x, y of the middle, and the radius")
            if found[2] <= 0:
                raise Trouble("A ring has a radius above 0.", next="Write it as the third number.")
            return Ring(at=pairs[0], radius=found[2])
        case Freehand():
            if len(found) % 2 or not 2 <= len(pairs) <= MOST_POINTS:
                raise Trouble(
                    f"Here stand {len(found)} numbers.",
                    next=f"Write two for each point, and 2 to {MOST_POINTS} points.",
                )
            return Freehand(points=pairs)
        case _:
            _count(found, 2, "two: x and y")
            return mark.model_copy(update={"at": pairs[0]})


def _pair(spot: Sequence[float]) -> str:
    return f"{spot[0]:.10g}, {spot[1]:.10g}"


def _count(found: Sequence[float], wanted: int, which: str) -> None:
    if len(found) != wanted:
        number = "One number stands" if len(found) == 1 else f"{len(found)} numbers stand"
        raise Trouble(f"{number} here.", next=f"Write {which}.")
