"""A sheet of which something cannot be used yet: its faults, and what the rules say of the rest."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path as FilePath

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.edits import Draft
from shopguide.job.packing import find_packing
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList, Located
from shopguide.review.findings import find_in_trouble, review_sheet
from shopguide.review.photos import Gauge
from shopguide.review.rule import Finding

_QUOTED = re.compile(r'"([^"]*)"')


def review_unfinished(path: FilePath, trouble: SheetTrouble) -> tuple[Finding, ...]:
    """The findings about a saved sheet that does not open, as Write would show them.

    path: of the folder or zip; trouble: why it does not open.
    """
    faults = find_in_trouble(trouble)
    try:
        packing = find_packing(path)
        draft = Draft.open(packing.read_sheet())
    except Trouble:
        return faults
    if draft.sheet is None:
        return faults
    found = review_sheet(draft.sheet, Gauge().measure(packing, draft.sheet.photo_files()))
    twice = {held.trouble.what for held in find_said_twice(draft.data, draft.troubles, found)}
    gone = {_first_quoted(one.sentence) for one in found if one.rule == "photo is there"}
    left = tuple(
        one
        for one in faults
        if not any(one.sentence.startswith(told) for told in twice)
        and not (one.where.endswith(", file") and _first_quoted(one.sentence) in gone)
    )
    return (*left, *found)


def _first_quoted(text: str) -> str:
    held = _QUOTED.search(text)
    return held[1] if held is not None else ""


def find_said_twice(
    data: FixedDict, troubles: Iterable[Located], found: Sequence[Finding]
) -> Iterator[Located]:
    """The troubles that a rule tells too, of the same thing at the same place."""
    told = {
        (one.task or one.listed, _first_quoted(one.sentence))
        for one in found
        if one.severity == "stops work" and '"' in one.sentence
    }
    if not told:
        return
    numbers = {path: number for number, path in enumerate(_list_steps(data), 1)}
    for held in troubles:
        name = _first_quoted(held.trouble.what)
        if name and (_tell_place(held.path, numbers), name) in told:
            yield held


def _list_steps(data: FixedDict) -> Iterator[Path]:
    stages = data.get("stages")
    for s, stage in enumerate(stages if isinstance(stages, FixedList) else ()):
        steps = stage.get("steps") if isinstance(stage, FixedDict) else None
        for p in range(len(steps) if isinstance(steps, FixedList) else 0):
            yield ("stages", s, "steps", p)


def _tell_place(path: Path, numbers: dict[Path, int]) -> str:
    """The address of the task that a path leads into, or the list."""
    if len(path) >= 6 and path[4] == "tasks" and path[:4] in numbers:
        return f"{numbers[path[:4]]}.{int(path[5]) + 1}"
    return str(path[0]) if path else ""
