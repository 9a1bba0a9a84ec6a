"""Sets the program up in .venv beside this folder and starts it on a sample job, or tests it.

    python3 resources/start.py                the program, on a sample job
    python3 resources/start.py test [...]     every check; what follows goes to pytest

Needs nothing but Python's standard library, and is written so that an old Python can still read
it far enough to say what is wrong.
"""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
SAMPLE = "sample_jobs/gearbox_sump_cover"
OLDEST_PYTHON = (3, 11)
NEWER_PYTHONS = ("python3.13", "python3.12", "python3.14", "python3.11", "python3")

# The Debian package of each shared library that Qt wants from the system. A bare container has
# none of them; a desktop usually lacks only libxcb-cursor.
LIBRARY_PACKAGES = {
    "libEGL.so.1": "libegl1",
    "libGL.so.1": "libgl1",
    "libGLX.so.0": "libglx0",
    "libOpenGL.so.0": "libopengl0",
    "libX11.so.6": "libx11-6",
    "libX11-xcb.so.1": "libx11-xcb1",
    "libdbus-1.so.3": "libdbus-1-3",
    "libfontconfig.so.1": "libfontconfig1",
    "libfreetype.so.6": "libfreetype6",
    "libglib-2.0.so.0": "libglib2.0-0",
    "libgthread-2.0.so.0": "libglib2.0-0",
    "libgssapi_krb5.so.2": "libgssapi-krb5-2",
    "libpulse.so.0": "libpulse0",
    "libstdc++.so.6": "libstdc++6",
    "libwayland-client.so.0": "libwayland-client0",
    "libwayland-cursor.so.0": "libwayland-cursor0",
    "libwayland-egl.so.1": "libwayland-egl1",
    "libxcb.so.1": "libxcb1",
    "libxcb-cursor.so.0": "libxcb-cursor0",
    "libxcb-icccm.so.4": "libxcb-icccm4",
    "libxcb-image.so.0": "libxcb-image0",
    "libxcb-keysyms.so.1": "libxcb-keysyms1",
    "libxcb-randr.so.0": "libxcb-randr0",
    "libxcb-render.so.0": "libxcb-render0",
    "libxcb-render-util.so.0": "libxcb-render-util0",
    "libxcb-shape.so.0": "libxcb-shape0",
    "libxcb-shm.so.0": "libxcb-shm0",
    "libxcb-sync.so.1": "libxcb-sync1",
    "libxcb-util.so.1": "libxcb-util1",
    "libxcb-xfixes.so.0": "libxcb-xfixes0",
    "libxcb-xkb.so.1": "libxcb-xkb1",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libxkbcommon-x11.so.0": "libxkbcommon-x11-0",
    "libz.so.1": "zlib1g",
    "libzstd.so.1": "libzstd1",
}
QT_PARTS = (
    "QtWidgets",
    "QtSvg",
    "QtPdf",
    "QtPdfWidgets",
    "QtPrintSupport",
    "QtTest",
)
CAMERA_PARTS = ("QtMultimedia",)
"""Without what these need there is no camera, and everything else works."""


class Stop(Exception):
    """Setting up cannot go on; its text says why and what to do."""


def say(text: str) -> None:
    """Print a line at once, so that it keeps its place among what the started programs print."""
    print(text, flush=True)


def run(command: list, **options) -> int:
    """Run a program in the project's folder, its output shown; returns its exit code."""
    sys.stdout.flush()
    return subprocess.call([str(part) for part in command], cwd=str(ROOT), **options)


# Python itself


def find_newer_python() -> str:
    """The path of a Python on this machine that is new enough, or "" when there is none."""
    for name in NEWER_PYTHONS:
        path = shutil.which(name)
        if path is None:
            continue
        question = f"import sys; sys.exit(sys.version_info < {OLDEST_PYTHON})"
        if subprocess.call([path, "-c", question], stderr=subprocess.DEVNULL) == 0:
            return path
    return ""


def move_to_newer_python(arguments: list) -> int:
    """Start this file again with a newer Python and return its exit code."""
    path = find_newer_python()
    if not path:
        raise Stop(
            "This needs Python 3.11 or newer and this is Python {}.{}. Install a newer one and "
            "start this file with it: python3.11 resources/start.py".format(*sys.version_info[:2])
        )
    return subprocess.call([path, str(Path(__file__).resolve()), *arguments])


def find_venv_program(name: str) -> Path:
    """Where a program of the project's own environment is, there or not."""
    if os.name == "nt":
        return VENV / "Scripts" / (name + ".exe")
    return VENV / "bin" / name


def make_venv() -> None:
    """Make .venv afresh, with Debian's missing piece installed when that is possible."""
    say("Making .venv ...")
    if not has_ensurepip():
        package = "python{}.{}-venv".format(*sys.version_info[:2])
        install_packages([package], "This Python cannot make environments without one more piece.")
    if run([sys.executable, "-m", "venv", "--clear", VENV]) != 0:
        raise Stop("The folder .venv could not be made; Python's own words are above.")


def has_ensurepip() -> bool:
    """Whether this Python can put pip into a new environment (Debian keeps that part apart)."""
    # Another process, for a package installed just now is not seen by this one's import.
    command = [sys.executable, "-c", "import ensurepip, venv"]
    return subprocess.call(command, stderr=subprocess.DEVNULL) == 0


# What is installed in .venv


def name_python() -> str:
    """Which Python and which checkout .venv is bound to; for another one it is made afresh."""
    return " | ".join((sys.version, sys.base_prefix, str(ROOT)))


def take_fingerprint() -> str:
    """What the installation depends on besides. The program's own source is not in it, for it is
    installed as a pointer to the checkout."""
    return hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()


def read_stamp() -> dict:
    """What the last whole installation noted in .venv; empty when there is none to build on."""
    try:
        stamp = json.loads((VENV / "installed.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(stamp, dict) or not find_venv_program("python").exists():
        return {}
    return stamp if stamp.get("python") == name_python() else {}


def install(with_tests: bool) -> bool:
    """Make .venv hold the program and, if asked, what the checks need; False if it did already."""
    stamp = read_stamp()
    with_tests = with_tests or stamp.get("tests", False)
    wanted = {"python": name_python(), "project": take_fingerprint(), "tests": with_tests}
    if stamp == wanted:
        return False
    if not stamp:
        make_venv()
    say("Installing shopguide and what it needs into .venv; the first time takes some minutes ...")
    command = [find_venv_program("python"), "-m", "pip", "install"]
    command += ["--disable-pip-version-check"]
    if not sys.stdout.isatty():
        command += ["--quiet"]
    command += ["--editable", ".[test]" if with_tests else "."]
    if run(command) != 0:
        raise Stop("Installing failed; pip's own words are above. Is the network there? Try again.")
    # Written last, so that an installation broken off is begun again.
    (VENV / "installed.json").write_text(json.dumps(wanted), encoding="utf-8")
    return True


# What Qt needs from the system


def list_camera_files() -> list:
    """The files of Qt that take pictures."""
    for folder in sorted(VENV.glob("lib*/python*/site-packages/PySide6")):
        files = [folder / (part + ".abi3.so") for part in CAMERA_PARTS]
        return [file for file in files if file.exists()]
    return []


def list_qt_files(platforms: tuple) -> list:
    """The files of Qt whose libraries must be there, with the named platform plugins."""
    for folder in sorted(VENV.glob("lib*/python*/site-packages/PySide6")):
        files = [folder / (part + ".abi3.so") for part in QT_PARTS]
        plugins = folder / "Qt" / "plugins"
        files += [plugins / "platforms" / ("libq" + name + ".so") for name in platforms]
        files += sorted((plugins / "imageformats").glob("*.so"))
        return [file for file in files if file.exists()]
    return []


def read_missing_libraries(ldd_output: str) -> list:
    """The names of the libraries that ldd's output says are not found, each once."""
    return sorted(set(re.findall(r"^\s*(\S+) => not found", ldd_output, re.MULTILINE)))


def find_missing_libraries(platforms: tuple) -> list:
    """The shared libraries that Qt needs here and this machine lacks."""
    return find_missing(list_qt_files(platforms))


def find_missing(files: list) -> list:
    """The shared libraries that these files need and this machine lacks."""
    if not files or shutil.which("ldd") is None:
        return []
    answer = subprocess.run(
        ["ldd", *map(str, files)],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        env=dict(os.environ, LC_ALL="C"),
    )
    return read_missing_libraries(answer.stdout)


def name_packages(libraries: list) -> list:
    """The Debian packages that hold these libraries, each once; a library nobody knows is left."""
    known = {LIBRARY_PACKAGES[name] for name in libraries if name in LIBRARY_PACKAGES}
    return sorted(known)


def check_libraries(platforms: tuple) -> None:
    """See that Qt finds its libraries; install them where that is possible, else say how."""
    missing = find_missing_libraries(platforms)
    if not missing:
        return
    packages = name_packages(missing)
    # Where packages can be named, their names say it; a long list of files helps nobody.
    named = "" if packages else " ({})".format(", ".join(missing))
    install_packages(packages, f"Qt needs shared libraries that this machine lacks{named}.")
    missing = find_missing_libraries(platforms)
    if missing:
        raise Stop("Qt still lacks {}: install what holds them.".format(", ".join(missing)))


def check_camera_libraries() -> None:
    """See to the libraries of the camera; without them the program works all the same."""
    missing = find_missing(list_camera_files())
    if not missing:
        return
    why = "The camera needs shared libraries that this machine lacks."
    try:
        install_packages(name_packages(missing), why)
    except Stop as stop:
        say(f"{stop}\nGoing on without the camera: pictures can be added from files.")


def install_packages(packages: list, why: str) -> None:
    """Install Debian packages when this is root on such a system, else stop with the line to run.

    why: what the person is told first.
    """
    apt = shutil.which("apt-get")
    install_command = ["apt-get", "install", "-y", "--no-install-recommends", *packages]
    if apt is None:
        wanted = " ".join(packages) or "them"
        raise Stop(f"{why} Install {wanted} (Debian's names) with your system's package tool.")
    if not packages or not is_root():
        line = " ".join(["sudo apt-get update && sudo", *install_command])
        raise Stop(f"{why} Run this, then start again:\n    {line}" if packages else why)
    say(f"{why} Installing {' '.join(packages)} ...")
    environment = dict(os.environ, DEBIAN_FRONTEND="noninteractive")
    with tempfile.TemporaryFile() as output:
        # An update that fails for one source may still have brought what is wanted.
        run(["apt-get", "update"], env=environment, stdout=output, stderr=output)
        code = run(install_command, env=environment, stdout=output, stderr=output)
        if code != 0:
            output.seek(0)
            say(output.read().decode("utf-8", "replace"))
            raise Stop("apt-get could not install them; its own words are above.")


def is_root() -> bool:
    """Whether this may install packages for the whole machine."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


# The screen


def choose_platforms(environment: dict) -> tuple:
    """Qt's platform plugins that a window needs here on Linux; empty when there is no screen."""
    named = environment.get("QT_QPA_PLATFORM", "").split(":")[0].split(";")[0]
    if named in ("offscreen", "minimal"):
        return ()
    if environment.get("DISPLAY"):
        return ("xcb",)
    if environment.get("WAYLAND_DISPLAY"):
        return ("wayland",)
    return (named,) if named else ()


def opens_a_window() -> bool:
    """Whether Qt can really reach the screen that the environment names."""
    command = [find_venv_program("python"), "-c"]
    command += ["from PySide6.QtGui import QGuiApplication; QGuiApplication([])"]
    return run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) == 0


def start_program() -> int:
    """Start the program on the sample job, or rehearse it where there is no screen."""
    install(with_tests=False)
    if sys.platform in ("win32", "darwin"):
        return run([find_venv_program("python"), "-m", "shopguide", SAMPLE])
    platforms = choose_platforms(dict(os.environ))
    check_libraries(platforms)
    check_camera_libraries()
    if platforms and opens_a_window():
        return run([find_venv_program("python"), "-m", "shopguide", SAMPLE])
    return rehearse()


def rehearse() -> int:
    """Work the sample job through without a screen, and name the pictures and the paper made."""
    folder = Path(tempfile.mkdtemp(prefix="shopguide-rehearsal-"))
    say(f"No screen here, so the sample job is rehearsed by itself; what it makes goes to {folder}")
    environment = dict(os.environ, QT_QPA_PLATFORM="offscreen")
    command = [find_venv_program("python"), "-m", "shopguide", "rehearse", SAMPLE, "--out", folder]
    code = run(command, env=environment)
    made = sorted(path for path in folder.rglob("*") if path.suffix in (".png", ".pdf"))
    for path in made:
        say(f"    {path}")
    if code == 0 and {path.suffix for path in made} != {".png", ".pdf"}:
        raise Stop("The rehearsal ended without its pictures or its PDF; they should be above.")
    return code


# The checks


def run_checks(pytest_arguments: list) -> int:
    """Install what the checks need, run them all, pytest last; 0 when every one is good."""
    install(with_tests=True)
    environment = dict(os.environ, QT_QPA_PLATFORM="offscreen")
    if sys.platform not in ("win32", "darwin"):
        check_libraries(("offscreen",))
        check_camera_libraries()
        # Qt warns under a locale that is not UTF-8, and a warning fails a test.
        environment["LC_ALL"] = "C.UTF-8"
    python = find_venv_program("python")
    checks = (
        ("ruff check", [python, "-m", "ruff", "check", "."]),
        ("ruff format", [python, "-m", "ruff", "format", "--check", "."]),
        ("import arrows", [find_venv_program("lint-imports"), "--no-cache"]),
        ("pytest", [python, "-m", "pytest", *pytest_arguments]),
    )
    failed = []
    for name, command in checks:
        if name == "pytest" and failed:
            say("Not good so far: {}. The tests run all the same.".format(", ".join(failed)))
        say(f"== {name}")
        if run(command, env=environment) != 0:
            failed.append(name)
    return 1 if failed else 0


def main(arguments: list) -> int:
    """Do what the arguments ask; returns the exit code: 0 good, 1 a check failed, 2 cannot run."""
    try:
        if arguments and arguments[0] != "test":
            say(__doc__.strip())
            return 0 if arguments[0] in ("-h", "--help") else 2
        if sys.version_info < OLDEST_PYTHON:
            return move_to_newer_python(arguments)
        return run_checks(arguments[1:]) if arguments else start_program()
    except Stop as stop:
        print(stop, file=sys.stderr, flush=True)
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
