"""Wrench, calibration, adapter and setting in the table of a torqued joint."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from shopguide.job.model import Sheet
from shopguide.paper.contents import make_contents

_spec = importlib.util.spec_from_file_location(
    "worked_record", Path(__file__).with_name("worked_record.py")
)
worked = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(worked)

SMALL = {
    "name": "small click wrench",
    "low": "2 N·m",
    "high": "25 N·m",
    "lever": "300 mm",
    "serial": "K 4711",
    "calibrated": "2031-01-12",
    "due": "2032-01-12",
}
CROW_FOOT = {"length": "30 mm", "angle": "0°", "kind": "crow-foot"}


def make_sheet() -> Sheet:
    tasks = [
        {"kind": "torque", "text": "Tighten.", "pattern": "lid", "spec": "lid", "passes": "torque"},
        {"kind": "torque", "text": "Tighten it.", "fastener": "plug", "spec": "plug"},
    ]
    return Sheet.model_validate(
        {
            "format": "shopguide-job/1",
            "title": "Lid",
            "author": "nobody",
            "date": "2030-01-02",
            "specs": [
                {"name": "lid", "kind": "torque", "value": "9 N·m"},
                {"name": "plug", "kind": "torque", "value": "20 N·m"},
            ],
            "patterns": [
                {"name": "lid", "title": "Lid", "circle": {"count": 4, "diameter_mm": 80}}
            ],
            "stages": [{"title": "All", "steps": [{"title": "Lid", "tasks": tasks}]}],
        }
    )


@pytest.fixture
def record():
    made = worked.WorkedRecord(make_sheet())
    made.lay_out(wrenches=[SMALL, {"name": "unused", "low": "100 N·m", "high": "500 N·m"}])
    return made


def read(record):
    return make_contents(
        record.sheet, record.events, head=record.head, made_at=record.now, program="shopguide 0"
    )


def test_setting_and_adapter_stand_at_the_head_of_the_column(record) -> None:
    record.add("laid out", {"field": "adapter:1.1", "value": CROW_FOOT})
    record.work()
    (part,) = read(record).torques
    assert (
        part.columns[0]
        .lines[2]
        .startswith("small click wrench set to 8.2 N·m with 30 mm crow-foot at 0°, ")
    )
    assert not any(row.cells[0].more for row in part.rows)
    (plug,) = read(record).singles
    assert (plug.target, plug.wrench) == ("20 N·m", "small click wrench")


def test_the_wrench_stands_with_its_calibration(record) -> None:
    record.work()
    (part,) = read(record).torques
    facts = dict(part.facts)
    assert facts["Wrench"] == (
        "small click wrench, serial K 4711, calibrated 2031-01-12, due 2032-01-12."
    )
    assert "unused" not in str(part.facts)
    assert part.columns[0].lines[2].startswith("small click wrench, ")


def test_an_adapter_that_came_later_stands_at_its_marks(record) -> None:
    record.mark("1.1", 1)
    record.mark("1.1", 2)
    record.add("laid out", {"field": "adapter:1.1", "value": {**CROW_FOOT, "angle": "135°"}})
    record.work()
    (part,) = read(record).torques
    more = {row.number: row.cells[0].more for row in part.rows}
    assert more[1] == more[2] == "small click wrench"
    assert more[3] == more[4] == "small click wrench set to 9.7 N·m with 30 mm crow-foot at 135°"


def test_a_serial_left_out_at_sign_off_is_left_out_here_too(record) -> None:
    record.work()
    data = {"name": "x", "statement": "y", "strokes": [], "hidden": ["wrenches"]}
    record.add("signed", data)
    (part,) = read(record).torques
    assert "4711" not in str(part.facts) and "calibrated 2031-01-12" in str(part.facts)


def test_an_adapter_without_a_known_wrench_says_so(record) -> None:
    record.add("laid out", {"field": "wrenches", "value": [{**SMALL, "lever": ""}]})
    record.add("laid out", {"field": "adapter:1.1", "value": CROW_FOOT})
    record.work()
    (part,) = read(record).torques
    assert "wrench not given with 30 mm crow-foot at 0°" in part.columns[0].lines[2]
