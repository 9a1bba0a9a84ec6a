"""Faults of a sheet in words: where in the sheet each one is, what is wrong, what to write."""

from __future__ import annotations

import json
import types
from collections.abc import Iterable
from datetime import date
from difflib import get_close_matches
from enum import Enum
from itertools import accumulate
from typing import Annotated, Any, Literal, NamedTuple, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.model import Sheet
from shopguide.job.text import Path
from shopguide.torque.spec import Spec

MOST_TOLD = 2_000
"""A sheet with more faults than this is cut short and only the beginning is told."""

_TASK_KINDS = (
    "confirm",
    "open",
    "close",
    "torque",
    "fill",
    "drain",
    "measure",
    "wait",
    "photo",
    "leave",
)

# A list in job.json -> what one of its entries is called, and the key that names it.
_ENTRIES = {
    "stages": ("stage", "title"),
    "specs": ("spec", "name"),
    "patterns": ("pattern", "name"),
    "fluids": ("fluid", "name"),
    "parts": ("part", "name"),
    "supplies": ("supply", "name"),
    "tools": ("tool", "name"),
    "cautions": ("caution", ""),
    "photos": ("photo", ""),
    "marks": ("mark", ""),
    "passes": ("pass", ""),
    "fasteners": ("fastener", "number"),
    "follow_ups": ("follow-up", ""),
}


def refuse(troubles: Iterable[Trouble], where: str) -> SheetTrouble:
    """The one trouble to raise for all the faults of a sheet; `where` names the file."""
    found = tuple(troubles)
    if len(found) > MOST_TOLD:
        found = (*found[:MOST_TOLD], _tell_hidden(where))
    count = "1 fault" if len(found) == 1 else f"{len(found):,} faults"
    if found and found[-1].what == _HIDDEN:
        count = f"more than {MOST_TOLD:,} faults"
    return SheetTrouble(
        f"The job sheet cannot be used; it has {count}.",
        where,
        "Put right what is listed, save, and open it again.",
        found,
    )


def suggest(wanted: object, known: Iterable[str]) -> str | None:
    """The known name that is nearest to `wanted`, or None where none is near."""
    if not isinstance(wanted, str):
        return None
    folded: dict[str, str] = {}
    for name in known:
        folded.setdefault(name.casefold(), name)
    near = get_close_matches(wanted[:200].casefold(), folded, 1, 0.6)
    return folded[near[0]] if near else None


class Places:
    """Puts paths into words: "job.json, step 4, 'Cover screws', torque task 2, passes"."""

    def __init__(self, data: Any, where: str) -> None:
        """data: the sheet as read from JSON.  where: what to call the file."""
        self._data = data
        self._where = where
        stages = data.get("stages") if isinstance(data, dict) else None
        counts = [
            len(stage["steps"])
            if isinstance(stage, dict) and isinstance(stage.get("steps"), list)
            else 0
            for stage in (stages if isinstance(stages, list) else ())
        ]
        self._steps_before = [0, *accumulate(counts)]

    def tell(self, path: Path) -> str:
        """Where this path leads, in words."""
        words = [self._where]
        value = self._data
        holder = ""
        for index, part in enumerate(path):
            below = _step_down(value, part)
            if isinstance(part, str):
                holder = part
                # The name of a list is told with its entry: "pass 2", not "passes, entry 2".
                if index + 1 == len(path) or not isinstance(path[index + 1], int):
                    words.append(_cut_text(part))
                elif part not in _ENTRIES and part not in ("steps", "tasks"):
                    words.append(part)
            elif index == 3 and holder == "steps" and _is_step(path):
                # Steps are numbered through the whole sheet; the stage says nothing more.
                # A stage that is not there any more counts as one behind the last.
                before = self._steps_before[: int(path[1]) + 1][-1]
                number = before + part + 1
                words[1:] = [f"step {number}", *_title(below)]
            elif holder == "tasks":
                words.append(f"{_task_word(below)} {part + 1}")
            else:
                words.append(_entry_word(holder, part, below))
                if holder == "stages":
                    words += _title(below)
            value = below
        return ", ".join(words)


def tell_faults(
    fault: ValidationError, data: Any, where: str, told: Iterable[Path] = ()
) -> list[Trouble]:
    """Every fault that the models found in `data`, as troubles in words of our own.

    `told` holds the paths whose faults are told elsewhere already.
    """
    places = Places(data, where)
    skipped = set(told)
    errors, cut = _take_errors(fault, data)
    hits = [_trace(error, data) for error in errors]
    # What is said about a whole may come from the cutting.
    hits = [h for h in hits if not (cut and h.type == "value_error" and _is_model(h.wanted))]
    renamed = {
        (*hit.path[:-1], near)
        for hit in hits
        if hit.type == "extra_forbidden" and (near := suggest(hit.path[-1], _keys(hit.model)))
    }
    troubles: list[Trouble] = []
    for hit in hits:
        if hit.type != "extra_forbidden" and hit.path in skipped:
            continue
        # A misspelt key is told once, as misspelt, and not as missing too.
        if hit.type == "missing" and hit.path in renamed:
            continue
        # A list whose entries are all at fault is not empty, though nothing of it is left.
        if hit.type == "too_short" and _is_long_enough(hit):
            continue
        trouble = _tell(hit, places)
        if not troubles or trouble.args != troubles[-1].args:
            troubles.append(trouble)
    if fault.error_count() > MOST_TOLD:
        troubles.append(_tell_hidden(where))
    return troubles


_HIDDEN = f"The sheet has more than {MOST_TOLD:,} faults; the others are not listed."


def _tell_hidden(where: str) -> Trouble:
    return Trouble(_HIDDEN, where, "Put right what is listed first.")


class _Hit(NamedTuple):
    """One error of the models with what it is about.

    path: keys and indices as in the data.  model: the model it concerns.  wanted: the type
    that the value should have.  given: the value as found.
    """

    type: str
    path: Path
    model: Any
    wanted: Any
    given: Any
    context: dict[str, Any]


def _take_errors(fault: ValidationError, data: Any) -> tuple[list[Any], bool]:
    """The errors, and whether they come from a part of the data only."""
    if fault.error_count() <= MOST_TOLD:
        return fault.errors(include_url=False), False
    # Millions of faults would take gigabytes to list, so the lists are cut until few are left.
    for most in (200, 20, 4, 1):
        try:
            Sheet.model_validate_json(json.dumps(_cut(data, most)), strict=True)
        except ValidationError as fewer:
            if fewer.error_count() <= MOST_TOLD:
                return fewer.errors(include_url=False), True
    return [], True


def _cut(data: Any, most: int) -> Any:
    if isinstance(data, dict):
        return {key[:200]: _cut(value, most) for key, value in list(data.items())[:200]}
    if isinstance(data, list):
        return [_cut(value, most) for value in data[:most]]
    return data


def _trace(error: Any, data: Any) -> _Hit:
    """Follow an error's location through data and types, leaving out what pydantic adds to it."""
    wanted: Any = Sheet
    model: Any = Sheet
    value = data
    path: list[str | int] = []
    for part in error["loc"]:
        wanted = _bare(wanted)
        if isinstance(wanted, dict):
            wanted = wanted.get(part)
            if isinstance(_bare(wanted), type) and issubclass(_bare(wanted), BaseModel):
                model = _bare(wanted)
            continue
        path.append(part)
        value = _step_down(value, part)
        if isinstance(part, int):
            inner = [arg for arg in get_args(wanted) if arg is not ...]
            wanted = inner[min(part, len(inner) - 1)] if inner else None
        elif isinstance(wanted, type) and issubclass(wanted, BaseModel):
            model = wanted
            field = wanted.model_fields.get(part)
            wanted = field.annotation if field else None
        else:
            wanted = None
    bare = _bare(wanted)
    return _Hit(error["type"], tuple(path), model, bare, value, error.get("ctx") or {})


def _bare(wanted: Any) -> Any:
    """A type without its constraints and without None; a choice of types as {tag: type}."""
    while get_origin(wanted) is Annotated:
        wanted = get_args(wanted)[0]
    if get_origin(wanted) not in (Union, types.UnionType):
        return wanted
    members = [member for member in get_args(wanted) if member is not type(None)]
    if len(members) == 1:
        return _bare(members[0])
    choice: dict[str, Any] = {}
    for member in members:
        bare = _bare(member)
        if isinstance(bare, type) and issubclass(bare, BaseModel):
            choice[get_args(bare.model_fields["kind"].annotation)[0]] = bare
        else:
            choice[get_args(member)[-1].tag] = member
    return choice


def _tell(hit: _Hit, places: Places) -> Trouble:
    path = hit.path
    if hit.type in ("missing", "extra_forbidden"):
        path = path[:-1]
    what, advice = _SAYINGS.get(hit.type, _say_fallback)(hit)
    if hit.type == "value_error":
        key, colon, rest = what.partition(": ")
        if colon and key in _keys(hit.wanted):
            path, what = (*path, key), rest
        cause = getattr(hit.context.get("error"), "__cause__", None)
        if isinstance(cause, Trouble):
            what, advice = cause.what, cause.next
    return Trouble(what, places.tell(path), advice)


# --- what is said about each type of error: (what is wrong, what to write instead) ---


def _say_missing(hit: _Hit) -> tuple[str, str]:
    last = hit.path[-1]
    if isinstance(last, int):
        return "The list has too few entries.", "Write every figure that belongs to it."
    return f'The key "{last}" is missing.', f'Add "{last}": {_tell_wanted(hit.wanted)}.'


def _say_unknown_key(hit: _Hit) -> tuple[str, str]:
    known = _keys(hit.model)
    near = suggest(hit.path[-1], known)
    what = f'The key "{_cut_text(str(hit.path[-1]))}" is not known here.'
    if near:
        return what, f'Write "{near}".'
    return what, f"Take it out, or write one of: {', '.join(known)}."


def _say_not_object(hit: _Hit) -> tuple[str, str]:
    keys = ", ".join(_keys(hit.wanted))
    return (
        f"{_tell_given(hit.given)} stands where an object in {{ }} is wanted.",
        f"Write {{ }} with keys out of: {keys}." if keys else "Write { } with its keys.",
    )


def _say_not_text(hit: _Hit) -> tuple[str, str]:
    if hit.given is None:
        field = hit.model.model_fields.get(hit.path[-1])
        spare = field is not None and not field.is_required()
        return (
            "null is not a text.",
            "Write a text in quotes, or leave the key out." if spare else "Write a text in quotes.",
        )
    number = isinstance(hit.given, (int, float)) and not isinstance(hit.given, bool)
    if number and hit.model is Spec and hit.path[-1] in ("value", "low", "high", "tolerance"):
        return (
            f"{_show(hit.given)} has no unit.",
            f'Write it as printed, with its unit and in quotes: "{_show(hit.given)} N·m".',
        )
    if number:
        return f"{_show(hit.given)} is a number, not a text.", f'Write "{_show(hit.given)}".'
    return f"{_tell_given(hit.given)} stands where a text is wanted.", "Write a text in quotes."


def _say_not_whole(hit: _Hit) -> tuple[str, str]:
    if isinstance(hit.given, str) and hit.given.strip().lstrip("-").isdecimal():
        return (
            f"{_show(hit.given)} is a text, not a number.",
            f"Write {hit.given.strip()[:20]}, without quotes.",
        )
    return f"{_tell_given(hit.given)} is not a whole number.", "Write a whole number, such as 2."


def _say_not_number(hit: _Hit) -> tuple[str, str]:
    if isinstance(hit.given, str) and _is_figure(hit.given):
        plain = hit.given.strip().replace(",", ".")[:20]
        return f"{_show(hit.given)} is a text, not a number.", f"Write {plain}, without quotes."
    return f"{_tell_given(hit.given)} is not a number.", "Write a number, such as 12.5."


def _say_not_list(hit: _Hit) -> tuple[str, str]:
    return f"{_tell_given(hit.given)} stands where a list is wanted.", "Put it in [ ]."


def _say_too_short(hit: _Hit) -> tuple[str, str]:
    if not isinstance(hit.given, list):
        return "The text is empty.", "Write something."
    return "The list is empty.", "Give at least one entry."


def _is_long_enough(hit: _Hit) -> bool:
    return isinstance(hit.given, list) and len(hit.given) >= hit.context.get("min_length", 1)


def _say_too_long(hit: _Hit) -> tuple[str, str]:
    most = hit.context.get("max_length", 0)
    if isinstance(hit.given, list):
        return (
            f"The list has {len(hit.given):,} entries; at most {most:,} are possible.",
            "Take some out.",
        )
    length = len(hit.given) if isinstance(hit.given, str) else 0
    return f"The text has {length:,} signs; at most {most:,} are possible.", "Shorten it."


def _say_pattern(hit: _Hit) -> tuple[str, str]:
    return "The text runs over more than one line.", "Write it on one line."


def _say_bound(hit: _Hit) -> tuple[str, str]:
    for key, phrase, size in (
        ("ge", "or more", "small"),
        ("gt", "", "small"),
        ("le", "or less", "large"),
        ("lt", "", "large"),
    ):
        if key in hit.context:
            bound = f"{hit.context[key]:,g}"
            advice = {
                "gt": f"Write more than {bound}.",
                "lt": f"Write less than {bound}.",
            }.get(key, f"Write {bound} {phrase}.")
            return f"{_show(hit.given)} is too {size}.", advice
    return _say_fallback(hit)


def _say_choice(hit: _Hit) -> tuple[str, str]:
    options = _options(hit.wanted)
    near = suggest(hit.given, options)
    what = f"{_tell_given(hit.given)} is not known here."
    if near:
        return what, f'Write "{near}".'
    return what, f"Write {_tell_options(options)}."


def _say_kind(hit: _Hit) -> tuple[str, str]:
    if not isinstance(hit.wanted, dict):
        return _say_fallback(hit)
    if "schedule" in hit.wanted:
        return (
            f"{_tell_given(hit.given)} stands where passes are wanted.",
            "Write the name of a ready-made schedule in quotes, or a list of passes in [ ].",
        )
    options = list(hit.wanted)
    if not isinstance(hit.given, dict):
        return _say_not_object(hit)
    if "kind" not in hit.given:
        near = suggest("kind", [key for key in hit.given if isinstance(key, str)])
        if near:
            return f'The key "{_cut_text(near)}" is not known here.', 'Write "kind".'
        return 'The key "kind" is missing.', f'Add "kind": {_tell_options(options)}.'
    kind = hit.given["kind"]
    near = suggest(kind, options)
    what = f"{_tell_given(kind)} is not a kind that is known here."
    if near:
        return what, f'Write "{near}". Known are {", ".join(options)}.'
    return what, f"Write {_tell_options(options)}."


def _say_date(hit: _Hit) -> tuple[str, str]:
    return (
        f"{_tell_given(hit.given)} is not a date.",
        'Write year, month and day, such as "2024-04-03".',
    )


def _say_boolean(hit: _Hit) -> tuple[str, str]:
    return (
        f"{_tell_given(hit.given)} is neither true nor false.",
        "Write true or false, without quotes.",
    )


def _say_own(hit: _Hit) -> tuple[str, str]:
    """The models' own faults: sentences, of which the last one says what to write."""
    text = str(hit.context.get("error", ""))
    what, stop, advice = text.rpartition(". ")
    return (what + ".", advice) if stop else (text, "Put it right.")


def _say_fallback(hit: _Hit) -> tuple[str, str]:
    return f"{_tell_given(hit.given)} does not fit here.", f"Write {_tell_wanted(hit.wanted)}."


_SAYINGS = {
    "missing": _say_missing,
    "extra_forbidden": _say_unknown_key,
    "invalid_key": _say_unknown_key,
    "model_type": _say_not_object,
    "model_attributes_type": _say_not_object,
    "dict_type": _say_not_object,
    "string_type": _say_not_text,
    "string_sub_type": _say_not_text,
    "string_unicode": _say_not_text,
    "string_too_short": _say_too_short,
    "string_too_long": _say_too_long,
    "string_pattern_mismatch": _say_pattern,
    "int_type": _say_not_whole,
    "int_parsing": _say_not_whole,
    "int_parsing_size": _say_not_whole,
    "int_from_float": _say_not_whole,
    "float_type": _say_not_number,
    "float_parsing": _say_not_number,
    "finite_number": _say_not_number,
    "bool_type": _say_boolean,
    "bool_parsing": _say_boolean,
    "tuple_type": _say_not_list,
    "list_type": _say_not_list,
    "iterable_type": _say_not_list,
    "too_short": _say_too_short,
    "too_long": _say_too_long,
    "greater_than": _say_bound,
    "greater_than_equal": _say_bound,
    "less_than": _say_bound,
    "less_than_equal": _say_bound,
    "literal_error": _say_choice,
    "enum": _say_choice,
    "date_type": _say_date,
    "date_parsing": _say_date,
    "date_from_datetime_parsing": _say_date,
    "date_from_datetime_inexact": _say_date,
    "union_tag_invalid": _say_kind,
    "union_tag_not_found": _say_kind,
    "value_error": _say_own,
}


# --- small words ---


def _is_model(wanted: Any) -> bool:
    return isinstance(wanted, type) and issubclass(wanted, BaseModel)


def _keys(model: Any) -> list[str]:
    return list(model.model_fields) if _is_model(model) else []


def _options(wanted: Any) -> list[str]:
    if isinstance(wanted, type) and issubclass(wanted, Enum):
        return [str(member.value) for member in wanted]
    return [str(arg) for arg in get_args(wanted)] if get_origin(wanted) is Literal else []


def _tell_options(options: list[str]) -> str:
    quoted = [f'"{option}"' for option in options]
    if len(quoted) < 2:
        return quoted[0] if quoted else "something else"
    return f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def _tell_wanted(wanted: Any) -> str:
    """What to write for a type: "a text in quotes"."""
    options = _options(wanted)
    if options:
        return _tell_options(options)
    if isinstance(wanted, dict):
        return 'an object in { } with a "kind"'
    if _is_model(wanted):
        return "an object in { }"
    if get_origin(wanted) is tuple:
        return "a list in [ ]"
    return {
        str: "a text in quotes",
        int: "a whole number",
        float: "a number",
        bool: "true or false",
        date: 'a date such as "2024-04-03"',
    }.get(wanted, "something else")


def _tell_given(value: Any) -> str:
    if isinstance(value, dict):
        return "An object in { }"
    if isinstance(value, list):
        return "A list in [ ]"
    return _show(value)


def _show(value: Any) -> str:
    if isinstance(value, str):
        return f'"{_cut_text(value)}"'
    if isinstance(value, float) and value.is_integer():
        return f"{value:.0f}"
    return _cut_text(json.dumps(value))


def _cut_text(text: str, most: int = 60) -> str:
    """On one line and not too long, without what a screen cannot show."""
    short = "".join(sign if sign.isprintable() else " " for sign in text[: most + 1])
    return short if len(short) <= most else short[: most - 1] + "…"


def _is_figure(text: str) -> bool:
    try:
        float(text.strip().replace(",", "."))
    except ValueError:
        return False
    return any(sign.isdigit() for sign in text)


def _step_down(value: Any, part: str | int) -> Any:
    if isinstance(value, dict):
        return value.get(part)
    if isinstance(value, list) and isinstance(part, int) and part < len(value):
        return value[part]
    return None


def _is_step(path: Path) -> bool:
    return path[0] == "stages" and isinstance(path[1], int)


def _title(value: Any) -> list[str]:
    title = value.get("title") if isinstance(value, dict) else None
    return [f"'{_cut_text(title.strip())}'"] if isinstance(title, str) and title.strip() else []


def _task_word(value: Any) -> str:
    kind = value.get("kind") if isinstance(value, dict) else None
    return f"{kind} task" if isinstance(kind, str) and kind in _TASK_KINDS else "task"


def _entry_word(holder: str, index: int, value: Any) -> str:
    word, key = _ENTRIES.get(holder, ("entry", ""))
    name = value.get(key) if key and isinstance(value, dict) else None
    if key == "name" and isinstance(name, str) and name.strip():
        return f"{word} '{_cut_text(name.strip())}'"
    if key == "number" and type(name) is int:
        return f"{word} {name}"
    if key == "number":
        return f"entry {index + 1} of {holder}"
    return f"{word} {index + 1}"
