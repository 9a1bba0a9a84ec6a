"""Tables typed or pasted from a spreadsheet: parts, supplies, fluids, tools, specs.

Tabs, semicolons or commas part the cells. The first line may name the columns, in any sequence and
in the words a mechanic would use; without it they stand in the sequence of COLUMNS. What cannot be
read stays as it was typed, in the row and told with its line and column; no row is dropped.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel

from shopguide.errors import Trouble, UnitTrouble
from shopguide.job.model import Fluid, Part, Supply, Tool
from shopguide.job.text import MOST_BYTES
from shopguide.job.written import Located, clean_signs, read_errors
from shopguide.torque import units
from shopguide.torque.spec import SourceKind, Spec

Section = Literal["parts", "supplies", "fluids", "tools", "specs"]

SECTIONS: tuple[Section, ...] = ("parts", "specs", "tools", "supplies", "fluids")
"""The lists that a table may go into."""

MOST_ROWS = 20_000
# A cell may be as long as a table: that it is too long for what it says is told, with its place.
csv.field_size_limit(MOST_BYTES + 1)
JUDGED_LINES = 200
_MOST_TOLD = 2_000

COLUMNS: dict[str, tuple[str, ...]] = {
    "parts": ("name", "number", "quantity", "single-use", "price", "note"),
    "supplies": ("name", "quantity", "note"),
    "fluids": ("name", "grade", "spec", "note"),
    "tools": ("name", "note"),
    "specs": (
        "name", "kind", "value", "low", "high", "tolerance", "source kind", "source",
        "printed also", "note",
    ),
}  # fmt: skip
"""The columns of each table, as they stand without a line that names them."""

_OTHER_NAMES = {
    "part": "name", "description": "name", "item": "name", "tool": "name", "fluid": "name",
    "supply": "name", "spec name": "name", "title": "name",
    "part number": "number", "part no": "number", "no": "number", "order number": "number",
    "qty": "quantity", "count": "quantity", "amount": "quantity", "pieces": "quantity",
    "single use": "single-use", "use once": "single-use", "renew": "single-use",
    "cost": "price", "notes": "note", "remark": "note", "remarks": "note", "comment": "note",
    "min": "low", "minimum": "low", "from": "low", "at least": "low", "low limit": "low",
    "max": "high", "maximum": "high", "to": "high", "at most": "high", "high limit": "high",
    "figure": "value", "printed": "value", "sort": "kind", "quantity kind": "kind",
    "also printed": "printed also", "source text": "source", "reference": "source",
    "source in words": "source", "source page": "source", "kind of source": "source kind",
    "type": "grade",
}  # fmt: skip
_MODELS: dict[str, type[BaseModel]] = {
    "parts": Part,
    "supplies": Supply,
    "fluids": Fluid,
    "tools": Tool,
    "specs": Spec,
}
_FIGURE = re.compile(r"[0-9]+(?:[.,][0-9]+)?\s*([^\s0-9+][^0-9+]*)")
_YES = {"yes", "y", "x", "true", "1", "✓", "single-use", "single use", "new", "renew"}
_NO = {"no", "n", "false", "0", "-", "–", ""}
_PARTED_BY = ("\t", ";", ",")


@dataclass(frozen=True, slots=True)
class Table:
    """What was read: rows as they would stand in job.json, and what is to be put right.

    troubles: the path of each is (row, key) or (row,), the row counted from 0.  columns: as found;
    named: whether a first line names them.
    """

    rows: tuple[dict[str, Any], ...]
    troubles: tuple[Located, ...]
    columns: tuple[str, ...]
    named: bool = False


@dataclass(frozen=True, slots=True)
class Fit:
    """How a table would go into a list of the sheet: how much of it there is, and what is not read.

    cut: only its first rows were looked at.
    """

    section: Section
    rows: int
    unread: int
    columns: tuple[str, ...]
    named: bool
    cut: bool


def read_table(text: str, section: Section, where: str = "table") -> Table:
    """The rows of a typed or pasted table.

    Raises Trouble where there is nothing, or more than MOST_ROWS rows, or more than 5 MB.
    """
    if len(text) > MOST_BYTES:
        raise Trouble(
            f"The table has {len(text) / 1e6:.1f} MB; at most {MOST_BYTES // 1_000_000} MB are "
            "read.",
            where,
            "Paste a part of it at a time.",
        )
    lines, faults = _split(clean_signs(text.removeprefix("\ufeff")), where)
    if not lines:
        raise Trouble("The table is empty.", where, "Write one line for each entry.")
    found = _find_columns(lines[0][1], section)
    columns = found or COLUMNS[section]
    if found is not None:
        lines = lines[1:]
    if len(lines) > MOST_ROWS:
        raise Trouble(
            f"The table has {len(lines):,} rows; at most {MOST_ROWS:,} can be taken in.",
            where,
            "Paste a part of it at a time.",
        )
    table = _Reading(section, columns, where, faults).run(lines)
    return replace(table, named=found is not None)


def judge_table(text: str, where: str = "table") -> tuple[Fit, ...]:
    """How a table fits into each list of a sheet, the best fit first.

    Only its first lines are looked at. Raises Trouble as `read_table` does.
    """
    lines = text.split("\n")
    head = "\n".join(lines[:JUDGED_LINES])
    fits = []
    for section in SECTIONS:
        table = read_table(head, section, where)
        unread = len(table.troubles)
        fits.append(
            Fit(
                section,
                len(table.rows),
                unread,
                table.columns,
                table.named,
                any(line.strip() for line in lines[JUDGED_LINES:]),
            )
        )

    def weigh(fit: Fit) -> tuple[int, float]:
        # Whoever names the columns of a list means that list.
        known = sum(1 for column in fit.columns if column in COLUMNS[fit.section])
        return (-known if fit.named else 0, fit.unread / max(1, fit.rows))

    return tuple(sorted(fits, key=weigh))


def read_text_file(path: Path) -> str:
    """The text of a table in a file. Raises Trouble where it cannot be read, or is no text."""
    try:
        if path.stat().st_size > 2 * MOST_BYTES:
            raise Trouble(
                f"The file has {path.stat().st_size / 1e6:.1f} MB; at most "
                f"{MOST_BYTES // 1_000_000} MB are read.",
                str(path),
                "Save a part of the table at a time.",
            )
        raw = path.read_bytes()
    except OSError as fault:
        raise Trouble(
            f"The file cannot be read ({fault.strerror or fault}).",
            str(path),
            "Check that it is a file and that you may read it.",
        ) from None
    return _decode(raw, path)


def _decode(raw: bytes, path: Path) -> str:
    wide = raw[:2] in (b"\xff\xfe", b"\xfe\xff")
    for encoding in ("utf-16",) if wide else ("utf-8-sig", "cp1252"):
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        # A picture or a spreadsheet's own format has such bytes within its first hundreds.
        if "\x00" not in text[:4096] and not raw.startswith(b"PK\x03\x04"):
            return text
    raise Trouble(
        "The file is not a table in plain text.",
        str(path),
        "Save it from the spreadsheet as CSV, or copy the cells and paste them.",
    )


# --- lines and columns --------------------------------------------------------------------------


def _split(text: str, where: str) -> tuple[list[tuple[int, list[str]]], dict[int, Trouble]]:
    """(line number, cells) of every line that holds something, and what is wrong with lines."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "\ufffd")
    head = next((line for line in text.split("\n") if line.strip()), "")
    parter = next((sign for sign in _PARTED_BY if sign in head), "\t")
    lines: list[tuple[int, list[str]]] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=parter, strict=True)
    try:
        at = 1
        for cells in reader:
            if any(cell.strip() for cell in cells):
                lines.append((at, cells))
            at = reader.line_num + 1
        return lines, {}
    except csv.Error:
        return _split_plainly(text, parter, where)


def _split_plainly(
    text: str, parter: str, where: str
) -> tuple[list[tuple[int, list[str]]], dict[int, Trouble]]:
    """The same where a quotation mark is never closed: each line for itself."""
    lines, faults = [], {}
    for number, line in enumerate(text.split("\n"), 1):
        if not line.strip():
            continue
        try:
            cells = next(csv.reader([line], delimiter=parter, strict=True))
        except csv.Error:
            cells = line.split(parter)
            # Inches are written with the same sign; only in doubt is it told.
            faults[number] = Trouble(
                "A quotation mark opens a cell here and is not closed before the cell ends.",
                f"{where}, line {number}",
                'Close it, or write the sign twice inside quotation marks: "1/4"" drive".',
            )
        lines.append((number, cells))
    return lines, faults


def _find_columns(cells: Sequence[str], section: Section) -> tuple[str, ...] | None:
    """The columns that a first line names; None where it is no such line."""
    if any(_name_plainly(cell) == "source in words" for cell in cells):
        # So they are called on the screen, where the kind of source stands beside it.
        cells = ["source kind" if _name_plainly(c) == "source" else c for c in cells]
    named = [_name_column(cell, section) for cell in cells]
    known = [name for name in named if name is not None]
    filled = [cell for cell in cells if cell.strip()]
    if "name" not in known or len(known) != len(set(known)) or 2 * len(known) <= len(filled):
        return None
    return tuple(
        name if name is not None else cell.strip() for name, cell in zip(named, cells, strict=True)
    )


def _name_plainly(cell: str) -> str:
    return re.sub(r"[\s_.:]+", " ", cell.strip().casefold()).strip()


def _name_column(cell: str, section: Section) -> str | None:
    plain = _name_plainly(cell)
    for name in (plain, plain.replace(" ", "-"), _OTHER_NAMES.get(plain, "")):
        if name in COLUMNS[section]:
            return name
    return None


# --- rows ---------------------------------------------------------------------------------------


class _Reading:
    """One reading of a table."""

    def __init__(
        self, section: Section, columns: tuple[str, ...], where: str, faults: dict[int, Trouble]
    ) -> None:
        self._section, self._columns = section, columns
        self._where, self._faults = where, faults
        self._troubles: list[Located] = []
        self._hidden = 0

    def run(self, lines: list[tuple[int, list[str]]]) -> Table:
        """The rows of these lines."""
        for column in self._columns:
            if column and column not in COLUMNS[self._section]:
                self._tell(
                    (),
                    f"There is no column “{column}” in this table; what stands under it is left "
                    "out.",
                    f"{self._where}, column {column}",
                    f"Name it one of: {', '.join(COLUMNS[self._section])}.",
                )
        rows = []
        for index, (number, cells) in enumerate(lines):
            rows.append(self._read_row(index, number, cells))
        if self._hidden:
            self._troubles.append(
                Located(
                    (),
                    Trouble(
                        f"{self._hidden:,} more cells cannot be read; they are not listed.",
                        self._where,
                        "Put right what is listed first.",
                    ),
                )
            )
        return Table(tuple(rows), tuple(self._troubles), self._columns)

    def _tell(self, path: tuple[str | int, ...], what: str, where: str, next: str) -> None:
        if len(self._troubles) < _MOST_TOLD:
            self._troubles.append(Located(path, Trouble(what, where, next)))
        else:
            self._hidden += 1

    def _read_row(self, index: int, number: int, cells: list[str]) -> dict[str, Any]:
        where = f"{self._where}, line {number}"
        if number in self._faults:
            fault = self._faults[number]
            self._tell((index,), fault.what, fault.where, fault.next)
        extra = [cell for cell in cells[len(self._columns) :] if cell.strip()]
        if extra:
            self._tell(
                (index,),
                f"There are {len(cells)} cells under {len(self._columns)} columns; "
                f"“{extra[0].strip()[:40]}” belongs to none.",
                where,
                "With decimal commas part the cells by tabs or semicolons.",
            )
        held = {
            column: cell.strip()
            for column, cell in zip(self._columns, cells, strict=False)
            if column in COLUMNS[self._section] and cell.strip()
        }
        row = _READERS[self._section](held)
        for error in read_errors(row, self._section):
            key = str(error["loc"][0]) if error["loc"] else ""
            key, what, advice = _tell_error(error, key, self._section)
            path = (index, key) if key else (index,)
            place = f"{where}, {_tell_column(key)}" if key else where
            self._tell(path, what, place, advice)
        return row


def _read_part(held: dict[str, str]) -> dict[str, Any]:
    row: dict[str, Any] = {"name": held.get("name", "")}
    _take(row, held, "number")
    if "quantity" in held:
        row["quantity"] = _read_count(held["quantity"])
    if "single-use" in held:
        row["single_use"] = _read_yes(held["single-use"])
    _take(row, held, "price", "note")
    return row


def _read_plain(held: dict[str, str]) -> dict[str, Any]:
    row: dict[str, Any] = {"name": held.get("name", "")}
    _take(row, held, "quantity", "grade", "spec", "note")
    return row


def _read_spec(held: dict[str, str]) -> dict[str, Any]:
    row: dict[str, Any] = {"name": held.get("name", "")}
    kind = held.get("kind", "").casefold() or _find_kind(held)
    if kind:
        row["kind"] = kind
    _take(row, held, "value", "low", "high", "tolerance")
    if "printed also" in held:
        row["printed_also"] = [
            text.strip() for text in held["printed also"].split("|") if text.strip()
        ]
    _take(row, held, "note")
    source = _read_source(held)
    if source:
        row["source"] = source
    return row


_READERS: dict[str, Callable[[dict[str, str]], dict[str, Any]]] = {
    "parts": _read_part,
    "supplies": _read_plain,
    "fluids": _read_plain,
    "tools": _read_plain,
    "specs": _read_spec,
}


def _take(row: dict[str, Any], held: dict[str, str], *columns: str) -> None:
    for column in columns:
        if column in held:
            row[column] = held[column]


def _read_count(text: str) -> int | str:
    """A whole number: "2", "2,0", "2 pcs", "2 ×"; the text where it is none."""
    found = re.fullmatch(r"([0-9]{1,6})(?:[.,]0+)?\s*(?:pcs?\.?|pieces?|off|[x×])?", text, re.I)
    return int(found[1]) if found else text


def _read_yes(text: str) -> bool | str:
    plain = text.casefold()
    return True if plain in _YES else False if plain in _NO else text


def _find_kind(held: dict[str, str]) -> str:
    """The kind of quantity that a figure tells by its unit; "" where it does not."""
    for column in ("value", "low", "high"):
        found = _FIGURE.fullmatch(held.get(column, ""))
        kind = _find_kind_of_unit(found[1]) if found else _find_kind_of_figure(held.get(column, ""))
        if kind:
            return kind
    return ""


@lru_cache(maxsize=256)
def _find_kind_of_unit(unit: str) -> str:
    # Thousands of figures have a handful of units between them.
    return _find_kind_of_figure(f"1 {unit}")


def _find_kind_of_figure(text: str) -> str:
    try:
        return units.read_any(text).kind.value if text else ""
    except UnitTrouble:
        return ""


def _read_source(held: dict[str, str]) -> dict[str, str]:
    """Where a figure comes from: a kind of its own, or "manual: page 4" in one cell."""
    kinds = {kind.value for kind in SourceKind}
    kind, text = held.get("source kind", "").casefold(), held.get("source", "")
    if not kind:
        head, _, rest = text.partition(":")
        if head.strip().casefold() in kinds:
            kind, text = head.strip().casefold(), rest.strip()
    source = {}
    if kind and kind != SourceKind.NOT_KNOWN.value:
        source["kind"] = kind
    if text:
        source["text"] = text
    return source


# --- what is wrong with a cell ------------------------------------------------------------------

_ADVICE = {
    "quantity": "Write a whole number, such as 2.",
    "single_use": "Write yes or no.",
    "name": "Write a name of at most 80 signs.",
}


def _tell_error(error: dict[str, Any], key: str, section: Section) -> tuple[str, str, str]:
    """The key that an error of the models is about, what is wrong, and what to write."""
    given = error.get("input")
    shown = f"“{given[:60]}”" if isinstance(given, str) else "What stands here"
    if error["type"] == "value_error":
        text = str(error["ctx"]["error"])
        head, colon, rest = text.partition(": ")
        if colon and head in _MODELS[section].model_fields:
            key, text = head, rest
        what, stop, advice = text.rpartition(". ")
        return (key, f"{what}.", advice) if stop else (key, text, "Put it right.")
    if error["type"] == "missing" and key == "kind":
        kinds = ", ".join(kind.value for kind in units.Kind)
        return key, "What sort of quantity it is cannot be told.", f"Write one of: {kinds}."
    if key == "name" and given == "":
        return key, "The name is missing.", _ADVICE["name"]
    if error["type"] in ("string_too_long", "too_long"):
        most = error["ctx"]["max_length"]
        return key, f"It has more than {most:,} signs.", "Shorten it."
    if error["type"] in ("string_pattern_mismatch",):
        return key, "It runs over more than one line.", "Write it on one line."
    if error["type"] in ("enum", "literal_error"):
        return key, f"{shown} is not known here.", f"Write {error['ctx']['expected']}."
    if error["type"] in ("greater_than_equal", "less_than_equal"):
        bound = error["ctx"].get("ge", error["ctx"].get("le"))
        side = "or more" if "ge" in error["ctx"] else "or less"
        return key, f"{given} is not possible.", f"Write {bound:,} {side}."
    return key, f"{shown} cannot be read here.", _ADVICE.get(key, "Write it another way.")


def _tell_column(key: str) -> str:
    return {"single_use": "single-use", "printed_also": "printed also"}.get(key, key)
