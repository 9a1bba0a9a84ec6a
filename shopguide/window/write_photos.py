"""Pictures taken into the step that is written, off the window's thread."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.album import STRIPPED, Album
from shopguide.job.edits import SetValue, Together
from shopguide.job.written import FixedDict
from shopguide.window.background import Errand, Runner
from shopguide.window.write_card import find
from shopguide.window.write_fixes import list_step_paths

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace

MOST_LINES = 6
"""So much is told of pictures one by one; of the others how many there are."""


class PhotoDesk:
    """Takes in picture files, folders of them and what was copied, each picture once."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner

    def add_folder(self) -> None:
        """Asks for a folder and takes every picture in it into the step that is shown."""
        folder = self._place.choose_photo_folder()
        if folder:
            self.add([folder])

    def paste(self) -> None:
        """Takes in the picture, or the picture files, that were copied last."""
        copied = QApplication.clipboard().mimeData()
        files = [url.toLocalFile() for url in copied.urls() if url.isLocalFile()]
        image = QApplication.clipboard().image()
        if files:
            self.add(files)
        elif not image.isNull():
            self.add([], image)
        else:
            self._place.notice.tell("No picture was copied.", next="Copy one, and paste again.")

    def add(self, sources: Sequence[str], image: QImage | None = None) -> None:
        """Takes files, folders and perhaps an image into the step that is shown."""
        desk, path = self._place.writing, self._place.path
        if desk is None or len(path) != 4 or not (sources or image):
            return
        step = find(desk.data, path)
        files = [FilePath(source) for source in sources]
        one = files[0].name if len(files) == 1 else ""
        title = f"Taking in {one or (f'{len(files)} pictures' if files else 'a copied picture')}"
        errand = Errand(title, self._place)

        def work(errand: Errand) -> Album:
            if image is None:
                return desk.take_in(files, errand.tell, errand.is_cancelled)
            with tempfile.TemporaryDirectory() as folder:
                copied = FilePath(folder) / "pasted.png"
                if not image.save(str(copied)):
                    raise Trouble(
                        "The copied picture cannot be kept.", next="Save it as a file and add that."
                    )
                return desk.take_in([copied], errand.tell, errand.is_cancelled)

        def keep(album: Album) -> None:
            if desk is not self._place.writing:
                return
            # The step may have been moved meanwhile; it is found again by being the same piece.
            at = next((p for p in list_step_paths(desk.data) if find(desk.data, p) is step), path)
            held = find(desk.data, (*at, "photos"))
            known = [p.get("file") for p in held or () if isinstance(p, FixedDict)]
            new = [{"file": name} for name in album.names if name not in known]
            if new:
                said = f"adding of {len(new)} picture{'s' if len(new) > 1 else ''}"
                edit = SetValue((*at, "photos"), [*(held or ()), *new])
                self._place.apply(Together((edit,), said))
            self._place.notice.tell(*_tell_album(album, len(new)))

        errand.done.connect(keep)
        self._place.show_errand(errand)
        self._runner.run(errand, work)


def _tell_album(album: Album, new: int) -> tuple[str, str, str]:
    """What was added to the step, what is to be said of single pictures, and what was left out."""
    if new:
        what = f"{new} picture{'s' if new > 1 else ''} added to this step."
    elif album.kept:
        what = "These pictures are in this step already."
    else:
        what = "No picture was added."
    lines = [line for line in album.tell()[1:] if line != STRIPPED]
    if len(lines) > MOST_LINES:
        lines[MOST_LINES - 1 :] = [f"And {len(lines) - MOST_LINES + 1} more of this sort."]
    return what, "\n".join(lines), STRIPPED if album.contents else ""
