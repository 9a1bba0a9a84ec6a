"""A saved sheet that does not open: its faults and the rules' findings, nothing told twice."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from shopguide.errors import SheetTrouble
from shopguide.job.files import load_sheet
from shopguide.review.rule import Finding
from shopguide.review.unfinished import review_unfinished

FAULTY = Path(__file__).with_name("sheets") / "pump_full_of_faults.json"


def look(folder: Path) -> tuple[Finding, ...]:
    with pytest.raises(SheetTrouble) as caught:
        load_sheet(folder)
    return review_unfinished(folder, caught.value)


def test_each_fault_is_told_once_by_the_rule_that_can_mend_it(tmp_path):
    shutil.copy(FAULTY, tmp_path / "job.json")
    found = look(tmp_path)
    assert "the sheet opens" not in [one.rule for one in found]
    for item, rule in (("drive belt", "closed was opened"), ("guard", "opened once at a time")):
        graver = [one for one in found if one.severity == "stops work"]
        assert rule in [one.rule for one in graver if f'"{item}"' in one.sentence]


def test_what_no_rule_tells_stays(tmp_path):
    data = json.loads(FAULTY.read_bytes())
    step = data["stages"][1]["steps"][0]
    step["photos"] = [{"file": "gone.jpg", "alt": "Gone."}]
    step["tasks"].append({"kind": "fill", "text": "Fill.", "fluid": "oil", "like_drained": True})
    data["fluids"].append({"name": "oil"})
    (tmp_path / "job.json").write_text(json.dumps(data))
    found = look(tmp_path)
    (left,) = [one for one in found if one.rule == "the sheet opens"]
    assert 'no task drains "oil"' in left.sentence
    (photo,) = [one for one in found if "gone.jpg" in one.sentence]
    assert photo.rule == "photo is there" and photo.fix is not None


def test_of_what_cannot_be_read_at_all_the_faults_are_told(tmp_path):
    (tmp_path / "job.json").write_text('{"format": "shopguide-job/1", "titel": "Cover"}')
    found = look(tmp_path)
    assert found and {one.rule for one in found} == {"the sheet opens"}
    (tmp_path / "job.json").write_text("no JSON")
    assert {one.rule for one in look(tmp_path)} == {"the sheet opens"}
