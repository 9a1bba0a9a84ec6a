"""The put-back steps that a sheet lacks, proposed in reverse from what it takes apart.

What is proposed is what the sheet itself tells. No figure is made up: where the sheet has no spec
for a fastener, one without a figure is proposed and asked about.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import count

from shopguide.bolts.passes import Pass, ends_tight
from shopguide.bolts.pattern import Pattern
from shopguide.job.checks import propose_checks
from shopguide.job.gaps import CLOSING, Gap, Need, Target, find_aim, find_gaps, list_opened
from shopguide.job.model import (
    Close,
    Confirm,
    Drain,
    Fill,
    Leave,
    Open,
    Sheet,
    Step,
    Task,
    Torque,
)
from shopguide.job.naming import find_head, is_fastener, is_fastener_of, is_plural, pick_words
from shopguide.job.new_parts import NewParts, tell_new
from shopguide.job.proposal import (
    MOST_INSTRUCTION,
    MOST_LINE,
    Place,
    Proposal,
    bare,
    be,
    cut,
    join,
)
from shopguide.torque.spec import Spec
from shopguide.torque.units import Kind

_GRAVE = ("DANGER", "WARNING")
_SCREW = {"thread", "grade", "condition"}
_REMINDER = re.compile(
    r"(?i)\b(oil\w*|grease\w*|thread-?\s?lock\w*|sealant|seal compound|lubricat\w*|anti-seize|"
    r"paste|dry|washers?|shims?|left-hand|lengths?|long|longer|short|shorter|marks?|marked|"
    r"align\w*|arrows?|direction)\b"
)


def propose_putback(sheet: Sheet) -> tuple[Proposal, ...]:
    """What the sheet lacks to put back what it takes apart, in the sequence of doing it."""
    return tuple(_Search(sheet).run())


class _Search:
    """One look through a sheet for what it leaves open."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._opened = list_opened(sheet)
        self._torques = [s for s in sheet.specs if s.kind is Kind.TORQUE]
        self._volumes = {s.name for s in sheet.specs if s.kind is Kind.VOLUME}
        self._by_name = {spec.name: spec for spec in sheet.specs}
        self._patterns = {pattern.name: pattern for pattern in sheet.patterns}
        self._taken = set(self._by_name)
        self._done: set[Target] = set()
        self._drained = {t.fluid for t in sheet.tasks.values() if isinstance(t, Drain)}
        self._targets: dict[Need, Target | None] = {}
        self._named = [
            (pick_words(pattern.name), find_head(pattern.fastener_word), pattern)
            for pattern in sheet.patterns
            if pick_words(pattern.name) and pattern.tightened
        ]
        self._torque_words = {pick_words(spec.name) for spec in self._torques}
        self._turns = self._list_turns()
        self._fluids = {pick_words(fluid.name): fluid.name for fluid in reversed(sheet.fluids)}
        self._gaps = self._drop_doubled(find_gaps(sheet))
        self._lasts = self._find_lasts()
        self._parts, self._unplaced = NewParts(sheet, self._gaps).place()
        self._asks: list[str] = []
        self._specs: list[Spec] = []
        self._why: list[str] = []
        self._nearby: dict[str, list[str]] = {}

    def run(self) -> Iterator[Proposal]:
        """The proposals in the sequence of doing them."""
        if not self._opened and not self._gaps:
            return
        yield from self._propose_steps()
        yield from self._propose_parts()
        yield from propose_checks(self._sheet, self._opened, self._gaps)

    def _drop_doubled(self, gaps: list[Gap]) -> list[Gap]:
        """Without what is tightened or filled in anyway when an item is put back."""
        turned = {self._find_target(gap) for gap in gaps if gap.need[0] == "item"} - {None}
        return [g for g in gaps if g.need[0] == "item" or self._find_target(g) not in turned]

    def _find_lasts(self) -> dict[Target, Need]:
        """Of the gaps that one tightening closes, the one that is put back last."""
        lasts: dict[Target, Need] = {}
        for gap in self._gaps:
            target = self._find_target(gap)
            if target is not None:
                # What was opened first is put back last.
                lasts.setdefault(target, gap.need)
        return lasts

    # --- the steps in reverse ---

    def _propose_steps(self) -> Iterator[Proposal]:
        fills, others = [], []
        for gap in self._gaps:
            (others if self._find_fluid(gap) is None else fills).append(gap)
        steps: dict[int, list[Gap]] = {}
        for gap in reversed(others):
            steps.setdefault(gap.at.number, []).append(gap)
        for number in sorted(steps, reverse=True):
            yield self._make_step(_put_fasteners_last(steps[number]), "put back")
        for gap in fills:
            yield self._make_step([gap], "check")

    def _make_step(self, gaps: list[Gap], place: Place) -> Proposal:
        self._asks, self._specs, self._why, self._nearby = [], [], [], {}
        at = gaps[0].at
        tasks: list[Task] = []
        needs: list[Need] = []
        fitted: list[str] = []
        for gap in gaps:
            task = self._make_task(gap)
            for part in self._parts.get(gap.need, ()):
                if isinstance(task, Close) and pick_words(part.name) == pick_words(gap.need[1]):
                    task = task.model_copy(update={"text": tell_new(part)})
                else:
                    tasks.append(Confirm(text=tell_new(part)))
                    needs.append(("part", part.name))
                fitted.append(part.name)
            tasks.append(task)
            needs.append(gap.need)
        deed = "Drained" if self._find_fluid(gaps[0]) is not None else "Taken apart"
        words = [f"{deed} in step {at.number}, “{at.step.title}”, and not put back.", *self._why]
        if fitted:
            are = "are" if len(fitted) > 1 else be(fitted[0])
            words.append(f"{join(fitted)} {are} single-use.")
        photos = at.step.photos if place == "put back" else ()
        if photos:
            one = len(photos) == 1
            words.append(
                f"{'Its photo is' if one else f'Its {len(photos)} photos are'} carried over."
            )
        for name, held in self._nearby.items():
            spec = self._by_name[name].tell()
            self._asks.append(f'Is "{name}" ({spec}) the spec for {join(held, quoted=True)}?')
        if place == "put back" and any(c.signal in _GRAVE for c in at.step.cautions):
            self._asks.append(f"Does the warning of step {at.number} hold here too?")
        step = Step(
            title=cut(_tell_title(tasks, gaps), MOST_LINE),
            text="",
            photos=photos,
            tasks=tuple(tasks),
        )
        keys = "; ".join(f"{sort} {name}" for sort, name in needs)
        return Proposal(
            f"{place}: {keys}",
            place,
            " ".join(words),
            tuple(needs),
            step,
            asks=tuple(self._asks),
            specs=tuple(self._specs),
        )

    def _find_target(self, gap: Gap) -> Target | None:
        """What is filled in or tightened to put a gap back; None where nothing is."""
        if gap.need not in self._targets:
            self._targets[gap.need] = self._choose_target(gap)
        return self._targets[gap.need]

    def _choose_target(self, gap: Gap) -> Target | None:
        fluid = self._find_fluid(gap)
        if fluid is not None:
            return ("fluid", fluid)
        if isinstance(gap.task, Torque):
            return find_aim(gap.task)
        if isinstance(gap.task, Leave):
            return ("fastener", gap.task.fastener) if gap.task.how == "left loose" else None
        if not isinstance(gap.task, Open) or gap.task.how not in ("remove", "loosen"):
            return None
        name = gap.need[1]
        pattern = self._find_pattern(name)
        if pattern is not None:
            return ("pattern", pattern.name)
        if is_fastener(name):
            return ("fastener", name)
        words = pick_words(name)
        if words not in self._torque_words:
            return None
        # A spec of the same name tells a fastener, unless it is that of the part's own screws.
        screwed = any(own == words for own, _, _ in self._named) or any(
            is_fastener(other) and words < pick_words(other) for other in self._opened
        )
        return None if screwed else ("fastener", name)

    def _find_fluid(self, gap: Gap) -> str | None:
        """The fluid that closes a gap when it is filled in; None where no fluid does."""
        if isinstance(gap.task, Drain):
            return gap.task.fluid
        if isinstance(gap.task, Open) and gap.task.how == "drain":
            return self._fluids.get(pick_words(gap.need[1]))
        return None

    # --- one task ---

    def _make_task(self, gap: Gap) -> Task:
        item = gap.need[1] if gap.need[0] == "item" else None
        target = self._find_target(gap)
        if target is None:
            how = gap.task.how if isinstance(gap.task, Open) else "remove"
            return self._make_close(gap, CLOSING[how])
        poured = target[0] == "fluid"
        if item is not None and (target in self._done or self._is_done_since(gap, target)):
            deed = "filled in" if poured else "tightened"
            self._why.append(f'"{target[1]}" is {deed} by a task that does not name "{item}".')
            # Nothing is tightened twice: this only says that it is so.
            text = f"See that the {bare(item)} {be(item)} {deed}."
            return self._make_close(gap, "refill" if poured else "tighten", text)
        if poured:
            self._done.add(target)
            return self._make_fill(gap, target[1], item)
        if item is not None and gap.need != self._lasts.get(target):
            last = self._lasts[target][1]
            self._why.append(f'They are tightened together, after "{last}".')
            return self._make_close(gap, "refit", f"Start the {bare(item)} by hand.")
        self._done.add(target)
        return self._make_torque(gap, item, target)

    def _make_close(self, gap: Gap, how: str, text: str = "") -> Task:
        name = gap.need[1]
        text = text or f"{how.capitalize()} the {bare(name)}."
        if isinstance(gap.task, Leave):
            text = f"See that the {bare(name)} is as it was."
        return Close(
            text=cut(text, MOST_INSTRUCTION), note=self._make_note(gap, None), how=how, item=name
        )

    def _is_done_since(self, gap: Gap, target: Target) -> bool:
        """True where a task after the opening fills in this fluid, or tightens these fasteners."""
        done = False
        for number, index, task in self._turns.get(target, ()):
            if (number, index) > (gap.at.number, gap.index):
                done = isinstance(task, Fill) or (
                    isinstance(task, Torque) and ends_tight(task.schedule)
                )
        return done

    def _make_fill(self, gap: Gap, fluid: str, item: str | None) -> Task:
        held = next((f for f in self._sheet.fluids if f.name == fluid), None)
        spec = held.spec if held is not None and held.spec in self._volumes else None
        note = self._make_note(gap, None)
        like = fluid in self._drained
        if like:
            self._why.append("As much goes in as was drained.")
            if spec is not None:
                self._asks.append(
                    f'Or is it filled to "{spec}" ({self._by_name[spec].tell()}) instead?'
                )
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

    def _make_torque(self, gap: Gap, item: str | None, target: Target) -> Task:
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
            text=cut(f"Tighten the {bare(gap.need[1])}.", MOST_INSTRUCTION),
            note=self._make_note(gap, pattern),
            pattern=name if sort == "pattern" else None,
            fastener=name if sort == "fastener" else None,
            spec=spec,
            passes=passes,
            item=item,
            **screw,
        )

    def _find_tightening(self, target: Target) -> Torque | None:
        """A task that tightens the same fasteners elsewhere in the sheet."""
        for _, _, task in self._turns.get(target, ()):
            if isinstance(task, Torque) and ends_tight(task.schedule):
                return task
        return None

    def _list_turns(self) -> dict[Target, list[tuple[int, int, Task]]]:
        """Every task that tightens, loosens, drains or fills, by what it is done to, in order."""
        turns: dict[Target, list[tuple[int, int, Task]]] = {}
        for place in self._sheet.steps:
            for index, task in enumerate(place.step.tasks):
                if isinstance(task, Torque):
                    turns.setdefault(find_aim(task), []).append((place.number, index, task))
                elif isinstance(task, (Fill, Drain)):
                    aim = ("fluid", task.fluid)
                    turns.setdefault(aim, []).append((place.number, index, task))
        return turns

    # --- names ---

    def _find_pattern(self, item: str) -> Pattern | None:
        """The pattern that an item is, by its name: "cover screws" are those of "cover"."""
        wanted = pick_words(item)
        if not wanted:
            return None
        exact, wider = [], []
        for own, word, pattern in self._named:
            told = wanted == own and (is_fastener(item) or is_fastener(pattern.name))
            if told or wanted == own | {word}:
                exact.append(pattern)
            elif own | {word} < wanted and is_fastener(item):
                wider.append(pattern)
        if len(exact) == 1:
            return exact[0]
        return wider[0] if not exact and len(wider) == 1 else None

    def _choose_spec(self, gap: Gap, name: str, earlier: Torque | None) -> tuple[str | None, bool]:
        """The spec to tighten to, and whether it has a figure; a new one where there is none."""
        if earlier is not None:
            return earlier.spec, True
        if isinstance(gap.task, Torque) and gap.task.spec in self._by_name:
            return gap.task.spec, self._by_name[gap.task.spec].has_figure
        found = self._find_spec(gap, gap.need[1]) or self._find_spec(gap, name)
        if found is not None:
            spec, how = found
            if how == "nearby":
                self._nearby.setdefault(spec.name, []).append(name)
            return spec.name, spec.has_figure
        # The spec of a pattern is called like what was taken out: "cover screws".
        own = gap.need[1] if gap.need[0] == "item" else name
        new = own
        for number in count(1):
            if new not in self._taken:
                break
            new = f"{own[:60]} torque" + (f" {number}" if number > 1 else "")
        self._taken.add(new)
        self._specs.append(Spec(name=new, kind=Kind.TORQUE))
        self._asks.append(f'What torque does "{own}" take? The sheet has no spec for it.')
        return new, False

    def _find_spec(self, gap: Gap, name: str) -> tuple[Spec, str] | None:
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

    def _make_note(self, gap: Gap, pattern: Pattern | None) -> str:
        lines = []
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
                tasks=tuple(Confirm(text=tell_new(part)) for part in parts),
            ),
            asks=tuple(f'Where does "{part.name}" belong? Move its task there.' for part in parts),
        )


# --- small words --------------------------------------------------------------------------------


def _put_fasteners_last(gaps: list[Gap]) -> list[Gap]:
    """The gaps in their sequence, but none of a part's fasteners ahead of the part."""
    sorted_gaps: list[Gap] = []
    for gap in gaps:
        name = gap.need[1]
        held = [k for k, one in enumerate(sorted_gaps) if is_fastener_of(one.need[1], name)]
        sorted_gaps.insert(min(held, default=len(sorted_gaps)), gap)
    return sorted_gaps


def _tell_title(tasks: list[Task], gaps: list[Gap]) -> str:
    names = [f"the {bare(gap.need[1])}" for gap in gaps]
    shown = names[:3] if len(names) <= 4 else [*names[:2], f"{len(names) - 2} more"]
    if len(names) == 4:
        shown = names
    deeds = {
        "Fill in"
        if isinstance(task, Fill)
        else "Tighten"
        if isinstance(task, Torque)
        else "See to"
        if task.text.startswith("See that")
        else "Put back"
        if isinstance(gaps[0].task, Leave) or not isinstance(task, Close)
        else task.how.capitalize()
        for task in tasks
        if not isinstance(task, Confirm)
    }
    return f"{deeds.pop() if len(deeds) == 1 else 'Put back'} {join(shown)}"
