"""The torqued joints on paper: one line that says it, the diagram, and the table to check it by."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, PageBreak

from shopguide.bolts.heads import HeadState
from shopguide.paper.blocks import (
    BODY,
    CELL,
    HEAD,
    HEAD_SOFT,
    PART,
    SEAL_WIDTH,
    SOFT_END,
    SOFT_TEXT,
    STRONG,
    VERDICT,
    Bookmark,
    Seal,
    cell,
    gap,
    lay_facts,
    lay_section,
    para,
    rows,
    stack,
)
from shopguide.paper.bolt_drawing import BoltDrawing, HeadMark
from shopguide.paper.contents import Contents
from shopguide.paper.inks import SOFT
from shopguide.paper.lettering import width_of
from shopguide.paper.torque_table import SingleRow, TorquePart

MOST_TRIPS = 5
"""Passes or trips side by side in one table; more go into a further table below."""
FEW = 8
"""Joints up to this many fasteners have a small diagram, with what is known beside it."""
KEPT_WHOLE = 20
"""Tables up to this many rows stay on one page with their diagram where they fit."""


LEAST_DRAWING = 170.0
"""The diagram of a joint is never shrunk below this height in points."""


def lay_torques(contents: Contents, width: float, height: float) -> list[Flowable]:
    """Each joint with its diagram and its table, then what was torqued singly."""
    if not contents.torques and not contents.singles:
        return []
    flow: list[Flowable] = [PageBreak()]
    above = lay_section("Torque, fastener by fastener", "torque")
    parts = sorted(contents.torques, key=lambda p: -len(p.rows) * max(1, len(p.columns)))
    for index, part in enumerate(parts):
        flow += _lay_torque(part, index, width, height, above)
        above = []
    if contents.singles:
        flow += _lay_singles(contents.singles, width, above)
    return flow


def _lay_torque(
    part: TorquePart, index: int, width: float, height: float, above: list[Flowable]
) -> list[Flowable]:
    """One joint, under the headings that come right above it and never stand alone."""
    few = len(part.rows) <= FEW
    whole = len(part.rows) <= KEPT_WHOLE
    # A joint, its line and its table of some sixteen rows stand on one page, A4 or Letter.
    tallest = height * 0.2 if few else height - 470.0 if whole else height * 0.48
    tables: list[Flowable] = [gap(6)]
    for first in range(0, max(1, len(part.columns)), MOST_TRIPS):
        tables += [_lay_table(part, first, width), gap(5)]
    top = _lay_top(part, index, width, tallest, above)
    over = sum(one.wrap(width, height)[1] for one in (*top, *tables)) - height
    if whole and not few and 0 < over <= tallest - LEAST_DRAWING:
        # The diagram gives way, so that the last rows do not stand alone on the next page.
        top = _lay_top(part, index, width, tallest - over - 1, above)
        over = 0.0
    if whole and over <= 0:
        flow: list[Flowable] = [KeepTogether([*top, *tables])]
    else:
        flow = [KeepTogether(top), *tables]
    for remark in part.remarks:
        body = [[Seal(None, False, 12), para(remark, BODY)]]
        flow.append(rows(body, [SEAL_WIDTH, width - SEAL_WIDTH]))
    for left in part.left:
        word = {"do not touch": "not to be touched", "leave loose": "left loose on purpose"}
        said = f"{left.name}: {word[left.use]}" + (f". {left.note}" if left.note else ".")
        flow.append(para(said, BODY))
    return flow


def _lay_top(
    part: TorquePart, index: int, width: float, tallest: float, above: list[Flowable]
) -> list[Flowable]:
    """What stands above a joint's table: headings, verdict, diagram and facts."""
    few = len(part.rows) <= FEW
    wide = width * 0.6 if few else width
    drawing = BoltDrawing(part.pattern, part.order, part.states, wide, part.middle, tallest)
    drawing.hAlign = "LEFT"
    seen = f"{part.pattern.seen[0].upper()}{part.pattern.seen[1:].rstrip('.')}."
    top: list[Flowable] = [
        *above,
        gap(12 if index else 2),
        Bookmark(f"torque-{index}", part.title, 1),
        rows(
            [[para(part.title, PART), para(f"step {part.step}", SOFT_END)]],
            [width * 0.8, width * 0.2],
        ),
        rows(
            [[Seal(_share_state(part), part.whole, 19), para(part.sentence, VERDICT)]],
            [SEAL_WIDTH, width - SEAL_WIDTH],
        ),
        gap(4),
    ]
    if few:
        right = width - wide - 16
        side = [para(f"{seen} {_tell_legend(part, drawing)}", SOFT_TEXT), gap(4)]
        side.append(lay_facts(part.facts, right, 44.0))
        top.append(rows([[drawing, side]], [wide + 16, right]))
    else:
        top += [drawing, gap(3), para(f"{seen} {_tell_legend(part, drawing)}", SOFT_TEXT)]
        top += [gap(4), lay_facts(part.facts, width, 52.0)]
    return top


def _share_state(part: TorquePart) -> HeadState:
    """The strokes that every head of the joint has."""
    states = list(part.states.values())
    least = min(states, key=lambda s: (len(s.strokes), sum(s.strokes)), default=HeadState())
    return HeadState(least.strokes, all(s.snug for s in states), all(s.done for s in states))


def _tell_legend(part: TorquePart, drawing: BoltDrawing) -> str:
    """What the marks of this diagram mean; only those that are in it."""
    states = part.states.values()
    uses = {f.use for f in part.pattern.placed}
    said = [drawing.tell_numbers()]
    if any(s.strokes for s in states):
        said.append("A stroke across a head: torqued.")
    if any(False in s.strokes for s in states):
        said.append("A hollow stroke: backed off since.")
    if any(s.snug for s in states):
        said.append("A dot: snug.")
    if any(s.departed for s in states):
        said.append("A pennant: departs from the sheet.")
    if "do not touch" in uses:
        said.append("A bar with stops: not to be touched.")
    if "leave loose" in uses:
        said.append("An open ring: left loose on purpose.")
    return " ".join(said)


def _lay_table(part: TorquePart, first: int, width: float) -> Flowable:
    """Fastener by pass; the last column says how often each was torqued."""
    columns = part.columns[first : first + MOST_TRIPS]
    sized = any(row.size for row in part.rows)
    fixed = [24.0, _widest([part.word, *(row.place for row in part.rows)], 70.0)]
    if sized:
        fixed.append(_widest(["Size", *(row.size for row in part.rows)], 130.0))
    fixed.append(52.0)
    each = min(170.0, (width - sum(fixed)) / max(1, len(columns)))
    widths = [*fixed[:-1], *([each] * len(columns)), fixed[-1]]
    head: list[object] = ["", para(part.word.capitalize(), HEAD)]
    if sized:
        head.append(para("Size", HEAD))
    for column in columns:
        name, *lines = column.lines
        head.append(stack((name, HEAD), *((line, HEAD_SOFT) for line in lines)))
    head.append(para(part.tally, HEAD))
    body: list[list[object]] = [head]
    offset = 3 if sized else 2
    more: list[tuple] = [
        ("TOPPADDING", (0, 1), (-1, -1), 1.5),
        ("BOTTOMPADDING", (0, 1), (-1, -1), 2.4),
        ("TOPPADDING", (0, 1), (0, -1), 1.0),
        ("BOTTOMPADDING", (0, 1), (0, -1), 0.4),
    ]
    for number, row in enumerate(part.rows, 1):
        line: list[object] = [HeadMark(row.state, 12.5), cell(row.place)]
        if sized:
            line.append(cell(row.size))
        for place, one in enumerate(row.cells[first : first + MOST_TRIPS], offset):
            if one.time and one.more:
                line.append(stack((one.time, CELL), (one.more, HEAD_SOFT)))
            else:
                line.append(one.time or "no mark")
            if not one.time:
                more.append(("TEXTCOLOR", (place, number), (place, number), SOFT))
        line.append(row.tally)
        body.append(line)
        done, _, of = row.tally.partition(" of ")
        if done != of:
            more.append(("FONTNAME", (-1, number), (-1, number), STRONG))
    return rows(body, widths, ruled=True, head=True, more=more)


def _widest(texts: Sequence[str], most: float) -> float:
    """The width that a column of these texts needs, in points."""
    return min(most, max(width_of(text, CELL.fontName, CELL.fontSize) for text in texts) + 18.0)


def _lay_singles(
    singles: Sequence[SingleRow], width: float, above: list[Flowable]
) -> list[Flowable]:
    shares = (0.28, 0.07, 0.15, 0.18, 0.2, 0.12)
    widths = [24.0, *((width - 24) * share for share in shares)]
    names = ("Fastener", "Step", "Target", "Time", "Wrench", "Reading")
    body: list[list[object]] = [["", *(para(name, HEAD) for name in names)]]
    for row in singles:
        name = f"{row.name}, {row.deed}" if row.deed else row.name
        body.append(
            [
                HeadMark(row.state, 12.5),
                stack((name, CELL), (row.remark, HEAD_SOFT)),
                str(row.step),
                para(row.target, CELL),
                para(row.time or "no mark", CELL),
                para(row.wrench or ("not given" if row.time else ""), CELL),
                para(row.reading or ("none" if row.time else ""), CELL),
            ]
        )
    table = rows(body, widths, ruled=True, head=True)
    top = [
        *above,
        gap(12),
        Bookmark("torque-singly", "Torqued singly", 1),
        para("Torqued singly", PART),
        gap(2),
    ]
    if len(body) <= KEPT_WHOLE:
        return [KeepTogether([*top, table])]
    return [CondPageBreak(120), *top, table]
