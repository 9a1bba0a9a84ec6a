"""Saving a file so that it is either the new one or still the old one, whatever happens."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from shopguide.errors import Trouble

_CHUNK_BYTES = 1 << 20
_PART = ".part"
_MOST_NAME_BYTES = 80
_LEFT_S = 3600
"""A file half written so long before the one that is written now is nobody's any more."""

_REASONS = {
    errno.ENOSPC: ("the disk is full", "Free some space"),
    errno.EACCES: ("writing there is not allowed", "Change the rights, or choose another folder,"),
    errno.EPERM: ("writing there is not allowed", "Change the rights, or choose another folder,"),
    errno.EROFS: ("the disk is read-only", "Choose another folder"),
    errno.ENOENT: ("the folder is not there", "Make the folder, or choose another one,"),
    errno.ENOTDIR: ("its folder is a file", "Choose another folder"),
    errno.EISDIR: ("a folder has that name", "Choose another name"),
    errno.ENAMETOOLONG: ("the name is too long", "Choose a shorter name"),
    errno.EIO: ("the disk reports a fault", "Choose another disk"),
}
if hasattr(errno, "EDQUOT"):
    _REASONS[errno.EDQUOT] = ("your share of the disk is used up", "Free some space")

# Some file systems, and Windows, cannot put a folder itself to disk: nothing is lost by that
# which the user could do anything about.
_FOLDER_NOT_SYNCED = {errno.EINVAL, errno.ENOTSUP, errno.EACCES, errno.EPERM, errno.EBADF}


Content = bytes | Path | Callable[[Path], None]


def write_atomically(path: Path, data: bytes) -> None:
    """Put `data` into the file `path`: written beside it, forced to disk, then exchanged.

    Raises Trouble when it cannot be done; the old file is then whole.
    """
    write_all_atomically({path: data})


def write_all_atomically(contents: Mapping[Path, Content]) -> None:
    """Put several files to disk, exchanging none before all of them are written.

    A content that is a path is copied from there; one that is a function is called with the path
    to write. The exchange goes in the order of the mapping, so the file that refers to the others
    comes last. Raises Trouble when it cannot be done; up to the first exchange every old file is
    whole.
    """
    staged: list[tuple[Path, Path]] = []
    target = Path()
    exchanged = 0
    try:
        for target, content in contents.items():
            beside = target.with_name(f"{_begin_name(target)}{secrets.token_hex(6)}{_PART}")
            staged.append((beside, target))
            _stage(beside, target, content)
        for beside, target in staged:
            os.replace(beside, target)
            exchanged += 1
        for folder in dict.fromkeys(target.parent for _, target in staged):
            _sync_folder(folder)
        for _, target in staged:
            _sweep(target)
    except OSError as fault:
        raise tell_unsaved(target, fault, untouched=exchanged == 0) from fault
    finally:
        for beside, _ in staged:
            with contextlib.suppress(OSError):
                beside.unlink(missing_ok=True)


def tell_unsaved(path: Path, fault: OSError, untouched: bool = True) -> Trouble:
    """The trouble that says why `path` could not be saved, and whether the old file is whole."""
    reason, deed = _REASONS.get(
        fault.errno or 0, (fault.strerror or str(fault) or "no reason given", "Look into that")
    )
    return Trouble(
        f"{path.name} could not be saved: {reason}.",
        str(path),
        f"{deed} and save again. "
        + (
            "What was saved before is untouched."
            if untouched
            else "A part of it may be saved already, and is whole."
        ),
    )


@contextlib.contextmanager
def make_folders(*folders: Path) -> Iterator[None]:
    """Makes folders that are not there yet, and takes them away again where the rest fails.

    Raises Trouble where one cannot be made.
    """
    made: list[Path] = []
    try:
        for folder in folders:
            for above in reversed((folder, *folder.parents)):
                if not os.path.isdir(above):
                    try:
                        above.mkdir(exist_ok=True)
                    except OSError as fault:
                        raise _tell_unmade(folder, fault) from fault
                    made.append(above)
        yield
    except BaseException:
        for folder in reversed(made):
            # What is in it, whoever put it there, stays.
            with contextlib.suppress(OSError):
                folder.rmdir()
        raise


def _tell_unmade(folder: Path, fault: OSError) -> Trouble:
    reason, deed = _REASONS.get(
        fault.errno or 0, (fault.strerror or "no reason given", "Look into that")
    )
    if isinstance(fault, FileExistsError):
        reason, deed = "a file has that name", "Choose another name"
    return Trouble(
        f"The folder {folder.name} cannot be made: {reason}.",
        str(folder),
        f"{deed} and try again.",
    )


def _begin_name(target: Path) -> str:
    """How the names of files begin that are written beside `target`; not too long in any script."""
    name = os.fsencode(target.name)[:_MOST_NAME_BYTES].decode("utf-8", "ignore")
    return f".{name}."


def _sweep(target: Path) -> None:
    """Takes away what was half written for `target` by a process that was killed long ago."""
    begins, ends = _begin_name(target), len(_PART) + 12
    with contextlib.suppress(OSError):
        until = target.stat().st_mtime - _LEFT_S
        with os.scandir(target.parent) as entries:
            left = [e for e in entries if e.name.startswith(begins) and e.name.endswith(_PART)]
        for entry in left:
            if len(entry.name) == len(begins) + ends and entry.stat().st_mtime < until:
                os.unlink(entry.path)


def _stage(beside: Path, target: Path, content: Content) -> None:
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(beside, flags, 0o666)
    try:
        if isinstance(content, Path):
            for chunk in _read_chunks(content):
                _write_whole(handle, chunk)
        elif isinstance(content, bytes):
            _write_whole(handle, content)
        else:
            content(beside)
        if hasattr(os, "fchmod"):
            with contextlib.suppress(OSError):
                before = target.lstat().st_mode
                # The rights of a link say nothing about the file that takes its place.
                if stat.S_ISREG(before):
                    os.fchmod(handle, stat.S_IMODE(before))
        os.fsync(handle)
    finally:
        os.close(handle)


def _read_chunks(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as source:
            while chunk := source.read(_CHUNK_BYTES):
                yield chunk
    except OSError as fault:
        raise Trouble(
            f"{path.name} cannot be read: {fault.strerror or 'no reason given'}.",
            str(path),
            "Choose the file again. What was saved before is untouched.",
        ) from fault


def _write_whole(handle: int, data: bytes) -> None:
    view = memoryview(data)
    while view:
        view = view[os.write(handle, view) :]


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as fault:
        if fault.errno not in _FOLDER_NOT_SYNCED:
            raise
    finally:
        os.close(handle)
