"""Tables of the sheet: specs, parts, supplies, fluids, tools, follow-ups; typed in or pasted."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QModelIndex,
    QPoint,
    QRectF,
    Qt,
    QTimer,
    Signal,
)
from PySide6.QtGui import (
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QFrame,
    QHeaderView,
    QTableView,
)

from shopguide.job.names import list_uses
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.column import PlaceLine
from shopguide.window.palette import Look
from shopguide.window.write_block import show_value
from shopguide.window.write_cell_painter import MOST_TYPED, CellPainter, HeadPainter
from shopguide.window.write_cells import WAYS, CellChoice
from shopguide.window.write_fields import TABLES, TableColumn
from shopguide.window.write_list import Index
from shopguide.window.write_uses import tell_uses
from shopguide.window.write_whole_columns import WholeColumns

LEAST_LAST_PX = 200


class TableModel(QAbstractTableModel):
    """One list of the sheet as rows, and an empty row under them to write a new one in."""

    typed = Signal(int, int, str)
    """Row, column and text of a cell that was written in."""

    def __init__(self) -> None:
        super().__init__()
        self.section = "specs"
        self.columns: tuple[TableColumn, ...] = TABLES["specs"]
        self.entries: tuple[FixedDict, ...] = ()
        self.data_held = FixedDict()
        self.told: dict[Path, str] = {}
        self._uses: dict[str, str] = {}
        self._paths: dict[str, tuple[Path, ...]] | None = None
        self._waiting: list[tuple[int, int, str]] = []

    def show_section(self, data: FixedDict, section: str) -> None:
        """Shows a list of the sheet."""
        held = data.get(section)
        entries = tuple(
            one if isinstance(one, FixedDict) else FixedDict()
            for one in (held if isinstance(held, FixedList) else ())
        )
        using = ("stages", "fluids", "follow_ups")
        if section != self.section or any(data.get(k) is not self.data_held.get(k) for k in using):
            self._uses, self._paths = {}, None
        same = section == self.section and len(entries) == len(self.entries)
        if same:
            self.entries, self.data_held = entries, data
            last = self.index(self.rowCount() - 1, self.columnCount() - 1)
            self.dataChanged.emit(self.index(0, 0), last)
            return
        self.beginResetModel()
        self.section, self.columns = section, TABLES[section]
        self.entries, self.data_held = entries, data
        self.endResetModel()

    def path(self, row: int, column: int) -> Path:
        """Where in the sheet a cell stands."""
        return (self.section, row, *self.columns[column].keys)

    def text(self, row: int, column: int) -> str:
        """What stands in a cell."""
        if row >= len(self.entries):
            return ""
        keys = self.columns[column].keys
        if not keys:
            return self._tell_uses(self.entries[row].get("name"))
        value: Any = self.entries[row]
        for key in keys:
            value = value.get(key) if isinstance(value, FixedDict) else None
        if value is None and keys == ("source", "kind"):
            return "not known"
        if value is None and keys in (("single_use",), ("acknowledge",)):
            return "no"
        if value is None and keys == ("quantity",) and self.section == "parts":
            return "1"
        return show_value(value).replace("\n", " | ")

    def written(self, row: int, column: int) -> str:
        """What stands in a cell as it is written: over several lines where it has them."""
        text, keys = self.text(row, column), self.columns[column].keys
        if row >= len(self.entries) or " | " not in text:
            return text
        value: Any = self.entries[row]
        for key in keys:
            value = value.get(key) if isinstance(value, FixedDict) else None
        return value if isinstance(value, str) else text

    def _tell_uses(self, name: Any) -> str:
        if not isinstance(name, str) or not name:
            return ""
        if name not in self._uses:
            if self._paths is None:
                self._paths = list_uses(
                    self.data_held, "spec" if self.section == "specs" else "fluid"
                )
            self._uses[name] = tell_uses(self.data_held, self._paths.get(name, ()))
        return self._uses[name]

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.entries) + 1

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        row, column = index.row(), index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self.text(row, column)
        if role == Qt.ItemDataRole.EditRole:
            return self.written(row, column)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            word = self.columns[column].word
            if row >= len(self.entries):
                return f"{word}, a new one"
            said = self.told.get(self.path(row, column), "")
            return f"{word}: {self.text(row, column) or 'empty'}" + (f". {said}" if said else "")
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if role != Qt.ItemDataRole.EditRole:
            return False
        text = str(value)
        if text != self.written(index.row(), index.column()):
            # The rows may become others by it: not while the view is closing its editor.
            self._waiting.append((index.row(), index.column(), text))
            QTimer.singleShot(0, self, self.hand_on)
        return True

    def hand_on(self) -> None:
        """Hands on what was typed."""
        waiting, self._waiting = self._waiting, []
        for row, column, text in waiting:
            self.typed.emit(row, column, text)

    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Horizontal and role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].word
        return None

    def is_writable(self, row: int, column: int) -> bool:
        """True where a cell can be written in; not where what stands there is too long for that."""
        return bool(self.columns[column].keys) and len(self.written(row, column)) <= MOST_TYPED

    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if self.is_writable(index.row(), index.column()):
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags


class WriteTable(QTableView):
    """Arrow keys go from cell to cell, typing writes, Ctrl V pastes rows."""

    asked = Signal(str)
    """Something is wanted for the row: "add", "remove", "duplicate", "move up", "move down".

    "too long": the cell cannot be written in.
    """
    pasted = Signal(str)
    came = Signal()
    typing = Signal(str)
    """What stands in the cell that is being written in."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self.rows = TableModel()
        self.whole = WholeColumns(self)
        self.setModel(self.rows)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        self.setTabKeyNavigation(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        trigger = QAbstractItemView.EditTrigger
        self.setEditTriggers(trigger.DoubleClicked | trigger.AnyKeyPressed)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        head = self.horizontalHeader()
        head.setHighlightSections(False)
        head.setSectionsClickable(False)
        head.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        head.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        head.setMinimumSectionSize(20)
        self.painter = CellPainter(look, factor, self)
        self.setItemDelegate(self.painter)
        self._head = HeadPainter(self)
        self.setHorizontalHeader(self._head)
        self._line = PlaceLine(self, look, factor)
        self.choice = CellChoice(self)
        self._run: int | None = None
        """The column in which a run of cells with Tab began."""
        self.selectionModel().currentChanged.connect(lambda *_: self.choice.end())
        self.selectionModel().currentChanged.connect(lambda *_: self.came.emit())
        self.selectionModel().currentChanged.connect(lambda *_: self.viewport().update())
        self.setAccessibleName("Table")
        self.set_look(look, factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.painter.look, self.painter.factor = look, factor
        self._line.look, self._line.factor = look, factor
        palette = self.palette()
        palette.setColor(palette.ColorRole.Base, look.color("ground"))
        self.setPalette(palette)
        self.verticalHeader().setDefaultSectionSize(round(40 * factor))
        self._head.setFixedHeight(round(36 * factor))
        self._set_widths()
        self._line.place()

    def _set_widths(self) -> None:
        f = self.painter.factor
        columns = self.rows.columns
        whole = sum(c.width for c in columns) * f
        room = max(0.0, self.viewport().width() - 10 * f)
        for index, column in enumerate(columns):
            width = column.width * f
            if index == len(columns) - 1 and width + room - whole >= LEAST_LAST_PX * f:
                # The last column takes the room that there is, more or less than it wants.
                width += room - whole
            self.setColumnWidth(index, round(width))

    def show_section(self, data: FixedDict, section: str, word: str) -> None:
        """Shows a list of the sheet."""
        other = section != self.rows.section
        row, column = self.currentIndex().row(), self.currentIndex().column()
        self.rows.show_section(data, section)
        self.setAccessibleName(word)
        if other:
            self._set_widths()
            self.horizontalScrollBar().setValue(0)
            row = column = 0
        last = self.rows.rowCount() - 1
        index = self.rows.index(min(max(row, 0), last), max(column, 0))
        if self.currentIndex() != index:
            self.setCurrentIndex(index)

    @property
    def cell(self) -> tuple[int, int]:
        """Row and column of the cell that is chosen."""
        index = self.currentIndex()
        return max(0, index.row()), max(0, index.column())

    @property
    def writes(self) -> bool:
        """True while a cell is being written in."""
        return self.state() == QAbstractItemView.State.EditingState

    def go_to(self, row: int, key: str = "") -> None:
        """Chooses a cell by its row and the last key of its column."""
        columns = self.rows.columns
        column = next((i for i, c in enumerate(columns) if key and key in c.keys), 0)
        self.setCurrentIndex(self.rows.index(min(row, self.rows.rowCount() - 1), column))
        self.setFocus()

    def begin_run(self, column: int) -> None:
        """Tab: Enter goes back to the column in which the first one was pressed."""
        if self._run is None:
            self._run = column

    def find_next(self, row: int, column: int, by: int) -> tuple[int, int]:
        """The next cell that can be written in, or the one before; in the next row at the end."""
        width = len(self.rows.columns)
        at = row * width + column + by
        while 0 <= at < (row + 2) * width and not self.rows.columns[at % width].keys:
            at += by
        return divmod(max(at, 0), width)

    def find_below(self, row: int, column: int) -> tuple[int, int]:
        """Where Enter goes on to from a cell that was written in."""
        run, self._run = self._run, None
        if run is not None:
            return row + 1, run
        return (row + 1 if row + 1 < len(self.rows.entries) else row), column

    def step_to(self, row: int, column: int) -> None:
        """Goes to a cell, or to the nearest there is."""
        row = min(max(row, 0), self.rows.rowCount() - 1)
        self.setCurrentIndex(self.rows.index(row, column))

    def mark(self, told: dict[Path, str]) -> None:
        """Marks what cannot be read; told: what is wrong, by path."""
        self.rows.told = told
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, held = event.key(), event.modifiers()
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        alt = bool(held & Qt.KeyboardModifier.AltModifier)
        wish = ""
        if alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            wish = "move up" if key == Qt.Key.Key_Up else "move down"
        elif key == Qt.Key.Key_Insert and not control:
            wish = "add"
        elif control and key == Qt.Key.Key_D:
            wish = "duplicate"
        elif control and key == Qt.Key.Key_Delete:
            wish = "remove"
        shift = bool(held & Qt.KeyboardModifier.ShiftModifier)
        if key in WAYS or key in (Qt.Key.Key_Escape, Qt.Key.Key_Home, Qt.Key.Key_End):
            self._run = None
        if wish:
            self.asked.emit(wish)
        elif shift and key in WAYS and not control:
            self.choice.stretch(Qt.Key(key))
        elif shift and key == Qt.Key.Key_Space:
            self.choice.take_rows()
        elif control and key == Qt.Key.Key_A:
            self.choice.take_all()
        elif control and key == Qt.Key.Key_V:
            self.pasted.emit(QApplication.clipboard().text())
        elif control and key == Qt.Key.Key_C:
            QApplication.clipboard().setText(self.choice.copy())
        elif key == Qt.Key.Key_Delete and self.choice.block.several:
            self.asked.emit("empty")
        elif key == Qt.Key.Key_Delete:
            if self.rows.columns[self.cell[1]].keys:
                self.rows.setData(self.currentIndex(), "")
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not control:
            # The same key has just ended the writing in a cell.
            if self.writes:
                return
            if self.rows.columns[self.cell[1]].keys:
                self._write_in_cell()
            else:
                self.asked.emit("uses")
        elif (
            control
            or key == Qt.Key.Key_Escape
            or Qt.Key.Key_F1 <= key <= Qt.Key.Key_F12
            or (key == Qt.Key.Key_Space and not held)
        ):
            if key == Qt.Key.Key_Space:
                self._take_next_choice()
            else:
                event.ignore()
        else:
            super().keyPressEvent(event)
            if self.writes:
                # The first letter is in the cell: it is no key of the place or the window too.
                event.accept()

    def _take_next_choice(self) -> None:
        """Space: the next of few words, or writing in the cell."""
        row, column = self.cell
        choices = self.rows.columns[column].choices
        if choices and row < len(self.rows.entries):
            now = self.rows.text(row, column)
            after = choices.index(now) + 1 if now in choices else 0
            self.rows.setData(self.currentIndex(), choices[after % len(choices)])
        else:
            self._write_in_cell()

    def _write_in_cell(self) -> None:
        if self.rows.is_writable(*self.cell):
            self.edit(self.currentIndex())
        elif self.rows.columns[self.cell[1]].keys:
            self.asked.emit("too long")

    def mousePressEvent(self, event: QMouseEvent) -> None:
        at = self.indexAt(event.position().toPoint())
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and at.isValid():
            self.choice.stretch_to(at.row(), at.column())
        else:
            self.choice.end()
            super().mousePressEvent(event)
            if at.isValid() and at.column() == 0:
                # It is written in where it belongs, not where it lies over others.
                self.scrollTo(at)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        height = self.viewport().height()
        last = self.rowAt(height - 1)
        painter = QPainter(self.viewport())
        top = height
        if last >= 0 and self.rowViewportPosition(last) + self.rowHeight(last) > height + 1:
            # A row is shown whole or not at all.
            top = self.rowViewportPosition(last) + 1
            room = QRectF(0, top, self.viewport().width(), height - top)
            painter.fillRect(room, self.painter.look.color("ground"))
        self.whole.paint_cells(painter, top)

    # --- from side to side ----------------------------------------------------------------

    def scrollTo(
        self,
        index: Index,
        hint: QAbstractItemView.ScrollHint = QAbstractItemView.ScrollHint.EnsureVisible,
    ) -> None:
        bar = self.horizontalScrollBar()
        now = bar.value()
        super().scrollTo(index, hint)
        bar.setValue(self.whole.find_stop(index.column(), now) if index.isValid() else now)

    def scrollContentsBy(self, dx: int, dy: int) -> None:
        super().scrollContentsBy(dx, dy)
        if dx:
            # What was painted is moved along with the rest: the first column is to stay.
            self.viewport().update()
            self._head.viewport().update()

    def updateGeometries(self) -> None:
        super().updateGeometries()
        bar = self.horizontalScrollBar()
        if bar.maximum() > 0:
            bar.setMaximum(self.whole.find_end(bar.maximum()))

    def indexAt(self, point: QPoint) -> QModelIndex:
        """The cell at a point of the viewport: of the first column where that lies over others."""
        if self.whole.lies_over and 0 <= point.x() < self.whole.edge:
            row = self.rowAt(point.y())
            return self.rows.index(row, 0) if row >= 0 else QModelIndex()
        return super().indexAt(point)

    def focusInEvent(self, event: Any) -> None:
        super().focusInEvent(event)
        self.came.emit()
        self.viewport().update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._set_widths()
        self._line.place()
