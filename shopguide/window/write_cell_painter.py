"""How a table of Write is painted and written in: the words over its columns, its cells."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QEvent, QObject, QRect, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import (
    QApplication,
    QHeaderView,
    QLineEdit,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from shopguide.window.entry_line import EntryLine
from shopguide.window.lettering import font_px
from shopguide.window.palette import Look
from shopguide.window.write_cells import Block
from shopguide.window.write_list import Index

if TYPE_CHECKING:
    from shopguide.window.write_table import WriteTable

MOST_SEEN, MOST_TYPED = 400, 4000
"""Signs of a cell that are painted, and that can be written in it; longer ones are pasted over."""
NEW = "a new one"


class HeadPainter(QHeaderView):
    """The words over the columns, with a line in ink under them."""

    def __init__(self, table: WriteTable) -> None:
        super().__init__(Qt.Orientation.Horizontal, table)
        self._table = table
        self.setMinimumSectionSize(20)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        whole = self._table.whole
        if whole.lies_over:
            painter = QPainter(self.viewport())
            self.paintSection(painter, QRect(0, 0, whole.edge, self.height()), 0)

    def paintSection(self, painter: QPainter, rect: Any, index: int) -> None:
        look, f = self._table.painter.look, self._table.painter.factor
        painter.save()
        painter.fillRect(rect, look.color("ground"))
        painter.setFont(font_px(18 * f))
        painter.setPen(look.color("soft"))
        word = str(self.model().headerData(index, Qt.Orientation.Horizontal))
        box = QRectF(rect).adjusted(10 * f, 0, -4 * f, 0)
        shown = QFontMetricsF(painter.font()).elidedText(
            word, Qt.TextElideMode.ElideRight, box.width()
        )
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), shown)
        painter.setPen(QPen(look.color("ink"), 1.5 * f))
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        painter.restore()


class CellPainter(QStyledItemDelegate):
    """Paints cells over hairlines; one that cannot be read has a bar and its text struck under."""

    def __init__(self, look: Look, factor: float, table: WriteTable) -> None:
        super().__init__()
        self.look, self.factor, self._table = look, factor, table

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        f, look, rows = self.factor, self.look, self._table.rows
        box = QRectF(option.rect)  # type: ignore[attr-defined]
        row, column = index.row(), index.column()
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)  # type: ignore[attr-defined]
        painter.save()
        if row == self._table.cell[0]:
            painter.fillRect(box, look.color("card"))
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        new = row >= len(rows.entries)
        text = NEW if new and column == 0 else rows.text(row, column)
        told = rows.told.get(rows.path(row, column)) if not new else None
        if told is None and not new and column == 0:
            told = rows.told.get((rows.section, row))
        named = column == 0 and not new
        font = font_px(20 * f, "strong" if named else "regular")
        painter.setFont(font)
        unknown = text in ("not known", "nowhere yet") or not rows.columns[column].keys
        painter.setPen(look.color("soft" if new or (unknown and not chosen) else "ink"))
        inner = box.adjusted(10 * f, 0, -6 * f, 0)
        if new and column == 0:
            inner.setRight(self._table.viewport().width())
            painter.setClipping(False)
        # What was pasted may have a million signs, of which a hundred are seen.
        text = text[:MOST_SEEN]
        shown = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, inner.width())
        painter.drawText(inner, int(Qt.AlignmentFlag.AlignVCenter), shown)
        if told:
            painter.fillRect(
                QRectF(box.left() + 2 * f, box.top() + 5 * f, 4 * f, box.height() - 10 * f),
                look.color("ink"),
            )
        block = self._table.choice.block
        if block.several and block.holds(row, column):
            self._frame(painter, box, block, row, column)
        if chosen:
            width = (3 if self._table.hasFocus() else 1.5) * f
            painter.setPen(QPen(look.color("ink"), width))
            y = box.bottom() - width / 2
            painter.drawLine(int(box.left() + 6 * f), int(y), int(box.right() - 4 * f), int(y))
        painter.restore()

    def _frame(self, painter: QPainter, box: QRectF, block: Block, row: int, column: int) -> None:
        """The part of the frame round the chosen cells that runs along this one."""
        f = self.factor
        painter.setPen(QPen(self.look.color("ink"), 2.5 * f))
        inner = box.adjusted(f, f, -f, -f)
        for edge, start, end in (
            (row == block.top, inner.topLeft(), inner.topRight()),
            (row == block.bottom, inner.bottomLeft(), inner.bottomRight()),
            (column == block.left, inner.topLeft(), inner.bottomLeft()),
            (column == block.right, inner.topRight(), inner.bottomRight()),
        ):
            if edge:
                painter.drawLine(start, end)

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        entry = EntryLine(self.look, self.factor)
        entry.setParent(parent)
        entry.setFont(font_px(20 * self.factor))
        entry.setMaxLength(MOST_TYPED)
        entry.setAccessibleName(self._table.rows.columns[index.column()].word)
        entry.textChanged.connect(self._table.typing)
        return entry

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        assert isinstance(editor, QLineEdit)
        editor.setText(self._table.rows.written(index.row(), index.column()))

    def setModelData(self, editor: QWidget, model: Any, index: Index) -> None:
        assert isinstance(editor, QLineEdit)
        model.setData(index, editor.text())

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            if shift and event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                assert isinstance(editor, QLineEdit)
                editor.insert("\n")
                return True
            if self._go_on(editor, Qt.Key(event.key()), shift=shift, control=control):
                return True
            if control and event.key() in (Qt.Key.Key_S, Qt.Key.Key_Z):
                # What is typed is kept first, then saved or taken back.
                assert isinstance(editor, QWidget)
                self.commitData.emit(editor)
                self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)
                self._table.setFocus()
                QApplication.sendEvent(self._table, event)
                return True
        return super().eventFilter(editor, event)

    def _go_on(self, editor: QObject, key: Qt.Key, *, shift: bool, control: bool) -> bool:
        """Tab, Enter, Up and Down keep what is written and go on, as in a spreadsheet.

        Enter goes to the row below, where there is one: after a run of cells with Tab to where
        the run began, also in a new row.
        """
        table = self._table
        row, column = table.cell
        if control or not isinstance(editor, QLineEdit):
            return False
        if key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            by = -1 if shift or key == Qt.Key.Key_Backtab else 1
            table.begin_run(column)
            target = table.find_next(row, column, by)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            target = table.find_below(row, column)
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            target = (row + (1 if key == Qt.Key.Key_Down else -1), column)
        else:
            return False
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)
        table.setFocus()
        # The row that was begun in is there only then.
        table.rows.hand_on()
        table.step_to(*target)
        return True
