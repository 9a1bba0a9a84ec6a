"""The one place where the window tells something: three parts, and how it goes away."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from shopguide.errors import SheetTrouble, Trouble
from shopguide.window.app import make_app
from shopguide.window.notice import MOST_LINES, Notice
from shopguide.window.palette import LOOKS


@pytest.fixture
def notice(qtbot) -> Notice:
    make_app()
    notice = Notice(LOOKS["light"])
    qtbot.addWidget(notice)
    notice.resize(1366, 100)
    return notice


def test_a_trouble_is_told_in_its_three_parts(notice):
    notice.tell_trouble(
        Trouble("The folder is full.", where="/media/stick", next="Free some room.")
    )
    assert (notice.what, notice.where, notice.next) == (
        "The folder is full.",
        "/media/stick",
        "Free some room.",
    )
    assert notice.isVisible()
    assert notice.accessibleName() == "The folder is full. /media/stick Free some room."


def test_each_part_takes_its_own_line(notice):
    notice.tell("One line.")
    one = notice.heightForWidth(1366)
    notice.tell("One line.", "where", "next")
    assert notice.heightForWidth(1366) > one + 40


@pytest.mark.parametrize("count", [2, MOST_LINES, MOST_LINES + 30])
def test_the_faults_of_a_sheet_are_told_together(notice, count):
    faults = [Trouble(f"fault {n}.", where=f"step {n}") for n in range(1, count + 1)]
    notice.tell_trouble(SheetTrouble("The sheet has faults.", "job.json", "Mend them.", faults))
    lines = notice.where.splitlines()
    assert lines[0] == "job.json"
    assert lines[1 : 1 + min(count, MOST_LINES)] == [str(f) for f in faults[:MOST_LINES]]
    assert (lines[-1] == f"and {count - MOST_LINES} more") == (count > MOST_LINES)


def test_a_click_closes_it(notice, qtbot):
    notice.tell("Told.")
    with qtbot.waitSignal(notice.closed):
        QTest.mouseClick(notice, Qt.MouseButton.LeftButton)
    assert notice.isHidden()


def test_it_closes_behind_another_place_too(frame):
    """What was told on the Shelf while a sheet opened is gone when the Shelf comes back."""
    frame.shelf.notice.tell("Opening")
    frame.stack.setCurrentWidget(frame.work)
    frame.shelf.notice.close_notice()
    assert frame.shelf.notice.isHidden()


def test_closing_a_closed_one_says_nothing(notice, qtbot):
    with qtbot.assertNotEmitted(notice.closed):
        notice.close_notice()
