"""A mechanic who takes the mouse: lines clicked, steps dragged, the bar pressed, words typed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from shopguide.job.files import load_sheet
from shopguide.window.app import make_app
from shopguide.window.frame import Frame
from shopguide.window.write_action import WriteAction

PATIENCE_MS = 30_000
LEFT = Qt.MouseButton.LeftButton
PLAIN = Qt.KeyboardModifier.NoModifier
CONTROL = Qt.KeyboardModifier.ControlModifier
STEPS = (
    ("Pull the plug", "confirm", "Pull the mains plug.", ""),
    ("Drain the water", "open", "Let the water out.", "water tap"),
    ("Take the lid off", "open", "Lift the lid off.", "lid"),
    ("Look inside", "confirm", "Look for cracks.", ""),
    ("Put the lid on", "close", "Set the lid on its seat.", "lid"),
    ("Close the tap", "close", "Close the tap.", "water tap"),
)


class Pointer:
    """The mouse before a window: it reaches only what is seen and not covered."""

    def __init__(self, qtbot, frame: Frame) -> None:
        self.qtbot, self.frame = qtbot, frame

    def find(self, widget: QWidget, place: QPoint) -> tuple[QWidget, QPoint]:
        """The widget that lies under the pointer there, and the place in it."""
        at = widget.mapTo(self.frame, place)
        under = self.frame.childAt(at)
        assert under is not None, "there is nothing under the pointer"
        assert under is widget or widget.isAncestorOf(under) or under.isAncestorOf(widget), (
            f"{type(under).__name__} lies over {type(widget).__name__}"
        )
        return under, under.mapFrom(self.frame, at)

    def click(self, widget: QWidget, place: QPoint | None = None, twice: bool = False) -> None:
        """A click, or two, in the middle or at a place of what is seen."""
        self.bring_into_view(widget)
        under, at = self.find(widget, place or widget.rect().center())
        QTest.mouseClick(under, LEFT, pos=at)
        if twice:
            QTest.mouseDClick(under, LEFT, pos=at)
        for _ in range(3):
            QApplication.processEvents()

    def bring_into_view(self, widget: QWidget) -> None:
        """The wheel over the card, until a line of it is seen."""
        card = self.frame.write.card if self.frame.place.name == "write" else None
        if card is None or not card.isAncestorOf(widget):
            return
        view = card.viewport()
        for _ in range(200):
            at = widget.mapTo(view, widget.rect().center()).y()
            if 0 <= at < view.height():
                return
            middle = QPointF(view.rect().center())
            turn = QPoint(0, 120 if at < 0 else -120)
            event = QWheelEvent(
                middle, view.mapToGlobal(middle), QPoint(), turn, Qt.MouseButton.NoButton,
                PLAIN, Qt.ScrollPhase.NoScrollPhase, False,
            )  # fmt: skip
            QApplication.sendEvent(view, event)
            QApplication.processEvents()
        raise AssertionError("the wheel does not bring it into view")

    def drag(self, widget: QWidget, *places: QPoint) -> None:
        """The button held down from the first place to the last."""
        under, first = self.find(widget, places[0])
        others = [under.mapFrom(self.frame, widget.mapTo(self.frame, p)) for p in places[1:]]
        QTest.mousePress(under, LEFT, pos=first)
        for place in others:
            QTest.mouseMove(under, place)
        QTest.mouseRelease(under, LEFT, pos=others[-1])
        QApplication.processEvents()

    def press_bar(self) -> None:
        """The bar below, for what it says."""
        self.click(self.frame.place.bar)

    def type(self, text: str) -> None:
        """Words go where the last click went."""
        for letter in text:
            QTest.keyClicks(QApplication.focusWidget(), letter)

    def write(self, widget: QWidget, text: str) -> None:
        """A click into a line, all of it chosen, and other words."""
        self.click(widget)
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_A, CONTROL)
        self.type(text)

    # --- in Write -------------------------------------------------------------------------

    def click_row(self, title: str, twice: bool = False) -> None:
        """A row of the list at the left."""
        outline = self.frame.write.outline
        self.click(outline.viewport(), self.find_row(title).center(), twice)

    def find_row(self, title: str):
        """Where a row of the list is seen."""
        outline = self.frame.write.outline
        index = next(i for i, row in enumerate(outline.rows.rows) if row.title == title)
        return outline.visualRect(outline.rows.index(index))

    def action(self, wish: str) -> WriteAction:
        """A line of the card that adds something."""
        lines = self.frame.write.card.list_entries()
        return next(w for w in lines if isinstance(w, WriteAction) and w.wish == wish)

    def line(self, name: str) -> QWidget:
        """A line of the card by its word, of the block in use or of the card."""
        lines = self.frame.write.card.list_entries()
        return next(w for w in lines if w.accessibleName() == name)


@pytest.fixture
def pointer(qtbot, user_home) -> Iterator[Pointer]:
    """The mouse before the real window; quick clicks allowed."""
    make_app()
    frame = Frame()
    qtbot.addWidget(frame)
    for place in frame.places.values():
        place.gate.dead_ms = place.gate.settle_ms = 0
    frame.resize(1366, 768)
    frame.show()
    yield Pointer(qtbot, frame)
    frame.close()


def begin(pointer: Pointer, title: str) -> None:
    frame = pointer.frame
    pointer.qtbot.waitUntil(lambda: frame.shelf.row() is not None, timeout=PATIENCE_MS)
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_N)
    pointer.qtbot.waitUntil(lambda: frame.shelf.board is not None, timeout=PATIENCE_MS)
    pointer.press_bar()
    for text in (title, "Ada Hill"):
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_A, CONTROL)
        pointer.type(text)
        pointer.press_bar()
    pointer.qtbot.waitUntil(lambda: frame.place.name == "write", timeout=PATIENCE_MS)


def write_step(pointer: Pointer, title: str, kind: str, text: str, item: str) -> None:
    """The step whose title has the keys."""
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_A, CONTROL)
    pointer.type(title)
    pointer.write(pointer.line("Task 1"), text)
    for _ in range(9):
        choice = pointer.line("Kind")
        if choice.text == kind:
            break
        pointer.click(choice)
    assert pointer.line("Kind").text == kind
    if item:
        pointer.write(pointer.line("Open item"), item)


def drag_row(pointer: Pointer, title: str, before: str) -> None:
    """A step of the list, dropped on the upper edge of another."""
    box, goal = pointer.find_row(title), pointer.find_row(before)
    edge = goal.topLeft() + QPoint(40, 4)
    middle = (box.center() + edge) / 2
    pointer.drag(pointer.frame.write.outline.viewport(), box.center(), middle, edge)


def test_an_evening_with_the_mouse(pointer, tmp_path):
    frame = pointer.frame
    begin(pointer, "Lid of a boiler")
    place = frame.write
    for number, step in enumerate(STEPS):
        if number:
            pointer.click(pointer.action("add step"))
        else:
            pointer.click_row("First step", twice=True)
        write_step(pointer, *step)
    rows = place.outline.rows.rows
    assert [row.title for row in rows if row.sort == "step"] == [step[0] for step in STEPS]

    def titles() -> list[str]:
        return [row.title for row in place.outline.rows.rows if row.sort == "step"]

    # Dragged to the top and taken back; dragged there once more, and back by the mouse.
    moved = ["Look inside", *(t for t in titles() if t != "Look inside")]
    drag_row(pointer, "Look inside", "Pull the plug")
    assert titles() == moved and "move of step" in place.bar.after
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Z, CONTROL)
    assert titles() == [step[0] for step in STEPS]
    drag_row(pointer, "Look inside", "Pull the plug")
    assert titles() == moved
    drag_row(pointer, "Look inside", "Put the lid on")
    assert titles() == [step[0] for step in STEPS]

    # The bar is pressed where a line has the keys: it goes on, adds, and takes the next word.
    pointer.click_row("Look inside")
    pointer.press_bar()
    assert QApplication.focusWidget().accessibleName() == "title of the step"
    pointer.press_bar()
    assert QApplication.focusWidget().accessibleName() == "Task 1"
    for _ in range(6):
        if place.bar.does == "Enter: add a task":
            break
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    pointer.press_bar()
    assert QApplication.focusWidget().accessibleName() == "Task 2"
    pointer.type("Wipe it dry.")
    pointer.click(pointer.line("Kind"), QPoint(8, 12))
    assert pointer.line("Kind").text == "leave"
    pointer.click(pointer.line("Kind"))
    assert pointer.line("Kind").text == "confirm"

    # A picture, and a ring on it, by mouse alone.
    photo = tmp_path / "inside.png"
    Image.new("RGB", (1200, 900), (120, 130, 110)).save(photo)
    place.choose_photos = lambda _: [str(photo)]
    pointer.click(pointer.action("add photos"))
    pointer.qtbot.waitUntil(
        lambda: any(w.accessibleName() == "Caption" for w in place.card.list_entries()),
        timeout=PATIENCE_MS,
    )
    pointer.write(pointer.line("Caption"), "The bottom of the boiler")
    pointer.click(place.card.find_block(pointer.line("Caption")).thumb)
    pointer.qtbot.waitUntil(lambda: place.board is not None, timeout=PATIENCE_MS)
    board = place.board
    pointer.click(board.words.words["R"])
    spots = [board.table.to_screen(spot).toPoint() for spot in ((600, 450), (650, 450), (700, 450))]
    pointer.drag(board.table, *spots)
    pointer.click(board.words.words["R"])
    pointer.press_bar()
    assert place.board is None

    # A spec in its table: two clicks open a cell.
    pointer.click_row("Tools")
    table = place.table
    for column, text in ((0, "Lamp"), (1, "a bright one")):
        cell = table.visualRect(table.rows.index(0, column))
        pointer.click(table.viewport(), cell.center(), twice=True)
        pointer.type(text)
        pointer.press_bar()
    folder = tmp_path / "Boiler"
    place.choose_folder = lambda title: str(folder)
    with pointer.qtbot.waitSignal(place.writing.saved, timeout=PATIENCE_MS):
        QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_S, CONTROL)
    check_saved(folder)


def check_saved(folder: Path) -> None:
    """What was clicked and typed stands in the file."""
    opened = load_sheet(folder)
    sheet = opened.sheet
    assert sheet.title == "Lid of a boiler"
    found = [
        (p.step.title, t.kind, t.text, t.opens or t.closes or "")
        for p in sheet.steps
        for t in p.step.tasks[:1]
    ]
    assert found == list(STEPS)
    look = sheet.steps[3].step
    assert [task.text for task in look.tasks] == ["Look for cracks.", "Wipe it dry."]
    assert [p.caption for p in look.photos] == ["The bottom of the boiler"]
    (ring,) = look.photos[0].marks
    assert abs(ring.radius - 100) < 5 and abs(ring.at[0] - 600) < 5
    assert opened.names() == ("inside.png",)
    assert [(tool.name, tool.note) for tool in sheet.tools] == [("Lamp", "a bright one")]
