"""Rules about photos: each is there, used, large enough, and told to who cannot see it."""

from __future__ import annotations

import unicodedata
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.files import OpenedSheet
from shopguide.job.model import Open
from shopguide.job.packing import PHOTO_FOLDER, Packing, find_packing
from shopguide.job.picture_head import probe
from shopguide.review.facts import PictureSizes, SheetFacts, StepFacts
from shopguide.review.rule import HERE, Fix, Found, Place, Rule

LEAST_PX = 1200
"""The longer side of a photo that shows a screw on screen and on half a page; our own measure."""


Stamp = tuple[str, int, int]
"""By which a file is known as the same: its path, size and time of change."""


class Gauge:
    """Measures the pictures of a sheet, each once as long as its file is the same."""

    def __init__(self) -> None:
        self._held: dict[tuple[str, Stamp], tuple[int, int] | None] = {}
        self.measured = 0
        """How many files the last call looked into."""

    def measure(
        self,
        packing: Packing | None,
        used: Sequence[str] = (),
        waiting: Mapping[str, Path] | None = None,
        *,
        unused: bool = True,
    ) -> PictureSizes | None:
        """Width and height of each picture at hand by name; None where there is no place for any.

        packing: where the saved ones lie. used: those that the sheet names. waiting: files of those
        that are not saved yet. unused: with the saved ones that the sheet does not name. What
        cannot be read is left out: it is told as not there.
        """
        waiting = waiting or {}
        self.measured = 0
        if packing is None and not waiting:
            return None
        held: dict[tuple[str, Stamp], tuple[int, int] | None] = {}
        fresh: Packing | None = None
        lying = _list_what_lies(packing)
        names = set(used) | (set(lying) if unused else set())
        for name in sorted(names):
            path = waiting.get(name) if name in used else None
            file = path or lying.get(name)
            if file is None:
                continue
            try:
                stamp = _stamp(file)
                key = (name, stamp)
                if key not in self._held:
                    if path is None and fresh is None and packing is not None:
                        # A zip unpacks so much and no more; and a folder is listed anew.
                        fresh = find_packing(packing.path)
                    self.measured += 1
                    held[key] = _look_into(name, path, fresh)
                else:
                    held[key] = self._held[key]
            except (OSError, Trouble):
                continue
        self._held = held
        return {name: size for (name, _), size in held.items() if size is not None}


def _stamp(path: Path) -> Stamp:
    found = path.stat()
    return (str(path), found.st_size, found.st_mtime_ns)


def _look_into(name: str, path: Path | None, packing: Packing | None) -> tuple[int, int] | None:
    """The size of a picture; None where it cannot be read."""
    try:
        if path is not None:
            width, height, _ = probe(path.read_bytes(), name)
        elif packing is not None:
            with packing.look_into(name) as data:
                width, height, _ = probe(data, name)
        else:
            return None
    except Trouble:
        return None
    return (width, height)


def measure_pictures(opened: OpenedSheet) -> PictureSizes:
    """Width and height of each picture beside an opened sheet, used or not.

    What cannot be read is left out: it is told as not there.
    """
    return Gauge().measure(find_packing(opened.path), opened.names()) or {}


def _list_what_lies(packing: Packing | None) -> dict[str, Path]:
    """The files at hand; none where folder or zip went bad or away since they were opened."""
    try:
        return _list_files(packing.path) if packing is not None else {}
    except (OSError, zipfile.BadZipFile):
        return {}


def _list_files(path: Path) -> dict[str, Path]:
    """The files under photos/ in a folder, or the zip for each that lies in it; no hidden ones.

    Names are in the Unicode form of the sheet, whichever the disk has.
    """
    if path.is_dir():
        folder = path / PHOTO_FOLDER
        found = [(one.name, one) for one in folder.iterdir()] if folder.is_dir() else []
    elif zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            parts = [name.split("/") for name in archive.namelist() if not name.endswith("/")]
        found = [(part[-1], path) for part in parts if len(part) > 1 and part[-2] == PHOTO_FOLDER]
    else:
        found = []
    return {
        unicodedata.normalize("NFC", name): file for name, file in found if not name.startswith(".")
    }


def _at_photo(name: str, step: int = 0, field: str = "") -> Place:
    return Place(step, listed="photos", name=name, detail=f"photo {name}", field=field)


def _list_uses(facts: SheetFacts) -> dict[str, Place]:
    """Where each picture is used first."""
    uses: dict[str, Place] = {}
    for number, step in facts.walk():
        for photo in step.step.photos:
            uses.setdefault(photo.file, _at_photo(photo.file, number, "file"))
    for pattern in facts.sheet.patterns:
        if pattern.photo is not None:
            uses.setdefault(
                pattern.photo.file, Place(listed="patterns", name=pattern.name, field="photo")
            )
    return uses


def find_photo_not_there(facts: SheetFacts) -> Iterator[Found]:
    """Photos that the sheet names and that are not at hand."""
    if facts.pictures is None:
        return
    for name, place in _list_uses(facts).items():
        if name not in facts.pictures:
            yield Found(
                place,
                f'The photo "{name}" is not there. Add it again, or take it out here.',
                Fix("remove photo", "Take it out here", {"step": place.step, "file": name})
                if place.step
                else None,
            )


def find_photo_unused(facts: SheetFacts) -> Iterator[Found]:
    """Pictures that lie beside the sheet and that nothing shows."""
    if facts.pictures is None:
        return
    uses = _list_uses(facts)
    for name in facts.pictures:
        if name not in uses:
            yield Found(
                Place(listed="pictures", name=name),
                "No step and no pattern shows it. Add it to a step, or remove it.",
                Fix("remove picture", "Remove it", {"name": name}),
            )


def find_photo_too_small(facts: SheetFacts) -> Iterator[Found]:
    """Photos with too few pixels to show a screw."""
    if facts.pictures is None:
        return
    for name, place in _list_uses(facts).items():
        size = facts.pictures.get(name)
        if size is not None and max(size) < LEAST_PX:
            yield Found(
                place,
                f"The photo has {size[0]} by {size[1]} pixels; the longer side needs "
                f"{LEAST_PX} at least. Take a larger one.",
            )


def find_photo_without_alt(facts: StepFacts) -> Iterator[Found]:
    """Photos that somebody who cannot see them learns nothing of."""
    for photo in facts.step.photos:
        if not photo.alt:
            yield Found(
                _at_photo(photo.file, field="alt"),
                "It has no alternative text. Write what is to be seen in it.",
                Fix(
                    "change photo",
                    "Take its caption for it",
                    {"step": HERE, "file": photo.file, "changes": {"alt": photo.caption}},
                )
                if photo.caption
                else None,
            )


def find_no_photo_before(facts: SheetFacts) -> Iterator[Found]:
    """Sheets that disconnect things or tie them aside and have no photo at all."""
    first = None
    for number, step in facts.walk():
        if step.step.photos or "photo" in step.kinds:
            return
        if first is None:
            first = next(
                (
                    Place(number, index)
                    for index, task, *_ in step.moves
                    if isinstance(task, Open) and task.how in ("disconnect", "park aside")
                ),
                None,
            )
    if first is not None:
        yield Found(
            first,
            "Something is disconnected or moved aside here, and the sheet has no photo of how it "
            "was. Add a photo, or a task that takes one.",
            Fix(
                "add task",
                "Add the task that takes a photo",
                {
                    "after": f"{first.step}.{first.task - 1}",
                    "task": {"kind": "photo", "text": "Take a photo before you undo anything."},
                },
            ),
        )


PHOTO_RULES: tuple[Rule, ...] = (
    Rule(
        "photo is there",
        "stops work",
        "a sheet whose photo is gone cannot be opened for work; common practice, no source",
        find_photo_not_there,
    ),
    Rule(
        "photo has alternative text",
        "hint",
        "a picture that is not described tells nothing to who cannot see it; "
        "WCAG 2.2, 1.1.1, from memory",
        find_photo_without_alt,
        "step",
    ),
    Rule(
        "photo is used",
        "hint",
        "a picture that nothing shows makes the sheet heavy; common practice, no source",
        find_photo_unused,
    ),
    Rule(
        "photo is large enough",
        "hint",
        "in a small photo the screw that matters is a blot; common practice, no source",
        find_photo_too_small,
    ),
    Rule(
        "a photo shows how it was",
        "hint",
        "the way of a cable or hose is forgotten within hours; common practice, no source",
        find_no_photo_before,
    ),
)
