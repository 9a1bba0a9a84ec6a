"""What is wrong with a sheet before anyone works from it: every rule, run over it."""

from __future__ import annotations

from shopguide.errors import SheetTrouble
from shopguide.job.files import OpenedSheet
from shopguide.job.model import Sheet
from shopguide.review.facts import PictureSizes
from shopguide.review.photos import measure_pictures
from shopguide.review.reviewer import Reviewer
from shopguide.review.rule import SEVERITIES, Finding, Fix, Severity
from shopguide.review.rules import RULES

__all__ = [
    "SEVERITIES",
    "Finding",
    "Fix",
    "Reviewer",
    "Severity",
    "find_in_trouble",
    "review_opened",
    "review_sheet",
    "stops_work",
]


def review_sheet(sheet: Sheet, pictures: PictureSizes | None = None) -> tuple[Finding, ...]:
    """Every finding about a sheet that could be opened, the gravest first, then in sheet order.

    pictures: width and height of the pictures at hand; without it nothing is said of their files.
    """
    return Reviewer().review(sheet, pictures)


def review_opened(opened: OpenedSheet) -> tuple[Finding, ...]:
    """Every finding about an opened sheet and the files of its pictures."""
    return review_sheet(opened.sheet, measure_pictures(opened))


def stops_work(sheet: Sheet) -> tuple[Finding, ...]:
    """The findings for which work does not start; none: it may."""
    return Reviewer(tuple(rule for rule in RULES if rule.severity == "stops work")).review(sheet)


def find_in_trouble(trouble: SheetTrouble) -> tuple[Finding, ...]:
    """The findings about a sheet that cannot be opened: each fault stops work."""
    return tuple(
        Finding(
            "the sheet opens",
            "stops work",
            fault.where,
            f"{fault.what} {fault.next}".strip(),
            "a sheet that cannot be opened cannot be worked from; common practice, no source",
        )
        for fault in (trouble.troubles or (trouble,))
    )
