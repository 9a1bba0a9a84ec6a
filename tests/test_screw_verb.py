"""The verb `screw` as a person types it: what it prints, its exit codes, and no traceback."""

from __future__ import annotations

import json

import pytest

from shopguide import cli


def refuse(*_: object) -> object:
    raise AssertionError("neither window, rehearsal nor log is wanted")


@pytest.fixture
def run(capsys):
    """Runs the verb; gives its exit code, standard output and standard error."""

    def call(*words: str) -> tuple[int, str, str]:
        code = cli.run(["screw", *words], open_window=refuse, rehearse=refuse, write_log=refuse)
        said = capsys.readouterr()
        return code, said.out, said.err

    return call


def test_figures_after_vdi_2230(run):
    # Source: VDI 2230:2001, M8×1 10.9 at friction 0.12 (reprint, mastik.pt page 685): 29.7 kN and
    # 38.3 N·m. Stress area and proof stress: ISO 898-1, 39.2 mm² and 830 N/mm².
    code, out, err = run("--thread", "M8x1", "--class", "10.9", "--friction", "0.12", "--json")
    assert (code, err) == (0, "")
    told = json.loads(out)
    assert told["stress_area"] == {"value": pytest.approx(39.2, abs=0.05), "unit": "mm²"}
    assert told["proof_load"] == {"value": pytest.approx(830 * 39.2, rel=2e-3), "unit": "N"}
    assert told["assembly_preload"] == {"value": pytest.approx(29_700, rel=5e-3), "unit": "N"}
    assert told["assembly_torque"] == {"value": pytest.approx(38.3, rel=5e-3), "unit": "N·m"}


def test_a_torque_adds_clamp_and_share(run):
    words = ("--thread", "M8x1", "--class", "10.9", "--torque", "25 N·m", "--condition", "oiled")
    code, out, _ = run(*words, "--json")
    told = json.loads(out)
    assert code == 0
    assert told["clamp_low"]["value"] < told["clamp_high"]["value"]
    assert told["share_high"]["value"] == pytest.approx(96.1, abs=0.1)
    code, out, _ = run(*words)
    assert "clamps with 12 kN (2700 lbf) to 31.2 kN" in out
    assert out.rstrip().endswith("It never replaces the manual's figure.")


def test_inch_threads_and_grades(run):
    code, out, _ = run("--thread", "3/8-16", "--class", "grade 5", "--torque", "30 lbf·ft")
    assert code == 0
    assert "3/8-16 UNC grade 5: stress area 50 mm², hexagon head 9/16 in across flats" in out


def test_far_outside_is_found_wanting(run):
    code, out, _ = run("--thread", "M6", "--class", "8.8", "--torque", "25 N·m")
    assert code == 1
    assert "25 N·m on an M6 8.8 passes its yield: about 10 N·m is usual." in out


def test_grip_and_engagement(run):
    words = ("--thread", "M6", "--class", "8.8", "--grip", "14 mm", "--parts", "alloy")
    hole = ("--engagement", "9 mm", "--hole-strength", "180")
    code, out, _ = run(*words, *hole, "--torque", "10 N·m", "--condition", "dry", "--json")
    told = json.loads(out)
    assert code == 0
    assert told["per_degree"] == {"value": pytest.approx(340, abs=1), "unit": "N"}
    assert told["engagement_needed"] == {"value": pytest.approx(12.1, abs=0.05), "unit": "mm"}
    code, out, _ = run(*words, *hole, "--torque", "10 N·m", "--condition", "dry")
    assert "a degree more adds about 340 N" in out
    assert "the hole strips before the screw breaks" in out
    assert "at this torque the thread in the hole holds" in out
    short = ("--engagement", "3 mm", "--hole-strength", "180", "--torque", "10 N·m")
    assert run("--thread", "M6", "--class", "8.8", *short, "--condition", "dry")[0] == 1


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--thread", "M6"], "required: --class"),
        (["--thread", "M8x3", "--class", "8.8"], "Write one of M8, M8×1"),
        (["--thread", "M6", "--class", "7.7"], "class 7.7 is not known"),
        (["--thread", "M6", "--class", "8.8", "--friction", "nan"], "is not that of a screw"),
        (["--thread", "M6", "--class", "8.8", "--friction", "x"], "invalid float"),
        (["--thread", "M6", "--class", "8.8", "--torque", "9"], "it has no unit"),
        (["--thread", "M6", "--class", "8.8", "--torque", "0 N·m"], "0.0 is not a torque"),
        (["--thread", "M6", "--class", "8.8", "--condition", "dry"], "no torque is given"),
        (["--thread", "M6", "--class", "8.8", "--engagement", "9 mm"], "takes both"),
        (["--thread", "M6", "--class", "8.8", "--grip", "0 mm"], "0 is not a grip"),
    ],
)
def test_what_cannot_be_gets_a_sentence(run, words, said):
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert said in err
    assert "Traceback" not in err
