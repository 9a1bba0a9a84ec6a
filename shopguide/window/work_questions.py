"""The questions of the place Work: a value, a reason, a note; and what their answers record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from shopguide.job.model import Measure
from shopguide.torque import units
from shopguide.work.figures import tell_clock
from shopguide.work.next_up import Due, read_value, seconds_left, spec_kind, value_data

if TYPE_CHECKING:
    from shopguide.window.work_place import WorkPlace


class Questions:
    """Asks in the strip above the bar; an answer goes to the record, Escape leaves it."""

    def __init__(self, place: WorkPlace) -> None:
        self._place = place

    def _record(self, kind: str, data: Mapping[str, Any]) -> None:
        desk = self._place.desk
        assert desk is not None, "nothing is asked without a job"
        desk.record(kind, data)

    def ask_value(self, due: Due, departure: str) -> None:
        task = self._place.progress.sheet.tasks[due.task]
        kind = spec_kind(self._place.progress, task)

        def look(text: str) -> str:
            reading = read_value(self._place.progress, due.task, text)
            said = reading.text + (f" = {reading.converted}" if reading.converted else "")
            return f"{said}. {reading.outside}" if reading.outside else said

        def take(text: str) -> None:
            reading = read_value(self._place.progress, due.task, text)
            if reading.outside and not departure:
                self.ask_departure(
                    f"{reading.outside} Record it all the same?",
                    lambda reason: self._record_value(due.task, text, reason),
                )
            else:
                self._record_value(due.task, text, departure)

        self._place.ask.open(
            f"{due.asks[:1].upper()}{due.asks[1:]}"
            + (": what do you read?" if isinstance(task, Measure) else "?"),
            f"Enter records {_what_kind(kind)}",
            take,
            check=look,
        )

    def _record_value(self, address: str, text: str, departure: str) -> None:
        reading = read_value(self._place.progress, address, text)
        self._record("done", value_data(address, reading, departure))

    def ask_departure(self, question: str, then: Callable[[str], None]) -> None:
        """Asked once: the deed differs from the sheet. The reason goes into the record."""
        self._place.ask.open(
            question,
            "Enter records it as a departure, with your reason",
            then,
        )

    def end_wait(self, due: Due, departure: str) -> None:
        left = seconds_left(self._place.progress, due.timer) or 0
        if left == 0:
            self._record(due.kind, {**due.data, **({"departure": departure} if departure else {})})
            return

        def take(reason: str) -> None:
            gone = due.seconds - (seconds_left(self._place.progress, due.timer) or 0)
            value = f"{tell_clock(gone)} of {tell_clock(due.seconds)}"
            self._record(due.kind, {**due.data, "value": value, "departure": reason})

        self.ask_departure(
            f"{tell_clock(left)} of {tell_clock(due.seconds)} are left. Why not wait?", take
        )

    def ask_skip(self) -> None:
        """Asks why the task that is due is skipped; with Shift the rest of its step."""
        due = self._place.due()
        if due.task:
            self._ask_why_skipped(
                f"this: {self._place.progress.sheet.tasks[due.task].text}", [due.task]
            )

    def ask_skip_step(self) -> None:
        due = self._place.due()
        if not due.task:
            return
        place = self._place.progress.sheet.steps[due.step - 1]
        addresses = [f"{due.step}.{k}" for k in range(1, len(place.step.tasks) + 1)]
        rest = [a for a in addresses if a not in self._place.progress.outcomes]
        self._ask_why_skipped(f"the rest of step {due.step}, {place.step.title}", rest)

    def _ask_why_skipped(self, what: str, addresses: list[str]) -> None:
        def take(reason: str) -> None:
            for address in addresses:
                self._record("skipped", {"task": address, "reason": reason})

        self._place.ask.open(
            f"Why do you skip {what}", "Enter records: skipped, with your reason", take
        )

    def ask_note(self) -> None:
        number = self._place.step_shown()

        def take(text: str) -> None:
            self._record("note", {"step": number, "text": text})

        self._place.ask.open(f"Note to step {number}", "Enter records the note", take)

    def ask_reading(self) -> None:
        marks = [m for made in self._place.progress.marks.values() for m in made]
        if not marks:
            self._place.notice.tell("There is no torqued screw yet that a reading could belong to.")
            return
        last = max(marks, key=lambda m: m.event.seq)

        def look(text: str) -> str:
            amount = units.read(text, units.Kind.TORQUE)
            return f"{amount.text} = {units.tell_converted(amount)}"

        def take(text: str) -> None:
            amount = units.read(text, units.Kind.TORQUE)
            self._record("reading", {"seq": last.event.seq, "reading": amount.text})

        self._place.ask.open(
            f"What did the wrench show at fastener {last.fastener}?",
            "Enter records the reading",
            take,
            check=look,
        )


def _what_kind(kind: units.Kind) -> str:
    return {
        units.Kind.VOLUME: "the amount",
        units.Kind.TEMPERATURE: "the temperature",
        units.Kind.TIME: "the time",
    }.get(kind, "the reading")
