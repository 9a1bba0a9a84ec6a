"""The quick look for the Shelf."""

from __future__ import annotations

import sqlite3

import pytest

from shopguide.record.file import RecordFile, look_into


def test_what_the_shelf_shows(make, mark, shot):
    record = make()
    record.append("laid out", {"field": "make", "value": "Fernweh"})
    record.append("laid out", {"field": "model", "value": "Lark"})
    record.append("laid out", {"field": "model", "value": "Lark 2"})
    record.append("laid out", {"field": "wrenches", "value": []})
    first = record.append("mark", mark(1))
    record.append("withdrawn", {"seq": first.seq})
    record.append("mark", mark(1))
    record.append("done", {"task": "1.1"})
    record.append("skipped", {"task": "1.2", "reason": "no need"})
    last = record.append_photo({"step": 1, "name": "IMG_1.jpg"}, shot(7))
    summary = look_into(record.path)
    assert summary.path == record.path
    assert (summary.title, summary.machine) == ("Sump cover", "Fernweh Lark 2")
    assert summary.started_at == record.events()[0].at
    assert summary.last_at == last.at
    assert (summary.recorded, summary.photos) == (3, 1)
    assert (summary.finished, summary.rehearsal, summary.damage) == (False, False, "")
    record.append("signed", {"name": "Jo", "statement": "", "strokes": [], "hidden": []})
    record.close()
    assert look_into(record.path).finished


def test_a_rehearsal(tmp_path):
    path = tmp_path / "a.shopguide"
    RecordFile.create(path, b"{}", [], {"title": "A", "rehearsal": True}).close()
    assert look_into(path).rehearsal


@pytest.mark.parametrize(
    "data", ["[]", "{", "null", '{"seq": "x"}', "[" * 100_000, '{"field": []}']
)
@pytest.mark.parametrize("kind", ["begun", "withdrawn", "laid out"])
def test_nonsense_in_it_is_damage_or_passed_over(make, kind, data):
    record = make(marks=1)
    record.close()
    connection = sqlite3.connect(record.path)
    connection.execute("DROP TRIGGER events_never_changed")
    seq = 1 if kind == "begun" else 2
    connection.execute("UPDATE events SET kind = ?, data = ? WHERE seq = ?", (kind, data, seq))
    connection.commit()
    connection.close()
    summary = look_into(record.path)
    assert summary.path == record.path
    if kind != "begun" or not data.endswith("}"):
        assert "an event cannot be read" in summary.damage
