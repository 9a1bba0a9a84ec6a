"""What lies under a pattern on its board: which photo, and the photos that lay there before."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize
from PySide6.QtGui import QImage

from shopguide.bolts import draft as drafting
from shopguide.bolts.homography import Mapping
from shopguide.window.pattern_fields import NO_PHOTO

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard

MOST_KEPT = 6
"""So many photos are kept at hand while one looks for the right one."""
UNKNOWN = QSize(1600, 1200)


class PatternGround:
    """The photos of the sheet by name; those shown lately with their pictures."""

    def __init__(self, board: PatternBoard) -> None:
        self._board = board
        self._pictures: dict[str, tuple[QImage | None, QSize]] = {}
        self._mappings: dict[str, Mapping] = {}
        self._lying = ""
        self.names: tuple[str, ...] = ()

    def begin(self, picture: QImage | None, size: QSize, file: str, names: list[str]) -> None:
        """The photo under the draft as it is opened, "" for none, and all photos of the sheet."""
        self._pictures = {file: (picture, size)} if file else {}
        self._mappings, self._lying = {}, file
        self._list(names)
        self._board.table.show_board(self._board.draft, picture if file else None, size)

    @property
    def size(self) -> QSize:
        """Full size of the photo under the draft, in pixels."""
        return self._pictures.get(self._board.draft.file, (None, QSize()))[1]

    @property
    def middle(self) -> tuple[float, float]:
        """The middle of that photo."""
        return (self.size.width() / 2, self.size.height() / 2)

    def _list(self, names: list[str]) -> None:
        self.names = tuple(dict.fromkeys(names))
        self._board.side.joint.set_choices("photo", (NO_PHOTO, *self.names))

    def take(self, name: str) -> None:
        """Another photo of the sheet under the draft, or none."""
        board = self._board
        if board.draft.file and board.draft.scaled:
            self._mappings[board.draft.file] = board.draft.to_mm
        picture, size = self._pictures.get(name, (None, QSize()))
        if name == NO_PHOTO:
            board.apply("the photo", drafting.take_photo_away(board.draft), merge="photo")
        elif picture is not None:
            self.lay(picture, size, name)
        else:
            board.photo_wanted.emit(name)

    def lay(self, picture: QImage, size: QSize, name: str) -> None:
        """Lays a photo under what is drawn; one that lay there before has its scale again."""
        board = self._board
        self._pictures.pop(name, None)
        while len(self._pictures) >= MOST_KEPT:
            del self._pictures[next(iter(self._pictures))]
        self._pictures[name] = (picture, size)
        if name not in self.names:
            self._list([*self.names, name])
        if board.draft.file == name:
            self._lying = ""
            board.tell()
            return
        draft = drafting.lay_photo(
            board.draft, name, float(size.width()), float(size.height()), self._mappings.get(name)
        )
        board.apply("the photo", draft, merge="photo")

    def follow(self) -> None:
        """After an undo the draft may lie on another photo than the one that is shown."""
        board = self._board
        if board.draft.file == self._lying:
            return
        self._lying = board.draft.file
        picture, size = self._pictures.get(self._lying, (None, UNKNOWN))
        board.table.show_board(board.draft, picture, size)
        if self._lying and picture is None:
            board.photo_wanted.emit(self._lying)
