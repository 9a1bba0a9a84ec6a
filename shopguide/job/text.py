"""The text of job.json: read strictly, with every odd key and figure placed, and written tidily."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from shopguide.errors import Trouble

MOST_BYTES = 5_000_000
"""The largest job.json, in bytes."""

MOST_LEVELS = 40
"""The deepest nesting; the models themselves need eleven levels."""

MOST_OBJECTS = 250_000
"""The most { } in one file; 5 MB cannot hold more that mean anything."""

_WIDTH = 96
_MOST_DIGITS = 18

Path = tuple[str | int, ...]


class Oddity(NamedTuple):
    """Something in the text that JSON may let pass but a sheet may not; `path` leads to it."""

    path: Path
    what: str
    next: str


class _Object(dict[str, Any]):
    """A JSON object that remembers which of its keys were written twice."""

    doubled: tuple[str, ...] = ()


class _NoNumber:
    """Stands where the text had a figure that no sheet can hold."""

    def __init__(self, text: str) -> None:
        self.text = text


def parse_text(raw: bytes, where: str) -> tuple[Any, list[Oddity]]:
    """The data of a JSON text in UTF-8, and the oddities found in it.

    Odd values are replaced by harmless ones, so that the rest can still be judged. Raises Trouble
    where the text cannot be read as JSON at all; its `where` gives line and column.
    """
    if len(raw) > MOST_BYTES:
        raise Trouble(
            f"The file has {len(raw) / 1e6:.1f} MB; at most {MOST_BYTES // 1_000_000} MB are read.",
            where,
            "Pictures belong in photos/. Split a longer job into two sheets.",
        )
    text = _decode(raw, where)
    if not text.strip():
        raise Trouble(
            "The file is empty.", where, "Take an older copy of it, or write the sheet anew."
        )
    try:
        data = json.loads(
            text,
            object_pairs_hook=_gather,
            parse_int=_read_whole,
            parse_float=_read_decimal,
            parse_constant=_NoNumber,
        )
    except json.JSONDecodeError as fault:
        raise _tell_syntax(fault, where) from None
    except RecursionError:
        raise _too_deep(where) from None
    if not isinstance(data, dict):
        raise Trouble(
            "The file holds no job sheet: it must be one object in { }.",
            where,
            'Begin it with { "format": "shopguide-job/1", "title": …',
        )
    return data, _clean(data, where)


def write_text(data: Any) -> bytes:
    """Tidy JSON in UTF-8: what fits on a line stands on one line. Ends with a line feed."""
    return (_lay_out(data, 0) + "\n").encode("utf-8")


def _decode(raw: bytes, where: str) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff", b"\x00\x00\xfe\xff")) or b"\x00" in raw[:4]:
        raise Trouble(
            "The file is written in UTF-16 or UTF-32, not in UTF-8.",
            where,
            "Save it again in the text editor with the encoding UTF-8.",
        )
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        raise Trouble(
            f"The byte {raw[fault.start]:02X} hex is no UTF-8 text.",
            f"{where}, line {line}",
            "Save the file again in the text editor with the encoding UTF-8.",
        ) from None


def _gather(pairs: list[tuple[str, Any]]) -> _Object:
    found = _Object(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice: dict[str, None] = {}
        for key, _ in pairs:
            if key in seen:
                twice[key] = None
            seen.add(key)
        found.doubled = tuple(twice)
    return found


def _read_whole(text: str) -> int | _NoNumber:
    return int(text) if len(text) <= _MOST_DIGITS else _NoNumber(text)


def _read_decimal(text: str) -> float | _NoNumber:
    value = float(text)
    return value if abs(value) < 10.0**_MOST_DIGITS else _NoNumber(text)


_SYNTAX = (
    (
        "Illegal trailing comma",
        "There is a comma after the last entry.",
        "Take the comma out.",
    ),
    (
        "Expecting ',' delimiter",
        "A comma, or a closing bracket, is missing before this place.",
        "Put a comma between two entries, and none after the last.",
    ),
    (
        "Expecting ':' delimiter",
        "A colon is missing between a key and its value.",
        'Write it like "title": "Sump cover".',
    ),
    (
        "Expecting property name",
        "A key in double quotes is wanted here.",
        'Write it like "title": "Sump cover", with no comma after the last entry.',
    ),
    (
        "Expecting value",
        "A value is missing here.",
        "Write a text in double quotes, a number, true, false, a list in [ ] or an object in { }.",
    ),
    (
        "Unterminated string",
        "The quote that opens here is never closed.",
        'Close the text with ". A quote inside a text is written \\".',
    ),
    (
        "Invalid control character",
        "A text in quotes runs over the end of the line, or holds a tab.",
        "Write \\n for a new line inside a text.",
    ),
    (
        "Invalid \\",
        "A backslash stands before a sign that it does not belong to.",
        "Write a backslash itself as \\\\.",
    ),
    (
        "Extra data",
        "Something follows after the end of the sheet.",
        "Take out what stands after the last }.",
    ),
)


def _tell_syntax(fault: json.JSONDecodeError, where: str) -> Trouble:
    place = f"{where}, line {fault.lineno}, column {fault.colno}"
    if fault.pos >= len(fault.doc.rstrip()) and "Unterminated" not in fault.msg:
        return Trouble(
            "The file ends too early; brackets that were opened are not closed.",
            place,
            "Close them, or take an older copy of the file.",
        )
    for start, what, advice in _SYNTAX:
        if fault.msg.startswith(start):
            return Trouble(what, place, advice)
    return Trouble("This is not JSON.", place, "Put this line right in a text editor.")


def _too_deep(where: str) -> Trouble:
    return Trouble(
        f"Lists or objects are nested more than {MOST_LEVELS} levels deep.",
        where,
        "Close the brackets where they belong; a sheet needs eleven levels.",
    )


def _clean(data: Any, where: str) -> list[Oddity]:
    """Find what is odd and put something harmless in its place. Not recursive, on purpose."""
    oddities: list[Oddity] = []
    objects = 0
    todo: list[tuple[Any, Path]] = [(data, ())]
    while todo:
        holder, path = todo.pop()
        if len(path) >= MOST_LEVELS:
            raise _too_deep(where)
        if isinstance(holder, dict):
            objects += 1
            if objects > MOST_OBJECTS:
                raise Trouble(
                    f"The file has more than {MOST_OBJECTS:,} objects in {{ }}.",
                    where,
                    "Split the job into two sheets.",
                )
            oddities += [
                Oddity((*path, key), f'The key "{_visible(key)}" stands here twice.', "Keep one.")
                for key in getattr(holder, "doubled", ())
            ]
            for key in [key for key in holder if not _is_text(key)]:
                oddities.append(Oddity(path, *_broken_text("A key")))
                del holder[key]
            entries: Any = holder.items()
        else:
            entries = enumerate(holder)
        held: list[tuple[Any, Path]] = []
        for key, value in entries:
            if isinstance(value, (dict, list)):
                held.append((value, (*path, key)))
            elif isinstance(value, _NoNumber):
                oddities.append(Oddity((*path, key), *_no_number(value.text)))
                holder[key] = 0
            elif isinstance(value, str) and not _is_text(value):
                oddities.append(Oddity((*path, key), *_broken_text("The text")))
                holder[key] = "?"
        todo += reversed(held)
    return oddities


def _is_text(text: str) -> bool:
    return text.isascii() or not any("\ud800" <= sign <= "\udfff" for sign in text)


def _visible(key: str) -> str:
    return key.encode("utf-8", "replace").decode()[:60]


def _broken_text(subject: str) -> tuple[str, str]:
    return (
        f"{subject} holds half of a two-part sign (a lone surrogate), which stands for nothing.",
        "Take the \\u… out, or write the sign itself.",
    )


def _no_number(text: str) -> tuple[str, str]:
    if text.strip("-") in ("NaN", "Infinity"):
        return f"{text} is not a number that can be worked to.", "Write a figure."
    short = text if len(text) <= 24 else text[:20] + "…"
    return f"{short} is too large a number.", "Write a figure that can be real."


def _lay_out(value: Any, column: int) -> str:
    flat = json.dumps(value, ensure_ascii=False)
    plain = not isinstance(value, dict) or not any(isinstance(v, dict) for v in value.values())
    if isinstance(value, list):
        plain = not any(isinstance(entry, dict) for entry in value)
    if plain and column + len(flat) <= _WIDTH:
        return flat
    pad = " " * (column + 2)
    if isinstance(value, dict):
        lines = [
            f"{json.dumps(key, ensure_ascii=False)}: {_lay_out(entry, column + 2)}"
            for key, entry in value.items()
        ]
        return "{\n" + ",\n".join(pad + line for line in lines) + "\n" + " " * column + "}"
    if isinstance(value, list):
        if all(isinstance(entry, (int, float)) for entry in value):
            return _fill_rows([json.dumps(entry) for entry in value], column)
        lines = [_lay_out(entry, column + 2) for entry in value]
        return "[\n" + ",\n".join(pad + line for line in lines) + "\n" + " " * column + "]"
    return flat


def _fill_rows(figures: list[str], column: int) -> str:
    pad = " " * (column + 2)
    rows = [pad]
    for index, figure in enumerate(figures):
        piece = figure + ("," if index + 1 < len(figures) else "")
        if len(rows[-1]) + len(piece) > _WIDTH and rows[-1].strip():
            rows[-1] = rows[-1].rstrip()
            rows.append(pad)
        rows[-1] += piece + " "
    rows[-1] = rows[-1].rstrip()
    return "[\n" + "\n".join(rows) + "\n" + " " * column + "]"
