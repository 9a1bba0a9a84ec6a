"""What Write is made of, without a window: fixes as edits, typed values, passes, drafts."""

from __future__ import annotations

import json

import pytest

from shopguide.bolts.passes import SCHEDULES
from shopguide.errors import Trouble
from shopguide.job.edits import Draft
from shopguide.job.files import load_sheet
from shopguide.job.skeletons import make_skeleton
from shopguide.job.written import freeze
from shopguide.review.examples import EXAMPLES, make_sheet
from shopguide.review.findings import review_sheet
from shopguide.window import write_drafts
from shopguide.window.write_edits import (
    change_kind,
    find_difference,
    find_drop,
    find_step_move,
    type_in_cell,
)
from shopguide.window.write_fields import KINDS, TASK_FIELDS
from shopguide.window.write_fixes import find_step, find_task, make_fix
from shopguide.window.write_passes import list_schedule, read_passes, write_passes


def list_fixes():
    for rule, example in EXAMPLES.items():
        for finding in review_sheet(make_sheet(example.bad), example.pictures):
            if finding.rule == rule and finding.fix is not None:
                yield pytest.param(example.bad, finding, id=f"{rule}: {finding.fix.kind}")


@pytest.mark.parametrize(("bad", "finding"), list(list_fixes()))
def test_every_fix_of_the_review_can_be_done_and_undone(bad, finding):
    draft = Draft(make_sheet(bad))
    before = draft.dump()
    assert draft.apply(make_fix(draft.data, finding.fix))
    assert draft.sheet is not None, draft.troubles
    left = {(f.rule, f.sentence, f.where) for f in review_sheet(draft.sheet)}
    assert (finding.rule, finding.sentence, finding.where) not in left
    assert draft.undo() and draft.dump() == before


def test_a_fix_for_a_step_that_is_gone_says_so():
    draft = Draft(make_skeleton("blank", "One", "Ada Hill", "2026-03-24"))
    with pytest.raises(Trouble, match="no step 9"):
        find_step(draft.data, 9)
    assert find_task(draft.data, "1.1") == ("stages", 0, "steps", 0, "tasks", 0)


# --- passes -------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SCHEDULES)
def test_every_schedule_is_written_and_read_again(name):
    plain = list_schedule(name)
    assert read_passes(write_passes(freeze(plain))) == plain


def test_passes_are_read_as_they_are_written():
    assert read_passes("snug; spec by hand; note Until it touches; no further\ntorque 30 %") == [
        {"kind": "snug", "spec": "by hand", "note": "Until it touches; no further"},
        {"kind": "torque", "share": 0.3},
    ]
    assert read_passes("back off 90°; way order\nangle; spec turn; yields\ncheck; after 4 h") == [
        {"kind": "back off", "turn": "90°", "way": "order"},
        {"kind": "angle", "spec": "turn", "yields": True},
        {"kind": "check", "after": "4 h"},
    ]


def test_a_line_that_is_no_pass_stays_as_typed():
    assert read_passes("a bit tighter\ntorque; somehow") == ["a bit tighter", "torque; somehow"]
    assert write_passes(freeze(["a bit tighter"])) == "a bit tighter"


def test_the_passes_of_the_sample_are_written_and_read_again(checkout):
    data = json.loads((checkout / "sample_jobs/gearbox_sump_cover/job.json").read_bytes())
    lists = [
        task["passes"]
        for stage in data["stages"]
        for step in stage["steps"]
        for task in step["tasks"]
        if isinstance(task.get("passes"), list)
    ]
    assert lists
    for passes in lists:
        assert read_passes(write_passes(freeze(passes))) == passes


# --- typing -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_a_task_becomes_any_kind_and_keeps_its_text(kind):
    draft = Draft(make_skeleton("blank", "One", "Ada Hill", "2026-03-24"))
    path = find_task(draft.data, "1.1")
    draft.apply(change_kind(draft.data, path, "open"))
    draft.apply(change_kind(draft.data, path, kind))
    task = draft.data["stages"][0]["steps"][0]["tasks"][0]
    assert task["kind"] == kind and task["text"] == "Write here what is to be done."
    known = {"kind", "text", *(field.key for field in TASK_FIELDS[kind])}
    assert set(task) <= known


def test_the_kind_of_a_new_spec_is_told_by_its_figure():
    draft = Draft(make_skeleton("blank", "One", "Ada Hill", "2026-03-24"))
    draft.apply(type_in_cell(draft.data, "specs", 0, 2, "4.2 L"))
    draft.apply(type_in_cell(draft.data, "specs", 0, 0, "fluid"))
    assert draft.sheet.specs[0].kind == "volume"
    draft.apply(type_in_cell(draft.data, "specs", 0, 6, "manual"))
    draft.apply(type_in_cell(draft.data, "specs", 0, 7, "page 4"))
    assert draft.sheet.specs[0].source.tell() == "manual: page 4"
    draft.apply(type_in_cell(draft.data, "specs", 0, 6, "not known"))
    assert draft.sheet.specs[0].source.tell() == "source not known: page 4"
    draft.apply(type_in_cell(draft.data, "specs", 0, 9, "4.4 qt | 1.1 US gal"))
    assert draft.sheet.specs[0].printed_also == ("4.4 qt", "1.1 US gal")


def test_steps_move_across_stages_and_stop_at_the_ends(checkout):
    draft = Draft(load_sheet(checkout / "sample_jobs/gearbox_sump_cover").sheet)
    data = draft.data
    assert find_step_move(data, ("stages", 0, "steps", 0), -1) is None
    first = len(data["stages"][0]["steps"])
    assert find_step_move(data, ("stages", 1, "steps", 0), -1) == ("stages", 0, "steps", first)
    assert find_step_move(data, ("stages", 0, "steps", first - 1), 1) == ("stages", 1, "steps", 0)
    last = len(data["stages"]) - 1
    assert find_step_move(data, ("stages", last), 1) is None
    assert find_drop(data, ("stages", 0, "steps", 0), ("stages", 0, "steps", 2)) == (
        ("stages", 0, "steps", 1)
    )
    assert find_drop(data, ("stages", 1, "steps", 1), ("stages", 1)) == (
        ("stages", 0, "steps", first)
    )


def test_where_two_versions_differ_is_found():
    old = freeze({"a": [{"b": 1}, {"b": 2}], "c": "x"})
    assert find_difference(old, freeze({"a": [{"b": 1}, {"b": 3}], "c": "x"})) == ("a", 1, "b")
    assert find_difference(old, freeze({"a": [{"b": 1}], "c": "x"})) == ("a", 1)
    assert find_difference(old, freeze({"a": [{"b": 1}, {"b": 2}], "c": "y"})) == ("c",)


# --- drafts -------------------------------------------------------------------------------------


def test_a_draft_is_put_aside_found_and_dropped(tmp_path, user_home):
    folder = tmp_path / "sheet"
    key = write_drafts.name_draft(folder)
    assert write_drafts.find_aside(key) is None
    write_drafts.put_aside(key, folder, "Ölwanne", b'{"title": "\xc3\x96lwanne"}')
    found = write_drafts.find_aside(key)
    assert json.loads(found.raw) == {"title": "Ölwanne"} and found.title == "Ölwanne"
    assert found.path.is_relative_to(user_home)
    assert write_drafts.list_unsaved() == []
    write_drafts.drop_aside(key)
    assert write_drafts.find_aside(key) is None


def test_drafts_of_sheets_never_saved_are_listed(user_home):
    key = write_drafts.name_draft(None)
    write_drafts.put_aside(key, None, "New", b"{}")
    (found,) = write_drafts.list_unsaved()
    assert write_drafts.key_of(found) == key and found.source == ""


@pytest.mark.parametrize("raw", [b"", b"{", b"[]", b'{"sheet": {}}', b"\xff\xfe"])
def test_a_damaged_draft_is_passed_over(user_home, raw):
    write_drafts.find_folder().joinpath("x.draft.json").write_bytes(raw)
    assert write_drafts.find_aside("x") is None
    assert write_drafts.list_unsaved() == []
