"""The words of a name, so that "Drain-plug sealing ring" is found to belong to the drain plug."""

from __future__ import annotations

import re
from functools import lru_cache

_WORD = re.compile(r"[^\W_]+")
_SMALL_WORDS = frozenset(
    """
    a an the of for on in at to and with its their all new old one two three four
    """.split()  # noqa: SIM905
)
_FASTENERS = frozenset(
    """
    screw bolt nut stud plug fastener capscrew setscrew locknut union banjo
    """.split()  # noqa: SIM905
)
_HOLDS_TOO = frozenset(["clip", "clamp", "strap"])
_PLUGS_THAT_PULL = frozenset(
    ["connector", "sensor", "harness", "cable", "electrical", "wiring", "mains"]
)


@lru_cache(maxsize=8192)
def pick_words(name: str) -> frozenset[str]:
    """The telling words of a name, each in the singular: "Cover screws" -> cover, screw."""
    words = (_make_singular(word) for word in _WORD.findall(name.casefold()))
    return frozenset(word for word in words if word not in _SMALL_WORDS)


@lru_cache(maxsize=8192)
def find_head(name: str) -> str:
    """The word that says what sort of thing it is: the last one before "of" or "for"."""
    words = [_make_singular(word) for word in _WORD.findall(name.casefold())]
    for stop in ("of", "for", "on", "at", "in"):
        if stop in words[1:]:
            words = words[: words.index(stop, 1)]
    while len(words) > 1 and words[-1].isdigit():
        words.pop()
    return words[-1] if words else ""


def is_fastener(name: str) -> bool:
    """True where a name says screw, bolt, nut, stud or a plug that is screwed in."""
    head = find_head(name)
    if head == "plug":
        return not pick_words(name) & _PLUGS_THAT_PULL
    return head in _FASTENERS


def is_fastener_of(name: str, part: str) -> bool:
    """True where a name is that of a part's fasteners: "cover plate bolts" hold "cover plate"."""
    head, words = find_head(name), pick_words(part)
    holds = is_fastener(name) or head in _HOLDS_TOO
    return bool(words) and holds and head not in words and words < pick_words(name)


def is_plural(name: str) -> bool:
    """True where a name says that there are several: "bracket screws"."""
    words = _WORD.findall(name.casefold())
    return bool(words) and _make_singular(words[-1]) != words[-1]


def _make_singular(word: str) -> str:
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word
