"""The keys whose papers were seen before: fingerprint, a name given to each, and since when."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path

from shopguide.errors import PaperTrouble
from shopguide.job.saving import write_atomically

FORMAT = "shopguide-keys/1"
FILE_NAME = "known_keys.json"

_FINGERPRINT = re.compile(r"[0-9a-f]{64}")


def read_known(folder: Path) -> dict[str, str]:
    """The name of each known key by its fingerprint, as `verify_paper` takes them.

    Empty when no key was ever remembered. Raises PaperTrouble when the file cannot be read.
    """
    return {fingerprint: entry["name"] for fingerprint, entry in _read(folder).items()}


def remember(folder: Path, fingerprint: str, name: str, when: datetime) -> None:
    """Keep the key under `name`, or give a known one that name; `when` is kept of the first time.

    Raises PaperTrouble for what is no fingerprint, for an empty name, and for a damaged file;
    Trouble when it cannot be saved.
    """
    name = " ".join(name.split())
    if not _FINGERPRINT.fullmatch(fingerprint):
        raise PaperTrouble(
            "That is not the fingerprint of a key.",
            where=fingerprint[:80],
            next="A fingerprint has 64 characters, 0 to 9 and a to f.",
        )
    if not name:
        raise PaperTrouble(
            "A known key needs a name.", where="Name", next="Write whose key you take it to be."
        )
    known = _read(folder)
    first_seen = when.astimezone(UTC).isoformat(timespec="seconds")
    known[fingerprint] = {
        "name": name,
        "first_seen": known.get(fingerprint, {}).get("first_seen", first_seen),
    }
    text = json.dumps({"format": FORMAT, "keys": known}, indent=1, ensure_ascii=False)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise PaperTrouble(
            f"The folder for the known keys cannot be made ({fault.strerror or fault}).",
            str(folder),
            "Free the place or change its rights.",
        ) from fault
    write_atomically(folder / FILE_NAME, text.encode("utf-8"))


def _read(folder: Path) -> dict[str, dict[str, str]]:
    path = folder / FILE_NAME
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return {}
    except OSError as fault:
        raise PaperTrouble(
            f"The list of known keys cannot be read ({fault.strerror or fault}).",
            str(path),
            "Check the rights of the file and its folder.",
        ) from fault
    try:
        stored = json.loads(raw)
        if stored["format"] != FORMAT:
            raise ValueError("another format")
        known = {}
        for fingerprint, entry in stored["keys"].items():
            if not _FINGERPRINT.fullmatch(fingerprint):
                raise ValueError("no fingerprint")
            if not all(isinstance(entry[key], str) for key in ("name", "first_seen")):
                raise TypeError("no text")
            known[fingerprint] = {"name": entry["name"], "first_seen": entry["first_seen"]}
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise PaperTrouble(
            "The list of known keys is damaged.",
            str(path),
            "Move the file away; every key will then count as not seen before.",
        ) from fault
    return known
