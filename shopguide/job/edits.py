"""Edits of a job sheet: each makes a new sheet that shares what did not change; undo is exact.

A draft holds the sheet as written (`job.written`): immutable plain data, as it would stand in
job.json, so that a value that cannot be read stays as it was typed. Beside it stand the sheet that
the models read from it, while they can, and the troubles with the path of each, while they cannot.
An edit is a small immutable object: `make` gives the new data for the old, `tell` says in words
what it does. Undo goes back to the very data of before, so its bytes are those of before.

Paths are those of job.json: ("stages", 0, "steps", 3, "tasks", 1, "spec"). An edit of a place that
is not there, or that cannot be done, raises Trouble and changes nothing.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, Protocol

from pydantic import BaseModel

from shopguide.errors import Trouble
from shopguide.job.faults import Places
from shopguide.job.files import dump_sheet
from shopguide.job.model import Sheet
from shopguide.job.packing import SHEET_NAME
from shopguide.job.text import Path, parse_text, write_text
from shopguide.job.typed import read_typed
from shopguide.job.upgrade import bring_up_to_date
from shopguide.job.written import (
    FixedDict,
    FixedList,
    Located,
    Reading,
    find_troubles,
    freeze,
    is_same,
    read_piece,
    read_written,
    share,
)

__all__ = [
    "Add",
    "Draft",
    "Duplicate",
    "Edit",
    "JoinNext",
    "Located",
    "Move",
    "Remove",
    "Rename",
    "Restore",
    "SetValue",
    "Split",
    "TakeOver",
    "Together",
    "TypeIn",
    "find_uses",
    "look_up",
]


class Edit(Protocol):
    """One change of a sheet as written."""

    def make(self, data: FixedDict) -> FixedDict:
        """The data after the edit; what it does not touch are the same objects."""
        ...

    def tell(self, data: FixedDict) -> str:
        """What the edit does to this data, in words: "move of step 7"."""
        ...


# --- single values ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SetValue:
    """Put a value at a path; None takes the key out, so that it holds what it holds by default."""

    path: Path
    value: Any

    def make(self, data: FixedDict) -> FixedDict:
        return _put(data, self.path, self.value)

    def tell(self, data: FixedDict) -> str:
        return f"change of {_tell_place(data, self.path)}"


@dataclass(frozen=True, slots=True)
class TypeIn:
    """Put what a person typed at a path: read as a figure or yes and no where these belong there.

    What cannot be read so stays as typed. An empty text takes out a key that need not be there.
    """

    path: Path
    text: str

    def make(self, data: FixedDict) -> FixedDict:
        return _put(data, self.path, read_typed(data, self.path, self.text))

    def tell(self, data: FixedDict) -> str:
        return f"typing in {_tell_place(data, self.path)}"


# --- entries of lists ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Add:
    """Add an entry so that it stands at `path` afterwards, the last part of which is its index."""

    path: Path
    entry: Any

    def make(self, data: FixedDict) -> FixedDict:
        return _insert(data, self.path, freeze(_plain(self.entry)))

    def tell(self, data: FixedDict) -> str:
        return f"adding of {_tell_entry(self.make(data), self.path)}"


@dataclass(frozen=True, slots=True)
class Remove:
    """Take an entry out of its list."""

    path: Path

    def make(self, data: FixedDict) -> FixedDict:
        look_up(data, self.path)
        return _change_list(data, self.path, lambda held, at: [*held[:at], *held[at + 1 :]])

    def tell(self, data: FixedDict) -> str:
        return f"removal of {_tell_entry(data, self.path)}"


@dataclass(frozen=True, slots=True)
class Duplicate:
    """Put the same entry once more behind itself."""

    path: Path

    def make(self, data: FixedDict) -> FixedDict:
        look_up(data, self.path)
        return _change_list(data, self.path, lambda held, at: [*held[: at + 1], *held[at:]])

    def tell(self, data: FixedDict) -> str:
        return f"doubling of {_tell_entry(data, self.path)}"


@dataclass(frozen=True, slots=True)
class Move:
    """Move an entry within its list or to another of its sort; `to` is its path afterwards."""

    path: Path
    to: Path

    def make(self, data: FixedDict) -> FixedDict:
        entry = look_up(data, self.path)
        if self.path[-2] != self.to[-2]:
            raise Trouble(
                f"An entry of {self.path[-2]} cannot stand among {self.to[-2]}.",
                _tell_place(data, self.path),
                "Choose a place of its own sort.",
            )
        if self.path == self.to:
            return data
        return _insert(Remove(self.path).make(data), self.to, entry)

    def tell(self, data: FixedDict) -> str:
        return f"move of {_tell_entry(data, self.path)}"


@dataclass(frozen=True, slots=True)
class Split:
    """Split an entry in two: a stage before a step, a step before a task, a task within its text.

    at: the index of the step or task, or of the sign of the text, that comes second. The second
    step keeps the cautions too, for they may concern it. Of a task, the second half becomes
    something to confirm: what is opened, closed or tightened is so once.
    """

    path: Path
    at: int
    title: str = ""

    def make(self, data: FixedDict) -> FixedDict:
        entry = look_up(data, self.path)
        sort = self.path[-2]
        if not isinstance(entry, FixedDict) or sort not in ("stages", "steps", "tasks"):
            raise _cannot(data, self.path, "cannot be split")
        if sort == "tasks":
            first, second = self._split_task(data, entry)
        else:
            inner = "steps" if sort == "stages" else "tasks"
            held = _entries(entry.get(inner, FixedList()), data, self.path)
            if not 0 < self.at < len(held):
                raise _cannot(data, self.path, "has nothing on one side of the cut")
            first = FixedDict({**entry, inner: FixedList(held[: self.at])})
            second = FixedDict(
                {
                    "title": self.title or entry.get("title", ""),
                    **({"cautions": entry["cautions"]} if "cautions" in entry else {}),
                    inner: FixedList(held[self.at :]),
                }
            )
        return _change_list(
            data, self.path, lambda held, at: [*held[:at], first, second, *held[at + 1 :]]
        )

    def _split_task(self, data: FixedDict, task: FixedDict) -> tuple[FixedDict, FixedDict]:
        text = task.get("text")
        if not isinstance(text, str):
            raise _cannot(data, self.path, "has no text to split")
        before, after = text[: max(self.at, 0)].strip(), text[max(self.at, 0) :].strip()
        if not before or not after:
            raise _cannot(data, self.path, "has nothing on one side of the cut")
        return (
            FixedDict({**task, "text": before}),
            FixedDict({"kind": "confirm", "text": after}),
        )

    def tell(self, data: FixedDict) -> str:
        return f"splitting of {_tell_entry(data, self.path)}"


@dataclass(frozen=True, slots=True)
class JoinNext:
    """Join a stage, step or task with the one behind it. Two tasks that both record more than a
    confirmation cannot be joined: one of their records would be lost."""

    path: Path

    def make(self, data: FixedDict) -> FixedDict:
        sort = self.path[-2]
        first = look_up(data, self.path)
        second = look_up(data, (*self.path[:-1], _index(self.path) + 1))
        if not (isinstance(first, FixedDict) and isinstance(second, FixedDict)):
            raise _cannot(data, self.path, "cannot be joined")
        if sort == "tasks":
            joined = self._join_tasks(data, first, second)
        elif sort in ("stages", "steps"):
            joined = _join_groups(first, second)
        else:
            raise _cannot(data, self.path, "cannot be joined")
        return _change_list(data, self.path, lambda held, at: [*held[:at], joined, *held[at + 2 :]])

    def _join_tasks(self, data: FixedDict, first: FixedDict, second: FixedDict) -> FixedDict:
        plain = [t for t in (first, second) if t.get("kind") == "confirm" and not t.get("spec")]
        if not plain:
            raise Trouble(
                "Each of the two tasks records something of its own.",
                _tell_place(data, self.path),
                "Keep them apart, so that neither record is lost.",
            )
        chief, other = (first, second) if second in plain else (second, first)
        joined = chief | {key: other[key] for key in other if key not in chief}
        for key, between in (("text", " "), ("note", "\n")):
            pieces = [t[key] for t in (first, second) if t.get(key)]
            if all(isinstance(piece, str) for piece in pieces) and pieces:
                joined[key] = between.join(pieces)
        return FixedDict(joined)

    def tell(self, data: FixedDict) -> str:
        return f"joining of {_tell_entry(data, self.path)} with the next"


def _join_groups(first: FixedDict, second: FixedDict) -> FixedDict:
    joined = first | {key: second[key] for key in second if key not in first}
    for key in joined:
        one, other = first.get(key), second.get(key)
        if isinstance(one, FixedList) and isinstance(other, FixedList):
            whole = key in ("steps", "tasks")
            joined[key] = FixedList([*one, *(e for e in other if whole or e not in one)])
        elif key == "text" and one and other and isinstance(one, str) and isinstance(other, str):
            joined[key] = f"{one}\n{other}"
    return FixedDict(joined)


# --- names and what refers to them --------------------------------------------------------------

Named = Literal["spec", "pattern", "fluid", "item"]


@dataclass(frozen=True, slots=True)
class Rename:
    """Give a spec, pattern, fluid or open item another name, wherever it is named."""

    what: Named
    old: str
    new: str

    def make(self, data: FixedDict) -> FixedDict:
        new = self.new.strip()
        if new == self.old:
            return data
        word = "open item" if self.what == "item" else self.what
        if not new:
            raise Trouble(f"A {word} without a name cannot be found.", word, "Write a name.")
        definitions, uses = _find_names(data, self.what)
        if not any(name == self.old for name, _ in (*definitions, *uses)):
            raise Trouble(f'No {word} is called "{self.old}".', word, "Choose one that is there.")
        if any(name == new for name, _ in (*definitions, *uses)):
            raise Trouble(
                f'There is something called "{new}" already.',
                f"{word} '{self.old}'",
                "Choose a name that is not taken, or the two can no longer be told apart.",
            )
        for name, path in (*definitions, *uses):
            if name == self.old:
                data = _put(data, path, new)
        return data

    def tell(self, data: FixedDict) -> str:
        word = "open item" if self.what == "item" else self.what
        return f"renaming of {word} '{self.old}' to '{self.new.strip()}'"


def find_uses(data: FixedDict, what: Named, name: str) -> tuple[Path, ...]:
    """The paths of all places that refer to a spec, pattern, fluid or open item by its name."""
    return tuple(path for held, path in _find_names(data, what)[1] if held == name)


def _find_names(
    data: FixedDict, what: Named
) -> tuple[list[tuple[str, Path]], list[tuple[str, Path]]]:
    """Every name of this sort with its path: where it is given, and where it is used."""
    section = {"spec": "specs", "pattern": "patterns", "fluid": "fluids"}.get(what, "")
    given = [
        (entry["name"], (section, index, "name"))
        for index, entry in _walk(data.get(section))
        if isinstance(entry.get("name"), str)
    ]
    uses: list[tuple[str, Path]] = []

    def note(entry: FixedDict, path: Path) -> None:
        if isinstance(entry.get(what), str):
            uses.append((entry[what], (*path, what)))

    if what == "spec":
        for section in ("fluids", "follow_ups"):
            for index, entry in _walk(data.get(section)):
                note(entry, (section, index))
    for path, task in _walk_tasks(data):
        note(task, path)
        if what == "spec":
            for index, one in _walk(task.get("passes")):
                note(one, (*path, "passes", index))
    return given, uses


def _walk(entries: Any) -> Iterable[tuple[int, FixedDict]]:
    if isinstance(entries, FixedList):
        for index, entry in enumerate(entries):
            if isinstance(entry, FixedDict):
                yield index, entry


def _walk_tasks(data: FixedDict) -> Iterable[tuple[Path, FixedDict]]:
    for s, stage in _walk(data.get("stages")):
        for p, step in _walk(stage.get("steps")):
            for t, task in _walk(step.get("tasks")):
                yield ("stages", s, "steps", p, "tasks", t), task


# --- several at once ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Together:
    """Several edits, one after another, that are undone as one. said: what they are, in words."""

    edits: tuple[Edit, ...]
    said: str

    def make(self, data: FixedDict) -> FixedDict:
        for edit in self.edits:
            data = edit.make(data)
        return data

    def tell(self, data: FixedDict) -> str:
        return self.said


@dataclass(frozen=True, slots=True)
class TakeOver:
    """Take a whole sheet in place of this one; what is the same in both stays the same object."""

    sheet: Sheet
    said: str

    def make(self, data: FixedDict) -> FixedDict:
        return share(data, _plain(self.sheet))

    def tell(self, data: FixedDict) -> str:
        return self.said


@dataclass(frozen=True, slots=True)
class Restore:
    """Take what a draft had put aside (`Draft.dump_as_typed`) in place of what there is."""

    raw: bytes
    said: str = "taking back of the unsaved draft"

    def make(self, data: FixedDict) -> FixedDict:
        return share(data, parse_text(self.raw, SHEET_NAME)[0])

    def tell(self, data: FixedDict) -> str:
        return self.said


# --- the draft ----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _State:
    """The data at one moment, what led to it, and what can be read of it."""

    data: FixedDict
    where: str
    said: str = ""
    raw: bytes | None = field(default=None, repr=False)

    @cached_property
    def reading(self) -> Reading:
        return read_written(self.data)

    @cached_property
    def troubles(self) -> tuple[Located, ...]:
        return find_troubles(self.data, self.reading, self.where)

    @cached_property
    def dumped(self) -> bytes:
        if self.raw is not None:
            return self.raw
        sheet = self.reading.sheet
        return write_text(self.data) if sheet is None else dump_sheet(sheet)


class Draft:
    """A sheet that is being written, with everything that was done to it in this session."""

    def __init__(self, sheet: Sheet, where: str = SHEET_NAME) -> None:
        """Begin with a sheet."""
        self._start(_State(freeze(_plain(sheet)), where))

    @classmethod
    def open(cls, raw: bytes, where: str = SHEET_NAME) -> Draft:
        """Begin with the bytes of a job.json, which may be half-finished.

        Until something is changed these very bytes are given back. Raises Trouble where they are
        no JSON, or of a format that this program does not know.
        """
        data, oddities = parse_text(raw, where)
        data, fault = bring_up_to_date(data, where)
        draft = cls.__new__(cls)
        draft._start(_State(freeze(data), where, raw=None if oddities or fault else raw))
        return draft

    def _start(self, state: _State) -> None:
        self._states = [state]
        self._at = 0
        self._saved = state

    # --- what there is ---

    @property
    def data(self) -> FixedDict:
        """The sheet as written."""
        return self._state.data

    @property
    def sheet(self) -> Sheet | None:
        """The sheet, where all of it can be read by the models; names may still lead nowhere."""
        return self._state.reading.sheet

    @property
    def last_sheet(self) -> Sheet | None:
        """The newest sheet up to now that could be read: what to show beside a half-typed one."""
        for state in reversed(self._states[: self._at + 1]):
            if state.reading.sheet is not None:
                return state.reading.sheet
        return None

    @property
    def troubles(self) -> tuple[Located, ...]:
        """What keeps this from being a sheet that opens, each with its path; () where it does."""
        return self._state.troubles

    def read(self, path: Path) -> Any:
        """The step, task, spec … at a path, or None where that one cannot be read."""
        return read_piece(look_up(self.data, path), str(path[-2]))

    def dump(self) -> bytes:
        """The bytes to save: tidy where the sheet can be read, else everything as typed."""
        return self._state.dumped

    def dump_as_typed(self) -> bytes:
        """Everything as typed, quickly made and not tidy: to put aside every few seconds."""
        return json.dumps(self.data, ensure_ascii=False).encode("utf-8")

    # --- changing it ---

    def apply(self, edit: Edit) -> bool:
        """Do an edit; what was undone before cannot be redone any more. False: nothing changed.

        Raises Trouble where the edit cannot be done; the draft is then as it was.
        """
        old = self._state
        new = edit.make(old.data)
        if is_same(old.data, new):
            return False
        del self._states[self._at + 1 :]
        self._states.append(_State(new, old.where, edit.tell(old.data)))
        self._at += 1
        return True

    def undo(self) -> bool:
        """Go back to before the last edit; False where there is none."""
        if self._at == 0:
            return False
        self._at -= 1
        return True

    def redo(self) -> bool:
        """Do again what was undone last; False where nothing was."""
        if self._at + 1 == len(self._states):
            return False
        self._at += 1
        return True

    @property
    def undo_words(self) -> str:
        """What undo would do: "undo move of step 7"; "" where there is nothing to undo."""
        return f"undo {self._state.said}" if self._at else ""

    @property
    def redo_words(self) -> str:
        """What redo would do; "" where nothing was undone."""
        if self._at + 1 == len(self._states):
            return ""
        return f"redo {self._states[self._at + 1].said}"

    def keep_saved(self) -> None:
        """Note that what there is now is what the file holds."""
        self._saved = self._state

    @property
    def is_saved(self) -> bool:
        """True where the file holds what there is now."""
        return self._state.data is self._saved.data

    @property
    def _state(self) -> _State:
        return self._states[self._at]


# --- paths --------------------------------------------------------------------------------------


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


def _put(data: Any, path: Path, value: Any) -> Any:
    """The data with another value at a path; None takes a key out."""
    if not path:
        return freeze(_plain(value))
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
        new = _put_down(below, rest, value, data, whole) if rest else freeze(_plain(value))
        return FixedDict({**holder, part: new})
    if isinstance(part, int) and isinstance(holder, FixedList) and 0 <= part < len(holder):
        if not rest and value is None:
            raise _not_there(data, whole)
        new = _put_down(holder[part], rest, value, data, whole) if rest else freeze(_plain(value))
        return FixedList([*holder[:part], new, *holder[part + 1 :]])
    raise _not_there(data, whole)


def _insert(data: FixedDict, path: Path, entry: Any) -> FixedDict:
    try:
        held = look_up(data, path[:-1])
    except Trouble:
        held = FixedList()
    if not 0 <= _index(path) <= len(_entries(held, data, path[:-1])):
        raise _not_there(data, path)
    return _change_list(data, path, lambda held, at: [*held[:at], entry, *held[at:]])


def _change_list(
    data: FixedDict, path: Path, change: Callable[[FixedList, int], list[Any]]
) -> FixedDict:
    """The data with the list that holds the entry at `path` changed."""
    try:
        held = look_up(data, path[:-1])
    except Trouble:
        held = FixedList()
    return _put(data, path[:-1], FixedList(change(_entries(held, data, path[:-1]), _index(path))))


def _entries(held: Any, data: FixedDict, path: Path) -> FixedList:
    if not isinstance(held, FixedList):
        raise Trouble(
            "What stands here is no list.", _tell_place(data, path), "Put that right first."
        )
    return held


def _index(path: Path) -> int:
    if len(path) < 2 or not isinstance(path[-1], int):
        raise Trouble("This is no entry of a list.", ", ".join(map(str, path)), "Choose an entry.")
    return path[-1]


def _not_there(data: FixedDict, path: Path) -> Trouble:
    place = _tell_place(data, path)
    return Trouble("There is nothing here to change.", place, "Choose a place that is there.")


def _cannot(data: FixedDict, path: Path, why: str) -> Trouble:
    return Trouble(
        f"{_tell_entry(data, path).capitalize()} {why}.",
        _tell_place(data, path),
        "Choose another place.",
    )


def _tell_place(data: FixedDict, path: Path) -> str:
    """A place in words, without the file: "step 7, 'Cover screws', torque task 2, spec"."""
    told = Places(data, "").tell(path).removeprefix(", ")
    if path and isinstance(path[-1], str) and told.endswith(path[-1]):
        told = told.removesuffix(path[-1]) + path[-1].replace("_", " ")
    return told or "the sheet"


def _tell_entry(data: FixedDict, path: Path) -> str:
    """An entry in words: a step by its number alone, the others as Places tells them."""
    told = _tell_place(data, path)
    return told.split(", ")[0] if path[-2:-1] == ("steps",) else told


def _plain(value: Any) -> Any:
    """A value as JSON has it; models as they stand in a file."""
    if isinstance(value, BaseModel):
        return parse_text(dump_sheet(value), SHEET_NAME)[0]
    if isinstance(value, tuple) or (isinstance(value, list) and not isinstance(value, FixedList)):
        return [_plain(entry) for entry in value]
    return value
