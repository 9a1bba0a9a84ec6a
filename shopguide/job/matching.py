"""Which entry of one list is which of another: by name, then by the words they have in common."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from typing import NamedTuple, TypeVar

from pydantic import BaseModel

from shopguide.job.naming import pick_words

LEAST_ALIKE = 0.5
"""The share of words that two entries of different names must have in common to be the same."""
_MOST_PAIRS = 400_000
_ROUNDING = 9

Entry = TypeVar("Entry", bound=BaseModel)


class _Piece(NamedTuple):
    """What matching looks at: the name, the whole, and how often each word stands in it."""

    name: str
    whole: Hashable
    words: Counter[str]


def match(
    old: Sequence[Entry],
    new: Sequence[Entry],
    name: Callable[[Entry], str],
    spell: Callable[[Entry], str],
) -> list[tuple[int, int]]:
    """Which entry of the old list is which of the new: (index, index), each once.

    First those that are wholly the same, then those of the same name and kind, then those whose
    words are most alike. Of several that are alike, those go together that stand in like places.
    """
    olds = [_look_at(entry, name, spell) for entry in old]
    news = [_look_at(entry, name, spell) for entry in new]
    pairs: list[tuple[int, int]] = []
    left, right = list(range(len(olds))), list(range(len(news)))
    for key in (lambda piece: piece.whole, lambda piece: piece.name):
        seats: dict[Hashable, tuple[list[int], list[int]]] = {}
        for side, pieces, free in ((0, olds, left), (1, news, right)):
            for index in free:
                if key(pieces[index]):
                    seats.setdefault(key(pieces[index]), ([], []))[side].append(index)
        found = [
            pair for ones, others in seats.values() for pair in zip(ones, others, strict=False)
        ]
        pairs += found
        taken, given = {a for a, _ in found}, {b for _, b in found}
        left = [a for a in left if a not in taken]
        right = [b for b in right if b not in given]
    if len(left) * len(right) > _MOST_PAIRS:
        return pairs  # Two sheets that have so little in common are two sheets.
    scored = []
    for a in left:
        for b in right:
            alike = _score(olds[a].words, news[b].words)
            if alike >= LEAST_ALIKE:
                scored.append((-alike, abs(a - b), a + b, a, b))
    taken, given = set(), set()
    for _, _, _, a, b in sorted(scored):
        if a not in taken and b not in given:
            taken.add(a)
            given.add(b)
            pairs.append((a, b))
    return pairs


def _look_at(entry: Entry, name: Callable[[Entry], str], spell: Callable[[Entry], str]) -> _Piece:
    text = spell(entry)
    words = Counter(word for line in text.split("\n") for word in pick_words(line[:400]))
    called = name(entry)
    sort = getattr(entry, "kind", None) if isinstance(entry, BaseModel) else None
    return _Piece(f"{type(entry).__name__} {called}" if called else "", (sort, entry), words)


def _score(one: Counter[str], other: Counter[str]) -> float:
    """The share of words that two texts have in common, 0 to 1; the same in both directions."""
    count = one.total() + other.total()
    return round(2 * (one & other).total() / count, _ROUNDING) if count else 1.0


def find_moved(pairs: Sequence[tuple[int, int]]) -> set[int]:
    """The old indices of those that do not keep their sequence; as few as possible are named."""
    ordered = sorted(pairs)
    tails: list[int] = []
    ends: list[int] = []
    before: list[int] = [-1] * len(ordered)
    for at, (_, now) in enumerate(ordered):
        seat = bisect_left(tails, now)
        if seat == len(tails):
            tails.append(now)
            ends.append(at)
        else:
            tails[seat] = now
            ends[seat] = at
        before[at] = ends[seat - 1] if seat else -1
    kept: set[int] = set()
    at = ends[-1] if ends else -1
    while at >= 0:
        kept.add(ordered[at][0])
        at = before[at]
    return {a for a, _ in ordered} - kept
