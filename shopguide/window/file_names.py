"""What a file or folder is called that is made from the title of a sheet."""

from __future__ import annotations

MOST_SIGNS = 60


def name_file(title: str, ending: str = "") -> str:
    """The title without signs that a file name may not have. ending: such as ".zip"."""
    words = "".join(c for c in title if c.isalnum() or c in " -_,").strip()[:MOST_SIGNS]
    return (words.strip() or "sheet") + ending
