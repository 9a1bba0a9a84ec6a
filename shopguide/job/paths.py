"""Paths into a sheet as written: what stands there, and the data with something else there.

Everything here raises Trouble where a path leads nowhere; no data is ever changed in place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from pydantic import BaseModel

from shopguide.errors import Trouble
from shopguide.job.faults import Places
from shopguide.job.files import dump_sheet
from shopguide.job.packing import SHEET_NAME
from shopguide.job.text import Path, parse_text
from shopguide.job.written import FixedDict, FixedList, freeze


def look_up(data: FixedDict, path: Path) -> Any:
    """What stands at a path. Raises Trouble where nothing does."""
    value: Any = data
    for part in path:
        there = (
            part in value
            if isinstance(part, str) and isinstance(value, FixedDict)
            else isinstance(part, int) and isinstance(value, FixedList) and 0 <= part < len(value)
        )
        if not there:
            raise _not_there(data, path)
        value = value[part]
    return value


def put(data: Any, path: Path, value: Any) -> Any:
    """The data with another value at a path; None takes a key out."""
    if not path:
        return freeze(make_plain(value))
    return _put_down(data, path, value, data, path)


def _put_down(holder: Any, path: Path, value: Any, data: FixedDict, whole: Path) -> Any:
    part, rest = path[0], path[1:]
    if isinstance(part, str) and isinstance(holder, FixedDict):
        if not rest and value is None:
            return FixedDict((key, held) for key, held in holder.items() if key != part)
        if rest and part not in holder:
            # What is not written yet begins empty: a spec's source, a circle's size.
            below: Any = FixedDict() if isinstance(rest[0], str) else FixedList()
        else:
            below = holder.get(part)
        new = _put_down(below, rest, value, data, whole) if rest else freeze(make_plain(value))
        return FixedDict({**holder, part: new})
    if isinstance(part, int) and isinstance(holder, FixedList) and 0 <= part < len(holder):
        if not rest and value is None:
            raise _not_there(data, whole)
        new = (
            _put_down(holder[part], rest, value, data, whole) if rest else freeze(make_plain(value))
        )
        return FixedList([*holder[:part], new, *holder[part + 1 :]])
    raise _not_there(data, whole)


def put_all(data: Any, values: Mapping[Path, Any]) -> Any:
    """The data with other values at many paths; each list above them is made once, not for each.

    None takes a key out, as with `put`. Raises Trouble where a path leads nowhere.
    """
    if () in values:
        return freeze(make_plain(values[()]))
    below: dict[str | int, dict[Path, Any]] = {}
    for path, value in values.items():
        below.setdefault(path[0], {})[path[1:]] = value
    new: dict[str | int, Any] = {}
    for part, inner in below.items():
        try:
            held = look_up(data, (part,))
        except Trouble:
            held = None
        if held is None or inner.get((), held) is None:
            for path, value in inner.items():
                data = put(data, (part, *path), value)
        else:
            new[part] = put_all(held, inner)
    if not new:
        return data
    if isinstance(data, FixedList):
        return FixedList(new.get(at, held) for at, held in enumerate(data))
    return FixedDict({**data, **new})


def insert(data: FixedDict, path: Path, entry: Any) -> FixedDict:
    """The data with an entry put into a list so that it stands at `path`."""
    try:
        held = look_up(data, path[:-1])
    except Trouble:
        held = FixedList()
    if not 0 <= find_index(path) <= len(check_list(held, data, path[:-1])):
        raise _not_there(data, path)
    return change_list(data, path, lambda held, at: [*held[:at], entry, *held[at:]])


def change_list(
    data: FixedDict, path: Path, change: Callable[[FixedList, int], list[Any]]
) -> FixedDict:
    """The data with the list that holds the entry at `path` changed."""
    try:
        held = look_up(data, path[:-1])
    except Trouble:
        held = FixedList()
    return put(
        data, path[:-1], FixedList(change(check_list(held, data, path[:-1]), find_index(path)))
    )


def check_list(held: Any, data: FixedDict, path: Path) -> FixedList:
    """What is held at a path, which has to be a list."""
    if not isinstance(held, FixedList):
        raise Trouble(
            "What stands here is no list.", tell_place(data, path), "Put that right first."
        )
    return held


def find_index(path: Path) -> int:
    """The index at the end of a path to an entry of a list."""
    if len(path) < 2 or not isinstance(path[-1], int):
        raise Trouble("This is no entry of a list.", ", ".join(map(str, path)), "Choose an entry.")
    return path[-1]


def _not_there(data: FixedDict, path: Path) -> Trouble:
    place = tell_place(data, path)
    return Trouble("There is nothing here to change.", place, "Choose a place that is there.")


def refuse_edit(data: FixedDict, path: Path, why: str) -> Trouble:
    """The trouble that says why an entry cannot be edited so."""
    return Trouble(
        f"{tell_entry(data, path).capitalize()} {why}.",
        tell_place(data, path),
        "Choose another place.",
    )


def tell_place(data: FixedDict, path: Path) -> str:
    """A place in words, without the file: "step 7, 'Cover screws', torque task 2, spec"."""
    told = Places(data, "").tell(path).removeprefix(", ")
    if path and isinstance(path[-1], str) and told.endswith(path[-1]):
        told = told.removesuffix(path[-1]) + path[-1].replace("_", " ")
    return told or "the sheet"


def tell_entry(data: FixedDict, path: Path) -> str:
    """An entry in words: a step by its number alone, the others as Places tells them."""
    told = tell_place(data, path)
    return told.split(", ")[0] if path[-2:-1] == ("steps",) else told


def make_plain(value: Any) -> Any:
    """A value as JSON has it; models as they stand in a file."""
    if isinstance(value, BaseModel):
        return parse_text(dump_sheet(value), SHEET_NAME)[0]
    if isinstance(value, tuple) or (isinstance(value, list) and not isinstance(value, FixedList)):
        return [make_plain(entry) for entry in value]
    return value
