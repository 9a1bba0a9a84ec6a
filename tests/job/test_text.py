"""The text of job.json: faults of JSON with line and column, and tidy writing."""

from __future__ import annotations

import json

import pytest

from shopguide.errors import Trouble
from shopguide.job.text import parse_text, write_text


@pytest.mark.parametrize(
    ("raw", "where", "what"),
    [
        (b"", "job.json", "The file is empty."),
        (b" \n", "job.json", "The file is empty."),
        (b'{\n  "a": 1', "job.json, line 2, column 9", "The file ends too early"),
        (b'{\n  "a": 1\n  "b": 2}', "job.json, line 3, column 3", "A comma, or a closing"),
        (b'{"a" 1}', "job.json, line 1, column 6", "A colon is missing"),
        (b"{a: 1}", "job.json, line 1, column 2", "A key in double quotes"),
        (b'{"a": }', "job.json, line 1, column 7", "A value is missing here."),
        (b"{\"a\": 'b'}", "job.json, line 1, column 7", "A value is missing here."),
        (b'{"a": "b', "job.json, line 1, column 7", "The quote that opens here"),
        (b'{"a": "b\nc"}', "job.json, line 1, column 9", "A text in quotes runs over"),
        (b'{"a": "\\q"}', "job.json, line 1, column 8", "A backslash stands before"),
        (b'{"a": "\\u12g4"}', "job.json, line 1, column 9", "A backslash stands before"),
        (b"{} {}", "job.json, line 1, column 4", "Something follows after the end"),
        (b"[]", "job.json", "The file holds no job sheet"),
        (b'"a"', "job.json", "The file holds no job sheet"),
        (b"[" * 200_000, "job.json", "Lists or objects are nested"),
        (b'{"a":' * 41 + b"1" + b"}" * 41, "job.json", "Lists or objects are nested"),
        (b'{"a":' + b"[" * 900 + b"]" * 900 + b"}", "job.json", "Lists or objects are nested"),
        ('{"a": 1}'.encode("utf-16"), "job.json", "The file is written in UTF-16"),
        ('{"a": 1}'.encode("utf-16-le"), "job.json", "The file is written in UTF-16"),
        ('{"a": 1}'.encode("utf-32"), "job.json", "The file is written in UTF-16"),
        ('{\n"a": "ü"}'.encode("latin-1"), "job.json, line 2", "The byte FC hex is no UTF-8"),
        (b'{"a": [' + b"{}," * 250_001 + b"{}]}", "job.json", "The file has more than 250,000"),
    ],
)
def test_what_is_no_json_is_told_with_its_place(raw: bytes, where: str, what: str) -> None:
    with pytest.raises(Trouble) as caught:
        parse_text(raw, "job.json")
    assert caught.value.where == where
    assert caught.value.what.startswith(what)
    assert caught.value.next.endswith((".", "…"))


def test_trailing_comma() -> None:
    # Python 3.13 on points at the comma itself, older ones at the bracket behind it.
    with pytest.raises(Trouble) as caught:
        parse_text(b'{"a": 1,}', "job.json")
    assert "comma" in caught.value.what + caught.value.next


def test_odd_values_are_found_where_they_stand_and_made_harmless() -> None:
    raw = (
        b'{"a": NaN, "b": [1, -Infinity, 1e999, 12345678901234567890], "c": "\\ud800", '
        b'"c": "x\\udfff", "d": {"\\ud83d": 1}, "e": "\\ud83d\\ude00"}'
    )
    data, oddities = parse_text(raw, "job.json")
    assert json.loads(json.dumps(data)) == {
        "a": 0,
        "b": [1, 0, 0, 0],
        "c": "?",
        "d": {},
        "e": "😀",
    }
    assert {(odd.path, odd.what) for odd in oddities} == {
        (("a",), "NaN is not a number that can be worked to."),
        (("b", 1), "-Infinity is not a number that can be worked to."),
        (("b", 2), "1e999 is too large a number."),
        (("b", 3), "12345678901234567890 is too large a number."),
        (("c",), 'The key "c" stands here twice.'),
        (
            ("c",),
            "The text holds half of a two-part sign (a lone surrogate), which stands for nothing.",
        ),
        (
            ("d",),
            "A key holds half of a two-part sign (a lone surrogate), which stands for nothing.",
        ),
    }


def test_a_million_digits_cost_nothing() -> None:
    _, oddities = parse_text(b'{"a": ' + b"9" * 1_000_000 + b"}", "job.json")
    assert oddities[0].what == "99999999999999999999… is too large a number."


def test_tidy_text() -> None:
    data = {
        "title": "Ölwanne",
        "points": [[1, 2], [3.5, 4]],
        "parts": [{"name": "a", "quantity": 2}],
        "long": ["x" * 50, "y" * 50],
        "order": list(range(100, 140)),
        "none": [],
    }
    raw = write_text(data)
    assert json.loads(raw) == data
    text = raw.decode("utf-8")
    assert text.endswith("}\n")
    assert max(len(line) for line in text.splitlines()) <= 100
    assert text.startswith(
        '{\n  "title": "Ölwanne",\n  "points": [[1, 2], [3.5, 4]],\n'
        '  "parts": [\n    {"name": "a", "quantity": 2}\n  ],\n'
    )
    assert text.count("\n") == 17
