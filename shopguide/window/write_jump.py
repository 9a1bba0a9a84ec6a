"""Where a finding of the review leads to in the sheet as written: the very field, if there is."""

from __future__ import annotations

from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.review.rule import Finding
from shopguide.window.write_fixes import find_entry, find_photo, find_step, find_task


def find_path(data: FixedDict, finding: Finding) -> Path:
    """The path in job.json of what a finding is about; () where it is about no one place.

    Raises Trouble where an edit has taken away what it is about.
    """
    path = _find_owner(data, finding)
    return (*path, finding.field) if path and finding.field else path


def _find_owner(data: FixedDict, finding: Finding) -> Path:
    """The path of the task, step or entry."""
    listed, name = finding.listed, finding.name
    if finding.task:
        return find_task(data, finding.task)
    if finding.step and listed == "photos":
        return find_photo(data, finding.step, name)
    if finding.step and listed == "cautions":
        return (*find_step(data, finding.step), "cautions", int(name) - 1)
    if finding.step:
        return find_step(data, finding.step)
    if listed in ("specs", "parts", "tools", "fluids", "patterns"):
        return find_entry(data, listed, name)
    if listed in ("cautions", "follow_ups"):
        return (listed, int(name) - 1)
    return (listed,) if listed == "hints_off" else ()
