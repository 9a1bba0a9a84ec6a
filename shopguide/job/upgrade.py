"""Format versions: which one a sheet was written in, and how an older one becomes today's.

One function for each old version, in UPGRADES under the version it reads; it takes the data of
that version and gives the data of the next, with the words that say what it changed. Only version
1 exists so far, so the table is empty.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shopguide.errors import Trouble
from shopguide.job.model import FORMAT
from shopguide.job.text import parse_text

Data = dict[str, Any]

STEM, _, _number = FORMAT.rpartition("/")
NEWEST = int(_number)


@dataclass(frozen=True, slots=True)
class Upgraded:
    """The data in the next version, and what was changed to get there, a sentence each.

    What a reader of the sheet would look for belongs into the words: keys renamed, moved or
    dropped, figures read in another way. The format's own number does not.
    """

    data: Data
    words: tuple[str, ...] = ()


UPGRADES: dict[int, Callable[[Data], Upgraded]] = {}
"""From an old version's number to the function that brings its data to the next version."""


@dataclass(frozen=True, slots=True)
class UpgradeReport:
    """What became of a sheet on its way to today's format.

    steps: (version before, version after, sentences) for each version passed; empty where the
    sheet is written in today's format already.
    """

    steps: tuple[tuple[int, int, tuple[str, ...]], ...] = ()

    def tell(self) -> tuple[str, ...]:
        """The report line by line; no line where nothing had to be changed."""
        lines: list[str] = []
        for before, after, words in self.steps:
            lines.append(f"Format {before} became format {after}:")
            lines += [f"  {said}" for said in words or ("nothing else changed.",)]
        return tuple(lines)


def bring_up_to_date(data: Data, where: str) -> tuple[Data, Trouble | None]:
    """The data in today's format, and the trouble where the format is missing or misspelt.

    Such a sheet is read as one of today's, so that its other faults can be told too. Raises
    Trouble for a version that this program does not know.
    """
    data, fault, _ = _upgrade(data, where)
    return data, fault


def report_upgrade(raw: bytes, where: str) -> UpgradeReport:
    """What the upgrade of a job.json changes; no step where there is nothing to upgrade.

    Raises Trouble where the text is no JSON, or has a version that this program does not know.
    """
    data, _ = parse_text(raw, where)
    return _upgrade(data, where)[2] if isinstance(data, dict) else UpgradeReport()


def _upgrade(data: Data, where: str) -> tuple[Data, Trouble | None, UpgradeReport]:
    given = data.get("format")
    found = re.fullmatch(rf"{STEM}/([0-9]{{1,4}})", given) if isinstance(given, str) else None
    if found is None:
        fault = _tell_unknown(given, "format" in data, where)
        return {**data, "format": FORMAT}, fault, UpgradeReport()
    version = int(found[1])
    if version > NEWEST:
        raise Trouble(
            f"The sheet is written in format {given}; this program knows {FORMAT} at most.",
            f"{where}, format",
            "Install a newer shopguide.",
        )
    steps = []
    while version < NEWEST:
        if version not in UPGRADES:
            raise Trouble(f"There is no format {given}.", f"{where}, format", f'Write "{FORMAT}".')
        # A copy, so that what the caller holds stays as it was read.
        done = UPGRADES[version](copy.deepcopy(data))
        steps.append((version, version + 1, done.words or _tell_keys(data, done.data)))
        data = done.data
        version += 1
    return {**data, "format": FORMAT}, None, UpgradeReport(tuple(steps))


def _tell_keys(old: Data, new: Data) -> tuple[str, ...]:
    """Which keys at the top differ: what is said where an upgrade found no words of its own."""
    keys = [key for key in dict.fromkeys((*old, *new)) if key != "format"]
    told = []
    for key in keys:
        if key not in new:
            told.append(f'"{key}" was taken out.')
        elif key not in old:
            told.append(f'"{key}" was added.')
        elif old[key] != new[key]:
            told.append(f'"{key}" is written in another way.')
    return tuple(told)


def _tell_unknown(given: object, stands: bool, where: str) -> Trouble:
    if not stands:
        return Trouble('The key "format" is missing.', where, f'Add "format": "{FORMAT}".')
    shown = f'"{given[:60]}"' if isinstance(given, str) else "What stands here"
    return Trouble(
        f"{shown} is not the format of a job sheet.", f"{where}, format", f'Write "{FORMAT}".'
    )
