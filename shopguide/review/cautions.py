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


_VEHICLES = (
    r"vehicle|van|car|truck|lorry|trailer|caravan|tractor|motor(?:cycle|bike)|bike|scooter|moped|"
    r"quad|mower|boat|machine"
)
# A wheel that carries nothing, or that is only named for what sits beside it.
_NO_WHEEL = (
    r"(?<!steering )(?<!steering-)(?<!spare )(?<!gear )(?<!hand )(?<!worm )(?<!chain )(?<!idler )"
    r"(?<!timing )(?<!pump )(?<!balance )(?<!toothed )(?<!turbine )"
)

SYSTEMS: tuple[System, ...] = (
    System(
        "brakes",
        _words(
            r"brakes?(?![- ](?:band|(?:parts )?cleaner|light|lamp))|hand-?brakes?"
            r"|cal+ipers? (?:bolt|bracket|carrier|pin|slide)s?|(?:master|slave|wheel) cylinders?"
        ),
        None,
        _words(r"brak\w+|hand-?brakes?"),
        (
            "Brakes that were taken apart.",
            "They can fail, and people can be killed.",
            f"{_DEFER} Try the brakes at walking pace before you drive.",
        ),
    ),
    System(
        "steering",
        _words(
            r"steering|tie[- ]rods?|track[- ]rods?|drag links?|ball joints?|idler arms?|"
            r"pitman arms?|handlebars?"
        ),
        None,
        _words(r"steer\w*|handlebars?"),
        (
            "Steering that was taken apart.",
            "It can come undone at speed, and people can be killed.",
            f"{_DEFER} Check every fastener of the steering before you drive.",
        ),
    ),
    System(
        "wheels",
        _words(
            rf"{_NO_WHEEL}wheels?"
            r"(?![- ](?:arch|well|house|housing|liner|chock|trim|cover|cap|speed|sensor|cylinder|"
            r"puller|brace))"
            r"|lug[- ](?:nut|bolt|stud)s?|t[yi]res?"
        ),
        None,
        _words(rf"{_NO_WHEEL}wheels?|t[yi]res?"),
        (
            "A wheel that is not held by all its fasteners.",
            "It can come off at speed, and people can be killed.",
            f"{_DEFER} Tighten all fasteners to torque, and look at them again after the first "
            "drive.",
        ),
    ),
    System(
        "fuel",
        _words(
            r"fuel|petrol(?! engine)|gasoline(?! engine)|diesel(?! engine)|injectors?|"
            r"carburett?[oe]rs?|carbs?|gas (?:tank|line|cap|can|pump|hose)s?"
        ),
        None,
        _words(r"fuel|petrol|gasoline|diesel|(?<!can )(?<!may )fire|flam\w+|vapou?rs?"),
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
            r"jack(?:ing)? up|(?:axle|jack|safety) stands?|wheel ramps?|(?:two|2|four|4)-post lift"
            r"|(?:engine|workshop) (?:hoist|crane)"
            r"|(?:raise|lift|hoist|jack|winch) (?:up )?(?:(?:the|one|each|either|its) )?"
            rf"(?:(?:whole|front|rear) )?(?:{_VEHICLES}|end|axle|front|rear)"
            r"(?: at| of| end| up| on| off|[,.;]|$)"
            r"|(?:hoist|winch) (?:the )?(?:engine|gearbox|transmission)"
        ),
        _words(r"jack\w*|stands?|lift\w*|crush\w*|hoist\w*|ramps?|cranes?"),
        (
            "A machine that is held up.",
            "It can come down and crush you.",
            "Use a jack and stands that are rated for it, on firm, level ground. "
            "Stay out from under it until it rests on the stands.",
        ),
    ),
    System(
        "airbags",
        _words(r"steering[- ]wheel"),
        _words(
            r"air[- ]?bags?|srs|(?:seat|safety)[- ]?belt (?:pre-?)?tensioners?|"
            r"belt pre-?tensioners?"
        ),
        _words(r"air[- ]?bags?|srs|(?:seat|safety)[- ]?belt tensioners?|pre-?tensioners?"),
        (
            "An airbag or seat-belt tensioner that fires.",
            "It can injure you badly.",
            f"{_DEFER} Switch the system off and wait as it says before you touch a part of it.",
        ),
    ),
    System(
        "high voltage",
        None,
        _words(
            r"high[- ]voltage|hv|traction batter(?:y|ies)|inverters?|orange (?:cable|lead|wire)s?|"
            r"(?:hybrid|drive) batter(?:y|ies)"
        ),
        _words(r"high[- ]voltage|hv|voltage|electri\w+|electrocut\w+|shock"),
        (
            "High voltage.",
            "It can kill you.",
            "Leave this work to somebody trained for it, or have the system made dead and "
            f"proved dead first. {_DEFER}",
        ),
    ),
)
_WORKING = re.compile(
    r"(?:^\W*|,\s+(?:and\s+|then\s+)?|\bthen\s+)"
    r"(?:remove|disconnect|undo|unbolt|unscrew|unplug|unclip|uncouple|detach|loosen|slacken|crack|"
    r"open|drain|empty|siphon|syphon|bleed|flush|replace|renew|rebuild|refit|fit|install|mount|"
    r"reconnect|connect|tighten|torque|dismantle|disassemble|strip|separate|withdraw|"
    r"(?:take|pull|lift|draw|slide|pry|prise|lever)\b[^.,;]*\b(?:off|out|apart)|"
    r"(?:put|set|push|slide|hang|press)\b[^.,;]*\b(?:on|onto|back|in)|"
    r"cut|bend|adjust|fill|top up|swap|exchange|change)\b",
    re.IGNORECASE,
)
_NEVER = re.compile(r"^\W*(?:do not|don['’]t|never|avoid)\b", re.IGNORECASE)
# What only tells where something is, is not worked on: "the screw behind the wheel".
_BESIDE = re.compile(
    r"\b(?:behind|beside|next to|near|close to|under|underneath|beneath|below|above|in front of|"
    r"away from|clear of|towards?|without|so that)\b[^.,;]*",
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
        told = [one for one in sentences if not _NEVER.match(one)]
        names += [_BESIDE.sub(" ", one) for one in told if _WORKING.search(one)]
        worked_on, said = " ; ".join(names), "; ".join([task.text, *names])
        for system in SYSTEMS:
            if system.name in found:
                continue
            # "Do not jack it up at the sump" is no lifting; orange cables are live all the same.
            where = "; ".join([*told, *names]) if system.name == "lifting" else said
            if (system.parts is not None and system.parts.search(worked_on)) or (
                system.anywhere is not None and system.anywhere.search(where)
            ):
                found[system.name] = index
    return tuple(found.items())


class _Warned(NamedTuple):
    """The systems of which cautions speak: as gravely as they must, and too weakly."""

    gravely: frozenset[str]
    weakly: frozenset[str]


def _find_warned(cautions: Iterable[Caution]) -> _Warned:
    """The systems about which one of these cautions warns; a CAUTION or NOTICE is too little."""
    gravely: set[str] = set()
    weakly: set[str] = set()
    for caution in cautions:
        told = gravely if caution.signal in ("DANGER", "WARNING") else weakly
        said = f"{caution.hazard} {caution.consequence} {caution.avoid}"
        told |= {system.name for system in SYSTEMS if system.told_by.search(said)}
    return _Warned(frozenset(gravely), frozenset(weakly))


def _find_warned_at(facts: StepFacts) -> _Warned:
    return _find_warned(facts.step.cautions)


class _Unwarned(NamedTuple):
    """A system without its caution: first work on it, step of one that comes too late or 0,
    and whether one speaks of it too weakly."""

    system: System
    place: Place
    late: int
    weak: bool


def _judge_systems(facts: SheetFacts) -> tuple[_Unwarned, ...]:
    """The systems that are worked on before a caution warns of them."""
    front = facts.once(facts.sheet.cautions, _find_warned)
    warned, weak = set(front.gravely), set(front.weakly)
    waiting: dict[str, Place] = {}
    late: dict[str, int] = {}
    for number, step in facts.walk():
        here = step.recall(_find_warned_at)
        for name in here.gravely:
            if name in waiting:
                late.setdefault(name, number)
        warned |= here.gravely
        weak |= here.weakly
        for name, index in step.recall(_find_systems):
            if name not in warned and name not in waiting:
                waiting[name] = Place(number, index)
    return tuple(
        _Unwarned(system, waiting[system.name], late.get(system.name, 0), system.name in weak)
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
    for system, place, late, weak in facts.here(_judge_systems):
        if not late:
            lack = (
                "what the sheet says of it is no WARNING, and here people can be killed"
                if weak
                else "no DANGER or WARNING of the sheet speaks of it"
            )
            yield Found(
                place,
                f"This concerns {system.name}, and {lack}. Add one to this step or to the whole "
                "job.",
                _propose(system, place.step),
            )


def find_caution_too_late(facts: SheetFacts) -> Iterator[Found]:
    """Cautions about a system that stand only after the first work on it."""
    for system, place, late, _ in facts.here(_judge_systems):
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


def _find_gap(caution: Caution) -> str:
    """The key of the first part that a caution does not say."""
    texts = {
        "hazard": caution.hazard,
        "consequence": caution.consequence,
        "avoid": caution.avoid,
    }
    return next((key for key, text in texts.items() if not text), "")


def find_caution_with_gaps(facts: StepFacts) -> Iterator[Found]:
    """Cautions of a step that lack the hazard, the consequence or how to avoid it."""
    for index, caution in enumerate(facts.step.cautions, 1):
        if said := _tell_gaps(caution):
            place = Place(
                listed="cautions",
                name=str(index),
                detail=f"caution {index}",
                field=_find_gap(caution),
            )
            yield Found(place, said)


def find_front_caution_with_gaps(facts: SheetFacts) -> Iterator[Found]:
    """Cautions of the whole job that lack the hazard, the consequence or how to avoid it."""
    for index, caution in enumerate(facts.sheet.cautions, 1):
        if said := _tell_gaps(caution):
            detail = f"caution {index} of the whole job"
            place = Place(
                listed="cautions", name=str(index), detail=detail, field=_find_gap(caution)
            )
            yield Found(place, said)


_SIGNAL = re.compile(
    r"(?:^|[.!?]\s+|\n)\s*(?P<word>danger|warning|caution|notice|attention)\s*[:!–-]"
    r"|\b(?:be careful|take care|beware)\b",
    re.IGNORECASE,
)


def find_caution_in_text(facts: StepFacts) -> Iterator[Found]:
    """Cautions written into a text, where they are read with the instruction or after it."""
    if found := _SIGNAL.search(facts.step.text):
        yield _tell_misplaced(Place(field="text"), "text", facts.step.text, found, required=False)
    for index, task in facts.tasks:
        for key, text in (("text", task.text), ("note", task.note)):
            if found := _SIGNAL.search(text):
                place = Place(task=index, field=key)
                yield _tell_misplaced(place, key, text, found, required=key == "text")


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
        "a mistake at brakes, steering, wheels, fuel, a lift, airbags or high voltage kills "
        "(common practice, no source), and the words for that are DANGER and WARNING; "
        "ANSI Z535.4-2007, 4.14, read at second hand",
        find_system_without_caution,
    ),
)
