"""Handing a sheet on: packed into one zip, and unpacked from one into a folder of its own.

What comes out of a zip is what the loader would open: its limits hold, every name is a bare file
name, and nothing is written but job.json and the pictures that the sheet uses.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.files import (
    OpenedSheet,
    OpeningStopped,
    Progress,
    load_packing,
    load_sheet,
    pack_sheet,
)
from shopguide.job.packing import (
    MOST_ENTRIES,
    MOST_UNPACKED_BYTES,
    PHOTO_FOLDER,
    SHEET_NAME,
    Packing,
    find_packing,
)
from shopguide.job.picture_head import probe
from shopguide.job.saving import Content, make_folders, write_all_atomically
from shopguide.job.text import parse_text
from shopguide.job.upgrade import report_upgrade

Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Handed:
    """What was packed or unpacked.

    path: the zip or the folder that came of it.  format: the version that job.json is written in.
    words: what had to be changed on the way to today's format, line by line; job.json itself stays
    as it was written.
    """

    path: Path
    title: str
    format: str
    pictures: int
    size_bytes: int
    words: tuple[str, ...] = ()

    def tell(self) -> tuple[str, ...]:
        """What was done, in lines."""
        count = f"{self.pictures} picture{'' if self.pictures == 1 else 's'}"
        size = f"{max(0.1, self.size_bytes / 1e6):.1f} MB"
        return (f"{self.title}: job.json ({self.format}) and {count}, {size}.", *self.words)


def pack(
    source: Path | Packing,
    zip_path: Path,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Handed:
    """Packs a sheet, folder or zip, into one zip that holds nothing but what it uses.

    source: where the sheet lies, or a packing of it that lies nowhere yet. Equal sheets give equal
    zips. Raises SheetTrouble where the sheet cannot be opened, Trouble where the zip could not be
    opened again or cannot be written, OpeningStopped where `cancelled` says so; an older zip is
    then whole.
    """
    zip_path = Path(zip_path)
    if zip_path.suffix.casefold() != ".zip":
        raise Trouble(
            f"{zip_path.name} does not end in .zip.", str(zip_path), "Name it so that it does."
        )
    opened = open_source(source, progress, cancelled)
    size = len(opened.raw)
    for name in opened.names():
        path = opened.photo_path(name)
        size += path.stat().st_size if path is not None else 0
    if len(opened.names()) + 1 > MOST_ENTRIES or size > MOST_UNPACKED_BYTES:
        raise Trouble(
            f"The sheet has {len(opened.names()):,} pictures and {size / 1e9:.1f} GB; a zip of it "
            "could not be opened again.",
            str(opened.path),
            "Make the pictures smaller, or split the job into two sheets.",
        )
    pack_sheet(
        opened,
        zip_path,
        lambda done, of: _report(progress, cancelled, "Packing", done, of),
    )
    return Handed(
        zip_path,
        opened.sheet.title,
        _read_format(opened.raw),
        len(opened.names()),
        zip_path.stat().st_size,
        report_upgrade(opened.raw, SHEET_NAME).tell(),
    )


def open_source(
    source: Path | Packing, progress: Progress | None = None, cancelled: Cancelled | None = None
) -> OpenedSheet:
    """The sheet of a folder, a zip or a packing, looked over whole. Raises SheetTrouble."""
    if isinstance(source, (str, Path)):
        return load_sheet(Path(source), progress, cancelled)
    return load_packing(source, source.path, progress, cancelled)


def unpack(
    zip_path: Path,
    folder: Path,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Handed:
    """Unpacks a zipped sheet into a folder that is new or empty.

    The whole zip is judged before anything is written. Raises SheetTrouble with every fault of the
    sheet, Trouble where the folder holds something or cannot be written, OpeningStopped where
    `cancelled` says so; the folder is then as it was.
    """
    zip_path, folder = Path(zip_path), Path(folder)
    if zip_path.is_dir():
        raise Trouble(f"{zip_path.name} is a folder already.", str(zip_path), "Choose a zip.")
    _check_free(folder)
    opened = load_sheet(zip_path, progress, cancelled)
    # Opened anew: what is read of a zip is counted, and judging it has read all of it once.
    packing = find_packing(zip_path)
    size = len(opened.raw)

    def make_content(name: str, index: int) -> Content:
        def write(target: Path) -> None:
            nonlocal size
            _report(progress, cancelled, "Unpacking", index, len(opened.names()))
            size += _copy_picture(packing, name, target)

        return write

    contents: dict[Path, Content] = {
        folder / PHOTO_FOLDER / name: make_content(name, index)
        for index, name in enumerate(opened.names())
    }
    contents[folder / SHEET_NAME] = opened.raw
    folders = (folder, folder / PHOTO_FOLDER) if opened.names() else (folder,)
    with make_folders(*folders), _emptied(folder):
        write_all_atomically(contents)
    return Handed(
        folder,
        opened.sheet.title,
        _read_format(opened.raw),
        len(opened.names()),
        size,
        report_upgrade(opened.raw, SHEET_NAME).tell(),
    )


def _copy_picture(packing: Packing, name: str, target: Path) -> int:
    with packing.look_into(name) as data:
        # Judged once more, for the zip may have been exchanged since.
        probe(data, name)
        target.write_bytes(data)
        return len(data)


def _report(
    progress: Progress | None, cancelled: Cancelled | None, doing: str, done: int, of: int
) -> None:
    if cancelled is not None and cancelled():
        raise OpeningStopped(f"{doing} was stopped.", next="Nothing was left behind.")
    if progress is not None:
        progress(doing, done, of)


def _read_format(raw: bytes) -> str:
    data, _ = parse_text(raw, SHEET_NAME)
    return str(data.get("format", ""))


def _check_free(folder: Path) -> None:
    """Raises Trouble unless the folder is empty or not there yet."""
    try:
        if folder.is_symlink() and not folder.exists():
            raise Trouble(
                f"{folder.name} is a link that leads nowhere.", str(folder), "Choose another name."
            )
        if not folder.exists():
            return
        if not folder.is_dir():
            raise Trouble(f"{folder.name} is a file.", str(folder), "Choose a new folder.")
        with os.scandir(folder) as entries:
            taken = next(entries, None) is not None
        if taken:
            raise Trouble(
                f"The folder {folder.name} is not empty.",
                str(folder),
                "Choose a new or an empty folder; nothing in this one was changed.",
            )
    except (OSError, ValueError) as fault:
        raise _tell_folder(folder, fault) from fault


@contextlib.contextmanager
def _emptied(folder: Path) -> Iterator[None]:
    """Takes away what was put into a folder, which was new or empty, where something fails."""
    try:
        yield
    except BaseException:
        for path in (folder / SHEET_NAME, *(folder / PHOTO_FOLDER).glob("*")):
            with contextlib.suppress(OSError):
                path.unlink()
        raise


def _tell_folder(folder: Path, fault: Exception) -> Trouble:
    reason = getattr(fault, "strerror", None) or "no reason given"
    return Trouble(
        f"The folder {folder.name} cannot be used: {reason}.",
        str(folder),
        "Choose another place.",
    )
