"""Rules about specs and parts: where figures come from, whether they are used, what is bought."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shopguide.job.model import Part
from shopguide.review.facts import SheetFacts, StepFacts
from shopguide.review.rule import Fix, Found, Place, Rule
from shopguide.review.spelling import naming_words, plain_words
from shopguide.torque.spec import SourceKind, Spec


def _at_spec(spec: Spec, field: str = "") -> Place:
    return Place(listed="specs", name=spec.name, field=field)


def _at_part(part: Part, field: str = "") -> Place:
    return Place(listed="parts", name=part.name, field=field)


def find_spec_without_source(facts: SheetFacts) -> Iterator[Found]:
    """Specs of which nobody says where they come from."""
    for spec in facts.sheet.specs:
        if spec.source.kind is SourceKind.NOT_KNOWN and not spec.source.text:
            told = (
                f"Where {spec.tell()} comes from is not said"
                if spec.has_figure
                else "Neither its figure nor where it stands is known"
            )
            yield Found(
                _at_spec(spec, "source"),
                f"{told}. Write the source, or in its text where you have looked in vain.",
            )


def find_spec_of_unknown_source(facts: SheetFacts) -> Iterator[Found]:
    """Specs whose source is said to be not known."""
    for spec in facts.sheet.specs:
        if spec.source.kind is SourceKind.NOT_KNOWN and spec.source.text:
            said = spec.source.text.rstrip(". ")
            yield Found(_at_spec(spec, "source"), f"Its source is not known: {said}.")


def find_unused_spec(facts: SheetFacts) -> Iterator[Found]:
    """Specs that nothing in the sheet refers to."""
    used: set[str] = set()
    for step in facts.steps:
        used |= step.spec_names
    used |= {fluid.spec for fluid in facts.sheet.fluids if fluid.spec}
    used |= {follow_up.spec for follow_up in facts.sheet.follow_ups if follow_up.spec}
    for spec in facts.sheet.specs:
        if spec.name not in used:
            told = spec.tell() if spec.has_figure else "It"
            yield Found(
                _at_spec(spec, "name"),
                f"{told} is used nowhere. Name it in a task, or take it out.",
                Fix("remove spec", "Take it out", {"name": spec.name}),
            )


def find_units_apart(facts: SheetFacts) -> Iterator[Found]:
    """Specs that are printed in two units which are not the same quantity."""
    for spec in facts.sheet.specs:
        if not spec.printed_also:
            continue
        for other, exact in facts.once(spec, Spec.find_disagreements):
            yield Found(
                _at_spec(spec, "printed_also"),
                f"{spec.value} is printed beside {other.text}, but it is {exact}. "
                f"{spec.value} is worked to. Look at the source again.",
            )


def find_single_use_without_number(facts: SheetFacts) -> Iterator[Found]:
    """Parts that must be new and cannot be ordered by number."""
    for part in facts.sheet.parts:
        if part.single_use and not part.number:
            yield Found(
                _at_part(part, "number"),
                "It must be new, and no part number says which one to buy. Write its number.",
            )


# --- single-use parts -----------------------------------------------------------------------

_SINGLE_USE = re.compile(
    r"\b(gasket|o[- ]?ring"
    r"|(?:sealing|crush|copper|bonded|alumini?um|fib(?:re|er)) (?:ring|washer)|seal"
    r"|(?:split|cotter) pin|(?:self[- ]locking|nyloc|nylon[- ]insert|prevailing[- ]torque) nut"
    r"|lock(?:ing)? tab|tab washer|(?:lock|safety)[- ]?wire"
    r"|(?:stretch|torque-to-yield|micro-?encapsulated) (?:bolt|screw))s?\b",
    re.IGNORECASE,
)
# What is new ends where something is told about it: "the new filter onto its gasket".
_NEW = re.compile(
    r"\bnew\b(?P<what>(?:(?!\b(?:on|onto|to|in|into|against|over|under|at|from|behind|beside|"
    r"until|so|where|when|which|that|before|after)\b)[^.,;:])*)",
    re.IGNORECASE,
)


_MANY = re.compile(r"\b(?:sets?|kits?|pairs?|assortment|\w+s)\b", re.IGNORECASE)
"""What tells of several parts in one line of the list: "gasket set", "sealing rings"."""


def _find_nouns(text: str) -> list[str]:
    return [found[1].lower() for found in _SINGLE_USE.finditer(text)]


def _name_renewals(facts: StepFacts) -> tuple[tuple[int, str, str, bool], ...]:
    """(task, noun, what is said, taken off) of each single-use part a step removes or fits new."""
    found: dict[tuple[str, str], tuple[int, str, str, bool]] = {}
    for index, task in facts.tasks:
        if task.opens:
            for noun in _find_nouns(task.opens):
                found.setdefault((noun, task.opens), (index, noun, task.opens, True))
        for said in _NEW.finditer(task.text):
            for noun in _find_nouns(said["what"]):
                found.setdefault((noun, noun), (index, noun, noun, False))
    return tuple(found.values())


def find_single_use_not_listed(facts: SheetFacts) -> Iterator[Found]:
    """Single-use parts that are taken off, or fitted new, and no new one is in the parts list.

    They are known by their usual names (gasket, seal, sealing ring, split pin ...), and screws by
    a pass that takes them into yield.
    """
    yield from _find_names_not_listed(facts)
    yield from _find_yielding_not_listed(facts)


def _find_names_not_listed(facts: SheetFacts) -> Iterator[Found]:
    opened: dict[str, dict[str, Place]] = {}
    fitted: dict[str, tuple[str, Place]] = {}
    for number, step in facts.walk():
        for index, noun, said, off in step.recall(_name_renewals):
            if off:
                opened.setdefault(noun, {}).setdefault(said, Place(number, index))
            fitted.setdefault(noun, (said, Place(number, index)))
    for noun, (said, place) in fitted.items():
        bought = [part for part in facts.sheet.parts if _is_of(part.name, noun)]
        items = opened.get(noun, {})
        if any(_MANY.search(part.name) for part in bought):
            continue
        count = sum(part.quantity for part in bought)
        if count >= max(1, len(items)):
            continue
        if bought:
            known = frozenset().union(*(plain_words(part.name) for part in bought))
            said = min(items, key=lambda item: len(plain_words(item) & known))
            place = items[said]
        number_listed = f"only {count}" if bought else "no"
        yield Found(
            place,
            f'"{said}" must be new when it goes back, and the parts list has {number_listed} '
            f"{noun}. Add it with its number.",
            Fix(
                "add part",
                f'Add "{said}" to the parts'[:80],
                {"part": {"name": said[0].upper() + said[1:], "single_use": True}},
            ),
        )


def _find_yielding_not_listed(facts: SheetFacts) -> Iterator[Found]:
    for at, task in facts.torques:
        if not any(one.yields for one in task.schedule):
            continue
        pattern = facts.pattern(task.pattern)
        word = pattern.fastener_word if pattern is not None else (task.fastener or "screw")
        last = word.lower().split()[-1].rstrip("s")
        if any(part.single_use and last in part.name.lower() for part in facts.sheet.parts):
            continue
        count = len(pattern.tightened) if pattern is not None else 1
        name = f"{pattern.title if pattern is not None else task.fastener}, new"
        yield Found(
            at.place,
            "These screws are tightened into yield and must be new each time, and the parts list "
            "has no single-use ones. Add them with their number.",
            Fix(
                "add part",
                "Add them to the parts",
                {"part": {"name": name[:200], "quantity": count, "single_use": True}},
            ),
        )


_SAME_USE: tuple[frozenset[str], ...] = (
    frozenset({"ring", "washer", "seal"}),
    frozenset({"gasket", "seal"}),
    frozenset({"bolt", "screw"}),
)
"""Last words of names that one part can go by: a sealing ring is a seal."""
_LOCKING = frozenset({"lock", "locking", "nylon", "nyloc", "prevailing"})


def _is_of(name: str, noun: str) -> bool:
    """True where a part of this name can be what the noun says: a sealing ring is a seal."""
    has, wanted = plain_words(name), plain_words(noun.replace("oring", "o-ring"))
    if wanted <= has:
        return True
    if "nut" in wanted:
        return bool(has & {"nut", "lock"}) and bool(has & _LOCKING)
    last = wanted & frozenset().union(*_SAME_USE)
    return any(last & group and has & group for group in _SAME_USE)


def find_listed_not_marked(facts: SheetFacts) -> Iterator[Found]:
    """Parts of a kind that is used once and that the list does not mark so."""
    for part in facts.sheet.parts:
        if not part.single_use and _find_nouns(part.name):
            yield Found(
                _at_part(part, "single_use"),
                "Such a part is used once, and the list does not say so. Mark it as single-use.",
                Fix(
                    "change part",
                    "Mark it as single-use",
                    {"name": part.name, "changes": {"single_use": True}},
                ),
            )


def find_new_part_never_fitted(facts: SheetFacts) -> Iterator[Found]:
    """Single-use parts of the list that no step speaks of."""
    for part in facts.sheet.parts:
        if not part.single_use:
            continue
        words = naming_words(part.name)
        if words and not any(words <= step.words for step in facts.steps):
            yield Found(
                _at_part(part, "name"),
                "It is bought new, and no step speaks of it. Name it in the task that fits it.",
            )


LIST_RULES: tuple[Rule, ...] = (
    Rule(
        "spec has a source",
        "wants an answer",
        "a figure that nobody can look up cannot be checked; common practice, no source",
        find_spec_without_source,
    ),
    Rule(
        "printed units agree",
        "wants an answer",
        "one of two figures that disagree by more than 2 % or their rounding is a misprint, and "
        "nobody knows which; common practice, no source",
        find_units_apart,
    ),
    Rule(
        "single-use part is bought",
        "wants an answer",
        "copper work-hardens and gaskets take a set, so the old one leaks; "
        "common practice, no source",
        find_single_use_not_listed,
    ),
    Rule(
        "source not known",
        "hint",
        "screen and paper will say aloud that the source is not known; common practice, no source",
        find_spec_of_unknown_source,
    ),
    Rule(
        "spec is used",
        "hint",
        "a figure that no task names is never seen at work; common practice, no source",
        find_unused_spec,
    ),
    Rule(
        "single-use part has a number",
        "hint",
        "a part that must be new has to be bought before work starts; common practice, no source",
        find_single_use_without_number,
    ),
    Rule(
        "single-use part is marked",
        "hint",
        "only a part that is marked is asked for when it goes back; common practice, no source",
        find_listed_not_marked,
    ),
    Rule(
        "new part is fitted",
        "hint",
        "a new part that no step names is found on the bench afterwards; "
        "common practice, no source",
        find_new_part_never_fitted,
    ),
)
