"""Sockets on heads: sizes as they are stamped, play, and the verdict in words."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import UnitTrouble
from shopguide.torque.hex_head import list_head_limits
from shopguide.torque.sockets import compare, read_size, socket_limits


@pytest.mark.parametrize(
    ("typed", "marked", "mm"),
    [
        ("13 mm", "13 mm", 13.0),
        ("13", "13 mm", 13.0),
        ("5,5 mm", "5.5 mm", 5.5),
        ("1/2 in", "1/2 in", 12.7),
        ("1/2", "1/2 in", 12.7),
        ('1/2"', "1/2 in", 12.7),
        ("½", "1/2 in", 12.7),
        ("8/16", "1/2 in", 12.7),
        ("1-1/8 in", "1-1/8 in", 28.575),
        ("1 1/8", "1-1/8 in", 28.575),
        ("0.5 in", "0.5 in", 12.7),
    ],
)
def test_a_size_is_read_as_it_is_stamped(typed: str, marked: str, mm: float) -> None:
    size = read_size(typed)
    assert (size.marked, size.mm) == (marked, pytest.approx(mm))


@pytest.mark.parametrize("typed", ["", "big", "nan", "0", "0/2", "1/0", "-13", "999", "13 kg"])
def test_what_is_no_size_gets_a_sentence(typed: str) -> None:
    with pytest.raises(UnitTrouble, match="is not the size of a socket") as trouble:
        read_size(typed)
    assert trouble.value.next.endswith(".")


@given(st.text(max_size=20))
def test_any_text_is_a_size_or_a_sentence(text: str) -> None:
    try:
        size = read_size(text)
    except UnitTrouble as trouble:
        assert trouble.what.endswith(".")
    else:
        assert 1 <= size.mm <= 200


@pytest.mark.parametrize(
    ("head", "socket", "play", "verdict"),
    [
        ("1/2", "13", 0.30, "sloppy"),
        ("13", "1/2", -0.30, "tight"),
        ("5/16", "8", 0.0625, "fits"),
        ("19", "3/4", 0.05, "fits"),
        ("5/8", "16", 0.125, "fits"),
        ("11", "7/16", 0.1125, "fits"),
        ("14", "9/16", 0.2875, "sloppy"),
        ("17", "11/16", 0.4625, "sloppy"),
        ("10", "3/8", -0.475, "does not go on"),
        ("3/8", "10", 0.475, "sloppy"),
        ("13", "12", -1.0, "does not go on"),
    ],
)
def test_pairs(head: str, socket: str, play: float, verdict: str) -> None:
    fit = compare(head, socket)
    assert fit.play_mm == pytest.approx(play, abs=1e-9)
    assert fit.verdict == verdict
    assert fit.least_play_mm <= fit.most_play_mm


def test_the_words_name_both_and_what_is_not_known() -> None:
    told = compare("1/2", "13").tell()
    assert told.startswith(
        "13 mm socket on a 1/2 in head: 0.30 mm play; sloppy: will round the head."
    )
    assert told.endswith("Of the socket only the nominal size is known here, not the limits.")
    assert compare("1/2", "1/2").tell() == "1/2 in socket on a 1/2 in head: the same size; fits."
    assert "Of the head and the socket only" in compare("12", "12").tell()
    assert "0.30 mm too small" in compare("13", "1/2").tell()


@pytest.mark.parametrize("size", list_head_limits())
def test_the_right_socket_fits_every_head(size: str) -> None:
    fit = compare(size, size)
    assert fit.verdict == "fits"
    assert fit.least_play_mm >= 0


@given(st.floats(4, 60), st.floats(4, 60))
def test_a_wider_socket_is_never_worse_to_put_on(one: float, other: float) -> None:
    small, large = sorted((f"{one:.2f} mm", f"{other:.2f} mm"), key=lambda s: float(s[:-3]))
    goes_on = {"fits": 2, "sloppy": 2, "tight": 1, "does not go on": 0}
    head = "13 mm"
    assert goes_on[compare(head, small).verdict] <= goes_on[compare(head, large).verdict]


def test_limits_of_a_metric_socket_are_not_invented() -> None:
    low, high, source = socket_limits(read_size("13 mm"))
    assert (low, high) == (13.0, 13.0)
    assert "not at hand" in source
