"""The base of everything a job sheet holds: immutable, and strict about its keys."""

from __future__ import annotations

import unicodedata
from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, StringConstraints


class Entry(BaseModel):
    """One immutable piece of a sheet. Unknown keys are errors; a change makes a new piece."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", str_strip_whitespace=True, validate_default=False
    )


def _normalise(text: str) -> str:
    """One spelling per text (Unicode NFC), without control characters that a screen can't show."""
    text = unicodedata.normalize("NFC", text)
    if any(unicodedata.category(ch) in ("Cc", "Cs") and ch not in "\n\t" for ch in text):
        raise ValueError("holds control characters; write plain text")
    return text


Line = Annotated[
    str,
    StringConstraints(min_length=1, max_length=200, pattern=r"^[^\n]*$"),
    AfterValidator(_normalise),
]
"""A short text on one line: a title, a name, a figure."""

Prose = Annotated[str, StringConstraints(max_length=4000), AfterValidator(_normalise)]
"""A longer text; may be empty and may have several lines."""

Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, pattern=r"^[^\n]*$"),
    AfterValidator(_normalise),
]
"""What other places in the sheet refer to: a spec, a pattern, an open item, a fastener."""
