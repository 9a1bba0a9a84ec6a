"""Sign off: what is open needs a reason, what is missing is told, and then it is closed."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

from shopguide.window.frame import Frame
from shopguide.work.ledger import list_missing, still_open

SPACE, ENTER = Qt.Key.Key_Space, Qt.Key.Key_Return


def lines(frame: Frame) -> list[str]:
    return [w.text() for w in frame.sign_off.scroll.findChildren(QLabel)]


def rows(frame: Frame) -> list[str]:
    return [row.text for row in frame.sign_off._rows]


@pytest.fixture
def half_done(open_in, make_standing, bare_sample) -> Frame:
    """Stands where some things are off and a good part of the tasks is not recorded."""
    frame = open_in(make_standing(bare_sample, lambda p, due: len(still_open(p)) == 3))
    frame.go("sign off")
    return frame


@pytest.fixture
def all_done(open_in, make_standing, bare_sample) -> Frame:
    frame = open_in(make_standing(bare_sample, lambda p, due: due.act == "end"))
    frame.go("sign off")
    return frame


def press(qtbot, frame: Frame, row_text: str) -> None:
    row = next(row for row in frame.sign_off._rows if row.text.startswith(row_text))
    frame.sign_off._go_to(row)
    QTest.keyClick(row, SPACE)


def answer(qtbot, frame: Frame, text: str) -> None:
    ask = frame.sign_off.ask
    QTest.keyClicks(ask.entry, text)
    QTest.keyClick(ask.entry, ENTER)
    qtbot.waitUntil(lambda: not frame.desk.waiting, timeout=30_000)


def test_nothing_is_signed_while_something_is_open(half_done):
    assert "First settle the open items and the tasks above." in lines(half_done)
    assert not any(text.startswith("Sign and close") for text in rows(half_done))
    assert half_done.sign_off.pad.parent() is None or not half_done.sign_off.pad.isVisible()


def test_an_open_item_needs_a_reason(half_done, qtbot):
    frame = half_done
    item = still_open(frame.desk.progress)[0].item
    press(qtbot, frame, item)
    ask = frame.sign_off.ask
    assert ask.is_open and item in ask.question.text()
    QTest.keyClick(ask.entry, ENTER)
    assert ask.is_open, "no reason, no accounting"
    answer(qtbot, frame, "it was rusted through: a new one is ordered")
    assert len(still_open(frame.desk.progress)) == 2
    assert f"{item} stays open: it was rusted through: a new one is ordered" in lines(frame)
    assert frame.desk.progress.events[-1].kind == "accounted"


def test_missing_tasks_are_counted_and_the_first_is_named(half_done):
    missing = list_missing(half_done.desk.progress)
    row = next(r for r in half_done.sign_off._rows if "not recorded" in r.text)
    assert row.text == f"{len(missing)} tasks not recorded"
    assert row.under == f"first: step {missing[0][0].split('.')[0]}, {missing[0][1]}"


def test_space_on_the_missing_goes_to_work(half_done, qtbot):
    press(qtbot, half_done, f"{len(list_missing(half_done.desk.progress))} tasks")
    assert half_done.place is half_done.work


def test_missing_tasks_are_skipped_with_one_reason_then_it_can_be_signed(half_done, qtbot):
    frame = half_done
    count = len(list_missing(frame.desk.progress))
    press(qtbot, frame, "or sign without them")
    answer(qtbot, frame, "done by the workshop")
    qtbot.waitUntil(lambda: not list_missing(frame.desk.progress), timeout=30_000)
    skipped = [e for e in frame.desk.progress.events if e.kind == "skipped"]
    assert len(skipped) == count
    assert {e.data["reason"] for e in skipped} == {"done by the workshop"}
    while still_open(frame.desk.progress):
        press(qtbot, frame, still_open(frame.desk.progress)[0].item)
        answer(qtbot, frame, "stays off")
    assert any(text.startswith("Sign and close") for text in rows(frame))
    assert any("done by the workshop" in line for line in lines(frame))


def test_signing_asks_the_name_and_closes_for_good(all_done, qtbot):
    frame = all_done
    assert "Every task is recorded." in lines(frame)
    frame.sign_off.pad.strokes = [[(10, 10), (200, 60)]]
    press(qtbot, frame, "Sign and close")
    assert frame.sign_off.ask.is_open and not frame.desk.signed
    answer(qtbot, frame, "Ada Hill")
    assert frame.desk.signed
    event = frame.desk.progress.signed
    assert event.data["name"] == "Ada Hill"
    assert event.data["strokes"] == [[[10, 10], [200, 60]]]
    assert any(line.startswith("Signed by Ada Hill on ") for line in lines(frame))
    assert not any(text.startswith("Sign and close") for text in rows(frame))
    before = len(frame.desk.progress.events)
    assert not frame.desk.record("note", {"step": 1, "text": "later"})
    assert len(frame.desk.progress.events) == before


def test_escape_signs_nothing(all_done, qtbot):
    press(qtbot, all_done, "Sign and close")
    QTest.keyClick(all_done.sign_off.ask.entry, Qt.Key.Key_Escape)
    assert not all_done.desk.signed and not all_done.desk.waiting


def test_a_signature_can_be_cleared_again(all_done, qtbot):
    frame = all_done
    frame.sign_off.pad.strokes = [[(10, 10), (200, 60)]]
    frame.sign_off._build()
    press(qtbot, frame, "Clear the pad")
    assert frame.sign_off.pad.strokes == []
    assert "Clear the pad" not in rows(frame)


def test_up_from_the_first_line_shows_the_findings(all_done):
    frame = all_done
    bar = frame.sign_off.scroll.verticalScrollBar()
    frame.sign_off._go_to(frame.sign_off._rows[0])
    QTest.keyClick(frame.sign_off._rows[0], Qt.Key.Key_Up)
    assert bar.value() == 0


def test_without_a_record_there_is_no_paper_yet(open_in, bare_sample):
    frame = open_in(bare_sample)
    frame.go("sign off")
    assert frame.sign_off.paper.words.text().startswith("There is no record yet")
