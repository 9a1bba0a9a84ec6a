"""Signing a paper: a PAdES baseline-B signature over the whole file, allowing no change after."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from typing import Any

from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.misc import PdfError
from pyhanko.sign import fields
from pyhanko.sign.general import SigningError
from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner
from pyhanko.sign.signers.pdf_signer import PdfSigningSession

from shopguide.errors import PaperTrouble
from shopguide.paper.identity import Identity

FIELD_NAME = "Signature"


def sign_paper(pdf: bytes, identity: Identity, *, reason: str, signed_at: datetime) -> bytes:
    """The PDF with a signature added; not one byte may change or follow after this.

    The signature certifies the file and allows no later change (DocMDP, P = 1). Its field has no
    look of its own: the drawn signature is part of the page, where every viewer shows it.
    signed_at: the time of this computer's clock, which nobody certifies.
    Raises PaperTrouble when the PDF cannot be read, or is signed already.
    """
    settings = PdfSignatureMetadata(
        field_name=FIELD_NAME,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
        reason=reason,
        name=identity.name,
    )
    field = fields.SigFieldSpec(
        FIELD_NAME,
        on_page=-1,
        box=None,
        readable_field_name="Signature of the one who did the work",
    )
    signer = _DatedSigner(settings, signer=identity.signer, new_field_spec=field)
    signer.signed_at = signed_at.astimezone(UTC)
    try:
        writer = _FaithfulWriter(io.BytesIO(pdf), strict=True)
        if any(True for _ in fields.enumerate_sig_fields(writer.prev, filled_status=True)):
            raise PaperTrouble(
                "The paper is signed already.", next="Export it anew to sign it again."
            )
        signed = signer.sign_pdf(writer)
    except (PdfError, SigningError, ValueError) as fault:
        raise PaperTrouble(
            f"The paper could not be signed ({fault}).",
            next="Try to make the paper again; if it stays so, the log file says more.",
        ) from fault
    return bytes(signed.getbuffer())


class _FaithfulWriter(IncrementalPdfFileWriter):
    """Adds to the file and leaves its metadata alone.

    The plain writer puts its own name and the present time into XMP and Info, differently, and
    writes our own properties under another prefix: the file would no longer be PDF/A.
    """

    def _update_meta(self) -> None:
        return


class _DatedSigner(PdfSigner):
    """Signs with the time it is told instead of the present one."""

    signed_at: datetime

    def init_signing_session(self, *args: Any, **named: Any) -> PdfSigningSession:
        session = super().init_signing_session(*args, **named)
        session.system_time = self.signed_at
        return session
