"""Patterns in Write: each is placed on a board of its own, then put into the sheet."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any, NamedTuple

from PySide6.QtCore import QObject, QSize
from PySide6.QtGui import QImage

from shopguide.bolts.evenness import read_torques_nm
from shopguide.bolts.order import find_order
from shopguide.bolts.pattern import Pattern
from shopguide.errors import Trouble
from shopguide.job.edits import Add, Edit, Remove, Rename, SetValue, Together
from shopguide.job.model import Torque
from shopguide.job.written import FixedDict, FixedList, list_photo_files, read_piece
from shopguide.window.background import Errand, Runner
from shopguide.window.keys_board import KeysBoard
from shopguide.window.pattern_board import PatternBoard
from shopguide.window.pattern_words import PATTERN_KEYS
from shopguide.window.pictures import decode
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_names import count_fasteners

if TYPE_CHECKING:
    from shopguide.window.evenness_board import EvennessBoard
    from shopguide.window.write_place import WritePlace

OF_PART = "A picture of the part"
"""Over the dialog that chooses what a pattern is placed on."""
PICTURE_BOX = QSize(2400, 1800)
"""At this size the photo under a pattern is decoded; its points count in the full picture."""


class Ground(NamedTuple):
    """What lies under a pattern: the photo as decoded, its full size, its name in the sheet."""

    image: QImage | None
    size: QSize
    name: str


def list_patterns(data: FixedDict) -> list[tuple[int, str]]:
    """Every pattern by its index, with its title and how many fasteners it has."""
    held = data.get("patterns")
    found = []
    for index, entry in enumerate(held if isinstance(held, FixedList) else ()):
        pattern = read_piece(entry, "patterns")
        if isinstance(pattern, Pattern):
            count = len(pattern.placed)
            said = "" if str(count) in pattern.title else f", {count_fasteners(count)}"
            found.append((index, f"{pattern.title}{said}"))
        else:
            name = entry.get("name", "") if isinstance(entry, FixedDict) else ""
            found.append((index, f"{name or 'pattern'}: cannot be read yet"))
    return found


def _list_names(data: FixedDict) -> list[str]:
    """What each pattern is called, in the sequence of the sheet; "" where it is not read."""
    held = data.get("patterns")
    entries = held if isinstance(held, FixedList) else ()
    names = (entry.get("name") if isinstance(entry, FixedDict) else "" for entry in entries)
    return [name if isinstance(name, str) else "" for name in names]


def _take_in(desk: WriteDesk, photo: str) -> Ground:
    """A picture file taken into the sheet. Raises Trouble where it cannot be."""
    album = desk.take_in([FilePath(photo)])
    if album.refused:
        raise album.refused[0].trouble
    name = album.names[0]
    return Ground(*decode(desk.read_photo(name), PICTURE_BOX), name)


class PatternDesk(QObject):
    """Opens the pattern board over Write and puts what is kept there into the sheet."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        super().__init__(place)
        self._place, self._runner = place, runner
        self._board: PatternBoard | None = None
        self._evenness: EvennessBoard | None = None
        self._index: int | None = None
        self._kept = False
        self._desk: WriteDesk | None = None

    def begin(self, photo: str = "") -> None:
        """A new pattern, on a blank board or on a picture file that is taken in first."""
        if not photo:
            self._show(None, None, Ground(None, QSize(), ""))
            return
        desk = self._place.writing
        if desk is None:
            return
        name = FilePath(photo).name

        def show(ground: Ground) -> None:
            if desk is self._place.writing and self._place.has_room_for(name):
                self._show(None, None, ground)

        self._fetch(name, lambda: _take_in(desk, photo), show)

    def open(self, index: int) -> None:
        """The board with a pattern of the sheet."""
        desk = self._place.writing
        held = desk.data.get("patterns") if desk is not None else None
        if desk is None or not isinstance(held, FixedList) or index >= len(held):
            return
        pattern = read_piece(held[index], "patterns")
        if not isinstance(pattern, Pattern):
            self._place.notice.tell(
                "This pattern cannot be read yet.", next="F9 goes to what is to be put right."
            )
            return
        if pattern.photo is None:
            self._show(index, pattern, Ground(None, QSize(), ""))
            return
        name = pattern.photo.file

        def read() -> Ground:
            try:
                return Ground(*decode(desk.read_photo(name), PICTURE_BOX), name)
            except (Trouble, OSError):
                # Without its photo at hand it is shown on a blank board.
                return Ground(None, QSize(), name)

        def show(ground: Ground) -> None:
            # The sheet may have been left, or changed, while the photo was read.
            if desk is not self._place.writing:
                return
            if desk.data.get("patterns") is not held:
                said = "The patterns were changed meanwhile."
                self._place.notice.tell(said, next="Open it once more.")
            elif self._place.has_room_for(pattern.title):
                self._show(index, pattern, ground)

        self._fetch(name, read, show)

    def forecast(self, index: int) -> None:
        """How evenly the pattern will end, in the passes of the first task that tightens it."""
        desk = self._place.writing
        sheet = desk.draft.sheet if desk is not None else None
        if sheet is None or index >= len(sheet.patterns):
            self._place.notice.tell(
                "A forecast needs a sheet that can be read whole.",
                next="F9 goes to what is to be put right.",
            )
            return
        pattern = sheet.patterns[index]
        tasks = (t for t in sheet.tasks.values() if isinstance(t, Torque))
        task = next((t for t in tasks if t.pattern == pattern.name), None)
        if task is None:
            self._place.notice.tell(
                "No task tightens this pattern yet.",
                next="Add a torque task that names it: its passes are what is forecast.",
            )
            return
        if self._evenness is None:
            from shopguide.window.evenness_board import EvennessBoard

            self._evenness = EvennessBoard(self._place.look, self._place.factor)
        names = [task.spec_of(one) for one in task.schedule]
        self._evenness.show_pattern(
            pattern,
            find_order(pattern).numbers,
            task.schedule,
            self._runner,
            read_torques_nm([sheet.spec(name) if name else None for name in names]),
        )
        self._place.open_board(self._evenness)

    def remove(self, index: int) -> None:
        """Takes a pattern out of the sheet."""
        self._place.apply(Remove(("patterns", index)))

    def _fetch(self, name: str, read: Callable[[], Ground], then: Callable[[Any], None]) -> None:
        errand = Errand(f"Opening {name}", self)
        errand.done.connect(then)
        self._place.show_errand(errand)
        self._runner.run(errand, lambda _: read())

    def _show(self, index: int | None, pattern: Pattern | None, ground: Ground) -> None:
        place = self._place
        if self._board is None:
            self._board = PatternBoard(place.look, place.factor)
            self._board.kept.connect(self._keep)
            self._board.photo_wanted.connect(self._lay_photo)
            self._board.file_wanted.connect(self._lay_file)
            self._board.keys_wanted.connect(self._show_keys)
            self._board.closed.connect(self._tell_left)
        self._index, self._desk, self._kept = index, place.writing, False
        data = place.writing.data if place.writing is not None else FixedDict()
        self._board.show_pattern(
            pattern, ground.image, ground.size, ground.name, list_photo_files(data),
            [name for k, name in enumerate(_list_names(data)) if k != index],
        )  # fmt: skip
        place.open_board(self._board)

    def _show_keys(self) -> None:
        """The keys of the board, over it; afterwards it is there again as it was."""
        place, board = self._place, self._board
        if board is None or place.board is not board:
            return
        keys = KeysBoard("Keys of a pattern", place.look, place.factor)
        keys.show_groups(PATTERN_KEYS)
        place.open_board(keys)
        # After the place has ended the one board it may lie under another again.
        keys.closed.connect(lambda: place.open_board(board))
        keys.closed.connect(keys.deleteLater)

    def _tell_left(self) -> None:
        """A new pattern that was left is nowhere, and that is told."""
        if self._index is None and not self._kept and self._desk is self._place.writing:
            self._place.notice.tell(
                "Nothing was kept: no pattern was added.", next="Space on the board keeps one."
            )

    def _lay_photo(self, name: str) -> None:
        """A photo of the sheet for the board that is open."""
        desk, board = self._desk, self._board
        if desk is None or board is None:
            return

        def read() -> Ground:
            return Ground(*decode(desk.read_photo(name), PICTURE_BOX), name)

        self._fetch(name, read, self._give_ground)

    def _lay_file(self) -> None:
        """A photo from a file for the board that is open; the sheet takes it in."""
        desk = self._desk
        files = self._place.choose_photos(OF_PART) if desk is not None else []
        if not files or desk is None:
            return
        self._fetch(FilePath(files[0]).name, lambda: _take_in(desk, files[0]), self._give_ground)

    def _give_ground(self, ground: Ground) -> None:
        board = self._board
        if board is not None and board is self._place.board and ground.image is not None:
            board.lay_photo(ground.image, ground.size, ground.name)

    def _keep(self, pattern: Pattern) -> None:
        desk = self._place.writing
        if desk is None or desk is not self._desk:
            return
        self._kept = True
        held = desk.data.get("patterns")
        entries = held if isinstance(held, FixedList) else FixedList()
        if self._index is None or self._index >= len(entries):
            edit: Edit = Add(("patterns", len(entries)), pattern)
        else:
            put = SetValue(("patterns", self._index), pattern)
            old = entries[self._index].get("name")
            parts: tuple[Edit, ...] = (put,)
            if isinstance(old, str) and old and old != pattern.name:
                parts = (Rename("pattern", old, pattern.name), put)
            edit = Together(parts, f"change of pattern '{pattern.name}'")
        self._place.apply(edit)
        self._place.choose(("patterns",))
