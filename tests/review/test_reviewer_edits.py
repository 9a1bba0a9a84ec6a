"""What is kept from one review to the next is right: an edited sheet is as if looked at afresh."""

from __future__ import annotations

import json
import random
from collections import Counter
from typing import Any

import pytest

from shopguide import places
from shopguide.errors import Trouble
from shopguide.job.edits import Add, Draft, Duplicate, Edit, Move, Remove, Rename, SetValue
from shopguide.review.findings import Reviewer, review_sheet
from shopguide.review.rules import RULES

SAMPLE = places.list_samples()[0]
EDITS = 220

# Sentences that rules look for; they come and go.
TEXTS = (
    "It should go.",
    "Jack the van up.",
    "Do not jack the van up.",
    "Apply a bead of sealant.",
    "Lift it off, then put it down. Tighten it to 9.",
    "Fit the new o-ring.",
    "Remove the brake hose. Warning: it drips.",
    "Bring it to operating temperature, and let it cool.",
    "Look at it.",
)
CAUTIONS = (
    {"signal": "WARNING", "hazard": "Brakes.", "consequence": "They fail.", "avoid": "Try them."},
    {"signal": "CAUTION", "hazard": "Lifting.", "consequence": "It falls.", "avoid": ""},
)
LOOSE = {"how": "left loose", "reason": "For now."}
TASKS: tuple[dict[str, Any], ...] = (
    {"kind": "open", "text": "Off.", "how": "loosen", "item": "wheel nuts"},
    {"kind": "close", "text": "On.", "how": "tighten", "item": "wheel nuts"},
    {"kind": "close", "text": "On.", "how": "refit", "item": "wheel nut"},
    {"kind": "open", "text": "Off.", "how": "remove", "item": "drive belt"},
    {"kind": "leave", "text": "Leave it.", "fastener": "drain plug", **LOOSE},
    {"kind": "torque", "text": "Back it off.", "fastener": "drain plug", "passes": "loosen"},
    {"kind": "torque", "text": "Tighten.", "fastener": "stay", "passes": [{"kind": "snug"}]},
)


def choose_edit(luck: random.Random, data: Any) -> Edit:
    """An edit that somebody may make, sensible or not; of every kind that the review depends on."""
    stages = data["stages"]
    s = luck.randrange(len(stages))
    p = luck.randrange(len(stages[s]["steps"]))
    here = ("stages", s, "steps", p)
    step = stages[s]["steps"][p]
    task = luck.randrange(len(step["tasks"]))
    spec, pattern = luck.randrange(len(data["specs"])), luck.randrange(len(data["patterns"]))
    name = data["specs"][spec]["name"]
    edits: list[Edit] = [
        SetValue((*here, "title"), f"Brakes {luck.randrange(99)}"),
        SetValue((*here, "text"), luck.choice(TEXTS)),
        SetValue((*here, "tasks", task, "text"), luck.choice(TEXTS)),
        SetValue((*here, "tasks", task, "note"), luck.choice(TEXTS)),
        SetValue((*here, "cautions"), luck.sample(CAUTIONS, luck.randrange(3))),
        Add((*here, "tasks", task), luck.choice(TASKS)),
        Add((*here, "tasks", task), luck.choice(TASKS)),
        Duplicate(here),
        Move(here, ("stages", s, "steps", 0)),
        Move(("stages", s), ("stages", luck.randrange(len(stages)))),
        Move(("specs", spec), ("specs", 0)),
        Rename("spec", name, f"{name[:40]} {luck.randrange(99)}"),
        SetValue(("specs", spec, "name"), f"{name[:40]} x"),
        SetValue(("specs", spec, "value"), luck.choice([None, "9 N·m", "900 N·m", "5 L"])),
        SetValue(("specs", spec, "note"), luck.choice(["", "By hand."])),
        SetValue(("specs", spec, "source"), luck.choice([None, {"kind": "manual", "text": "7"}])),
        SetValue(("patterns", pattern, "condition"), luck.choice(["threadlock", "oiled", None])),
        SetValue(("patterns", pattern, "thread"), luck.choice(["M8", "M6", "nonsense"])),
        SetValue(("patterns", pattern, "title"), luck.choice(["Wheel bolts", "Exhaust flange"])),
        SetValue(("patterns", pattern, "name"), f"pattern {luck.randrange(9)}"),
        SetValue(("tools",), luck.choice([[], [{"name": "Socket 10 mm"}], data.get("tools")])),
        SetValue(("parts",), luck.choice([[], [{"name": "Gasket"}], data.get("parts")])),
        SetValue(("fluids", 0, "spec"), luck.choice([None, name])),
        SetValue(("cautions",), luck.sample(CAUTIONS, luck.randrange(3))),
        SetValue(
            ("follow_ups",), luck.choice([[], [{"text": "Check the wheel.", "after": "9 h"}]])
        ),
        SetValue(("hints_off",), luck.choice([[], ["no should", "spec is used"], ["nonsense"]])),
    ]
    if len(step["tasks"]) > 1:
        edits.append(Remove((*here, "tasks", task)))
    if len(stages[s]["steps"]) > 1:
        edits.append(Remove(here))
    return luck.choice(edits)


@pytest.mark.parametrize("seed", range(2))
def test_after_every_edit_of_many_it_finds_what_a_fresh_review_finds(seed):
    luck = random.Random(seed)
    draft = Draft.open((SAMPLE / "job.json").read_bytes())
    reviewer = Reviewer()
    # Pictures come and go too.
    sizes = {name: (1600, 1200) for name in draft.sheet.photo_files()}
    seen: Counter[str] = Counter()
    done: Counter[str] = Counter()
    looked_at = reviewed = 0
    for _ in range(EDITS):
        edit = choose_edit(luck, json.loads(draft.dump_as_typed()))
        try:
            done.update([type(edit).__name__] if draft.apply(edit) else [])
        except Trouble:
            continue  # what cannot be done changes nothing
        if luck.random() < 0.15:
            luck.choice([draft.undo, draft.redo])()
        if draft.sheet is None:
            draft.undo()
        if draft.sheet is None or len(draft.sheet.steps) > 60:
            draft = Draft.open((SAMPLE / "job.json").read_bytes())
        pictures = luck.choice([None, sizes, {}, dict(list(sizes.items())[:1])])
        told = [one.as_full_dict() for one in reviewer.review(draft.sheet, pictures)]
        assert told == [one.as_full_dict() for one in review_sheet(draft.sheet, pictures)]
        seen.update({one["rule"] for one in told})
        looked_at, reviewed = looked_at + reviewer.looked_at, reviewed + len(draft.sheet.steps)
    # The edits must have met many rules, and most steps must not have been looked at again.
    assert len(seen) > len(RULES) / 2, sorted({rule.name for rule in RULES} - set(seen))
    assert looked_at < reviewed / 3
    assert set(done) == {"Add", "Duplicate", "Move", "Remove", "Rename", "SetValue"}
