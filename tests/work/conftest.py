"""A small sheet for the tests of doing, and a clerk that writes events without a disk."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from shopguide.job.files import read_sheet
from shopguide.work.events import Event, tell_moment
from shopguide.work.progress import Progress, fold, freeze_orders

SOURCE = {"kind": "manual", "text": "invented for a test"}
SHEET = {
    "format": "shopguide-job/1",
    "title": "Small cover",
    "author": "A Tester",
    "date": "2026-01-02",
    "cautions": [
        {
            "signal": "WARNING",
            "hazard": "A lifted machine.",
            "consequence": "It can fall.",
            "avoid": "Use stands.",
            "acknowledge": True,
        }
    ],
    "specs": [
        {"name": "cover torque", "kind": "torque", "value": "9 N·m", "source": SOURCE},
        {"name": "plug torque", "kind": "torque", "value": "25 N·m", "source": SOURCE},
        {"name": "content", "kind": "volume", "value": "4 L", "tolerance": "±0.5 L"},
        {"name": "warm", "kind": "temperature", "low": "40 °C", "high": "45 °C", "source": SOURCE},
        {"name": "drip time", "kind": "time", "value": "10 min", "source": SOURCE},
    ],
    "fluids": [{"name": "gear oil"}],
    "patterns": [
        {
            "name": "cover",
            "title": "Cover screws",
            "seen": "seen from below, front is left",
            "circle": {"count": 4, "diameter_mm": 100},
        }
    ],
    "stages": [
        {
            "title": "Take apart",
            "steps": [
                {
                    "title": "Drain",
                    "tasks": [
                        {"kind": "confirm", "text": "Chock the wheels."},
                        {"kind": "open", "text": "Unplug it.", "how": "disconnect", "item": "plug"},
                        {
                            "kind": "drain",
                            "text": "Drain it.",
                            "fluid": "gear oil",
                            "spec": "content",
                            "item": "oil",
                        },
                        {"kind": "wait", "text": "Let it drip.", "spec": "drip time"},
                        {
                            "kind": "leave",
                            "text": "Leave it loose.",
                            "how": "left loose",
                            "fastener": "tube screw",
                            "reason": "the tube must seat",
                            "item": "tube screw",
                        },
                    ],
                }
            ],
        },
        {
            "title": "Put back",
            "steps": [
                {
                    "title": "Cover screws",
                    "cautions": [
                        {
                            "signal": "WARNING",
                            "hazard": "A hot pan.",
                            "consequence": "It burns.",
                            "avoid": "Wait.",
                        }
                    ],
                    "tasks": [
                        {
                            "kind": "torque",
                            "text": "Tighten.",
                            "pattern": "cover",
                            "spec": "cover torque",
                            "passes": "torque, back off, torque",
                        }
                    ],
                },
                {
                    "title": "Close",
                    "tasks": [
                        {
                            "kind": "torque",
                            "text": "Tighten the tube screw.",
                            "fastener": "tube screw",
                            "spec": "plug torque",
                            "item": "tube screw",
                        },
                        {"kind": "close", "text": "Plug in.", "how": "reconnect", "item": "plug"},
                        {
                            "kind": "fill",
                            "text": "Fill it.",
                            "fluid": "gear oil",
                            "like_drained": True,
                            "item": "oil",
                        },
                        {"kind": "measure", "text": "Measure it.", "spec": "warm"},
                        {"kind": "photo", "text": "Take a picture."},
                    ],
                },
            ],
        },
    ],
}


class Clerk:
    """Appends events one second apart and folds them, as the record file would."""

    def __init__(self, sheet_data: dict) -> None:
        self.sheet = read_sheet(json.dumps(sheet_data).encode())
        self.events: list[Event] = []
        self.clock = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
        self.progress = Progress(self.sheet)
        self.add("begun", {"rehearsal": False, "orders": freeze_orders(self.sheet)})

    def add(self, kind: str, data: dict | None = None, after_s: float = 1.0) -> Event:
        """One more event, in the events and in the progress."""
        self.clock += timedelta(seconds=after_s)
        event = Event(len(self.events) + 1, tell_moment(self.clock), kind, data or {})
        self.events.append(event)
        self.progress.take(event)
        return event

    def folded(self) -> Progress:
        """The progress as opening the file would give it."""
        return fold(self.sheet, self.events)


@pytest.fixture
def clerk() -> Clerk:
    """A clerk for the small sheet."""
    return Clerk(SHEET)


@pytest.fixture(scope="session")
def clerk_for():
    """Makes a clerk for another sheet."""
    return Clerk


@pytest.fixture(scope="session")
def small_sheet() -> dict:
    """The data of the small sheet, to be copied and changed."""
    return SHEET
