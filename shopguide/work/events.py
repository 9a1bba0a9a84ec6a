"""What can happen to a record: the event, and the kinds of event with what each holds.

Event data is JSON of texts, whole numbers, booleans, lists and objects; never a float. Measured
values are texts with their unit. Nothing is ever changed or deleted: taking back is an event too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

RECORD_FORMAT = "shopguide-record/1"

KINDS: dict[str, str] = {
    "begun": "the record was made: {program, sheet_sha256, title, rehearsal, "
    "orders: {pattern: {numbers: [...], by: manual|user|computed}}}",
    "laid out": "one entry of the place Lay out: {field, value}; value a text, boolean or object. "
    "Field order:NAME holds {numbers, by}, and counts until that pattern has its first mark; "
    "field adapter:TASK holds {length, angle, kind} of a torque task's adapter, or {} for none",
    "acknowledged": "a caution was read and accepted: {caution: key}",
    "started": "work on the tasks began or went on after a pause: {}",
    "paused": "work stopped: {why}",
    "mark": "one fastener had one pass: {task, pass, trip, fastener, target, wrench?, setting?, "
    "adapter?, reading?, moved?, departure?}; pass and trip count from 1; setting: what the "
    "wrench was set to, on its own scale, where that is not the target; adapter: in words",
    "done": "a task without passes was done: {task, value?, choice?, departure?}",
    "timer": "a waiting time began: {task, pass?, seconds}; pass where it comes before that pass",
    "rested": "the waiting time before a pass is over: {task, pass, value?, departure?}",
    "reading": "a reading typed after the mark it belongs to: {seq, reading}",
    "skipped": "a task will not be done: {task, reason}",
    "withdrawn": "an earlier event is taken back: {seq}",
    "note": "a note to a step: {step, text}",
    "photo": "a photo taken in: {step, task?, sha256, paper_sha256, name, width, height}",
    "accounted": "an open item that stays open, and why: {item, reason}",
    "signed": "the record was signed off: {name, statement, strokes: [[[x, y], ...], ...], "
    "hidden: [...]}; x and y whole numbers in thousandths of the pad's width",
}


@dataclass(frozen=True, slots=True)
class Event:
    """One line of a record. `at` is UTC, ISO 8601 with milliseconds and Z."""

    seq: int
    at: str
    kind: str
    data: Mapping[str, Any] = field(default_factory=dict)
    hash: str = ""
    prev: str = ""

    @property
    def when(self) -> datetime:
        """`at` as a moment with its time zone (UTC)."""
        return datetime.fromisoformat(self.at)


def tell_moment(moment: datetime | None = None) -> str:
    """The moment (now if none) as events store it: 2031-05-04T09:30:00.000Z."""
    moment = (moment or datetime.now(UTC)).astimezone(UTC)
    return moment.strftime("%Y-%m-%dT%H:%M:%S.") + f"{moment.microsecond // 1000:03d}Z"


OWN_STATEMENT = (
    "I did the work described here and entered these values myself. This is my own record. "
    "It is no inspection and no approval by an authority or a workshop."
)
"""What the person states by signing; kept in the signed event as it was shown."""
