"""The pages after the first: joints, parts and values, the work step by step, what stays open."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether

from shopguide.paper.blocks import (
    BODY,
    BODY_STRONG,
    CELL,
    FIGURE,
    FIGURE_END,
    HEAD,
    HEAD_SOFT,
    LABEL,
    PART,
    RULE,
    SECTION,
    SOFT_END,
    SOFT_TEXT,
    STEP,
    STRONG,
    VERDICT,
    Bookmark,
    Rule,
    Seal,
    SignalWord,
    cell,
    gap,
    para,
    rows,
    stack,
)
from shopguide.paper.bolt_drawing import BoltDrawing, HeadMark
from shopguide.paper.contents import (
    CautionLine,
    Contents,
    ListLine,
    StepPart,
    TaskLine,
    ValueLine,
)
from shopguide.paper.first_page import Fact, tidy_hex
from shopguide.paper.front import SEAL_WIDTH, lay_facts
from shopguide.paper.inks import INK, SOFT
from shopguide.paper.photos import Darkroom, PhotoRow
from shopguide.paper.torque_table import SingleRow, TorquePart

MOST_TRIPS = 5
"""Passes or trips side by side in one table; more go into a further table below."""
LEGEND = (
    "A solid stroke across a head is a pass that holds; a hollow one was backed off since; the next "
    "pass crosses it. A dot beside a head: snug. A pennant: it departs from the sheet. "
    "A bar with stops: not to be touched. An open ring: left loose on purpose."
)


def lay_section(title: str, key: str) -> list[Flowable]:
    """The heading of a section, never left alone at the foot of a page."""
    heading = para(title, SECTION)
    heading.keepWithNext = 1
    return [
        CondPageBreak(130),
        gap(14),
        Rule(INK, RULE),
        gap(5),
        Bookmark(key, title),
        heading,
        gap(3),
    ]


def _lay_part(title: str, right: str, width: float) -> Flowable:
    return rows([[para(title, PART), para(right, SOFT_END)]], [width * 0.72, width * 0.28])


# --- torque -------------------------------------------------------------------------------------


def lay_torques(contents: Contents, width: float) -> list[Flowable]:
    """Each joint with its diagram and its table, then what was torqued singly."""
    if not contents.torques and not contents.singles:
        return []
    flow = lay_section("Torque, fastener by fastener", "torque")
    parts = sorted(contents.torques, key=lambda p: -len(p.rows) * max(1, len(p.columns)))
    for index, part in enumerate(parts):
        flow += _lay_torque(part, index, width)
    if contents.singles:
        flow += _lay_singles(contents.singles, width)
    return flow


def _lay_torque(part: TorquePart, index: int, width: float) -> list[Flowable]:
    drawing_width = min(width, 470.0)
    few = len(part.rows) <= 8
    if few:
        drawing_width = width * 0.62
    tallest = 190.0 if few else 300.0
    drawing = BoltDrawing(
        part.pattern, part.order, part.states, drawing_width, part.middle, tallest
    )
    drawing.hAlign = "LEFT"
    facts = tuple(Fact(name, text) for name, text in part.facts)
    top: list[Flowable] = [
        gap(10 if index else 4),
        Bookmark(f"torque-{index}", part.title, 1),
        _lay_part(part.title, f"step {part.step}", width),
        gap(1),
        rows(
            [[Seal(_seal(part), part.whole, 17), para(part.sentence, VERDICT)]],
            [SEAL_WIDTH, width - SEAL_WIDTH],
        ),
        gap(4),
    ]
    side = [para(part.pattern.seen.capitalize() + ".", SOFT_TEXT), gap(3)]
    if few:
        right = width - drawing_width - 16
        side += [lay_facts(facts, right, 46.0)]
        top.append(rows([[drawing, side]], [drawing_width + 16, right]))
    else:
        top += [drawing, gap(2), para(f"{part.pattern.seen.capitalize()}. {LEGEND}", SOFT_TEXT)]
        top += [gap(4), lay_facts(facts, width, 52.0)]
    flow: list[Flowable] = [KeepTogether(top), gap(5)]
    for first in range(0, max(1, len(part.columns)), MOST_TRIPS):
        flow += [_lay_table(part, first, width), gap(4)]
    for remark in part.remarks:
        flow.append(
            rows([[Seal(None, False, 11), para(remark, BODY)]], [SEAL_WIDTH, width - SEAL_WIDTH])
        )
    for left in part.left:
        said = f"{left.name}: {left.use}" + (f". {left.note}" if left.note else "")
        flow.append(para(said, BODY))
    return flow


def _seal(part: TorquePart):
    from shopguide.bolts.heads import HeadState

    states = list(part.states.values())
    least = min(states, key=lambda s: (len(s.strokes), sum(s.strokes)), default=HeadState())
    return HeadState(least.strokes, all(s.snug for s in states), all(s.done for s in states))


def _lay_table(part: TorquePart, first: int, width: float) -> Flowable:
    """Fastener by pass; the last column says how often each was torqued."""
    columns = part.columns[first : first + MOST_TRIPS]
    sized = any(row.size for row in part.rows)
    long_names = any(len(row.place) > 4 for row in part.rows)
    fixed = [20.0, 66.0 if long_names else 40.0, *([72.0] if sized else []), 52.0]
    each = (width - sum(fixed)) / max(1, len(columns))
    widths = [*fixed[:-1], *([each] * len(columns)), fixed[-1]]
    head: list[object] = ["", para(part.kind.capitalize(), HEAD)]
    if sized:
        head.append(para("Size", HEAD))
    for column in columns:
        name, *lines = column.lines
        head.append(stack((name, HEAD), *((line, HEAD_SOFT) for line in lines)))
    head.append(para("Torqued", HEAD))
    body: list[list[object]] = [head]
    for row in part.rows:
        line: list[object] = [HeadMark(row.state, 11.5), cell(row.place)]
        if sized:
            line.append(cell(row.size))
        for one in row.cells[first : first + MOST_TRIPS]:
            if not one.time:
                line.append("no mark")
            elif one.more:
                line.append(stack((one.time, CELL), (one.more, HEAD_SOFT)))
            else:
                line.append(one.time)
        line.append(row.tally)
        body.append(line)
    more: list[tuple] = [
        ("TOPPADDING", (0, 1), (-1, -1), 1.6),
        ("BOTTOMPADDING", (0, 1), (-1, -1), 2.4),
        ("TOPPADDING", (0, 1), (0, -1), 1.2),
        ("BOTTOMPADDING", (0, 1), (0, -1), 0.6),
    ]
    offset = 3 if sized else 2
    for number, row in enumerate(part.rows, 1):
        for place, one in enumerate(row.cells[first : first + MOST_TRIPS]):
            if not one.time:
                more.append(("TEXTCOLOR", (offset + place, number), (offset + place, number), SOFT))
        done, _, of = row.tally.partition(" of ")
        if done != of:
            more.append(("FONTNAME", (-1, number), (-1, number), STRONG))
    return rows(body, widths, ruled=True, head=True, more=more)


def _lay_singles(singles: Sequence[SingleRow], width: float) -> list[Flowable]:
    shares = (0.28, 0.07, 0.15, 0.17, 0.18, 0.15)
    widths = [20.0, *((width - 20) * share for share in shares)]
    names = ("Fastener", "Step", "Target", "Time", "Wrench", "Reading")
    body: list[list[object]] = [["", *(para(name, HEAD) for name in names)]]
    for row in singles:
        name = f"{row.name}, {row.deed}" if row.deed else row.name
        body.append(
            [
                HeadMark(row.state, 11.5),
                stack((name, CELL), (row.remark, HEAD_SOFT)),
                str(row.step),
                cell(row.target),
                cell(row.time) if row.time else "no mark",
                para(row.wrench or "not given", CELL),
                cell(row.reading or "none"),
            ]
        )
    heading = para("Torqued singly", PART)
    heading.keepWithNext = 1
    table = rows(body, widths, ruled=True, head=True)
    top = [gap(10), Bookmark("torque-singly", "Torqued singly", 1), heading, gap(2)]
    return [KeepTogether([*top, table])] if len(body) < 24 else [CondPageBreak(90), *top, table]


# --- cautions, parts, values --------------------------------------------------------------------


def lay_cautions(contents: Contents, width: float) -> list[Flowable]:
    """The cautions of the whole job, each with when it was read."""
    if not contents.cautions:
        return []
    return [
        *lay_section("Cautions of the job", "cautions"),
        _lay_cautions(contents.cautions, width),
    ]


def _lay_cautions(cautions: Sequence[CautionLine], width: float, full: bool = True) -> Flowable:
    body = []
    for caution in cautions:
        said = [caution.hazard]
        if full:
            said += [caution.consequence, caution.avoid]
        text = " ".join(part.strip() for part in said if part.strip())
        style = BODY if full else SOFT_TEXT
        read = caution.read or ("" if not full else "")
        body.append([SignalWord(caution.signal), stack((text, style), (read, SOFT_TEXT))])
    return rows(body, [76, width - 76])


def lay_materials(contents: Contents, width: float) -> list[Flowable]:
    """Parts, fluids, measurements and supplies."""
    flow: list[Flowable] = []
    if contents.parts:
        flow += [*lay_section("Parts", "parts"), _lay_parts(contents, width)]
    if contents.fluids or contents.measurements:
        flow += lay_section("Fluids and measurements", "values")
        flow.append(_lay_values((*contents.fluids, *contents.measurements), width))
    if contents.supplies:
        flow += lay_section("Supplies", "supplies")
        said = "; ".join(
            f"{line.name}" + (f", {line.text}" if line.text else "") for line in contents.supplies
        )
        flow.append(para(f"{said}.", BODY))
    return flow


def _lay_parts(contents: Contents, width: float) -> Flowable:
    priced = any(part.price for part in contents.parts)
    shares = (0.44, 0.2, 0.2, 0.16) if priced else (0.5, 0.22, 0.28)
    names = ["Part", "Number", "Before work", *(["Price"] if priced else [])]
    body: list[list[object]] = [[para(name, HEAD) for name in names]]
    for part in contents.parts:
        count = f"{part.quantity} × " if part.quantity > 1 else ""
        kind = "single-use: must be new" if part.single_use else ""
        under = ". ".join(p.rstrip(".") for p in (kind, part.note) if p)
        line: list[object] = [
            stack((f"{count}{part.name}", BODY), (under, SOFT_TEXT)),
            para(part.number or "not given", CELL),
            para("laid out" if part.laid_out else "not ticked", CELL),
        ]
        if priced:
            line.append(para(part.price or "not given", CELL))
        body.append(line)
    return rows(body, [width * share for share in shares], ruled=True, head=True)


def _lay_values(lines: Sequence[ValueLine], width: float) -> Flowable:
    shares = (0.3, 0.3, 0.2, 0.2)
    names = ("What", "Asked for", "Recorded", "When")
    body: list[list[object]] = [[para(name, HEAD) for name in names]]
    for line in lines:
        step = f"step {line.task.split('.')[0]}"
        body.append(
            [
                stack((line.what, BODY)),
                stack((line.asked or "no figure", SOFT_TEXT)),
                stack((line.value, BODY_STRONG), (line.converted, SOFT_TEXT)),
                stack((line.time, SOFT_TEXT), (step, SOFT_TEXT)),
            ]
        )
        if line.note:
            body[-1][0] = stack((line.what, BODY), (f"Departure: {line.note}", SOFT_TEXT))
    return rows(body, [width * share for share in shares], ruled=True, head=True)


# --- the work -----------------------------------------------------------------------------------


def lay_work(contents: Contents, width: float, darkroom: Darkroom) -> list[Flowable]:
    """Stage by stage, step by step, task by task."""
    flow = lay_section("The work, step by step", "work")
    for index, stage in enumerate(contents.stages):
        heading = para(stage.title, PART)
        heading.keepWithNext = 1
        flow += [CondPageBreak(110), gap(6), Bookmark(f"stage-{index}", stage.title, 1), heading]
        for step in stage.steps:
            flow += _lay_step(step, width, darkroom)
    return flow


NUMBER = 34.0


def _lay_step(step: StepPart, width: float, darkroom: Darkroom) -> list[Flowable]:
    inner = width - NUMBER
    title = rows(
        [[para(str(step.number), STEP), para(step.title, STEP), para(step.when, SOFT_END)]],
        [NUMBER, inner - 170, 170],
    )
    top: list[Flowable] = [gap(5), Rule(), gap(1), title]
    if step.cautions:
        cautions = _lay_cautions(step.cautions, inner, full=False)
        top.append(_indent(cautions, width))
    tasks = _lay_tasks(step.tasks, width)
    if len(step.tasks) <= 8:
        flow: list[Flowable] = [KeepTogether([*top, tasks])]
    else:
        flow = [CondPageBreak(110), *top, tasks]
    for note in step.notes:
        flow += _lay_note(note, width)
    flow += _lay_photos(step, width, darkroom)
    return flow


def _indent(flowable: Flowable, width: float) -> Flowable:
    more = [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
    return rows([["", flowable]], [NUMBER, width - NUMBER], more=more)


def _lay_tasks(tasks: Sequence[TaskLine], width: float) -> Flowable:
    inner = width - NUMBER
    widths = [NUMBER, inner - 158, 118, 40]
    body: list[list[object]] = []
    for task in tasks:
        plain = task.state == "done" and not task.remark
        said = [(task.text, BODY), (task.spec, SOFT_TEXT), (task.note, SOFT_TEXT)]
        if task.remark:
            said.append((task.remark, BODY_STRONG))
        body.append(
            [
                para(task.address, LABEL),
                stack(*said),
                para(task.outcome, BODY if plain else BODY_STRONG),
                para(task.time, FIGURE_END) if task.time else "",
            ]
        )
    more = [("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
    return rows(body, widths, more=more)


def _lay_note(note: ListLine, width: float) -> list[Flowable]:
    """A note of the owner's: a paragraph of its own, for it may be long."""
    from reportlab.lib.styles import ParagraphStyle

    style = ParagraphStyle("note", parent=BODY, leftIndent=NUMBER, spaceBefore=2, spaceAfter=1)
    label = ParagraphStyle("note label", parent=SOFT_TEXT, leftIndent=NUMBER, keepWithNext=1)
    return [gap(2), para(f"{note.name}, {note.time}", label), para(note.text, style)]


def _lay_photos(step: StepPart, width: float, darkroom: Darkroom) -> list[Flowable]:
    """Own photos two in a row; the sheet's pictures, which show no work done, three in a row."""
    flow: list[Flowable] = []
    for own, columns, steep in ((True, 2, 0.75), (False, 3, 0.75)):
        lines = [photo for photo in step.photos if bool(photo.taken) == own]
        prints = [darkroom.develop(line) for line in lines]
        for index in range(0, len(prints), columns):
            row = PhotoRow(prints[index : index + columns], columns, width - NUMBER, steep)
            said = (
                "Photos taken during the work"
                if own
                else "Pictures of the job sheet, to show what to do"
            )
            block: list[Flowable] = [gap(5)]
            if index == 0:
                block += [_indent(para(said, SOFT_TEXT), width), gap(2)]
            flow.append(KeepTogether([*block, _indent(row, width)]))
    return flow


# --- what stays -----------------------------------------------------------------------------------


def lay_rest(contents: Contents, width: float) -> list[Flowable]:
    """Departures, open items, follow-ups, what was taken back, and how to check all of it."""
    flow: list[Flowable] = lay_section("Departures from the sheet", "departures")
    if contents.departures:
        flow.append(
            _lay_list(contents.departures, ("Where and what", "Reason", "When"), width, True)
        )
    else:
        flow.append(para("None is recorded.", BODY))
    flow += lay_section("Taken apart and put back", "items")
    if contents.items:
        flow.append(_lay_items(contents.items, width))
    else:
        flow.append(para("Nothing is recorded as taken apart.", BODY))
    if contents.follow_ups:
        flow += lay_section("To be done again", "follow-ups")
        body: list[list[object]] = [[para("What", HEAD), para("When", HEAD)]]
        body += [
            [stack((line.name, BODY), (line.note, SOFT_TEXT)), para(line.text, BODY)]
            for line in contents.follow_ups
        ]
        flow.append(rows(body, [width * 0.68, width * 0.32], ruled=True, head=True))
    if contents.taken_back or contents.entered_anew:
        flow += lay_section("Taken back or entered anew", "taken-back")
        flow += [
            para(
                "Nothing is ever deleted from the record; what was taken back stays in it.",
                SOFT_TEXT,
            ),
            gap(3),
            _lay_list(
                (*contents.taken_back, *contents.entered_anew),
                ("Entry", "Before", "Taken back or changed"),
                width,
                False,
            ),
        ]
    return [*flow, *_lay_last(contents, width)]


def _lay_list(
    lines: Sequence[ListLine], names: tuple[str, str, str], width: float, with_where: bool
) -> Flowable:
    body: list[list[object]] = [[para(name, HEAD) for name in names]]
    for line in lines:
        first = [(line.note, SOFT_TEXT), (line.name, BODY)]
        body.append(
            [
                stack(*(first if with_where else reversed(first))),
                para(line.text or "no reason given", BODY if with_where else SOFT_TEXT),
                para(line.time, SOFT_TEXT),
            ]
        )
    return rows(body, [width * s for s in (0.46, 0.34, 0.2)], ruled=True, head=True)


def _lay_items(items: Sequence[ListLine], width: float) -> Flowable:
    body: list[list[object]] = [[para(n, HEAD) for n in ("Item", "Taken apart", "Put back")]]
    for line in items:
        closed = line.time == "closed"
        body.append(
            [
                para(line.name, BODY if closed else BODY_STRONG),
                para(line.text, SOFT_TEXT),
                para(line.note, SOFT_TEXT if closed else BODY_STRONG),
            ]
        )
    return rows(body, [width * s for s in (0.34, 0.33, 0.33)], ruled=True, head=True)


def _lay_last(contents: Contents, width: float) -> list[Flowable]:
    first = contents.first
    facts = [
        *(Fact(line.name, line.text) for line in contents.sheet_facts),
        Fact("Written with", contents.program),
        Fact("Fingerprint of the key", first.fingerprint or "this copy is not signed with a key"),
        Fact("Head of the record", tidy_hex(first.head)),
    ]
    said = (
        "The record's own data is attached to this PDF as record.json: every entry with its time, "
        "each tied to the one before it, up to the head."
    )
    block = [lay_facts(tuple(facts), width, 120.0), gap(4), para(said, BODY), gap(2)]
    block.append(para(f"{first.how_to_check} {first.what_it_means}", BODY))
    return [
        *lay_section("Where this record comes from, and how to check it", "check"),
        KeepTogether(block),
    ]


__all__ = ["FIGURE", "lay_cautions", "lay_materials", "lay_rest", "lay_torques", "lay_work"]
