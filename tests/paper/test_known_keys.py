"""The keys seen before: remembered, renamed, and never lost or made up."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import pytest

from shopguide.errors import PaperTrouble, Trouble
from shopguide.paper import known_keys

ONE, OTHER = "1a" * 32, "2b" * 32
MAY = datetime(2031, 5, 4, 9, 30, tzinfo=UTC)
JUNE = datetime(2031, 6, 1, tzinfo=UTC)


def test_nobody_is_known_at_first(tmp_path):
    assert known_keys.read_known(tmp_path / "not there yet") == {}


def test_what_is_remembered_is_read(tmp_path):
    folder = tmp_path / "not there yet"
    known_keys.remember(folder, ONE, "Edda  Größe", MAY)
    known_keys.remember(folder, OTHER, "the man with the red van", JUNE)
    assert known_keys.read_known(folder) == {ONE: "Edda Größe", OTHER: "the man with the red van"}
    assert [path.name for path in folder.iterdir()] == [known_keys.FILE_NAME]


def test_a_new_name_leaves_the_day_it_was_first_seen(tmp_path):
    known_keys.remember(tmp_path, ONE, "Edda", MAY)
    known_keys.remember(tmp_path, ONE, "Edda Lint", JUNE)
    stored = json.loads((tmp_path / known_keys.FILE_NAME).read_text())
    assert stored["keys"] == {ONE: {"name": "Edda Lint", "first_seen": "2031-05-04T09:30:00+00:00"}}


@pytest.mark.parametrize(
    ("fingerprint", "name"), [("1a" * 31, "Edda"), ("1A" * 32, "Edda"), (ONE, "  ")]
)
def test_what_is_no_key_or_no_name_is_refused(tmp_path, fingerprint, name):
    with pytest.raises(PaperTrouble):
        known_keys.remember(tmp_path, fingerprint, name, MAY)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "raw",
    [
        "",
        "{}",
        "[" * 50_000,
        '{"format": "shopguide-keys/2", "keys": {}}',
        '{"format": "shopguide-keys/1", "keys": {"zz": {"name": "a", "first_seen": "b"}}}',
        '{"format": "shopguide-keys/1", "keys": {"' + ONE + '": {"name": 7, "first_seen": "b"}}}',
        '{"format": "shopguide-keys/1", "keys": {"' + ONE + '": "Edda"}}',
    ],
)
def test_a_damaged_list_is_told_and_kept(tmp_path, raw):
    (tmp_path / known_keys.FILE_NAME).write_text(raw)
    with pytest.raises(PaperTrouble, match="damaged"):
        known_keys.read_known(tmp_path)
    with pytest.raises(PaperTrouble, match="damaged"):
        known_keys.remember(tmp_path, ONE, "Edda", MAY)
    assert (tmp_path / known_keys.FILE_NAME).read_text() == raw


def test_a_failed_save_leaves_the_old_list(tmp_path, monkeypatch):
    known_keys.remember(tmp_path, ONE, "Edda", MAY)

    def fail(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", fail)
    with pytest.raises(Trouble, match="disk is full"):
        known_keys.remember(tmp_path, OTHER, "another", JUNE)
    assert known_keys.read_known(tmp_path) == {ONE: "Edda"}
