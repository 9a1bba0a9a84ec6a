"""The built wheel, installed by itself into an empty environment, has all that it needs."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

# Parts of resources/ that serve the checkout alone.
STAYS_BEHIND = ("resources/render/", "resources/start.py")

OPEN_SAMPLES = """
import json
import shopguide
from shopguide import places
from shopguide.job.files import load_sheet
opened = [load_sheet(folder) for folder in places.list_samples()]
print(json.dumps({
    "package": shopguide.__file__,
    "version": shopguide.__version__,
    "font": str(places.find_resource("fonts", "DejaVuSans.ttf")),
    "samples": [
        {
            "path": str(each.path),
            "title": each.sheet.title,
            "picture_bytes": [len(each.photo_bytes(name)) for name in each.names()],
        }
        for each in opened
    ],
}))
"""


def run(*command: object, cwd: Path, **options: object) -> str:
    answer = subprocess.run(
        [str(part) for part in command], cwd=cwd, capture_output=True, encoding="utf-8", **options
    )
    assert answer.returncode == 0, answer.stdout + answer.stderr
    return answer.stdout


@pytest.fixture(scope="module")
def wheel(checkout, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", folder, cwd=checkout)
    (built,) = folder.glob("shopguide-*.whl")
    return built


@pytest.fixture(scope="module")
def venv(wheel, tmp_path_factory) -> Path:
    """An environment with the wheel in it, that borrows everything else from this one."""
    folder = tmp_path_factory.mktemp("venv")
    run(sys.executable, "-m", "venv", "--without-pip", folder, cwd=folder)
    python = find_program(folder, "python")
    pip = [sys.executable, "-m", "pip", "--python", python, "--disable-pip-version-check"]
    run(*pip, "install", "--no-index", "--no-deps", "--quiet", wheel, cwd=folder)
    site = run(python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))", cwd=folder)
    # It comes after the environment's own packages, and .pth files in it are not read: a checkout
    # installed for editing out there stays out of sight.
    borrowed = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    Path(site.strip(), "borrowed.pth").write_text("\n".join(sorted(borrowed)) + "\n")
    return folder


def find_program(venv: Path, name: str) -> Path:
    return venv / ("Scripts" if os.name == "nt" else "bin") / name


def test_the_wheel_carries_resources_and_samples(checkout, wheel):
    with zipfile.ZipFile(wheel) as opened:
        carried = set(opened.namelist())
    wanted = {
        path.relative_to(checkout).as_posix()
        for folder in ("resources", "sample_jobs")
        for path in (checkout / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    wanted = {name for name in wanted if not name.startswith(STAYS_BEHIND)}
    inside = "shopguide/_shipped/"
    assert {name.removeprefix(inside) for name in carried if name.startswith(inside)} == wanted
    assert {name.partition("/")[0].partition("-")[0] for name in carried} == {"shopguide"}


def test_a_sample_opens_from_the_installed_wheel(venv, tmp_path):
    told = json.loads(run(find_program(venv, "python"), "-I", "-c", OPEN_SAMPLES, cwd=tmp_path))
    samples = told["samples"]
    assert samples
    for path in (told["package"], told["font"], *(sample["path"] for sample in samples)):
        assert Path(path).is_relative_to(venv)
    for sample in samples:
        assert sample["title"]
        assert sample["picture_bytes"]
        assert min(sample["picture_bytes"]) > 0


def test_the_installed_command_tells_its_version(venv, tmp_path):
    command = run(find_program(venv, "shopguide"), "--version", cwd=tmp_path)
    version = run(
        find_program(venv, "python"),
        "-I",
        "-c",
        "from importlib.metadata import version; print(version('shopguide'))",
        cwd=tmp_path,
    )
    assert version.strip() in command
