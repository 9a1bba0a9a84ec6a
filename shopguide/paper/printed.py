"""Reading back what a paper's pages show as text: enough to find the head printed on it."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pikepdf

_HEAD = re.compile(r"head\s*of\s*the\s*record\s*:?((?:\s*[0-9a-f]){64})", re.IGNORECASE)
_MAPPED_ONE = re.compile(rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]*)>")
_MAPPED_RANGE = re.compile(
    rb"<([0-9A-Fa-f]+)>\s*<([0-9A-Fa-f]+)>\s*(?:<([0-9A-Fa-f]+)>|\[([^\]]*)\])"
)
_BLOCK = re.compile(rb"beginbf(char|range)(.*?)endbf", re.DOTALL)
_SHOWING = "Tf Tj TJ ' \""

Letters = dict[int, str]


def read_printed_heads(document: pikepdf.Pdf) -> set[str]:
    """Every head of a record that the pages print, in lower-case hex.

    The words are looked for as drawn, whatever the lines they are broken into; a head that runs
    over to the next page is not found.
    """
    return {
        re.sub(r"\s", "", found.group(1)).lower()
        for page in document.pages
        for found in _HEAD.finditer("".join(_read_text(page)))
    }


def _read_text(page: pikepdf.Page) -> Iterator[str]:
    fonts = page.resources.get("/Font", pikepdf.Dictionary())
    known: dict[str, tuple[Letters, int]] = {}
    letters: Letters = {}
    width = 1
    for operands, operator in pikepdf.parse_content_stream(page, _SHOWING):
        if str(operator) == "Tf":
            name = str(operands[0])
            if name not in known:
                known[name] = _read_letters(fonts.get(name))
            letters, width = known[name]
            continue
        shown = operands[-1]
        for piece in shown if isinstance(shown, pikepdf.Array) else [shown]:
            # The numbers between pieces only move them.
            if isinstance(piece, pikepdf.String):
                raw = bytes(piece)
                for at in range(0, len(raw), width):
                    code = int.from_bytes(raw[at : at + width], "big")
                    yield letters.get(code, chr(code) if not letters else "\ufffd")
        # Lines are drawn apart; the pieces of one line may or may not have blanks between them.
        yield " "


def _read_letters(font: pikepdf.Object | None) -> tuple[Letters, int]:
    """What each code of a font means, and how many bytes a code has."""
    if font is None:
        return {}, 1
    width = 2 if font.get("/Subtype") == pikepdf.Name.Type0 else 1
    table = font.get("/ToUnicode")
    if not isinstance(table, pikepdf.Stream):
        return {}, width
    letters: Letters = {}
    for sort, block in _BLOCK.findall(table.read_bytes()):
        if sort == b"char":
            for code, text in _MAPPED_ONE.findall(block):
                letters[int(code, 16)] = _decode(text)
            continue
        for first, last, start, each in _MAPPED_RANGE.findall(block):
            codes = range(int(first, 16), min(int(last, 16), 0xFFFF) + 1)
            if each:
                texts = [_decode(text) for text in re.findall(rb"<([0-9A-Fa-f]+)>", each)]
                letters.update(zip(codes, texts, strict=False))
            else:
                begin = _decode(start)
                letters.update(
                    (code, begin[:-1] + chr(ord(begin[-1]) + step))
                    for step, code in enumerate(codes)
                )
    return letters, width


def _decode(text: bytes) -> str:
    return bytes.fromhex(text.decode("ascii")).decode("utf-16-be", "replace")
