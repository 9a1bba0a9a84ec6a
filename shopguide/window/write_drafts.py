"""Drafts put aside while a sheet is written: what a crash would lose is in the user's folder.

A draft lies in "KEY.draft.json", its pictures that are not saved yet in "KEY.photos". One window
at a time has the right to a key; another one that writes the same sheet gets a key of its own.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
import stat
import time
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

from shopguide import places
from shopguide.errors import RecordTrouble, Trouble
from shopguide.job.saving import write_atomically
from shopguide.record.lock import RecordLocked, WriteLock

ENDING = ".draft.json"
FORMAT = "shopguide-draft/1"
_SHEET_BEGINS = b', "sheet": '
_NEWER = {str(number) for number in range(2, 1000)}
_HEAD_BYTES = 65_536
_MOST_BYTES = 50_000_000
_MOST_LEFT = 1000
_TRIES, _TRY_S = 5, 0.01
_SAVE_TRIES, _SAVE_TRY_S = 150, 0.02

Fault = Literal["", "damaged", "newer"]


@dataclass(frozen=True, slots=True)
class Aside:
    """A draft that was put aside.

    source: the sheet it is of, "" where that was never saved.  base: the SHA-256 of the job.json
    that it began from.  fault: why there is no `raw`, "" where there is.  doubtful: it can be read,
    but is not what was written.
    """

    path: Path
    source: str
    title: str
    at: str
    raw: bytes = field(repr=False)
    base: str = ""
    fault: Fault = ""
    doubtful: bool = False

    def find_moment(self) -> datetime | None:
        """When it was put aside; None where that cannot be told."""
        try:
            return datetime.fromisoformat(self.at).astimezone()
        except (ValueError, OverflowError, OSError):
            return None

    def tell_when(self) -> str:
        """When it was put aside, as a person writes it."""
        moment = self.find_moment()
        if moment is None:
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
    # The folder itself counts, by whichever link it was reached.
    return hashlib.sha256(os.fsencode(os.path.realpath(source))).hexdigest()[:24]


def find_pictures(key: str) -> Path:
    """Where pictures wait that were added and are not saved yet."""
    return find_folder() / f"{key}.photos"


# --- one window a draft -------------------------------------------------------------------------


class Hold:
    """The right to a draft's key, until it is let go or the process ends, however it ends.

    elsewhere: who has the key that was wished for ("since 5 Mar, 14:02, by process 4711 of this
    computer"), "" where nobody has.
    """

    def __init__(self, key: str, lock: WriteLock | None = None, elsewhere: str = "") -> None:
        self.key, self.elsewhere = key, elsewhere
        self.lock = lock

    def drop(self) -> None:
        """Lets the key go."""
        if self.lock is not None:
            self.lock.drop()
            self.lock = None


def take_hold(key: str) -> Hold:
    """The right to this key; where another window has it, to another key of the same sheet."""
    hold = try_hold(key)
    if not hold.elsewhere:
        return hold
    own = try_hold(f"{key}-{secrets.token_hex(4)}")
    return Hold(own.key, own.lock, hold.elsewhere)


def try_hold(key: str) -> Hold:
    """The right to this key; `elsewhere` tells who has it where it is not free.

    Where the folder can keep no lock, nobody else is known of.
    """
    lock = _take_lock(f"{key}{ENDING}", _TRIES, _TRY_S)
    if isinstance(lock, str):
        return Hold(key, None, lock)
    if lock is not None:
        # What a killed process had half written is nobody's now.
        for beside in lock.record.parent.glob(f".{key}{ENDING}.*.part"):
            with contextlib.suppress(OSError):
                beside.unlink()
    return Hold(key, lock)


def is_held(key: str) -> bool:
    """True while a window writes under this key."""
    # There is a lock file only while it is held, and after a crash.
    if not (find_folder() / f".{key}{ENDING}.lock").exists():
        return False
    lock = _take_lock(f"{key}{ENDING}", 1, 0)
    if isinstance(lock, WriteLock):
        lock.drop()
    return isinstance(lock, str)


@contextlib.contextmanager
def save_alone(folder: Path) -> Iterator[None]:
    """While a sheet's folder is looked at and written, no other window of this user does so.

    Raises Trouble where another one is at it for seconds.
    """
    lock = _take_lock(f"{name_draft(folder)}.save", _SAVE_TRIES, _SAVE_TRY_S)
    if isinstance(lock, str):
        raise Trouble(
            "Another window is saving this sheet just now.", str(folder), "Save once more."
        )
    try:
        yield
    finally:
        if lock is not None:
            lock.drop()


def _take_lock(name: str, tries: int, wait_s: float) -> WriteLock | str | None:
    """The lock, or who has it, or None where the folder can keep none."""
    try:
        lock = WriteLock(find_folder() / name)
    except Trouble:
        return None
    for left in reversed(range(tries)):
        try:
            lock.take()
            return lock
        except RecordLocked as trouble:
            if trouble.__cause__ is not None:
                return None  # not somebody else, but the place: full, or read-only
            if not left:
                return trouble.holder.tell() if trouble.holder else "by another window"
            time.sleep(wait_s)
        except RecordTrouble:
            return None
    return None


# --- putting aside ------------------------------------------------------------------------------


def put_aside(key: str, source: Path | None, title: str, raw: bytes, base: str = "") -> Path:
    """Writes a draft into the user's folder; raw: the JSON of the sheet as typed. Raises Trouble.

    base: the SHA-256 of the saved job.json. The saved sheet is not touched.
    """
    head = {
        "format": FORMAT,
        "source": str(source.absolute()) if source is not None else "",
        "title": title,
        "at": datetime.now().astimezone().isoformat(timespec="seconds"),
        "base": base,
        "bytes": len(raw),
        "sha256": hashlib.sha256(raw).hexdigest(),
    }
    path = find_folder() / f"{key}{ENDING}"
    # ASCII, so that a folder whose name is no UTF-8 can be told of too.
    start = json.dumps(head).removesuffix("}").encode("ascii")
    write_atomically(path, start + _SHEET_BEGINS + raw + b"}")
    return path


def find_aside(key: str) -> Aside | None:
    """The draft with this key; None where there is none that can be read."""
    aside = look_at(find_folder() / f"{key}{ENDING}")
    return aside if aside is not None and not aside.fault else None


def list_asides(*, heads: bool = False) -> list[Aside]:
    """All drafts, the newest first, those too that cannot be read. heads: without what they hold.

    Not in the list is whether a draft without its sheet is whole.
    """
    found = [look_at(path, heads) for path in sorted(find_folder().glob(f"*{ENDING}"))]
    long_ago = datetime.fromtimestamp(0, UTC)
    return sorted(
        (aside for aside in found if aside is not None),
        key=lambda aside: aside.find_moment() or long_ago,
        reverse=True,
    )


def list_unsaved() -> list[Aside]:
    """Drafts of sheets that were never saved, the newest first."""
    return [a for a in list_asides() if not a.source and not a.fault]


def list_keys(source: Path) -> list[str]:
    """The keys under which drafts of this sheet lie, that of a lone window first."""
    key = name_draft(source)
    folder = find_folder()
    paths = [*folder.glob(f"{key}{ENDING}"), *sorted(folder.glob(f"{key}-*{ENDING}"))]
    return [path.name.removesuffix(ENDING) for path in paths]


def key_of(aside: Aside) -> str:
    """The key under which a draft was put aside."""
    return aside.path.name.removesuffix(ENDING)


def look_at(path: Path, head_only: bool = False) -> Aside | None:
    """What a draft's file holds, or why it cannot be read; None where there is no such file."""
    try:
        about = path.lstat()
    except FileNotFoundError:
        return None
    except OSError:
        return Aside(path, "", "", "", b"", fault="damaged")
    try:
        if not stat.S_ISREG(about.st_mode) or about.st_size > _MOST_BYTES:
            raise ValueError("no ordinary file, or one that nobody wrote")
        with path.open("rb") as file:
            start = file.read(_HEAD_BYTES if head_only else -1)
            if _SHEET_BEGINS not in start:
                start += file.read()
            file.seek(-1, os.SEEK_END)
            closed = file.read(1) == b"}"
            size = file.tell()
    except FileNotFoundError:
        return None
    except (OSError, ValueError):
        return Aside(path, "", "", "", b"", fault="damaged")
    return _read(path, start, size if closed else 0, head_only)


def _read(path: Path, start: bytes, size: int, head_only: bool) -> Aside:
    """size: that of the file in bytes, 0 where it does not end as a draft does."""
    # In a text of JSON a quotation mark is never bare, so this is where the sheet begins.
    told, begins, rest = start.partition(_SHEET_BEGINS)
    try:
        head = json.loads(told + b"}")
        wanted = str(head.get("format", FORMAT))
        texts = [str(head.get(name, "")) for name in ("source", "title", "at", "base")]
    except (ValueError, RecursionError, AttributeError):
        return Aside(path, "", "", "", b"", fault="damaged")
    source, title, at, base = texts
    name, _, number = wanted.partition("/")
    if name == FORMAT.partition("/")[0] and number in _NEWER:
        return Aside(path, source, title, at, b"", base, "newer")
    known = wanted == FORMAT and "source" in head and "title" in head
    if not (known and begins and size):
        return Aside(path, source, title, at, b"", base, "damaged")
    if head_only:
        length = size - len(told) - len(_SHEET_BEGINS) - 1
        cut = head.get("bytes", length) != length
        return Aside(path, source, title, at, b"", base, "damaged" if cut else "")
    raw = rest[:-1]
    fault, doubtful = _judge(raw, head.get("sha256"))
    return Aside(path, source, title, at, b"" if fault else raw, base, fault, doubtful)


def _judge(raw: bytes, digest: object) -> tuple[Fault, bool]:
    """What is wrong with the sheet in a draft, and whether it is another one than was written."""
    # Here, for the Shelf shows drafts before what reads sheets is imported.
    from shopguide.job.edits import Draft
    from shopguide.job.files import SHEET_NAME

    try:
        Draft.open(raw, SHEET_NAME)
    except Trouble:
        return _find_fault(raw), False
    except (ValueError, RecursionError):
        return "damaged", False
    return "", digest is not None and digest != hashlib.sha256(raw).hexdigest()


def _find_fault(raw: bytes) -> Fault:
    """Why a sheet in a draft does not open: a format of the future, or damage."""
    from shopguide.job.upgrade import NEWEST, STEM

    try:
        held = json.loads(raw)
        name, _, number = str(held.get("format", "")).partition("/")
    except (ValueError, RecursionError, AttributeError):
        return "damaged"
    newer = name == STEM and number.isdecimal() and len(number) < 5 and int(number) > NEWEST
    return "newer" if newer else "damaged"


# --- afterwards ---------------------------------------------------------------------------------


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


def keep_one_more(key: str) -> Path | None:
    """Moves a draft out of the way with its pictures, where it could still be got back.

    Where it lies then; None where there was none, or it could not be moved.
    """
    path = find_folder() / f"{key}{ENDING}"
    left = _find_left(key)
    try:
        path.replace(left)
    except OSError:
        return None
    with contextlib.suppress(OSError):
        find_pictures(key).replace(left.with_suffix(".photos"))
    return left


def keep_overwritten(key: str, raw: bytes) -> Path | None:
    """Keeps the bytes of a saved sheet that is overwritten knowingly; where they lie then."""
    with contextlib.suppress(Trouble):
        left = _find_left(key)
        write_atomically(left, raw)
        return left
    return None


def _find_left(key: str) -> Path:
    """A name that is free for what is kept."""
    folder = find_folder()
    for count in range(1, _MOST_LEFT):
        path = folder / (f"{key}.left.json" if count == 1 else f"{key}.left {count}.json")
        if not path.exists() and not path.with_suffix(".photos").exists():
            return path
    return folder / f"{key}.left {secrets.token_hex(8)}.json"
