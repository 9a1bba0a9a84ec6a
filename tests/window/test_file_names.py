"""File names made from titles."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from shopguide.window.file_names import name_file


def test_signs_that_a_file_name_cannot_have_are_left_out():
    assert name_file('Pump cover: 4/5 "old"', ".zip") == "Pump cover 45 old.zip"
    assert name_file("...", ".pdf") == "sheet.pdf"


@given(st.text(max_size=200))
def test_a_name_is_never_empty_or_a_path_and_ends_in_no_space(title):
    name = name_file(title)
    assert name and name == name.strip() and len(name) <= 60
    assert not set(name) & set('/\\:*?"<>|.')
