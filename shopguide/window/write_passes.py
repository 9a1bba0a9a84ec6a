"""Passes of a task's own, written one on a line: "torque 30 %; spec cover screws; after 4 h"."""

from __future__ import annotations

import re
from typing import Any

from shopguide.bolts.passes import SCHEDULES, Pass
from shopguide.job.written import FixedDict, FixedList

OWN = "of its own"
"""The choice that stands for a list instead of a ready-made schedule."""
HINT = "one on a line: torque 30 %; spec cover screws; way reverse; after 4 h; note …"
_KINDS = ("snug", "torque", "back off", "angle", "check")
_SHARE = re.compile(r"([0-9]{1,3}(?:[.,][0-9]+)?)\s*%")


def write_passes(passes: Any) -> str:
    """A list of passes as text; what is no pass stands there as it is."""
    if not isinstance(passes, FixedList):
        return ""
    return "\n".join(_write(one) if isinstance(one, FixedDict) else str(one) for one in passes)


def _write(one: FixedDict) -> str:
    head = str(one.get("kind", ""))
    if isinstance(one.get("share"), (int, float)):
        head += f" {one['share'] * 100:.10g} %"
    if one.get("turn"):
        head += f" {one['turn']}"
    parts = [head]
    parts += [f"{key} {one[key]}" for key in ("spec", "way", "after") if one.get(key)]
    if one.get("yields") is True:
        parts.append("yields")
    if one.get("note"):
        parts.append(f"note {one['note']}")
    return "; ".join(parts)


def read_passes(text: str) -> list[Any]:
    """The passes of a text; a line that cannot be read as one stays as it was typed."""
    return [_read(line.strip()) for line in text.splitlines() if line.strip()]


def _read(line: str) -> dict[str, Any] | str:
    head, *rest = (part.strip() for part in line.split(";"))
    kind = next((k for k in _KINDS if head.casefold().startswith(k)), None)
    if kind is None:
        return line
    one: dict[str, Any] = {"kind": kind}
    more = head[len(kind) :].strip()
    share = _SHARE.fullmatch(more)
    if share:
        # 33.3 / 100 is 0.333, not 0.33299999999999996.
        part = round(float(share[1].replace(",", ".")) / 100, 12)
        if part != 1:
            one["share"] = part
    elif more:
        one["turn"] = more
    for index, part in enumerate(rest):
        word, _, held = part.partition(" ")
        if word == "note":
            # A note may hold a semicolon of its own.
            one["note"] = "; ".join([held.strip(), *rest[index + 1 :]])
            break
        if part == "yields":
            one["yields"] = True
        elif word in ("spec", "way", "after") and held.strip():
            one[word] = held.strip()
        elif part:
            return line
    return one


def list_schedule(name: Any) -> list[dict[str, Any]]:
    """A ready-made schedule as a list to begin with."""
    passes = SCHEDULES.get(name, ()) if isinstance(name, str) else ()
    return [_plain(one) for one in passes or (Pass(kind="torque"),)]


def _plain(one: Pass) -> dict[str, Any]:
    held = one.model_dump(exclude_defaults=True)
    return {"kind": one.kind, **{key: value for key, value in held.items() if key != "kind"}}
