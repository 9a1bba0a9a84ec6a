"""The whole way without a mouse: the four places, the look, another file, page size, the PDF."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QApplication, QFileDialog

from shopguide.paper.identity import throwaway_identity

MOUSE = (
    QEvent.Type.MouseButtonPress,
    QEvent.Type.MouseButtonRelease,
    QEvent.Type.MouseButtonDblClick,
    QEvent.Type.MouseMove,
    QEvent.Type.Wheel,
)


class MouseTrap(QObject):
    """Counts whatever a mouse does."""

    def __init__(self) -> None:
        super().__init__()
        self.caught = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        self.caught += event.type() in MOUSE
        return False


@pytest.fixture
def trap(qapp):
    trap = MouseTrap()
    qapp.installEventFilter(trap)
    yield trap
    qapp.removeEventFilter(trap)


def test_four_places_by_keys_alone(person, bare_sample, own_photo, tmp_path, monkeypatch, trap):
    frame, qtbot = person.frame, person.qtbot
    person.photo = own_photo
    qtbot.waitUntil(lambda: frame.shelf.row() is not None, timeout=10_000)

    # The look, on the Shelf: light, dark, sun, and light again; it is kept.
    seen = []
    for _ in range(3):
        seen.append(frame.look.name)
        person.key(Qt.Key.Key_L)
    assert seen == ["light", "dark", "sun"] and frame.look.name == "light"
    person.key(Qt.Key.Key_L)
    assert frame.settings.value("look") == "dark"

    # Another file, by the dialog that O opens.
    chosen = str(bare_sample / "job.json")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *args: (chosen, ""))
    person.key(Qt.Key.Key_O)
    qtbot.waitUntil(lambda: frame.desk is not None, timeout=30_000)
    assert frame.place is frame.lay_out
    person.lay_out()
    assert frame.place is frame.work

    # There and back between the places, without recording anything.
    before = len(person.events)
    for key, place in (
        (Qt.Key.Key_F6, frame.sign_off),
        (Qt.Key.Key_F3, frame.lay_out),
        (Qt.Key.Key_F4, frame.work),
        (Qt.Key.Key_F2, frame.shelf),
        (Qt.Key.Key_F4, frame.work),
    ):
        person.key(key)
        assert frame.place is place
    person.settle()
    assert len(person.events) == before

    # Looking ahead and home; the keys are told and put away.
    person.key(Qt.Key.Key_Right)
    assert person.bar.startswith("Space goes back to step 1")
    person.key(Qt.Key.Key_Home)
    assert person.bar.startswith("Space records")
    person.key(Qt.Key.Key_F1)
    assert "Backspace: take back" in frame.work.board.accessibleDescription()
    person.key(Qt.Key.Key_Escape)
    assert frame.work.board is None

    person.work_until(lambda due: due.step == 4)
    person.key(Qt.Key.Key_F6)
    sign_off = frame.sign_off
    person.go_down_to("Space asks why they are skipped")
    person.key(Qt.Key.Key_Space)
    person.answer("the rest was not needed")
    qtbot.waitUntil(lambda: not frame.desk.waiting, timeout=30_000)
    while person.bar.startswith("Space asks why this stays open"):
        person.key(Qt.Key.Key_Space)
        person.answer("left off")

    first = sign_off.page
    person.go_down_to(f"Space takes {'Letter' if first == 'A4' else 'A4'}")
    person.key(Qt.Key.Key_Space)
    assert {first, sign_off.page} == {"A4", "Letter"}

    # Signed without a drawn signature: the pad may stay empty.
    for _ in range(10):
        person.key(Qt.Key.Key_Up)
    person.go_down_to("Space asks for your name, then signs")
    person.key(Qt.Key.Key_Space)
    person.answer("Ada Hill")
    assert frame.desk.signed

    paper = tmp_path / "paper.pdf"
    sign_off.choose_path = lambda _: str(paper)
    sign_off.rehearsal_identity = throwaway_identity("Ada Hill")
    person.go_down_to("Space writes the PDF")
    person.key(Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: sign_off.written is not None, timeout=60_000)
    assert paper.read_bytes().startswith(b"%PDF")

    # The finished record stands on the Shelf.
    person.key(Qt.Key.Key_F2)
    qtbot.waitUntil(lambda: frame.place is frame.shelf, timeout=10_000)
    qtbot.waitUntil(
        lambda: any(
            frame.shelf.list.item(n).text() == "Finished" for n in range(frame.shelf.list.count())
        ),
        timeout=30_000,
    )
    QApplication.processEvents()
    assert trap.caught == 0
