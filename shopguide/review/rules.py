"""The rules by which a sheet is reviewed, all of them, and their names."""

from __future__ import annotations

from collections.abc import Iterator

from shopguide.review.cautions import CAUTION_RULES
from shopguide.review.facts import SheetFacts
from shopguide.review.fluids import FLUID_RULES
from shopguide.review.lists import LIST_RULES
from shopguide.review.names import NAME_RULES, find_unknown_hints
from shopguide.review.open_items import OPEN_ITEM_RULES
from shopguide.review.photos import PHOTO_RULES
from shopguide.review.rule import Found, Rule
from shopguide.review.screw_limits import SCREW_RULES
from shopguide.review.screw_sizes import SIZE_RULES
from shopguide.review.tightening import TIGHTENING_RULES
from shopguide.review.tools import TOOL_RULES
from shopguide.review.waits import WAIT_RULES
from shopguide.review.wording import WORDING_RULES


def find_wrong_switches(facts: SheetFacts) -> Iterator[Found]:
    """Names under hints_off that are no hint."""
    return find_unknown_hints(facts, {rule.name: rule.severity for rule in RULES})


RULES: tuple[Rule, ...] = (
    *NAME_RULES,
    *OPEN_ITEM_RULES,
    *TIGHTENING_RULES,
    *SCREW_RULES,
    *SIZE_RULES,
    *FLUID_RULES,
    *CAUTION_RULES,
    *WAIT_RULES,
    *TOOL_RULES,
    *LIST_RULES,
    *PHOTO_RULES,
    *WORDING_RULES,
    Rule(
        "switched-off hint exists",
        "wants an answer",
        "a hint that was to be silenced goes on speaking where its name is misspelt; "
        "common practice, no source",
        find_wrong_switches,
    ),
)


def find_rule(name: str) -> Rule:
    """The rule with this name; KeyError where there is none."""
    for rule in RULES:
        if rule.name == name:
            return rule
    raise KeyError(name)
