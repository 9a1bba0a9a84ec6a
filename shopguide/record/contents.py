"""What a record's file holds, read strictly: events along their chain, the sheet, the photos."""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shopguide.errors import RecordTrouble
from shopguide.record.disk import BROKEN
from shopguide.record.schema import find_fault, has_own_tables
from shopguide.work.chain import GENESIS, canonical, follow
from shopguide.work.events import Event

SHA256 = re.compile(r"[0-9a-f]{64}")
_MOST_FAULTS = 5

STRANGE_TABLES = "Its tables are not those of a record, so nothing is read from them."

EVENT_COLUMNS = "seq, prev, at, kind, data, hash"


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """A photo in a record: the sheet's under its file name, or one taken in during the work.

    sha256 is the original's hash, paper_sha256 that of its small copy; width and height are the
    original's, in pixels.
    """

    name: str
    sha256: str
    paper_sha256: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing that a check found out. `good` is None where it is neither well nor wanting."""

    about: str
    good: bool | None
    says: str


def make_event(row: tuple[Any, ...]) -> Event:
    """The event of one row. Raises ValueError where it is not as this program writes events."""
    seq, prev, at, kind, text, known = row
    if type(seq) is not int or not all(isinstance(x, str) for x in (prev, at, kind, text, known)):
        raise ValueError("a value of the wrong kind")
    try:
        data = json.loads(text)
        # A text that reads the same but is written otherwise was not written by this program.
        plain = isinstance(data, Mapping) and canonical(data) == text.encode("utf-8")
    except (RecordTrouble, RecursionError) as error:
        raise ValueError(str(error)) from None
    if not plain:
        raise ValueError("data written in another way")
    return Event(seq=seq, at=at, kind=kind, data=data, hash=known, prev=prev)


def read_events(connection: sqlite3.Connection) -> tuple[list[Event], str | None]:
    """The events that hold, from the first on, and the first fault in words (None for none)."""
    events: list[Event] = []
    fault = None
    rows = connection.execute(f"SELECT {EVENT_COLUMNS} FROM events ORDER BY seq")
    for due, row in enumerate(rows, 1):
        try:
            events.append(make_event(row))
        except ValueError:
            fault = f"event {row[0] if type(row[0]) is int else due} cannot be read"
            break
    held, broken = check_chain(events)
    if broken is not None:
        return events[:held], broken
    if not events and fault is None:
        fault = "it holds no events"
    return events, fault


def check_chain(events: Iterable[Event]) -> tuple[int, str | None]:
    """How many events hold from the first on, and the first fault in words."""
    rows = [as_row(event) for event in events]
    head, fault = follow(rows)
    if fault is None:
        return len(rows), None
    held = next((n for n, row in enumerate(rows, 1) if row["hash"] == head), 0)
    return (0 if head == GENESIS else held), fault


def as_row(event: Event) -> dict[str, Any]:
    """An event as the chain and the paper take it."""
    return {
        "seq": event.seq,
        "prev": event.prev,
        "at": event.at,
        "kind": event.kind,
        "data": event.data,
        "hash": event.hash,
    }


def read_sheet(connection: sqlite3.Connection, events: list[Event]) -> bytes:
    """The frozen job.json. Raises RecordTrouble where it is not the one the record began with."""
    rows = connection.execute("SELECT raw, sha256 FROM sheet").fetchall()
    if len(rows) != 1:
        raise RecordTrouble("The job sheet in the record is missing.")
    raw, known = rows[0]
    sha256 = hashlib.sha256(raw).hexdigest()
    begun = events[0].data.get("sheet_sha256") if events else known
    if not sha256 == known == begun:
        raise RecordTrouble("The job sheet in the record was changed after work began.")
    return raw


def read_photos(connection: sqlite3.Connection) -> tuple[StoredPhoto, ...]:
    """All photos, without their bytes: the sheet's first, then each as it was taken in."""
    rows = connection.execute(
        "SELECT name, sha256, paper_sha256, width, height FROM photos ORDER BY id"
    )
    return tuple(StoredPhoto(*row) for row in rows)


def read_picture(connection: sqlite3.Connection, sha256: str) -> bytes:
    """The bytes of one picture. Raises RecordTrouble where they are not what they were."""
    row = connection.execute("SELECT content FROM pictures WHERE sha256 = ?", (sha256,)).fetchone()
    if row is None:
        raise RecordTrouble("The photo is not in the record.")
    if hashlib.sha256(row[0]).hexdigest() != sha256:
        raise RecordTrouble("The photo was changed or damaged after it was taken in.")
    return row[0]


def list_promised(events: Iterable[Event]) -> list[tuple[int, StoredPhoto]]:
    """The photos that the events say the record holds, each with its event's number."""
    promised = []
    for event in events:
        entries: Any = []
        if event.kind == "begun":
            entries = event.data.get("photos", [])
        elif event.kind == "photo":
            entries = [event.data]
        try:
            promised += [
                (
                    event.seq,
                    StoredPhoto(
                        str(entry["name"]),
                        str(entry["sha256"]),
                        str(entry["paper_sha256"]),
                        int(entry["width"]),
                        int(entry["height"]),
                    ),
                )
                for entry in entries
            ]
        except (KeyError, TypeError, ValueError):
            continue
    return promised


def find_photo_faults(connection: sqlite3.Connection, events: list[Event]) -> list[str]:
    """What is wrong with the photos, in words: each stored one against its event and its hash."""
    stored = [
        (row[0], StoredPhoto(*row[1:]))
        for row in connection.execute(
            "SELECT seq, name, sha256, paper_sha256, width, height FROM photos ORDER BY id"
        )
    ]
    promised = list_promised(events)
    faults = []
    for seq, photo in promised:
        if (seq, photo) in stored:
            stored.remove((seq, photo))
        else:
            faults.append(f"the photo “{photo.name[:80]}” of event {seq} is missing")
    faults += [f"the photo “{photo.name[:80]}” belongs to no event" for _, photo in stored]
    names = {photo.sha256: photo.name for _, photo in promised}
    names |= {photo.paper_sha256: photo.name for _, photo in promised}
    found = set()
    for number, (known,) in enumerate(
        connection.execute("SELECT sha256 FROM pictures ORDER BY rowid").fetchall(), 1
    ):
        name = f"“{names[known][:80]}”" if known in names else f"number {number}"
        found.add(known)
        try:
            read_picture(connection, known)
        except RecordTrouble:
            faults.append(f"the photo {name} was changed or damaged")
        except BROKEN:
            faults.append(f"the photo {name} cannot be read")
    faults += [f"the photo “{names[known][:80]}” is missing" for known in names.keys() - found]
    return faults


def check_contents(connection: sqlite3.Connection) -> tuple[tuple[Statement, ...], list[Event]]:
    """Every check there is, each as a statement of its own; and the events that hold."""
    statements = [_check_pages(connection), _check_layout(connection)]
    events: list[Event] = []
    try:
        if not has_own_tables(connection):
            return (*statements, Statement("chain", False, STRANGE_TABLES)), events
    except BROKEN:
        # Said already: it is the layout that cannot be read.
        return tuple(statements), events
    try:
        events, fault = read_events(connection)
    except BROKEN as error:
        fault = f"it cannot be read to its end ({error})"
    if fault is None:
        said = f"The chain of its {len(events)} events holds, each after the one before."
    else:
        said = f"The chain does not hold: {fault}."
    statements.append(Statement("chain", fault is None, said))
    statements.append(_check_sheet(connection, events))
    statements.append(_check_photos(connection, events, fault is None))
    return tuple(statements), events


def _check_pages(connection: sqlite3.Connection) -> Statement:
    try:
        lines = [
            str(row[0]) for row in connection.execute(f"PRAGMA integrity_check({_MOST_FAULTS})")
        ]
    except BROKEN as error:
        lines = [str(error)]
    if lines == ["ok"]:
        return Statement("file", True, "The file is whole.")
    said = "; ".join(line.strip().replace("\n", "; ") for line in lines)[:300]
    return Statement("file", False, f"The file is damaged: {said}.")


def _check_layout(connection: sqlite3.Connection) -> Statement:
    try:
        fault = find_fault(connection)
    except BROKEN as error:
        fault = f"it cannot be read ({error})"
    if fault is None:
        return Statement("guards", True, "Its guards against changing and deleting are in place.")
    return Statement("guards", False, f"The file's layout is not as it was made: {fault}.")


def _check_sheet(connection: sqlite3.Connection, events: list[Event]) -> Statement:
    try:
        read_sheet(connection, events)
    except RecordTrouble as trouble:
        return Statement("sheet", False, trouble.what)
    except (*BROKEN, TypeError) as error:
        return Statement("sheet", False, f"The job sheet in the record cannot be read ({error}).")
    return Statement("sheet", True, "The job sheet is the one the record began with.")


def _check_photos(connection: sqlite3.Connection, events: list[Event], whole: bool) -> Statement:
    try:
        faults = find_photo_faults(connection, events)
        count = len(read_photos(connection))
    except (*BROKEN, TypeError) as error:
        return Statement("photos", False, f"The photos cannot be read ({error}).")
    if not whole:
        # The events that name the others are out of reach: that was said already.
        faults = [fault for fault in faults if "belongs to no event" not in fault]
    if not faults:
        said = f"All {count} photos match their hashes." if count else "It holds no photos."
        return Statement("photos", True, said)
    more = f", and {len(faults) - _MOST_FAULTS} more" if len(faults) > _MOST_FAULTS else ""
    said = "; ".join(faults[:_MOST_FAULTS])
    return Statement("photos", False, f"{said[0].upper()}{said[1:]}{more}.")
