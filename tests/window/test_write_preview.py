"""The card in Write shows what Work will show, and F7 lays Work's own view of the step over it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Draft, SetValue
from shopguide.job.files import load_sheet
from shopguide.job.packing import find_packing
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_edits import number_of
from shopguide.window.write_face import JointView
from shopguide.window.write_fixes import find_step, list_step_paths
from shopguide.window.write_place import WritePlace
from shopguide.work.figures import Figure, tell_figure
from shopguide.work.next_up import due_for
from shopguide.work.progress import Progress

PATIENCE_MS = 30_000
CONTROL = Qt.KeyboardModifier.ControlModifier
PLAIN = Qt.KeyboardModifier.NoModifier


def press(key: Qt.Key, held: Qt.KeyboardModifier = PLAIN) -> None:
    widget = QApplication.focusWidget()
    assert widget is not None
    QTest.keyClick(widget, key, held)
    for _ in range(3):
        QApplication.processEvents()


@pytest.fixture
def place(frame, sample) -> Iterator[WritePlace]:
    """Write with the sample in it."""
    write = frame.write
    draft = Draft(load_sheet(sample).sheet)
    write.take_up(WriteDesk(draft, sample, find_packing(sample), parent=write))
    frame.go("write")
    yield write


@pytest.fixture
def until(qtbot) -> Callable[[Callable[[], bool]], None]:
    return lambda done: qtbot.waitUntil(done, timeout=PATIENCE_MS)


def go_to(place: WritePlace, title: str) -> tuple:
    """Chooses a step by its title; its path."""
    assert place.writing is not None
    sheet = place.writing.draft.sheet
    number = next(p.number for p in sheet.steps if p.step.title == title)
    path = find_step(place.writing.data, number)
    place.choose(path)
    place.outline.setFocus()
    return path


def list_joints(place: WritePlace) -> list[JointView]:
    return [joint for joint in place.card.findChildren(JointView) if joint.isVisible()]


def test_every_step_shows_the_figure_that_work_shows(place):
    """That of a torque that is to come, else that of the first task while it is due."""
    progress = Progress(place.writing.draft.sheet)
    seen = 0
    for path in list_step_paths(place.writing.data):
        number = number_of(place.writing.data, path)
        step = progress.sheet.steps[number - 1].step
        told = [
            tell_figure(progress, f"{number}.{index}", task, due=False)
            for index, task in enumerate(step.tasks, 1)
        ]
        told.append(tell_figure(progress, f"{number}.1", step.tasks[0], due=True))
        wanted = next((one for one in told if one.figure), Figure())
        place.choose(path)
        view = place.card._figure
        assert view.isHidden() == (not wanted.figure)
        if wanted.figure:
            seen += 1
            shown = view.figure.text(), view.under.text().replace("\u200b", "")
            assert shown == (wanted.figure, wanted.under), step.title
    assert seen >= 8


def test_a_spec_written_anew_is_at_once_the_figure(place):
    path = go_to(place, "Tighten the cover screws")
    assert place.card._figure.figure.text() == "9 N·m"
    specs = place.writing.draft.sheet.specs
    index = next(i for i, spec in enumerate(specs) if spec.name == "cover screws")
    assert place.apply(SetValue(("specs", index, "value"), "7.5 N·m"))
    place.choose(path)
    assert place.card._figure.figure.text() == "7.5 N·m"
    assert place.apply(SetValue(("specs", index, "value"), "much"))
    place.choose(path)
    assert place.card._figure.isHidden(), "what cannot be read has no figure"


def test_the_joint_is_drawn_as_work_draws_it_and_opens_its_board(place, until):
    go_to(place, "Tighten the cover screws")
    until(lambda: bool(list_joints(place)))
    (joint,) = list_joints(place)
    pattern = place.writing.draft.sheet.pattern("cover")
    assert joint.diagram._pattern is pattern or joint.diagram._pattern == pattern
    assert joint.diagram._order == pattern.order
    press(Qt.Key.Key_Return)
    for _ in range(12):
        press(Qt.Key.Key_Down, CONTROL)
        if place.wish_in_use().startswith("joint"):
            break
    assert place.bar.does == "Enter: place its screws: Sump cover, 16 screws"
    press(Qt.Key.Key_Return)
    until(lambda: place.board is place.patterns._board and place.board is not None)


def test_a_computed_order_comes_a_moment_later(place, until):
    pattern = place.writing.draft.sheet.pattern("undertray")
    assert pattern.order is None
    go_to(place, "Refit the undertray")
    until(lambda: bool(list_joints(place)))
    assert sorted(list_joints(place)[0].diagram._order) == [f.number for f in pattern.tightened]


def test_f7_shows_the_step_as_work_will_and_leads_on_to_others(place, until):
    go_to(place, "Tighten the cover screws")
    number = number_of(place.writing.data, place.path)
    press(Qt.Key.Key_F7)
    until(lambda: place.board is place.preview.board and place.board is not None)
    board = place.preview.board
    due = due_for(Progress(place.writing.draft.sheet), f"{number}.1")
    assert due.bar[1:] in place.bar.after
    assert board.view.left.currentWidget() is board.view.diagram
    assert board.view.card.figure.text() == "9 N·m"
    press(Qt.Key.Key_V)
    assert board.view.left.currentWidget() is board.view.picture
    press(Qt.Key.Key_Right)
    assert board.number == number + 1
    press(Qt.Key.Key_Space)
    assert place.board is None and place.outline.hasFocus()
    assert number_of(place.writing.data, place.path) == number + 1
    assert place.writing.draft.is_saved, "looking changes nothing"


def test_f7_from_a_field_keeps_what_was_typed_and_shows_it(place, until):
    go_to(place, "Fit the drain plug")
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_A, CONTROL)
    QTest.keyClicks(QApplication.focusWidget(), "Screw the plug in")
    press(Qt.Key.Key_F7)
    until(lambda: place.board is place.preview.board and place.board is not None)
    assert place.preview.board.view.card.title.text().replace("\u200b", "") == "Screw the plug in"


def test_what_cannot_be_read_is_shown_as_it_was_and_that_is_said(place, until):
    path = go_to(place, "Fit the drain plug")
    place.apply(SetValue((*path, "title"), ""))
    assert place.writing.draft.sheet is None
    press(Qt.Key.Key_F7)
    until(lambda: place.board is place.preview.board and place.board is not None)
    assert place.preview.board.view.card.title.text() == "Fit the drain plug"
    assert "cannot be read" in place.bar.after


def test_control_down_goes_past_a_task_in_use(place):
    go_to(place, "Tighten the cover screws")
    press(Qt.Key.Key_Return)
    press(Qt.Key.Key_Down, CONTROL)
    press(Qt.Key.Key_Down, CONTROL)
    first = place.card.find_block(QApplication.focusWidget())
    assert first is not None and first.unfolded
    press(Qt.Key.Key_Down, CONTROL)
    second = place.card.find_block(QApplication.focusWidget())
    assert second is not None and second is not first and not first.unfolded
    press(Qt.Key.Key_Up, CONTROL)
    assert place.card.find_block(QApplication.focusWidget()) is first
