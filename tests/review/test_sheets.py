"""Whole sheets of many trades, read as a mechanic reads them: what must be found, and no more."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shopguide.job.edits import Draft
from shopguide.review.findings import review_sheet
from shopguide.review.rule import Finding

SHEETS = sorted(Path(__file__).with_name("sheets").glob("*.json"))

# Machines, makers and figures of these sheets are invented. For each: what is wrong with it, where.
EXPECTED: dict[str, list[str]] = {
    # Airbags have a CAUTION only, which is too weak; nobody warns of the steering.
    "airbag_steering_wheel": [
        "dangerous system has its caution @ 2.2",
        "dangerous system has its caution @ 3.1",
    ],
    # The brakes are warned of, the wheel is not; the pad bolt has no figure, and says so.
    "bicycle_brake_pads": [
        "dangerous system has its caution @ 1.2",
        "torque by its note @ 3.2",
        "source not known @ pad bolt",
    ],
    # 6.4 US fl oz are 189 mL: the whole of 190 mL. Nothing is wrong with it.
    "boat_gear_case": [],
    "compressor_valve_cover": ["figure is a spec @ 4.1"],
    # The screws come with threadlock on them, which must cure; loosening them needs no wait.
    "ev_inverter_cover": ["curing is waited for @ 2.3"],
    # 0.35 imp pt are 199 mL; 250 mL are filled in.
    "motorcycle_final_drive": [
        "fill suits the capacity @ 3.3",
        "spec has a source @ filler plug",
        "one action a task @ 1.1",
        "figure is a spec @ 3.4",
    ],
    "mower_carburettor": [
        "dangerous system has its caution @ 2.1",
        "one action a task @ 3.4",
    ],
    "pump_full_of_faults": [
        "left loose is finished @ 1.7",
        "loosened is tightened @ 1.1",
        "passes end tight @ 2.7",
        "opened before closed @ 1.2",
        "closed was opened @ 2.3",
        "opened once at a time @ 1.5",
        "drained is filled @ 1.6",
        "opened is closed @ 1.4",
        "single-use part is bought @ 1.4",
        "a photo shows how it was @ 1.8",
        "dangerous system has its caution @ 1.9",
        "caution comes first @ 2.1",
        "closed once @ 2.4",
        "torque wrench reaches @ 2.5",
        "caution stands above @ 2.6",
        "torque task has a spec @ 2.8",
        "spec is used @ spare",
    ],
    "thermostat_housing": [
        "curing is waited for @ 3.2",
        "torque wrench reaches @ 3.3",
        "a photo shows how it was @ 2.1",
        "one action a task @ 2.3",
        "figure is a spec @ 3.2",
        "deed comes first @ 5.1",
        "no should @ 5.1",
    ],
    # A spanner is no socket for a torque wrench; "operating temperature ... cool" is a heat cycle.
    "tractor_exhaust_manifold": [
        "socket is listed @ 2.3",
        "heat cycle is followed up @ 3.1",
        "sentences are short @ 1.4",
        "hot joint is checked again @ 2.3",
        "one action a task @ 2.2",
        "single-use part has a number @ Manifold gaskets",
    ],
    "trailer_wheel_bearing": [
        "dangerous system has its caution @ 1.2",
        "dangerous system has its caution @ 1.3",
        "torque has a figure @ 3.3",
        "wheel is checked again @ 4.2",
        "spec has a source @ hub nut",
    ],
}


def look(path: Path) -> tuple[Finding, ...]:
    sheet = Draft.open(path.read_bytes()).sheet
    assert sheet is not None
    return review_sheet(sheet)


def test_every_sheet_has_its_list():
    assert {path.stem for path in SHEETS} == set(EXPECTED)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_a_mechanic_would_say_the_same(path):
    found = [f"{one.rule} @ {one.task or one.name or one.step}" for one in look(path)]
    assert sorted(found) == sorted(EXPECTED[path.stem])


AMERICAN = (
    ("tyre", "tire"),
    ("fibre", "fiber"),
    ("Fibre", "Fiber"),
    ("spanner", "wrench"),
    ("Spanner", "Wrench"),
    ("Carburettor", "Carburetor"),
    ("litre", "liter"),
    ("centre", "center"),
    ("split pin", "cotter pin"),
    ("Split pin", "Cotter pin"),
    ("aluminium", "aluminum"),
    ("axle stands", "jack stands"),
    ("Axle stands", "Jack stands"),
)


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_american_words_are_judged_as_british_ones(path):
    text = path.read_text(encoding="utf-8")
    told = [(one.rule, one.task) for one in look(path)]
    for british, american in AMERICAN:
        text = text.replace(american, "\0").replace(british, american).replace("\0", british)
    sheet = Draft.open(text.encode()).sheet
    assert sheet is not None
    found = review_sheet(sheet)
    assert [(one.rule, one.task) for one in found] == told


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_every_finding_leads_to_what_is_there(path):
    data = json.loads(path.read_bytes())
    steps = [step for stage in data["stages"] for step in stage["steps"]]
    for one in look(path):
        assert one.where and one.sentence.endswith(".")
        if one.task:
            number, index = map(int, one.task.split("."))
            assert number == one.step
            entry = steps[number - 1]["tasks"][index - 1]
            assert not one.field or one.field in entry or one.field in ("spec", "passes", "note")
        else:
            assert any(held["name"] == one.name for held in data[one.listed])
