"""The list of stages and steps: its rows are those of the sheet after any edit."""

from __future__ import annotations

import contextlib
import random
from typing import Any

import pytest
from PySide6.QtCore import QModelIndex
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.edits import Add, Draft, Duplicate, Edit, Move, Remove, SetValue
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window.app import make_app
from shopguide.window.palette import LOOKS
from shopguide.window.write_list import ROW
from shopguide.window.write_outline import Outline, OutlineRow, OutlineRows
from shopguide.window.write_remarks import Remark, RemarkBook

RAW = b"""{"format": "shopguide-job/1", "title": "T", "author": "A", "date": "2026-03-02",
"tools": [{"name": "Drift"}], "stages": [
{"title": "One", "steps": [{"title": "a", "tasks": []}, {"title": "", "tasks": []}]},
{"title": "Two", "steps": []}, "odd", {"steps": [{"title": "c", "tasks": []}, 7]}]}"""


@pytest.fixture
def data() -> FixedDict:
    return Draft.open(RAW).data


def list_plainly(data: FixedDict) -> list[tuple[str, Path, str]]:
    """Every row below the sheet's lists, made the plain way: number, path, title."""
    found: list[tuple[str, Path, str]] = []
    number = 0
    for s, stage in enumerate(data["stages"]):
        held: Any = stage if isinstance(stage, dict) else {}
        found.append(("", ("stages", s), held.get("title") or "stage without a title"))
        for p, step in enumerate(held.get("steps", ())):
            number += 1
            title = step.get("title") if isinstance(step, dict) else ""
            found.append((str(number), ("stages", s, "steps", p), title or "step without a title"))
    return found


def list_rows(rows: OutlineRows) -> list[tuple[str, Path, str]]:
    return [(row.number, row.path, row.title) for row in rows if row.sort != "section"]


def test_rows_are_those_of_the_sheet_even_where_it_is_odd(data):
    rows = OutlineRows(data, {("tools",): (2, True), ("stages", 0, "steps", 1): (3, False)})
    assert list_rows(rows) == list_plainly(data)
    assert len(rows) == len(list(rows)) and rows[-1] == list(rows)[-1]
    assert rows[1:3] == list(rows)[1:3]
    assert OutlineRow("section", ("tools",), "Tools", count="1", grave=True) in rows
    assert next(row for row in rows if row.number == "2").count == "3"
    with pytest.raises(IndexError):
        rows[len(rows)]
    assert list(OutlineRows()) == []


def test_a_path_leads_to_the_row_that_holds_it(data):
    rows = OutlineRows(data)
    for at, row in enumerate(rows):
        assert rows.find(row.path) == at
        assert rows.find((*row.path, "title")) == at or row.sort == "stage"
    assert rows[rows.find(("stages", 0, "steps", 9))].path == ("stages", 0)
    assert rows[rows.find(("specs", 3, "value"))].path == ("specs",)
    assert rows.find(("stages", 9)) == rows.find(("nothing",)) == rows.find(("stages",)) == -1


def test_stages_begin_at_their_share_of_the_steps(data):
    assert OutlineRows(data).list_stages() == (
        ("One", 0.0),
        ("Two", 0.5),
        ("stage without a title", 0.5),
        ("stage without a title", 0.5),
    )


def choose_edit(data: FixedDict, luck: random.Random) -> Edit:
    stages = data["stages"]
    s = luck.randrange(len(stages))
    steps = stages[s].get("steps", ()) if isinstance(stages[s], dict) else ()
    p = luck.randrange(len(steps)) if steps else 0
    path: Path = ("stages", s, "steps", p) if steps else ("stages", s)
    return luck.choice(
        [
            Add((*path[:-1], path[-1] + luck.randrange(2)), {"title": f"n{luck.randrange(9)}"}),
            Duplicate(path),
            Remove(path) if len(stages) > 1 else Duplicate(path),
            Move(path, (*path[:-1], 0)),
            SetValue((*path, "title"), f"t{luck.randrange(9)}"),
        ]
    )


@pytest.mark.parametrize("seed", range(3))
def test_after_any_edit_undo_and_redo_the_view_holds_what_the_sheet_holds(qtbot, data, seed):
    make_app()
    luck = random.Random(seed)
    draft = Draft.open(RAW)
    draft.apply(Remove(("stages", 2)))
    draft.apply(SetValue(("stages", 2, "steps", 1), {"title": "d"}))
    outline = Outline(LOOKS["light"])
    qtbot.addWidget(outline)
    outline.show()
    outline.show_rows(OutlineRows(draft.data))
    outline.choose(("stages", 0, "steps", 1))

    def change() -> None:
        draft.apply(choose_edit(draft.data, luck))

    came: list[tuple[int, int]] = []
    model = outline.rows
    model.rowsInserted.connect(lambda _, first, last: came.append((first, last)))
    for _ in range(300):
        before, rows = outline.path, len(model.rows)
        came.clear()
        with contextlib.suppress(Trouble):  # there may be nothing there to give a title to
            luck.choice([draft.undo, draft.redo, *[change] * 6])()
        outline.show_rows(OutlineRows(draft.data))
        shown = [model.data(model.index(row), ROW) for row in range(model.rowCount())]
        assert shown == list(OutlineRows(draft.data))
        assert model.rowCount(QModelIndex()) == len(shown)
        # Only rows that are new come anew, and what was chosen stays as far as it is there.
        assert sum(last - first + 1 for first, last in came) == max(0, len(shown) - rows)
        assert before is not None
        assert outline.path == model.rows[model.rows.find(before)].path
        if luck.random() < 0.1:
            outline.choose(luck.choice(model.rows).path)
    QApplication.processEvents()


def test_remarks_are_found_by_where_they_lead_to_and_how_grave_they_are():
    def make(severity: Any, path: Path, rule: str = "r") -> Remark:
        return Remark(severity, "somewhere", f"{severity} {path}", "", rule, path)

    step: Path = ("stages", 0, "steps", 1)
    remarks = (
        make("stops work", (*step, "tasks", 0), ""),
        make("stops work", ("specs", 2, "value")),
        make("hint", step),
        make("hint", ("specs", 1)),
        make("hint", ()),
        make("wants an answer", ("stages", 1)),
    )
    book = RemarkBook(remarks)
    assert book.remarks == remarks
    assert book.counts == {step: (2, True), ("specs",): (2, True), ("stages", 1): (1, False)}
    assert book.unread == {(*step, "tasks", 0): remarks[0].sentence}
    assert book.list_at(step) == [remarks[0], remarks[2]]
    assert book.list_at(("stages", 0)) == [remarks[0], remarks[2]]
    assert book.list_at(("specs",)) == [remarks[1], remarks[3]]
    assert book.list_at(("specs", 2)) == [remarks[1]]
    assert book.list_at(("tools",)) == book.list_at(()) == []
    assert book.count("hint") == 3
    assert book.list_first("hint", 1, [remarks[2]]) == [remarks[3]]
