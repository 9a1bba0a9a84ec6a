"""Pictures taken into the step that is written, off the window's thread."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtGui import QImage
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.album import NOTES_KEPT, STRIPPED, Album
from shopguide.job.edits import SetValue, Together
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window.background import Errand, Runner
from shopguide.window.write_card import find
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_whereabouts import Whereabouts

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace

MOST_LINES = 6
"""So much is told of pictures one by one; of the others how many there are."""
JPEG_QUALITY = 95
"""In which a camera's picture is handed on; the sheet keeps it as it is then."""
STEP_GONE = (
    "The step was taken out meanwhile; no picture was added.",
    "",
    "Ctrl Z brings it back. Then add them once more.",
)
NOTES_OUT = "Place and serial numbers are left out. K keeps them."
NOTES_IN = "Place and serial numbers stay in. K leaves them out."


class Added(NamedTuple):
    """The names of the pictures that are new in the step, and what there is to tell."""

    names: list[str]
    told: tuple[str, str, str]


class PhotoDesk:
    """Takes in picture files, folders of them and what was copied, each picture once."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner
        self.keeps_notes = False
        """Whether the camera's notes stay in what is added; never without being asked for."""

    def begin(self) -> None:
        """Another sheet is taken up: what was asked for another one is not asked for this one."""
        self.keeps_notes = False
        self._place.card.say_notes(NOTES_OUT)

    def change_notes(self) -> None:
        """Keeps place, serial numbers and the other notes from now on, or leaves them out again."""
        self.keeps_notes = not self.keeps_notes
        self._place.card.say_notes(NOTES_IN if self.keeps_notes else NOTES_OUT)
        if self.keeps_notes:
            self._place.notice.tell(
                "From now on the camera's notes are kept in the pictures added.",
                next="Whoever gets the sheet can read where and with what they were taken. "
                "K leaves the notes out again. The signed paper never holds them.",
            )
        else:
            self._place.notice.tell(
                "From now on the camera's notes are left out of the pictures added.",
                next="Pictures added before stay as they are.",
            )
        self._place.say()

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
            desk, path = self._place.writing, self._place.path
            if desk is not None and len(path) == 4:
                self.take_image(image, "pasted", desk, path, self._tell)
        else:
            self._place.notice.tell("No picture was copied.", next="Copy one, and paste again.")

    def add(self, sources: Sequence[str]) -> None:
        """Takes files and folders into the step that is shown."""
        desk, path = self._place.writing, self._place.path
        if desk is None or len(path) != 4 or not sources:
            return
        files = [FilePath(source) for source in sources]
        keeps = self.keeps_notes
        one = _shorten(files[0].name) if len(files) == 1 else f"{len(files)} pictures"
        errand = Errand(f"Taking in {one}", self._place)
        self._place.show_errand(errand)
        self._run(
            errand,
            lambda errand: desk.take_in(files, errand.tell, errand.is_cancelled, keep_notes=keeps),
            desk,
            path,
            self._tell,
        )

    def take_image(
        self,
        image: QImage,
        stem: str,
        desk: WriteDesk,
        path: Path,
        then: Callable[[Added], object],
        fail: Callable[[Trouble], object] | None = None,
    ) -> None:
        """Takes an image into the step at a path as a file with this stem; `then` is told.

        fail: told where it cannot be done; without it the place shows how far it is, and that.
        """
        camera = stem == "camera"

        def work(errand: Errand) -> Album:
            with tempfile.TemporaryDirectory() as folder:
                # What comes from a screen is kept to the pixel, what comes from a camera is not
                # ten times as large for it.
                copied = FilePath(folder) / (f"{stem}.jpg" if camera else f"{stem}.png")
                if not image.save(str(copied), quality=JPEG_QUALITY if camera else -1):
                    raise Trouble(
                        f"The {stem} picture cannot be kept.",
                        next="Save it as a file and add that.",
                    )
                return desk.take_in([copied], errand.tell, errand.is_cancelled)

        errand = Errand(f"Taking in the {stem} picture", self._place)
        if fail is None:
            self._place.show_errand(errand)
        else:
            errand.failed.connect(fail)
        self._run(errand, work, desk, path, then)

    def _run(
        self,
        errand: Errand,
        work: Callable[[Errand], Album],
        desk: WriteDesk,
        path: Path,
        then: Callable[[Added], object],
    ) -> None:
        """Runs it. Who wants to know more of the errand connects to it before: it may be quick."""
        step = Whereabouts(desk, path)

        def keep(album: Album) -> None:
            if desk is not self._place.writing:
                return
            at = step.path
            if not at:
                then(Added([], STEP_GONE))
                return
            held = find(desk.data, (*at, "photos"))
            known = [p.get("file") for p in held or () if isinstance(p, FixedDict)]
            new = [name for name in album.names if name not in known]
            if new:
                said = f"adding of {len(new)} picture{'s' if len(new) > 1 else ''}"
                added = [*(held or ()), *({"file": name} for name in new)]
                edit = Together((SetValue((*at, "photos"), added),), said)
                if not self._place.apply(edit):
                    return  # the place has told why
            then(Added(new, _tell_album(album, len(new))))

        errand.done.connect(keep)
        errand.ended.connect(step.deleteLater)
        self._runner.run(errand, work)

    def _tell(self, added: Added) -> None:
        self._place.notice.tell(*added.told)


def _shorten(name: str) -> str:
    """A file's name as one line can hold it, whatever its owner put into it."""
    shown = "".join(sign if sign.isprintable() else "·" for sign in name)
    return shown if len(shown) <= 60 else f"{shown[:40]}…{shown[-16:]}"


def _tell_album(album: Album, new: int) -> tuple[str, str, str]:
    """What was added to the step, what is to be said of single pictures, and what was left out."""
    if new:
        what = f"{new} picture{'s' if new > 1 else ''} added to this step."
    elif album.kept:
        what = "These pictures are in this step already."
    else:
        what = "No picture was added."
    lines = [line for line in album.tell()[1:] if line not in (STRIPPED, NOTES_KEPT)]
    if len(lines) > MOST_LINES:
        lines[MOST_LINES - 1 :] = [f"And {len(lines) - MOST_LINES + 1} more of this sort."]
    return what, "\n".join(lines), album.told_of_notes if album.contents else ""
