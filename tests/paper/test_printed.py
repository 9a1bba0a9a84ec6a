"""The head read back from the pages: as drawn, in any kind of font, whatever the line breaks."""

from __future__ import annotations

import io

import pikepdf
import pytest
from pikepdf import Array, Dictionary, Name
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph, SimpleDocTemplate, Table

from shopguide.paper.printed import read_printed_heads

HEAD = "0123456789abcdef" * 4
GROUPS = " ".join(HEAD[at : at + 8] for at in range(0, 64, 8))


def read(pdf):
    with pikepdf.open(io.BytesIO(pdf)) as document:
        return read_printed_heads(document)


def draw(content, fonts):
    """A one-page PDF of this content stream."""
    document = pikepdf.new()
    page = document.add_blank_page()
    page.obj.Resources = Dictionary(Font=Dictionary())
    for name, font in fonts.items():
        font = dict(font)
        if "/ToUnicode" in font:
            font["/ToUnicode"] = document.make_stream(font["/ToUnicode"])
        page.obj.Resources.Font[name] = Dictionary(font)
    page.obj.Contents = document.make_stream(content)
    target = io.BytesIO()
    document.save(target)
    return target.getvalue()


@pytest.mark.parametrize("width", [460, 200, 110])
@pytest.mark.parametrize("font", ["embedded", "Helvetica"])
def test_a_head_in_a_paragraph_is_found_however_it_is_broken(papers, width, font):
    papers.draw_pages(["registers the font"])
    style = ParagraphStyle("plain", fontName=font.replace("embedded", "ShopguideTestSans"))
    target = io.BytesIO()
    cell = Paragraph(f"Head of the record: {GROUPS}", style)
    below = Paragraph("9 N·m and 0123 more", style)
    SimpleDocTemplate(target).build([Table([[cell], [below]], colWidths=[width])])
    assert read(target.getvalue()) == {HEAD}


def test_label_and_head_may_stand_in_two_cells(papers):
    target = io.BytesIO()
    SimpleDocTemplate(target).build([Table([["Head of the record", GROUPS.upper()]])])
    assert read(target.getvalue()) == {HEAD}


def test_every_head_is_told(papers):
    other = "f" * 64
    lines = [f"Head of the record: {HEAD}", "x", f"Head of the record: {other}", "y"]
    assert read(papers.draw_pages(lines)) == {HEAD, other}


@pytest.mark.parametrize(
    "line",
    [
        "Head of the record 01234567…",
        f"Head of another thing: {HEAD}",
        f"Head of the record: {HEAD[:-1]}",
        f"Head of the record: {HEAD[:-1]}g",
    ],
)
def test_what_is_no_whole_head_is_not_found(papers, line):
    assert read(papers.draw_pages([line, line])) == set()


def test_fonts_of_two_bytes_a_letter_are_read():
    table = (
        b"1 begincodespacerange <0000> <ffff> endcodespacerange\n"
        b"1 beginbfrange <0100> <017f> <0000> endbfrange\n"
        b"2 beginbfchar <0048> <0041> <0200> <00480065> endbfchar\n"
        b"1 beginbfrange <0300> <0301> [<0061> <0064>] endbfrange\n"
    )
    # "He" as one letter, "a" and "d" from the list, all the rest by the range.
    codes = "0200 0300 0301" + "".join(f"{0x100 + ord(c):04x}" for c in f" of the record:{HEAD}")
    codes = codes.replace(" ", "")
    content = f"BT /F1 9 Tf [<{codes[:40]}> -20 <{codes[40:]}>] TJ ET".encode()
    font = {"/Type": Name.Font, "/Subtype": Name.Type0, "/ToUnicode": table}
    assert read(draw(content, {"/F1": font})) == {HEAD}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"BT /Gone 9 Tf (Head) Tj ET",
        b"BT (no font at all) Tj ET",
        b"BT /F1 9 Tf [(a) [(b)] 7 /c] TJ ET",
    ],
)
def test_odd_pages_hold_no_head(content):
    font = {"/Type": Name.Font, "/Subtype": Name.Type1, "/Kids": Array([])}
    assert read(draw(content, {"/F1": font})) == set()
