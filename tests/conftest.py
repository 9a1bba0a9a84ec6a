"""What every test stands on: no screen, no real keyring, and a user's folder of its own."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

# Set before Qt or keyring is imported by any test, and handed on to the processes tests start.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ["PYTHON_KEYRING_BACKEND"] = "keyring.backends.fail.Keyring"
if os.name == "posix" and not os.environ.get("XDG_RUNTIME_DIR"):
    # Qt warns when it has to choose this folder by itself, and a warning fails a test.
    os.environ["XDG_RUNTIME_DIR"] = tempfile.mkdtemp(prefix="shopguide-tests-")

import hypothesis
import pytest

# Two cores shared with other work make single examples slow now and then: no deadline.
hypothesis.settings.register_profile("bench", deadline=None)
# The same examples at every run, so that a red run is about the change and not about luck.
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True, database=None)
hypothesis.settings.load_profile("ci" if os.environ.get("CI") else "bench")


def pytest_addoption(parser: pytest.Parser) -> None:
    """The flags of this project's own tests."""
    parser.addoption(
        "--kills", type=int, default=20, help="how often tests/stories/test_kill.py kills"
    )
    parser.addoption(
        "--deeds", type=int, default=150, help="how much tests/window/test_write_undo.py does"
    )


@pytest.fixture(autouse=True)
def user_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """An empty user's folder for this test alone; what `places.user_folder()` answers."""
    folder = tmp_path_factory.mktemp("home")
    # A patch of its own: a test that undoes its patches must not come to the real user's folder.
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SHOPGUIDE_HOME", str(folder))
        yield folder


@pytest.fixture(scope="session")
def checkout() -> Path:
    """The project's top folder."""
    return Path(__file__).resolve().parent.parent


@pytest.fixture(scope="session")
def sample(checkout: Path) -> Path:
    """The shipped sample sheet."""
    return checkout / "sample_jobs" / "gearbox_sump_cover"


@pytest.fixture(scope="session")
def bare_sample(sample: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample sheet without its pictures, so that it is opened quickly."""
    # Imported here, for many tests do without the models.
    from shopguide.job.files import load_sheet, save_sheet

    sheet = load_sheet(sample).sheet
    stages = tuple(
        stage.model_copy(
            update={"steps": tuple(s.model_copy(update={"photos": ()}) for s in stage.steps)}
        )
        for stage in sheet.stages
    )
    patterns = tuple(p.model_copy(update={"photo": None}) for p in sheet.patterns)
    folder = tmp_path_factory.mktemp("bare")
    save_sheet(sheet.model_copy(update={"stages": stages, "patterns": patterns}), folder)
    return folder
