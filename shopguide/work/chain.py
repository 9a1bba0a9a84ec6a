"""The chain that ties each event of a record to the one before it, so that a later change shows.

A chain proves order and completeness only against a head known from elsewhere, such as the one
printed on a signed paper: whoever can rewrite the whole chain can make any other. It says nothing
about real time, nor whether what was entered is true.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

import rfc8785

from shopguide.errors import RecordTrouble

VERSION = 1
GENESIS = "0" * 64
"""What stands as `prev` in the first event of a record."""

_TAG = b"shopguide-record/1/event\0"
# Nothing a person enters nests deeper; a text made to exhaust the stack does.
_MOST_LEVELS = 64


def canonical(value: Any) -> bytes:
    """The one way to write `value` as JSON in UTF-8 (RFC 8785), with its text in Unicode form NFC.

    Raises RecordTrouble for what JSON cannot hold exactly: whole numbers beyond 2^53 - 1, decimal
    numbers, infinities, keys that are no text, half characters, and nesting beyond 64 levels.
    """
    try:
        return rfc8785.dumps(_settle(value, "", floats=True, levels=_MOST_LEVELS))
    except (ValueError, TypeError) as fault:
        raise RecordTrouble(
            f"A value cannot be written into a record: {fault}.",
            next="Write figures as text with their unit, and names as plain text.",
        ) from fault


def link(seq: int, prev: str, at: str, kind: str, data: Mapping[str, Any]) -> str:
    """The SHA-256, in lower-case hex, that event `seq` is known by and that the next one names.

    It covers every field, `prev` included, under a tag of its own so that no other hash of the
    program can stand in for it. Raises RecordTrouble where `canonical` does, and for numbers with a
    fraction: a measured value is a text with its unit, as it was read ("9.2 N·m").
    """
    body = {
        "v": VERSION,
        "seq": seq,
        "prev": prev,
        "at": at,
        "kind": kind,
        "data": _settle(data, "data", floats=False, levels=_MOST_LEVELS),
    }
    return hashlib.sha256(_TAG + canonical(body)).hexdigest()


def follow(rows: Iterable[Mapping[str, Any]]) -> tuple[str, str | None]:
    """Walk the events of a record from the first one and say where the chain ends or breaks.

    rows: in order, each with seq (from 1), prev, at, kind, data and hash.
    Returns the hash of the last event that holds (GENESIS when there is none) and the first fault
    in words, or None when every event holds. A missing end is no fault that could be seen here:
    compare the head with one known from elsewhere.
    """
    head = GENESIS
    for due, row in enumerate(rows, 1):
        fault = _find_fault(due, head, row)
        if fault:
            return head, fault
        head = row["hash"]
    return head, None


def _find_fault(due: int, head: str, row: Any) -> str | None:
    try:
        seq, prev, at, kind, data, known = (
            row[key] for key in ("seq", "prev", "at", "kind", "data", "hash")
        )
        if type(seq) is not int or not isinstance(data, Mapping):
            return f"event {due} cannot be read"
        if not all(isinstance(text, str) for text in (prev, at, kind, known)):
            return f"event {due} cannot be read"
        if seq > due:
            return f"event {due} is missing"
        if seq < due:
            return f"event {seq} stands where event {due} should"
        if link(seq, prev, at, kind, data) != known:
            return f"event {seq} was changed after it was written"
    except (KeyError, TypeError, RecordTrouble):
        return f"event {due} cannot be read"
    if prev != head:
        if due == 1:
            return "event 1 follows another one, so the beginning is missing"
        return (
            f"event {seq} does not follow from event {due - 1}: "
            "one of the two was changed after it was written"
        )
    return None


def _settle(value: Any, where: str, *, floats: bool, levels: int) -> Any:
    """The same value of plain dicts, lists and NFC text; what a record may not hold is refused."""
    if isinstance(value, str):
        return unicodedata.normalize("NFC", value)
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        if floats:
            return value
        raise RecordTrouble(
            f"{value!r} is a number with a fraction, which a record does not hold.",
            where=where,
            next="Store a measured value as text with its unit, as it was read.",
        )
    if levels <= 0:
        raise RecordTrouble("A value is nested too deeply for a record.", where=where[:80])
    if isinstance(value, Mapping):
        settled: dict[Any, Any] = {}
        for key, inner in value.items():
            name = unicodedata.normalize("NFC", key) if isinstance(key, str) else key
            if name in settled:
                raise RecordTrouble(f"The key {name!r} occurs twice.", where=where)
            settled[name] = _settle(inner, f"{where}.{name}", floats=floats, levels=levels - 1)
        return settled
    if isinstance(value, list | tuple):
        return [
            _settle(inner, f"{where}[{place}]", floats=floats, levels=levels - 1)
            for place, inner in enumerate(value)
        ]
    raise TypeError(f"{type(value).__name__} is no kind of JSON value")
