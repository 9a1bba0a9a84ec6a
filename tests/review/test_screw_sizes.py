"""Threads and lengths of screws: which are called unreadable, where, and which are left alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from shopguide.job.files import read_sheet
from shopguide.review.examples import make_sheet
from shopguide.review.findings import Finding, review_sheet
from shopguide.review.reviewer import look_by
from shopguide.review.rules import find_rule
from shopguide.review.screw_sizes import reads_as_length, reads_as_thread
from shopguide.torque.threads import list_threads

RULE = "size of a screw can be read"


def look(**pattern: Any) -> tuple[Finding, ...]:
    shape = {} if "fasteners" in pattern else {"circle": {"count": 4, "diameter_mm": 80}}
    whole = {"name": "cover", "title": "Cover", **shape, **pattern}
    return look_by(find_rule(RULE), make_sheet({"patterns": [whole]}))


@pytest.mark.parametrize(
    "text",
    ["s", "M99x0", "M0", "Mx6", "M6x20", "M6y1", "M8x3", "M6x1x20", "6M", "M", "?6?", "xyz", "1/"],
)
def test_what_is_no_thread_of_any_system_cannot_be_read(text):
    assert not reads_as_thread(text)


@pytest.mark.parametrize("thread", [one.name for one in list_threads()])
def test_every_thread_known_here_is_read(thread):
    assert reads_as_thread(thread)


# The ways of writing are from memory; which of these sizes a shelf has is no matter here.
@pytest.mark.parametrize(
    "text",
    [
        *("M2", "M2.5", "M27", "M30x2", "M36 × 3", "M42x4.5", "M64x6", "M12x1.75 LH", "M6-6g"),
        *("1/4", "1/4-20", "1/4-32 UNEF", "#4-40", "#6-32 UNC", "No. 2", "1-8 UNC"),
        *("7/8-14 UNF-2A", "1 1/4-12", "1/4 BSW", "3/8 BSF", "2 BA", "9/16x20", "9/16 x 20 TPI"),
        *("1.37 x 24", "1/2 in", "G 1/4", "G1/4A", "R 1/8", "Rc 1/8", "Rp 3/8", "1/8 NPT"),
        *("1/4-18 NPTF", "1/4 BSP", "NPT 1/8", "Tr 20x4", "Rd 40x1/6", "Pg 11", "FG 9.5"),
        *("ST4.2", "ST 4.2x13", "BC 9/16", "W 21.8x1/14"),
        *("4 x 40", "4,5×40 mm", "5 mm", "3.5 mm x 25 mm", "6", "wood screw 4 mm", "Whitworth 3/8"),
        *("special of the maker", "M6 × 1 special", "not known", "unknown", "?", "-"),
    ],
)  # fmt: skip
def test_threads_of_other_systems_and_words_are_left_alone(text):
    assert reads_as_thread(text)


@pytest.mark.parametrize(
    "text",
    ["twenty", "twenty mm", "long", "W", "mm", "0 mm", "0", "-5 mm", "40 N·m", "2O mm", "1.2.3"],
)
def test_what_is_no_length_cannot_be_read(text):
    assert not reads_as_length(text)


@pytest.mark.parametrize(
    "text",
    [
        *("20", "20 mm", "20mm", "2,5 cm", "3/4 in", "1 1/2 in", "1 1/2\"", "3/4″", "20 to 25 mm"),
        *("20–25 mm", "20/25 mm", "20 mm or 25 mm", "20 mm under the head", "about 20 mm", "M6x20"),
        *("to the shoulder", "see the drawing", "not known", "20.", "?"),
    ],
)  # fmt: skip
def test_lengths_and_words_are_left_alone(text):
    assert reads_as_length(text)


def test_the_field_of_the_pattern_or_its_fasteners_is_named():
    thread, length = look(thread="s", length="twenty")
    assert (thread.listed, thread.name, thread.field) == ("patterns", "cover", "thread")
    assert (length.field, length.severity) == ("length", "wants an answer")
    assert thread.sentence.startswith('"s" cannot be read as a thread. Write it as M6')
    seats = [{"number": n, "x_mm": 10.0 * n, "y_mm": 0.0} for n in range(1, 5)]
    seats[1]["length"] = seats[3]["length"] = "twenty"
    (found,) = look(fasteners=seats, thread="M6", length="20 mm")
    assert found.field == "fasteners"
    assert found.sentence.startswith('Number 2, 4: "twenty" cannot be read as a length.')
    assert look(thread="M6", length="20 mm") == look() == ()


def test_a_single_fastener_has_its_thread_in_its_task_and_it_is_told_once():
    source = {"kind": "manual", "text": "invented, page 3"}
    one = {"kind": "torque", "text": "Tighten it.", "fastener": "plug", "spec": "plug"}
    one |= {"thread": "M6x20", "grade": "8.8"}
    spec = {"name": "plug", "kind": "torque", "value": "9 N·m", "source": source}
    sheet = make_sheet({"specs": [spec], "steps": [{"title": "Plug", "tasks": [one]}]})
    (found,) = [one for one in review_sheet(sheet) if "M6x20" in one.sentence]
    assert (found.rule, found.task, found.field) == (RULE, "1.1", "thread")
    assert "The length of the screw does not belong here." in found.sentence


def test_the_sample_jobs_have_no_such_finding():
    folder = Path(__file__).parents[2] / "sample_jobs"
    seen = 0
    for path in folder.rglob("job.json"):
        sheet = read_sheet(path.read_bytes())
        seen += len(sheet.patterns)
        assert [one for one in review_sheet(sheet) if one.rule == RULE] == []
    assert seen
