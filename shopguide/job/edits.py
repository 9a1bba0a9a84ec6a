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
from collections import deque
from dataclasses import dataclass
from typing import Any, Protocol

from shopguide.errors import Trouble
from shopguide.job.files import dump_sheet
from shopguide.job.model import Sheet
from shopguide.job.names import Rename, find_uses
from shopguide.job.packing import SHEET_NAME
from shopguide.job.paths import (
    change_list,
    check_list,
    find_index,
    insert,
    look_up,
    make_plain,
    put,
    refuse_edit,
    tell_entry,
    tell_place,
)
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


MOST_READINGS = 16
"""Of so many states of a draft what was read is kept; every state itself is kept."""


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
        return put(data, self.path, self.value)

    def tell(self, data: FixedDict) -> str:
        return f"change of {tell_place(data, self.path)}"


@dataclass(frozen=True, slots=True)
class TypeIn:
    """Put what a person typed at a path: read as a figure or yes and no where these belong there.

    What cannot be read so stays as typed. An empty text takes out a key that need not be there.
    """

    path: Path
    text: str

    def make(self, data: FixedDict) -> FixedDict:
        return put(data, self.path, read_typed(data, self.path, self.text))

    def tell(self, data: FixedDict) -> str:
        return f"typing in {tell_place(data, self.path)}"


# --- entries of lists ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Add:
    """Add an entry so that it stands at `path` afterwards, the last part of which is its index."""

    path: Path
    entry: Any

    def make(self, data: FixedDict) -> FixedDict:
        return insert(data, self.path, freeze(make_plain(self.entry)))

    def tell(self, data: FixedDict) -> str:
        return f"adding of {tell_entry(self.make(data), self.path)}"


@dataclass(frozen=True, slots=True)
class Remove:
    """Take an entry out of its list."""

    path: Path

    def make(self, data: FixedDict) -> FixedDict:
        look_up(data, self.path)
        return change_list(data, self.path, lambda held, at: [*held[:at], *held[at + 1 :]])

    def tell(self, data: FixedDict) -> str:
        return f"removal of {tell_entry(data, self.path)}"


@dataclass(frozen=True, slots=True)
class Duplicate:
    """Put the same entry once more behind itself."""

    path: Path

    def make(self, data: FixedDict) -> FixedDict:
        look_up(data, self.path)
        return change_list(data, self.path, lambda held, at: [*held[: at + 1], *held[at:]])

    def tell(self, data: FixedDict) -> str:
        return f"doubling of {tell_entry(data, self.path)}"


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
                tell_place(data, self.path),
                "Choose a place of its own sort.",
            )
        if self.path == self.to:
            return data
        return insert(Remove(self.path).make(data), self.to, entry)

    def tell(self, data: FixedDict) -> str:
        return f"move of {tell_entry(data, self.path)}"


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
            raise refuse_edit(data, self.path, "cannot be split")
        if sort == "tasks":
            first, second = self._split_task(data, entry)
        else:
            inner = "steps" if sort == "stages" else "tasks"
            held = check_list(entry.get(inner, FixedList()), data, self.path)
            if not 0 < self.at < len(held):
                raise refuse_edit(data, self.path, "has nothing on one side of the cut")
            first = FixedDict({**entry, inner: FixedList(held[: self.at])})
            second = FixedDict(
                {
                    "title": self.title or entry.get("title", ""),
                    **({"cautions": entry["cautions"]} if "cautions" in entry else {}),
                    inner: FixedList(held[self.at :]),
                }
            )
        return change_list(
            data, self.path, lambda held, at: [*held[:at], first, second, *held[at + 1 :]]
        )

    def _split_task(self, data: FixedDict, task: FixedDict) -> tuple[FixedDict, FixedDict]:
        text = task.get("text")
        if not isinstance(text, str):
            raise refuse_edit(data, self.path, "has no text to split")
        before, after = text[: max(self.at, 0)].strip(), text[max(self.at, 0) :].strip()
        if not before or not after:
            raise refuse_edit(data, self.path, "has nothing on one side of the cut")
        return (
            FixedDict({**task, "text": before}),
            FixedDict({"kind": "confirm", "text": after}),
        )

    def tell(self, data: FixedDict) -> str:
        return f"splitting of {tell_entry(data, self.path)}"


@dataclass(frozen=True, slots=True)
class JoinNext:
    """Join a stage, step or task with the one behind it. Two tasks that both record more than a
    confirmation cannot be joined: one of their records would be lost."""

    path: Path

    def make(self, data: FixedDict) -> FixedDict:
        sort = self.path[-2]
        first = look_up(data, self.path)
        second = look_up(data, (*self.path[:-1], find_index(self.path) + 1))
        if not (isinstance(first, FixedDict) and isinstance(second, FixedDict)):
            raise refuse_edit(data, self.path, "cannot be joined")
        if sort == "tasks":
            joined = self._join_tasks(data, first, second)
        elif sort in ("stages", "steps"):
            joined = _join_groups(first, second)
        else:
            raise refuse_edit(data, self.path, "cannot be joined")
        return change_list(data, self.path, lambda held, at: [*held[:at], joined, *held[at + 2 :]])

    def _join_tasks(self, data: FixedDict, first: FixedDict, second: FixedDict) -> FixedDict:
        plain = [t for t in (first, second) if t.get("kind") == "confirm" and not t.get("spec")]
        if not plain:
            raise Trouble(
                "Each of the two tasks records something of its own.",
                tell_place(data, self.path),
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
        return f"joining of {tell_entry(data, self.path)} with the next"


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
        return share(data, make_plain(self.sheet))

    def tell(self, data: FixedDict) -> str:
        return self.said


@dataclass(frozen=True, slots=True)
class Restore:
    """Take what a draft had put aside (`Draft.dump_as_typed`) in place of what there is."""

    raw: bytes
    said: str = "taking back of the unsaved draft"

    def make(self, data: FixedDict) -> FixedDict:
        held, _ = parse_text(self.raw, SHEET_NAME)
        # It may have been put aside by an older version of the program.
        return share(data, bring_up_to_date(held, SHEET_NAME)[0])

    def tell(self, data: FixedDict) -> str:
        return self.said


# --- the draft ----------------------------------------------------------------------------------


class _State:
    """The data at one moment, what led to it, and what can be read of it while that is wanted."""

    def __init__(self, data: FixedDict, where: str, said: str = "", raw: bytes | None = None):
        self.data, self.said = data, said
        self._where, self._raw = where, raw
        self._reading: Reading | None = None
        self._troubles: tuple[Located, ...] | None = None
        self._dumped: bytes | None = None

    @property
    def reading(self) -> Reading:
        if self._reading is None:
            self._reading = read_written(self.data)
        return self._reading

    @property
    def troubles(self) -> tuple[Located, ...]:
        if self._troubles is None:
            self._troubles = find_troubles(self.data, self.reading, self._where)
        return self._troubles

    @property
    def dumped(self) -> bytes:
        if self._raw is not None:
            return self._raw
        if self._dumped is None:
            sheet = self.reading.sheet
            self._dumped = write_text(self.data) if sheet is None else dump_sheet(sheet)
        return self._dumped

    def let_go(self) -> None:
        """Forget what was read. It is soon read again: the pieces remember what they are."""
        self._reading = self._troubles = self._dumped = None

    def follow(self, data: FixedDict, said: str) -> _State:
        """The state after an edit of this one."""
        return _State(data, self._where, said)


class Draft:
    """A sheet that is being written, with everything that was done to it since it was opened."""

    def __init__(self, sheet: Sheet, where: str = SHEET_NAME) -> None:
        """Begin with a sheet."""
        self._start(_State(freeze(make_plain(sheet)), where))

    @classmethod
    def open(cls, raw: bytes, where: str = SHEET_NAME) -> Draft:
        """Begin with the bytes of a job.json, which may be half-finished.

        Until something is changed these very bytes are given back; those of an older format are
        not, for they are brought up to today's, and that is not saved yet. Raises Trouble where
        they are no JSON, or of a format that this program does not know.
        """
        data, oddities = parse_text(raw, where)
        written = data.get("format")
        data, fault = bring_up_to_date(data, where)
        older = fault is None and written != data["format"]
        draft = cls.__new__(cls)
        draft._start(_State(freeze(data), where, raw=None if oddities or fault or older else raw))
        if older:
            # The file is still as it was written; only a save changes it.
            draft._saved = FixedDict()
        return draft

    def _start(self, state: _State) -> None:
        self._states = [state]
        self._at = 0
        self._saved = state.data
        # A reading of 2,000 steps is a megabyte, so that only the latest are kept.
        self._lately: deque[_State] = deque(maxlen=MOST_READINGS)

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
            self._keep(state)
            if state.reading.sheet is not None:
                return state.reading.sheet
        return None

    @property
    def states(self) -> list[FixedDict]:
        """The data of every state up to now, the newest first."""
        return [state.data for state in reversed(self._states[: self._at + 1])]

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

        An edit that says it changes something `beside` the sheet is kept though the data hold the
        same, so that undo and redo pass it too. Raises Trouble where the edit cannot be done; the
        draft is then as it was.
        """
        old = self._state
        new = edit.make(old.data)
        if is_same(old.data, new) and not (new is not old.data and getattr(edit, "beside", False)):
            return False
        del self._states[self._at + 1 :]
        self._states.append(old.follow(new, edit.tell(old.data)))
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

    def keep_saved(self, data: FixedDict | None = None) -> None:
        """Note that what there is now is what the file holds, or this data of a while ago."""
        self._saved = self._state.data if data is None else data

    @property
    def is_saved(self) -> bool:
        """True where the file holds what there is now."""
        return self._state.data is self._saved

    @property
    def _state(self) -> _State:
        state = self._states[self._at]
        self._keep(state)
        return state

    def _keep(self, state: _State) -> None:
        """Keep what is read of this state; of the one that was not asked for longest, no more."""
        if state in self._lately:
            self._lately.remove(state)
        elif len(self._lately) == MOST_READINGS:
            self._lately[0].let_go()
        self._lately.append(state)
