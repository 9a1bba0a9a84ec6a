"""Hexagon heads by thread: width across flats with its limits, bearing face and clearance hole."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from shopguide.torque.threads import INCH_MM, Thread

_ISO_4014 = "ISO 4014 grade A, read in a manufacturer's extract"
_ISO_MEMORY = "ISO 272 and ISO 4014, from memory"
_ASME = "ASME B18.2.1, read in two extracts"
_ASME_SMALL = "ASME B18.6.3 regular hex head, read in one extract"


@dataclass(frozen=True, slots=True)
class HexHead:
    """A hexagon head. size: what is marked on its socket ("13 mm", "1/2 in").

    flats_mm: nominal, also the largest; least_flats_mm: the smallest allowed. bearing_mm: outside
    diameter of the face it bears on (dw). hole_mm: the usual clearance hole (dh).
    """

    size: str
    flats_mm: float
    least_flats_mm: float
    bearing_mm: float
    hole_mm: float
    source: str

    @property
    def friction_diameter_mm(self) -> float:
        """DKm = (dw + dh)/2, mm: the mean diameter at which the head rubs, after VDI 2230-1."""
        return (self.bearing_mm + self.hole_mm) / 2


# Size: (s nominal = max, s min, dw min, source); dh is the medium hole of ISO 273, from memory.
_METRIC: dict[str, tuple[float, float, float, float, str]] = {
    "M3": (5.5, 5.32, 4.57, 3.4, _ISO_4014),
    "M3.5": (6.0, 5.82, 5.07, 3.9, _ISO_MEMORY),
    "M4": (7.0, 6.78, 5.88, 4.5, _ISO_4014),
    "M5": (8.0, 7.78, 6.88, 5.5, _ISO_4014),
    "M6": (10.0, 9.78, 8.88, 6.6, _ISO_4014),
    "M7": (11.0, 10.73, 9.63, 7.6, _ISO_MEMORY),
    "M8": (13.0, 12.73, 11.63, 9.0, _ISO_4014),
    "M10": (16.0, 15.73, 14.63, 11.0, _ISO_4014),
    "M12": (18.0, 17.73, 16.63, 13.5, _ISO_4014),
    "M14": (21.0, 20.67, 19.37, 15.5, _ISO_4014),
    "M16": (24.0, 23.67, 22.49, 17.5, _ISO_4014),
    "M18": (27.0, 26.67, 25.34, 20.0, _ISO_MEMORY),
    "M20": (30.0, 29.67, 28.19, 22.0, _ISO_4014),
    "M22": (34.0, 33.38, 31.71, 24.0, _ISO_MEMORY),
    "M24": (36.0, 35.38, 33.61, 26.0, _ISO_4014),
}
# Size: (name of the socket, F max, F min in inches, source).
_INCH: dict[str, tuple[str, float, float, str]] = {
    "#8": ("1/4", 0.250, 0.244, _ASME_SMALL),
    "#10": ("5/16", 0.312, 0.305, _ASME_SMALL),
    "#12": ("5/16", 0.312, 0.305, _ASME_SMALL),
    "1/4": ("7/16", 0.438, 0.428, _ASME),
    "5/16": ("1/2", 0.500, 0.489, _ASME),
    "3/8": ("9/16", 0.562, 0.551, _ASME),
    "7/16": ("5/8", 0.625, 0.612, _ASME),
    "1/2": ("3/4", 0.750, 0.736, _ASME),
    "9/16": ("13/16", 0.812, 0.798, _ASME),
    "5/8": ("15/16", 0.938, 0.922, _ASME),
    "3/4": ("1-1/8", 1.125, 1.100, _ASME),
}


def find_hex_head(thread: Thread) -> HexHead:
    """The ordinary hexagon head of a screw of this thread.

    Source: ISO 4014 and ISO 273 (metric), ASME B18.2.1 and B18.6.3 (inch); the field `source` says
    how each was read. The bearing face of inch heads (0.95 of the flats) and their clearance hole
    (1/32 in over the thread below 1/2 in, 1/16 in from there) are from memory.
    M6: 10 mm, smallest 9.78 mm; 3/8: 9/16 in, smallest 0.551 in.
    """
    if thread.metric:
        flats, least, bearing, hole, source = _METRIC[thread.size]
        return HexHead(f"{flats:g} mm", flats, least, bearing, hole, source)
    marked, most, least, source = _INCH[thread.size]
    gap = 1 / 32 if thread.diameter_mm < 0.5 * INCH_MM else 1 / 16
    return HexHead(
        f"{marked} in",
        read_inches(marked) * INCH_MM,
        least * INCH_MM,
        0.95 * most * INCH_MM,
        thread.diameter_mm + gap * INCH_MM,
        source,
    )


def read_inches(text: str) -> float:
    """The figure of a size such as "1/2" or "1-1/8", in inches."""
    whole, _, part = text.rpartition("-")
    return float(Fraction(part)) + (int(whole) if whole else 0)


def list_head_limits() -> dict[str, tuple[float, float, str]]:
    """Each size of head known here: the smallest and largest width in mm, and the source."""
    limits = {f"{s:g} mm": (least, s, why) for s, least, _, _, why in _METRIC.values()}
    limits |= {
        f"{marked} in": (least * INCH_MM, read_inches(marked) * INCH_MM, why)
        for marked, _, least, why in _INCH.values()
    }
    return limits
