"""What a person types into a field of a sheet: a figure, yes or no, or a text, as belongs there."""

from __future__ import annotations

from typing import Any, Union, get_args, get_origin

from pydantic import BaseModel

from shopguide.job.model import Sheet
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList

_YES = {"yes", "y", "true", "x", "✓", "1"}
_NO = {"no", "n", "false", "-", "0"}


def read_typed(data: FixedDict, path: Path, text: str) -> Any:
    """What a typed text means at a path; the text itself where it cannot be read as that."""
    info = _find_field(data, path)
    if info is None:
        return text
    if not text.strip() and not info.is_required():
        return None
    wanted = _find_scalars(info.annotation)
    tidy = text.strip()
    if bool in wanted and tidy.casefold() in _YES | _NO:
        return tidy.casefold() in _YES
    if int in wanted and _is_whole(tidy):
        return int(tidy)
    if float in wanted:
        figure = tidy.replace("−", "-").replace(",", ".")
        if _is_whole(figure):
            return int(figure)
        try:
            return float(figure) if "_" not in figure else text
        except ValueError:
            return text
    return text


def _is_whole(text: str) -> bool:
    digits = text.removeprefix("-")
    return digits.isascii() and digits.isdigit() and len(digits) < 18


def _find_field(data: FixedDict, path: Path) -> Any:
    """The field of the models that a path leads to; None where it is no field, or not known."""
    models: list[Any] = [Sheet]
    value: Any = data
    info = None
    for part in path:
        value = value.get(part) if isinstance(value, dict) else _at(value, part)
        if isinstance(part, int):
            kind = value.get("kind") if isinstance(value, FixedDict) else None
            fitting = [m for m in models if _kind_of(m) == kind]
            models = fitting or models
            info = None
            continue
        info = next((m.model_fields[part] for m in models if part in m.model_fields), None)
        if info is None:
            return None
        models = _find_models(info.annotation)
    return info


def _at(value: Any, part: Any) -> Any:
    if isinstance(value, FixedList) and isinstance(part, int) and 0 <= part < len(value):
        return value[part]
    return None


def _kind_of(model: Any) -> str | None:
    kind = model.model_fields.get("kind")
    return None if kind is None or kind.is_required() else kind.default


def _find_models(wanted: Any) -> list[Any]:
    if isinstance(wanted, type) and issubclass(wanted, BaseModel):
        return [wanted]
    return [model for arg in get_args(wanted) for model in _find_models(arg)]


def _find_scalars(wanted: Any) -> set[Any]:
    """The plain types that a field may have; none for a list or an object."""
    if wanted in (bool, int, float, str):
        return {wanted}
    if get_origin(wanted) is tuple:
        return set()
    if get_origin(wanted) is Union or get_args(wanted):
        return {t for arg in get_args(wanted) for t in _find_scalars(arg)}
    return set()
