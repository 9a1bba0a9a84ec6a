"""The pages around the work: parts and values, cautions, what stays open, and how to check."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, KeepTogether

from shopguide.paper.blocks import (
    BODY,
    BODY_STRONG,
    CELL,
    HEAD,
    SOFT_TEXT,
    gap,
    lay_facts,
    lay_section,
    para,
    rows,
    stack,
)
from shopguide.paper.contents import Contents
from shopguide.paper.first_page import tidy_hex
from shopguide.paper.step_pages import lay_cautions as lay_caution_rows
from shopguide.paper.steps import ListLine
from shopguide.paper.values import ValueLine

# --- cautions, parts, values --------------------------------------------------------------------


def lay_cautions(contents: Contents, width: float) -> list[Flowable]:
    """The cautions of the whole job, each with when it was read."""
    if not contents.cautions:
        return []
    return [
        *lay_section("Cautions of the job", "cautions"),
        lay_caution_rows(contents.cautions, width),
    ]


def lay_materials(contents: Contents, width: float) -> list[Flowable]:
    """Parts, fluids, measurements and supplies."""
    flow: list[Flowable] = []
    if contents.parts:
        said = "What was laid out before work. That it was fitted is told by the steps."
        flow += [*lay_section("Parts", "parts"), para(said, SOFT_TEXT), gap(3)]
        flow.append(_lay_parts(contents, width))
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
        kind = "single-use: a new one is asked for" if part.single_use else ""
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
        first = [(line.note, SOFT_TEXT), (line.name[:1].upper() + line.name[1:], BODY)]
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
        *((line.name, line.text) for line in contents.sheet_facts),
        ("Written with", contents.program),
        ("Fingerprint of the key", first.fingerprint or "this copy is not signed with a key"),
        ("Head of the record", tidy_hex(first.head)),
    ]
    said = (
        "The record's own data is attached to this PDF as record.json: every entry with its time, "
        "each tied to the one before it, up to the head."
    )
    block = [lay_facts(facts, width, 120.0), gap(4), para(said, BODY), gap(2)]
    block.append(para(f"{first.how_to_check} {first.what_it_means}", BODY))
    heading = lay_section("Where this record comes from, and how to check it", "check")
    return [KeepTogether([*heading, *block])]
