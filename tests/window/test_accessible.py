"""For a screen reader: every part that takes the keys has a name; what is recorded is said."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from shopguide.window import announcement, work_place
from shopguide.window.frame import Frame


def find_nameless(frame: Frame) -> list[str]:
    nameless = []
    for widget in frame.findChildren(QWidget):
        if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or not widget.isVisible():
            continue
        face = QAccessible.queryAccessibleInterface(widget)
        if face is None or not face.text(QAccessible.Text.Name).strip():
            nameless.append(f"{type(widget).__name__} in {type(widget.parentWidget()).__name__}")
    return nameless


@pytest.mark.parametrize("name", ["shelf", "lay out", "work", "sign off"])
def test_all_that_takes_the_keys_has_a_name(open_in, make_standing, bare_sample, qtbot, name):
    frame = open_in(make_standing(bare_sample, lambda p, due: due.step == 3))
    frame.go(name)
    frame.place.ask.open("Why?", "Enter records", print)
    QApplication.processEvents()
    takers = [w for w in frame.findChildren(QWidget) if w.focusPolicy() and w.isVisible()]
    assert len(takers) >= 2
    assert find_nameless(frame) == []


def test_bar_and_line_are_named_by_what_they_say(open_in, make_standing, bare_sample):
    frame = open_in(make_standing(bare_sample, lambda p, due: due.act == "mark"))
    face = QAccessible.queryAccessibleInterface(frame.work.bar)
    assert face.text(QAccessible.Text.Name) == frame.work.due().bar
    line = QAccessible.queryAccessibleInterface(frame.line)
    assert "open item" in line.text(QAccessible.Text.Description)


def test_rows_of_the_shelf_are_read_out(frame, qtbot):
    qtbot.waitUntil(lambda: frame.shelf.row() is not None, timeout=20_000)
    item = frame.shelf.list.currentItem()
    told = item.data(Qt.ItemDataRole.AccessibleTextRole)
    row = frame.shelf.row()
    assert row.title in told and row.state in told


@pytest.fixture
def heard(monkeypatch) -> list[str]:
    said: list[str] = []
    monkeypatch.setattr(work_place, "announce", lambda widget, text: said.append(text))
    return said


def test_a_mark_and_its_taking_back_are_said(open_in, make_standing, bare_sample, qtbot, heard):
    frame = open_in(make_standing(bare_sample, lambda p, due: due.step == 24 and due.act == "mark"))
    for key in (Qt.Key.Key_Space, Qt.Key.Key_Backspace):
        with qtbot.waitSignal(frame.desk.changed):
            QTest.keyClick(frame.work, key)
        qtbot.waitUntil(lambda: not frame.desk.waiting)
    assert heard == ["recorded: screw 1, pass 1", "taken back: screw 1, pass 1"]


def test_an_announcement_is_one_of_qts(frame, monkeypatch):
    sent = []
    monkeypatch.setattr(
        announcement.QAccessible,
        "updateAccessibility",
        lambda event: sent.append((event.type(), event.object(), event.message())),
    )
    announcement.announce(frame.work, "recorded: screw 1")
    assert sent == [(QAccessible.Event.Announcement, frame.work, "recorded: screw 1")]
