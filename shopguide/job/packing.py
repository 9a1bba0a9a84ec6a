"""Where a sheet's files lie: a folder, or a zip that is read in place.

Nothing outside the folder or the zip is ever read: no links, no paths that lead away, no devices.
"""

from __future__ import annotations

import io
import mmap
import os
import re
import stat
import struct
import unicodedata
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

from shopguide.errors import Trouble
from shopguide.job.text import MOST_BYTES

SHEET_NAME = "job.json"
PHOTO_FOLDER = "photos"

MOST_PICTURE_BYTES = 50_000_000
MOST_ENTRIES = 10_000
MOST_UNPACKED_BYTES = 2_000_000_000

# The list of contents of 10,000 entries is well below this; a longer one is not read at all.
_MOST_READ_BYTES = 8_000_000
_CHUNK_BYTES = 1 << 20
_READ_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_ENCRYPTED = 0x1 | 0x40 | 0x2000
_NAMED_IN_UTF8 = 0x800

_ZIP_FAULTS = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    NotImplementedError,
    RuntimeError,
    EOFError,
    ValueError,
    KeyError,
    IndexError,
    OverflowError,
    struct.error,
    zlib.error,
)

_SIGNS_NOT_ALLOWED = re.compile(r'[<>:"|?*\x00-\x1f\x7f]')
_DEVICE_NAMES = re.compile(r"(?i)(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?")


def judge_picture_name(name: str) -> tuple[str, str] | None:
    """What is wrong with a picture's file name and what to write; None where it will do."""
    advice = 'Write the bare name of a file in photos/, such as "cover.jpg".'
    if "/" in name or "\\" in name:
        return f'"{name}" is a path, not a file name.', advice
    if name in ("", ".", ".."):
        return f'"{name}" is no file name.', advice
    if _SIGNS_NOT_ALLOWED.search(name):
        return (
            f'"{name}" has a sign in it that not every computer allows in a file name.',
            'Rename the file without : * ? " < > and |.',
        )
    if name[0] == "." or name[-1] in ". " or _DEVICE_NAMES.fullmatch(name):
        return f'"{name}" is not allowed as a file name on every computer.', "Rename the file."
    if len(name.encode("utf-8", "replace")) > 200:
        return "The file name is too long.", "Rename the file with fewer than 200 letters."
    return None


class Packing(Protocol):
    """A sheet's files, wherever they lie."""

    path: Path

    def read_sheet(self) -> bytes:
        """The bytes of job.json. Raises Trouble."""

    def look_into(self, name: str) -> Any:
        """A context with the bytes (or a map) of one picture. Raises Trouble."""

    def photo_path(self, name: str) -> Path | None:
        """Where the picture lies as a file of its own; None in a zip."""


def find_packing(path: Path) -> Packing:
    """The folder or zip that `path` names; a job.json stands for its folder. Raises Trouble."""
    try:
        mode = os.stat(path).st_mode
    except (OSError, ValueError) as fault:
        raise Trouble(*_tell_os(fault, path.name)) from None
    if stat.S_ISDIR(mode):
        return Folder(path)
    if not stat.S_ISREG(mode):
        raise Trouble(
            f"{path.name} is a device or a pipe, not a file.",
            str(path),
            "Choose a folder with a job.json, or a zip of it.",
        )
    if path.suffix.casefold() == ".json":
        return Folder(path.parent, path.name)
    with _open_regular(path) as file:
        start = file.read(4)
    if start[:2] == b"PK" or path.suffix.casefold() == ".zip":
        return Zip(path)
    raise Trouble(
        f"{path.name} is no job sheet.", str(path), "Choose a folder with a job.json, or a zip."
    )


class Folder:
    """A folder with job.json and photos/."""

    def __init__(self, path: Path, sheet_name: str = SHEET_NAME) -> None:
        self.path = path
        self._sheet = path / sheet_name
        self._listed: dict[str, os.DirEntry[str]] | None = None

    def read_sheet(self) -> bytes:
        """The bytes of job.json, at most one more than is allowed. Raises Trouble."""
        with _open_regular(self._sheet) as file:
            return file.read(MOST_BYTES + 1)

    @contextmanager
    def look_into(self, name: str) -> Iterator[bytes | mmap.mmap]:
        """The picture as a map of the file, of which only what is looked at is read."""
        with _open_regular(self._find(name)) as file:
            size = os.fstat(file.fileno()).st_size
            _check_picture_size(size)
            if size == 0:
                yield b""
                return
            with mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as view:
                yield view

    def photo_path(self, name: str) -> Path | None:
        """The picture's own path."""
        return Path(self._find(name))

    def _find(self, name: str) -> Path:
        fault = judge_picture_name(name)
        if fault is not None:
            raise Trouble(fault[0], next=fault[1])
        listed = self._list()
        entry = listed.get(name)
        if entry is None:
            raise Trouble(*_tell_absent(name, listed))
        if entry.is_symlink() or _is_junction(entry):
            raise Trouble(
                f"{name} is a link, not a file.", next="Put the picture itself into photos/."
            )
        return Path(entry.path)

    def _list(self) -> dict[str, os.DirEntry[str]]:
        if self._listed is None:
            photos = self.path / PHOTO_FOLDER
            try:
                if stat.S_ISLNK(os.lstat(photos).st_mode):
                    raise Trouble(
                        "The folder photos/ is a link.", next="Put a real folder in its place."
                    )
                with os.scandir(photos) as entries:
                    # macOS may spell a name in another Unicode form than the sheet does.
                    self._listed = {unicodedata.normalize("NFC", e.name): e for e in entries}
            except FileNotFoundError:
                self._listed = {}
            except (OSError, ValueError) as fault:
                raise Trouble(*_tell_os(fault, f"{PHOTO_FOLDER}/")) from None
        return self._listed


class Zip:
    """A zipped sheet, read in place; job.json at the top or in one folder at the top."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._unpacked_bytes = 0
        with self._open() as archive:
            self._names = self._check(archive)
        self._top = self._find_top()

    def read_sheet(self) -> bytes:
        """The bytes of job.json, at most one more than is allowed. Raises Trouble."""
        return self._read(f"{self._top}{SHEET_NAME}", MOST_BYTES + 1, cut=True)

    @contextmanager
    def look_into(self, name: str) -> Iterator[bytes]:
        """The bytes of one picture, unpacked into memory."""
        fault = judge_picture_name(name)
        if fault is not None:
            raise Trouble(fault[0], next=fault[1])
        base = f"{self._top}{PHOTO_FOLDER}/"
        if base + name not in self._names:
            there = [entry[len(base) :] for entry in self._names if entry.startswith(base)]
            raise Trouble(*_tell_absent(name, there))
        yield self._read(base + name, MOST_PICTURE_BYTES)

    def photo_path(self, name: str) -> Path | None:
        """None: in a zip, no picture is a file of its own."""
        return None

    @contextmanager
    def _open(self) -> Iterator[zipfile.ZipFile]:
        try:
            with (
                _open_regular(self.path) as file,
                zipfile.ZipFile(_Sips(file, self.path)) as archive,  # type: ignore[arg-type]
            ):
                yield archive
        except _ZIP_FAULTS:
            raise self._refuse(
                "The zip is damaged, or is no zip.", "Copy it again, or zip the folder again."
            ) from None
        except OSError as fault:
            raise Trouble(*_tell_os(fault, self.path.name)) from None

    def _read(self, name: str, most_bytes: int, cut: bool = False) -> bytes:
        out = io.BytesIO()
        with self._open() as archive, archive.open(self._names[name]) as member:
            while chunk := member.read(_CHUNK_BYTES):
                # What really comes out is counted; the zip's own figures may lie.
                self._unpacked_bytes += len(chunk)
                if self._unpacked_bytes > MOST_UNPACKED_BYTES:
                    raise self._refuse_size()
                out.write(chunk)
                if out.tell() > most_bytes:
                    if cut:
                        return out.getvalue()[:most_bytes]
                    _check_picture_size(out.tell())
        return out.getvalue()

    def _check(self, archive: zipfile.ZipFile) -> dict[str, zipfile.ZipInfo]:
        """Every file in the zip by name, after all that must be refused has been."""
        entries = archive.infolist()
        if len(entries) > MOST_ENTRIES:
            raise self._refuse_entries()
        if sum(entry.file_size for entry in entries) > MOST_UNPACKED_BYTES:
            raise self._refuse_size()
        names: dict[str, zipfile.ZipInfo] = {}
        folded: dict[str, str] = {}
        for entry in entries:
            name = _read_name(entry)
            self._check_name(name, entry)
            self._check_entry(name, entry)
            other = folded.setdefault(name.rstrip("/").casefold(), name)
            if other != name or name in names:
                raise self._refuse(
                    f'The zip holds two entries for one name: "{other}" and "{name}".',
                    "Rename one, and zip the folder again.",
                )
            names[name] = entry
        return names

    def _check_name(self, name: str, entry: zipfile.ZipInfo) -> None:
        raw = entry.orig_filename
        parts = name.removesuffix("/").split("/")
        shown = _visible(name)
        if "\\" in raw or "\\" in name:
            raise self._refuse(
                f'The entry "{shown}" has a backslash in its name.',
                "Zip the folder again with another program.",
            )
        if name.startswith("/") or re.match(r"[A-Za-z]:", name):
            raise self._refuse(
                f'The entry "{shown}" has an absolute path.', "Zip the folder itself."
            )
        if ".." in parts:
            raise self._refuse(
                f'The entry "{shown}" leads out of the folder.', "Zip the folder itself."
            )
        if "\x00" in raw or "" in parts or "." in parts:
            raise self._refuse(
                f'The entry "{shown}" has a name that is no file name.', "Zip the folder again."
            )

    def _check_entry(self, name: str, entry: zipfile.ZipInfo) -> None:
        if entry.flag_bits & _ENCRYPTED:
            raise self._refuse("The zip is encrypted.", "Zip the folder again without a password.")
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if kind == stat.S_IFLNK:
            raise self._refuse(
                f'The entry "{_visible(name)}" is a link.',
                "Zip the folder again with the file itself in it.",
            )
        if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
            raise self._refuse(
                f'The entry "{_visible(name)}" is a device or a pipe.', "Zip the folder again."
            )
        if entry.compress_type not in _READ_METHODS:
            raise self._refuse(
                f'The entry "{_visible(name)}" is packed in a way that is not read here.',
                "Zip the folder again the ordinary way (stored or deflated).",
            )

    def _find_top(self) -> str:
        """ "" or the one folder at the top that holds the sheet, with its slash."""
        if SHEET_NAME in self._names:
            return ""
        # A Mac adds a folder of its own to whatever it zips.
        tops = {name.split("/")[0] for name in self._names if not _is_stray(name)}
        holders = sorted(top for top in tops if f"{top}/{SHEET_NAME}" in self._names)
        if len(holders) == 1 and len(tops) == 1:
            return f"{holders[0]}/"
        if len(holders) > 1:
            raise self._refuse(
                f"The zip holds {len(holders)} job sheets.", "Zip each folder by itself."
            )
        if holders:
            raise self._refuse(
                f'The zip holds other things beside the folder "{_visible(holders[0])}".',
                "Zip only the folder that holds the job.json.",
            )
        raise self._refuse("The zip holds no job.json.", "Zip the folder that holds the job.json.")

    def _refuse(self, what: str, advice: str) -> Trouble:
        return Trouble(what, str(self.path), advice)

    def _refuse_entries(self) -> Trouble:
        return self._refuse(
            f"The zip has more than {MOST_ENTRIES:,} entries.",
            "Zip only the folder that holds the job.json.",
        )

    def _refuse_size(self) -> Trouble:
        return self._refuse(
            f"The zip holds more than {MOST_UNPACKED_BYTES // 1_000_000_000} GB unpacked.",
            "Make the pictures smaller, or take out what the sheet does not use.",
        )


class _Sips:
    """A file that gives no more at a time than the list of contents of a sheet's zip may be."""

    def __init__(self, file: Any, path: Path) -> None:
        self._file = file
        self._path = path
        self.seek: Callable[..., int] = file.seek
        self.tell: Callable[[], int] = file.tell
        self.seekable: Callable[[], bool] = file.seekable

    def read(self, size: int = -1) -> bytes:
        data = self._file.read(
            _MOST_READ_BYTES + 1 if size < 0 else min(size, _MOST_READ_BYTES + 1)
        )
        if len(data) > _MOST_READ_BYTES:
            raise Trouble(
                f"The zip has more than {MOST_ENTRIES:,} entries.",
                str(self._path),
                "Zip only the folder that holds the job.json.",
            )
        return data


def _read_name(entry: zipfile.ZipInfo) -> str:
    """The entry's name; many programs write UTF-8 without saying so."""
    name = entry.filename
    if not entry.flag_bits & _NAMED_IN_UTF8 and not name.isascii():
        try:
            name = name.encode("cp437").decode("utf-8")
        except UnicodeError:
            name = entry.filename
    return unicodedata.normalize("NFC", name)


def _is_stray(name: str) -> bool:
    return name.split("/")[0] == "__MACOSX" or name.rsplit("/", 1)[-1] in (
        ".DS_Store",
        "Thumbs.db",
        "desktop.ini",
    )


def _visible(text: str) -> str:
    shown = "".join(sign if sign.isprintable() else "·" for sign in text[:81])
    return shown if len(shown) <= 80 else shown[:79] + "…"


def _check_picture_size(size: int) -> None:
    if size > MOST_PICTURE_BYTES:
        raise Trouble(
            f"The picture has more than {MOST_PICTURE_BYTES // 1_000_000} MB.",
            next="Save it smaller: 12 megapixels as JPEG are plenty.",
        )


def _tell_absent(name: str, there: Any) -> tuple[str, str, str]:
    folded = {other.casefold(): other for other in there}
    same = folded.get(name.casefold())
    if same is not None:
        return (
            f'photos/ holds "{_visible(same)}", with other capitals than "{name}".',
            "",
            "Write both the same.",
        )
    return (
        f'There is no picture "{name}" in photos/.',
        "",
        "Put it there, or take it out of the sheet.",
    )


def _is_junction(entry: os.DirEntry[str]) -> bool:
    # Windows has a second sort of link; Python can tell it from 3.12 on.
    return bool(getattr(entry, "is_junction", lambda: False)())


def _tell_os(fault: Exception, name: str) -> tuple[str, str, str]:
    where = str(getattr(fault, "filename", None) or "")
    if isinstance(fault, FileNotFoundError):
        return f"{name} is not there.", where, "Look whether it was moved or renamed."
    if isinstance(fault, PermissionError):
        return f"{name} may not be read.", where, "Change its rights, or copy it elsewhere."
    if isinstance(fault, IsADirectoryError):
        return f"{name} is a folder, not a file.", where, "Put the file itself there."
    if isinstance(fault, OSError) and fault.strerror:
        return f"{name} cannot be read: {fault.strerror}.", where, "Look whether the disk is well."
    return f"{_visible(name)} is no name of a file.", where, "Choose another one."


@contextmanager
def _open_regular(path: Path) -> Iterator[io.BufferedReader]:
    """An ordinary file, open to read. Links are not followed, and nothing is waited for."""
    flags = os.O_RDONLY
    for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_BINARY", "O_CLOEXEC"):
        flags |= getattr(os, name, 0)
    try:
        if stat.S_ISLNK(os.lstat(path).st_mode):
            raise Trouble(
                f"{path.name} is a link, not a file.", str(path), "Put the file itself there."
            )
        handle = os.open(path, flags)
    except (OSError, ValueError) as fault:
        raise Trouble(*_tell_os(fault, path.name)) from None
    mode = os.fstat(handle).st_mode
    if not stat.S_ISREG(mode):
        os.close(handle)
        kind = "a folder" if stat.S_ISDIR(mode) else "a device or a pipe"
        raise Trouble(
            f"{path.name} is {kind}, not a file.", str(path), "Put the file itself there."
        )
    with open(handle, "rb") as file:
        yield file
