"""Which entry is which: the same, then of the same name, then by half their words and more."""

from __future__ import annotations

import pytest

from shopguide.job.matching import find_moved, match
from shopguide.job.model import Supply


def pair(old: list[str], new: list[str], notes: tuple[str, str] = ("", "")) -> list[tuple]:
    """The pairs of supplies with these names and one note for each side."""
    olds, news = (
        [Supply(name=name, note=note) for name in names]
        for names, note in zip((old, new), notes, strict=True)
    )
    return sorted(match(olds, news, lambda one: one.name, lambda one: f"{one.name}\n{one.note}"))


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("lint free rags", "lint free rags", True),
        ("lint cloth", "lint rags", True),  # two words of four: just half
        ("lint cloth blue", "lint rags", False),
        ("rags", "brushes", False),
    ],
)
def test_half_of_the_words_make_two_entries_one(old, new, same):
    assert pair([old], [new]) == ([(0, 0)] if same else [])


def test_the_same_goes_before_the_same_name_and_that_before_like_words():
    assert pair(["rag", "rag"], ["rag", "rag"]) == [(0, 0), (1, 1)]
    assert pair(["lint rag", "rag"], ["rag", "lint rag"]) == [(0, 1), (1, 0)]
    assert pair(["lint rag", "rag"], ["rag", "lint rag"], ("old", "new")) == [(0, 1), (1, 0)]
    assert pair(["lint rag", "lint cloth"], ["lint cloth blue"]) == [(1, 0)]


def test_of_several_that_are_alike_those_in_like_places_go_together():
    assert pair(["rag a1", "rag b1"], ["rag c1", "rag d1"]) == [(0, 0), (1, 1)]


@pytest.mark.parametrize(
    ("pairs", "moved"),
    [
        ([], set()),
        ([(0, 0), (1, 1), (2, 2)], set()),
        ([(0, 2), (1, 0), (2, 1)], {0}),
        ([(0, 1), (1, 2), (2, 0)], {2}),
        ([(0, 5), (3, 7)], set()),
    ],
)
def test_as_few_as_possible_have_moved(pairs, moved):
    assert find_moved(pairs) == moved
