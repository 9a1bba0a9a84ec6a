"""Names of parts and fasteners in the words that tell them; the trade's, from common practice."""

from __future__ import annotations

import pytest

from shopguide.job.naming import find_head, is_fastener, is_fastener_of, is_plural, pick_words


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("Cover screws", {"cover", "screw"}),
        ("Drain-plug sealing ring", {"drain", "plug", "sealing", "ring"}),
        ("the seal of the filler tube", {"seal", "filler", "tube"}),
        ("Glass bus axis", {"glass", "bus", "axis"}),
        ("Öl-Deckel", {"öl", "deckel"}),
        ("螺栓", {"螺栓"}),
        ("the", set()),
        ("· — ·", set()),
    ],
)
def test_the_telling_words_of_a_name(name, words):
    assert pick_words(name) == words


@pytest.mark.parametrize(
    ("name", "head"),
    [
        ("filler-tube bracket screws", "screw"),
        ("screw of the bracket", "screw"),
        ("bracket screw 2", "screw"),
        ("cap", "cap"),
        ("", ""),
    ],
)
def test_the_word_that_says_what_sort_of_thing_it_is(name, head):
    assert find_head(name) == head


@pytest.mark.parametrize("name", ["wheel bolts", "drain plug", "spark plugs", "union of the pipe"])
def test_what_is_screwed_in(name):
    assert is_fastener(name)


@pytest.mark.parametrize(
    "name", ["sensor plug", "plug of the harness", "hose clip", "bolt cover", ""]
)
def test_what_is_not_screwed_in(name):
    assert not is_fastener(name)


def test_several_and_one():
    assert is_plural("bracket screws") and not is_plural("bracket screw") and not is_plural("")


@pytest.mark.parametrize(
    ("name", "part", "holds"),
    [
        ("cover plate bolts", "cover plate", True),
        ("bolts of the caliper", "the caliper", True),
        ("hose clamp", "hose", True),
        ("adjusting screw nut", "adjusting screw", True),
        ("short cover screws", "cover screws", False),
        ("cover screws", "sump cover", False),
        ("cover gasket", "cover", False),
        ("cover", "cover screws", False),
        ("screws", "", False),
    ],
)
def test_a_name_tells_what_its_fasteners_hold(name, part, holds):
    assert is_fastener_of(name, part) is holds
