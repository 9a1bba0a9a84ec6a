"""The place Shelf: sheets and records as rows; open by key, click, dialog or drop."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRectF, QSettings, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from shopguide.window.background import Errand, Runner
from shopguide.window.column import PlaceLine
from shopguide.window.large import import_alone
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.place import Place

if TYPE_CHECKING:
    from shopguide.window.shelf_rows import ShelfRow

ROW = Qt.ItemDataRole.UserRole
MOST_RECENT = 12


class ShelfPlace(Place):
    """Rows in three sections: go on, job sheets, finished."""

    opens = Signal(str)
    writes = Signal(str)
    """A sheet is to be opened in Write."""
    begins = Signal()
    """A new sheet is wanted."""
    takes_draft = Signal(str, str)
    """A draft that is nowhere saved is to be opened in Write: its key and its title."""
    drops_draft = Signal(str, str)
    """A draft is to be thrown away, and that was asked about: its key and its title."""
    name = "shelf"

    def __init__(
        self, look: Look, factor: float = 1.0, *, runner: Runner, settings: QSettings
    ) -> None:
        super().__init__(look, factor)
        self._runner, self._settings = runner, settings
        self.heading = QLabel("Shelf")
        self.said = QLabel("A sheet says what is to be done. A record says what was done.")
        self.list = QListWidget()
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.list.setAccessibleName("Sheets and records")
        # Row by row: the uppermost one is always whole.
        self.list.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerItem)
        self.list.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._painter = RowPainter(look, factor)
        self.list.setItemDelegate(self._painter)
        self.list.itemClicked.connect(lambda _: self.say())
        self.list.itemDoubleClicked.connect(lambda _: self.press())
        self.list.currentItemChanged.connect(lambda *_: self.say())
        self.list.installEventFilter(self)
        self._line = PlaceLine(self.list, look, factor)
        self.middle.addWidget(self.heading)
        self.middle.addWidget(self.said)
        self.middle.addSpacing(8)
        self.middle.addWidget(self.list, 1)
        self.setFocusProxy(self.list)
        self.set_look(look, factor)

    # --- rows -----------------------------------------------------------------------------

    def begin(self) -> None:
        super().begin()
        self.reload()

    def reload(self) -> Errand:
        """Reads the folder of records again, off the window's thread."""
        recent = self._recent()
        errand = Errand("Looking at the shelf", self)
        errand.done.connect(self._fill)
        errand.failed.connect(self.notice.tell_trouble)

        def work(_: Errand) -> list[ShelfRow]:
            # Imported there too: the record's own parts are large.
            rows: list[ShelfRow] = import_alone("shopguide.window.shelf_rows").list_rows(recent)
            return rows

        return self._runner.run(errand, work)

    def _fill(self, rows: list[ShelfRow]) -> None:
        before = self.row()
        self.list.clear()
        section = ""
        chosen: QListWidgetItem | None = None
        first: QListWidgetItem | None = None
        for row in rows:
            if row.section != section:
                section = row.section
                head = QListWidgetItem(section)
                head.setFlags(Qt.ItemFlag.NoItemFlags)
                self.list.addItem(head)
            item = QListWidgetItem()
            item.setData(ROW, row)
            item.setData(
                Qt.ItemDataRole.AccessibleTextRole,
                f"{row.title}, {row.under}, {row.state}, {row.date}",
            )
            self.list.addItem(item)
            first = first or item
            if before is not None and row.path == before.path:
                chosen = item
        target = chosen or first
        if target is not None:
            self.list.setCurrentItem(target)
        self.say()

    def row(self) -> ShelfRow | None:
        """The row that Space opens."""
        item = self.list.currentItem()
        return item.data(ROW) if item is not None else None

    # --- doing ----------------------------------------------------------------------------

    def press(self) -> None:
        row = self.row()
        if row is None or self.errand is not None:
            return
        if row.draft:
            self.takes_draft.emit(row.draft, row.title)
        else:
            self.opens.emit(str(row.path))

    def _ask_to_drop(self, row: ShelfRow) -> None:
        self.ask.confirm(
            f"Throw away the draft of “{row.title}”, with the pictures that wait with it? It is "
            "nowhere saved. Enter throws it away; Escape keeps it.",
            "Enter throws the draft away",
            lambda: self.drops_draft.emit(row.draft, row.title),
        )

    def say(self) -> None:
        row = self.row()
        if not self.ask.is_open and self.say_board():
            return
        if self.ask.is_open:
            self.bar.say(self.ask.does, "Escape leaves it")
        elif row is None:
            self.bar.say(
                "Nothing on the shelf yet: press O for a sheet", keys="N new sheet   O other file"
            )
        else:
            keys = "N new sheet   O other file   L look"
            if row.draft:
                keys = f"Del throws it away   {keys}"
            elif row.path.suffix != ".shopguide":
                keys = f"E writes in it   {keys}"
            self.bar.say(row.does, "Up and Down choose", keys=keys)

    def _open_other(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self,
            "A job sheet or a record",
            str(Path.home()),
            "Job sheets and records (job.json *.zip *.shopguide);;All files (*)",
        )
        if name:
            path = Path(name)
            self.opens.emit(str(path.parent if path.name == "job.json" else path))

    def eventFilter(self, watched: object, event: object) -> bool:
        pressed = isinstance(event, QKeyEvent) and event.type() == QKeyEvent.Type.KeyPress
        if watched is self.list and pressed and self._take_key(event):
            return True
        if watched is self.list and isinstance(event, QResizeEvent):
            self._line.place()
        return super().eventFilter(watched, event)  # type: ignore[arg-type]

    def _take_key(self, event: QKeyEvent) -> bool:
        if event.key() == Qt.Key.Key_O and not event.modifiers():
            self._open_other()
            return True
        if event.key() == Qt.Key.Key_N and not event.modifiers():
            self.begins.emit()
            return True
        row = self.row()
        if event.key() == Qt.Key.Key_E and not event.modifiers():
            if row is not None and row.draft:
                self.press()
            elif row is not None and row.path.suffix != ".shopguide" and self.errand is None:
                self.writes.emit(str(row.path))
            elif row is not None and self.errand is None:
                going_on = row.does.startswith("Space goes on")
                self.notice.tell(
                    "A record is worked on, not written in.",
                    next="Space goes on with it." if going_on else f"{row.does}.",
                )
            return True
        if event.key() in (Qt.Key.Key_Home, Qt.Key.Key_End) and not event.modifiers():
            self._go_to_end(-1 if event.key() == Qt.Key.Key_Home else 1)
            return True
        if event.key() == Qt.Key.Key_Delete and not event.modifiers():
            if row is not None and row.draft and self.errand is None:
                self._ask_to_drop(row)
            return True
        if event.key() == Qt.Key.Key_L and not event.modifiers():
            self.window().keyPressEvent(event)
            # Or it would go on to the window by itself, and change the look again.
            event.accept()
            return True
        if event.key() == Qt.Key.Key_PageDown:
            return False
        return self.press_key(event)

    def _go_to_end(self, way: int) -> None:
        """The first row (-1) or the last one (1); the heads between them are none."""
        items = [self.list.item(k) for k in range(self.list.count())]
        rows = [item for item in items if item.data(ROW) is not None]
        if rows:
            self.list.setCurrentItem(rows[0 if way < 0 else -1])
            if way < 0:
                self.list.scrollToTop()  # with the head over it

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self._take_key(event):
            super().keyPressEvent(event)

    # --- what was opened lately -----------------------------------------------------------

    def _recent(self) -> list[str]:
        value = self._settings.value("recent", [])
        return [str(v) for v in value] if isinstance(value, list) else [str(value)]

    def remember(self, path: Path) -> None:
        """Puts a sheet first among those opened lately."""
        text = str(path.absolute())
        recent = [text, *(p for p in self._recent() if p != text)][:MOST_RECENT]
        self._settings.setValue("recent", recent)

    def set_look(self, look: Look, factor: float) -> None:
        super().set_look(look, factor)
        pad = round(24 * factor)
        self.middle.setContentsMargins(pad, round(20 * factor), pad, round(8 * factor))
        self.middle.setSpacing(round(2 * factor))
        self.heading.setFont(font_px(SIZES_PX["bar"] * factor, "bold"))
        self.said.setFont(font_px(SIZES_PX["text"] * factor))
        self._painter.look, self._painter.factor = look, factor
        self._line.look, self._line.factor = look, factor
        self._line.place()
        palette = self.list.palette()
        palette.setColor(palette.ColorRole.Base, look.color("ground"))
        self.list.setPalette(palette)
        palette = self.said.palette()
        palette.setColor(self.said.foregroundRole(), look.color("soft"))
        self.said.setPalette(palette)
        self.list.doItemsLayout()


class RowPainter(QStyledItemDelegate):
    """Paints section heads and rows: hairlines, no boxes; the chosen row is inverted."""

    def __init__(self, look: Look, factor: float) -> None:
        super().__init__()
        self.look, self.factor = look, factor

    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        height = 76 if index.data(ROW) is not None else 56
        return QSize(200, round(height * self.factor))

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(option.rect)  # type: ignore[attr-defined]
        row = index.data(ROW)
        if row is None:
            self._paint_head(painter, box, str(index.data()))
        else:
            chosen = bool(option.state & QStyle.StateFlag.State_Selected)  # type: ignore[attr-defined]
            self._paint_row(painter, box, row, chosen)
        painter.restore()

    def _paint_head(self, painter: QPainter, box: QRectF, text: str) -> None:
        f = self.factor
        painter.setFont(font_px(SIZES_PX["text"] * f, "bold"))
        painter.setPen(self.look.color("ink"))
        painter.drawText(
            box.adjusted(0, 0, 0, -6 * f),
            int(Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignLeft),
            text,
        )
        painter.setPen(QPen(self.look.color("ink"), 1.5 * f))
        painter.drawLine(box.bottomLeft(), box.bottomRight())

    def _paint_row(self, painter: QPainter, box: QRectF, row: ShelfRow, chosen: bool) -> None:
        f, look = self.factor, self.look
        ink, soft = look.color("ink"), look.color("soft")
        if chosen:
            painter.fillRect(box, look.color("card"))
            painter.fillRect(QRectF(box.left(), box.top(), 8 * f, box.height()), look.color("ink"))
        painter.setPen(QPen(look.color("hairline"), max(1.0, f)))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        inner = box.adjusted(24 * f, 8 * f, -16 * f, -8 * f)
        aside = 300 * f
        title_font = font_px(24 * f, "bold" if chosen else "strong")
        self._line(painter, inner, 0, inner.width() - aside, row.title, title_font, ink)
        text = font_px(SIZES_PX["text"] * f)
        self._line(painter, inner, 1, inner.width() - aside, row.under, text, soft)
        right = QRectF(inner.right() - aside, inner.top(), aside, inner.height())
        self._line(painter, right, 0, aside, row.state, text, ink, right=True)
        self._line(painter, right, 1, aside, row.date, text, soft, right=True)

    def _line(
        self,
        painter: QPainter,
        box: QRectF,
        line: int,
        width: float,
        text: str,
        font: object,
        color: QColor,
        *,
        right: bool = False,
    ) -> None:
        painter.setFont(font)  # type: ignore[arg-type]
        painter.setPen(color)
        shown = QFontMetricsF(font).elidedText(text, Qt.TextElideMode.ElideRight, width - 8)  # type: ignore[arg-type]
        half = box.height() / 2
        align = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
        painter.drawText(
            QRectF(box.left(), box.top() + line * half, width, half),
            int(Qt.AlignmentFlag.AlignVCenter | align),
            shown,
        )
