"""Progress: what the events of a record add up to. Pure: no files, no window.

`fold(sheet, events)` gives the state; `Progress.take(event)` adds one more. A withdrawal makes
the state what it would be had the withdrawn event never been.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from shopguide.bolts.order import Order, find_order, travel
from shopguide.bolts.passes import MOST_TRIPS, Pass
from shopguide.bolts.pattern import Fastener, Pattern
from shopguide.job.model import Sheet, Torque
from shopguide.work.events import Event

TAKES_BACK = frozenset(
    {
        "acknowledged",
        "mark",
        "done",
        "skipped",
        "timer",
        "rested",
        "note",
        "photo",
        "reading",
        "accounted",
    }
)
"""The kinds of event that Backspace can take back."""

ORDER_FIELD = "order:"
"""How the field of Lay out that holds a pattern's order begins."""

SINGLE = 1
"""The fastener number under which a torque task on one named fastener is recorded."""


@dataclass(frozen=True, slots=True)
class Mark:
    """One fastener has had one pass. `pass_number` and `trip` count from 1."""

    event: Event
    task: str
    pass_number: int
    trip: int
    fastener: int
    target: str
    wrench: str = ""
    reading: str = ""
    moved: bool = False
    departure: str = ""


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a task ended: done or skipped, with what was typed and why."""

    event: Event
    skipped: bool = False
    value: str = ""
    departure: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class TripState:
    """Where a torque task stands: the pass and trip under way, and who is still to come."""

    pass_number: int
    trip: int
    one: Pass
    way: tuple[int, ...]
    marked: frozenset[int]
    stuck: bool = False
    """True where a check still found fasteners turning after MOST_TRIPS trips."""
    rests: bool = False
    """True where the waiting time before this pass is not over yet."""

    @property
    def due(self) -> int | None:
        """The fastener that comes next in this trip."""
        for number in self.way:
            if number not in self.marked:
                return number
        return None


@dataclass
class Progress:
    """The state of a record. Read it; only `take` changes it."""

    sheet: Sheet
    events: list[Event] = field(default_factory=list)
    withdrawn: set[int] = field(default_factory=set)
    orders: dict[str, Order] = field(default_factory=dict)
    rehearsal: bool = False
    laid_out: dict[str, Any] = field(default_factory=dict)
    acknowledged: dict[str, Event] = field(default_factory=dict)
    marks: dict[str, list[Mark]] = field(default_factory=dict)
    outcomes: dict[str, Outcome] = field(default_factory=dict)
    timers: dict[str, Event] = field(default_factory=dict)
    rested: dict[str, Outcome] = field(default_factory=dict)
    notes: list[Event] = field(default_factory=list)
    photos: list[Event] = field(default_factory=list)
    accounted: dict[str, str] = field(default_factory=dict)
    readings: dict[int, str] = field(default_factory=dict)
    signed: Event | None = None
    _reached: int = 0

    def __post_init__(self) -> None:
        self._addresses = tuple(self.sheet.tasks)
        for pattern in self.sheet.patterns:
            if pattern.name not in self.orders:
                self.orders[pattern.name] = find_order(pattern)

    # --- adding -------------------------------------------------------------------------

    def take(self, event: Event) -> None:
        """Adds one event; an unknown kind is kept and changes nothing."""
        self.events.append(event)
        if event.kind == "withdrawn":
            self.withdrawn.add(int(event.data["seq"]))
            self._rebuild()
        else:
            self._apply(event)

    def _rebuild(self) -> None:
        fresh = Progress(self.sheet)
        fresh.withdrawn = self.withdrawn
        for event in self.events:
            if event.kind != "withdrawn" and event.seq not in self.withdrawn:
                fresh._apply(event)
        for name in (
            "orders",
            "rehearsal",
            "laid_out",
            "acknowledged",
            "marks",
            "outcomes",
            "timers",
            "rested",
            "notes",
            "photos",
            "accounted",
            "readings",
            "signed",
        ):
            setattr(self, name, getattr(fresh, name))
        self._reached = 0

    def _apply(self, event: Event) -> None:
        data = event.data
        match event.kind:
            case "begun":
                self.rehearsal = bool(data.get("rehearsal", False))
                for name, frozen in data.get("orders", {}).items():
                    self.orders[name] = Order(tuple(frozen["numbers"]), frozen["by"])
            case "laid out":
                self.laid_out[data["field"]] = data["value"]
                if data["field"].startswith(ORDER_FIELD):
                    self._take_order(data["field"].removeprefix(ORDER_FIELD), data["value"])
            case "acknowledged":
                self.acknowledged[data["caution"]] = event
            case "mark":
                self._apply_mark(event)
            case "reading":
                self.readings[int(data["seq"])] = data["reading"]
            case "done":
                self.outcomes[data["task"]] = Outcome(
                    event, value=data.get("value", ""), departure=data.get("departure", "")
                )
            case "skipped":
                self.outcomes[data["task"]] = Outcome(event, skipped=True, reason=data["reason"])
            case "timer":
                self.timers[timer_key(data["task"], data.get("pass"))] = event
            case "rested":
                self.rested[timer_key(data["task"], data["pass"])] = Outcome(
                    event, value=data.get("value", ""), departure=data.get("departure", "")
                )
            case "note":
                self.notes.append(event)
            case "photo":
                self.photos.append(event)
            case "accounted":
                self.accounted[data["item"]] = data["reason"]
            case "signed":
                self.signed = event

    def _take_order(self, name: str, value: Any) -> None:
        """The user's own order counts as long as nothing of the pattern has been marked."""
        pattern = next((p for p in self.sheet.patterns if p.name == name), None)
        if pattern is None or self.order_is_frozen(name):
            return
        numbers = tuple(int(n) for n in value["numbers"])
        if sorted(numbers) == sorted(f.number for f in pattern.tightened):
            self.orders[name] = Order(numbers, value["by"])

    def order_is_frozen(self, name: str) -> bool:
        """True once a fastener of this pattern has been marked."""
        for address, made in self.marks.items():
            task = self.sheet.tasks.get(address)
            if made and isinstance(task, Torque) and task.pattern == name:
                return True
        return False

    def _apply_mark(self, event: Event) -> None:
        data = event.data
        address = data["task"]
        self.marks.setdefault(address, []).append(
            Mark(
                event=event,
                task=address,
                pass_number=int(data["pass"]),
                trip=int(data["trip"]),
                fastener=int(data["fastener"]),
                target=data["target"],
                wrench=data.get("wrench", ""),
                reading=data.get("reading", ""),
                moved=bool(data.get("moved", False)),
                departure=data.get("departure", ""),
            )
        )
        task = self.sheet.tasks.get(address)
        if isinstance(task, Torque) and self.trip(address) is None:
            self.outcomes[address] = Outcome(event)

    # --- reading ------------------------------------------------------------------------

    def pattern_of(self, task: Torque) -> Pattern:
        """The task's pattern; a single named fastener is a pattern of one."""
        if task.pattern is not None:
            return self.sheet.pattern(task.pattern)
        return Pattern(
            name=task.fastener or "",
            title=task.fastener or "",
            fasteners=(Fastener(number=SINGLE, x_mm=0.0, y_mm=0.0),),
        )

    def order_of(self, task: Torque) -> tuple[int, ...]:
        """The frozen tightening order of the task's fasteners."""
        return self.orders[task.pattern].numbers if task.pattern is not None else (SINGLE,)

    def way_of(self, task: Torque, one: Pass) -> tuple[int, ...]:
        """The fasteners in the order in which this pass meets them."""
        if task.pattern is None:
            return (SINGLE,)
        return travel(self.orders[task.pattern], self.sheet.pattern(task.pattern), one.travel)

    def trip(self, address: str) -> TripState | None:
        """Where the torque task stands; None once its last pass is complete."""
        task = self.sheet.tasks[address]
        assert isinstance(task, Torque)
        marks = self.marks.get(address, [])
        by_trip: dict[tuple[int, int], list[Mark]] = {}
        for mark in marks:
            by_trip.setdefault((mark.pass_number, mark.trip), []).append(mark)
        for pass_number, one in enumerate(task.schedule, 1):
            way = self.way_of(task, one)
            trip = 1
            unrested = one.after and timer_key(address, pass_number) not in self.rested
            if unrested and not by_trip.get((pass_number, 1)):
                return TripState(pass_number, 1, one, way, frozenset(), rests=True)
            while True:
                made = by_trip.get((pass_number, trip), [])
                marked = frozenset(m.fastener for m in made)
                if len(marked) < len(way):
                    return TripState(pass_number, trip, one, way, marked)
                if one.kind != "check" or not any(m.moved for m in made):
                    break
                if trip >= MOST_TRIPS:
                    return TripState(pass_number, trip, one, way, marked, stuck=True)
                trip += 1
        return None

    def passes_done(self, address: str, number: int) -> int:
        """How many passes, from the first, this fastener has completely had."""
        task = self.sheet.tasks[address]
        assert isinstance(task, Torque)
        had = {m.pass_number for m in self.marks.get(address, []) if m.fastener == number}
        count = 0
        while count + 1 in had:
            count += 1
        return count

    def first_undone(self) -> str | None:
        """The address of the first task in order that is neither done nor skipped."""
        while self._reached < len(self._addresses):
            if self._addresses[self._reached] not in self.outcomes:
                return self._addresses[self._reached]
            self._reached += 1
        return None

    def last_taken(self) -> Event | None:
        """The event that Backspace takes back now; None where there is none."""
        if self.signed is not None:
            return None
        for event in reversed(self.events):
            if event.kind in TAKES_BACK and event.seq not in self.withdrawn:
                if event.kind == "acknowledged" and event.data.get("place") == "lay out":
                    continue
                return event
        return None

    def live(self) -> Iterable[Event]:
        """The events that stand: neither withdrawals nor withdrawn."""
        return (e for e in self.events if e.kind != "withdrawn" and e.seq not in self.withdrawn)

    def working_time(self) -> timedelta:
        """How long the record was being worked on, from each start to its pause or last event."""
        total = timedelta()
        # Only where a stretch of work begins or ends is the time read: it is asked for often.
        since: Event | None = None
        last: Event | None = None
        for event in self.events:
            if event.kind == "started":
                total += _time_between(since, last)
                since = last = event
            elif since is not None:
                last = event
                if event.kind in ("paused", "signed"):
                    total += _time_between(since, last)
                    since = None
        return total + _time_between(since, last)

    def drained(self, fluid: str) -> tuple[str, ...]:
        """What was typed for each drain of this fluid, in order."""
        out = []
        for address, task in self.sheet.tasks.items():
            if task.kind == "drain" and task.fluid == fluid:
                outcome = self.outcomes.get(address)
                if outcome is not None and outcome.value:
                    out.append(outcome.value)
        return tuple(out)

    def share_done(self) -> float:
        """How far through the sheet, 0 to 1: whole steps, plus the part of the step under way."""
        address = self.first_undone()
        if address is None:
            return 1.0
        number, index = (int(x) for x in address.split("."))
        step = self.sheet.steps[number - 1].step
        part = (index - 1) / len(step.tasks)
        task = step.tasks[index - 1]
        if isinstance(task, Torque):
            pulls = len(task.schedule) * len(self.order_of(task))
            part += min(1.0, len(self.marks.get(address, [])) / pulls) / len(step.tasks)
        return (number - 1 + part) / len(self.sheet.steps)


def _time_between(since: Event | None, last: Event | None) -> timedelta:
    """From one event to another; none where one is missing or the clock was set back."""
    if since is None or last is None:
        return timedelta()
    return max(last.when - since.when, timedelta())


def fold(sheet: Sheet, events: Iterable[Event]) -> Progress:
    """The state that the events add up to."""
    progress = Progress(sheet)
    events = list(events)
    progress.withdrawn = {int(e.data["seq"]) for e in events if e.kind == "withdrawn"}
    for event in events:
        progress.events.append(event)
        if event.kind != "withdrawn" and event.seq not in progress.withdrawn:
            progress._apply(event)
    return progress


def freeze_orders(sheet: Sheet) -> dict[str, dict[str, Any]]:
    """The orders of all patterns as the `begun` event keeps them."""
    out = {}
    for pattern in sheet.patterns:
        order = find_order(pattern)
        out[pattern.name] = {"numbers": list(order.numbers), "by": order.by}
    return out


def timer_key(address: str, pass_number: int | None = None) -> str:
    """Under what a waiting time is kept: a task's own, or the one before one of its passes."""
    return address if pass_number is None else f"{address} pass {pass_number}"
