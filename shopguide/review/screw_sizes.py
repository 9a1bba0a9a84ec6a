"""Rules about the sizes of screws: a thread or a length that nobody can read."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import lru_cache

from shopguide.bolts.pattern import Pattern
from shopguide.errors import UnitTrouble
from shopguide.review.facts import SheetFacts
from shopguide.review.rule import Found, Place, Rule
from shopguide.torque import units
from shopguide.torque.threads import read_thread

_FIGURE = r"\d+(?:[.,]\d+)?"
_INCHES = r"(?:\d+[ -])?\d+/\d+|\d+(?:[.,]\d+)?"
# The forms in which threads of other systems are written, from memory; not which sizes there are.
_OTHER_THREADS = tuple(
    re.compile(form, re.IGNORECASE)
    for form in (
        # Inch: 1 1/4-12, #4-40 UNC, 9/16 x 20, 1/4 BSW, 1/8 NPT, 2 BA, 1/4 in
        rf"(?:#|no\.? ?|nr\.? ?)?(?:{_INCHES}) ?(?:\"|in\b\.?|inch\b)?(?: ?[-x] ?{_FIGURE})?"
        r"(?: ?(?:tpi|-?\d?[ab]))?"
        r"(?: ?-? ?(?:un|unc|unf|unef|uns|bs[wfcb]|bsp[pt]?|npt[fs]?|nps[mf]?|whit\w*|ba))?"
        r"(?: ?-? ?[123][ab]| ?-? ?[lr]h)?",
        # Pipes: G 1/4 A, R 1/8, Rc, Rp, BSP 1/4, NPT 1/8
        rf"(?:g|r|rc|rp|bsp[pt]?|npt[fs]?|bs[wf]|ba|bc|w) ?(?:{_INCHES})\"?"
        rf"(?: ?[-x] ?(?:{_INCHES}))?(?: ?[ab])?",
        # Trapezoidal, round, conduit, bicycle, tapping: Tr 20x4, Rd 40x1/6, Pg 11, FG 9.5, ST4.2
        rf"(?:tr|rd|pg|fg|st|ka|pt|mj|mf) ?{_FIGURE}"
        rf"(?: ?[x-] ?(?:{_INCHES}))?(?: ?-?lh)?",
        # Wood and sheet metal: 4 x 40, 5 mm, 3.5 mm x 25 mm
        rf"{_FIGURE} ?(?:mm)?(?: ?x ?{_FIGURE} ?(?:mm)?)?",
    )
)
_METRIC = re.compile(
    rf"m ?(?P<size>{_FIGURE})(?: ?[x*-] ?(?P<pitch>{_FIGURE})(?: ?mm)?)?(?: ?-? ?\d[a-h])?"
    r"(?: ?-? ?(?:lh|left))?",
    re.IGNORECASE,
)
_SMALLEST_MM, _LARGEST_MM = 0.25, 600.0
_COARSEST_MM = 8.0
"""The ends of ISO 261, sizes and pitches; from memory, and rather too wide than too narrow."""
_PITCHES_IN_SIZE = 3.0
"""A pitch is at most about a quarter of its size (M1x0.25); more is the length of the screw."""

_WORD = re.compile(r"[^\W\d_]{2,}")
_NOT_KNOWN = re.compile(r"\W*(?:(?:not |un)known|various)?\W*", re.IGNORECASE)
_UNITS = frozenset(["mm", "cm", "in", "inch", "inches", "ft"])
_LENGTH = re.compile(
    rf"(?<![\d.,/])(?<![^\W\dx_])(?P<figure>{_INCHES})"
    r"(?:\s?(?:mm|cm|m|in|inch|inches|ft)\b|\s?\")?(?![\w/]|[.,]\d)",
    re.IGNORECASE,
)


@lru_cache(maxsize=1024)
def reads_as_thread(text: str) -> bool:
    """True for a thread known here, one in the form of another system, and one told in words."""
    try:
        read_thread(text)
        return True
    except UnitTrouble:
        pass
    plain = _tidy(text)
    metric = _METRIC.fullmatch(plain)
    if metric is not None:
        size = _number(metric["size"])
        pitch = _number(metric["pitch"]) if metric["pitch"] else None
        fits = pitch is None or 0 < pitch <= min(_COARSEST_MM, size / _PITCHES_IN_SIZE)
        return _SMALLEST_MM <= size <= _LARGEST_MM and fits
    if _NOT_KNOWN.fullmatch(plain) or any(form.fullmatch(plain) for form in _OTHER_THREADS):
        return True
    return any(len(word) > 3 for word in _WORD.findall(plain))


@lru_cache(maxsize=1024)
def reads_as_length(text: str) -> bool:
    """True for a length, several ("20 mm to 25 mm"), and one told in words with no figure.

    A figure without a unit is mm, as elsewhere in a pattern.
    """
    plain = _tidy(text)
    if plain.startswith("-"):
        return False
    try:
        amount = units.read_any(plain)
    except UnitTrouble:
        pass
    else:
        return amount.kind is units.Kind.LENGTH and amount.base > 0
    if not any(sign.isdigit() for sign in plain):
        words = [word for word in _WORD.findall(plain) if word not in _UNITS]
        return _NOT_KNOWN.fullmatch(plain) is not None or len(words) > 1
    figures = [found["figure"] for found in _LENGTH.finditer(plain)]
    return any(re.search(r"[1-9]", figure) for figure in figures)


def _tidy(text: str) -> str:
    plain = unicodedata.normalize("NFKC", text).strip().lower()
    for sign, stands_for in (
        ("×", "x"),
        ("⁄", "/"),
        ("–", "-"),
        ("−", "-"),
        ("″", '"'),
        ("”", '"'),
    ):
        plain = plain.replace(sign, stands_for)
    return re.sub(r"\s+", " ", plain)


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def find_unread_sizes(facts: SheetFacts) -> Iterator[Found]:
    """Threads and lengths of patterns, of their fasteners and of torque tasks that are no such."""
    for pattern in facts.sheet.patterns:
        place = Place(listed="patterns", name=pattern.name)
        for key, text, numbers in facts.once(pattern, _list_unread):
            whose = ""
            if numbers:
                shown = ", ".join(str(number) for number in numbers[:8])
                whose = f"Number {shown}{' …' if len(numbers) > 8 else ''}: "
            yield Found(
                place._replace(field="fasteners" if numbers else key), whose + _ask(key, text)
            )
    for at, task in facts.torques:
        if task.thread is not None and not reads_as_thread(task.thread):
            yield Found(at.place._replace(field="thread"), _ask("thread", task.thread))


def _list_unread(pattern: Pattern) -> tuple[tuple[str, str, tuple[int, ...]], ...]:
    """(thread or length, what is written, whose: none for the pattern's own) of each in turn."""
    found: dict[tuple[str, str, bool], list[int]] = {}
    for key, reads in (("thread", reads_as_thread), ("length", reads_as_length)):
        own = getattr(pattern, key)
        if own is not None and not reads(own):
            found[key, own, False] = []
        for one in pattern.fasteners or ():
            text = getattr(one, key)
            if text is not None and not reads(text):
                found.setdefault((key, text, True), []).append(one.number)
    return tuple((key, text, tuple(numbers)) for (key, text, _), numbers in found.items())


def _ask(key: str, text: str) -> str:
    example = "M6, M8x1 or 3/8-16" if key == "thread" else "20 mm or 3/4 in"
    shown = text if len(text) <= 40 else f"{text[:39]}…"
    # "M6x20" is a thread and a length.
    length = " The length of the screw does not belong here." if re.search(r"\dx\d", text) else ""
    return (
        f'"{shown}" cannot be read as a {key}.{length if key == "thread" else ""} '
        f"Write it as {example}, or leave it out where it is not known."
    )


SIZE_RULES: tuple[Rule, ...] = (
    Rule(
        "size of a screw can be read",
        "wants an answer",
        "a thread or a length that is a slip of the pen leads to the wrong screw, or to none; "
        "common practice, no source",
        find_unread_sizes,
    ),
)
