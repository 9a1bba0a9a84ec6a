"""Which press counts: a bouncing or leaned-on pedal records one screw, not a row of them."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent

from shopguide.window.keys import DEAD_MS, PRIMARY, SETTLE_MS, KeyGate

SPACE, PAGE = Qt.Key.Key_Space, Qt.Key.Key_PageDown


def press(key: Qt.Key = SPACE, repeat: bool = False) -> QKeyEvent:
    return QKeyEvent(QEvent.Type.KeyPress, key, Qt.KeyboardModifier.NoModifier, " ", repeat)


def test_the_times_are_those_that_were_measured():
    assert (DEAD_MS, SETTLE_MS) == (250, 300)


def test_a_second_press_within_the_dead_time_does_not_count():
    gate = KeyGate()
    assert gate.accept(press(), 1000)
    assert not gate.accept(press(), 1000 + DEAD_MS - 1)
    assert gate.accept(press(), 1000 + DEAD_MS)


def test_a_refused_press_does_not_lengthen_the_dead_time():
    gate = KeyGate()
    taken = [gate.accept(press(), ms) for ms in range(0, 1001, 100)]
    assert taken == [ms % 300 == 0 for ms in range(0, 1001, 100)]


def test_another_key_counts_at_once():
    gate = KeyGate()
    assert gate.accept(press(SPACE), 0)
    assert gate.accept(press(PAGE), 10)


def test_repeats_never_count():
    gate = KeyGate()
    assert not any(gate.accept(press(repeat=True), ms) for ms in range(0, 5000, 40))
    assert gate.accept(press(), 5000)


def test_a_held_key_counts_once():
    gate = KeyGate()
    taken = [gate.accept(press(), 0)]
    taken += [gate.accept(press(repeat=True), 650 + 40 * turn) for turn in range(20)]
    assert sum(taken) == 1


def test_after_a_change_the_next_press_waits():
    gate = KeyGate()
    gate.settle(1000)
    assert not gate.accept(press(), 1000 + SETTLE_MS - 1)
    assert gate.accept(press(), 1000 + SETTLE_MS)


def test_keys_and_pedals_that_mean_the_bar():
    assert {SPACE, PAGE, Qt.Key.Key_Return, Qt.Key.Key_Enter} == PRIMARY


@pytest.mark.parametrize("key", [Qt.Key.Key_Space, Qt.Key.Key_PageDown, Qt.Key.Key_Backspace])
def test_the_clock_is_real_when_none_is_given(key):
    gate = KeyGate()
    assert gate.accept(press(key))
    assert not gate.accept(press(key)), "hardly a millisecond later"
