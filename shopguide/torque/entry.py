"""The base of everything a job sheet holds: immutable, and strict about its keys."""

from __future__ import annotations

import unicodedata
from typing import Annotated

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, StringConstraints


class Entry(BaseModel):
    """One immutable piece of a sheet. Unknown keys are errors; a change makes a new piece."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", str_strip_whitespace=True, validate_default=False
    )


def _normalise(text: object) -> object:
    """One spelling per text (Unicode NFC), before its length is taken: NFC may lengthen it."""
    return unicodedata.normalize("NFC", text) if isinstance(text, str) else text


def _check_signs(text: str) -> str:
    """No control characters, which a screen cannot show."""
    if not text.isprintable() and any(
        unicodedata.category(ch) in ("Cc", "Cs") and ch not in "\n\t" for ch in text
    ):
        raise ValueError("The text holds control characters. Write plain text.")
    return text


Line = Annotated[
    str,
    StringConstraints(min_length=1, max_length=200, pattern=r"^[^\n]*$"),
    BeforeValidator(_normalise),
    AfterValidator(_check_signs),
]
"""A short text on one line: a title, a name, a figure."""

Prose = Annotated[
    str,
    StringConstraints(max_length=4000),
    BeforeValidator(_normalise),
    AfterValidator(_check_signs),
]
"""A longer text; may be empty and may have several lines."""

Name = Annotated[
    str,
    StringConstraints(min_length=1, max_length=80, pattern=r"^[^\n]*$"),
    BeforeValidator(_normalise),
    AfterValidator(_check_signs),
]
"""What other places in the sheet refer to: a spec, a pattern, an open item, a fastener."""

Instruction = Annotated[
    str,
    StringConstraints(min_length=1, max_length=400),
    BeforeValidator(_normalise),
    AfterValidator(_check_signs),
]
"""What a task tells to do; it may have several lines."""
