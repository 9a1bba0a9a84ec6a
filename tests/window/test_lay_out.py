"""Lay out: what is entered there is kept at once, and is there again after closing."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from shopguide import places
from shopguide.shop.book import read_book
from shopguide.window.caution_panel import CautionPanel
from shopguide.window.field_row import FieldRow
from shopguide.window.frame import Frame

ENTRIES = {
    "make": "Corvane",
    "model": "Tarn 260",
    "year": "2014",
    "vin": "1M8GDM9AXKP042788",  # the worked example of the check digit; see tests/published
    "serial": "S-77",
    "odometer": "123456 km",
    "person": "Ada Hill",
}
WRENCH = "click wrench, 2 N·m, 25 N·m, 4711, March 2026"
ENTER = Qt.Key.Key_Return


@pytest.fixture
def wait(qtbot, frame):
    def settled() -> None:
        qtbot.waitUntil(lambda: not frame.desk.waiting, timeout=30_000)

    return settled


def type_in(frame: Frame, row: FieldRow, text: str) -> None:
    frame.lay_out._go_to(row)
    row.entry.clear()
    QTest.keyClicks(row.entry, text)
    QTest.keyClick(row.entry, ENTER)


def fill_all(frame: Frame, wait) -> None:
    for key, text in ENTRIES.items():
        type_in(frame, frame.lay_out.fields[key], text)
        wait()
    type_in(frame, frame.lay_out.wrench_field, WRENCH)
    wait()


def tick(frame: Frame, kind: str, wait) -> list[str]:
    keys = [key for k, key in frame.lay_out.ticks if k == kind]
    for key in keys:
        row = frame.lay_out.ticks[(kind, key)]
        frame.lay_out._go_to(row)
        QTest.keyClick(row, Qt.Key.Key_Space)
        wait()
    return keys


def test_looking_leaves_nothing_behind(open_in, bare_sample):
    frame = open_in(bare_sample)
    assert frame.place is frame.lay_out
    QTest.keyClick(frame.lay_out, Qt.Key.Key_Down)
    assert frame.desk.record_file is None
    assert list(places.records_folder().glob("*.shopguide")) == []


def test_everything_is_there_again_after_closing(open_in, bare_sample, wait):
    frame = open_in(bare_sample)
    fill_all(frame, wait)
    parts, cautions = tick(frame, "parts", wait), tick(frame, "cautions", wait)
    assert parts and cautions
    path = frame.desk.path
    foot = frame.lay_out.foot.text()
    frame.close_desk()
    frame.go("shelf")
    open_in(path)
    assert frame.place is frame.lay_out, "work has not begun"
    place = frame.lay_out
    assert {key: row.entry.text() for key, row in place.fields.items()} == ENTRIES
    assert all(place.ticks[("parts", key)].on for key in parts)
    assert all(place.ticks[("cautions", key)].on for key in cautions)
    assert not any(row.on for (kind, _), row in place.ticks.items() if kind == "tools")
    assert place.ticks[("wrenches", "click wrench")].on
    assert place.foot.text() == foot
    assert f"{len(parts)} of {len(parts)} parts" in foot and "to read" not in foot


def test_a_field_left_without_enter_is_kept(open_in, bare_sample, wait):
    frame = open_in(bare_sample)
    row = frame.lay_out.fields["make"]
    frame.lay_out._go_to(row)
    QTest.keyClicks(row.entry, "Corvane")
    frame.go("work")
    wait()
    assert frame.desk.progress.laid_out["make"] == "Corvane"


def test_a_tick_can_be_taken_away_and_a_reading_cannot(open_in, bare_sample, wait):
    frame = open_in(bare_sample)
    part = next(row for (kind, _), row in frame.lay_out.ticks.items() if kind == "parts")
    read = next(row for (kind, _), row in frame.lay_out.ticks.items() if kind == "cautions")
    for row in (part, read):
        for expected in (True, row is read):
            QTest.mouseClick(row, Qt.MouseButton.LeftButton)
            wait()
            assert row.on is expected


@pytest.mark.parametrize(
    ("key", "text", "said", "kept"),
    [
        # The check digit of 49 CFR 565 for this VIN is X; one changed character is found.
        ("vin", "1M8GDM9AXKP042788", "check digit", "1M8GDM9AXKP042788"),
        ("vin", "1m8gdm9axkp042788", "check digit", "1M8GDM9AXKP042788"),
        ("vin", "1M8GDM9AXKP042789", "should be", "1M8GDM9AXKP042789"),
        ("vin", "WDB123", "17", "WDB123"),
        ("odometer", "76,700 mi", "76700 mi", "76700 mi"),
        ("odometer", "820 h", "820 h", "820 h"),
        ("odometer", "12 parsecs", "km", "12 parsecs"),
    ],
)
def test_what_is_said_beside_an_entry_and_what_is_kept(
    open_in, bare_sample, wait, key, text, said, kept
):
    frame = open_in(bare_sample)
    row = frame.lay_out.fields[key]
    type_in(frame, row, text)
    wait()
    row.entry.setText(text)
    assert said in row.told.text(), row.told.text()
    assert frame.desk.progress.laid_out[key] == kept


def test_the_next_job_finds_person_and_wrench_in_the_book(open_in, bare_sample, wait):
    frame = open_in(bare_sample)
    fill_all(frame, wait)
    book = read_book(places.user_folder())
    assert book.person == "Ada Hill" and [w.name for w in book.wrenches] == ["click wrench"]
    frame.close_desk()
    open_in(bare_sample)
    place = frame.lay_out
    assert place.fields["person"].entry.text() == "Ada Hill"
    assert place.fields["vin"].entry.text() == "", "another job may be on another machine"
    row = place.ticks[("wrenches", "click wrench")]
    assert not row.on, "known, but not yet at hand"
    QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    wait()
    (kept,) = frame.desk.progress.laid_out["wrenches"]
    assert (kept["name"], kept["low"], kept["high"], kept["serial"]) == (
        "click wrench",
        "2 N·m",
        "25 N·m",
        "4711",
    )


def test_a_wrench_without_its_range_is_not_taken(open_in, bare_sample, wait):
    frame = open_in(bare_sample)
    field = frame.lay_out.wrench_field
    type_in(frame, field, "some wrench")
    wait()
    assert frame.desk.record_file is None
    field.entry.setText("some wrench")
    assert field.told.text() and "Enter adds it" not in field.told.text()


def test_up_from_the_first_line_shows_what_stands_above(open_in, bare_sample):
    frame = open_in(bare_sample)
    place = frame.lay_out
    place._go_to(place.fields["person"])
    bar = place.scroll.verticalScrollBar()
    bar.setValue(bar.maximum())
    place._go_to(place.fields["make"])
    QTest.keyClick(place.fields["make"].entry, Qt.Key.Key_Up)
    assert bar.value() == 0 and place.find_line_in_use() is place.fields["make"]


def test_a_signed_record_is_only_looked_at(open_in, make_standing, bare_sample):
    from shopguide.record.file import RecordFile

    path = make_standing(bare_sample, lambda progress, due: due.act == "end")
    record = RecordFile.open(path)
    record.append("signed", {"name": "Ada", "statement": "Own work.", "strokes": []})
    record.close()
    frame = open_in(path)
    frame.go("lay out")
    before = len(frame.desk.progress.events)
    row = frame.lay_out.fields["make"]
    type_in(frame, row, "Another")
    part = next(row for (kind, _), row in frame.lay_out.ticks.items() if kind == "parts")
    QTest.mouseClick(part, Qt.MouseButton.LeftButton)
    assert len(frame.desk.progress.events) == before and not frame.desk.waiting
    assert frame.place.bar.does == "Only to look at. Space goes to Work"


def test_every_caution_stands_above_its_own_tick(open_in, bare_sample):
    frame = open_in(bare_sample)
    panels = frame.lay_out.findChildren(CautionPanel)
    rows = [row for (kind, _), row in frame.lay_out.ticks.items() if kind == "cautions"]
    assert len(panels) == len(rows) > 3
    for panel, row in zip(panels, rows, strict=True):
        assert 0 <= row.y() - (panel.y() + panel.height()) <= 12
