"""The verdict on a record file: each thing that can be told of it, told separately."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shopguide.errors import RecordTrouble
from shopguide.record.contents import Statement, check_contents
from shopguide.record.damage import rescue, tell_rescued
from shopguide.record.disk import (
    BROKEN,
    is_cut_off,
    is_damage,
    look,
    refuse_foreign,
    tell_open_failure,
    tell_os_failure,
)
from shopguide.work.events import Event

COPIED_OPEN = (
    "The file was copied or moved while it was open, without the -wal file beside it: "
    "what was recorded last may be missing."
)
_SIGNS = {True: "yes ", False: "NO  ", None: "note"}


@dataclass(frozen=True, slots=True)
class Findings:
    """What a check of a record found: its statements, and its head where the chain holds."""

    statements: tuple[Statement, ...]
    head: str = ""
    events: int = 0

    @property
    def good(self) -> bool:
        """True where nothing was found wanting."""
        return all(statement.good is not False for statement in self.statements)

    @property
    def faults(self) -> tuple[str, ...]:
        """What was found wanting, a sentence each."""
        return tuple(s.says for s in self.statements if s.good is False)

    def tell(self) -> str:
        """All statements, a line each."""
        return "\n".join(f"{_SIGNS[s.good]}  {s.says}" for s in self.statements)


@dataclass(frozen=True, slots=True)
class RecordVerdict(Findings):
    """What can be told of a record file, and no more than that."""

    path: Path = Path()

    def as_dict(self) -> dict[str, Any]:
        """The verdict as plain data."""
        return {
            "file": self.path.name,
            "kind": "record",
            "good": self.good,
            "head": self.head,
            "events": self.events,
            "statements": [
                {"about": s.about, "good": s.good, "says": s.says} for s in self.statements
            ],
        }

    def tell(self) -> str:
        """The verdict in lines of text."""
        return f"{self.path.name}\n{super(RecordVerdict, self).tell()}"


def check_record(connection: sqlite3.Connection) -> Findings:
    """Checks the pages, the layout, the chain, the sheet and every photo."""
    statements, events = check_contents(connection)
    whole = _holds(statements)
    return Findings(statements, events[-1].hash if whole else "", len(events))


def verify_record(path: str | Path) -> RecordVerdict:
    """Checks a record file without changing it.

    Raises RecordTrouble for what is no record, or one of a newer program; a damaged or changed
    record is no error but a verdict that is not good.
    """
    path = Path(path)
    header = refuse_foreign(path)
    cut_off = False
    try:
        with look(path) as connection:
            statements, events = check_contents(connection)
            cut_off = is_cut_off(connection, path, header)
    except BROKEN as error:
        if not is_damage(error):
            raise tell_open_failure(error, path) from error
        statements, events = (Statement("file", False, f"The file is damaged: {error}."),), []
    except OSError as error:
        raise tell_os_failure(error, path) from error
    whole = _holds(statements)
    if cut_off:
        statements = (Statement("closed", False, COPIED_OPEN), *statements)
    if not all(statement.good for statement in statements):
        statements = (*statements, _tell_readable(path))
    head = events[-1].hash if whole else ""
    if whole:
        statements = (*statements, _tell_signed(events), _tell_limit(head))
        if events[0].data.get("rehearsal"):
            said = "It is a REHEARSAL: made for practice, no record of work done."
            statements = (Statement("rehearsal", False, said), *statements)
    return RecordVerdict(statements, head, len(events), path)


def _holds(statements: Iterable[Statement]) -> bool:
    return [s.good for s in statements if s.about == "chain"] == [True]


def _tell_readable(path: Path) -> Statement:
    try:
        rescued = rescue(path)
    except RecordTrouble as trouble:
        return Statement("readable", None, trouble.what)
    said = tell_rescued(rescued)
    if rescued.lost:
        shown = "; ".join(rescued.lost[:5])
        said += f" Not so: {shown}."
    return Statement("readable", None, said)


def _tell_signed(events: Iterable[Event]) -> Statement:
    signed = [event for event in events if event.kind == "signed"]
    if not signed:
        return Statement("signed", None, "It is not signed off.")
    name = signed[-1].data.get("name")
    who = f" by {name[:80]}" if isinstance(name, str) and name else ""
    return Statement(
        "signed",
        None,
        f"It says that it was signed off{who} at {signed[-1].at[:16].replace('T', ' ')} UTC, "
        "by that computer's clock.",
    )


def _tell_limit(head: str) -> Statement:
    return Statement(
        "limit",
        None,
        "The chain alone cannot show that events were cut off its end, nor that all of it was "
        "written anew. Compare its head with the one on a signed paper: " + head,
    )
