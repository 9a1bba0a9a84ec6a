"""The list at the left of Write: what the sheet holds, then its stages and steps."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal, NamedTuple

from PySide6.QtCore import (
    QAbstractListModel,
    QModelIndex,
    QPersistentModelIndex,
    QPoint,
    QRectF,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.column import PlaceLine
from shopguide.window.lettering import font_px
from shopguide.window.palette import Look
from shopguide.window.write_fields import SECTIONS

Index = QModelIndex | QPersistentModelIndex
ROW = Qt.ItemDataRole.UserRole


class OutlineRow(NamedTuple):
    """One row: what it is, where it stands in the sheet, its words, and how many findings."""

    sort: Literal["section", "stage", "step"]
    path: Path
    title: str
    number: str = ""
    count: str = ""
    grave: bool = False


def list_outline(data: FixedDict, remarks: dict[Path, tuple[int, bool]]) -> list[OutlineRow]:
    """The rows of a sheet; remarks: number of findings and whether one is grave, by path."""
    rows = []
    for key, word in SECTIONS:
        held = data.get(key)
        found, grave = remarks.get((key,), (0, False))
        many = str(len(held)) if isinstance(held, FixedList) and held else ""
        rows.append(OutlineRow("section", (key,), word, count=many, grave=grave and bool(found)))
    number = 0
    stages = data.get("stages")
    for s, stage in enumerate(stages if isinstance(stages, FixedList) else ()):
        title = stage.get("title") if isinstance(stage, FixedDict) else None
        rows.append(OutlineRow("stage", ("stages", s), _say(title, "stage without a title")))
        steps = stage.get("steps") if isinstance(stage, FixedDict) else None
        for p, step in enumerate(steps if isinstance(steps, FixedList) else ()):
            number += 1
            path: Path = ("stages", s, "steps", p)
            title = step.get("title") if isinstance(step, FixedDict) else None
            found, grave = remarks.get(path, (0, False))
            rows.append(
                OutlineRow(
                    "step",
                    path,
                    _say(title, "step without a title"),
                    str(number),
                    str(found) if found else "",
                    grave,
                )
            )
    return rows


def _say(title: Any, instead: str) -> str:
    return title if isinstance(title, str) and title.strip() else instead


class OutlineModel(QAbstractListModel):
    """The rows for the view and for a screen reader."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[OutlineRow] = []

    def show_rows(self, rows: list[OutlineRow]) -> bool:
        """Takes other rows; False where they are the same ones in number and sort."""
        if len(rows) == len(self.rows):
            changed = [i for i, (a, b) in enumerate(zip(rows, self.rows, strict=True)) if a != b]
            self.rows = rows
            if changed:
                self.dataChanged.emit(self.index(changed[0]), self.index(changed[-1]))
            return False
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()
        return True

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid() or index.row() >= len(self.rows):
            return None
        row = self.rows[index.row()]
        if role == ROW:
            return row
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.AccessibleTextRole):
            if row.sort == "step":
                found = f", {row.count} found by the review" if row.count else ""
                return f"Step {row.number}, {row.title}{found}"
            return f"Stage {row.title}" if row.sort == "stage" else f"{row.title} {row.count}"
        return None


class Outline(QListView):
    """Up and Down choose; a step is moved by dragging it or with Alt and the arrows."""

    chosen = Signal(object)
    """The path of the row that is chosen now."""
    entered = Signal()
    """Enter, or a double click: write in it."""
    moved = Signal(object, object)
    """A step was dragged: its path, and the path of the row before which it was dropped."""
    came = Signal()

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self.rows = OutlineModel()
        self.setModel(self.rows)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setUniformItemSizes(True)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerItem)
        self.setAccessibleName("Stages and steps")
        self.painter = OutlinePainter(look, factor)
        self.setItemDelegate(self.painter)
        self._line = PlaceLine(self, look, factor)
        self._press: QPoint | None = None
        self._drag: Path = ()
        self.drop_at = -1
        self.quiet = False
        self.selectionModel().currentChanged.connect(self._tell)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.painter.look, self.painter.factor = look, factor
        self._line.look, self._line.factor = look, factor
        palette = self.palette()
        palette.setColor(palette.ColorRole.Base, look.color("ground"))
        self.setPalette(palette)
        self._line.place()
        self.doItemsLayout()

    def show_rows(self, rows: list[OutlineRow]) -> None:
        """Shows other rows; what was chosen stays chosen as far as it is there."""
        before = self.path
        self.quiet = True
        try:
            if self.rows.show_rows(rows) and before is not None:
                self.choose(before)
        finally:
            self.quiet = False
        self.viewport().update()

    @property
    def row(self) -> OutlineRow | None:
        """The row that is chosen."""
        index = self.currentIndex()
        return self.rows.data(index, ROW) if index.isValid() else None

    @property
    def path(self) -> Path | None:
        """The path of the row that is chosen."""
        row = self.row
        return row.path if row is not None else None

    def choose(self, path: Path) -> bool:
        """Chooses the row that holds a path; False where there is none."""
        best, depth = -1, 0
        for index, row in enumerate(self.rows.rows):
            if path[: len(row.path)] == row.path and len(row.path) > depth:
                best, depth = index, len(row.path)
        if best < 0:
            return False
        self.setCurrentIndex(self.rows.index(best))
        self.scrollTo(self.rows.index(best))
        return True

    def _tell(self, now: QModelIndex, before: QModelIndex) -> None:
        if not self.quiet and now.isValid():
            self.chosen.emit(self.rows.rows[now.row()].path)

    # --- keys and mouse -------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        keys = (
            Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Home, Qt.Key.Key_End,
            Qt.Key.Key_PageUp, Qt.Key.Key_PageDown,
        )  # fmt: skip
        if event.key() in keys and not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            super().keyPressEvent(event)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                event.ignore()
            elif not event.isAutoRepeat():
                self.entered.emit()
        else:
            event.ignore()

    def focusInEvent(self, event: Any) -> None:
        super().focusInEvent(event)
        self.came.emit()
        self.viewport().update()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        super().mousePressEvent(event)
        self._press = event.position().toPoint()
        row = self.rows.data(self.indexAt(self._press), ROW)
        self._drag = row.path if row is not None and row.sort == "step" else ()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        at = event.position().toPoint()
        if self._press is None or not self._drag:
            return
        if (at - self._press).manhattanLength() < QApplication.startDragDistance():
            return
        self.setCursor(Qt.CursorShape.ClosedHandCursor)
        self.drop_at = self._find_drop(at)
        self.viewport().update()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        at, path = self.drop_at, self._drag
        self._press, self._drag, self.drop_at = None, (), -1
        self.unsetCursor()
        self.viewport().update()
        if at >= 0 and path:
            rows = self.rows.rows
            self.moved.emit(path, rows[at].path if at < len(rows) else ())

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.entered.emit()

    def _find_drop(self, at: QPoint) -> int:
        """The row before which a step is dropped; -1 where it cannot be."""
        rows = self.rows.rows
        first = next((i for i, row in enumerate(rows) if row.sort == "stage"), len(rows))
        index = self.indexAt(at)
        if not index.isValid():
            return len(rows) if at.y() > 0 else -1
        box = self.visualRect(index)
        row = index.row() + (1 if at.y() > box.center().y() else 0)
        return max(row, first + 1)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._line.place()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        if self.drop_at < 0:
            return
        last = self.drop_at >= len(self.rows.rows)
        box = self.visualRect(self.rows.index(self.drop_at - 1 if last else self.drop_at))
        y = box.bottom() if last else box.top()
        painter = QPainter(self.viewport())
        painter.setPen(QPen(self.painter.look.color("ink"), 4 * self.painter.factor))
        painter.drawLine(0, y, self.viewport().width(), y)


class OutlinePainter(QStyledItemDelegate):
    """Paints the rows: stages in bold over a line, steps with their number, counts at the right."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self.look, self.factor = look, factor

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        return QSize(100, round(34 * self.factor))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: OutlineRow = index.data(ROW)
        f, look = self.factor, self.look
        box = QRectF(option.rect)  # type: ignore[attr-defined]
        state = option.state  # type: ignore[attr-defined]
        chosen = bool(state & QStyle.StateFlag.State_Selected)
        used = chosen and bool(state & QStyle.StateFlag.State_HasFocus)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if chosen:
            painter.fillRect(box, look.color("card"))
            bar = QRectF(box.left(), box.top(), (8 if used else 4) * f, box.height())
            painter.fillRect(bar, look.color("ink"))
        left = box.left() + 14 * f
        right = box.right() - 14 * f
        if row.count:
            font = font_px(18 * f, "bold" if row.grave else "regular")
            painter.setFont(font)
            painter.setPen(look.color("ink" if row.grave else "soft"))
            said = f"{row.count} !" if row.grave and row.sort == "step" else row.count
            width = QFontMetricsF(font).horizontalAdvance(said)
            self._write(painter, QRectF(right - width, box.top(), width, box.height()), said)
            right -= width + 10 * f
        if row.sort == "stage":
            painter.setPen(QPen(look.color("ink"), 1.5 * f))
            painter.drawLine(
                int(box.left()), int(box.bottom()), int(box.right() - 8 * f), int(box.bottom())
            )
        if row.number:
            font = font_px(18 * f)
            painter.setFont(font)
            painter.setPen(look.color("soft"))
            width = max(30 * f, QFontMetricsF(font).horizontalAdvance(row.number) + 8 * f)
            self._write(painter, QRectF(left, box.top(), width, box.height()), row.number)
            left += width
        weight = "bold" if row.sort == "stage" or chosen else "regular"
        font = font_px(20 * f, weight)  # type: ignore[arg-type]
        painter.setFont(font)
        painter.setPen(look.color("ink"))
        shown = QFontMetricsF(font).elidedText(
            row.title, Qt.TextElideMode.ElideRight, max(10.0, right - left)
        )
        self._write(painter, QRectF(left, box.top(), right - left, box.height()), shown)
        painter.restore()

    def _write(self, painter: QPainter, box: QRectF, text: str) -> None:
        painter.drawText(box, int(Qt.AlignmentFlag.AlignVCenter), text)


def count_remarks(paths: Sequence[tuple[Path, bool]]) -> dict[Path, tuple[int, bool]]:
    """How many findings stand at each step and list, and whether one of them stops work."""
    found: dict[Path, tuple[int, bool]] = {}
    for path, grave in paths:
        if not path:
            continue
        row = path[:4] if path[0] == "stages" else path[:1]
        count, was = found.get(row, (0, False))
        found[row] = (count + 1, was or grave)
    return found
