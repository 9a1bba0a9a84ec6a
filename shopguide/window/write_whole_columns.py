"""Wide tables of Write: the first column stays in sight, and no column is cut at the left edge."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyleOptionViewItem

if TYPE_CHECKING:
    from shopguide.window.write_table import WriteTable

MOST_SHARE = 0.5
"""A first column that takes more of the width goes out of sight as the others do."""


class WholeColumns:
    """Where a table is scrolled to from side to side, and what is painted over it then."""

    def __init__(self, table: WriteTable) -> None:
        self._table = table

    @property
    def edge(self) -> int:
        """Up to where the first column lies over the others, in pixels; 0 where it does not."""
        head = self._table.horizontalHeader()
        wide = head.sectionSize(0) if head.count() > 1 else 0
        return wide if wide <= MOST_SHARE * self._table.viewport().width() else 0

    @property
    def lies_over(self) -> bool:
        """True while the first column stands over others that are scrolled under it."""
        return self._table.horizontalScrollBar().value() > 0 and self.edge > 0

    def list_stops(self, until: int) -> list[int]:
        """Where the table can be scrolled to: a column begins at the edge, at most this one."""
        head, edge = self._table.horizontalHeader(), self.edge
        return [head.sectionPosition(k) - edge for k in range(1 if edge else 0, until + 1)]

    def find_stop(self, column: int, now: int) -> int:
        """The stop nearest to where the table stands at which a column is seen whole."""
        head = self._table.horizontalHeader()
        if column == 0:
            return 0
        stops = self.list_stops(column)
        needed = head.sectionPosition(column) + head.sectionSize(column)
        whole = [stop for stop in stops if needed - stop <= self._table.viewport().width()]
        return min(whole, key=lambda stop: abs(stop - now)) if whole else stops[-1]

    def find_end(self, least: int) -> int:
        """The last stop that is needed to see the last column, `least` being its whole width."""
        stops = self.list_stops(self._table.horizontalHeader().count() - 1)
        return next((stop for stop in stops if stop >= least), least)

    def paint_cells(self, painter: QPainter, height: int) -> None:
        """The first column over the rows that are seen; height: of the rows that are whole."""
        if not self.lies_over:
            return
        table, edge = self._table, self.edge
        painter.fillRect(0, 0, edge, table.viewport().height(), table.painter.look.color("ground"))
        painter.save()
        painter.setClipRect(QRect(0, 0, edge, height + 1), Qt.ClipOperation.IntersectClip)
        row = table.rowAt(0)
        while 0 <= row < table.rows.rowCount():
            top = table.rowViewportPosition(row)
            if top + table.rowHeight(row) > height + 1:
                break
            option, index = QStyleOptionViewItem(), table.rows.index(row, 0)
            option.rect = QRect(0, top, edge, table.rowHeight(row))  # type: ignore[attr-defined]
            if table.selectionModel().isSelected(index):
                option.state |= QStyle.StateFlag.State_Selected  # type: ignore[attr-defined]
            table.painter.paint(painter, option, index)
            row += 1
        painter.restore()
        self.paint_edge(painter, height)

    def paint_edge(self, painter: QPainter, height: int) -> None:
        """The line at which the other columns go under the first one."""
        f = self._table.painter.factor
        painter.setPen(QPen(self._table.painter.look.color("soft"), max(1.0, 1.5 * f)))
        painter.drawLine(self.edge - 1, 0, self.edge - 1, height)
