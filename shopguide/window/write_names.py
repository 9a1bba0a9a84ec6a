"""The names in a sheet being written, and what the program reads where one is used."""

from __future__ import annotations

from typing import Any

from shopguide.bolts.pattern import Pattern
from shopguide.job.model import Fluid
from shopguide.job.written import FixedDict, FixedList, read_piece
from shopguide.torque.spec import Spec
from shopguide.window.write_fields import KINDS, Field
from shopguide.window.write_reading import tell_reading
from shopguide.work.figures import Figure, tell_amount, tell_spec

LISTS = {"spec": "specs", "pattern": "patterns", "fluid": "fluids"}
WORDS = {"spec": "spec", "pattern": "pattern", "fluid": "fluid", "item": "open item"}
_SUMMED = ("how", "pattern", "fastener", "fluid", "spec", "passes", "thread", "item", "until")
_SHORT = {
    "open": "take apart",
    "close": "put back",
    "torque": "tighten",
    "photo": "take a photo",
    "leave": "leave",
}


class NameBook:
    """Read anew from the data of each edit, as far as it is asked for."""

    def __init__(self) -> None:
        self._data = FixedDict()
        self._entries: dict[str, dict[str, FixedDict]] = {}
        self._items: dict[str, list[str]] | None = None
        self._steps: dict[int, tuple[FixedDict, list[tuple[str, str]]]] = {}

    def read(self, data: FixedDict) -> None:
        """Takes up the sheet as written."""
        if data is self._data:
            return
        self._data, self._items = data, None
        self._entries = {}
        for word, section in LISTS.items():
            held = data.get(section)
            self._entries[word] = {
                entry["name"]: entry
                for entry in (held if isinstance(held, FixedList) else ())
                if isinstance(entry, FixedDict) and isinstance(entry.get("name"), str)
            }

    def list_names(self, word: str) -> list[str]:
        """The names there are: of specs, patterns, fluids or open items."""
        if word == "item":
            return list(self._list_items())
        return [name for name in self._entries.get(word, {}) if name]

    def _list_items(self) -> dict[str, list[str]]:
        if self._items is None:
            self._items = {}
            held: dict[int, tuple[FixedDict, list[tuple[str, str]]]] = {}
            number = 0
            for _, stage in list_entries(self._data, "stages"):
                for _, step in list_entries(stage, "steps"):
                    number += 1
                    # The very same step as before names the same.
                    kept = self._steps.get(id(step))
                    if kept is None or kept[0] is not step:
                        kept = step, _name_items(step)
                    held[id(step)] = kept
                    for item, word in kept[1]:
                        self._items.setdefault(item, []).append(f"{word} in step {number}")
            self._steps = held
        return self._items

    def tell(self, field: Field, text: str) -> str:
        """What stands beside a field for what is written in it."""
        if field.key == "kind":
            return KINDS.get(text, "")
        if field.reads:
            return tell_reading(field.reads, text)
        if not field.names:
            return ""
        if not text:
            known = self.list_names(field.names)
            return f"Page Down takes one of {len(known)}" if known and field.needed else ""
        if field.names == "item":
            uses = self._list_items().get(text, [])
            return ", ".join(uses[:3]) + (f" and {len(uses) - 3} more" if len(uses) > 3 else "")
        entry = self._entries.get(field.names, {}).get(text)
        if entry is None:
            return f"There is no {WORDS[field.names]} of that name. Page Down takes one that is."
        if field.names == "spec":
            return self.tell_spec(text)
        if field.names == "fluid":
            fluid = read_piece(entry, "fluids")
            return fluid.grade if isinstance(fluid, Fluid) else ""
        fasteners = entry.get("fasteners")
        count = len(fasteners) if isinstance(fasteners, FixedList) else 0
        return count_fasteners(count) if count else str(entry.get("title", ""))

    def find_pattern(self, name: Any) -> tuple[int, Pattern] | None:
        """A pattern by its name, with its place in the list; None where it cannot be read."""
        entry = self._entries.get("pattern", {}).get(name) if isinstance(name, str) else None
        pattern = read_piece(entry, "patterns") if entry is not None else None
        if not isinstance(pattern, Pattern):
            return None
        held = self._data.get("patterns")
        assert isinstance(held, FixedList)
        return next(i for i, one in enumerate(held) if one is entry), pattern

    def find_task_figure(self, task: FixedDict) -> Figure:
        """The figure that Work will show for a task; an empty one where it shows none."""
        name = task.get("spec")
        entry = self._entries.get("spec", {}).get(name) if isinstance(name, str) else None
        spec = read_piece(entry, "specs") if entry is not None else None
        if not isinstance(spec, Spec):
            return Figure()
        kind = task.get("kind")
        if kind == "torque":
            return tell_spec(spec)
        if kind == "wait":
            return Figure(spec.tell(), spec.source.tell())
        return tell_amount(spec, "expected" if kind == "drain" else "")

    def tell_spec(self, name: str, *, source: bool = True) -> str:
        """The figure of a spec with its source; "" where there is none or it cannot be read."""
        entry = self._entries.get("spec", {}).get(name)
        spec = read_piece(entry, "specs") if entry is not None else None
        if not isinstance(spec, Spec):
            return ""
        return f"{spec.tell()}, {spec.source.tell()}" if source else spec.tell()

    def sum_up(self, task: FixedDict) -> str:
        """What a task holds beside its text, on one line."""
        kind = str(task.get("kind", ""))
        parts = [] if kind == "confirm" else [_SHORT.get(kind, kind)]
        for key in _SUMMED:
            value = task.get(key)
            if key == "spec" and isinstance(value, str) and value:
                figure = self.tell_spec(value, source=False).replace(" ", "\u00a0")
                parts.append(figure or value)
            elif isinstance(value, str) and value and value not in parts:
                parts.append(value)
            elif isinstance(value, FixedList):
                parts.append(f"{len(value)} pass{'es' if len(value) != 1 else ''}")
        if task.get("like_drained") is True:
            parts.append("as much as was drained")
        return " · ".join(parts)


def _name_items(step: FixedDict) -> list[tuple[str, str]]:
    """The open items that a step names, each with what it does to it."""
    found = []
    for _, task in list_entries(step, "tasks"):
        item = task.get("item")
        if isinstance(item, str) and item.strip():
            words = {"open": "opened", "close": "closed"}
            found.append((item, words.get(str(task.get("kind")), "named")))
    return found


def count_fasteners(count: int) -> str:
    """So many fasteners in words: "1 fastener", "16 fasteners"."""
    return f"{count} fastener{'s' if count != 1 else ''}"


def list_entries(holder: FixedDict, key: str) -> list[tuple[int, FixedDict]]:
    """The entries of a list by their place; one that is no entry at all is passed over."""
    held = holder.get(key)
    if not isinstance(held, FixedList):
        return []
    return [(at, one) for at, one in enumerate(held) if isinstance(one, FixedDict)]
