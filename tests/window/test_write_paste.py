"""Pasting into the tables of Write: nothing is dropped, and one undo takes it back exactly."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.edits import Draft, SetValue
from shopguide.job.skeletons import make_skeleton
from shopguide.job.text import MOST_BYTES
from shopguide.window import write_pasting
from shopguide.window.write_cell_painter import MOST_TYPED
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 60_000
ROWS = 10_000
CONTROL = Qt.KeyboardModifier.ControlModifier
PLAIN = Qt.KeyboardModifier.NoModifier
SCRIPTS = (
    "Прокладка", "Παρέμβυσμα", "垫圈", "ガスケット", "개스킷", "गैस्केट", "حشية", "אטם", "ปะเก็น",
    "გასკეტი", "ኮፍያ", "Ölwannendichtung", "e\u0301crou", "🔩 bolt", "𐍂𐌹𐌽𐌲𐍃",
)  # fmt: skip


class Paster:
    """Somebody who pastes into a table."""

    def __init__(self, qtbot: Any, place: WritePlace) -> None:
        self.qtbot, self.place = qtbot, place

    @property
    def desk(self) -> WriteDesk:
        assert self.place.writing is not None
        return self.place.writing

    def rows(self, section: str) -> list[Any]:
        return list(self.desk.data.get(section, ()))

    def go_to(self, section: str, row: int = 0, key: str = "") -> None:
        self.place.choose((section,))
        self.place.table.go_to(row, key)

    def key(self, key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.place, key, held)
        QApplication.processEvents()

    def paste(self, text: str) -> None:
        QApplication.clipboard().setText(text)
        assert QApplication.clipboard().text() == text
        self.key(Qt.Key.Key_V, CONTROL)

    def paste_whole(self, text: str) -> None:
        """Pastes, and waits until it is taken in."""
        before = self.desk.data
        self.paste(text)
        self.qtbot.waitUntil(
            lambda: self.place.errand is None and self.desk.data is not before,
            timeout=PATIENCE_MS,
        )

    def settle(self) -> None:
        self.qtbot.waitUntil(
            lambda: not self.desk.busy and self.desk.reviewed_data is self.desk.data,
            timeout=PATIENCE_MS,
        )


@pytest.fixture
def paster(qtbot: Any, frame: Any) -> Iterator[Paster]:
    draft = Draft(make_skeleton("blank", "Pump cover", "Ada Hill", "2026-03-24"))
    frame.write.take_up(WriteDesk(draft, parent=frame.write))
    frame.go("write")
    one = Paster(qtbot, frame.write)
    one.settle()
    yield one


@pytest.fixture
def go_on(monkeypatch: pytest.MonkeyPatch) -> Iterator[threading.Event]:
    """What is read off the window's thread waits for this."""
    event = threading.Event()
    read = write_pasting._read

    def read_later(*given: Any) -> Any:
        assert event.wait(60)
        return read(*given)

    monkeypatch.setattr(write_pasting, "_read", read_later)
    yield event
    event.set()


def make_rows(section: str, parter: str = "\t", end: str = "\n") -> tuple[str, int]:
    """Many rows as a spreadsheet copies them, and how many have something that cannot be read."""
    heads = {
        "specs": ["name", "value", "source kind", "source"],
        "parts": ["name", "quantity", "number"],
        "tools": ["name", "note"],
    }[section]
    lines, odd = [heads], 0
    for n in range(ROWS):
        faulty = section != "tools" and n % 250 == 7
        odd += faulty
        cells = {
            "name": f"{SCRIPTS[n % len(SCRIPTS)]} {n}",
            "value": "9" if faulty else f"{n % 90 + 1} N·m",
            "quantity": "two" if faulty else "2",
            "source kind": "manual",
            "source": f"page {n}",
            "number": f"QB {n}",
            "note": "",
        }
        lines.append([cells[head] for head in heads])
    return end.join(parter.join(line) for line in lines) + end, odd


@pytest.mark.parametrize(
    ("section", "parter", "end"),
    [("specs", "\t", "\r\n"), ("parts", ";", "\n"), ("tools", "\t", "\r")],
)
def test_ten_thousand_rows_are_taken_in_and_one_undo_takes_them_back(paster, section, parter, end):
    text, odd = make_rows(section, parter, end)
    before = paster.desk.data
    paster.go_to(section)
    paster.paste_whole(text)
    rows = paster.rows(section)
    assert [row["name"] for row in rows] == [
        f"{SCRIPTS[n % len(SCRIPTS)]} {n}" for n in range(ROWS)
    ]
    key = {"specs": "value", "parts": "quantity"}.get(section)
    if key is not None:
        assert sum(1 for row in rows if row[key] in ("9", "two")) == odd == 40
        assert f"and {odd - 4} more" in paster.place.notice.where
    assert paster.place.bar.after == f"Ctrl Z undoes: pasting of {ROWS} rows into {section}"
    assert paster.place.table.rows.rowCount() == ROWS + 1
    typed = paster.desk.draft.dump_as_typed()
    paster.key(Qt.Key.Key_Z, CONTROL)
    assert paster.desk.data is before
    assert paster.place.table.rows.rowCount() == 1
    paster.key(Qt.Key.Key_Z, CONTROL | Qt.KeyboardModifier.ShiftModifier)
    assert paster.desk.draft.dump_as_typed() == typed
    paster.key(Qt.Key.Key_Z, CONTROL)


def test_many_rows_stand_behind_the_row_that_was_chosen_when_they_were_pasted(paster, request):
    paster.go_to("tools")
    paster.paste("name\nfirst\nlast\n")
    assert [row["name"] for row in paster.rows("tools")] == ["first", "last"]
    paster.go_to("tools", 0)
    text, _ = make_rows("tools")
    go_on: threading.Event = request.getfixturevalue("go_on")
    paster.paste(text)
    assert paster.place.errand is not None and "10,00" in paster.place.notice.what
    # What is done meanwhile stays done.
    paster.go_to("parts", 0, "quantity")
    QTest.keyClicks(paster.place.table, "2")
    paster.key(Qt.Key.Key_Return)
    paster.qtbot.waitUntil(lambda: len(paster.rows("parts")) == 1, timeout=PATIENCE_MS)
    assert paster.place.errand is not None
    go_on.set()
    paster.qtbot.waitUntil(lambda: len(paster.rows("tools")) > 2, timeout=PATIENCE_MS)
    names = [row["name"] for row in paster.rows("tools")]
    assert names[0] == "first" and names[-1] == "last" and len(names) == ROWS + 2
    assert len(paster.rows("parts")) == 1


def test_escape_calls_off_what_is_being_read(paster, go_on):
    before = paster.desk.data
    paster.go_to("tools")
    text, _ = make_rows("tools")
    paster.paste(text)
    errand = paster.place.errand
    assert errand is not None and "Escape" in paster.place.notice.next
    paster.key(Qt.Key.Key_Escape)
    assert errand.is_cancelled()
    go_on.set()
    assert errand.wait(60)
    paster.qtbot.waitUntil(lambda: paster.place.errand is None, timeout=PATIENCE_MS)
    assert paster.desk.data is before and paster.desk.draft.undo_words == ""
    assert paster.place.table.isAncestorOf(QApplication.focusWidget()) or (
        QApplication.focusWidget() is paster.place.table
    )


DRIFT, PULLER = {"name": "Drift", "note": "long"}, {"name": "Puller"}
ODD: dict[str, tuple[str, list[dict[str, Any]], str]] = {
    "tabs at the ends": ("name\tnote\t\t\nDrift\tlong\t\t\t\n", [DRIFT], ""),
    "quotes with lines in them": (
        'name\tnote\r\n"Drift"\t"two\r\nlines, ""inches"""\r\nPuller\t\r\n',
        [{"name": "Drift", "note": 'two\nlines, "inches"'}, PULLER],
        "",
    ),
    "a quote never closed": (
        'name\tnote\n"Drift\tlong\nPuller\t',
        [{"name": '"Drift', "note": "long"}, PULLER],
        "A quotation mark opens a cell here",
    ),
    "too many cells": (
        "name\tnote\nDrift\tlong\tBox 3\nPuller",
        [DRIFT, PULLER],
        "“Box 3” belongs to none",
    ),
    "semicolons": ("name;note\nDrift;long\n;;\nPuller;", [DRIFT, PULLER], ""),
    "a row without a name": (
        "name;note\nDrift;long\n;x",
        [DRIFT, {"name": "", "note": "x"}],
        "The name is missing",
    ),
    "a column of no name": (
        "name\tnote\tshelf\nDrift\tlong\tB4",
        [DRIFT],
        "There is no column “shelf”",
    ),
    "old ends of lines": ("name\rDrift\rPuller\r", [{"name": "Drift"}, PULLER], ""),
}


@pytest.mark.parametrize("what", list(ODD))
def test_odd_rows_are_taken_in_as_far_as_they_can_be_and_told(paster, what):
    text, rows, told = ODD[what]
    paster.go_to("tools")
    paster.paste_whole(text)
    assert paster.rows("tools") == rows
    assert (told in paster.place.notice.where) if told else not paster.place.notice.isVisible()
    paster.key(Qt.Key.Key_Z, CONTROL)
    assert paster.rows("tools") == []


def test_the_mark_of_an_encoding_is_no_part_of_the_first_cell(paster):
    paster.go_to("tools")
    paster.place.table.pasted.emit("\ufeffname\tnote\nDrift\tlong")
    assert paster.rows("tools") == [DRIFT]
    paster.place.table.pasted.emit("\ufeffPuller")
    assert paster.rows("tools")[0]["name"] == "Puller"


def test_a_sign_that_stands_for_nothing_is_seen_not_swallowed(paster):
    paster.go_to("tools")
    # Some clipboards cut a text at such a sign: so it is handed over as the table does.
    paster.place.table.pasted.emit("name\tnote\nDri\x00ft\tlong")
    assert paster.rows("tools") == [{"name": "Dri\ufffdft", "note": "long"}]


def test_one_cell_of_a_million_signs_is_kept_told_and_cannot_be_cut_by_writing_in_it(paster):
    long = "x" * 1_000_000
    paster.go_to("tools")
    paster.paste_whole(f"name\tnote\nDrift\t{long}")
    assert paster.rows("tools") == [{"name": "Drift", "note": long}]
    assert "It has more than" in paster.place.notice.where
    paster.place.table.go_to(0, "note")
    paster.key(Qt.Key.Key_Return)
    assert not paster.place.table.writes
    assert paster.place.notice.what == "More stands in this cell than can be written in it."
    QTest.keyClicks(paster.place.table, "a")
    QApplication.processEvents()
    assert paster.rows("tools")[0]["note"] == long
    paster.settle()
    assert any(remark.path == ("tools", 0, "note") for remark in paster.desk.remarks)
    paster.paste("short")
    assert paster.rows("tools") == [{"name": "Drift", "note": "short"}]
    paster.key(Qt.Key.Key_Z, CONTROL)
    assert paster.rows("tools")[0]["note"] == long


def test_a_cell_that_can_be_written_in_loses_nothing_by_it(paster):
    longest = "y" * MOST_TYPED
    paster.go_to("tools")
    paster.paste(f"name\tnote\nDrift\t{longest}")
    paster.place.table.go_to(0, "note")
    paster.key(Qt.Key.Key_Return)
    assert paster.place.table.writes
    paster.key(Qt.Key.Key_Return)
    assert paster.rows("tools")[0]["note"] == longest


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("name\n" + "x\n" * 20_001, "The table has 20,001 rows; at most 20,000 can be taken in."),
        ("y" * (MOST_BYTES + 1), "million signs; nothing was pasted"),
        ("name\tnote\n" + f"Drift\t{'z' * 900}\n" * 5_500, "MB with these rows; at most 5 MB"),
    ],
    ids=["too many rows", "too many signs", "more than a sheet holds"],
)
def test_a_limit_is_told_and_nothing_is_pasted(paster, text, told):
    before = paster.desk.data
    paster.go_to("tools")
    paster.paste(text)
    paster.qtbot.waitUntil(
        lambda: paster.place.errand is None and told in paster.place.notice.what,
        timeout=PATIENCE_MS,
    )
    assert paster.desk.data is before and paster.desk.draft.undo_words == ""


def test_thousands_of_rows_are_taken_out_at_once_and_come_back(paster):
    paster.go_to("tools")
    paster.paste_whole("name\n" + "\n".join(f"tool {n}" for n in range(3_000)))
    full = paster.desk.data
    paster.place.table.go_to(0)
    paster.key(Qt.Key.Key_A, CONTROL)
    paster.key(Qt.Key.Key_Delete, CONTROL)
    assert paster.rows("tools") == []
    assert paster.desk.draft.undo_words == "undo removal of 3000 rows of tools"
    paster.key(Qt.Key.Key_Z, CONTROL)
    assert paster.desk.data is full


def test_rows_pasted_into_a_sheet_that_is_left_meanwhile_go_nowhere(paster, go_on):
    text, _ = make_rows("tools")
    paster.go_to("tools")
    paster.paste(text)
    errand = paster.place.errand
    assert errand is not None
    other = Draft(make_skeleton("blank", "Other", "Ada Hill", "2026-03-24"))
    paster.place.take_up(WriteDesk(other, parent=paster.place))
    go_on.set()
    assert errand.wait(60)
    paster.qtbot.waitUntil(lambda: paster.place.errand is None, timeout=PATIENCE_MS)
    assert paster.rows("tools") == [] and paster.desk.title == "Other"


def test_a_sheet_too_large_to_be_opened_again_is_not_saved_even_half_finished(paster, tmp_path):
    paster.place.apply(SetValue(("summary",), "x" * (MOST_BYTES + 1)))
    assert paster.desk.draft.sheet is None
    told: list[Trouble] = []
    paster.desk.failed.connect(told.append)
    paster.desk.save(tmp_path / "sheet")
    paster.qtbot.waitUntil(lambda: bool(told), timeout=PATIENCE_MS)
    assert "at most 5 MB can be opened again" in told[0].what
    assert not (tmp_path / "sheet").exists() and not paster.desk.is_saved
