"""The review as a whole: what the sample gets, how findings are sorted and told."""

from __future__ import annotations

import json

import pytest

from shopguide import places
from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.files import load_sheet, read_sheet
from shopguide.review.findings import find_in_trouble, review_sheet

# Its figure and the figure's source are not known, and it says so and what to do instead.
KNOWN_GAPS = {
    "gearbox_sump_cover": {("torque by its note", "hint"), ("source not known", "hint")},
}
POOR = {
    "format": "shopguide-job/1",
    "title": "Cover",
    "author": "Nobody",
    "date": "2024-04-03",
    "specs": [{"name": "gap", "kind": "length", "value": "1 mm"}],
    "stages": [
        {
            "title": "All",
            "steps": [
                {
                    "title": "Only step",
                    "tasks": [
                        {"kind": "open", "text": "Off.", "how": "remove", "item": "cover"},
                        {
                            "kind": "leave",
                            "text": "Loose.",
                            "how": "left loose",
                            "fastener": "screw",
                            "reason": "For now.",
                        },
                    ],
                }
            ],
        }
    ],
}


@pytest.mark.parametrize("folder", places.list_samples(), ids=lambda folder: folder.name)
def test_a_sample_has_no_more_than_its_known_gaps(folder):
    found = review_sheet(load_sheet(folder).sheet)
    assert {(finding.rule, finding.severity) for finding in found} == KNOWN_GAPS[folder.name]


def test_the_gravest_come_first():
    found = review_sheet(read_sheet(json.dumps(POOR).encode()))
    assert [(finding.severity, finding.rule) for finding in found] == [
        ("stops work", "left loose is finished"),
        ("wants an answer", "opened is closed"),
        ("wants an answer", "spec has a source"),
        ("hint", "spec is used"),
    ]


def test_a_finding_tells_where_what_and_why():
    finding = review_sheet(read_sheet(json.dumps(POOR).encode()))[0]
    told = finding.tell()
    for part in (finding.severity, finding.where, finding.sentence, finding.reason, finding.rule):
        assert part in told
    assert finding.as_dict() == {
        "rule": finding.rule,
        "severity": finding.severity,
        "where": finding.where,
        "sentence": finding.sentence,
        "reason": finding.reason,
    }


def test_each_fault_of_a_sheet_that_does_not_open_stops_work():
    faults = [Trouble("It is bad.", "step 1", "Mend it."), Trouble("This too.", "step 2")]
    found = find_in_trouble(SheetTrouble("The sheet has 2 faults.", "job.json", troubles=faults))
    assert [(f.severity, f.where, f.sentence) for f in found] == [
        ("stops work", "step 1", "It is bad. Mend it."),
        ("stops work", "step 2", "This too."),
    ]


def test_a_sheet_trouble_without_a_list_is_a_finding_itself():
    (finding,) = find_in_trouble(SheetTrouble("It is no sheet.", "here", "Choose another."))
    assert (finding.where, finding.sentence) == ("here", "It is no sheet. Choose another.")
