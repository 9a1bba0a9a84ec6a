"""Widths across flats and wrench openings against outside sources."""

from __future__ import annotations

import pytest

from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.sockets import compare, read_size, socket_limits
from shopguide.torque.threads import INCH_MM, read_thread

# ISO 4014 product grade A: s max, s min, dw min in mm, read in a manufacturer's table of metric hex
# bolts (scribd.com document 367243871).
ISO_4014 = [
    ("M3", 5.5, 5.32, 4.57),
    ("M4", 7, 6.78, 5.88),
    ("M5", 8, 7.78, 6.88),
    ("M6", 10, 9.78, 8.88),
    ("M8", 13, 12.73, 11.63),
    ("M10", 16, 15.73, 14.63),
    ("M12", 18, 17.73, 16.63),
    ("M14", 21, 20.67, 19.37),
    ("M16", 24, 23.67, 22.49),
    ("M20", 30, 29.67, 28.19),
    ("M24", 36, 35.38, 33.61),
]


@pytest.mark.parametrize(("thread", "most", "least", "bearing"), ISO_4014)
def test_metric_heads(thread: str, most: float, least: float, bearing: float) -> None:
    head = find_hex_head(read_thread(thread))
    assert (head.flats_mm, head.least_flats_mm, head.bearing_mm) == (most, least, bearing)


# Sizes the table above leaves out: machinecalcs.com, "Current ISO 4014/4017" (M18, M22). Older
# tables give 32 mm for M22, and 17, 19 and 22 for M10, M12 and M14: ISO 272:1982 changed them
# (en.wikipedia.org, Width across flats).
@pytest.mark.parametrize(("thread", "flats"), [("M18", 27), ("M22", 34)])
def test_other_metric_heads(thread: str, flats: float) -> None:
    assert find_hex_head(read_thread(thread)).flats_mm == flats


# ASME B18.2.1, hex cap screws: width across flats max and min in inches (astma193gradeb7.com and
# usefastener.com agree). #8 and #10: ASME B18.6.3 regular hex head (adfastcomponents.com).
ASME = [
    ("#8-32", "1/4 in", 0.250, 0.244),
    ("#10-24", "5/16 in", 0.312, 0.305),
    ("1/4-20", "7/16 in", 0.438, 0.428),
    ("5/16-18", "1/2 in", 0.500, 0.489),
    ("3/8-16", "9/16 in", 0.562, 0.551),
    ("7/16-14", "5/8 in", 0.625, 0.612),
    ("1/2-13", "3/4 in", 0.750, 0.736),
    ("9/16-12", "13/16 in", 0.812, 0.798),
    ("5/8-11", "15/16 in", 0.938, 0.922),
    ("3/4-10", "1-1/8 in", 1.125, 1.100),
]


@pytest.mark.parametrize(("thread", "socket", "most", "least"), ASME)
def test_inch_heads(thread: str, socket: str, most: float, least: float) -> None:
    head = find_hex_head(read_thread(thread))
    assert head.size == socket
    assert head.flats_mm / INCH_MM == pytest.approx(most, abs=6e-4)
    assert head.least_flats_mm / INCH_MM == pytest.approx(least)


# Wrench openings in inches, ANSI/ASME B18.2.2 appendix: Machinery's Handbook, 31st edition, p. 1688
# (online.flippingbook.com); the 27th has the same but for a misprint at 9/16.
OPENINGS = [
    ("7/16", 0.440, 0.446),
    ("1/2", 0.504, 0.510),
    ("9/16", 0.566, 0.573),
    ("5/8", 0.629, 0.636),
    ("11/16", 0.692, 0.699),
    ("3/4", 0.755, 0.763),
    ("13/16", 0.818, 0.826),
    ("15/16", 0.944, 0.953),
    ("1 1/8", 1.132, 1.142),
]


@pytest.mark.parametrize(("size", "least", "most"), OPENINGS)
def test_wrench_openings(size: str, least: float, most: float) -> None:
    low, high, _ = socket_limits(read_size(size))
    # The book's rule, reckoned from sizes in thousandths and rounded up to thousandths.
    assert low / INCH_MM == pytest.approx(least, abs=1.2e-3)
    assert high / INCH_MM == pytest.approx(most, abs=1.2e-3)


def test_13_mm_and_half_inch_are_taken_for_one_another() -> None:
    # Common practice, no source: 0.30 mm apart. Neither is right for the other.
    on_half_inch, on_13_mm = compare("1/2 in", "13 mm"), compare("13 mm", "1/2 in")
    assert f"{on_half_inch.play_mm:.2f}" == "0.30"
    assert f"{on_13_mm.play_mm:.2f}" == "-0.30"
    assert on_half_inch.verdict == "sloppy"
    assert on_13_mm.verdict == "tight"


# en.wikipedia.org, Width across flats: these are close enough to interchange.
@pytest.mark.parametrize(("head", "socket"), [("5/16 in", "8 mm"), ("19 mm", "3/4 in")])
def test_pairs_that_interchange(head: str, socket: str) -> None:
    assert compare(head, socket).verdict == "fits"
