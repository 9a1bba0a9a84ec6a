"""Nothing is clipped, overlaps, or leaves the window: four sizes, three looks, every step."""

from __future__ import annotations

import itertools

import pytest
from PySide6.QtCore import QPoint, QRect, QRectF, Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtWidgets import QApplication, QLabel, QScrollArea, QWidget

from shopguide.window.caution_panel import CautionPanel
from shopguide.window.field_row import FieldRow
from shopguide.window.figure import Figure
from shopguide.window.frame import Frame
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.notice import Notice
from shopguide.window.palette import LOOKS
from shopguide.window.task_row import TaskRow
from shopguide.window.tick_row import TickRow

SIZES = ((1366, 768), (1280, 720), (1920, 1080), (3840, 2160))
PAINTED = (CautionPanel, Figure, Notice, TaskRow, TickRow)
IN_ORDER = (QLabel, FieldRow, *PAINTED)
WRAP = int(Qt.TextFlag.TextWordWrap)


def settle_layout() -> None:
    for _ in range(4):
        QApplication.processEvents()


def needed_height(widget: QWidget) -> float:
    """What the text of a widget takes at the width it has."""
    if isinstance(widget, QLabel):
        margins = widget.contentsMargins()
        room = widget.width() - margins.left() - margins.right()
        flags = WRAP if widget.wordWrap() else 0
        box = QFontMetricsF(widget.font()).boundingRect(
            QRectF(0, 0, room, 1e5), flags, widget.text()
        )
        return box.height()
    return widget.heightForWidth(widget.width())


def needed_width(widget: QWidget) -> float:
    """What the widest unbroken line of a label takes."""
    flags = WRAP if widget.wordWrap() else 0
    room = QRectF(0, 0, widget.width(), 1e5)
    return QFontMetricsF(widget.font()).boundingRect(room, flags, widget.text()).width()


def find_faults(frame: Frame) -> list[str]:
    """Whatever is wrong with what is seen now, in words."""
    faults = []
    seen = [w for w in frame.findChildren(QWidget) if w.isVisible() and w.visibleRegion()]
    for widget in seen:
        if isinstance(widget, (QLabel, *PAINTED)):
            name = f"{type(widget).__name__} {widget.accessibleName() or _text(widget)!r:.60}"
            if needed_height(widget) > widget.height() + 1:
                faults.append(f"{name}: {widget.height()} px high, needs {needed_height(widget)}")
            if isinstance(widget, QLabel) and needed_width(widget) > widget.width() + 1:
                faults.append(f"{name}: {widget.width()} px wide, needs {needed_width(widget)}")
        if isinstance(widget, QScrollArea) and widget.widget() is not None:
            body = widget.widget()
            if body.width() > widget.viewport().width():
                faults.append(f"{type(widget).__name__}: its column is cut at the right")
            faults += _find_overlaps(body)
    place = frame.place
    for part in (place.bar, place.ask, place.notice):
        if part.isVisible():
            box = QRect(part.mapTo(frame, QPoint(0, 0)), part.size())
            if not frame.rect().contains(box):
                faults.append(f"{type(part).__name__} leaves the window: {box}")
    return faults


def _text(widget: QWidget) -> str:
    text = getattr(widget, "text", "")
    return text() if callable(text) else text


def _find_overlaps(body: QWidget) -> list[str]:
    parts = [w for w in body.findChildren(QWidget) if isinstance(w, IN_ORDER) and w.isVisible()]
    faults = []
    for one, other in itertools.combinations(parts, 2):
        if one.parentWidget() is other.parentWidget() and one.geometry().intersects(
            other.geometry()
        ):
            faults.append(f"{_text(one)!r:.40} overlaps {_text(other)!r:.40}")
    return faults


def find_card_faults(frame: Frame) -> list[str]:
    """The line that is due is within what is seen of the card; no line of text is cut."""
    card = frame.work.card
    faults = []
    upper = card.above.height() if not card.above.isHidden() else 0
    lower = card.more.y() if not card.more.isHidden() else card.viewport().height()
    shift = card.verticalScrollBar().value()
    due = [r for r in [*card._pass_rows, *card._rows.values()] if r.state == "due"]
    for row in due:
        if row.isHidden():
            continue
        top, bottom = row.y() - shift, row.y() + row.height() - shift
        fits = row.height() <= card.viewport().height() - 2 * card._words_height()
        if top < upper - 1 or (fits and bottom > lower + 1):
            faults.append(f"the due line at {top} to {bottom} is not in {upper} to {lower}")
    for part in card.widget().findChildren(QWidget, options=Qt.FindDirectChildrenOnly):
        if isinstance(part, TaskRow) and part.isVisible():
            top = part.y() - shift
            for edge in (upper, lower):
                if 0 < edge - top < part.height():
                    at = edge - top
                    # An edge through a line lies between two gaps, and is near neither.
                    if at - part.cut_between_lines(at) > 8 * frame.factor:
                        faults.append(f"an edge at {edge} cuts {part.text!r:.40}")
    return faults


def look_at_all(frame: Frame, size: tuple[int, int], look: str) -> list[str]:
    """Every step in Work, and every place, at one size in one look."""
    frame.set_look(look)
    frame.resize(*size)
    settle_layout()
    assert (frame.width(), frame.height()) == size
    faults = []
    frame.go("work")
    for number in range(1, len(frame.desk.sheet.steps) + 1):
        frame.work.look_at_step(number)
        settle_layout()
        found = find_faults(frame) + find_card_faults(frame)
        faults += [f"step {number}: {fault}" for fault in found]
    frame.work.look_at_step(frame.work.due().step)
    frame.work.notice.tell("What happened. " * 9, "where it was " * 14, "what to do now " * 9)
    settle_layout()
    faults += [f"with a notice: {fault}" for fault in find_faults(frame)]
    frame.work.notice.close_notice()
    frame.work.ask.open("Why is this skipped: " + "a long task " * 20, "Enter records", print)
    settle_layout()
    faults += [f"with a question: {fault}" for fault in find_faults(frame)]
    frame.work.ask.close_ask()
    for name in ("lay out", "sign off", "shelf"):
        frame.go(name)
        settle_layout()
        faults += [f"{name}: {fault}" for fault in find_faults(frame)]
    return faults


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_sample_holds_at_every_size(open_in, make_standing, bare_sample, size):
    frame = open_in(make_standing(bare_sample, lambda p, due: due.act == "mark"))
    for look in LOOKS if size == SIZES[0] else ("light", "sun"):
        assert look_at_all(frame, size, look) == []


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_a_hard_sheet_holds_at_every_size(open_in, make_standing, hard_sheet, size):
    at = make_standing(hard_sheet, lambda p, due: due.task == "1.7")
    frame = open_in(at)
    for look in ("light", "sun"):
        assert look_at_all(frame, size, look) == []


@pytest.mark.parametrize("address", ["1.1", "1.7", "1.12", "2.1", "2.5", "3.1", "3.2"])
def test_the_due_line_is_seen_wherever_it_stands(open_in, make_standing, hard_sheet, address):
    frame = open_in(make_standing(hard_sheet, lambda p, due: due.task == address))
    frame.work.notice.close_notice()
    settle_layout()
    assert find_faults(frame) + find_card_faults(frame) == []
    row = frame.work.card._rows[address]
    assert row.state == "due"


def test_the_due_line_of_each_pass_of_the_sample_is_seen(open_in, make_standing, bare_sample):
    for number in (1, 2, 3):
        path = make_standing(
            bare_sample,
            lambda p, due, number=number: (
                due.trip is not None
                and due.trip.pass_number == number
                and len(due.trip.way) == 16
                and len(due.trip.marked) == 5
            ),
        )
        frame = open_in(path)
        frame.work.notice.close_notice()
        settle_layout()
        assert find_card_faults(frame) == []
        assert frame.work.card.verticalScrollBar().value() == 0, "the card's top stays"


def test_sizes_in_work_at_a_small_laptop(open_in, make_standing, bare_sample):
    frame = open_in(make_standing(bare_sample, lambda p, due: due.act == "mark" and due.step == 24))
    frame.work.notice.close_notice()
    settle_layout()
    card = frame.work.card
    assert card.figure.pixel_size(card.figure.width()) >= 96
    labels = [w for w in frame.work.findChildren(QLabel) if w.isVisible()]
    assert labels and min(w.font().pixelSize() for w in labels) >= 18
    drawn = [s for s in frame.work.diagram.drawing().shapes if hasattr(s, "text")]
    assert min(s.size for s in drawn) * frame.factor >= 18
    assert max(s.size for s in drawn if s.role == "number due") >= 72


def test_a_column_is_no_wider_than_can_be_read(open_in, bare_sample):
    frame = open_in(bare_sample)
    frame.resize(2560, 1080)
    settle_layout()
    letters = QFontMetricsF(font_px(SIZES_PX["text"] * frame.factor)).averageCharWidth()
    for panel in frame.lay_out.findChildren(CautionPanel):
        assert panel.width() <= 1000 * frame.factor + 1
        assert panel.width() / letters < 110
