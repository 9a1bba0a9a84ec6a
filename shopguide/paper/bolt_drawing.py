"""The bolt diagram on paper: prints the shapes of bolts.drawing, as the window paints them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from shopguide.bolts.drawing import Drawing, draw_pattern
from shopguide.bolts.heads import REACH, HeadState, draw_head, draw_snug, draw_strokes
from shopguide.bolts.pattern import Head, Pattern
from shopguide.bolts.shapes import Circle, Label, Polygon, Shape, Stroke
from shopguide.paper.inks import ROLES
from shopguide.paper.lettering import CAP_HEIGHT, FONTS, draw_text

UNITS_ACROSS = 900.0
"""Drawing units across a diagram that is as wide as the page's column."""
TEXT_SIZES = (17.0, 14.0, 12.0)
"""Smallest number in drawing units, tried in turn: 9 points on a wide diagram, down to 6.5."""


def paint_shapes(
    canvas: Canvas, shapes: Iterable[Shape], left: float, top: float, scale: float
) -> None:
    """Paints shapes with their corner (0, 0) at left, top in points, `scale` points a unit."""
    canvas.saveState()
    canvas.translate(left, top)
    canvas.setLineJoin(1)
    for shape in shapes:
        color = ROLES[shape.role]
        canvas.setStrokeColor(color)
        canvas.setFillColor(color)
        match shape:
            case Stroke():
                canvas.setLineCap(1 if shape.role == "band" else 0)
                canvas.setLineWidth(shape.width * scale)
                canvas.drawPath(_path(canvas, shape.points, scale), stroke=1, fill=0)
            case Polygon():
                canvas.setLineWidth(shape.width * scale)
                path = _path(canvas, shape.points, scale)
                path.close()
                canvas.drawPath(path, stroke=0 if shape.filled else 1, fill=int(shape.filled))
            case Circle():
                canvas.setLineWidth(shape.width * scale)
                canvas.circle(
                    shape.x * scale,
                    -shape.y * scale,
                    shape.radius * scale,
                    stroke=0 if shape.filled else 1,
                    fill=int(shape.filled),
                )
            case Label():
                size = shape.size * scale
                # y is the middle of the capitals, so that numbers sit where the layout put them.
                y = -shape.y * scale - CAP_HEIGHT * size / 2
                draw_text(
                    canvas, shape.x * scale, y, shape.text, FONTS[shape.weight], size, shape.anchor
                )
    canvas.restoreState()


def _path(canvas: Canvas, points: Sequence[tuple[float, float]], scale: float):
    path = canvas.beginPath()
    for index, (x, y) in enumerate(points):
        (path.lineTo if index else path.moveTo)(x * scale, -y * scale)
    return path


class BoltDrawing(Flowable):
    """A pattern with its marks, `width` points wide."""

    def __init__(
        self,
        pattern: Pattern,
        order: Sequence[int],
        states: Mapping[int, HeadState],
        width: float,
        middle: tuple[str, ...] = (),
        tallest: float = 300.0,
    ) -> None:
        super().__init__()
        self.pattern = pattern
        across, down = _size_of(pattern)
        self.scale = width / UNITS_ACROSS
        high = min(tallest / self.scale, max(260.0, UNITS_ACROSS * down / across + 60.0))
        tried = []
        for least_text in TEXT_SIZES:
            drawing = draw_pattern(
                pattern,
                order,
                states,
                width=UNITS_ACROSS,
                height=high,
                middle=middle,
                least_text=least_text,
            )
            tried.append(drawing)
            if drawing.every == 1:
                break
        # As many numbers as fit; of equals the first, whose numbers are the largest.
        self.drawing: Drawing = min(tried, key=lambda one: one.every)
        self.width, self.height = width, high * self.scale

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        paint_shapes(self.canv, self.drawing.shapes, 0, self.height, self.scale)

    def tell_numbers(self) -> str:
        """What the numbers are, and which of them there was no room for."""
        every = self.drawing.every
        if every == 1:
            return "Numbers: place in the order."
        if every > len(self.drawing.hits):
            return "There is no room for numbers here; the table has them."
        return f"Numbers: every {every}th place in the order; the table has all of them."


def _size_of(pattern: Pattern) -> tuple[float, float]:
    """Width and height of the joint in mm, never zero."""
    points = [(f.x_mm, f.y_mm) for f in pattern.placed] + list(pattern.outline)
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    if pattern.circle is not None:
        return 1.0, 1.0
    return max(1.0, max(xs) - min(xs)), max(1.0, max(ys) - min(ys))


class HeadMark(Flowable):
    """One head with the strokes that work left on it, small, to stand in a line or a row."""

    def __init__(self, state: HeadState, size: float = 12.0, kind: Head = "hex") -> None:
        super().__init__()
        self.state, self.size, self.kind = state, size, kind
        self.width = self.height = size

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.size, self.size

    def draw(self) -> None:
        paint_head(self.canv, self.size / 2, self.size / 2, self.size, self.state, self.kind)


def paint_head(
    canvas: Canvas, x: float, y: float, size: float, state: HeadState, kind: Head = "hex"
) -> None:
    """One head with its marks, `size` points across all of it, its middle at x, y."""
    radius = 20.0
    scale = size / (2 * REACH * radius)
    shapes = [
        *draw_head(kind, 0, 0, radius, 0.17 if state.done else 0.1),
        *draw_strokes(state.strokes, 0, 0, radius),
        *(draw_snug(0, 0, radius) if state.snug else ()),
    ]
    paint_shapes(canvas, shapes, x, y, scale)
