"""What the lists at both sides of Write have in common: how they look, and their rows."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QStringListModel, Qt, Signal
from PySide6.QtGui import QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from shopguide.window.column import PlaceLine
from shopguide.window.palette import Look

Index = QModelIndex | QPersistentModelIndex
ROW = Qt.ItemDataRole.UserRole


class RowModel(QStringListModel):
    """Rows for a view and for a screen reader.

    Qt itself keeps count of them, and calls Python only for those that are seen: the layout of
    2,000 rows asks some 4,000 times how many there are.
    """

    def __init__(self) -> None:
        super().__init__()
        self.rows: Sequence[Any] = []

    def exchange(self, rows: Sequence[Any], at: int, gone: int, came: int) -> None:
        """Takes other rows, of which `came` stand from `at` on in place of `gone`."""
        self.rows = rows
        if gone:
            self.removeRows(at, gone)
        if came:
            self.insertRows(at, came)
        if rows:
            self.dataChanged.emit(self.index(0), self.index(len(rows) - 1))

    def begin_anew(self, rows: Sequence[Any]) -> None:
        """Takes other rows that have nothing to do with those before."""
        self.rows = rows
        self.setStringList([""] * len(rows))

    def tell(self, row: Any) -> str:
        """A row in words."""
        return str(row)

    def flags(self, index: Index) -> Qt.ItemFlag:
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self.rows):
            return None
        row = self.rows[index.row()]
        if role == ROW:
            return row
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            return self.tell(row)
        return None


class RowPainter(QStyledItemDelegate):
    """Paints the rows of a list in a look and size."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self.look, self.factor = look, factor

    def fill_chosen(self, painter: QPainter, box: QRectF, used: bool) -> None:
        """The ground of the row that is chosen; used: the keys go to its list."""
        painter.fillRect(box, self.look.color("card"))
        bar = QRectF(box.left(), box.top(), (8 if used else 4) * self.factor, box.height())
        painter.fillRect(bar, self.look.color("ink"))


def is_chosen(option: QStyleOptionViewItem) -> bool:
    """Whether a row is painted as the one that is chosen."""
    return bool(option.state & QStyle.StateFlag.State_Selected)  # type: ignore[attr-defined]


class WriteList(QListView):
    """A list without frame and scroll bars; a slim line tells where in it one is."""

    came = Signal()
    """The keys go here now."""

    def __init__(self, name: str, rows: RowModel, painter: RowPainter) -> None:
        super().__init__()
        self.rows = rows
        self.setModel(rows)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setAccessibleName(name)
        self.painter = painter
        self.setItemDelegate(painter)
        self._line = PlaceLine(self, painter.look, painter.factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.painter.look, self.painter.factor = look, factor
        self._line.look, self._line.factor = look, factor
        palette = self.palette()
        palette.setColor(palette.ColorRole.Base, look.color("ground"))
        self.setPalette(palette)
        self._line.place()
        self.doItemsLayout()

    def focusInEvent(self, event: Any) -> None:
        super().focusInEvent(event)
        self.came.emit()
        self.viewport().update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._line.place()
