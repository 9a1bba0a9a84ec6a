"""What stands on the Shelf, as plain rows: sheets and records with their state in words."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from shopguide import places
from shopguide.errors import Trouble
from shopguide.record.summary import Summary, look_into
from shopguide.window.write_drafts import Aside, is_held, key_of, list_asides, name_draft

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
    draft: str = ""
    """The key of the draft that the row is, where it is no sheet and no record."""


def list_rows(recent: list[str], records_folder: Path | None = None) -> list[ShelfRow]:
    """Everything on the Shelf; reads files, so it is called off the window's thread."""
    folder = records_folder or places.records_folder()
    summaries = [look_into(path) for path in sorted(folder.glob("*.shopguide"), reverse=True)]
    going = [_record_row(s) for s in summaries if not s.finished]
    done = [_record_row(s) for s in summaries if s.finished]
    sheets: list[ShelfRow] = []
    seen: set[Path] = set()
    samples = {s.absolute() for s in places.list_samples()}
    drafts = _list_drafts()
    unsaved = [_draft_row(a) for a in drafts if not _is_there(a.source)]
    newest = {name_draft(Path(a.source)): a for a in reversed(drafts) if _is_there(a.source)}
    begun = [a.source for a in newest.values()]
    for path in [*(Path(p) for p in (*recent, *begun)), *sorted(samples)]:
        path = path.absolute()
        if path in seen or not path.exists():
            continue
        seen.add(path)
        row = _sheet_row(path, sample=path in samples)
        aside = newest.get(name_draft(path))
        sheets.append(row if aside is None else _add_draft(row, aside))
    return unsaved + going + sheets + done


def _list_drafts() -> list[Aside]:
    """What was put aside, the newest first."""
    try:
        return list_asides(heads=True)
    except Trouble:
        return []  # putting aside tells why


def _is_there(source: str) -> bool:
    """True where a draft is of a sheet that can be opened."""
    try:
        return bool(source) and Path(source).is_dir()
    except (OSError, ValueError):
        return False


def _draft_row(aside: Aside) -> ShelfRow:
    """A draft of a sheet that is nowhere saved."""
    key = key_of(aside)
    title = aside.title or "A draft"
    under = "A sheet that was never saved"
    state = f"put aside {_tell_lately(aside)}"
    if aside.source:
        under = f"Not saved, and its sheet is not there any more: {aside.source}"
    elif aside.fault == "damaged":
        under = "A draft that is damaged and cannot be read"
    elif aside.fault == "newer":
        under = "A draft of a newer version of this program"
    elif is_held(key):
        under, state = "A sheet that was never saved", "being written now"
    does = f"Space opens it in Write: {title}"
    return ShelfRow(GO_ON, title, under, state, "", aside.path, does, key)


def _add_draft(row: ShelfRow, aside: Aside) -> ShelfRow:
    """The row of a sheet of which changes were put aside."""
    state = f"put aside {_tell_lately(aside)}"
    if aside.fault != "newer" and is_held(key_of(aside)):
        state = "being written now"
    return replace(row, state=state, date="changes not saved")


def _tell_lately(aside: Aside) -> str:
    """When it was put aside: the time alone where that was today."""
    moment = aside.find_moment()
    if moment is None:
        return "some time ago"
    clock = moment.strftime("%H:%M")
    if moment.date() == datetime.now().astimezone().date():
        return clock
    return f"{moment.day} {moment.strftime('%b %Y')}, {clock}"


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


def _sheet_row(path: Path, *, sample: bool) -> ShelfRow:
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
