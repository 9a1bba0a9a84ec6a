"""Making the paper: contents, pages, archival form, signature, and the file on disk."""

from __future__ import annotations

import hashlib
import tempfile
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Literal

from shopguide.job.model import Sheet
from shopguide.job.saving import write_atomically
from shopguide.paper.archive import make_archival
from shopguide.paper.contents import Contents, make_contents
from shopguide.paper.identity import Identity
from shopguide.paper.pages import Cancelled, Progress, draw_pages
from shopguide.paper.photos import Darkroom
from shopguide.paper.sign import sign_paper
from shopguide.work.events import Event

ATTACHMENT = "record.json"

# Fonts and settings of reportlab belong to the whole process: one paper at a time.
_one_at_a_time = threading.Lock()


@dataclass(frozen=True)
class PaperRequest:
    """Everything that a paper is made from.

    head: the hash of the last event, 64 hex digits.  record_json: attached as record.json.
    read_photo: the small JPEG for the paper, by the file name of a sheet's picture or by the
    SHA-256 of one that was taken.  measure_photo: width and height in pixels of the picture that
    the marks of a sheet's picture refer to; None where the small one has that size itself.
    page: "A4" or "Letter".  prices: print the prices of parts.  made_at: with its time zone.
    fingerprint: of the key that will sign, in groups.  zone: of the printed times; None is the
    computer's own.
    """

    sheet: Sheet
    events: Sequence[Event]
    head: str
    record_json: bytes
    read_photo: Callable[[str], bytes]
    page: Literal["A4", "Letter"]
    made_at: datetime
    program: str
    prices: bool = False
    fingerprint: str = ""
    measure_photo: Callable[[str], tuple[int, int]] | None = None
    zone: tzinfo | None = None


def make_paper(
    request: PaperRequest,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> bytes:
    """The paper as PDF/A-3b with the record's data attached; not signed yet.

    progress: told what is being done, how far, of how many (0 where not known).
    Raises PaperTrouble where it cannot be made, or where `cancelled` says so.
    """
    contents = read_contents(request)
    with _one_at_a_time, tempfile.TemporaryDirectory(prefix="shopguide-paper-") as folder:
        darkroom = Darkroom(request.read_photo, Path(folder), request.measure_photo)
        pdf = draw_pages(contents, darkroom, request.page, progress, cancelled)
    if progress is not None:
        progress("Attaching the record", 0, 0)
    signing = contents.first.signing
    kind = "Rehearsal of a record of work" if contents.rehearsal else "Record of work"
    return make_archival(
        pdf,
        title=f"REHEARSAL: {contents.title}" if contents.rehearsal else contents.title,
        author=signing.name if signing else "not signed off",
        subject=f"{kind}, {contents.machine}",
        created=request.made_at,
        attachments=[
            (
                ATTACHMENT,
                request.record_json,
                "application/json",
                "Every entry of the record, each tied to the one before it",
            )
        ],
        xmp_extra={
            "recordHead": request.head,
            "recordSha256": hashlib.sha256(request.record_json).hexdigest(),
            "rehearsal": "yes" if contents.rehearsal else "no",
        },
    )


def read_contents(request: PaperRequest) -> Contents:
    """What the paper will say, as plain data."""
    return make_contents(
        request.sheet,
        request.events,
        head=request.head,
        made_at=request.made_at,
        program=request.program,
        fingerprint=request.fingerprint,
        zone=request.zone,
        prices=request.prices,
    )


def sign_and_write(
    pdf: bytes, identity: Identity, path: Path, *, reason: str, signed_at: datetime
) -> None:
    """Signs the paper and puts it to disk in one piece.

    Raises PaperTrouble where it cannot be signed, Trouble where it cannot be written; a file that
    was there before is then whole.
    """
    write_atomically(path, sign_paper(pdf, identity, reason=reason, signed_at=signed_at))
