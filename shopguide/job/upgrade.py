"""Format versions: which one a sheet was written in, and how an older one becomes today's.

One function for each old version, in UPGRADES under the version it reads; it takes the data of
that version and gives the data of the next. Only version 1 exists so far.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from shopguide.errors import Trouble
from shopguide.job.model import FORMAT

Data = dict[str, Any]

STEM, _, _number = FORMAT.rpartition("/")
NEWEST = int(_number)

UPGRADES: dict[int, Callable[[Data], Data]] = {}
"""From an old version's number to the function that brings its data to the next version."""


def bring_up_to_date(data: Data, where: str) -> tuple[Data, Trouble | None]:
    """The data in today's format, and the trouble where the format is missing or misspelt.

    Such a sheet is read as one of today's, so that its other faults can be told too. Raises
    Trouble for a version that this program does not know.
    """
    given = data.get("format")
    found = re.fullmatch(rf"{STEM}/([0-9]{{1,4}})", given) if isinstance(given, str) else None
    if found is None:
        return {**data, "format": FORMAT}, _tell_unknown(given, "format" in data, where)
    version = int(found[1])
    if version > NEWEST:
        raise Trouble(
            f"The sheet is written in format {given}; this program knows {FORMAT} at most.",
            f"{where}, format",
            "Install a newer shopguide.",
        )
    while version < NEWEST:
        if version not in UPGRADES:
            raise Trouble(f"There is no format {given}.", f"{where}, format", f'Write "{FORMAT}".')
        data = UPGRADES[version](data)
        version += 1
    return {**data, "format": FORMAT}, None


def _tell_unknown(given: object, stands: bool, where: str) -> Trouble:
    if not stands:
        return Trouble('The key "format" is missing.', where, f'Add "format": "{FORMAT}".')
    shown = f'"{given[:60]}"' if isinstance(given, str) else "What stands here"
    return Trouble(
        f"{shown} is not the format of a job sheet.", f"{where}, format", f'Write "{FORMAT}".'
    )
