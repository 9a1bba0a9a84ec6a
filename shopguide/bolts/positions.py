"""Reading the positions of fasteners from a table (CSV) with the columns number, x_mm, y_mm."""

from __future__ import annotations

import csv
import io
import math
import re
from pathlib import Path

from shopguide.bolts.pattern import MOST_FASTENERS
from shopguide.errors import Trouble

Placed = tuple[int, float, float]
"""Number, x and y of one fastener."""

COLUMNS = ("number", "x_mm", "y_mm")
LARGEST_FILE_BYTES = 1_000_000
LARGEST_MM = 100_000


def read_points(path: str | Path) -> list[Placed]:
    """The fasteners of a table, in its sequence: number, x in mm, y in mm.

    The first line names the columns, in any sequence; other columns are ignored. Commas,
    semicolons or tabs part them; with semicolons or tabs a decimal comma is read too. Lines
    that are empty or begin with # are skipped.

    Raises Trouble that names the file, the line and what to write instead.
    """
    path = Path(path)
    return read_table(_text(path), path.name)


def read_table(text: str, name: str) -> list[Placed]:
    """The same from the text of a table; name: what it is called in a trouble."""
    rows = _rows(name, text)
    if not rows:
        raise Trouble("The table is empty.", name, "Write number,x_mm,y_mm on the first line.")
    head_line, head, _ = rows[0]
    titles = [title.strip().lower() for title in head]
    missing = [column for column in COLUMNS if column not in titles]
    if missing:
        raise Trouble(
            f"The column {' and '.join(missing)} is missing (found: {', '.join(titles)}).",
            f"{name}, line {head_line}",
            "Write number,x_mm,y_mm on the first line.",
        )
    places = [titles.index(column) for column in COLUMNS]
    points: list[Placed] = []
    first_lines: dict[int, int] = {}
    for line, cells, decimal_comma in rows[1:]:
        where = f"{name}, line {line}"
        if len(cells) <= max(places):
            raise Trouble(
                f"There are {len(cells)} values where {max(places) + 1} are needed.",
                where,
                "Write number, x_mm and y_mm; with decimal commas part them by semicolons.",
            )
        if len(cells) > len(titles):
            raise Trouble(
                f"There are {len(cells)} values under {len(titles)} columns.",
                where,
                "Write a decimal point, or part the columns by semicolons.",
            )
        number = _read_number(cells[places[0]], where)
        x, y = (
            _read_length(cells[place], column, where, decimal_comma)
            for place, column in zip(places[1:], COLUMNS[1:], strict=True)
        )
        if number in first_lines:
            raise Trouble(
                f"Number {number} was given before, in line {first_lines[number]}.",
                where,
                "Give each fastener its own number.",
            )
        first_lines[number] = line
        points.append((number, x, y))
        if len(points) > MOST_FASTENERS:
            raise Trouble(
                f"There are more than {MOST_FASTENERS} fasteners.", where, "Split the table."
            )
    if not points:
        raise Trouble(
            "There is no fastener in the table.", name, "Write one line for each fastener."
        )
    return points


def _text(path: Path) -> str:
    try:
        size = path.stat().st_size
        if size > LARGEST_FILE_BYTES:
            raise Trouble(
                f"The table is {size / 1e6:.1f} MB large.",
                path.name,
                "Give a table of at most 1 MB: a line for each fastener.",
            )
        raw = path.read_bytes()
    except FileNotFoundError:
        raise Trouble("There is no such file.", str(path), "Check the name and folder.") from None
    except OSError as error:
        raise Trouble(
            f"The file cannot be read ({error.strerror or error}).",
            str(path),
            "Check that it is a file and that you may read it.",
        ) from None
    try:
        return raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise Trouble(
            "The file is not plain text in UTF-8.",
            f"{path.name}, line {line}",
            "Save the table as CSV, UTF-8.",
        ) from None


def _rows(name: str, text: str) -> list[tuple[int, list[str], bool]]:
    """(line number, cells, decimal comma allowed) for each line that holds something."""
    kept = [
        (number, line)
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not kept:
        return []
    head = kept[0][1]
    parter = ";" if ";" in head else "\t" if "\t" in head else ","
    rows = []
    for number, line in kept:
        try:
            cells = next(csv.reader(io.StringIO(line), delimiter=parter, strict=True))
        except (csv.Error, StopIteration) as error:
            raise Trouble(
                f"The line cannot be split into columns ({error}).",
                f"{name}, line {number}",
                "Close every quotation mark.",
            ) from None
        rows.append((number, cells, parter != ","))
    return rows


def _read_number(text: str, where: str) -> int:
    text = text.strip()
    if text.isascii() and text.isdigit() and len(text) <= 4 and int(text) > 0:
        return int(text)
    raise Trouble(
        f"{text!r} is not a fastener number." if text else "The fastener number is missing.",
        where,
        "Write a whole number from 1 to 9999.",
    )


def _read_length(text: str, column: str, where: str, decimal_comma: bool) -> float:
    text = text.strip()
    if not text:
        raise Trouble(f"{column} is missing.", where, "Write a length in mm, as 12.5.")
    plain = text.replace("−", "-")
    if decimal_comma and plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    try:
        value = float(plain) if "_" not in plain else math.nan
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise Trouble(f"{column} is {text!r}, not a length.", where, "Write a number, as 12.5.")
    if abs(value) > LARGEST_MM:
        raise Trouble(
            f"{column} is {text} mm, beyond 100 m.", where, "Write the length in millimetres."
        )
    return value


def read_pasted(text: str) -> list[Placed]:
    """A pasted table: as read_table, or without titles, with the columns number, x, y or x, y.

    Without numbers the fasteners are numbered from 1. Spaces may part the columns too.
    """
    if len(text) > LARGEST_FILE_BYTES:
        raise Trouble("The table is too large.", "pasted table", "Copy a line for each fastener.")
    lines = [
        line
        for line in text.splitlines()
        if line.strip(" \t,;") and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise Trouble("There is nothing to paste.", next="Copy the columns number, x and y.")
    if any(ch.isalpha() for ch in lines[0]):
        return read_table("\n".join(lines), "pasted table")
    parter = next((sign for sign in ";\t" if sign in lines[0]), "")
    if not parter:
        # Spaces part, and a comma with a space; a comma alone does where there are no spaces.
        plain = lines[0].strip()
        parter = " " if " " in plain else ","
    rows = [
        line.replace(", ", " ").split() if parter == " " else line.strip().split(parter)
        for line in lines
    ]
    wide = len(rows[0])
    if wide not in (2, 3):
        raise Trouble(
            f"There are {wide} columns.",
            "pasted table, line 1",
            "Copy two columns, x and y, or three: number, x and y.",
        )
    titles = ["number", "x_mm", "y_mm"]
    made = [";".join(titles)]
    for line, cells in enumerate(rows, 1):
        numbered = cells if wide == 3 or len(cells) != 2 else [str(line), *cells]
        # Signs that would part the columns anew cannot stand in a figure.
        made.append(";".join(cell.replace(";", " ") for cell in numbered))
    try:
        return read_table("\n".join(made), "pasted table")
    except Trouble as trouble:
        # The titles put in front count as a line, the person's table begins after it.
        where = re.sub(r"\d+$", lambda found: str(int(found.group()) - 1), trouble.where)
        raise Trouble(trouble.what, where, trouble.next) from None
