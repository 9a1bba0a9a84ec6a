"""Sentences that are put together from what stands in several fields."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

ENDS_OPEN = ("Lu", "Ll", "Nd", "Pe", "Pf")
"""Letters that have small and capital ones, figures, closing brackets and quotes."""


def join_sentences(parts: Iterable[str]) -> str:
    """The parts as one paragraph. One that ends without a stop gets one, so that none run on.

    Scripts without small and capital letters have stops of their own: they are left as they are.
    """
    told = [part.strip() for part in parts if part.strip()]
    return " ".join(_stop(part) for part in told)


def _stop(part: str) -> str:
    last = part.rstrip("\"'")[-1:]
    return f"{part}." if last and unicodedata.category(last) in ENDS_OPEN else part
