"""A record's worth of events, made by folding a sheet through next_up as Space would."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from typing import Any

from PIL import Image, ImageDraw

from shopguide.job.model import Sheet, Torque
from shopguide.paper.contents import OWN_STATEMENT
from shopguide.work.chain import GENESIS, link
from shopguide.work.events import Event, tell_moment
from shopguide.work.next_up import (
    cautions_to_acknowledge,
    mark_data,
    next_up,
    read_value,
    value_data,
)
from shopguide.work.progress import Progress, freeze_orders

BEGUN = datetime(2031, 5, 4, 7, 30, tzinfo=UTC)
STATEMENT = OWN_STATEMENT
LAID_OUT: dict[str, Any] = {
    "make": "Quennerbeck",
    "model": "Tidewold 540",
    "year": "2019",
    "vin": "1M8GDM9AXKP042788",
    "odometer": "123456 km",
    "person": "Imke Tannhobel",
    "wrenches": [
        {
            "name": "small click wrench",
            "low": "4 N·m",
            "high": "20 N·m",
            "serial": "K 4711",
            "calibrated": "2031-01-12",
        },
        {"name": "large click wrench", "low": "10 N·m", "high": "50 N·m"},
    ],
}
VALUES = {
    "casing before draining": "38 °C",
    "flange gap": "0.05 mm",
    "long cover screws": "35 mm",
    "short cover screws": "20 mm",
    "fluid at the level check": "42 °C",
}


class WorkedRecord:
    """Events one after another, each chained to the one before it; the clock is made up."""

    def __init__(self, sheet: Sheet, begun: datetime = BEGUN, rehearsal: bool = False) -> None:
        self.sheet = sheet
        self.progress = Progress(sheet)
        self.events: list[Event] = []
        self.now = begun
        self.add(
            "begun",
            {
                "program": "shopguide 0",
                "sheet_sha256": "ab" * 32,
                "title": sheet.title,
                "rehearsal": rehearsal,
                "orders": freeze_orders(sheet),
            },
        )

    @property
    def head(self) -> str:
        """The hash of the last event."""
        return self.events[-1].hash

    def add(self, kind: str, data: dict[str, Any], seconds: float = 8) -> Event:
        """Appends an event some seconds after the last one."""
        self.now += timedelta(seconds=seconds)
        seq, at = len(self.events) + 1, tell_moment(self.now)
        prev = self.events[-1].hash if self.events else GENESIS
        event = Event(seq, at, kind, data, link(seq, prev, at, kind, data), prev)
        self.events.append(event)
        self.progress.take(event)
        return event

    def lay_out(self, **changed: Any) -> None:
        """Fills in Lay out; a field that is given as None is left out."""
        for field, value in {**LAID_OUT, **changed}.items():
            if value is not None:
                self.add("laid out", {"field": field, "value": value}, 20)
        for key, _ in cautions_to_acknowledge(self.sheet):
            self.add("acknowledged", {"caution": key, "place": "lay out"})
        parts = {part.name: True for part in self.sheet.parts}
        self.add("laid out", {"field": "parts", "value": parts})

    def step(self, value: str = "") -> bool:
        """Records what Space would record now; False at the end."""
        due = next_up(self.progress)
        match due.act:
            case "end" | "stuck":
                return False
            case "value":
                text = value or self._value_for(due.task)
                reading = read_value(self.progress, due.task, text)
                self.add("done", value_data(due.task, reading), 60)
            case "photo":
                self.take_photo(due.step, due.task)
                self.add("done", {"task": due.task}, 5)
            case "wait" if due.kind == "timer":
                self.add("timer", dict(due.data))
                self.now += timedelta(seconds=int(due.data["seconds"]))
            case _:
                self.add(due.kind, dict(due.data), 14 if due.kind == "mark" else 45)
        return True

    def work(self, until: str = "") -> None:
        """Works on to the end, or until the task with this address is due."""
        while next_up(self.progress).task != until or not until:
            if not self.step():
                break

    def mark(self, address: str, fastener: int, departure: str = "") -> Event:
        """Marks a fastener, due or not."""
        data = mark_data(self.progress, address, fastener, departure=departure)
        return self.add("mark", data, 14)

    def take_back(self) -> None:
        """Withdraws what was recorded last."""
        last = self.progress.last_taken()
        assert last is not None
        self.add("withdrawn", {"seq": last.seq}, 3)

    def take_photo(self, step: int, task: str = "", caption: str = "") -> str:
        """Adds a photo; its name for `read_photo`."""
        sha = f"{len(self.events):064x}"
        data = {"step": step, "sha256": sha, "paper_sha256": sha, "name": "photo.jpg"}
        data.update({"width": 1000, "height": 750})
        if task:
            data["task"] = task
        if caption:
            data["caption"] = caption
        self.add("photo", data)
        return sha

    def sign(self, name: str = "Imke Tannhobel", strokes: Any = None) -> None:
        """Signs the record off."""
        drawn = STROKES if strokes is None else strokes
        self.add("signed", {"name": name, "statement": STATEMENT, "strokes": drawn}, 120)

    def torque_address(self, pattern: str) -> str:
        """The address of the task that torques this pattern."""
        return next(
            address
            for address, task in self.sheet.tasks.items()
            if isinstance(task, Torque) and task.pattern == pattern
        )

    def _value_for(self, address: str) -> str:
        task = self.sheet.tasks[address]
        if task.kind in ("drain", "fill"):
            return "4035 mL"
        return VALUES.get(task.spec_names[0], "") or "1 mm"


STROKES = [
    [
        [120, 210], [135, 130], [160, 70], [185, 60], [180, 120], [165, 190], [180, 205],
        [215, 165], [240, 150], [238, 190], [260, 160], [285, 150], [290, 190], [330, 160],
    ],
    [[330, 160], [352, 120], [360, 90], [350, 150], [352, 195], [390, 170], [410, 160]],
    [[430, 80], [520, 62]],
    [[475, 75], [468, 150], [470, 200], [500, 185], [540, 160], [560, 165], [548, 195], [600, 170]],
]  # fmt: skip


def make_jpeg(name: str, width: int = 1000, height: int = 750) -> bytes:
    """A picture that stands for a photo: grey ground, some shapes, its name."""
    shade = 150 + sum(name.encode()) % 70
    image = Image.new("RGB", (width, height), (shade, shade - 8, shade - 20))
    draw = ImageDraw.Draw(image)
    for index in range(9):
        x, y = width * (index % 3 + 0.5) / 3, height * (index // 3 + 0.5) / 3
        draw.ellipse((x - 60, y - 60, x + 60, y + 60), fill=(90, 92, 96), outline=(40, 40, 44))
    draw.text((20, 20), name[:40], fill=(10, 10, 10))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=82)
    return out.getvalue()
