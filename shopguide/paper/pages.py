"""The pages: paper size and margins, header and foot of each, and the pages put together."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from shopguide.paper import lettering  # first: it tells reportlab which fonts there are

# isort: split
from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate

from shopguide.errors import PaperTrouble
from shopguide.paper.blocks import BOLD, HAIR, REGULAR, STRONG
from shopguide.paper.body import lay_cautions, lay_materials, lay_rest
from shopguide.paper.contents import Contents
from shopguide.paper.front import lay_front
from shopguide.paper.inks import HAIRLINE, INK, SOFT
from shopguide.paper.joints import lay_torques
from shopguide.paper.lettering import FIGURES, draw_text, fit
from shopguide.paper.photos import Darkroom
from shopguide.paper.step_pages import lay_work

PageSize = Literal["A4", "Letter"]
SIZES: dict[str, tuple[float, float]] = {"A4": A4, "Letter": LETTER}
SIDE, TOP, FOOT = 51.0, 58.0, 52.0
"""Margins in points; header and foot stand in them."""

Progress = Callable[[str, int, int], None]
Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Furniture:
    """What stands on every page beside its text."""

    title: str
    machine: str
    head: str
    status: str
    watermark: str = ""


class NumberedCanvas(Canvas):
    """Keeps each finished page back until the number of pages is known."""

    furniture: Furniture

    def __init__(self, *args: object, **more: object) -> None:
        super().__init__(*args, **{**more, "initialFontName": lettering.BASE})
        self._pages: list[dict] = []

    def showPage(self) -> None:
        self._pages.append(dict(self.__dict__))
        self._startPage()

    def save(self) -> None:
        for number, page in enumerate(self._pages, 1):
            self.__dict__.update(page)
            paint_furniture(self, self.furniture, number, len(self._pages))
            super().showPage()
        super().save()


def paint_furniture(canvas: Canvas, furniture: Furniture, number: int, count: int) -> None:
    """Header, foot and, on a rehearsal, the watermark over all that stands on the page."""
    width, height = canvas._pagesize
    right = width - SIDE
    if furniture.watermark:
        _paint_watermark(canvas, furniture.watermark, width, height)
    canvas.setStrokeColor(HAIRLINE)
    canvas.setLineWidth(HAIR)
    canvas.setFillColor(SOFT)
    top = height - 34
    if furniture.status:
        canvas.setFillColor(INK)
        draw_text(canvas, SIDE, height - 21, furniture.status, BOLD, 8)
        canvas.setFillColor(SOFT)
    if number > 1:
        room = right - SIDE
        machine = fit(furniture.machine, REGULAR, 8, room * 0.42)
        draw_text(canvas, right, top, machine, REGULAR, 8, "end")
        title = fit(furniture.title, STRONG, 8, room * 0.55)
        draw_text(canvas, SIDE, top, title, STRONG, 8)
        canvas.line(SIDE, top - 7, right, top - 7)
    foot = 30
    canvas.line(SIDE, foot + 12, right, foot + 12)
    draw_text(canvas, SIDE, foot, f"Head of the record {furniture.head[:8]}…", FIGURES, 8)
    draw_text(canvas, right, foot, f"Page {number} of {count}", FIGURES, 8, "end")


def _paint_watermark(canvas: Canvas, text: str, width: float, height: float) -> None:
    """Large, from corner to corner, over text and pictures, which stay legible through it."""
    canvas.saveState()
    canvas.setFillColor(INK)
    canvas.setFillAlpha(0.11)
    canvas.translate(width / 2, height / 2)
    canvas.rotate(54)
    size = 100.0
    size *= 0.78 * (width**2 + height**2) ** 0.5 / lettering.width_of(text, BOLD, size)
    draw_text(canvas, 0, -lettering.CAP_HEIGHT * size / 2, text, BOLD, size, "middle")
    canvas.restoreState()


def draw_pages(
    contents: Contents,
    darkroom: Darkroom,
    page: PageSize = "A4",
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> bytes:
    """The whole paper as a plain PDF, not yet archival and not signed.

    Raises PaperTrouble where `cancelled` says so.
    """
    lettering.load_fonts()
    rl_config.useA85 = 0
    size = SIZES[page]
    width, height = size[0] - 2 * SIDE, size[1] - TOP - FOOT
    story = _lay_all(contents, darkroom, (width, height), progress, cancelled)
    furniture = Furniture(
        contents.title, contents.first.machine, contents.head, _status(contents), ""
    )
    if contents.rehearsal:
        furniture = Furniture(
            furniture.title, furniture.machine, furniture.head, furniture.status, "REHEARSAL"
        )
    out = io.BytesIO()
    document = BaseDocTemplate(out, pagesize=size, title=contents.title, lang="en")
    frame = Frame(
        SIDE,
        FOOT,
        width,
        height,
        leftPadding=0,
        rightPadding=0,
        topPadding=0,
        bottomPadding=0,
    )
    document.addPageTemplates([PageTemplate("page", [frame], pagesize=size)])

    def follow(kind: str, value: object) -> None:
        _stop_where_cancelled(cancelled)
        if kind == "PAGE" and progress is not None:
            progress("Drawing page", int(value), 0)  # type: ignore[call-overload]

    document.setProgressCallBack(follow)
    canvas_class = type("PaperCanvas", (NumberedCanvas,), {"furniture": furniture})
    document.build(story, canvasmaker=canvas_class)
    return out.getvalue()


def _status(contents: Contents) -> str:
    if contents.rehearsal:
        return "REHEARSAL: made for practice, no record of work done"
    return "" if contents.signed else "DRAFT: this record is not signed off"


def _lay_all(
    contents: Contents,
    darkroom: Darkroom,
    room: tuple[float, float],
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> list[Flowable]:
    photos = [photo for stage in contents.stages for step in stage.steps for photo in step.photos]
    for index, photo in enumerate(photos, 1):
        _stop_where_cancelled(cancelled)
        if progress is not None:
            progress("Fetching pictures", index, len(photos))
        darkroom.develop(photo)
    width, height = room
    return [
        *lay_front(contents, width),
        *lay_torques(contents, width, height),
        *lay_materials(contents, width),
        *lay_cautions(contents, width),
        *lay_work(contents, width, darkroom),
        *lay_rest(contents, width),
    ]


def _stop_where_cancelled(cancelled: Cancelled | None) -> None:
    if cancelled is not None and cancelled():
        raise PaperTrouble("The making of the paper was stopped.", next="Nothing was written.")
