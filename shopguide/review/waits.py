"""Rules about time: what must cure is waited for, and what settles is looked at again."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shopguide.job.model import Close, Torque, Wait
from shopguide.review.facts import SheetFacts, StepFacts, loosens, split_sentences
from shopguide.review.rule import Fix, Found, Place, Rule
from shopguide.review.tightening import is_locked
from shopguide.torque.units import Kind

_APPLY = re.compile(
    r"\b(?:apply|spread|lay|run|put|coat|squeeze|draw|smear|dab|brush|use)\b", re.IGNORECASE
)
_SEALANT = re.compile(
    r"\b(?:sealants?|sealers?|rtv|silicone|liquid gasket|gasket (?:maker|compound|paste)|"
    r"(?:sealing|jointing) (?:compound|paste))\b"
    r"(?![- ](?:grease|spray|oil|hose|tube|pipe|lubricant|remover|residue|gun|scraper|rubber|"
    r"wipes?|brush)\b)",
    re.IGNORECASE,
)
_THREADLOCK = re.compile(
    r"\b(?:thread[- ]?lock(?:er|ing)?|thread cement|(?:thread )?locking (?:compound|fluid))\b"
    r"(?! (?:remover|residue))",
    re.IGNORECASE,
)
_NAMED = {"sealant": _SEALANT, "threadlock": _THREADLOCK}
_CURING = re.compile(r"\b(?:cur(?:e[sd]?|ing)|harden\w*|set(?:s|ting)?)\b", re.IGNORECASE)
_NOT = re.compile(
    r"^\W*(?:do not|don['’]t|never)\b"
    r"|\b(?:no|without|old|dried|remains of|rests? of|instead of|any)\b(?: [\w-]+){0,2} "
    r"(?:sealant|sealer|rtv|silicone|liquid gasket|gasket (?:maker|compound|paste)|sealing|"
    r"jointing|thread|locking)",
    re.IGNORECASE,
)
_HEAT = re.compile(
    r"\b(?:exhaust(?! (?:valve|camshaft|cam))|cylinder[- ]head(?![- ]cover)|head[- ](?:bolt|nut)s?|"
    r"headers?|down-?pipe|turbo(?:charger)?)\b",
    re.IGNORECASE,
)
_CYCLE = re.compile(
    r"\b(?:heat cycles?|warm[- ]up cycle|warms? up and cools? down|hot and cold again)\b"
    r"|\boperating temperature\b.*\bcool\w*\b",
    re.IGNORECASE | re.DOTALL,
)
_NO_WHEEL = r"(?<!steering )(?<!steering-)(?<!gear )(?<!hand )(?<!idler )(?<!pump )(?<!spare )"
_WHEEL = re.compile(
    rf"\b(?:{_NO_WHEEL}wheels?(?:[- ](?:nut|bolt|stud|fastener|screw)s?\b"
    r"|(?![- ]\w)|(?= (?:of|on|at|front|rear|left|right)\b))"
    r"|lug[- ]?(?:nut|bolt|stud)s?\b|lugs\b)",
    re.IGNORECASE,
)
_WHEEL_AGAIN = re.compile(r"\b(?:wheels?|lugs?|axles?)\b", re.IGNORECASE)
_FASTENER = re.compile(r"\b(?:nut|bolt|stud|lug|fastener|screw|axle|quick release)s?\b", re.I)
_AGAIN = re.compile(
    r"\b(?:re-?torque\w*|torque|re-?tighten\w*|tighten\w*|re-?check|check|look|again|bring)\b",
    re.IGNORECASE,
)
_CURES = re.compile(
    r"\b(?:cur(?:e[sd]?|ing)|set(?:s|ting)?|dr(?:y|ies|ying)|harden\w*|vulcani[sz]\w*|bond\w*|"
    r"sealants?|sealers?|silicone|rtv|thread[- ]?lock\w*)\b",
    re.IGNORECASE,
)
_OTHER_WAIT = re.compile(
    r"\b(?:cool\w*|cold|drain\w*|drip\w*|run|runs|idle\w*|warm\w*|soak\w*|penetrat\w*|"
    r"charg\w*|capacitors?|settle\w*)\b",
    re.IGNORECASE,
)


def _applies(text: str, what: re.Pattern[str]) -> bool:
    """True where a sentence of a text tells to apply this."""
    if not what.search(text):
        return False
    return any(
        what.search(one) and _APPLY.search(one) and not _NOT.search(one)
        for one in split_sentences(text)
    )


def _find_curing(facts: StepFacts) -> tuple[tuple[str, int], ...]:
    """(sealant or threadlock, task) of the last of each that a step applies."""
    found: dict[str, int] = {}
    for index, task in facts.tasks:
        text = f"{task.text}\n{task.note}"
        if _applies(text, _SEALANT):
            found["sealant"] = index
        if _applies(text, _THREADLOCK):
            found["threadlock"] = index
        if isinstance(task, Torque) and not loosens(task) and is_locked(facts, task):
            found["threadlock"] = index
    return tuple(found.items())


def _find_waits(facts: StepFacts) -> tuple[int, ...]:
    """The tasks of a step that wait for something that can be a curing."""
    found = []
    for index, task in facts.tasks:
        if isinstance(task, Wait):
            spec = facts.spec(task.spec)
            said = f"{task.text} {task.note} {task.spec} {spec.note if spec is not None else ''}"
            if _CURES.search(said) or not _OTHER_WAIT.search(said):
                found.append(index)
        elif isinstance(task, Torque) and any(one.after for one in task.schedule):
            found.append(index)
    return tuple(found)


def _find_last_wait(facts: SheetFacts) -> tuple[int, int]:
    """Where the last wait of a sheet stands, be it a task or before a pass; (0, 0): nowhere."""
    for number in range(len(facts.steps), 0, -1):
        step = facts.steps[number - 1]
        if "wait" not in step.kinds and not step.torques:
            continue
        if found := step.recall(_find_waits):
            return number, found[-1]
    return 0, 0


def find_curing_not_waited_for(facts: SheetFacts) -> Iterator[Found]:
    """Sealant or threadlock that is applied with no wait, nor a follow-up, after it."""
    last: dict[str, Place] = {}
    for number, step in facts.walk():
        for what, index in step.recall(_find_curing):
            # A wait between two screws with threadlock is none for the second.
            last[what] = Place(number, index)
    if not last:
        return
    last_wait = _find_last_wait(facts)
    for what, place in last.items():
        # A wait in the very task is one before a later pass of it.
        if last_wait >= (place.step, place.task):
            continue
        named = _NAMED[what]
        if any(named.search(one.text) for one in facts.sheet.follow_ups):
            continue
        yield Found(
            place,
            f"The {what} here must cure, and no later task waits for it. "
            "Add a wait of the time on its label.",
            Fix(
                "add wait",
                f"Add a wait for the {what}",
                {
                    "text": f"Let the {what} cure.",
                    "after": f"{place.step}.{place.task}",
                    "spec": _find_curing_time(facts, what)
                    or {
                        "name": f"curing time of the {what}",
                        "kind": "time",
                        "note": "Look on its label.",
                    },
                },
            ),
        )


def _find_curing_time(facts: SheetFacts, what: str) -> str:
    """The name of a time of the sheet in which this cures; "" where there is none.

    One that names it goes ahead of one that only speaks of curing; a time that speaks of the
    other of the two is none for it, nor is one with another end ("skin time", "cooling").
    """
    only_cures = ""
    for spec in facts.sheet.specs:
        if spec.kind is not Kind.TIME:
            continue
        for text in (spec.name, f"{spec.name} {spec.note}"):
            if not _CURING.search(text) or _OTHER_WAIT.search(spec.name):
                continue
            if _NAMED[what].search(text):
                return spec.name
            if not any(one.search(text) for one in _NAMED.values()):
                only_cures = only_cures or spec.name
    return only_cures


def _find_settling(facts: StepFacts) -> tuple[tuple[str, int, str], ...]:
    """(wheel, heat or heat cycle; task; the fasteners) of each in a step that settles."""
    found: dict[str, tuple[str, int, str]] = {}
    for index, task in facts.tasks:
        if _CYCLE.search(f"{task.text}\n{task.note}"):
            found.setdefault("heat cycle", ("heat cycle", index, "fasteners"))
        if isinstance(task, Close) and _is_wheel_fastened(task):
            found.setdefault("wheel", ("wheel", index, task.item))
        if not isinstance(task, Torque) or loosens(task):
            continue
        names = f"{task.fastener or task.pattern}"
        pattern = facts.pattern(task.pattern)
        if pattern is not None:
            names += f" ; {pattern.title}"
        called = (task.fastener or (pattern.title if pattern is not None else names)).strip()
        if _WHEEL.search(names):
            found.setdefault("wheel", ("wheel", index, called))
        elif (
            _HEAT.search(names)
            and not any(one.kind in ("angle", "check") for one in task.schedule)
            and not is_locked(facts, task)
        ):
            found.setdefault("heat", ("heat", index, called))
    return tuple(found.values())


def _is_wheel_fastened(task: Close) -> bool:
    """True where this closes the fasteners of a wheel, and does not only hang it on its hub."""
    if not _WHEEL.search(task.item):
        return False
    return task.how == "tighten" or _FASTENER.search(task.item) is not None


def _list_settling(facts: SheetFacts) -> dict[str, tuple[Place, str]]:
    """Each kind of settling joint that no follow-up looks at again: where, and its fasteners."""
    first: dict[str, tuple[Place, str]] = {}
    for number, step in facts.walk():
        for what, index, called in step.recall(_find_settling):
            first.setdefault(what, (Place(number, index), called))
    again = [one.text for one in facts.sheet.follow_ups if _AGAIN.search(one.text)]
    for what in tuple(first):
        known = _WHEEL_AGAIN if what == "wheel" else re.compile(r"torque|tighten", re.IGNORECASE)
        if any(known.search(text) for text in again):
            del first[what]
    return first


def _add_follow_up(text: str, after: str) -> Fix:
    return Fix("add follow-up", "Add the re-check", {"follow_up": {"text": text, "after": after}})


def find_wheel_not_rechecked(facts: SheetFacts) -> Iterator[Found]:
    """Wheels that are fastened and that no follow-up checks again."""
    held = facts.here(_list_settling).get("wheel")
    if held is not None:
        place, called = held
        yield Found(
            place,
            f"A wheel is fastened here ({called}), and no follow-up looks at it again after the "
            "first drive. Add one, as far as the maker's manual asks for it.",
            _add_follow_up(
                "Bring the wheel fasteners up to torque again. Do not slacken them first.",
                "50 km to 100 km, or as the maker's manual says",
            ),
        )


def find_heat_cycle_not_rechecked(facts: SheetFacts) -> Iterator[Found]:
    """Heat cycles that a task speaks of, without a follow-up after them."""
    held = facts.here(_list_settling).get("heat cycle")
    if held is not None:
        yield Found(
            held[0],
            "A heat cycle is spoken of here, and no follow-up tightens anything after it. "
            "Add one, or say in a later task what is done.",
            _add_follow_up(
                "Check the torque of the fasteners with the engine cold.", "the first heat cycle"
            ),
        )


def find_hot_joint_not_rechecked(facts: SheetFacts) -> Iterator[Found]:
    """Joints that get very hot, tightened by torque alone, without a follow-up."""
    held = facts.here(_list_settling).get("heat")
    if held is not None:
        place, called = held
        yield Found(
            place,
            f"This joint ({called}) gets hot and settles. Look whether the manual asks for "
            "tightening it again after the first heat cycle, and add a follow-up where it does.",
            _add_follow_up(
                f"Check the torque again, cold: {called}."[:200], "the first heat cycle"
            ),
        )


WAIT_RULES: tuple[Rule, ...] = (
    Rule(
        "curing is waited for",
        "wants an answer",
        "a sealant sheet asks for 1 h before torque and 4 h before fluids, a threadlock cures in "
        "about 24 h; product sheets, read at second hand, and they differ: the label counts",
        find_curing_not_waited_for,
    ),
    Rule(
        "wheel is checked again",
        "wants an answer",
        "wheel fasteners settle: BS AU 50 Part 2 section 7a asks for a look after 40 to 80 km, "
        "read at second hand; some makers ask for none",
        find_wheel_not_rechecked,
    ),
    Rule(
        "heat cycle is followed up",
        "wants an answer",
        "many makers ask for a last round after full operating temperature, read at second hand",
        find_heat_cycle_not_rechecked,
    ),
    Rule(
        "hot joint is checked again",
        "hint",
        "many makers ask for a last round after full operating temperature, read at second hand; "
        "joints tightened by angle are left alone",
        find_hot_joint_not_rechecked,
    ),
)
