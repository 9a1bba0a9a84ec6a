"""Two revisions of a sheet compared: what changed, in words, thing by thing.

Entries are matched by what they are called, then by how much their words have in common, and the
matching is the same in both directions: what is added one way is removed the other way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import Enum
from typing import Any, Literal, NamedTuple

from pydantic import BaseModel

from shopguide.bolts.passes import Pass
from shopguide.errors import SheetTrouble
from shopguide.job.files import OpenedSheet, OpeningStopped, Photos, Progress
from shopguide.job.matching import find_moved, match
from shopguide.job.model import Sheet, Stage, Step
from shopguide.job.text import Path
from shopguide.torque.spec import Spec

Sort = Literal["added", "removed", "changed", "moved"]

_MOST_SHOWN = 120
_MOST_LISTED = 6


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. where: the place in the new sheet, or in the old one where it is gone.

    path: that place in the new job.json; of what is gone, the list that held it, () where there is
    none.  head: the step or the list under which it is told.
    """

    sort: Sort
    where: str
    sentence: str
    old: str = ""
    new: str = ""
    path: Path = ()
    head: str = ""

    def as_dict(self) -> dict[str, Any]:
        """The change as plain JSON."""
        keys = ("sort", "where", "sentence", "old", "new")
        return {**{key: getattr(self, key) for key in keys}, "path": list(self.path)}

    def tell(self) -> str:
        """The change on one line."""
        return f"{self.where}: {self.sentence}"

    def tell_under_head(self) -> str:
        """The change on one line that stands under its head."""
        where = self.where
        if where == self.head or where.startswith(f"{self.head}, "):
            where = where.removeprefix(self.head).removeprefix(", ")
        said = f"{where}: {self.sentence}" if where else self.sentence
        return said[:1].upper() + said[1:]


def group_changes(changes: Sequence[Change]) -> tuple[tuple[str, tuple[Change, ...]], ...]:
    """The changes under the head of each step and list, in the sequence in which those begin."""
    groups: dict[str, list[Change]] = {}
    for change in changes:
        groups.setdefault(change.head, []).append(change)
    return tuple((head[:1].upper() + head[1:], tuple(held)) for head, held in groups.items())


def compare_sheets(old: Sheet, new: Sheet) -> tuple[Change, ...]:
    """Every difference between two sheets, in the sequence of the new one; () where there is none.

    Pictures are compared by their names, captions and marks; their files by `compare_pictures`.
    """
    return tuple(_Comparison(old, new).run())


def compare_pictures(
    old: OpenedSheet | Photos,
    new: OpenedSheet | Photos,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> tuple[Change, ...]:
    """The pictures that both sheets use under one name and whose files are not the same.

    One that cannot be read is told as such. Raises OpeningStopped where `cancelled` says so.
    """
    both = [name for name in new.names() if name in set(old.names())]
    changes = []
    for done, name in enumerate(both):
        if cancelled is not None and cancelled():
            raise OpeningStopped("The comparing was stopped.", next="Compare again.")
        if progress is not None:
            progress("Comparing the pictures", done, len(both))
        try:
            if old.photo_bytes(name) == new.photo_bytes(name):
                continue
            said = "is another file under the same name."
        except SheetTrouble as trouble:
            said = f"cannot be compared: {trouble.troubles[0].what}"
        where = f"picture '{name}'"
        changes.append(Change("changed", where, said, name, name, (), "pictures"))
    return tuple(changes)


class _At(NamedTuple):
    """Where the comparison is: in words, in the new job.json, and under which head."""

    where: str
    path: Path
    head: str

    def inside(self, told: str, *keys: str | int) -> _At:
        return _At(f"{self.where}, {told}" if self.where else told, (*self.path, *keys), self.head)

    def change(self, sort: Sort, sentence: str, old: str = "", new: str = "") -> Change:
        return Change(sort, self.where, sentence, old, new, self.path, self.head)


class _Comparison:
    """One comparison of two sheets."""

    def __init__(self, old: Sheet, new: Sheet) -> None:
        self._old, self._new = old, new

    def run(self) -> Iterator[Change]:
        """The changes in the sequence of the sheet's keys."""
        for key in Sheet.model_fields:
            one, other = getattr(self._old, key), getattr(self._new, key)
            if key == "stages":
                yield from self._compare_stages()
            elif _is_entries(one) or _is_entries(other):
                yield from _compare_entries(one, other, key, _At("", (), _HEADS[key]))
            else:
                yield from _compare_field(_At("the sheet", (), "the sheet"), key, one, other)

    # --- stages and steps ---

    def _compare_stages(self) -> Iterator[Change]:
        old_stages, new_stages = self._old.stages, self._new.stages
        pairs = match(old_stages, new_stages, lambda s: s.title, _spell_stage)
        stage_of = dict(pairs)

        def look_at(stage: Stage, index: int) -> _At:
            return _At(_tell_stage(stage, index), ("stages", index), "stages")

        yield from _tell_added_removed(old_stages, new_stages, pairs, look_at, _tell_stage)
        for at in sorted(find_moved(pairs), key=lambda k: stage_of[k]):
            now = stage_of[at]
            yield look_at(new_stages[now], now).change("moved", *_tell_moved(at, now, "the sheet"))
        for at, now in sorted(pairs, key=lambda pair: pair[1]):
            place = look_at(new_stages[now], now)
            yield from _compare_fields(place, old_stages[at], new_stages[now], skipped=("steps",))
        yield from self._compare_steps(stage_of)

    def _compare_steps(self, stage_of: dict[int, int]) -> Iterator[Change]:
        old_places, new_places = self._old.steps, self._new.steps
        paths: list[Path] = [
            ("stages", s, "steps", p)
            for s, stage in enumerate(self._new.stages)
            for p in range(len(stage.steps))
        ]
        pairs = match(
            [place.step for place in old_places],
            [place.step for place in new_places],
            lambda step: step.title,
            _spell_step,
        )
        elsewhere = [
            (a, b)
            for a, b in pairs
            if stage_of.get(old_places[a].stage_number - 1) != new_places[b].stage_number - 1
        ]
        apart = set(elsewhere)
        by_stage: dict[int, list[tuple[int, int]]] = {}
        for a, b in pairs:
            if (a, b) not in apart:
                by_stage.setdefault(new_places[b].stage_number, []).append((a, b))
        moved = {a for held in by_stage.values() for a in find_moved(held)}
        moved |= {a for a, _ in elsewhere}
        gone = set(range(len(old_places))) - {a for a, _ in pairs}
        back = {b: a for a, b in pairs}
        for a in sorted(gone):
            place = old_places[a]
            at = _At(_tell_step(place), (), "steps that are gone")
            yield at.change("removed", "is gone.", place.step.title, "")
        for b, place in enumerate(new_places):
            at = _At(_tell_step(place), paths[b], _tell_step(place))
            was = back.get(b)
            if was is None:
                yield at.change("added", "is new.", "", place.step.title)
                continue
            before = old_places[was]
            if was in moved:
                told = f"step {before.number} of stage '{before.stage.title}'"
                yield at.change(
                    "moved",
                    f"stands in stage '{place.stage.title}', before as {told}.",
                    str(before.number),
                    str(place.number),
                )
            yield from _compare_fields(at, before.step, place.step)


# --- any entries --------------------------------------------------------------------------------

_WORDS = {
    "cautions": "caution",
    "specs": "spec",
    "parts": "part",
    "supplies": "supply",
    "fluids": "fluid",
    "tools": "tool",
    "patterns": "pattern",
    "follow_ups": "follow-up",
    "photos": "photo",
    "marks": "mark",
    "tasks": "task",
    "fasteners": "fastener",
    "passes": "pass",
}
_HEADS = {
    "cautions": "cautions for the whole job",
    "specs": "specs",
    "parts": "parts",
    "supplies": "supplies",
    "fluids": "fluids",
    "tools": "tools",
    "patterns": "patterns",
    "follow_ups": "follow-ups",
}
"""What stands above the changes of the sheet's own lists."""
_FIELDS = {
    "applies_to": "machines it applies to",
    "avoid": "how to avoid it",
    "alt": "alternative text",
    "single_use": "single-use",
    "like_drained": "as much as was drained",
    "printed_also": "what is printed beside it",
    "order_by": "whose order it is",
    "order_source": "source of the order",
    "fastener_word": "word for its fasteners",
    "acknowledge": "whether it must be acknowledged",
    "hints_off": "hints that are switched off",
    "to_mm": "fit of the picture to the joint",
    "yields": "whether the screw yields",
    "start_deg": "place of number 1",
    "to": "its head",
    "at": "its place",
}


def _is_entries(value: Any) -> bool:
    return isinstance(value, tuple) and bool(value) and isinstance(value[0], BaseModel)


def _compare_entries(
    old: Sequence[Any], new: Sequence[Any], key: str, within: _At
) -> Iterator[Change]:
    """The differences between two lists of the same sort of entry."""
    pairs = match(old, new, _name_entry, _spell_entry)

    def look_at(entry: Any, index: int) -> _At:
        return within.inside(_tell_entry(key, entry, index), key, index)

    yield from _tell_added_removed(old, new, pairs, look_at, lambda e, _: _show_entry(e))
    now = dict(pairs)
    for at in sorted(find_moved(pairs), key=lambda k: now[k]):
        place = look_at(new[now[at]], now[at])
        yield place.change("moved", *_tell_moved(at, now[at], "its list"))
    for a, b in sorted(pairs, key=lambda pair: pair[1]):
        yield from _compare_fields(look_at(new[b], b), old[a], new[b])


def _tell_added_removed(
    old: Sequence[Any],
    new: Sequence[Any],
    pairs: Sequence[tuple[int, int]],
    look_at: Callable[[Any, int], _At],
    show: Callable[[Any, int], str],
) -> Iterator[Change]:
    gone = set(range(len(old))) - {a for a, _ in pairs}
    come = set(range(len(new))) - {b for _, b in pairs}
    for a in sorted(gone):
        at = look_at(old[a], a)
        # Its own index may be another entry's by now.
        at = at._replace(path=at.path[:-1])
        yield at.change("removed", "is gone.", show(old[a], a), "")
    for b in sorted(come):
        yield look_at(new[b], b).change("added", "is new.", "", show(new[b], b))


def _tell_moved(at: int, now: int, whole: str) -> tuple[str, str, str]:
    """The sentence of a move, and both places, counted from 1."""
    before = f"before in place {at + 1}" if at != now else "the others round it moved"
    return f"stands in place {now + 1} of {whole}, {before}.", str(at + 1), str(now + 1)


def _compare_fields(
    at: _At, old: BaseModel, new: BaseModel, skipped: Sequence[str] = ()
) -> Iterator[Change]:
    """The differences between two entries that are the same one, field by field."""
    if old == new:
        return
    if isinstance(old, Spec) and isinstance(new, Spec) and old.tell() != new.tell():
        # The figure is told as a whole: value, limits and tolerance belong together.
        sentence = f"now {new.tell()}, before {old.tell()}."
        yield at.change("changed", sentence, old.tell(), new.tell())
        skipped = (*skipped, "value", "low", "high", "tolerance")
    # A task that became one of another kind has keys that the other has not.
    for key in dict.fromkeys((*type(new).model_fields, *type(old).model_fields)):
        if key in skipped:
            continue
        one, other = getattr(old, key, None), getattr(new, key, None)
        if not one and not other and not (hasattr(old, key) and hasattr(new, key)):
            continue
        if (_is_entries(one) or one == ()) and (_is_entries(other) or other == ()):
            yield from _compare_entries(one, other, key, at)
        elif isinstance(one, BaseModel) and isinstance(other, BaseModel):
            yield from _compare_fields(at.inside(_word(key), key), one, other)
        else:
            yield from _compare_field(at, key, one, other)


def _compare_field(at: _At, key: str, old: Any, new: Any) -> Iterator[Change]:
    # 1 and 1.0 are equal in Python, and stand for the same figure in a sheet.
    if old == new:
        return
    one, other = _show(old), _show(new)
    if isinstance(old, str) and isinstance(new, str) and max(len(old), len(new)) > _MOST_SHOWN:
        start = _find_difference(old, new)
        one, other = _show_from(old, start), _show_from(new, start)
    elif isinstance(old, tuple) and isinstance(new, tuple) and one == other:
        # Two long lists that begin alike: each is shown from where it is another one.
        start = next(
            (k for k, pair in enumerate(zip(old, new, strict=False)) if pair[0] != pair[1]), 0
        )
        one, other = (f"from place {start + 1} on {_show(held[start:])}" for held in (old, new))
    word = _word(key)
    if not one and not other:
        now, before = ("empty", "not given") if old is None else ("not given", "empty")
        sentence = f"{word} now {now}, before {before}."
    elif not one:
        sentence = f"{word} is new: {other}."
    elif not other:
        sentence = f"{word} is gone, before: {one}."
    else:
        sentence = f"{word} now {other}, before {one}."
    if one == other and isinstance(old, str):
        sentence += " Only spaces or line breaks differ."
    yield at.inside("", key)._replace(where=at.where).change("changed", sentence, one, other)


# --- words --------------------------------------------------------------------------------------


def _name_entry(entry: Any) -> str:
    """What an entry is called, or what it does where it has no name."""
    for key in ("name", "file", "number"):
        value = getattr(entry, key, None)
        if value not in (None, ""):
            return str(value)
    for key in ("text", "hazard"):
        value = getattr(entry, key, None)
        if isinstance(value, str) and value:
            return value
    return ""


def _spell_entry(entry: BaseModel) -> str:
    return "\n".join(_list_texts(entry))


def _spell_step(step: Step) -> str:
    return "\n".join([step.title, step.text, *(task.text for task in step.tasks)])


def _spell_stage(stage: Stage) -> str:
    return "\n".join([stage.title, *(step.title for step in stage.steps)])


def _list_texts(value: Any) -> Iterator[str]:
    if isinstance(value, BaseModel):
        for key in type(value).model_fields:
            yield from _list_texts(getattr(value, key))
    elif isinstance(value, tuple):
        for held in value:
            yield from _list_texts(held)
    elif isinstance(value, Enum):
        yield str(value.value)
    elif isinstance(value, str):
        yield value
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        yield f"{value:g}"


def _tell_step(place: Any) -> str:
    return f"step {place.number}, '{place.step.title}'"


def _tell_stage(stage: Stage, index: int) -> str:
    return f"stage {index + 1}, '{stage.title}'"


def _tell_entry(key: str, entry: Any, index: int) -> str:
    word = _WORDS.get(key, "entry")
    if key == "tasks":
        return f"{entry.kind} task {index + 1}"
    name = getattr(entry, "name", None) or getattr(entry, "file", None)
    if isinstance(name, str):
        return f"{word} '{name}'"
    if key == "fasteners":
        return f"{word} {entry.number}"
    return f"{word} {index + 1}"


def _word(key: str) -> str:
    if key in _FIELDS:
        return _FIELDS[key]
    return f"{key[:-3]} in mm" if key.endswith("_mm") else key.replace("_", " ")


def _show_entry(entry: Any) -> str:
    if isinstance(entry, Spec):
        return entry.tell()
    if isinstance(entry, Pass):
        return entry.tell()
    for key in ("text", "title", "hazard", "name", "file"):
        value = getattr(entry, key, None)
        if isinstance(value, str) and value:
            return _cut(value)
    return _show(entry)


def _show(value: Any) -> str:
    """A value in words, short enough for a line; "" where there is none."""
    if value is None or value in ("", ()):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, (int, float)):
        return str(value) if isinstance(value, int) else f"{value:.15g}"
    if isinstance(value, str):
        return f"“{_cut(value)}”"
    if isinstance(value, Pass):
        return f"{value.tell()} ({value.spec})" if value.spec else value.tell()
    if isinstance(value, BaseModel):
        return _cut(", ".join(_show_fields(value)))
    if isinstance(value, tuple):
        if len(value) > _MOST_LISTED and isinstance(value[0], BaseModel):
            return f"{len(value)} of them"
        held = (f"({_show(one)})" if isinstance(one, tuple) else _show(one) for one in value)
        return _cut(", ".join(held))
    return _cut(str(value))


def _show_fields(value: BaseModel) -> Iterator[str]:
    """What a model holds that is not as it is by default, each with its word and unit."""
    units = {"_mm": " mm", "_deg": "°"}
    for key, info in type(value).model_fields.items():
        held = getattr(value, key)
        if key == "kind":
            yield _show(held).strip("“”")
        elif held != info.default:
            unit = next((said for end, said in units.items() if key.endswith(end)), "")
            word = _word(key).removesuffix(" in mm") if unit else _word(key)
            yield f"{word} {_show(held)}{unit}"


def _find_difference(one: str, other: str) -> int:
    """Where two long texts are shown from: the word in which they begin to differ."""
    same = next(
        (k for k, (a, b) in enumerate(zip(one, other, strict=False)) if a != b),
        min(len(one), len(other)),
    )
    if same < _MOST_SHOWN // 2:
        return 0
    return one.rfind(" ", 0, max(same - _MOST_SHOWN // 4, 0)) + 1


def _show_from(text: str, start: int) -> str:
    if not text:
        return ""
    return f"“{'…' if start else ''}{_cut(text[start:])}”"


def _cut(text: str) -> str:
    flat = " ".join(text.split())
    return flat if len(flat) <= _MOST_SHOWN else flat[: _MOST_SHOWN - 1] + "…"
