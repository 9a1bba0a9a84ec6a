"""Damaged records: what is said of them, and what can still be read. Nothing here writes to one."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from shopguide.errors import RecordTrouble
from shopguide.record.contents import (
    EVENT_COLUMNS,
    find_photo_faults,
    make_event,
    read_sheet,
)
from shopguide.record.disk import (
    BROKEN,
    LEFT_AS_IT_IS,
    MAGIC,
    beside,
    look_at_copy,
    read_header,
    tell_os_failure,
)
from shopguide.record.schema import APPLICATION_ID, VERSION, has_own_tables
from shopguide.work.chain import GENESIS, link
from shopguide.work.events import Event

_PAGE_BYTES = 4096
_MOST_PROBES = 100_000


class Rescued(NamedTuple):
    """What could be read from a record: its events, and in words what could not be read."""

    events: tuple[Event, ...]
    lost: tuple[str, ...]


class RecordDamaged(RecordTrouble):
    """A record that is damaged or was changed. `rescued` is what can still be read from it."""

    def __init__(self, what: str, where: str, next: str, rescued: Rescued) -> None:
        super().__init__(what, where, next)
        self.rescued = rescued


def tell_damage(path: Path, faults: Iterable[str]) -> RecordDamaged:
    """The trouble of a damaged record, with what can still be read from it."""
    said = " ".join(faults)
    try:
        rescued = rescue(path)
    except RecordTrouble as trouble:
        rescued = Rescued((), (trouble.what,))
    return RecordDamaged(
        f"The record is damaged or was changed. {said} {tell_rescued(rescued)}",
        str(path),
        LEFT_AS_IT_IS,
        rescued,
    )


def tell_rescued(rescued: Rescued) -> str:
    """In one sentence what can still be read."""
    events = rescued.events
    if not events:
        return "No event can be read from it."
    one = len(events) == 1
    return (
        f"{len(events)} event{'' if one else 's'} can still be read, the last from "
        f"{max(event.at for event in events)[:16].replace('T', ' ')} UTC."
    )


def rescue(path: str | Path) -> Rescued:
    """Reads what can still be read from a damaged record, event by event.

    An event counts as readable where its own hash holds; what was changed is named as lost. It
    works on a copy, so the file stays as it is. Raises RecordTrouble for what is no record at all.
    """
    path = Path(path)
    header = read_header(path)
    if not header.known and header.application_id != APPLICATION_ID:
        raise RecordTrouble(
            "This is not a record, or nothing of it can be recognised.", str(path), LEFT_AS_IT_IS
        )
    lost: list[str] = []
    fresh = b""
    if not _is_plausible(header.first_bytes):
        lost.append("the beginning of the file is damaged")
        fresh = _make_header(header.first_bytes, beside(path, "-wal").exists())
    try:
        with look_at_copy(path, fresh) as connection:
            if not has_own_tables(connection):
                return Rescued((), (*lost, "its tables are not those of a record"))
            connection.execute("PRAGMA cell_size_check = OFF")
            events, missing = _gather(connection)
            lost += missing
            lost += _look_at_rest(connection, events)
    except BROKEN as error:
        return Rescued((), (*lost, f"the file cannot be read ({error})"))
    except OSError as error:
        raise tell_os_failure(error, path) from error
    return Rescued(tuple(events), tuple(lost))


def _is_plausible(head: bytes) -> bool:
    return (
        head.startswith(MAGIC)
        and int.from_bytes(head[16:18], "big") == _PAGE_BYTES
        and head[18] in (1, 2)
        and head[19] in (1, 2)
        and head[20:24] == b"\0\x40\x20\x20"
        and int.from_bytes(head[44:48], "big") == 4
        and int.from_bytes(head[56:60], "big") == 1
    )


def _make_header(broken: bytes, wal: bool) -> bytes:
    """The first bytes as this program's files have them, for a copy whose own are broken."""
    head = bytearray(broken)
    head[0:16] = MAGIC
    head[16:18] = _PAGE_BYTES.to_bytes(2, "big")
    head[18:20] = b"\2\2" if wal else b"\1\1"
    head[20:24] = b"\0\x40\x20\x20"
    head[44:48] = (4).to_bytes(4, "big")
    head[52:56] = bytes(4)
    head[56:60] = (1).to_bytes(4, "big")
    head[60:64] = VERSION.to_bytes(4, "big")
    head[68:72] = APPLICATION_ID.to_bytes(4, "big")
    # Set apart from the change counter, SQLite takes the number of pages from the file's length.
    head[92:96] = bytes(4)
    return bytes(head)


def _gather(connection: sqlite3.Connection) -> tuple[list[Event], list[str]]:
    """The readable events by number, and what is wrong between and with them."""
    rows = {row[0]: row for row in _walk(connection, "ASC") if type(row[0]) is int}
    from_end = {row[0]: row for row in _walk(connection, "DESC") if type(row[0]) is int}
    if rows.keys() != from_end.keys() and rows and from_end:
        gap = range(max(rows) + 1, min(from_end))
        for seq in gap[:_MOST_PROBES]:
            rows |= {row[0]: row for row in _ask_one(connection, seq)}
    rows |= from_end
    events: list[Event] = []
    lost: list[str] = []
    prev = GENESIS
    for due, seq in enumerate(sorted(rows), 1):
        try:
            event = make_event(rows[seq])
            holds = link(seq, event.prev, event.at, event.kind, event.data) == event.hash
        except (ValueError, RecordTrouble):
            lost.append(f"event {seq} cannot be read")
            prev = ""
            continue
        if not holds:
            lost.append(f"event {seq} was changed after it was written")
            prev = ""
            continue
        if prev and event.prev != prev and due == seq:
            lost.append(f"event {seq} does not follow from the one before it")
        prev = event.hash
        events.append(event)
    lost += [f"event {seq} is missing" for seq in range(1, max(rows, default=0)) if seq not in rows]
    if not events:
        lost.append("no event can be read")
    return events, lost


def _walk(connection: sqlite3.Connection, way: str) -> Iterator[tuple[Any, ...]]:
    try:
        yield from connection.execute(f"SELECT {EVENT_COLUMNS} FROM events ORDER BY seq {way}")
    except BROKEN:
        return


def _ask_one(connection: sqlite3.Connection, seq: int) -> list[tuple[Any, ...]]:
    try:
        return connection.execute(
            f"SELECT {EVENT_COLUMNS} FROM events WHERE seq = ?", (seq,)
        ).fetchall()
    except BROKEN:
        return []


def _look_at_rest(connection: sqlite3.Connection, events: list[Event]) -> list[str]:
    lost = []
    try:
        read_sheet(connection, events if events and events[0].seq == 1 else [])
    except RecordTrouble as trouble:
        lost.append(trouble.what[0].lower() + trouble.what[1:].rstrip("."))
    except (*BROKEN, TypeError):
        lost.append("the job sheet cannot be read")
    try:
        faults = find_photo_faults(connection, events)
        lost += [fault for fault in faults if "belongs to no event" not in fault]
    except (*BROKEN, TypeError):
        lost.append("the photos cannot be read")
    return lost
