"""Pictures taken into the step that is written, off the window's thread."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from shopguide.errors import Trouble
from shopguide.job.edits import SetValue, Together
from shopguide.job.written import FixedDict
from shopguide.window.background import Errand, Runner
from shopguide.window.write_card import find
from shopguide.window.write_fixes import list_step_paths

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


class PhotoDesk:
    """Takes in picture files, each once, without place and serial numbers."""

    def __init__(self, place: WritePlace, runner: Runner) -> None:
        self._place, self._runner = place, runner

    def add(self, files: list[str]) -> None:
        """Takes pictures into the step that is shown, off the window's thread."""
        desk, path = self._place.writing, self._place.path
        if desk is None or len(path) != 4 or not files:
            return
        step = find(desk.data, path)
        errand = Errand(
            f"Taking in {len(files)} picture{'s' if len(files) > 1 else ''}", self._place
        )

        def work(errand: Errand) -> list[tuple[str, str]]:
            found = []
            for done, name in enumerate(files):
                errand.tell(FilePath(name).name, done, len(files))
                if errand.is_cancelled():
                    break
                try:
                    data = FilePath(name).read_bytes()
                except OSError as fault:
                    raise Trouble(
                        "The picture cannot be read.",
                        name,
                        f"Choose another one ({fault.strerror or fault}).",
                    ) from None
                found.append(desk.keep_photo(data, FilePath(name).name))
            return found

        def keep(found: list[tuple[str, str]]) -> None:
            if desk is not self._place.writing:
                return
            # The step may have been moved meanwhile; it is found again by being the same piece.
            at = next((p for p in list_step_paths(desk.data) if find(desk.data, p) is step), path)
            held = find(desk.data, (*at, "photos"))
            known = [p.get("file") for p in held or () if isinstance(p, FixedDict)]
            new = [{"file": file} for file, _ in found if file not in known]
            if new:
                said = f"adding of {len(new)} picture{'s' if len(new) > 1 else ''}"
                edit = SetValue((*at, "photos"), [*(held or ()), *new])
                self._place.apply(Together((edit,), said))
            note = " ".join(dict.fromkeys(n for _, n in found if n))
            self._place.notice.tell(
                f"{len(new)} added." if new else "These pictures are in this step already.",
                note,
                "Place and serial numbers were left out of the pictures.",
            )

        errand.done.connect(keep)
        self._place.show_errand(errand)
        self._runner.run(errand, work)
