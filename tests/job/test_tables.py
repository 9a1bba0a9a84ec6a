"""Typed and pasted tables: every row is taken in, and every cell that cannot be read is told."""

from __future__ import annotations

import csv
import io
import json
import random
import time
from collections.abc import Iterable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from shopguide.errors import Trouble
from shopguide.job.edits import Add, Draft, Together
from shopguide.job.files import load_sheet, read_sheet
from shopguide.job.model import Fluid, Part, Supply, Tool
from shopguide.job.tables import COLUMNS, MOST_ROWS, read_table, read_text_file
from shopguide.job.written import freeze, read_piece
from shopguide.torque import units
from shopguide.torque.spec import Spec

MODELS = {"parts": Part, "supplies": Supply, "fluids": Fluid, "tools": Tool, "specs": Spec}


def read_entries(text: str, section: Any) -> list[Any]:
    table = read_table(text, section)
    assert table.troubles == ()
    return [read_piece(freeze(row), section) for row in table.rows]


def tell(table: Any) -> list[tuple[tuple[Any, ...], str]]:
    return [(located.path, str(located.trouble)) for located in table.troubles]


@pytest.mark.parametrize("parter", ["\t", ";"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_a_spreadsheets_cells_are_read(parter, end):
    lines = [
        ["Part", "Part no.", "Qty", "Single use", "Price"],
        ["Gasket", "QB 1", "2", "x", "24,50 €"],
        ["Bolt", "", "16", "no", ""],
        ["", "", "", "", ""],
        ["Ring", "QB 3", "", "yes", "1.10 €"],
    ]
    text = end.join(parter.join(line) for line in lines)
    assert read_entries(text, "parts") == [
        Part(name="Gasket", number="QB 1", quantity=2, single_use=True, price="24,50 €"),
        Part(name="Bolt", quantity=16),
        Part(name="Ring", number="QB 3", single_use=True, price="1.10 €"),
    ]


def test_without_a_line_of_names_the_columns_stand_in_their_own_sequence():
    (part,) = read_entries("Gasket\tQB 1\t2\tyes\t3 €\tdry", "parts")
    assert part == Part(
        name="Gasket", number="QB 1", quantity=2, single_use=True, price="3 €", note="dry"
    )
    assert read_entries("Drift\nPuller", "tools") == [Tool(name="Drift"), Tool(name="Puller")]
    # A first line that only looks a little like names is a row.
    assert [tool.name for tool in read_entries("Note\tname it\nDrift\t", "tools")] == [
        "Note",
        "Drift",
    ]


def test_columns_may_stand_in_any_sequence_and_unknown_ones_are_told():
    table = read_table("note,shelf,name,qty\nlate,B4,Gasket,2", "parts")
    assert table.rows == ({"name": "Gasket", "quantity": 2, "note": "late"},)
    ((path, told),) = tell(table)
    assert path == () and told.startswith("table, column shelf: There is no column “shelf”")


def test_cells_with_commas_lines_and_quotes_are_read_from_quotation_marks():
    text = 'name,quantity,note\n"Cleaner, cold",1 can,"two\nlines"\n"3/8"" rags",,'
    supplies = read_entries(text, "supplies")
    assert supplies[0] == Supply(name="Cleaner, cold", quantity="1 can", note="two\nlines")
    assert supplies[1].name == '3/8" rags'


def test_inches_and_quotes_that_are_never_closed_swallow_nothing():
    table = read_table('name\tnote\nSocket 1/4" drive\tshort\n"Socket\tlong\nDrift\t', "tools")
    assert [row["name"] for row in table.rows] == ['Socket 1/4" drive', '"Socket', "Drift"]
    ((path, told),) = tell(table)
    assert path == (1,) and told.startswith("table, line 3: A quotation mark opens a cell")


def test_a_cell_of_a_million_signs_is_kept_and_told_by_its_place():
    long = "x" * 1_000_000
    for text in (f"name\tnote\nDrift\t{long}\nPuller\t", f'name\tnote\nDrift\t"{long}"\nPuller\t'):
        table = read_table(text, "tools")
        assert table.rows == ({"name": "Drift", "note": long}, {"name": "Puller"})
        ((path, told),) = tell(table)
        assert path == (0, "note") and told.startswith("table, line 2, note: It has more than")
        assert len(told) < 200


def test_ten_thousand_rows_of_every_script_are_read_as_they_were_written():
    scripts = ("Прокладка", "垫圈", "ガスケット", "حشية", "אטם", "e\u0301crou", "🔩 bolt", "𐍂𐌹𐌽𐌲")
    names = [f"{scripts[n % len(scripts)]} {n}" for n in range(10_000)]
    odd = set(range(7, 10_000, 250))
    rows = [[name, "two" if n in odd else "2"] for n, name in enumerate(names)]
    text = "\ufeffname;quantity\r\n" + "\r\n".join(";".join(row) for row in rows)
    table = read_table(text, "parts")
    assert [row["name"] for row in table.rows] == names
    assert [path for path, _ in tell(table)] == [(n, "quantity") for n in sorted(odd)]


def test_what_cannot_be_read_stays_as_typed_and_is_told_by_line_and_column():
    table = read_table("name;quantity;single-use\nRing;two;maybe\n;1;\nNut;0;\nX;2 pcs;", "parts")
    assert [row.get("quantity") for row in table.rows] == ["two", 1, 0, 2]
    assert table.rows[0]["single_use"] == "maybe"
    assert tell(table) == [
        (
            (0, "quantity"),
            "table, line 2, quantity: “two” cannot be read here. Write a whole number, such as 2.",
        ),
        (
            (0, "single_use"),
            "table, line 2, single-use: “maybe” cannot be read here. Write yes or no.",
        ),
        (
            (1, "name"),
            "table, line 3, name: The name is missing. Write a name of at most 80 signs.",
        ),
        ((2, "quantity"), "table, line 4, quantity: 0 is not possible. Write 1 or more."),
    ]


def test_a_decimal_comma_among_commas_is_told():
    table = read_table("name,price\nGasket,24,50 €", "parts")
    ((path, told),) = tell(table)
    assert path == (0,)
    assert "There are 3 cells under 2 columns; “50 €” belongs to none." in told


def test_specs_are_read_with_the_kind_that_their_unit_tells():
    text = (
        "name\tvalue\tlow\thigh\ttolerance\tsource\n"
        "cover screws\t9,5 N·m\t\t\t±1 N·m\tmanual: page 4\n"
        "fill\t4 qt + 250 mL\n"
        "temperature\t\t40 °C\t45 °C\t\tseen somewhere\n"
        "gap\t\t\t0,2 mm\n"
    )
    specs = read_entries(text, "specs")
    assert [spec.kind.value for spec in specs] == ["torque", "volume", "temperature", "length"]
    assert specs[0].value == "9,5 N·m" and specs[0].limits() == (8.5, 10.5)
    assert specs[0].source.tell() == "manual: page 4"
    assert specs[2].source.tell() == "source not known: seen somewhere"


def test_a_figure_that_is_wrong_is_told_as_in_a_sheet():
    table = read_table("a\ttorque\t9\nb\tlength\t9 N·m\nc\nd\tforce\t9 N·m", "specs")
    assert table.rows[0]["value"] == "9"
    told = tell(table)
    assert [path for path, _ in told] == [(0, "value"), (1, "value"), (2, "kind"), (3, "kind")]
    assert "because it has no unit. Write 9 N·m" in told[0][1]
    assert "9 N·m is a torque, not a length." in told[1][1]
    assert "What sort of quantity it is cannot be told." in told[2][1]


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "The table is empty."),
        (" \n\t\n", "The table is empty."),
        ("x\n" * (MOST_ROWS + 1), f"The table has {MOST_ROWS + 1:,} rows"),
        ("x" * 5_000_001, "The table has 5.0 MB"),
    ],
)
def test_tables_that_cannot_be_taken_in_are_refused(text, what):
    with pytest.raises(Trouble) as caught:
        read_table(text, "tools")
    assert caught.value.what.startswith(what) and caught.value.next


@pytest.mark.parametrize("section", COLUMNS)
def test_10000_rows_take_less_than_a_second(section):
    units.read("9 N·m", units.Kind.TORQUE)  # what reads units is loaded once
    rows = {
        "parts": "Part {0}\tQB {0}\t2\tyes\t{0},50 €\tnote",
        "supplies": "Supply {0}\t1 can\tnote",
        "fluids": "Fluid {0}\tgrade\t\tnote",
        "tools": "Tool {0}\tnote",
        "specs": "spec {0}\t\t{0},5 N·m\t\t\t±1 N·m\tmanual\tpage {0}\t\tnote",
    }
    text = "\n".join(rows[section].format(k) for k in range(1, 10_001))
    spent = []
    for _ in range(2):
        begun = time.process_time()
        table = read_table(text, section)
        spent.append(time.process_time() - begun)
        if spent[-1] < 1:
            break
    assert min(spent) < 1
    assert len(table.rows) == 10_000 and table.troubles == ()


def test_of_very_many_faults_the_first_are_listed_and_the_others_counted():
    table = read_table("\n".join(f"Part {k}\t\tmany" for k in range(10_000)), "parts")
    assert len(table.rows) == 10_000
    assert len(table.troubles) == 2_001
    assert table.troubles[-1].trouble.what.startswith("8,000 more cells cannot be read")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_a_file_is_read_in_the_encodings_of_spreadsheets(tmp_path, encoding):
    path = tmp_path / "parts.csv"
    path.write_bytes("name;price\r\nDüse;3,50 €\r\n".encode(encoding))
    assert read_table(read_text_file(path), "parts").rows == ({"name": "Düse", "price": "3,50 €"},)
    path.write_bytes("name;quantity\nDüse;two".encode(encoding))
    ((_, told),) = tell(read_table(read_text_file(path), "parts", path.name))
    assert told.startswith("parts.csv, line 2, quantity: ")


@pytest.mark.parametrize(
    "raw", [b"PK\x03\x04 name", b"\x89PNG\r\n\x00\x00\x00", b"\xff\xfe\x00\xd8x"]
)
def test_a_file_that_is_no_text_is_refused(tmp_path, raw):
    path = tmp_path / "parts.xlsx"
    path.write_bytes(raw)
    for wrong in (path, tmp_path, tmp_path / "nowhere.csv"):
        with pytest.raises(Trouble) as caught:
            read_text_file(wrong)
        assert caught.value.next and str(wrong) in caught.value.where


def write_table(entries: Iterable[BaseModel], section: str) -> str:
    """The entries as a spreadsheet would give them, its first line naming the columns."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS[section])
    for entry in entries:
        writer.writerow([write_cell(entry, column) for column in COLUMNS[section]])
    return out.getvalue()


def write_cell(entry: Any, column: str) -> str:
    match column:
        case "source kind":
            return entry.source.kind.value
        case "source":
            return entry.source.text
        case "printed also":
            return " | ".join(entry.printed_also)
        case "kind":
            return entry.kind.value
        case "single-use":
            return "yes" if entry.single_use else "no"
    value = getattr(entry, column)
    return "" if value is None else str(value)


def test_the_tables_of_the_sample_are_written_and_read_again(checkout):
    sheet = load_sheet(checkout / "sample_jobs" / "gearbox_sump_cover").sheet
    for section in COLUMNS:
        entries = getattr(sheet, section)
        assert entries
        assert read_entries(write_table(entries, section), section) == list(entries)


_cells = st.text(
    st.characters(exclude_categories=("Cc", "Cs")) | st.sampled_from('",;\t "'), max_size=30
).map(str.strip)
_proses = _cells | st.just("two\nlines")
_names = _cells.filter(bool)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(
        st.builds(
            Part,
            name=_names,
            number=_proses,
            quantity=st.integers(1, 10_000),
            single_use=st.booleans(),
            price=_cells,
            note=_proses,
        ),
        min_size=1,
    )
)
def test_whatever_is_written_is_read_again(parts):
    assert read_entries(write_table(parts, "parts"), "parts") == parts


def test_no_text_is_too_odd():
    """Odd pastes give rows or one trouble; nothing else is raised and no row is lost."""
    luck = random.Random(3)
    signs = "a9,;\t\n\"' .·€±-\u202e\ud800\x00日\r"
    for _ in range(400):
        text = "".join(luck.choice(signs) for _ in range(luck.randrange(60)))
        for section in COLUMNS:
            try:
                table = read_table(text, section)
            except Trouble as trouble:
                assert trouble.what == "The table is empty."
                continue
            json.dumps(table.rows).encode()
            for row, located in [(r, t) for r in table.rows for t in table.troubles]:
                assert row and located.trouble.where
            bad = {located.path[0] for located in table.troubles if located.path}
            for index, row in enumerate(table.rows):
                assert (read_piece(freeze(row), section) is None) <= (index in bad)


def test_rows_go_into_a_draft_as_one_edit_with_what_is_wrong_in_them(make_sheet):
    draft = Draft(read_sheet(json.dumps(make_sheet()).encode()))
    table = read_table("Ring\t\ttwo\nNut\t\t4", "parts")
    edits = tuple(Add(("parts", 1 + k), row) for k, row in enumerate(table.rows))
    draft.apply(Together(edits, "pasting of 2 parts"))
    assert [located.path for located in draft.troubles] == [("parts", 1, "quantity")]
    assert draft.read(("parts", 2)) == Part(name="Nut", quantity=4)
    draft.undo()
    assert len(draft.sheet.parts) == 1


def test_the_words_over_the_columns_on_the_screen_are_known():
    text = "name\tsource\tsource in words\nbolts\tmanual\tpage 4\n"
    (row,) = read_table(text, "specs").rows
    assert row["source"] == {"kind": "manual", "text": "page 4"}
    (row,) = read_table("name\tsource\nbolts\tmanual: page 4\n", "specs").rows
    assert row["source"] == {"kind": "manual", "text": "page 4"}
