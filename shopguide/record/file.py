"""The record file: one SQLite file a record, to which events are only ever added.

An event is on the disk itself when `append` returns. Nothing here changes or deletes one.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
import threading
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Protocol, Self

from shopguide.errors import RecordTrouble
from shopguide.record.contents import (
    SHA256,
    StoredPhoto,
    as_row,
    read_events,
    read_photos,
    read_picture,
    read_sheet,
)
from shopguide.record.damage import RecordDamaged, Rescued, rescue, tell_damage
from shopguide.record.disk import (
    BROKEN,
    NOT_YET,
    SIDE_FILES,
    Header,
    beside,
    close_plainly,
    close_to_one_file,
    identify,
    is_cut_off,
    is_damage,
    look,
    open_fresh,
    open_to_write,
    refuse_foreign,
    sync_folder,
    tell_make_failure,
    tell_open_failure,
    tell_os_failure,
    tell_write_failure,
)
from shopguide.record.lock import Holder, RecordLocked, WriteLock
from shopguide.record.schema import make_schema
from shopguide.record.summary import Summary, look_into
from shopguide.record.verdict import (
    COPIED_OPEN,
    Findings,
    RecordVerdict,
    check_record,
    verify_record,
)
from shopguide.work.chain import GENESIS, canonical, link
from shopguide.work.events import KINDS, RECORD_FORMAT, Event, tell_moment

ENDING = ".shopguide"
"""How the name of a record's file ends."""

SheetPhoto = tuple[str, bytes, bytes, int, int]
"""Name, original, small copy for the paper, width and height of the original in pixels."""


class Picture(Protocol):
    """A picture that was taken in: its original, a small copy for the paper, its size."""

    @property
    def original(self) -> bytes: ...
    @property
    def paper(self) -> bytes: ...
    @property
    def width(self) -> int: ...
    @property
    def height(self) -> int: ...


class RecordFile:
    """A record that is open: for adding to it, or only for reading. Any thread may use it.

    Made by `create` or `open`. Times in it are what the computer's clock said: where the clock was
    set back between two events, the later one has the earlier time, and its number tells the order.
    """

    path: Path
    read_only: bool

    def __init__(
        self,
        path: Path,
        events: list[Event],
        connection: sqlite3.Connection | None,
        lock: WriteLock | None,
    ) -> None:
        """For `create` and `open`; without a connection the record is only read."""
        self.path = path
        self.read_only = connection is None
        self._events = events
        self._connection = connection
        self._lock = lock
        self._closed = False
        self._turn = threading.RLock()
        self._wal = beside(path, "-wal")
        self._identities = {path: identify(path)}

    # --- making and opening -------------------------------------------------------------

    @classmethod
    def create(
        cls,
        path: str | Path,
        sheet_raw: bytes,
        sheet_photos: Iterable[SheetPhoto],
        first: Mapping[str, Any],
    ) -> RecordFile:
        """Makes a record around a frozen copy of a sheet and its photos, and opens it.

        first: the data of the event "begun", to which the hashes of sheet and photos are added, so
        that the chain covers them too. Never overwrites a file, and leaves none behind when it
        fails: then it raises RecordTrouble, or what `sheet_photos` raised.
        """
        path = _settle(path)
        _refuse_taken(path)
        lock = WriteLock(path)
        try:
            lock.take()
        except RecordLocked as locked:
            if isinstance(locked.__cause__, OSError):
                raise tell_make_failure(locked.__cause__, path) from locked
            raise
        part = path.with_name(f".{path.name}.part")
        placed = False
        try:
            _refuse_taken(path)
            # The lock is ours, so what lies there is left from a making that was broken off.
            part.unlink(missing_ok=True)
            _build(part, sheet_raw, sheet_photos, first)
            _put_in_place(part, path)
            placed = True
            return cls._open_locked(path, lock, refuse_foreign(path))
        except BaseException as error:
            for left in (part, beside(part, "-journal"), *([path] if placed else [])):
                with contextlib.suppress(OSError):
                    left.unlink(missing_ok=True)
            lock.drop()
            if isinstance(error, sqlite3.Error | OSError):
                raise tell_make_failure(error, path) from error
            raise

    @classmethod
    def open(cls, path: str | Path, read_only: bool = False) -> RecordFile:
        """Opens a record after checking all of it, photos included.

        Raises RecordLocked where it can be looked at but not written: another window writes it, or
        its place is read-only. Raises RecordDamaged, with what can still be read, where any part of
        it is not as it was written; then the file is left exactly as it is. Raises RecordTrouble
        for what is no record, or one of a newer program.
        """
        path = _settle(path)
        header = refuse_foreign(path)
        if read_only:
            return cls(path, _read_checked(path), None, None)
        lock = WriteLock(path)
        lock.take()
        try:
            return cls._open_locked(path, lock, header)
        except BaseException as error:
            lock.drop()
            if isinstance(error, BROKEN):
                raise tell_open_failure(error, path) from error
            if isinstance(error, OSError):
                raise tell_os_failure(error, path) from error
            raise

    @classmethod
    def _open_locked(cls, path: Path, lock: WriteLock, header: Header) -> RecordFile:
        # Read first and only then opened to write, for opening alone changes the file a little.
        events = _read_checked(path, header)
        if not os.access(path, os.W_OK):
            raise RecordLocked(
                "The record's file is read-only, so nothing can be added to it.",
                str(path),
                "Allow writing to it, or copy it and go on with the copy.",
            )
        connection = open_to_write(path)
        try:
            row = connection.execute("SELECT max(seq) FROM events").fetchone()
            if row != (events[-1].seq,):
                raise RecordTrouble(
                    "Another program is writing to the record.", str(path), "Close that program."
                )
        except BaseException:
            close_to_one_file(connection, path)
            raise
        return cls(path, events, connection, lock)

    # --- adding -------------------------------------------------------------------------

    def append(self, kind: str, data: Mapping[str, Any]) -> Event:
        """Adds one event; it is on disk when this returns.

        Raises RecordTrouble where it is not: the disk is full, read-only or faulty, or the file was
        moved. Then nothing of it was written, and the same call can be made again later. Raises it
        too for data that a record cannot hold, and where the record is open for reading only.
        """
        with self._turn:
            return self._write(kind, data, None)

    def append_photo(self, data: Mapping[str, Any], picture: Picture) -> Event:
        """Adds an event "photo" together with the picture's bytes: both, or neither.

        data: step, perhaps task, and name; hashes and size are added here. Raises as `append`.
        """
        with self._turn:
            photo = StoredPhoto(
                str(data.get("name") or f"photo {len(self._events) + 1}"),
                hashlib.sha256(picture.original).hexdigest(),
                hashlib.sha256(picture.paper).hexdigest(),
                picture.width,
                picture.height,
            )
            return self._write("photo", {**data, **_as_data(photo)}, (photo, picture))

    def _write(
        self, kind: str, data: Mapping[str, Any], taken: tuple[StoredPhoto, Picture] | None
    ) -> Event:
        connection = self._check_writable()
        event, text = _make_event(self._events, kind, data)
        try:
            connection.execute("BEGIN IMMEDIATE")
            _insert_event(connection, event, text)
            if taken is not None:
                photo, picture = taken
                _insert_picture(connection, photo.sha256, picture.original)
                _insert_picture(connection, photo.paper_sha256, picture.paper)
                _insert_photo(connection, event.seq, photo)
            connection.execute("COMMIT")
        except sqlite3.Error as error:
            self._roll_back(connection)
            raise tell_write_failure(error, self.path) from error
        except BaseException:
            self._roll_back(connection)
            raise
        self._events.append(event)
        return event

    def _check_writable(self) -> sqlite3.Connection:
        if self._closed:
            raise RecordTrouble(
                f"{NOT_YET}: the record is closed.", str(self.path), "Open the record again."
            )
        if self._connection is None:
            raise RecordTrouble(
                f"{NOT_YET}: the record is open for reading only.",
                str(self.path),
                "Close the window that writes it, then open it again.",
            )
        # Where the file was moved or deleted, the system would go on writing to what has no name
        # any more, and all of it would be gone with the program's end.
        for path in (self.path, self._wal):
            found = identify(path)
            known = self._identities.setdefault(path, found)
            if known is None:
                self._identities[path] = found
            elif found != known:
                raise RecordTrouble(
                    f"{NOT_YET}: {path.name} was moved, deleted or replaced.",
                    str(path),
                    "Put it back where it was; it is written as soon as it is there again.",
                )
        return self._connection

    @staticmethod
    def _roll_back(connection: sqlite3.Connection) -> None:
        if connection.in_transaction:
            with contextlib.suppress(sqlite3.Error):
                connection.execute("ROLLBACK")

    # --- reading ------------------------------------------------------------------------

    def events(self) -> tuple[Event, ...]:
        """All events along the chain, as far as they are known here (see `refresh`)."""
        with self._turn:
            return tuple(self._events)

    @property
    def head(self) -> str:
        """The hash of the last event: it stands for all of them."""
        with self._turn:
            return self._events[-1].hash

    @property
    def rehearsal(self) -> bool:
        """True for a record that was made only to try a sheet."""
        return bool(self._events[0].data.get("rehearsal", False))

    def refresh(self) -> tuple[Event, ...]:
        """The events that another window has added since; none where this one writes itself.

        Raises RecordTrouble where what was read before is no longer there.
        """
        with self._turn:
            if not self.read_only:
                return ()
            with self._reading() as connection:
                rows = connection.execute("SELECT max(seq) FROM events").fetchone()
                if rows == (len(self._events),):
                    return ()
                events, fault = read_events(connection)
            known = len(self._events)
            if fault is not None or [e.hash for e in events[:known]] != [
                e.hash for e in self._events
            ]:
                raise RecordTrouble(
                    "The record is no longer the one that was opened.",
                    str(self.path),
                    "Close it and open it again.",
                )
            self._events = events
            return tuple(events[known:])

    def sheet_raw(self) -> bytes:
        """The frozen job.json, byte for byte. Raises RecordTrouble where it was changed."""
        with self._reading() as connection:
            return read_sheet(connection, self._events)

    def photos(self) -> tuple[StoredPhoto, ...]:
        """All photos: the sheet's first, then each as it was taken in."""
        with self._reading() as connection:
            return read_photos(connection)

    def photo(self, key: str, paper: bool = False) -> bytes:
        """The bytes of a photo, or of its small copy for the paper.

        key: its SHA-256, or its name; a name means the sheet's photo, else the last one taken in
        under it. Raises RecordTrouble where there is none, or its bytes are not what they were.
        """
        with self._reading() as connection:
            photos = read_photos(connection)
            found = None
            if SHA256.fullmatch(key):
                found = next((p for p in photos if key in (p.sha256, p.paper_sha256)), None)
            if found is None:
                of_sheet = len(self._events[0].data.get("photos", ()))
                named = [n for n, photo in enumerate(photos) if photo.name == key]
                if named:
                    found = photos[named[0] if named[0] < of_sheet else named[-1]]
            if found is None:
                raise RecordTrouble(
                    f"There is no photo “{key[:80]}” in the record.", str(self.path)
                )
            try:
                return read_picture(connection, found.paper_sha256 if paper else found.sha256)
            except RecordTrouble as trouble:
                where = f"{self.path}, {found.name}"
                raise RecordTrouble(trouble.what, where, trouble.next) from None

    def check(self) -> Findings:
        """Checks pages, layout, chain, sheet and every photo, and says what it found."""
        with self._reading() as connection:
            return check_record(connection)

    def data_for_paper(self) -> bytes:
        """The record's data as canonical JSON, as it is attached to the signed paper."""
        with self._turn:
            events = self.events()
            try:
                sheet = json.loads(self.sheet_raw())
            except (ValueError, RecursionError) as error:
                raise RecordTrouble(
                    "The job sheet in the record is no JSON.", str(self.path)
                ) from error
            return canonical(
                {
                    "format": RECORD_FORMAT,
                    "rehearsal": self.rehearsal,
                    "head": events[-1].hash,
                    "events": [as_row(event) for event in events],
                    "sheet": sheet,
                    "photos": [
                        {"name": photo.name, "sha256": photo.sha256} for photo in self.photos()
                    ],
                }
            )

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        with self._turn:
            if self._closed:
                raise RecordTrouble("The record is closed.", str(self.path), "Open it again.")
            try:
                if self._connection is not None:
                    yield self._connection
                else:
                    # Not held on to: a reader that stays would keep the writer from closing to
                    # one file.
                    with look(self.path) as connection:
                        yield connection
            except BROKEN as error:
                raise tell_open_failure(error, self.path) from error
            except OSError as error:
                raise tell_os_failure(error, self.path) from error

    # --- closing ------------------------------------------------------------------------

    def close(self) -> None:
        """Closes the record to one file and lets others write it. Again does nothing."""
        with self._turn:
            if self._closed:
                return
            self._closed = True
            connection, self._connection = self._connection, None
            try:
                if connection is not None:
                    close_to_one_file(connection, self.path)
            finally:
                if self._lock is not None:
                    self._lock.drop()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


# --- the steps of making and opening ---


def _settle(path: str | Path) -> Path:
    """One name for one file, whichever way it was reached, so that one lock guards it."""
    path = Path(path)
    try:
        return path.resolve()
    except (OSError, RuntimeError) as error:
        raise RecordTrouble(f"The path leads nowhere ({error}).", str(path)) from error


def _read_checked(path: Path, header: Header | None = None) -> list[Event]:
    """The events of a record in which nothing is wanting; raises RecordDamaged for any other.

    With its header it must be complete too, as it has to be before anything is added to it.
    """
    try:
        with look(path) as connection:
            findings = check_record(connection)
            faults = findings.faults
            if header is not None and is_cut_off(connection, path, header):
                faults = (COPIED_OPEN, *faults)
            if not faults:
                return read_events(connection)[0]
    except BROKEN as error:
        if not is_damage(error):
            raise tell_open_failure(error, path) from error
        faults = (f"It cannot be read ({error}).",)
    except OSError as error:
        raise tell_os_failure(error, path) from error
    raise tell_damage(path, faults)


def _refuse_taken(path: Path) -> None:
    if os.path.lexists(path):
        raise RecordTrouble(
            "There is a file of this name already.", str(path), "Choose another name."
        )
    for ending in SIDE_FILES:
        side = beside(path, ending)
        if os.path.lexists(side):
            # SQLite would take it for a part of the new record.
            raise RecordTrouble(
                "Something of an older record of this name is left here.",
                str(side),
                "Move it to another folder, or choose another name.",
            )


def _build(
    part: Path, sheet_raw: bytes, sheet_photos: Iterable[SheetPhoto], first: Mapping[str, Any]
) -> None:
    sheet_sha256 = hashlib.sha256(sheet_raw).hexdigest()
    if first.get("sheet_sha256", sheet_sha256) != sheet_sha256:
        raise RecordTrouble("The job sheet changed while the record was being made.")
    connection = open_fresh(part)
    try:
        connection.execute("BEGIN IMMEDIATE")
        make_schema(connection)
        connection.execute("INSERT INTO sheet VALUES (1, ?, ?)", (sheet_sha256, sheet_raw))
        photos: list[StoredPhoto] = []
        for name, original, paper, width, height in sheet_photos:
            photo = StoredPhoto(
                name,
                hashlib.sha256(original).hexdigest(),
                hashlib.sha256(paper).hexdigest(),
                width,
                height,
            )
            _insert_picture(connection, photo.sha256, original)
            _insert_picture(connection, photo.paper_sha256, paper)
            photos.append(photo)
        data = {
            **first,
            "sheet_sha256": sheet_sha256,
            "photos": [_as_data(photo) for photo in photos],
        }
        event, text = _make_event([], "begun", data)
        _insert_event(connection, event, text)
        for photo in photos:
            _insert_photo(connection, event.seq, photo)
        connection.execute("COMMIT")
    finally:
        close_plainly(connection)


def _put_in_place(part: Path, path: Path) -> None:
    """Gives the finished file its name, never one that is taken."""
    try:
        os.link(part, path)
    except FileExistsError:
        raise RecordTrouble(
            "There is a file of this name already.", str(path), "Choose another name."
        ) from None
    except (OSError, NotImplementedError):
        # Disks without hard links: looked at a moment ago, and the lock is ours.
        if os.path.lexists(path):
            raise
        os.replace(part, path)
    else:
        part.unlink()
    sync_folder(path.parent)


def _make_event(before: list[Event], kind: str, data: Mapping[str, Any]) -> tuple[Event, str]:
    """The event that comes after those, and its data as the file keeps it."""
    if kind not in KINDS:
        raise RecordTrouble(f"A record knows no event of the kind “{kind}”.")
    prev = before[-1].hash if before else GENESIS
    seq, at = len(before) + 1, tell_moment()
    text = canonical(data).decode("utf-8")
    # What is handed out is what a later reading gives: lists for tuples, text in its one form.
    settled = json.loads(text)
    known = link(seq, prev, at, kind, data)
    return Event(seq=seq, at=at, kind=kind, data=settled, hash=known, prev=prev), text


def _insert_event(connection: sqlite3.Connection, event: Event, text: str) -> None:
    connection.execute(
        "INSERT INTO events (seq, prev, at, kind, data, hash) VALUES (?, ?, ?, ?, ?, ?)",
        (event.seq, event.prev, event.at, event.kind, text, event.hash),
    )


def _insert_picture(connection: sqlite3.Connection, sha256: str, content: bytes) -> None:
    known = connection.execute("SELECT 1 FROM pictures WHERE sha256 = ?", (sha256,)).fetchone()
    if known is None:
        connection.execute(
            "INSERT INTO pictures (sha256, content) VALUES (?, ?)", (sha256, content)
        )


def _insert_photo(connection: sqlite3.Connection, seq: int, photo: StoredPhoto) -> None:
    connection.execute(
        "INSERT INTO photos (seq, name, sha256, paper_sha256, width, height) "
        "VALUES (?, ?, ?, ?, ?, ?)",
        (seq, photo.name, photo.sha256, photo.paper_sha256, photo.width, photo.height),
    )


def _as_data(photo: StoredPhoto) -> dict[str, Any]:
    return {
        "name": photo.name,
        "sha256": photo.sha256,
        "paper_sha256": photo.paper_sha256,
        "width": photo.width,
        "height": photo.height,
    }


__all__ = [
    "ENDING",
    "Findings",
    "Holder",
    "Picture",
    "RecordDamaged",
    "RecordFile",
    "RecordLocked",
    "RecordVerdict",
    "Rescued",
    "SheetPhoto",
    "StoredPhoto",
    "Summary",
    "look_into",
    "rescue",
    "verify_record",
]
