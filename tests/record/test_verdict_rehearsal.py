"""A rehearsal's record file never passes for a record."""

from __future__ import annotations

from shopguide.record.file import RecordFile
from shopguide.record.verdict import verify_record


def test_a_rehearsal_is_told_and_is_not_good(tmp_path, sheet):
    for rehearsal in (False, True):
        path = tmp_path / f"{rehearsal}.shopguide"
        RecordFile.create(path, sheet, [], {"rehearsal": rehearsal}).close()
        verdict = verify_record(path)
        assert verdict.good is not rehearsal
        assert ("REHEARSAL" in verdict.tell()) is rehearsal
