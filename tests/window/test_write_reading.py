"""Figures, dates and counts typed as mechanics write them: through the real cell and field."""

from __future__ import annotations

import json
from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Draft
from shopguide.torque import units
from shopguide.torque.units import Kind
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace
from shopguide.window.write_reading import read_count, read_day, split_range, tell_reading

PATIENCE_MS = 30_000

READ = {
    "7nm": "7 N·m (62 lbf·in)", "62 in lb": "62 lbf·in (7.0 N·m)",
    "12 ft. lbs": "12 lbf·ft (16.3 N·m)", "9,5 N.m": "9.5 N·m (84 lbf·in)",
    "80 inlbs": "80 lbf·in (9.0 N·m)", "1.5 kgm": "1.5 kgf·m (14.7 N·m)",
    "3/4 turn": "3/4 turn", "90 deg": "90°", "½ turn": "1/2 turn",
    "4,2 l": "4.2 L (4.4 US qt)", "2 1/2 qt": "2 1/2 US qt (2.37 L)",
    "1 qt 6 fl oz": "1 US qt 6 US fl oz (1.12 L)", "4 qt + 250 mL": "4 US qt + 250 mL (4.04 L)",
    "0.35mm": "0.35 mm (0.014 in)", "14 thou": "14 thou (0.36 mm)", "32PSI": "32 psi (2.2 bar)",
    "2.2bar": "2.2 bar (32 psi)", "80C": "80 °C (176 °F)", "30mins": "30 min",
    "1 hr 30 min": "1 h 30 min",
}  # fmt: skip
"""How a figure is typed, and what stands under the table for it."""

NOT_READ = (
    "5 ft-lbs 3", "1 qt 6 oz", "10w-40", "hand tight", "9", "about 9 Nm", "1,200 N·m", "-4 N·m",
    "9 Nm or 10 Nm", "½", "three turns", "9 N·m!", "1e3 N·m", "см. рис. 4", "9\u00a0N", "x" * 300,
)  # fmt: skip


@pytest.fixture
def place(qtbot, frame) -> Iterator[WritePlace]:
    """Write with a small sheet."""
    data = {
        "format": "shopguide-job/1",
        "title": "T",
        "author": "Ada Hill",
        "date": "2026-03-24",
        "specs": [{"name": "one", "kind": "torque"}],
        "parts": [{"name": "Seal"}],
        "follow_ups": [{"text": "Look again.", "after": "3 days"}],
        "stages": [
            {"title": "S", "steps": [{"title": "A", "tasks": [
                {"kind": "torque", "text": "Tighten.", "fastener": "nut", "spec": "one"}]}]}
        ],
    }  # fmt: skip
    frame.write.take_up(
        WriteDesk(Draft.open(json.dumps(data).encode()), None, None, parent=frame.write)
    )
    frame.go("write")
    yield frame.write


def press(key: Qt.Key, held=Qt.KeyboardModifier.NoModifier) -> None:
    QTest.keyClick(QApplication.focusWidget(), key, held)
    for _ in range(3):
        QApplication.processEvents()


def put_in(text: str) -> None:
    """Puts a text into the entry in use, its first letter by a key."""
    entry = QApplication.focusWidget()
    entry.selectAll()
    entry.insert(text)


def write_cell(place: WritePlace, section: str, row: int, key: str, text: str) -> str:
    """Writes in a cell; what stood under the table while it was written."""
    if place.path != (section,):
        place.choose((section,))
    place.table.go_to(row, key)
    place.table.edit(place.table.currentIndex())
    put_in(text)
    said = place.lists.foot.text().replace("\u200b", "")
    press(Qt.Key.Key_Return)
    return said


def kind_of(text: str) -> Kind:
    return units.read_any(text).kind


def test_what_mechanics_write_is_read_in_the_cell_and_told_while_it_is_written(place):
    for typed, read in READ.items():
        kind = kind_of(typed)
        write_cell(place, "specs", 0, "kind", kind.value)
        said = write_cell(place, "specs", 0, "value", typed)
        assert said.startswith(f"Read as {read}."), typed
        spec = place.writing.draft.sheet.specs[0]
        # The typed text stays as its source prints it.
        assert (spec.value, spec.kind) == (typed, kind)


def test_a_new_figure_tells_its_kind_by_its_unit(place):
    for typed in READ:
        write_cell(place, "specs", 0, "kind", "")
        write_cell(place, "specs", 0, "value", "")
        write_cell(place, "specs", 0, "value", typed)
        assert place.writing.draft.sheet.specs[0].kind is kind_of(typed), typed


def test_what_is_not_read_is_kept_as_typed_marked_and_told(qtbot, place, tmp_path):
    for number, typed in enumerate(NOT_READ):
        said = write_cell(place, "specs", 0, "value", typed)
        assert said and not said.startswith("Read as"), typed
        held = place.writing.data["specs"][0]
        assert held["value"] == typed.strip() and "low" not in held, typed
        assert place.writing.draft.sheet is None
        qtbot.waitUntil(
            lambda: place.writing.reviewed_data is place.writing.data, timeout=PATIENCE_MS
        )
        assert place.table.rows.told.get(("specs", 0, "value")), typed
        if number % 5 == 0:
            folder = tmp_path / f"sheet{number}"
            place.choose_folder = lambda _, folder=folder: str(folder)
            place.writing.folder = None
            place.save()
            qtbot.waitUntil((folder / "job.json").exists, timeout=PATIENCE_MS)
            qtbot.waitUntil(lambda: not place.writing.busy, timeout=PATIENCE_MS)
            again = Draft.open((folder / "job.json").read_bytes())
            assert again.data["specs"][0]["value"] == typed.strip()
            assert any(one.path == ("specs", 0, "value") for one in again.troubles)


def test_a_range_becomes_the_two_limits(place):
    write_cell(place, "specs", 0, "value", "15-18 Nm")
    spec = place.writing.draft.sheet.specs[0]
    assert (spec.value, spec.low, spec.high) == (None, "15 Nm", "18 Nm")
    place.undo()
    assert place.writing.draft.sheet.specs[0].low is None
    write_cell(place, "specs", 1, "value", "40 °C to 45 °C")
    new = place.writing.data["specs"][1]
    assert (new["kind"], new["low"], new["high"]) == ("temperature", "40 °C", "45 °C")


def test_an_empty_cell_says_what_belongs_there(place):
    assert "9 N·m" in write_cell(place, "specs", 0, "value", "")
    assert "±10 %" in write_cell(place, "specs", 0, "tolerance", "")
    assert "currency" in write_cell(place, "parts", 0, "price", "")
    assert "200 km" in write_cell(place, "follow_ups", 1, "after", "")
    assert write_cell(place, "follow_ups", 0, "after", "1 week or 500 km, whichever is first") == (
        "Read as 1 week or 500 km (311 mi)."
    )


def test_pieces_are_counted_as_they_are_written(qtbot, place):
    for typed, count in (("2 pcs", 2), ("x4", 4), ("12 ×", 12), ("3", 3)):
        write_cell(place, "parts", 0, "quantity", typed)
        assert place.writing.draft.sheet.parts[0].quantity == count
    write_cell(place, "parts", 0, "quantity", "a few")
    assert place.writing.data["parts"][0]["quantity"] == "a few"
    write_cell(place, "parts", 1, "quantity", "5 pcs")
    assert place.writing.data["parts"][1]["quantity"] == 5


@pytest.mark.parametrize("typed", ["24.3.2026", "March 24 2026", "24 March 2026", "3/24/2026"])
def test_a_date_is_read_in_its_field(place, typed):
    write_date(place, typed)
    assert place.writing.data["date"] == "2026-03-24"
    assert place.card.find_line_in_use().told.text() == "24 March 2026"


def write_date(place: WritePlace, typed: str) -> None:
    place.choose(("sheet",))
    place.card.go_to(("date",))
    press(Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClicks(QApplication.focusWidget(), typed)
    place.card.keep()


@pytest.mark.parametrize("typed", ["3/4/2026", "next week", "31.2.2026", "24.3.26"])
def test_a_date_that_is_none_or_two_is_kept_as_typed(qtbot, place, typed):
    write_date(place, typed)
    assert place.writing.data["date"] == typed
    qtbot.waitUntil(lambda: place.writing.reviewed_data is place.writing.data, timeout=PATIENCE_MS)
    assert place.card.find_line_in_use().trouble


def test_days():
    assert read_day("2026/3/24") == read_day("24th March 2026") == "2026-03-24"
    assert read_day("3/3/2026") == "2026-03-03"
    for text in ("2026", "March 2026", "0026-03-24", "", "1/2/3", "29.2.2026"):
        assert read_day(text) is None


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("15 to 18 Nm", ("15 Nm", "18 Nm")),
        ("15 Nm – 18 Nm", ("15 Nm", "18 Nm")),
        ("18-15 Nm", None),
        ("10w-40", None),
        ("1-1/2 qt", None),
        ("9 Nm", None),
        ("5 L to 6 bar", None),
        ("-", None),
    ],
)
def test_ranges(text, ends):
    assert split_range(text, None) == ends


def test_counts():
    assert [read_count(t) for t in ("2,0", "2 off", "-1", "two", "")] == [2, 2, None, None, None]


@pytest.mark.parametrize(
    ("sort", "text", "said"),
    [
        ("time", "2 to 3 hours", "Read as 2 h to 3 h."),
        ("time", "an evening", ""),
        ("after", "50 to 100 km", "Read as 50 km (31 mi) to 100 km (62 mi)."),
        ("after", "1,000 km", ""),
        ("thread", "m8x1.25", "M8, hexagon head 13 mm"),
        ("condition", "oiled", "oiled"),
        ("date", "soon", ""),
        ("other", "x", ""),
    ],
)
def test_readings(sort, text, said):
    assert tell_reading(sort, text) == said


def test_a_thread_that_is_none_is_said_to_stay():
    assert "stays as it is written" in tell_reading("thread", "M8 fine")
