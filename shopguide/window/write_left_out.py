"""Pictures that lie beside a sheet and are to go: taken out at the next saving, undone till then.

They stand nowhere in job.json, so that every state of the draft has its own set of them. What is
taken out waits with the draft's pictures until the sheet is closed, and comes back by undo.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.edits import Edit
from shopguide.job.packing import PHOTO_FOLDER, judge_picture_name
from shopguide.job.written import FixedDict


@dataclass(frozen=True, slots=True)
class LeaveOut:
    """Take a picture that nothing shows out of the sheet's folder at the next saving."""

    name: str

    beside = True
    """What it changes is beside the sheet: the data after it are others that hold the same."""

    def make(self, data: FixedDict) -> FixedDict:
        if judge_picture_name(self.name) is not None:
            raise Trouble(f"{self.name} is no picture of the sheet.", next="Look at the review.")
        return FixedDict(data)

    def tell(self, data: FixedDict) -> str:
        return f"removal of {self.name} at the next saving"


class LeftOut:
    """Which pictures are to go, by the state of the draft, and which are gone already."""

    def __init__(self) -> None:
        # The data are held, so that no other ones can come to be at their address.
        self._states: dict[int, tuple[FixedDict, frozenset[str]]] = {}
        self.gone: set[str] = set()

    def list_names(self, data: FixedDict) -> frozenset[str]:
        """The names of the pictures that are to go in this state of the draft."""
        held = self._states.get(id(data))
        return held[1] if held is not None else frozenset()

    def follow(self, before: FixedDict, after: FixedDict, edit: Edit) -> None:
        """Notes what an edit led to."""
        names = self.list_names(before)
        if isinstance(edit, LeaveOut):
            names |= {edit.name}
        if names:
            self._states[id(after)] = (after, names)

    def take_out(
        self, data: FixedDict, used: Collection[str], folder: Path, waiting: Path
    ) -> dict[str, Path]:
        """Moves what is to go out of a saved sheet's folder; where each lies then, by name.

        One that cannot be moved stays: the review tells it again.
        """
        moved: dict[str, Path] = {}
        for name in sorted(self.list_names(data) - set(used)):
            lying = folder / PHOTO_FOLDER / name
            with contextlib.suppress(OSError):
                if not lying.is_symlink() and lying.is_file():
                    waiting.mkdir(parents=True, exist_ok=True)
                    moved[name] = Path(shutil.move(lying, waiting / name))
                    self.gone.add(name)
        return moved

    def list_returning(self, data: FixedDict) -> frozenset[str]:
        """Pictures that were taken out and, after an undo, are not to be gone."""
        return frozenset(self.gone - self.list_names(data))
