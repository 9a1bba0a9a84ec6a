"""Where things are: the program's own resources and sample sheets, and the user's folder."""

from __future__ import annotations

import os
from pathlib import Path

import platformdirs

from shopguide.errors import Trouble

HOME_VARIABLE = "SHOPGUIDE_HOME"

_PACKAGE = Path(__file__).resolve().parent
# The wheel carries resources/ and sample_jobs/ inside the package; in a checkout they stand beside
# it. The wheel's copy is asked first, for beside an installed package lie other people's folders.
_SHIPPED = _PACKAGE / "_shipped"
_ROOT = _SHIPPED if _SHIPPED.is_dir() else _PACKAGE.parent


def find_resource(*parts: str) -> Path:
    """The path of a file or folder in resources/, as in `find_resource("fonts", "DejaVuSans.ttf")`.

    Without parts it is resources/ itself. Raises Trouble when the installation lacks it.
    """
    path = _ROOT.joinpath("resources", *parts)
    if not path.exists():
        raise Trouble(
            "A part of the program is missing.",
            where=str(path),
            next="Install shopguide again; its own files are not complete.",
        )
    return path


def list_samples() -> tuple[Path, ...]:
    """The sample job sheets that come with the program, by name; each a folder with a job.json."""
    return tuple(sorted(sheet.parent for sheet in (_ROOT / "sample_jobs").glob("*/job.json")))


def user_folder() -> Path:
    """The user's own folder for records, settings and identity, made when it is not there yet.

    The environment variable SHOPGUIDE_HOME names another one. Raises Trouble when it cannot be
    made.
    """
    named = os.environ.get(HOME_VARIABLE, "").strip()
    if named:
        folder = Path(named).expanduser().absolute()
    else:
        folder = Path(platformdirs.user_data_dir("shopguide", appauthor=False))
    return _make_folder(folder)


def records_folder() -> Path:
    """Where record files are kept; made when it is not there yet."""
    return _make_folder(user_folder() / "records")


def identity_folder() -> Path:
    """Where the signing key and certificate are kept, closed to other users; made when needed."""
    folder = _make_folder(user_folder() / "identity")
    # Windows keeps a user's data folder private already and knows no such mode.
    if os.name == "posix" and folder.stat().st_mode & 0o077:
        try:
            folder.chmod(0o700)
        except OSError as error:
            raise _folder_trouble(folder, error) from error
    return folder


def log_file() -> Path:
    """The file that tracebacks go to, in the user's folder; it need not exist yet."""
    return user_folder() / "shopguide.log"


def _make_folder(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _folder_trouble(folder, error) from error
    return folder


def _folder_trouble(folder: Path, error: OSError) -> Trouble:
    return Trouble(
        f"The folder for your records cannot be used ({error.strerror or error}).",
        where=str(folder),
        next=f"Free the place or its rights, or name another folder in {HOME_VARIABLE}.",
    )
