"""resources/start.py: what it installs and when, what it says, and what it starts."""

from __future__ import annotations

import ast
import importlib.util
import json
import os
import sys
from pathlib import Path

import pytest

LDD = """libqxcb.so:
\tlinux-vdso.so.1 (0x00007ffd)
\tlibxcb-cursor.so.0 => not found
\tlibQt6Gui.so.6 => /somewhere/libQt6Gui.so.6 (0x00007f)
\tlibEGL.so.1 => not found
libqoffscreen.so:
\tlibEGL.so.1 => not found
"""


@pytest.fixture
def start(checkout, tmp_path, monkeypatch):
    """The script as a module, its checkout an empty project in a temporary folder."""
    spec = importlib.util.spec_from_file_location("start", checkout / "resources" / "start.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    return module


@pytest.fixture
def ran(start, monkeypatch) -> list[list[str]]:
    """The commands the script runs, none of them really; making an environment puts Python in."""
    commands: list[list[str]] = []

    def note(command, **options):
        commands.append([str(part) for part in command])
        if "venv" in commands[-1]:
            python = start.find_venv_program("python")
            python.parent.mkdir(parents=True, exist_ok=True)
            python.touch()
        return 0

    monkeypatch.setattr(start, "run", note)
    monkeypatch.setattr(start, "has_ensurepip", lambda: True)
    return commands


# The file itself


def test_it_needs_the_standard_library_alone(checkout):
    tree = ast.parse((checkout / "resources" / "start.py").read_text(encoding="utf-8"))
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {alias.name.partition(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add(node.module.partition(".")[0])
    assert names
    assert names <= sys.stdlib_module_names


def test_an_old_python_can_read_it(checkout):
    ast.parse((checkout / "resources" / "start.py").read_text("utf-8"), feature_version=(3, 7))


# Python


def test_an_old_python_without_a_newer_one_is_told_what_to_do(start, monkeypatch, capsys):
    monkeypatch.setattr(start, "OLDEST_PYTHON", (99, 0))
    assert start.main([]) == 2
    told = capsys.readouterr().err
    assert "{}.{}".format(*sys.version_info[:2]) in told
    assert "Install a newer one" in told


def test_an_old_python_hands_over_to_a_newer_one(start, monkeypatch):
    started = []
    monkeypatch.setattr(start, "OLDEST_PYTHON", (99, 0))
    monkeypatch.setattr(start, "find_newer_python", lambda: "newer")
    monkeypatch.setattr(start.subprocess, "call", lambda command: started.append(command) or 7)
    assert start.main(["test", "-x"]) == 7
    ((python, script, *arguments),) = started
    assert (python, Path(script).name, arguments) == ("newer", "start.py", ["test", "-x"])


def test_a_python_that_is_new_enough_is_found_on_the_path(start, monkeypatch):
    monkeypatch.setattr(start, "NEWER_PYTHONS", ("no-such-python", sys.executable))
    assert start.find_newer_python() == sys.executable


# Installing


def test_nothing_is_installed_again_when_nothing_changed(start, ran):
    assert start.install(with_tests=False)
    assert [command[1:3] for command in ran] == [["-m", "venv"], ["-m", "pip"]]
    assert ran[1][-2:] == ["--editable", "."]
    ran.clear()
    assert not start.install(with_tests=False)
    assert ran == []


def test_the_checks_bring_what_they_need_and_it_stays(start, ran):
    start.install(with_tests=False)
    ran.clear()
    assert start.install(with_tests=True)
    ((*_, last),) = ran
    assert last == ".[test]"
    ran.clear()
    assert not start.install(with_tests=False)
    assert not start.install(with_tests=True)
    assert ran == []


def test_a_changed_project_file_is_installed_into_the_same_environment(start, ran):
    start.install(with_tests=True)
    ran.clear()
    (start.ROOT / "pyproject.toml").write_text("[project]\nname = 'other'\n")
    assert start.install(with_tests=False)
    ((*_, last),) = ran
    assert last == ".[test]"


def test_another_python_gets_a_new_environment(start, ran, monkeypatch):
    start.install(with_tests=False)
    ran.clear()
    monkeypatch.setattr(start.sys, "base_prefix", "elsewhere")
    assert start.install(with_tests=False)
    assert [command[1:3] for command in ran] == [["-m", "venv"], ["-m", "pip"]]


def test_a_broken_off_installation_is_begun_again(start, ran, monkeypatch):
    whole = start.run
    monkeypatch.setattr(start, "run", lambda command: whole(command) or int("pip" in command))
    with pytest.raises(start.Stop, match="Installing failed"):
        start.install(with_tests=False)
    monkeypatch.setattr(start, "run", whole)
    assert start.install(with_tests=False)


@pytest.mark.parametrize("text", ["", "[]", '{"python": 3}'])
def test_a_spoilt_note_is_not_trusted(start, ran, text):
    start.install(with_tests=False)
    ran.clear()
    (start.VENV / "installed.json").write_text(text)
    assert start.install(with_tests=False)
    assert ran[0][1:3] == ["-m", "venv"]


def test_debians_missing_piece_is_asked_for(start, ran, monkeypatch):
    asked = []
    monkeypatch.setattr(start, "has_ensurepip", lambda: False)
    monkeypatch.setattr(start, "install_packages", lambda packages, why: asked.append(packages))
    start.install(with_tests=False)
    assert asked == [["python{}.{}-venv".format(*sys.version_info[:2])]]


# Libraries


def test_missing_libraries_are_read_each_once(start):
    assert start.read_missing_libraries(LDD) == ["libEGL.so.1", "libxcb-cursor.so.0"]


def test_libraries_become_packages(start):
    libraries = ["libglib-2.0.so.0", "libgthread-2.0.so.0", "libEGL.so.1", "libstrange.so.4"]
    assert start.name_packages(libraries) == ["libegl1", "libglib2.0-0"]


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux is asked with ldd")
def test_qts_files_are_where_they_are_looked_for(start, monkeypatch):
    monkeypatch.setattr(start, "VENV", Path(sys.prefix))
    names = {path.name for path in start.list_qt_files(("xcb", "offscreen", "wayland"))}
    assert names >= {f"{part}.abi3.so" for part in start.QT_PARTS}
    assert names >= {"libqxcb.so", "libqoffscreen.so", "libqjpeg.so"}


def test_who_is_not_root_gets_the_line_to_run(start, ran, monkeypatch):
    monkeypatch.setattr(start.shutil, "which", lambda name: name)
    monkeypatch.setattr(start, "is_root", lambda: False)
    with pytest.raises(start.Stop) as caught:
        start.install_packages(["libegl1", "libgl1"], "Qt lacks them.")
    assert "sudo apt-get install -y --no-install-recommends libegl1 libgl1" in str(caught.value)
    assert ran == []


def test_root_installs_after_an_update_and_is_asked_nothing(start, monkeypatch):
    ran = []
    monkeypatch.setattr(start.shutil, "which", lambda name: name)
    monkeypatch.setattr(start, "is_root", lambda: True)
    monkeypatch.setattr(start, "run", lambda command, **given: ran.append((command, given)) or 0)
    start.install_packages(["libegl1"], "Qt lacks it.")
    assert [command[:2] for command, _ in ran] == [["apt-get", "update"], ["apt-get", "install"]]
    assert {given["env"]["DEBIAN_FRONTEND"] for _, given in ran} == {"noninteractive"}
    assert ran[1][0][-1] == "libegl1"


def test_another_system_gets_the_names(start, ran, monkeypatch):
    monkeypatch.setattr(start.shutil, "which", lambda name: None)
    with pytest.raises(start.Stop, match=r"Install libegl1 \(Debian's names\)"):
        start.install_packages(["libegl1"], "Qt lacks it.")
    assert ran == []


def test_libraries_of_no_known_package_are_named(start, ran, monkeypatch):
    monkeypatch.setattr(start, "find_missing_libraries", lambda platforms: ["libstrange.so.4"])
    monkeypatch.setattr(start.shutil, "which", lambda name: name)
    monkeypatch.setattr(start, "is_root", lambda: True)
    with pytest.raises(start.Stop, match=r"libstrange\.so\.4"):
        start.check_libraries(())
    assert ran == []


def test_libraries_that_stay_missing_stop_it(start, monkeypatch):
    monkeypatch.setattr(start, "find_missing_libraries", lambda platforms: ["libEGL.so.1"])
    monkeypatch.setattr(start, "install_packages", lambda packages, why: None)
    with pytest.raises(start.Stop, match=r"libEGL\.so\.1"):
        start.check_libraries(())


def test_without_the_cameras_libraries_it_goes_on_and_says_so(start, ran, monkeypatch, capsys):
    monkeypatch.setattr(start, "find_missing", lambda files: ["libpulse.so.0"])
    monkeypatch.setattr(start.shutil, "which", lambda name: name)
    monkeypatch.setattr(start, "is_root", lambda: False)
    start.check_camera_libraries()
    said = capsys.readouterr().out
    assert "sudo apt-get install -y --no-install-recommends libpulse0" in said
    assert "Going on without the camera" in said and ran == []


def test_root_gets_the_cameras_libraries(start, ran, monkeypatch):
    monkeypatch.setattr(start, "find_missing", lambda files: ["libpulse.so.0"])
    monkeypatch.setattr(start.shutil, "which", lambda name: name)
    monkeypatch.setattr(start, "is_root", lambda: True)
    start.check_camera_libraries()
    assert ran[-1][-1] == "libpulse0"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="only Linux is asked with ldd")
def test_the_cameras_files_are_where_they_are_looked_for(start, monkeypatch):
    monkeypatch.setattr(start, "VENV", Path(sys.prefix))
    assert [path.name for path in start.list_camera_files()] == ["QtMultimedia.abi3.so"]


# Screen and starting


@pytest.mark.parametrize(
    ("environment", "platforms"),
    [
        ({}, ()),
        ({"DISPLAY": ""}, ()),
        ({"DISPLAY": ":0"}, ("xcb",)),
        ({"WAYLAND_DISPLAY": "wayland-0"}, ("wayland",)),
        ({"DISPLAY": ":0", "WAYLAND_DISPLAY": "wayland-0"}, ("xcb",)),
        ({"DISPLAY": ":0", "QT_QPA_PLATFORM": "offscreen"}, ()),
        ({"QT_QPA_PLATFORM": "minimal:size=1"}, ()),
        ({"QT_QPA_PLATFORM": "vnc"}, ("vnc",)),
    ],
)
def test_the_screen_is_read_from_the_environment(start, environment, platforms):
    assert start.choose_platforms(environment) == platforms


@pytest.fixture
def installed(start, monkeypatch):
    monkeypatch.setattr(start, "install", lambda with_tests: False)
    monkeypatch.setattr(start, "check_camera_libraries", lambda: None)
    monkeypatch.setattr(start, "check_libraries", lambda platforms: None)
    monkeypatch.setattr(start.sys, "platform", "linux")
    return start


def test_with_a_screen_the_program_opens_the_sample(installed, ran, monkeypatch):
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    assert installed.main([]) == 0
    assert ran[-1][1:] == ["-m", "shopguide", "sample_jobs/gearbox_sump_cover"]


def rehearse_with(start, monkeypatch, tmp_path, names, code=0):
    folder = tmp_path / "rehearsed"
    folder.mkdir()
    commands = []

    def work(command, env):
        commands.append((command, env["QT_QPA_PLATFORM"]))
        for name in names:
            (folder / name).touch()
        return code

    monkeypatch.setattr(start.tempfile, "mkdtemp", lambda prefix: str(folder))
    monkeypatch.setattr(start, "run", work)
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    answer = start.main([])
    ((command, platform),) = commands
    assert command[1:4] == ["-m", "shopguide", "rehearse"]
    assert command[-2:] == ["--out", folder]
    assert platform == "offscreen"
    return answer


def test_without_a_screen_the_rehearsal_names_what_it_made(
    installed, monkeypatch, tmp_path, capsys
):
    names = ["work.png", "sign_off.png", "record.pdf"]
    assert rehearse_with(installed, monkeypatch, tmp_path, names) == 0
    first, *rest = capsys.readouterr().out.splitlines()
    assert first.startswith("No screen here")
    assert {Path(line.strip()).name for line in rest} == set(names)


def test_a_rehearsal_without_a_paper_is_no_success(installed, monkeypatch, tmp_path, capsys):
    assert rehearse_with(installed, monkeypatch, tmp_path, ["work.png"]) == 2
    assert "without its pictures or its PDF" in capsys.readouterr().err


def test_a_failed_rehearsal_hands_its_code_on(installed, monkeypatch, tmp_path):
    assert rehearse_with(installed, monkeypatch, tmp_path, [], code=2) == 2


def test_a_screen_that_cannot_be_reached_is_no_screen(installed, ran, monkeypatch):
    monkeypatch.setenv("DISPLAY", ":77")
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.setattr(installed, "opens_a_window", lambda: False)
    monkeypatch.setattr(installed, "rehearse", lambda: 5)
    assert installed.main([]) == 5
    assert ran == []


# The checks


def check_with(start, monkeypatch, failing):
    ran = []

    def work(command, env):
        words = " ".join(map(str, command))
        ran.append((words, env))
        return int(any(word in words for word in failing))

    monkeypatch.setattr(start, "run", work)
    return start.main(["test", "-k", "places"]), ran


def test_all_checks_run_and_pytest_is_the_last(installed, monkeypatch):
    code, ran = check_with(installed, monkeypatch, [])
    assert code == 0
    kinds = ["ruff check", "ruff format --check", "lint-imports", "pytest -k places"]
    assert len(ran) == len(kinds)
    for kind, (words, env) in zip(kinds, ran, strict=True):
        assert kind in words
        assert env["QT_QPA_PLATFORM"] == "offscreen"


@pytest.mark.parametrize("failing", ["ruff check", "--check .", "lint-imports", "-m pytest"])
def test_one_failing_check_fails_the_whole_and_stops_nothing(installed, monkeypatch, failing):
    code, ran = check_with(installed, monkeypatch, [failing])
    assert code == 1
    assert len(ran) == 4


@pytest.mark.parametrize(("arguments", "code"), [(["--help"], 0), (["tset"], 2)])
def test_it_tells_how_it_is_used(start, ran, capsys, arguments, code):
    assert start.main(arguments) == code
    assert "python3 resources/start.py test" in capsys.readouterr().out
    assert ran == []


def test_the_ci_runs_the_very_command(checkout):
    lines = (checkout / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert lines[-1] == "exec python3 resources/start.py test"
    assert os.name == "nt" or os.access(checkout / ".ci" / "run", os.X_OK)
    assert json.dumps(lines).count("pytest") == 0
