"""Reviewing sheets of 50, 500 and 2000 steps: the first time, and again after an edit.

    python tests/bench/review_speed.py

The edits are those of Write, made on a draft; only the review is timed. The plain thing is a
review of the same sheet by a reviewer that has seen nothing yet.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from ratios import Row, hand_over, middle, take_ms

from shopguide.job.edits import Add, Draft, Edit, Move, SetValue
from shopguide.job.files import read_sheet
from shopguide.review.findings import Reviewer, stops_work

SIZES = (50, 500, 2000)
ROUNDS = 7
AIM_MS = 200
SOURCE = {"kind": "manual", "text": "invented for the benches"}


def make_raw(steps: int, *, poor: bool = False) -> bytes:
    """A sheet in which things come off, go on and are tightened, with texts of the usual length.

    poor: something is found in each step, and one spec is used by all.
    """
    half = steps // 2
    apart = [
        {
            "title": f"Take off part {number}",
            "text": "Look at it from both sides before you go on. Its washers stay with it.",
            "cautions": [
                {
                    "signal": "CAUTION",
                    "hazard": "A sharp edge.",
                    "consequence": "It can cut your hand.",
                    "avoid": "Wear gloves.",
                }
            ],
            "photos": [{"file": f"part_{number}.jpg", "alt": "The part in its place."}],
            "tasks": [
                {"kind": "confirm", "text": f"Clean the seat of part {number} with a dry wipe."},
                {
                    "kind": "open",
                    "text": f"Remove part {number}, and lay it on the bench.",
                    "how": "remove",
                    "item": f"part {number}",
                },
                {"kind": "confirm", "text": f"Look for cracks in part {number}.", "note": "Lamp."},
            ],
        }
        for number in range(half)
    ]
    together = [
        {
            "title": f"Put part {number} back",
            "text": "Start its screw by hand.",
            "tasks": [
                {"kind": "confirm", "text": f"Put the new seal of part {number} in its groove."},
                {
                    "kind": "torque",
                    "text": f"Tighten the screw of part {number}.",
                    "fastener": f"screw {number}",
                    "spec": f"torque {number % 40}",
                    "passes": "torque, back off, torque",
                    "thread": "M6",
                    "grade": "8.8",
                    "item": f"part {number}",
                },
                {"kind": "confirm", "text": f"Draw a stroke across the head of screw {number}."},
            ],
        }
        for number in reversed(range(half))
    ]
    if poor:
        for step in apart:
            step["tasks"][0]["text"] = "The seat should be cleaned, then wipe it to 9 N·m."
        for step in together:
            step["tasks"][1] |= {"spec": "torque 3", "grade": "unheard of"}
    sheet: dict[str, Any] = {
        "format": "shopguide-job/1",
        "title": f"Bench: {steps} steps",
        "author": "an invented owner",
        "date": "2026-03-02",
        "specs": [
            {
                "name": f"torque {n}",
                "kind": "torque",
                "value": f"{8 + n / 10} N·m",
                "source": SOURCE,
            }
            for n in range(40)
        ],
        "tools": [{"name": "Torque wrench 5 N·m to 25 N·m"}, {"name": "Socket 10 mm"}],
        "parts": [
            {"name": f"Seal of part {number}", "number": f"A {number}", "single_use": True}
            for number in range(min(half, 60))
        ],
        "stages": [
            {"title": "Take apart", "steps": apart},
            {"title": "Put back", "steps": together},
        ],
    }
    return json.dumps(sheet).encode()


def list_edits(steps: int) -> dict[str, Callable[[int], Edit]]:
    """What is done to the sheet, each with the number of the round."""
    middle_step = ("stages", 0, "steps", steps // 4)
    return {
        "a text typed": lambda n: SetValue((*middle_step, "tasks", 0, "text"), f"Wipe it, {n}."),
        "a step added at the front": lambda n: Add(
            ("stages", 0, "steps", 0),
            {"title": f"New {n}", "tasks": [{"kind": "confirm", "text": "Look at it."}]},
        ),
        "a step moved to the front": lambda n: Move(
            ("stages", 0, "steps", steps // 4 + n), ("stages", 0, "steps", 0)
        ),
        "a spec changed": lambda n: SetValue(("specs", 3, "value"), f"{9 + n} N·m"),
        "a title of a stage": lambda n: SetValue(("stages", 1, "title"), f"Put back {n}"),
    }


def measure() -> list[Row]:
    rows = []
    for steps, poor in (*((size, False) for size in SIZES), (SIZES[-1], True)):
        raw = make_raw(steps, poor=poor)
        Reviewer().review(read_sheet(raw))  # what the first one of all imports and compiles
        draft = Draft.open(raw)
        assert draft.sheet is not None
        reviewer = Reviewer()
        sheet = draft.sheet
        first = take_ms(lambda reviewer=reviewer, sheet=sheet: reviewer.review(sheet))
        found = f", {len(reviewer.review(sheet))} findings" if poor else ""
        rows.append(Row(f"{steps} steps{found}: the first review", first, "ms"))
        rows.append(Row("  whether work may start", take_ms(lambda s=sheet: stops_work(s)), "ms"))
        for what, edit in list_edits(steps).items():
            times, plain, looked_at = [], [], 0
            for number in range(ROUNDS):
                draft.apply(edit(number))
                sheet = draft.sheet
                assert sheet is not None
                times.append(take_ms(lambda r=reviewer, s=sheet: r.review(s)))
                looked_at = reviewer.looked_at
                if number < 2:
                    plain.append(take_ms(lambda s=sheet: Reviewer().review(s)))
            rows.append(
                Row(f"  after {what} ({looked_at} looked at)", middle(times), "ms",
                    middle(plain), most=AIM_MS)
            )  # fmt: skip
    return rows


if __name__ == "__main__":
    hand_over(measure())
