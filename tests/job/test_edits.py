"""Edits share what did not change, keep what cannot be read, and are undone to the byte."""

from __future__ import annotations

import json
import random
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job import upgrade
from shopguide.job.edits import (
    MOST_READINGS,
    Add,
    Draft,
    Duplicate,
    Edit,
    JoinNext,
    Move,
    Remove,
    Rename,
    Restore,
    SetValue,
    Split,
    TakeOver,
    Together,
    TypeIn,
    find_uses,
    look_up,
)
from shopguide.job.files import dump_sheet, read_sheet
from shopguide.job.model import Confirm, Part, Sheet
from shopguide.job.names import NameAt
from shopguide.job.paths import put, put_all
from shopguide.job.reassembly import merge, propose_putback
from shopguide.job.tables import read_table
from shopguide.job.written import FixedDict, FixedList, freeze, is_same, share

Make = Callable[[], dict[str, Any]]


@pytest.fixture
def raw(make_sheet: Make) -> bytes:
    return dump_sheet(read_sheet(json.dumps(make_sheet()).encode()))


@pytest.fixture
def draft(raw: bytes) -> Draft:
    return Draft(read_sheet(raw))


def step(stage: int, number: int) -> tuple[Any, ...]:
    return ("stages", stage, "steps", number)


def titles(draft: Draft) -> list[list[str]]:
    return [[s["title"] for s in stage["steps"]] for stage in draft.data["stages"]]


# --- what a draft holds -------------------------------------------------------------------------


def test_a_draft_reads_as_the_sheet_it_was_begun_with(raw):
    sheet = read_sheet(raw)
    draft = Draft(sheet)
    assert draft.sheet == sheet and draft.last_sheet == sheet
    assert draft.dump() == raw
    assert draft.troubles == ()
    assert (draft.undo_words, draft.redo_words, draft.is_saved) == ("", "", True)
    assert not draft.undo() and not draft.redo()


def test_a_sheet_written_by_hand_gives_its_own_bytes_until_it_is_changed(make_sheet):
    by_hand = json.dumps(make_sheet(), indent=7).encode()
    draft = Draft.open(by_hand)
    assert draft.dump() == by_hand
    draft.apply(TypeIn(("title",), "Another"))
    assert draft.dump() == dump_sheet(draft.sheet)
    draft.undo()
    assert draft.dump() == by_hand


def test_a_sheet_of_an_older_format_is_not_saved_until_it_is_written_anew(make_sheet, monkeypatch):
    def from_0(data: dict[str, Any]) -> upgrade.Upgraded:
        data["author"] = data.pop("writer")
        return upgrade.Upgraded(data)

    monkeypatch.setitem(upgrade.UPGRADES, 0, from_0)
    old = make_sheet()
    old["format"], old["writer"] = "shopguide-job/0", old.pop("author")
    raw = json.dumps(old).encode()
    draft = Draft.open(raw)
    assert not draft.is_saved and draft.undo_words == ""
    assert draft.dump() != raw and read_sheet(draft.dump()).author == "Nobody"
    draft.keep_saved()
    assert draft.is_saved


@dataclass(frozen=True)
class LaidAside:
    """An edit that changes something else than the sheet, or says that it does not."""

    beside: bool

    def make(self, data: FixedDict) -> FixedDict:
        return FixedDict(data)

    def tell(self, data: FixedDict) -> str:
        return "laying aside"


def test_what_changes_something_beside_the_sheet_is_a_step_of_undo(draft):
    assert not draft.apply(LaidAside(False)) and draft.undo_words == ""
    before = draft.data
    assert draft.apply(LaidAside(True))
    assert draft.undo_words == "undo laying aside" and draft.data is not before
    assert draft.undo() and draft.data is before and draft.redo_words == "redo laying aside"


def test_what_a_draft_holds_cannot_be_changed_past_it(draft):
    with pytest.raises(TypeError):
        draft.data["title"] = "x"
    with pytest.raises(TypeError):
        draft.data["stages"].append({})
    for deed in (
        lambda: draft.data.update(title="x"),
        lambda: draft.data.pop("title"),
        lambda: draft.data["stages"].sort(),
        lambda: draft.data["stages"].__iadd__([1]),
    ):
        with pytest.raises(TypeError):
            deed()


def test_every_state_is_read_as_the_loader_reads_its_bytes(draft):
    """The sheet put together from remembered pieces is the one that a fresh reading gives."""
    luck = random.Random(7)
    read = refused = 0
    for _ in range(150):
        try_edit(draft, luck) if luck.random() < 0.5 else draft.undo()
        typed = draft.dump_as_typed()
        try:
            wanted = read_sheet(typed)
        except SheetTrouble as trouble:
            refused += 1
            told = [str(located.trouble) for located in draft.troubles]
            assert told == [str(each) for each in trouble.troubles]
        else:
            read += 1
            assert draft.troubles == ()
            assert draft.sheet == wanted
    assert read > 5 and refused > 5


# --- undo ---------------------------------------------------------------------------------------

_TEXTS = ("", " ", "9", "9 N·m", "zwei", "2", "1,5", "yes", "x" * 300, "Öl\n日本", "\ud800", "NaN")


def choose_edit(draft: Draft, luck: random.Random) -> Edit:
    """Any edit at any place that there is: most make sense, some leave the sheet half-finished."""
    data = draft.data
    lists = ["specs", "parts", "supplies", "fluids", "tools", "patterns", "cautions", "follow_ups"]
    places: list[tuple[Any, ...]] = [("stages", k) for k in range(len(data.get("stages", ())))]
    for path in list(places):
        places += [(*path, "steps", k) for k in range(len(look_up(data, path).get("steps", ())))]
    for path in [p for p in places if "steps" in p]:
        for key in ("tasks", "cautions", "photos"):
            held = look_up(data, path).get(key, ())
            places += [(*path, key, k) for k in range(len(held))]
    places += [(key, k) for key in lists for k in range(len(data.get(key, ())))]
    path = luck.choice(places or [("title",)])
    key = luck.choice(["title", "text", "name", "value", "quantity", "spec", "kind", "note", "use"])
    siblings = [p for p in places if len(p) == len(path) and p[-2:-1] == path[-2:-1]]
    names = [(what, entry["name"]) for what, section in
             (("spec", "specs"), ("fluid", "fluids"), ("pattern", "patterns"))
             for entry in data.get(section, ()) if entry.get("name")]  # fmt: skip
    if not places or not names or luck.random() < 0.15:
        return choose_large_edit(draft, luck)
    return luck.choice(
        [
            TypeIn((*path, key), luck.choice(_TEXTS)),
            TypeIn((*path, key), f"text {luck.randrange(99)}"),
            SetValue((*path, key), luck.choice([None, 2, True, {"a": [1.5]}, []])),
            Add((*path[:-1], luck.randrange(path[-1] + 1)), {"title": "New", "text": "New."}),
            Add((*path[:-1], 0), Confirm(text="Look.")),
            Duplicate(path),
            Remove(path),
            Move(path, luck.choice(siblings)),
            Move(path, luck.choice(places)),
            Split(path, luck.randrange(4)),
            JoinNext(path),
            Rename(*luck.choice(names), luck.choice(["", f"name {luck.randrange(9)}"])),
            Rename("item", "cover", f"lid {luck.randrange(9)}"),
        ]
    )


def choose_large_edit(draft: Draft, luck: random.Random) -> Edit:
    """An edit of several places: what is proposed for putting back, pasted, marked, taken back."""
    sheet, number = draft.last_sheet, luck.randrange(10**6)
    section = luck.choice(["specs", "parts", "supplies", "fluids", "tools"])
    table = read_table(f"name\tnote\nentry {number}\tx\n\ty\nentry {number} b", section)
    held = draft.data.get(section, ())
    edits: list[Edit] = [
        Together(
            (SetValue((section,), [*held, *table.rows]),), f"pasting of 3 rows into {section}"
        ),
        NameAt(
            "fastener", "a", f"screw {number}", (("title",), ("author",)), ((("time",), "2 h"),)
        ),
        NameAt("open item", "cover", "", (("summary",), ("skill",))),
        Restore(draft.dump_as_typed().replace(b"Gasket", f"Gasket {number}".encode())),
        Restore(b'{"title": "of another one"}'),
    ]
    if sheet is not None:
        edits.append(TakeOver(merge(sheet, propose_putback(sheet)), "putting in of proposals"))
        marks = [{"kind": "ring", "at": [number, 5], "radius": 4}]
        for place in (p for p in sheet.steps if p.step.photos):
            path = ("stages", place.stage_number - 1, "steps", 0, "photos", 0, "marks")
            edits.append(Together((SetValue(path, marks),), "change of marks"))
        for at, pattern in enumerate(sheet.patterns):
            moved = pattern.model_copy(update={"name": f"rim {number}", "note": "turned"})
            parts = (Rename("pattern", pattern.name, moved.name), SetValue(("patterns", at), moved))
            edits.append(Together(parts, f"change of pattern '{moved.name}'"))
    return luck.choice(edits)


def list_pieces(data: FixedDict) -> list[Any]:
    """Every step, and every entry of the sheet's lists."""
    pieces = [piece for held in data.values() if isinstance(held, list) for piece in held]
    for stage in data.get("stages", ()):
        steps = stage.get("steps") if isinstance(stage, dict) else None
        pieces += steps if isinstance(steps, list) else ()
    return [piece for piece in pieces if isinstance(piece, dict)]


def check_sharing(before: FixedDict, after: FixedDict) -> None:
    """What holds the same as before is the same object, but for what was typed to be the same."""
    old = {id(piece) for piece in list_pieces(before)}
    known = {json.dumps(piece) for piece in list_pieces(before)}
    new = [piece for piece in list_pieces(after) if id(piece) not in old]
    assert sum(json.dumps(piece) in known for piece in new) <= 2


def try_edit(draft: Draft, luck: random.Random) -> bool:
    before = draft.data
    try:
        return draft.apply(choose_edit(draft, luck))
    except Trouble:
        assert draft.data is before
        return False


@pytest.mark.parametrize("seed", range(3))
def test_undo_of_500_random_edits_restores_the_bytes_and_redo_gives_them_again(draft, raw, seed):
    luck = random.Random(seed)
    typed, said, states = [draft.dump_as_typed()], [], [draft.data]
    said_sorts: set[str] = set()
    while len(said) < 500:
        if try_edit(draft, luck):
            check_sharing(states[-1], draft.data)
            said_sorts.add(draft.undo_words.split()[1])
            typed.append(draft.dump_as_typed())
            said.append(draft.undo_words)
            states.append(draft.data)
    assert said_sorts >= {
        "typing", "change", "adding", "doubling", "removal", "move", "splitting", "joining",
        "renaming", "pasting", "putting", "taking",
    }  # fmt: skip
    for number in range(500, 0, -1):
        assert draft.undo_words == said[number - 1]
        assert draft.undo()
        assert draft.data is states[number - 1]
        assert draft.dump_as_typed() == typed[number - 1]
        assert draft.redo_words == said[number - 1].replace("undo ", "redo ", 1)
    assert not draft.undo()
    assert draft.dump() == raw
    for number in range(1, 501):
        assert draft.redo()
        assert draft.dump_as_typed() == typed[number]
    assert not draft.redo() and draft.data is states[500]


def test_of_many_edits_every_state_is_kept_and_few_readings(draft):
    sheets = [draft.sheet]
    for number in range(100):
        draft.apply(TypeIn(("title",), f"Title {number}"))
        sheets.append(draft.sheet)
    assert sum(state._reading is not None for state in draft._states) == MOST_READINGS
    while draft.undo():
        pass
    assert draft.sheet == sheets[0]
    assert draft.sheet.stages[0] is sheets[0].stages[0]


def test_an_edit_after_an_undo_forgets_what_was_undone(draft):
    draft.apply(TypeIn(("title",), "One"))
    draft.undo()
    draft.apply(TypeIn(("title",), "Two"))
    assert not draft.redo()
    assert draft.sheet.title == "Two"


def test_an_edit_that_changes_nothing_is_no_edit(draft):
    assert not draft.apply(TypeIn(("title",), draft.data["title"]))
    assert not draft.apply(Move(step(0, 0), step(0, 0)))
    assert draft.undo_words == ""
    # 1 and true are equal in Python; the file tells them apart.
    assert draft.apply(SetValue(("parts", 0, "quantity"), 1))
    assert draft.apply(SetValue(("parts", 0, "quantity"), True))


def test_undo_words_name_deed_and_place(draft):
    draft.apply(Move(step(1, 1), step(0, 0)))
    assert draft.undo_words == "undo move of step 4"
    draft.undo()
    assert draft.redo_words == "redo move of step 4"
    draft.apply(Remove(("parts", 0)))
    assert draft.undo_words == "undo removal of part 'Gasket'"
    draft.apply(Add(("tools", 1), {"name": "Drift"}))
    assert draft.undo_words == "undo adding of tool 'Drift'"
    draft.apply(TypeIn((*step(1, 0), "tasks", 0, "spec"), "x"))
    assert draft.undo_words == "undo typing in step 3, 'Cover screws', torque task 1, spec"
    draft.apply(Rename("item", "cover", "lid"))
    assert draft.undo_words == "undo renaming of open item 'cover' to 'lid'"
    draft.apply(Together((Remove(("tools", 1)), Remove(("tools", 0))), "pasting of 2 rows"))
    assert draft.undo_words == "undo pasting of 2 rows"
    draft.undo()
    assert len(draft.data["tools"]) == 2


def test_saved_is_what_was_saved_even_after_undo_and_redo(draft):
    draft.apply(TypeIn(("title",), "One"))
    assert not draft.is_saved
    draft.keep_saved()
    assert draft.is_saved
    draft.undo()
    assert not draft.is_saved
    draft.redo()
    assert draft.is_saved


# --- sharing ------------------------------------------------------------------------------------


def test_what_an_edit_does_not_touch_are_the_same_objects(draft):
    before = draft.sheet
    draft.apply(TypeIn((*step(1, 0), "title"), "Tighten the cover"))
    after = draft.sheet
    assert after.stages[0] is before.stages[0]
    assert after.stages[1] is not before.stages[1]
    assert after.stages[1].steps[1] is before.stages[1].steps[1]
    for key in ("specs", "patterns", "parts", "cautions"):
        pairs = zip(getattr(before, key), getattr(after, key), strict=True)
        assert all(one is other for one, other in pairs)
    assert after.steps[2].step.title == "Tighten the cover"
    assert before.steps[2].step.title == "Cover screws"


def test_a_moved_step_is_the_same_step(draft):
    moved = draft.sheet.stages[1].steps[0]
    draft.apply(Move(step(1, 0), step(0, 2)))
    assert draft.sheet.stages[0].steps[2] is moved


def test_a_whole_sheet_taken_over_shares_what_is_the_same(draft):
    before = draft.sheet
    data = json.loads(dump_sheet(before))
    data["stages"][1]["steps"].insert(0, data["stages"][1]["steps"].pop())
    data["stages"].insert(1, {"title": "N", "steps": [data["stages"][0]["steps"][0]]})
    draft.apply(TakeOver(Sheet.model_validate_json(json.dumps(data)), "accepting of a proposal"))
    after = draft.sheet
    assert after.stages[0] is before.stages[0]
    assert after.stages[2].steps[1] is before.stages[1].steps[0]
    assert draft.undo_words == "undo accepting of a proposal"
    draft.undo()
    assert draft.sheet is before


def test_sharing_tells_one_from_true_and_the_sequence_of_keys():
    old = freeze({"a": 1, "b": [1.0, {"c": "x"}], "d": [[1], [2]]})
    assert share(old, {"a": 1, "b": [1.0, {"c": "x"}], "d": [[1], [2]]}) is old
    for other in ({"a": True, "b": 1}, {"b": 2, "a": 1}):
        assert json.dumps(share(old, other)) == json.dumps(other)
        assert not is_same(old, other)
    new = share(old, {"a": 1, "b": [1, {"c": "x"}], "d": [[2], [1]]})
    assert json.dumps(new["b"]) == '[1, {"c": "x"}]' and new["b"][1] is old["b"][1]
    assert new["d"][0] is old["d"][1]
    assert isinstance(new, FixedDict) and isinstance(new["d"], FixedList)


def test_an_edit_of_2000_steps_costs_little(make_sheet):
    data = make_sheet()
    steps = data["stages"][1]["steps"]
    plain = {"title": "T", "tasks": [{"kind": "confirm", "text": "Look."}] * 3}
    data["stages"][1]["steps"] = steps + [{**plain, "title": f"Step {k}"} for k in range(2000)]
    draft = Draft.open(json.dumps(data).encode())
    assert draft.sheet is not None
    spent = []
    for k in range(15):
        begun = time.process_time()
        draft.apply(TypeIn((*step(1, 100 * k), "text"), "Changed."))
        assert draft.sheet.stages[1].steps[100 * k].text == "Changed."
        spent.append(time.process_time() - begun)
    # Reading all of it takes some 100 ms; so it is seen when too much is read again.
    assert sorted(spent)[7] < 0.03


# --- values that cannot be read -----------------------------------------------------------------


def test_a_value_that_cannot_be_read_is_kept_as_typed_and_told_where_it_stands(draft):
    last = draft.sheet
    draft.apply(TypeIn(("specs", 0, "value"), "9"))
    draft.apply(TypeIn(("parts", 0, "quantity"), "two"))
    draft.apply(SetValue((*step(0, 1), "tasks", 0, "item"), None))
    assert draft.sheet is None
    assert draft.last_sheet is last
    told = {located.path: located.trouble for located in draft.troubles}
    assert set(told) == {
        ("specs", 0, "value"),
        ("parts", 0, "quantity"),
        (*step(0, 1), "tasks", 0),
    }
    assert told["specs", 0, "value"].what == '"9" is not a torque because it has no unit.'
    assert "step 2, 'Remove the cover', open task 1" in told[(*step(0, 1), "tasks", 0)].where
    again = Draft.open(draft.dump())
    assert again.data["specs"][0]["value"] == "9" and again.data["parts"][0]["quantity"] == "two"
    assert [str(t) for _, t in again.troubles] == [str(t) for _, t in draft.troubles]
    # What is right beside it can be read all the while.
    assert draft.read(step(0, 0)) is last.stages[0].steps[0]
    assert draft.read(("specs", 0)) is None
    assert draft.read((*step(0, 1), "tasks", 1)).kind == "photo"


def test_a_fault_deep_in_a_task_has_its_exact_path(draft):
    passes = (*step(1, 0), "tasks", 1, "passes")
    draft.apply(TypeIn((*passes, 1, "share"), "half"))
    draft.apply(TypeIn((*step(0, 0), "photos", 0, "marks", 1, "radius"), "wide"))
    draft.apply(TypeIn((*step(1, 0), "tasks", 0, "passes"), "three times"))
    assert {located.path for located in draft.troubles} == {
        (*passes, 1, "share"),
        (*step(0, 0), "photos", 0, "marks", 1, "radius"),
        (*step(1, 0), "tasks", 0, "passes"),
    }


def test_a_sheet_may_be_half_finished(draft):
    draft.apply(Add((*step(0, 0), "tasks", 0), {"kind": "torque", "text": "Tighten."}))
    draft.apply(Remove(("stages", 1)))
    draft.apply(Add(("stages", 1), {"title": "Empty", "steps": []}))
    assert draft.sheet is None
    assert {located.path for located in draft.troubles} == {
        (*step(0, 0), "tasks", 0),
        ("stages", 1, "steps"),
    }


def test_names_that_lead_nowhere_are_told_with_their_path(draft):
    draft.apply(Remove(("specs", 4)))
    assert draft.sheet is not None
    (located,) = draft.troubles
    assert located.path == (*step(0, 0), "tasks", 2, "spec")
    assert 'No spec is called "draining time".' in located.trouble.what


@pytest.mark.parametrize(
    ("path", "text", "value"),
    [
        (("parts", 0, "quantity"), " 3 ", 3),
        (("parts", 0, "quantity"), "three", "three"),
        (("parts", 0, "number"), "3", "3"),
        (("parts", 0, "single_use"), "No", False),
        (("patterns", 0, "fasteners", 0, "x_mm"), "−50,5", -50.5),
        (("patterns", 0, "fasteners", 0, "x_mm"), "7", 7),
        (("patterns", 0, "fasteners", 0, "number"), "12", 12),
        (("patterns", 1, "circle", "clockwise"), "no", False),
        ((*step(0, 0), "photos", 0, "marks", 1, "radius"), "4,5", 4.5),
        ((*step(1, 0), "tasks", 1, "passes", 1, "share"), "0,3", 0.3),
        ((*step(1, 1), "tasks", 0, "like_drained"), "yes", True),
        ((*step(1, 1), "tasks", 0, "text"), "1", "1"),
        (("specs", 0, "source", "text"), "page 4", "page 4"),
        (("title",), "", ""),
        (("no_such_key",), "1", "1"),
    ],
)
def test_a_typed_text_is_read_as_what_belongs_there(draft, path, text, value):
    draft.apply(TypeIn(path, text))
    found = look_up(draft.data, path)
    assert found == value and type(found) is type(value)


def test_an_emptied_field_that_may_be_missing_is_taken_out(draft):
    draft.apply(TypeIn(("specs", 0, "tolerance"), "  "))
    assert "tolerance" not in draft.data["specs"][0]
    assert draft.sheet.specs[0].tolerance is None


def test_signs_that_no_file_can_hold_are_replaced(draft):
    draft.apply(TypeIn(("summary",), "half \ud83d a sign"))
    draft.apply(SetValue(("parts", 0, "quantity"), float("inf")))
    assert draft.data["summary"] == "half ? a sign"
    assert draft.data["parts"][0]["quantity"] == "inf"
    assert is_same(Draft.open(draft.dump_as_typed()).data, draft.data)


def test_what_was_put_aside_is_taken_back_as_one_edit(draft):
    for text in ("One", "Two"):
        draft.apply(TypeIn(("title",), text))
    draft.apply(TypeIn(("specs", 0, "value"), "9"))
    aside = draft.dump_as_typed()
    while draft.undo():
        pass
    later = Draft.open(draft.dump())
    later.apply(Restore(aside))
    assert later.data["title"] == "Two" and later.data["specs"][0]["value"] == "9"
    assert later.undo_words == "undo taking back of the unsaved draft"
    later.undo()
    assert later.dump() == draft.dump()


# --- entries ------------------------------------------------------------------------------------


def test_entries_are_added_moved_doubled_and_removed(draft):
    assert titles(draft) == [["Drain", "Remove the cover"], ["Cover screws", "Fill"]]
    draft.apply(Move(step(1, 1), step(0, 1)))
    assert titles(draft) == [["Drain", "Fill", "Remove the cover"], ["Cover screws"]]
    draft.apply(Duplicate(step(0, 1)))
    draft.apply(Remove(step(0, 3)))
    assert titles(draft) == [["Drain", "Fill", "Fill"], ["Cover screws"]]
    draft.apply(Move(("stages", 1), ("stages", 0)))
    draft.apply(Move(step(1, 0), step(1, 2)))
    assert titles(draft) == [["Cover screws"], ["Fill", "Fill", "Drain"]]
    draft.apply(Add(("parts", 1), Part(name="Ring", quantity=2)))
    assert draft.sheet.parts[1] == Part(name="Ring", quantity=2)
    draft.apply(Add((*step(0, 0), "photos", 0), {"file": "new.jpg"}))
    assert draft.sheet.stages[0].steps[0].photos[0].file == "new.jpg"


def test_what_is_split_and_joined_again_is_as_before(draft):
    before = draft.data
    draft.apply(Split(step(0, 0), 2))
    first, second = draft.data["stages"][0]["steps"][:2]
    assert (len(first["tasks"]), len(second["tasks"])) == (2, 2)
    assert second["cautions"] is first["cautions"]
    assert "photos" not in second and "text" not in second
    draft.apply(JoinNext(step(0, 0)))
    assert is_same(draft.data, before)
    draft.apply(Split(("stages", 0), 1, "More"))
    assert [stage["title"] for stage in draft.data["stages"]] == ["Take apart", "More", "Put back"]
    draft.apply(JoinNext(("stages", 0)))
    assert is_same(draft.data, before)


def test_a_split_task_keeps_its_record_once(draft):
    path = (*step(0, 1), "tasks", 0)
    draft.apply(TypeIn((*path, "text"), "Take the cover off. Put it down."))
    draft.apply(Split(path, len("Take the cover off.")))
    first, second = draft.data["stages"][0]["steps"][1]["tasks"][:2]
    assert (first["kind"], first["text"], first["item"]) == ("open", "Take the cover off.", "cover")
    assert second == {"kind": "confirm", "text": "Put it down."}
    draft.apply(JoinNext(path))
    joined = draft.data["stages"][0]["steps"][1]["tasks"][0]
    assert joined["text"] == "Take the cover off. Put it down." and joined["item"] == "cover"


def test_two_tasks_that_both_record_something_are_not_joined(draft):
    before = draft.data
    with pytest.raises(Trouble, match="Each of the two tasks records something of its own"):
        draft.apply(JoinNext((*step(1, 1), "tasks", 0)))
    assert draft.data is before


@pytest.mark.parametrize(
    "edit",
    [
        Remove(("parts", 7)),
        Remove(("parts", -1)),
        Remove(("nothing", 0)),
        SetValue(("stages", 9, "title"), "x"),
        SetValue(("title", "deeper"), "x"),
        SetValue(("parts", 0), None),
        Add(("parts", 5), {"name": "x"}),
        Add(("title", 0), {"name": "x"}),
        Move(("parts", 0), ("tools", 0)),
        Move(("parts", 0), ("parts", 4)),
        Duplicate(("title",)),
        TypeIn(("stages", 9, "steps", 2, "title"), "x"),
        Split(("stages", 0, "steps", 0), 0),
        Split(("stages", 0, "steps", 0), 4),
        Split(("parts", 0), 1),
        Split(("stages", 0, "steps", 0, "tasks", 0), 0),
        JoinNext(("stages", 1)),
        JoinNext(("parts", 0)),
        Rename("spec", "nobody", "x"),
        Rename("spec", "cover torque", "cover angle"),
        Rename("item", "cover", " "),
        Rename("item", "cover", "sensor"),
        Together((Remove(("parts", 0)), Remove(("parts", 0))), "two"),
    ],
    ids=repr,
)
def test_what_cannot_be_done_is_told_and_changes_nothing(draft, edit):
    before = draft.data
    with pytest.raises(Trouble) as caught:
        draft.apply(edit)
    assert caught.value.what and caught.value.next
    assert draft.data is before and draft.undo_words == ""


# --- names --------------------------------------------------------------------------------------


def test_a_renamed_spec_is_renamed_wherever_it_is_used(draft):
    uses = find_uses(draft.data, "spec", "cover torque")
    assert len(uses) == 4
    draft.apply(Rename("spec", "cover torque", "lid torque"))
    assert draft.troubles == ()
    assert find_uses(draft.data, "spec", "lid torque") == uses
    assert b"cover torque" not in draft.dump()
    draft.apply(Rename("spec", "cover angle", "lid angle"))
    assert draft.troubles == ()
    assert draft.sheet.stages[1].steps[0].tasks[1].passes[4].spec == "lid angle"
    draft.apply(Rename("spec", "sump fill", "fill"))
    assert draft.sheet.fluids[0].spec == "fill" and draft.troubles == ()


@pytest.mark.parametrize(
    ("what", "old"),
    [("item", "fluid drained"), ("pattern", "sump cover"), ("fluid", "gear fluid")],
)
def test_items_patterns_and_fluids_are_renamed_wherever_they_are_used(draft, what, old):
    count = len(find_uses(draft.data, what, old))
    assert count
    draft.apply(Rename(what, old, "quite another"))
    assert draft.troubles == ()
    assert find_uses(draft.data, what, old) == ()
    assert len(find_uses(draft.data, what, "quite another")) == count


def test_a_correction_of_a_spec_is_made_once_and_read_everywhere(draft):
    tasks = draft.sheet.stages[1].steps[0]
    draft.apply(TypeIn(("specs", 0, "value"), "10 N·m"))
    assert draft.sheet.spec("cover torque").value == "10 N·m"
    assert draft.sheet.stages[1].steps[0] is tasks


def test_many_values_are_put_as_if_one_after_another(draft):
    luck = random.Random(3)
    for _ in range(200):
        paths = {
            luck.choice(
                [
                    ("title",),
                    ("specs", luck.randrange(3), luck.choice(["value", "note"])),
                    ("specs", luck.randrange(3), "source", "text"),
                    (*step(luck.randrange(2), luck.randrange(2)), luck.choice(["title", "text"])),
                    (*step(0, 0), "tasks", luck.randrange(3), luck.choice(["text", "note"])),
                ]
            ): luck.choice(["a", 2, None, ["x"]])
            for _ in range(luck.randrange(1, 8))
        }
        wanted = draft.data
        for path, value in paths.items():
            wanted = put(wanted, path, value)
        found = put_all(draft.data, paths)
        assert is_same(found, wanted)
        assert found["tools"] is draft.data["tools"]
    with pytest.raises(Trouble):
        put_all(draft.data, {("stages", 9, "title"): "x", ("title",): "y"})


def test_the_states_up_to_now_are_told_newest_first(draft):
    first = draft.data
    draft.apply(TypeIn(("title",), "One"))
    second = draft.data
    draft.apply(TypeIn(("title",), "Two"))
    assert [id(held) for held in draft.states] == [id(draft.data), id(second), id(first)]
    draft.undo()
    assert draft.states[0] is second and len(draft.states) == 2
