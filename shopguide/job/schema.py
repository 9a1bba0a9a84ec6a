"""The JSON Schema of a job sheet, from the models: `python -m shopguide.job.schema`."""

from __future__ import annotations

import json
import sys
from typing import Any

from shopguide.job.model import FORMAT, Sheet

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def write_schema() -> dict[str, Any]:
    """The schema of job.json.

    It says what each key holds. What only the whole sheet can tell (names that lead nowhere, an
    order that leaves a screw out, figures without unit) is found when a sheet is opened.
    """
    schema = Sheet.model_json_schema()
    parts = schema["$defs"]
    for part in parts.values():
        _tidy(part)
        kind = part.get("properties", {}).get("kind", {})
        if "const" in kind:
            # The models fill it in; in a file it must stand.
            part["required"] = ["kind", *part.get("required", [])]
    _tidy(schema)
    _demand_one(parts["Pattern"], ("circle", "rectangle", "grid", "fasteners"))
    _demand_one(parts["Torque"], ("pattern", "fastener"))
    return {
        "$schema": DIALECT,
        "$id": FORMAT,
        "title": f"Job sheet ({FORMAT})",
        "description": "What is to be done in one repair: job.json in a folder with photos/.",
        **{key: value for key, value in schema.items() if key not in ("title", "description")},
    }


def write_schema_text() -> str:
    """The schema as it stands in resources/job.schema.json."""
    return json.dumps(write_schema(), indent=2, ensure_ascii=False) + "\n"


def _tidy(value: Any) -> None:
    """Take out the titles that only repeat the key, and what is no JSON Schema."""
    if isinstance(value, dict):
        for held in value.get("properties", {}).values():
            held.pop("title", None)
        value.pop("discriminator", None)
        for held in value.values():
            _tidy(held)
    elif isinstance(value, list):
        for held in value:
            _tidy(held)


def _demand_one(part: dict[str, Any], keys: tuple[str, ...]) -> None:
    """Exactly one of these keys has something other than null."""
    part["oneOf"] = [
        {"required": [key], "properties": {key: {"not": {"type": "null"}}}} for key in keys
    ]


if __name__ == "__main__":
    sys.stdout.buffer.write(write_schema_text().encode("utf-8"))
