"""The wrench board by keys: rows, the adapter typed and kept, the drawing, the words of the bar."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from shopguide.job.files import load_sheet
from shopguide.window.app import make_app
from shopguide.window.lettering import LEAST_TEXT_PX, factor_for
from shopguide.window.palette import LOOKS
from shopguide.window.place import Place
from shopguide.window.wrench_board import WrenchBoard, find_target
from shopguide.window.wrench_row import WrenchRow
from shopguide.work.events import Event
from shopguide.work.progress import Progress, fold, freeze_orders

SMALL = {
    "name": "small click wrench",
    "low": "2 N·m",
    "high": "25 N·m",
    "lever": "300 mm",
    "iso_type": "II",
    "iso_class": "A",
    "due": "2027-03-01",
}
HALF_INCH = {"name": "half-inch wrench", "low": "20 N·m", "high": "200 N·m"}
AT = "2026-06-01T09:00:00.000Z"


@pytest.fixture(scope="module")
def sheet(sample):
    return load_sheet(sample).sheet


@pytest.fixture(scope="module")
def cover(sheet) -> str:
    """The address of the task that tightens the cover."""
    return next(a for a, t in sheet.tasks.items() if t.kind == "torque" and t.pattern == "cover")


def make_progress(sheet, cover, wrenches=(SMALL, HALF_INCH), adapter=None) -> Progress:
    told = [
        ("begun", {"orders": freeze_orders(sheet)}),
        ("laid out", {"field": "wrenches", "value": list(wrenches)}),
    ]
    if adapter is not None:
        told.append(("laid out", {"field": f"adapter:{cover}", "value": adapter}))
    return fold(sheet, [Event(n, AT, kind, data) for n, (kind, data) in enumerate(told, 1)])


class Bench:
    """A place with the board laid over it, and what the board asked to be kept."""

    def __init__(self, qtbot, sheet, cover: str, size=(1366, 768), look="light") -> None:
        make_app()
        self.sheet, self.cover = sheet, cover
        factor = factor_for(*size)
        self.place = Place(LOOKS[look], factor)
        qtbot.addWidget(self.place)
        self.place.resize(size[0], size[1] - 60)
        self.place.set_look(LOOKS[look], factor)
        self.board = WrenchBoard(LOOKS[look], factor)
        self.kept: list[tuple[str, dict]] = []
        self.board.adapter_set.connect(lambda address, data: self.kept.append((address, data)))

    def open(self, **made) -> WrenchBoard:
        self.board.show_task(make_progress(self.sheet, self.cover, **made), self.cover)
        self.place.show()
        self.place.open_board(self.board)
        QApplication.processEvents()
        return self.board

    @property
    def bar(self) -> str:
        return self.board.does

    def key(self, key: Qt.Key) -> None:
        QTest.keyClick(QApplication.focusWidget() or self.board, key)

    def type(self, text: str) -> None:
        QTest.keyClicks(QApplication.focusWidget(), text)


@pytest.fixture
def bench(qtbot, sheet, cover) -> Bench:
    return Bench(qtbot, sheet, cover)


def rows(board: WrenchBoard) -> list[WrenchRow]:
    return board.rows.widget().findChildren(WrenchRow)


def test_the_rows_say_which_serves_and_what_to_set(bench) -> None:
    board = bench.open()
    best, other = rows(board)
    assert board.title.text() == "The wrench for 9 N·m"
    assert (best.figure, best.best) == ("set 9 N·m", True)
    assert best.lines == ("Serves best: 8.65 N·m to 9.38 N·m at the screw (±4 %).",)
    assert (other.figure, other.best) == ("too large", False)
    assert "lies below its lowest marked value, 20 N·m." in other.lines[0]
    assert "ISO 6789-1, type II class A, a maximum above 10 N·m" in board.words.text()
    assert bench.bar == "Space goes back to the work"


def test_an_adapter_is_typed_and_kept_by_keys(bench, cover) -> None:
    board = bench.open()
    bench.key(Qt.Key.Key_A)
    assert board.entries["length"].hasFocus()
    assert bench.bar == "Enter keeps: no adapter"
    bench.type("30 mm")
    assert bench.bar == "Enter keeps: 30 mm crow-foot at 0°"
    assert rows(board)[0].figure == "set 8.2 N·m", "shown while it is typed"
    assert not bench.kept
    bench.key(Qt.Key.Key_Return)
    assert bench.kept == [(cover, {"kind": "crow-foot", "length": "30 mm", "angle": "0°"})]
    assert board.entries["angle"].hasFocus()
    bench.type("135")
    assert board.after == "then: its kind"
    bench.key(Qt.Key.Key_Return)
    assert bench.kept[-1] == (cover, {"kind": "crow-foot", "length": "30 mm", "angle": "135°"})
    assert "Beyond 90°" in board.told.text() and "middle of the grip" in board.told.text()
    bench.key(Qt.Key.Key_Return)
    assert not board.is_typing and board.isVisible()
    assert bench.bar == "Space goes back to the work"
    bench.key(Qt.Key.Key_Space)
    assert not board.isVisible()


def test_what_is_laid_out_stands_in_the_entries_and_can_be_taken_away(bench, cover) -> None:
    adapter = {"kind": "crow-foot", "length": "30 mm", "angle": "0°"}
    board = bench.open(adapter=adapter)
    assert board.entries["length"].text() == "30 mm"
    assert rows(board)[0].figure == "set 8.2 N·m"
    assert "9 · 300 / (300 + 30 · cos 0°) = 8.182 N·m" in board.told.text()
    # The half-inch wrench cannot be reckoned with: its lever is not known.
    assert rows(board)[1].figure == "?" and "lever length" in rows(board)[1].lines[0]
    bench.key(Qt.Key.Key_A)
    bench.key(Qt.Key.Key_Delete)
    for entry in board.entries.values():
        entry.clear()
    bench.key(Qt.Key.Key_Return)
    assert bench.kept == [(cover, {})]
    assert rows(board)[0].figure == "set 9 N·m"


def test_what_cannot_be_read_is_told_and_not_kept(bench) -> None:
    board = bench.open()
    bench.key(Qt.Key.Key_A)
    bench.type("40")
    assert bench.bar == "Enter cannot keep this adapter yet"
    assert '"40" is not a length because it has no unit' in board.told.text()
    bench.key(Qt.Key.Key_Return)
    assert not bench.kept and board.is_typing
    bench.key(Qt.Key.Key_Escape)
    assert not board.is_typing and board.isVisible()
    assert board.entries["length"].text() == "" and board.fault == ""
    bench.key(Qt.Key.Key_Escape)
    assert not board.isVisible()


def test_what_was_kept_a_moment_ago_counts_though_it_is_not_on_disk_yet(bench, cover) -> None:
    adapter = {"kind": "crow-foot", "length": "30 mm", "angle": "0°"}
    board = bench.open(adapter=adapter)
    bench.key(Qt.Key.Key_A)
    bench.type("40 mm")
    bench.key(Qt.Key.Key_Return)
    bench.key(Qt.Key.Key_Escape)
    assert board.entries["length"].text() == "40 mm"
    bench.key(Qt.Key.Key_A)
    bench.type("30 mm")
    bench.key(Qt.Key.Key_Return)
    assert [data["length"] for _, data in bench.kept] == ["40 mm", "30 mm"]
    bench.key(Qt.Key.Key_Return)
    assert len(bench.kept) == 2, "what is kept already is not kept once more"


def test_an_angle_alone_is_asked_about(bench) -> None:
    board = bench.open()
    bench.key(Qt.Key.Key_A)
    bench.key(Qt.Key.Key_Down)
    bench.type("45")
    assert "no length is written" in board.told.text()
    bench.key(Qt.Key.Key_Up)
    assert board.entries["length"].hasFocus()


def test_an_adapter_that_leaves_no_lever(bench) -> None:
    board = bench.open(adapter={"kind": "crow-foot", "length": "400 mm", "angle": "180°"})
    assert board.choice.best is None
    assert "as far as the grip" in rows(board)[0].lines[0]


def test_an_extension_bar_changes_nothing_and_the_board_says_so(bench) -> None:
    board = bench.open(adapter={"kind": "extension bar"})
    assert rows(board)[0].figure == "set 9 N·m"
    assert "changes nothing" in board.told.text()
    assert board.view.sketch.length_mm == 0


def test_the_drawing_is_that_of_the_wrench_and_adapter(bench) -> None:
    board = bench.open(adapter={"kind": "crow-foot", "length": "40 mm", "angle": "45°"})
    sketch = board.view.sketch
    assert (sketch.lever_mm, sketch.length_mm, sketch.angle_deg) == (300, 40, 45)
    assert board.view.drawing().mm > 0.5
    assert "lever L 300 mm" in board.view.accessibleName()
    bare = bench.open(wrenches=(HALF_INCH,))
    assert bare.view.sketch is None and "lever length is needed" in bare.view.words


def test_where_no_wrench_is_laid_out(bench) -> None:
    board = bench.open(wrenches=())
    assert rows(board) == []
    assert board.words.text().startswith("No wrench is laid out. Write one in Lay out.")


def test_none_reaches_and_what_to_borrow(bench) -> None:
    board = bench.open(wrenches=(HALF_INCH,))
    assert "Borrow one whose scale begins at 9 N·m or below" in board.words.text()


def test_a_record_that_is_only_looked_at_takes_no_adapter(bench, sheet, cover) -> None:
    board = bench.open()
    board.show_task(make_progress(sheet, cover), cover, may_change=False)
    bench.key(Qt.Key.Key_A)
    assert not board.is_typing and "adapter" not in board.keys
    assert all(entry.isReadOnly() for entry in board.entries.values())


def test_what_is_being_typed_stays_when_the_record_changes(bench, sheet, cover) -> None:
    board = bench.open()
    bench.key(Qt.Key.Key_A)
    bench.type("40 m")
    board.show_task(make_progress(sheet, cover), cover)
    assert board.entries["length"].text() == "40 m"
    bench.type("m")
    assert bench.bar == "Enter keeps: 40 mm crow-foot at 0°"


def test_the_torque_is_that_of_the_pass_to_come(sheet, cover) -> None:
    assert find_target(make_progress(sheet, cover), cover).text == "9 N·m"
    other = next(a for a, t in sheet.tasks.items() if t.kind != "torque")
    assert find_target(make_progress(sheet, cover), other) is None


@pytest.mark.parametrize("size", [(1366, 768), (1280, 720), (1920, 1080)])
@pytest.mark.parametrize("look", ["light", "dark", "sun"])
def test_nothing_is_tiny_or_cut(qtbot, sheet, cover, size, look) -> None:
    bench = Bench(qtbot, sheet, cover, size, look)
    board = bench.open(adapter={"kind": "crow-foot", "length": "40 mm", "angle": "135°"})
    labels = [label for label in board.findChildren(QLabel) if label.isVisible()]
    assert len(labels) > 10
    for label in labels:
        assert label.font().pixelSize() >= LEAST_TEXT_PX
        need = (
            label.heightForWidth(label.width()) if label.wordWrap() else label.sizeHint().height()
        )
        assert label.height() >= need, label.text()
    right = board.mapToGlobal(board.rect().bottomRight())
    for entry in board.entries.values():
        corner = entry.mapToGlobal(entry.rect().bottomRight())
        assert corner.x() <= right.x() and corner.y() <= right.y()
    # The drawing has room for its words at 20 px and more.
    assert board.view.height() >= 280 * board._factor
