"""What stands on the Shelf: sheets, samples, records going on, finished and damaged."""

from __future__ import annotations

import json

import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtTest import QTest

from shopguide import places
from shopguide.window.shelf_place import MOST_RECENT, ROW
from shopguide.window.shelf_rows import FINISHED, GO_ON, SHEETS, list_rows


def by_path(rows):
    return {row.path: row for row in rows}


def test_the_samples_stand_there_from_the_first_day():
    rows = list_rows([])
    assert [row.path for row in rows] == [p.absolute() for p in places.list_samples()]
    assert {row.section for row in rows} == {SHEETS}
    assert {row.state for row in rows} == {"sample sheet"}
    assert rows[0].does == f"Space opens the sheet: {rows[0].title}"


def test_a_record_going_on_says_how_far_it_is(make_standing, bare_sample):
    path = make_standing(bare_sample, lambda progress, due: due.step == 3)
    row = by_path(list_rows([], path.parent))[path]
    assert row.section == GO_ON
    assert row.state.endswith(" recorded") and int(row.state.split()[0]) >= 4
    assert row.date and row.under == "machine not named"
    assert row.does == f"Space goes on with: {row.title}"


def test_a_signed_record_is_finished(make_standing, bare_sample):
    from shopguide.record.file import RecordFile

    path = make_standing(bare_sample, lambda progress, due: due.act == "end")
    record = RecordFile.open(path)
    record.append("signed", {"name": "Ada", "statement": "Own work.", "strokes": []})
    record.close()
    row = by_path(list_rows([], path.parent))[path]
    assert (row.section, row.state) == (FINISHED, "signed")


@pytest.mark.parametrize("body", [b"", b"no record", b"SQLite format 3\0" + b"\xff" * 4000])
def test_a_damaged_record_is_shown_and_said(tmp_path, body):
    path = tmp_path / "broken.shopguide"
    path.write_bytes(body)
    row = by_path(list_rows([], tmp_path))[path]
    assert (row.section, row.title, row.state) == (GO_ON, "broken", "damaged")
    assert row.under and row.does == "Space looks into broken.shopguide"
    assert path.read_bytes() == body, "looking changes nothing"


def test_sheets_opened_lately_come_first_and_once(bare_sample, tmp_path):
    gone = tmp_path / "gone"
    rows = list_rows([str(bare_sample), str(gone), str(bare_sample)], tmp_path)
    assert rows[0].path == bare_sample
    assert rows[0].state == "job sheet"
    assert [row.path for row in rows].count(bare_sample) == 1
    assert gone not in by_path(rows)


@pytest.mark.parametrize("body", ["", "[]", "{", '{"title": 7, "applies_to": 3}', "\x00"])
def test_a_sheet_that_cannot_be_read_stands_there_all_the_same(tmp_path, body):
    folder = tmp_path / "sheet"
    folder.mkdir()
    (folder / "job.json").write_text(body)
    row = list_rows([str(folder)], tmp_path)[0]
    assert row.path == folder and row.title and row.under


def test_a_very_long_title_is_cut(tmp_path):
    folder = tmp_path / "sheet"
    folder.mkdir()
    (folder / "job.json").write_text(json.dumps({"title": "x" * 5000, "applies_to": ["y" * 5000]}))
    row = list_rows([str(folder)], tmp_path)[0]
    assert len(row.title) == 200 and len(row.under) == 300


def test_the_shelf_remembers_the_last_sheets(frame, tmp_path):
    for number in range(MOST_RECENT + 3):
        frame.shelf.remember(tmp_path / f"sheet {number}")
    frame.shelf.remember(tmp_path / "sheet 10")
    frame.settings.sync()
    again = QSettings(frame.settings.fileName(), QSettings.Format.IniFormat)
    kept = again.value("recent")
    assert len(kept) == MOST_RECENT
    assert kept[:2] == [str(tmp_path / "sheet 10"), str(tmp_path / f"sheet {MOST_RECENT + 2}")]
    assert kept.count(str(tmp_path / "sheet 10")) == 1


def test_the_uppermost_row_is_whole_however_many_there_are(frame, qtbot, monkeypatch, tmp_path):
    for number in range(30):
        (tmp_path / f"r{number}.shopguide").write_bytes(b"no record")
    monkeypatch.setattr(places, "records_folder", lambda: tmp_path)
    frame.shelf.reload()
    shelf = frame.shelf.list
    qtbot.waitUntil(lambda: shelf.count() > 30, timeout=30_000)
    shelf.setCurrentRow(20)
    frame.grab()
    top = shelf.visualItemRect(shelf.itemAt(60, 4)).top()
    assert top == 0
    chosen = shelf.visualItemRect(shelf.currentItem())
    assert chosen.top() >= 0 and chosen.bottom() <= shelf.viewport().height()


def test_home_and_end_go_to_the_first_row_and_the_last(frame, qtbot, monkeypatch, tmp_path):
    for number in range(30):
        (tmp_path / f"r{number}.shopguide").write_bytes(b"no record")
    monkeypatch.setattr(places, "records_folder", lambda: tmp_path)
    frame.shelf.reload()
    shelf = frame.shelf.list
    qtbot.waitUntil(lambda: shelf.count() > 30, timeout=30_000)
    rows = [k for k in range(shelf.count()) if shelf.item(k).data(ROW) is not None]
    assert rows[0] > 0
    QTest.keyClick(shelf, Qt.Key.Key_End)
    assert shelf.currentRow() == rows[-1]
    QTest.keyClick(shelf, Qt.Key.Key_Home)
    assert shelf.currentRow() == rows[0]
    assert shelf.verticalScrollBar().value() == 0


def test_a_record_is_not_written_in_and_that_is_told(
    frame, qtbot, monkeypatch, make_standing, bare_sample
):
    path = make_standing(bare_sample, lambda progress, due: due.act == "value")
    monkeypatch.setattr(places, "records_folder", lambda: path.parent)
    frame.shelf.reload()
    shelf = frame.shelf.list

    def is_there() -> bool:
        rows = (shelf.item(k).data(ROW) for k in range(shelf.count()))
        return any(row is not None and row.path == path for row in rows)

    qtbot.waitUntil(is_there, timeout=10_000)
    QTest.keyClick(shelf, Qt.Key.Key_Home)
    assert frame.shelf.row().path == path
    QTest.keyClick(shelf, Qt.Key.Key_E)
    assert frame.place is frame.shelf
    assert frame.shelf.notice.what == "A record is worked on, not written in."
    assert frame.shelf.notice.next == "Space goes on with it."
