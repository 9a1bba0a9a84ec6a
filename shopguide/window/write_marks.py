"""Marks in Write: a step's picture is opened on a board of its own, and its marks kept there."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QSize
from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.edits import SetValue, Together
from shopguide.job.model import Photo
from shopguide.job.text import Path
from shopguide.job.written import read_piece
from shopguide.window.background import Errand, Runner
from shopguide.window.pictures import decode
from shopguide.window.write_card import find
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_photo_block import PhotoBlock

if TYPE_CHECKING:
    from shopguide.window.marks_board import MarksBoard
    from shopguide.window.write_place import WritePlace

PICTURE_BOX = QSize(2400, 1800)
"""At this size the photo is decoded; its marks count in the full picture."""


class MarksDesk(QObject):
    """Opens the marks board over Write and puts the marks kept there into the sheet."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        super().__init__(place)
        self._place, self._runner = place, runner
        self._board: MarksBoard | None = None
        self._path: Path = ()
        self._desk: WriteDesk | None = None

    def open_in_use(self) -> None:
        """The board with the picture on whose line the keys are."""
        block = self._place.card.find_block(QApplication.focusWidget())
        if isinstance(block, PhotoBlock):
            self.open(block.path)

    def open(self, path: Path) -> None:
        """The board with the picture of a step at this path."""
        desk = self._place.writing
        if desk is None:
            return
        self._place.keep()
        piece = find(desk.data, path)
        photo = read_piece(piece, "photos") if piece is not None else None
        if not isinstance(photo, Photo):
            self._place.notice.tell(
                "This picture's words or marks cannot be read yet.",
                next="F9 goes to what is to be put right.",
            )
            return

        def read() -> tuple[QImage, QSize]:
            try:
                image, size = decode(desk.read_photo(photo.file), PICTURE_BOX)
            except OSError as fault:
                raise Trouble(
                    "The picture cannot be read.", photo.file, f"Add it again ({fault.strerror})."
                ) from None
            if image.isNull():
                raise Trouble("The picture cannot be shown.", photo.file, "Add it again.")
            return image, size

        def show(found: tuple[QImage, QSize]) -> None:
            # The sheet may have been left, or changed, while the picture was read.
            if desk is not self._place.writing:
                return
            if find(desk.data, path) is not piece:
                self._place.notice.tell("The picture was changed meanwhile.", next="Open it again.")
            elif self._place.has_room_for(photo.file):
                self._show(path, photo, *found)

        errand = Errand(f"Opening {photo.file}", self)
        errand.done.connect(show)
        self._place.show_errand(errand)
        self._runner.run(errand, lambda _: read())

    def _show(self, path: Path, photo: Photo, image: QImage, size: QSize) -> None:
        place = self._place
        self._path, self._desk = path, place.writing
        first = self._board is None
        if self._board is None:
            from shopguide.window.marks_board import MarksBoard

            self._board = MarksBoard(place.look, place.factor)
            self._board.kept.connect(self._keep)
        self._board.show_photo(photo, image, size)
        place.open_board(self._board)
        if first:
            # After the place has put it away: the keys go back to the picture's line.
            self._board.closed.connect(self._go_back)

    def _go_back(self) -> None:
        if self._place.writing is not None and self._place.writing is self._desk:
            self._place.card.go_to(self._path)

    def _keep(self, photo: Photo) -> None:
        desk = self._place.writing
        if desk is None or desk is not self._desk:
            return
        put = SetValue(self._path, photo)
        self._place.apply(Together((put,), f"change of marks on {photo.file}"))
