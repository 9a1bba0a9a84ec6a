"""Torques held against their screws: what is found, what is left alone, what is not known."""

from __future__ import annotations

import json
from typing import Any

import pytest

from shopguide.errors import SheetTrouble
from shopguide.job.files import read_sheet
from shopguide.job.model import Sheet
from shopguide.review.findings import Finding, review_sheet
from shopguide.review.screw_limits import SCREW_RULES

BEYOND, UNREAD = (rule.name for rule in SCREW_RULES)
SOURCE = {"kind": "manual", "text": "invented, page 3"}


def make(
    torque: str | None,
    *,
    pattern: dict[str, Any] | None = None,
    task: dict[str, Any] | None = None,
    specs: list[dict[str, Any]] | None = None,
) -> Sheet:
    """A sheet with one torque task, on a pattern or, without one, on a single fastener."""
    figure = {} if torque is None else {"value": torque}
    data: dict[str, Any] = {
        "format": "shopguide-job/1",
        "title": "Cover",
        "author": "Nobody",
        "date": "2024-04-03",
        "specs": [
            {"name": "screws", "kind": "torque", "source": SOURCE, "note": "Feel.", **figure},
            {"name": "turn", "kind": "angle", "value": "90°", "source": SOURCE},
            *(specs or []),
        ],
        "stages": [{"title": "All", "steps": [{"title": "Cover screws", "tasks": []}]}],
    }
    one = {"kind": "torque", "text": "Tighten.", "spec": "screws", **(task or {})}
    if pattern is None:
        one["fastener"] = "drain plug"
    else:
        one["pattern"] = "cover"
        circle = {"circle": {"count": 4, "diameter_mm": 80}}
        if "fasteners" in pattern:
            circle = {}
        data["patterns"] = [{"name": "cover", "title": "Cover", **circle, **pattern}]
    data["stages"][0]["steps"][0]["tasks"] = [one]
    return read_sheet(json.dumps(data).encode())


def look(sheet: Sheet) -> list[Finding]:
    return [found for found in review_sheet(sheet) if found.rule in (BEYOND, UNREAD)]


M6 = {"thread": "M6", "grade": "8.8"}


def test_a_torque_that_passes_the_yield_wants_an_answer() -> None:
    (found,) = look(make("25 N·m", pattern=M6))
    assert (found.rule, found.severity) == (BEYOND, "wants an answer")
    assert found.where == "step 1, 'Cover screws', torque 1"
    assert found.sentence.startswith("25 N·m on an M6 8.8 passes its yield: about 10 N·m is usual.")
    assert "never replaces the manual's figure" in found.sentence
    assert found.sentence.endswith("Compare figure, unit, thread and class with the manual.")


@pytest.mark.parametrize("torque", ["6 N·m", "9 N·m", "12 N·m", "106 lbf·in", "14 N·m"])
def test_a_torque_that_the_screw_stands_is_left_alone(torque: str) -> None:
    assert look(make(torque, pattern=M6)) == []


def test_a_torque_that_is_hardly_felt_wants_an_answer() -> None:
    (found,) = look(make("10 lbf·in", pattern=M6))
    assert "no more than snug: about 90 lbf·in is usual" in found.sentence


def test_without_thread_or_class_nothing_is_said() -> None:
    assert look(make("25 N·m", pattern={"thread": "M6"})) == []
    assert look(make("25 N·m", pattern={})) == []
    assert look(make("25 N·m")) == []
    # A thread in words of the maker is no fault as long as no class asks for it to be looked up.
    assert look(make("25 N·m", pattern={"thread": "special of the maker"})) == []


def test_a_single_fastener_has_its_own_thread_and_class() -> None:
    (found,) = look(make("60 N·m", task={"thread": "M8x1", "grade": "8.8", "condition": "oiled"}))
    assert "60 N·m on an M8×1 8.8 passes its yield" in found.sentence
    (found,) = look(make("80 lbf·ft", task={"thread": "3/8-16", "grade": "grade 5"}))
    assert "80 lbf·ft on a 3/8-16 UNC grade 5 passes its yield" in found.sentence


@pytest.mark.parametrize("key", ["thread", "grade", "condition"])
def test_a_task_on_a_pattern_says_nothing_of_its_screws(key: str) -> None:
    with pytest.raises(SheetTrouble, match=f'Write "{key}" there'):
        make("9 N·m", pattern=M6, task={key: "M6"})


def test_only_the_screws_that_cannot_stand_it_are_named() -> None:
    seats = [{"number": n, "x_mm": 10.0 * n, "y_mm": 0.0} for n in range(1, 5)]
    seats[1]["thread"] = seats[3]["thread"] = "M5"
    (found,) = look(make("12 N·m", pattern={**M6, "fasteners": seats}))
    assert found.sentence.startswith("Number 2, 4: 12 N·m on an M5 8.8 passes its yield")


def test_screws_that_are_not_tightened_do_not_count() -> None:
    seats = [{"number": n, "x_mm": 10.0 * n, "y_mm": 0.0} for n in range(1, 5)]
    seats[1] |= {"thread": "M3", "use": "do not touch"}
    assert look(make("12 N·m", pattern={**M6, "fasteners": seats})) == []


def test_torque_and_angle_is_not_called_too_much() -> None:
    passes = [{"kind": "torque"}, {"kind": "angle", "spec": "turn"}]
    assert look(make("9 N·m", pattern=M6, task={"passes": passes})) == []
    # Its starting torque may be low.
    assert look(make("1 N·m", pattern=M6, task={"passes": passes})) == []
    # But the torque alone must not pass the yield before the turn begins.
    (found,) = look(make("25 N·m", pattern=M6, task={"passes": passes}))
    assert "passes its yield" in found.sentence


def test_the_largest_pass_counts_with_its_share() -> None:
    more = [{"name": "more", "kind": "torque", "value": "25 N·m", "source": SOURCE}]
    passes = [{"kind": "torque"}, {"kind": "back off"}, {"kind": "torque", "spec": "more"}]
    (found,) = look(make("9 N·m", pattern=M6, specs=more, task={"passes": passes}))
    assert found.sentence.startswith("25 N·m on an M6 8.8")
    half = [{"kind": "torque"}, {"kind": "torque", "spec": "more", "share": 0.4}]
    assert look(make("9 N·m", pattern=M6, specs=more, task={"passes": half})) == []


def test_a_torque_that_nobody_knows_is_no_matter_of_these_rules() -> None:
    assert look(make(None, pattern=M6)) == []


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ({"grade": "8.8"}, 'A class is named and no thread. Write "thread", such as M6.'),
        ({"thread": "M30", "grade": "8.8"}, "go from M3 to M24"),
        ({"thread": "M6", "grade": "strong"}, "is not a class or grade known here"),
        ({**M6, "condition": "xyz"}, "is not a condition of a screw known here"),
    ],
)
def test_a_screw_that_cannot_be_looked_up_is_a_hint(pattern: dict[str, Any], said: str) -> None:
    (found,) = look(make("9 N·m", pattern=pattern))
    assert (found.rule, found.severity) == (UNREAD, "hint")
    assert said in found.sentence


def test_reasons_name_their_source() -> None:
    for rule in SCREW_RULES:
        assert "source" in rule.reason or "VDI 2230" in rule.reason
