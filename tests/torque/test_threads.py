"""Threads and classes of screws: read as people write them, and refused in plain words."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import UnitTrouble
from shopguide.torque.strength import read_grade
from shopguide.torque.threads import Thread, list_threads, read_thread

THREADS = list_threads()


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("M6", "M6"),
        (" m6 ", "M6"),
        ("M 6", "M6"),
        ("M6x1", "M6"),
        ("M6×1,0", "M6"),
        ("M8x1", "M8×1"),
        ("M8 X 1", "M8×1"),
        ("M8×1.25", "M8"),
        ("M8-1.25", "M8"),
        ("M8x1.25-6g", "M8"),
        ("M8x1 mm", "M8×1"),
        ("M3.5", "M3.5"),
        ("M10×1,25", "M10×1.25"),
        ("Ｍ１２x1.25", "M12×1.25"),
        ("3/8-16", "3/8-16 UNC"),
        ("3/8–16 UNC", "3/8-16 UNC"),
        ('3/8"-16 UNC-2A', "3/8-16 UNC"),
        ("3/8-24", "3/8-24 UNF"),
        ("6/16-24", "3/8-24 UNF"),
        ("1/4-28 UNF", "1/4-28 UNF"),
        ("1/4 UNF", "1/4-28 UNF"),
        ("1/2 in UNC", "1/2-13 UNC"),
        ("½-13", "1/2-13 UNC"),
        ("#10-32", "#10-32 UNF"),
        ("10-32", "#10-32 UNF"),
        ("No. 8-32", "#8-32 UNC"),
        ("#10 UNC", "#10-24 UNC"),
    ],
)
def test_a_thread_is_read_as_people_write_it(typed: str, name: str) -> None:
    assert read_thread(typed).name == name


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "is not the name of a thread"),
        ("   ", "is not the name of a thread"),
        ("M" * 500, "is not the name of a thread"),
        ("screw", "is not a thread known here"),
        ("M0", "go from M3 to M24"),
        ("M2", "go from M3 to M24"),
        ("M30", "go from M3 to M24"),
        ("M6x20", "leave it out here"),
        ("M6x1.25", "not known for M6"),
        ("M-6", "is not a thread known here"),
        ("Mnan", "is not a thread known here"),
        ("3/8", "can be 3/8-16 or 3/8-24"),
        ("#10", "can be #10-24 or #10-32"),
        ("3/8-20", "has 16 threads per inch"),
        ("3/8-24 UNC", "has 16 threads per inch"),
        ("3/0-16", "is not a thread known here"),
        ("0/0-0", "is not a thread known here"),
        ("1-8", "go from #8 to 3/4"),
        ("7/8-9", "go from #8 to 3/4"),
        ("#2-56", "go from #8 to 3/4"),
    ],
)
def test_what_is_no_thread_is_told_with_what_to_write(typed: str, said: str) -> None:
    with pytest.raises(UnitTrouble, match=said) as trouble:
        read_thread(typed)
    assert trouble.value.next.startswith("Write ")


@given(st.text(max_size=50))
def test_any_text_is_a_thread_or_a_sentence(text: str) -> None:
    try:
        thread = read_thread(text)
    except UnitTrouble as trouble:
        assert trouble.what.endswith(".")
        assert trouble.next.endswith(".")
    else:
        assert thread in THREADS


@pytest.mark.parametrize("thread", THREADS, ids=lambda thread: thread.name)
def test_a_name_reads_back_as_its_thread_and_diameters_are_in_order(thread: Thread) -> None:
    assert read_thread(thread.name) == thread
    assert (
        thread.diameter_mm
        > thread.pitch_diameter_mm
        > thread.bore_diameter_mm
        > thread.root_diameter_mm
        > 0
    )
    assert thread.root_diameter_mm < thread.stress_diameter_mm < thread.pitch_diameter_mm


def test_names_are_given_once_and_the_range_is_covered() -> None:
    names = [thread.name for thread in THREADS]
    assert len(names) == len(set(names))
    assert {"M3", "M24", "M24×2", "#8-32 UNC", "3/4-16 UNF"} <= set(names)


def test_the_two_systems_have_two_constants() -> None:
    half = read_thread("1/2-13")
    own = math.sqrt(4 * half.stress_area_mm2 / math.pi)
    assert (half.diameter_mm - own) / half.pitch_mm == pytest.approx(0.9743, abs=1e-4)
    metric = read_thread("M12")
    own = math.sqrt(4 * metric.stress_area_mm2 / math.pi)
    assert (metric.diameter_mm - own) / metric.pitch_mm == pytest.approx(0.9382, abs=1e-4)


@pytest.mark.parametrize(
    ("typed", "thread", "name"),
    [
        ("8.8", "M6", "8.8"),
        ("8,8", "M6", "8.8"),
        ("class 10.9", "M8x1", "10.9"),
        ("grade 8.8", "M8", "8.8"),
        ("grade 5", "3/8-16", "grade 5"),
        ("Grade 8", "1/4-28", "grade 8"),
        ("gr. 2", "1/2-13", "grade 2"),
        ("SAE 5", "3/8-16", "grade 5"),
        ("SAE J429 Grade 5", "3/8-16", "grade 5"),
        ("a2-70", "M6", "A2-70"),
        ("A4 80", "M10", "A4-80"),
    ],
)
def test_a_class_is_read_as_people_write_it(typed: str, thread: str, name: str) -> None:
    assert read_grade(typed, read_thread(thread)).name == name


@pytest.mark.parametrize(
    ("typed", "thread", "said"),
    [
        ("", "M6", "is not a class of screws"),
        ("strong", "M6", "is not a class or grade known here"),
        ("8.9", "M6", "class 8.9 is not known"),
        ("88", "M6", "is not a class or grade known here"),
        ("5", "3/8-16", "is not a class or grade known here"),
        ("nan", "M6", "is not a class or grade known here"),
        ("grade 5", "M6", "M6 is metric"),
        ("8.8", "3/8-16", "is an inch one"),
        ("grade 3", "3/8-16", "grade 3 is not known"),
        ("grade 5", "#10-32", "it is not known"),
        ("9.8", "M20", "only up to M16"),
        ("A2-75", "M6", "A2-75 is not known"),
        ("A2-70", "3/8-16", "it is not known"),
    ],
)
def test_what_is_no_class_of_that_screw_is_told(typed: str, thread: str, said: str) -> None:
    with pytest.raises(UnitTrouble, match=said) as trouble:
        read_grade(typed, read_thread(thread))
    assert trouble.value.next.endswith(".")


@given(st.text(max_size=30), st.sampled_from(THREADS))
def test_any_text_is_a_class_or_a_sentence(text: str, thread: Thread) -> None:
    try:
        strength = read_grade(text, thread)
    except UnitTrouble as trouble:
        assert trouble.what.endswith(".")
    else:
        assert strength.tensile_mpa > strength.yield_mpa > 0


def test_8_8_has_a_row_of_its_own_above_16_mm() -> None:
    thin, thick = (read_grade("8.8", read_thread(name)) for name in ("M16", "M18"))
    assert (thin.tensile_mpa, thin.yield_mpa, thin.proof_mpa) == (800, 640, 580)
    assert (thick.tensile_mpa, thick.yield_mpa, thick.proof_mpa) == (830, 660, 600)


def test_stainless_has_no_proof_load() -> None:
    strength = read_grade("A2-70", read_thread("M6"))
    assert strength.proof_load_n(read_thread("M6")) is None
    assert strength.yield_load_n(read_thread("M6")) == pytest.approx(450 * 20.123, rel=1e-4)
