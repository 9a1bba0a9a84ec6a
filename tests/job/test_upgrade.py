"""Format versions: what is known, what is newer, and the way from an old one to today's."""

from __future__ import annotations

import json
from typing import Any

import pytest

from shopguide.errors import Trouble
from shopguide.job import upgrade
from shopguide.job.model import FORMAT


def test_todays_format_is_taken_as_it_is() -> None:
    data = {"format": FORMAT, "title": "x"}
    assert upgrade.bring_up_to_date(data, "job.json") == (data, None)


def test_newer_format_is_refused_and_says_what_to_do() -> None:
    with pytest.raises(Trouble) as caught:
        upgrade.bring_up_to_date({"format": f"{upgrade.STEM}/{upgrade.NEWEST + 1}"}, "job.json")
    assert caught.value.where == "job.json, format"
    assert caught.value.next == "Install a newer shopguide."


@pytest.mark.parametrize("given", ["shopguide-job/0", "shopguide-job/000"])
def test_format_that_never_was(given: str) -> None:
    with pytest.raises(Trouble, match=f"There is no format {given}"):
        upgrade.bring_up_to_date({"format": given}, "job.json")


@pytest.mark.parametrize("given", ["shopguide-job", "shopguide-job/1.0", "", 1, None, ["x"]])
def test_misspelt_format_is_told_and_read_as_todays(given: object) -> None:
    data, fault = upgrade.bring_up_to_date({"format": given, "title": "x"}, "job.json")
    assert data == {"format": FORMAT, "title": "x"}
    assert fault is not None
    assert fault.next == f'Write "{FORMAT}".'


def from_1(data: dict[str, Any]) -> upgrade.Upgraded:
    """An invented older version: it had "writer" where today's has "author"."""
    data["author"] = data["writer"]
    return upgrade.Upgraded(data, ('The "writer" is now called "author".',))


def from_2(data: dict[str, Any]) -> upgrade.Upgraded:
    """A second one, which says nothing of what it did."""
    return upgrade.Upgraded({"added": 1, **{k: v for k, v in data.items() if k != "writer"}})


@pytest.fixture
def older(monkeypatch: pytest.MonkeyPatch) -> None:
    """Today is version 3, and two older ones are known."""
    monkeypatch.setattr(upgrade, "NEWEST", 3)
    monkeypatch.setattr(upgrade, "FORMAT", f"{upgrade.STEM}/3")
    monkeypatch.setattr(upgrade, "UPGRADES", {1: from_1, 2: from_2})


OLD = {"format": "shopguide-job/1", "writer": "Nobody"}


def test_old_versions_go_through_each_function(older: None) -> None:
    given = dict(OLD)
    data, fault = upgrade.bring_up_to_date(given, "job.json")
    assert data == {"format": "shopguide-job/3", "author": "Nobody", "added": 1}
    assert fault is None
    assert given == OLD, "what the caller holds stays as it was"


def test_report_says_what_each_version_changed(older: None) -> None:
    report = upgrade.report_upgrade(json.dumps(OLD).encode(), "job.json")
    assert [step[:2] for step in report.steps] == [(1, 2), (2, 3)]
    assert report.tell() == (
        "Format 1 became format 2:",
        '  The "writer" is now called "author".',
        "Format 2 became format 3:",
        '  "writer" was taken out.',
        '  "added" was added.',
    )


def test_nothing_is_reported_where_nothing_had_to_be_done(older: None) -> None:
    raw = json.dumps({"format": "shopguide-job/3", "title": "x"}).encode()
    assert upgrade.report_upgrade(raw, "job.json").tell() == ()


def test_upgrade_that_changes_the_number_only_says_so(
    older: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upgrade, "UPGRADES", {2: upgrade.Upgraded})
    raw = json.dumps({"format": "shopguide-job/2", "title": "x"}).encode()
    told = upgrade.report_upgrade(raw, "job.json").tell()
    assert told == ("Format 2 became format 3:", "  nothing else changed.")


@pytest.mark.parametrize("raw", [b"", b"{", b"\xff", b'{"format": "shopguide-job/9999"}'])
def test_report_of_what_cannot_be_read_is_a_trouble(raw: bytes) -> None:
    with pytest.raises(Trouble):
        upgrade.report_upgrade(raw, "job.json")
