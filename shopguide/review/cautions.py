"""Rules about cautions: whole, before what they concern, and there where people get hurt."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from shopguide.job.model import Caution, Drain, Fill, Leave, Torque
from shopguide.review.facts import SheetFacts, StepFacts, split_sentences
from shopguide.review.rule import HERE, Fix, Found, Place, Rule

_DEFER = "Follow the maker's manual of this machine."


class System(NamedTuple):
    """A system on which a mistake hurts people.

    parts: names of what belongs to it. anywhere: what tells of it in any task, whatever the verb.
    told_by: what a caution about it speaks of. proposal: hazard, consequence and how to avoid it.
    """

    name: str
    parts: re.Pattern[str] | None
    anywhere: re.Pattern[str] | None
    told_by: re.Pattern[str]
    proposal: tuple[str, str, str]


def _words(text: str) -> re.Pattern[str]:
    return re.compile(rf"\b(?:{text})\b", re.IGNORECASE)


SYSTEMS: tuple[System, ...] = (
    System(
        "brakes",
        _words(r"brakes?(?![- ]band)|calipers? (?:bolt|bracket|carrier|pin)s?|master cylinder"),
        None,
        _words(r"brak\w+"),
        (
            "Brakes that were taken apart.",
            "They can fail, and people can be killed.",
            f"{_DEFER} Try the brakes at walking pace before you drive.",
        ),
    ),
    System(
        "steering",
        _words(r"steering|tie[- ]rods?|track[- ]rods?|drag link|ball joints?|idler arm"),
        None,
        _words(r"steer\w*"),
        (
            "Steering that was taken apart.",
            "It can come undone at speed, and people can be killed.",
            f"{_DEFER} Check every fastener of the steering before you drive.",
        ),
    ),
    System(
        "wheels",
        _words(
            r"(?<!steering )wheels?(?![- ](?:arch|well|house|liner|chock))"
            r"|lug[- ](?:nut|bolt|stud)s?"
        ),
        None,
        _words(r"wheels?"),
        (
            "A wheel that is not held by all its fasteners.",
            "It can come off at speed, and people can be killed.",
            f"{_DEFER} Tighten all fasteners to torque, and look at them again after the first "
            "drive.",
        ),
    ),
    System(
        "fuel",
        _words(r"fuel|petrol|gasoline|diesel|injectors?|carburett?or"),
        None,
        _words(r"fuel|petrol|gasoline|diesel|fire|flames?|vapou?r"),
        (
            "Fuel and its vapour.",
            "They can catch fire and burn you badly.",
            f"{_DEFER} Work in moving air, far from flames, sparks and heaters.",
        ),
    ),
    System(
        "lifting",
        None,
        _words(
            r"jack(?:ing)? up|axle stands?|wheel ramps?|two-post lift"
            r"|(?:raise|lift|hoist|jack) (?:up )?(?:(?:the|one|each|either) )?"
            r"(?:(?:whole|front|rear) )?"
            r"(?:vehicle|van|car|truck|lorry|trailer|tractor|motorcycle|bike|machine|end|axle|"
            r"front|rear)(?: at| of| end| up|[,.;]|$)"
        ),
        _words(r"jack\w*|stands?|lift\w*|crush\w*|hoist\w*|ramps?"),
        (
            "A machine that is held up.",
            "It can come down and crush you.",
            "Use a jack and stands that are rated for it, on firm, level ground. "
            "Stay out from under it until it rests on the stands.",
        ),
    ),
    System(
        "airbags",
        None,
        _words(r"air ?bags?|air-bags?|srs|belt (?:pre-?)?tensioners?|steering wheel"),
        _words(r"air ?bags?|air-bags?|srs|tensioners?"),
        (
            "An airbag or belt tensioner that fires.",
            "It can injure you badly.",
            f"{_DEFER} Switch the system off and wait as it says before you touch a part of it.",
        ),
    ),
    System(
        "high voltage",
        None,
        _words(
            r"high[- ]voltage|hv|traction batter(?:y|ies)|inverter|orange cables?|"
            r"(?:hybrid|drive) batter(?:y|ies)"
        ),
        _words(r"high[- ]voltage|hv|voltage|electr\w+|shock"),
        (
            "High voltage.",
            "It can kill you.",
            "Leave this work to somebody trained for it, or have the system made dead and "
            f"proved dead first. {_DEFER}",
        ),
    ),
)
_WORKING = re.compile(
    r"^(?:\W*)(?:remove|disconnect|undo|unbolt|unscrew|loosen|slacken|open|drain|bleed|replace|"
    r"renew|refit|fit|install|reconnect|connect|tighten|torque|take (?:off|out)|pull (?:off|out)|"
    r"cut|bend|adjust|fill|top up|swap|exchange|change)\b",
    re.IGNORECASE,
)


def _find_systems(facts: StepFacts) -> tuple[tuple[str, int], ...]:
    """(system, task) of the first work on each of the systems in a step.

    By the names of items, fasteners, patterns and fluids, and by sentences that tell to undo,
    change or fasten something.
    """
    found: dict[str, int] = {}
    for index, task in facts.tasks:
        names = [task.opens or "", task.closes or ""]
        if isinstance(task, Torque):
            names.append(task.fastener or task.pattern or "")
            pattern = facts.pattern(task.pattern)
            if pattern is not None:
                names.append(pattern.title)
        elif isinstance(task, (Drain, Fill)):
            names.append(task.fluid)
        sentences = [] if isinstance(task, Leave) else split_sentences(task.text)
        names += [sentence for sentence in sentences if _WORKING.match(sentence)]
        worked_on, said = " ; ".join(names), "; ".join([task.text, *names])
        for system in SYSTEMS:
            if system.name in found:
                continue
            if (system.parts is not None and system.parts.search(worked_on)) or (
                system.anywhere is not None and system.anywhere.search(said)
            ):
                found[system.name] = index
    return tuple(found.items())


def _find_warned(cautions: Iterable[Caution]) -> frozenset[str]:
    """The systems about which one of these cautions warns; a CAUTION or NOTICE is too little."""
    return frozenset(
        system.name
        for caution in cautions
        if caution.signal in ("DANGER", "WARNING")
        for system in SYSTEMS
        if system.told_by.search(f"{caution.hazard} {caution.consequence} {caution.avoid}")
    )


def _find_warned_at(facts: StepFacts) -> frozenset[str]:
    return _find_warned(facts.step.cautions)


def _judge_systems(facts: SheetFacts) -> tuple[tuple[System, Place, int], ...]:
    """(system, first work on it, step of a caution that comes too late or 0), where not warned."""
    warned = set(facts.once(facts.sheet.cautions, _find_warned))
    waiting: dict[str, Place] = {}
    late: dict[str, int] = {}
    for number, step in facts.walk():
        here = step.recall(_find_warned_at)
        for name in here:
            if name in waiting:
                late.setdefault(name, number)
        warned |= here
        for name, index in step.recall(_find_systems):
            if name not in warned and name not in waiting:
                waiting[name] = Place(number, index)
    return tuple(
        (system, waiting[system.name], late.get(system.name, 0))
        for system in SYSTEMS
        if system.name in waiting
    )


def _propose(system: System, step: int) -> Fix:
    hazard, consequence, avoid = system.proposal
    return Fix(
        "add caution",
        f"Add a WARNING about {system.name} to step {step}",
        {
            "step": step,
            "caution": {
                "signal": "WARNING",
                "hazard": hazard,
                "consequence": consequence,
                "avoid": avoid,
                "acknowledge": True,
            },
        },
    )


def find_system_without_caution(facts: SheetFacts) -> Iterator[Found]:
    """Work on brakes, steering, wheels and so on without any caution about it."""
    for system, place, late in facts.here(_judge_systems):
        if not late:
            yield Found(
                place,
                f"This concerns {system.name}, and no DANGER or WARNING of the sheet speaks of "
                "it. Add one to this step or to the whole job.",
                _propose(system, place.step),
            )


def find_caution_too_late(facts: SheetFacts) -> Iterator[Found]:
    """Cautions about a system that stand only after the first work on it."""
    for system, place, late in facts.here(_judge_systems):
        if late:
            yield Found(
                place,
                f"This concerns {system.name}, and the caution about it comes only in step "
                f"{late}. Put it before this step, or among those of the whole job.",
                _propose(system, place.step),
            )


# --- its three parts, and where it stands -----------------------------------------------------


def _tell_gaps(caution: Caution) -> str:
    """What a caution about people does not say; "" where it is whole."""
    if caution.signal == "NOTICE":
        return ""
    gaps = [
        word
        for word, text in (
            ("what the hazard is", caution.hazard),
            ("what it can do", caution.consequence),
            ("how to avoid it", caution.avoid),
        )
        if not text
    ]
    return f"This {caution.signal} does not say {' and '.join(gaps)}. Write it." if gaps else ""


def find_caution_with_gaps(facts: StepFacts) -> Iterator[Found]:
    """Cautions of a step that lack the hazard, the consequence or how to avoid it."""
    for index, caution in enumerate(facts.step.cautions, 1):
        if said := _tell_gaps(caution):
            place = Place(listed="cautions", name=str(index), detail=f"caution {index}")
            yield Found(place, said)


def find_front_caution_with_gaps(facts: SheetFacts) -> Iterator[Found]:
    """Cautions of the whole job that lack the hazard, the consequence or how to avoid it."""
    for index, caution in enumerate(facts.sheet.cautions, 1):
        if said := _tell_gaps(caution):
            detail = f"caution {index} of the whole job"
            yield Found(Place(listed="cautions", name=str(index), detail=detail), said)


_SIGNAL = re.compile(
    r"(?:^|[.!?]\s+|\n)\s*(?P<word>danger|warning|caution|notice|attention)\s*[:!–-]"
    r"|\b(?:be careful|take care|beware)\b",
    re.IGNORECASE,
)


def find_caution_in_text(facts: StepFacts) -> Iterator[Found]:
    """Cautions written into a text, where they are read with the instruction or after it."""
    if found := _SIGNAL.search(facts.step.text):
        yield _tell_misplaced(Place(), "text", facts.step.text, found, required=False)
    for index, task in facts.tasks:
        for key, text in (("text", task.text), ("note", task.note)):
            if found := _SIGNAL.search(text):
                yield _tell_misplaced(Place(task=index), key, text, found, required=key == "text")


def _tell_misplaced(
    place: Place, key: str, text: str, found: re.Match[str], *, required: bool
) -> Found:
    """A caution in a text, and how it moves out: with everything that is said behind it."""
    start = found.end() if found["word"] else found.start()
    said, before = text[start:].strip(" .!?\n"), text[: found.start() + 1].strip()
    if not found["word"] or found.start() == 0:
        before = text[: found.start()].strip()
    word = (found["word"] or "caution").upper()
    caution = {
        "signal": word if word in ("DANGER", "WARNING", "NOTICE") else "CAUTION",
        "hazard": f"{said[:1].upper()}{said[1:]}.",
        "consequence": "",
        "avoid": "",
    }
    arguments: dict[str, object] = {"step": HERE, "caution": caution}
    if place.task:
        arguments |= {"task": place.task, "changes": {key: before}}
    else:
        arguments["step_text"] = before
    return Found(
        place,
        f'A caution stands in the {key} ("{said[:60]}"), where it is read with or after '
        "the instruction. Make it a caution of the step: those stand above.",
        None
        if required and not before
        else Fix("add caution", "Make it a caution of the step", arguments),
    )


_BEFORE = "a warning is read before the deed it is about; ANSI Z535.6 and EN 82079-1, from memory"

CAUTION_RULES: tuple[Rule, ...] = (
    Rule(
        "caution is whole",
        "wants an answer",
        "a safety message tells the hazard, its consequence and how to avoid it; "
        "ANSI Z535.6, from memory",
        find_caution_with_gaps,
        "step",
    ),
    Rule(
        "caution of the job is whole",
        "wants an answer",
        "a safety message tells the hazard, its consequence and how to avoid it; "
        "ANSI Z535.6, from memory",
        find_front_caution_with_gaps,
    ),
    Rule("caution stands above", "wants an answer", _BEFORE, find_caution_in_text, "step"),
    Rule("caution comes first", "wants an answer", _BEFORE, find_caution_too_late),
    Rule(
        "dangerous system has its caution",
        "wants an answer",
        "a mistake at brakes, steering, wheels, fuel, a lift, airbags or high voltage kills; "
        "common practice, no source",
        find_system_without_caution,
    ),
)
