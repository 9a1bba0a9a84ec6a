"""Each rule of the review finds its fault in a bad example and nothing in a good one."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

from shopguide.job.files import read_sheet
from shopguide.job.model import Sheet
from shopguide.review.rules import RULES, SEVERITIES, Rule

MANUAL = {"kind": "manual", "text": "invented, page 3"}
GOOD: dict[str, Any] = {
    "format": "shopguide-job/1",
    "title": "Cover",
    "author": "Nobody",
    "date": "2024-04-03",
    "cautions": [
        {
            "signal": "WARNING",
            "hazard": "The van can fall.",
            "consequence": "You can be crushed.",
            "avoid": "Use stands.",
        },
        {"signal": "NOTICE", "hazard": "Dirt.", "consequence": "", "avoid": ""},
    ],
    "specs": [
        {"name": "cover screws", "kind": "torque", "value": "9 N·m", "source": MANUAL},
        {"name": "drained", "kind": "volume", "value": "4 L", "source": MANUAL},
    ],
    "parts": [
        {"name": "Gasket", "number": "A 1", "single_use": True},
        {"name": "Spare screw"},
    ],
    "fluids": [{"name": "fluid", "spec": "drained"}],
    "patterns": [{"name": "cover", "title": "Cover", "circle": {"count": 4, "diameter_mm": 80}}],
    "stages": [
        {
            "title": "All of it",
            "steps": [
                {
                    "title": "Take apart",
                    "photos": [{"file": "cover.jpg", "alt": "The cover."}],
                    "tasks": [
                        {"kind": "drain", "text": "Drain.", "fluid": "fluid", "item": "fluid"},
                        {"kind": "open", "text": "Off.", "how": "remove", "item": "cover"},
                        {
                            "kind": "leave",
                            "text": "Leave it loose.",
                            "how": "left loose",
                            "fastener": "tube screw",
                            "reason": "The tube is seated later.",
                            "item": "slack",
                        },
                        {
                            "kind": "leave",
                            "text": "Never.",
                            "how": "do not touch",
                            "fastener": "band screw",
                            "reason": "It sets a band.",
                        },
                    ],
                },
                {
                    "title": "Put back",
                    "tasks": [
                        {"kind": "close", "text": "On.", "how": "refit", "item": "cover"},
                        {
                            "kind": "torque",
                            "text": "Tighten.",
                            "pattern": "cover",
                            "spec": "cover screws",
                            "passes": "torque, back off, torque",
                        },
                        {
                            "kind": "torque",
                            "text": "Tighten the tube screw.",
                            "fastener": "tube screw",
                            "spec": "cover screws",
                            "item": "slack",
                        },
                        {
                            "kind": "fill",
                            "text": "Fill.",
                            "fluid": "fluid",
                            "spec": "drained",
                            "item": "fluid",
                        },
                    ],
                },
            ],
        }
    ],
}
TAKE_APART, PUT_BACK = ("stages", 0, "steps", 0), ("stages", 0, "steps", 1)
CLOSE, TORQUE, TUBE, FILL = ((*PUT_BACK, "tasks", index) for index in range(4))
GONE = object()

# Rule, what is changed in the good sheet (path and new value), where it must be found, and a word
# that the finding must say.
BAD: list[tuple[str, list[tuple[tuple, Any]], str, str]] = [
    (
        "passes end tight",
        [((*TORQUE, "passes"), [{"kind": "torque"}, {"kind": "back off"}])],
        "step 2, 'Put back', torque 2",
        "to torque, back off",
    ),
    (
        "left loose is finished",
        [((*TUBE, "fastener"), "another screw"), ((*TUBE, "item"), GONE)],
        "step 1, 'Take apart', leave 3",
        '"tube screw"',
    ),
    (
        "opened before closed",
        [
            (
                (*TAKE_APART, "tasks", 0),
                {"kind": "close", "text": "Too early.", "how": "refit", "item": "cover"},
            ),
            (FILL, {"kind": "confirm", "text": "Nothing to fill."}),
            (CLOSE, {"kind": "confirm", "text": "On."}),
        ],
        "step 1, 'Take apart', close 1",
        '"cover"',
    ),
    (
        "opened is closed",
        [(CLOSE, {"kind": "confirm", "text": "Look at the cover."})],
        "step 1, 'Take apart', open 2",
        '"cover"',
    ),
    (
        "drained is filled",
        [(FILL, {"kind": "close", "text": "Done.", "how": "refill", "item": "fluid"})],
        "step 1, 'Take apart', drain 1",
        '"fluid"',
    ),
    (
        "torque has a figure",
        [(("specs", 0, "value"), GONE)],
        "step 2, 'Put back', torque 2",
        '"cover screws"',
    ),
    (
        "spec has a source",
        [(("specs", 0, "source"), GONE)],
        "spec 'cover screws'",
        "9 N·m",
    ),
    (
        "printed units agree",
        [(("specs", 0, "printed_also"), ["80 lbf·in", "9 lbf·ft"])],
        "spec 'cover screws'",
        "9 N·m is printed beside 9 lbf·ft, but it is 6.638 lbf·ft",
    ),
    (
        "caution is whole",
        [(("cautions", 0, "consequence"), ""), (("cautions", 0, "avoid"), "")],
        "caution 1 of the whole job",
        "WARNING does not say what it can do and how to avoid it",
    ),
    (
        "torque by its note",
        [(("specs", 0, "value"), GONE), (("specs", 0, "note"), "By hand.")],
        "step 2, 'Put back', torque 2",
        "By hand.",
    ),
    (
        "source not known",
        [(("specs", 0, "source"), {"kind": "not known", "text": "asked in vain"})],
        "spec 'cover screws'",
        "asked in vain",
    ),
    (
        "spec is used",
        [(("specs", 2), {"name": "lonely", "kind": "length", "value": "1 mm", "source": MANUAL})],
        "spec 'lonely'",
        "1 mm",
    ),
    (
        "single-use part has a number",
        [(("parts", 0, "number"), GONE)],
        "part 'Gasket'",
        "number",
    ),
    (
        "photo has alternative text",
        [((*TAKE_APART, "photos", 0, "alt"), GONE)],
        "step 1, 'Take apart', photo cover.jpg",
        "alternative text",
    ),
]


def make_sheet(changes: list[tuple[tuple, Any]] = ()) -> Sheet:
    """The good sheet with these places changed, as the loader reads it."""
    data = copy.deepcopy(GOOD)
    for path, value in changes:
        holder: Any = data
        for part in path[:-1]:
            holder = holder[part]
        if value is GONE:
            del holder[path[-1]]
        elif isinstance(holder, list) and path[-1] == len(holder):
            holder.append(value)
        else:
            holder[path[-1]] = value
    return read_sheet(json.dumps(data).encode())


def find_rule(name: str) -> Rule:
    (rule,) = [rule for rule in RULES if rule.name == name]
    return rule


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_the_good_sheet_passes(rule):
    assert list(rule.look(make_sheet())) == []


@pytest.mark.parametrize(("name", "changes", "where", "word"), BAD, ids=[bad[0] for bad in BAD])
def test_the_bad_example_is_found(name, changes, where, word):
    found = list(find_rule(name).look(make_sheet(changes)))
    assert where in [place for place, _ in found]
    sentence = next(said for place, said in found if place == where)
    assert word in sentence
    assert sentence.endswith(".")


def test_every_rule_has_a_bad_example():
    assert [bad[0] for bad in BAD] == [rule.name for rule in RULES]


def test_every_reason_names_its_source():
    for rule in RULES:
        assert rule.severity in SEVERITIES
        assert rule.reason.endswith(("common practice, no source", "from memory")), rule.name


def test_a_torque_without_figure_is_told_by_one_rule_only():
    bare = make_sheet([(("specs", 0, "value"), GONE)])
    noted = make_sheet([(("specs", 0, "value"), GONE), (("specs", 0, "note"), "By hand.")])
    for sheet, speaks, silent in (
        (bare, "torque has a figure", "torque by its note"),
        (noted, "torque by its note", "torque has a figure"),
    ):
        assert list(find_rule(speaks).look(sheet))
        assert not list(find_rule(silent).look(sheet))


def test_a_loose_fastener_is_finished_by_its_torque_its_item_or_its_name():
    rule = find_rule("left loose is finished")
    by_item = make_sheet([((*TUBE, "fastener"), "another screw")])
    by_name = make_sheet([((*TUBE, "item"), GONE)])
    assert not list(rule.look(by_item))
    assert not list(rule.look(by_name))


def test_what_is_opened_again_after_its_closing_is_found():
    again = {"kind": "open", "text": "Off again.", "how": "remove", "item": "cover"}
    found = list(find_rule("opened is closed").look(make_sheet([((*PUT_BACK, "tasks", 4), again)])))
    assert [where for where, _ in found] == ["step 2, 'Put back', open 5"]


def test_a_caution_at_a_step_is_told_with_its_step():
    caution = {"signal": "CAUTION", "hazard": "Hot.", "consequence": "Burns.", "avoid": ""}
    sheet = make_sheet([((*PUT_BACK, "cautions"), [caution])])
    ((where, sentence),) = find_rule("caution is whole").look(sheet)
    assert where == "step 2, 'Put back', caution 1"
    assert "CAUTION does not say how to avoid it" in sentence


@pytest.mark.parametrize(
    ("value", "also", "apart"),
    [
        # Source: a Suzuki service manual of 2007, seen on a page that quotes it; up to 1.9 % off,
        # for it reckons 10 N to the kgf. Such pairs are let through.
        ("53 N·m", "5.3 kgf·m", False),
        ("105 N·m", "76 lbf·ft", False),
        # Made up: 18.44 rounded to whole ones is 2.4 % off and no misprint; 19 would be one.
        ("25 N·m", "18 lbf·ft", False),
        ("25 N·m", "19 lbf·ft", True),
        ("12 N·m", "12 lbf·ft", True),
        ("12 N·m", "10.6 lbf·in", True),
    ],
)
def test_printed_units_may_differ_by_two_percent_or_by_rounding(value, also, apart):
    sheet = make_sheet([(("specs", 0, "value"), value), (("specs", 0, "printed_also"), [also])])
    assert bool(list(find_rule("printed units agree").look(sheet))) is apart
    assert sheet.specs[0].amount().text == value, "the printed primary is kept"


def test_a_second_printing_is_of_the_same_kind():
    from shopguide.errors import SheetTrouble

    with pytest.raises(SheetTrouble, match="length"):
        make_sheet([(("specs", 0, "printed_also"), ["9 mm"])])
    with pytest.raises(SheetTrouble, match="no value"):
        make_sheet([(("specs", 0, "value"), GONE), (("specs", 0, "printed_also"), ["9 N·m"])])
