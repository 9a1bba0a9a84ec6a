"""What the paper says, as plain data: sheet and events folded into texts, without any layout."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, tzinfo

from shopguide.job.model import Sheet, Torque
from shopguide.paper.clock import Clock
from shopguide.paper.findings import Finding, find_all, tell_findings
from shopguide.paper.first_page import FirstPage, tell_first_page, tidy_hex
from shopguide.paper.steps import (
    CautionLine,
    ListLine,
    StagePart,
    tell_cautions,
    tell_past,
    tell_stages,
)
from shopguide.paper.torque_table import SingleRow, TorquePart, tell_singles, tell_torque
from shopguide.paper.values import ValueLine, tell_fluids, tell_measurements
from shopguide.work.events import Event
from shopguide.work.ledger import list_departures, list_items
from shopguide.work.next_up import say_event
from shopguide.work.progress import Progress, fold

__all__ = ["OWN_STATEMENT", "Contents", "Finding", "find_all", "make_contents", "tell_findings"]

OWN_STATEMENT = (
    "I did the work described here and entered these values. This is my own record. "
    "It is not an inspection or approval by an authority or workshop."
)
NOT_GIVEN = "not given"


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part of the sheet and whether it was laid out before work."""

    name: str
    number: str
    quantity: int
    single_use: bool
    price: str
    note: str
    laid_out: bool


@dataclass(frozen=True, slots=True)
class Contents:
    """The whole paper."""

    title: str
    machine: str
    head: str
    signed: bool
    rehearsal: bool
    first: FirstPage
    cautions: tuple[CautionLine, ...]
    parts: tuple[PartLine, ...]
    supplies: tuple[ListLine, ...]
    fluids: tuple[ValueLine, ...]
    measurements: tuple[ValueLine, ...]
    stages: tuple[StagePart, ...]
    torques: tuple[TorquePart, ...]
    singles: tuple[SingleRow, ...]
    departures: tuple[ListLine, ...]
    items: tuple[ListLine, ...]
    follow_ups: tuple[ListLine, ...]
    taken_back: tuple[ListLine, ...]
    entered_anew: tuple[ListLine, ...]
    sheet_facts: tuple[ListLine, ...]
    program: str


def make_contents(
    sheet: Sheet,
    events: Sequence[Event],
    *,
    head: str,
    made_at: datetime,
    program: str,
    fingerprint: str = "",
    zone: tzinfo | None = None,
    prices: bool = False,
) -> Contents:
    """Everything that the paper says.

    head: the hash of the record's last event, in hex.  zone: of the printed times; None is the
    computer's own.  prices: tell what parts cost, which is otherwise the owner's own matter.
    """
    progress = fold(sheet, events)
    clock = Clock(made_at, zone)
    first = tell_first_page(
        progress, clock, head=head, fingerprint=fingerprint, own_statement=OWN_STATEMENT
    )
    return Contents(
        title=sheet.title,
        machine=first.machine,
        head=head,
        signed=progress.signed is not None,
        rehearsal=progress.rehearsal,
        first=first,
        cautions=tell_cautions(progress, clock, None, sheet.cautions),
        parts=_tell_parts(progress, prices),
        supplies=tuple(ListLine(s.name, s.quantity, s.note) for s in sheet.supplies),
        fluids=tell_fluids(progress, clock),
        measurements=tell_measurements(progress, clock),
        stages=tell_stages(progress, clock),
        torques=tuple(
            tell_torque(progress, clock, address)
            for address, task in sheet.tasks.items()
            if isinstance(task, Torque) and task.pattern is not None
        ),
        singles=tell_singles(progress, clock),
        departures=tuple(
            ListLine(d.what, d.reason, d.where, clock.moment(d.at))
            for d in list_departures(progress)
        ),
        items=_tell_items(progress, clock),
        follow_ups=tuple(
            ListLine(f.text, f.after, sheet.spec(f.spec).tell() if f.spec else "")
            for f in sheet.follow_ups
        ),
        taken_back=_tell_taken_back(progress, clock),
        entered_anew=_tell_entered_anew(progress, clock),
        sheet_facts=_tell_sheet(sheet, events),
        program=program,
    )


# --- lists --------------------------------------------------------------------------------------


def _tell_parts(progress: Progress, prices: bool) -> tuple[PartLine, ...]:
    ticked = progress.laid_out.get("parts", {})
    ticked = ticked if isinstance(ticked, dict) else {}
    return tuple(
        PartLine(
            part.name,
            part.number,
            part.quantity,
            part.single_use,
            part.price if prices else "",
            part.note,
            bool(ticked.get(part.name)),
        )
        for part in progress.sheet.parts
    )


def _tell_items(progress: Progress, clock: Clock) -> tuple[ListLine, ...]:
    lines = []
    for item in list_items(progress):
        step = item.opened_by.split(".")[0]
        opened = f"{tell_past(item.how)} in step {step}, {clock.moment(item.opened_at)}"
        if item.closed_by:
            closed = progress.outcomes[item.closed_by].event.at
            state = f"closed in step {item.closed_by.split('.')[0]}, {clock.moment(closed)}"
        else:
            state = f"stays open: {item.reason}" if item.reason else "open, no reason given"
        lines.append(ListLine(item.item, opened, state, item.state))
    return tuple(lines)


def _tell_taken_back(progress: Progress, clock: Clock) -> tuple[ListLine, ...]:
    by_seq = {event.seq: event for event in progress.events}
    lines = []
    for event in progress.events:
        if event.kind != "withdrawn":
            continue
        old = by_seq.get(int(event.data["seq"]))
        if old is None:
            continue
        lines.append(
            ListLine(
                f"{say_event(progress, old)}",
                f"recorded {clock.moment(old.at)}",
                f"entry {old.seq}",
                clock.moment(event.at),
            )
        )
    return tuple(lines)


_TOLD_ANEW = {
    "make": "make",
    "model": "model",
    "year": "year",
    "vin": "VIN",
    "serial": "serial number",
    "plate": "plate",
    "odometer": "odometer or hours",
    "person": "work done by",
}


def _tell_entered_anew(progress: Progress, clock: Clock) -> tuple[ListLine, ...]:
    """What identifies the machine and was typed again after it had been entered."""
    known: dict[str, str] = {}
    lines = []
    for event in progress.live():
        if event.kind != "laid out" or event.data["field"] not in _TOLD_ANEW:
            continue
        name, value = event.data["field"], str(event.data["value"]).strip()
        before = known.get(name, "")
        if before and before != value:
            lines.append(
                ListLine(
                    _TOLD_ANEW[name],
                    f"“{before}” before, then “{value}”",
                    "",
                    clock.moment(event.at),
                )
            )
        known[name] = value
    return tuple(lines)


def _tell_sheet(sheet: Sheet, events: Sequence[Event]) -> tuple[ListLine, ...]:
    sheet_hash = next(
        (str(e.data.get("sheet_sha256", "")) for e in events if e.kind == "begun"), ""
    )
    lines = [
        ListLine("Job sheet", f"{sheet.title}; revision {sheet.revision} of {sheet.date}"),
        ListLine("Written by", sheet.author),
        ListLine("For", ", ".join(sheet.applies_to) or NOT_GIVEN),
    ]
    if sheet_hash:
        lines.append(ListLine("SHA-256 of the sheet", tidy_hex(sheet_hash)))
    return tuple(lines)
