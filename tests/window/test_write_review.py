"""The review beside the sheet: as on the command line, its places, its hints off and on."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide import cli
from shopguide.job.edits import Draft, SetValue
from shopguide.job.packing import find_packing
from shopguide.job.paths import look_up
from shopguide.job.written import FixedDict, FixedList
from shopguide.review.examples import EXAMPLES, make_sheet
from shopguide.review.findings import review_sheet
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_jump import find_path

PATIENCE_MS = 30_000
SHEETS = sorted((Path(__file__).parents[1] / "review" / "sheets").glob("*.json"))


@pytest.fixture
def take_up(qtbot, frame):
    """Opens a saved folder in Write and waits for the review."""

    def take(folder: Path) -> WriteDesk:
        draft = Draft.open((folder / "job.json").read_bytes())
        place = frame.write
        place.take_up(WriteDesk(draft, folder, find_packing(folder), parent=place))
        frame.go("write")
        return settle(qtbot, frame)

    return take


def settle(qtbot, frame) -> WriteDesk:
    desk = frame.write.writing
    qtbot.waitUntil(lambda: not desk.busy and desk.reviewed_data is desk.data, timeout=PATIENCE_MS)
    return desk


def look_on_command_line(folder: Path, capsys) -> list[dict]:
    nothing = dict.fromkeys(("open_window", "rehearse", "write_log"), lambda *_, **__: 0)
    cli.run(["review", str(folder), "--json"], **nothing)
    return json.loads(capsys.readouterr().out)["findings"]


def pick(found: list[dict]) -> list[tuple[str, ...]]:
    return [(f["rule"], f["severity"], f["where"], f["sentence"], f["reason"]) for f in found]


def list_remarks(desk: WriteDesk) -> list[tuple[str, ...]]:
    return [(r.rule, r.severity, r.where, r.sentence, r.reason) for r in desk.remarks]


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda path: path.stem)
def test_the_window_says_what_the_command_line_says(sheet, take_up, tmp_path, sample, capsys):
    """Pictures are looked at by both: one is missing, one too many, one small."""
    folder = tmp_path / "sheet"
    (folder / "photos").mkdir(parents=True)
    shutil.copy(sheet, folder / "job.json")
    picture = next(one for one in (sample / "photos").iterdir() if one.suffix == ".jpg")
    shutil.copy(picture, folder / "photos" / "spare.jpg")
    desk = take_up(folder)
    told = look_on_command_line(folder, capsys)
    ruled = [one for one in pick(told) if one[0] != "the sheet opens"]
    assert [one for one in list_remarks(desk) if one[0]] == ruled
    # What keeps the sheet from being read is told by both, in words of their own, as often.
    assert len(desk.remarks) == len(told)
    assert ("photo is used", "hint") in [one[:2] for one in ruled]


def test_the_sample_is_told_alike_in_every_word(take_up, tmp_path, sample, capsys):
    folder = tmp_path / "sheet"
    shutil.copytree(sample, folder)
    next((folder / "photos").iterdir()).unlink()
    desk = take_up(folder)
    told = look_on_command_line(folder, capsys)
    assert list_remarks(desk) == pick(told)
    assert told[0]["rule"] == "photo is there" and told[0]["severity"] == "stops work"
    assert desk.remarks[0].fix is not None


@pytest.mark.parametrize("rule", EXAMPLES)
def test_every_finding_leads_to_its_field(rule):
    example = EXAMPLES[rule]
    draft = Draft(make_sheet(example.bad))
    for one in review_sheet(draft.sheet, example.pictures):
        if one.rule != rule:
            continue
        path = find_path(draft.data, one)
        if rule == "photo is used":
            assert path == ()  # it lies beside the sheet and not in it
            continue
        owner = path[: len(path) - bool(one.field)]
        held = look_up(draft.data, owner)
        assert isinstance(held, (FixedDict, FixedList))
        if one.field:
            # The field may be empty yet, but it is one that such an entry can have.
            assert path[-1] in draft_fields(owner)


def draft_fields(owner) -> set[str]:
    from shopguide.bolts.pattern import Pattern
    from shopguide.job import model
    from shopguide.torque.spec import Spec

    kinds = {
        "tasks": [model.Torque, model.Open, model.Close, model.Fill, model.Leave, model.Confirm],
        "photos": [model.Photo],
        "cautions": [model.Caution],
        "specs": [Spec],
        "parts": [model.Part],
        "tools": [model.Tool],
        "fluids": [model.Fluid],
        "patterns": [Pattern],
        "follow_ups": [model.FollowUp],
        "steps": [model.Step],
    }
    section = next(part for part in reversed(owner) if isinstance(part, str))
    return {key for kind in kinds[section] for key in kind.model_fields}


def find_row(place, rule: str) -> int:
    rows = place.findings.rows.rows
    return next(i for i, row in enumerate(rows) if row.remark and row.remark.rule == rule)


def choose(place, rule: str) -> None:
    place.findings.setFocus()
    place.findings.setCurrentIndex(place.findings.rows.index(find_row(place, rule)))


def test_only_a_hint_is_hushed_and_it_comes_back_from_the_sheet_s_own_card(
    qtbot, frame, take_up, tmp_path
):
    folder = tmp_path / "sheet"
    folder.mkdir()
    shutil.copy(SHEETS[[p.stem for p in SHEETS].index("thermostat_housing")], folder / "job.json")
    desk = take_up(folder)
    place = frame.write
    rules = {one.rule for one in desk.remarks}
    assert {"no should", "curing is waited for"} <= rules
    choose(place, "curing is waited for")
    QTest.keyClick(place.findings, Qt.Key.Key_H)
    assert "hints_off" not in desk.data
    choose(place, "no should")
    QTest.keyClick(place.findings, Qt.Key.Key_H)
    settle(qtbot, frame)
    assert list(desk.data["hints_off"]) == ["no should"]
    assert "no should" not in {one.rule for one in desk.remarks}
    # Its line in the sheet's own card is emptied: the hint speaks again.
    place.choose(("sheet",))
    assert place.card.go_to(("hints_off",))
    entry = QApplication.focusWidget()
    QTest.keyClick(entry, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClick(entry, Qt.Key.Key_Delete)
    QTest.keyClick(entry, Qt.Key.Key_Tab)
    settle(qtbot, frame)
    assert not desk.data.get("hints_off")
    assert "no should" in {one.rule for one in desk.remarks}


def test_what_stops_work_is_said_though_it_stands_under_hints_off(qtbot, frame, take_up, tmp_path):
    folder = tmp_path / "sheet"
    folder.mkdir()
    shutil.copy(
        SHEETS[[p.stem for p in SHEETS].index("trailer_wheel_bearing")], folder / "job.json"
    )
    desk = take_up(folder)
    before = {one.rule for one in desk.remarks}
    desk.apply(SetValue(("hints_off",), sorted(before)))
    settle(qtbot, frame)
    told = {one.rule for one in desk.remarks}
    assert told == before | {"switched-off hint exists"}


def test_work_begins_though_answers_are_wanted(frame, open_in, tmp_path):
    folder = tmp_path / "sheet"
    folder.mkdir()
    shutil.copy(
        SHEETS[[p.stem for p in SHEETS].index("trailer_wheel_bearing")], folder / "job.json"
    )
    open_in(folder)
    frame.go("work")
    assert "cannot be worked from" not in frame.work.bar.does
