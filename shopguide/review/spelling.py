"""Words as the rules compare them: one spelling, one number, one name for one thing."""

from __future__ import annotations

import re
from functools import lru_cache

_PAIRS_TEXT = """
    tire tyre  aluminum aluminium  fiber fibre  gray grey  color colour  center centre
    carburetor carburettor  carburetter carburettor  gasoline petrol  muffler silencer
    wrench spanner  cotter split  locknut lock  hood bonnet  fender wing  windshield windscreen
    liter litre  meter metre  mold mould  plow plough  vise vice  axe ax  gage gauge
    cap-screw screw  capscrew screw  setscrew screw  caliper calliper
"""
_WORDS = _PAIRS_TEXT.split()
_ONE_NAME = dict(zip(_WORDS[::2], _WORDS[1::2], strict=True))
"""American and British, and other names of the same thing: common practice, no source."""

_WORD = re.compile(r"[^\W_]+")
_ENDS = ("ss", "us", "is", "as")
_MEASURE = re.compile(r".*\d.*|mm|cm|in|inch|inches|l|ml|nm")


@lru_cache(maxsize=8192)
def plain_word(word: str) -> str:
    """A word in small letters and the singular, and under one of its names."""
    held = word.lower()
    held = _ONE_NAME.get(held, held)
    if len(held) > 3 and held.endswith("ies"):
        held = f"{held[:-3]}y"
    elif len(held) > 4 and held.endswith(("shes", "ches", "xes", "sses")):
        held = held[:-2]
    elif len(held) > 3 and held.endswith("s") and not held.endswith(_ENDS):
        held = held[:-1]
    return _ONE_NAME.get(held, held)


@lru_cache(maxsize=4096)
def plain_words(text: str) -> frozenset[str]:
    """The words of a text, each plain; a hyphen parts two words."""
    return frozenset(plain_word(word) for word in _WORD.findall(text))


def naming_words(text: str) -> frozenset[str]:
    """The words of a name that say what it is: sizes, figures and "new" are left out.

    What follows the first comma describes it, and is left out too.
    """
    said = text.partition(",")[0]
    words = {word for word in plain_words(said) if not _MEASURE.fullmatch(word)}
    return frozenset(words - {"new", "the", "a", "an", "of", "for", "set", "kit", "pair", "one"})
