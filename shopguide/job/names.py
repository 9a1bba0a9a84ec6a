"""Names in a sheet as written: who refers to a spec, pattern, fluid or item, and renaming it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

from shopguide.errors import Trouble
from shopguide.job.paths import put_all
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList, read_piece

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
        definitions, uses = _list_given(data, self.what), _list_used(data, self.what)
        if not any(name == self.old for name, _ in (*definitions, *uses)):
            raise Trouble(f'No {word} is called "{self.old}".', word, "Choose one that is there.")
        if any(name == new for name, _ in (*definitions, *uses)):
            raise Trouble(
                f'There is something called "{new}" already.',
                f"{word} '{self.old}'",
                "Choose a name that is not taken, or the two can no longer be told apart.",
            )
        named = (*definitions, *uses)
        return put_all(data, {path: new for name, path in named if name == self.old})

    def tell(self, data: FixedDict) -> str:
        word = "open item" if self.what == "item" else self.what
        return f"renaming of {word} '{self.old}' to '{self.new.strip()}'"


@dataclass(frozen=True, slots=True)
class NameAt:
    """Write one name in several places: `paths` get `new`, and `kept` paths what stands beside.

    The first path is the one that was typed in. An empty name is taken out there.
    """

    word: str
    old: str
    new: str
    paths: tuple[Path, ...]
    kept: tuple[tuple[Path, str], ...] = ()

    def make(self, data: FixedDict) -> FixedDict:
        return put_all(data, dict.fromkeys(self.paths, self.new or None) | dict(self.kept))

    def tell(self, data: FixedDict) -> str:
        count = len(self.paths)
        said = f"renaming of {self.word} '{self.old}' to '{self.new}'"
        return f"{said} in {count} places" if count > 1 else said


def find_followers(data: FixedDict, path: Path) -> tuple[Path, ...]:
    """The fields that name what the field at `path` begins, up to where it is begun again.

    An open item is begun by the task that opens it and named by those that close it; a fastener
    left loose is named by the task that tightens it. () where nothing is begun there.
    """
    key = str(path[-1])
    name: Any = None
    begun = False
    found: list[Path] = []
    for at, task in _walk_tasks(data):
        here = (*at, key)
        begins = _begins(task, key)
        if here == path:
            name = task.get(key)
            # What is open here already was begun by another task, whose name it is.
            if not begins or not isinstance(name, str) or _is_begun(data, path, name):
                return ()
            begun = True
        elif begun and task.get(key) == name:
            if begins:
                break
            found.append(here)
    return tuple(found)


def _begins(task: FixedDict, key: str) -> bool:
    kind = task.get("kind")
    if key == "fastener":
        return kind == "leave"
    if kind == "torque":
        read = read_piece(task, "tasks")
        return read is not None and read.opens is not None
    return kind in ("open", "drain", "leave")


def _is_begun(data: FixedDict, path: Path, name: str) -> bool:
    """True where an item stands open already before a task that opens it."""
    begun = False
    for at, task in _walk_tasks(data):
        if (*at, path[-1]) == path:
            return begun
        if task.get(str(path[-1])) == name:
            begun = _begins(task, str(path[-1]))
    return begun


def list_named(data: FixedDict, key: str) -> list[tuple[Path, str]]:
    """Every name under this key in a task ("item", "fastener"), with its path."""
    named = [((*at, key), task.get(key)) for at, task in _walk_tasks(data)]
    return [(path, name) for path, name in named if isinstance(name, str)]


def find_uses(data: FixedDict, what: Named, name: str) -> tuple[Path, ...]:
    """The paths of all places that refer to a spec, pattern, fluid or open item by its name."""
    return list_uses(data, what).get(name, ())


def list_uses(data: FixedDict, what: Named) -> dict[str, tuple[Path, ...]]:
    """The paths of all places that refer to specs, patterns, fluids or open items, by the name."""
    found: dict[str, list[Path]] = {}
    for name, path in _list_used(data, what):
        found.setdefault(name, []).append(path)
    return {name: tuple(paths) for name, paths in found.items()}


def _list_given(data: FixedDict, what: Named) -> list[tuple[str, Path]]:
    """Every name of this sort with its path, where it is given."""
    section = {"spec": "specs", "pattern": "patterns", "fluid": "fluids"}.get(what, "")
    return [
        (entry["name"], (section, index, "name"))
        for index, entry in _walk(data.get(section))
        if isinstance(entry.get("name"), str)
    ]


def _list_used(data: FixedDict, what: Named) -> list[tuple[str, Path]]:
    """Every name of this sort with its path, where it is used."""
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
    return uses


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
