"""What the review proposes, as an edit of the sheet that is being written."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shopguide.errors import Trouble
from shopguide.job.edits import Add, Edit, Move, Remove, SetValue, Together, look_up
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.review.rule import Fix
from shopguide.window.write_left_out import LeaveOut


def list_step_paths(data: FixedDict) -> list[Path]:
    """The path of every step, in the sequence of their numbers."""
    found: list[Path] = []
    stages = data.get("stages")
    for s, stage in enumerate(stages if isinstance(stages, FixedList) else ()):
        found += [("stages", s, "steps", p) for p in range(count_steps_of(stage))]
    return found


def count_steps(data: FixedDict) -> int:
    """How many steps there are."""
    stages = data.get("stages")
    return sum(map(count_steps_of, stages if isinstance(stages, FixedList) else ()))


def count_steps_of(stage: Any) -> int:
    """How many steps a stage has; 0 where it is none."""
    steps = stage.get("steps") if isinstance(stage, FixedDict) else None
    return len(steps) if isinstance(steps, FixedList) else 0


def find_step(data: FixedDict, number: int) -> Path:
    """The path of the step with this number. Raises Trouble where there is none."""
    before = 0
    stages = data.get("stages")
    for s, stage in enumerate(stages if isinstance(stages, FixedList) else ()):
        count = count_steps_of(stage)
        if before < number <= before + count:
            return ("stages", s, "steps", number - before - 1)
        before += count
    raise Trouble(f"There is no step {number} any more.", next="Look at the review again.")


def find_task(data: FixedDict, address: str) -> Path:
    """The path of the task with this address ("12.3")."""
    number, _, index = address.partition(".")
    return (*find_step(data, int(number)), "tasks", int(index) - 1)


def find_photo(data: FixedDict, number: int, file: str) -> Path:
    """The path of the first photo of a step with this file. Raises Trouble where there is none."""
    path: Path = (*find_step(data, number), "photos")
    held = look_up(data, path)
    for index, photo in enumerate(held if isinstance(held, FixedList) else ()):
        if isinstance(photo, FixedDict) and photo.get("file") == file:
            return (*path, index)
    raise Trouble(f'The photo "{file}" is not there any more.', next="Look at the review again.")


_seats: dict[str, tuple[FixedList, dict[str, int]]] = {}
"""Of each list the one that was looked into last, and where in it each name stands first."""


def find_entry(data: FixedDict, section: str, name: str) -> Path:
    """The path of the entry of a list with this name. Raises Trouble where there is none."""
    held = _entries(data, section)
    known = _seats.get(section)
    if known is None or known[0] is not held:
        # Ten thousand rows may each have a finding: the list is gone through once for all.
        names = [entry.get("name") if isinstance(entry, FixedDict) else None for entry in held]
        seats = {n: at for at, n in reversed([*enumerate(names)]) if isinstance(n, str)}
        known = _seats[section] = held, seats
    at = known[1].get(name)
    if at is not None:
        return (section, at)
    raise Trouble(f'"{name}" is not there any more.', section, "Look at the review again.")


def make_fix(data: FixedDict, fix: Fix) -> Edit:
    """The edit that does what a finding proposes. Raises Trouble where that is no longer so."""
    given = fix.arguments
    if fix.kind == "remove picture":
        return LeaveOut(given["name"])
    edits = tuple(_list_edits(data, fix.kind, given))
    said = fix.says.strip().rstrip(".")
    return Together(edits, f"“{said[:1].lower()}{said[1:]}”")


def _list_edits(data: FixedDict, kind: str, given: Mapping[str, Any]) -> list[Edit]:
    match kind:
        case "add task":
            return [Add(_find_after(data, given["after"]), given["task"])]
        case "add wait":
            edits: list[Edit] = []
            task = {"kind": "wait", "text": given["text"]}
            spec = given.get("spec")
            if isinstance(spec, Mapping):
                edits.append(_append(data, "specs", spec))
                task["spec"] = spec["name"]
            elif spec:
                task["spec"] = spec
            return [*edits, Add(_find_after(data, given["after"]), task)]
        case "add spec":
            edits = [_append(data, "specs", given["spec"])]
            if given.get("task"):
                path = (*find_task(data, given["task"]), "spec")
                edits.append(SetValue(path, given["spec"]["name"]))
            return edits
        case "add fluid":
            return [_append(data, "fluids", given["fluid"])]
        case "add part":
            return [_append(data, "parts", given["part"])]
        case "add tool":
            return [_append(data, "tools", given["tool"])]
        case "add follow-up":
            return [_append(data, "follow_ups", given["follow_up"])]
        case "add caution":
            return _add_caution(data, given)
        case "change task":
            path = find_task(data, given["task"])
            return [SetValue((*path, key), value) for key, value in given["changes"].items()]
        case "change part":
            path = find_entry(data, "parts", given["name"])
            return [SetValue((*path, key), value) for key, value in given["changes"].items()]
        case "change photo":
            path = find_photo(data, int(given["step"]), given["file"])
            return [SetValue((*path, key), value) for key, value in given["changes"].items()]
        case "remove photo":
            return [Remove(find_photo(data, int(given["step"]), given["file"]))]
        case "split task":
            path = find_task(data, given["task"])
            first, *rest = given["texts"]
            added = [
                Add((*path[:-1], int(path[-1]) + n), {"kind": "confirm", "text": text})
                for n, text in enumerate(rest, 1)
            ]
            return [SetValue((*path, "text"), first), *added]
        case "change hints":
            return [SetValue(("hints_off",), list(given["hints_off"]) or None)]
        case "move task":
            path = find_task(data, given["task"])
            to = _find_after(data, given["after"])
            if to[:-1] == path[:-1] and int(to[-1]) > int(path[-1]):
                to = (*to[:-1], int(to[-1]) - 1)
            return [Move(path, to)]
        case "remove spec":
            return [Remove(find_entry(data, "specs", given["name"]))]
    raise Trouble(
        "This is done outside the sheet.", next="Do it by hand; nothing has been changed."
    )


def _add_caution(data: FixedDict, given: Mapping[str, Any]) -> list[Edit]:
    step = find_step(data, int(given["step"]))
    path: Path = (*step, "cautions")
    try:
        count = len(look_up(data, path))
    except Trouble:
        count = 0
    edits: list[Edit] = [Add((*path, count), given["caution"])]
    if given.get("task"):
        task = find_task(data, given["task"])
        edits += [SetValue((*task, k), v) for k, v in dict(given.get("changes") or {}).items()]
    if "step_text" in given:
        edits.append(SetValue((*step, "text"), given["step_text"] or None))
    return edits


def _find_after(data: FixedDict, address: str) -> Path:
    """Where a task stands that comes behind this one; "4.0" is before the first of step 4."""
    number, _, index = address.partition(".")
    return (*find_step(data, int(number)), "tasks", int(index))


def _append(data: FixedDict, section: str, entry: Any) -> Add:
    return Add((section, len(_entries(data, section))), entry)


def _entries(data: FixedDict, section: str) -> FixedList:
    held = data.get(section)
    return held if isinstance(held, FixedList) else FixedList()
