"""Sentences put together from fields."""

from __future__ import annotations

import pytest

from shopguide.job.sentences import join_sentences


@pytest.mark.parametrize(
    ("parts", "told"),
    [
        (("Hot oil", "Burns", "Let it cool."), "Hot oil. Burns. Let it cool."),
        (("Hot oil. ", "", " It burns! "), "Hot oil. It burns!"),
        (("Wait 60 min", "See (page 3)"), "Wait 60 min. See (page 3)."),
        (("高温の油", "火傷。"), "高温の油 火傷。"),
        (('Read "Hot!"', 'Read "hot"'), 'Read "Hot!" Read "hot".'),
        ((), ""),
    ],
)
def test_parts_do_not_run_on(parts, told):
    assert join_sentences(parts) == told
