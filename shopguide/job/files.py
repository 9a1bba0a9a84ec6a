"""Opening and saving a job sheet: a folder with job.json and photos/, or the same zipped."""

from __future__ import annotations

import json
import time
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import Enum
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.faults import Places, refuse, tell_faults
from shopguide.job.model import Sheet
from shopguide.job.packing import (
    PHOTO_FOLDER,
    SHEET_NAME,
    Packing,
    find_packing,
    judge_picture_name,
)
from shopguide.job.picture_head import probe
from shopguide.job.references import find_loose_ends
from shopguide.job.saving import make_folders, write_all_atomically, write_atomically
from shopguide.job.text import MOST_BYTES, parse_text, write_text
from shopguide.job.upgrade import bring_up_to_date

__all__ = [
    "MOST_STEPS",
    "OpenedSheet",
    "OpeningStopped",
    "Photos",
    "check_size",
    "dump_sheet",
    "load_packing",
    "load_sheet",
    "pack_sheet",
    "read_sheet",
    "save_sheet",
    "write_atomically",
]

MOST_STEPS = 20_000

Progress = Callable[[str, int, int], None]


class OpeningStopped(SheetTrouble):
    """The opening of a sheet was called off by the one who asked for it."""


@dataclass(frozen=True)
class Photos:
    """The pictures of an opened sheet; each is read when it is asked for."""

    _packing: Packing
    _names: tuple[str, ...]

    def names(self) -> tuple[str, ...]:
        """The file names of all pictures that the sheet uses, each once, in order."""
        return self._names

    def photo_bytes(self, name: str) -> bytes:
        """The bytes of one picture. Raises SheetTrouble where it is gone or not the sheet's."""
        self._check(name)
        try:
            with self._packing.look_into(name) as data:
                return bytes(data)
        except Trouble as fault:
            raise refuse([_place(fault, name)], str(self._packing.path)) from None

    def photo_path(self, name: str) -> Path | None:
        """The file that holds the picture; None where the sheet is zipped."""
        self._check(name)
        try:
            return self._packing.photo_path(name)
        except Trouble as fault:
            raise refuse([_place(fault, name)], str(self._packing.path)) from None

    def _check(self, name: str) -> None:
        if name not in self._names:
            raise refuse(
                [
                    Trouble(
                        f'The sheet uses no picture "{name}".',
                        SHEET_NAME,
                        "Name one that stands in the sheet.",
                    )
                ],
                str(self._packing.path),
            )


@dataclass(frozen=True)
class OpenedSheet:
    """A sheet with its pictures.

    path: the folder or the zip.  raw: job.json as it was read.
    """

    sheet: Sheet
    path: Path
    raw: bytes = field(repr=False)
    photos: Photos = field(repr=False)

    def names(self) -> tuple[str, ...]:
        """The file names of all pictures that the sheet uses, each once, in order."""
        return self.photos.names()

    def photo_bytes(self, name: str) -> bytes:
        """The bytes of one picture. Raises SheetTrouble where it is gone or not the sheet's."""
        return self.photos.photo_bytes(name)

    def photo_path(self, name: str) -> Path | None:
        """The file that holds the picture; None where the sheet is zipped."""
        return self.photos.photo_path(name)


def load_sheet(
    path: Path,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> OpenedSheet:
    """Open a folder, the job.json in it, or a zip.

    progress is told what is being done, how many are done and of how many; cancelled is asked
    between. Raises SheetTrouble with every fault found, or OpeningStopped.
    """
    path = Path(path)
    _stop_where_cancelled(path, cancelled)
    if progress is not None:
        progress("Reading the sheet", 0, 1)
    try:
        packing = find_packing(path)
    except Trouble as fault:
        placed = Trouble(fault.what, fault.where or str(path), fault.next)
        raise refuse([placed], str(path)) from None
    return load_packing(packing, path, progress, cancelled)


def load_packing(
    packing: Packing,
    path: Path,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> OpenedSheet:
    """Open a sheet whose files lie in a packing. path: what is told in a trouble.

    Raises SheetTrouble with every fault found, or OpeningStopped.
    """

    def report(doing: str, done: int, total: int) -> None:
        _stop_where_cancelled(path, cancelled)
        if progress is not None:
            progress(doing, done, total)

    try:
        raw = packing.read_sheet()
    except Trouble as fault:
        placed = Trouble(fault.what, fault.where or str(path), fault.next)
        raise refuse([placed], str(path)) from None
    sheet, places, faults = _read(raw, SHEET_NAME, str(path), report)
    faults += _find_picture_faults(sheet, places, packing, report)
    if faults:
        raise refuse(faults, str(path))
    return OpenedSheet(sheet, packing.path, raw, Photos(packing, sheet.photo_files()))


def _stop_where_cancelled(path: Path, cancelled: Callable[[], bool] | None) -> None:
    if cancelled is not None and cancelled():
        raise OpeningStopped("The opening was stopped.", str(path), "Open it again.")


def read_sheet(raw: bytes, where: str = SHEET_NAME) -> Sheet:
    """The sheet in these bytes, its pictures not looked at. Raises SheetTrouble with all faults."""
    sheet, _, faults = _read(raw, where, where, lambda *_: None)
    if faults:
        raise refuse(faults, where)
    return sheet


def dump_sheet(sheet: Sheet) -> bytes:
    """The sheet as tidy JSON in UTF-8, without what is as it is by default."""
    return write_text(_make_plain(sheet))


def save_sheet(
    sheet: Sheet, folder: Path, photos: Mapping[str, bytes | Path] | None = None
) -> None:
    """Write job.json, and these pictures into photos/, each by its file name.

    Everything is written beside first, then exchanged, job.json last. Pictures that are there
    already stay. Raises Trouble when it cannot be done; what was saved before is then whole.
    """
    raw = dump_sheet(sheet)
    check_size(raw, folder)
    if len(sheet.steps) > MOST_STEPS:
        raise Trouble(*_tell_many_steps(len(sheet.steps), str(folder / SHEET_NAME)))
    contents: dict[Path, bytes | Path] = {}
    for name, content in (photos or {}).items():
        fault = judge_picture_name(name)
        if fault is not None:
            raise Trouble(fault[0], str(folder / PHOTO_FOLDER), fault[1])
        contents[folder / PHOTO_FOLDER / name] = content
    contents[folder / SHEET_NAME] = raw
    with make_folders(folder, *([folder / PHOTO_FOLDER] if photos else [])):
        write_all_atomically(contents)


def check_size(raw: bytes, folder: Path) -> None:
    """Raises Trouble where a job.json of these bytes could not be opened again."""
    if len(raw) > MOST_BYTES:
        raise Trouble(
            f"The sheet has {len(raw) / 1e6:.1f} MB; at most {MOST_BYTES // 1_000_000} MB can be "
            "opened again.",
            str(folder / SHEET_NAME),
            "Split the job into two sheets.",
        )


def pack_sheet(
    opened: OpenedSheet, zip_path: Path, tell: Callable[[int, int], None] | None = None
) -> None:
    """Write job.json as it was read and the pictures it uses into a zip.

    Equal sheets give equal zips. tell: told before each picture how many are done and of how many;
    what it raises ends the packing. Raises Trouble when it cannot be done; an older zip of that
    name is then whole.
    """
    zip_path = Path(zip_path)
    day = opened.sheet.date
    stamp = (min(max(day.year, 1980), 2107), day.month, day.day, 0, 0, 0)

    def fill(target: Path) -> None:
        with zipfile.ZipFile(target, "w") as archive:
            _add_entry(archive, SHEET_NAME, opened.raw, stamp, zipfile.ZIP_DEFLATED)
            for done, name in enumerate(opened.names()):
                if tell is not None:
                    tell(done, len(opened.names()))
                data = opened.photo_bytes(name)
                _add_entry(archive, f"{PHOTO_FOLDER}/{name}", data, stamp, zipfile.ZIP_STORED)

    write_all_atomically({zip_path: fill})


def _add_entry(
    archive: zipfile.ZipFile, name: str, data: bytes, stamp: tuple[int, ...], method: int
) -> None:
    entry = zipfile.ZipInfo(name, stamp)  # type: ignore[arg-type]
    entry.compress_type = method
    entry.create_system = 3
    entry.external_attr = 0o100644 << 16
    archive.writestr(entry, data)


def _read(
    raw: bytes, where: str, head: str, report: Progress
) -> tuple[Sheet, Places, list[Trouble]]:
    """The sheet and its faults of reference. Raises SheetTrouble where the models do not hold."""
    try:
        data, oddities = parse_text(raw, where)
        data, format_fault = bring_up_to_date(data, where)
        _check_steps(data, where)
    except Trouble as fault:
        raise refuse([fault], head) from None
    places = Places(data, where)
    faults = [format_fault] if format_fault else []
    faults += [Trouble(odd.what, places.tell(odd.path), odd.next) for odd in oddities]
    report("Checking the sheet", 0, 1)
    try:
        # By way of JSON once more: that is where pydantic takes lists as tuples and texts as
        # dates while being strict about everything else.
        sheet = Sheet.model_validate_json(json.dumps(data), strict=True)
    except ValidationError as fault:
        faults += tell_faults(fault, data, where, [odd.path for odd in oddities])
        raise refuse(faults, head) from None
    return sheet, places, faults + find_loose_ends(sheet, places)


def _check_steps(data: dict[str, Any], where: str) -> None:
    stages = data.get("stages")
    count = sum(
        len(stage["steps"])
        for stage in (stages if isinstance(stages, list) else ())
        if isinstance(stage, dict) and isinstance(stage.get("steps"), list)
    )
    if count > MOST_STEPS:
        raise Trouble(*_tell_many_steps(count, where))


def _tell_many_steps(count: int, where: str) -> tuple[str, str, str]:
    return (
        f"The sheet has {count:,} steps; at most {MOST_STEPS:,} are possible.",
        where,
        "Split the job into several sheets.",
    )


def _find_picture_faults(
    sheet: Sheet, places: Places, packing: Packing, report: Progress
) -> list[Trouble]:
    """What is wrong with the pictures, each told where the sheet first uses it."""
    uses: dict[str, tuple[str | int, ...]] = {}
    for index, pattern in enumerate(sheet.patterns):
        if pattern.photo is not None:
            uses.setdefault(pattern.photo.file, ("patterns", index, "photo", "file"))
    for stage_index, stage in enumerate(sheet.stages):
        for step_index, step in enumerate(stage.steps):
            for index, photo in enumerate(step.photos):
                uses.setdefault(
                    photo.file,
                    ("stages", stage_index, "steps", step_index, "photos", index, "file"),
                )
    faults = []
    folded: dict[str, str] = {}
    shown_at = 0.0
    for done, (name, path) in enumerate(uses.items()):
        # A report may cost a repaint, so it is not made for each of thousands of pictures.
        if time.monotonic() - shown_at > 0.05:
            report("Looking at the pictures", done, len(uses))
            shown_at = time.monotonic()
        if judge_picture_name(name) is not None:
            continue
        other = folded.setdefault(name.casefold(), name)
        if other != name:
            faults.append(
                Trouble(
                    f'"{name}" and "{other}" differ in capitals only, which not every computer '
                    "can tell apart.",
                    places.tell(path),
                    "Rename one of them.",
                )
            )
            continue
        try:
            with packing.look_into(name) as data:
                probe(data, name)
        except Trouble as fault:
            faults.append(Trouble(fault.what, places.tell(path), fault.next))
    return faults


def _place(fault: Trouble, name: str) -> Trouble:
    return Trouble(fault.what, fault.where or f"{PHOTO_FOLDER}/{name}", fault.next)


def _make_plain(value: Any) -> Any:
    """A model as dicts, lists, texts and numbers, without keys that hold their default."""
    if isinstance(value, BaseModel):
        fields = type(value).model_fields
        plain = {
            key: _make_plain(held)
            for key, info in fields.items()
            if (held := getattr(value, key)) != info.default or key == "kind"
        }
        # The key by which a reader tells which keys to expect comes first.
        if "kind" in fields and not fields["kind"].is_required():
            plain = {"kind": plain.pop("kind"), **plain}
        return plain
    if isinstance(value, tuple):
        return [_make_plain(entry) for entry in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value
