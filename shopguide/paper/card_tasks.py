"""The tasks on the job card: a box or a line each, and for a joint its diagram and its table."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, KeepTogether

from shopguide.bolts.drawing import draw_pattern
from shopguide.bolts.heads import HeadState
from shopguide.bolts.order import find_order, travel
from shopguide.bolts.passes import Pass
from shopguide.bolts.pattern import Fastener, Pattern
from shopguide.job.model import (
    Drain,
    Fill,
    Leave,
    Measure,
    Sheet,
    StepPlace,
    Task,
    Torque,
    Wait,
)
from shopguide.paper.blocks import (
    BODY,
    CELL,
    HEAD,
    HEAD_SOFT,
    LABEL,
    PART,
    SOFT_END,
    SOFT_TEXT,
    STRONG,
    Bookmark,
    gap,
    para,
    rows,
    stack,
)
from shopguide.paper.bolt_drawing import paint_shapes
from shopguide.paper.card_lines import BOX_SIDE, HandLine, TickBox, lay_hand_lines
from shopguide.paper.findings import name_fastener
from shopguide.paper.lettering import width_of
from shopguide.paper.values import tell_spec
from shopguide.torque import units
from shopguide.torque.spec import Spec

TASK = ParagraphStyle("card task", BODY, fontSize=10.6, leading=14)
FIGURE = ParagraphStyle("card figure", PART, fontSize=14, leading=17.5)
LARGE = ParagraphStyle("card large", PART, fontSize=27, leading=30)
UNDER = ParagraphStyle("card under", BODY, fontName=STRONG, fontSize=12.5, leading=16)
PLACE = ParagraphStyle("card place", BODY, fontName=STRONG, fontSize=13, leading=15)
NOTE = ParagraphStyle("card note", SOFT_TEXT, fontSize=9.2, leading=12)
PASS = ParagraphStyle("card pass", HEAD_SOFT, fontSize=8.6, leading=10.8)
TARGET = ParagraphStyle("card target", HEAD, fontSize=11.5, leading=14)

NUMBER_SIZES = (34.0, 30.0, 26.0, 22.0, 17.0, 14.0, 12.0)
"""Least number in drawing units, tried in turn: 18 points, down to 6.5."""
SCALE = 0.55
"""Points to a drawing unit."""
FEW = 8
"""Joints up to this many fasteners have a small diagram, beside what is known."""
KEPT_WHOLE = 24
"""Tables up to this many rows stay on one page with their diagram."""
MOST_COLUMNS = 7
"""Columns of boxes side by side; more go into a further table below."""
CHECK_TRIPS = 2
"""Boxes for the trips of a check; more trips than these go on a further card."""
ROW_HIGH = 17.5
BESIDE_FROM = 280.0
"""From this width on, in points, what is asked stands beside the line and not above it."""


# --- one task -----------------------------------------------------------------------------------


def lay_task(sheet: Sheet, address: str, task: Task, width: float) -> Flowable:
    """The box, the words, and below them what is to be written down or read."""
    inner = width - BOX_SIDE - 9 - 27
    body: list[object] = [*stack((task.text, TASK), (task.note, NOTE))]
    match task:
        case Torque() if task.pattern is not None:
            title = sheet.pattern(task.pattern).title
            body += stack((f"{title}: the table that follows has a box for every pass.", SOFT_TEXT))
        case Torque():
            body.append(_lay_single(sheet, task, inner))
        case Drain() | Fill() | Measure():
            body += _lay_value(sheet, task, inner)
        case Wait():
            body.append(_lay_wait(sheet.spec(task.spec), inner))
        case Leave():
            word = "Not to be touched" if task.how == "do not touch" else "Left loose"
            until = f" Until: {task.until}" if task.until else ""
            body += stack((f"{word}: {task.fastener}. {task.reason}{until}", NOTE))
        case _:
            for name in task.spec_names:
                body += stack((f"{_begin(name)}: {tell_spec(sheet.spec(name))}", SOFT_TEXT))
    more = [("TOPPADDING", (0, 0), (-1, -1), 2.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5)]
    # A torqued joint has its boxes in the table, so one here would be a second truth.
    joint = isinstance(task, Torque) and task.pattern is not None
    box = "" if joint else TickBox()
    return rows([[box, para(address, LABEL), body]], [BOX_SIDE + 9, 27, inner], more=more)


def _begin(text: str) -> str:
    return text[:1].upper() + text[1:]


def _lay_value(sheet: Sheet, task: Drain | Fill | Measure, width: float) -> list[Flowable]:
    """A line to write the value on with its unit; the limits beside it, the source under it."""
    spec = sheet.spec(task.spec_names[0]) if task.spec_names else None
    if spec is None:
        fluid = next((one for one in sheet.fluids if one.name == task.fluid), None)
        if fluid is not None and fluid.spec and isinstance(task, Drain):
            spec = sheet.spec(fluid.spec)
    asked = spec.tell() if spec is not None else "no figure is given"
    converted = _convert(spec) if spec is not None else ""
    if isinstance(task, Drain):
        label, told = "came out", f"expected {asked}" if spec is not None else asked
    elif isinstance(task, Fill):
        label, told = "filled in", asked
        if task.like_drained:
            told, converted = "as much as came out", ""
    else:
        label, told = "measured", asked
    source = spec.source.tell() if spec is not None else ""
    note = spec.note if spec is not None else ""
    if isinstance(task, Fill) and task.like_drained:
        source = note = ""
    unit = _find_unit(spec)
    label += "" if unit else ", with unit"
    words = stack((told, FIGURE), (converted, BODY))
    under = stack((note, SOFT_TEXT), (source, SOFT_TEXT))
    told_wide = width_of(told, FIGURE.fontName, FIGURE.fontSize)
    if width < BESIDE_FROM or told_wide > width - 200:
        return [*words, HandLine(label, min(width - 6, 190.0), unit), *under]
    line = 190.0
    low = [("VALIGN", (0, 0), (-1, -1), "BOTTOM")]
    pair = [HandLine(label, line - 16, unit), words]
    return [rows([pair], [line, width - line], more=low), *under]


def _find_unit(spec: Spec | None) -> str:
    """The unit that the sheet's own figure is in; "" where the hand must write it."""
    printed = (spec.value or spec.high or spec.low) if spec is not None else None
    if spec is None or printed is None:
        return ""
    unit = units.read(printed, spec.kind).unit
    # A sum such as "4 qt + 250 mL" has two units; a hand writes both.
    return unit if "+" not in printed else ""


def _convert(spec: Spec) -> str:
    amount = spec.amount()
    return units.tell_converted(amount) if amount is not None else ""


def _lay_wait(spec: Spec, width: float) -> Flowable:
    line = min(110.0, (width - 90) / 2)
    told = stack((spec.tell(), FIGURE), (spec.source.tell(), SOFT_TEXT))
    if width < BESIDE_FROM:
        pair = rows([[HandLine("from", line), HandLine("to", line)]], [line + 12, line])
        return rows([[[*told, pair]]], [width])
    cells = [HandLine("from", line - 12), HandLine("to", line - 12), told]
    return rows([cells], [line, line, width - 2 * line])


def _lay_single(sheet: Sheet, task: Torque, width: float) -> Flowable:
    """A fastener by itself: its torque large, a box for each pass."""
    many = len(task.schedule) > 1
    body = []
    for number, one in enumerate(task.schedule, 1):
        deed = f"pass {number}: {one.tell()}" if many else ""
        after = f"after {one.after}" if one.after else ""
        figure, converted = tell_target(sheet, task, one)
        told = stack((figure, FIGURE), (converted, UNDER))
        words = stack((", ".join(p for p in (deed, after) if p), BODY), (one.note, SOFT_TEXT))
        body.append([TickBox() if many else "", told, words])
    lines: list[object] = [rows(body, [BOX_SIDE + 8 if many else 0.1, 108, width - 130])]
    about = " · ".join(p for p in (task.thread, task.grade, task.condition) if p)
    lines += stack((about, SOFT_TEXT), *((text, SOFT_TEXT) for text in _tell_sources(sheet, task)))
    return rows([[lines]], [width], more=[("TOPPADDING", (0, 0), (-1, -1), 0)])


def tell_target(sheet: Sheet, task: Torque, one: Pass) -> tuple[str, str]:
    """What a pass goes to, as the sheet prints it, and that in the other system."""
    name = task.spec_of(one)
    if name is None:
        return (one.turn or "until loose", "") if one.kind == "back off" else ("by hand", "")
    spec = sheet.spec(name)
    amount = spec.amount()
    if amount is None:
        return spec.tell(), ""
    if one.share != 1.0:
        amount = units.scale(amount, one.share)
    return amount.text, units.tell_converted(amount)


def _tell_sources(sheet: Sheet, task: Torque) -> list[str]:
    """For each spec its band, its note and its source."""
    told = []
    for name in task.spec_names:
        spec = sheet.spec(name)
        note = f"{spec.note.rstrip('.')}. " if spec.note else ""
        told.append(f"{_begin(name)}: {spec.tell()}. {note}{_begin(spec.source.tell())}.")
    return told


# --- a joint ------------------------------------------------------------------------------------


class CardDrawing(Flowable):
    """A pattern with its numbers as large as they go, no work done on it."""

    def __init__(
        self, pattern: Pattern, order: Sequence[int], width: float, tallest: float
    ) -> None:
        super().__init__()
        # One scale for all: a number is as large on a small joint's diagram as on a large one's.
        self.scale = SCALE
        across_units = width / self.scale
        high = tallest / self.scale
        if pattern.circle is None:
            points = [(f.x_mm, f.y_mm) for f in pattern.placed] + list(pattern.outline)
            across, down = (max(axis) - min(axis) for axis in zip(*points, strict=True))
            high = min(high, max(250.0, across_units * down / max(1.0, across) + 60.0))
        bare: dict[int, HeadState] = {}
        tried = []
        for least in NUMBER_SIZES:
            tried.append(
                draw_pattern(
                    pattern, order, bare, width=across_units, height=high, least_text=least
                )
            )
            if tried[-1].every == 1:
                break
        self.drawing = min(tried, key=lambda one: one.every)
        self.every = self.drawing.every
        """1 where every number is written, else only every so many-th."""
        self.width, self.height = width, high * self.scale

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        return self.width, self.height

    def draw(self) -> None:
        paint_shapes(self.canv, self.drawing.shapes, 0, self.height, self.scale)


def lay_joints(sheet: Sheet, place: StepPlace, width: float, height: float) -> list[Flowable]:
    """The joint of each torque task of a step, on a page of its own where it is a large one."""
    flow: list[Flowable] = []
    for index, task in enumerate(place.step.tasks, 1):
        if isinstance(task, Torque) and task.pattern is not None:
            flow += _lay_joint(sheet, f"{place.number}.{index}", task, width, height)
    return flow


def _lay_joint(
    sheet: Sheet, address: str, task: Torque, width: float, height: float
) -> list[Flowable]:
    assert task.pattern is not None
    pattern = sheet.pattern(task.pattern)
    order = find_order(pattern)
    numbers = order.numbers
    few = len(numbers) <= FEW
    columns = _list_columns(sheet, task)
    tables: list[Flowable] = []
    for first in range(0, len(columns), MOST_COLUMNS):
        tables += [
            gap(6),
            _lay_table(pattern, address, numbers, columns[first : first + MOST_COLUMNS], width),
        ]
    said = _tell_order(pattern, order.tell(), task, numbers)
    head: list[Flowable] = [
        gap(12),
        Bookmark(f"joint-{address}", pattern.title, 1),
        rows([[para(pattern.title, PART), para(f"step {address}", SOFT_END)]], [width - 80, 80]),
        _lay_figures(sheet, task, width),
        gap(3),
    ]
    facts = stack((said, BODY), (_tell_fasteners(pattern), BODY))
    foot: list[Flowable] = [
        gap(3),
        lay_hand_lines(("Wrench", "Set to", "Date, time"), width),
        gap(3),
        *(para(text, SOFT_TEXT) for text in _tell_remarks(sheet, task, pattern)),
    ]
    if few:
        wide = width * 0.5
        drawing = CardDrawing(pattern, numbers, wide, height * 0.22)
        top: list[Flowable] = [*head, rows([[drawing, facts]], [wide + 14, width - wide - 14])]
    else:
        rest = (*head, *facts, *tables, *foot)
        used = sum(one.wrap(width, height)[1] for one in rest)
        room = height - used - 12
        tall = max(190.0, room) if len(numbers) <= KEPT_WHOLE else height * 0.5
        drawing = CardDrawing(pattern, numbers, width, min(tall, height * 0.5))
        if drawing.every > 1:
            # With a page of its own there may be room for every number.
            around = sum(one.wrap(width, height)[1] for one in (*head, *facts)) + 4
            larger = CardDrawing(pattern, numbers, width, height - around)
            drawing = larger if larger.every < drawing.every else drawing
        if drawing.every > 1:
            facts += stack((f"The drawing has room for every {drawing.every}th number only.", BODY))
        top = [*head, drawing, *facts]
    whole = [*top, *tables, *foot]
    if sum(one.wrap(width, height)[1] for one in whole) <= height:
        return [KeepTogether(whole)]
    return [KeepTogether(top), *tables, KeepTogether(foot)]


def _lay_figures(sheet: Sheet, task: Torque, width: float) -> Flowable:
    """The torque in the largest type of the card, the converted one beside it."""
    if task.spec is None:
        return gap(1)
    spec = sheet.spec(task.spec)
    amount = spec.amount()
    figure = amount.text if amount is not None else spec.tell()
    beside = stack((_convert(spec), UNDER), (spec.tolerance or "", BODY))
    large = para(figure, LARGE)
    wide = min(width * 0.6, width_of(figure, LARGE.fontName, LARGE.fontSize) + 24)
    return rows(
        [[large, beside]], [wide, width - wide], more=[("VALIGN", (0, 0), (-1, -1), "BOTTOM")]
    )


def _list_columns(sheet: Sheet, task: Torque) -> list[list[tuple[str, ParagraphStyle]]]:
    """What stands at the head of each column of boxes; a check has several."""
    ways = {"order": "top to bottom", "reverse": "bottom to top", "around": "around"}
    columns = []
    # A blank line where others have a converted figure keeps the figures in one row.
    blank = "\u00a0" if any(tell_target(sheet, task, one)[1] for one in task.schedule) else ""
    for number, one in enumerate(task.schedule, 1):
        figure, converted = tell_target(sheet, task, one)
        deed = {"check": "check"}.get(one.kind, one.tell().removesuffix(f" {one.turn}"))
        for trip in range(1, (CHECK_TRIPS if one.kind == "check" else 1) + 1):
            name = f"Pass {number}" + (f", trip {trip}" if one.kind == "check" else "")
            after = f"after {one.after}" if one.after else ""
            columns.append(
                [
                    (name, HEAD),
                    (", ".join(p for p in (after, deed) if p), PASS),
                    (figure, TARGET),
                    (converted or blank, PASS),
                    (ways[one.travel], PASS),
                ]
            )
    return columns


def _lay_table(
    pattern: Pattern,
    address: str,
    numbers: Sequence[int],
    columns: Sequence[list[tuple[str, ParagraphStyle]]],
    width: float,
) -> Flowable:
    """Every fastener in tightening order by every pass, with an empty box for each."""
    # One size for all stands in the line above the table already.
    sized = len({_size_of(pattern.fastener(n)) for n in numbers}) > 1
    renamed = any(n != place for place, n in enumerate(numbers, 1))
    fixed = [50.0 + 46.0 * renamed, *([86.0] if sized else [])]
    each = min(130.0, (width - sum(fixed)) / len(columns))
    # A table that runs over pages says on each of them where it belongs.
    belongs = f"step {address}" if len(numbers) > KEPT_WHOLE else ""
    head: list[object] = [stack((belongs, PASS), (pattern.fastener_word.capitalize(), HEAD))]
    head += [para("Size", HEAD)] if sized else []
    head += [stack(*column) for column in columns]
    body: list[list[object]] = [head]
    for number in numbers:
        fastener = pattern.fastener(number)
        row: list[object] = [para(name_fastener(numbers, number), PLACE)]
        row += [para(_size_of(fastener), CELL)] if sized else []
        row += [TickBox() for _ in columns]
        body.append(row)
    pad = (ROW_HIGH - 15) / 2
    more = [
        ("TOPPADDING", (0, 1), (-1, -1), pad),
        ("BOTTOMPADDING", (0, 1), (-1, -1), pad),
        ("VALIGN", (0, 1), (-1, -1), "MIDDLE"),
    ]
    return rows(body, [*fixed, *([each] * len(columns))], ruled=True, head=True, more=more)


def _size_of(fastener: Fastener) -> str:
    return " × ".join(p for p in (fastener.thread, fastener.length) if p)


def _tell_order(pattern: Pattern, by: str, task: Torque, numbers: Sequence[int]) -> str:
    source = f" ({pattern.order_source.rstrip('.')})" if pattern.order_source else ""
    said = f"{_begin(pattern.seen.rstrip('.'))}. Numbers: place in the order; {by}{source}."
    if any(one.travel == "around" for one in task.schedule):
        ring = [numbers.index(n) + 1 for n in travel(numbers, pattern, "around")]
        said += f" Around: {', '.join(str(n) for n in ring)}."
    return said


def _tell_fasteners(pattern: Pattern) -> str:
    sizes = {_size_of(one) for one in pattern.tightened}
    parts = [
        f"{len(pattern.tightened)} × {pattern.fastener_word}",
        sizes.pop() if len(sizes) == 1 else pattern.thread or "",
        f"class or grade {pattern.grade}" if pattern.grade else "",
        f"thread {pattern.condition}" if pattern.condition else "",
        f"drive {pattern.drive}" if pattern.drive else "",
    ]
    return f"{', '.join(p for p in parts if p)}."


def _tell_remarks(sheet: Sheet, task: Torque, pattern: Pattern) -> list[str]:
    told = _tell_sources(sheet, task)
    for number, one in enumerate(task.schedule, 1):
        if one.note:
            told.append(f"Pass {number}: {one.note}")
        if one.kind == "check":
            told.append(
                f"Pass {number}: trip after trip, until one in which nothing turned. A fastener "
                "that turned gets a T in its box."
            )
    for fastener in pattern.placed:
        if fastener.use != "tighten":
            word = "left loose on purpose" if fastener.use == "leave loose" else "not to be touched"
            note = f": {fastener.note}" if fastener.note else ""
            told.append(f"No. {fastener.number} is {word}{note}.".replace("..", "."))
        elif fastener.note:
            told.append(f"No. {fastener.number}: {fastener.note}")
    return told
