"""The published JSON Schema: current, a schema indeed, and agreeing with what is opened."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from shopguide.job.schema import write_schema, write_schema_text

Make = Callable[..., Any]


@pytest.fixture(scope="module")
def judge() -> jsonschema.Draft202012Validator:
    """The schema, ready to judge; source of the dialect: JSON Schema draft 2020-12."""
    schema = write_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_published_schema_is_current(checkout: Path) -> None:
    published = (checkout / "resources" / "job.schema.json").read_text(encoding="utf-8")
    assert published == write_schema_text(), (
        "run: python -m shopguide.job.schema > resources/job.schema.json"
    )


def test_the_module_prints_it(checkout: Path) -> None:
    printed = subprocess.run(
        [sys.executable, "-m", "shopguide.job.schema"],
        cwd=checkout,
        capture_output=True,
        check=True,
    )
    assert printed.stdout.decode("utf-8") == write_schema_text()


def test_every_part_is_described() -> None:
    schema = write_schema()
    assert schema["$id"] == "shopguide-job/1"
    assert [name for name, part in schema["$defs"].items() if not part.get("description")] == []


def test_right_sheets_pass(
    judge: jsonschema.Draft202012Validator, make_sheet: Make, checkout: Path
) -> None:
    judge.validate(make_sheet())
    for sheet in sorted((checkout / "sample_jobs").glob("*/job.json")):
        judge.validate(json.loads(sheet.read_text(encoding="utf-8")))


def task(data: Any, stage: int, step: int, number: int) -> Any:
    return data["stages"][stage - 1]["steps"][step - 1]["tasks"][number - 1]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda s: s.pop("title"),
        lambda s: s.pop("format"),
        lambda s: s.update(format="shopguide-job/2"),
        lambda s: s.update(athor="x"),
        lambda s: s.update(stages=[]),
        lambda s: s.update(author="a\nb"),
        lambda s: s.update(author=""),
        lambda s: s["cautions"][0].update(signal="warning"),
        lambda s: s["parts"][0].update(quantity=0),
        lambda s: s["specs"][0].update(kind="torqe"),
        lambda s: s["specs"][0].update(value=9),
        lambda s: s["patterns"][0].update(circle={"count": 3, "diameter_mm": 5}),
        lambda s: s["patterns"][0].pop("fasteners"),
        lambda s: s["patterns"][0]["photo"].update(to_mm=[1, 2]),
        lambda s: s["patterns"][0]["fasteners"][0].update(x_mm="1"),
        lambda s: task(s, 1, 1, 1).pop("kind"),
        lambda s: task(s, 1, 1, 1).update(kind="conform"),
        lambda s: task(s, 2, 1, 1).update(passes=5),
        lambda s: task(s, 2, 1, 1).update(fastener="x"),
        lambda s: task(s, 2, 1, 2)["passes"][1].update(share=2),
        lambda s: task(s, 1, 2, 1).update(how="lift"),
        lambda s: s["stages"][0]["steps"][0]["photos"][0]["marks"][1].update(radius=0),
    ],
)
def test_faults_fail(
    spoil: Callable[[Any], object], judge: jsonschema.Draft202012Validator, make_sheet: Make
) -> None:
    data = make_sheet()
    spoil(data)
    assert not judge.is_valid(data)
