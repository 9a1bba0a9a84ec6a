"""The lists of the sheet in Write: a table, what is read and found in its row, what its keys do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.errors import Trouble
from shopguide.job.edits import Add, Duplicate, Remove
from shopguide.job.model import Caution
from shopguide.job.text import Path
from shopguide.job.written import FixedDict, read_piece
from shopguide.window.caution_panel import CautionPanel
from shopguide.window.lettering import font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.write_cells import fill_cells, remove_rows
from shopguide.window.write_edits import begin_row, move_entry, type_in_cell
from shopguide.window.write_fields import SECTIONS
from shopguide.window.write_reading import tell_cell
from shopguide.window.write_renaming import tell_doubled, tell_left
from shopguide.window.write_table import WriteTable

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace

WORDS = dict(SECTIONS)
MOST_TOLD = 3
FOOT_PX = 84


class ListDesk:
    """Shows the list that is chosen and carries its cells and rows into the sheet."""

    def __init__(self, place: WritePlace) -> None:
        self._place = place
        self.table = WriteTable(place.look, place.factor)
        self.foot = QLabel()
        self.foot.setWordWrap(True)
        self.foot.setTextFormat(Qt.TextFormat.PlainText)
        self.foot.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.view = QWidget()
        column = QVBoxLayout(self.view)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.table, 1)
        self.face: CautionPanel | None = None
        self._column = column
        column.addWidget(self.foot)
        self.table.rows.typed.connect(self.keep_cell)
        self.table.asked.connect(self.do)
        self.table.came.connect(self.show_foot)
        self.table.typing.connect(self.show_foot)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.table.set_look(look, factor)
        self._show_face(None)
        self.foot.setFont(font_px(18 * factor))
        self._fit_foot()
        palette = self.foot.palette()
        palette.setColor(self.foot.foregroundRole(), look.color("soft"))
        self.foot.setPalette(palette)

    def show_list(self) -> None:
        """Shows the list that is chosen at the left."""
        if self._place.writing is not None:
            section = str(self._place.path[0])
            self.table.show_section(self._place.writing.data, section, WORDS[section])
            self.show_foot()

    def show_foot(self, typed: str | None = None) -> None:
        """Under a table: what the program reads in the cell and the row, and what is found there.

        typed: what stands in the cell while it is written in.
        """
        desk = self._place.writing
        if desk is None or not self._place.shows_table:
            return
        row, column = self.table.cell
        section = str(self._place.path[0])
        if section != self.table.rows.section:
            # Another list was chosen, and the table is about to show it.
            return
        entries = self.table.rows.entries
        self._show_face(entries[row] if row < len(entries) else None)
        cell = tell_cell(
            section,
            entries[row] if row < len(entries) else None,
            self.table.rows.columns[column].keys,
            typed if typed is not None else self.table.rows.text(row, column),
        )
        said: list[str] = [cell] if cell else []
        if row < len(self.table.rows.entries):
            told = self.table.rows.told.get(self.table.rows.path(row, column))
            self._place.card.book.read(desk.data)
            name = self.table.rows.entries[row].get("name")
            if section == "specs" and isinstance(name, str):
                read = self._place.card.book.tell_spec(name)
                uses = self.table.rows.text(row, 8)
                # Where the column with the names is out of sight, the name is told here.
                whose = f"{name}: " if self.table.columnViewportPosition(0) < 0 else ""
                said.append(f"{whose}{read}. Used: {uses}" if read else f"{whose}Used: {uses}")
            found = [r.sentence for r in desk.book.list_at((section, row))]
            if told and told not in found:
                found.insert(0, told)
            # What cannot be read in the cell is told once.
            said += [one for one in found if not cell or cell not in one][:MOST_TOLD]
        else:
            count = len(desk.book.list_at((section,)))
            said.append(
                "Write in the row, or paste rows with Ctrl V: cells parted by tabs, semicolons "
                "or commas."
            )
            if count:
                said.append(f"The review has found {count} here. F9 lists them.")
        self.foot.setText(let_break("\n".join(said)))
        self._fit_foot()
        self._place.say()

    def _fit_foot(self) -> None:
        """Three lines are kept free under the table; where more is said, they have room too."""
        least = round(FOOT_PX * self._place.factor)
        wanted = self.foot.heightForWidth(self.foot.width())
        self.foot.setFixedHeight(max(least, min(wanted, 2 * least)))

    def _show_face(self, entry: FixedDict | None) -> None:
        """Under the cautions the one that is chosen, as Work shows it."""
        held = read_piece(entry, "cautions") if self.table.rows.section == "cautions" else None
        caution = held if isinstance(held, Caution) else None
        if self.face is not None and (caution is None or self.face.caution is not caution):
            self.face.hide()
            self._column.removeWidget(self.face)
            self.face.deleteLater()
            self.face = None
        if caution is not None and self.face is None:
            self.face = CautionPanel(caution, self._place.look, self._place.factor)
            self._column.insertWidget(1, self.face)

    def keep_cell(self, row: int, column: int, text: str) -> None:
        """What was typed in a cell goes into the sheet."""
        if self._place.writing is None:
            return
        section = str(self._place.path[0])
        if self._place.apply(type_in_cell(self._place.writing.data, section, row, column, text)):
            said = tell_doubled(self._place.writing.data, section, row) if column == 0 else ""
            if said:
                self._place.tell_for_now(
                    said, "Give each a name of its own, or take one of them out."
                )

    def do(self, wish: str) -> None:
        """What the keys of the table ask for."""
        desk = self._place.writing
        if desk is None:
            return
        section, (row, _) = str(self._place.path[0]), self.table.cell
        path: Path = (section, row)
        if row >= len(self.table.rows.entries):
            return
        block = self.table.choice.block
        match wish:
            case "uses":
                self._place.uses.go_on()
            case "remove" if self.table.choice.whole_rows and block.top != block.bottom:
                if self._place.apply(remove_rows(desk.data, section, block)):
                    self.table.go_to(block.top)
            case "too long":
                self._place.notice.tell(
                    "More stands in this cell than can be written in it.",
                    next="Del empties it; Ctrl V writes over it.",
                )
            case "empty":
                count = (block.bottom - block.top + 1) * (block.right - block.left + 1)
                self.fill([[""]], f"emptying of {count} cells")
            case "add":
                entry = begin_row(section)
                if section == "specs":
                    entry["kind"] = "torque"
                if self._place.apply(Add((section, row + 1), entry)):
                    self.table.go_to(row + 1)
            case "remove":
                name = self.table.rows.entries[row].get("name")
                gone = self._place.apply(Remove(path))
                if gone and (left := tell_left(desk.data, section, name)):
                    self._place.tell_for_now(
                        f'"{name}" is gone and still named in {left}; it is marked there.',
                        "Ctrl Z brings it back.",
                    )
            case "duplicate":
                if self._place.apply(Duplicate(path)):
                    self.table.go_to(row + 1)
            case "move up" | "move down":
                found = move_entry(desk.data, path, -1 if wish == "move up" else 1)
                if found is not None and self._place.apply(found[0]):
                    self.table.go_to(int(found[1][1]))

    def fill(self, cells: list[list[str]], said: str = "") -> None:
        """Writes cells into the table from the chosen one on, over what is there."""
        desk, block = self._place.writing, self.table.choice.block
        if desk is None or not self._place.shows_table:
            return
        try:
            edit = fill_cells(desk.data, str(self._place.path[0]), block, cells, said)
        except Trouble as trouble:
            self._place.notice.tell_trouble(trouble)
            return
        self._place.apply(edit)
        self.show_foot()
