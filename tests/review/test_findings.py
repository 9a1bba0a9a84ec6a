"""The review as a whole: what the sample gets, how findings are sorted and told."""

from __future__ import annotations

import json
import zipfile

import pytest
from PIL import Image

from shopguide import places
from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.files import load_sheet, read_sheet
from shopguide.review.examples import EXAMPLES, make_sheet
from shopguide.review.findings import (
    find_in_trouble,
    review_opened,
    review_sheet,
    stops_work,
)
from shopguide.review.rules import RULES

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
    found = review_opened(load_sheet(folder))
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
    assert (finding.step, finding.task) == (1, "1.2")
    assert finding.as_full_dict() == {
        **finding.as_dict(),
        "place": {"step": 1, "task": "1.2", "list": "", "name": "", "field": ""},
        "fix": None,
    }
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


@pytest.mark.parametrize("name", [rule.name for rule in RULES if rule.severity == "stops work"])
def test_work_does_not_start_on_what_stops_work(name):
    example = EXAMPLES[name]
    assert stops_work(make_sheet(example.good)) == ()
    if example.pictures is None:  # whether its files are there is found when a sheet is opened
        found = stops_work(make_sheet(example.bad))
        assert name in [one.rule for one in found]
        assert {one.severity for one in found} == {"stops work"}


@pytest.mark.parametrize("name", [rule.name for rule in RULES if rule.severity != "stops work"])
def test_work_starts_on_everything_else(name):
    assert stops_work(make_sheet(EXAMPLES[name].bad)) == ()


def test_findings_can_be_written_as_json_and_kept_in_a_set():
    found = [
        one
        for example in EXAMPLES.values()
        for one in review_sheet(make_sheet(example.bad), example.pictures)
    ]
    assert len(set(found)) > len(RULES)
    for one in found:
        assert json.loads(json.dumps(one.as_full_dict())) == one.as_full_dict()


def make_folder(folder, photos):
    (folder / "photos").mkdir(parents=True)
    for name, size in photos.items():
        Image.new("RGB", size, "grey").save(folder / "photos" / name)
    data = json.loads(json.dumps(POOR))
    data["stages"][0]["steps"][0]["photos"] = [{"file": "used.png", "alt": "A cover."}]
    (folder / "job.json").write_text(json.dumps(data), encoding="utf-8")
    return folder


def test_the_files_beside_a_sheet_are_looked_at(tmp_path):
    sizes = {"used.png": (300, 200), "spare.png": (1300, 20)}
    folder = make_folder(tmp_path / "sheet", sizes)
    (folder / "photos" / ".hidden.png").write_bytes(b"")
    packed = tmp_path / "sheet.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for path in sorted(folder.rglob("*.*")):
            archive.write(path, path.relative_to(folder).as_posix())
    for path in (folder, packed):
        found = review_opened(load_sheet(path))
        told = {one.rule: one for one in found}
        assert told["photo is large enough"].where.endswith("photo used.png")
        assert (told["photo is used"].listed, told["photo is used"].name) == (
            "pictures",
            "spare.png",
        )
        assert "photo is there" not in told
    assert not any("photo" in one.rule for one in review_sheet(load_sheet(folder).sheet))
