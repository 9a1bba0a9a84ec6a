"""A procedure of the trade, worked through from its sheet to the sentence on the paper."""

from __future__ import annotations

import json

from shopguide.job.files import read_sheet
from shopguide.paper.findings import tell_findings
from shopguide.work.events import Event
from shopguide.work.next_up import next_up
from shopguide.work.progress import Progress, freeze_orders

# Common practice, no source: small screws of a light-alloy pan at 12 N·m, taken to torque,
# released, and taken to torque again, in a cross pattern.
PAN = {
    "format": "shopguide-job/1",
    "title": "Pan",
    "author": "nobody",
    "date": "2026-01-01",
    "specs": [{"name": "pan screws", "kind": "torque", "value": "12 N·m"}],
    "patterns": [
        {
            "name": "pan",
            "title": "pan",
            "thread": "M6",
            "rectangle": {"width_mm": 300, "height_mm": 200, "along": 5, "up": 4},
        }
    ],
    "stages": [
        {
            "title": "Put back",
            "steps": [
                {
                    "title": "Pan",
                    "tasks": [
                        {
                            "kind": "torque",
                            "text": "Tighten the pan.",
                            "pattern": "pan",
                            "spec": "pan screws",
                            "passes": "torque, back off, torque",
                        }
                    ],
                }
            ],
        }
    ],
}


def test_a_pan_taken_to_torque_released_and_taken_to_torque_again() -> None:
    sheet = read_sheet(json.dumps(PAN).encode())
    progress = Progress(sheet)
    at = "2026-01-01T10:00:00.000Z"
    progress.take(Event(1, at, "begun", {"orders": freeze_orders(sheet)}))
    met: list[tuple[int, int, str]] = []
    while (due := next_up(progress)).act != "end":
        met.append((due.data["pass"], due.data["fastener"], due.data["target"]))
        progress.take(Event(len(progress.events) + 1, at, due.kind, dict(due.data)))
    order = progress.orders["pan"].numbers
    assert len(order) == 14
    assert [target for _, _, target in met] == ["12 N·m"] * 14 + ["loose"] * 14 + ["12 N·m"] * 14
    assert [n for p, n, _ in met if p == 2] == list(reversed(order))
    said = tell_findings(progress)[0]
    assert "14 of 14" in said and "torqued twice to 12 N·m" in said
    # The cross pattern: the second screw stands opposite the first.
    seats = {f.number: (f.x_mm, f.y_mm) for f in sheet.pattern("pan").placed}
    (x1, y1), (x2, y2) = seats[order[0]], seats[order[1]]
    assert abs(x1 + x2) <= 75 and y1 == -y2
