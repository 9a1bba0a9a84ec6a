"""The ledger of open items: what was taken apart and is not yet back, and what departed."""

from __future__ import annotations

from dataclasses import dataclass

from shopguide.job.model import Leave, Open, Torque
from shopguide.work.progress import Progress

OPENED = {
    "remove": "removed",
    "disconnect": "disconnected",
    "loosen": "loosened",
    "park aside": "parked aside",
    "drain": "drained",
}
"""What was done to an open item, by what the task says to do."""


@dataclass(frozen=True, slots=True)
class OpenItem:
    """One thing that was opened. `state`: open, closed, or accounted for with a reason."""

    item: str
    how: str
    opened_by: str
    opened_at: str
    note: str = ""
    closed_by: str = ""
    reason: str = ""

    @property
    def state(self) -> str:
        if self.closed_by:
            return "closed"
        return "accounted for" if self.reason else "open"


@dataclass(frozen=True, slots=True)
class Departure:
    """A difference between sheet and deed, with its reason."""

    where: str
    what: str
    reason: str
    at: str


def list_items(progress: Progress) -> tuple[OpenItem, ...]:
    """Everything that was opened so far, in the order of opening."""
    items: dict[str, OpenItem] = {}
    done = [
        (outcome.event.seq, address)
        for address, outcome in progress.outcomes.items()
        if not outcome.skipped
    ]
    for _, address in sorted(done):
        task = progress.sheet.tasks.get(address)
        if task is None:
            continue
        if task.opens:
            if isinstance(task, Open):
                how = OPENED[task.how]
            elif isinstance(task, Leave):
                how = "left loose"
            else:
                how = "drained"
            event = progress.outcomes[address].event
            items[task.opens] = OpenItem(
                task.opens, how, address, event.at, note=task.note or task.text
            )
        if task.closes and task.closes in items:
            old = items[task.closes]
            items[task.closes] = OpenItem(
                old.item, old.how, old.opened_by, old.opened_at, old.note, closed_by=address
            )
    return tuple(
        item
        if item.closed_by or item.item not in progress.accounted
        else OpenItem(
            item.item,
            item.how,
            item.opened_by,
            item.opened_at,
            item.note,
            reason=progress.accounted[item.item],
        )
        for item in items.values()
    )


def still_open(progress: Progress) -> tuple[OpenItem, ...]:
    """The items that are neither closed nor accounted for."""
    return tuple(item for item in list_items(progress) if item.state == "open")


def list_departures(progress: Progress) -> tuple[Departure, ...]:
    """Every difference between sheet and deed, in the order in which they happened."""
    found: list[tuple[int, Departure]] = []
    for address, marks in progress.marks.items():
        place = progress.sheet.step_of(address)
        task = progress.sheet.tasks[address]
        word = (
            progress.sheet.pattern(task.pattern).fastener_word
            if isinstance(task, Torque) and task.pattern
            else "fastener"
        )
        for mark in marks:
            if mark.departure:
                found.append(
                    (
                        mark.event.seq,
                        Departure(
                            f"step {place.number}, {place.step.title}",
                            f"{word} {mark.fastener} out of turn in pass {mark.pass_number}",
                            mark.departure,
                            mark.event.at,
                        ),
                    )
                )
    for key, outcome in progress.rested.items():
        place = progress.sheet.step_of(key)
        if outcome.departure:
            what = f"the waiting time before a pass ({outcome.value})"
            where = f"step {place.number}, {place.step.title}"
            found.append(
                (outcome.event.seq, Departure(where, what, outcome.departure, outcome.event.at))
            )
    for address, outcome in progress.outcomes.items():
        place = progress.sheet.step_of(address)
        where = f"step {place.number}, {place.step.title}"
        text = progress.sheet.tasks[address].text
        if outcome.skipped:
            what = f"skipped: {text}"
            found.append(
                (outcome.event.seq, Departure(where, what, outcome.reason, outcome.event.at))
            )
        elif outcome.departure:
            what = f"{text} ({outcome.value})" if outcome.value else text
            found.append(
                (outcome.event.seq, Departure(where, what, outcome.departure, outcome.event.at))
            )
    return tuple(departure for _, departure in sorted(found, key=lambda pair: pair[0]))


def list_missing(progress: Progress) -> tuple[tuple[str, str], ...]:
    """(address, text) of every task that is neither done nor skipped, in order."""
    return tuple(
        (address, task.text)
        for address, task in progress.sheet.tasks.items()
        if address not in progress.outcomes
    )
