"""Saying what a signed paper can be trusted for, in three separate statements and no more.

Whether the file is unchanged, which key signed it, and whether the attached record holds up to the
head named on the paper. Who holds the key, when it was used and whether the work was done are
nothing a file can prove, and nothing is said about them.
"""

from __future__ import annotations

import hashlib
import io
import json
import logging
import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Generic, TypeVar

import pikepdf
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import EmbeddedPdfSignature, validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from shopguide.paper.archive import RECORD_NAMESPACE, read_xmp
from shopguide.paper.identity import tell_fingerprint
from shopguide.paper.printed import read_printed_heads
from shopguide.work import chain

RECORD_NAME = "record.json"
RECORD_FORMAT = "shopguide-record/1"

_HEX = re.compile(r"[0-9a-f]{64}")

# What a library notes about a hostile file goes to the log where there is one, and not on the
# terminal of the person who asked.
for _name in ("pyhanko", "pyhanko_certvalidator", "pikepdf"):
    logging.getLogger(_name).addHandler(logging.NullHandler())


class Unchanged(StrEnum):
    """Whether the file is still what was signed."""

    UNCHANGED = "unchanged"
    CHANGED = "changed"
    ADDED = "added"
    UNSIGNED = "no signature"
    UNREADABLE = "unreadable"


class Key(StrEnum):
    """Whether the key that signed was met before."""

    SEEN = "seen before"
    NEW = "not seen before"
    NONE = "no key"


class Chain(StrEnum):
    """Whether the attached record holds."""

    HOLDS = "holds"
    BROKEN = "broken"
    DIFFERS = "differs"
    UNNAMED = "no head named"
    MISSING = "no record"
    UNREADABLE = "unreadable"


State = TypeVar("State", Unchanged, Key, Chain)


@dataclass(frozen=True)
class Statement(Generic[State]):
    """One finding: its state, for a program, and its sentence, for a person."""

    state: State
    sentence: str


@dataclass(frozen=True)
class Verdict:
    """The three statements about one paper, with the figures they rest on."""

    unchanged: Statement[Unchanged]
    key: Statement[Key]
    chain: Statement[Chain]
    rehearsal: bool = False
    fingerprint: str | None = None
    head: str | None = None

    @property
    def good(self) -> bool:
        """Unchanged, its record holds, and it is no rehearsal. Whose key it is you must judge."""
        return (
            self.unchanged.state is Unchanged.UNCHANGED
            and self.key.state in (Key.SEEN, Key.NEW)
            and self.chain.state is Chain.HOLDS
            and not self.rehearsal
        )

    def as_dict(self) -> dict[str, Any]:
        """The verdict as plain data for JSON."""
        stated = {
            name: {"state": statement.state.value, "sentence": statement.sentence}
            for name, statement in (
                ("unchanged", self.unchanged),
                ("key", self.key),
                ("chain", self.chain),
            )
        }
        return {
            "good": self.good,
            "rehearsal": self.rehearsal,
            **stated,
            "fingerprint": self.fingerprint,
            "head": self.head,
        }

    def tell(self) -> str:
        """The verdict in a few lines for a terminal."""
        lines = [
            f"Paper:  {self.unchanged.sentence}",
            f"Key:    {self.key.sentence}",
            f"Record: {self.chain.sentence}",
        ]
        if self.rehearsal:
            lines.insert(0, "This is a REHEARSAL: it shows no work done.")
        return "\n".join(lines)


def verify_paper(data: bytes, known: Mapping[str, str] | None = None) -> Verdict:
    """What can be said about the file `data`; it never raises, whatever the file holds.

    known: the name of each key seen before, by its fingerprint in lower-case hex.
    """
    try:
        unchanged, fingerprint = _judge_signature(data)
    except Exception:
        # A hostile file makes a parser raise anything at all.
        unchanged, fingerprint = _UNREADABLE, None
    key = _name_key(unchanged.state, fingerprint, known or {})
    if unchanged.state not in (Unchanged.UNCHANGED, Unchanged.ADDED):
        fingerprint = None
    try:
        judged = _judge_record(data, covered=unchanged.state is Unchanged.UNCHANGED)
    except Exception:
        judged = _Judged(Statement(Chain.UNREADABLE, "Its attached record cannot be read."))
    return Verdict(unchanged, key, judged.chain, judged.rehearsal, fingerprint, judged.head)


_UNREADABLE = Statement(
    Unchanged.UNREADABLE, "It cannot be read as a signed paper, so nothing can be said about it."
)
_CHANGED = Statement(Unchanged.CHANGED, "Changed after it was signed.")


def _judge_signature(data: bytes) -> tuple[Statement[Unchanged], str | None]:
    reader = PdfFileReader(io.BytesIO(data), strict=True)
    signatures = reader.embedded_regular_signatures
    if not signatures:
        return Statement(Unchanged.UNSIGNED, "It bears no signature."), None
    first = signatures[0]
    certificate = first.signer_cert
    # The file's own certificate stands as root only because the check wants one: nothing is
    # concluded from its being trusted.
    context = ValidationContext(trust_roots=[certificate], allow_fetching=False)
    status = validate_pdf_signature(first, signer_validation_context=context)
    fingerprint = hashlib.sha256(certificate.dump()).hexdigest()
    if not (status.intact and status.valid):
        return _CHANGED, fingerprint
    alone = len(signatures) == 1 and status.coverage is SignatureCoverageLevel.ENTIRE_FILE
    if not (alone and status.docmdp_ok):
        return Statement(Unchanged.ADDED, "Something was added after it was signed."), fingerprint
    if not _fills_its_gap(data, first):
        return _CHANGED, fingerprint
    return Statement(
        Unchanged.UNCHANGED, "Unchanged since it was signed, with nothing added after."
    ), fingerprint


def _fills_its_gap(data: bytes, signature: EmbeddedPdfSignature) -> bool:
    """Whether the one stretch of bytes that is not signed holds the signature and nothing else."""
    start, length, resume, rest = (int(figure) for figure in signature.byte_range)
    gap = data[length:resume]
    if start != 0 or resume + rest != len(data) or gap[:1] != b"<" or gap[-1:] != b">":
        return False
    held = bytes.fromhex(gap[1:-1].decode("ascii"))
    filled = len(_strip_padding(held))
    return held == signature.pkcs7_content and not any(held[filled:])


def _strip_padding(held: bytes) -> bytes:
    """The first DER value in these bytes, without what follows it."""
    length = held[1]
    size = 2
    if length & 0x80:
        size += length & 0x7F
        length = int.from_bytes(held[2:size], "big")
    return held[: size + length]


def _name_key(
    state: Unchanged, fingerprint: str | None, known: Mapping[str, str]
) -> Statement[Key]:
    if state is Unchanged.CHANGED:
        return Statement(Key.NONE, "No key can be named: the signature does not fit the paper.")
    if fingerprint is None:
        return Statement(Key.NONE, "No key can be named.")
    told = f"Signed with the key {tell_fingerprint(fingerprint)}"
    if fingerprint in known:
        return Statement(Key.SEEN, f"{told}, seen before as {known[fingerprint]}.")
    return Statement(Key.NEW, f"{told}, not seen before.")


@dataclass(frozen=True)
class _Judged:
    chain: Statement[Chain]
    rehearsal: bool = False
    head: str | None = None


def _judge_record(data: bytes, *, covered: bool) -> _Judged:
    with pikepdf.open(io.BytesIO(data)) as document:
        named = _read_named(document)
        marked = named.get("rehearsal", "") not in ("", "no", "false")
        if RECORD_NAME not in document.attachments:
            return _Judged(Statement(Chain.MISSING, "No record is attached."), marked)
        raw = document.attachments[RECORD_NAME].get_file().read_bytes()
        try:
            printed = read_printed_heads(document)
        except Exception:
            # The pages may be odd where the record is sound; the metadata names the head too.
            printed = set()
    unreadable = Statement(Chain.UNREADABLE, "Its attached record cannot be read.")
    try:
        record = json.loads(raw, object_pairs_hook=_refuse_doubles)
        events = record["events"]
        if record["format"] != RECORD_FORMAT or not isinstance(events, list):
            return _Judged(unreadable, marked)
        marked = marked or _is_rehearsal(record)
    except (ValueError, KeyError, TypeError, RecursionError):
        return _Judged(unreadable, marked)
    head, fault = chain.follow(events)
    if fault:
        told = f"The chain of the attached record is broken: {fault}."
        return _Judged(Statement(Chain.BROKEN, told), marked, head)
    return _Judged(
        _compare_heads(head, len(events), record, raw, named, printed, covered), marked, head
    )


def _compare_heads(
    head: str,
    count: int,
    record: Mapping[str, Any],
    raw: bytes,
    named: Mapping[str, str],
    printed: set[str],
    covered: bool,
) -> Statement[Chain]:
    if record.get("head") != head:
        return Statement(
            Chain.DIFFERS, "The attached record ends at another head than the one it names itself."
        )
    if not _HEX.fullmatch(named.get("recordHead", "")):
        return Statement(
            Chain.UNNAMED, "The paper's metadata names no head to hold the attached record against."
        )
    if named["recordHead"] != head:
        return Statement(
            Chain.DIFFERS,
            "The attached record ends at another head than the one in the paper's metadata.",
        )
    if printed - {head}:
        return Statement(
            Chain.DIFFERS,
            "The attached record ends at another head than the one printed on the paper.",
        )
    if named.get("recordSha256", "") != hashlib.sha256(raw).hexdigest():
        return Statement(
            Chain.DIFFERS, "The attached record is not the one that the paper's metadata names."
        )
    where = "the paper's signed metadata" if covered else "the paper's metadata"
    if printed:
        where += " and printed on its page"
    told = f"The chain of the attached record ({count} events) holds up to the head in {where}"
    if not covered:
        told += "; no signature vouches for that head"
    return Statement(Chain.HOLDS, f"{told}.")


def _read_named(document: pikepdf.Pdf) -> dict[str, str]:
    """Our own properties in the paper's metadata, by name."""
    metadata = document.Root.get("/Metadata")
    if not isinstance(metadata, pikepdf.Stream):
        return {}
    try:
        known = read_xmp(metadata.read_bytes())
    except ValueError:
        return {}
    prefix = f"{{{RECORD_NAMESPACE}}}"
    return {
        name.removeprefix(prefix): value.strip()
        for name, value in known.items()
        if name.startswith(prefix)
    }


def _refuse_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    # Of two values under one key each reader picks its own.
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key occurs twice")
    return found


def _is_rehearsal(record: Mapping[str, Any]) -> bool:
    if record.get("rehearsal") is not False:
        return True
    return any(
        event["kind"] == "begun" and bool(event["data"].get("rehearsal"))
        for event in record["events"]
        if isinstance(event, dict) and isinstance(event.get("data"), dict) and "kind" in event
    )
