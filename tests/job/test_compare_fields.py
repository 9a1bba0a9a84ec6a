"""Every field of the models changed, one by one: each change is told, and told of that field."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable, Iterator
from typing import Any, get_args

import pytest
from pydantic import BaseModel, ValidationError

from shopguide.job.compare import Change, compare_sheets, group_changes
from shopguide.job.files import dump_sheet, read_sheet
from shopguide.job.model import Sheet

Make = Callable[[], dict[str, Any]]
Place = tuple[str | int, ...]

ADDED_PASS = {"kind": "back off", "turn": "90°", "way": "order", "note": "slowly", "after": "4 h"}
# What might stand in some field; for each field the first few that the models take are tried.
POOL: tuple[Any, ...] = (
    "Something else", "12 N·m", "±2 N·m", "20 min", "33 mm", "1.1 L", "30 °C", "45°", "2031-07-08",
    7, 0.5, 123.4567891, True, False, "other group", ["Something else"], ["12 N·m"],
    [7.5, 8.25], [[0, 0], [9, 0], [9, 9]], [2, 1, 3, 4], [6, 5, 4, 3, 2, 1], ["dowels"],
    [1, 0, 0, 0, 1, 0, 0, 0, 1], "torque twice", [{"kind": "torque"}, ADDED_PASS],
    {"kind": "label", "text": "on the lid"}, ["bosses"],
    {"file": "b.jpg", "to_mm": [1, 0, 0, 0, 1, 0, 0, 0, 1]}, None,
)  # fmt: skip
MOST_TRIED = 3


@pytest.fixture(scope="module")
def data(make_sheet: Make) -> dict[str, Any]:
    """The sheet that has every kind of task, pattern and mark, with what it leaves out added."""
    data = make_sheet()
    data["patterns"][0]["fasteners"][0]["group"] = "dowels"
    data["patterns"][0]["fasteners"][1]["group"] = "bosses"
    data["patterns"][0]["first"] = ["dowels"]
    tasks = data["stages"][1]["steps"][0]["tasks"]
    passes = [{"kind": "snug"}, {"kind": "torque", "share": 0.5}, ADDED_PASS, {"kind": "check"}]
    passes += [{"kind": "angle", "spec": "cover angle", "yields": True}]
    tasks.append(
        {"kind": "torque", "text": "Tighten it.", "fastener": "plug", "spec": "band screw",
         "passes": [passes[0], passes[1], passes[2], passes[1], passes[4]]}
    )  # fmt: skip
    data["hints_off"] = ["long sentence"]
    read_sheet(json.dumps(data).encode())
    return data


def walk(value: Any, path: Place = ()) -> Iterator[tuple[BaseModel, Place]]:
    """Every model in a sheet with the path at which it stands."""
    if isinstance(value, BaseModel):
        yield value, path
        for key in type(value).model_fields:
            yield from walk(getattr(value, key), (*path, key))
    elif isinstance(value, tuple):
        for index, held in enumerate(value):
            yield from walk(held, (*path, index))


def put(data: dict[str, Any], path: Place, value: Any) -> dict[str, Any]:
    """The data with another value at a path; None takes the key out."""
    new = copy.deepcopy(data)
    held: Any = new
    for key in path[:-1]:
        held = held.setdefault(key, {}) if isinstance(held, dict) else held[key]
    if value is None:
        held.pop(path[-1], None)
    else:
        held[path[-1]] = value
    return new


def list_values(model: BaseModel, key: str) -> Iterator[Any]:
    """What might stand in this field in place of what does."""
    held = getattr(model, key)
    if isinstance(held, str):
        yield f"{held} X"
        yield f"{held[:1]}  {held[1:]}"
    if isinstance(held, tuple) and held:
        dumped = model.model_dump(mode="json", exclude_defaults=False)[key]
        yield from (dumped[:-1], dumped[::-1], [*dumped, dumped[0]])
    hint = type(model).model_fields[key].annotation
    for one in (hint, *get_args(hint)):
        yield from (arg for arg in get_args(one) if isinstance(arg, str))
        yield from (str(kind.value) for kind in one) if hasattr(one, "__members__") else ()
    yield from POOL


def list_changed(data: dict[str, Any]) -> Iterator[tuple[str, str, Sheet]]:
    """(model, field, the sheet with another value in it) for every field of every sort of model."""
    sheet = read(data)
    done: set[tuple[str, str]] = set()
    for model, path in walk(sheet):
        for key in type(model).model_fields:
            name = type(model).__name__, key
            if name in done or name == ("Sheet", "format"):
                continue
            made = 0
            for value in list_values(model, key):
                try:
                    new = read(put(data, (*path, key), value))
                except (ValidationError, TypeError):
                    continue
                if new != sheet:
                    made += 1
                    yield *name, new
                if made == MOST_TRIED:
                    break
            if made:
                done.add(name)
    wanted = {(type(m).__name__, k) for m, _ in walk(sheet) for k in type(m).model_fields}
    # These cannot change alone, for other keys go with them: see the test of swaps.
    whole = {("Sheet", "format"), *(("Pattern", k) for k in SHAPES)}
    whole |= {name for name in wanted if name[1] == "kind" and name[0] not in ("Spec", "Source")}
    assert wanted - done <= whole, sorted(wanted - done - whole)


SHAPES = ("circle", "rectangle", "grid", "fasteners")


@pytest.fixture(scope="module")
def changed(data: dict[str, Any]) -> list[tuple[str, str, Sheet]]:
    return list(list_changed(data))


def read(data: dict[str, Any]) -> Sheet:
    return Sheet.model_validate_json(json.dumps(data), strict=True)


WORDS = {
    "applies_to": "machines it applies to", "avoid": "how to avoid", "alt": "alternative text",
    "like_drained": "as much as was drained", "printed_also": "printed beside",
    "order_by": "whose order", "order_source": "source of the order", "order": ": order ",
    "acknowledge": "must be acknowledged", "hints_off": "switched off", "to_mm": "fit of the",
    "yields": "the screw yields", "start_deg": "place of number 1", "to": "head", "at": "its place",
    "single_use": "single-use", "fastener_word": "word for its fasteners",
    "fasteners": "fastener", "follow_ups": "follow-up", "specs": "spec", "parts": "part",
    "supplies": "suppl", "fluids": "fluid", "tools": "tool", "patterns": "pattern",
    "cautions": "caution", "stages": "stage", "steps": "step", "photos": "photo", "marks": "mark",
    "tasks": "task", "passes": "pass", "points": "points", "x_mm": "x in mm", "y_mm": "y in mm",
    "along": "along", "file": "file",
}  # fmt: skip


def names_it(model: str, key: str, change: Change) -> bool:
    """True where a change tells of this field, or of the whole thing that it is the heart of."""
    word = WORDS.get(key, key.replace("_mm", " in mm").replace("_", " "))
    told = change.tell()
    if model == "Spec" and key in ("value", "low", "high", "tolerance"):
        return told.startswith("spec '") and (": now " in told or word in told)
    # A thing without a name of its own is another thing where most of it is another.
    return word in told or change.sort in ("added", "removed", "moved")


def test_every_field_of_every_model_is_told_when_it_changes(
    data: dict[str, Any], changed: list[tuple[str, str, Sheet]]
) -> None:
    old, count = read(data), 0
    for model, key, new in changed:
        changes = compare_sheets(old, new)
        assert any(names_it(model, key, c) for c in changes), (model, key, changes)
        for change in changes:
            assert change.sentence.endswith(".") and "{" not in change.sentence, change
            other = change.old != change.new
            assert other or "Only spaces" in change.sentence or change.sort == "moved", change
        count += 1
    assert count > 200


def test_any_field_of_the_sample_is_told_when_it_changes(checkout: Any) -> None:
    sheet = read_sheet((checkout / "sample_jobs/gearbox_sump_cover/job.json").read_bytes())
    data = json.loads(dump_sheet(sheet))
    chance = random.Random(7)
    places = [(m, p, k) for m, p in walk(sheet) for k in type(m).model_fields]
    told = 0
    for model, path, key in chance.sample(places, 60):
        for value in chance.sample(list(list_values(model, key)), 5):
            try:
                new = read(put(data, (*path, key), value))
            except (ValidationError, TypeError):
                continue
            changes = compare_sheets(sheet, new)
            assert bool(changes) == (new != sheet)
            assert not changes or any(names_it(type(model).__name__, key, c) for c in changes)
            told += bool(changes)
    assert told > 20


def test_tasks_marks_and_patterns_that_become_of_another_sort_are_told(
    data: dict[str, Any],
) -> None:
    old = read(data)
    places: dict[str, list[Place]] = {}
    for _, path in walk(old):
        if len(path) > 1 and path[-2] in ("tasks", "marks", "patterns"):
            places.setdefault(str(path[-2]), []).append(path)
    swapped = 0
    for sort, paths in places.items():
        for one in paths:
            for other in paths:
                held, new = find(data, one), dict(find(data, other))
                keys = ("text",) if sort == "tasks" else ("name", "title")
                new |= {key: held[key] for key in keys if key in held and sort != "marks"}
                try:
                    sheet = read(put(data, one, new))
                except ValidationError:
                    continue
                changes = compare_sheets(old, sheet)
                assert bool(changes) == (sheet != old)
                assert not any("{" in c.sentence or "None" in c.sentence for c in changes)
                if sort == "tasks" and held["kind"] != new["kind"]:
                    told = f"kind now “{new['kind']}”, before “{held['kind']}”."
                    sentences = [c.sentence for c in changes]
                    assert told in sentences or {"is gone.", "is new."} <= {*sentences}
                swapped += 1
    assert swapped > 100


def find(data: Any, path: Place) -> Any:
    for key in path:
        data = data[key]
    return data


def test_the_path_of_a_change_leads_to_it_in_the_new_sheet(
    data: dict[str, Any], changed: list[tuple[str, str, Sheet]]
) -> None:
    old = read(data)
    for model, key, new in changed:
        dumped = new.model_dump(mode="json")
        for change in compare_sheets(old, new):
            held = find(dumped, change.path)  # KeyError where it leads nowhere
            if change.sort == "changed" and change.path and change.path[-1] == key:
                assert change.new or held in (None, "", [], ()), (model, key, change)


def test_changes_are_grouped_by_step_and_list(data: dict[str, Any]) -> None:
    new = put(data, ("specs", 0, "value"), "10 N·m")
    new = put(new, ("title",), "Other title")
    new = put(new, ("stages", 0, "steps", 0, "text"), "Let all of it run out.")
    new = put(new, ("stages", 0, "steps", 0, "tasks", 0, "note"), "A new note.")
    groups = group_changes(compare_sheets(read(data), read(new)))
    assert [head for head, _ in groups] == ["The sheet", "Specs", "Step 1, 'Drain'"]
    lines = [[change.tell_under_head() for change in held] for _, held in groups]
    assert lines[0] == ["Title now “Other title”, before “Sump cover: gasket”."]
    assert lines[1] == ["Spec 'cover torque': now 10 N·m ±1 N·m, before 9 N·m ±1 N·m."]
    assert lines[2][0].startswith("Text now “Let all of it run out.”")
    assert lines[2][1].endswith("task 1: note is new: “A new note.”.")


def test_two_long_lists_show_where_they_differ(data: dict[str, Any]) -> None:
    many = [{"number": n, "x_mm": n, "y_mm": 0} for n in range(1, 121)]
    pattern = {"name": "long", "title": "Long", "fasteners": many}
    order = list(range(1, 121))
    data = put(data, ("patterns", 0), {**pattern, "order": [*order]})
    order[99], order[100] = order[100], order[99]
    (change,) = compare_sheets(read(data), read(put(data, ("patterns", 0, "order"), order)))
    assert change.sentence.startswith("order now from place 100 on 101, 100, 102")
