"""The places: resources and samples of a checkout, and the user's folder."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import platformdirs
import pytest
from PIL import ImageFont

from shopguide import places
from shopguide.errors import Trouble

FONTS = {
    "AtkinsonHyperlegibleNext-Regular.ttf": ("Atkinson Hyperlegible Next", "Regular"),
    "AtkinsonHyperlegibleNext-SemiBold.ttf": ("Atkinson Hyperlegible Next", "SemiBold"),
    "AtkinsonHyperlegibleNext-Bold.ttf": ("Atkinson Hyperlegible Next", "Bold"),
    "DejaVuSans.ttf": ("DejaVu Sans", "Book"),
    "DejaVuSans-Bold.ttf": ("DejaVu Sans", "Bold"),
}


def test_the_checkout_is_where_things_are_found(checkout):
    assert places.find_resource() == checkout / "resources"


@pytest.mark.parametrize(("file", "name"), FONTS.items())
def test_each_font_is_there_and_is_what_it_is_called(file, name):
    font = ImageFont.truetype(str(places.find_resource("fonts", file)), 20)
    assert font.getname() == name


@pytest.mark.parametrize("family", ["AtkinsonHyperlegibleNext", "DejaVuSans"])
def test_each_font_has_its_licence_beside_it(family):
    licence = places.find_resource("fonts", f"{family}-LICENSE.txt").read_text(encoding="utf-8")
    assert "Copyright" in licence


def test_a_missing_resource_says_what_to_do():
    with pytest.raises(Trouble) as caught:
        places.find_resource("fonts", "NoSuchFont.ttf")
    assert caught.value.where.endswith("NoSuchFont.ttf")
    assert "Install" in caught.value.next


def test_samples_are_the_folders_with_a_job(tmp_path, monkeypatch):
    for name in ("second", "first"):
        (tmp_path / "sample_jobs" / name).mkdir(parents=True)
        (tmp_path / "sample_jobs" / name / "job.json").write_text("{}")
    (tmp_path / "sample_jobs" / "no_job_here").mkdir()
    monkeypatch.setattr(places, "_ROOT", tmp_path)
    assert [sheet.name for sheet in places.list_samples()] == ["first", "second"]


def test_the_users_folder_is_the_one_named(tmp_path, monkeypatch):
    monkeypatch.setenv("SHOPGUIDE_HOME", str(tmp_path / "not yet" / "there"))
    folder = places.user_folder()
    assert folder == tmp_path / "not yet" / "there"
    assert folder.is_dir()
    assert places.records_folder() == folder / "records"
    assert places.records_folder().is_dir()
    assert places.log_file() == folder / "shopguide.log"
    assert not places.log_file().exists()


def test_without_a_name_the_systems_own_place_is_used(tmp_path, monkeypatch):
    monkeypatch.setenv("SHOPGUIDE_HOME", "")
    monkeypatch.setattr(
        platformdirs, "user_data_dir", lambda name, **_: str(tmp_path / "data" / name)
    )
    assert places.user_folder() == tmp_path / "data" / "shopguide"


def test_the_identity_is_closed_to_other_users(user_home):
    (user_home / "identity").mkdir(mode=0o755)
    folder = places.identity_folder()
    assert folder == user_home / "identity"
    # Windows has no such mode; there the folder lies in the user's own profile.
    assert os.name != "posix" or stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_place_that_cannot_be_used_is_told(tmp_path, monkeypatch):
    (tmp_path / "taken").write_text("a file, where a folder is wanted")
    monkeypatch.setenv("SHOPGUIDE_HOME", str(tmp_path / "taken" / "folder"))
    with pytest.raises(Trouble) as caught:
        places.user_folder()
    assert Path(caught.value.where) == tmp_path / "taken" / "folder"
    assert "SHOPGUIDE_HOME" in caught.value.next
