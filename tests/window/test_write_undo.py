"""Undo through the real window: of deeds of every sort it gives back every state exactly.

`pytest --deeds 500` does so many.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from shopguide.errors import Trouble
from shopguide.job.edits import Draft, Rename, Restore, SetValue, Together, look_up
from shopguide.job.packing import find_packing
from shopguide.job.reassembly import merge, propose_putback
from shopguide.job.written import FixedDict, FixedList
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_fields import TABLES
from shopguide.window.write_fixes import list_step_paths
from shopguide.window.write_place import WritePlace

PATIENCE_MS = 60_000
SORTS = {
    "typing", "change", "adding", "doubling", "removal", "move", "splitting", "joining",
    "renaming", "pasting", "putting", "taking",
}  # fmt: skip
MARKS = [
    {"kind": "arrow", "start": [1, 2], "to": [30, 40]},
    {"kind": "text", "at": [9, 9], "text": "here"},
    {"kind": "freehand", "points": [[1, 1], [2, 5.5], [3, 1]]},
]


class Busybody:
    """Somebody who does anything anywhere, through the parts of the place that keys lead to."""

    def __init__(self, qtbot: Any, place: WritePlace, luck: random.Random) -> None:
        self.qtbot, self.place, self.luck = qtbot, place, luck
        self.count = 0

    @property
    def desk(self) -> WriteDesk:
        assert self.place.writing is not None
        return self.place.writing

    def make_word(self) -> str:
        """A word that was not there before."""
        self.count += 1
        return f"{self.luck.choice(['Öl', 'cover', '垫圈', '9 N·m'])} {self.count}"

    def choose_step(self) -> tuple[Any, ...] | None:
        steps = list_step_paths(self.desk.data)
        if not steps:
            return None
        self.place.choose(self.luck.choice(steps))
        self.place.outline.setFocus()
        return self.place.path

    def choose_in_step(self, key: str) -> tuple[Any, ...] | None:
        path = self.choose_step()
        step = look_up(self.desk.data, path) if path is not None else FixedDict()
        held = step.get(key) if isinstance(step, FixedDict) else None
        if path is None or not isinstance(held, FixedList) or not held:
            return None
        return (*path, key, self.luck.randrange(len(held)))

    # --- deeds ----------------------------------------------------------------------------

    def type_in_card(self) -> None:
        if self.choose_step() is not None:
            self.place.card.begin()
            for _ in range(self.luck.randrange(4)):
                QTest.keyClick(QApplication.focusWidget() or self.place, Qt.Key.Key_Tab)
            QTest.keyClicks(QApplication.focusWidget() or self.place, f"x{self.luck.randrange(99)}")
            QTest.keyClick(QApplication.focusWidget() or self.place, Qt.Key.Key_Tab)

    def change_steps(self) -> None:
        steps = self.place.steps
        if self.choose_step() is None or self.luck.random() < 0.2:
            steps.add_stage()
            return
        if self.luck.random() < 0.15:
            self.place.choose(self.place.path[:2])
        other = self.luck.choice([*list_step_paths(self.desk.data), ()])
        deeds: list[Callable[[], object]] = [
            steps.add_step,
            steps.remove,
            steps.duplicate,
            steps.join,
            lambda: steps.move(self.luck.choice([-1, 1])),
        ]
        if len(self.place.path) == 4:
            deeds.append(lambda: steps.drop(self.place.path, other))
        self.luck.choice(deeds)()

    def change_in_step(self) -> None:
        path = self.choose_in_step(self.luck.choice(["tasks", "tasks", "cautions", "photos"]))
        wishes = ["add", "remove", "duplicate", "join", "move up", "move down"]
        if path is not None:
            wish = "split" if self.luck.random() < 0.3 else self.luck.choice(wishes)
            if wish in ("join", "split") and path[-2] != "tasks":
                wish = "duplicate"
            self.place.steps.do(path, wish)
        elif len(self.place.path) == 4:
            self.place.steps.do(self.place.path, self.luck.choice(["add task", "add caution"]))

    def mark(self) -> None:
        path = self.choose_in_step("photos")
        if path is not None:
            put = SetValue((*path, "marks"), self.luck.sample(MARKS, self.luck.randrange(1, 4)))
            self.place.apply(Together((put,), "change of marks"))

    def write_in_table(self) -> None:
        section = self.choose_table()
        rows = len(self.place.table.rows.entries)
        columns = [at for at, column in enumerate(TABLES[section]) if column.keys]
        row, column = self.luck.randrange(rows + 1), self.luck.choice(columns)
        self.place.lists.keep_cell(row, column, self.luck.choice(["", "9", self.make_word()]))

    def choose_table(self) -> str:
        section = self.luck.choice(list(TABLES))
        self.place.choose((section,))
        rows = len(self.place.table.rows.entries)
        self.place.table.go_to(self.luck.randrange(rows + 1))
        return section

    def change_rows(self) -> None:
        self.choose_table()
        wishes = ["add", "remove", "duplicate", "move up", "move down", "empty"]
        self.place.table.asked.emit(self.luck.choice(wishes))

    def paste(self) -> None:
        self.choose_table()
        word = self.make_word()
        texts = [word, f"name\tnote\n{word}\tx\n\ty", f"{word}\t1\n{word} b\t2", f"{word};a;b\n;;c"]
        self.place.pasting.paste(self.luck.choice(texts))

    def rename(self) -> None:
        named = [("item", self.luck.choice(["cover", "drain plug"]))]
        for what, section in (("spec", "specs"), ("fluid", "fluids"), ("pattern", "patterns")):
            named += [(what, one.get("name")) for one in self.desk.data.get(section, ())]
        what, name = self.luck.choice(named)
        if isinstance(name, str):
            self.place.apply(Rename(what, name, self.make_word()))  # type: ignore[arg-type]

    def put_back(self) -> None:
        sheet = self.desk.draft.last_sheet
        if sheet is not None:
            proposals = propose_putback(sheet)
            chosen = self.luck.sample(proposals, min(len(proposals), 3))
            if chosen:
                self.place.putting_back._put_in(merge(sheet, chosen), len(chosen))

    def change_pattern(self) -> None:
        sheet = self.desk.draft.sheet
        if sheet is None or not sheet.patterns:
            return
        at = self.luck.randrange(len(sheet.patterns))
        self.place.choose(("patterns",))
        self.place.patterns.open(at)
        self.qtbot.waitUntil(lambda: self.place.board is not None, timeout=PATIENCE_MS)
        new = sheet.patterns[at].model_copy(update={"name": f"rim {self.count}", "note": "turned"})
        self.count += 1
        self.place.board.kept.emit(new)  # type: ignore[union-attr]
        self.place.board.close_board()  # type: ignore[union-attr]

    def fix(self) -> None:
        self.settle()
        remarks = [r for r in self.desk.remarks if r.fix is not None]
        hints = [r for r in self.desk.remarks if r.severity == "hint"]
        if remarks and self.luck.random() < 0.8:
            self.place.review.fix(self.luck.choice(remarks))
        elif hints:
            self.place.review.hush(self.luck.choice(hints))

    def restore(self) -> None:
        typed = self.desk.draft.dump_as_typed()
        self.place.apply(Restore(typed.replace(b"Remove", b"Take away", self.luck.randrange(9))))

    def settle(self) -> None:
        self.qtbot.waitUntil(
            lambda: not self.desk.busy and self.desk.reviewed_data is self.desk.data,
            timeout=PATIENCE_MS,
        )


def check_sharing(before: FixedDict, after: FixedDict, known: dict[int, str]) -> None:
    """Steps and entries that hold the same as before are the same objects."""

    def list_pieces(data: FixedDict) -> list[Any]:
        held = [piece for value in data.values() if isinstance(value, list) for piece in value]
        for stage in data.get("stages", ()):
            held += stage.get("steps", ()) if isinstance(stage, dict) else ()
        return [piece for piece in held if isinstance(piece, dict)]

    old = list_pieces(before)
    ids = {id(piece) for piece in old}
    texts = {known.setdefault(id(piece), json.dumps(piece)) for piece in old}
    new = [piece for piece in list_pieces(after) if id(piece) not in ids]
    # What is added from scratch may be like something that was added before.
    assert sum(known.setdefault(id(piece), json.dumps(piece)) in texts for piece in new) <= 2


def find_undone(said: list[str]) -> set[str]:
    """The sorts of deeds that were not done yet; a fix is told in its own words."""
    done = {words.removeprefix("undo ").split(" ")[0] for words in said if words}
    fixed = any(words.startswith("undo “") for words in said)
    return (SORTS - done) | (set() if fixed else {"a fix"})


@pytest.mark.parametrize("seed", [5])
def test_undo_of_many_deeds_gives_every_state_back(
    qtbot, frame, sample: Path, seed: int, request: pytest.FixtureRequest
):
    deeds = request.config.getoption("--deeds")
    # Only taken apart, so that there is something to propose for putting back.
    data = json.loads((sample / "job.json").read_bytes())
    data["stages"] = data["stages"][:3]
    raw = json.dumps(data).encode()
    place: WritePlace = frame.write
    place.take_up(WriteDesk(Draft.open(raw), None, find_packing(sample), parent=place))
    frame.go("write")
    busy = Busybody(qtbot, place, random.Random(seed))
    often = [
        busy.type_in_card, busy.change_steps, busy.change_steps, busy.change_in_step, busy.mark,
        busy.write_in_table, busy.change_rows, busy.paste, busy.rename, busy.restore,
    ]  # fmt: skip
    seldom = [busy.put_back, busy.change_pattern, busy.fix]
    draft = busy.desk.draft
    states, typed, said = [draft.data], [draft.dump_as_typed()], [""]
    known: dict[int, str] = {}
    # What can be done hangs on what the review finds by then: it goes on until all was done.
    while len(states) <= deeds or find_undone(said):
        assert len(states) < deeds + 1000, find_undone(said)
        deed = busy.luck.choice(seldom) if busy.luck.random() < 0.08 else busy.luck.choice(often)
        try:
            deed()
            place.keep()
        except Trouble as trouble:
            raise AssertionError(f"{deed.__name__} let a trouble out: {trouble}") from trouble
        if busy.luck.random() < 0.05:
            place.undo()
            place.redo()
        while draft.data is not states[-1]:
            # One deed may be more than one edit: each is a state of its own.
            fresh = draft.states[::-1]
            for at in range(len(states), len(fresh)):
                check_sharing(fresh[at - 1], fresh[at], known)
                states.append(fresh[at])
                typed.append(json.dumps(fresh[at], ensure_ascii=False).encode())
                said.append("")
            said[-1] = draft.undo_words
            assert len(states) == len(fresh)
    busy.settle()
    last = len(states) - 1
    for number in range(last, 0, -1):
        assert draft.data is states[number] and draft.dump_as_typed() == typed[number]
        if said[number]:
            assert draft.undo_words == said[number]
        place.undo()
    assert draft.data is states[0] and draft.dump() == raw and draft.undo_words == ""
    for number in range(1, last + 1):
        assert draft.redo()
        assert draft.data is states[number]
    assert draft.redo_words == "" and draft.dump_as_typed() == typed[-1]
