"""Small records to try things on."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from shopguide.record.file import RecordFile

SHEET = b'{"format": "shopguide-job/1", "title": "Sump cover", "x_mm": 12.50}\n'


@dataclass(frozen=True)
class Shot:
    """A picture as taken in; only its bytes matter here."""

    original: bytes
    paper: bytes
    width: int = 4000
    height: int = 3000


@pytest.fixture(scope="session")
def shot() -> Callable[[int], Shot]:
    """Makes a picture of about 40 kB, another one for another number."""

    def make(number: int) -> Shot:
        seed = hashlib.sha256(str(number).encode()).digest()
        return Shot(seed * 1250, b"small" + seed * 60)

    return make


@pytest.fixture(scope="session")
def sheet() -> bytes:
    """The frozen job.json of the records here, byte for byte."""
    return SHEET


@pytest.fixture
def make(tmp_path: Path, shot) -> Iterator[Callable[..., RecordFile]]:
    """Makes an open record with two sheet photos; all are closed after the test."""
    made: list[RecordFile] = []

    def make_record(name: str = "sump cover", marks: int = 0) -> RecordFile:
        photos = [
            ("cover.jpg", shot(1).original, shot(1).paper, 4000, 3000),
            ("magnets.png", shot(2).original, shot(2).paper, 1600, 1200),
        ]
        record = RecordFile.create(
            tmp_path / f"{name}.shopguide",
            SHEET,
            photos,
            {"program": "shopguide", "title": "Sump cover", "rehearsal": False, "orders": {}},
        )
        made.append(record)
        for number in range(1, marks + 1):
            record.append("mark", mark(number))
        return record

    yield make_record
    for record in made:
        record.close()


def mark(number: int) -> dict[str, object]:
    return {"task": "4.2", "pass": 1, "trip": 1, "fastener": number, "target": "9 N·m"}


@pytest.fixture(scope="session", name="mark")
def give_mark() -> Callable[[int], dict[str, object]]:
    """Makes the data of a mark."""
    return mark


@pytest.fixture
def digest() -> Callable[[Path], str]:
    """The hash of a file's bytes, to see whether it was touched."""
    return lambda path: hashlib.sha256(path.read_bytes()).hexdigest()
