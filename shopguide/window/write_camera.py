"""The camera in Write: opened on a board, and each picture taken goes into the step at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QImage

from shopguide.errors import Trouble
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window import camera
from shopguide.window.background import Errand, Runner
from shopguide.window.camera import Camera
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_photos import Added

if TYPE_CHECKING:
    from shopguide.window.camera_board import CameraBoard
    from shopguide.window.write_place import WritePlace


class CameraDesk(QObject):
    """Opens the camera over the step that is shown. What it needs of the machine is replaceable."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        super().__init__(place)
        self._place, self._runner = place, runner
        self.load: Callable[[], None] = camera.load
        self.ask: Callable[[QObject, Callable[[bool], None]], None] = camera.ask_permission
        self.make: Callable[[], Camera] = camera.make_camera
        self._board: CameraBoard | None = None
        self._desk: WriteDesk | None = None
        self._path: Path = ()
        self._added: list[FixedDict] = []

    def open(self) -> None:
        """The camera for the step that is shown, or a line that says why there is none."""
        desk, path = self._place.writing, self._place.path
        if desk is None or len(path) != 4 or self._place.errand is not None:
            return
        self._place.keep()

        def go_on(_: object = None) -> None:
            if self._is_here(desk, path):
                self.ask(self, allow)

        def allow(allowed: bool) -> None:
            # The question may have stood there for long.
            if not self._is_here(desk, path):
                return
            if not allowed:
                self._place.notice.tell_trouble(camera.tell_refused())
                return
            found = self.make()
            if found.names:
                self._show(desk, path, found)
            else:
                found.deleteLater()
                self._place.notice.tell_trouble(camera.tell_none())

        errand = Errand("Looking for a camera", self)
        errand.done.connect(go_on)
        self._place.show_errand(errand)
        self._runner.run(errand, lambda _: self.load())

    def _is_here(self, desk: WriteDesk, path: Path) -> bool:
        """True while the same step of the same sheet is in front."""
        place = self._place
        return place.writing is desk and place.path == path and place.board is None

    def _show(self, desk: WriteDesk, path: Path, found: Camera) -> None:
        self._desk, self._path, self._added = desk, path, []
        first = self._board is None
        if self._board is None:
            from shopguide.window.camera_board import CameraBoard

            self._board = CameraBoard(self._place.look, self._place.factor)
            self._board.took.connect(self._take)
            self._board.unwanted.connect(self._take_back)
        found.setParent(self)
        self._place.open_board(self._board)
        self._board.begin(found)
        if first:
            # After the place has put it away: the keys go back to the line for pictures.
            self._board.closed.connect(self._go_back)

    def _take(self, image: QImage) -> None:
        board, desk = self._board, self._desk
        if board is None or desk is None:
            return

        def keep(added: Added) -> None:
            # The board may have been closed meanwhile; the picture is in the step all the same.
            if added.names and self._place.writing is desk:
                self._added.append(desk.data)
            if self._place.board is not board:
                self._place.notice.tell(*added.told)
            elif added.names:
                board.note_taken(added.names[0], image)
            else:
                board.tell(" ".join(part for part in added.told if part))

        def fail(trouble: Trouble) -> None:
            self._place.notice.tell_trouble(trouble)

        self._place.photos.take_image(image, "camera", desk, self._path, keep, fail)

    def _take_back(self) -> None:
        """Takes the last picture back, as undo does; not where something else came after it."""
        board, desk = self._board, self._desk
        if board is None or desk is None or desk is not self._place.writing:
            return
        if self._added and self._added[-1] is desk.data:
            self._added.pop()
            desk.undo()
            board.note_back()
        else:
            board.tell("The sheet was changed since: take the picture out on the card.")

    def _go_back(self) -> None:
        if self._place.writing is not None and self._place.writing is self._desk:
            self._place.card.go_to(("add photos",))
