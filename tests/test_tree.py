"""The checkout holds what it should at its top, and nothing in it points at one machine."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

TOP = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "shopguide",
    "resources",
    "tests",
    "sample_jobs",
}
LEFTOVERS = {"build", "dist", "__pycache__"}
# Packages are named, never the address of a place that serves them.
HOST = re.compile(r"\b(pypi|pythonhosted|npmjs|debian|ubuntu|anaconda)\.(org|com|net)\b")
# A folder of somebody's machine, at the root of the disk or under a user's home.
MACHINE_PATH = re.compile(r"(?<![\w.*~}\-/])/(root|work|tmp|home|Users)/\w|\b[A-Z]:\\+Users\\+\w")


def list_files(checkout: Path) -> list[Path]:
    """Every file of the project: what git would keep, or without git all that lies there."""
    if (checkout / ".git").exists() and shutil.which("git"):
        command = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
        command += ["--cached", "--others", "--exclude-standard"]
        names = subprocess.run(command, cwd=checkout, capture_output=True, check=True).stdout
        paths = [checkout / os.fsdecode(name) for name in names.split(b"\0") if name]
        return [path for path in paths if path.is_file()]
    found = []
    for folder, inner, names in os.walk(checkout):
        inner[:] = [
            name
            for name in inner
            if name not in LEFTOVERS and (not name.startswith(".") or name == ".ci")
        ]
        found += [Path(folder, name) for name in names]
    return found


def find_in_texts(checkout: Path, pattern: re.Pattern[str]) -> list[str]:
    """Each place in a text file where the pattern is met, as "file:line: what"."""
    found = []
    for path in list_files(checkout):
        content = path.read_bytes()
        if b"\0" in content:
            continue
        for number, line in enumerate(content.decode("utf-8", "replace").splitlines(), 1):
            if hit := pattern.search(line):
                found.append(f"{path.relative_to(checkout).as_posix()}:{number}: {hit.group()}")
    return found


def test_the_top_holds_only_what_belongs_there(checkout):
    top = {path.relative_to(checkout).parts[0] for path in list_files(checkout)}
    assert {name for name in top if not name.startswith(".")} == TOP


def test_no_file_names_a_place_that_serves_packages(checkout):
    assert find_in_texts(checkout, HOST) == []


def test_no_file_names_a_folder_of_one_machine(checkout):
    assert find_in_texts(checkout, MACHINE_PATH) == []


@pytest.mark.parametrize(
    ("pattern", "text"),
    [
        (HOST, "get it from https://" + "pypi" + ".org/simple"),
        (HOST, "deb http://deb." + "debian" + ".org/debian"),
        (MACHINE_PATH, 'open("/' + 'root/sheet")'),
        (MACHINE_PATH, "see /" + "work/main"),
        (MACHINE_PATH, "C:\\" + "Users\\anna"),
    ],
)
def test_each_search_finds_what_it_is_for(tmp_path, pattern, text):
    (tmp_path / "note.txt").write_text(f"first line\n{text}\n")
    (found,) = find_in_texts(tmp_path, pattern)
    assert found.startswith("note.txt:2: ")


def test_a_part_of_a_longer_path_is_no_machine_path():
    assert not MACHINE_PATH.search("shopguide/work/events.py and tests/work/test_events.py")
