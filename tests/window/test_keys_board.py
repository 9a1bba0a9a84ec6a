"""F1: every key of a place on one board, whole, on the smallest screen as on a large one."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetricsF
from PySide6.QtTest import QTest

from shopguide.window.app import make_app
from shopguide.window.keys_board import GAP, KEY_SHARE, PAD, KeyGroup, KeysBoard
from shopguide.window.lettering import font_px
from shopguide.window.palette import LOOKS
from shopguide.window.pattern_words import PATTERN_KEYS
from shopguide.window.work_place import WORK_KEYS
from shopguide.window.write_keys import WRITE_KEYS


def make_board(qtbot, groups, width: int, height: int, factor: float = 1.0) -> KeysBoard:
    make_app()
    board = KeysBoard("Keys", LOOKS["light"], factor)
    qtbot.addWidget(board)
    board.resize(width, height)
    board.show_groups(groups)
    board.show()
    return board


@pytest.mark.parametrize(
    "groups", [WRITE_KEYS, WORK_KEYS, PATTERN_KEYS], ids=["write", "work", "pattern"]
)
@pytest.mark.parametrize(
    "size", [(1366, 548, 1.0), (1280, 514, 0.9375), (2560, 1027, 1.874)], ids=str
)
def test_all_keys_stand_on_one_page_and_none_is_cut(qtbot, groups, size):
    width, height, factor = size
    board = make_board(qtbot, groups, width, height, factor)
    pages = board.list_pages()
    assert len(pages) == 1
    shown = [pair for column in pages[0] for pair in column if pair[1]]
    assert shown == [pair for group in groups for pair in group.keys]
    columns = board._count_columns()
    column = (width / factor - 2 * PAD - (columns - 1) * GAP) / columns
    for keys, does in shown:
        bold, plain = QFontMetricsF(font_px(18, "bold")), QFontMetricsF(font_px(18))
        assert bold.horizontalAdvance(keys) <= column * KEY_SHARE - 8, keys
        assert plain.horizontalAdvance(does) <= column * (1 - KEY_SHARE), does


def test_what_does_not_fit_is_on_the_next_page(qtbot):
    group = KeyGroup("Many", tuple((f"Ctrl {n}", f"does {n}") for n in range(40)))
    board = make_board(qtbot, (group,), 500, 400)
    pages = board.list_pages()
    assert len(pages) > 1 and board.after == f"page 1 of {len(pages)}"
    listed = [pair for page in pages for column in page for pair in column if pair[1]]
    assert listed == list(group.keys)
    assert all(column[0] == ("Many", "") for page in pages for column in page)
    for _ in range(100):
        QTest.keyClick(board, Qt.Key.Key_Down)
    assert board.page == len(pages) - 1
    QTest.keyClick(board, Qt.Key.Key_Up)
    assert board.page == len(pages) - 2
