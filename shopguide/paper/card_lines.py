"""What a hand fills in on the job card: boxes to tick and lines to write on."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable

from shopguide.paper.blocks import BODY, REGULAR, SOFT_TEXT, rows, stack
from shopguide.paper.inks import INK, SOFT
from shopguide.paper.lettering import FIGURES, draw_text, fit, width_of

BOX_SIDE = 12.0
"""Side of a box in points: 4.2 mm, which a pencil in an oily hand still hits."""
LINE_HIGH = 24.0
"""Height of a line to write on, in points: 8.5 mm, as ruled paper has it."""


class TickBox(Flowable):
    """An empty box."""

    def __init__(self, side: float = BOX_SIDE) -> None:
        super().__init__()
        self.width = self.height = side

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        self.canv.setStrokeColor(INK)
        self.canv.setLineWidth(0.9)
        self.canv.rect(0.5, 0.5, self.width - 1, self.height - 1, stroke=1, fill=0)


class HandLine(Flowable):
    """A label, a line to write on, and the unit behind it."""

    def __init__(self, label: str, width: float, unit: str = "", high: float = LINE_HIGH) -> None:
        super().__init__()
        self.label, self.unit = label, unit
        self.width, self.height = width, high

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        canvas, size, base = self.canv, BODY.fontSize, 4.0
        canvas.setFillColor(SOFT)
        label = fit(self.label, REGULAR, size, self.width * 0.6)
        start = draw_text(canvas, 0, base, label, REGULAR, size) + 6 if label else 0.0
        end = self.width
        if self.unit:
            canvas.setFillColor(INK)
            end -= width_of(self.unit, FIGURES, 11) + 5
            draw_text(canvas, self.width, base, self.unit, FIGURES, 11, "end")
        canvas.setStrokeColor(INK)
        canvas.setLineWidth(0.6)
        canvas.line(start, base - 1.5, end, base - 1.5)


def lay_hand_lines(labels: Sequence[str], width: float) -> Flowable:
    """Lines to write on, side by side, each under its label."""
    gutter = 18.0
    each = (width - gutter * (len(labels) - 1)) / len(labels)
    cells = [HandLine(label, each) for label in labels]
    tight = [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
    tight.append(("RIGHTPADDING", (0, 0), (-1, -1), 0))
    widths = [each + gutter] * (len(labels) - 1) + [each]
    return rows([cells], widths, more=tight)


def lay_ticks(lines: Sequence[tuple[str, str]], width: float) -> Flowable:
    """(name, note) with a box each, read down the left column, then down the right one."""
    half = -(-len(lines) // 2)
    box, gutter = BOX_SIDE + 8, 14.0
    each = (width - gutter) / 2 - box
    body: list[list[object]] = []
    for index in range(half):
        row: list[object] = []
        for place in (index, index + half):
            if place < len(lines):
                name, note = lines[place]
                row += [TickBox(), stack((name, BODY), (note, SOFT_TEXT))]
            else:
                row += ["", ""]
        body.append(row)
    return rows(body, [box, each + gutter, box, each], ruled=True)
