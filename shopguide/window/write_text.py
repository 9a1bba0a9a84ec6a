"""A text of the sheet, read as Work shows it and written in the same place."""

from __future__ import annotations

from math import ceil

from PySide6.QtCore import QEvent, QMimeData, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QTextCursor,
    QTextOption,
    QWheelEvent,
)
from PySide6.QtWidgets import QApplication, QFrame, QSizePolicy, QTextEdit

from shopguide.window.lettering import Weight, font_px
from shopguide.window.palette import Look

PAUSE_MS = 700
"""After so long a pause what was typed counts as one edit."""
LONGEST_MS = 2500
"""So long at most what is typed without a pause waits to be counted."""
MOST_SIGNS = 20_000
TO_WRITE_OVER = ("First step", "New step", "New stage", "Write here what is to be done.")
"""Texts that stand in for what is not written yet: the first key replaces them."""


def holds_pictures() -> bool:
    """True where what was copied last is files, or a picture without words."""
    copied = QApplication.clipboard().mimeData()
    if copied is None:
        return False
    files = any(url.isLocalFile() for url in copied.urls())
    return files or (copied.hasImage() and not copied.hasText())


class WriteText(QTextEdit):
    """Grows with its text; a line under it while it is in use. `kept` tells what was typed."""

    kept = Signal(str)
    came = Signal()
    onward = Signal(int)
    """Up (-1) or down (+1) was asked for."""

    def __init__(
        self,
        look: Look,
        factor: float,
        *,
        px: float = 20,
        weight: Weight = "regular",
        lines: bool = False,
        ruled: bool = False,
        breaks: bool = False,
    ) -> None:
        """lines: Enter begins a new line instead of going on; breaks: Shift and Enter does.

        ruled: a hairline under it always.
        """
        super().__init__()
        self._look, self._factor, self.lines, self._ruled = look, factor, lines, ruled
        self.breaks = breaks
        self._kept = ""
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setAcceptRichText(False)
        self.setTabChangesFocus(True)
        self.setUndoRedoEnabled(False)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWordWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setMinimumWidth(1)
        self.setFont(font_px(px * factor, weight))
        self.document().setDocumentMargin(round(3 * factor))
        self.viewport().setAutoFillBackground(False)
        self.viewport().setCursor(Qt.CursorShape.IBeamCursor)
        self.document().documentLayout().documentSizeChanged.connect(lambda _: self._fit())
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(PAUSE_MS)
        self._pause.timeout.connect(self.keep)
        self._longest = QTimer(self)
        self._longest.setSingleShot(True)
        self._longest.setInterval(LONGEST_MS)
        self._longest.timeout.connect(self.keep)
        self.textChanged.connect(self._wait)
        self._fit()

    # --- text -----------------------------------------------------------------------------

    def set_text(self, text: str) -> None:
        """Shows what the sheet holds; what is being typed just now is not taken away."""
        self._kept = text
        if self.toPlainText() == text:
            return
        at = self.textCursor().position()
        self.blockSignals(True)
        self.setPlainText(text)
        self.blockSignals(False)
        self._pause.stop()
        self._longest.stop()
        cursor = self.textCursor()
        cursor.setPosition(min(at, len(text)))
        self.setTextCursor(cursor)
        self._fit()

    def _wait(self) -> None:
        """A letter more: the pause begins anew, but who writes on without one is kept too."""
        self._pause.start()
        if not self._longest.isActive():
            self._longest.start()

    def keep(self) -> None:
        """Hands on what was typed since the last time."""
        self._pause.stop()
        self._longest.stop()
        text = self.toPlainText()
        if text != self._kept:
            self._kept = text
            self.kept.emit(text)

    @property
    def is_pending(self) -> bool:
        """True while something was typed that is not handed on yet."""
        return self.toPlainText() != self._kept

    # --- size -----------------------------------------------------------------------------

    def _fit(self) -> None:
        self.document().setTextWidth(max(1, self.viewport().width()))
        height = ceil(self.document().size().height()) + round(4 * self._factor)
        if self.height() != height or self.minimumHeight() != height:
            self.setFixedHeight(height)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    # --- keys -----------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, held = event.key(), event.modifiers()
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not control:
            if self.lines:
                super().keyPressEvent(event)
            elif self.breaks and held & Qt.KeyboardModifier.ShiftModifier:
                self.textCursor().insertText("\n")
            else:
                self.keep()
                self.onward.emit(1)
            return
        if key == Qt.Key.Key_Escape or Qt.Key.Key_F1 <= key <= Qt.Key.Key_F12:
            self.keep()
            event.ignore()
            return
        alt = bool(held & Qt.KeyboardModifier.AltModifier)
        own = (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End)
        words = (Qt.Key.Key_A, Qt.Key.Key_C, Qt.Key.Key_V, Qt.Key.Key_X, Qt.Key.Key_Backspace)
        altered = control and not alt and key not in own and key not in words
        altered = altered or (control and key == Qt.Key.Key_V and holds_pictures())
        paging = key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_Insert)
        if altered or paging or (alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down)):
            # Undo, save, moving and copied pictures belong to the place, and to all that was typed.
            self.keep()
            event.ignore()
            return
        if key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and not held:
            before = self.textCursor()
            cursor = QTextCursor(before)
            up = key == Qt.Key.Key_Up
            cursor.movePosition(
                QTextCursor.MoveOperation.Up if up else QTextCursor.MoveOperation.Down
            )
            if cursor.position() == before.position():
                self.keep()
                self.onward.emit(-1 if up else 1)
                return
        super().keyPressEvent(event)

    def canInsertFromMimeData(self, source: QMimeData) -> bool:
        """Files that are dropped on it go to the card, which takes them in as pictures."""
        return not any(url.isLocalFile() for url in source.urls()) and (
            super().canInsertFromMimeData(source)
        )

    def insertFromMimeData(self, source: object) -> None:
        """What is pasted into one line stays one line."""
        text = source.text()[:MOST_SIGNS]  # type: ignore[attr-defined]
        if not self.lines:
            text = " ".join(text.split())
        self.textCursor().insertText(text)

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        super().mousePressEvent(event)
        self.came.emit()

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self.moveCursor(QTextCursor.MoveOperation.End)
            if self.toPlainText() in TO_WRITE_OVER:
                self.selectAll()
        self.came.emit()
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.keep()
        self.viewport().update()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._fit()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        focused = self.hasFocus()
        if not (focused or self._ruled):
            return
        painter = QPainter(self.viewport())
        width = max(1.0, (3 if focused else 1) * self._factor)
        box = QRectF(0, self.viewport().height() - width, self.viewport().width(), width)
        painter.fillRect(box, self._look.color("ink" if focused else "hairline"))
