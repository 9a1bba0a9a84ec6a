"""Making a PDF fit to be kept: PDF/A-3b (ISO 19005-3) with files attached, and checking it.

This comes after the pages are drawn and before the signing; nothing may be saved anew after that.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from typing import Any
from xml.etree import ElementTree
from xml.sax.saxutils import escape

import pikepdf
from pikepdf import Array, Dictionary, Name, String
from pikepdf.models.metadata import encode_pdf_date

from shopguide.errors import PaperTrouble
from shopguide.places import find_resource

RECORD_NAMESPACE = "urn:x-shopguide:record:1#"
"""The XMP namespace of the properties that are the program's own."""

Attachment = tuple[str, bytes, str, str]
"""Name, content, MIME type and description of a file to attach."""

_TOOL = "shopguide"
_PRODUCER = "shopguide with reportlab and pikepdf"
_OUTPUT_CONDITION = "sRGB IEC61966-2.1"
_FLAG_INVISIBLE, _FLAG_HIDDEN, _FLAG_PRINT, _FLAG_NO_VIEW = 1, 2, 4, 32
_PROPERTY_NAME = re.compile(r"[A-Za-z][A-Za-z0-9]*")
# What XML 1.0 cannot hold at all; titles come from people and files. U+FFFD goes along with them,
# for readers disagree on how PDF writes it.
_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffc\U00010000-\U0010ffff]")
_DEEDS = {"/JavaScript", "/Launch", "/SubmitForm", "/ImportData", "/ResetForm", "/Sound", "/Movie"}

_PROPERTIES = {
    "recordHead": "SHA-256 at the head of the record's chain of events, in hex",
    "recordSha256": "SHA-256 of the attached file record.json, in hex",
    "rehearsal": "yes when the paper shows a rehearsal and no work done",
}

_DC = "{http://purl.org/dc/elements/1.1/}"
_SAME_IN_BOTH = {
    "/Title": f"{_DC}title",
    "/Author": f"{_DC}creator",
    "/Subject": f"{_DC}description",
    "/Creator": "{http://ns.adobe.com/xap/1.0/}CreatorTool",
    "/Producer": "{http://ns.adobe.com/pdf/1.3/}Producer",
}

_PACKET = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about=""
 xmlns:dc="http://purl.org/dc/elements/1.1/"
 xmlns:xmp="http://ns.adobe.com/xap/1.0/"
 xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
 xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
 xmlns:record="{namespace}">
<pdfaid:part>3</pdfaid:part>
<pdfaid:conformance>B</pdfaid:conformance>
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt></dc:description>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<xmp:CreatorTool>{tool}</xmp:CreatorTool>
<xmp:CreateDate>{moment}</xmp:CreateDate>
<xmp:ModifyDate>{moment}</xmp:ModifyDate>
<xmp:MetadataDate>{moment}</xmp:MetadataDate>
<pdf:Producer>{producer}</pdf:Producer>
{own}</rdf:Description>
{schema}</rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>"""

# A description to itself: some validators look for it only in such a one.
_SCHEMA = """<rdf:Description rdf:about=""
 xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>Record of work done</pdfaSchema:schema>
<pdfaSchema:namespaceURI>{namespace}</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>record</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq>
{properties}</rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
"""

_PROPERTY = """<rdf:li rdf:parseType="Resource">
<pdfaProperty:name>{name}</pdfaProperty:name>
<pdfaProperty:valueType>Text</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>{description}</pdfaProperty:description>
</rdf:li>
"""


def make_archival(
    pdf: bytes,
    *,
    title: str,
    author: str,
    subject: str,
    created: datetime,
    attachments: Iterable[Attachment] = (),
    xmp_extra: Mapping[str, str] | None = None,
    language: str = "en",
) -> bytes:
    """The same pages as PDF/A-3b, with the files attached, ready to be signed.

    pdf: pages with every font embedded and every colour RGB or grey.
    created: written as time of making and of change, to the second, in UTC.
    xmp_extra: properties of our own, by name, such as recordHead; each a text.
    Raises PaperTrouble when `pdf` cannot be read, or two attachments have one name.
    """
    try:
        document = pikepdf.open(io.BytesIO(pdf))
    except (pikepdf.PdfError, ValueError) as fault:
        raise PaperTrouble(
            "The drawn pages are no PDF that can be archived.",
            next="Try to make the paper again; if it stays so, the log file says more.",
        ) from fault
    created = created.astimezone(UTC).replace(microsecond=0)
    title, author, subject = (_keep_xml(text) for text in (title, author, subject))
    with document:
        _write_names(document, title, author, subject, created)
        _write_xmp(document, title, author, subject, created, xmp_extra or {}, language)
        _add_colour(document)
        _attach(document, attachments, created)
        for page in document.pages:
            for mark in page.obj.get("/Annots", ()):
                # Notes that a printer leaves out would make paper and screen differ.
                kept = int(mark.get("/F", 0)) | _FLAG_PRINT
                mark.F = kept & ~(_FLAG_INVISIBLE | _FLAG_HIDDEN | _FLAG_NO_VIEW)
        document.Root.Lang = String(language)
        document.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
        target = io.BytesIO()
        document.save(
            target,
            min_version="1.7",
            force_version="1.7",
            fix_metadata_version=False,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            # The same paper made twice is the same file, byte for byte.
            deterministic_id=True,
        )
    return target.getvalue()


def check_archival(pdf: bytes) -> list[str]:
    """What keeps this PDF from being PDF/A-3b as far as this check goes; empty when nothing.

    It looks for fonts not embedded, colours that no profile explains, metadata, attachments,
    notes, actions and encryption. It is no full validator: it does not read the pages' drawing.
    """
    try:
        with pikepdf.open(io.BytesIO(pdf)) as document:
            return list(_find_faults(document))
    except pikepdf.PasswordError:
        return ["it is encrypted"]
    except (pikepdf.PdfError, ValueError):
        return ["it is no PDF that can be read"]


def _keep_xml(text: str) -> str:
    return _NO_XML.sub("?", text)


def _write_names(
    document: pikepdf.Pdf, title: str, author: str, subject: str, created: datetime
) -> None:
    date = String(encode_pdf_date(created))
    document.trailer.Info = document.make_indirect(
        Dictionary(
            Title=String(title),
            Author=String(author),
            Subject=String(subject),
            Creator=String(_TOOL),
            Producer=String(_PRODUCER),
            CreationDate=date,
            ModDate=date,
        )
    )


def _write_xmp(
    document: pikepdf.Pdf,
    title: str,
    author: str,
    subject: str,
    created: datetime,
    extra: Mapping[str, str],
    language: str,
) -> None:
    for name in extra:
        if not _PROPERTY_NAME.fullmatch(name):
            raise ValueError(f"{name!r} is no name for a property")
    own = "".join(
        f"<record:{name}>{escape(_keep_xml(value))}</record:{name}>\n"
        for name, value in sorted(extra.items())
    )
    schema = ""
    if own:
        # PDF/A asks that every property it does not know itself is described in the file.
        properties = "".join(
            _PROPERTY.format(name=name, description=_PROPERTIES.get(name, "a fact of the record"))
            for name in sorted(extra)
        )
        schema = _SCHEMA.format(namespace=RECORD_NAMESPACE, properties=properties)
    # Written out from a template: a library's writer puts namespaces where validators miss them.
    packet = _PACKET.format(
        namespace=RECORD_NAMESPACE,
        title=escape(title),
        author=escape(author),
        subject=escape(subject),
        language=escape(language),
        tool=_TOOL,
        moment=created.isoformat(timespec="seconds"),
        producer=_PRODUCER,
        own=own,
        schema=schema,
    )
    metadata = document.make_stream(packet.encode("utf-8"))
    metadata.Type = Name.Metadata
    metadata.Subtype = Name.XML
    document.Root.Metadata = metadata


def _add_colour(document: pikepdf.Pdf) -> None:
    # Made once with Pillow's ImageCms.createProfile("sRGB"), then given a fixed date and labelled
    # ICC 4.2, the last version that PDF 1.7 knows; a profile made anew would differ each time.
    profile = document.make_stream(find_resource("icc", "sRGB.icc").read_bytes())
    profile.N = 3
    intent = Dictionary(
        Type=Name.OutputIntent,
        S=Name.GTS_PDFA1,
        OutputConditionIdentifier=String(_OUTPUT_CONDITION),
        Info=String(_OUTPUT_CONDITION),
        DestOutputProfile=profile,
    )
    document.Root.OutputIntents = Array([document.make_indirect(intent)])


def _attach(document: pikepdf.Pdf, attachments: Iterable[Attachment], created: datetime) -> None:
    related = Array()
    date = encode_pdf_date(created)
    for name, content, mime, description in attachments:
        if name in document.attachments:
            raise PaperTrouble(f"Two attached files have the name {name}.", where=name)
        attached = pikepdf.AttachedFileSpec(
            document,
            content,
            filename=name,
            description=description,
            mime_type=mime,
            relationship=Name.Data,
            creation_date=date,
            mod_date=date,
        )
        document.attachments[name] = attached
        related.append(document.attachments[name].obj)
    if len(related):
        # Listing a file by name only is not enough for PDF/A-3: it must be tied to the document.
        document.Root.AF = related


def _find_faults(document: pikepdf.Pdf) -> Iterator[str]:
    if document.is_encrypted:
        yield "it is encrypted"
    if document.pdf_version != "1.7":
        yield f"it calls itself PDF {document.pdf_version} and not 1.7"
    if "/Version" in document.Root:
        yield f"its catalog calls it PDF {str(document.Root.Version)[1:]}"
    if "/ID" not in document.trailer:
        yield "it has no file identifier"
    if "/Lang" not in document.Root:
        yield "it does not name its language"
    yield from _find_colour_faults(document)
    yield from _find_xmp_faults(document)
    yield from _find_attachment_faults(document)
    for number, page in enumerate(document.pages, 1):
        for mark in page.obj.get("/Annots", ()):
            flags = int(mark.get("/F", 0))
            hiding = _FLAG_INVISIBLE | _FLAG_HIDDEN | _FLAG_NO_VIEW
            if not flags & _FLAG_PRINT or flags & hiding:
                yield f"a note on page {number} is not printed or not shown"
            if "/AP" not in mark and not _needs_no_look(mark):
                yield f"a note on page {number} is drawn anew by each viewer"
    for thing in document.objects:
        yield from _find_thing_faults(thing)


def _needs_no_look(mark: pikepdf.Object) -> bool:
    left, bottom, right, top = (float(edge) for edge in mark.get("/Rect", (0, 0, 1, 1)))
    return (left == right and bottom == top) or mark.get("/Subtype") in (Name.Link, Name.Popup)


def _find_colour_faults(document: pikepdf.Pdf) -> Iterator[str]:
    for intent in document.Root.get("/OutputIntents", ()):
        profile = intent.get("/DestOutputProfile")
        if intent.get("/S") == Name.GTS_PDFA1 and isinstance(profile, pikepdf.Stream):
            content = profile.read_bytes()
            if profile.get("/N") == 3 and content[16:20] == b"RGB " and content[36:40] == b"acsp":
                return
    yield "no colour profile says what its colours are"


def _find_xmp_faults(document: pikepdf.Pdf) -> Iterator[str]:
    metadata = document.Root.get("/Metadata")
    if not isinstance(metadata, pikepdf.Stream):
        yield "it has no XMP metadata"
        return
    try:
        known = read_xmp(metadata.read_bytes())
    except ValueError:
        yield "its XMP metadata cannot be read"
        return
    namespace = "{http://www.aiim.org/pdfa/ns/id/}"
    claim = known.get(f"{namespace}part"), known.get(f"{namespace}conformance")
    if claim != ("3", "B"):
        yield "its metadata does not call it PDF/A-3b"
    info = document.trailer.get("/Info", Dictionary())
    for key, name in _SAME_IN_BOTH.items():
        if str(info.get(key, "")) != known.get(name, ""):
            yield f"{key[1:]} differs between its two sets of metadata"


def _find_attachment_faults(document: pikepdf.Pdf) -> Iterator[str]:
    related = {item.objgen for item in document.Root.get("/AF", ())}
    for name, attached in document.attachments.items():
        if attached.obj.objgen not in related:
            yield f"the attached file {name} is not tied to the document"
        if "/AFRelationship" not in attached.obj:
            yield f"the attached file {name} does not say how it belongs"
        stream = attached.obj.get("/EF", Dictionary()).get("/F", Dictionary())
        if "/Subtype" not in stream:
            yield f"the attached file {name} does not say its type"


def _find_thing_faults(thing: Any) -> Iterator[str]:
    """Faults in an object and all that lies directly in it; what it refers to comes by itself."""
    if isinstance(thing, pikepdf.Array):
        for inner in thing:
            if not getattr(inner, "is_indirect", False):
                yield from _find_thing_faults(inner)
        return
    if not isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
        return
    kind, sort = thing.get("/Type"), thing.get("/Subtype")
    if kind == Name.Font and sort not in (Name.Type0, Name.Type3):
        described = thing.get("/FontDescriptor", Dictionary())
        if not any(key in described for key in ("/FontFile", "/FontFile2", "/FontFile3")):
            yield f"the font {str(thing.get('/BaseFont', '/?'))[1:]} is not embedded"
    deed = thing.get("/S")
    if "/JS" in thing or (isinstance(deed, pikepdf.Name) and str(deed) in _DEEDS):
        yield "it holds an action that runs something"
    if "/XFA" in thing or thing.get("/NeedAppearances") is True:
        yield "it holds a form that is drawn anew by each viewer"
    for inner in thing.values():
        if not getattr(inner, "is_indirect", False):
            yield from _find_thing_faults(inner)


def read_xmp(packet: bytes) -> dict[str, str]:
    """The simple properties of an XMP packet by "{namespace}name"; of a list, its first entry.

    Raises ValueError for what is no XMP, or tries to define entities of its own.
    """
    if len(packet) > 1_000_000 or b"<!DOCTYPE" in packet or b"<!ENTITY" in packet:
        raise ValueError("no plain XMP")
    rdf = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
    known: dict[str, str] = {}
    try:
        root = ElementTree.fromstring(packet.decode("utf-8").strip("\ufeff \r\n\t\0"))
    except (ElementTree.ParseError, UnicodeDecodeError) as fault:
        raise ValueError("no plain XMP") from fault
    for described in root.iter(f"{rdf}Description"):
        for name, value in described.attrib.items():
            if not name.startswith(rdf):
                known[name] = value
        for item in described:
            entry = item.find(f"*/{rdf}li")
            if entry is not None:
                known[item.tag] = entry.text or ""
            elif len(item) == 0:
                known[item.tag] = item.text or ""
    return known
