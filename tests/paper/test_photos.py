"""Marks on printed pictures: a line drawn by hand comes out where it was drawn."""

from __future__ import annotations

import io
import re

from reportlab.pdfgen.canvas import Canvas

from shopguide.job.model import Freehand
from shopguide.paper.lettering import BASE, load_fonts
from shopguide.paper.photos import paint_marks


def test_a_freehand_line_is_printed_point_by_point_white_under_ink():
    load_fonts()
    page = io.BytesIO()
    canvas = Canvas(page, pagesize=(200, 100), pageCompression=0, initialFontName=BASE)
    line = Freehand(points=((0, 0), (100, 50), (200, 100)))
    # A picture of 400 × 200 pixels, printed 200 wide with its foot at 0.
    paint_marks(canvas, [line], (0, 0, 200, 100), 0.5)
    canvas.save()
    drawn = re.findall(rb"0 100 m 50 75 l 100 50 l S", page.getvalue().replace(b"\n", b" "))
    assert len(drawn) == 2
