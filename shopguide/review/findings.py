"""What is wrong with a sheet before anyone works from it: every rule, run over it."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from shopguide.errors import SheetTrouble
from shopguide.job.model import Sheet
from shopguide.review.rules import RULES, SEVERITIES, Severity
from shopguide.review.screw_limits import SCREW_RULES


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found: by which rule, how grave, where, in a sentence, and why it matters."""

    rule: str
    severity: Severity
    where: str
    sentence: str
    reason: str

    def as_dict(self) -> dict[str, str]:
        """The finding as plain JSON."""
        return asdict(self)

    def tell(self) -> str:
        """The finding in lines: grave or not and where, what, why and by which rule."""
        head = f"{self.severity}: {self.where}" if self.where else self.severity
        return f"{head}\n  {self.sentence}\n  Why: {self.reason} (rule: {self.rule})"


def review_sheet(sheet: Sheet) -> tuple[Finding, ...]:
    """Every finding about a sheet that could be opened, the gravest first, then in sheet order."""
    found = [
        Finding(rule.name, rule.severity, where, sentence, rule.reason)
        for rule in (*RULES, *SCREW_RULES)
        for where, sentence in rule.look(sheet)
    ]
    return tuple(sorted(found, key=lambda finding: SEVERITIES.index(finding.severity)))


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
