"""What a buyer reads first: the machine, what was found, who signed, and how to check it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from shopguide.paper.clock import Clock, tell_duration
from shopguide.paper.findings import Finding, find_all
from shopguide.shop.vin import look_at_vin
from shopguide.work.progress import Progress

NOT_GIVEN = "not given"
HOW_TO_CHECK = (
    "Ask the owner for the key's fingerprint by another way than this paper, and compare it. "
    "Then open the PDF with “shopguide verify”: it tells whether anything was changed since "
    "signing, and whether the attached record still ends at the head printed here."
)
WHAT_IT_MEANS = (
    "The signature shows that the file has not changed since the holder of this key signed it. "
    "It shows neither who that is nor that what was entered is true."
)


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and what belongs to it; `note` is said more quietly."""

    name: str
    text: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Signing:
    """The drawn signature: strokes of (x, y) in thousandths of the pad's width, y down."""

    name: str
    when: str
    statement: str
    strokes: tuple[tuple[tuple[int, int], ...], ...]


@dataclass(frozen=True, slots=True)
class FirstPage:
    """The texts of the first page."""

    machine: str
    identity: tuple[Fact, ...]
    findings: tuple[Finding, ...]
    work: tuple[Fact, ...]
    signing: Signing | None
    statement: str
    head: str
    fingerprint: str
    how_to_check: str
    what_it_means: str
    times_note: str


def tell_first_page(
    progress: Progress, clock: Clock, *, head: str, fingerprint: str, own_statement: str
) -> FirstPage:
    """Everything on the first page. `head`: the record's head in hex."""
    laid_out = progress.laid_out
    hidden = _hidden(progress)
    signing = _tell_signing(progress, clock, own_statement)
    return FirstPage(
        machine=_tell_machine(laid_out, hidden),
        identity=_tell_identity(progress, clock, hidden),
        findings=find_all(progress),
        work=_tell_work(progress, clock, hidden),
        signing=signing,
        statement=signing.statement if signing else own_statement,
        head=head,
        fingerprint=fingerprint,
        how_to_check=HOW_TO_CHECK,
        what_it_means=WHAT_IT_MEANS,
        times_note=(
            f"Times are local time, {clock.offset()}, from this computer's clock, not certified."
        ),
    )


def _hidden(progress: Progress) -> frozenset[str]:
    """The fields that the owner left out at sign-off."""
    if progress.signed is None:
        return frozenset()
    return frozenset(str(name) for name in progress.signed.data.get("hidden", ()))


def _field(laid_out: Mapping[str, Any], name: str, hidden: frozenset[str]) -> str:
    if name in hidden:
        return "left out by the owner"
    return str(laid_out.get(name) or "").strip()


def _tell_machine(laid_out: Mapping[str, Any], hidden: frozenset[str]) -> str:
    parts = [str(laid_out.get(k) or "").strip() for k in ("make", "model") if k not in hidden]
    return " ".join(part for part in parts if part) or "Machine not given"


def _tell_identity(progress: Progress, clock: Clock, hidden: frozenset[str]) -> tuple[Fact, ...]:
    laid_out = progress.laid_out
    entered = {e.data["field"]: e for e in progress.live() if e.kind == "laid out"}
    vin, serial = _field(laid_out, "vin", hidden), _field(laid_out, "serial", hidden)
    facts = [Fact("Year", _field(laid_out, "year", hidden) or NOT_GIVEN)]
    if vin or not serial:
        said = "" if "vin" in hidden or not vin else _tell_vin(vin)
        facts.append(Fact("VIN", vin or NOT_GIVEN, said))
    if serial:
        facts.append(Fact("Serial number", serial))
    plate = _field(laid_out, "plate", hidden)
    if plate:
        facts.append(Fact("Plate", plate))
    odometer = _field(laid_out, "odometer", hidden)
    hours = odometer.endswith(("h", "hours", "hrs"))
    note = (
        f"as entered {clock.moment(entered['odometer'].at)}"
        if odometer and "odometer" in entered
        else ""
    )
    facts.append(Fact("Hours" if hours else "Odometer", odometer or NOT_GIVEN, note))
    return tuple(facts)


def _tell_vin(vin: str) -> str:
    """What the check digit says, without the advice that is meant for whoever types."""
    return look_at_vin(vin).told.replace("Look again.", "").strip()


def _tell_work(progress: Progress, clock: Clock, hidden: frozenset[str]) -> tuple[Fact, ...]:
    facts = [Fact("Done by", _field(progress.laid_out, "person", hidden) or NOT_GIVEN)]
    begun = next((e for e in progress.live() if e.kind == "begun"), None)
    facts.append(Fact("Begun", clock.moment(begun.at) if begun else NOT_GIVEN))
    facts.append(Fact("Worked", _tell_days(progress, clock)))
    signed = progress.signed
    facts.append(Fact("Signed", clock.moment(signed.at) if signed else "not signed off yet"))
    wrenches = progress.laid_out.get("wrenches") or ()
    worked = [e.when for e in progress.live() if e.kind == "mark"]
    first = clock.local(min(worked)).date() if worked else None
    if not wrenches:
        facts.append(Fact("Torque wrench", NOT_GIVEN))
    for index, wrench in enumerate(wrenches):
        name = "Torque wrench" if index == 0 else ""
        text, note = _tell_wrench(wrench, first, "wrenches" in hidden)
        facts.append(Fact(name, text, note))
    return tuple(facts)


def _tell_days(progress: Progress, clock: Clock) -> str:
    days = list(
        dict.fromkeys(
            clock.day(e.at)
            for e in progress.live()
            if e.kind in ("mark", "done", "skipped", "timer")
        )
    )
    if not days:
        return "nothing recorded yet"
    if len(days) > 3:
        said = f"on {len(days)} days, from {days[0]} to {days[-1]}"
    else:
        said = ", ".join(days)
    time = progress.working_time()
    return f"{said}; {tell_duration(time)} with the record open" if time else said


def _tell_wrench(wrench: Any, first: date | None, short: bool) -> tuple[str, str]:
    if not isinstance(wrench, Mapping):
        return str(wrench), ""

    def get(key: str) -> str:
        return str(wrench.get(key) or "").strip()

    low, high = get("low"), get("high")
    span = f", {low} to {high}" if low and high else ", range not given"
    text = f"{get('name') or 'name not given'}{span}"
    notes = [] if short or not get("serial") else [f"serial {get('serial')}"]
    notes.append(
        f"calibrated {get('calibrated')}" if get("calibrated") else "calibration not given"
    )
    if get("due"):
        late = _is_before(get("due"), first)
        notes.append(f"calibration due {get('due')}" + (", before this work" if late else ""))
    return text, ", ".join(notes)


def _is_before(text: str, moment: date | None) -> bool:
    """True where the text is a date as in 2031-05-04 that lies before the moment."""
    try:
        return moment is not None and date.fromisoformat(text) < moment
    except ValueError:
        return False


def _tell_signing(progress: Progress, clock: Clock, own_statement: str) -> Signing | None:
    if progress.signed is None:
        return None
    data = progress.signed.data
    strokes = tuple(
        tuple((int(x), int(y)) for x, y in stroke) for stroke in data.get("strokes", ()) if stroke
    )
    return Signing(
        str(data.get("name") or NOT_GIVEN),
        clock.moment(progress.signed.at),
        str(data.get("statement") or own_statement),
        strokes,
    )


def tidy_hex(head: str, sizes: Sequence[int] = (8,) * 8) -> str:
    """A hash in groups, to be compared by eye."""
    out, at = [], 0
    for size in sizes:
        out.append(head[at : at + size])
        at += size
    return " ".join(part for part in out if part)
