"""The pattern board by mouse and by keys: place, move, describe, scale, straighten, keep."""

from __future__ import annotations

import json
import math
import random
import re
from itertools import pairwise

import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QGuiApplication, QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from shopguide import places
from shopguide.bolts.homography import invert, map_point
from shopguide.bolts.pattern import Pattern
from shopguide.window.app import make_app
from shopguide.window.lettering import LEAST_TEXT_PX, SIZES_PX, font_px
from shopguide.window.palette import LOOKS
from shopguide.window.pattern_board import PatternBoard
from shopguide.window.pattern_fields import JOINT

LEFT = Qt.MouseButton.LeftButton
FULL = QSize(1600, 1200)
SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
PLAIN = Qt.KeyboardModifier.NoModifier


@pytest.fixture
def board(qtbot):
    make_app()
    board = PatternBoard(LOOKS["light"])
    qtbot.addWidget(board)
    board.resize(1366, 572)
    board.show()
    board.activateWindow()
    board.show_pattern(None, None, QSize(), "")
    board.setFocus()
    yield board
    board.table.put_away()


@pytest.fixture
def photo(qtbot, board):
    image = QImage(800, 600, QImage.Format.Format_RGB32)
    image.fill(QColor("#777777"))

    def show(pattern: Pattern | None = None) -> PatternBoard:
        board.show_pattern(pattern, image, FULL, "a.jpg")
        board.table.grab()
        qtbot.waitUntil(lambda: not board.table.busy)
        return board

    return show


@pytest.fixture
def four() -> Pattern:
    return Pattern(
        name="pan",
        title="Pan",
        thread="M6",
        fasteners=[
            {"number": n, "x_mm": x, "y_mm": y}
            for n, (x, y) in enumerate([(-50, 30), (50, 30), (50, -30), (-50, -30)], 1)
        ],
        photo={"file": "a.jpg", "to_mm": (0.2, 0, -160, 0, -0.2, 120, 0, 0, 1)},
    )


def screen(board: PatternBoard, x_mm: float, y_mm: float) -> QPoint:
    return board.table.to_screen(map_point(invert(board.draft.to_mm), (x_mm, y_mm))).toPoint()


def click(board: PatternBoard, x_mm: float, y_mm: float, more=PLAIN) -> None:
    QTest.mouseClick(board.table, LEFT, more, screen(board, x_mm, y_mm))


def click_px(board: PatternBoard, x: float, y: float) -> None:
    QTest.mouseClick(board.table, LEFT, pos=board.table.to_screen((x, y)).toPoint())


def drag(board: PatternBoard, start, to) -> None:
    a, b = screen(board, *start), screen(board, *to)
    QTest.mousePress(board.table, LEFT, pos=a)
    QTest.mouseMove(board.table, (a + b) / 2)
    QTest.mouseMove(board.table, b)
    QTest.mouseRelease(board.table, LEFT, pos=b)


def key(board: PatternBoard, *keys: Qt.Key, more=PLAIN) -> None:
    for one in keys:
        QTest.keyClick(board, one, more)


def answer(board: PatternBoard, text: str) -> None:
    assert not board.question.entry.isHidden(), board.told
    board.question.entry.setText(text)
    QTest.keyClick(board.question.entry, Qt.Key.Key_Return)


def press(board: PatternBoard, *keys: Qt.Key, more=PLAIN) -> None:
    """Keys to whatever has them."""
    for one in keys:
        QTest.keyClick(QApplication.focusWidget() or board, one, more)


def type_over(board: PatternBoard, text: str) -> None:
    """Types into the line in use in place of what stood there."""
    press(board, Qt.Key.Key_A, more=CONTROL)
    press(board, Qt.Key.Key_Delete)
    QTest.keyClicks(QApplication.focusWidget(), text)


def fill(board: PatternBoard, texts: dict[str, str]) -> None:
    """Types into the lines that follow one another, or chooses there by a first letter."""
    for name, text in texts.items():
        assert board.panel.in_use == name
        if board.panel.kinds[name].choices:
            QTest.keyClicks(QApplication.focusWidget(), text)
        else:
            type_over(board, text)
        press(board, Qt.Key.Key_Return)


def keep(qtbot, board: PatternBoard) -> Pattern:
    with qtbot.waitSignal(board.kept) as kept:
        key(board, Qt.Key.Key_Space)
    assert board.isHidden()
    return kept.args[0]


def at(board: PatternBoard) -> list[tuple[float, float]]:
    return [(round(x), round(y)) for x, y in board.draft.points]


def test_clicks_place_and_what_is_kept_is_a_pattern(qtbot, board):
    for x, y in ((-40, 30), (40, 30), (40, -30), (-40, -30)):
        click(board, x, y)
    pattern = keep(qtbot, board)
    assert [f.number for f in pattern.placed] == [1, 2, 3, 4]
    for one, (x, y) in zip(
        pattern.placed, ((-40, 30), (40, 30), (40, -30), (-40, -30)), strict=True
    ):
        assert math.dist((one.x_mm, one.y_mm), (x, y)) < 0.6
    assert Pattern.model_validate_json(pattern.model_dump_json()) == pattern


def test_nothing_changed_keeps_nothing(qtbot, photo, four):
    board = photo(four)
    with qtbot.assertNotEmitted(board.kept), qtbot.waitSignal(board.closed):
        key(board, Qt.Key.Key_Space)


def test_everything_by_keys(qtbot, board):
    key(board, Qt.Key.Key_P)
    answer(board, "-40 30")
    key(board, Qt.Key.Key_Escape, Qt.Key.Key_Right)
    key(board, Qt.Key.Key_Right, more=SHIFT)
    key(board, Qt.Key.Key_Insert)
    key(board, Qt.Key.Key_C)
    answer(board, "4 60 at 100 0")
    assert len(board.chosen) == 4
    key(board, Qt.Key.Key_Up, more=SHIFT)
    key(board, Qt.Key.Key_Escape, Qt.Key.Key_Tab)
    assert board.who.text() == "Screw 1"
    key(board, Qt.Key.Key_Left, Qt.Key.Key_Left)
    key(board, Qt.Key.Key_Left, more=CONTROL)
    pattern = keep(qtbot, board)
    one = pattern.fastener(1)
    assert (one.x_mm, one.y_mm) == (-42.1, 30)
    assert pattern.fastener(3).y_mm == 40, "the circle was moved as a whole"


def test_a_drag_moves_all_that_are_chosen_and_is_taken_back_at_once(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_Q)
    click(board, -50, 30)
    click(board, 50, 30, SHIFT)
    drag(board, (-50, 30), (-60, 55))
    assert at(board) == [(-60, 55), (40, 55), (50, -30), (-50, -30)]
    key(board, Qt.Key.Key_Z, more=CONTROL)
    assert at(board) == [(-50, 30), (50, 30), (50, -30), (-50, -30)]
    assert board.message.text() == "Taken back: move of 2 screws."
    key(board, Qt.Key.Key_Z, more=CONTROL | SHIFT)
    assert at(board)[0] == (-60, 55)


def test_a_dragged_one_snaps_into_line_and_says_so(photo, four):
    board = photo(four)
    a, b = screen(board, -50, 30), screen(board, 47, 60)
    QTest.mousePress(board.table, LEFT, pos=a)
    QTest.mouseMove(board.table, b)
    assert [g.why for g in board.table.doing.guides] == ["in line"]
    QTest.mouseRelease(board.table, LEFT, pos=b)
    assert board.draft.points[0][0] == 50
    drag(board, (50, 60), (45.5, 45))
    key(board, Qt.Key.Key_Q)
    drag(board, board.draft.points[0], (47, 60))
    assert board.draft.points[0][0] != 50


def test_a_band_chooses_and_keys_arrange(photo, four):
    board = photo(four)
    drag(board, (-80, 50), (80, 10))
    assert board.chosen == {0, 1}
    key(board, Qt.Key.Key_Up, more=SHIFT)
    click(board, -50, 40)
    key(board, Qt.Key.Key_Down)
    assert at(board)[:2] == [(-50, 39), (50, 40)]
    click(board, 50, 40, SHIFT)
    key(board, Qt.Key.Key_L)
    assert [p[1] for p in board.draft.points[:2]] == [39.5, 39.5]
    key(board, Qt.Key.Key_Delete)
    assert [f.number for f in board.draft.fasteners] == [3, 4]
    key(board, Qt.Key.Key_A, more=CONTROL)
    key(board, Qt.Key.Key_M, more=SHIFT)
    assert at(board) == [(50, -30), (-50, -30)]


def test_the_outline_is_traced_and_screws_go_along_it(board):
    key(board, Qt.Key.Key_O)
    for x, y in ((-60, 40), (60, 40), (60, -40), (-60, -40)):
        click(board, x, y)
    key(board, Qt.Key.Key_Return)
    assert len(board.draft.outline) == 4
    key(board, Qt.Key.Key_D)
    answer(board, "8")
    assert len(board.draft.fasteners) == 8
    steps = [math.dist(a, b) for a, b in pairwise(board.draft.points)]
    assert max(steps) <= 50.5
    click(board, *board.draft.points[3])
    key(board, Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Right)
    key(board, Qt.Key.Key_A, more=CONTROL)
    key(board, Qt.Key.Key_D)
    assert "spread" in board.after


def test_an_outline_through_the_screws_and_its_corner_dragged(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_O, Qt.Key.Key_F)
    assert set(board.draft.outline) == set(board.draft.points)
    key(board, Qt.Key.Key_O)
    drag(board, (-50, 30), (-70, 50))
    assert any(math.dist(p, (-70, 50)) < 0.6 for p in board.draft.outline)
    assert at(board)[0] == (-50, 30), "the screw stays"


def test_scale_by_one_known_distance(qtbot, photo):
    board = photo()
    click_px(board, 400, 300)
    click_px(board, 1200, 300)
    assert "no scale yet" in board.side.state.text()
    key(board, Qt.Key.Key_Space)
    assert board.isVisible() and "no scale" in board.message.text()
    key(board, Qt.Key.Key_S)
    click_px(board, 400, 600)
    click_px(board, 1200, 600)
    answer(board, "200")
    assert "0.25 mm a pixel" in board.side.state.text()
    pattern = keep(qtbot, board)
    assert math.dist(*((f.x_mm, f.y_mm) for f in pattern.placed)) == pytest.approx(200, abs=0.6)
    assert pattern.photo.file == "a.jpg"


def test_scale_by_two_chosen_screws(photo, four):
    board = photo(four)
    click(board, -50, 30)
    click(board, 50, 30, SHIFT)
    key(board, Qt.Key.Key_S)
    answer(board, "110 mm")
    assert board.draft.points[0][0] == pytest.approx(-55)


def test_four_corners_straighten_and_tell_the_residual(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_K)
    for x, y in ((400, 300), (1200, 330), (1250, 880), (380, 900)):
        click_px(board, x, y)
    board.question.entry.setText("200")
    assert "Write its width and height" in board.message.text(), "told as it is typed"
    answer(board, "200 140")
    assert "Residual 0.00 mm" in board.message.text()
    assert "without straightening" in board.message.text()
    assert board.draft.to_mm[6] != 0
    key(board, Qt.Key.Key_X)
    click_px(board, 400, 300)
    click_px(board, 1200, 330)
    answer(board, "198")
    assert "Residual 2.0 mm, 1.0%" in board.message.text()
    key(board, Qt.Key.Key_U)
    assert board.draft.to_mm[6] == 0


def test_corners_that_are_none_are_told_and_can_be_set_again(photo):
    board = photo()
    key(board, Qt.Key.Key_K)
    for x, y in ((400, 300), (800, 300), (1200, 300), (380, 900)):
        click_px(board, x, y)
    answer(board, "200 140")
    assert "not the corners of a rectangle" in board.message.text()
    key(board, Qt.Key.Key_Escape)
    assert board.spots.mode == "" and not board.draft.scaled


def test_modes_by_keys_alone(photo):
    board = photo()
    key(board, Qt.Key.Key_S, Qt.Key.Key_Space)
    key(board, *[Qt.Key.Key_Right] * 8, more=SHIFT)
    key(board, Qt.Key.Key_Space)
    answer(board, "50")
    assert board.draft.scaled
    key(board, Qt.Key.Key_S, Qt.Key.Key_Space, Qt.Key.Key_Backspace, Qt.Key.Key_Escape)
    assert board.spots.mode == ""


def test_renumbering_round_and_by_walking(photo, four):
    board = photo(four)
    click(board, 50, -30)
    key(board, Qt.Key.Key_N)
    assert at(board) == [(50, -30), (-50, -30), (-50, 30), (50, 30)]
    assert [f.number for f in board.draft.fasteners] == [1, 2, 3, 4]
    assert board.who.text() == "Screw 1", "the same one is chosen"
    key(board, Qt.Key.Key_N, more=SHIFT)
    assert at(board) == [(50, -30), (50, 30), (-50, 30), (-50, -30)]
    key(board, Qt.Key.Key_W)
    click(board, -50, 30)
    click(board, 50, -30)
    key(board, Qt.Key.Key_Tab, Qt.Key.Key_Tab, Qt.Key.Key_Space)
    key(board, Qt.Key.Key_Return)
    assert at(board) == [(-50, 30), (50, -30), (-50, -30), (50, 30)]


def test_the_order_shows_as_one_places_and_a_typed_one_is_checked(board):
    assert board.order is None
    for x, y in ((-40, 30), (40, 30), (40, -30), (-40, -30)):
        click(board, x, y)
    assert board.order_words.text() == "Computed order: " + " ".join(
        str(n) for n in board.table.order
    )
    key(board, Qt.Key.Key_T)
    board.question.entry.setText("1 2 3 3 9")
    for word in ("Twice: 3", "missing: 4", "unknown"):
        assert word.lower() in board.message.text().lower()
    answer(board, "1 3 2 4")
    assert board.order.numbers == (1, 3, 2, 4)
    click(board, 0, 0)
    assert board.order is None and "missing: 5" in board.message.text()
    key(board, Qt.Key.Key_Space)
    assert board.isVisible() and "Not kept" in board.message.text()
    key(board, Qt.Key.Key_Y)
    assert board.order.by == "computed"


def test_the_order_is_played_on_request(qtbot, photo, four):
    board = photo(four)
    board._clock.setInterval(1)
    key(board, Qt.Key.Key_A)
    assert board._clock.isActive() and "place 1 of 4" in board.order_words.text()
    qtbot.waitUntil(lambda: not board._clock.isActive(), timeout=5000)
    assert board._played is None


def test_what_one_is_goes_into_the_pattern(qtbot, photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_Tab, Qt.Key.Key_E)
    assert board.panel.fields["thread"].hasFocus()
    assert board.panel.fields["thread"].placeholderText() == "M6"
    fill(
        board,
        {
            "thread": "M8",
            "length": "35 mm",
            "head": "s",
            "drive": "T30",
            "grade": "10.9",
            "condition": "oiled",
            "use": "l",
            "group": "boss",
            "note": "behind the hose",
        },
    )
    assert board.panel.in_use == "number", "round to the first"
    press(board, Qt.Key.Key_Escape)
    one = keep(qtbot, board).fastener(1)
    assert (one.thread, one.length, one.head, one.drive, one.grade) == (
        "M8", "35 mm", "socket", "T30", "10.9",
    )  # fmt: skip
    assert (one.condition, one.use, one.group, one.note) == (
        "oiled", "leave loose", "boss", "behind the hose",
    )  # fmt: skip


def test_a_field_that_cannot_be_stays_as_typed_and_is_told(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_Tab, Qt.Key.Key_E)
    press(board, Qt.Key.Key_Up)
    assert board.panel.in_use == "place"
    type_over(board, "12.5 north")
    press(board, Qt.Key.Key_Tab)
    assert board.draft.fasteners[0].x_mm == -50
    assert board.panel.fields["place"].text() == "12.5 north"
    assert "north" in board.message.text(), "the hint of the next line does not cover it"
    press(board, Qt.Key.Key_Escape)
    key(board, Qt.Key.Key_Space)
    assert board.isVisible() and "Not kept" in board.message.text()
    assert board.panel.in_use == "place"
    type_over(board, "12.5 40")
    press(board, Qt.Key.Key_Return)
    assert board.draft.points[0] == (12.5, 40)


def test_several_are_described_at_once(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_A, more=CONTROL)
    assert not board.panel.fields["number"].isEnabled()
    assert board.panel.fields["place"].placeholderText() == "several"
    key(board, Qt.Key.Key_E)
    board.panel.fields["length"].setFocus()
    board.panel.fields["length"].setText("20 mm")
    QTest.keyClick(board.panel.fields["length"], Qt.Key.Key_Return)
    assert {f.length for f in board.draft.fasteners} == {"20 mm"}
    assert len(board.log.done) == 1


def test_doubled_numbers_and_places_can_be_drawn_but_not_kept(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_Tab)
    board.panel.fields["number"].setFocus()
    board.panel.fields["number"].setText("2")
    QTest.keyClick(board.panel.fields["number"], Qt.Key.Key_Return)
    board.setFocus()
    assert "used twice: 2" in board.message.text()
    key(board, Qt.Key.Key_Space)
    assert board.isVisible() and "used twice: 2" in board.message.text()


def test_a_table_is_pasted(photo, four):
    board = photo(four)
    QGuiApplication.clipboard().setText("2\t55\t30\n7\t0\t60")
    key(board, Qt.Key.Key_V, more=CONTROL)
    assert [f.number for f in board.draft.fasteners] == [1, 2, 3, 4, 7]
    assert board.draft.fasteners[1].x_mm == 55
    QGuiApplication.clipboard().setText("no table")
    key(board, Qt.Key.Key_V)
    assert "missing" in board.message.text()
    assert len(board.draft.fasteners) == 5


def test_a_shape_by_numbers_stays_one(qtbot, board):
    key(board, Qt.Key.Key_R)
    answer(board, "200 120 4 3")
    pattern = keep(qtbot, board)
    assert pattern.rectangle is not None and pattern.fasteners is None


def test_leaving_asks_once(qtbot, board):
    click(board, 0, 0)
    key(board, Qt.Key.Key_Escape)
    with qtbot.assertNotEmitted(board.closed):
        key(board, Qt.Key.Key_Escape)
    assert "Escape again" in board.message.text()
    with qtbot.assertNotEmitted(board.kept), qtbot.waitSignal(board.closed):
        key(board, Qt.Key.Key_Escape)


def test_a_pattern_whose_photo_is_not_at_hand_keeps_it(qtbot, board, four):
    board.show_pattern(four, None, QSize(), "")
    key(board, Qt.Key.Key_Tab, Qt.Key.Key_Right)
    kept = keep(qtbot, board)
    assert kept.photo == four.photo
    assert kept.fastener(1).x_mm == -49


def test_undo_of_random_edits_leads_back_exactly(photo, four):
    board = photo(four)
    before = board.draft
    chance = random.Random(7)
    keys = [Qt.Key.Key_Tab, Qt.Key.Key_Left, Qt.Key.Key_Up, Qt.Key.Key_N, Qt.Key.Key_M,
            Qt.Key.Key_L, Qt.Key.Key_D, Qt.Key.Key_Y, Qt.Key.Key_Insert, Qt.Key.Key_Delete,
            Qt.Key.Key_S, Qt.Key.Key_K, Qt.Key.Key_W, Qt.Key.Key_O, Qt.Key.Key_F,
            Qt.Key.Key_Return, Qt.Key.Key_Backspace, Qt.Key.Key_T, Qt.Key.Key_E,
            Qt.Key.Key_A, Qt.Key.Key_X, Qt.Key.Key_Q]  # fmt: skip
    for _ in range(400):
        key(board, chance.choice(keys), more=chance.choice([PLAIN, SHIFT]))
        if not board.question.entry.isHidden():
            board.question.entry.setText(chance.choice(["", "12", "200 120", "1 2 3 4", "x"]))
            QTest.keyClick(
                board.question.entry, chance.choice([Qt.Key.Key_Return, Qt.Key.Key_Escape])
            )
        elif board.panel.in_use:
            QTest.keyClicks(QApplication.focusWidget(), chance.choice(["M6", "hex", "1 2", ""]))
            press(board, chance.choice([Qt.Key.Key_Tab, Qt.Key.Key_Down, Qt.Key.Key_Right]))
            press(board, Qt.Key.Key_Escape)
    assert len(board.log.done) > 20
    while board.log.done:
        board.undo()
    assert board.draft == before


@pytest.mark.parametrize("size", [(1366, 572, 1.0), (1280, 532, 0.9375)])
def test_everything_said_has_room(board, four, size):
    width, height, factor = size
    board.resize(width, height)
    board.set_look(LOOKS["dark"], factor)
    board.show_pattern(
        four.model_copy(update={"title": "Cover of the intermediate housing, 16 screws"}),
        None, QSize(), "",
    )  # fmt: skip
    key(board, Qt.Key.Key_Tab)
    board.tell("The photo has no scale yet. S sets it by one distance, K by four corners.")
    assert board.side.sizeHint().height() <= board.side.height()
    assert board.side.minimumSizeHint().width() <= board.side.width()
    key(board, Qt.Key.Key_Escape)
    board.tell(
        "Residual 0.00 mm, as four corners always fit; without straightening 11.3 mm. The photo "
        "tells 1.39 to 1, you wrote 1.43. X checks."
    )
    QApplication.processEvents()
    lines = board.side.joint
    assert lines.height() >= lines.sizeHint().height(), "every line is seen beside three more"
    for tool in board.words.words.values():
        assert board.words.rect().contains(tool.geometry())
    for label in board.findChildren(QLabel):
        assert label.font().pixelSize() >= LEAST_TEXT_PX


def test_a_large_pattern_computes_its_order_a_moment_later(qtbot, board):
    key(board, Qt.Key.Key_G)
    answer(board, "12 10 20 20")
    assert len(board.draft.fasteners) == 120
    qtbot.waitUntil(lambda: len(board.table.order) == 120, timeout=5000)


COVER = {
    "title": "Sump cover, 16 screws", "name": "cover", "fastener_word": "bolt",
    "seen": "seen from below, front is left", "thread": "M6", "length": "20 mm", "head": "t",
    "drive": "10 mm", "grade": "8.8", "condition": "dry", "shape": "rectangle 660 600 4 2",
    "outline": "-330.0625 300; 330.5 300; 330 -300.125", "photo": "", "order_by": "u",
    "order_source": "the owner's own", "first": "", "last": "",
}  # fmt: skip


def test_everything_a_joint_says_is_typed_by_keys_alone(qtbot, board):
    key(board, Qt.Key.Key_E)
    fill(board, COVER)
    assert board.panel.in_use == "title", "round to the first"
    press(board, Qt.Key.Key_Escape)
    key(board, Qt.Key.Key_T)
    answer(board, "8 7 6 5 4 3 2 1")
    assert keep(qtbot, board) == Pattern(
        name="cover",
        title="Sump cover, 16 screws",
        seen="seen from below, front is left",
        fastener_word="bolt",
        thread="M6",
        length="20 mm",
        head="torx",
        drive="10 mm",
        grade="8.8",
        condition="dry",
        rectangle={"width_mm": 660, "height_mm": 600, "along": 4, "up": 2},
        outline=((-330.0625, 300), (330.5, 300), (330, -300.125)),
        order=(8, 7, 6, 5, 4, 3, 2, 1),
        order_by="user",
        order_source="the owner's own",
    )


def test_groups_come_first_and_last(qtbot, photo, four):
    board = photo(four)
    for number, group in ((1, "dowel"), (2, "long, oiled")):
        key(board, *[Qt.Key.Key_Tab] * number, Qt.Key.Key_E)
        while board.panel.in_use != "group":
            press(board, Qt.Key.Key_Tab)
        type_over(board, group)
        press(board, Qt.Key.Key_Return, Qt.Key.Key_Escape, Qt.Key.Key_Escape)
    assert not board.chosen
    key(board, Qt.Key.Key_E)
    press(board, Qt.Key.Key_Up)
    type_over(board, "dowel; boss")
    press(board, Qt.Key.Key_Return)
    assert "belongs to the group “boss”" in board.message.text()
    type_over(board, "long, oiled; dowel")
    press(board, Qt.Key.Key_Return, Qt.Key.Key_Escape)
    pattern = keep(qtbot, board)
    assert pattern.last == ("long, oiled", "dowel") and pattern.first == ()


def test_every_change_of_the_joint_is_undone_with_its_word(photo, four):
    board = photo(four)
    key(board, Qt.Key.Key_E)
    type_over(board, "Oil pan")
    press(board, Qt.Key.Key_Return, Qt.Key.Key_Escape)
    assert board.after == "U takes back: title of the joint"
    key(board, Qt.Key.Key_U)
    assert board.message.text() == "Taken back: title of the joint."
    assert board.draft.details["title"] == "Pan"


def test_another_patterns_name_is_refused(qtbot, board):
    board.show_pattern(None, None, QSize(), "", others=("pattern", "pattern 2"))
    assert board.draft.details["name"] == "pattern 3"
    key(board, Qt.Key.Key_E)
    press(board, Qt.Key.Key_Tab)
    type_over(board, "pattern 2")
    press(board, Qt.Key.Key_Return)
    assert "Another pattern is called “pattern 2”" in board.message.text()


def test_what_is_typed_is_kept_to_the_last_digit(qtbot, board):
    key(board, Qt.Key.Key_P)
    answer(board, "12.34567 -0.00012")
    key(board, Qt.Key.Key_E)
    press(board, Qt.Key.Key_Up)
    assert board.panel.fields["place"].text() == "12.34567, -0.00012"
    press(board, Qt.Key.Key_Tab, Qt.Key.Key_Escape)
    one = keep(qtbot, board).fastener(1)
    assert (one.x_mm, one.y_mm) == (12.34567, -0.00012)


def test_a_long_note_is_not_cut(photo, four):
    note = "line one\n" + "word " * 300 + "end"
    told = [{**f.model_dump(), "note": note} for f in four.fasteners]
    board = photo(four.model_copy(update={"fasteners": Pattern.model_validate(
        {**four.model_dump(), "fasteners": told}).fasteners}))  # fmt: skip
    before = board.draft
    key(board, Qt.Key.Key_Tab, Qt.Key.Key_E)
    press(board, *[Qt.Key.Key_Tab] * 11, Qt.Key.Key_Escape)
    assert board.draft == before


def test_the_photo_is_chosen_and_taken_away(qtbot, photo, four):
    board = photo()
    wanted = []
    board.photo_wanted.connect(wanted.append)
    board.show_pattern(four, board.table.image, FULL, "a.jpg", photos=("a.jpg", "b.jpg"))
    board.panel.go_to("photo")
    press(board, Qt.Key.Key_Right)
    assert wanted == ["b.jpg"] and board.draft.file == "a.jpg", "not there yet"
    image = QImage(300, 200, QImage.Format.Format_RGB32)
    image.fill(QColor("#AAAAAA"))
    board.lay_photo(image, QSize(3000, 2000), "b.jpg")
    assert board.draft.file == "b.jpg" and not board.draft.scaled
    assert board.table.full == QSize(3000, 2000)
    assert board.draft.points == [(f.x_mm, f.y_mm) for f in four.fasteners]
    press(board, Qt.Key.Key_Right)
    assert board.draft.file == "" and board.table.image is None
    press(board, Qt.Key.Key_Right)
    assert board.draft.to_mm == four.photo.to_mm, "the scale it had is known"
    assert len(board.log.done) == 1, "going through them is one change"
    press(board, Qt.Key.Key_Left, Qt.Key.Key_Escape)
    pattern = keep(qtbot, board)
    assert pattern.photo is None and pattern.fasteners == four.fasteners


def test_screws_known_in_mm_keep_their_places_when_the_photo_is_scaled(photo, four):
    board = photo(four.model_copy(update={"photo": None}))
    key(board, Qt.Key.Key_S)
    click_px(board, 400, 600)
    click_px(board, 1200, 600)
    answer(board, "200")
    assert board.draft.scaled and at(board) == [(-50, 30), (50, 30), (50, -30), (-50, -30)]


def test_the_shipped_scale_is_met_exactly_by_keys(photo):
    board = photo()
    key(board, Qt.Key.Key_S, Qt.Key.Key_Space)
    key(board, *[Qt.Key.Key_Right] * 8, more=SHIFT)
    key(board, Qt.Key.Key_Space)
    answer(board, "88")
    assert board.draft.to_mm == (0.275, 0, -220, 0, -0.275, 165, 0, 0, 1)


def open_sample() -> dict[str, Pattern]:
    folder = next(f for f in places.list_samples() if f.name == "gearbox_sump_cover")
    raw = (folder / "job.json").read_text(encoding="utf-8")
    return {p["name"]: Pattern.model_validate(p) for p in json.loads(raw)["patterns"]}


def write_joint(pattern: Pattern, words: dict[str, str]) -> dict[str, str]:
    """What is typed for a joint, line by line; words: for the lines that are chosen."""
    keys = [kind.key for kind in JOINT]
    texts = {key: str(getattr(pattern, key, None) or "") for key in keys}
    outline = "; ".join(f"{x:g} {y:g}" for x, y in pattern.outline)
    return {**texts, "outline": outline, "photo": "", "first": "", "last": "", **words}


def type_joint(board: PatternBoard, texts: dict[str, str]) -> None:
    key(board, Qt.Key.Key_E)
    for name, text in texts.items():
        assert board.panel.in_use == name
        if board.panel.kinds[name].choices:
            QTest.keyClicks(QApplication.focusWidget(), text)
        elif text:
            type_over(board, text)
        press(board, Qt.Key.Key_Return)
    press(board, Qt.Key.Key_Escape)


def test_the_samples_cover_is_rebuilt_by_keys_and_a_table(qtbot, photo):
    want = open_sample()["cover"]
    board = photo()
    board.show_pattern(None, board.table.image, FULL, want.photo.file)
    key(board, Qt.Key.Key_S, Qt.Key.Key_Space)
    key(board, *[Qt.Key.Key_Right] * 8, more=SHIFT)
    key(board, Qt.Key.Key_Space)
    answer(board, "88")
    table = "\n".join(f"{f.number}\t{f.x_mm}\t{f.y_mm}" for f in want.fasteners)
    QGuiApplication.clipboard().setText(table)
    key(board, Qt.Key.Key_V)
    for numbers, length in (("1-16", "20 mm"), ("11-14", "35 mm")):
        key(board, Qt.Key.Key_J)
        answer(board, numbers)
        key(board, Qt.Key.Key_E)
        press(board, Qt.Key.Key_Tab)
        type_over(board, length)
        press(board, Qt.Key.Key_Return, Qt.Key.Key_Escape)
    key(board, Qt.Key.Key_Escape)
    type_joint(board, write_joint(want, {"head": "", "order_by": ""}))
    key(board, Qt.Key.Key_T)
    answer(board, " ".join(map(str, want.order)))
    assert keep(qtbot, board) == want


def test_the_samples_filter_is_rebuilt_by_keys(qtbot, board):
    want = open_sample()["filter"]
    for one in want.fasteners:
        key(board, Qt.Key.Key_P)
        answer(board, f"{one.x_mm} {one.y_mm}")
    key(board, Qt.Key.Key_Escape)
    type_joint(board, write_joint(want, {"head": "", "order_by": "u"}))
    key(board, Qt.Key.Key_T)
    answer(board, "1 2 3")
    assert keep(qtbot, board) == want


def test_the_samples_undertray_is_rebuilt_by_keys(qtbot, board):
    want = open_sample()["undertray"]
    type_joint(board, write_joint(want, {"head": "", "order_by": "",
                                         "shape": "rectangle 660 600 4 2"}))  # fmt: skip
    assert keep(qtbot, board) == want


def test_the_photo_is_laid_under_screws_known_in_mm(qtbot, photo, four):
    board = photo(four.model_copy(update={"photo": None}))
    assert board.draft.in_mm and "I" in board.words.words
    seen = [(400, 300), (1200, 320), (1190, 800), (410, 790)]
    key(board, Qt.Key.Key_I)
    assert "screw 1 is" in board.does and board.table.doing.asked == 0
    for k in (0, 2, 1, 3):  # the farthest two first
        assert board.table.doing.asked == k
        click_px(board, *seen[k])
    assert "4 always fit" in board.message.text()
    for pixel, place in zip(seen, four.fasteners, strict=True):
        there = map_point(board.draft.to_mm, pixel)
        assert math.dist(there, (place.x_mm, place.y_mm)) < 0.3
    assert keep(qtbot, board).fasteners == four.fasteners


def test_two_places_are_enough_to_lay_the_photo(photo, four):
    board = photo(four.model_copy(update={"photo": None}))
    key(board, Qt.Key.Key_I, Qt.Key.Key_Return)
    assert board.spots.mode == ""
    key(board, Qt.Key.Key_I)
    click_px(board, 400, 300)
    key(board, Qt.Key.Key_Return)
    assert "Two are needed" in board.message.text()
    click_px(board, 1200, 780)
    key(board, Qt.Key.Key_Return)
    assert board.draft.scaled and at(board) == [(-50, 30), (50, 30), (50, -30), (-50, -30)]
    key(board, Qt.Key.Key_U)
    assert not board.draft.scaled


def test_what_has_no_sense_now_is_told(board):
    key(board, Qt.Key.Key_I)
    assert "A blank board is in mm already" in board.message.text()
    for one in (Qt.Key.Key_L, Qt.Key.Key_D, Qt.Key.Key_M, Qt.Key.Key_N, Qt.Key.Key_J,
                Qt.Key.Key_A, Qt.Key.Key_T, Qt.Key.Key_Delete, Qt.Key.Key_W):  # fmt: skip
        board.tell("")
        key(board, one)
        assert board.message.text(), one
        assert board.draft.fasteners == ()


def test_a_click_takes_a_multiple_of_fifteen_degrees_from_the_one_before(board):
    click(board, 0, 0)
    place = board.table.to_screen((60, -34.64)) + QPoint(0, 2)
    QTest.mouseMove(board.table, place.toPoint())
    assert [g.why for g in board.table.doing.guides] == ["30°"], "told before the click"
    QTest.mouseClick(board.table, LEFT, pos=place.toPoint())
    x, y = board.draft.points[1]
    assert math.degrees(math.atan2(y, x)) == pytest.approx(30, abs=0.01)
    key(board, Qt.Key.Key_Q, Qt.Key.Key_U)
    QTest.mouseMove(board.table, place.toPoint() + QPoint(1, 0))
    assert board.table.doing.guides == ()
    QTest.mouseClick(board.table, LEFT, pos=place.toPoint())
    x, y = board.draft.points[1]
    assert math.degrees(math.atan2(y, x)) != pytest.approx(30, abs=0.1)


def test_corners_of_the_outline_take_the_screws_places_and_typed_figures(board):
    for x, y in ((-40, 30), (40, 30), (40, -30)):
        key(board, Qt.Key.Key_P)
        answer(board, f"{x} {y}")
    key(board, Qt.Key.Key_Escape, Qt.Key.Key_O)
    for x, y in ((-39.3, 30.4), (40.4, 29.6), (39.6, -30.4)):
        click(board, x, y)
    key(board, Qt.Key.Key_Return)
    assert board.draft.outline == ((-40, 30), (40, 30), (40, -30))
    key(board, Qt.Key.Key_O, Qt.Key.Key_P)
    assert board.question.entry.text() == "-40 30; 40 30; 40 -30"
    answer(board, "-40 30; 40 30; 40.125 -30; 0 -30")
    assert board.draft.outline[2] == (40.125, -30) and len(board.draft.outline) == 4
    assert board.after == "U takes back: the outline"


def test_an_order_is_drawn_as_it_is_typed(photo, four):
    board = photo(four)
    whole = board.table.order
    key(board, Qt.Key.Key_T)
    board.question.entry.setText("1 3 9 2")
    assert board.table.order == (1, 3, 2)
    QTest.keyClick(board.question.entry, Qt.Key.Key_Escape)
    assert board.table.order == whole


def test_a_row_or_a_column_by_choice(photo, four):
    board = photo(four)
    click(board, -50, 30)
    click(board, 50, 30, SHIFT)
    key(board, Qt.Key.Key_L, more=SHIFT)
    assert at(board)[:2] == [(0, 30), (0, 30)], "doubled, to be moved apart"
    assert "same place" in board.message.text()


def test_a_table_tells_who_is_new_and_who_was_moved(photo, four):
    board = photo(four)
    QGuiApplication.clipboard().setText("0 60\n0 -60")
    key(board, Qt.Key.Key_V)
    assert "2 taken from the table: 0 new, 2 moved" in board.message.text()
    QGuiApplication.clipboard().setText("9 0 70")
    key(board, Qt.Key.Key_V)
    assert "1 taken from the table: 1 new." in board.message.text()


def test_every_tool_is_reached_by_the_mouse_where_it_is_of_use(photo, four):
    board = photo(four)

    def click_word(name: str) -> None:
        QTest.mouseClick(board.words.words[name], LEFT)

    assert not {"L", "Del", "I"} & board.words.words.keys()
    QTest.mouseClick(board.table, LEFT, pos=screen(board, -50, 30))
    assert {"L", "D", "M", "Del", "E"} <= board.words.words.keys()
    click_word("E")
    assert board.panel.in_use == "thread"
    click_word("Esc")
    assert not board.chosen and "Del" not in board.words.words
    click_word("O")
    assert board.spots.mode == "outline" and set(board.words.words) == {"P", "F", "Esc"}
    click_px(board, 300, 300)
    assert {"Bksp", "Enter"} <= board.words.words.keys()
    click_word("Bksp")
    click_word("F")
    assert len(board.draft.outline) == 4
    click_word("D")
    board.question.entry.setText("4")
    click_word("Enter")
    assert board.log.last == "4 along the outline"
    click_word("U")
    assert "Taken back" in board.message.text()
    for tool in board.words.words.values():
        assert board.words.rect().contains(tool.geometry())
        assert tool.accessibleName()


def test_no_number_stands_under_a_head_or_on_another_number(board):
    key(board, Qt.Key.Key_G)
    answer(board, "12 10 20 20")
    key(board, Qt.Key.Key_Escape)
    table = board.table
    shown = [k for k, is_shown in enumerate(table._numbered) if is_shown]
    assert 20 < len(shown) < 120 and shown[0] == 0
    metrics = QFontMetricsF(font_px(SIZES_PX["text"], "bold"))
    rooms = []
    for k in shown:
        wide = metrics.horizontalAdvance("0") * len(str(k + 1))
        middle = table._label_place(k, wide + 8, metrics.capHeight() + 10, 1.5)
        half = QPointF(wide, metrics.capHeight()) / 2
        rooms.append(QRectF(middle - half, middle + half))
    for a, one in enumerate(rooms):
        assert not any(one.intersects(other) for other in rooms[:a])
        assert not any(one.contains(table.seat_of(k)) for k in range(120))


def test_a_question_tells_what_to_write_before_it_finds_fault(photo, four):
    board = photo(four)
    assert board.accessibleName() == "Pattern: Pan"
    for tool, hint in ((Qt.Key.Key_P, "Write x and y"), (Qt.Key.Key_R, "Write width, height")):
        key(board, tool)
        assert board.told.startswith(hint)
        board.question.entry.setText("odd")
        assert not board.told.startswith(hint)
        press(board, Qt.Key.Key_Escape)
    key(board, Qt.Key.Key_S)
    click_px(board, 400, 600)
    click_px(board, 1200, 600)
    assert "nothing" not in board.message.text() and board.told.startswith("Write")


def test_the_arrows_say_pixels_as_long_as_there_is_no_scale(photo, four):
    board = photo()
    click_px(board, 400, 300)
    before = map_point(invert(board.draft.to_mm), board.draft.points[0])
    said = re.fullmatch(r"arrow keys move ([0-9.]+) pixels, Shift .*", board.keys)
    key(board, Qt.Key.Key_Right)
    after = map_point(invert(board.draft.to_mm), board.draft.points[0])
    assert after[0] - before[0] == pytest.approx(float(said[1]), rel=0.05)
    board = photo(four)
    key(board, Qt.Key.Key_Tab)
    assert board.keys.startswith("arrow keys move 1 mm, Shift 10, Ctrl 0.1")


def test_one_free_point_is_one_and_what_is_typed_and_left_is_told(board):
    click(board, 0, 0)
    key(board, Qt.Key.Key_Escape)
    assert board.panel.fields["shape"].text() == "1 free point"
    board.panel.go_to("thread")
    type_over(board, "M6")
    press(board, Qt.Key.Key_Escape)
    assert board.told.startswith("Not kept: “M6”")
    assert board.panel.fields["thread"].text() == ""
