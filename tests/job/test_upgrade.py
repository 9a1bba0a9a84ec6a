"""Format versions: what is known, what is newer, and the way from an old one to today's."""

from __future__ import annotations

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


def test_old_versions_go_through_each_function(monkeypatch: pytest.MonkeyPatch) -> None:
    def from_1(data: dict[str, Any]) -> dict[str, Any]:
        return {**data, "author": data["writer"]}

    def from_2(data: dict[str, Any]) -> dict[str, Any]:
        return {key: value for key, value in data.items() if key != "writer"}

    monkeypatch.setattr(upgrade, "NEWEST", 3)
    monkeypatch.setattr(upgrade, "UPGRADES", {1: from_1, 2: from_2})
    old = {"format": "shopguide-job/1", "writer": "Nobody"}
    data, fault = upgrade.bring_up_to_date(old, "job.json")
    assert (data["author"], "writer" in data, fault) == ("Nobody", False, None)
