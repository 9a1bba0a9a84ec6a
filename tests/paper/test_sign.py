"""The signature: PAdES over the whole file, allowing no change, and leaving the paper as it was."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pikepdf
import pypdf
import pytest
from cryptography.hazmat.primitives.serialization import Encoding
from pyhanko.pdf_utils.reader import PdfFileReader

from shopguide.errors import PaperTrouble
from shopguide.paper.archive import check_archival
from shopguide.paper.sign import sign_paper


def read_signature(pdf):
    (one,) = PdfFileReader(io.BytesIO(pdf)).embedded_regular_signatures
    return one


def test_the_signed_file_begins_with_the_unsigned_one(signed, unsigned):
    assert signed.startswith(unsigned)
    assert len(signed) - len(unsigned) < 20_000


def test_the_signature_is_pades_and_says_no_more_than_it_should(signed, edda):
    one = read_signature(signed)
    assert one.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"
    assert one.sig_object["/Reason"] == "I did this work"
    assert one.md_algorithm == "sha256"
    assert one.signer_cert.dump() == edda.certificate.public_bytes(Encoding.DER)
    # PAdES baseline B keeps the time out of the signed attributes.
    attributes = {attribute["type"].native for attribute in one.signer_info["signed_attrs"]}
    assert attributes == {"content_type", "message_digest", "signing_certificate_v2"}


def test_the_time_is_the_one_given(signed, papers):
    assert read_signature(signed).self_reported_timestamp == papers.MAY


def test_it_certifies_and_allows_no_change(signed):
    one = read_signature(signed)
    assert one.docmdp_level.name == "NO_CHANGES"
    reader = pypdf.PdfReader(io.BytesIO(signed))
    assert "/DocMDP" in reader.trailer["/Root"]["/Perms"]


def test_the_bytes_it_covers_are_all_but_itself(signed):
    start, length, resume, rest = (int(n) for n in read_signature(signed).byte_range)
    assert start == 0
    assert resume + rest == len(signed)
    assert signed[length : length + 1] == b"<"
    assert signed[resume - 1 : resume] == b">"


def test_metadata_stays_byte_for_byte(signed, unsigned):
    def read_metadata(pdf):
        with pikepdf.open(io.BytesIO(pdf)) as document:
            info = {key: str(value) for key, value in document.trailer.Info.items()}
            return document.Root.Metadata.read_raw_bytes(), info

    assert read_metadata(signed) == read_metadata(unsigned)
    assert b"recordHead" in read_metadata(signed)[0]


def test_it_is_still_fit_to_be_kept(signed):
    assert check_archival(signed) == []
    with pikepdf.open(io.BytesIO(signed)) as document:
        assert document.pdf_version == "1.7"
        assert "/Version" not in document.Root


def test_the_field_shows_nothing_of_its_own(signed):
    reader = pypdf.PdfReader(io.BytesIO(signed))
    (field,) = reader.trailer["/Root"]["/AcroForm"]["/Fields"]
    rect = [float(edge) for edge in field.get_object()["/Rect"]]
    assert rect == [0, 0, 0, 0]
    assert field.get_object()["/TU"] == "Signature of the one who did the work"


def test_the_text_on_the_pages_is_the_same(signed, unsigned):
    before, after = (
        [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
        for pdf in (unsigned, signed)
    )
    assert before == after
    assert "Odometer" in "".join(after)


def test_a_signed_paper_is_not_signed_again(signed, edda, papers):
    with pytest.raises(PaperTrouble, match="signed already"):
        sign_paper(signed, edda, reason="again", signed_at=papers.MAY)


@pytest.mark.parametrize("cut", [0, 9, 500, -40])
def test_what_is_no_whole_pdf_is_refused(unsigned, edda, cut):
    with pytest.raises(PaperTrouble, match="could not be signed"):
        sign_paper(unsigned[:cut], edda, reason="", signed_at=datetime(2031, 1, 1, tzinfo=UTC))
