"""The verb `compare` as a person types it: what it prints, its exit codes, and no traceback."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from PIL import Image

from shopguide import cli, places
from shopguide.job.files import load_sheet, pack_sheet

SAMPLE = places.list_samples()[0]


def refuse(*_: object) -> object:
    raise AssertionError("neither window, rehearsal nor log is wanted")


@pytest.fixture
def run(capsys):
    """Runs the verb; gives its exit code, standard output and standard error."""

    def call(*words: object) -> tuple[int, str, str]:
        line = ["compare", *(str(word) for word in words)]
        code = cli.run(line, open_window=refuse, rehearse=refuse, write_log=refuse)
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


@pytest.fixture
def changed(tmp_path) -> Path:
    """The sample with another torque."""
    folder = tmp_path / "changed"
    shutil.copytree(SAMPLE, folder)
    sheet = folder / "job.json"
    text = sheet.read_text(encoding="utf-8")
    sheet.write_text(text.replace('"value": "9 N·m"', '"value": "10 N·m"', 1), encoding="utf-8")
    return folder


def test_a_sheet_and_its_zip_are_the_same(run, tmp_path):
    zipped = tmp_path / "same.zip"
    pack_sheet(load_sheet(SAMPLE), zipped)
    code, out, err = run(SAMPLE, zipped)
    assert (code, err) == (0, "")
    assert out.endswith(": nothing changed\n") and out.count("\n") == 1


def test_a_change_is_told_in_words_and_as_json(run, changed):
    code, out, err = run(SAMPLE, changed)
    assert (code, err) == (1, "")
    assert out.splitlines()[0].endswith(": 1 change")
    assert out.splitlines()[1] == (
        "  changed: spec 'cover screws': now 10 N·m ±1 N·m, before 9 N·m ±1 N·m."
    )
    code, out, _ = run(changed, SAMPLE, "--json")
    (change,) = json.loads(out)["changes"]
    assert code == 1
    assert (change["sort"], change["old"], change["new"]) == (
        "changed",
        "10 N·m ±1 N·m",
        "9 N·m ±1 N·m",
    )


def test_another_picture_under_the_same_name_is_told(run, changed):
    picture = sorted((changed / "photos").iterdir())[0]
    Image.new("RGB", (64, 48)).save(picture)
    code, out, _ = run(SAMPLE, changed)
    assert code == 1
    assert f"  changed: picture '{picture.name}': is another file under the same name." in out


def test_what_cannot_be_compared_is_told(run, changed):
    code, out, err = run(SAMPLE, "nowhere")
    assert (code, out) == (2, "") and "nothing of this name" in err
    (changed / "job.json").write_text("{", encoding="utf-8")
    code, out, err = run(SAMPLE, changed)
    assert (code, out) == (2, "") and "ends too early" in err
