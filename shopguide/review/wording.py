"""Hints on wording, after the idea of ASD-STE100 and in words of our own, as far as a rule sees."""

from __future__ import annotations

import re
from collections.abc import Iterator

from shopguide.errors import UnitTrouble
from shopguide.job.model import Confirm, Leave, Task
from shopguide.review.facts import StepFacts, split_sentences
from shopguide.review.rule import Fix, Found, Place, Rule
from shopguide.torque import units

MOST_WORDS = 20
"""Words in a sentence of an instruction."""
MOST_WORDS_TOLD = 25
"""Words in a sentence that describes."""

# Verbs that begin an instruction on a job sheet; our own list, not that of any standard.
_VERBS_TEXT = """
    add adjust align allow apply ask assemble attach avoid back balance bed bend bleed block blow
    bolt break bring brush build carry catch centre center change charge check chock choose clamp
    clean clear clip close coat collect compare confirm connect count cover crack crank cut deburr
    degrease detach dip discard disconnect dismantle dispose drain draw drift drill drive drop dry
    ease empty engage ensure examine feed file fill find finish fit fix flush fold follow free
    get give glue grease grind guide hammer hang heat hoist
    hold hone hook inform insert inspect install isolate jack keep knock label lap lay lead leave
    let level lever lift listen load lock look loosen lower lubricate make mark measure mix mount
    move note observe oil open order pack
    paint park pass peel photograph pinch place plug point polish position pour press prime prise
    pry pull pump purge push put raise read ream reassemble reconnect record refill refit refuel
    reinstall release remove renew repeat replace report reset return rev ride rinse rock roll
    rotate route rub run sand scrape screw scribe seal seat secure see
    select separate set shake shim show shut siphon slacken slide slip smear smell smooth snap soak
    spin spray spread squeeze stand start stay stop
    store straighten strap strip support swap sweep swing switch syphon take tap tell test thread
    throw tie tighten tilt top torque
    touch trim try tuck turn twist unbolt unclip uncouple undo unhook unlock unplug unscrew untie
    unwind use vent verify wait warm wash watch wear
    wedge weigh wind wipe withdraw work wrap write
"""
_OPENING_TEXT = """
    the a an this that these those it its there you your we our they he she i all every each any
    some many no none nothing one two three four both either now next please always also
"""
_VERBS = frozenset(_VERBS_TEXT.split())
_NOTING = frozenset({"note", "record", "write"})
_OPENING = frozenset(_OPENING_TEXT.split())
_SMALL_WORDS = re.compile(r"[\w'’·/°%.,-]*\w[\w'’·/°%.,-]*")
# A figure and its unit are one word, as the examples of ASD-STE100 rule 5.1 count.
_ONE_WORD = re.compile(
    r"(?P<figure>\d[\d.,/]*)\s+(?:(?:US|imp)\s+)?"
    r"(?:N\s?m|N·m|lbf?[·.* -]?(?:ft|in)|mm|cm|m|inch(?:es)?|in|mL|ml|L|l|lit(?:re|er)s?|qt|pt|gal|"
    r"quarts?|pints?|gallons?|fl oz|kg|g|min(?:utes?)?|h|hours?|s|seconds?|°C?F?|degrees?|bar|psi|"
    r"kPa|km|miles?)(?![\w/])"
)
# "The bolts are removed": what is done, told without who does it.
_PASSIVE = re.compile(
    r"^(?:[\w-]+ ){1,4}?(?:is|are|gets?|must|has to|have to|needs?(?: to)?|can|will|shall)\b", re.I
)


def count_words(sentence: str) -> int:
    """Words in a sentence; a figure with its unit is one."""
    return len(_SMALL_WORDS.findall(_ONE_WORD.sub(r"\g<figure>", sentence)))


_FIRST = re.compile(r"[^\W\d_]+(?:-[^\W\d_]+)?")
_CONDITION = re.compile(
    r"^(?:if|when|where|while|before|after|until|with|without|once|as soon as|unless|in|on|at|from|"
    r"to|for|by|first|never|do not|don't|only|then)\b",
    re.IGNORECASE,
)
_IF = re.compile(r"^(?:if|when|where)\b", re.IGNORECASE)
_NEVER = re.compile(r"^(?:do not|don['’]t|never)\b", re.IGNORECASE)
_JOIN = re.compile(r"(?:,\s*(?:and\s+|then\s+)?|\s+and\s+(?:then\s+)?)(?P<word>[^\W\d_]+)", re.I)
_THEN = re.compile(r"(?:;|\bthen\b|\bafter that\b|\bafterwards\b)", re.IGNORECASE)


def _first_word(text: str) -> str:
    found = _FIRST.search(text)
    return found[0].lower() if found is not None else ""


def find_more_than_one_action(facts: StepFacts) -> Iterator[Found]:
    """Tasks that tell to do several things, one after another.

    Two deeds joined by "and" may be done at once and are let through; so is a sentence that begins
    with a condition, and what a leave task says.
    """
    for index, task in facts.tasks:
        if isinstance(task, Leave):
            continue
        sentences = split_sentences(task.text)
        # What one has seen is written down with the looking: that is one deed.
        verbs = [_first_word(one) for one in sentences]
        orders = [v for n, v in enumerate(verbs) if v in _VERBS and not (n and v in _NOTING)]
        joined = max(
            (
                sum(j["word"].lower() in _VERBS for j in _JOIN.finditer(one))
                for one in sentences
                if not _IF.match(one) and not _NEVER.match(one)
            ),
            default=0,
        )
        if len(orders) > 1 or joined > 1 or (orders and _has_sequence(sentences)):
            yield Found(
                Place(task=index, field="text"),
                "This tells to do several things, and one tick stands for all of them. "
                "Make a task of each.",
                _split(task, index, sentences),
            )


def _split(task: Task, index: int, sentences: list[str]) -> Fix | None:
    """A task of each sentence, where every one is an instruction and nothing hangs on the task."""
    if not isinstance(task, Confirm) or task.spec or len(sentences) < 2:
        return None
    if any(_first_word(one) not in _VERBS or not one.endswith(".") for one in sentences):
        return None
    return Fix(
        "split task", f"Make {len(sentences)} tasks of it", {"task": index, "texts": sentences}
    )


def _has_sequence(sentences: list[str]) -> bool:
    for one in sentences:
        for found in _THEN.finditer(one):
            if _first_word(one[found.end() :]) in _VERBS:
                return True
    return False


def find_no_imperative(facts: StepFacts) -> Iterator[Found]:
    """Tasks that do not begin with what is to be done."""
    for index, task in facts.tasks:
        sentences = split_sentences(task.text)
        first = _first_word(sentences[0]) if sentences else ""
        if not first or first in _VERBS or _CONDITION.match(sentences[0]):
            continue
        gerund = first.endswith("ing") and first not in ("spring", "string", "swing", "ring")
        if first in _OPENING or gerund or _PASSIVE.match(sentences[0]):
            yield Found(
                Place(task=index, field="text"),
                f'It begins with "{first}", not with what is to be done. '
                'Begin with the verb: "Remove ...".',
            )


def find_long_sentences(facts: StepFacts) -> Iterator[Found]:
    """Sentences that are too long to be kept in mind under a vehicle."""
    tasks = facts.tasks
    texts = [(Place(task=index, field="text"), task.text, MOST_WORDS) for index, task in tasks]
    texts += [
        (Place(task=index, field="note"), task.note, MOST_WORDS_TOLD) for index, task in tasks
    ]
    texts.append((Place(field="text"), facts.step.text, MOST_WORDS_TOLD))
    for place, text, most in texts:
        if len(text) < 2 * most:
            continue
        for one in split_sentences(text):
            count = count_words(one)
            if count > most:
                yield Found(
                    place,
                    f'A sentence of {count} words ("{one[:40].rstrip()} ..."); at most {most} are '
                    "read at a glance. Part it.",
                )
                break


_SHOULD = re.compile(r"\b(should(?:n't)?|ought to|might|would)\b", re.IGNORECASE)


def find_should(facts: StepFacts) -> Iterator[Found]:
    """Texts that leave open whether something is to be done."""
    texts = [(Place(field="text"), facts.step.text)]
    for index, task in facts.tasks:
        texts.append((Place(task=index, field="text"), task.text))
        texts.append((Place(task=index, field="note"), task.note))
    for place, text in texts:
        found = _SHOULD.search(text)
        if found is not None:
            yield Found(
                place,
                f'"{found[1]}" leaves open whether it is to be done or so. Say "do", "must", or '
                "what happens.",
            )


_NUMBER = r"\d+(?:[.,]\d+)?"
_BIG = (
    r"N[·.* ]?m|lbf?[·.* -]?(?:ft|in)|(?:ft|in)[·.* -]?lbf?s?|kgf?[·.* -]?c?m|mL|ml|cl|"
    r"lit(?:re|er)s?|L|l|(?:US |imp )?(?:qt|pt|gal)|quarts?|pints?|gallons?|°C|°F|°|degrees?|bar|"
    r"psi|kPa|mm|cm|inch(?:es)?|kg|g|min(?:utes?)?|h|hours?|s|sec(?:onds?)?"
)
_FIGURE = re.compile(rf"(?<![\w.])(?P<figure>{_NUMBER})\s*(?P<unit>{_BIG})(?![\w/])")
# The size of a tool or a thing is its name, not a value to be worked to.
_SIZE_OF = re.compile(
    r"^[ -](?:\w+[ -])?(?:socket|spanner|wrench|bit|key|drive|drill|hose|pipe|screw|bolt|nut|stud|"
    r"hole|pin|washer|ring|bottle|can|pan|jug|syringe|extension|ratchet)s?\b",
    re.IGNORECASE,
)
_BARE = re.compile(
    rf"\b(?:tighten|torque|set|fill|warm|heat|inflate|turn)\b[^.;]*?\b(?:to|by|at|with)\s+"
    rf"(?P<figure>{_NUMBER})(?=\s*(?:[.;,]|$))",
    re.IGNORECASE,
)


def find_figures_in_text(facts: StepFacts) -> Iterator[Found]:
    """Figures with a unit that stand in a task's text and not in a spec."""
    for index, task in facts.tasks:
        for found in _FIGURE.finditer(task.text):
            if _SIZE_OF.match(task.text[found.end() :]):
                continue
            advice = (
                "Take it out here: the spec that the task names shows it."
                if task.spec_names
                else "Make it a spec, and name the spec here."
            )
            yield Found(
                Place(task=index, field="text"),
                f'"{found[0]}" stands in the text, where nobody sees its source and no other unit '
                f"stands beside it. {advice}",
                _propose_spec(facts, index, found[0]),
            )
            break


def _propose_spec(facts: StepFacts, index: int, text: str) -> Fix | None:
    try:
        amount = units.read_any(text)
    except UnitTrouble:
        return None
    spec = {
        "name": f"{facts.step.title}, task {index}"[:80],
        "kind": amount.kind.value,
        "value": amount.text,
    }
    task = facts.step.tasks[index - 1]
    takes = task.kind in ("confirm", "torque", "drain", "fill")
    if not takes or getattr(task, "spec", None) is not None:
        return None
    return Fix("add spec", f"Make {amount.text} a spec", {"spec": spec, "task": index})


def find_figures_without_unit(facts: StepFacts) -> Iterator[Found]:
    """Figures to work to that have no unit."""
    for index, task in facts.tasks:
        found = _BARE.search(task.text)
        if found is not None:
            yield Found(
                Place(task=index, field="text"),
                f'"{found["figure"]}" has no unit. Write it as a spec with its unit, and name the '
                "spec here.",
            )


# Summaries of Issue 9 of January 2025 by others; the standard itself was not at hand.
_STE = "after ASD-STE100 Issue 9, {}, read at second hand"

WORDING_RULES: tuple[Rule, ...] = (
    Rule(
        "one action a task",
        "hint",
        "one tick can stand for one deed only, and the second one is forgotten; "
        f"{_STE.format('rule 5.2')}",
        find_more_than_one_action,
        "step",
    ),
    Rule(
        "deed comes first",
        "hint",
        f"who looks up for a second wants to read what to do; {_STE.format('section 5')}",
        find_no_imperative,
        "step",
    ),
    Rule(
        "sentences are short",
        "hint",
        "20 words in an instruction, 25 in a description are the most; "
        f"{_STE.format('rules 5.1, 5.5 and 6.3')}",
        find_long_sentences,
        "step",
    ),
    Rule(
        "no should",
        "hint",
        "an instruction is followed or not, there is no third; after ASD-STE100, whose dictionary "
        "does not have the word, read at second hand",
        find_should,
        "step",
    ),
    Rule(
        "figure is a spec",
        "hint",
        "a figure in a text has no source and no other units, and is not corrected with the rest; "
        "common practice, no source",
        find_figures_in_text,
        "step",
    ),
    Rule(
        "figure has a unit",
        "hint",
        "9 can be N·m or lbf·ft; common practice, no source",
        find_figures_without_unit,
        "step",
    ),
)
