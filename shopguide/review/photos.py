"""Rules about photos: each is there, used, large enough, and told to who cannot see it."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.files import OpenedSheet
from shopguide.job.model import Open
from shopguide.job.packing import PHOTO_FOLDER, find_packing
from shopguide.job.picture import probe
from shopguide.review.facts import PictureSizes, SheetFacts, StepFacts
from shopguide.review.rule import HERE, Fix, Found, Place, Rule

LEAST_PX = 1200
"""The longer side of a photo that shows a screw on screen and on half a page; our own measure."""


def measure_pictures(opened: OpenedSheet) -> PictureSizes:
    """Width and height of each picture beside an opened sheet, used or not.

    What cannot be read is left out: it is told as not there.
    """
    sizes: dict[str, tuple[int, int]] = {}
    packing = find_packing(opened.path)
    for name in sorted(_list_files(opened.path) | set(opened.names())):
        try:
            with packing.look_into(name) as data:
                width, height, _ = probe(data, name)
        except Trouble:
            continue
        sizes[name] = (width, height)
    return sizes


def _list_files(path: Path) -> set[str]:
    """The names of the files under photos/ in a folder or zip, hidden ones left out."""
    if path.is_dir():
        folder = path / PHOTO_FOLDER
        names = [one.name for one in folder.iterdir()] if folder.is_dir() else []
    elif zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            parts = [name.split("/") for name in archive.namelist() if not name.endswith("/")]
        names = [part[-1] for part in parts if len(part) > 1 and part[-2] == PHOTO_FOLDER]
    else:
        names = []
    return {name for name in names if not name.startswith(".")}


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
