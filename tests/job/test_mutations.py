"""Thousands of spoilt sheets: each loads, or is refused with faults that have their places.

The mutator is our own and seeded, so that a red run can be run again.
"""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from shopguide.errors import SheetTrouble
from shopguide.job.files import dump_sheet, read_sheet

Make = Callable[..., Any]

BATCHES = 5
SHEETS_A_BATCH = 440

_ODD_TEXTS = (
    "",
    " ",
    "9",
    "9 N·m",
    "-5 N·m",
    "1e999 N·m",
    "NaN N·m",
    "∞ L",
    "9,5,5 L",
    "4 qt + 3",
    "±",
    "%",
    "±999 %",
    "½ L",
    "٣ L",
    "x" * 250,
    "y" * 5000,
    "a\u0301" * 300,
    "\u0958" * 390,
    "\ufb2c" * 80,
    "\u202etxet",
    "\u200b",
    "\ufeff",
    "\U0001f527\U0001f3fd",
    "\x00",
    "\x1b[31m",
    "a\r\nb",
    "\u2028",
    "../../etc/passwd",
    "C:\\x.jpg",
    "kind",
    "torque",
    "{}",
    "__class__",
    "%s %n {0}",
)
_ODD_NUMBERS = (0, -1, 1, 2**31, 2**63, 10**17, -(10**17), 0.1, 1e-300, 1e17, -0.0, 499, 501)
_ODD_OTHERS: tuple[Any, ...] = (None, True, False, [], {}, [[]], [{}], {"kind": "torque"}, [None])
_RAW_PIECES = (b"\\ud800", b"\xff", b"\x00", b"NaN", b"1e999", b"9" * 5000, b"[" * 2000, b'"', b",")


def _spots(value: Any) -> Iterator[tuple[Any, Any]]:
    for key, held in list(value.items() if isinstance(value, dict) else enumerate(value)):
        yield value, key
        if isinstance(held, (dict, list)):
            yield from _spots(held)


def _spoil_data(data: Any, chance: random.Random) -> None:
    """One change somewhere: gone, doubled, renamed, exchanged, or odd."""
    spots = list(_spots(data))
    if not spots or len(spots) > 20_000:
        return
    holder, key = chance.choice(spots)
    deed = chance.randrange(7)
    if deed == 0:
        del holder[key]
    elif deed == 1 and isinstance(holder, list):
        holder.extend([holder[key]] * chance.choice((1, 2, 600)))
    elif deed == 2 and isinstance(holder, dict):
        name = key + "x" if chance.random() < 0.3 else key[::-1] or "x"
        holder[chance.choice([name, key[:-1], key.upper()])] = holder.pop(key)
    elif deed == 3:
        other, other_key = chance.choice(spots)
        holder[key] = json.loads(json.dumps(other[other_key]))
    elif deed == 4:
        holder[key] = chance.choice(_ODD_TEXTS)
    elif deed == 5:
        holder[key] = chance.choice(_ODD_NUMBERS)
    else:
        holder[key] = copy.deepcopy(chance.choice(_ODD_OTHERS))


def _spoil_bytes(raw: bytes, chance: random.Random) -> bytes:
    """One change to the bytes: cut off, a bit turned, a piece put in, taken out or moved."""
    at = chance.randrange(len(raw))
    deed = chance.randrange(5)
    if deed == 0:
        return raw[:at]
    if deed == 1:
        return raw[:at] + bytes([raw[at] ^ 1 << chance.randrange(8)]) + raw[at + 1 :]
    if deed == 2:
        return raw[:at] + chance.choice(_RAW_PIECES) + raw[at:]
    if deed == 3:
        return raw[:at] + raw[at + chance.randrange(1, 30) :]
    # A key or an entry that stands twice.
    end = min(len(raw), at + chance.randrange(10, 200))
    return raw[:end] + raw[at:end] + raw[end:]


def _spoil(data: Any, chance: random.Random) -> bytes:
    data = json.loads(json.dumps(data))
    changes = chance.choice((1, 1, 1, 2, 5))
    if chance.random() < 0.7:
        for _ in range(changes):
            _spoil_data(data, chance)
    raw = json.dumps(data, ensure_ascii=chance.random() < 0.5).encode("utf-8")
    if chance.random() < 0.4:
        raw = _spoil_bytes(raw, chance)
    return raw


@pytest.mark.parametrize("batch", range(BATCHES))
def test_spoilt_sheets_load_or_are_told(batch: int, make_sheet: Make) -> None:
    chance = random.Random(2_000 + batch)
    base = make_sheet()
    loaded = told = 0
    for number in range(SHEETS_A_BATCH):
        raw = _spoil(base, chance)
        try:
            sheet = read_sheet(raw)
        except SheetTrouble as fault:
            told += 1
            assert fault.troubles, (batch, number)
            for trouble in fault.troubles:
                assert trouble.where.startswith("job.json"), (batch, number, trouble)
                assert trouble.what and trouble.next, (batch, number, trouble)
                assert all("\x00" not in text for text in trouble.args), (batch, number)
                # A place, a sentence and an advice can be shown on any screen.
                str(trouble).encode("utf-8")
        else:
            loaded += 1
            assert read_sheet(dump_sheet(sheet)) == sheet, (batch, number)
    # Both ends are reached, or the mutator has grown too tame or too wild.
    assert told > SHEETS_A_BATCH // 3
    assert loaded > SHEETS_A_BATCH // 50


@pytest.mark.parametrize("seed", range(4))
def test_random_bytes_and_random_json(seed: int) -> None:
    chance = random.Random(seed)

    def invent(depth: int) -> Any:
        keys = ["format", "title", "stages", "steps", "tasks", "kind", "patterns", "passes", "x"]
        sort = chance.randrange(5 if depth else 2)
        if sort == 0:
            return {chance.choice(keys): invent(depth - 1) for _ in range(3)} if depth else {}
        if sort == 1:
            return [invent(depth - 1) for _ in range(3)] if depth else []
        return chance.choice((*_ODD_TEXTS, *_ODD_NUMBERS, None, True))

    for _ in range(150):
        for raw in (chance.randbytes(40), json.dumps({"title": invent(4), "stages": invent(4)})):
            with pytest.raises(SheetTrouble):
                read_sheet(raw if isinstance(raw, bytes) else raw.encode())
