"""What the first page says in plain sentences, each computed from the marks and honest when not.

A fastener counts as torqued twice only where the record holds both marks and, between them in the
record's own sequence, the back off that the sheet asks for.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from shopguide.bolts.heads import HeadState
from shopguide.bolts.passes import Pass
from shopguide.errors import UnitTrouble
from shopguide.job.model import Drain, Fill, Torque
from shopguide.torque import units
from shopguide.work.heads import head_states
from shopguide.work.ledger import list_departures, list_items, list_missing
from shopguide.work.progress import Mark, Progress

MOST_NAMED = 12
"""Fasteners named one by one in a sentence; more are counted."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence. `state`: the head to draw beside it; `whole`: nothing is missing."""

    text: str
    whole: bool = True
    state: HeadState | None = None


def tell_findings(progress: Progress) -> tuple[str, ...]:
    """The sentences of the first page."""
    return tuple(finding.text for finding in find_all(progress))


def find_all(progress: Progress) -> tuple[Finding, ...]:
    """What was torqued, then fluids, tasks, departures and open items."""
    patterns = [
        (address, task)
        for address, task in progress.sheet.tasks.items()
        if isinstance(task, Torque) and task.pattern is not None
    ]
    # The joint with the most pulls first: it is what the record is about.
    patterns.sort(key=lambda pair: -len(pair[1].schedule) * len(progress.order_of(pair[1])))
    return (
        *(find_torque(progress, address) for address, _ in patterns),
        *_find_singles(progress),
        *_find_readings(progress),
        *_find_fluids(progress),
        _find_tasks(progress),
        _find_departures(progress),
        _find_items(progress),
    )


# --- torque -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Joint:
    """The marks of one torque task, by fastener: the numbers of its passes in their sequence."""

    progress: Progress
    address: str
    task: Torque
    had: dict[int, dict[int, Mark]]

    @property
    def numbers(self) -> tuple[int, ...]:
        return self.progress.order_of(self.task)

    def has(self, number: int, passes: Sequence[int]) -> bool:
        """True where the fastener has all these passes, each after the one before it."""
        marks = [self.had.get(number, {}).get(one) for one in passes]
        if any(mark is None for mark in marks):
            return False
        seqs = [mark.event.seq for mark in marks if mark is not None]
        return seqs == sorted(seqs)

    def lacking(self, passes: Sequence[int]) -> list[int]:
        return [number for number in self.numbers if not self.has(number, passes)]

    def target(self, pass_number: int) -> str:
        """What the marks of a pass say they were made to; more than one where they differ."""
        told = [marks[pass_number].target for marks in self.had.values() if pass_number in marks]
        return " and ".join(dict.fromkeys(told)) or self._asked(pass_number)

    def _asked(self, pass_number: int) -> str:
        one = self.task.schedule[pass_number - 1]
        name = self.task.spec_of(one)
        if name is None:
            return "by hand" if one.kind == "snug" else "loose"
        spec = self.progress.sheet.spec(name)
        amount = spec.amount()
        return units.scale(amount, one.share).text if amount is not None else spec.tell()


def _gather(progress: Progress, address: str) -> _Joint:
    task = progress.sheet.tasks[address]
    assert isinstance(task, Torque)
    had: dict[int, dict[int, Mark]] = {}
    for mark in progress.marks.get(address, []):
        # The last trip of a check stands for the pass.
        had.setdefault(mark.fastener, {})[mark.pass_number] = mark
    return _Joint(progress, address, task, had)


def find_torque(progress: Progress, address: str) -> Finding:
    """One joint in one sentence, or a few where something is missing."""
    joint = _gather(progress, address)
    passes = list(enumerate(joint.task.schedule, 1))
    main = _main_passes(passes)
    state = _shared_state(progress, address)
    sentences = [_say_main(joint, main)]
    if joint.had:
        sentences[0] += _say_between(joint, passes, main)
        sentences += [*_say_before(joint, passes, main), *_say_checks(joint, passes)]
    outcome = progress.outcomes.get(address)
    if outcome is not None and outcome.skipped:
        sentences.append(f"The rest was skipped: {outcome.reason.rstrip('.')}.")
    every = [number for number, one in passes if one.kind != "check"]
    whole = not joint.lacking(every) and outcome is not None and not outcome.skipped
    return Finding(" ".join(f"{s.rstrip('.')}." for s in sentences if s), whole, state)


def _main_passes(passes: list[tuple[int, Pass]]) -> list[int]:
    """The passes that the sentence counts: to full torque and to angle; else whatever tightens."""
    full = [n for n, p in passes if (p.kind == "torque" and p.share == 1.0) or p.kind == "angle"]
    return full or [n for n, p in passes if p.kind in ("torque", "snug")] or [n for n, _ in passes]


def _shared_state(progress: Progress, address: str) -> HeadState:
    """The strokes that every head of the joint has; fewer where one of them has fewer."""
    states = list(head_states(progress, address).values())
    least = min(states, key=lambda s: (len(s.strokes), sum(s.strokes)), default=HeadState())
    return HeadState(least.strokes, all(s.snug for s in states), all(s.done for s in states))


def _say_main(joint: _Joint, main: list[int]) -> str:
    total = len(joint.numbers)
    lacking = joint.lacking(main)
    deed, times = _deed(joint, main)
    name, of_joint = _subject(joint)
    if joint.task.pattern is None:
        return f"The {name} was {deed}" if not lacking else f"The {name} was not {deed}"
    if len(lacking) == total and not joint.had:
        return f"None of the {total} {name}{of_joint} was {deed.split()[0]}"
    count = total - len(lacking)
    verb = "was" if count == 1 and total == 1 else "were"
    said = f"{count} of {total} {name}{of_joint} {verb} {deed}"
    if lacking:
        said += f"; {'not ' + times if times else 'not'}: {_list(joint, lacking)}"
    return said


def _deed(joint: _Joint, main: list[int]) -> tuple[str, str]:
    """ "torqued twice to 9 N·m" and "twice"; the second is empty for a single pass."""
    schedule = joint.task.schedule
    torqued = [n for n in main if schedule[n - 1].kind == "torque"]
    turned = [n for n in main if schedule[n - 1].kind == "angle"]
    snug = [n for n in main if schedule[n - 1].kind == "snug"]
    parts = []
    times = {1: "", 2: "twice", 3: "three times"}.get(len(torqued), f"{len(torqued)} times")
    if torqued:
        targets = list(dict.fromkeys(joint.target(n) for n in torqued))
        parts.append(" ".join(p for p in ("torqued", times, f"to {_and(targets)}") if p))
    elif snug:
        target = joint.target(snug[-1])
        parts.append(
            {
                "by hand": "tightened by hand",
                "not known": "tightened snug (the torque is not known)",
            }.get(target, f"tightened snug to {target}")
        )
    if turned:
        parts.append(f"turned a further {_and(joint.target(n) for n in turned)}")
    return " and ".join(parts) or "worked on", times


def _subject(joint: _Joint) -> tuple[str, str]:
    """ "screws" and " of the sump cover", as the pattern's title allows; or the one fastener."""
    if joint.task.pattern is None:
        return joint.task.fastener or "fastener", ""
    pattern = joint.progress.sheet.pattern(joint.task.pattern)
    word = pattern.fastener_word
    if len(joint.numbers) != 1:
        word += "es" if word.endswith(("s", "x", "ch", "sh")) else "s"
    title = pattern.title.split(",")[0].strip()
    if not title or pattern.fastener_word.lower() in title.lower() or len(title.split()) > 4:
        return word, f" (“{pattern.title}”)"
    if len(title) > 1 and not title[1].isupper():
        title = title[0].lower() + title[1:]
    return word, f" of the {title}"


def _say_between(joint: _Joint, passes: list[tuple[int, Pass]], main: list[int]) -> str:
    backs = [n for n, p in passes if p.kind == "back off" and main[0] < n < main[-1]]
    if not backs:
        return ""
    chain = sorted({*backs, *main})
    reached = [n for n in joint.numbers if main[0] in joint.had.get(n, {})]
    lacking = [
        n
        for n in reached
        if not joint.has(n, [one for one in chain if one <= backs[-1]])
        or (main[-1] in joint.had.get(n, {}) and not joint.has(n, chain))
    ]
    if not lacking and len(reached) == len(joint.numbers):
        return (
            "; in between each was backed off"
            if len(reached) > 1
            else "; in between it was backed off"
        )
    done = len(reached) - len(lacking)
    missing = [n for n in joint.numbers if n not in reached or n in lacking]
    if done == 0:
        return "; in between none was backed off"
    verb = "was" if done == 1 else "were"
    return f"; in between {done} {verb} backed off, not: {_list(joint, missing)}"


def _say_before(joint: _Joint, passes: list[tuple[int, Pass]], main: list[int]) -> list[str]:
    before = [
        n for n, p in passes if n < main[0] and n not in main and p.kind in ("snug", "torque")
    ]
    if not before:
        return []
    told = _and("snug" if joint.target(n) == "by hand" else joint.target(n) for n in before)
    lacking = joint.lacking(before)
    if not lacking:
        return [f"Before that each was brought to {told}"]
    return [f"Before that each was to be brought to {told}; not: {_list(joint, lacking)}"]


def _say_checks(joint: _Joint, passes: list[tuple[int, Pass]]) -> list[str]:
    said = []
    for number, one in passes:
        if one.kind != "check":
            continue
        trips: dict[int, list[Mark]] = {}
        for mark in joint.progress.marks.get(joint.address, []):
            if mark.pass_number == number:
                trips.setdefault(mark.trip, []).append(mark)
        target = joint.target(number)
        if not trips:
            said.append(f"The check at {target} was not made")
            continue
        last = trips[max(trips)]
        if len({m.fastener for m in last}) < len(joint.numbers):
            said.append(f"The check at {target} is not complete")
        elif any(m.moved for m in last):
            said.append(f"In the last trip of the check at {target} some still turned")
        else:
            trip = f" (trip {max(trips)})" if max(trips) > 1 else ""
            said.append(f"A check at {target} found none turning{trip}")
    return said


def name_fastener(numbers: Sequence[int], number: int) -> str:
    """A fastener by its place in the order, with its own number where that differs."""
    place = numbers.index(number) + 1
    return str(place) if place == number else f"{place} (no. {number})"


def _list(joint: _Joint, numbers: Sequence[int]) -> str:
    order = joint.numbers
    wanted = sorted(numbers, key=order.index)
    said = ", ".join(name_fastener(order, n) for n in wanted[:MOST_NAMED])
    more = len(wanted) - MOST_NAMED
    return f"{said} and {more} more" if more > 0 else said


def _and(texts: Iterable[str]) -> str:
    told = list(dict.fromkeys(texts))
    return " and ".join([", ".join(told[:-1]), told[-1]]) if len(told) > 1 else "".join(told)


def _find_singles(progress: Progress) -> list[Finding]:
    """The fasteners that are torqued one by one, together in one sentence."""
    good, bad = [], []
    for address, task in progress.sheet.tasks.items():
        if not isinstance(task, Torque) or task.pattern is not None:
            continue
        joint = _gather(progress, address)
        every = [n for n, p in enumerate(task.schedule, 1) if p.kind != "check"]
        if joint.lacking(every):
            bad.append(task.fastener or "")
        else:
            last = _main_passes(list(enumerate(task.schedule, 1)))[-1]
            good.append(f"{task.fastener} {joint.target(last)}")
    found = []
    if good:
        found.append(
            Finding(f"Torqued singly: {', '.join(good)}.", True, HeadState((True,), done=True))
        )
    if bad:
        found.append(Finding(f"Not torqued: {', '.join(bad)}.", False, HeadState()))
    return found


# --- everything else ----------------------------------------------------------------------------


def reading_of(progress: Progress, mark: Mark) -> str:
    """The reading that belongs to a mark, typed with it or later; "" where none was."""
    return progress.readings.get(mark.event.seq, mark.reading)


def reading_outside(progress: Progress, mark: Mark) -> str:
    """Why a reading lies outside what the sheet allows, as a few words; "" where it does not."""
    reading = reading_of(progress, mark)
    task = progress.sheet.tasks[mark.task]
    if not reading or not isinstance(task, Torque):
        return ""
    one = task.schedule[mark.pass_number - 1]
    name = task.spec_of(one)
    if name is None or one.share != 1.0:
        return ""
    spec = progress.sheet.spec(name)
    low, high = spec.limits()
    try:
        figure = units.read(reading, spec.kind).base
    except UnitTrouble:
        return ""
    if low is not None and figure < low - 1e-9:
        return f"below {spec.tell()}"
    if high is not None and figure > high + 1e-9:
        return f"above {spec.tell()}"
    return ""


def _find_readings(progress: Progress) -> list[Finding]:
    marks = [mark for marks in progress.marks.values() for mark in marks]
    outside = [mark for mark in marks if reading_outside(progress, mark)]
    if not outside:
        return []
    count = len(outside)
    verb = "reading lies" if count == 1 else "readings lie"
    return [Finding(f"{count} torque {verb} outside what the sheet allows.", False)]


def _find_fluids(progress: Progress) -> list[Finding]:
    found = []
    for fluid in dict.fromkeys(
        task.fluid for task in progress.sheet.tasks.values() if isinstance(task, Drain | Fill)
    ):
        came, went, whole = [], [], True
        for address, task in progress.sheet.tasks.items():
            if not isinstance(task, Drain | Fill) or task.fluid != fluid:
                continue
            outcome = progress.outcomes.get(address)
            if outcome is None or outcome.skipped or not outcome.value:
                whole = False
                continue
            (came if isinstance(task, Drain) else went).append(outcome.value)
        parts = []
        if came:
            parts.append(f"{' + '.join(came)} came out")
        if went:
            parts.append(f"{' + '.join(went)} went in")
        if not parts:
            parts.append("no amount is recorded")
        elif not whole:
            parts.append("the rest is not recorded")
        name = fluid[0].upper() + fluid[1:]
        found.append(Finding(f"{name}: {', '.join(parts)}.", whole))
    return found


def _find_tasks(progress: Progress) -> Finding:
    total = len(progress.sheet.tasks)
    missing = len(list_missing(progress))
    skipped = sum(1 for outcome in progress.outcomes.values() if outcome.skipped)
    done = total - missing - skipped
    if done == total:
        return Finding(f"All {total} tasks of the sheet were done.")
    parts = [f"{done} of {total} tasks of the sheet were done"]
    if skipped:
        parts.append(f"{skipped} {'was' if skipped == 1 else 'were'} skipped, with the reason")
    if missing:
        parts.append(f"{missing} {'is' if missing == 1 else 'are'} not recorded")
    return Finding("; ".join(parts) + ".", False)


def _find_departures(progress: Progress) -> Finding:
    count = len(list_departures(progress))
    if not count:
        return Finding("No departures from the sheet are recorded.")
    if count == 1:
        return Finding("1 departure from the sheet is recorded, with its reason.", False)
    return Finding(f"{count} departures from the sheet are recorded, with their reasons.", False)


def _find_items(progress: Progress) -> Finding:
    items = list_items(progress)
    if not items:
        return Finding("Nothing is recorded as taken apart.")
    open_now = [item for item in items if item.state == "open"]
    kept = [item for item in items if item.state == "accounted for"]
    closed = len(items) - len(open_now) - len(kept)
    if closed == len(items):
        return Finding(
            f"Everything that was taken apart is back: all {len(items)} items are closed."
        )
    parts = [f"{closed} of {len(items)} items that were taken apart are back"]
    if kept:
        stay = "stays" if len(kept) == 1 else "stay"
        parts.append(f"{len(kept)} {stay} open with a reason: {_names(kept)}")
    if open_now:
        verb = "is" if len(open_now) == 1 else "are"
        parts.append(f"{len(open_now)} {verb} open: {_names(open_now)}")
    return Finding("; ".join(parts) + ".", False)


def _names(items: Sequence[object]) -> str:
    names = [item.item for item in items]  # type: ignore[attr-defined]
    more = len(names) - MOST_NAMED
    said = ", ".join(names[:MOST_NAMED])
    return f"{said} and {more} more" if more > 0 else said
