"""Drafts put aside while a sheet is written: what a crash would lose is in the user's folder."""

from __future__ import annotations

import contextlib
import hashlib
import json
import secrets
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from shopguide import places
from shopguide.errors import Trouble
from shopguide.job.saving import write_atomically

ENDING = ".draft.json"


@dataclass(frozen=True, slots=True)
class Aside:
    """A draft that was put aside. source: the sheet it is of, "" where that was never saved."""

    path: Path
    source: str
    title: str
    at: str
    raw: bytes = field(repr=False)

    def tell_when(self) -> str:
        """When it was put aside, as a person writes it."""
        try:
            moment = datetime.fromisoformat(self.at).astimezone()
        except ValueError:
            return "at a time not known"
        return f"{moment.day} {moment.strftime('%b %Y, %H:%M')}"


def find_folder() -> Path:
    """The folder of the drafts, made where it is not there yet. Raises Trouble."""
    folder = places.user_folder() / "drafts"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise Trouble(
            f"Drafts cannot be put aside: {fault.strerror or fault}.",
            str(folder),
            "Save the sheet often until that is put right.",
        ) from fault
    return folder


def name_draft(source: Path | None) -> str:
    """The key of a sheet's draft; one of its own where the sheet is not saved anywhere yet."""
    if source is None:
        return f"new-{secrets.token_hex(8)}"
    return hashlib.sha256(str(source.absolute()).encode()).hexdigest()[:24]


def find_pictures(key: str) -> Path:
    """Where pictures wait that were added and are not saved yet."""
    return find_folder() / f"{key}.photos"


def put_aside(key: str, source: Path | None, title: str, raw: bytes) -> Path:
    """Writes a draft into the user's folder; raw: the JSON of the sheet as typed. Raises Trouble.

    The saved sheet is not touched.
    """
    head = {
        "source": str(source.absolute()) if source is not None else "",
        "title": title,
        "at": datetime.now().astimezone().isoformat(timespec="seconds"),
    }
    path = find_folder() / f"{key}{ENDING}"
    start = json.dumps(head, ensure_ascii=False).removesuffix("}")
    write_atomically(path, f'{start}, "sheet": '.encode() + raw + b"}")
    return path


def find_aside(key: str) -> Aside | None:
    """The draft with this key; None where there is none that can be read."""
    return _read(find_folder() / f"{key}{ENDING}")


def list_unsaved() -> list[Aside]:
    """Drafts of sheets that were never saved, the newest first."""
    found = [a for a in _read_all() if not a.source]
    return sorted(found, key=lambda a: a.at, reverse=True)


def key_of(aside: Aside) -> str:
    """The key under which a draft was put aside."""
    return aside.path.name.removesuffix(ENDING)


def move_pictures(pictures: Mapping[str, Path], key: str) -> dict[str, Path]:
    """Lets waiting pictures wait under another key; where each lies then, by name."""
    if not pictures:
        return {}
    folder = find_pictures(key)
    moved = dict(pictures)
    for name, path in pictures.items():
        if path.parent != folder:
            # Where that cannot be done it stays where it is.
            with contextlib.suppress(OSError):
                folder.mkdir(parents=True, exist_ok=True)
                moved[name] = path.replace(folder / name)
                path.parent.rmdir()
    return moved


def drop_aside(key: str, pictures: Collection[str] | None = None) -> None:
    """Takes a draft away, and those pictures that waited with it, or all: the sheet is saved."""
    with contextlib.suppress(OSError):
        (find_folder() / f"{key}{ENDING}").unlink(missing_ok=True)
    folder = find_pictures(key)
    with contextlib.suppress(OSError):
        for picture in folder.iterdir():
            if pictures is None or picture.name in pictures:
                picture.unlink(missing_ok=True)
        folder.rmdir()


def keep_one_more(key: str) -> None:
    """Moves a draft that is not wanted out of the way, where it could still be got back."""
    path = find_folder() / f"{key}{ENDING}"
    with contextlib.suppress(OSError):
        path.replace(path.with_name(f"{key}.left.json"))


def _read_all() -> Iterator[Aside]:
    for path in sorted(find_folder().glob(f"*{ENDING}")):
        found = _read(path)
        if found is not None:
            yield found


def _read(path: Path) -> Aside | None:
    try:
        held = json.loads(path.read_bytes())
        raw = json.dumps(held["sheet"], ensure_ascii=False).encode("utf-8")
        return Aside(path, str(held["source"]), str(held["title"]), str(held["at"]), raw)
    except (OSError, ValueError, KeyError, TypeError):
        return None
