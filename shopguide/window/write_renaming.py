"""Renaming in Write: who refers to a spec, fluid, open item or fastener follows its new name."""

from __future__ import annotations

from typing import Any

from shopguide.job.edits import Edit, TypeIn, look_up
from shopguide.job.names import NameAt, Named, find_followers, find_uses, list_named
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window.write_names import LISTS, list_entries
from shopguide.window.write_uses import tell_uses


class NameKeeper:
    """What else is named by a field that is being typed in: it follows, letter by letter.

    While a name is typed it may for a moment be that of something else; then what followed keeps
    its old name, and follows again when the typed name is a new one.
    """

    def __init__(self) -> None:
        self._path: Path = ()
        self._base = ""
        self._followers: tuple[Path, ...] = ()
        self._data: FixedDict | None = None

    def follow(self, data: FixedDict, path: Path, text: str) -> Edit | None:
        """The edit that writes a name in a task, where others name the same; None where none."""
        key, new = str(path[-1]), text.strip()
        if key not in ("item", "fastener") or path[-3:-2] != ("tasks",):
            return None
        if path != self._path or data is not self._data:
            held = look_up(data, path[:-1]).get(key)
            self._path, self._base = path, held if isinstance(held, str) else ""
            self._followers = find_followers(data, path)
        if not self._followers or "\n" in new:
            return None
        word = "open item" if key == "item" else "fastener"
        others = {
            name for at, name in list_named(data, key) if at != path and at not in self._followers
        }
        if not new or (new in others and new != self._base):
            kept = tuple((at, self._base) for at in self._followers)
            return NameAt(word, self._base, new, (path,), kept)
        return NameAt(word, self._base, new, (path, *self._followers))

    def note(self, data: FixedDict) -> None:
        """The data after the edit: what is typed next in the same place goes on from there."""
        self._data = data


def name_entry(data: FixedDict, section: str, row: int, text: str) -> Edit:
    """The edit that names a spec or fluid: what refers to it follows.

    Where another entry is called so, only this one gets the name: the two stand there to be told
    apart, and nothing is merged.
    """
    what: Named = "spec" if section == "specs" else "fluid"
    path: Path = (section, row, "name")
    old, new = look_up(data, path), text.strip()
    others = [one.get("name") for at, one in list_entries(data, section) if at != row]
    if not isinstance(old, str) or not old or not new or new in others or old in others:
        return TypeIn(path, text)
    return NameAt(what, old, new, (path, *find_uses(data, what, old)))


def tell_doubled(data: FixedDict, section: str, row: int) -> str:
    """What to say where two entries have one name; "" where each has its own."""
    entries = dict(list_entries(data, section))
    name = entries[row].get("name") if row in entries else None
    if section not in LISTS.values() or not isinstance(name, str) or not name:
        return ""
    count = sum(1 for entry in entries.values() if entry.get("name") == name)
    word = section.removesuffix("s")
    return f'{count} {word}s are called "{name}" now.' if count > 1 else ""


def tell_left(data: FixedDict, section: str, name: Any) -> str:
    """What still names an entry that is gone: "steps 3, 7"; "" where nothing does."""
    what = next((word for word, held in LISTS.items() if held == section), None)
    if what is None or not isinstance(name, str) or not name:
        return ""
    if any(entry.get("name") == name for _, entry in list_entries(data, section)):
        return ""
    uses = find_uses(data, what, name)  # type: ignore[arg-type]
    return tell_uses(data, uses) if uses else ""
