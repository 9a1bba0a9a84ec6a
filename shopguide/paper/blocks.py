"""The building blocks of a page: paragraphs in five sizes, rows, panels, the drawn signature."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.colors import Color
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, Paragraph, Spacer, Table, TableStyle

from shopguide.bolts.heads import HeadState, draw_flag
from shopguide.paper.bolt_drawing import paint_head, paint_shapes
from shopguide.paper.inks import HAIRLINE, INK, SIGNALS, SOFT
from shopguide.paper.lettering import (
    CAP_HEIGHT,
    FIGURES,
    FONTS,
    draw_text,
    load_fonts,
    mark_up,
    split_runs,
)

REGULAR, STRONG, BOLD = FONTS["regular"], FONTS["semibold"], FONTS["bold"]
SEAL_WIDTH = 26.0
"""Width of the column in which a line's seal stands, in points."""
HAIR = 0.5
RULE = 0.9


def _style(name: str, font: str, size: float, leading: float, color: Color = INK, **more: object):
    return ParagraphStyle(
        name,
        fontName=font,
        fontSize=size,
        leading=leading,
        textColor=color,
        bulletFontName=font,
        splitLongWords=1,
        allowWidows=0,
        allowOrphans=0,
        **more,
    )


TITLE = _style("title", BOLD, 25, 28.5)
MACHINE = _style("machine", STRONG, 13.5, 17)
SECTION = _style("section", BOLD, 15.5, 19)
PART = _style("part", BOLD, 11.5, 15)
VERDICT = _style("verdict", STRONG, 12.5, 16.5)
STEP = _style("step", STRONG, 10, 13)
BODY = _style("body", REGULAR, 9.2, 12.4)
BODY_STRONG = _style("body strong", STRONG, 9.2, 12.4)
FIGURE = _style("figure", FIGURES, 9.2, 12.4)
FIGURE_END = _style("figure end", FIGURES, 9.2, 12.4, alignment=2)
SOFT_TEXT = _style("soft", REGULAR, 8, 10.8, SOFT)
SOFT_END = _style("soft end", REGULAR, 8, 10.8, SOFT, alignment=2)
LABEL = _style("label", REGULAR, 8, 12.4, SOFT)
HEAD = _style("head", STRONG, 8, 10.6)
HEAD_SOFT = _style("head soft", REGULAR, 7.6, 9.8, SOFT)
FINDING = _style("finding", REGULAR, 10.6, 14.4)
NOTE = _style("note", REGULAR, 9.2, 12.4, leftIndent=34, spaceAfter=2)
CELL = _style("cell", FIGURES, 8.6, 11)


def para(text: str, style: ParagraphStyle = BODY) -> Paragraph:
    """A paragraph of plain text; what its font lacks is set in the fallback."""
    load_fonts()
    return Paragraph(mark_up(text, style.fontName), style)


def stack(*texts: tuple[str, ParagraphStyle]) -> list[Paragraph]:
    """Paragraphs above one another, the empty ones left out: the content of a table's cell."""
    return [para(text, style) for text, style in texts if text]


class Gap(Spacer):
    """Room between two blocks; none at the top of a page."""

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return (0.0, 0.0) if _at_top(self) else (self.width, self.height)


def gap(points: float) -> Gap:
    """Room between two blocks, in points."""
    return Gap(1, points)


def _at_top(flowable: Flowable) -> bool:
    """True where nothing stands above the flowable in its frame."""
    frame = getattr(flowable, "_frame", None)
    return frame is not None and frame._y > frame._y2 - frame._topPadding - 1


class Rule(Flowable):
    """A line across the column; none at the top of a page, where the header's line is."""

    def __init__(self, color: Color = HAIRLINE, thickness: float = HAIR) -> None:
        super().__init__()
        self._color, self._thickness = color, thickness

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        self._hidden = _at_top(self)
        self.width, self.height = available_width, 0.0 if self._hidden else self._thickness
        return self.width, self.height

    def draw(self) -> None:
        if self._hidden:
            return
        self.canv.setStrokeColor(self._color)
        self.canv.setLineWidth(self._thickness)
        self.canv.line(0, self._thickness / 2, self.width, self._thickness / 2)


class Bookmark(Flowable):
    """An entry of the PDF's outline, at the place where it stands."""

    def __init__(self, key: str, text: str, level: int = 0) -> None:
        super().__init__()
        self.key, self.text, self.level = key, text, level

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return 0.0, 0.0

    def draw(self) -> None:
        # With a position: a viewer calls a bookmark without one an invalid place.
        left, top = self.canv.absolutePosition(0, 24)
        self.canv.bookmarkPage(self.key, fit="XYZ", left=left, top=top, zoom=0)
        self.canv.addOutlineEntry(self.text, self.key, self.level, closed=self.level == 0)


class Seal(Flowable):
    """What stands left of a finding: a head with its marks, a pennant, or nothing."""

    def __init__(self, state: HeadState | None, whole: bool, size: float = 15.0) -> None:
        super().__init__()
        self.state, self.whole, self.size = state, whole, size

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.size, self.size

    def draw(self) -> None:
        if self.state is not None:
            paint_head(self.canv, self.size / 2, self.size / 2, self.size, self.state)
        elif not self.whole:
            scale = self.size / 40
            paint_shapes(self.canv, draw_flag(-27, 20, 16, 1), self.size / 2, self.size, scale)


def paint_alert(canvas: Canvas, x: float, y: float, side: float, ink: Color, ground: Color) -> None:
    """The safety alert symbol, a triangle with an exclamation mark, on its baseline y."""
    high = side * 0.88
    canvas.setFillColor(ink)
    path = canvas.beginPath()
    path.moveTo(x, y)
    path.lineTo(x + side, y)
    path.lineTo(x + side / 2, y + high)
    path.close()
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.setFillColor(ground)
    middle = x + side / 2
    canvas.rect(middle - 0.05 * side, y + 0.28 * side, 0.1 * side, 0.3 * side, stroke=0, fill=1)
    canvas.circle(middle, y + 0.15 * side, 0.065 * side, stroke=0, fill=1)


class SignalWord(Flowable):
    """The signal word on its colour; NOTICE has no alert symbol, for nobody is hurt."""

    def __init__(self, signal: str, width: float = 66.0, height: float = 13.0) -> None:
        super().__init__()
        self.signal, self.width, self.height = signal, width, height

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        ground, ink = SIGNALS[self.signal]
        canvas, size = self.canv, self.height * 0.62
        canvas.setFillColor(ground)
        canvas.rect(0, 0, self.width, self.height, stroke=0, fill=1)
        x = 5.0
        if self.signal != "NOTICE":
            side = self.height * 0.72
            paint_alert(canvas, x, self.height * 0.18, side, ink, ground)
            x += side + 4
        canvas.setFillColor(ink)
        baseline = (self.height - CAP_HEIGHT * size) / 2
        draw_text(canvas, x, baseline, self.signal, BOLD, size)


class DrawnSignature(Flowable):
    """The strokes of a signature as smooth curves, cut to what was drawn, on a thin line."""

    def __init__(
        self,
        strokes: Sequence[Sequence[tuple[int, int]]],
        width: float,
        pad_width: float = 220.0,
        tallest: float = 70.0,
    ) -> None:
        super().__init__()
        self.strokes, self.width = strokes, width
        xs = [x for stroke in strokes for x, _ in stroke] or [0]
        ys = [y for stroke in strokes for _, y in stroke] or [0]
        self._left, self._top = min(xs), min(ys)
        across, down = max(xs) - min(xs), max(ys) - min(ys)
        self.scale = pad_width / 1000
        if across * self.scale > width - 8:
            self.scale = (width - 8) / across
        if down * self.scale > tallest:
            self.scale = tallest / down
        self.height = max(18.0, down * self.scale) + 6

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas = self.canv
        canvas.setStrokeColor(HAIRLINE)
        canvas.setLineWidth(HAIR)
        canvas.line(0, 2, self.width, 2)
        canvas.setStrokeColor(INK)
        canvas.setFillColor(INK)
        canvas.setLineWidth(1.3)
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        for stroke in self.strokes:
            points = [
                (
                    4 + (x - self._left) * self.scale,
                    self.height - 3 - (y - self._top) * self.scale,
                )
                for x, y in stroke
            ]
            _draw_stroke(canvas, points)


def _draw_stroke(canvas: Canvas, points: list[tuple[float, float]]) -> None:
    """One stroke as Bézier curves through its points (Catmull-Rom); a single point is a dot."""
    if len(points) == 1 or len(set(points)) == 1:
        canvas.circle(*points[0], 0.8, stroke=0, fill=1)
        return
    path = canvas.beginPath()
    path.moveTo(*points[0])
    padded = [points[0], *points, points[-1]]
    for before, start, end, after in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        path.curveTo(
            start[0] + (end[0] - before[0]) / 6,
            start[1] + (end[1] - before[1]) / 6,
            end[0] - (after[0] - start[0]) / 6,
            end[1] - (after[1] - start[1]) / 6,
            *end,
        )
    canvas.drawPath(path, stroke=1, fill=0)


# --- rows ---------------------------------------------------------------------------------------

PLAIN_ROWS: list[tuple] = [
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("RIGHTPADDING", (0, 0), (-1, -1), 8),
    ("TOPPADDING", (0, 0), (-1, -1), 2),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
    ("RIGHTPADDING", (-1, 0), (-1, -1), 0),
]
RULED_ROWS: list[tuple] = [
    *PLAIN_ROWS,
    ("LINEBELOW", (0, 0), (-1, -1), HAIR, HAIRLINE),
    ("TOPPADDING", (0, 0), (-1, -1), 3),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
]


def rows(
    cells: Sequence[Sequence[object]],
    widths: Sequence[float],
    *,
    ruled: bool = False,
    head: bool = False,
    more: Sequence[tuple] = (),
) -> Table:
    """Rows in columns. With `head` the first row stands again on every page.

    A row taller than a page is split, so that no text, however long, is lost.
    """
    load_fonts()
    style = [*(RULED_ROWS if ruled else PLAIN_ROWS)]
    style.append(("FONT", (0, 0), (-1, -1), FIGURES, CELL.fontSize, CELL.leading))
    style.append(("TEXTCOLOR", (0, 0), (-1, -1), INK))
    if head:
        style.append(("LINEBELOW", (0, 0), (-1, 0), RULE, INK))
        style.append(("VALIGN", (0, 0), (-1, 0), "BOTTOM"))
    table = Table(
        [list(row) for row in cells],
        colWidths=list(widths),
        repeatRows=1 if head else 0,
        hAlign="LEFT",
        splitByRow=1,
        splitInRow=1,
        style=TableStyle([*style, *more]),
    )
    return table


def cell(text: str) -> object:
    """A short text for a table of figures: plain where the font has every glyph, which is quick."""
    runs = split_runs(text, FIGURES)
    return text if len(runs) <= 1 and all(name == FIGURES for name, _ in runs) else para(text, CELL)


def lay_facts(
    facts: Sequence[tuple[str, str] | tuple[str, str, str]], width: float, label: float = 76.0
) -> Table:
    """Labels on the left; on the right what belongs to them, and more quietly a remark."""
    body = []
    for name, text, *remark in facts:
        quiet = remark[0] if remark else ""
        body.append([para(name or " ", LABEL), stack((text, BODY), (quiet, SOFT_TEXT))])
    more = [("TOPPADDING", (0, 0), (-1, -1), 0.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
    return rows(body, [label, width - label], more=more)


def lay_section(title: str, key: str) -> list[Flowable]:
    """The heading of a section, with room for some lines below it."""
    return [
        CondPageBreak(150),
        gap(16),
        Rule(INK, RULE),
        gap(5),
        Bookmark(key, title),
        para(title, SECTION),
        gap(3),
    ]
