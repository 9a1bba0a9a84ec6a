"""The verdict on a paper: every change is told, and nothing is claimed that a file cannot prove."""

from __future__ import annotations

import copy
import hashlib
import io
import json
import logging
import random

import pikepdf
import pytest
from pyhanko.pdf_utils import generic
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign import fields
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner

from shopguide.paper.identity import tell_fingerprint
from shopguide.paper.sign import sign_paper
from shopguide.paper.verify import Chain, Key, Unchanged, verify_paper
from shopguide.work import chain

OTHER_HEAD = "ab" * 32


def sign(pdf, identity, papers):
    return sign_paper(pdf, identity, reason="I did this work", signed_at=papers.MAY)


def state(verdict):
    return verdict.unchanged.state, verdict.key.state, verdict.chain.state


def find_gap(pdf):
    """Where the only bytes that are not signed begin and end, and the signature they hold."""
    (one,) = PdfFileReader(io.BytesIO(pdf)).embedded_regular_signatures
    _, length, resume, _ = (int(figure) for figure in one.byte_range)
    return length, resume, one


def update(pdf, change):
    """The PDF with an update appended in which `change(writer)` has been done."""
    writer = IncrementalPdfFileWriter(io.BytesIO(pdf), strict=True)
    change(writer)
    target = io.BytesIO()
    writer.write(target)
    assert target.getvalue().startswith(pdf)
    return target.getvalue()


def paint_over(writer):
    white = generic.StreamObject(stream_data=b"q 1 1 1 rg 50 740 400 40 re f Q")
    painted = writer.add_object(white)
    leaf = writer.root["/Pages"]["/Kids"][0]
    old = leaf.raw_get("/Contents")
    leaf["/Contents"] = generic.ArrayObject(
        [*(old if isinstance(old, generic.ArrayObject) else [old]), painted]
    )
    writer.update_container(leaf)


def add_note(writer):
    leaf = writer.root["/Pages"]["/Kids"][0]
    note = generic.DictionaryObject(
        {
            generic.pdf_name("/Type"): generic.pdf_name("/Annot"),
            generic.pdf_name("/Subtype"): generic.pdf_name("/Text"),
            generic.pdf_name("/Rect"): generic.ArrayObject(map(generic.NumberObject, range(4))),
            generic.pdf_name("/Contents"): generic.TextStringObject("a later remark"),
        }
    )
    leaf["/Annots"] = generic.ArrayObject([writer.add_object(note)])
    writer.update_container(leaf)


def change_language(writer):
    writer.root["/Lang"] = generic.TextStringObject("de")
    writer.update_root()


def swap_record(writer):
    names = writer.root["/Names"]["/EmbeddedFiles"]["/Names"]
    other = writer.add_object(generic.StreamObject(stream_data=b'{"events": []}'))
    for key in ("/F", "/UF"):
        names[1]["/EF"][key] = other
    writer.update_container(names[1])


def test_an_untouched_paper_is_good_and_its_key_new(signed, edda, rows):
    verdict = verify_paper(signed)
    assert state(verdict) == (Unchanged.UNCHANGED, Key.NEW, Chain.HOLDS)
    assert verdict.good
    assert not verdict.rehearsal
    assert verdict.fingerprint == edda.fingerprint
    assert verdict.head == rows[-1]["hash"]
    assert tell_fingerprint(edda.fingerprint) in verdict.key.sentence
    assert "not seen before" in verdict.key.sentence


def test_a_known_key_is_named_as_it_was_remembered(signed, edda, mallory):
    known = {mallory.fingerprint: "somebody", edda.fingerprint: "Edda with the red van"}
    verdict = verify_paper(signed, known)
    assert state(verdict) == (Unchanged.UNCHANGED, Key.SEEN, Chain.HOLDS)
    assert verdict.key.sentence.endswith("seen before as Edda with the red van.")
    # The name in the certificate is what its maker typed, and is never given as a finding.
    assert "Edda Lint" not in verdict.tell()


def test_nothing_is_called_trusted_or_proved(signed, edda):
    for known in ({}, {edda.fingerprint: "Edda"}):
        told = verify_paper(signed, known).tell().lower()
        assert len(told.splitlines()) == 3
        for word in ("trust", "valid", "genuine", "certified", "authentic", "proves", "true"):
            assert word not in told


def test_as_dict_is_plain_data(signed, edda, rows):
    data = json.loads(json.dumps(verify_paper(signed).as_dict()))
    assert data["good"] is True
    assert data["rehearsal"] is False
    assert data["fingerprint"] == edda.fingerprint
    assert data["head"] == rows[-1]["hash"]
    states = {name: data[name]["state"] for name in ("unchanged", "key", "chain")}
    assert states == {"unchanged": "unchanged", "key": "not seen before", "chain": "holds"}
    assert all(data[name]["sentence"].endswith(".") for name in states)


def test_a_flipped_bit_anywhere_in_the_signed_part_is_told(signed):
    length, resume, _ = find_gap(signed)
    covered = [*range(length), *range(resume, len(signed))]
    dice = random.Random(20310504)
    # The beginning and the tail, where the file's own directory lies, and a spread over the rest.
    places = {*dice.sample(covered, 240), *covered[:40], *covered[-40:]}
    for place in sorted(places):
        spoiled = bytearray(signed)
        spoiled[place] ^= 1 << dice.randrange(8)
        verdict = verify_paper(bytes(spoiled))
        told = verdict.unchanged.state
        assert told in (Unchanged.CHANGED, Unchanged.UNREADABLE, Unchanged.UNSIGNED), place
        assert verdict.key.state is Key.NONE, place
        assert not verdict.good


def test_most_flipped_bits_are_told_as_what_they_are(signed):
    length, _, _ = find_gap(signed)
    dice = random.Random(7)
    told = []
    for place in dice.sample(range(100, length), 60):
        spoiled = bytearray(signed)
        spoiled[place] ^= 4
        told.append(verify_paper(bytes(spoiled)).unchanged.state)
    assert told.count(Unchanged.CHANGED) > 40


def read_proof(pdf):
    """What the signature proves by: whose key, what was signed with it, and the figure itself."""
    _, _, one = find_gap(pdf)
    info = one.signer_info
    return one.signer_cert.dump(), info["signed_attrs"].dump(), info["signature"].native


def test_a_flipped_bit_in_the_signature_itself_is_told_or_changes_nothing(signed, edda):
    # CMS repeats some of what it signs as hints (versions, names of algorithms, the issuer's name
    # in any case), and hex digits may be written large or small. None of that says anything else.
    length, resume, _ = find_gap(signed)
    dice = random.Random(11)
    told = 0
    for place in dice.sample(range(length, resume), 120):
        spoiled = bytearray(signed)
        spoiled[place] ^= 1 << dice.randrange(8)
        verdict = verify_paper(bytes(spoiled))
        if verdict.good:
            assert verdict.fingerprint == edda.fingerprint
            assert read_proof(bytes(spoiled)) == read_proof(signed)
        else:
            told += 1
    assert told > 100


@pytest.mark.parametrize("part", ["certificate", "signed attributes", "signature"])
def test_a_flipped_bit_in_what_the_signature_proves_by_is_told(signed, part):
    proof = dict(
        zip(("certificate", "signed attributes", "signature"), read_proof(signed), strict=True)
    )[part]
    length, resume, _ = find_gap(signed)
    held = bytes.fromhex(signed[length + 1 : resume - 1].decode())
    # Without its first byte: signed attributes are written here under another tag.
    start = held.index(proof[1:])
    dice = random.Random(13)
    for place in dice.sample(range(start, start + len(proof) - 1), 25):
        spoiled = bytearray(held)
        spoiled[place] ^= 1 << dice.randrange(8)
        whole = signed[: length + 1] + spoiled.hex().encode() + signed[resume - 1 :]
        assert len(whole) == len(signed)
        assert not verify_paper(whole).good, place


def test_something_hidden_behind_the_signature_is_told(signed):
    _, resume, _ = find_gap(signed)
    hidden = b"c0ffee"
    assert signed[resume - 7 : resume] == b"000000>"
    spoiled = signed[: resume - 7] + hidden + signed[resume - 1 :]
    assert verify_paper(spoiled).unchanged.state is Unchanged.CHANGED


@pytest.mark.parametrize("appended", [b"\n% a comment\n", b"\n", b"\0" * 64, b"%%EOF\n"])
def test_bytes_appended_after_the_end_are_told(signed, edda, appended):
    verdict = verify_paper(signed + appended)
    assert verdict.unchanged.state in (Unchanged.ADDED, Unchanged.UNREADABLE)
    assert not verdict.good
    if appended.startswith(b"\n% "):
        assert state(verdict) == (Unchanged.ADDED, Key.NEW, Chain.HOLDS)
        assert verdict.fingerprint == edda.fingerprint


@pytest.mark.parametrize("change", [paint_over, add_note, change_language, swap_record])
def test_an_update_appended_is_told(signed, change):
    verdict = verify_paper(update(signed, change))
    assert verdict.unchanged.state is Unchanged.ADDED
    assert "added after it was signed" in verdict.unchanged.sentence
    assert not verdict.good


def test_a_record_swapped_by_an_update_is_told_as_such_too(signed):
    verdict = verify_paper(update(signed, swap_record))
    assert verdict.chain.state is Chain.UNREADABLE


def test_a_second_signature_after_the_first_is_told(signed, mallory):
    # The proper signer refuses, so the update is made and signed by hand.
    class Careless(PdfSigner):
        def _enforce_certification_constraints(self, reader):
            return

    settings = PdfSignatureMetadata(
        field_name="Second", subfilter=fields.SigSeedSubFilter.PADES, md_algorithm="sha256"
    )
    writer = IncrementalPdfFileWriter(io.BytesIO(signed), strict=True)
    doubled = Careless(settings, signer=mallory.signer).sign_pdf(writer).getvalue()
    assert doubled.startswith(signed)
    verdict = verify_paper(doubled)
    assert verdict.unchanged.state is Unchanged.ADDED
    assert verdict.fingerprint != mallory.fingerprint


def test_saved_anew_by_another_program_is_told(signed):
    target = io.BytesIO()
    with pikepdf.open(io.BytesIO(signed)) as document:
        document.save(target)
    verdict = verify_paper(target.getvalue())
    assert verdict.unchanged.state is Unchanged.CHANGED
    assert verdict.key.state is Key.NONE
    assert verdict.fingerprint is None


def test_cut_back_to_before_the_signature_is_told(signed, unsigned):
    verdict = verify_paper(signed[: len(unsigned)])
    assert state(verdict) == (Unchanged.UNSIGNED, Key.NONE, Chain.HOLDS)
    assert "no signature vouches" in verdict.chain.sentence
    assert not verdict.good


def test_a_stripped_signature_is_told(signed):
    target = io.BytesIO()
    with pikepdf.open(io.BytesIO(signed)) as document:
        del document.Root.AcroForm
        del document.Root.Perms
        for page in document.pages:
            if "/Annots" in page.obj:
                del page.obj.Annots
        document.save(target)
    assert state(verify_paper(target.getvalue())) == (Unchanged.UNSIGNED, Key.NONE, Chain.HOLDS)


def test_edited_and_signed_anew_under_the_same_name_shows_only_in_the_key(
    signed, edda, mallory, papers, rows
):
    forged_rows = papers.link_events(7)
    forged = sign(
        papers.make_paper(papers.write_record(forged_rows), forged_rows[-1]["hash"]),
        mallory,
        papers,
    )
    assert mallory.name == edda.name
    known = {edda.fingerprint: "Edda"}
    honest, false = verify_paper(signed, known), verify_paper(forged, known)
    assert state(honest) == (Unchanged.UNCHANGED, Key.SEEN, Chain.HOLDS)
    assert state(false) == (Unchanged.UNCHANGED, Key.NEW, Chain.HOLDS)
    assert false.fingerprint == mallory.fingerprint
    assert "Edda" not in false.tell()


def test_an_edited_event_in_the_attached_record_is_named(edda, papers, rows):
    edited = copy.deepcopy(rows)
    edited[16]["data"]["target"] = "12 N·m"
    paper = sign(papers.make_paper(papers.write_record(edited), rows[-1]["hash"]), edda, papers)
    verdict = verify_paper(paper)
    assert state(verdict) == (Unchanged.UNCHANGED, Key.NEW, Chain.BROKEN)
    assert "event 17 was changed after it was written" in verdict.chain.sentence
    assert not verdict.good


def test_a_missing_event_in_the_attached_record_is_named(edda, papers, rows):
    cut = [row for row in rows if row["seq"] != 9]
    paper = sign(papers.make_paper(papers.write_record(cut), rows[-1]["hash"]), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.chain.state is Chain.BROKEN
    assert "event 9 is missing" in verdict.chain.sentence


@pytest.mark.parametrize("own_head", ["kept", "made anew"])
def test_a_cut_end_of_the_attached_record_is_told(edda, papers, rows, own_head):
    head = rows[-1]["hash"] if own_head == "kept" else None
    record = papers.write_record(rows[:-4], head=head)
    paper = sign(papers.make_paper(record, rows[-1]["hash"]), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.chain.state is Chain.DIFFERS
    assert verdict.head == rows[-5]["hash"]


def test_a_record_that_names_another_head_than_its_own_is_told(edda, papers, rows):
    record = papers.write_record(rows, head=OTHER_HEAD)
    paper = sign(papers.make_paper(record, rows[-1]["hash"]), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.chain.state is Chain.DIFFERS
    assert "names itself" in verdict.chain.sentence


def test_a_chain_written_anew_is_told_by_the_head(edda, papers, rows):
    anew = papers.link_events(len(rows))
    prev = chain.GENESIS
    for row in anew:
        row["at"] = row["at"].replace("T09", "T10")
        row["prev"] = prev
        row["hash"] = prev = chain.link(row["seq"], prev, row["at"], row["kind"], row["data"])
    assert chain.follow(anew) == (prev, None)
    paper = sign(papers.make_paper(papers.write_record(anew), rows[-1]["hash"]), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.chain.state is Chain.DIFFERS
    assert "in the paper's metadata" in verdict.chain.sentence


def test_another_head_printed_on_the_page_is_told(edda, papers, rows):
    record, head = papers.write_record(rows), rows[-1]["hash"]
    paper = sign(papers.make_paper(record, head, printed=OTHER_HEAD), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.chain.state is Chain.DIFFERS
    assert "printed on the paper" in verdict.chain.sentence


def test_a_head_that_is_not_printed_is_not_said_to_be(edda, papers, rows, signed):
    record, head = papers.write_record(rows), rows[-1]["hash"]
    paper = sign(papers.make_paper(record, head, printed="none"), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.chain.state is Chain.HOLDS
    assert "printed" not in verdict.chain.sentence
    assert "printed on its page" in verify_paper(signed).chain.sentence


def test_another_record_of_the_same_events_is_told(edda, papers, rows):
    record = papers.write_record(rows)
    other = json.loads(record)
    other["sheet"]["title"] = "Another cover"
    paper = papers.make_paper(
        chain.canonical(other),
        rows[-1]["hash"],
        extra={"recordSha256": hashlib.sha256(record).hexdigest()},
    )
    verdict = verify_paper(sign(paper, edda, papers))
    assert verdict.chain.state is Chain.DIFFERS


def test_a_paper_without_record_or_without_head_is_told(edda, papers, rows):
    record, head = papers.write_record(rows), rows[-1]["hash"]
    bare = sign(papers.make_paper(record, head, attach=False), edda, papers)
    assert verify_paper(bare).chain.state is Chain.MISSING
    unnamed = sign(papers.make_paper(record, head, extra={"recordHead": ""}), edda, papers)
    assert verify_paper(unnamed).chain.state is Chain.UNNAMED
    assert not verify_paper(bare).good
    assert not verify_paper(unnamed).good


@pytest.mark.parametrize(
    "record",
    [
        b"",
        b"\xff\xfe",
        b"[]",
        b"7",
        b"[" * 100_000,
        b'{"format": "shopguide-record/1", "events": {}}',
        b'{"format": "shopguide-record/9", "events": []}',
        b'{"format": "shopguide-record/1", "events": [], "events": []}',
        b'{"format": "shopguide-record/1", "events": [7]}',
        b'{"format": "shopguide-record/1", "events": [{"seq": 1e400}]}',
        b'{"format": "shopguide-record/1", "events": [], "head": ' + b"9" * 6000 + b"}",
    ],
)
def test_a_senseless_record_is_told_and_never_raises(edda, papers, record):
    paper = sign(papers.make_paper(record, OTHER_HEAD), edda, papers)
    verdict = verify_paper(paper)
    assert verdict.unchanged.state is Unchanged.UNCHANGED
    assert verdict.chain.state in (Chain.UNREADABLE, Chain.BROKEN)
    assert not verdict.good


@pytest.mark.parametrize("where", ["metadata", "record", "first event"])
def test_a_rehearsal_is_never_good(edda, papers, where):
    rows = papers.link_events()
    if where == "first event":
        rows[0]["data"]["rehearsal"] = True
        prev = chain.GENESIS
        for row in rows:
            row["prev"] = prev
            row["hash"] = prev = chain.link(row["seq"], prev, row["at"], row["kind"], row["data"])
    record = papers.write_record(rows, rehearsal=where == "record")
    extra = {"rehearsal": "yes"} if where == "metadata" else {}
    paper = papers.make_paper(record, rows[-1]["hash"], extra=extra)
    verdict = verify_paper(sign(paper, edda, papers))
    assert state(verdict) == (Unchanged.UNCHANGED, Key.NEW, Chain.HOLDS)
    assert verdict.rehearsal
    assert verdict.as_dict()["rehearsal"] is True
    assert not verdict.good
    assert "REHEARSAL" in verdict.tell().splitlines()[0]


def test_a_paper_that_says_it_is_no_rehearsal_is_none(edda, papers, rows):
    paper = papers.make_paper(
        papers.write_record(rows), rows[-1]["hash"], extra={"rehearsal": "no"}
    )
    assert verify_paper(sign(paper, edda, papers)).good


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"%PDF-1.7\n",
        b"PK\x03\x04 a zip",
        b"\0" * 5000,
        b"%PDF-1.7\n1 0 obj\n<</Type/Catalog/Pages 1 0 R>>\nendobj\ntrailer<</Root 1 0 R>>\n%%EOF",
        b"%PDF-1.7\n" + b"[" * 200_000 + b"\nstartxref\n9\n%%EOF\n",
    ],
)
def test_what_is_no_paper_is_unreadable(data):
    verdict = verify_paper(data)
    assert verdict.unchanged.state is Unchanged.UNREADABLE
    assert verdict.key.state is Key.NONE
    assert verdict.chain.state is Chain.UNREADABLE
    assert not verdict.good


def test_an_encrypted_paper_is_unreadable(unsigned):
    target = io.BytesIO()
    with pikepdf.open(io.BytesIO(unsigned)) as document:
        document.save(target, encryption=pikepdf.Encryption(owner="o", user="u"))
    assert verify_paper(target.getvalue()).chain.state is Chain.UNREADABLE
    assert not verify_paper(target.getvalue()).good


def test_cut_off_anywhere_it_is_told_and_never_raises(signed):
    dice = random.Random(3)
    for end in dice.sample(range(len(signed)), 40):
        assert not verify_paper(signed[:end]).good


def test_pieces_shuffled_about_are_told_and_never_raise(signed):
    dice = random.Random(5)
    for _ in range(60):
        spoiled = bytearray(signed)
        for _ in range(dice.randrange(1, 6)):
            start, to = dice.randrange(len(spoiled)), dice.randrange(len(spoiled))
            piece = spoiled[start : start + dice.randrange(1, 400)]
            spoiled[to : to + dice.choice((0, len(piece)))] = piece
        if bytes(spoiled) != signed:
            assert not verify_paper(bytes(spoiled)).good


def test_a_hostile_file_prints_nothing(signed, capfd, monkeypatch):
    # Without any handler of the program's own, Python itself would print what libraries note.
    monkeypatch.setattr(logging.getLogger(), "handlers", [])
    # The library logs a traceback about this one.
    assert not verify_paper(update(signed, add_note)).good
    length, _, one = find_gap(signed)
    certificate = one.signer_cert.dump().hex().encode()
    at = signed.lower().index(certificate[:200], length)
    for place in range(at, at + 1200, 40):
        spoiled = bytearray(signed)
        # In a hex string "0A" and "0a" are one byte, and the keys of a run are its own.
        same = bytes(spoiled[place : place + 2]).lower() == b"0a"
        spoiled[place : place + 2] = b"0b" if same else b"0a"
        assert not verify_paper(bytes(spoiled)).good
    assert capfd.readouterr() == ("", "")
