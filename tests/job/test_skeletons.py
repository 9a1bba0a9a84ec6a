"""New sheets open, review without anything that stops work, and are the user's own."""

from __future__ import annotations

from datetime import date

import pytest

from shopguide.errors import Trouble
from shopguide.job.files import dump_sheet, read_sheet
from shopguide.job.skeletons import SKELETONS, make_skeleton
from shopguide.review.findings import review_sheet


@pytest.mark.parametrize("name", SKELETONS)
def test_a_new_sheet_opens_and_nothing_in_it_stops_work(name):
    sheet = make_skeleton(name, "Sump cover", "An owner", date(2026, 3, 2))
    assert read_sheet(dump_sheet(sheet)) == sheet
    assert (sheet.title, sheet.author, sheet.date) == ("Sump cover", "An owner", date(2026, 3, 2))
    assert sheet.revision == "1"
    assert {finding.severity for finding in review_sheet(sheet)} <= {"hint"}
    # Nobody's figure is in a sheet that nobody has written.
    assert sheet.specs == sheet.parts == sheet.fluids == sheet.follow_ups == ()


def test_the_skeletons_have_their_stages():
    blank = make_skeleton("blank", "T", "A", "2026-03-02")
    assert len(blank.steps) == len(blank.tasks) == 1
    whole = make_skeleton("take apart", "T", "A", "2026-03-02")
    assert [s.title for s in whole.stages] == ["Take apart", "Work", "Put back", "Check"]


@pytest.mark.parametrize(
    ("name", "title", "author", "day", "told"),
    [
        ("other", "T", "A", "2026-03-02", 'There is no skeleton "other".'),
        ("blank", "", "A", "2026-03-02", "The text is empty."),
        ("blank", "T", "x\ny", "2026-03-02", "more than one line"),
        ("blank", "T", "A", "tomorrow", "is not a date"),
    ],
)
def test_a_head_that_will_not_do_is_told(name, title, author, day, told):
    with pytest.raises(Trouble) as caught:
        make_skeleton(name, title, author, day)
    assert told in caught.value.what and caught.value.next
