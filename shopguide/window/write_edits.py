"""What the keys of Write do, as edits of the sheet."""

from __future__ import annotations

import csv
from typing import Any

from shopguide.errors import Trouble, UnitTrouble
from shopguide.job.edits import Add, Edit, Move, SetValue, Together, TypeIn, look_up
from shopguide.job.model import Sheet
from shopguide.job.tables import Section, Table, read_table
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.torque import units
from shopguide.window.write_fields import FIRST_CHOICE, SIGNALS, TABLES, TASK_FIELDS
from shopguide.window.write_fixes import count_steps_of
from shopguide.window.write_passes import OWN, list_schedule, read_passes
from shopguide.window.write_reading import KINDS, read_count, read_day, split_range
from shopguide.window.write_renaming import name_entry

NEW_TASK = {"kind": "confirm", "text": "Write here what is to be done."}
NEW_STEP = {"title": "New step", "tasks": [NEW_TASK]}
NEW_STAGE = {"title": "New stage", "steps": [NEW_STEP]}
NEW_CAUTION = {"signal": "CAUTION", "hazard": "", "consequence": "", "avoid": ""}
PASTED = ("parts", "supplies", "fluids", "tools", "specs")


def type_at(data: FixedDict, path: Path, text: str) -> Edit:
    """The edit for what was typed at a path of a card."""
    key = path[-1]
    if key == "kind" and path[-3:-2] == ("tasks",):
        return change_kind(data, path[:-1], text)
    if key in ("applies_to", "hints_off"):
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        return SetValue(path, lines or None)
    if path == ("date",) and (day := read_day(text)) is not None:
        return SetValue(path, day)
    if key == "acknowledge" or key == "like_drained":
        return SetValue(path, True if text == "yes" else None)
    if key == "passes":
        if text == OWN:
            return SetValue(path, list_schedule(look_up(data, path[:-1]).get("passes", "torque")))
        return SetValue(path, None if text == "torque" else text)
    if key == "one by one":
        return SetValue(path[:-1], read_passes(text))
    return TypeIn(path, text)


def change_kind(data: FixedDict, path: Path, kind: str) -> Edit:
    """Makes a task one of another kind; what the new kind knows too stays."""
    task = look_up(data, path)
    keys = {"text", *(field.key for field in TASK_FIELDS[kind])}
    new: dict[str, Any] = {"kind": kind}
    new.update((k, held) for k, held in task.items() if k in keys)
    if kind in FIRST_CHOICE:
        choices = next(f.choices for f in TASK_FIELDS[kind] if f.key == "how")
        if new.get("how") not in choices:
            new["how"] = FIRST_CHOICE[kind]
    return Together((SetValue(path, new),), f"change of kind of task {int(path[-1]) + 1}")


def type_in_cell(data: FixedDict, section: str, row: int, column: int, text: str) -> Edit:
    """The edit for what was typed into a cell of a table."""
    keys = TABLES[section][column].keys
    held = data.get(section)
    count = len(held) if isinstance(held, FixedList) else 0
    text = text.strip()
    if row >= count:
        return _begin_entry(section, count, keys, text)
    path: Path = (section, row, *keys)
    entry = look_up(data, (section, row))
    if keys == ("name",) and section in ("specs", "fluids"):
        return name_entry(data, section, row, text)
    if keys == ("source", "kind"):
        return _change_source(path, entry, text)
    if keys == ("printed_also",):
        parts = [part.strip() for part in text.split("|") if part.strip()]
        return SetValue(path, parts or None)
    if keys == ("single_use",) and text.casefold() == "no":
        return SetValue(path, None)
    if keys == ("acknowledge",) and text.casefold() in ("yes", "no"):
        return SetValue(path, True if text.casefold() == "yes" else None)
    if keys == ("signal",):
        return TypeIn(path, find_signal(text))
    if section == "parts" and keys == ("quantity",) and (count := read_count(text)) is not None:
        return SetValue(path, count)
    typed = TypeIn(path, text)
    if section == "specs" and keys == ("value",):
        return _type_value(data, path, text)
    if section == "specs" and keys[0] in ("low", "high") and not entry.get("kind"):
        kind = find_kind(text)
        if kind:
            setting = SetValue((section, row, "kind"), kind)
            return Together((setting, typed), typed.tell(data))
    return typed


def _type_value(data: FixedDict, path: Path, text: str) -> Edit:
    """A value; one that is two ("15-18 Nm") becomes the low and the high limit."""
    entry, row = look_up(data, path[:-1]), path[:-1]
    known = entry.get("kind")
    kind = str(known) if known else find_kind(text)
    ends = split_range(text, KINDS.get(str(known)) if known else None)
    edits: list[Edit] = []
    if ends is not None and not entry.get("low") and not entry.get("high"):
        kind = kind or find_kind(ends[0])
        edits = [TypeIn(path, ""), TypeIn((*row, "low"), ends[0]), TypeIn((*row, "high"), ends[1])]
        said = f"typing of the limits of '{entry.get('name', '')}'"
    else:
        edits, said = [TypeIn(path, text)], TypeIn(path, text).tell(data)
    if kind and not known:
        edits.insert(0, SetValue((*row, "kind"), kind))
    return edits[0] if len(edits) == 1 else Together(tuple(edits), said)


def _begin_entry(section: str, count: int, keys: tuple[str, ...], text: str) -> Edit:
    entry = begin_row(section)
    if section == "specs":
        kind = find_kind(text) if keys[0] in ("value", "low", "high") else "torque"
        ends = split_range(text, None) if keys == ("value",) else None
        if ends is not None:
            return _begin_range(count, text, ends)
        entry["kind"] = kind or "torque"
    if section == "cautions":
        return _begin_caution(count, entry, keys, text)
    add = Add((section, count), entry)
    word = section.removesuffix("s").replace("_", "-")
    if keys == ("source", "kind"):
        put: Edit = _change_source((section, count, *keys), FixedDict(), text)
    elif section == "parts" and keys == ("quantity",) and (held := read_count(text)) is not None:
        put = SetValue((section, count, *keys), held)
    elif keys == ("printed_also",):
        parts = [part.strip() for part in text.split("|") if part.strip()]
        put = SetValue((section, count, *keys), parts)
    else:
        put = TypeIn((section, count, *keys), text)
    return Together((add, put), f"adding of {word} '{text[:40]}'")


def begin_row(section: str) -> dict[str, Any]:
    """What a new row of a list holds before anything is written in it."""
    if section == "cautions":
        return dict(NEW_CAUTION)
    return {"text": "", "after": ""} if section == "follow_ups" else {"name": ""}


def find_signal(text: str) -> str:
    """The signal word that is meant, "warning" or "w"; the text where none is."""
    plain = text.strip().upper()
    return next((word for word in SIGNALS if plain and word.startswith(plain)), text)


def _begin_caution(count: int, entry: dict[str, Any], keys: tuple[str, ...], text: str) -> Edit:
    """A new caution; with its signal word alone it has its place, and the rest is asked for."""
    held: Any = {"yes": True, "no": None}.get(text.casefold(), text)
    held = find_signal(text) if keys == ("signal",) else held if keys == ("acknowledge",) else text
    entry.update({keys[0]: held} if held is not None else {})
    return Together((Add(("cautions", count), entry),), f"adding of caution '{text[:40]}'")


def _begin_range(count: int, text: str, ends: tuple[str, str]) -> Edit:
    entry = {"name": "", "kind": find_kind(ends[0]), "low": ends[0], "high": ends[1]}
    return Together((Add(("specs", count), entry),), f"adding of spec '{text[:40]}'")


def _change_source(path: Path, entry: FixedDict, text: str) -> Edit:
    source = entry.get("source")
    held = dict(source) if isinstance(source, FixedDict) else {}
    held.pop("kind", None)
    if text and text != "not known":
        held = {"kind": text, **held}
    change = SetValue(path[:-1], held or None)
    return Together((change,), f"change of source of '{entry.get('name', '')}'")


def find_kind(text: str) -> str:
    """What sort of quantity a typed figure is; "" where it does not tell."""
    try:
        return units.read_any(text).kind.value
    except UnitTrouble:
        return ""


def read_rows(section: str, text: str) -> tuple[list[dict[str, Any]], list[Trouble]]:
    """The rows that were copied, and what of them cannot be read.

    Raises Trouble where there is nothing to take in.
    """
    if section in PASTED:
        kind: Section = section  # type: ignore[assignment]
        table: Table = read_table(text, kind, where="pasted")
        rows: list[dict[str, Any]] = list(table.rows)
        troubles = [located.trouble for located in table.troubles]
    else:
        rows, troubles = _read_plain_rows(section, text)
    if not rows:
        raise Trouble("There is nothing to paste.", next="Copy some rows first.")
    return rows, troubles


def _read_plain_rows(section: str, text: str) -> tuple[list[dict[str, Any]], list[Trouble]]:
    """Pasted follow-ups or cautions; a first line may name the columns, cells too many are told."""
    keys = [column.keys[0] for column in TABLES[section]]
    words = {column.word: column.keys[0] for column in TABLES[section]}
    try:
        found = list(csv.reader(text.splitlines(keepends=True), delimiter="\t"))
    except csv.Error:
        # One cell of more than 100,000 signs: no table, but something else that was copied.
        raise Trouble("The rows cannot be read.", next="Copy the rows of a table.") from None
    lines = [cells for cells in ([cell.strip() for cell in line] for line in found) if any(cells)]
    head = [words.get(cell.casefold(), cell.casefold()) for cell in lines[0]] if lines else []
    if set(head) <= set(keys) and set(head) & {"text", "hazard"}:
        keys, lines = head, lines[1:]
    rows = [_read_plain_row(section, dict(zip(keys, cells, strict=False))) for cells in lines]
    troubles = [
        Trouble(
            f"“{cells[len(keys)][:40]}” belongs to no column.",
            f"pasted, row {number}",
            f"Copy {len(keys)} columns.",
        )
        for number, cells in enumerate(lines, 1)
        if any(cells[len(keys) :])
    ]
    return rows, troubles


def _read_plain_row(section: str, cells: dict[str, str]) -> dict[str, Any]:
    row = {**begin_row(section), **cells}
    if not row.get("spec"):
        row.pop("spec", None)
    if section == "cautions":
        row["signal"] = find_signal(cells.get("signal", ""))
        said = cells.get("acknowledge", "").casefold()
        if said in ("yes", "no", ""):
            row.pop("acknowledge", None)
            row.update({"acknowledge": True} if said == "yes" else {})
    return row


def find_step_move(data: FixedDict, path: Path, by: int) -> Path | None:
    """Where a step or stage stands after a move up (-1) or down (+1); None at the end."""
    stages = data.get("stages")
    if not isinstance(stages, FixedList):
        return None
    s = int(path[1])
    if len(path) == 2:
        return ("stages", s + by) if 0 <= s + by < len(stages) else None
    p, count = int(path[3]), count_steps_of(stages[s])
    if 0 <= p + by < count:
        return ("stages", s, "steps", p + by)
    if not 0 <= s + by < len(stages):
        return None
    return ("stages", s + by, "steps", count_steps_of(stages[s + by]) if by < 0 else 0)


def find_drop(data: FixedDict, path: Path, before: Path) -> Path:
    """Where a step stands that was dropped before a row; () is the end of the sheet."""
    stages = data["stages"]
    if not before:
        s = len(stages) - 1
        to: Path = ("stages", s, "steps", count_steps_of(stages[s]))
    elif len(before) == 2:
        # Before the head of a stage is the end of the stage above.
        s = max(0, int(before[1]) - 1)
        to = ("stages", s, "steps", count_steps_of(stages[s]) if int(before[1]) else 0)
    else:
        to = before
    if to[1] == path[1] and int(to[3]) > int(path[3]):
        to = (*to[:3], int(to[3]) - 1)
    return to


def move_entry(data: FixedDict, path: Path, by: int) -> tuple[Edit, Path] | None:
    """The move of a task, caution, picture or row by one place, and its path then."""
    held = look_up(data, path[:-1])
    at = int(path[-1]) + by
    if not 0 <= at < len(held):
        return None
    to = (*path[:-1], at)
    return Move(path, to), to


def find_difference(old: Any, new: Any, path: Path = ()) -> Path:
    """The path to where two versions of a sheet begin to differ."""
    if isinstance(old, FixedDict) and isinstance(new, FixedDict):
        keys = [k for k in (*new, *old) if old.get(k) is not new.get(k)]
        differing = [k for k in dict.fromkeys(keys) if old.get(k) != new.get(k)]
        if len(differing) == 1:
            key = differing[0]
            return find_difference(old.get(key), new.get(key), (*path, key))
        return path
    if isinstance(old, FixedList) and isinstance(new, FixedList):
        for index, (one, other) in enumerate(zip(old, new, strict=False)):
            if one is not other and one != other:
                # Where entries came or went, the first that differs is the one to look at.
                same_length = len(old) == len(new)
                inner = find_difference(one, other, (*path, index)) if same_length else ()
                return inner or (*path, index)
        return (*path, min(len(old), len(new)))
    return path


def number_of(data: FixedDict, path: Path) -> int:
    """The number of the step at a path, through the whole sheet."""
    stages = data.get("stages", ())
    before = sum(count_steps_of(stage) for stage in stages[: int(path[1])])
    return before + int(path[3]) + 1


def describe(sheet: Sheet | None) -> str:
    """How much a sheet holds, in a few words."""
    if sheet is None:
        return "not complete yet"
    count = len(sheet.steps)
    return f"{count} step{'' if count == 1 else 's'}"
