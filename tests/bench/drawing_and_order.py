"""Computing a tightening order and drawing a pattern, for 16, 60 and 120 fasteners.

    python tests/bench/drawing_and_order.py

The plain thing beside the painting is the same number of plain circles painted by Qt.
"""

from __future__ import annotations

import ratios  # sets the path and Qt's platform before Qt is imported
from bench_window import make_app
from made_sheet import place_screws
from PySide6.QtCore import QPointF
from PySide6.QtGui import QImage, QPainter
from ratios import Row, hand_over, middle, take_by_turns

from shopguide.bolts.drawing import draw_pattern
from shopguide.bolts.heads import HeadState
from shopguide.bolts.order import find_order
from shopguide.bolts.pattern import Pattern
from shopguide.window.bolt_diagram import paint_shapes
from shopguide.window.palette import LOOKS

COUNTS = (16, 60, 120)
ROUNDS = 15
WIDTH, HEIGHT = 800, 560


def measure() -> list[Row]:
    make_app()
    image = QImage(WIDTH, HEIGHT, QImage.Format.Format_ARGB32_Premultiplied)
    rows = []
    for count in COUNTS:
        pattern = Pattern(
            name="cover", title="Cover", seen="seen from below", fasteners=place_screws(count)
        )
        order = find_order(pattern).numbers
        half = set(order[: count // 2])
        states = {
            n: HeadState(
                strokes=(True,) if n in half else (),
                snug=False,
                done=n in half,
                due=n == order[count // 2],
                departed=False,
            )
            for n in order
        }

        def draw(pattern=pattern, order=order, states=states):
            return draw_pattern(
                pattern, order, states, width=WIDTH, height=HEIGHT, middle=("to torque", "8 done")
            )

        shapes = draw()

        def paint(shapes=shapes) -> None:
            painter = QPainter(image)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            paint_shapes(painter, shapes, LOOKS["light"])
            painter.end()

        def paint_circles(shapes=shapes) -> None:
            painter = QPainter(image)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            for _, x, y, radius in shapes.hits:
                painter.drawEllipse(QPointF(x, y), radius, radius)
            painter.end()

        times_ms = take_by_turns(
            {
                "order": lambda pattern=pattern: find_order(pattern),
                "draw": draw,
                "paint": paint,
                "circles": paint_circles,
            },
            ROUNDS,
        )
        rows += [
            Row(f"order of {count} fasteners", middle(times_ms["order"]), "ms"),
            Row(f"laying out the drawing of {count}", middle(times_ms["draw"]), "ms"),
            Row(f"painting {count}", middle(times_ms["paint"]), "ms", middle(times_ms["circles"])),
        ]
    return rows


if __name__ == "__main__":
    assert ratios.CHECKOUT.is_dir()
    hand_over(measure())
