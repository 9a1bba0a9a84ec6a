"""Names that lead nowhere: each sort of reference, with the nearest name offered."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest

from shopguide.errors import SheetTrouble
from shopguide.job.files import read_sheet

Make = Callable[..., Any]


def faults_of(data: object) -> list[tuple[str, str, str]]:
    """(where, what, next) of each fault; none where the sheet loads."""
    try:
        read_sheet(json.dumps(data).encode())
    except SheetTrouble as caught:
        return [(fault.where, fault.what, fault.next) for fault in caught.troubles]
    return []


def task(data: Any, stage: int, step: int, number: int) -> Any:
    return data["stages"][stage - 1]["steps"][step - 1]["tasks"][number - 1]


def spoil_names(s: Any) -> None:
    task(s, 1, 1, 2).update(fluid="gear fluit")
    task(s, 1, 1, 3).update(spec="draining tim")
    task(s, 2, 1, 1).update(pattern="sump covr")
    task(s, 2, 1, 3).update(item="bracket")
    s["follow_ups"][0]["spec"] = "nothing like it"
    s["fluids"][0]["spec"] = "sump fil"


def spoil_kinds(s: Any) -> None:
    task(s, 1, 1, 3).update(spec="sump fill")
    task(s, 2, 1, 1).update(spec="cover angle")
    task(s, 2, 1, 2)["passes"][4].update(spec="cover torque")
    task(s, 2, 1, 2)["passes"][1].update(spec="cover angle")
    task(s, 2, 2, 1).update(spec="draining time")
    s["fluids"][0]["spec"] = "magnet gap"


CASES: list[tuple[str, Callable[[Any], object], list[tuple[str, str, str]]]] = [
    (
        "unknown names",
        spoil_names,
        [
            (
                "job.json, fluid 'gear fluid', spec",
                'No spec is called "sump fil".',
                'Write "sump fill", or add a spec.',
            ),
            (
                "job.json, step 1, 'Drain', drain task 2, fluid",
                'No fluid is called "gear fluit".',
                'Write "gear fluid", or add a fluid.',
            ),
            (
                "job.json, step 1, 'Drain', wait task 3, spec",
                'No spec is called "draining tim".',
                'Write "draining time", or add a spec.',
            ),
            (
                "job.json, step 3, 'Cover screws', torque task 1, pattern",
                'No pattern is called "sump covr".',
                'Write "sump cover", or add a pattern.',
            ),
            (
                "job.json, step 3, 'Cover screws', torque task 3, item",
                'No task opens an item called "bracket".',
                'Write "bracket screw", or add the task that opens it.',
            ),
            (
                "job.json, step 4, 'Fill', fill task 1, like_drained",
                'As much as was drained is to be filled in, but no task drains "gear fluid".',
                "Add a drain task of this fluid, or name a spec here.",
            ),
            (
                "job.json, follow-up 1, spec",
                'No spec is called "nothing like it".',
                "Add a spec.",
            ),
        ],
    ),
    (
        "specs of the wrong kind",
        spoil_kinds,
        [
            (
                "job.json, fluid 'gear fluid', spec",
                'The spec "magnet gap" is a length; a fluid needs a spec of kind volume or mass.',
                "Name a spec of kind volume or mass.",
            ),
            (
                "job.json, step 1, 'Drain', wait task 3, spec",
                'The spec "sump fill" is a volume; a wait task needs a spec of kind time.',
                "Name a spec of kind time.",
            ),
            (
                "job.json, step 3, 'Cover screws', torque task 1, spec",
                'The spec "cover angle" is an angle; a torque task needs a spec of kind torque.',
                'Write "cover torque".',
            ),
            (
                "job.json, step 3, 'Cover screws', torque task 2, pass 2, spec",
                'The spec "cover angle" is an angle; a torque pass needs a spec of kind torque.',
                'Write "cover torque".',
            ),
            (
                "job.json, step 3, 'Cover screws', torque task 2, pass 5, spec",
                'The spec "cover torque" is a torque; an angle pass needs a spec of kind angle.',
                'Write "cover angle".',
            ),
            (
                "job.json, step 4, 'Fill', fill task 1, spec",
                'The spec "draining time" is a time; a fill task needs a spec of kind volume.',
                "Name a spec of kind volume.",
            ),
        ],
    ),
    (
        "names given twice",
        lambda s: (
            s["specs"].append(s["specs"][0]),
            s["patterns"].append({**s["patterns"][1], "name": "lid"}),
            s["fluids"].append({"name": "gear fluid"}),
        ),
        [
            (
                "job.json, specs",
                '2 specs are called "cover torque" (numbers 1, 8 in the list).',
                "Give each spec a name of its own.",
            ),
            (
                "job.json, fluids",
                '2 fluids are called "gear fluid" (numbers 1, 2 in the list).',
                "Give each fluid a name of its own.",
            ),
            (
                "job.json, patterns",
                '2 patterns are called "lid" (numbers 3, 5 in the list).',
                "Give each pattern a name of its own.",
            ),
        ],
    ),
    (
        "opened while open",
        lambda s: (
            task(s, 2, 2, 2).update(item="fluid drained")
            or task(s, 2, 2, 3).update(item="fluid drained")
            or task(s, 2, 2, 1).pop("item")
        ),
        [
            (
                "job.json, step 4, 'Fill', open task 2, item",
                'The item "fluid drained" is opened here while it is still open from step 1, '
                "'Drain', drain task 2.",
                "Close it in between, or give this one a name of its own.",
            )
        ],
    ),
    (
        "a pattern with nothing to tighten",
        lambda s: (
            [f.update(use="leave loose") for f in s["patterns"][0]["fasteners"]],
            s["patterns"][0].pop("order"),
        ),
        [
            (
                "job.json, step 3, 'Cover screws', torque task 1, pattern",
                'The pattern "sump cover" has no fastener that is to be tightened.',
                "Name another pattern, or take this task out.",
            )
        ],
    ),
    (
        "an item opened again after it was closed is no fault",
        lambda s: s["stages"][1]["steps"][1]["tasks"].extend(
            [
                {"kind": "open", "text": "Again.", "how": "disconnect", "item": "sensor"},
                {"kind": "close", "text": "Again.", "how": "reconnect", "item": "sensor"},
            ]
        ),
        [],
    ),
    (
        "an item that stays open is a matter of the review, not of opening",
        lambda s: s["stages"][1]["steps"][1]["tasks"].pop(),
        [],
    ),
]


@pytest.mark.parametrize(
    ("spoil", "told"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_references(
    spoil: Callable[[Any], object], told: list[tuple[str, str, str]], make_sheet: Make
) -> None:
    data = make_sheet()
    spoil(data)
    assert faults_of(data) == told


def test_thousands_of_loose_ends_are_told_in_good_time(make_sheet: Make) -> None:
    data = make_sheet()
    data["specs"] += [
        {"name": f"spec of a long name number {n}", "kind": "count"} for n in range(2_500)
    ]
    data["stages"][0]["steps"][0]["tasks"] = [
        {"kind": "measure", "text": "x", "spec": f"spec of a long nam number {n}"}
        for n in range(2_500)
    ]
    told = faults_of(data)
    assert sum("No spec is called" in what for _, what, _ in told) == 2_000
    assert told[0][2] == 'Write "spec of a long name number 0", or add a spec.'
    assert told[-1][1] == "The sheet has more than 2,000 faults; the others are not listed."
