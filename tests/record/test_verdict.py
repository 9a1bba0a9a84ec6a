"""The verdict on a whole record: what it says, one by one, and no more."""

from __future__ import annotations

from shopguide.record.file import RecordFile, verify_record


def test_a_whole_record(make, shot, digest):
    with make(marks=3) as record:
        record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
        record.append("signed", {"name": "Jo Bench", "statement": "", "strokes": [], "hidden": []})
        head = record.head
    before = digest(record.path)
    verdict = verify_record(str(record.path))
    assert digest(record.path) == before
    assert verdict.good
    assert verdict.head == head
    assert verdict.events == 6
    assert [(s.about, s.good) for s in verdict.statements] == [
        ("file", True),
        ("guards", True),
        ("chain", True),
        ("sheet", True),
        ("photos", True),
        ("signed", None),
        ("limit", None),
    ]
    told = verdict.tell()
    assert "yes   The chain of its 6 events holds" in told
    assert "yes   All 3 photos match" in told
    assert "signed off by Jo Bench" in told
    assert head in told


def test_the_verdict_as_data(make):
    with make(marks=1) as record:
        pass
    data = verify_record(record.path).as_dict()
    assert data["kind"] == "record"
    assert data["file"] == "sump cover.shopguide"
    assert data["good"] is True
    assert data["statements"][5] == {
        "about": "signed",
        "good": None,
        "says": "It is not signed off.",
    }


def test_a_record_that_is_being_written(make, mark):
    record = make(marks=2)
    assert verify_record(record.path).events == 3
    record.append("mark", mark(3))
    assert verify_record(record.path).events == 4


def test_the_open_record_checks_itself(make, shot):
    record = make(marks=2)
    assert record.check().good
    record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    findings = record.check()
    assert findings.good
    assert findings.head == record.head
    assert findings.events == 4
    record.close()
    with RecordFile.open(record.path, read_only=True) as view:
        assert view.check() == findings
