"""load(dump(sheet)) == sheet, for whatever sheet can be made."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopguide.bolts.passes import SCHEDULES
from shopguide.job.files import dump_sheet, read_sheet
from shopguide.job.model import Sheet

Make = Callable[..., Any]

_SIGNS = st.characters(exclude_categories=("Cc", "Cs"))
_lines = st.text(_SIGNS, min_size=1, max_size=30).filter(lambda text: text.strip())
_prose = st.text(st.one_of(_SIGNS, st.just("\n")), max_size=60)
_millimetres = st.floats(-100_000, 100_000, allow_nan=False)
_sizes = st.floats(0.001, 100_000)
_spots = st.tuples(_millimetres, _millimetres)


def _entry(required: dict[str, Any], spare: dict[str, Any] | None = None) -> Any:
    return st.fixed_dictionaries(required, optional=spare or {})


_cautions = _entry(
    {
        "signal": st.sampled_from(["DANGER", "WARNING", "CAUTION", "NOTICE"]),
        "hazard": _prose,
        "consequence": _prose,
        "avoid": _prose,
    },
    {"acknowledge": st.booleans()},
)
_marks = st.one_of(
    _entry({"kind": st.just("arrow"), "start": _spots, "to": _spots}),
    _entry({"kind": st.just("ring"), "at": _spots, "radius": _sizes}),
    _entry({"kind": st.just("number"), "at": _spots, "number": st.integers(0, 9999)}),
    _entry({"kind": st.just("text"), "at": _spots, "text": _lines}),
)
_photos = _entry(
    {"file": st.sampled_from(["a.jpg", "b.png", "Öl wanne.tif"])},
    {"caption": _prose, "alt": _prose, "marks": st.lists(_marks, max_size=3)},
)
_passes = st.one_of(
    st.sampled_from(sorted(SCHEDULES)),
    st.lists(
        st.one_of(
            _entry(
                {"kind": st.sampled_from(["torque", "snug"])},
                {"share": st.floats(0.01, 1), "note": _prose},
            ),
            _entry({"kind": st.just("back off")}, {"turn": _lines}),
            _entry({"kind": st.just("angle"), "spec": st.just("ångle")}),
            _entry(
                {"kind": st.just("check")},
                {"way": st.sampled_from(["order", "reverse", "around"])},
            ),
        ),
        min_size=1,
        max_size=4,
    ),
)


def _task(kind: str, required: dict[str, Any], spare: dict[str, Any] | None = None) -> Any:
    return _entry(
        {"kind": st.just(kind), "text": _lines, **required}, {"note": _prose, **(spare or {})}
    )


_tasks = st.one_of(
    _task("confirm", {}, {"spec": st.sampled_from(["t", "ångle", "v"])}),
    _task("torque", {"pattern": st.just("p"), "spec": st.just("t")}, {"passes": _passes}),
    _task("torque", {"fastener": _lines, "spec": st.just("t"), "passes": _passes}),
    _task("fill", {"fluid": st.just("f")}, {"spec": st.just("v")}),
    _task("drain", {"fluid": st.just("f")}, {"spec": st.just("v")}),
    _task("measure", {"spec": st.sampled_from(["t", "ångle", "v", "w"])}),
    _task("wait", {"spec": st.just("w")}),
    _task("photo", {}),
    _task(
        "leave",
        {
            "how": st.sampled_from(["left loose", "do not touch"]),
            "fastener": _lines,
            "reason": _prose,
        },
        {"until": _prose},
    ),
)
_steps = _entry(
    {"title": _lines, "tasks": st.lists(_tasks, min_size=1, max_size=4)},
    {
        "text": _prose,
        "cautions": st.lists(_cautions, max_size=2),
        "photos": st.lists(_photos, max_size=2),
    },
)
_positions = st.one_of(
    _entry(
        {
            "circle": _entry(
                {"count": st.integers(1, 40), "diameter_mm": st.floats(1, 500)},
                {"start_deg": st.floats(-360, 360), "clockwise": st.booleans()},
            )
        }
    ),
    _entry(
        {
            "grid": st.just(
                {"columns": 3, "rows": 2, "across_mm": 20.5, "down_mm": 10},
            )
        }
    ),
    st.lists(
        _spots, min_size=1, max_size=8, unique_by=lambda p: (round(p[0], 2), round(p[1], 2))
    ).map(
        lambda spots: {
            "fasteners": [
                {"number": number, "x_mm": x, "y_mm": y} for number, (x, y) in enumerate(spots, 3)
            ]
        }
    ),
)
_patterns = st.builds(
    lambda base, positions: {**base, **positions},
    _entry(
        {"name": st.just("p"), "title": _lines},
        {
            "seen": _lines,
            "thread": _lines,
            "head": st.sampled_from(["hex", "torx", "stud"]),
            "outline": st.lists(_spots, min_size=3, max_size=6),
            "photo": _entry(
                {
                    "file": st.just("a.jpg"),
                    "to_mm": st.lists(st.floats(-1e9, 1e9), min_size=9, max_size=9),
                }
            ),
            "order_source": _prose,
        },
    ),
    _positions,
)
_sheets = _entry(
    {
        "format": st.just("shopguide-job/1"),
        "title": _lines,
        "author": _lines,
        "date": st.dates().map(str),
        "specs": st.just(
            [
                {"name": "t", "kind": "torque", "value": "80 lbf·in", "tolerance": "±10 %"},
                {"name": "ångle", "kind": "angle", "value": "90°"},
                {"name": "v", "kind": "volume", "low": "4 L", "source": {"kind": "label"}},
                {"name": "w", "kind": "time", "value": "30 min"},
            ]
        ),
        "fluids": st.just([{"name": "f"}]),
        "patterns": _patterns.map(lambda one: [one]),
        "stages": st.lists(
            _entry({"title": _lines, "steps": st.lists(_steps, min_size=1, max_size=2)}),
            min_size=1,
            max_size=2,
        ),
    },
    {
        "summary": _prose,
        "applies_to": st.lists(_lines, max_size=3),
        "time": _lines,
        "cautions": st.lists(_cautions, max_size=2),
        "parts": st.lists(
            _entry({"name": _lines}, {"quantity": st.integers(1, 10_000), "price": _prose}),
            max_size=2,
        ),
        "follow_ups": st.lists(_entry({"text": _lines, "after": _lines}), max_size=1),
    },
)


@settings(max_examples=150, suppress_health_check=[HealthCheck.too_slow])
@given(_sheets)
def test_what_is_dumped_is_loaded_the_same(data: dict[str, Any]) -> None:
    sheet = read_sheet(json.dumps(data).encode())
    raw = dump_sheet(sheet)
    again = read_sheet(raw)
    assert again == sheet
    assert dump_sheet(again) == raw


def test_defaults_are_left_out_and_kinds_stay(make_sheet: Make) -> None:
    data = make_sheet()
    raw = dump_sheet(read_sheet(json.dumps(data).encode()))
    assert json.loads(raw) == data


def test_sheet_made_without_a_file_is_loaded_the_same() -> None:
    sheet = Sheet.model_validate(
        {
            "format": "shopguide-job/1",
            "title": "Short",
            "author": "Nobody",
            "date": "2024-04-03",
            "stages": [
                {"title": "s", "steps": [{"title": "t", "tasks": [{"kind": "photo", "text": "x"}]}]}
            ],
        }
    )
    raw = dump_sheet(sheet)
    assert read_sheet(raw) == sheet
    assert b"summary" not in raw
