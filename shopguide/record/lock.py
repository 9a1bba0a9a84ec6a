"""One writer at a time: a lock beside the record that ends with the process that holds it.

The operating system holds the lock, so one left by a process that died counts for nothing. The
file ".NAME.lock" is where it is held; it says who holds it, and is taken away when it is let go.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import socket
import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from shopguide.errors import RecordTrouble
from shopguide.work.events import tell_moment

_MOST_TRIES = 100
_WORDS_BYTES = 2000

if sys.platform == "win32":
    import msvcrt

    # Windows keeps others from reading what is locked, so the lock lies far behind the words.
    _LOCK_AT = 1 << 30

    def _lock(fd: int) -> bool:
        os.lseek(fd, _LOCK_AT, os.SEEK_SET)
        try:
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EDEADLK):
                return False
            raise
        return True
else:
    import fcntl

    def _lock(fd: int) -> bool:
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN, errno.EWOULDBLOCK):
                return False
            raise
        return True


@dataclass(frozen=True, slots=True)
class Holder:
    """Who writes a record: the process, its computer, and since when (UTC, ISO 8601)."""

    pid: int
    host: str
    since: str

    def tell(self) -> str:
        """In a few words: "since 5 Mar, 14:02, by process 4711 of this computer"."""
        moment = datetime.fromisoformat(self.since).astimezone()
        place = "this computer" if self.host == socket.gethostname() else f"“{self.host}”"
        if self.pid == os.getpid() and self.host == socket.gethostname():
            who = "another window of this program"
        else:
            who = f"process {self.pid} of {place}"
        return f"since {moment.day} {moment.strftime('%b, %H:%M')}, by {who}"


class RecordLocked(RecordTrouble):
    """The record can be looked at but not written from here: open it read-only.

    holder: who writes it, where that is known; None where it is the place that is read-only.
    """

    def __init__(
        self, what: str, where: str = "", next: str = "", holder: Holder | None = None
    ) -> None:
        super().__init__(what, where, next)
        self.holder = holder


class WriteLock:
    """The right to write one record. Taken once, let go once; let go by the system at the latest
    when the process ends, however it ends."""

    def __init__(self, record: Path) -> None:
        self.record = record
        self.path = record.with_name(f".{record.name}.lock")
        self._fd: int | None = None

    def take(self) -> None:
        """Takes the lock. Raises RecordLocked where another one has it or the place is read-only,
        RecordTrouble where the place cannot keep a lock."""
        try:
            self._take()
        except RecordLocked:
            raise
        except OSError as error:
            raise self._tell(error) from error

    def _take(self) -> None:
        flags = os.O_RDWR | os.O_CREAT
        flags |= getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
        for _ in range(_MOST_TRIES):
            fd = os.open(self.path, flags, 0o644)
            try:
                if not _lock(fd):
                    raise _tell_locked(self.record, _read_words(fd))
                if self._is_still(fd):
                    _write_words(fd)
                    self._fd = fd
                    return
            except BaseException:
                os.close(fd)
                raise
            # The one before took its file away between our opening and locking it: once more.
            os.close(fd)
        raise OSError(errno.EBUSY, "the lock changes hands all the time")

    def _is_still(self, fd: int) -> bool:
        """True where the locked file is still the one with the lock's name."""
        try:
            there = os.stat(self.path, follow_symlinks=False)
        except FileNotFoundError:
            return False
        mine = os.fstat(fd)
        return (there.st_dev, there.st_ino) == (mine.st_dev, mine.st_ino)

    def _tell(self, error: OSError) -> RecordTrouble:
        where = str(self.record)
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
            return RecordLocked(
                "The record's folder is read-only, so nothing can be added to the record.",
                where,
                "Look at it here, or copy it to a folder that can be written and go on there.",
            )
        if error.errno in (errno.ENOENT, errno.ENOTDIR):
            return RecordTrouble(
                "The record's folder is not there.", where, "Make the folder, or choose another."
            )
        if error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)):
            return RecordLocked(
                "The disk is full, so nothing can be added to the record.",
                where,
                "Free some space, then open the record again.",
            )
        if error.errno == errno.ENAMETOOLONG:
            return RecordTrouble("The record's name is too long.", where, "Choose a shorter name.")
        return RecordTrouble(
            f"The record's folder cannot keep two writers apart ({error.strerror or error}).",
            where,
            "Keep records in a folder of this computer's own disk.",
        )

    def drop(self) -> None:
        """Lets the lock go and takes its file away. Does nothing where it is not held."""
        fd, self._fd = self._fd, None
        if fd is None:
            return
        if sys.platform == "win32":
            # An open file cannot be taken away there; where another one is quicker, it stays.
            os.close(fd)
            with contextlib.suppress(OSError):
                os.unlink(self.path)
            return
        # Taken away while still held: whoever waits on it sees that it has no name any more.
        with contextlib.suppress(OSError):
            if self._is_still(fd):
                os.unlink(self.path)
        os.close(fd)


def _tell_locked(record: Path, holder: Holder | None) -> RecordLocked:
    who = f" ({holder.tell()})" if holder is not None else ""
    return RecordLocked(
        f"The record is being written elsewhere{who}.",
        str(record),
        "It can be looked at here. To go on with it here, close it there first.",
        holder,
    )


def _write_words(fd: int) -> None:
    words = {"pid": os.getpid(), "host": socket.gethostname(), "since": tell_moment()}
    # Courtesy only: the lock holds without them, even on a full disk.
    with contextlib.suppress(OSError):
        os.ftruncate(fd, 0)
        os.lseek(fd, 0, os.SEEK_SET)
        os.write(fd, json.dumps(words).encode("utf-8"))


def _read_words(fd: int) -> Holder | None:
    try:
        os.lseek(fd, 0, os.SEEK_SET)
        words = json.loads(os.read(fd, _WORDS_BYTES))
        holder = Holder(int(words["pid"]), str(words["host"])[:80], str(words["since"]))
        holder.tell()
    except (OSError, ValueError, KeyError, TypeError, OverflowError):
        return None
    return holder
