"""A quick look into a record for the Shelf: what job, which machine, when, how far."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shopguide.errors import RecordTrouble
from shopguide.record.contents import STRANGE_TABLES
from shopguide.record.disk import BROKEN, look
from shopguide.record.schema import has_own_tables

_COUNTED = frozenset({"mark", "done", "skipped"})


@dataclass(frozen=True, slots=True)
class Summary:
    """What the Shelf shows of a record. Times are UTC, ISO 8601; "" where not known.

    recorded: how many marks, done and skipped tasks stand.  photos: how many were taken in.
    finished: it is signed off.  damage: in words why it cannot be used; "" where it can. A
    quick look does not walk the chain: opening does.
    """

    path: Path
    title: str = ""
    machine: str = ""
    started_at: str = ""
    last_at: str = ""
    finished: bool = False
    recorded: int = 0
    photos: int = 0
    rehearsal: bool = False
    damage: str = ""


def look_into(path: str | Path) -> Summary:
    """A summary of the record; of a damaged or foreign file one that says so. Never raises."""
    path = Path(path)
    try:
        with look(path) as connection:
            if not has_own_tables(connection):
                return Summary(path, damage=f"The record is damaged. {STRANGE_TABLES}")
            rows = connection.execute("SELECT seq, at, kind, data FROM events ORDER BY seq")
            return _sum_up(path, rows.fetchall())
    except RecordTrouble as trouble:
        return Summary(path, damage=trouble.what)
    except BROKEN as error:
        return Summary(path, damage=f"The record is damaged ({error}).")
    except OSError as error:
        return Summary(path, damage=f"The file cannot be reached ({error.strerror or error}).")
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return Summary(path, damage="The record is damaged: an event cannot be read.")


def _sum_up(path: Path, rows: list[tuple[int, str, str, str]]) -> Summary:
    if not rows:
        return Summary(path, damage="The record is damaged: it holds no events.")
    events = [(seq, at, kind, json.loads(text)) for seq, at, kind, text in rows]
    taken_back = {int(data["seq"]) for _, _, kind, data in events if kind == "withdrawn"}
    standing = [event for event in events if event[0] not in taken_back]
    laid_out: dict[str, Any] = {
        data["field"]: data["value"] for _, _, kind, data in standing if kind == "laid out"
    }
    begun = events[0][3]
    return Summary(
        path=path,
        title=str(begun.get("title", ""))[:200],
        machine=_tell_machine(laid_out),
        started_at=str(events[0][1]),
        last_at=str(events[-1][1]),
        finished=any(kind == "signed" for _, _, kind, _ in standing),
        recorded=sum(kind in _COUNTED for _, _, kind, _ in standing),
        photos=sum(kind == "photo" for _, _, kind, _ in standing),
        rehearsal=bool(begun.get("rehearsal", False)),
    )


def _tell_machine(laid_out: dict[str, Any]) -> str:
    words = (laid_out.get(key) for key in ("make", "model", "year"))
    return " ".join(word.strip() for word in words if isinstance(word, str) and word.strip())[:200]
