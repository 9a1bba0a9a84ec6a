"""Faults in words: a typical mistake each, its message checked word by word."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from pydantic import BaseModel

from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.faults import MOST_TOLD, suggest
from shopguide.job.files import read_sheet

Make = Callable[..., Any]


def faults_of(data: object) -> list[tuple[str, str, str]]:
    """(where, what, next) of each fault of a sheet that must not load."""
    raw = data if isinstance(data, bytes) else json.dumps(data).encode()
    with pytest.raises(SheetTrouble) as caught:
        read_sheet(raw)
    return [(fault.where, fault.what, fault.next) for fault in caught.value.troubles]


def task(data: Any, stage: int, step: int, number: int) -> Any:
    return data["stages"][stage - 1]["steps"][step - 1]["tasks"][number - 1]


CASES: list[tuple[str, Callable[[Any], object], list[tuple[str, str, str]]]] = [
    (
        "torque without unit",
        lambda s: s["specs"][0].update(value="9", tolerance=None),
        [
            (
                "job.json, spec 'cover torque', value",
                '"9" is not a torque because it has no unit.',
                "Write 9 N·m, 80 lbf·in or 15 lbf·ft.",
            )
        ],
    ),
    (
        "torque as a number",
        lambda s: s["specs"][0].update(value=9),
        [
            (
                "job.json, spec 'cover torque', value",
                "9 has no unit.",
                'Write it as printed, with its unit and in quotes: "9 N·m".',
            )
        ],
    ),
    (
        "value and limit of one spec",
        lambda s: s["specs"][2].update(value="4.2", low="4 N·m"),
        [
            (
                "job.json, spec 'sump fill', value",
                '"4.2" is not a volume because it has no unit.',
                "Write 4.2 L, 250 mL or 4 US qt.",
            ),
            (
                "job.json, spec 'sump fill', low",
                "4 N·m is a torque, not a volume.",
                "Write 4.2 L, 250 mL or 4 US qt.",
            ),
        ],
    ),
    (
        "limits exchanged",
        lambda s: s["specs"][2].update(low="5 L"),
        [
            (
                "job.json, spec 'sump fill'",
                "The low limit lies above the high limit.",
                "Exchange them.",
            )
        ],
    ),
    (
        "schedule misspelt",
        lambda s: task(s, 2, 1, 1).update(passes="torque, bak off, torque"),
        [
            (
                "job.json, step 3, 'Cover screws', torque task 1, passes",
                'No ready-made schedule is called "torque, bak off, torque".',
                'Write "torque, back off, torque", or a list of passes.',
            )
        ],
    ),
    (
        "passes as a number",
        lambda s: task(s, 2, 1, 2).update(passes=2),
        [
            (
                "job.json, step 3, 'Cover screws', torque task 2, passes",
                "2 stands where passes are wanted.",
                "Write the name of a ready-made schedule in quotes, or a list of passes in [ ].",
            )
        ],
    ),
    (
        "kind of a pass misspelt, and of a task",
        lambda s: (
            task(s, 2, 1, 2)["passes"][3].update(kind="torqe"),
            task(s, 1, 1, 1).update(kind="conform"),
        ),
        [
            (
                "job.json, step 1, 'Drain', task 1",
                '"conform" is not a kind that is known here.',
                'Write "confirm". Known are confirm, open, close, torque, fill, drain, measure, '
                "wait, photo, leave.",
            ),
            (
                "job.json, step 3, 'Cover screws', torque task 2, pass 4, kind",
                '"torqe" is not known here.',
                'Write "torque".',
            ),
        ],
    ),
    (
        "task without kind",
        lambda s: task(s, 1, 2, 2).pop("kind"),
        [
            (
                "job.json, step 2, 'Remove the cover', task 2",
                'The key "kind" is missing.',
                'Add "kind": "confirm", "open", "close", "torque", "fill", "drain", "measure", '
                '"wait", "photo" or "leave".',
            )
        ],
    ),
    (
        "angle pass without spec",
        lambda s: task(s, 2, 1, 2)["passes"][4].pop("spec"),
        [
            (
                "job.json, step 3, 'Cover screws', torque task 2, pass 5",
                "An angle pass has no spec.",
                'Write "spec" with the name of an angle spec.',
            )
        ],
    ),
    (
        "key misspelt",
        lambda s: s.update(athor=s.pop("author")),
        [("job.json", 'The key "athor" is not known here.', 'Write "author".')],
    ),
    (
        "key that nothing is like",
        lambda s: s["tools"][0].update(colour="red"),
        [
            (
                "job.json, tool 'Torque wrench'",
                'The key "colour" is not known here.',
                "Take it out, or write one of: name, note.",
            )
        ],
    ),
    (
        "keys missing",
        lambda s: (s.pop("date"), s["stages"][1]["steps"][0].pop("tasks")),
        [
            ("job.json", 'The key "date" is missing.', 'Add "date": a date such as "2024-04-03".'),
            (
                "job.json, step 3, 'Cover screws'",
                'The key "tasks" is missing.',
                'Add "tasks": a list in [ ].',
            ),
        ],
    ),
    (
        "order incomplete",
        lambda s: s["patterns"][0].update(order=[1, 1, 7]),
        [
            (
                "job.json, pattern 'sump cover', order",
                "The order does not name each fastener once (unknown or not to be tightened: 7; "
                "missing: 2, 3, 4; twice: 1).",
                "Write every number once.",
            )
        ],
    ),
    (
        "numbers in quotes, out of bounds, and a use that is not known",
        lambda s: s["patterns"][0]["fasteners"][1].update(
            number="2", x_mm="1,5", y_mm=1e9, use="leave"
        ),
        [
            (
                "job.json, pattern 'sump cover', entry 2 of fasteners, number",
                '"2" is a text, not a number.',
                "Write 2, without quotes.",
            ),
            (
                "job.json, pattern 'sump cover', entry 2 of fasteners, x_mm",
                '"1,5" is a text, not a number.',
                "Write 1.5, without quotes.",
            ),
            (
                "job.json, pattern 'sump cover', entry 2 of fasteners, y_mm",
                "1000000000 is too large.",
                "Write 100,000 or less.",
            ),
            (
                "job.json, pattern 'sump cover', entry 2 of fasteners, use",
                '"leave" is not known here.',
                'Write "leave loose".',
            ),
        ],
    ),
    (
        "two ways of giving positions",
        lambda s: s["patterns"][1].update(grid=s["patterns"][3]["grid"]),
        [
            (
                "job.json, pattern 'flange'",
                "The positions are given in 2 ways: circle, grid.",
                "Write exactly one of circle, rectangle, grid and fasteners.",
            )
        ],
    ),
    (
        "too many fasteners in a grid",
        lambda s: s["patterns"][3]["grid"].update(columns=30, rows=20),
        [
            (
                "job.json, pattern 'plate', grid",
                "30 columns and 20 rows make 600 fasteners; at most 500 are possible.",
                "Make several patterns of it.",
            )
        ],
    ),
    (
        "matrix cut short",
        lambda s: s["patterns"][0]["photo"].update(to_mm=[1, 0]),
        [
            (
                "job.json, pattern 'sump cover', photo, to_mm",
                "The list has too few entries.",
                "Write every figure that belongs to it.",
            )
        ],
    ),
    (
        "marks on a picture",
        lambda s: s["stages"][0]["steps"][0]["photos"][0]["marks"].append(
            {"kind": "ring", "at": [1, 2, 3], "radius": -1}
        ),
        [
            (
                "job.json, step 1, 'Drain', photo 1, mark 5, at",
                "The list has 3 entries; at most 2 are possible.",
                "Take some out.",
            ),
            (
                "job.json, step 1, 'Drain', photo 1, mark 5, radius",
                "-1 is too small.",
                "Write more than 0.",
            ),
        ],
    ),
    (
        "signal word in small letters",
        lambda s: s["cautions"][0].update(signal="warning"),
        [("job.json, caution 1, signal", '"warning" is not known here.', 'Write "WARNING".')],
    ),
    (
        "wrong sorts of values",
        lambda s: s.update(
            title=None,
            time=2,
            author="a\nb",
            revision=True,
            date="3.4.2024",
            applies_to="vans",
            parts=[5, {"name": "", "quantity": 1.5, "single_use": "yes"}],
            stages=[],
        ),
        [
            ("job.json, title", "null is not a text.", "Write a text in quotes."),
            ("job.json, applies_to", '"vans" stands where a list is wanted.', "Put it in [ ]."),
            ("job.json, time", "2 is a number, not a text.", 'Write "2".'),
            (
                "job.json, author",
                "The text runs over more than one line.",
                "Write it on one line.",
            ),
            (
                "job.json, revision",
                "true stands where a text is wanted.",
                "Write a text in quotes.",
            ),
            (
                "job.json, date",
                '"3.4.2024" is not a date.',
                'Write year, month and day, such as "2024-04-03".',
            ),
            (
                "job.json, part 1",
                "5 stands where an object in { } is wanted.",
                "Write { } with keys out of: name, number, quantity, single_use, price, note.",
            ),
            ("job.json, part 2, name", "The text is empty.", "Write something."),
            (
                "job.json, part 2, quantity",
                "1.5 is not a whole number.",
                "Write a whole number, such as 2.",
            ),
            (
                "job.json, part 2, single_use",
                '"yes" is neither true nor false.',
                "Write true or false, without quotes.",
            ),
            ("job.json, stages", "The list is empty.", "Give at least one entry."),
        ],
    ),
    (
        "texts too long and unseen signs",
        lambda s: s.update(summary="a" * 4001, skill="bell \a"),
        [
            (
                "job.json, summary",
                "The text has 4,001 signs; at most 4,000 are possible.",
                "Shorten it.",
            ),
            ("job.json, skill", "The text holds control characters.", "Write plain text."),
        ],
    ),
    (
        "pattern and fastener both",
        lambda s: task(s, 2, 1, 3).update(pattern="flange"),
        [
            (
                "job.json, step 3, 'Cover screws', torque task 3",
                "A torque task names a pattern or one fastener; here stand both.",
                'Write either "pattern" or "fastener".',
            )
        ],
    ),
    (
        "format missing beside another fault",
        lambda s: (s.pop("format"), s.update(author=7)),
        [
            ("job.json", 'The key "format" is missing.', 'Add "format": "shopguide-job/1".'),
            ("job.json, author", "7 is a number, not a text.", 'Write "7".'),
        ],
    ),
]


@pytest.mark.parametrize(
    ("spoil", "told"), [case[1:] for case in CASES], ids=[case[0] for case in CASES]
)
def test_typical_mistakes_are_told_word_by_word(
    spoil: Callable[[Any], object], told: list[tuple[str, str, str]], make_sheet: Make
) -> None:
    data = make_sheet()
    spoil(data)
    assert faults_of(data) == told


def test_the_whole_message_names_file_count_and_deed(make_sheet: Make) -> None:
    data = make_sheet()
    data["title"] = 5
    data["author"] = ""
    with pytest.raises(SheetTrouble) as caught:
        read_sheet(json.dumps(data).encode(), "cover.json")
    assert str(caught.value).splitlines() == [
        "cover.json: The job sheet cannot be used; it has 2 faults. "
        "Put right what is listed, save, and open it again.",
        '  - cover.json, title: 5 is a number, not a text. Write "5".',
        "  - cover.json, author: The text is empty. Write something.",
    ]


def test_every_key_given_every_wrong_value_is_told_in_our_own_words(make_sheet: Make) -> None:
    """No sentence of pydantic's comes through, whatever stands where."""
    data = make_sheet()
    values = [None, True, -1, 10**15, 1.5, "", "x" * 5000, "a\nb", "\x07", "1", [1], [{}], {}]
    foreign = ("Input should", "Field required", "Extra inputs", "Value error", "pydantic", "valid")
    told = 0
    for holder, key in list(_spots(data)):
        kept = holder[key]
        for value in values:
            holder[key] = value
            try:
                read_sheet(json.dumps(data).encode())
            except SheetTrouble as fault:
                told += 1
                for trouble in fault.troubles:
                    assert trouble.where.startswith("job.json")
                    for text in (trouble.what, trouble.next):
                        assert (
                            text[0].isupper()
                            or text[0] in '"-['
                            or text[0].isdigit()
                            or (text.startswith(("null", "true", "false")))
                        ), text
                        assert text.endswith((".", "?")), text
                        assert not any(word in text for word in foreign), text
                        assert "does not fit here" not in text, text
        holder[key] = kept
    assert told > 1_000
    read_sheet(json.dumps(data).encode())


def _spots(value: Any, path: tuple[Any, ...] = (), seen: Any = None) -> Any:
    """Every key of every sort of object once, with what holds it."""
    seen = set() if seen is None else seen
    entries = value.items() if isinstance(value, dict) else enumerate(value)
    kind = value.get("kind") if isinstance(value, dict) else None
    for key, held in list(entries):
        here = (*path, kind, key if isinstance(key, str) else min(key, 1))
        if isinstance(held, (dict, list)):
            yield from _spots(held, (*path, key if isinstance(key, str) else ""), seen)
        if here not in seen:
            seen.add(here)
            yield value, key


def test_thousands_of_faults_are_cut_short(make_sheet: Make) -> None:
    data = make_sheet()
    data["parts"] = [{}] * 50_000
    told = faults_of(data)
    assert 100 < len(told) <= MOST_TOLD + 1
    assert told[0] == (
        "job.json, part 1",
        'The key "name" is missing.',
        'Add "name": ' + "a text in quotes.",
    )
    hidden = "The sheet has more than 2,000 faults; the others are not listed."
    assert told[-1][1] == hidden
    data = make_sheet()
    data["specs"] += [{"name": f"s{n}", "kind": "torque", "value": f"{n}"} for n in range(3_000)]
    told = faults_of(data)
    assert told[0][:2] == (
        "job.json, spec 's0', value",
        '"0" is not a torque because it has no unit.',
    )
    assert told[-1][1] == hidden
    with pytest.raises(SheetTrouble, match="it has more than 2,000 faults"):
        read_sheet(json.dumps(data).encode())


def test_steps_are_counted_through_stages_that_are_wrong_themselves(make_sheet: Make) -> None:
    data = make_sheet()
    data["stages"].insert(1, {"title": "Odd", "steps": 5})
    data["stages"].insert(1, "odd")
    data["stages"][3]["steps"][1]["title"] = 5
    assert [where for where, _, _ in faults_of(data)] == [
        "job.json, stage 2",
        "job.json, stage 3, 'Odd', steps",
        "job.json, step 4, title",
    ]


def test_suggestions() -> None:
    assert suggest("COVER TORQUE", ["cover torque", "cover angle"]) == "cover torque"
    assert suggest("zzz", ["cover torque"]) is None
    assert suggest(5, ["5"]) is None
    assert suggest("x", []) is None


def test_fault_of_an_unforeseen_type_still_has_three_parts() -> None:
    from shopguide.job import faults

    class Odd(BaseModel):
        pass

    hit = faults._Hit("a type of tomorrow", ("title",), Odd, str, {"a": 1}, {})
    trouble = faults._tell(hit, faults.Places({}, "job.json"))
    assert isinstance(trouble, Trouble)
    assert trouble.args == (
        "An object in { } does not fit here.",
        "job.json, title",
        "Write a text in quotes.",
    )
