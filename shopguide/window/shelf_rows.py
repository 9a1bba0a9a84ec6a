"""What stands on the Shelf, as plain rows: sheets and records with their state in words."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from shopguide import places
from shopguide.record.summary import Summary, look_into

GO_ON, SHEETS, FINISHED = "Go on", "Job sheets", "Finished"


@dataclass(frozen=True, slots=True)
class ShelfRow:
    """One row: section, title, machine or summary, state in words, date, and the path."""

    section: str
    title: str
    under: str
    state: str
    date: str
    path: Path
    does: str


def list_rows(recent: list[str], records_folder: Path | None = None) -> list[ShelfRow]:
    """Everything on the Shelf; reads files, so it is called off the window's thread."""
    folder = records_folder or places.records_folder()
    summaries = [look_into(path) for path in sorted(folder.glob("*.shopguide"), reverse=True)]
    going = [_record_row(s) for s in summaries if not s.finished]
    done = [_record_row(s) for s in summaries if s.finished]
    sheets: list[ShelfRow] = []
    seen: set[Path] = set()
    samples = set(places.list_samples())
    for path in [*(Path(p) for p in recent), *places.list_samples()]:
        path = path.absolute()
        if path in seen or not path.exists():
            continue
        seen.add(path)
        row = _sheet_row(path, sample=path in {s.absolute() for s in samples})
        if row is not None:
            sheets.append(row)
    return going + sheets + done


def _record_row(summary: Summary) -> ShelfRow:
    section = FINISHED if summary.finished else GO_ON
    if summary.damage:
        return ShelfRow(
            GO_ON,
            summary.title or summary.path.stem,
            summary.damage,
            "damaged",
            "",
            summary.path,
            f"Space looks into {summary.path.name}",
        )
    when = _tell_date(summary.last_at or summary.started_at)
    state = "signed" if summary.finished else f"{summary.recorded} recorded"
    if summary.rehearsal:
        state = f"REHEARSAL, {state}"
    does = (
        f"Space opens the finished record: {summary.title}"
        if summary.finished
        else f"Space goes on with: {summary.title}"
    )
    return ShelfRow(
        section,
        summary.title,
        summary.machine or "machine not named",
        state,
        when,
        summary.path,
        does,
    )


def _sheet_row(path: Path, *, sample: bool) -> ShelfRow | None:
    """A quick look at a sheet, without the checks that opening it makes."""
    title, under, date = path.name, str(path.parent), ""
    source = path / "job.json" if path.is_dir() else path
    if source.suffix == ".json":
        try:
            data = json.loads(source.read_bytes()[:5_000_000])
            title = str(data.get("title", title))[:200]
            applies = data.get("applies_to", [])
            under = ", ".join(str(a) for a in applies)[:300] or under
            date = f"revision {data.get('revision', '1')}"
        except (OSError, ValueError, AttributeError, TypeError):
            under = "cannot be read; opening it tells why"
    state = "sample sheet" if sample else "job sheet"
    return ShelfRow(SHEETS, title, under, state, date, path, f"Space opens the sheet: {title}")


def _tell_date(at: str) -> str:
    if not at:
        return ""
    try:
        moment = datetime.fromisoformat(at).astimezone()
    except ValueError:
        return ""
    return f"{moment.day} {moment.strftime('%b %Y, %H:%M')}"
