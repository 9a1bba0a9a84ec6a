"""The sheet as written: plain data that cannot be changed, and what of it can be read.

While a sheet is being written it is often half-finished, and the models of `job.model` are strict.
So a draft holds what would stand in job.json: objects, lists, texts, numbers, each as typed.
Every piece of it is read by the models once and remembers the outcome; a new version of the data
shares every piece that did not change, so only what changed is read again, and what did not change
gives the very same stage, step, spec or part as before.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple, NoReturn, get_args, get_origin

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic_core import InitErrorDetails

from shopguide.errors import Trouble
from shopguide.job.faults import Places, tell_faults
from shopguide.job.model import Caution, Photo, PictureMark, Sheet, Stage, Step, Task
from shopguide.job.references import find_loose_ends
from shopguide.job.text import Path


def _refuse(*_: Any, **__: Any) -> NoReturn:
    raise TypeError("What is written in a draft is changed by an edit only.")


class FixedDict(dict[str, Any]):
    """An object of job.json that cannot be changed. It keeps its keys in their sequence."""

    __slots__ = ("_outcome",)
    __setitem__ = __delitem__ = __ior__ = _refuse  # type: ignore[assignment]
    update = pop = popitem = clear = setdefault = _refuse  # type: ignore[assignment]

    def __copy__(self) -> FixedDict:
        return self

    def __deepcopy__(self, memo: object) -> FixedDict:
        return self


class FixedList(list[Any]):
    """A list of job.json that cannot be changed."""

    __slots__ = ()
    __setitem__ = __delitem__ = __iadd__ = __imul__ = _refuse  # type: ignore[assignment]
    append = extend = insert = pop = remove = _refuse  # type: ignore[assignment]
    clear = sort = reverse = _refuse  # type: ignore[assignment]

    def __copy__(self) -> FixedList:
        return self

    def __deepcopy__(self, memo: object) -> FixedList:
        return self


class Located(NamedTuple):
    """A trouble with the path in job.json to what it is about."""

    path: Path
    trouble: Trouble


class Reading(NamedTuple):
    """What the models make of written data: the sheet, or why there is none."""

    sheet: Sheet | None
    errors: tuple[dict[str, Any], ...]


class _Outcome(NamedTuple):
    """What the models make of one piece; the errors are placed from that piece on."""

    role: str
    entry: Any
    errors: tuple[dict[str, Any], ...]


def freeze(value: Any) -> Any:
    """The data as it cannot be changed any more; what is so already is handed on as it is.

    What JSON cannot carry becomes a text, to be seen and put right: a figure without end, half of
    a two-part sign.
    """
    if isinstance(value, (FixedDict, FixedList)):
        return value
    if isinstance(value, Mapping):
        return FixedDict((clean_signs(str(key)), freeze(held)) for key, held in value.items())
    if isinstance(value, (list, tuple)):
        return FixedList(freeze(held) for held in value)
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    return clean_signs(value) if isinstance(value, str) else value


def clean_signs(text: str) -> str:
    """The text with what stands for no sign at all, half of a two-part one, replaced."""
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")


def is_same(old: Any, new: Any) -> bool:
    """True where two pieces of data give the same bytes: 1, 1.0 and true are told apart."""
    if old is new:
        return True
    if isinstance(old, dict) and isinstance(new, dict):
        return list(old) == list(new) and all(is_same(old[key], new[key]) for key in old)
    if isinstance(old, list) and isinstance(new, list):
        return len(old) == len(new) and all(map(is_same, old, new))
    return type(old) is type(new) and old == new


def share(old: Any, new: Any) -> Any:
    """The new data, made of the pieces of the old wherever these are the same."""
    return old if is_same(old, new) else _share_with(_know_pieces(old), new)


def _know_pieces(data: Any) -> dict[str, Any]:
    """Every object and list in the data by its text, which tells 1, 1.0 and true apart."""
    known: dict[str, Any] = {}
    todo = [data]
    while todo:
        piece = todo.pop()
        if isinstance(piece, (FixedDict, FixedList)):
            known.setdefault(json.dumps(piece), piece)
            todo += piece.values() if isinstance(piece, FixedDict) else piece
    return known


def _share_with(known: dict[str, Any], new: Any) -> Any:
    if not isinstance(new, (dict, list)):
        return freeze(new)
    same = known.get(json.dumps(new))
    if same is not None:
        return same
    if isinstance(new, dict):
        return FixedDict((clean_signs(key), _share_with(known, e)) for key, e in new.items())
    return FixedList(_share_with(known, entry) for entry in new)


# --- reading ------------------------------------------------------------------------------------


def _find_roles() -> dict[str, TypeAdapter[Any]]:
    """What the entries of each list in job.json are, by the list's key."""
    roles: dict[str, TypeAdapter[Any]] = {}
    for key, field in Sheet.model_fields.items():
        inner = get_args(field.annotation)
        if get_origin(field.annotation) is tuple and _is_model(inner[0]):
            roles[key] = TypeAdapter(inner[0])
    roles.update(
        steps=TypeAdapter(Step),
        tasks=TypeAdapter(Task),
        photos=TypeAdapter(Photo),
        marks=TypeAdapter(PictureMark),
        cautions=TypeAdapter(Caution),
    )
    return roles


def _is_model(wanted: Any) -> bool:
    return isinstance(wanted, type) and issubclass(wanted, BaseModel)


_ROLES = _find_roles()
_SECTIONS = tuple(key for key in Sheet.model_fields if key in _ROLES)
_MOST = {
    key: most
    for key in _SECTIONS
    for most in (getattr(held, "max_length", None) for held in Sheet.model_fields[key].metadata)
    if most is not None
}
_ANY_TASK = {"kind": "confirm", "text": "-"}
_ANY_STEP = {"title": "-", "tasks": [_ANY_TASK]}
_ANY_STAGE = {"title": "-", "steps": [_ANY_STEP]}


def read_piece(piece: Any, role: str) -> Any:
    """The entry that a piece is, or None where it cannot be read.

    role: the key of the list that it stands in ("steps", "tasks", "specs").
    """
    return _read_piece(piece, role).entry


def read_errors(piece: Any, role: str) -> tuple[dict[str, Any], ...]:
    """The errors of the models in a piece, placed from that piece on; () where it can be read."""
    return _read_piece(piece, role).errors


def read_written(root: Any) -> Reading:
    """The sheet that the data is, or the errors of the models with their places in the data."""
    if not isinstance(root, FixedDict):
        root = freeze(root)
    sections = {}
    errors: list[dict[str, Any]] = []
    shell = dict(root)
    for key in _SECTIONS:
        entries = root.get(key)
        if not isinstance(entries, FixedList) or len(entries) > _MOST.get(key, len(entries)):
            continue
        if key == "stages":
            if not entries:
                continue
            shell[key] = [_ANY_STAGE]
        else:
            shell[key] = []
        outcomes = [_read_piece(entry, key) for entry in entries]
        sections[key] = tuple(outcome.entry for outcome in outcomes)
        for index, outcome in enumerate(outcomes):
            if outcome.errors:
                errors += [{**e, "loc": (key, index, *e["loc"])} for e in outcome.errors]
    try:
        sheet = Sheet.model_validate_json(json.dumps(shell), strict=True)
    except ValidationError as fault:
        errors = [*fault.errors(include_url=False), *errors]
    if errors:
        return Reading(None, _sort_errors(errors, Sheet))
    return Reading(sheet.model_copy(update=sections), ())


def _sort_errors(
    errors: list[dict[str, Any]], model: type[BaseModel]
) -> tuple[dict[str, Any], ...]:
    """The errors in the sequence of the model's keys, those of unknown keys last."""
    seats = {key: seat for seat, key in enumerate(model.model_fields)}
    return tuple(
        sorted(errors, key=lambda e: seats.get(e["loc"][0] if e["loc"] else "", len(seats)))
    )


def _read_piece(piece: Any, role: str) -> _Outcome:
    if isinstance(piece, FixedDict):
        outcome: _Outcome | None = getattr(piece, "_outcome", None)
        if outcome is not None and outcome.role == role:
            return outcome
        outcome = _read_stage(piece) if role == "stages" else _validate(piece, role)
        object.__setattr__(piece, "_outcome", outcome)
        return outcome
    return _validate(piece, role)


def _validate(piece: Any, role: str) -> _Outcome:
    try:
        return _Outcome(role, _ROLES[role].validate_json(json.dumps(piece), strict=True), ())
    except ValidationError as fault:
        return _Outcome(role, None, tuple(fault.errors(include_url=False)))


def _read_stage(piece: FixedDict) -> _Outcome:
    """A stage put together from its steps, of which only new ones are read."""
    steps = piece.get("steps")
    if not isinstance(steps, FixedList) or not steps:
        return _validate(piece, "stages")
    outcomes = [_read_piece(step, "steps") for step in steps]
    errors = [
        {**error, "loc": ("steps", index, *error["loc"])}
        for index, outcome in enumerate(outcomes)
        for error in outcome.errors
    ]
    try:
        stage = Stage.model_validate_json(json.dumps({**piece, "steps": [_ANY_STEP]}), strict=True)
    except ValidationError as fault:
        errors = [*fault.errors(include_url=False), *errors]
    if errors:
        return _Outcome("stages", None, _sort_errors(errors, Stage))
    whole = stage.model_copy(update={"steps": tuple(outcome.entry for outcome in outcomes)})
    return _Outcome("stages", whole, ())


def replace_fields(sheet: Sheet, **fields: Any) -> Sheet:
    """The sheet with other fields, which are taken as they are.

    A plain copy would keep the steps and tasks that were reckoned from the old ones.
    """
    held = {name: getattr(sheet, name) for name in Sheet.model_fields}
    return Sheet.model_construct(**(held | fields))


# --- troubles -----------------------------------------------------------------------------------


class _NotingPlaces(Places):
    """Places that can be found again from their words."""

    def __init__(self, data: Any, where: str) -> None:
        super().__init__(data, where)
        self.paths: dict[str, Path] = {}

    def tell(self, path: Path) -> str:
        words = super().tell(path)
        self.paths.setdefault(words, path)
        return words


def find_troubles(root: FixedDict, reading: Reading, where: str) -> tuple[Located, ...]:
    """Everything that keeps the data from being a sheet, as the loader would tell it, with paths.

    Where the models hold, names that lead nowhere are looked for.
    """
    places = _NotingPlaces(root, where)
    if reading.sheet is not None:
        found = find_loose_ends(reading.sheet, places)
        return tuple(Located(places.paths.get(t.where, ()), t) for t in found)
    fault = ValidationError.from_exception_data(
        "Sheet",
        [
            InitErrorDetails(
                type=error["type"], loc=error["loc"], input=error["input"], ctx=error.get("ctx", {})
            )
            for error in reading.errors
        ],
    )
    found = tell_faults(fault, root, where)
    for error in reading.errors:
        path = _strip_tags(error["loc"])
        key, colon, _ = str(error.get("ctx", {}).get("error", "")).partition(": ")
        if colon and key.isidentifier():
            places.tell((*path, key))
        places.tell(path)
        places.tell(path[:-1])
    return tuple(Located(places.paths.get(t.where, ()), t) for t in found)


def _strip_tags(loc: Iterable[str | int]) -> Path:
    """An error's location without what pydantic adds to it for a choice of types."""
    path: list[str | int] = []
    tagged = False
    for part in loc:
        if tagged and isinstance(part, str):
            tagged = False
            continue
        path.append(part)
        tagged = part == "passes" or (
            isinstance(part, int) and len(path) > 1 and path[-2] in ("tasks", "marks")
        )
    return tuple(path)


def list_photo_files(data: FixedDict) -> list[str]:
    """The file names of all pictures in data of which not all need be readable."""
    found: list[str] = []

    def walk(value: Any) -> None:
        if isinstance(value, FixedDict):
            file = value.get("file")
            if isinstance(file, str):
                found.append(file)
            for key in ("stages", "steps", "photos", "patterns", "photo"):
                if key in value:
                    walk(value[key])
        elif isinstance(value, FixedList):
            for held in value:
                walk(held)

    walk(data)
    return list(dict.fromkeys(found))
