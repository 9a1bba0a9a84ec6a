"""The bar across the bottom: what Space records now, what comes then, what Backspace undoes."""

from __future__ import annotations

import re
from typing import NamedTuple

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look

ORPHAN_LETTERS = 5
"""What is left for the second line takes a word of the first with it, if it is as short as this."""


PARTED = "   "
"""What stands between two keys in the words of the bar."""
NAMED = {
    "Backspace": Qt.Key.Key_Backspace,
    "Del": Qt.Key.Key_Delete,
    "Down": Qt.Key.Key_Down,
    "Enter": Qt.Key.Key_Return,
    "Escape": Qt.Key.Key_Escape,
    "Home": Qt.Key.Key_Home,
    "Insert": Qt.Key.Key_Insert,
    "Page Down": Qt.Key.Key_PageDown,
    "Tab": Qt.Key.Key_Tab,
    "Up": Qt.Key.Key_Up,
}
HELD = {
    "Ctrl": Qt.KeyboardModifier.ControlModifier,
    "Shift": Qt.KeyboardModifier.ShiftModifier,
    "Alt": Qt.KeyboardModifier.AltModifier,
}
_ONE_KEY = re.compile(
    r"(?P<held>(?:(?:Ctrl|Shift|Alt) )*)"
    rf"(?P<key>F\d{{1,2}}|{'|'.join(sorted(NAMED, key=len, reverse=True))}|[A-Z])(?= |$)"
    r"(?! and | or )"
)


def read_key(words: str) -> tuple[Qt.Key, Qt.KeyboardModifier] | None:
    """The key that words of the bar begin with, "Ctrl D doubles it"; None where it is not one."""
    found = _ONE_KEY.match(words)
    if found is None:
        return None
    held = Qt.KeyboardModifier.NoModifier
    for word in found["held"].split():
        held |= HELD[word]
    name = found["key"]
    if name in NAMED:
        return NAMED[name], held
    if len(name) > 1:
        return Qt.Key(Qt.Key.Key_F1.value + int(name[1:]) - 1), held
    return Qt.Key(ord(name)), held


class KeyWords(NamedTuple):
    """Words of the bar that a click can stand for: where they are, and the key they tell."""

    box: QRectF
    words: str
    key: Qt.Key
    held: Qt.KeyboardModifier


class Bar(QWidget):
    """Two lines of words that never move. A click does what Space does; on a key, that key."""

    pressed = Signal()
    asked = Signal(object, object)
    """A key whose words were clicked, and what is held with it."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self._look, self._factor = look, factor
        self.does = self.after = self.back = self.keys = ""
        self._waits = False
        self._over = ""
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self._look, self._factor = look, factor
        self.updateGeometry()
        self.update()

    def say(
        self, does: str, after: str = "", back: str = "", keys: str = "", waits: bool = False
    ) -> None:
        """The words. waits: what was pressed is not on disk yet, so the line is drawn softer."""
        self.does, self.after, self.back, self.keys, self._waits = does, after, back, keys, waits
        self.setAccessibleName(does)
        self.setAccessibleDescription(" ".join(x for x in (after, back) if x))
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(round(800 * self._factor), round(124 * self._factor))

    def _fit(self, width: float) -> tuple[QFont, bool]:
        """The font of the first line, 40 px at factor 1, and whether it takes two lines."""
        font = font_px(SIZES_PX["bar"] * self._factor, "bold")
        if QFontMetricsF(font).horizontalAdvance(self.does) <= width:
            return font, False
        return font, True

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        f, look = self._factor, self._look
        painter.fillRect(self.rect(), look.color("bar"))
        left, right = 24 * f, self.width() - 24 * f
        text = font_px(SIZES_PX["text"] * f)
        metrics = QFontMetricsF(text)
        below = self._line_below()
        font, double = self._fit(right - left)
        painter.setFont(font)
        painter.setPen(look.color("bar_soft" if self._waits else "bar_ink"))
        if double:
            lines = _wrap(self.does, QFontMetricsF(font), right - left)
            # Set by their capitals, so that there is as much room above as below.
            base = 13 * f + QFontMetricsF(font).capHeight()
            for index, line in enumerate(lines):
                painter.drawText(QPointF(left, base + index * 42 * f), line)
        else:
            painter.drawText(
                QRectF(left, 14 * f, right - left, 54 * f),
                int(Qt.AlignmentFlag.AlignVCenter),
                self.does,
            )
        painter.setFont(text)
        painter.setPen(look.color("bar_soft"))
        for box, words in self._place_words(below):
            painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), words)
        over = next((one for one in self.list_keys() if one.words == self._over), None)
        if over is not None:
            painter.setPen(QPen(look.color("bar_ink"), max(1.0, 1.5 * f)))
            y = over.box.center().y() + metrics.ascent() * 0.5
            painter.drawLine(QPointF(over.box.left(), y), QPointF(over.box.right(), y))

    def _line_below(self) -> QRectF:
        """Where the second line of the bar stands."""
        f = self._factor
        width = self.width() - 48 * f
        _, double = self._fit(width)
        return QRectF(24 * f, (92 if double else 76) * f, width, (26 if double else 32) * f)

    def _place_words(self, below: QRectF) -> list[tuple[QRectF, str]]:
        """What stands in the second line, each with its box: what comes then, back, the keys."""
        f = self._factor
        metrics = QFontMetricsF(font_px(SIZES_PX["text"] * f))
        keys_width = metrics.horizontalAdvance(self.keys)
        room, gap = below.width() - keys_width - 32 * f, 40 * f
        after_room = room - (metrics.horizontalAdvance(self.back) + gap if self.back else 0)
        if after_room < 120 * f:
            after_room = room / 2
        placed, x = [], below.left()
        after = metrics.elidedText(self.after, Qt.TextElideMode.ElideRight, after_room)
        if after:
            width = metrics.horizontalAdvance(after)
            placed.append((QRectF(x, below.top(), width + 2 * f, below.height()), after))
            x += width + gap
        back = metrics.elidedText(self.back, Qt.TextElideMode.ElideRight, room - x + below.left())
        if back:
            width = metrics.horizontalAdvance(back)
            placed.append((QRectF(x, below.top(), width + 2 * f, below.height()), back))
        x = below.right() - keys_width
        for words in self.keys.split(PARTED):
            width = metrics.horizontalAdvance(words)
            placed.append((QRectF(x, below.top(), width + 2 * f, below.height()), words))
            x += width + metrics.horizontalAdvance(PARTED)
        return placed

    def list_keys(self) -> list[KeyWords]:
        """The words that a click can stand for, as they are placed now."""
        found = []
        of_keys = self.keys.split(PARTED)
        for box, words in self._place_words(self._line_below()):
            key = read_key(words)
            # "A new row" in a sentence is no key A: letters alone are keys among the keys.
            letter = words[1:2] in ("", " ") and words not in of_keys
            if key is not None and not letter:
                found.append(KeyWords(box, words, *key))
        return found

    def _find_key(self, event: QMouseEvent) -> KeyWords | None:
        at, pad = event.position(), 8 * self._factor
        return next(
            (k for k in self.list_keys() if k.box.adjusted(-pad, -pad, pad, pad).contains(at)), None
        )

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        found = self._find_key(event)
        over = found.words if found is not None else ""
        if over != self._over:
            self._over = over
            self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self._over = ""
        self.update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        event.accept()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        found = self._find_key(event)
        if found is not None:
            self.asked.emit(found.key, found.held)
        elif self.rect().contains(event.position().toPoint()):
            self.pressed.emit()


def _wrap(text: str, metrics: QFontMetricsF, width: float) -> list[str]:
    """At most two lines that fit; the second is cut with an ellipsis where it must be."""
    words = text.split()
    first = ""
    while words and metrics.horizontalAdvance(f"{first} {words[0]}".strip()) <= width:
        first = f"{first} {words.pop(0)}".strip()
    if words and len(" ".join(words)) <= ORPHAN_LETTERS and " " in first:
        # A unit is not left alone by its figure.
        first, _, last = first.rpartition(" ")
        words.insert(0, last)
    rest = metrics.elidedText(" ".join(words), Qt.TextElideMode.ElideRight, width)
    return [line for line in (first, rest) if line]
