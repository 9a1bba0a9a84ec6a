"""The bar: its first line is never cut, in whatever sentence the work puts there."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QFontMetricsF, QImage, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.files import load_sheet
from shopguide.window.app import make_app
from shopguide.window.bar import Bar, _wrap, read_key
from shopguide.window.frame import make_record
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import LOOKS

PLAIN, CONTROL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
WIDTH_PX, MARGINS_PX = 1366, 48


@pytest.fixture
def bar(qtbot) -> Bar:
    make_app()
    bar = Bar(LOOKS["light"])
    qtbot.addWidget(bar)
    bar.resize(WIDTH_PX, bar.sizeHint().height())
    return bar


def lines_of(text: str, width: float = WIDTH_PX - MARGINS_PX) -> list[str]:
    return _wrap(text, QFontMetricsF(font_px(SIZES_PX["bar"], "bold")), width)


def test_every_sentence_of_the_sample_fits_in_two_lines(qapp, bare_sample, tmp_path, write_until):
    make_app()
    said: set[str] = set()
    record = make_record(load_sheet(bare_sample), rehearsal=False, folder=tmp_path)
    try:
        write_until(record, lambda progress, due: said.add(due.bar) or False)
    finally:
        record.close()
    assert len(said) > 100
    cut = [text for text in said if " ".join(lines_of(text)).split() != text.split()]
    assert cut == []


def test_a_sentence_that_fits_takes_one_line(bar):
    bar.say("Space records: screw 7 of 16, pass 1 of 2, 9 N·m")
    font, double = bar._fit(WIDTH_PX - MARGINS_PX)
    assert not double and font.pixelSize() == SIZES_PX["bar"]
    bar.say("Space records: done, " + "loosen all the cover screws by half a turn " * 2)
    font, double = bar._fit(WIDTH_PX - MARGINS_PX)
    assert double and font.pixelSize() == SIZES_PX["bar"], "two lines rather than smaller ones"


def test_a_third_line_is_cut_and_says_so():
    lines = lines_of("one long word after another " * 20)
    assert len(lines) == 2
    assert lines[1].endswith("…") and "…" not in lines[0]


def test_one_endless_word_does_not_leave_the_bar():
    metrics = QFontMetricsF(font_px(SIZES_PX["bar"], "bold"))
    for line in lines_of("x" * 400):
        assert metrics.horizontalAdvance(line) <= WIDTH_PX - MARGINS_PX


def _ink_rows(bar: Bar) -> list[int]:
    image = bar.grab().toImage()
    dark = image.pixelColor(2, 2)
    return [
        y
        for y in range(image.height())
        if any(image.pixelColor(x, y) != dark for x in range(0, image.width(), 2))
    ]


@pytest.mark.parametrize(
    "words", ["Space records: screw 7", "Space records: done, " + "loosen " * 12]
)
def test_there_is_room_above_and_below_the_words(bar, words):
    bar.say(words, "then: screw 8", "Backspace takes back screw 6", "F1 keys")
    rows = _ink_rows(bar)
    above, below = rows[0], bar.height() - 1 - rows[-1]
    assert above >= 8 and below >= 4
    assert abs(above - below) <= 16, (above, below)


def test_it_never_moves(bar):
    heights = set()
    for words in ("short", "a very long sentence that takes more than one line " * 3):
        bar.say(words, "then", "back", "keys")
        heights.add(bar.sizeHint().height())
    assert len(heights) == 1


def test_a_click_does_what_space_does(bar, qtbot):
    with qtbot.waitSignal(bar.pressed):
        QTest.mouseClick(bar, Qt.MouseButton.LeftButton)


def test_what_it_says_is_its_name(bar):
    bar.say("Space records: screw 7", "then: screw 8", "Backspace takes back screw 6")
    assert bar.accessibleName() == "Space records: screw 7"
    assert bar.accessibleDescription() == "then: screw 8 Backspace takes back screw 6"


@pytest.mark.parametrize(
    ("words", "key", "held"),
    [
        ("N note", Qt.Key.Key_N, PLAIN),
        ("F9 findings", Qt.Key.Key_F9, PLAIN),
        ("F1", Qt.Key.Key_F1, PLAIN),
        ("Ctrl S saves", Qt.Key.Key_S, CONTROL),
        ("Ctrl Shift Z redoes: typing", Qt.Key.Key_Z, CONTROL | SHIFT),
        ("Ctrl Del removes", Qt.Key.Key_Delete, CONTROL),
        ("Backspace takes back screw 3", Qt.Key.Key_Backspace, PLAIN),
        ("Page Down takes a name", Qt.Key.Key_PageDown, PLAIN),
        ("Escape", Qt.Key.Key_Escape, PLAIN),
    ],
)
def test_words_that_begin_with_one_key_are_that_key(words, key, held):
    assert read_key(words) == (key, held)


@pytest.mark.parametrize(
    "words",
    ["Up and Down choose", "Alt Up, Down move", "Insertion", "then: N", "Note", "", "+ − 0 zoom"],
)
def test_words_of_several_keys_or_none_are_no_key(words):
    assert read_key(words) is None


def test_a_click_on_a_key_is_that_key_and_beside_it_what_the_bar_says(bar, qtbot):
    bar.say("Space records", "A sheet of paper", "Backspace takes back", "N note   Ctrl S saves")
    bar.show()
    shown = {one.words: one for one in bar.list_keys()}
    assert set(shown) == {"Backspace takes back", "N note", "Ctrl S saves"}
    for words, (key, held) in {
        "N note": (Qt.Key.Key_N, PLAIN),
        "Ctrl S saves": (Qt.Key.Key_S, CONTROL),
        "Backspace takes back": (Qt.Key.Key_Backspace, PLAIN),
    }.items():
        with qtbot.waitSignal(bar.asked) as asked, qtbot.assertNotEmitted(bar.pressed):
            spot = shown[words].box.center().toPoint()
            QTest.mouseClick(bar, Qt.MouseButton.LeftButton, pos=spot)
        assert asked.args == [key, held]
    with qtbot.waitSignal(bar.pressed), qtbot.assertNotEmitted(bar.asked):
        QTest.mouseClick(bar, Qt.MouseButton.LeftButton, pos=bar.rect().center())


def test_a_key_under_the_mouse_is_underlined(bar):
    bar.say("Space records", keys="N note   S skip")
    bar.show()
    plain = bar.grab().toImage()

    def move(to: QPointF) -> QImage:
        none = Qt.MouseButton.NoButton
        event = QMouseEvent(QEvent.Type.MouseMove, to, bar.mapToGlobal(to), none, none, PLAIN)
        QApplication.sendEvent(bar, event)
        return bar.grab().toImage()

    assert move(bar.list_keys()[0].box.center()) != plain
    assert move(QPointF(2, 2)) == plain
