"""Adding photos to a sheet: one, several, or a whole folder in one go.

Every picture is set upright, relieved of place, serial numbers and other notes of the camera, given
a name that every computer allows, and kept once however often it comes.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import os
import re
import stat
import sys
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.packing import MOST_PICTURE_BYTES, judge_picture_name
from shopguide.job.picture import (
    ORIENTATION,
    ORIGINAL_QUALITY,
    flatten_grey,
    make_room,
    put_notes,
    read_notes,
    strip_notes,
    take_in,
)
from shopguide.job.picture_head import HEIF_BRANDS, MOST_PIXELS
from shopguide.job.saving import write_atomically

Progress = Callable[[str, int, int], None]
Cancelled = Callable[[], bool]

MOST_KEPT_PIXELS = 24_000_000
"""Originals up to this size keep their pixels; larger ones are made smaller."""
MOST_FILES = 5_000
"""The most files that are looked at in one folder."""
LONGEST_STEM = 120
"""Bytes of a name before its ending; a file's name has 200 at most."""

STRIPPED = (
    "Place, serial numbers and other notes of the camera are taken out of every picture added."
)
NOTES_KEPT = (
    "Place, serial numbers and other notes of the camera were kept in these pictures: whoever gets "
    "the sheet can read them."
)
_PICTURE_ENDINGS = frozenset(
    {"jpg", "jpeg", "jpe", "jfif", "png", "webp", "tif", "tiff", "bmp", "dib"}
    | {"gif", "heic", "heif", "hif", "avif"}
)
_NOT_IN_NAMES = re.compile(r'[<>:"/\\|?*\s]+')


@dataclass(frozen=True, slots=True)
class Kept:
    """A picture that the sheet can use now.

    name: in photos/.  source: the file's own name.  path: where its bytes wait to be saved; None
    where photos/ holds them already.  said: what was done to it beside the usual, or "".
    """

    name: str
    source: str
    path: Path | None = None
    width: int = 0
    height: int = 0
    said: str = ""


@dataclass(frozen=True, slots=True)
class Refused:
    """A file that is not taken, and why."""

    source: str
    trouble: Trouble


@dataclass(frozen=True, slots=True)
class Album:
    """What became of the files. left_alone: how many in the folder were no pictures by name.

    keeps_notes: the camera's notes stayed in the pictures, for it was asked for.
    """

    kept: tuple[Kept, ...] = ()
    refused: tuple[Refused, ...] = ()
    left_alone: int = 0
    stopped: bool = False
    keeps_notes: bool = False

    @property
    def told_of_notes(self) -> str:
        """What is said of the camera's notes."""
        return NOTES_KEPT if self.keeps_notes else STRIPPED

    @property
    def names(self) -> tuple[str, ...]:
        """The names in photos/, each once, in the sequence in which they came."""
        return tuple(dict.fromkeys(one.name for one in self.kept))

    @property
    def contents(self) -> dict[str, bytes | Path]:
        """The new pictures by name, as `save_sheet` takes them."""
        return {one.name: one.path for one in self.kept if one.path is not None}

    def tell(self) -> tuple[str, ...]:
        """What was done, in sentences for the screen."""
        new = len(self.contents)
        lines = [f"{new} picture{'' if new == 1 else 's'} added."]
        lines += [self.told_of_notes] if new else []
        lines += [f"{one.source}: {one.said}" for one in self.kept if one.said]
        for one in self.refused:
            parts = (f"{one.source}: {one.trouble.what}", one.trouble.next)
            lines.append(" ".join(part for part in parts if part))
        if self.left_alone:
            what = "file is no picture" if self.left_alone == 1 else "files are no pictures"
            lines.append(f"{self.left_alone} {what} by name, and left alone.")
        if self.stopped:
            lines.append("Stopped: what is told above was done, the rest was not looked at.")
        return tuple(lines)


@dataclass
class Shelf:
    """What photos/ holds: names, and the contents by their SHA-256."""

    by_sum: dict[str, str] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)

    def note(self, name: str, *sums: str) -> None:
        """Remember a picture under its name and under each of these sums."""
        self.names.add(name.casefold())
        for one in sums:
            self.by_sum.setdefault(one, name)


def sum_up(data: bytes) -> tuple[str, ...]:
    """The sums by which a kept picture is known again: as it lies there, and without notes."""
    sums = [hashlib.sha256(data).hexdigest()]
    with contextlib.suppress(Trouble):
        bare = strip_notes(data)
        if bare != data:
            sums.append(hashlib.sha256(bare).hexdigest())
    return tuple(sums)


def add_photos(
    files: Sequence[Path],
    shelf: Shelf,
    waiting: Path,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    *,
    keep_notes: bool = False,
) -> Album:
    """Takes these files in. What is new is written into the folder `waiting`, to be saved later.

    shelf: what the sheet has already; new pictures are noted in it. keep_notes: place, serial
    numbers and the camera's other notes stay in the pictures. A file that cannot be taken is told
    in the album and stops nothing, except that a disk that takes no more ends it.
    """
    kept: list[Kept] = []
    refused: list[Refused] = []
    for index, file in enumerate(files):
        if cancelled is not None and cancelled():
            return Album(tuple(kept), tuple(refused), stopped=True, keeps_notes=keep_notes)
        source = _show(file.name)
        if progress is not None:
            progress(f"Taking in {source}", index, len(files))
        try:
            data = _read(file)
            made, content, sums = _take(data, source, shelf, keep_notes)
        except Trouble as fault:
            refused.append(Refused(source, fault))
            continue
        if content is None:
            kept.append(made)
            continue
        target = waiting / made.name
        try:
            waiting.mkdir(parents=True, exist_ok=True)
            write_atomically(target, content)
        except (Trouble, OSError) as fault:
            trouble = fault if isinstance(fault, Trouble) else _tell_disk(target, fault)
            refused.append(Refused(source, trouble))
            return Album(tuple(kept), tuple(refused), stopped=True, keeps_notes=keep_notes)
        shelf.note(made.name, hashlib.sha256(data).hexdigest(), *sums)
        kept.append(Kept(made.name, source, target, made.width, made.height, made.said))
    return Album(tuple(kept), tuple(refused), keeps_notes=keep_notes)


def add_folder(
    folder: Path,
    shelf: Shelf,
    waiting: Path,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    *,
    keep_notes: bool = False,
) -> Album:
    """Takes in every picture that lies in a folder, not in those below it, by name 1, 2, 10.

    Raises Trouble where the folder cannot be listed or holds more than MOST_FILES files.
    """
    try:
        with os.scandir(folder) as entries:
            there = [Path(e.path) for e in entries if _is_plain(e)]
    except OSError as fault:
        raise Trouble(
            f"The folder {folder.name} cannot be read: {fault.strerror or 'no reason given'}.",
            str(folder),
            "Choose another folder.",
        ) from fault
    pictures = [path for path in there if _ending(path.name) in _PICTURE_ENDINGS]
    if len(pictures) > MOST_FILES:
        raise Trouble(
            f"The folder holds {len(pictures):,} pictures; at most {MOST_FILES:,} are taken at "
            "once.",
            str(folder),
            "Choose a folder with the pictures of this job alone.",
        )
    pictures.sort(key=lambda path: _sort_key(path.name))
    album = add_photos(pictures, shelf, waiting, progress, cancelled, keep_notes=keep_notes)
    return replace(album, left_alone=len(there) - len(pictures))


def _is_plain(entry: os.DirEntry[str]) -> bool:
    return not entry.name.startswith(".") and entry.is_file(follow_symlinks=False)


def _ending(name: str) -> str:
    return name.rpartition(".")[2].casefold() if "." in name else ""


def _sort_key(name: str) -> list[tuple[int, int, str]]:
    """So that picture 2 comes before picture 10."""
    parts = re.split(r"([0-9]+)", name.casefold())
    return [(1, int(p), "") if p.isascii() and p.isdigit() else (0, 0, p) for p in parts]


# --- one picture --------------------------------------------------------------------------------


def _read(file: Path) -> bytes:
    """The bytes of an ordinary file. Raises Trouble for all else, before any of it is read."""
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(file, flags)
        with open(handle, "rb") as opened:
            about = os.fstat(handle)
            if not stat.S_ISREG(about.st_mode):
                raise Trouble("It is no ordinary file.", str(file), "Choose the picture itself.")
            data = opened.read(MOST_PICTURE_BYTES + 1)
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "no reason given"
        raise Trouble(
            f"The file cannot be read: {reason}.", str(file), "Look whether it is still there."
        ) from fault
    return data


def _take(
    data: bytes, source: str, shelf: Shelf, keep_notes: bool
) -> tuple[Kept, bytes | None, list[str]]:
    """The picture as it will be kept, its bytes, and the sums by which it is known again.

    The bytes are None where the same picture is there already, whatever notes it has.
    """
    twin = shelf.by_sum.get(hashlib.sha256(data).hexdigest())
    if twin is not None:
        return _tell_twin(twin, source), None, []
    said = []
    if data[4:8] == b"ftyp" and data[8:12] in HEIF_BRANDS:
        data = read_heic(data, keep_notes=keep_notes)
        said.append("It was in HEIC format and is kept as JPEG.")
    picture = take_in(data)
    content, width, height = picture.original, picture.width, picture.height
    if width * height > MOST_KEPT_PIXELS:
        content, width, height = _make_smaller(content, width, height)
        said.append(
            f"It had {picture.width:,} × {picture.height:,} pixels and is kept with "
            f"{width:,} × {height:,}."
        )
    # Pictures are compared without their notes: with and without them it is the same picture.
    sums = [hashlib.sha256(content).hexdigest()]
    twin = shelf.by_sum.get(sums[0])
    if twin is not None:
        return _tell_twin(twin, source), None, []
    if keep_notes:
        if (width, height) == (picture.width, picture.height):
            picture = take_in(data, keep_notes=True)
            content = picture.original
        else:
            try:
                content = put_notes(content, read_notes(data))
            except Trouble as trouble:
                said.append(trouble.what)
        sums.append(hashlib.sha256(content).hexdigest())
    said += [picture.note] if picture.note else []
    name = find_name(source, picture.ending, shelf.names)
    given = _ending(source)
    if given in _PICTURE_ENDINGS and not said and not _fits(given, picture.ending):
        said.append(f"Its name does not fit what is in it; it is kept as {name}.")
    return Kept(name, source, None, width, height, " ".join(said)), content, sums


def _tell_twin(name: str, source: str) -> Kept:
    return Kept(name, source, said=f"The same picture is there already, as {name}.")


def _fits(given: str, ending: str) -> bool:
    same = {"jpeg": "jpg", "jpe": "jpg", "jfif": "jpg"}
    converted = given in ("webp", "tif", "tiff", "bmp", "dib")
    return converted or same.get(given, given) == ending


def _make_smaller(original: bytes, width: int, height: int) -> tuple[bytes, int, int]:
    """The picture with at most MOST_KEPT_PIXELS, in the format it has, its colours as they were."""
    from PIL import Image

    share = (MOST_KEPT_PIXELS / (width * height)) ** 0.5
    size = max(1, int(width * share)), max(1, int(height * share))
    try:
        with Image.open(io.BytesIO(original), formats=["JPEG", "PNG"]) as image:
            profile, kind = image.info.get("icc_profile"), image.format
            # The decoder can halve a JPEG while unpacking it, as long as enough is left.
            image.draft(image.mode, size)
            make_room(image)
            if image.mode.startswith("I"):
                image = flatten_grey(image)
            elif image.mode in ("1", "P"):
                clear = "transparency" in image.info
                image = image.convert("RGBA" if clear else "RGB" if image.mode == "P" else "L")
            small = image.resize(size, Image.Resampling.LANCZOS)
        small.info = {}
        out = io.BytesIO()
        if kind == "JPEG":
            small.save(out, "JPEG", quality=ORIGINAL_QUALITY, icc_profile=profile)
        else:
            small.save(out, "PNG", icc_profile=profile)
    except (OSError, ValueError, MemoryError) as fault:
        raise Trouble(
            "The picture is too large to be made smaller here.",
            next="Save it with 24 megapixels or fewer.",
        ) from fault
    return out.getvalue(), *size


def read_heic(data: bytes, *, keep_notes: bool = False) -> bytes:
    """A HEIC picture as a JPEG that stands upright, where pillow-heif is installed.

    Raises Trouble where it is not, and where the picture is damaged or too large.
    """
    try:
        import pillow_heif
    except ImportError:
        raise Trouble(
            "The picture is in HEIC format; reading it needs pillow-heif, which is not installed.",
            next='Run "pip install pillow-heif", or save the picture as JPEG.',
        ) from None
    if len(data) > MOST_PICTURE_BYTES:
        take_in(data)
    try:
        heif = pillow_heif.open_heif(data, convert_hdr_to_8bit=True)
        width, height = heif.size
        if width * height <= MOST_PIXELS:
            # The file says how the picture stands, and the decoder has turned it; what its EXIF
            # says of that besides must not be followed a second time.
            image = heif.to_pillow()
            profile = image.info.get("icc_profile")
            notes = image.getexif() if keep_notes else None
            image = image.convert("L" if image.mode == "L" else "RGB")
            image.info = {}
            out = io.BytesIO()
            image.save(out, "JPEG", quality=ORIGINAL_QUALITY, subsampling=0, icc_profile=profile)
            if notes:
                notes.pop(ORIENTATION, None)
                return put_notes(out.getvalue(), notes.tobytes().removeprefix(b"Exif\x00\x00"))
            return out.getvalue()
    # Decoders raise nearly everything on bad files.
    except Exception as fault:
        raise Trouble(
            "The picture is damaged.", next="Copy it again, or take another one."
        ) from fault
    raise Trouble(
        f"The picture has {width:,} × {height:,} pixels; at most {MOST_PIXELS // 1_000_000} "
        "megapixels are taken.",
        next="Save it smaller: 12 megapixels are plenty.",
    )


# --- names --------------------------------------------------------------------------------------


def find_name(source: str, ending: str, taken: Iterable[str]) -> str:
    """A name for a picture in photos/: like the file's own, allowed everywhere, not yet taken.

    taken: names in small letters (casefold), for not every computer can tell capitals apart.
    """
    taken = taken if isinstance(taken, set | frozenset | Mapping) else set(taken)
    text = unicodedata.normalize("NFC", source)
    stem = text.rpartition(".")[0] if _ending(text) in _PICTURE_ENDINGS else text
    shown = "".join(c for c in _NOT_IN_NAMES.sub("_", stem) if unicodedata.category(c)[0] != "C")
    shown = _cut(shown.strip("._ "), LONGEST_STEM).rstrip("._ ") or "picture"
    if judge_picture_name(f"{shown}.{ending}") is not None:
        shown = f"picture_{shown}"
    return next(name for name in _count(shown, ending) if name.casefold() not in taken)


def _count(stem: str, ending: str) -> Iterator[str]:
    yield f"{stem}.{ending}"
    for number in range(2, sys.maxsize):
        yield f"{stem}_{number}.{ending}"


def _cut(text: str, most_bytes: int) -> str:
    return text.encode("utf-8", "ignore")[:most_bytes].decode("utf-8", "ignore")


def _show(name: str) -> str:
    """A file's name as a sentence can hold it."""
    shown = "".join(c if c.isprintable() else "·" for c in name)
    return shown if len(shown) <= 120 else f"{shown[:80]}…{shown[-20:]}"


def _tell_disk(path: Path, fault: OSError) -> Trouble:
    return Trouble(
        f"{path.name} could not be kept: {fault.strerror or 'no reason given'}.",
        str(path),
        "Free some space, and add the rest again.",
    )
