"""The verb evenness: a forecast for each torque task, or a sentence why there is none."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shopguide import cli, places

SAMPLE = str(places.list_samples()[0])


def refuse(*given: object) -> object:
    raise AssertionError("this verb opens no window and rehearses nothing")


def run(*words: str) -> int:
    return cli.run(words, open_window=refuse, rehearse=refuse, write_log=lambda fault: None)


def test_the_forecast_in_words(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evenness", SAMPLE, "--pattern", "cover") == cli.GOOD
    told = capsys.readouterr().out
    for words in ("least", "scatter", "off level", "around instead", "one more pass around"):
        assert words in told
    assert "Typical figures, not measured" in told
    assert "Left out: bending of plate and screws" in told


def test_the_forecast_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evenness", SAMPLE, "--pattern", "cover", "--json") == cli.GOOD
    told = json.loads(capsys.readouterr().out)
    assert told["pattern"] == "cover"
    assert len(told["loads"]) == 16
    assert 0 < told["chosen"]["least_share"] <= 1.2
    assert told["around"]["worst_tilt"] > told["chosen"]["worst_tilt"]


def test_every_pattern_of_the_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evenness", SAMPLE, "--json") == cli.GOOD
    told = json.loads(capsys.readouterr().out)
    assert {"cover", "filter"} <= {one["pattern"] for one in told["patterns"]}
    # Passes that only loosen are no clamp: they are left out, not forecast as one.
    assert all(one["chosen"]["least_share"] > 0.1 for one in told["patterns"])


def test_a_pattern_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("evenness", SAMPLE, "--pattern", "lid") == cli.CANNOT
    told = capsys.readouterr().err
    assert 'no pattern "lid"' in told and "cover" in told


def test_screws_on_one_line_give_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from shopguide.job.files import load_sheet, save_sheet

    opened = load_sheet(Path(SAMPLE))
    plain = opened.sheet.model_dump(mode="json", exclude_unset=True)
    pattern = next(one for one in plain["patterns"] if one["name"] == "filter")
    pattern["outline"] = []
    for place, seat in enumerate(pattern["fasteners"]):
        seat["x_mm"], seat["y_mm"] = 40.0 * place, 0.0
    sheet = type(opened.sheet).model_validate(plain)
    save_sheet(
        sheet, tmp_path / "sheet", {name: opened.photo_bytes(name) for name in opened.names()}
    )
    assert run("evenness", str(tmp_path / "sheet"), "--pattern", "filter") == cli.CANNOT
    assert "on one line" in capsys.readouterr().err
