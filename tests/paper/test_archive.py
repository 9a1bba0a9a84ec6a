"""PDF/A-3b: what makes a drawn PDF fit to be kept is there, and each lack of it is found."""

from __future__ import annotations

import io
from datetime import timedelta, timezone

import pikepdf
import pypdf
import pytest
from pikepdf import Array, Dictionary, Name, String
from PIL import Image, ImageCms

from shopguide.errors import PaperTrouble
from shopguide.paper import archive
from shopguide.places import find_resource


def rework(pdf, change, **saving):
    """The PDF with `change(document)` applied and saved whole."""
    target = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as document:
        change(document)
        document.save(target, fix_metadata_version=False, **saving)
    return target.getvalue()


def test_an_archived_paper_has_no_fault(unsigned):
    assert archive.check_archival(unsigned) == []


def test_the_drawn_pages_alone_have_faults_and_all_are_named(papers):
    raw = papers.draw_pages(["first", "second"], font="Helvetica", link=True)
    assert archive.check_archival(raw) == [
        "it calls itself PDF 1.3 and not 1.7",
        "no colour profile says what its colours are",
        "it has no XMP metadata",
        "a note on page 1 is not printed or not shown",
        "a note on page 2 is not printed or not shown",
        "the font Helvetica is not embedded",
    ]


def test_links_are_marked_to_be_printed(papers):
    made = archive.make_archival(
        papers.draw_pages(["first", "second"], link=True),
        title="T",
        author="A",
        subject="S",
        created=papers.MAY,
    )
    assert archive.check_archival(made) == []
    reader = pypdf.PdfReader(io.BytesIO(made))
    assert [int(page["/Annots"][0].get_object()["/F"]) for page in reader.pages] == [4, 4]


def test_names_and_times_are_the_same_in_both_sets_of_metadata(unsigned):
    reader = pypdf.PdfReader(io.BytesIO(unsigned))
    info, xmp = reader.metadata, reader.xmp_metadata
    assert info.title == xmp.dc_title["x-default"] == "Gearbox sump cover <renewed> & tested"
    assert [info.author] == xmp.dc_creator == ["Edda Lint"]
    assert info.subject == xmp.dc_description["x-default"] == "Record of work done"
    assert info.producer == xmp.pdf_producer
    assert info.creator == xmp.xmp_creator_tool == "shopguide"
    made = xmp.xmp_create_date
    assert made.replace(tzinfo=info.creation_date.tzinfo) == info.creation_date
    assert (made.year, made.hour, made.second) == (2031, 9, 15)
    assert xmp.xmp_modify_date == made
    assert info.modification_date == info.creation_date


def test_a_time_elsewhere_is_written_as_utc(papers):
    made = archive.make_archival(
        papers.draw_pages(["a", "b"]),
        title="T",
        author="A",
        subject="S",
        created=papers.MAY.astimezone(timezone(timedelta(hours=9))),
    )
    info = pypdf.PdfReader(io.BytesIO(made)).metadata
    assert info.creation_date == papers.MAY


def test_our_own_properties_are_there_and_described(unsigned, rows):
    with pikepdf.open(io.BytesIO(unsigned)) as document:
        packet = document.Root.Metadata.read_bytes()
    known = archive.read_xmp(packet)
    assert known[f"{{{archive.RECORD_NAMESPACE}}}recordHead"] == rows[-1]["hash"]
    described = packet.decode().count("<pdfaProperty:name>")
    assert described == 2
    assert "<pdfaProperty:name>recordSha256</pdfaProperty:name>" in packet.decode()
    # Kept readable in the raw file, as PDF/A asks of metadata.
    assert b"<pdfaid:part>3</pdfaid:part>" in unsigned


def test_text_that_xml_cannot_hold_is_replaced_and_both_sets_stay_alike(papers):
    made = archive.make_archival(
        papers.draw_pages(["a", "b"]),
        title="Bell \a and <tag> & \ud800\ufffd",
        author="",
        subject="Ünïcode 手",
        created=papers.MAY,
        xmp_extra={"note": "a\0b < c"},
    )
    assert archive.check_archival(made) == []
    info = pypdf.PdfReader(io.BytesIO(made)).metadata
    assert info.title == "Bell ? and <tag> & ??"
    assert info.subject == "Ünïcode 手"


def test_a_property_that_xml_cannot_name_is_refused(papers):
    with pytest.raises(ValueError, match="no name"):
        archive.make_archival(
            papers.draw_pages(["a", "b"]),
            title="T",
            author="A",
            subject="S",
            created=papers.MAY,
            xmp_extra={"not a name": "x"},
        )


def test_the_record_is_attached_whole_and_tied_to_the_document(unsigned, papers, rows):
    reader = pypdf.PdfReader(io.BytesIO(unsigned))
    assert reader.attachments["record.json"] == [papers.write_record(rows)]
    (tied,) = reader.trailer["/Root"]["/AF"]
    spec = tied.get_object()
    assert spec["/F"] == "record.json"
    assert spec["/AFRelationship"] == "/Data"
    assert spec["/Desc"] == "The record itself, as data"
    stream = spec["/EF"]["/F"].get_object()
    assert stream["/Subtype"] == "/application/json"
    assert stream["/Params"]["/ModDate"] == "D:20310504093015+00'00"


def test_two_files_of_one_name_are_refused(papers):
    with pytest.raises(PaperTrouble, match=r"a\.txt"):
        archive.make_archival(
            papers.draw_pages(["a", "b"]),
            title="T",
            author="A",
            subject="S",
            created=papers.MAY,
            attachments=[("a.txt", b"1", "text/plain", ""), ("a.txt", b"2", "text/plain", "")],
        )


def test_what_is_no_pdf_is_refused(papers):
    with pytest.raises(PaperTrouble):
        archive.make_archival(b"%PDF-", title="", author="", subject="", created=papers.MAY)
    assert archive.check_archival(b"no pdf") == ["it is no PDF that can be read"]


def test_pages_and_their_text_are_kept(unsigned, rows):
    reader = pypdf.PdfReader(io.BytesIO(unsigned))
    assert len(reader.pages) == 2
    text = "".join(page.extract_text() for page in reader.pages)
    assert "Odometer 81 204 km" in text
    assert "✓ 16 of 16" in text
    assert reader.trailer["/Root"]["/Lang"] == "en"


def test_the_same_paper_made_twice_is_the_same_file(papers, rows, unsigned):
    assert papers.make_paper(papers.write_record(rows), rows[-1]["hash"]) == unsigned


def test_the_colour_profile_is_srgb_and_old_enough_for_pdf_1_7():
    path = find_resource("icc", "sRGB.icc")
    profile = ImageCms.ImageCmsProfile(str(path)).profile
    # ISO 32000-1, table 66 (from memory): PDF 1.7 takes profiles up to ICC 4.2.
    assert profile.version == pytest.approx(4.2)
    assert profile.xcolor_space.strip() == "RGB"
    assert profile.device_class == "mntr"
    plain = ImageCms.createProfile("sRGB")
    ours = ImageCms.ImageCmsProfile(str(path))
    patch = Image.new("RGB", (3, 1))
    patch.putdata([(200, 30, 10), (0, 128, 255), (77, 77, 77)])
    seen = ImageCms.profileToProfile(patch, ours, plain)
    assert seen.tobytes() == patch.tobytes()


def spoil_af(document):
    del document.Root.AF


def spoil_relationship(document):
    del document.attachments["record.json"].obj.AFRelationship


def spoil_type(document):
    del document.attachments["record.json"].obj.EF.F.Subtype


def spoil_intent(document):
    del document.Root.OutputIntents


def spoil_profile(document):
    document.Root.OutputIntents[0].DestOutputProfile.N = 4


def spoil_xmp(document):
    document.Root.Metadata.write(b"<broken")


def spoil_part(document):
    packet = document.Root.Metadata.read_bytes()
    document.Root.Metadata.write(packet.replace(b"part>3<", b"part>2<"))


def spoil_title(document):
    document.trailer.Info.Title = String("Another title")


def spoil_language(document):
    del document.Root.Lang


def spoil_catalog(document):
    document.Root.Version = Name("/2.0")


def spoil_font(document):
    for thing in document.objects:
        if isinstance(thing, pikepdf.Dictionary) and "/FontFile2" in thing:
            del thing["/FontFile2"]


def add_script(document):
    document.Root.OpenAction = Dictionary(S=Name.JavaScript, JS=String("app.alert(1)"))


def add_launch(document):
    document.pages[0].obj.AA = Dictionary(O=Dictionary(S=Name.Launch, F=String("x")))


def add_hidden_note(document):
    note = Dictionary(Type=Name.Annot, Subtype=Name.Link, Rect=Array([0, 0, 9, 9]), F=4 | 2)
    document.pages[1].obj.Annots = Array([note])


def add_note_without_look(document):
    note = Dictionary(Type=Name.Annot, Subtype=Name.Text, Rect=Array([0, 0, 9, 9]), F=4)
    document.pages[1].obj.Annots = Array([note])


def add_form(document):
    document.Root.AcroForm = Dictionary(Fields=Array([]), NeedAppearances=True)


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (spoil_af, "the attached file record.json is not tied to the document"),
        (spoil_relationship, "the attached file record.json does not say how it belongs"),
        (spoil_type, "the attached file record.json does not say its type"),
        (spoil_intent, "no colour profile says what its colours are"),
        (spoil_profile, "no colour profile says what its colours are"),
        (spoil_xmp, "its XMP metadata cannot be read"),
        (spoil_part, "its metadata does not call it PDF/A-3b"),
        (spoil_title, "Title differs between its two sets of metadata"),
        (spoil_language, "it does not name its language"),
        (spoil_catalog, "its catalog calls it PDF 2.0"),
        (spoil_font, "the font AAAAAA+DejaVuSans is not embedded"),
        (add_script, "it holds an action that runs something"),
        (add_launch, "it holds an action that runs something"),
        (add_hidden_note, "a note on page 2 is not printed or not shown"),
        (add_note_without_look, "a note on page 2 is drawn anew by each viewer"),
        (add_form, "it holds a form that is drawn anew by each viewer"),
    ],
)
def test_each_lack_is_found(unsigned, change, fault):
    faults = archive.check_archival(rework(unsigned, change))
    assert faults == [fault]


def test_encryption_is_found(unsigned):
    lock = pikepdf.Encryption(owner="o", user="")
    assert "it is encrypted" in archive.check_archival(
        rework(unsigned, lambda document: None, encryption=lock)
    )
    closed = pikepdf.Encryption(owner="o", user="u")
    assert archive.check_archival(rework(unsigned, lambda document: None, encryption=closed)) == [
        "it is encrypted"
    ]


@pytest.mark.parametrize(
    "packet",
    [
        b"",
        b"<a>",
        b"\xff\xfe<\0a\0/\0>\0",
        b'<!DOCTYPE a [<!ENTITY b "bbbb">]><a>&b;</a>',
        b"<a>" + b"x" * 1_000_001 + b"</a>",
    ],
)
def test_metadata_that_is_none_is_refused(packet):
    with pytest.raises(ValueError, match="no plain XMP"):
        archive.read_xmp(packet)
