"""From a request to the signed file on disk: archival, attached, signed, verified."""

from __future__ import annotations

import hashlib
import importlib.util
import io
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from shopguide.errors import PaperTrouble, Trouble
from shopguide.job.model import Sheet
from shopguide.paper.archive import check_archival
from shopguide.paper.identity import tell_fingerprint, throwaway_identity
from shopguide.paper.make import PaperRequest, make_paper, sign_and_write
from shopguide.paper.verify import verify_paper
from shopguide.work.chain import canonical

_spec = importlib.util.spec_from_file_location(
    "worked_record", Path(__file__).with_name("worked_record.py")
)
worked = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(worked)


@pytest.fixture(scope="module")
def sheet(checkout) -> Sheet:
    path = checkout / "sample_jobs" / "gearbox_sump_cover" / "job.json"
    return Sheet.model_validate_json(path.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def identity():
    return throwaway_identity("Imke Tannhobel")


def as_json(record) -> bytes:
    """The record's data in the form in which a record file hands it to the paper."""
    rows = [
        {"seq": e.seq, "prev": e.prev, "at": e.at, "kind": e.kind, "data": e.data, "hash": e.hash}
        for e in record.events
    ]
    rehearsal = bool(record.events[0].data["rehearsal"])
    return canonical(
        {
            "format": "shopguide-record/1",
            "rehearsal": rehearsal,
            "head": record.head,
            "events": rows,
            "sheet": {},
            "photos": [],
        }
    )


def request_for(record, **more) -> PaperRequest:
    return PaperRequest(
        sheet=record.sheet,
        events=record.events,
        head=record.head,
        record_json=as_json(record),
        read_photo=worked.make_jpeg,
        page=more.pop("page", "A4"),
        made_at=record.now,
        program="shopguide 0",
        zone=UTC,
        **more,
    )


@pytest.fixture(scope="module")
def finished(sheet):
    record = worked.WorkedRecord(sheet)
    record.lay_out()
    record.work()
    record.sign()
    return record


@pytest.fixture(scope="module")
def paper(finished, identity) -> bytes:
    fingerprint = tell_fingerprint(identity.fingerprint)
    return make_paper(request_for(finished, fingerprint=fingerprint))


def test_it_is_archival(paper) -> None:
    assert check_archival(paper) == []


def test_the_records_data_is_attached_whole(paper, finished) -> None:
    reader = PdfReader(io.BytesIO(paper))
    ((data,),) = reader.attachments.values()
    assert json.loads(data)["head"] == finished.head and data == as_json(finished)
    metadata = reader.trailer["/Root"]["/Metadata"].get_data().decode()
    assert finished.head in metadata and hashlib.sha256(data).hexdigest() in metadata
    assert reader.metadata.title == finished.sheet.title
    assert reader.metadata.author == "Imke Tannhobel"


def test_the_fingerprint_stands_on_the_first_and_the_last_page(paper, identity) -> None:
    pages = PdfReader(io.BytesIO(paper)).pages
    for page in (pages[0], pages[-1]):
        assert identity.fingerprint in "".join(page.extract_text().split()).replace(" ", "")


def test_signed_and_written_it_verifies(paper, finished, identity, tmp_path) -> None:
    path = tmp_path / "paper.pdf"
    path.write_bytes(b"an older file")
    sign_and_write(paper, identity, path, reason="own record of work", signed_at=finished.now)
    data = path.read_bytes()
    assert data.startswith(paper[:5]) and [p.name for p in tmp_path.iterdir()] == ["paper.pdf"]
    verdict = verify_paper(data, {})
    assert verdict.good, verdict
    assert verdict.fingerprint == identity.fingerprint and verdict.head == finished.head
    changed = data.replace(b"/Type /Page ", b"/Type /Pagf ", 1)
    changed = changed if changed != data else data[:2000] + b"\x00" + data[2001:]
    assert not verify_paper(changed, {}).good


def test_a_failed_write_leaves_the_old_file(paper, identity, tmp_path) -> None:
    folder = tmp_path / "missing"
    with pytest.raises(Trouble, match="could not be saved"):
        sign_and_write(
            paper, identity, folder / "p.pdf", reason="own record", signed_at=datetime.now(UTC)
        )
    assert not folder.exists()


def test_a_rehearsal_never_looks_like_a_record(sheet, identity, tmp_path) -> None:
    record = worked.WorkedRecord(sheet, rehearsal=True)
    record.work()
    record.sign()
    pdf = make_paper(request_for(record, page="Letter"))
    reader = PdfReader(io.BytesIO(pdf))
    assert reader.metadata.title.startswith("REHEARSAL: ")
    assert all("REHEARSAL" in page.extract_text() for page in reader.pages)
    path = tmp_path / "paper.pdf"
    sign_and_write(pdf, identity, path, reason="rehearsal", signed_at=record.now)
    assert verify_paper(path.read_bytes(), {}).rehearsal
    assert check_archival(pdf) == []


def test_an_unsigned_record_is_still_archival(sheet) -> None:
    assert check_archival(make_paper(request_for(worked.WorkedRecord(sheet)))) == []


def test_foreign_scripts_and_missing_glyphs_stay_archival(sheet) -> None:
    record = worked.WorkedRecord(sheet)
    record.lay_out(make="Жук 漢字 → ✓", person="Ελένη \u202e\u0001")
    record.add("note", {"step": 1, "text": "emoji \U0001f527 and \u0300 alone"})
    pdf = make_paper(request_for(record))
    assert check_archival(pdf) == []
    assert "Жук □□ → ✓" in PdfReader(io.BytesIO(pdf)).pages[0].extract_text()


def test_a_cancel_stops_the_making(finished) -> None:
    with pytest.raises(PaperTrouble, match="stopped"):
        make_paper(request_for(finished), cancelled=lambda: True)


def test_times_are_told_in_the_zone_of_the_computer(sheet) -> None:
    record = worked.WorkedRecord(sheet)
    request = request_for(record)
    here = record.now.astimezone()
    other = PaperRequest(**{**vars(request), "zone": None})
    text = PdfReader(io.BytesIO(make_paper(other))).pages[0].extract_text()
    offset = here.utcoffset() or timedelta()
    minutes = abs(int(offset.total_seconds())) // 60
    sign = "-" if offset < timedelta() else "+"
    assert f"UTC{sign}{minutes // 60:02d}:{minutes % 60:02d}" in text
