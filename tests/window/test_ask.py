"""The strip where one thing is typed: what it takes, what it refuses, how it is left."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit

from shopguide.errors import Trouble
from shopguide.window.app import make_app
from shopguide.window.ask import Ask
from shopguide.window.palette import LOOKS

ENTER, ESCAPE = Qt.Key.Key_Return, Qt.Key.Key_Escape


@pytest.fixture
def ask(qtbot) -> Ask:
    make_app()
    ask = Ask(LOOKS["light"])
    qtbot.addWidget(ask)
    ask.resize(1366, 140)
    return ask


def only_even(text: str) -> str:
    if not text.isdigit() or int(text) % 2:
        raise Trouble("Write an even number.")
    return f"half is {int(text) // 2}"


def test_it_is_closed_until_it_is_opened(ask):
    assert not ask.is_open
    ask.open("How many?", "Enter records it", print)
    assert ask.is_open
    assert ask.question.text() == ask.entry.accessibleName() == "How many?"
    assert ask.does == "Enter records it"


def test_an_answer_that_is_needed(ask):
    got = []
    ask.open("Why?", "Enter records", got.append)
    QTest.keyClicks(ask.entry, "   ")
    QTest.keyClick(ask.entry, ENTER)
    assert (
        ask.is_open and got == [] and ask.told.text() == "Write something first. Escape leaves it."
    )
    QTest.keyClicks(ask.entry, "hose in the way ")
    QTest.keyClick(ask.entry, ENTER)
    assert got == ["hose in the way"] and not ask.is_open


def test_an_answer_that_may_stay_empty(ask):
    got = []
    ask.open("Note?", "Enter goes on", got.append, needed=False)
    assert ask.told.text() == "may stay empty"
    QTest.keyClick(ask.entry, ENTER)
    assert got == [""]


def test_the_check_speaks_while_typing_and_refuses(ask):
    got = []
    ask.open("Number?", "Enter takes it", got.append, check=only_even)
    QTest.keyClicks(ask.entry, "1")
    assert ask.told.text() == "Write an even number."
    QTest.keyClick(ask.entry, ENTER)
    assert ask.is_open and got == []
    QTest.keyClicks(ask.entry, "2")
    assert ask.told.text() == "half is 6"
    QTest.keyClick(ask.entry, ENTER)
    assert got == ["12"]


def test_escape_leaves_it_without_an_answer(ask, qtbot):
    got = []
    ask.open("Why?", "Enter records", got.append, text="something")
    with qtbot.waitSignal(ask.left), qtbot.assertNotEmitted(ask.answered):
        QTest.keyClick(ask.entry, ESCAPE)
    assert got == [] and not ask.is_open


def test_enter_twice_answers_once(ask):
    got = []
    ask.open("Why?", "Enter records", got.append)
    QTest.keyClicks(ask.entry, "so")
    QTest.keyClick(ask.entry, ENTER)
    QTest.keyClick(ask.entry, ENTER)
    ask.answer()
    assert got == ["so"]


def test_a_held_enter_does_not_answer(ask):
    got = []
    ask.open("Why?", "Enter records", got.append, text="so")
    held = QKeyEvent(QEvent.Type.KeyPress, ENTER, Qt.KeyboardModifier.NoModifier, "\r", True)
    QApplication.sendEvent(ask.entry, held)
    assert got == [] and ask.is_open


def test_an_answer_may_open_the_next_question(ask):
    got = []
    ask.open(
        "First?", "Enter", lambda a: ask.open("Second?", "Enter", lambda b: got.append((a, b)))
    )
    for text in ("one", "two"):
        QTest.keyClicks(ask.entry, text)
        QTest.keyClick(ask.entry, ENTER)
    assert got == [("one", "two")] and not ask.is_open


def test_a_passphrase_is_not_shown_and_the_next_answer_is(ask):
    ask.open("Passphrase", "Enter signs", print, hidden=True)
    assert ask.entry.echoMode() == QLineEdit.EchoMode.Password
    ask.open("Name", "Enter signs", print)
    assert ask.entry.echoMode() == QLineEdit.EchoMode.Normal


def test_to_a_mere_yes_nothing_is_typed(ask, qtbot):
    got = []
    ask.show()
    ask.confirm("Throw it away?", "Enter throws it away", lambda: got.append("yes"))
    assert ask.is_open and ask.taker is ask and not ask.entry.isVisible()
    assert ask.accessibleName() == "Throw it away?"
    QTest.keyClicks(ask, "x")
    QTest.keyClick(ask, Qt.Key.Key_Space)
    assert ask.is_open and got == []
    with qtbot.waitSignal(ask.left):
        QTest.keyClick(ask, ESCAPE)
    assert not ask.is_open and got == []
    ask.confirm("Throw it away?", "Enter throws it away", lambda: got.append("yes"))
    QTest.keyClick(ask, ENTER)
    assert got == ["yes"] and not ask.is_open
    ask.open("Why?", "Enter records", got.append)
    assert ask.taker is ask.entry and ask.entry.isVisible()
