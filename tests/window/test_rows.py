"""The lines and panels that a card and a column are made of."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtTest import QTest

from shopguide.errors import Trouble
from shopguide.job.model import Caution
from shopguide.window.app import make_app
from shopguide.window.caution_panel import CautionPanel, caution_text
from shopguide.window.field_row import FieldRow
from shopguide.window.figure import LEAST_PX, Figure
from shopguide.window.job_line import JobLine
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import LOOKS, SIGNALS
from shopguide.window.task_row import TaskRow
from shopguide.window.tick_row import TickRow

LIGHT = LOOKS["light"]
LONG = "Loosen every screw by half a turn and look at the flange. " * 7
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture(autouse=True)
def app(qapp):
    return make_app()


def paint(widget, width: int, height: int | None = None):
    widget.resize(width, height or widget.heightForWidth(width))
    return widget.grab().toImage()


def lowest_ink(image, ground) -> int:
    """The lowest row of the picture that differs from its ground."""
    for y in range(image.height() - 1, -1, -1):
        if any(image.pixelColor(x, y) != ground for x in range(image.width())):
            return y
    return -1


# Cautions.


def caution(signal: str) -> Caution:
    return Caution(
        signal=signal, hazard="A hot pipe.", consequence="It burns.", avoid="Let it cool."
    )


@pytest.mark.parametrize("signal", SIGNALS)
def test_a_panel_has_its_signal_colour_and_its_symbol_or_none(qtbot, signal):
    panel = CautionPanel(caution(signal), LIGHT, 1.0)
    qtbot.addWidget(panel)
    image = paint(panel, 500)
    ground, ink = SIGNALS[signal]
    assert image.pixelColor(490, 10).name().upper() == ground
    # The foot of the alert triangle, left of the word, is one unbroken row of the word's ink.
    foot = [image.pixelColor(x, 26).name().upper() for x in range(13, 32)]
    assert (foot.count(ink) == len(foot)) == (signal != "NOTICE")
    assert panel.accessibleName() == f"{signal}: A hot pipe. It burns. Let it cool."


def test_a_panel_says_hazard_consequence_and_what_to_do_in_that_order():
    assert caution_text(caution("WARNING")) == "A hot pipe. It burns. Let it cool."


def test_a_panel_is_as_high_as_its_words(qtbot):
    panel = CautionPanel(caution("WARNING").model_copy(update={"avoid": LONG}), LIGHT, 1.0)
    qtbot.addWidget(panel)
    assert panel.heightForWidth(300) > panel.heightForWidth(900)
    inner = 300 - 2 * 10 - 2
    needed = QFontMetricsF(font_px(20)).boundingRect(
        QRectF(0, 0, inner, 1e5), int(Qt.TextFlag.TextWordWrap), caution_text(panel.caution)
    )
    assert panel.heightForWidth(300) >= 32 + needed.height() + 6


def test_a_panel_is_cut_between_lines(qtbot):
    panel = CautionPanel(caution("WARNING").model_copy(update={"avoid": LONG}), LIGHT, 1.0)
    qtbot.addWidget(panel)
    line = QFontMetricsF(font_px(20)).lineSpacing()
    assert panel.cut_between_lines(20) == 0
    assert panel.cut_between_lines(38 + 2.5 * line) == pytest.approx(38 + 2 * line)


# The figure.


@pytest.mark.parametrize("text", ["9 N·m", "at most 45 °C", "35 to 40 N·m"])
def test_a_figure_is_as_large_as_fits(qtbot, text):
    figure = Figure(LIGHT, 1.0)
    qtbot.addWidget(figure)
    figure.set_text(text)
    size = figure.pixel_size(508)
    assert LEAST_PX <= size <= SIZES_PX["torque"]
    width = QFontMetricsF(font_px(size, "bold")).horizontalAdvance(text)
    assert width <= 508
    larger = QFontMetricsF(font_px(size / 0.94, "bold")).horizontalAdvance(text)
    assert size == SIZES_PX["torque"] or larger > 506, "no smaller than it has to be"


def test_a_short_torque_is_the_largest_thing(qtbot):
    figure = Figure(LIGHT, 1.0)
    qtbot.addWidget(figure)
    figure.set_text("120 N·m")
    assert figure.pixel_size(508) >= 96


def test_a_figure_too_long_for_the_least_size_wraps_and_is_whole(qtbot):
    figure = Figure(LIGHT, 1.0)
    qtbot.addWidget(figure)
    figure.set_text("from 1000 N·m to 1100 N·m, then 90° and 90° more")
    image = paint(figure, 300)
    assert figure.pixel_size(300) == LEAST_PX
    assert lowest_ink(image, image.pixelColor(299, 0)) < image.height() - 1


def test_an_empty_figure_is_hidden(qtbot):
    figure = Figure(LIGHT, 1.0)
    qtbot.addWidget(figure)
    figure.set_text("9 N·m")
    figure.set_text("")
    assert figure.isHidden()


# Task rows.


@pytest.mark.parametrize("state", ["done", "due", "skipped", "to come"])
def test_a_task_says_its_state(qtbot, state):
    row = TaskRow(LIGHT, 1.0)
    qtbot.addWidget(row)
    row.show_task("3.1", "Undo the plug.", state, "4 L" if state == "done" else "")
    assert row.accessibleName() == f"Undo the plug.: {state}" + (", 4 L" if state == "done" else "")


def test_four_states_have_four_signs(qtbot):
    """In grey, and of the sign alone: the shapes differ, not only the colours."""
    signs = {}
    for state in ("done", "due", "skipped", "to come"):
        row = TaskRow(LIGHT, 1.0)
        qtbot.addWidget(row)
        row.show_task("3.1", "Undo.", state)
        image = paint(row, 300, 48)
        ground = image.pixelColor(298, 2).lightness()
        signs[state] = frozenset(
            (x, y)
            for x in range(34)
            for y in range(image.height())
            if abs(image.pixelColor(x, y).lightness() - ground) > 60
        )
    assert all(signs.values())
    for one, marks in signs.items():
        for other, theirs in signs.items():
            if one < other:
                assert len(marks ^ theirs) > 0.5 * min(len(marks), len(theirs)), (one, other)


@pytest.mark.parametrize("state", ["done", "due"])
@pytest.mark.parametrize("factor", [0.938, 1.0, 2.81])
def test_a_long_task_is_painted_whole(qtbot, state, factor):
    row = TaskRow(LIGHT, factor)
    qtbot.addWidget(row)
    row.show_task("3.1", LONG.strip(), state, LONG.strip())
    image = paint(row, round(508 * factor))
    ground = image.pixelColor(image.width() - 1, 0)
    strip = image.copy(round(40 * factor), 0, image.width() - round(40 * factor), image.height())
    assert 0 < image.height() - 1 - lowest_ink(strip, ground) < 40 * factor


def test_a_task_is_cut_between_lines(qtbot):
    row = TaskRow(LIGHT, 1.0)
    qtbot.addWidget(row)
    row.show_task("3.1", LONG, "due")
    row.resize(508, row.heightForWidth(508))
    line = QFontMetricsF(font_px(SIZES_PX["instruction"], "strong")).lineSpacing()
    assert row.cut_between_lines(6 + 1.9 * line) == pytest.approx(6 + line)


def test_a_click_picks_the_task(qtbot):
    row = TaskRow(LIGHT, 1.0)
    qtbot.addWidget(row)
    row.show_task("3.1", "Undo the plug.", "to come")
    row.resize(400, 40)
    with qtbot.waitSignal(row.picked) as told:
        QTest.mouseClick(row, LEFT)
    assert told.args == ["3.1"]
    row.show_task("", "1 to torque", "to come")
    with qtbot.assertNotEmitted(row.picked):
        QTest.mouseClick(row, LEFT)


# Lines to tick.


def test_a_line_to_tick_says_what_it_is(qtbot):
    row = TickRow("Cover gasket", "must be new", "Space ticks", LIGHT, 1.0)
    qtbot.addWidget(row)
    assert row.accessibleName() == "Cover gasket: not ticked"
    row.set_on(True)
    assert row.accessibleName() == "Cover gasket: ticked"
    assert row.accessibleDescription() == "must be new"


def test_a_line_to_act_on_has_no_box(qtbot):
    row = TickRow("Write the PDF", "", "Space writes", LIGHT, 1.0, box=False)
    qtbot.addWidget(row)
    assert row.accessibleName() == "Write the PDF"
    assert row._left() < TickRow("x", "", "", LIGHT, 1.0)._left()


def test_a_tick_is_seen(qtbot):
    row = TickRow("Cover gasket", "", "Space ticks", LIGHT, 1.0)
    qtbot.addWidget(row)
    before = paint(row, 500)
    row.set_on(True)
    after = paint(row, 500)
    changed = [
        (x, y)
        for x in range(20, 50)
        for y in range(after.height())
        if before.pixelColor(x, y) != after.pixelColor(x, y)
    ]
    assert len(changed) > 40


def test_a_click_ticks(qtbot):
    row = TickRow("Cover gasket", "", "Space ticks", LIGHT, 1.0)
    qtbot.addWidget(row)
    row.resize(500, 48)
    with qtbot.waitSignal(row.ticked):
        QTest.mouseClick(row, LEFT)


# Fields.


def even(text: str) -> str:
    if not text.isdigit():
        raise Trouble("Write a number.")
    return f"read as {int(text)}"


@pytest.fixture
def field(qtbot) -> FieldRow:
    row = FieldRow("Odometer", "123456 km", LIGHT, 1.0, even)
    qtbot.addWidget(row)
    row.resize(1000, 60)
    row.show()
    row.activateWindow()
    return row


def test_a_field_says_what_it_reads(field):
    QTest.keyClicks(field.entry, "7")
    assert field.told.text() == "read as 7"
    QTest.keyClicks(field.entry, "x")
    assert field.told.text() == "Write a number."
    field.entry.clear()
    assert field.told.text() == ""
    assert field.entry.accessibleName() == "Odometer"


def test_enter_keeps_and_goes_on(field, qtbot):
    QTest.keyClicks(field.entry, " 7 ")
    with qtbot.waitSignals([field.left, field.onward]):
        QTest.keyClick(field.entry, Qt.Key.Key_Return)
    ways = []
    field.onward.connect(ways.append)
    for key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
        QTest.keyClick(field.entry, key)
    assert ways == [-1, 1]


def test_what_is_being_typed_is_not_overwritten(field, qtbot):
    qtbot.waitUntil(field.isActiveWindow)
    field.entry.setFocus()
    QTest.keyClicks(field.entry, "7")
    field.set_text("8")
    assert field.entry.text() == "7"
    field.entry.clearFocus()
    field.set_text("8")
    assert field.entry.text() == "8"


@pytest.mark.parametrize("look", LOOKS)
def test_the_field_in_use_cannot_be_mistaken(qtbot, look):
    """A bar of ink at its left, as wide as that of a line to tick, and a thick line under it."""
    row = FieldRow("Make", "", LOOKS[look], 1.0)
    qtbot.addWidget(row)
    row.resize(1000, 54)
    row.show()
    row.activateWindow()
    qtbot.waitUntil(row.isActiveWindow)
    row.entry.clearFocus()
    idle = row.grab().toImage()
    row.entry.setFocus()
    qtbot.waitUntil(row.entry.hasFocus)
    used = row.grab().toImage()
    ink = LOOKS[look].color("ink")
    assert all(used.pixelColor(x, 27) == ink for x in range(8))
    assert not any(idle.pixelColor(x, 27) == ink for x in range(8))
    x = row.entry.x() + row.entry.width() - 20
    thick = [sum(image.pixelColor(x, y) == ink for y in range(54)) for image in (used, idle)]
    assert thick[0] >= 3 > thick[1]


# The line across the top.

STAGES = (("Make safe", 0.0), ("Take apart", 0.1), ("Put back", 0.6))


@pytest.fixture
def line(qtbot) -> JobLine:
    line = JobLine(LIGHT)
    qtbot.addWidget(line)
    line.resize(1366, 86)
    line.show_job("Sump cover", STAGES, 0.5, "work", ("2 open items", "1 h 2 min"), 1)
    line.grab()
    return line


@pytest.mark.parametrize(
    ("word", "place"), [("Shelf", "shelf"), ("Lay out", "lay out"), ("Sign off", "sign off")]
)
def test_a_click_on_a_word_goes_there(line, qtbot, word, place):
    box = next(box for box, goes in line._words if goes == place)
    with qtbot.waitSignal(line.chosen) as told:
        QTest.mouseClick(line, LEFT, pos=box.center().toPoint())
    assert told.args == [place], word


def test_a_click_beside_the_words_goes_nowhere(line, qtbot):
    with qtbot.assertNotEmitted(line.chosen):
        QTest.mouseClick(line, LEFT, pos=QPoint(700, 20))


def test_every_stage_has_its_word(line):
    assert [place for _, place in line._words] == ["shelf", "lay out", *["work"] * 3, "sign off"]
    boxes = [box for box, _ in line._words[1:]]
    assert not any(a.intersects(b) for a in boxes for b in boxes if a is not b)


def test_the_stage_under_way_is_told_in_full_where_there_is_no_room(qtbot):
    crowd = tuple((f"Stage with a long name {n}", n / 12) for n in range(12))
    line = JobLine(LIGHT)
    qtbot.addWidget(line)
    line.resize(1366, 86)
    line.show_job("Sump cover", crowd, 0.3, "work", (), 4)
    line.grab()
    widths = [box.width() for box, place in line._words if place == "work"]
    bold = QFontMetricsF(font_px(18, "bold")).horizontalAdvance("Stage with a long name 4")
    assert max(widths) >= bold


def test_the_job_is_told_in_words(line):
    assert line.accessibleDescription() == "Sump cover, 2 open items, 1 h 2 min"
