"""Pictures on paper: two or three in a row, their marks drawn on them, their caption under them.

Each is handed to reportlab as the path of a .jpg, which it takes over as it stands; bytes or other
names would be unpacked and packed again, some forty times slower.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from shopguide.errors import Trouble
from shopguide.job.model import Arrow, Freehand, Number, PictureMark, Ring
from shopguide.job.picture_head import probe
from shopguide.paper.blocks import BODY, SOFT_TEXT, para
from shopguide.paper.inks import HAIRLINE, INK, SOFT, WHITE
from shopguide.paper.lettering import CAP_HEIGHT, FONTS, draw_text, width_of
from shopguide.paper.steps import PhotoLine

GUTTER = 14.0


@dataclass(frozen=True, slots=True)
class Print:
    """A picture ready to be printed: its .jpg on disk, or why there is none.

    width, height: of the .jpg in pixels. scale: by which the marks, which are in the original's
    pixels, become this picture's.
    """

    line: PhotoLine
    path: Path | None
    width: int = 4
    height: int = 3
    scale: float = 1.0
    trouble: str = ""


class Darkroom:
    """Fetches each picture once and keeps it as a .jpg in a folder that outlives the making."""

    def __init__(
        self,
        read: Callable[[str], bytes],
        folder: Path,
        measure: Callable[[str], tuple[int, int]] | None = None,
    ) -> None:
        """measure: the original's width and height in pixels, which its marks refer to."""
        self._read, self._folder, self._measure = read, folder, measure
        self._kept: dict[str, tuple[Path | None, int, int, str]] = {}

    def develop(self, line: PhotoLine) -> Print:
        """The picture of a line; one that cannot be read is told in its place."""
        if line.name not in self._kept:
            self._kept[line.name] = self._fetch(line.name)
        path, width, height, trouble = self._kept[line.name]
        scale = 1.0
        if path is not None and line.marks and self._measure is not None:
            try:
                scale = width / max(1, self._measure(line.name)[0])
            except (Trouble, KeyError, OSError):
                scale = 1.0
        return Print(line, path, width, height, scale, trouble)

    def _fetch(self, name: str) -> tuple[Path | None, int, int, str]:
        try:
            data = self._read(name)
            width, height, kind = probe(data)
        except (Trouble, KeyError, OSError) as fault:
            what = fault.what if isinstance(fault, Trouble) else "It is not in the record."
            return None, 4, 3, what
        if kind != "JPEG":
            return None, 4, 3, f"It is stored as {kind}."
        path = self._folder / f"{hashlib.sha256(data).hexdigest()}.jpg"
        if not path.exists():
            path.write_bytes(data)
        return path, width, height, ""


class PhotoRow(Flowable):
    """Pictures side by side, each with its caption; never split over two pages."""

    def __init__(self, prints: Sequence[Print], columns: int, width: float, steep: float) -> None:
        """steep: the greatest height of a picture by the width of its column."""
        super().__init__()
        self.prints, self.width = prints, width
        self.column = (width - GUTTER * (columns - 1)) / columns
        self.steep = steep
        self._captions = [self._caption(one) for one in prints]

    def _caption(self, one: Print):
        line = one.line
        text = ". ".join(part.rstrip(".") for part in (line.taken, line.caption) if part)
        # Captions stay short of a page; a caption is at most 4000 characters long.
        if len(text) > 900:
            text = text[:900].rstrip() + "…"
        return para(text or line.name, SOFT_TEXT)

    def _sizes(self) -> list[tuple[float, float]]:
        sizes = []
        for one in self.prints:
            if one.path is None:
                sizes.append((self.column, self.column * 0.45))
                continue
            # Never below 110 pixels an inch: a small picture stays small rather than coarse.
            scale = min(self.column / one.width, self.column * self.steep / one.height, 72 / 110)
            sizes.append((one.width * scale, one.height * scale))
        return sizes

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        self._under = [c.wrap(self.column, 10_000)[1] for c in self._captions]
        self._tall = max(height for _, height in self._sizes())
        self.height = self._tall + 5 + max(self._under)
        return self.width, self.height

    def draw(self) -> None:
        for index, (one, (width, height)) in enumerate(
            zip(self.prints, self._sizes(), strict=True)
        ):
            x = index * (self.column + GUTTER)
            y = self.height - height
            if one.path is None:
                self._tell(one, x, y, width, height)
            else:
                self.canv.drawImage(str(one.path), x, y, width, height)
                room = (x, y, width, height)
                paint_marks(self.canv, one.line.marks, room, width / one.width * one.scale)
            caption = self._captions[index]
            caption.drawOn(self.canv, x, self.height - height - 5 - self._under[index])

    def _tell(self, one: Print, x: float, y: float, width: float, height: float) -> None:
        self.canv.setStrokeColor(HAIRLINE)
        self.canv.setLineWidth(0.5)
        self.canv.rect(x, y, width, height, stroke=1, fill=0)
        said = para(f"This picture cannot be shown. {one.trouble}", BODY)
        _, tall = said.wrap(width - 20, height)
        said.drawOn(self.canv, x + 10, y + (height - tall) / 2)
        self.canv.setFillColor(SOFT)


def paint_marks(
    canvas: Canvas,
    marks: Sequence[PictureMark],
    room: tuple[float, float, float, float],
    scale: float,
) -> None:
    """Arrows, rings, numbers and words on the picture in its room (x, y, width, height)."""
    if not marks:
        return
    x, y, width, height = room
    canvas.saveState()
    frame = canvas.beginPath()
    frame.rect(x, y, width, height)
    canvas.clipPath(frame, stroke=0, fill=0)

    def at(spot: tuple[float, float]) -> tuple[float, float]:
        return x + spot[0] * scale, y + height - spot[1] * scale

    for mark in marks:
        match mark:
            case Arrow():
                _paint_arrow(canvas, at(mark.start), at(mark.to))
            case Ring():
                for color, width in ((WHITE, 3.4), (INK, 1.5)):
                    canvas.setStrokeColor(color)
                    canvas.setLineWidth(width)
                    canvas.circle(*at(mark.at), max(2.0, mark.radius * scale), stroke=1, fill=0)
            case Number():
                _paint_tag(canvas, at(mark.at), str(mark.number))
            case Freehand():
                _paint_line(canvas, [at(spot) for spot in mark.points])
            case _:
                _paint_tag(canvas, at(mark.at), mark.text)
    canvas.restoreState()


def _paint_line(canvas: Canvas, points: Sequence[tuple[float, float]]) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for color, width in ((WHITE, 3.4), (INK, 1.5)):
        canvas.setStrokeColor(color)
        canvas.setLineWidth(width)
        canvas.drawPath(path, stroke=1, fill=0)


def _paint_arrow(canvas: Canvas, start: tuple[float, float], tip: tuple[float, float]) -> None:
    angle = math.atan2(tip[1] - start[1], tip[0] - start[0])
    size = 7.5
    wings = [
        (tip[0] - size * math.cos(angle + s), tip[1] - size * math.sin(angle + s))
        for s in (-0.45, 0.45)
    ]
    neck = (tip[0] - size * 0.8 * math.cos(angle), tip[1] - size * 0.8 * math.sin(angle))
    for color, width in ((WHITE, 4.0), (INK, 1.9)):
        canvas.setStrokeColor(color)
        canvas.setFillColor(color)
        canvas.setLineWidth(width)
        canvas.setLineCap(1)
        canvas.line(*start, *neck)
        canvas.setLineWidth(width * 0.5)
        path = canvas.beginPath()
        path.moveTo(*tip)
        for wing in wings:
            path.lineTo(*wing)
        path.close()
        canvas.drawPath(path, stroke=1, fill=1)


def _paint_tag(canvas: Canvas, at: tuple[float, float], text: str) -> None:
    """Ink on a white tag, so that it reads on any picture."""
    font, size = FONTS["bold"], 8.0
    width = width_of(text, font, size) + 5
    height = CAP_HEIGHT * size + 5
    canvas.setStrokeColor(INK)
    canvas.setFillColor(WHITE)
    canvas.setLineWidth(0.6)
    canvas.rect(at[0] - width / 2, at[1] - height / 2, width, height, stroke=1, fill=1)
    canvas.setFillColor(INK)
    draw_text(canvas, at[0], at[1] - CAP_HEIGHT * size / 2, text, font, size, "middle")
