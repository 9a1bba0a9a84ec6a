"""Making, signing and writing the paper for the window. Its imports wait until they are needed:

reportlab and pyHanko cost most of a second, and the window comes up without them.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from shopguide import __version__, places
from shopguide.job.model import Sheet
from shopguide.record.file import RecordFile
from shopguide.window.background import Errand

if TYPE_CHECKING:
    from shopguide.paper.identity import Identity

Page = Literal["A4", "Letter"]
PROGRAM = f"shopguide {__version__}"


def make_draft(errand: Errand, record: RecordFile, sheet: Sheet, page: Page) -> bytes:
    """The paper as it would be now, unsigned, for looking at."""
    from shopguide.paper.make import make_paper
    from shopguide.paper.request import request_from

    request = request_from(record, sheet, page=page, made_at=datetime.now(UTC), program=PROGRAM)
    return make_paper(request, progress=errand.tell, cancelled=errand.is_cancelled)


def write_signed(
    errand: Errand, record: RecordFile, sheet: Sheet, page: Page, path: Path, identity: Identity
) -> bytes:
    """Makes the paper with the key's fingerprint on it, signs it, writes it; its bytes."""
    from shopguide.paper.identity import tell_fingerprint
    from shopguide.paper.make import make_paper, sign_and_write
    from shopguide.paper.request import request_from

    now = datetime.now(UTC)
    request = request_from(
        record,
        sheet,
        page=page,
        made_at=now,
        program=PROGRAM,
        fingerprint=tell_fingerprint(identity.fingerprint),
    )
    pdf = make_paper(request, progress=errand.tell, cancelled=errand.is_cancelled)
    errand.tell("signing")
    sign_and_write(pdf, identity, path, reason="own record of work", signed_at=now)
    return path.read_bytes()


def find_key_state() -> str:
    """What signing needs from the person first: "nothing", "passphrase" or "new passphrase"."""
    from shopguide.paper import identity

    folder = places.identity_folder()
    if not identity.exists(folder):
        return "nothing" if identity.has_keyring() else "new passphrase"
    return "passphrase" if identity.needs_passphrase(folder) else "nothing"


def get_identity(name: str, passphrase: str | None) -> Identity:
    """The user's key, made now if this is the first signature."""
    from shopguide.paper import identity

    folder = places.identity_folder()
    if identity.exists(folder):
        return identity.open_identity(folder, passphrase)
    return identity.make_identity(folder, name, passphrase)
