"""The chain of events: one way to write a value, and every change, gap and swap is told."""

from __future__ import annotations

import copy
import hashlib
import unicodedata
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopguide.errors import RecordTrouble
from shopguide.work import chain

TEXTS = st.text().map(lambda text: unicodedata.normalize("NFC", text))
JSON_VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=12,
)


def forge(events, prev=chain.GENESIS):
    """Rows whose chain holds, from (kind, data) pairs."""
    rows = []
    for seq, (kind, data) in enumerate(events, 1):
        at = f"2031-05-04T09:{seq % 60:02d}:00.000Z"
        known = chain.link(seq, prev, at, kind, data)
        rows.append({"seq": seq, "prev": prev, "at": at, "kind": kind, "data": data, "hash": known})
        prev = known
    return rows


@pytest.fixture
def rows():
    marks = [("mark", {"task": "cover", "fastener": n, "target": "9 N·m"}) for n in range(1, 20)]
    return forge([("begun", {"title": "Sump cover"}), *marks])


def test_canonical_sorts_keys_and_leaves_no_blanks():
    assert (
        chain.canonical({"b": [1, True, None], "a": "é"}) == '{"a":"é","b":[1,true,null]}'.encode()
    )


def test_canonical_sorts_keys_by_utf_16_as_rfc_8785_3_2_3_asks():
    # Source: RFC 8785, section 3.2.3, the example of sorted property names.
    value = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    written = chain.canonical(value).decode()
    # NFC takes U+FB33 apart into U+05D3 U+05BC, which sorts before the Euro sign; the RFC itself
    # leaves text as it is and has it last.
    assert sorted(value.values(), key=written.index) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Hebrew Letter Dalet With Dagesh",
        "Euro Sign",
        "Emoji: Grinning Face",
    ]


def test_text_typed_in_either_unicode_form_is_written_alike():
    composed, apart = "Schlüssel", unicodedata.normalize("NFD", "Schlüssel")
    assert composed != apart
    assert chain.canonical({apart: apart}) == chain.canonical({composed: composed})


def test_keys_that_become_one_are_refused():
    with pytest.raises(RecordTrouble, match="twice"):
        chain.canonical({"é": 1, "e\u0301": 2})


@pytest.mark.parametrize(
    "value",
    [
        2**53,
        float("nan"),
        float("inf"),
        Decimal("9.2"),
        {1: "one"},
        b"bytes",
        "half \ud800",
        {1, 2},
    ],
)
def test_what_json_cannot_hold_exactly_is_refused(value):
    with pytest.raises(RecordTrouble):
        chain.canonical({"value": value})


def test_endless_nesting_is_refused():
    value = []
    for _ in range(100_000):
        value = [value]
    with pytest.raises(RecordTrouble, match="deeply"):
        chain.canonical(value)


@pytest.mark.parametrize("data", [{"reading": 9.2}, {"list": [{"deep": 1.0}]}])
def test_a_measured_value_as_a_number_with_a_fraction_is_refused(data):
    with pytest.raises(RecordTrouble, match="fraction"):
        chain.link(1, chain.GENESIS, "2031-05-04T09:30:00.000Z", "mark", data)


def test_a_sheet_may_hold_fractions():
    assert chain.canonical({"x_mm": 12.5, "y_mm": 40.0}) == b'{"x_mm":12.5,"y_mm":40}'


def test_link_is_the_sha256_of_the_tag_and_the_canonical_event():
    body = (
        '{"at":"2031-05-04T09:30:00.000Z","data":{"task":"cover"},"kind":"mark",'
        f'"prev":"{chain.GENESIS}","seq":1,"v":1}}'
    )
    assert (
        chain.link(1, chain.GENESIS, "2031-05-04T09:30:00.000Z", "mark", {"task": "cover"})
        == hashlib.sha256(b"shopguide-record/1/event\0" + body.encode()).hexdigest()
    )


def test_no_event_at_all_ends_at_the_beginning():
    assert chain.follow([]) == ("0" * 64, None)


def test_a_whole_chain_ends_at_its_last_hash(rows):
    assert chain.follow(rows) == (rows[-1]["hash"], None)


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("data", {"task": "cover", "fastener": 16, "target": "12 N·m"}),
        ("at", "2031-05-04T23:59:00.000Z"),
        ("kind", "note"),
        ("prev", "a" * 64),
        ("hash", "b" * 64),
    ],
)
def test_a_changed_event_is_named(rows, key, value):
    rows[16][key] = value
    head, fault = chain.follow(rows)
    assert fault == "event 17 was changed after it was written"
    assert head == rows[15]["hash"]


def test_a_changed_event_with_its_hash_made_anew_is_told(rows):
    row = rows[16]
    row["data"] = {"task": "cover", "fastener": 16, "target": "12 N·m"}
    row["hash"] = chain.link(row["seq"], row["prev"], row["at"], row["kind"], row["data"])
    assert chain.follow(rows)[1] == (
        "event 18 does not follow from event 17: one of the two was changed after it was written"
    )


def test_a_missing_event_is_named(rows):
    del rows[17]
    assert chain.follow(rows) == (rows[16]["hash"], "event 18 is missing")


def test_a_missing_first_event_is_named(rows):
    assert chain.follow(rows[1:]) == (chain.GENESIS, "event 1 is missing")


def test_a_missing_beginning_with_the_rest_numbered_anew_is_told():
    later = forge([("note", {"step": "a"})], prev="c" * 64)
    assert "beginning is missing" in chain.follow(later)[1]


def test_swapped_and_doubled_events_are_told(rows):
    swapped = [*rows[:4], rows[5], rows[4], *rows[6:]]
    assert chain.follow(swapped)[1] == "event 5 is missing"
    doubled = [*rows[:5], rows[4], *rows[5:]]
    assert chain.follow(doubled)[1] == "event 5 stands where event 6 should"


def test_a_cut_end_shows_only_in_the_head(rows):
    head, fault = chain.follow(rows[:-3])
    assert fault is None
    assert head == rows[-4]["hash"] != rows[-1]["hash"]


@pytest.mark.parametrize(
    "row",
    [
        {},
        None,
        7,
        "text",
        {"seq": True, "prev": "", "at": "", "kind": "", "data": {}, "hash": ""},
        {"seq": 1, "prev": None, "at": "", "kind": "", "data": {}, "hash": ""},
        {"seq": 1, "prev": "", "at": "", "kind": "", "data": [], "hash": ""},
        {"seq": 1, "prev": "", "at": "", "kind": "", "data": {"reading": 9.2}, "hash": ""},
        {"seq": 1, "prev": "", "at": "", "kind": "", "data": {"n": 2**70}, "hash": ""},
    ],
)
def test_a_row_that_makes_no_sense_is_told_and_never_raises(row):
    assert chain.follow([row]) == (chain.GENESIS, "event 1 cannot be read")


@given(st.lists(st.dictionaries(TEXTS, JSON_VALUES, max_size=3), min_size=1, max_size=5), st.data())
def test_any_other_data_anywhere_is_told(datas, draw):
    rows = forge([("note", data) for data in datas])
    assert chain.follow(copy.deepcopy(rows)) == (rows[-1]["hash"], None)
    place = draw.draw(st.integers(0, len(rows) - 1))
    other = draw.draw(st.dictionaries(TEXTS, JSON_VALUES, max_size=3))
    try:
        if chain.canonical(other) == chain.canonical(rows[place]["data"]):
            return
    except RecordTrouble:
        pass
    rows[place]["data"] = other
    assert chain.follow(rows)[1] is not None
