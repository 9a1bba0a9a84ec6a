"""Putting back: what `job.putback` proposes is merged into the sheet, nothing twice.

A proposal names what each of its tasks is for (`needs`); what the sheet has by now is left out, so
that proposals old and new may be merged again after later edits.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from shopguide.job.gaps import Need, find_gaps, list_opened
from shopguide.job.model import Fill, Sheet, Stage, Step, Task, Torque
from shopguide.job.naming import is_fastener_of, pick_words
from shopguide.job.proposal import Place, Proposal
from shopguide.job.putback import propose_putback
from shopguide.job.written import replace_fields
from shopguide.torque.spec import Spec
from shopguide.torque.units import Kind

__all__ = ["CHECK", "PUT_BACK", "Proposal", "merge", "propose_putback"]

PUT_BACK, CHECK = "Put back", "Check"
"""The titles of the stages that are made where a sheet has none of their sort."""

_PUTS_BACK = re.compile(r"(?i)(put(ting)? (it )?back|re-?assembl|refit|re-?fitting|assembl)")
_CHECKS = re.compile(r"(?i)check")


def merge(sheet: Sheet, chosen: Iterable[Proposal]) -> Sheet:
    """The sheet with these proposals in it, each in its place; what it has by now is left out.

    May be called again after later edits, with old or new proposals: nothing is doubled.
    """
    return _Merging(sheet).run(chosen)


@dataclass(frozen=True, slots=True)
class _Seated:
    """A step with what decides where it stands.

    puts_back: the number of the step that it puts back, or 0.  closes: the items.
    parts: what its fasteners hold, which goes on before it.  fasteners: what holds its parts.
    """

    step: Step
    puts_back: int
    closes: frozenset[str] = frozenset()
    parts: frozenset[str] = frozenset()
    fasteners: frozenset[str] = frozenset()


class _Merging:
    """One merging of proposals into a sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._gaps = {gap.need: gap for gap in find_gaps(sheet)}
        self._opened = list_opened(sheet)
        self._due = {need for one in propose_putback(sheet) for need in one.needs}
        self._specs = list(sheet.specs)
        self._follow_ups = list(sheet.follow_ups)
        self._into: dict[int, list[tuple[Place, _Seated]]] = {}
        self._fresh: list[tuple[Place, int, _Seated]] = []
        self._closed_in = {
            task.closes: place.stage_number - 1
            for place in sheet.steps
            for task in place.step.tasks
            if task.closes
        }
        self._closes_until = max(self._closed_in.values(), default=0)

    def run(self, chosen: Iterable[Proposal]) -> Sheet:
        """The sheet with the proposals in it."""
        for proposal in chosen:
            self._take(proposal)
        if (
            not self._into
            and not self._fresh
            and len(self._follow_ups) == len(self._sheet.follow_ups)
        ):
            return self._sheet
        return replace_fields(
            self._sheet,
            specs=tuple(self._specs),
            stages=tuple(self._build_stages()),
            follow_ups=tuple(self._follow_ups),
        )

    def _take(self, proposal: Proposal) -> None:
        due = [need in self._due for need in proposal.needs]
        self._due -= set(proposal.needs)
        if not any(due):
            return
        if proposal.follow_up is not None:
            self._follow_ups.append(proposal.follow_up)
        if proposal.step is None:
            return
        tasks = tuple(t for t, wanted in zip(proposal.step.tasks, due, strict=True) if wanted)
        step = proposal.step if all(due) else proposal.step.model_copy(update={"tasks": tasks})
        self._add_specs(tasks, proposal.specs)
        openers = [
            self._gaps[need].at
            for need, wanted in zip(proposal.needs, due, strict=True)
            if wanted and need in self._gaps
        ]
        # What is filled in or tightened may have been let out or loosened later once more.
        again = [
            self._gaps[need].at for t in tasks for need in _list_needs(t) if need in self._gaps
        ]
        since = max((opener.stage_number for opener in (*openers, *again)), default=0)
        if proposal.place == "check":
            # Nothing is filled in or tried before what is put back is back.
            since = max(since, self._closes_until)
            if not openers:
                last = max((opener.stage_number for opener in self._opened.values()), default=0)
                since = max(since, last)
        seated = self._seat_new(step, min((opener.number for opener in openers), default=0))
        # No screw is tightened before the last time that its part comes off.
        since = max([since, *(self._opened[part].stage_number for part in seated.parts)])
        closed = self._closed_in
        on = max((closed[part] for part in seated.parts if part in closed), default=-1)
        held = [closed[one] for one in seated.fasteners if closed.get(one, -1) >= since]
        index = self._find_stage(proposal.place, max(since, on))
        if held and (index is None or index > min(held)):
            # Its screws are put back already: it goes ahead of them.
            index = min(held)
        since = max(since, on + 1)
        if index is None:
            self._fresh.append((proposal.place, since, seated))
        else:
            self._into.setdefault(index, []).append((proposal.place, seated))

    def _add_specs(self, tasks: Iterable[Task], offered: Iterable[Spec]) -> None:
        known = {spec.name for spec in self._specs}
        by_name = {spec.name: spec for spec in offered}
        for task in tasks:
            for name in task.spec_names:
                if name not in known and isinstance(task, Torque):
                    known.add(name)
                    self._specs.append(by_name.get(name) or Spec(name=name, kind=Kind.TORQUE))

    def _find_stage(self, place: Place, since: int) -> int | None:
        """The index of the first stage of this sort that comes after stage number `since`."""
        sort = _CHECKS.search if place == "check" else _PUTS_BACK.match
        for index, stage in enumerate(self._sheet.stages):
            if index >= since and sort(stage.title):
                return index
        return None

    def _build_stages(self) -> list[Stage]:
        stages = []
        for index, stage in enumerate(self._sheet.stages):
            new = self._into.get(index)
            if new is None:
                stages.append(stage)
                continue
            held = [self._seat_old(step) for step in stage.steps]
            for place, seated in new:
                _seat(held, place, seated)
            steps = tuple(one.step for one in held)
            stages.append(stage.model_copy(update={"steps": steps}))
        seats: dict[int, list[_Seated]] = {}
        for place, since, seated in self._fresh:
            if place == "put back":
                _seat(seats.setdefault(self._find_seat(since), []), "put back", seated)
        for at in sorted(seats, reverse=True):
            steps = tuple(one.step for one in seats[at])
            stages.insert(at, Stage(title=PUT_BACK, steps=steps))
        held = []
        for place, _, seated in self._fresh:
            if place == "check":
                _seat(held, "check", seated)
        if held:
            stages.append(Stage(title=CHECK, steps=tuple(one.step for one in held)))
        return stages

    def _find_seat(self, since: int) -> int:
        """Where a new stage of putting back stands: before the checks that come after stage
        number `since`. What is opened within the checks is put back right after them."""
        check = self._find_stage("check", since)
        if check is not None:
            return check
        within = since > 0 and _CHECKS.search(self._sheet.stages[since - 1].title)
        return since if within else len(self._sheet.stages)

    def _seat_old(self, step: Step) -> _Seated:
        closes = frozenset(task.closes for task in step.tasks if task.closes)
        numbers = [self._opened[item].number for item in closes if item in self._opened]
        return _Seated(step, min(numbers, default=0), closes)

    def _seat_new(self, step: Step, puts_back: int) -> _Seated:
        closes = frozenset(task.closes for task in step.tasks if task.closes)
        parts, fasteners = self._pairs
        return _Seated(
            step,
            puts_back,
            closes,
            frozenset(one for item in closes for one in parts.get(item, ())) - closes,
            frozenset(one for item in closes for one in fasteners.get(item, ())) - closes,
        )

    @cached_property
    def _pairs(self) -> tuple[dict[str, list[str]], dict[str, list[str]]]:
        """The parts that each item holds as their fasteners, and the fasteners that hold each."""
        often = Counter(word for item in self._opened for word in pick_words(item))
        by_word: dict[str, list[str]] = {}
        for item in self._opened:
            # Each is found by the one of its words that is in the fewest names.
            word = min(pick_words(item), key=lambda one: (often[one], one), default=None)
            if word is not None:
                by_word.setdefault(word, []).append(item)
        parts: dict[str, list[str]] = {}
        fasteners: dict[str, list[str]] = {}
        for item in self._opened:
            for word in pick_words(item):
                for part in by_word.get(word, ()):
                    if is_fastener_of(item, part):
                        parts.setdefault(item, []).append(part)
                        fasteners.setdefault(part, []).append(item)
        return parts, fasteners


def _seat(held: list[_Seated], place: Place, new: _Seated) -> None:
    """Put a step into its stage: what was opened last comes first, fluids before checks."""
    at = len(held)
    if place == "put back" and new.puts_back:
        at = next((k for k, one in enumerate(held) if 0 < one.puts_back < new.puts_back), at)
        on = [k for k, one in enumerate(held) if one.closes & new.parts]
        tight = [k for k, one in enumerate(held) if one.closes & new.fasteners]
        at = max(at, *(k + 1 for k in on)) if on else min([at, *tight])
    elif place == "check" and _fills(new.step):
        before = [k for k, one in enumerate(held) if _fills(one.step) or one.puts_back]
        at = before[-1] + 1 if before else 0
    held.insert(at, new)


def _list_needs(task: Task) -> tuple[Need, ...]:
    """What a task serves besides its item."""
    if isinstance(task, Fill):
        return (("fluid", task.fluid),)
    if isinstance(task, Torque):
        return (("loose", task.fastener or ""), ("loose pattern", task.pattern or ""))
    return ()


def _fills(step: Step) -> bool:
    return any(isinstance(task, Fill) for task in step.tasks)
