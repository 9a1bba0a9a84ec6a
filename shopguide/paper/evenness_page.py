"""The forecast of evenness on one page: the bars, the figures, and what they are worth."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Literal

from shopguide.paper import lettering  # first: it tells reportlab which fonts there are

# isort: split
from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable, Frame, KeepInFrame

from shopguide.bolts.evenness import Evenness, Outcome, tell_share, tell_spread
from shopguide.bolts.evenness_drawing import draw_evenness
from shopguide.paper.archive import make_archival
from shopguide.paper.blocks import (
    BODY,
    BODY_STRONG,
    FIGURE_END,
    HAIR,
    HEAD,
    PART,
    SOFT_TEXT,
    TITLE,
    VERDICT,
    Rule,
    gap,
    para,
    rows,
)
from shopguide.paper.bolt_drawing import UNITS_ACROSS, paint_shapes
from shopguide.paper.inks import HAIRLINE, SOFT
from shopguide.paper.lettering import FIGURES, draw_text

SIDE, TOP, FOOT = 51.0, 46.0, 52.0
TALLEST = 300.0
LEAST_TEXT = 16.0
"""Smallest number in the drawing, in its own units: 8.7 points on A4."""
COLUMNS = 8
MOST_LOADS = 96
"""So many screws stand in the table of loads at most, the least loaded ones."""
HEAD_END = HEAD.clone("head end", alignment=2)


class EvennessDrawing(Flowable):
    """The bars round the outline, `width` points wide."""

    def __init__(self, forecast: Evenness, moment: int, width: float) -> None:
        super().__init__()
        self.scale = width / UNITS_ACROSS
        xs, ys = zip(*forecast.seats, strict=True)
        flat = (max(ys) - min(ys)) / max(1e-9, max(xs) - min(xs))
        high = min(TALLEST / self.scale, max(330.0, 0.75 * UNITS_ACROSS * flat + 150.0))
        self.drawing = draw_evenness(
            forecast,
            moment,
            width=UNITS_ACROSS,
            height=high,
            least_text=LEAST_TEXT,
            wrench=moment < len(forecast.moments) - 1,
        )
        self.width, self.height = width, high * self.scale

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        paint_shapes(self.canv, self.drawing.shapes, 0, self.height, self.scale)


def make_evenness_page(
    forecast: Evenness,
    moment: int = -1,
    page: Literal["A4", "Letter"] = "A4",
    created: datetime | None = None,
) -> bytes:
    """One page as PDF/A: the loads at a moment (index into the forecast's), and all the words.

    created: when it is made, with its time zone; now where not given.
    """
    lettering.load_fonts()
    rl_config.useA85 = 0
    size = A4 if page == "A4" else LETTER
    width, height = size[0] - 2 * SIDE, size[1] - TOP - FOOT
    out = io.BytesIO()
    title = f"Forecast of evenness: {forecast.pattern.title}"
    canvas = Canvas(out, pagesize=size, initialFontName=lettering.BASE, lang="en")
    canvas.setTitle(title)
    frame = Frame(
        SIDE, FOOT, width, height, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0
    )
    story = _lay_page(forecast, moment % len(forecast.moments), width)
    # Whatever the words come to, one page holds them: the whole shrinks a little where it must.
    frame.addFromList([KeepInFrame(width, height, story, mode="shrink")], canvas)
    _paint_foot(canvas, size)
    canvas.showPage()
    canvas.save()
    return make_archival(
        out.getvalue(),
        title=title,
        author="made by the program",
        subject="A forecast from typical figures, no record of work",
        created=created or datetime.now(UTC),
    )


def _paint_foot(canvas: Canvas, size: tuple[float, float]) -> None:
    canvas.setStrokeColor(HAIRLINE)
    canvas.setLineWidth(HAIR)
    canvas.line(SIDE, 42, size[0] - SIDE, 42)
    canvas.setFillColor(SOFT)
    draw_text(canvas, SIDE, 30, "A forecast from typical figures, no record of work", FIGURES, 8)


def _lay_page(forecast: Evenness, moment: int, width: float) -> list[Flowable]:
    last = moment == len(forecast.moments) - 1
    when = "At the end of all passes" if last else f"While at it: {forecast.tell_moment(moment)}"
    return [
        para("How evenly will this end?", TITLE),
        gap(2),
        para(forecast.pattern.title, PART),
        para(f"{forecast.pattern.seen} · numbers: place in the order", SOFT_TEXT),
        gap(8),
        para(f"{forecast.tell_verdict()} {forecast.tell_further()}", VERDICT),
        gap(6),
        para(f"{when}: each bar is the load of one screw", SOFT_TEXT),
        EvennessDrawing(forecast, moment, width),
        gap(8),
        _lay_outcomes(forecast.outcomes, width),
        gap(8),
        para(f"{forecast.tell_lesson()} {forecast.tell_tilt()}", BODY),
        gap(3),
        para(forecast.tell_friction(), BODY),
        gap(3),
        para(forecast.tell_assumed(), BODY_STRONG),
        gap(3),
        para(forecast.tell_model(), BODY),
        gap(8),
        Rule(),
        gap(4),
        *_lay_loads(forecast, width),
    ]


def _lay_outcomes(outcomes: Sequence[Outcome], width: float) -> Flowable:
    heads = ("At the end of the passes", "least loaded", "scatter", "off level at worst")
    cells: list[list[object]] = [
        [para(head, HEAD if k == 0 else HEAD_END) for k, head in enumerate(heads)]
    ]
    for k, one in enumerate(outcomes):
        told = (tell_share(one.least), tell_spread(one.scatter), tell_spread(one.tilt))
        cells.append(
            [para(one.name, BODY_STRONG if k == 0 else BODY), *(para(t, FIGURE_END) for t in told)]
        )
    return rows(cells, [width * s for s in (0.4, 0.2, 0.2, 0.2)], ruled=True, head=True)


def _lay_loads(forecast: Evenness, width: float) -> list[Flowable]:
    """Each screw's load at the end, by its place in the order."""
    load_of = dict(zip(forecast.edge, forecast.moments[-1].loads, strict=True))
    shown = [n for n in forecast.order if n in load_of]
    said = "Load of each screw at the end, by its target: place in the order, then the load."
    if len(shown) > MOST_LOADS:
        least = set(sorted(shown, key=lambda n: load_of[n])[:MOST_LOADS])
        shown = [n for n in shown if n in least]
        said = f"The {MOST_LOADS} least loaded screws at the end: place in the order, then load."
    place_of = {n: k for k, n in enumerate(forecast.order, 1)}
    texts = [f"{place_of[n]}:  {tell_share(load_of[n])}" for n in shown]
    deep = -(-len(texts) // COLUMNS)
    cells = [
        [texts[c * deep + r] if c * deep + r < len(texts) else "" for c in range(COLUMNS)]
        for r in range(deep)
    ]
    return [para(said, SOFT_TEXT), gap(2), rows(cells, [width / COLUMNS] * COLUMNS)]
