"""The list at the left of Write: what the sheet holds, then its stages and steps."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from typing import Any, Literal, NamedTuple, overload

from PySide6.QtCore import QModelIndex, QPoint, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QApplication, QListView, QStyle, QStyleOptionViewItem

from shopguide.job.text import Path
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.lettering import font_px
from shopguide.window.palette import Look
from shopguide.window.write_fields import SECTIONS
from shopguide.window.write_list import ROW, Index, RowModel, RowPainter, WriteList, is_chosen

_SEATS = {key: seat for seat, (key, _) in enumerate(SECTIONS)}


class OutlineRow(NamedTuple):
    """One row: what it is, where it stands in the sheet, its words, and how many findings."""

    sort: Literal["section", "stage", "step"]
    path: Path
    title: str
    number: str = ""
    count: str = ""
    grave: bool = False


class OutlineRows(Sequence[OutlineRow]):
    """The rows of a sheet. Each is made when it is looked at: of 2,000 some twenty are seen."""

    def __init__(
        self, data: FixedDict | None = None, counts: Mapping[Path, tuple[int, bool]] | None = None
    ) -> None:
        """counts: number of findings and whether one is grave, by path."""
        self._data, self._counts = data if data is not None else FixedDict(), counts or {}
        stages = self._data.get("stages")
        self._stages = stages if isinstance(stages, FixedList) else FixedList()
        self._pieces: list[Any] = [key for key, _ in SECTIONS] if data is not None else []
        self._begins: list[int] = []
        for stage in self._stages:
            self._begins.append(len(self._pieces))
            # A stage is another one with each of its steps; its row is not.
            self._pieces.append(stage.get("title") if isinstance(stage, FixedDict) else None)
            self._pieces += _list_steps(stage)

    def __len__(self) -> int:
        return len(self._pieces)

    @overload
    def __getitem__(self, at: int) -> OutlineRow: ...
    @overload
    def __getitem__(self, at: slice) -> list[OutlineRow]: ...
    def __getitem__(self, at: int | slice) -> OutlineRow | list[OutlineRow]:
        if isinstance(at, slice):
            return [self[index] for index in range(*at.indices(len(self)))]
        index = at + len(self) if at < 0 else at
        if not 0 <= index < len(self):
            raise IndexError(at)
        s = bisect_right(self._begins, index) - 1
        if s < 0:
            return self._tell_section(*SECTIONS[index])
        piece, p = self._pieces[index], index - self._begins[s] - 1
        if p < 0:
            return OutlineRow("stage", ("stages", s), _say(piece, "stage without a title"))
        path: Path = ("stages", s, "steps", p)
        title = piece.get("title") if isinstance(piece, FixedDict) else None
        found, grave = self._counts.get(path, (0, False))
        number = str(self._count_before(s) + p + 1)
        said = _say(title, "step without a title")
        return OutlineRow("step", path, said, number, str(found) if found else "", grave)

    def _tell_section(self, key: str, word: str) -> OutlineRow:
        held = self._data.get(key)
        found, grave = self._counts.get((key,), (0, False))
        many = str(len(held)) if isinstance(held, FixedList) and held else ""
        return OutlineRow("section", (key,), word, count=many, grave=grave and bool(found))

    def _count_before(self, stage: int) -> int:
        """How many steps stand before a stage."""
        return self._begins[stage] - len(SECTIONS) - stage

    def find(self, path: Path) -> int:
        """The row that holds a path; -1 where there is none."""
        if path[:1] != ("stages",):
            return _SEATS.get(str(path[0]), -1) if path and self._pieces else -1
        s = int(path[1]) if len(path) > 1 else -1
        if not 0 <= s < len(self._begins):
            return -1
        step = self._begins[s] + 1 + (int(path[3]) if len(path) > 3 else -1)
        end = self._begins[s + 1] if s + 1 < len(self._begins) else len(self)
        return step if step < end else self._begins[s]

    def list_stages(self) -> tuple[tuple[str, float], ...]:
        """The stages, each with the share of the steps at which it begins."""
        of = max(1, len(self) - len(SECTIONS) - len(self._begins))
        rows = ((self[at].title, s) for s, at in enumerate(self._begins))
        return tuple((title, self._count_before(s) / of) for title, s in rows)

    def find_difference(self, other: OutlineRows) -> tuple[int, int, int]:
        """Where rows differ from others: from which on, how many of its own, how many others."""
        old, new = self._pieces, other._pieces
        least = min(len(old), len(new))
        above = 0
        while above < least and old[above] is new[above]:
            above += 1
        below = 0
        while below < least - above and old[-1 - below] is new[-1 - below]:
            below += 1
        return above, len(old) - above - below, len(new) - above - below


def _list_steps(stage: Any) -> Sequence[Any]:
    steps = stage.get("steps") if isinstance(stage, FixedDict) else None
    return steps if isinstance(steps, FixedList) else ()


def _say(title: Any, instead: str) -> str:
    return title if isinstance(title, str) and title.strip() else instead


class OutlineModel(RowModel):
    """The rows for the view and for a screen reader."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: OutlineRows = OutlineRows()

    def show_rows(self, rows: OutlineRows) -> None:
        """Takes other rows, of which only as many come or go as there are more or less."""
        at, gone, came = self.rows.find_difference(rows)
        same = min(gone, came)
        self.exchange(rows, at + same, gone - same, came - same)

    def tell(self, row: OutlineRow) -> str:
        if row.sort == "step":
            found = f", {row.count} found by the review" if row.count else ""
            return f"Step {row.number}, {row.title}{found}"
        return f"Stage {row.title}" if row.sort == "stage" else f"{row.title} {row.count}"


class Outline(WriteList):
    """Up and Down choose; a step is moved by dragging it or with Alt and the arrows."""

    chosen = Signal(object)
    """The path of the row that is chosen now."""
    entered = Signal()
    """Enter, or a double click: write in it."""
    moved = Signal(object, object)
    """A step was dragged: its path, and the path of the row before which it was dropped."""

    rows: OutlineModel

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__("Stages and steps", OutlineModel(), OutlinePainter(look, factor))
        self.setUniformItemSizes(True)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerItem)
        self._press: QPoint | None = None
        self._drag: Path = ()
        self.drop_at = -1
        self.quiet = False
        self.selectionModel().currentChanged.connect(self._tell)

    def show_rows(self, rows: OutlineRows) -> None:
        """Shows other rows; what was chosen stays chosen as far as it is there."""
        before, was_quiet = self.path, self.quiet
        self.quiet = True
        try:
            self.rows.show_rows(rows)
            if before is not None and before != self.path:
                self.choose(before)
        finally:
            self.quiet = was_quiet
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
        at = self.rows.rows.find(path)
        if at < 0:
            return False
        self.setCurrentIndex(self.rows.index(at))
        self.scrollTo(self.rows.index(at))
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


class OutlinePainter(RowPainter):
    """Paints the rows: stages in bold over a line, steps with their number, counts at the right."""

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        return QSize(100, round(34 * self.factor))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: OutlineRow = index.data(ROW)
        f, look = self.factor, self.look
        box = QRectF(option.rect)  # type: ignore[attr-defined]
        chosen = is_chosen(option)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if chosen:
            used = option.state & QStyle.StateFlag.State_HasFocus  # type: ignore[attr-defined]
            self.fill_chosen(painter, box, bool(used))
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
