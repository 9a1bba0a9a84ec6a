"""Several cells of a table: chosen with Shift, copied, written over, emptied; Tab and Enter."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator

import pytest
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Draft
from shopguide.window.write_cells import MOST_CELLS, split_cells
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace

CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
PLAIN = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def place(qtbot, frame) -> Iterator[WritePlace]:
    """Write with four parts and two specs."""
    data = {
        "format": "shopguide-job/1",
        "title": "T",
        "author": "Ada Hill",
        "date": "2026-03-24",
        "specs": [
            {"name": "nut", "kind": "torque", "value": "9 N·m", "source": {
                "kind": "manual", "text": "page 4"}, "note": "Dry.\nBy hand."},
            {"name": "gap", "kind": "length", "high": "0.2 mm"},
        ],
        "parts": [{"name": name, "number": f"N {k}"} for k, name in enumerate("abcd", 1)],
        "stages": [
            {"title": "S", "steps": [{"title": "A", "tasks": [
                {"kind": "torque", "text": "Tighten.", "fastener": "nut", "spec": "nut"}]}]}
        ],
    }  # fmt: skip
    frame.write.take_up(
        WriteDesk(Draft.open(json.dumps(data).encode()), None, None, parent=frame.write)
    )
    frame.go("write")
    frame.write.choose(("parts",))
    yield frame.write


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN, times: int = 1) -> None:
    for _ in range(times):
        QTest.keyClick(QApplication.focusWidget(), key, held)
        for _ in range(3):
            QApplication.processEvents()


def type_in(text: str) -> None:
    for letter in text:
        QTest.keyClicks(QApplication.focusWidget(), letter)


def cells(place: WritePlace, *columns: int) -> list[list[str]]:
    rows = place.table.rows
    return [[rows.text(row, c) for c in columns] for row in range(len(rows.entries))]


def paste(text: str) -> None:
    QApplication.clipboard().setText(text)
    press(Qt.Key.Key_V, CONTROL)


def test_cells_are_pasted_over_those_that_are_there(place):
    before = place.writing.data
    place.table.go_to(1, "number")
    paste("Q 7\t2 pcs\r\nQ 8\tthree\r\n")
    assert cells(place, 0, 1, 2)[1:3] == [["b", "Q 7", "2"], ["c", "Q 8", "three"]]
    # What cannot be read is kept as it was pasted.
    assert place.writing.data["parts"][2]["quantity"] == "three"
    assert place.bar.after == "Ctrl Z undoes: pasting of 4 cells into parts"
    place.undo()
    assert place.writing.data is before


def test_cells_beyond_the_last_row_begin_new_ones(place):
    place.table.go_to(3, "price")
    paste("1 €\n2 €\n3 €")
    assert [row[0] for row in cells(place, 4)] == ["", "", "", "1 €", "2 €", "3 €"]


def test_cells_beyond_the_last_column_are_left_out(place):
    place.table.go_to(0, "note")
    paste("one\ttwo\tthree")
    assert cells(place, 5)[0] == ["one"] and place.writing.draft.sheet is not None


def test_one_cell_fills_all_that_are_chosen(place):
    place.table.go_to(0, "single_use")
    press(Qt.Key.Key_Down, SHIFT, 2)
    assert place.bar.does == "Ctrl C copies 3 cells"
    paste("yes")
    assert [part.single_use for part in place.writing.draft.sheet.parts] == [True] * 3 + [False]


def test_chosen_cells_are_copied_and_emptied(place):
    place.table.go_to(1, "number")
    press(Qt.Key.Key_Down, SHIFT)
    press(Qt.Key.Key_Left, SHIFT)
    press(Qt.Key.Key_C, CONTROL)
    assert QApplication.clipboard().text() == "b\tN 2\nc\tN 3\n"
    place.table.go_to(1, "number")
    press(Qt.Key.Key_Down, SHIFT)
    press(Qt.Key.Key_Delete)
    assert [row[0] for row in cells(place, 1)] == ["N 1", "", "", "N 4"]
    assert "emptying of 2 cells" in place.bar.after
    place.undo()
    assert [row[0] for row in cells(place, 1)] == ["N 1", "N 2", "N 3", "N 4"]


def test_whole_rows_are_copied_with_their_heads_and_pasted_as_rows(place):
    place.choose(("specs",))
    place.table.go_to(0)
    press(Qt.Key.Key_Space, SHIFT)
    press(Qt.Key.Key_Down, SHIFT)
    assert place.bar.does == "Ctrl C copies 2 rows"
    press(Qt.Key.Key_C, CONTROL)
    copied = list(csv.reader(io.StringIO(QApplication.clipboard().text()), delimiter="\t"))
    assert copied[0][:4] == ["name", "kind", "value", "low"] and "where used" not in copied[0]
    assert copied[1][copied[0].index("note")] == "Dry.\nBy hand."
    press(Qt.Key.Key_End)
    place.table.go_to(1)
    press(Qt.Key.Key_V, CONTROL)
    data = place.writing.data["specs"]
    assert [dict(one) for one in data[2:]] == [dict(one) for one in data[:2]]


def test_whole_rows_are_taken_out_together(place):
    place.table.go_to(1)
    press(Qt.Key.Key_Space, SHIFT)
    press(Qt.Key.Key_Down, SHIFT)
    press(Qt.Key.Key_Delete, CONTROL)
    assert [row[0] for row in cells(place, 0)] == ["a", "d"]
    place.undo()
    assert [row[0] for row in cells(place, 0)] == ["a", "b", "c", "d"]


def test_all_rows_and_an_end_to_the_choice(place):
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_A, CONTROL)
    assert place.table.choice.block == (0, 0, 3, 5)
    press(Qt.Key.Key_Left)
    assert not place.table.choice.block.several


def test_a_click_with_shift_chooses_up_to_there(place):
    place.table.go_to(0)
    box = place.table.visualRect(place.table.rows.index(2, 1))
    QTest.mouseClick(place.table.viewport(), Qt.MouseButton.LeftButton, SHIFT, box.center())
    assert place.table.choice.block == (0, 0, 2, 1)
    QTest.mouseClick(place.table.viewport(), Qt.MouseButton.LeftButton, PLAIN, box.center())
    assert place.table.choice.block == (2, 1, 2, 1)


def test_names_that_are_pasted_over_are_followed(place):
    place.choose(("specs",))
    place.table.go_to(0)
    press(Qt.Key.Key_Right, SHIFT)
    paste("hub nut\ttorque")
    assert place.writing.draft.sheet.tasks["1.1"].spec == "hub nut"
    place.undo()
    assert place.writing.draft.sheet.tasks["1.1"].spec == "nut"


def test_too_many_cells_are_refused_and_nothing_is_changed(place):
    before = place.writing.data
    place.table.go_to(0, "note")
    paste("x\n" * (MOST_CELLS + 1))
    assert "at most" in place.notice.what and place.writing.data is before


def test_tab_goes_right_and_enter_to_where_the_run_began(place):
    place.table.go_to(4)
    type_in("seal")
    press(Qt.Key.Key_Tab)
    type_in("Q 5")
    press(Qt.Key.Key_Tab)
    type_in("3")
    press(Qt.Key.Key_Return)
    assert place.table.cell == (5, 0) and not place.table.writes
    type_in("ring")
    press(Qt.Key.Key_Tab)
    assert place.table.cell == (5, 1)
    assert cells(place, 0, 1, 2)[4:] == [["seal", "Q 5", "3"], ["ring", "", "1"]]


def test_enter_and_the_arrows_go_on_below_while_a_column_is_written(place):
    place.table.go_to(0, "price")
    for text in ("1 p", "2 p"):
        type_in(text)
        press(Qt.Key.Key_Return)
    type_in("3 p")
    press(Qt.Key.Key_Down)
    type_in("4 p")
    press(Qt.Key.Key_Return)
    # Under the last row there is none to go to: it stays.
    assert place.table.cell == (3, 4)
    assert [row[0] for row in cells(place, 4)] == ["1 p", "2 p", "3 p", "4 p"]
    type_in("5 p")
    press(Qt.Key.Key_Up)
    assert place.table.cell == (2, 4) and cells(place, 4)[3] == ["5 p"]


def test_tab_passes_by_what_cannot_be_written_in(place):
    place.choose(("specs",))
    place.table.go_to(0, "text")
    place.table.edit(place.table.currentIndex())
    press(Qt.Key.Key_Tab)
    assert place.table.rows.columns[place.table.cell[1]].word == "printed also"
    place.table.edit(place.table.currentIndex())
    press(Qt.Key.Key_Backtab, SHIFT)
    assert place.table.rows.columns[place.table.cell[1]].word == "source in words"


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        ("a\tb\r\nc\t\r\n", [["a", "b"], ["c", ""]]),
        ('"two\nlines"\tb', [["two\nlines", "b"]]),
        ('1/2" drive\tx\n', [['1/2" drive', "x"]]),
        ("a\n\nb", [["a"], [""], ["b"]]),
        ("", [[""]]),
    ],
)
def test_copied_cells_are_taken_apart(text, rows):
    assert split_cells(text) == rows


def test_the_first_column_stays_in_sight_and_no_column_is_cut_at_its_edge(place):
    place.choose(("specs",))
    place.enter()
    table = place.table
    bar, wide = table.horizontalScrollBar(), table.columnWidth(0)
    last = len(table.rows.columns) - 1
    stops: set[int] = set()
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Left):
        for _ in range(last):
            press(key)
            column = table.cell[1]
            left = table.columnViewportPosition(column)
            assert left >= (wide if column else 0), "no cell in use lies under the first column"
            assert left + table.columnWidth(column) <= table.viewport().width()
            assert wide in {table.columnViewportPosition(k) for k in range(1, last + 1)}
            stops.add(bar.value())
    assert len(stops) > 2 and bar.value() == 0


def test_the_first_column_is_painted_over_and_takes_clicks(place):
    place.choose(("specs",))
    place.enter()
    table = place.table
    wide = table.columnWidth(0)
    names = QRect(0, 0, wide - 2, table.height())
    table.step_to(1, 1)
    before = table.grab(names).toImage()
    table.step_to(1, len(table.rows.columns) - 1)
    assert table.whole.lies_over
    assert table.grab(names).toImage() == before, "names and the word over them look as they did"
    y = table.rowViewportPosition(0) + table.rowHeight(0) // 2
    QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=QPoint(wide // 2, y))
    assert table.cell == (0, 0) and table.horizontalScrollBar().value() == 0
