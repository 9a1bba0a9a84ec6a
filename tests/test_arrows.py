"""The import arrows hold, and each contract that holds them is seen to catch what it forbids."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

LINT = """
import sys
from importlinter.cli import lint_imports
sys.exit(lint_imports(no_cache=True))
"""

IMPORT_WITHOUT_QT = """
import importlib, pkgutil, sys

class NoQt:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in ("PySide6", "shiboken6"):
            raise ModuleNotFoundError(f"{name} is out of reach here", name=name)

sys.meta_path.insert(0, NoQt())
try:
    import PySide6
except ModuleNotFoundError:
    pass
else:
    sys.exit("PySide6 could be imported after all")

import shopguide
def walk(folder, prefix):
    for found in pkgutil.iter_modules([folder], prefix):
        if found.name in ("shopguide.window", "shopguide.__main__"):
            continue
        importlib.import_module(found.name)
        print(found.name)
        if found.ispkg:
            walk(folder + "/" + found.name.rpartition(".")[2], found.name + ".")
walk(shopguide.__path__[0], "shopguide.")
"""

# Contract id, the module the fault is planted in, the import, and what the report must say.
FAULTS = [
    ("arrows", "bolts", "import shopguide.job", "shopguide.bolts.planted -> shopguide.job"),
    ("arrows", "errors", "import shopguide.places", "shopguide.errors.planted -> shopguide.places"),
    ("arrows", "paper", "import shopguide.record", "shopguide.paper.planted -> shopguide.record"),
    ("arrows", "review", "import shopguide.paper", "shopguide.review.planted -> shopguide.paper"),
    ("arrows", "cli", "import shopguide.window", "shopguide.cli.planted -> shopguide.window"),
    ("arrows", "garage", "import shopguide.errors", "shopguide.garage"),
    ("pint", "job", "import pint", "shopguide.job.planted -> pint"),
    ("numpy", "torque", "import numpy", "shopguide.torque.planted -> numpy"),
    ("numpy", "work", "from scipy import optimize", "shopguide.work.planted -> scipy"),
    ("sqlite3", "shop", "import sqlite3", "shopguide.shop.planted -> sqlite3"),
    ("pdf", "window", "import reportlab.pdfgen", "shopguide.window.planted -> reportlab"),
    ("pdf", "record", "from pyhanko import sign", "shopguide.record.planted -> pyhanko"),
    ("pdf", "cli", "import pikepdf", "shopguide.cli.planted -> pikepdf"),
    ("qt", "paper", "from PySide6 import QtGui", "shopguide.paper.planted -> PySide6"),
    ("qt", "cli", "import shiboken6", "shopguide.cli.planted -> shiboken6"),
]

ALLOWED = {
    "torque": "import pint",
    "bolts": "import numpy, scipy.optimize",
    "record": "import sqlite3",
    "paper": "import reportlab, pyhanko.sign, pyhanko_certvalidator, pikepdf",
    "window": "import PySide6.QtWidgets, shiboken6",
    "__main__": "import shopguide.cli, shopguide.window",
}


def read_settings(checkout: Path) -> dict:
    return tomllib.loads((checkout / "pyproject.toml").read_text(encoding="utf-8"))


def list_layers(checkout: Path) -> list[str]:
    contracts = read_settings(checkout)["tool"]["importlinter"]["contracts"]
    (arrows,) = [contract for contract in contracts if contract["id"] == "arrows"]
    return [name.strip() for layer in arrows["layers"] for name in layer.split("|")]


def lint(folder: Path) -> tuple[int, str]:
    """Run the contracts of `folder`'s pyproject.toml over the package in it."""
    answer = subprocess.run(
        [sys.executable, "-c", LINT],
        cwd=folder,
        env={
            **os.environ,
            "PYTHONPATH": str(folder),
            "PYTHONIOENCODING": "utf-8",
            "COLUMNS": "300",
        },
        capture_output=True,
        encoding="utf-8",
    )
    return answer.returncode, answer.stdout + answer.stderr


@pytest.fixture
def skeleton(checkout, tmp_path) -> Path:
    """The project's contracts over a package of the same names with nothing in it."""
    (tmp_path / "pyproject.toml").write_bytes((checkout / "pyproject.toml").read_bytes())
    (tmp_path / "shopguide").mkdir()
    (tmp_path / "shopguide" / "__init__.py").touch()
    for name in list_layers(checkout):
        plant(tmp_path, name, "")
    return tmp_path


def plant(folder: Path, package: str, line: str) -> None:
    """Put one import into a package of the skeleton; errors and cli are packages there too."""
    place = folder / "shopguide" / package
    if package == "__main__":
        place.with_suffix(".py").write_text(line + "\n")
        return
    place.mkdir(exist_ok=True)
    (place / "__init__.py").touch()
    (place / "planted.py").write_text(line + "\n")


def test_the_project_keeps_its_arrows(checkout):
    code, report = lint(checkout)
    assert code == 0, report
    contracts = read_settings(checkout)["tool"]["importlinter"]["contracts"]
    assert f"{len(contracts)} kept, 0 broken" in report


def test_every_layer_is_really_there(checkout):
    found = {path.stem for path in (checkout / "shopguide").iterdir() if path.suffix in ("", ".py")}
    assert found - {"__init__", "__pycache__"} == set(list_layers(checkout))


def test_a_faultless_skeleton_passes(skeleton):
    for package, line in ALLOWED.items():
        plant(skeleton, package, line)
    code, report = lint(skeleton)
    assert code == 0, report


@pytest.mark.parametrize(("contract", "package", "line", "told"), FAULTS)
def test_a_planted_fault_is_caught(skeleton, checkout, contract, package, line, told):
    plant(skeleton, package, line)
    code, report = lint(skeleton)
    names = {
        each["id"]: each["name"]
        for each in read_settings(checkout)["tool"]["importlinter"]["contracts"]
    }
    assert code == 1, report
    assert f"{names[contract]} BROKEN" in report
    assert report.count("BROKEN") == 1
    assert told in report


def test_every_contract_has_its_planted_fault(checkout):
    contracts = read_settings(checkout)["tool"]["importlinter"]["contracts"]
    assert {fault[0] for fault in FAULTS} == {contract["id"] for contract in contracts}


def test_only_the_window_needs_qt(checkout):
    answer = subprocess.run(
        [sys.executable, "-c", IMPORT_WITHOUT_QT],
        cwd=checkout,
        capture_output=True,
        encoding="utf-8",
    )
    assert answer.returncode == 0, answer.stderr
    imported = {name.split(".")[1] for name in answer.stdout.split()}
    assert imported == set(list_layers(checkout)) - {"window", "__main__"}
