"""What the tests of the paper share: keys, drawn pages, and a small signed paper."""

from __future__ import annotations

import hashlib
import io
import textwrap
from datetime import UTC, datetime
from types import SimpleNamespace

import pytest
from reportlab.lib.pagesizes import A4
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.pdfgen.canvas import Canvas

from shopguide.paper.archive import make_archival
from shopguide.paper.identity import throwaway_identity
from shopguide.paper.sign import sign_paper
from shopguide.places import find_resource
from shopguide.work import chain

MAY = datetime(2031, 5, 4, 9, 30, 15, tzinfo=UTC)
FONT = "ShopguideTestSans"


def draw_pages(lines, font=FONT, link=False):
    """A two-page PDF of these lines, its font embedded."""
    pdfmetrics.registerFont(TTFont(FONT, str(find_resource("fonts", "DejaVuSans.ttf"))))
    target = io.BytesIO()
    canvas = Canvas(target, pagesize=A4, initialFontName=FONT, invariant=1, lang="en")
    for start in (0, len(lines) // 2):
        canvas.setFont(font, 11)
        for row, line in enumerate(lines[start : start + max(1, len(lines) // 2)]):
            canvas.drawString(60, 780 - 16 * row, line)
        if link:
            canvas.linkURL("urn:x-shopguide:test", (60, 60, 200, 80))
        canvas.showPage()
    canvas.save()
    return target.getvalue()


def link_events(count=20, prev=chain.GENESIS):
    """Rows of a record whose chain holds."""
    rows = []
    for seq in range(1, count + 1):
        at = f"2031-05-04T09:{seq % 60:02d}:00.000Z"
        kind = "begun" if seq == 1 else "mark"
        data = {"title": "Cover"} if seq == 1 else {"fastener": seq - 1, "target": "9 N·m"}
        known = chain.link(seq, prev, at, kind, data)
        row = {"seq": seq, "prev": prev, "at": at, "kind": kind, "data": data, "hash": known}
        rows.append(row)
        prev = known
    return rows


def write_record(rows, head=None, rehearsal=False):
    """The attached record.json of these rows."""
    return chain.canonical(
        {
            "format": "shopguide-record/1",
            "rehearsal": rehearsal,
            "head": rows[-1]["hash"] if head is None else head,
            "events": rows,
            "sheet": {"title": "Cover", "x_mm": 12.5},
            "photos": [],
        }
    )


def print_head(head):
    """The lines that show the head on the page, broken as a narrow column breaks them."""
    groups = " ".join(head[at : at + 4] for at in range(0, len(head), 4))
    return textwrap.wrap(f"Head of the record: {groups}", 60)


def make_paper(record, head, printed=None, extra=None, attach=True):
    """An archival, unsigned paper that names `head` in its metadata and on the page."""
    lines = ["Gearbox sump cover", "Odometer 81 204 km", *print_head(printed or head), "✓ 16 of 16"]
    known = {"recordHead": head, "recordSha256": hashlib.sha256(record).hexdigest()}
    return make_archival(
        draw_pages(["Page one", *lines, "Page two", *["…"] * len(lines)]),
        title="Gearbox sump cover <renewed> & tested",
        author="Edda Lint",
        subject="Record of work done",
        created=MAY,
        attachments=[("record.json", record, "application/json", "The record itself, as data")]
        if attach
        else [],
        xmp_extra={**known, **(extra or {})},
    )


@pytest.fixture(scope="session")
def papers():
    """The makers above, for tests that need another paper than the usual one."""
    return SimpleNamespace(
        MAY=MAY,
        draw_pages=draw_pages,
        link_events=link_events,
        write_record=write_record,
        make_paper=make_paper,
    )


@pytest.fixture(scope="session")
def edda():
    return throwaway_identity("Edda Lint")


@pytest.fixture(scope="session")
def mallory():
    """Another key under the same name."""
    return throwaway_identity("Edda Lint")


@pytest.fixture(scope="session")
def rows():
    return link_events()


@pytest.fixture(scope="session")
def unsigned(rows):
    return make_paper(write_record(rows), rows[-1]["hash"])


@pytest.fixture(scope="session")
def signed(unsigned, edda):
    return sign_paper(unsigned, edda, reason="I did this work", signed_at=MAY)
