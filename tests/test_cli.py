"""The verbs as a person types them: what they print, their exit codes, and no traceback ever."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from shopguide import __main__, __version__, cli, places
from shopguide.errors import Trouble
from shopguide.record.file import RecordFile
from shopguide.work.progress import freeze_orders

SAMPLE = places.list_samples()[0]
PASSPHRASE = "one long word after another"


def refuse_window(path: Path | None) -> int:
    raise AssertionError("the window was opened")


def refuse_rehearsal(sheet: Path, out: Path) -> list[Path]:
    raise AssertionError("a rehearsal was begun")


@pytest.fixture
def run(capsys):
    """Runs a command line; gives its exit code, standard output and standard error."""

    def call(*words: object, **given: object) -> tuple[int, str, str]:
        doing = {
            "open_window": refuse_window,
            "rehearse": refuse_rehearsal,
            "write_log": __main__.write_log,
        }
        code = cli.run([str(word) for word in words], **{**doing, **given})
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


@pytest.fixture
def record_path(tmp_path) -> Path:
    """A record of the sample with a person in it, not signed off."""
    from shopguide.job.files import load_sheet
    from shopguide.job.picture import take_in

    opened = load_sheet(SAMPLE)
    photos = []
    for name in opened.names():
        kept = take_in(opened.photo_bytes(name))
        photos.append((name, kept.original, kept.paper, kept.width, kept.height))
    first = {
        "program": "test",
        "title": opened.sheet.title,
        "rehearsal": False,
        "orders": freeze_orders(opened.sheet),
    }
    record = RecordFile.create(tmp_path / "job.shopguide", opened.raw, photos, first)
    record.append("laid out", {"field": "person", "value": "Nobody Atall"})
    record.append("started", {})
    record.append("done", {"task": "1.1"})
    record.close()
    return record.path


# --- the command line itself --------------------------------------------------------------------


def test_version(run):
    assert run("--version") == (0, f"shopguide {__version__}\n", "")


@pytest.mark.parametrize("verb", ["review", "order", "torque", "rehearse", "export", "verify"])
def test_help_names_every_verb_and_each_has_its_own(run, verb):
    code, out, _ = run("--help")
    assert code == 0
    assert f"  {verb} " in out
    code, out, err = run(verb, "--help")
    assert (code, err) == (0, "")
    assert out.startswith(f"usage: shopguide {verb}")


def test_help_has_examples_that_run(run):
    _, out, _ = run("--help")
    assert "shopguide order --circle 12 --json" in out
    assert f"shopguide review {cli.SAMPLE}" in out


def test_without_a_verb_the_window_opens(run):
    opened = []
    assert run(open_window=lambda path: opened.append(path) or 0)[0] == 0
    assert run(SAMPLE, open_window=lambda path: opened.append(path) or 0)[0] == 0
    assert opened == [None, SAMPLE]


def test_a_first_word_that_is_a_verb_is_a_verb(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("review").mkdir()
    assert run("review")[0] == 2
    opened = []
    run("./review", open_window=lambda path: opened.append(path) or 0)
    assert opened == [Path("review")]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["nowhere"], "neither a verb nor a file"),
        (["verify", "nowhere"], "nothing of this name"),
        (["review", "nowhere"], "nothing of this name"),
        (["export", "nowhere", "--out", "x.pdf"], "nothing of this name"),
        (["rehearse", "nowhere", "--out", "x"], "nothing of this name"),
        (["order"], "exactly one"),
        (["order", "--circle", "4", "--points", "x.csv"], "exactly one"),
        (["order", "--circle", "4", "--pattern", "cover"], "exactly one"),
        (["order", "--circle", "0"], "cannot be put in order"),
        (["order", "--circle", "many"], "many"),
        (["order", "--points", "nowhere.csv"], "no such file"),
        (["order", str(SAMPLE), "--pattern", "lid"], 'no pattern "lid"'),
        (["export"], "RECORD"),
        (["verify", "--jason", "x"], "--jason"),
        (["--jason"], "--jason"),
    ],
)
def test_what_cannot_run_is_told_in_three_parts(run, words, said):
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert said in err
    what, _, then = err.strip().partition("\n")
    assert ": " in what  # where, and what happened
    assert then.endswith(".")  # what to do next
    assert "Traceback" not in err


def test_an_unexpected_fault_is_one_sentence_and_a_log(run, user_home):
    def break_down(path: Path | None) -> int:
        raise ZeroDivisionError("inside")

    code, out, err = run(open_window=break_down)
    assert (code, out) == (2, "")
    assert err.count("\n") == 1
    assert "ZeroDivisionError" not in err
    assert str(user_home / "shopguide.log") in err
    log = (user_home / "shopguide.log").read_text(encoding="utf-8")
    assert "Traceback" in log
    assert "ZeroDivisionError: inside" in log


def test_the_small_verbs_import_nothing_large(checkout):
    script = (
        "import sys; from shopguide.__main__ import main; code = main(sys.argv[1:]);"
        "print(sorted({name.partition('.')[0] for name in sys.modules}), code, file=sys.stderr)"
    )
    answer = subprocess.run(
        [sys.executable, "-c", script, "--version"],
        cwd=checkout,
        capture_output=True,
        encoding="utf-8",
    )
    assert answer.stdout == f"shopguide {__version__}\n"
    for name in ("PySide6", "pint", "reportlab", "pyhanko", "pikepdf", "pydantic", "numpy"):
        assert f"'{name}'" not in answer.stderr
    assert "'argparse'" in answer.stderr  # the list is one of modules


def test_a_reader_that_goes_away_ends_it_quietly(checkout):
    with subprocess.Popen(
        [sys.executable, "-m", "shopguide", "order", "--circle", "500", "--json"],
        cwd=checkout,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None and process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""


# --- order --------------------------------------------------------------------------------------


def test_the_order_of_a_circle(run):
    code, out, _ = run("order", "--circle", "12", "--json")
    # The star row of 12; tests/published/ says what it rests on.
    assert (code, json.loads(out)["order"]) == (0, [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12])
    code, out, _ = run("order", "--circle", "4")
    assert (code, out.splitlines()[-1]) == (0, "1 3 2 4")


def test_the_order_of_a_table(run, tmp_path):
    table = tmp_path / "seats.csv"
    table.write_text("number,x_mm,y_mm\n11,0,10\n12,10,0\n13,0,-10\n14,-10,0\n")
    code, out, _ = run("order", "--points", table, "--json")
    assert (code, json.loads(out)["order"]) == (0, [11, 13, 12, 14])


def test_a_table_with_a_slip_is_told_with_its_line(run, tmp_path):
    table = tmp_path / "seats.csv"
    table.write_text("number,x_mm,y_mm\n1,0,10\n2,ten,0\n")
    code, _, err = run("order", "--points", table)
    assert code == 2
    assert "seats.csv, line 3" in err


def test_the_orders_and_passes_of_a_sheet(run):
    code, out, _ = run("order", SAMPLE)
    assert code == 0
    assert "Sump cover, 16 screws (cover): the manual's order" in out
    assert "Undertray, 8 screws (undertray): computed order" in out
    assert "  pass 2: back off: 16 15 14 13 12 11 10 9 8 7 6 5 4 3 2 1" in out
    assert "  pass 3: to torque, 9 N·m ±1 N·m: 1 2 3" in out


def test_the_order_of_one_pattern_as_json(run):
    code, out, _ = run("order", SAMPLE, "--pattern", "cover", "--json")
    told = json.loads(out)
    assert code == 0
    assert told["order"] == list(range(1, 17))
    assert (told["pattern"], told["by"]) == ("cover", "manual")
    (task,) = told["tasks"]
    assert [one["kind"] for one in task["passes"]] == ["torque", "back off", "torque"]
    assert task["passes"][1]["order"] == list(range(16, 0, -1))


def test_all_patterns_as_json_keep_the_first_at_the_top(run):
    told = json.loads(run("order", SAMPLE, "--json")[1])
    assert told["order"] == told["patterns"][0]["order"]
    assert [one["pattern"] for one in told["patterns"]] == ["cover", "filter", "undertray"]


# --- review -------------------------------------------------------------------------------------


def write_sheet(folder: Path, **changes: object) -> Path:
    sheet = {
        "format": "shopguide-job/1",
        "title": "Cover",
        "author": "Nobody",
        "date": "2024-04-03",
        "stages": [
            {
                "title": "All",
                "steps": [
                    {
                        "title": "Only step",
                        "tasks": [
                            {"kind": "open", "text": "Off.", "how": "remove", "item": "cover"}
                        ],
                    }
                ],
            }
        ],
    }
    folder.mkdir()
    (folder / "job.json").write_text(json.dumps({**sheet, **changes}))
    return folder


def test_a_sheet_with_hints_only_is_good(run):
    code, out, _ = run("review", SAMPLE)
    assert code == 0
    assert "hint: " in out


def test_a_sheet_with_an_open_question_is_found_wanting(run, tmp_path):
    code, out, err = run("review", write_sheet(tmp_path / "sheet"), "--json")
    told = json.loads(out)
    assert (code, err) == (1, "")
    assert told["sheet"] == "Cover"
    (finding,) = told["findings"]
    assert finding["rule"] == "opened is closed"
    assert finding["where"] == "step 1, 'Only step', open 1"


def test_a_sheet_that_does_not_load_is_found_wanting_with_every_fault(run, tmp_path):
    folder = write_sheet(tmp_path / "sheet", titel="Cover", date="someday")
    code, out, err = run("review", folder)
    assert (code, err) == (1, "")
    assert out.count("stops work: ") == 2
    assert '"title"' in out  # the misspelt key is told with the nearest known one
    assert "Traceback" not in out


# --- torque -------------------------------------------------------------------------------------


def test_a_torque_in_all_units(run):
    code, out, err = run("torque", "12 N·m")
    assert (code, err) == (0, "")
    assert out.splitlines()[:3] == ["12 N·m", "  106 lbf·in", "  8.85 lbf·ft"]
    code, out, _ = run("torque", "12 N·m", "--json")
    told = json.loads(out)
    figures = {each["unit"]: each["value"] for each in told["units"]}
    assert code == 0 and figures["N·m"] == 12
    assert figures["lbf·in"] == pytest.approx(106.20895, abs=1e-5)
    assert "setting" not in told


def test_a_setting_is_told_in_the_unit_the_torque_was_given_in(run):
    adapter = ("--wrench-length", "300 mm", "--adapter", "40 mm", "--angle", "45")
    _, out, _ = run("torque", "12 N·m", *adapter)
    assert "Set 10.97 N·m with the 40 mm adapter at 45°." in out
    assert "middle of the grip" in out
    _, out, _ = run("torque", "12 N·m", *adapter, "--json")
    assert json.loads(out)["setting"] == {"value": pytest.approx(10.9661056), "unit": "N·m"}
    # Source: Robinson R66 maintenance manual, section 20, page 20.4.
    _, out, _ = run(
        "torque", "135 lbf·in", "--wrench-length", "10 in", "--adapter", "1.5 in", "--json"
    )
    assert json.loads(out)["setting"] == {"value": pytest.approx(117.391304), "unit": "lbf·in"}
    _, out, _ = run("torque", "12 N·m", *adapter[:5], "135°")
    assert "Set 13.25 N·m" in out and "Beyond 90°" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["12"], "no unit"),
        (["12 mm"], "not a torque"),
        (["12 N·m", "--adapter", "40 mm", "--angle", "45"], "length of the wrench"),
        (["12 N·m", "--angle", "45"], "no adapter is given"),
        (["12 N·m", "--wrench-length", "0 mm"], "above nought"),
        (["12 N·m", "--wrench-length", "300 mm", "--adapter", "40"], "no unit"),
        (["12 N·m", "--wrench-length", "300 mm", "--adapter", "40 mm", "--angle", "-45"], "below"),
        (["12 N·m", "--wrench-length", "300 mm", "--adapter", "40 mm", "--angle", "nan"], "angle"),
        (["12 N·m", "--wrench-length", "3 mm", "--adapter", "40 mm", "--angle", "180"], "the grip"),
    ],
)
def test_a_setting_that_cannot_be_found_is_a_sentence(run, words, said):
    code, out, err = run("torque", *words)
    assert (code, out) == (2, "")
    assert said in err and "Traceback" not in err


# --- rehearse -----------------------------------------------------------------------------------


def test_a_rehearsal_names_what_it_left(run, tmp_path):
    asked = []

    def pretend(sheet: Path, out: Path) -> list[Path]:
        asked.append((sheet, out))
        return [out / "01_shelf.png", out / "REHEARSAL.pdf"]

    code, out, _ = run("rehearse", SAMPLE, "--out", tmp_path, rehearse=pretend)
    assert code == 0
    assert asked == [(SAMPLE, tmp_path)]
    assert f"  {tmp_path / 'REHEARSAL.pdf'}\n" in out


def test_a_rehearsal_that_stands_still_cannot_run(run, tmp_path):
    def stop(sheet: Path, out: Path) -> list[Path]:
        raise Trouble("The rehearsal stands still.", "step 3", "Look at it.")

    assert run("rehearse", SAMPLE, "--out", tmp_path, rehearse=stop) == (
        2,
        "",
        "step 3: The rehearsal stands still.\nLook at it.\n",
    )


# --- export and verify --------------------------------------------------------------------------


def test_a_record_is_exported_signed_and_verified(run, record_path, tmp_path, monkeypatch):
    monkeypatch.setenv(cli.PASSPHRASE_VARIABLE, PASSPHRASE)
    paper = tmp_path / "paper.pdf"
    code, out, err = run("export", record_path, "--out", paper)
    assert (code, err) == (0, "")
    assert "not signed off" in out
    assert paper.read_bytes().startswith(b"%PDF-")

    code, out, _ = run("verify", paper, "--json")
    told = json.loads(out)
    assert code == 0
    assert told["good"] is True
    assert told["key"]["state"] == "not seen before"

    code, _, err = run("verify", paper, "--remember", "My own key")
    assert code == 0
    assert "My own key" in err
    told = json.loads(run("verify", paper, "--json")[1])
    assert told["key"]["state"] == "seen before"
    assert "My own key" in told["key"]["sentence"]

    # The same key signs the next paper: it was made once.
    code, _, _ = run("export", record_path, "--out", tmp_path / "again.pdf", "--page", "Letter")
    assert code == 0
    assert json.loads(run("verify", tmp_path / "again.pdf", "--json")[1])["key"]["state"] == (
        "seen before"
    )

    changed = bytearray(paper.read_bytes())
    changed[len(changed) // 3] ^= 1
    paper.write_bytes(changed)
    code, out, _ = run("verify", paper)
    assert code == 1
    assert "Traceback" not in out


def test_without_terminal_or_variable_no_key_is_made(run, record_path, tmp_path, monkeypatch):
    monkeypatch.delenv(cli.PASSPHRASE_VARIABLE, raising=False)
    code, _, err = run("export", record_path, "--out", tmp_path / "paper.pdf")
    assert code == 2
    assert cli.PASSPHRASE_VARIABLE in err
    assert not (tmp_path / "paper.pdf").exists()


def test_a_record_is_verified(run, record_path):
    code, out, _ = run("verify", record_path, "--json")
    told = json.loads(out)
    assert code == 0
    assert (told["good"], told["events"]) == (True, 4)


def test_a_damaged_record_is_found_wanting(run, record_path):
    data = bytearray(record_path.read_bytes())
    at = data.index(b"Nobody Atall")
    data[at] ^= 1
    record_path.write_bytes(data)
    code, out, err = run("verify", record_path)
    assert (code, err) == (1, "")
    assert "NO" in out


def test_a_record_has_no_key_to_remember(run, record_path):
    code, _, err = run("verify", record_path, "--remember", "me")
    assert code == 2
    assert "no key" in err


def test_what_is_neither_paper_nor_record_cannot_be_verified(run, tmp_path):
    other = tmp_path / "notes.txt"
    other.write_text("nothing")
    code, _, err = run("verify", other)
    assert code == 2
    assert "neither" in err


# --- sockets and pulls ----------------------------------------------------------------------------


def test_a_socket_of_the_other_system_is_told_and_found_wanting(run):
    code, out, _ = run("socket", "1/2 in", "13 mm")
    assert code == 1
    assert out.startswith("13 mm socket on a 1/2 in head: 0.30 mm play; sloppy")
    code, out, _ = run("socket", "13 mm", "13 mm", "--json")
    assert code == 0 and json.loads(out)["verdict"] == "fits"
    code, out, err = run("socket", "13 mm", "a big one")
    assert code == 2 and not out and "a big one" in err


def test_the_order_of_a_sheet_tells_pulls_and_how_it_differs(run):
    code, out, _ = run("order", SAMPLE, "--pattern", "cover")
    assert code == 0
    assert "total pulls: 48" in out
    assert "computed order" in out
