"""The findings at the right of Write: those of this step first, then the gravest."""

from __future__ import annotations

import re
from typing import NamedTuple

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import QListView, QStyleOptionViewItem

from shopguide.job.text import Path
from shopguide.review.rule import Severity
from shopguide.window.lettering import font_px, let_break, wrapped_height
from shopguide.window.palette import Look
from shopguide.window.write_list import ROW, Index, RowModel, RowPainter, WriteList, is_chosen
from shopguide.window.write_remarks import Remark, RemarkBook

MOST_SHOWN = 150
HEADS: dict[Severity, str] = {
    "stops work": "Stops work",
    "wants an answer": "Wants an answer",
    "hint": "Hints",
}


class FindingRow(NamedTuple):
    """A head, or a finding."""

    head: str = ""
    remark: Remark | None = None
    here: bool = False


def list_findings(book: RemarkBook, here: Path) -> list[FindingRow]:
    """The rows: what is found at `here`, then the others by how grave they are."""
    near = book.list_at(here)
    rows: list[FindingRow] = []
    if near:
        rows.append(FindingRow(f"Found here: {len(near)}"))
        rows += [FindingRow(remark=r, here=True) for r in near[:MOST_SHOWN]]
        rows += _tell_rest(len(near))
    for severity, word in HEADS.items():
        count = book.count(severity) - sum(1 for r in near if r.severity == severity)
        if count:
            elsewhere = ", elsewhere" if near else ""
            rows.append(FindingRow(f"{word}{elsewhere}: {count}"))
            rows += [FindingRow(remark=r) for r in book.list_first(severity, MOST_SHOWN, near)]
            rows += _tell_rest(count)
    return rows


def _tell_rest(count: int) -> list[FindingRow]:
    return [FindingRow(f"and {count - MOST_SHOWN} more")] if count > MOST_SHOWN else []


class _Model(RowModel):
    def flags(self, index: Index) -> Qt.ItemFlag:
        if index.isValid() and self.rows[index.row()].remark is None:
            return Qt.ItemFlag.NoItemFlags
        return super().flags(index)

    def tell(self, row: FindingRow) -> str:
        if row.remark is None:
            return row.head
        fix = f" F: {row.remark.fix.says}" if row.remark.fix is not None else ""
        return f"{row.remark.severity}, {row.remark.where}: {row.remark.sentence}{fix}"


class Findings(WriteList):
    """Enter goes to the place, F does what is proposed, H switches a hint off for this sheet."""

    jumps = Signal(object)
    fixes = Signal(object)
    hushes = Signal(object)

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__("Findings of the review", _Model(), FindingPainter(look, factor, self))
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.selectionModel().currentChanged.connect(lambda *_: self.came.emit())

    def show_remarks(self, book: RemarkBook, here: Path) -> None:
        """Shows the findings; the one that was chosen stays chosen if it is still there."""
        rows = list_findings(book, here)
        if rows == self.rows.rows:
            return
        before, at = self.remark, self.currentIndex().row()
        self.rows.begin_anew(rows)
        for index, row in enumerate(rows):
            if row.remark is not None and (row.remark == before or (before and index >= at)):
                self.setCurrentIndex(self.rows.index(index))
                break

    @property
    def remark(self) -> Remark | None:
        """The finding that is chosen."""
        index = self.currentIndex()
        if not index.isValid() or index.row() >= len(self.rows.rows):
            return None
        return self.rows.rows[index.row()].remark

    def begin(self) -> bool:
        """Chooses the first finding; False where there is none."""
        for index, row in enumerate(self.rows.rows):
            if row.remark is not None:
                if self.remark is None:
                    self.setCurrentIndex(self.rows.index(index))
                self.setFocus()
                return True
        return False

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, remark = event.key(), self.remark
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier:
            event.ignore()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Home, Qt.Key.Key_End,
                     Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):  # fmt: skip
            super().keyPressEvent(event)
        elif remark is None:
            event.ignore()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.jumps.emit(remark)
        elif key == Qt.Key.Key_F and remark.fix is not None:
            self.fixes.emit(remark)
        elif key == Qt.Key.Key_H and remark.severity == "hint":
            self.hushes.emit(remark)
        else:
            event.ignore()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self.remark is not None:
            self.jumps.emit(self.remark)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.doItemsLayout()


class FindingPainter(RowPainter):
    """Paints heads over a line, and findings as where, what, and what F does."""

    def __init__(self, look: Look, factor: float, view: Findings) -> None:
        super().__init__(look, factor)
        self._view = view

    def _room(self) -> float:
        return max(80.0, self._view.viewport().width() - 30 * self.factor)

    def _parts(self, row: FindingRow) -> list[tuple[str, float, str, str]]:
        """(text, px, weight, colour role) of each paragraph."""
        remark = row.remark
        if remark is None:
            return [(row.head, 20 * self.factor, "bold", "ink")]
        parts = []
        where = _shorten(remark.where, row.here)
        if where:
            parts.append((where, 18 * self.factor, "regular", "soft"))
        grave = remark.severity == "stops work"
        parts.append((remark.sentence, 20 * self.factor, "strong" if grave else "regular", "ink"))
        if remark.fix is not None:
            parts.append((f"F: {remark.fix.says}", 18 * self.factor, "bold", "ink"))
        return parts

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        row: FindingRow = index.data(ROW)
        height = sum(
            wrapped_height(text, self._room(), px, weight)  # type: ignore[arg-type]
            for text, px, weight, _ in self._parts(row)
        )
        extra = 16 if row.remark is not None else 14
        return QSize(round(self._room()), round(height + extra * self.factor))

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: FindingRow = index.data(ROW)
        f, look = self.factor, self.look
        box = QRectF(option.rect)  # type: ignore[attr-defined]
        box.setWidth(self._view.viewport().width())
        painter.save()
        if is_chosen(option) and row.remark is not None:
            self.fill_chosen(painter, box, self._view.hasFocus())
        edge = look.color("ink" if row.remark is None else "hairline")
        painter.setPen(QPen(edge, (1.5 if row.remark is None else 1) * f))
        y = int(box.bottom())
        painter.drawLine(int(box.left()), y, int(box.right() - 8 * f), y)
        top = box.top() + (8 if row.remark is not None else 10) * f
        for text, px, weight, role in self._parts(row):
            height = wrapped_height(text, self._room(), px, weight)  # type: ignore[arg-type]
            painter.setFont(font_px(px, weight))  # type: ignore[arg-type]
            painter.setPen(look.color(role))
            room = QRectF(box.left() + 14 * f, top, self._room(), height + 2)
            painter.drawText(room, int(Qt.TextFlag.TextWordWrap), let_break(text))
            top += height
        painter.restore()


def _shorten(where: str, here: bool) -> str:
    """Where a finding is, in few words: its step is named already where it is the one shown."""
    found = re.fullmatch(r"(step \d+)(?:, '.*?'(?=, |$))?(?:, (.*))?", where)
    if found is None:
        return where
    step, rest = found[1], found[2] or ""
    if here:
        return rest
    return f"{step}, {rest}" if rest else step
