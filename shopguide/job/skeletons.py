"""New sheets to begin with: blank, or with the stages of a repair already laid out."""

from __future__ import annotations

from datetime import date
from typing import Any

from shopguide.errors import Trouble
from shopguide.job.edits import Draft
from shopguide.job.model import FORMAT, Sheet
from shopguide.job.text import write_text

SKELETONS: dict[str, str] = {
    "blank": "one step with one task",
    "take apart": "take apart, work, put back, check",
}
"""The skeletons by name, each with what is in it."""

_STAGES: dict[str, tuple[tuple[str, str, tuple[str, ...]], ...]] = {
    "blank": (("Work", "First step", ("Write here what is to be done.",)),),
    "take apart": (
        (
            "Take apart",
            "Make safe",
            (
                "Read this job in your own machine's manual. Where it differs, follow the manual.",
                "Make the machine safe, as its manual says, before you begin.",
            ),
        ),
        ("Work", "Clean and look", ("Write here what is cleaned, renewed and looked at.",)),
        (
            "Put back",
            "Before anything goes back",
            ("Look into every opening once more: no wipe, no tool, no old seal.",),
        ),
        ("Check", "Count the tools", ("Count the tools. Every one is back in its place.",)),
    ),
}


def make_skeleton(name: str, title: str, author: str, day: date | str) -> Sheet:
    """A new sheet that opens and can be worked on: "blank", or "take apart".

    Raises Trouble where there is no such skeleton, or where title, author or day will not do.
    """
    if name not in _STAGES:
        known = " or ".join(f'"{each}"' for each in _STAGES)
        raise Trouble(f'There is no skeleton "{name}".', "new sheet", f"Choose {known}.")
    stages: list[dict[str, Any]] = [
        {
            "title": stage,
            "steps": [
                {"title": step, "tasks": [{"kind": "confirm", "text": text} for text in texts]}
            ],
        }
        for stage, step, texts in _STAGES[name]
    ]
    head = {"format": FORMAT, "title": title, "author": author, "date": str(day)}
    return _read({**head, "stages": stages})


def _read(data: dict[str, Any]) -> Sheet:
    draft = Draft.open(write_text(data), "new sheet")
    if draft.sheet is None:
        raise draft.troubles[0].trouble
    return draft.sheet
