"""What a paper is made from, taken out of an open record of whatever kind."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Literal, Protocol

from shopguide.job.model import Sheet
from shopguide.paper.make import PaperRequest
from shopguide.work.events import Event


class TakenPhoto(Protocol):
    """A photo of the record, by name and hash, with its size in pixels."""

    @property
    def name(self) -> str: ...
    @property
    def sha256(self) -> str: ...
    @property
    def width(self) -> int: ...
    @property
    def height(self) -> int: ...


class Record(Protocol):
    """What a paper needs of a record; `record.file.RecordFile` is one."""

    @property
    def head(self) -> str: ...
    def events(self) -> Sequence[Event]: ...
    def photos(self) -> Sequence[TakenPhoto]: ...
    def photo(self, key: str, paper: bool = False) -> bytes: ...
    def data_for_paper(self) -> bytes: ...


def request_from(
    record: Record,
    sheet: Sheet,
    *,
    page: Literal["A4", "Letter"],
    made_at: datetime,
    program: str,
    fingerprint: str = "",
    prices: bool = False,
) -> PaperRequest:
    """The request for the paper of a record, as it stands now."""
    sizes: dict[str, tuple[int, int]] = {}
    for photo in record.photos():
        sizes.setdefault(photo.name, (photo.width, photo.height))
        sizes[photo.sha256] = (photo.width, photo.height)
    return PaperRequest(
        sheet=sheet,
        events=record.events(),
        head=record.head,
        record_json=record.data_for_paper(),
        read_photo=lambda key: record.photo(key, paper=True),
        page=page,
        made_at=made_at,
        program=program,
        prices=prices,
        fingerprint=fingerprint,
        measure_photo=sizes.__getitem__,
    )
