"""The reviewer: runs the rules over a sheet, and over the next one only where it is another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

from shopguide.job.model import Sheet
from shopguide.review.facts import Names, PictureSizes, SheetFacts, StepFacts
from shopguide.review.rule import SEVERITIES, Finding, Found, Rule, make_finding
from shopguide.review.rules import RULES

_LAST = 1 << 30


@dataclass(slots=True)
class _Seen:
    """A step that was looked at: its facts, and what was found, told for its number."""

    facts: StepFacts
    number: int = 0
    findings: list[tuple[tuple[int, int, int], Finding]] = field(default_factory=list)


class Reviewer:
    """Reviews one sheet after another, each an edit of the one before.

    A step that is the very same object as before, and whose names lead to the same entries, is not
    looked at again; rules about the whole sheet run anew on the facts of its steps. One thread at a
    time may use it.
    """

    def __init__(self, rules: Sequence[Rule] = RULES) -> None:
        self._order = {rule.name: index for index, rule in enumerate(RULES)}
        self._step_rules = tuple((rule, _gather(rule)) for rule in rules if rule.of == "step")
        self._sheet_rules = tuple(rule for rule in rules if rule.of == "sheet")
        self._names: Names | None = None
        self._seen: dict[int, _Seen] = {}
        self._memo: dict[Any, tuple[Any, Any]] = {}
        self.looked_at = 0
        """How many steps the last review looked at afresh."""

    def review(self, sheet: Sheet, pictures: PictureSizes | None = None) -> tuple[Finding, ...]:
        """Every finding, the gravest first, then in the order of the sheet.

        pictures: sizes of those at hand, where photos are to be reviewed too.
        """
        unchanged = self._names is not None and self._names.same_as(sheet)
        names = self._names if unchanged and self._names is not None else Names(sheet)
        self._names = names
        before, self._seen, self.looked_at = self._seen, {}, 0
        facts: list[StepFacts] = []
        told: list[tuple[tuple[int, int, int], Finding]] = []
        off = frozenset(sheet.hints_off)
        for number, place in enumerate(sheet.steps, 1):
            key = id(place.step)
            seen = self._seen.get(key) or before.get(key)
            if seen is None or seen.facts.step is not place.step:
                seen = _Seen(StepFacts(place.step, names))
                self.looked_at += 1
            elif not unchanged and key not in self._seen and seen.facts.renew(names):
                seen.number = 0
                self.looked_at += 1
            if seen.number != number:
                seen.number = number
                seen.findings = [
                    self._tell(rule, found, sheet, number)
                    for rule, gather in self._step_rules
                    for found in seen.facts.recall(gather)
                ]
            told += seen.findings
            self._seen[key] = seen
            facts.append(seen.facts)
        whole = SheetFacts(sheet, facts, names, pictures, self._memo)
        for rule in self._sheet_rules:
            if rule.name in off and rule.severity == "hint":
                continue
            index = self._order.get(rule.name, _LAST)
            told += [
                self._sort(index, make_finding(rule, found, sheet)) for found in rule.look(whole)
            ]
        self._forget(sheet)
        if off:
            told = [one for one in told if one[1].rule not in off or one[1].severity != "hint"]
        told.sort(key=lambda one: one[0])
        return tuple(finding for _, finding in told)

    def _tell(
        self, rule: Rule, found: Found, sheet: Sheet, number: int
    ) -> tuple[tuple[int, int, int], Finding]:
        fix = found.fix.at(number) if found.fix is not None else None
        placed = Found(found.place._replace(step=number), found.sentence, fix)
        return self._sort(self._order.get(rule.name, _LAST), make_finding(rule, placed, sheet))

    def _sort(self, index: int, finding: Finding) -> tuple[tuple[int, int, int], Finding]:
        key = (SEVERITIES.index(finding.severity), finding.step or _LAST, index)
        return key, finding

    def _forget(self, sheet: Sheet) -> None:
        """Drop what was remembered of entries that the sheet no longer has."""
        entries = (*sheet.specs, *sheet.patterns, *sheet.tools, sheet.tools, sheet.cautions)
        kept = {id(entry) for entry in entries}
        self._memo = {key: held for key, held in self._memo.items() if key[1] in kept}


def _gather(rule: Rule) -> Callable[[StepFacts], tuple[Found, ...]]:
    """A rule about a step as one that its facts can remember."""
    return lambda facts: tuple(rule.look(facts))


def look_by(rule: Rule, sheet: Sheet, pictures: PictureSizes | None = None) -> tuple[Finding, ...]:
    """What one rule finds in a sheet."""
    return Reviewer((rule,)).review(sheet, pictures)
