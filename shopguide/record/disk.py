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
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from shopguide.errors import RecordTrouble
from shopguide.record.lock import RecordLocked
from shopguide.record.schema import APPLICATION_ID, OLDEST_SQLITE, VERSION

MAGIC = b"SQLite format 3\0"
HEADER_BYTES = 100
SIDE_FILES = ("-wal", "-shm", "-journal")
"""What SQLite may keep beside its file while it is open, or after a crash."""

_BUSY_SECONDS = 2.0

BROKEN = (sqlite3.Error, UnicodeError)
"""What reading a damaged file raises; the second where SQLite's own words quote its bytes."""

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


# On POSIX, closing a file lets go of every lock that the process has on it, SQLite's too. So a
# file that SQLite has open in this process is never opened here besides: what its header said
# then is kept, by the file's identity, with the number of connections.
_OPENED: dict[tuple[int, int], list[Any]] = {}
_OPENING = threading.RLock()


@dataclass(frozen=True, slots=True)
class Header:
    """The first 100 bytes of a record's file, as far as they matter before it is opened."""

    known: bool
    application_id: int
    version: int
    wal: bool
    """True where the file says that part of it may lie in its -wal file."""
    first_bytes: bytes


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
        with _OPENING:
            opened = _OPENED.get(identify(path) or (0, 0))
            if opened is not None:
                return opened[0]
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
    return _parse(head)


def _parse(head: bytes) -> Header:
    head = head.ljust(HEADER_BYTES, b"\0")
    return Header(
        known=head.startswith(MAGIC),
        application_id=int.from_bytes(head[68:72], "big"),
        version=int.from_bytes(head[60:64], "big"),
        wal=head[18] == 2 or head[19] == 2,
        first_bytes=head,
    )


def identify(path: Path) -> tuple[int, int] | None:
    """Which file has this name now; None where none has."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_dev, found.st_ino


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
        _close(connection)


@contextmanager
def look_at_copy(path: Path, header: bytes = b"") -> Iterator[sqlite3.Connection]:
    """A connection to a copy made for the purpose; `header` replaces the copy's first bytes."""
    with tempfile.TemporaryDirectory(prefix="shopguide-", ignore_cleanup_errors=True) as folder:
        copy = Path(folder) / "copy"
        with _OPENING:
            if identify(path) in _OPENED:
                _back_up(path, copy)
            else:
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
            _close(connection)


def _back_up(path: Path, copy: Path) -> None:
    source = _connect(path, "mode=ro")
    target = sqlite3.connect(copy)
    try:
        source.backup(target)
    finally:
        target.close()
        _close(source)


def is_cut_off(connection: sqlite3.Connection, path: Path, header: Header) -> bool:
    """True where the file was copied or moved while it was open, without the -wal beside it."""
    if not header.wal or beside(path, "-wal").exists():
        return False
    try:
        row = connection.execute("SELECT open FROM state").fetchone()
    except BROKEN:
        # That is told as damage of its own.
        return False
    return row == (1,) and not beside(path, "-wal").exists()


def open_to_write(path: Path) -> sqlite3.Connection:
    """A connection whose commits are on the disk itself when they return. sqlite3.Error is the
    caller's to put into words."""
    connection = _connect(path, "mode=rw")
    try:
        (mode,) = connection.execute("PRAGMA journal_mode = WAL").fetchone()
        # A folder where WAL cannot work (some network disks) gets the slower way that is as safe.
        connection.execute(f"PRAGMA synchronous = {'FULL' if mode == 'wal' else 'EXTRA'}")
        _sync_fully(connection)
        connection.execute("UPDATE state SET open = 1")
        # Into the file itself, which may be copied without its -wal from now on.
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    except BaseException:
        _close(connection)
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
        _close(connection)
        raise
    return connection


def close_to_one_file(connection: sqlite3.Connection, path: Path) -> None:
    """Closes the connection so that only the one file remains, where the disk allows it.

    Where it does not, nothing is lost: the -wal beside the file is taken up at the next opening.
    """
    keeper = None
    try:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        connection.execute("UPDATE state SET open = 0")
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
        until = time.monotonic() + _BUSY_SECONDS
        while not _leave_wal(connection) and time.monotonic() < until:
            # SQLite itself does not wait here for a reader, and readers stay only for a moment.
            time.sleep(0.01)
    except sqlite3.Error:
        # The file still says that it is open, so its -wal has to stay: the last connection that
        # can write would take it away, one that only reads does not.
        with contextlib.suppress(sqlite3.Error):
            keeper = _connect(path, "mode=ro")
            keeper.execute("SELECT count(*) FROM state").fetchone()
    finally:
        _close(connection)
        if keeper is not None:
            _close(keeper)


def close_plainly(connection: sqlite3.Connection) -> None:
    """Closes a connection that `open_fresh` or `open_to_write` made, and does nothing more."""
    _close(connection)


def _leave_wal(connection: sqlite3.Connection) -> bool:
    try:
        # Where a reader came in between, half of the change is made: looking at the file again
        # takes that up, so that it can be made whole.
        connection.execute("SELECT count(*) FROM state").fetchone()
        connection.execute("PRAGMA journal_mode = DELETE").fetchone()
        connection.execute("SELECT count(*) FROM state").fetchone()
        (mode,) = connection.execute("PRAGMA journal_mode").fetchone()
    except sqlite3.OperationalError as error:
        if _find_reason(error) is _BUSY:
            return False
        raise
    return mode == "delete"


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


class _Connection(sqlite3.Connection):
    """A connection that knows which file it has open."""

    identity: tuple[int, int] | None = None


def _connect(path: Path, how: str) -> sqlite3.Connection:
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise RecordTrouble(
            f"The SQLite that belongs to this Python is {sqlite3.sqlite_version}; records need "
            f"{'.'.join(map(str, OLDEST_SQLITE))} or newer.",
            next="Install a newer Python.",
        )
    name = path.absolute().as_posix()
    name = name if name.startswith("/") else f"/{name}"
    with _OPENING:
        identity = identify(path)
        if identity is not None and identity not in _OPENED:
            with open(path, "rb") as file:
                _OPENED[identity] = [_parse(file.read(HEADER_BYTES)), 0]
        if identity is not None:
            _OPENED[identity][1] += 1
    try:
        connection = sqlite3.connect(
            f"file://{quote(os.fsencode(name))}?{how}",
            uri=True,
            timeout=_BUSY_SECONDS,
            isolation_level=None,
            check_same_thread=False,
            factory=_Connection,
        )
    except BaseException:
        _forget(identity)
        raise
    connection.identity = identity
    try:
        connection.execute("PRAGMA trusted_schema = OFF")
        connection.execute("PRAGMA cell_size_check = ON")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA recursive_triggers = ON")
    except BaseException:
        _close(connection)
        raise
    return connection


def _close(connection: sqlite3.Connection) -> None:
    connection.close()
    if isinstance(connection, _Connection):
        identity, connection.identity = connection.identity, None
        _forget(identity)


def _forget(identity: tuple[int, int] | None) -> None:
    if identity is None:
        return
    with _OPENING:
        _OPENED[identity][1] -= 1
        if not _OPENED[identity][1]:
            del _OPENED[identity]


def _sync_fully(connection: sqlite3.Connection) -> None:
    if sys.platform == "darwin":
        # There an ordinary fsync leaves the data in the drive's own memory.
        connection.execute("PRAGMA fullfsync = ON")
        connection.execute("PRAGMA checkpoint_fullfsync = ON")


# --- errors in words ---


def _name(error: Exception) -> str:
    return getattr(error, "sqlite_errorname", None) or ""


def _find_reason(error: Exception) -> tuple[str, str] | None:
    name = _name(error)
    while name:
        if name in _REASONS:
            return _REASONS[name]
        name = name.rpartition("_")[0]
    return None


def _is_about_rights(error: sqlite3.Error) -> bool:
    return _name(error).startswith(("SQLITE_CANTOPEN", "SQLITE_READONLY"))


def is_damage(error: Exception) -> bool:
    """True where SQLite says that the file's contents are broken, not its surroundings."""
    return isinstance(error, BROKEN) and _find_reason(error) is None


def tell_write_failure(error: sqlite3.Error, path: Path) -> RecordTrouble:
    """Why something could not be written, and what to do so that it can."""
    reason = _find_reason(error)
    if reason is None:
        return RecordTrouble(
            f"{NOT_YET}: the record's file is damaged ({error}).", str(path), LEFT_AS_IT_IS
        )
    return RecordTrouble(f"{NOT_YET}: {reason[0]}.", str(path), reason[1])


def tell_open_failure(error: Exception, path: Path) -> RecordTrouble:
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
