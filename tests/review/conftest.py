"""What the tests of the review share: a fix applied to a sheet, as an editor would."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from typing import Any

import pytest

from shopguide.job.files import dump_sheet
from shopguide.job.model import Sheet
from shopguide.review.facts import PictureSizes
from shopguide.review.rule import Fix


def _locate(data: dict[str, Any], number: int) -> dict[str, Any]:
    steps = [step for stage in data["stages"] for step in stage["steps"]]
    return steps[number - 1]


def _split(address: str) -> tuple[int, int]:
    step, index = address.split(".")
    return int(step), int(index)


def _insert(data: dict[str, Any], task: dict[str, Any], after: str) -> None:
    step, index = _split(after)
    _locate(data, step)["tasks"].insert(index, task)


def apply(
    sheet: Sheet, fix: Fix, pictures: PictureSizes | None = None
) -> tuple[Sheet, PictureSizes | None]:
    """The sheet, and the pictures at hand, after the fix; read anew, so that it must be valid."""
    data = json.loads(dump_sheet(sheet))
    told = copy.deepcopy(dict(fix.arguments))
    kept = None if pictures is None else dict(pictures)
    match fix.kind:
        case "add task":
            _insert(data, told["task"], told["after"])
        case "add wait":
            named = told["spec"]
            if isinstance(named, dict):
                data.setdefault("specs", []).append(named)
                named = named["name"]
            wait = {"kind": "wait", "text": told["text"], "spec": named}
            _insert(data, wait, told["after"])
        case "add spec":
            data.setdefault("specs", []).append(told["spec"])
            if "task" in told:
                number, index = _split(told["task"])
                _locate(data, number)["tasks"][index - 1]["spec"] = told["spec"]["name"]
        case "add fluid":
            data.setdefault("fluids", []).append(told["fluid"])
        case "change photo" | "remove photo":
            photos = _locate(data, told["step"])["photos"]
            at = next(i for i, one in enumerate(photos) if one["file"] == told["file"])
            if fix.kind == "remove photo":
                del photos[at]
            else:
                photos[at].update(told["changes"])
        case "split task":
            number, index = _split(told["task"])
            tasks = _locate(data, number)["tasks"]
            tasks[index - 1]["text"] = told["texts"][0]
            tasks[index:index] = [{"kind": "confirm", "text": text} for text in told["texts"][1:]]
        case "add part":
            data.setdefault("parts", []).append(told["part"])
        case "add tool":
            data.setdefault("tools", []).append(told["tool"])
        case "add caution":
            step = _locate(data, told["step"])
            step.setdefault("cautions", []).append(told["caution"])
            if "task" in told:
                step["tasks"][_split(told["task"])[1] - 1].update(told["changes"])
            if "step_text" in told:
                step["text"] = told["step_text"]
        case "add follow-up":
            data.setdefault("follow_ups", []).append(told["follow_up"])
        case "change task":
            number, index = _split(told["task"])
            _locate(data, number)["tasks"][index - 1].update(told["changes"])
        case "change part":
            (part,) = [part for part in data["parts"] if part["name"] == told["name"]]
            part.update(told["changes"])
        case "change hints":
            data["hints_off"] = told["hints_off"]
        case "move task":
            number, index = _split(told["task"])
            task = _locate(data, number)["tasks"][index - 1]
            _insert(data, task, told["after"])
            tasks = _locate(data, number)["tasks"]
            del tasks[next(i for i, one in enumerate(tasks) if one is task)]
        case "remove spec":
            data["specs"] = [spec for spec in data["specs"] if spec["name"] != told["name"]]
        case "remove picture":
            assert kept is not None
            del kept[told["name"]]
    return Sheet.model_validate_json(json.dumps(data), strict=True), kept


@pytest.fixture
def apply_fix() -> Callable[..., tuple[Sheet, PictureSizes | None]]:
    return apply
