"""The put-back steps that a sheet lacks, proposed in reverse from what it takes apart.

What is proposed is what the sheet itself tells. No figure is made up: where the sheet has no spec
for a fastener, one without a figure is proposed and asked about.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from typing import Literal

from shopguide.bolts.passes import Pass, ends_tight
from shopguide.bolts.pattern import Pattern
from shopguide.job.gaps import CLOSING, Gap, Need, Target, find_aim, find_gaps, list_opened
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
    Step,
    Task,
    Torque,
)
from shopguide.job.naming import find_head, is_fastener, is_fastener_of, is_plural, pick_words
from shopguide.torque.spec import Spec
from shopguide.torque.units import Kind

Place = Literal["put back", "check", "follow-up"]
_MOST_LINE, _MOST_INSTRUCTION = 200, 400
_NEW = re.compile(r"(?i)\b(new|fresh|unused|renew\w*|replac\w*)\b")
_OLD = re.compile(r"(?i)\b(old|clean\w*|scrap\w*)\b")
_GRAVE = ("DANGER", "WARNING")
_SCREW = {"thread", "grade", "condition"}
_REMINDER = re.compile(
    r"(?i)\b(oil\w*|grease\w*|thread-?\s?lock\w*|sealant|seal compound|lubricat\w*|anti-seize|"
    r"paste|dry|washers?|shims?|left-hand|lengths?|long|longer|short|shorter|marks?|marked|"
    r"align\w*|arrows?|direction)\b"
)
_LEAKS = re.compile(
    r"(?i)\b(leak\w*|leak-check|stays? dry|is dry|drips?|dripping|weep\w*|seep\w*)\b"
)
_WORKS = re.compile(
    r"(?i)\b(functions?|works|does what|switches on|tests?|operates?|"
    r"try (it|them|all|every\w*|out))\b"
)
_SEEPS = re.compile(rf"{_LEAKS.pattern}|(?i:\b(joint|seal|fluid|level|oil|coolant|damp|wet)\b)")
_WHEEL = re.compile(r"(?i)\b(wheel|lug)[- ]?(nut|bolt|stud|screw)?s?\b")
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
        self._fitting = self._list_fitting()
        self._fluids = {pick_words(fluid.name): fluid.name for fluid in reversed(sheet.fluids)}
        self._gaps = self._drop_doubled(find_gaps(sheet))
        self._lasts = self._find_lasts()
        self._parts, self._unplaced = self._place_parts()
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
        yield from self._propose_checks()

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
                    task = task.model_copy(update={"text": _tell_new(part)})
                else:
                    tasks.append(Confirm(text=_tell_new(part)))
                    needs.append(("part", part.name))
                fitted.append(part.name)
            tasks.append(task)
            needs.append(gap.need)
        deed = "Drained" if self._find_fluid(gaps[0]) is not None else "Taken apart"
        words = [f"{deed} in step {at.number}, “{at.step.title}”, and not put back.", *self._why]
        if fitted:
            be = "are" if len(fitted) > 1 else _be(fitted[0])
            words.append(f"{_join(fitted)} {be} single-use.")
        photos = at.step.photos if place == "put back" else ()
        if photos:
            one = len(photos) == 1
            words.append(
                f"{'Its photo is' if one else f'Its {len(photos)} photos are'} carried over."
            )
        for name, held in self._nearby.items():
            spec = self._by_name[name].tell()
            self._asks.append(f'Is "{name}" ({spec}) the spec for {_join(held, quoted=True)}?')
        if place == "put back" and any(c.signal in _GRAVE for c in at.step.cautions):
            self._asks.append(f"Does the warning of step {at.number} hold here too?")
        step = Step(
            title=_cut(_tell_title(tasks, gaps), _MOST_LINE),
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
            text = f"See that the {_bare(item)} {_be(item)} {deed}."
            return self._make_close(gap, "refill" if poured else "tighten", text)
        if poured:
            self._done.add(target)
            return self._make_fill(gap, target[1], item)
        if item is not None and gap.need != self._lasts.get(target):
            last = self._lasts[target][1]
            self._why.append(f'They are tightened together, after "{last}".')
            return self._make_close(gap, "refit", f"Start the {_bare(item)} by hand.")
        self._done.add(target)
        return self._make_torque(gap, item, target)

    def _make_close(self, gap: Gap, how: str, text: str = "") -> Task:
        name = gap.need[1]
        text = text or f"{how.capitalize()} the {_bare(name)}."
        if isinstance(gap.task, Leave):
            text = f"See that the {_bare(name)} is as it was."
        return Close(
            text=_cut(text, _MOST_INSTRUCTION), note=self._make_note(gap, None), how=how, item=name
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
            text=_cut(f"Tighten the {_bare(gap.need[1])}.", _MOST_INSTRUCTION),
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

    def _list_fitting(self) -> list[tuple[bool, frozenset[str], frozenset[str], tuple[str, ...]]]:
        """Of each task that can fit a new part: whether it says so, its own words, those of its
        step too, and what the step puts back."""
        found = []
        for place in self._sheet.steps:
            closed = tuple(task.closes for task in place.step.tasks if task.closes)
            names = (place.step.title, *closed)
            around = frozenset().union(*map(pick_words, names))
            for task in place.step.tasks:
                if task.opens:
                    continue
                for text in (task.text, task.note):
                    new = bool(_NEW.search(text))
                    if new or (closed and not _OLD.search(text)):
                        words = pick_words(text)
                        found.append((new, words, words | around, closed))
        return found

    def _is_renewed(self, part: Part) -> bool:
        """True where some task or note says, in whatever words, that the new part goes in."""
        wanted, head = pick_words(part.name), find_head(part.name)
        for new, words, around, closed in self._fitting:
            if new:
                if wanted <= words or (head in words and wanted <= around):
                    return True
            elif head in words and any(
                head not in pick_words(name) and _is_alike(part.name, name) for name in closed
            ):
                # A seal that is laid on where its cover goes back; "the filter" alone says little.
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
            hiding = self._list_hiding(tight)
            groups = _group(tight or [f"places where the {_list(drained)} runs"])
            yield Proposal(
                "check: leaks",
                "check",
                "Something that holds fluid was open, and nothing looks for leaks afterwards.",
                tuple(("check", " ".join(("leaks", *names))) for names in groups),
                Step(
                    title="Look for leaks",
                    text="Cold first, then after a short run.",
                    tasks=tuple(
                        Confirm(
                            text=_cut(f"Look for leaks at the {_join(told)}.", _MOST_INSTRUCTION)
                        )
                        for told in ([_bare(n) for n in names] for names in groups)
                    ),
                ),
                asks=(
                    f"Can all of it be seen with {_join(hiding, quoted=True)} back on? "
                    "If not, move this step ahead.",
                )
                if hiding
                else (),
            )
        working = [
            name
            for name, place in self._opened.items()
            if (pick_words(name) & _WORKS_BY_ITSELF and not is_fastener(name))
            or (
                not pick_words(name) & _HOLDS_FLUID
                and any(
                    isinstance(t, Open) and t.how == "disconnect" and t.item == name
                    for t in place.step.tasks
                )
            )
        ]
        if working and not self._says(_WORKS, last):
            groups = _group(working)
            yield Proposal(
                "check: function",
                "check",
                "Something that works was disconnected, and nothing tries it afterwards.",
                tuple(("check", " ".join(("function", *names))) for names in groups),
                Step(
                    title="Check the function",
                    tasks=tuple(
                        Confirm(text=_cut(_tell_trial(names), _MOST_INSTRUCTION))
                        for names in groups
                    ),
                ),
            )
        looked_at = [one.text for one in self._sheet.follow_ups]
        wheels = [n for n in self._opened if _WHEEL.search(n) and is_fastener(n)]
        if wheels and not any(map(_WHEEL.search, looked_at)):
            yield Proposal(
                "follow-up: wheels",
                "follow-up",
                "Wheel fasteners settle on the first drive, and no follow-up looks at them.",
                (("follow-up", "wheels"),),
                follow_up=FollowUp(
                    text=f"Bring the {_bare(wheels[0])} up to torque again, without slackening."[
                        :_MOST_LINE
                    ],
                    after="the first drive, as far as the maker's manual says",
                ),
                asks=("After what distance does the manual ask for it, if at all?",),
            )
        told = [pick_words(text) for text in looked_at]
        seen = any(map(_SEEPS.search, looked_at)) or any(
            pick_words(name) <= words for name in tight for words in told
        )
        if (tight or drained) and not seen:
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

    def _list_hiding(self, tight: list[str]) -> list[str]:
        """What comes off before the first of what holds fluid, and may hide it when it is on."""
        first = min((self._opened[name].number for name in tight), default=0)
        return [
            name
            for name, place in self._opened.items()
            if place.number < first and not is_fastener(name)
            for task in place.step.tasks
            if isinstance(task, Open) and task.item == name and task.how == "remove"
        ][:3]

    def _says(self, pattern: re.Pattern[str], last: int) -> bool:
        """True where a task after the last opening, or in a stage of checks, speaks of it."""
        for place in self._sheet.steps:
            if place.number < last:
                continue
            for task in place.step.tasks:
                if not task.opens and pattern.search(f"{task.text} {place.step.title}"):
                    return True
        return False


# --- small words --------------------------------------------------------------------------------


def _put_fasteners_last(gaps: list[Gap]) -> list[Gap]:
    """The gaps in their sequence, but none of a part's fasteners ahead of the part."""
    sorted_gaps: list[Gap] = []
    for gap in gaps:
        name = gap.need[1]
        held = [k for k, one in enumerate(sorted_gaps) if is_fastener_of(one.need[1], name)]
        sorted_gaps.insert(min(held, default=len(sorted_gaps)), gap)
    return sorted_gaps


_HEADS = frozenset(
    ["plug", "screw", "bolt", "nut", "ring", "seal", "gasket", "washer", "bracket", "tube"]
)


def _is_alike(part: str, item: str) -> bool:
    """True where a part's name and an item's have a telling word in common."""
    own, words = pick_words(part), pick_words(item)
    return own == words or bool((own & words) - _HEADS)


def _score(part: str, gap: Gap) -> float:
    """How well a part's name fits what is put back; 0 where they have no telling word in common."""
    if not _is_alike(part, gap.need[1]):
        return 0.0
    own, item = pick_words(part), pick_words(gap.need[1])
    common = own & item
    alike = 2 * len(common) / (len(own) + len(item))
    # A gasket belongs to the cover rather than to its screws.
    return alike - (0.1 if is_fastener(gap.need[1]) and not is_fastener(part) else 0.0)


def _tell_part(part: Part) -> str:
    number = f" ({part.number.splitlines()[0]})" if part.number else ""
    count = f"{part.quantity} × " if part.quantity > 1 else ""
    return f"{count}{part.name}{number}"


def _tell_new(part: Part) -> str:
    name = _tell_part(part)
    if part.quantity > 1:
        return _cut(f"Fit the new ones: {name}.", _MOST_INSTRUCTION)
    if name[1:2].islower():
        name = name[0].lower() + name[1:]
    return _cut(f"Fit the new {_bare(name)}.", _MOST_INSTRUCTION)


def _tell_title(tasks: list[Task], gaps: list[Gap]) -> str:
    names = [f"the {_bare(gap.need[1])}" for gap in gaps]
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
    return f"{deeds.pop() if len(deeds) == 1 else 'Put back'} {_join(shown)}"


def _be(name: str) -> str:
    return "are" if is_plural(name) else "is"


def _join(names: list[str], *, quoted: bool = False) -> str:
    """ "the lid, the tray and the hose"."""
    told = [f'"{name}"' for name in names] if quoted else names
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def _bare(name: str) -> str:
    """A name without the article that it may begin with."""
    return re.sub(r"(?i)^the\s+", "", name) or name


_MOST_CHECKS = 8


def _group(names: list[str]) -> list[list[str]]:
    """Each name for itself, to be checked one by one; of very many, the rest together."""
    if len(names) <= _MOST_CHECKS:
        return [[name] for name in names]
    return [*([name] for name in names[: _MOST_CHECKS - 1]), names[_MOST_CHECKS - 1 :]]


def _tell_trial(names: list[str]) -> str:
    works = "work" if len(names) > 1 or is_plural(names[0]) else "works"
    return f"Check that the {_join([_bare(name) for name in names])} {works} again."


def _list(names: list[str]) -> str:
    return ", ".join(names)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
