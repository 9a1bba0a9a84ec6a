"""The reviewer: what it finds after an edit is what it would find afresh, and it looks at less."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest

from shopguide import places
from shopguide.job.edits import Add, Draft, Duplicate, Edit, Move, Remove, SetValue
from shopguide.job.files import load_sheet
from shopguide.review.examples import EXAMPLES, make_sheet
from shopguide.review.findings import SEVERITIES, Reviewer, review_sheet

SAMPLE = places.list_samples()[0]


def open_draft() -> Draft:
    return Draft.open((SAMPLE / "job.json").read_bytes())


def review(reviewer: Reviewer, draft: Draft) -> list[Any]:
    assert draft.sheet is not None
    return [one.as_full_dict() for one in reviewer.review(draft.sheet)]


def make_edit(luck: random.Random, draft: Draft) -> Edit:
    """Some edit that somebody may make, sensible or not."""
    data = json.loads(draft.dump_as_typed())
    stage = luck.randrange(len(data["stages"]))
    step = luck.randrange(len(data["stages"][stage]["steps"]))
    here = ("stages", stage, "steps", step)
    task = luck.randrange(len(data["stages"][stage]["steps"][step]["tasks"]))
    spec = luck.randrange(len(data["specs"]))
    edits: list[Edit] = [
        SetValue((*here, "title"), f"Brake hose {luck.random()}"),
        SetValue(
            (*here, "tasks", task, "text"), luck.choice(["It should go.", "Jack up the van."])
        ),
        Add((*here, "tasks", task), {"kind": "close", "text": "On.", "how": "refit", "item": "x"}),
        Add((*here, "tasks", 0), {"kind": "open", "text": "Off.", "how": "loosen", "item": "x"}),
        Duplicate(here),
        Move(here, ("stages", stage, "steps", 0)),
        SetValue(("specs", spec, "name"), f"another {luck.random()}"),
        SetValue(("specs", spec, "note"), luck.choice(["", "By hand."])),
        SetValue(("tools",), luck.choice([[], [{"name": "Socket 10 mm"}]])),
        SetValue(("patterns", 0, "condition"), luck.choice(["threadlock", "oiled"])),
        SetValue(("hints_off",), luck.choice([[], ["no should", "spec is used"], ["nonsense"]])),
    ]
    if len(data["stages"][stage]["steps"]) > 1:
        edits.append(Remove(here))
    return luck.choice(edits)


@pytest.mark.parametrize("seed", range(6))
def test_after_each_edit_it_finds_what_a_new_one_finds(seed):
    luck, draft, reviewer = random.Random(seed), open_draft(), Reviewer()
    found = 0
    for number in range(25):
        draft.apply(make_edit(luck, draft))
        if number % 7 == 6:
            draft.undo()
        if draft.sheet is None:
            continue
        told = review(reviewer, draft)
        assert told == review(Reviewer(), draft)
        found = max(found, len(told))
    assert found > 5, "the edits were to spoil something"


def test_only_the_step_that_changed_is_looked_at_again():
    draft, reviewer = open_draft(), Reviewer()
    review(reviewer, draft)
    assert reviewer.looked_at == len(draft.sheet.steps)
    review(reviewer, draft)
    assert reviewer.looked_at == 0
    draft.apply(SetValue(("stages", 0, "steps", 0, "tasks", 0, "text"), "It should go."))
    assert any(one["rule"] == "no should" for one in review(reviewer, draft))
    assert reviewer.looked_at == 1
    draft.apply(Move(("stages", 0, "steps", 1), ("stages", 0, "steps", 0)))
    (told,) = [one for one in review(reviewer, draft) if one["rule"] == "no should"]
    assert reviewer.looked_at == 0
    assert told["place"] == {"step": 2, "task": "2.1", "list": "", "name": "", "field": "text"}
    assert told["where"].startswith("step 2, ")


def test_a_spec_that_changed_is_looked_at_where_it_is_used():
    draft, reviewer = open_draft(), Reviewer()
    review(reviewer, draft)
    index = [spec["name"] for spec in json.loads(draft.dump_as_typed())["specs"]].index(
        "drain plug"
    )
    using = [
        p for p in draft.sheet.steps if any("drain plug" in t.spec_names for t in p.step.tasks)
    ]
    draft.apply(SetValue(("specs", index, "value"), "900 N·m"))
    found = review(reviewer, draft)
    assert 0 < reviewer.looked_at <= len(using)
    assert [one["rule"] for one in found if one["severity"] != "hint"] == ["torque wrench reaches"]


def test_a_name_that_led_nowhere_is_found_again_when_it_is_there():
    reviewer = Reviewer()
    bad = EXAMPLES["name leads somewhere"].bad
    lost = make_sheet(bad)
    assert reviewer.review(lost)[0].severity == "stops work"
    spec = {"name": "plugg", "kind": "torque", "value": "25 N·m"}
    # The same step objects, as an edit leaves them.
    there = make_sheet({**bad, "specs": [*bad["specs"], spec]}).model_copy(
        update={"stages": lost.stages}
    )
    for key in ("steps", "tasks"):
        there.__dict__.pop(key, None)
    assert not [one for one in reviewer.review(there) if one.rule == "name leads somewhere"]


def test_the_same_step_twice_is_told_at_both_places():
    step = {"title": "A", "tasks": [{"kind": "confirm", "text": "It should go."}]}
    sheet = make_sheet({"steps": [step, step]})
    twin = sheet.stages[0].model_copy(update={"steps": (sheet.stages[0].steps[0],) * 2})
    sheet = sheet.model_copy(update={"stages": (twin,)})
    for _ in range(2):
        told = [one for one in Reviewer().review(sheet) if one.rule == "no should"]
        assert [one.task for one in told] == ["1.1", "2.1"]


def test_hints_are_switched_off_by_name_and_nothing_else_is():
    draft = open_draft()
    names = [one.rule for one in review_sheet(load_sheet(SAMPLE).sheet)]
    assert "source not known" in names
    draft.apply(SetValue(("hints_off",), ["source not known", "passes end tight"]))
    told = [(one["rule"], one["severity"]) for one in review(Reviewer(), draft)]
    assert ("source not known", "hint") not in told
    assert ("switched-off hint exists", "wants an answer") in told
    loose = EXAMPLES["passes end tight"].bad
    found = review_sheet(make_sheet({**loose, "hints_off": ["passes end tight"]}))
    assert found[0].rule == "passes end tight"


def test_hints_off_is_kept_in_the_file():
    draft = open_draft()
    draft.apply(SetValue(("hints_off",), ["no should"]))
    again = Draft.open(draft.dump())
    assert again.sheet is not None and again.sheet.hints_off == ("no should",)


def loosen(item: str) -> dict[str, Any]:
    return {"kind": "open", "text": "Off.", "how": "loosen", "item": item}


def test_the_gravest_come_first_then_the_order_of_the_sheet():
    talk = {"kind": "confirm", "text": "It should go."}
    tasks = [[talk], [loosen("b"), talk], [loosen("c")]]
    parts = {"steps": [{"title": "A", "tasks": held} for held in tasks]}
    found = review_sheet(make_sheet(parts))
    keys = [(SEVERITIES.index(one.severity), one.step or 99) for one in found]
    assert keys == sorted(keys) and len(set(keys)) >= 4


def test_what_is_remembered_does_not_grow():
    draft, reviewer = open_draft(), Reviewer()
    review(reviewer, draft)
    before = len(reviewer._seen), len(reviewer._memo)
    for number in range(20):
        draft.apply(SetValue(("specs", 0, "note"), f"note {number}"))
        draft.apply(SetValue(("stages", 0, "steps", 0, "title"), f"title {number}"))
        review(reviewer, draft)
    assert (len(reviewer._seen), len(reviewer._memo)) == before
