"""Opening a record's file: what is judged before SQLite sees it, and SQLite's errors in words.

Only `open_to_write` and `open_fresh` can change a file; `look` never does.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import sqlite3
import stat
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from shopguide.errors import RecordTrouble
from shopguide.record.lock import RecordLocked
from shopguide.record.schema import APPLICATION_ID, OLDEST_SQLITE, VERSION

MAGIC = b"SQLite format 3\0"
HEADER_BYTES = 100
SIDE_FILES = ("-wal", "-shm", "-journal")
"""What SQLite may keep beside its file while it is open, or after a crash."""

_BUSY_SECONDS = 2.0

NOT_YET = "This is not on disk yet"
LEFT_AS_IT_IS = "The file is left as it is; make a copy of it before anything else."

_FULL = ("the disk is full", "Free some space; it is written as soon as there is room.")
_READ_ONLY = (
    "the record's file or folder is read-only",
    "Allow writing there; it is written as soon as that is possible.",
)
_FAULT = (
    "the disk reports a fault",
    "Check the disk and its cable; it is written as soon as the disk takes it.",
)
_BUSY = (
    "another program holds the record's file",
    "Close the other program; it is written as soon as the file is free.",
)
_REASONS = {
    "SQLITE_FULL": _FULL,
    "SQLITE_IOERR_SHMSIZE": _FULL,
    "SQLITE_READONLY": _READ_ONLY,
    "SQLITE_PERM": _READ_ONLY,
    "SQLITE_AUTH": _READ_ONLY,
    "SQLITE_CANTOPEN": _READ_ONLY,
    "SQLITE_IOERR": _FAULT,
    "SQLITE_BUSY": _BUSY,
    "SQLITE_LOCKED": _BUSY,
    "SQLITE_PROTOCOL": _BUSY,
    "SQLITE_NOMEM": ("the computer's memory is full", "Close other programs; it is tried again."),
}


@dataclass(frozen=True, slots=True)
class Header:
    """The first 100 bytes of a record's file, as far as they matter before it is opened."""

    known: bool
    application_id: int
    version: int
    wal: bool
    """True where the file says that part of it may lie in its -wal file."""


def read_header(path: Path) -> Header:
    """What the file says of itself. Raises RecordTrouble for what is no file, or is empty."""
    where = str(path)
    try:
        # Asked first, for opening a pipe would wait for somebody to write into it.
        mode = os.stat(path).st_mode
        if stat.S_ISDIR(mode):
            raise RecordTrouble("This is a folder, not a record.", where, "Choose a file.")
        if not stat.S_ISREG(mode):
            raise RecordTrouble("This is not a file that can hold a record.", where)
        with open(path, "rb") as file:
            head = file.read(HEADER_BYTES)
    except OSError as error:
        raise tell_os_failure(error, path) from error
    if not head:
        raise RecordTrouble(
            "The file is empty; nothing of a record can be read from it.",
            where,
            "Look for a copy of it. " + LEFT_AS_IT_IS,
        )
    head = head.ljust(HEADER_BYTES, b"\0")
    return Header(
        known=head.startswith(MAGIC),
        application_id=int.from_bytes(head[68:72], "big"),
        version=int.from_bytes(head[60:64], "big"),
        wal=head[18] == 2 or head[19] == 2,
    )


def refuse_foreign(path: Path) -> Header:
    """The header of a file that this program may open; raises RecordTrouble for any other."""
    header = read_header(path)
    where = str(path)
    if not header.known:
        if header.application_id == APPLICATION_ID:
            raise RecordTrouble("The beginning of the record is damaged.", where, LEFT_AS_IT_IS)
        raise RecordTrouble(
            "This is not a record, or its beginning is damaged.",
            where,
            "Choose a file whose name ends in .shopguide.",
        )
    if header.application_id != APPLICATION_ID:
        raise RecordTrouble(
            "This file was made by another program; it is not a record.",
            where,
            "Choose a file whose name ends in .shopguide.",
        )
    if header.version > VERSION:
        raise RecordTrouble(
            f"This record has layout {header.version}; this program knows layouts up to {VERSION}.",
            where,
            "Install a newer version of the program to open it.",
        )
    if header.version < 1:
        raise RecordTrouble("The record's layout has no number.", where, LEFT_AS_IT_IS)
    return header


@contextmanager
def look(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection that only reads, seeing one moment of the record; also while it is written.

    Neither the file nor its -wal is changed. Raises RecordTrouble as `refuse_foreign` does;
    sqlite3.Error comes through for a damaged file.
    """
    header = refuse_foreign(path)
    with contextlib.ExitStack() as stack:
        try:
            connection = stack.enter_context(_look_in_place(path, header))
        except sqlite3.OperationalError as error:
            if not _is_about_rights(error):
                raise
            # A crash left work that SQLite would first have to set right, in a place where it
            # cannot: that is done in a copy.
            connection = stack.enter_context(look_at_copy(path))
        yield connection


@contextmanager
def _look_in_place(path: Path, header: Header) -> Iterator[sqlite3.Connection]:
    # Without its -wal nobody can be writing; opened plainly, SQLite would then make one.
    alone = header.wal and not beside(path, "-wal").exists()
    connection = _connect(path, "mode=ro&immutable=1" if alone else "mode=ro")
    try:
        connection.execute("PRAGMA query_only = ON")
        connection.execute("BEGIN")
        connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        yield connection
    finally:
        connection.close()


@contextmanager
def look_at_copy(path: Path, header: bytes = b"") -> Iterator[sqlite3.Connection]:
    """A connection to a copy made for the purpose; `header` replaces the copy's first bytes."""
    with tempfile.TemporaryDirectory(prefix="shopguide-", ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / "copy"
        shutil.copyfile(path, copy)
        for ending in ("-wal", "-journal"):
            side = beside(path, ending)
            if side.is_file():
                shutil.copyfile(side, beside(copy, ending))
        if header:
            with open(copy, "r+b") as file:
                file.write(header)
        connection = _connect(copy, "mode=rw")
        try:
            connection.execute("BEGIN")
            yield connection
        finally:
            connection.close()


def open_to_write(path: Path) -> sqlite3.Connection:
    """A connection whose commits are on the disk itself when they return. sqlite3.Error is the
    caller's to put into words."""
    connection = _connect(path, "mode=rw")
    try:
        (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
        # A folder where WAL cannot work (some network disks) gets the slower way that is as safe.
        connection.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")
        _sync_fully(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def open_fresh(path: Path) -> sqlite3.Connection:
    """A connection to a new file, filled in one transaction and thrown away if that fails."""
    connection = _connect(path, "mode=rwc")
    try:
        connection.execute("PRAGMA journal_mode = MEMORY").fetchone()
        connection.execute("PRAGMA synchronous = FULL")
        _sync_fully(connection)
    except BaseException:
        connection.close()
        raise
    return connection


def close_to_one_file(connection: sqlite3.Connection) -> None:
    """Closes the connection so that only the one file remains, where the disk allows it.

    Where it does not, nothing is lost: the -wal beside the file is taken up at the next opening.
    """
    try:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        connection.execute("PRAGMA journal_mode = DELETE").fetchone()
    except sqlite3.Error:
        pass
    finally:
        connection.close()


def beside(path: Path, ending: str) -> Path:
    """The file that SQLite keeps beside `path` under this ending."""
    return path.with_name(path.name + ending)


def sync_folder(folder: Path) -> None:
    """Forces a folder's new names to disk, where the system can do that."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def _connect(path: Path, how: str) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise RecordTrouble(
            f"The SQLite that belongs to this Python is {sqlite3.sqlite_version}; records need "
            f"{'.'.join(map(str, OLDEST_SQLITE))} or newer.",
            next="Install a newer Python.",
        )
    name = path.absolute().as_posix()
    name = name if name.startswith("/") else f"/{name}"
    connection = sqlite3.connect(
        f"file://{quote(os.fsencode(name))}?{how}",
        uri=True,
        timeout=_BUSY_SECONDS,
        isolation_level=None,
        check_same_thread=False,
    )
    try:
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA cell_size_check = ON")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA recursive_triggers = ON")
    except BaseException:
        connection.close()
        raise
    return connection


def _sync_fully(connection: sqlite3.Connection) -> None:
    if sys.platform == "darwin":
        # There an ordinary fsync leaves the data in the drive's own memory.
        connection.execute("PRAGMA fullfsync = ON")
        connection.execute("PRAGMA checkpoint_fullfsync = ON")


# --- errors in words ---


def _name(error: sqlite3.Error) -> str:
    return getattr(error, "sqlite_errorname", None) or ""


def _find_reason(error: sqlite3.Error) -> tuple[str, str] | None:
    name = _name(error)
    while name:
        if name in _REASONS:
            return _REASONS[name]
        name = name.rpartition("_")[0]
    return None


def _is_about_rights(error: sqlite3.Error) -> bool:
    return _name(error).startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY"))


def is_damage(error: BaseException) -> bool:
    """True where SQLite says that the file's contents are broken, not its surroundings."""
    return isinstance(error, sqlite3.Error) and _find_reason(error) is None


def tell_write_failure(error: sqlite3.Error, path: Path) -> RecordTrouble:
    """Why something could not be written, and what to do so that it can."""
    reason = _find_reason(error)
    if reason is None:
        return RecordTrouble(
            f"{NOT_YET}: the record's file is damaged ({error}).", str(path), LEFT_AS_IT_IS
        )
    return RecordTrouble(f"{NOT_YET}: {reason[0]}.", str(path), reason[1])


def tell_open_failure(error: sqlite3.Error, path: Path) -> RecordTrouble:
    """Why a record could not be opened or made, where it is not damaged."""
    reason = _find_reason(error)
    if reason is _READ_ONLY:
        return RecordLocked(
            "The record's file or folder is read-only, so nothing can be added to the record.",
            str(path),
            "Look at it here, or copy it to a folder that can be written and go on there.",
        )
    if reason is _FULL:
        return RecordLocked(
            "The disk is full, so nothing can be added to the record.",
            str(path),
            "Free some space, then open the record again.",
        )
    if reason is None:
        return RecordTrouble(f"The file cannot be read ({error}).", str(path), LEFT_AS_IT_IS)
    said = reason[0][0].upper() + reason[0][1:]
    return RecordTrouble(f"{said}.", str(path), f"{reason[1].partition(';')[0]}, then try again.")


def tell_make_failure(error: sqlite3.Error | OSError, path: Path) -> RecordTrouble:
    """Why a record could not be made."""
    if isinstance(error, sqlite3.Error):
        full, closed = _find_reason(error) is _FULL, _is_about_rights(error)
        trouble = tell_open_failure(error, path)
    else:
        full = error.errno == errno.ENOSPC
        closed = error.errno in (errno.EACCES, errno.EPERM, errno.EROFS)
        trouble = tell_os_failure(error, path)
    said, then = trouble.what, trouble.next
    if full:
        said, then = "The disk is full.", "Free some space, then try again."
    elif closed:
        said = "The folder is read-only."
        then = "Allow writing to it, or choose another folder."
    return RecordTrouble(f"The record was not made. {said}", str(path), then)


def tell_os_failure(error: OSError, path: Path) -> RecordTrouble:
    """Why a file could not be reached, in words."""
    where = str(path)
    if error.errno == errno.ENOENT:
        return RecordTrouble(
            "There is no such file.", where, "Check the name, or look where it was moved to."
        )
    if error.errno in (errno.EACCES, errno.EPERM):
        return RecordTrouble(
            "Reading the file is not allowed.", where, "Change its rights, then try again."
        )
    if error.errno == errno.ENOSPC:
        return RecordTrouble("The disk is full.", where, "Free some space, then try again.")
    return RecordTrouble(f"The file cannot be reached ({error.strerror or error}).", where)
