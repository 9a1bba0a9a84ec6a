"""Everything that a sheet can hold is reached by keys and mouse: the sample and one sheet more."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from enum import Enum
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

import pytest
from PIL import Image
from pydantic import BaseModel

from shopguide.job.files import dump_sheet, load_sheet
from shopguide.job.model import Sheet


@pytest.fixture
def every_field(tmp_path) -> Path:
    """The sheet on which everything is written that the sample leaves out, with its pictures."""
    folder = tmp_path / "on paper"
    (folder / "photos").mkdir(parents=True)
    shutil.copy(Path(__file__).with_name("every_field") / "job.json", folder)
    for name, grey in (("lid.png", 90), ("side.png", 160)):
        Image.new("RGB", (800, 600), (grey, grey, 120)).save(folder / "photos" / name)
    return folder


def list_fields(model: type[BaseModel], found: set[tuple[Any, ...]]) -> None:
    """Every field of a model and of those in it, and each word that a field may be."""
    for name, field in model.model_fields.items():
        if (model, name) in found:
            continue
        found.add((model, name))
        for part in list_parts(field.annotation):
            if get_origin(part) is Literal:
                found.update((model, name, word) for word in get_args(part))
            elif isinstance(part, type) and issubclass(part, Enum):
                found.update((model, name, word.value) for word in part)
            elif isinstance(part, type) and issubclass(part, BaseModel):
                list_fields(part, found)


def list_parts(annotation: Any) -> Iterator[Any]:
    """A type with everything that it is made of."""
    yield annotation
    if get_origin(annotation) is not Literal:
        for part in get_args(annotation):
            yield from list_parts(part)


def list_said(entry: BaseModel, found: set[tuple[Any, ...]]) -> None:
    """Every field of which a sheet says something of its own, and every word that it uses."""
    for name, field in type(entry).model_fields.items():
        value = getattr(entry, name)
        if field.is_required() or value != field.default or name == "kind":
            found.add((type(entry), name))
        word = value.value if isinstance(value, Enum) else value
        if isinstance(word, (str, bool)):
            found.add((type(entry), name, word))
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, BaseModel):
                list_said(one, found)


def test_the_two_sheets_hold_everything_that_a_sheet_can(sample, every_field):
    wanted: set[tuple[Any, ...]] = set()
    list_fields(Sheet, wanted)
    said: set[tuple[Any, ...]] = set()
    for folder in (sample, every_field):
        list_said(load_sheet(folder).sheet, said)
    # A joint and each of its screws have the same heads to choose from.
    heads = {one[2] for one in said if one[1:2] == ("head",) and len(one) == 3}
    missing = {one for one in wanted - said if not (one[1] == "head" and heads.issuperset(one[2:]))}
    assert not {(one[0].__name__, *one[1:]) for one in missing}


def test_everything_that_a_sheet_can_hold_is_written_by_keys_and_mouse(
    qtbot, frame, mechanics, every_field, tmp_path
):
    wanted = load_sheet(every_field)
    hand = mechanics.Mechanic(qtbot, frame, every_field / "photos")
    hand.write_sheet(wanted.sheet)
    folder = tmp_path / "made"
    hand.save(folder)
    made = load_sheet(folder)
    for key in Sheet.model_fields:
        assert getattr(made.sheet, key) == getattr(wanted.sheet, key), key
    assert made.sheet == wanted.sheet
    for name in wanted.names():
        assert made.photo_bytes(name) == wanted.photo_bytes(name), name


@pytest.mark.parametrize("wrong", ["", "title", "task", "spec"])
def test_one_letter_mistyped_is_seen(qtbot, frame, mechanics, small_cover, tmp_path, wrong):
    wanted = load_sheet(small_cover)
    hand = mechanics.Mechanic(qtbot, frame, small_cover / "photos")
    step = wanted.sheet.steps[0].step
    spec = next(task.spec for task in wanted.sheet.tasks.values() if task.kind == "torque")
    hand.wrong = {"title": step.title, "task": step.tasks[0].text, "spec": spec}.get(wrong, "")
    hand.write_sheet(wanted.sheet)
    hand.save(tmp_path / "made")
    made = json.loads((tmp_path / "made" / "job.json").read_bytes())
    assert (made == json.loads(dump_sheet(wanted.sheet))) is (wrong == "")
