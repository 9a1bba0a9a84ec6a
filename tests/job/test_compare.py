"""Two revisions compared: nothing where they are equal, the same count in both directions."""

from __future__ import annotations

import json
import random
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest

from shopguide.errors import Trouble
from shopguide.job.compare import Change, compare_sheets
from shopguide.job.edits import (
    Add,
    Draft,
    Duplicate,
    JoinNext,
    Move,
    Remove,
    Rename,
    SetValue,
    Split,
    TypeIn,
)
from shopguide.job.files import load_sheet, read_sheet
from shopguide.job.model import Sheet

Make = Callable[[], dict[str, Any]]


@pytest.fixture
def draft(make_sheet: Make) -> Draft:
    return Draft(read_sheet(json.dumps(make_sheet()).encode()))


@pytest.fixture(scope="module")
def sample(checkout) -> Sheet:
    return load_sheet(checkout / "sample_jobs" / "gearbox_sump_cover").sheet


def step(stage: int, number: int) -> tuple[Any, ...]:
    return ("stages", stage, "steps", number)


def compare_after(draft: Draft, *edits: Any) -> list[Change]:
    """The changes that these edits make, checked to be as many the other way round."""
    old = draft.sheet
    for edit in edits:
        draft.apply(edit)
    new = draft.sheet
    found = compare_sheets(old, new)
    check_symmetry(old, new)
    return list(found)


def check_symmetry(old: Sheet, new: Sheet) -> None:
    there, back = compare_sheets(old, new), compare_sheets(new, old)
    turned = {"added": "removed", "removed": "added"}
    assert Counter(turned.get(c.sort, c.sort) for c in there) == Counter(c.sort for c in back)
    assert bool(there) == (old != new)


def test_equal_sheets_have_no_changes(sample, draft):
    assert compare_sheets(sample, sample) == ()
    again = Sheet.model_validate(sample.model_dump())
    assert again is not sample and compare_sheets(sample, again) == ()
    assert compare_sheets(draft.sheet, read_sheet(draft.dump())) == ()


def test_a_spec_is_told_with_its_old_and_new_figure(draft):
    (change,) = compare_after(draft, TypeIn(("specs", 0, "value"), "10 N·m"))
    assert change.tell() == "spec 'cover torque': now 10 N·m ±1 N·m, before 9 N·m ±1 N·m."
    assert (change.sort, change.old, change.new) == ("changed", "9 N·m ±1 N·m", "10 N·m ±1 N·m")


def test_a_figure_written_another_way_is_a_change_too(draft):
    (change,) = compare_after(draft, TypeIn(("specs", 0, "value"), "9 Nm"))
    assert (change.old, change.new) == ("“9 N·m”", "“9 Nm”")


def test_the_source_of_a_spec_is_told(draft):
    (change,) = compare_after(draft, TypeIn(("specs", 5, "source", "text"), "page 8"))
    assert (
        change.tell() == "spec 'magnet gap', source: text now “page 8”, before “invented, page 7”."
    )


def test_a_moved_step_is_told_once_as_moved(draft):
    (change,) = compare_after(draft, Move(step(1, 1), step(1, 0)))
    assert change.sort == "moved"
    (change,) = compare_after(draft, Move(step(1, 0), step(0, 0)))
    assert change.tell() == (
        "step 1, 'Fill': stands in stage 'Take apart', before as step 3 of stage 'Put back'."
    )


def test_of_steps_that_change_places_the_fewest_are_told(draft):
    steps = [
        Add(step(0, 2 + k), {"title": f"S{k}", "tasks": [{"kind": "confirm", "text": f"Do {k}."}]})
        for k in range(5)
    ]
    for edit in steps:
        draft.apply(edit)
    (change,) = compare_after(draft, Move(step(0, 6), step(0, 0)))
    assert (change.sort, change.where) == ("moved", "step 1, 'S4'")


def test_added_and_removed_steps_are_told(draft):
    new = {"title": "Rest", "tasks": [{"kind": "confirm", "text": "Sit down."}]}
    (added,) = compare_after(draft, Add(step(1, 0), new))
    assert (added.sort, added.where, added.sentence) == ("added", "step 3, 'Rest'", "is new.")
    (removed,) = compare_after(draft, Remove(step(1, 0)))
    assert (removed.sort, removed.sentence) == ("removed", "is gone.")


def test_a_step_with_another_title_is_the_same_step(draft):
    (change,) = compare_after(draft, TypeIn((*step(0, 0), "title"), "Let the fluid out"))
    assert change.tell() == (
        "step 1, 'Let the fluid out': title now “Let the fluid out”, before “Drain”."
    )


def test_a_task_is_told_in_its_step(draft):
    note = TypeIn((*step(0, 1), "tasks", 0, "note"), "Mind the pins.")
    (change,) = compare_after(draft, note)
    assert change.tell() == (
        "step 2, 'Remove the cover', open task 1: note is new: “Mind the pins.”."
    )


def test_passes_parts_patterns_and_marks_are_told(draft):
    changes = compare_after(
        draft,
        TypeIn((*step(1, 0), "tasks", 0, "passes"), "torque twice"),
        TypeIn(("parts", 0, "quantity"), "3"),
        SetValue(("patterns", 0, "order"), [1, 2, 3, 4]),
        TypeIn((*step(0, 0), "photos", 0, "marks", 1, "radius"), "5"),
    )
    assert [change.where for change in changes] == [
        "part 'Gasket'",
        "pattern 'sump cover'",
        "step 1, 'Drain', photo 'drain.png', mark 2",
        "step 3, 'Cover screws', torque task 1",
    ]
    assert changes[0].sentence == "quantity now 3, before 2."
    assert changes[3].sentence == ("passes now “torque twice”, before “torque, back off, torque”.")


def test_head_and_lists_of_the_sheet_are_told(draft):
    changes = compare_after(
        draft,
        TypeIn(("revision",), "3"),
        TypeIn(("time",), ""),
        SetValue(("applies_to",), ["Invented van, any year", "Its trailer"]),
        TypeIn(("date",), "2024-05-01"),
    )
    assert [change.sentence for change in changes] == [
        "machines it applies to now “Invented van, any year”, “Its trailer”, before "
        "“Invented van, any year”.",
        "time is gone, before: “2 h”.",
        "revision now “3”, before “2”.",
        "date now 2024-05-01, before 2024-04-03.",
    ]


def test_a_long_text_is_shown_where_it_differs(draft):
    long = "word " * 100
    draft.apply(TypeIn(("summary",), f"{long}here it ends"))
    (change,) = compare_after(draft, TypeIn(("summary",), f"{long}there it ends"))
    assert "here it ends" in change.old and "there it ends" in change.new
    assert change.old.startswith("“…") and len(change.old) < 160


def test_two_sheets_that_have_nothing_in_common_are_all_new(draft, sample):
    changes = compare_sheets(draft.sheet, sample)
    steps = [change for change in changes if change.where.startswith("step ")]
    assert sum(change.sort == "added" for change in steps) >= 25
    check_symmetry(draft.sheet, sample)


@pytest.mark.parametrize("seed", range(4))
def test_any_two_revisions_differ_by_as_much_in_both_directions(draft, sample, seed):
    luck = random.Random(seed)
    begun = draft.sheet if seed % 2 else sample
    draft = Draft(begun)
    compared = 0
    for _ in range(45):
        sheet = draft.sheet
        places = [
            ("stages", s, "steps", p)
            for s, stage in enumerate(sheet.stages)
            for p in range(len(stage.steps))
        ]
        path, other = luck.choice(places), luck.choice(places)
        task = (*path, "tasks", 0)
        edit = luck.choice(
            [
                Move(path, other),
                Duplicate(path),
                Remove(path),
                Split(path, 1),
                JoinNext(path),
                JoinNext(task),
                Duplicate(task),
                Move(("stages", path[1]), ("stages", other[1])),
                TypeIn((*path, "title"), luck.choice(["Drain", "Cover screws", "Other"])),
                TypeIn((*task, "text"), f"{look_word(luck)} the {look_word(luck)}."),
                Duplicate(("specs", luck.randrange(len(sheet.specs)))),
                Move(("specs", luck.randrange(len(sheet.specs))), ("specs", 0)),
                Rename("item", "cover", "lid"),
                Duplicate(("parts", 0)),
            ]
        )
        try:
            draft.apply(edit)
        except Trouble:
            continue
        if draft.sheet is None:
            draft.undo()
            continue
        check_symmetry(begun, draft.sheet)
        compared += 1
    assert compared > 20


def look_word(luck: random.Random) -> str:
    return luck.choice(["Tighten", "clean", "cover", "plug", "again", "old gasket"])


def test_2000_steps_are_compared_in_a_second(make_sheet):
    data = make_sheet()
    data["stages"].append(
        {
            "title": "Many",
            "steps": [
                {"title": f"Step {k}", "tasks": [{"kind": "confirm", "text": f"Look at {k}."}]}
                for k in range(2000)
            ],
        }
    )
    old = read_sheet(json.dumps(data).encode())
    for k in range(0, 2000, 50):
        data["stages"][2]["steps"][k]["title"] = f"Changed {k}"
    new = read_sheet(json.dumps(data).encode())
    begun = time.process_time()
    changes = compare_sheets(old, new)
    assert time.process_time() - begun < 1.5
    assert len(changes) == 40
