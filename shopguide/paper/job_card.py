"""The job card: the sheet itself on paper, with boxes and lines to fill in beside the machine."""

from __future__ import annotations

import io
import tempfile
import unicodedata
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path

from shopguide.paper import lettering  # first: it tells reportlab which fonts there are

# isort: split
from reportlab import rl_config
from reportlab.lib.styles import ParagraphStyle
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Spacer,
)

from shopguide.errors import PaperTrouble
from shopguide.job.files import OpenedSheet
from shopguide.job.model import Caution, Fluid, Open, Part, Photo, Sheet, StepPlace, Task
from shopguide.job.picture import Picture, take_in
from shopguide.job.sentences import join_sentences
from shopguide.paper.archive import make_archival
from shopguide.paper.blocks import (
    BODY,
    BODY_STRONG,
    FIGURE_END,
    HAIR,
    HEAD,
    LABEL,
    MACHINE,
    PART,
    REGULAR,
    RULE,
    SOFT_TEXT,
    STRONG,
    TITLE,
    Bookmark,
    Rule,
    SignalWord,
    gap,
    lay_facts,
    lay_section,
    para,
    rows,
    stack,
)
from shopguide.paper.card_lines import BOX_SIDE, HandLine, TickBox, lay_hand_lines, lay_ticks
from shopguide.paper.card_tasks import TASK, lay_joints, lay_task
from shopguide.paper.inks import HAIRLINE, INK, SOFT
from shopguide.paper.lettering import FIGURES, draw_text, find_lacking, fit
from shopguide.paper.make import _one_at_a_time
from shopguide.paper.pages import SIZES, Cancelled, NumberedCanvas, PageSize, Progress
from shopguide.paper.photos import Darkroom, PhotoRow
from shopguide.paper.steps import PhotoLine
from shopguide.paper.values import tell_spec

SIDE, TOP, FOOT = 51.0, 46.0, 56.0
"""Margins in points; the foot stands in the lowest."""
NUMBER = 26.0
"""Width of the column of step numbers, in points."""
BESIDE = 176.0
"""Width of a picture that stands beside its tasks, in points."""
CROWDED = 6
"""Pictures with more marks than this are printed as wide as the page allows."""
KEPT_WHOLE = 8
"""Steps up to this many tasks stay on one page where they fit."""
NOTE_LINES = 7
STEP_TITLE = ParagraphStyle("card step", PART, fontSize=12.5, leading=15.5)
STATEMENT = (
    "Every figure on this card comes from the source that the sheet names for it. The maker's "
    "manual of your own machine comes first: where the two differ, follow the manual."
)
UNSIGNED = "This card was filled in by hand. It is not the signed record of the program."


def make_job_card(
    opened: OpenedSheet,
    page: PageSize = "A4",
    created: datetime | None = None,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> bytes:
    """The sheet as a card to fill in by hand, as PDF/A-3b.

    created: when it is made, with its time zone; now where not given.  progress: told what is
    being done, how far, of how many (0 where not known).
    Raises PaperTrouble where `cancelled` says so, or where it cannot be made.
    """
    sheet = opened.sheet
    with _one_at_a_time, tempfile.TemporaryDirectory(prefix="shopguide-card-") as folder:
        darkroom = _open_darkroom(opened, Path(folder))
        names = opened.names()
        for index, photo in enumerate(sheet.photos(), 1):
            _stop_where_cancelled(cancelled)
            if progress is not None:
                progress("Fetching pictures", min(index, len(names)), len(names))
            darkroom.develop(_tell_photo(photo))
        pdf = _draw(sheet, darkroom, page, progress, cancelled)
    return make_archival(
        pdf,
        title=f"Job card: {sheet.title}",
        author=sheet.author,
        subject="A job sheet to fill in by hand, no record of work",
        created=created or datetime.now(UTC),
    )


def _stop_where_cancelled(cancelled: Cancelled | None) -> None:
    if cancelled is not None and cancelled():
        raise PaperTrouble("The making of the card was stopped.", next="Nothing was written.")


def _open_darkroom(opened: OpenedSheet, folder: Path) -> Darkroom:
    """Small pictures for the paper; each original is unpacked once, and only its size kept."""
    sizes: dict[str, tuple[int, int]] = {}

    def read(name: str) -> bytes:
        picture: Picture = take_in(opened.photo_bytes(name), name)
        sizes[name] = picture.width, picture.height
        return picture.paper

    return Darkroom(read, folder, sizes.__getitem__)


def _tell_photo(photo: Photo) -> PhotoLine:
    return PhotoLine(photo.file, photo.caption, photo.alt, "", photo.marks)


# --- the pages ----------------------------------------------------------------------------------


class _CardCanvas(NumberedCanvas):
    """Writes the foot of each page once the number of pages is known."""

    title = ""
    revision = ""

    def save(self) -> None:
        for number, page in enumerate(self._pages, 1):
            self.__dict__.update(page)
            self._paint_foot(number, len(self._pages))
            Canvas.showPage(self)
        Canvas.save(self)

    def _paint_foot(self, number: int, count: int) -> None:
        right = self._pagesize[0] - SIDE
        self.setStrokeColor(HAIRLINE)
        self.setLineWidth(HAIR)
        self.line(SIDE, 42, right, 42)
        self.setFillColor(SOFT)
        told = f"Page {number} of {count}"
        room = right - SIDE - 150
        revision = fit(f"revision {self.revision}", REGULAR, 8, room / 2)
        width = draw_text(self, SIDE, 30, fit(self.title, STRONG, 8, room / 2), STRONG, 8)
        draw_text(self, SIDE + width + 8, 30, revision, FIGURES, 8)
        draw_text(self, right, 30, told, FIGURES, 8, "end")


def _draw(
    sheet: Sheet,
    darkroom: Darkroom,
    page: PageSize,
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> bytes:
    lettering.load_fonts()
    rl_config.useA85 = 0
    size = SIZES[page]
    width, height = size[0] - 2 * SIDE, size[1] - TOP - FOOT
    out = io.BytesIO()
    document = BaseDocTemplate(out, pagesize=size, title=sheet.title, lang="en")
    bare = dict.fromkeys(("leftPadding", "rightPadding", "topPadding", "bottomPadding"), 0)
    frame = Frame(SIDE, FOOT, width, height, **bare)
    document.addPageTemplates([PageTemplate("page", [frame], pagesize=size)])

    def follow(kind: str, value: object) -> None:
        _stop_where_cancelled(cancelled)
        if kind == "PAGE" and progress is not None:
            progress("Drawing page", int(value), 0)  # type: ignore[call-overload]

    document.setProgressCallBack(follow)
    named = {"title": sheet.title, "revision": sheet.revision}
    document.build(
        [
            *_lay_front(sheet, width),
            *_lay_lists(sheet, width),
            *_lay_stages(sheet, darkroom, width, height),
            *_lay_items(sheet, width),
            *_lay_end(sheet, width),
        ],
        canvasmaker=type("CardCanvas", (_CardCanvas,), named),
    )
    return out.getvalue()


# --- the first page -----------------------------------------------------------------------------


def _lay_front(sheet: Sheet, width: float) -> list[Flowable]:
    long = len(sheet.title) > 34
    title = ParagraphStyle("card title", TITLE, fontSize=21, leading=24.5) if long else TITLE
    flow: list[Flowable] = [
        para("Job card, to be filled in by hand beside the machine", LABEL),
        gap(1),
        para(sheet.title, title),
        gap(4),
    ]
    flow += [para(one, MACHINE) for one in sheet.applies_to]
    if sheet.summary:
        flow += [gap(5), para(sheet.summary, BODY)]
    facts = [("Time", sheet.time or "not given")]
    if sheet.skill:
        facts.append(("Skill", sheet.skill))
    facts.append(("Sheet", f"revision {sheet.revision}, {sheet.date}, by {sheet.author}"))
    flow += [gap(6), lay_facts(facts, width, 44.0), gap(5), Rule(INK, RULE), gap(5)]
    flow.append(para(STATEMENT, BODY_STRONG))
    letters = tell_letters(sheet)
    flow += [*([gap(4), para(letters, BODY)] if letters else []), gap(8)]
    hand = (("Machine", "Number on it"), ("Odometer or hours", "Worked by"), ("Begun", "Ended"))
    flow += [lay_hand_lines(line, width) for line in hand]
    flow.append(lay_hand_lines(("Torque wrench", "Calibrated on"), width))
    flow.append(lay_hand_lines(("Second wrench", "Calibrated on"), width))
    if sheet.cautions:
        flow += [gap(9), Rule(INK, RULE), gap(5), Bookmark("cautions", "Cautions")]
        flow += [para("Read before the work, and tick each", PART), gap(3)]
        flow.append(_lay_cautions(sheet.cautions, width, every=True))
    return flow


def tell_letters(sheet: Sheet) -> str:
    """What is to be known of letters that the card cannot set well; "" where it sets all."""
    text = sheet.model_dump_json()
    said = []
    if find_lacking(text):
        said.append(
            "Letters that the fonts of this card lack stand as small open boxes; those words are "
            "read on the screen."
        )
    if any(unicodedata.bidirectional(char) in ("R", "AL") for char in text):
        said.append("Words that run from right to left are set from left to right here.")
    return " ".join(said)


def _lay_cautions(cautions: Sequence[Caution], width: float, *, every: bool = False) -> Flowable:
    """The cautions with a box each; at a step only those that want to be acknowledged have one."""
    body = []
    for caution in cautions:
        boxed = every or caution.acknowledge
        rest = join_sentences((caution.consequence, caution.avoid))
        words = stack((caution.hazard, BODY_STRONG), (rest, BODY))
        body.append([TickBox() if boxed else "", SignalWord(caution.signal), words])
    more = [("TOPPADDING", (0, 0), (-1, -1), 2.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 3.5)]
    return rows(body, [BOX_SIDE + 10, 76, width - 86 - BOX_SIDE], more=more)


# --- what to have at hand -----------------------------------------------------------------------


def _lay_lists(sheet: Sheet, width: float) -> list[Flowable]:
    flow: list[Flowable] = []
    if sheet.parts:
        flow += [*lay_section("Parts", "parts"), _lay_parts(sheet.parts, width)]
    if sheet.fluids:
        flow += [*lay_section("Fluids", "fluids"), _lay_fluids(sheet, width)]
    if sheet.supplies:
        lines = [
            (f"{one.name}, {one.quantity}" if one.quantity else one.name, one.note)
            for one in sheet.supplies
        ]
        flow.append(KeepTogether([*lay_section("Supplies", "supplies"), lay_ticks(lines, width)]))
    if sheet.tools:
        lines = [(one.name, one.note) for one in sheet.tools]
        flow.append(KeepTogether([*lay_section("Tools", "tools"), lay_ticks(lines, width)]))
    return flow


def _lay_parts(parts: Sequence[Part], width: float) -> Flowable:
    body: list[list[object]] = [["", *(para(name, HEAD) for name in ("Part", "Number", "Pieces"))]]
    for part in parts:
        kind = "Single-use: fit a new one" if part.single_use else ""
        under = ". ".join(p.rstrip(".") for p in (kind, part.note) if p)
        body.append(
            [
                TickBox(),
                stack((part.name, TASK), (under, SOFT_TEXT)),
                para(part.number or "not given", BODY),
                para(str(part.quantity), FIGURE_END),
            ]
        )
    body[0][3] = para("Pieces", ParagraphStyle("head end", HEAD, alignment=2))
    box = BOX_SIDE + 10
    return rows(body, [box, width - box - 190, 140, 50], ruled=True, head=True)


def _lay_fluids(sheet: Sheet, width: float) -> Flowable:
    body: list[list[object]] = []
    for fluid in sheet.fluids:
        body.append([TickBox(), stack(*_tell_fluid(sheet, fluid))])
    return rows(body, [BOX_SIDE + 10, width - BOX_SIDE - 10], ruled=True)


def _tell_fluid(sheet: Sheet, fluid: Fluid) -> Iterator[tuple[str, ParagraphStyle]]:
    yield ". ".join(p for p in (_begin_large(fluid.name), fluid.grade) if p), TASK
    if fluid.spec:
        yield _begin_large(f"{fluid.spec}: {tell_spec(sheet.spec(fluid.spec))}"), SOFT_TEXT
    yield fluid.note, SOFT_TEXT


def _begin_large(text: str) -> str:
    return text[:1].upper() + text[1:]


# --- the work -----------------------------------------------------------------------------------


def _lay_stages(sheet: Sheet, darkroom: Darkroom, width: float, height: float) -> list[Flowable]:
    flow: list[Flowable] = []
    stage_number = 0
    above: list[Flowable] = []
    for place in sheet.steps:
        if place.stage_number != stage_number:
            stage_number = place.stage_number
            above = lay_section(place.stage.title, f"stage-{stage_number}")
        flow += _lay_step(sheet, place, darkroom, width, height, above)
        above = []
    return flow


def _lay_step(
    sheet: Sheet,
    place: StepPlace,
    darkroom: Darkroom,
    width: float,
    height: float,
    above: list[Flowable],
) -> list[Flowable]:
    """A step under the headings that come right above it and never stand alone."""
    step = place.step
    prints = [darkroom.develop(_tell_photo(photo)) for photo in step.photos]
    crowded = any(len(photo.marks) > CROWDED for photo in step.photos)
    beside = 0 < len(prints) <= 2 and not crowded and len(step.tasks) <= KEPT_WHOLE
    inner = width - NUMBER
    room = inner - BESIDE - 14 if beside else inner
    left: list[Flowable] = []
    if step.text:
        left += [para(step.text, BODY), gap(3)]
    if step.cautions:
        left.append(_lay_cautions(step.cautions, room))
    for index, task in enumerate(step.tasks, 1):
        left.append(lay_task(sheet, f"{place.number}.{index}", task, room))
    top: list[Flowable] = [*above, gap(7), Rule(), gap(3)]
    number = para(str(place.number), STEP_TITLE)
    top.append(rows([[number, para(step.title, STEP_TITLE)]], [NUMBER, inner]))
    joints = lay_joints(sheet, place, width, height)
    if beside:
        right = [one for p in prints for one in (PhotoRow([p], 1, BESIDE, 1.1), gap(6))]
        left = [rows([[left, right[:-1]]], [room + 14, BESIDE], more=_TIGHT)]
    body = [one if isinstance(one, Spacer) else _indent(one, width) for one in left]
    if not beside:
        columns = 1 if crowded else 2
        wide = min(inner, 390.0) if crowded else inner
        for first in range(0, len(prints), columns):
            row = PhotoRow(prints[first : first + columns], columns, wide, 0.8)
            body += [gap(5), _indent(row, width)]
    whole = [*top, *body, *joints]
    if sum(one.wrap(width, height)[1] for one in _open_up(whole)) <= height:
        return [KeepTogether(_open_up(whole))]
    if len(step.tasks) <= KEPT_WHOLE:
        return [KeepTogether([*top, *body]), *joints]
    return [CondPageBreak(160), *top, *body, *joints]


def _open_up(flow: Sequence[Flowable]) -> list[Flowable]:
    """The flowables without the groups around them, so that a larger group can hold them."""
    out: list[Flowable] = []
    for one in flow:
        out += one._content if isinstance(one, KeepTogether) else [one]
    return out


_TIGHT = [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]


def _indent(flowable: Flowable, width: float) -> Flowable:
    return rows([["", flowable]], [NUMBER, width - NUMBER], more=_TIGHT)


# --- what is open, and the end ------------------------------------------------------------------


def _lay_items(sheet: Sheet, width: float) -> list[Flowable]:
    """Everything that comes off, with a box for off and one for back."""
    off: dict[str, tuple[str, str]] = {}
    back: dict[str, str] = {}
    for address, task in sheet.tasks.items():
        step = address.split(".")[0]
        if task.opens is not None:
            off.setdefault(task.opens, (_tell_off(task), step))
        if task.closes is not None:
            back[task.closes] = step
    if not off:
        return []
    names = ("Item", "", "Off", "", "Back")
    body: list[list[object]] = [[para(name, HEAD) for name in names]]
    for item, (how, step) in off.items():
        told = f"step {back[item]}" if item in back else "not in this sheet"
        words = stack((_begin_large(item), TASK), (how, SOFT_TEXT))
        body.append([words, TickBox(), para(f"step {step}", BODY), TickBox(), para(told, BODY)])
    box = BOX_SIDE + 8
    widths = [width - 2 * box - 160, box, 70, box, 90]
    return [
        *lay_section("Open items: off, and back again", "items"),
        para("Before the machine is used, every box in the right column has its tick.", BODY),
        gap(3),
        rows(body, widths, ruled=True, head=True),
    ]


def _tell_off(task: Task) -> str:
    if isinstance(task, Open):
        return task.how
    return str(getattr(task, "how", task.kind))


def _lay_end(sheet: Sheet, width: float) -> list[Flowable]:
    flow: list[Flowable] = []
    if sheet.follow_ups:
        body: list[list[object]] = []
        for one in sheet.follow_ups:
            asked = tell_spec(sheet.spec(one.spec)) if one.spec else ""
            words = stack((one.text, TASK), (f"after {one.after}", SOFT_TEXT), (asked, SOFT_TEXT))
            body.append([TickBox(), words, HandLine("done on", 150)])
        box = BOX_SIDE + 10
        table = rows(body, [box, width - box - 150, 150], ruled=True)
        flow += [KeepTogether([*lay_section("To do again later", "later"), table])]
    notes = [gap(20) for _ in range(NOTE_LINES)]
    ruled = [one for pair in zip(notes, (Rule() for _ in notes), strict=True) for one in pair]
    signed: list[Flowable] = [
        *lay_section("Notes", "notes"),
        *ruled,
        *lay_section("Done", "done"),
        para(
            "The work was done as ticked above; what was done otherwise stands in the notes.", TASK
        ),
        gap(16),
        lay_hand_lines(("Name", "Date"), width),
        gap(10),
        lay_hand_lines(("Signature",), width),
        gap(8),
        para(f"{STATEMENT} {UNSIGNED}", SOFT_TEXT),
    ]
    flow.append(KeepTogether(signed))
    return flow
