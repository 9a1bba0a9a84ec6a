"""The first page: the machine, what was found, who did it and signed, and how to check it."""

from __future__ import annotations

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable

from shopguide.paper.blocks import (
    BODY,
    BODY_STRONG,
    FIGURE,
    FINDING,
    HAIR,
    LABEL,
    MACHINE,
    RULE,
    SEAL_WIDTH,
    SOFT_TEXT,
    STEP,
    TITLE,
    VERDICT,
    DrawnSignature,
    Rule,
    Seal,
    gap,
    lay_facts,
    para,
    rows,
    stack,
)
from shopguide.paper.contents import Contents
from shopguide.paper.first_page import FirstPage, tidy_hex
from shopguide.paper.inks import HAIRLINE, INK
from shopguide.paper.lettering import width_of

LEAST_TITLE = 19.0


def lay_front(contents: Contents, width: float) -> list[Flowable]:
    """The flowables of the first page; they run on to a second one where there is much to say."""
    first = contents.first
    return [
        para(
            "Rehearsal, made for practice: no record of work done"
            if contents.rehearsal
            else "Record of work, kept by the owner of the machine",
            LABEL,
        ),
        gap(1),
        _lay_title(contents.title, width),
        gap(5),
        para(first.machine, MACHINE),
        gap(8),
        _lay_identity(first, width),
        gap(11),
        *_lay_findings(first, width),
        gap(9),
        Rule(INK, RULE),
        gap(6),
        _lay_work(contents, width),
        gap(6),
        Rule(),
        gap(6),
        _lay_checks(contents, width),
    ]


def _lay_title(title: str, width: float) -> Flowable:
    """The title on one line where it fits in a size that is still a title's, else on several."""
    size = TITLE.fontSize * min(1.0, (width - 2) / width_of(title, TITLE.fontName, TITLE.fontSize))
    if size < LEAST_TITLE:
        size = LEAST_TITLE + 1
    return para(title, ParagraphStyle("title", TITLE, fontSize=size, leading=size * 1.14))


def _lay_identity(first: FirstPage, width: float) -> Flowable:
    """Label above value, side by side between two hairlines."""
    facts = first.identity
    weights = [1.0 if fact.name == "Year" else 2.4 for fact in facts]
    widths = [width * weight / sum(weights) for weight in weights]
    cells = [
        stack((fact.name, LABEL), (fact.text, BODY_STRONG), (fact.note, SOFT_TEXT))
        for fact in facts
    ]
    more = [
        ("LINEABOVE", (0, 0), (-1, 0), HAIR, HAIRLINE),
        ("LINEBELOW", (0, 0), (-1, 0), HAIR, HAIRLINE),
        ("TOPPADDING", (0, 0), (-1, -1), 4),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
    ]
    return rows([cells], widths, more=more)


def _lay_findings(first: FirstPage, width: float) -> list[Flowable]:
    body = []
    for index, finding in enumerate(first.findings):
        style = VERDICT if index == 0 and finding.state is not None else FINDING
        size = 20.0 if style is VERDICT else 16.0
        body.append([Seal(finding.state, finding.whole, size), para(finding.text, style)])
    return [rows(body, [SEAL_WIDTH, width - SEAL_WIDTH])]


def _lay_work(contents: Contents, width: float) -> Flowable:
    """Who, when and with what on the left; statement and signature on the right."""
    first = contents.first
    gutter, right = 22.0, width * 0.45
    left = width - right - gutter
    signature: list[Flowable] = [para(first.statement, BODY), gap(4)]
    if first.signing is None:
        signature.append(para("Not signed off: this is a draft.", STEP))
    else:
        if first.signing.strokes:
            signature.append(DrawnSignature(first.signing.strokes, right))
        else:
            signature += [gap(3), para("Signed without a drawn signature", SOFT_TEXT)]
        signature.append(para(f"{first.signing.name}, {first.signing.when}", BODY_STRONG))
    more = [
        ("TOPPADDING", (0, 0), (-1, -1), 0),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        ("RIGHTPADDING", (0, 0), (0, 0), gutter),
    ]
    facts = [
        lay_facts([(f.name, f.text, f.note) for f in first.work], left),
        gap(2),
        para(first.times_note, SOFT_TEXT),
    ]
    return rows([[facts, signature]], [left + gutter, right], more=more)


def _lay_checks(contents: Contents, width: float) -> Flowable:
    first = contents.first
    fingerprint = first.fingerprint or "this copy is not signed with a key"
    label = 108.0
    body = [
        [para("Fingerprint of the key:", LABEL), para(fingerprint, FIGURE)],
        [para("Head of the record:", LABEL), para(tidy_hex(first.head), FIGURE)],
        [
            para("How to check:", LABEL),
            stack((first.how_to_check, BODY), (first.what_it_means, SOFT_TEXT)),
        ],
    ]
    more = [("TOPPADDING", (0, 0), (-1, -1), 0.5), ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5)]
    return rows(body, [label, width - label], more=more)
