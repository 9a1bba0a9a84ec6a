"""Putting back from taking apart: the put-back steps proposed in reverse, and merged into a sheet.

What is proposed is what the sheet itself tells: what it opens and does not close, in reverse. No
figure is made up: where the sheet has no spec for a fastener, one without a figure is proposed and
asked about. A proposal names what it is for (`needs`), so that merging again adds nothing twice.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import count
from typing import Literal

from shopguide.bolts.passes import Pass, ends_loose, ends_tight
from shopguide.bolts.pattern import Pattern
from shopguide.job.model import (
    Close,
    Confirm,
    Drain,
    Fill,
    FollowUp,
    Leave,
    Open,
    Part,
    Sheet,
    Stage,
    Step,
    StepPlace,
    Task,
    Torque,
)
from shopguide.job.naming import find_head, is_fastener, is_plural, pick_words
from shopguide.job.written import replace_fields
from shopguide.torque.spec import Spec
from shopguide.torque.units import Kind

Place = Literal["put back", "check", "follow-up"]
_Target = tuple[str, str]
"""What is tightened or filled in: ("pattern", its name), ("fastener", …) or ("fluid", …)."""
Need = tuple[str, str]
"""What a task of a proposal is for: ("item", its name), ("fluid", …), ("loose", the fastener),
("loose pattern", …), ("part", …), ("check", "leaks"), ("check", "function"), or
("follow-up", "leaks").
"""

PUT_BACK, CHECK = "Put back", "Check"
_MOST_LINE, _MOST_INSTRUCTION = 200, 400
_CLOSING = {
    "remove": "refit",
    "disconnect": "reconnect",
    "loosen": "tighten",
    "park aside": "refit",
    "drain": "refill",
}
_DEEDS = {
    "refit": "Refit",
    "reconnect": "Reconnect",
    "tighten": "Tighten",
    "refill": "Refill",
}
_SCREW = {"thread", "grade", "condition"}
_REMINDER = re.compile(
    r"(?i)\b(oil\w*|grease\w*|thread-?\s?lock\w*|sealant|seal compound|lubricat\w*|anti-seize|"
    r"paste|dry|washers?|shims?)\b"
)
_LEAKS = re.compile(r"(?i)\b(leaks?|leaking|leak-check|stays? dry)\b")
_WORKS = re.compile(r"(?i)\b(functions?|works|does what|switches on)\b")
_HOLDS_FLUID = frozenset(
    """
    hose pipe line tube plug cover pan sump gasket seal fitting union filter radiator pump
    thermostat tank cooler valve cap banjo caliper injector
    """.split()  # noqa: SIM905
)
_WORKS_BY_ITSELF = frozenset(
    """
    connector plug cable sensor battery wire harness switch linkage lead coil lamp
    """.split()  # noqa: SIM905
)


@dataclass(frozen=True, slots=True)
class Proposal:
    """One step, or one follow-up, that the sheet lacks.

    words: why it is proposed.  asks: what the sheet does not tell and the user has to.
    needs: what each task is for, in the sequence of the tasks.  specs: new ones, without figures.
    """

    key: str
    place: Place
    words: str
    needs: tuple[Need, ...]
    step: Step | None = None
    follow_up: FollowUp | None = None
    asks: tuple[str, ...] = ()
    specs: tuple[Spec, ...] = ()


@dataclass(frozen=True, slots=True)
class _Gap:
    """Something that the sheet leaves open, with the task that opens it."""

    need: Need
    at: StepPlace
    index: int
    task: Task


def propose_putback(sheet: Sheet) -> tuple[Proposal, ...]:
    """What the sheet lacks to put back what it takes apart, in the sequence of doing it."""
    return tuple(_Search(sheet).run())


def merge(sheet: Sheet, chosen: Iterable[Proposal]) -> Sheet:
    """The sheet with these proposals in it, each in its place; what it has by now is left out.

    May be called again after later edits, with old or new proposals: nothing is doubled.
    """
    return _Merging(sheet).run(chosen)


# --- what is open -------------------------------------------------------------------------------


def _find_gaps(sheet: Sheet) -> list[_Gap]:
    """What is open at the sheet's end, in the sequence of opening."""
    gaps: dict[Need, _Gap] = {}
    for place in sheet.steps:
        for index, task in enumerate(place.step.tasks):
            if isinstance(task, Fill):
                gaps.pop(("fluid", task.fluid), None)
            if isinstance(task, Torque) and ends_tight(task.schedule):
                gaps.pop(("loose", task.fastener or ""), None)
                gaps.pop(("loose pattern", task.pattern or ""), None)
            if task.closes:
                gaps.pop(("item", task.closes), None)
                gaps.pop(("loose", task.closes), None)
            if isinstance(task, Drain):
                gaps[("fluid", task.fluid)] = _Gap(("fluid", task.fluid), place, index, task)
            if task.opens:
                need: Need = ("item", task.opens)
                gaps.pop(need, None)
                gaps[need] = _Gap(need, place, index, task)
            elif isinstance(task, Leave) and task.how == "left loose":
                gaps[("loose", task.fastener)] = _Gap(("loose", task.fastener), place, index, task)
            elif isinstance(task, Torque) and ends_loose(task.schedule):
                if task.pattern is not None:
                    need = ("loose pattern", task.pattern)
                else:
                    need = ("loose", task.fastener or "")
                gaps[need] = _Gap(need, place, index, task)
    return list(gaps.values())


def _list_opened(sheet: Sheet) -> dict[str, StepPlace]:
    """Every item that is ever opened, with the step that opens it last."""
    return {task.opens: place for place in sheet.steps for task in place.step.tasks if task.opens}


class _Search:
    """One look through a sheet for what it leaves open."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._opened = _list_opened(sheet)
        self._torques = [s for s in sheet.specs if s.kind is Kind.TORQUE]
        self._volumes = {s.name for s in sheet.specs if s.kind is Kind.VOLUME}
        self._by_name = {spec.name: spec for spec in sheet.specs}
        self._patterns = {pattern.name: pattern for pattern in sheet.patterns}
        self._taken = set(self._by_name)
        self._done: set[_Target] = set()
        self._drained = {t.fluid for t in sheet.tasks.values() if isinstance(t, Drain)}
        self._gaps = self._drop_doubled(_find_gaps(sheet))
        self._parts, self._unplaced = self._place_parts()
        self._asks: list[str] = []
        self._specs: list[Spec] = []
        self._why: list[str] = []

    def run(self) -> Iterator[Proposal]:
        """The proposals in the sequence of doing them."""
        if not self._opened and not self._gaps:
            return
        yield from self._propose_steps()
        yield from self._propose_parts()
        yield from self._propose_checks()

    def _drop_doubled(self, gaps: list[_Gap]) -> list[_Gap]:
        """Without what is tightened or filled in anyway when an item is put back."""
        turned = {self._find_target(gap) for gap in gaps if gap.need[0] == "item"} - {None}
        return [g for g in gaps if g.need[0] == "item" or self._find_target(g) not in turned]

    # --- the steps in reverse ---

    def _propose_steps(self) -> Iterator[Proposal]:
        fills, others = [], []
        for gap in self._gaps:
            (others if self._find_fluid(gap) is None else fills).append(gap)
        steps: dict[int, list[_Gap]] = {}
        for gap in reversed(others):
            steps.setdefault(gap.at.number, []).append(gap)
        for number in sorted(steps, reverse=True):
            yield self._make_step(steps[number], "put back")
        for gap in fills:
            yield self._make_step([gap], "check")

    def _make_step(self, gaps: list[_Gap], place: Place) -> Proposal:
        self._asks, self._specs, self._why = [], [], []
        at = gaps[0].at
        tasks: list[Task] = []
        for gap in gaps:
            tasks.append(self._make_task(gap))
        opened = " and ".join(f'"{gap.need[1]}"' for gap in gaps[:6])
        more = f" and {len(gaps) - 6} more" if len(gaps) > 6 else ""
        if place == "put back":
            head = f"opens {opened}{more}; no task puts back what it opens."
        elif isinstance(tasks[0], Fill):
            head = f"drains {opened}; no task fills it in again."
        else:
            head = f"drains {opened}; no task closes that item."
        words = [f"Step {at.number}, '{at.step.title}', {head}", *self._why]
        photos = at.step.photos
        if photos and place == "put back":
            words.append("Its photos are carried over.")
        step = Step(
            title=_cut(_tell_title(tasks, gaps), _MOST_LINE),
            text="",
            photos=photos if place == "put back" else (),
            tasks=tuple(tasks),
        )
        needs = tuple(gap.need for gap in gaps)
        return Proposal(
            f"{place}: {'; '.join(f'{a} {b}' for a, b in needs)}",
            place,
            " ".join(words),
            needs,
            step,
            asks=tuple(self._asks),
            specs=tuple(self._specs),
        )

    def _find_target(self, gap: _Gap) -> _Target | None:
        """What is filled in or tightened to put a gap back; None where nothing is."""
        fluid = self._find_fluid(gap)
        if fluid is not None:
            return ("fluid", fluid)
        if isinstance(gap.task, Torque):
            return _aim(gap.task)
        if isinstance(gap.task, Leave):
            return ("fastener", gap.task.fastener) if gap.task.how == "left loose" else None
        if not isinstance(gap.task, Open) or gap.task.how not in ("remove", "loosen"):
            return None
        name = gap.need[1]
        pattern = self._find_pattern(name)
        if pattern is not None:
            return ("pattern", pattern.name)
        exact = any(pick_words(spec.name) == pick_words(name) for spec in self._torques)
        return ("fastener", name) if is_fastener(name) or exact else None

    def _find_fluid(self, gap: _Gap) -> str | None:
        """The fluid that closes a gap when it is filled in; None where no fluid does."""
        if isinstance(gap.task, Drain):
            return gap.task.fluid
        if isinstance(gap.task, Open) and gap.task.how == "drain":
            wanted = pick_words(gap.need[1])
            for fluid in self._sheet.fluids:
                if pick_words(fluid.name) == wanted:
                    return fluid.name
        return None

    # --- one task ---

    def _make_task(self, gap: _Gap) -> Task:
        item = gap.need[1] if gap.need[0] == "item" else None
        target = self._find_target(gap)
        if target is None:
            how = gap.task.how if isinstance(gap.task, Open) else "remove"
            return self._make_close(gap, _CLOSING[how])
        poured = target[0] == "fluid"
        if item is not None and (target in self._done or self._is_done_since(gap, target)):
            self._why.append(
                f'"{target[1]}" is {"filled in" if poured else "tightened"} by a task that '
                f'does not name "{item}".'
            )
            return self._make_close(gap, "refill" if poured else "tighten")
        self._done.add(target)
        if poured:
            return self._make_fill(gap, target[1], item)
        return self._make_torque(gap, item, target)

    def _make_close(self, gap: _Gap, how: str) -> Task:
        name = gap.need[1]
        text = f"{_DEEDS[how]} the {_bare(name)}."
        if isinstance(gap.task, Leave):
            text = f"See that the {_bare(name)} is as it was."
        return Close(
            text=_cut(text, _MOST_INSTRUCTION), note=self._make_note(gap, None), how=how, item=name
        )

    def _is_done_since(self, gap: _Gap, target: _Target) -> bool:
        """True where a task after the opening fills in this fluid, or tightens these fasteners."""
        done = False
        for place in self._sheet.steps[gap.at.number - 1 :]:
            for index, task in enumerate(place.step.tasks):
                if place.number == gap.at.number and index <= gap.index:
                    continue
                if isinstance(task, (Fill, Drain)) and ("fluid", task.fluid) == target:
                    done = isinstance(task, Fill)
                if isinstance(task, Torque) and _aim(task) == target:
                    done = ends_tight(task.schedule)
        return done

    def _make_fill(self, gap: _Gap, fluid: str, item: str | None) -> Task:
        held = next((f for f in self._sheet.fluids if f.name == fluid), None)
        spec = held.spec if held is not None and held.spec in self._volumes else None
        note = self._make_note(gap, None)
        like = fluid in self._drained
        if like:
            self._why.append("As much goes in as was drained.")
            return Fill(
                text=f"Fill in as much new {fluid} as was drained.",
                note=note,
                fluid=fluid,
                like_drained=True,
                item=item,
            )
        if spec is None:
            self._asks.append(f"How much {fluid} goes in? The sheet names no volume for it.")
        return Fill(text=f"Fill in new {fluid}.", note=note, fluid=fluid, spec=spec, item=item)

    def _make_torque(self, gap: _Gap, item: str | None, target: _Target) -> Task:
        sort, name = target
        pattern = self._patterns.get(name) if sort == "pattern" else None
        earlier = self._find_tightening(target)
        spec, figure = self._choose_spec(gap, name, earlier)
        passes: str | tuple[Pass, ...] = "torque"
        if earlier is not None:
            passes = earlier.passes
        elif not figure:
            passes = (Pass(kind="snug", spec=spec, note="The figure is not known."),)
        elif pattern is not None and len(pattern.tightened) > 1:
            self._asks.append(
                f'Which passes does the manual give for "{pattern.title}"? '
                "One pass to torque is proposed."
            )
        if sort == "fastener" and is_plural(name):
            self._asks.append(
                f'Are "{name}" several fasteners? Give them a pattern, or a task each.'
            )
        own = gap.task if isinstance(gap.task, Torque) else earlier
        screw = {} if own is None or sort == "pattern" else own.model_dump(include=_SCREW)
        return Torque(
            text=_cut(f"Tighten the {_bare(gap.need[1])}.", _MOST_INSTRUCTION),
            note=self._make_note(gap, pattern),
            pattern=name if sort == "pattern" else None,
            fastener=name if sort == "fastener" else None,
            spec=spec,
            passes=passes,
            item=item,
            **screw,
        )

    def _find_tightening(self, target: _Target) -> Torque | None:
        """A task that tightens the same fasteners elsewhere in the sheet."""
        for task in self._sheet.tasks.values():
            if isinstance(task, Torque) and ends_tight(task.schedule) and _aim(task) == target:
                return task
        return None

    # --- names ---

    def _find_pattern(self, item: str) -> Pattern | None:
        """The pattern that an item is, by its name: "cover screws" are those of "cover"."""
        wanted = pick_words(item)
        if not wanted:
            return None
        exact, wider = [], []
        for pattern in self._sheet.patterns:
            word = find_head(pattern.fastener_word)
            own = pick_words(pattern.name)
            if not own or not pattern.tightened:
                continue
            if (
                wanted == own and (is_fastener(item) or is_fastener(pattern.name))
            ) or wanted == own | {word}:
                exact.append(pattern)
            elif own | {word} < wanted and is_fastener(item):
                wider.append(pattern)
        if len(exact) == 1:
            return exact[0]
        return wider[0] if not exact and len(wider) == 1 else None

    def _choose_spec(self, gap: _Gap, name: str, earlier: Torque | None) -> tuple[str | None, bool]:
        """The spec to tighten to, and whether it has a figure; a new one where there is none."""
        if earlier is not None:
            return earlier.spec, True
        if isinstance(gap.task, Torque) and gap.task.spec in self._by_name:
            return gap.task.spec, _has_figure(self._by_name[gap.task.spec])
        found = self._find_spec(gap, gap.need[1]) or self._find_spec(gap, name)
        if found is not None:
            spec, how = found
            if how == "nearby":
                self._why.append(f'"{name}" gets the spec "{spec.name}" by the names in its step.')
                self._asks.append(f'Is "{spec.name}" ({spec.tell()}) the spec for "{name}"?')
            return spec.name, _has_figure(spec)
        new = name
        for number in count(1):
            if new not in self._taken:
                break
            new = f"{name[:60]} torque" + (f" {number}" if number > 1 else "")
        self._taken.add(new)
        self._specs.append(Spec(name=new, kind=Kind.TORQUE))
        self._asks.append(f'What torque does "{name}" take? The sheet has no spec for it.')
        return new, False

    def _find_spec(self, gap: _Gap, name: str) -> tuple[Spec, str] | None:
        """The torque spec for a fastener by its name; "nearby" where its step has to help."""
        wanted = pick_words(name)
        exact = [spec for spec in self._torques if pick_words(spec.name) == wanted]
        if exact:
            return exact[0], "exact"
        if not is_fastener(name):
            return None
        around = set(wanted) | pick_words(gap.at.step.title)
        for task in gap.at.step.tasks:
            around |= pick_words(task.opens or "")
        head = find_head(name)
        near = [
            spec
            for spec in self._torques
            if find_head(spec.name) == head
            and len(own := pick_words(spec.name)) > 1
            and own <= around
            and (own - {head}) & wanted
        ]
        return (near[0], "nearby") if len(near) == 1 else None

    # --- notes, parts ---

    def _make_note(self, gap: _Gap, pattern: Pattern | None) -> str:
        lines = []
        for part in self._parts.get(gap.need, ()):
            lines.append(f"New: {_tell_part(part)}.")
            self._why.append(f"{part.name} is single-use.")
        said = [
            sentence
            for text in (gap.task.note, gap.at.step.text if len(gap.at.step.tasks) == 1 else "")
            for sentence in re.split(r"(?<=[.!])\s+|\n", text)
            if _REMINDER.search(sentence)
        ]
        if said:
            lines.append(f"From taking apart: {' '.join(said)}")
            self._why.append("A note from taking apart is carried over.")
        if pattern is not None:
            conditions = dict.fromkeys(f.condition for f in pattern.tightened if f.condition)
            if conditions:
                lines.append(f"Threads: {', '.join(conditions)}.")
            lines += dict.fromkeys(
                f"Number {f.number}: {f.note}"
                for f in pattern.tightened
                if f.note and _REMINDER.search(f.note)
            )
        elif isinstance(gap.task, Torque) and gap.task.condition:
            lines.append(f"Thread: {gap.task.condition}.")
        return "\n".join(lines)[:4000].strip()

    def _place_parts(self) -> tuple[dict[Need, list[Part]], list[Part]]:
        """The single-use parts by the gap that they belong to, and those that belong to none."""
        placed: dict[Need, list[Part]] = {}
        unplaced = []
        for part in self._sheet.parts:
            if not part.single_use or self._is_renewed(part):
                continue
            scored = [(_score(part.name, gap), gap.need) for gap in self._gaps]
            best = max((score for score, _ in scored), default=0.0)
            if best <= 0:
                unplaced.append(part)
                continue
            need = next(need for score, need in scored if score == best)
            placed.setdefault(need, []).append(part)
        return placed, unplaced

    def _is_renewed(self, part: Part) -> bool:
        """True where some task or note says that the new part goes in."""
        wanted = pick_words(part.name)
        for task in self._sheet.tasks.values():
            for text in (task.text, task.note):
                # Names like "filter" are in many texts; only a new one counts.
                if re.search(r"(?i)\bnew\b", text) and wanted <= pick_words(text):
                    return True
        return False

    def _propose_parts(self) -> Iterator[Proposal]:
        parts = self._unplaced
        if not parts:
            return
        yield Proposal(
            f"parts: {'; '.join(part.name for part in parts)}",
            "put back",
            "These parts are single-use, and no task fits the new ones.",
            tuple(("part", part.name) for part in parts),
            Step(
                title="Fit the other new parts",
                tasks=tuple(Confirm(text=_tell_new(part)) for part in parts),
            ),
            asks=tuple(f'Where does "{part.name}" belong? Move its task there.' for part in parts),
        )

    # --- checks ---

    def _propose_checks(self) -> Iterator[Proposal]:
        last = max((place.number for place in self._opened.values()), default=0)
        last = max([last, *(gap.at.number for gap in self._gaps)])
        tight = [
            name
            for name in self._opened
            if pick_words(name) & _HOLDS_FLUID
            and (not is_fastener(name) or find_head(name) in ("plug", "union", "banjo"))
        ]
        tasks = self._sheet.tasks.values()
        drained = list(
            dict.fromkeys(
                task.fluid if isinstance(task, (Drain, Fill)) else task.item
                for task in tasks
                if isinstance(task, (Drain, Fill))
                or (isinstance(task, Open) and task.how == "drain")
            )
        )
        if (tight or drained) and not self._says(_LEAKS, last):
            places = _list(tight) if tight else f"where {_list(drained)} runs"
            yield Proposal(
                "check: leaks",
                "check",
                "Something that holds fluid was open, and nothing looks for leaks afterwards.",
                (("check", "leaks"),),
                Step(
                    title="Look for leaks",
                    tasks=(
                        Confirm(
                            text=_cut(f"Look for leaks at: {places}", _MOST_INSTRUCTION - 1) + ".",
                            note="Cold first, then after a short run.",
                        ),
                    ),
                ),
            )
        working = [
            name
            for name, place in self._opened.items()
            if (pick_words(name) & _WORKS_BY_ITSELF and not is_fastener(name))
            or any(
                isinstance(t, Open) and t.how == "disconnect" and t.item == name
                for t in place.step.tasks
            )
        ]
        if working and not self._says(_WORKS, last):
            yield Proposal(
                "check: function",
                "check",
                "Something that works was disconnected, and nothing tries it afterwards.",
                (("check", "function"),),
                Step(
                    title="Check the function",
                    tasks=(
                        Confirm(
                            text=_cut(
                                f"Check that everything works again: {_list(working)}",
                                _MOST_INSTRUCTION - 1,
                            )
                            + "."
                        ),
                    ),
                ),
            )
        if (tight or drained) and not self._sheet.follow_ups:
            yield Proposal(
                "follow-up: leaks",
                "follow-up",
                "A seal can begin to weep only after days, and no follow-up looks again.",
                (("follow-up", "leaks"),),
                follow_up=FollowUp(
                    text="Look for leaks again where the work was done.",
                    after="some days of use",
                ),
                asks=("After how many days, or what distance, is it looked at again?",),
            )

    def _says(self, pattern: re.Pattern[str], last: int) -> bool:
        """True where a task after the last opening, or in a stage of checks, speaks of it."""
        for place in self._sheet.steps:
            if place.number < last:
                continue
            for task in place.step.tasks:
                if not task.opens and pattern.search(f"{task.text} {place.step.title}"):
                    return True
        return False


# --- merging ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Seated:
    """A step with what decides where it stands: the number of the step that it puts back, or 0."""

    step: Step
    puts_back: int


class _Merging:
    """One merging of proposals into a sheet."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._gaps = {gap.need: gap for gap in _find_gaps(sheet)}
        self._opened = _list_opened(sheet)
        self._due = {need for one in propose_putback(sheet) for need in one.needs}
        self._specs = list(sheet.specs)
        self._follow_ups = list(sheet.follow_ups)
        self._into: dict[int, list[tuple[Place, _Seated]]] = {}
        self._fresh: list[tuple[Place, int, _Seated]] = []

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
        if proposal.place == "check" and not openers:
            since = max((opener.stage_number for opener in self._opened.values()), default=0)
        seated = _Seated(step, min((opener.number for opener in openers), default=0))
        index = self._find_stage(proposal.place, since)
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
        for index, stage in enumerate(self._sheet.stages):
            words = stage.title.casefold()
            fits = "check" in words if place == "check" else words.startswith(PUT_BACK.casefold())
            if index >= since and fits:
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
        fresh = [(since, seated) for place, since, seated in self._fresh if place == "put back"]
        check = self._find_stage("check", 0)
        before = len(stages) if check is None else check
        # What is opened within the checks is put back after them, all else before.
        for late in (True, False):
            held = []
            sinces = [since for since, _ in fresh if (since > before) == late]
            for since, seated in fresh:
                if (since > before) == late:
                    _seat(held, "put back", seated)
            if held:
                new_stage = Stage(title=PUT_BACK, steps=tuple(one.step for one in held))
                stages.insert(max(sinces) or before, new_stage)
        held = []
        for place, _, seated in self._fresh:
            if place == "check":
                _seat(held, "check", seated)
        if held:
            stages.append(Stage(title=CHECK, steps=tuple(one.step for one in held)))
        return stages

    def _seat_old(self, step: Step) -> _Seated:
        numbers = [self._opened[t.closes].number for t in step.tasks if t.closes in self._opened]
        return _Seated(step, min(numbers, default=0))


def _seat(held: list[_Seated], place: Place, new: _Seated) -> None:
    """Put a step into its stage: what was opened last comes first, fluids before checks."""
    at = len(held)
    if place == "put back" and new.puts_back:
        at = next((k for k, one in enumerate(held) if 0 < one.puts_back < new.puts_back), at)
    elif place == "check" and _fills(new.step):
        filled = [k for k, one in enumerate(held) if _fills(one.step)]
        at = filled[-1] + 1 if filled else 0
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


# --- small words --------------------------------------------------------------------------------


def _aim(task: Torque) -> _Target:
    return ("pattern", task.pattern) if task.pattern else ("fastener", task.fastener or "")


def _has_figure(spec: Spec) -> bool:
    return any(text is not None for text in (spec.value, spec.low, spec.high))


def _score(part: str, gap: _Gap) -> float:
    """How well a part's name fits what is put back; 0 where they have no telling word in common."""
    own, item = pick_words(part), pick_words(gap.need[1])
    heads = {"plug", "screw", "bolt", "nut", "ring", "seal", "gasket", "washer", "bracket", "tube"}
    common = own & item
    if not common - heads and own != item:
        return 0.0
    alike = 2 * len(common) / (len(own) + len(item))
    # A gasket belongs to the cover rather than to its screws.
    return alike - (0.1 if is_fastener(gap.need[1]) and not is_fastener(part) else 0.0)


def _tell_part(part: Part) -> str:
    number = f" ({part.number.splitlines()[0]})" if part.number else ""
    count = f"{part.quantity} × " if part.quantity > 1 else ""
    return f"{count}{part.name}{number}"


def _tell_new(part: Part) -> str:
    return _cut(f"Fit the new {_tell_part(part)}.", _MOST_INSTRUCTION)


def _tell_title(tasks: list[Task], gaps: list[_Gap]) -> str:
    names = [_bare(gap.need[1]) for gap in gaps]
    shown = " and ".join(names[:3]) + (f" and {len(names) - 3} more" if len(names) > 3 else "")
    deeds = {
        "Fill in"
        if isinstance(task, Fill)
        else "Tighten"
        if isinstance(task, Torque)
        else _DEEDS[task.how]
        if isinstance(task, Close)
        else "Put back"
        for task in tasks
    }
    return f"{deeds.pop() if len(deeds) == 1 else 'Put back'}: {shown}"


def _bare(name: str) -> str:
    """A name without the article that it may begin with."""
    return re.sub(r"(?i)^the\s+", "", name) or name


def _list(names: list[str]) -> str:
    return ", ".join(names)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
