"""Sockets on hexagon heads: how much play a pair has, and whether it will do."""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from shopguide.errors import UnitTrouble
from shopguide.torque.hex_head import list_head_limits
from shopguide.torque.threads import INCH_MM

FitVerdict = Literal["fits", "tight", "sloppy", "does not go on"]

_WORDS: dict[FitVerdict, str] = {
    "fits": "fits",
    "tight": "goes on only where the head is near its lower limit; take the right one",
    "sloppy": "sloppy: will round the head",
    "does not go on": "does not go on",
}

_SIZE = re.compile(
    r"(?:(?P<whole>\d+)(?:\s*-\s*|\s+))?(?P<part>\d+/\d+)\s*(?:\"|in\.?|inch)?"
    r"|(?P<mm>\d+(?:\.\d+)?)\s*(?P<unit>mm|\"|in\.?|inch)?"
)
_LONGEST_MM = 200.0

_INCH_SOCKET = "ANSI/ASME B18.2.2 appendix, read in Machinery's Handbook, 27th and 31st editions"
_NO_SOCKET = "nominal: the limits of metric sockets (ISO 691) were not at hand"
_NO_HEAD = "nominal: the limits of this head were not at hand"


@dataclass(frozen=True, slots=True)
class Size:
    """A width across flats: as it is marked ("13 mm", "1/2 in"), and in mm."""

    marked: str
    mm: float

    @property
    def inch(self) -> bool:
        """True for a size in inches."""
        return self.marked.endswith("in")


@dataclass(frozen=True, slots=True)
class Fit:
    """A socket on a head. play_mm: nominal socket less nominal head; below 0 it is too small.

    least_play_mm, most_play_mm: by the limits of head and socket, as far as they are known.
    """

    head: Size
    socket: Size
    play_mm: float
    least_play_mm: float
    most_play_mm: float
    verdict: FitVerdict
    head_source: str
    socket_source: str

    def tell(self) -> str:
        """The fit in words: "13 mm socket on a 1/2 in head: 0.30 mm play; sloppy: ...".

        It says where only the nominal size of one of the two is known.
        """
        size = f"{abs(self.play_mm):.2f} mm"
        if self.play_mm >= 0.005:
            gap = f"{size} play"
        elif self.play_mm <= -0.005:
            gap = f"{size} too small"
        else:
            gap = "the same size"
        guessed = [
            word
            for word, source in (("head", self.head_source), ("socket", self.socket_source))
            if source in (_NO_HEAD, _NO_SOCKET)
        ]
        note = (
            f" Of the {' and the '.join(guessed)} only the nominal size is known here, not the "
            "limits."
            if guessed
            else ""
        )
        return (
            f"{self.socket.marked} socket on a {self.head.marked} head: {gap}; "
            f"{_WORDS[self.verdict]}.{note}"
        )


def read_size(text: str) -> Size:
    """Read a size of head or socket: "13 mm", "13", "1/2 in", "1/2", "1-1/8", '9/16"'.

    A bare whole number is millimetres, a bare fraction inches, as they are stamped. Raises
    UnitTrouble for anything else, and for sizes that no head has.
    """
    shown = text.strip()[:40] if isinstance(text, str) else str(text)
    plain = unicodedata.normalize("NFKC", shown).lower().replace("⁄", "/").replace("”", '"')
    found = _SIZE.fullmatch(re.sub(r"(?<=\d),(?=\d)", ".", plain))
    if found is None:
        raise _trouble(f'"{shown}" is not the size of a socket.')
    if found["part"]:
        above, below = (int(part) for part in found["part"].split("/"))
        if not above or not below:
            raise _trouble(f'"{shown}" is not the size of a socket.')
        part = Fraction(above, below) + int(found["whole"] or 0)
        inches = float(part)
        whole, rest = divmod(part, 1)
        name = f"{whole}-{rest}" if whole and rest else f"{part}"
        size = Size(f"{name} in", inches * INCH_MM)
    elif found["unit"] in (None, "mm"):
        size = Size(f"{float(found['mm']):g} mm", float(found["mm"]))
    else:
        size = Size(f"{float(found['mm']):g} in", float(found["mm"]) * INCH_MM)
    if not 1 <= size.mm <= _LONGEST_MM:
        raise _trouble(f'"{shown}" is not the size of a socket.')
    return size


def socket_limits(size: Size) -> tuple[float, float, str]:
    """Smallest and largest opening of a socket in mm, and the source.

    Inch sizes: from 1.005 W + 0.001 in, over 0.005 W + 0.004 in more, W the nominal size; ANSI/ASME
    B18.2.2, appendix. Worked example (Machinery's Handbook): 1/2 in, 0.504 to 0.510 in; below
    7/16 in that table has older figures, up to 0.002 in smaller. Metric sizes: not known, nominal
    for both; a socket is never made smaller than its size.
    """
    if not size.inch:
        return size.mm, size.mm, _NO_SOCKET
    inches = size.mm / INCH_MM
    least = 1.005 * inches + 0.001
    return least * INCH_MM, (least + 0.005 * inches + 0.004) * INCH_MM, _INCH_SOCKET


def compare(head: str | Size, socket: str | Size) -> Fit:
    """How a socket sits on a head: play or interference in mm, with a verdict.

    It goes on where its smallest opening takes the largest head; not at all where its largest
    opening is under the smallest head; else tight. It is sloppy where it is nominally wider than
    the head by more than a right socket of the head's size may ever be (0.010 W + 0.005 in, from
    the rule of `socket_limits`). Worked example: 13 mm on a 1/2 in head: 0.30 mm, sloppy (the right
    one may be 0.25 mm over).
    """
    head = read_size(head) if isinstance(head, str) else head
    socket = read_size(socket) if isinstance(socket, str) else socket
    head_least, head_most, head_source = list_head_limits().get(
        head.marked, (head.mm, head.mm, _NO_HEAD)
    )
    least, most, socket_source = socket_limits(socket)
    play = socket.mm - head.mm
    allowed = 0.010 * head.mm + 0.005 * INCH_MM
    verdict: FitVerdict
    if most < head_least:
        verdict = "does not go on"
    elif play > allowed:
        verdict = "sloppy"
    elif math.isclose(play, 0, abs_tol=1e-9) or least >= head_most:
        verdict = "fits"
    else:
        verdict = "tight"
    return Fit(
        head,
        socket,
        play,
        least - head_most,
        most - head_least,
        verdict,
        head_source,
        socket_source,
    )


def _trouble(what: str) -> UnitTrouble:
    return UnitTrouble(what, next="Write it like 13 mm, 1/2 in or 1-1/8 in.")
