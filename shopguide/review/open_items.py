"""Rules about open items: what comes off goes back on, once, and in an order that can be done."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import get_close_matches
from typing import NamedTuple

from shopguide.bolts.pattern import Pattern
from shopguide.job.gaps import CLOSING
from shopguide.job.model import Close, Drain, Fill, Leave, Open, Task, Torque
from shopguide.job.naming import pick_words
from shopguide.review.facts import At, SheetFacts, loosens
from shopguide.review.rule import Fix, Found, Rule
from shopguide.review.seats import find_seat


class _Book(NamedTuple):
    """The book of open items after the whole sheet."""

    still_open: tuple[At, ...]
    too_early: tuple[tuple[At, At], ...]
    never_opened: tuple[At, ...]
    opened_twice: tuple[tuple[At, At], ...]
    closed_twice: tuple[tuple[At, At], ...]
    closed_at: dict[str, At]
    opened_at: dict[str, At]


def keep_book(facts: SheetFacts) -> _Book:
    """Go through the sheet as work would, and note what does not come out even."""
    return facts.here(_keep_book)


def _keep_book(facts: SheetFacts) -> _Book:
    moves = [at for at in facts.moves if at.opens or at.closes]
    first: dict[str, At] = {}
    for at in moves:
        if at.opens:
            first.setdefault(at.opens, at)
    since: dict[str, At] = {}
    closed: dict[str, At] = {}
    early, never, twice_opened, twice_closed = [], [], [], []
    for at in moves:
        if at.closes:
            if at.closes not in first:
                never.append(at)
            elif at.closes in since:
                del since[at.closes]
                closed[at.closes] = at
            elif at.closes in closed:
                twice_closed.append((at, closed[at.closes]))
            else:
                early.append((at, first[at.closes]))
        if at.opens:
            if at.opens in since:
                twice_opened.append((at, since[at.opens]))
            else:
                since[at.opens] = at
    return _Book(
        tuple(since.values()),
        tuple(early),
        tuple(never),
        tuple(twice_opened),
        tuple(twice_closed),
        closed,
        first,
    )


def find_never_closed(facts: SheetFacts) -> Iterator[Found]:
    """Items that a task opens and no later task closes."""
    book = keep_book(facts)
    filled: dict[str, At] = {}
    for at in facts.fluids:
        if not isinstance(at.task, Drain):
            filled[at.task.fluid] = at  # type: ignore[union-attr]
    for at in book.still_open:
        task = at.task
        if isinstance(task, Torque) or (isinstance(task, Open) and task.how == "loosen"):
            continue  # a fastener that stays loose is graver, and has a rule of its own
        if isinstance(task, Drain) and not (
            task.fluid in filled and filled[task.fluid].order > at.order
        ):
            continue  # a fluid that never goes back in, too
        if isinstance(task, Leave) and any(at is loose for loose, _ in _list_loose(facts)):
            continue
        yield Found(
            at.place,
            f'"{at.opens}" is opened here and no later task closes it. '
            "Add the task that puts it back, or name it in the task that does.",
            propose_closing(facts, at),
        )


def propose_closing(facts: SheetFacts, at: At) -> Fix:
    """The task that closes what this one opens, behind the closing of what came off after it."""
    how = CLOSING[at.task.how] if isinstance(at.task, Open) else "tighten"
    if isinstance(at.task, Drain):
        how = "refill"
    verb = how.capitalize()
    book = keep_book(facts)
    inner = [
        book.closed_at[item]
        for item, opened in book.opened_at.items()
        if opened.order > at.order and item in book.closed_at
    ]
    after = min(inner, key=lambda one: book.opened_at[one.closes or ""].order, default=None)
    if after is not None:
        address = after.address
    elif isinstance(at.task, Drain):
        address = find_seat(facts, at)  # its fluid is in before anything is closed over it
    else:
        address = find_seat(facts, at, at.opens or "", ahead_of_fills=True)
    return Fix(
        "add task",
        f'Add "{verb} the {at.opens}"'[:80],
        {
            "after": address,
            "task": {
                "kind": "close",
                "text": f"{verb} the {at.opens}.",
                "how": how,
                "item": at.opens,
            },
        },
    )


def find_never_tightened(facts: SheetFacts) -> Iterator[Found]:
    """Fasteners that a task loosens and that no later task tightens."""
    for at in keep_book(facts).still_open:
        task = at.task
        if isinstance(task, Torque) or (isinstance(task, Open) and task.how == "loosen"):
            yield Found(
                at.place,
                f'"{at.opens}" is loosened here and no later task tightens it. '
                "Add the task that tightens it, or name it there.",
                propose_closing(facts, at),
            )


def find_closed_before_opened(facts: SheetFacts) -> Iterator[Found]:
    """Items that a task closes before any task has opened them."""
    for at, opener in keep_book(facts).too_early:
        yield Found(
            at.place,
            f'"{at.closes}" is closed here, but is opened only later. '
            "Exchange the two tasks, or correct the name.",
            Fix(
                "move task",
                f"Move it behind task {opener.address}",
                {"task": at.address, "after": opener.address},
            ),
        )


def find_closed_never_opened(facts: SheetFacts) -> Iterator[Found]:
    """Items that a task closes and no task opens."""
    for at in keep_book(facts).never_opened:
        waiting = [one.opens for one in _list_waiting(facts, at)]
        near = get_close_matches(at.closes or "", [name for name in waiting if name], 1)
        yield Found(
            at.place._replace(field="item"),
            f'"{at.closes}" is closed here, and no task opens it. '
            "Add the task that opens it, or correct the name.",
            _name_item(at, near[0]) if near else None,
        )


def _list_waiting(facts: SheetFacts, at: At) -> list[At]:
    """What was opened before a task and is never closed."""
    return [one for one in keep_book(facts).still_open if one.order < at.order]


def _name_item(at: At, name: str) -> Fix:
    return Fix(
        "change task", f'Write "{name}"'[:80], {"task": at.address, "changes": {"item": name}}
    )


def find_opened_twice(facts: SheetFacts) -> Iterator[Found]:
    """Items that a task opens while they are open."""
    for at, before in keep_book(facts).opened_twice:
        yield Found(
            at.place._replace(field="item"),
            f'"{at.opens}" is opened here while it is still open from step {before.step}. '
            "Close it in between, or give this one a name of its own.",
        )


def find_closed_twice(facts: SheetFacts) -> Iterator[Found]:
    """Items that a task closes once more."""
    for at, before in keep_book(facts).closed_twice:
        waiting = _list_waiting(facts, at)
        yield Found(
            at.place._replace(field="item"),
            f'"{at.closes}" is closed here, and is closed already since step {before.step}. '
            "Name the right item, or take it out of one of the two tasks.",
            # Where one thing only is still open, it is the one that was meant.
            _name_item(at, waiting[0].opens or "") if len(waiting) == 1 else None,
        )


# --- left loose -----------------------------------------------------------------------------


def find_left_loose(facts: SheetFacts) -> Iterator[Found]:
    """Fasteners left loose for now that no later task finishes."""
    for at, fastener in _list_loose(facts):
        named = facts.spec(fastener)
        own = fastener if named is not None and named.kind == "torque" else None
        spec = own or _find_spec_of_pattern(facts, fastener)
        fix = None
        if spec is not None:
            task = {
                "kind": "torque",
                "text": f"Tighten the {fastener}.",
                "fastener": fastener,
                "spec": spec,
            }
            if at.opens:
                task["item"] = at.opens
            fix = Fix(
                "add task",
                f'Add "Tighten the {fastener}"'[:80],
                {"after": find_seat(facts, at, ahead_of_fills=True), "task": task},
            )
        yield Found(
            at.place,
            f'"{fastener}" is left loose here and no later task tightens it. '
            "Add the torque task that finishes it.",
            fix,
        )


def _find_spec_of_pattern(facts: SheetFacts, fastener: str) -> str | None:
    """The spec by which the pattern is tightened that a fastener is one of: "cover screw 3"."""
    words = pick_words(fastener)
    for pattern in facts.sheet.patterns:
        own = pick_words(pattern.name) or pick_words(pattern.title)
        if own and own | pick_words(pattern.fastener_word) <= words:
            spec = _find_spec(facts, _list_tightenings(facts, pattern))
            if spec is not None:
                return spec
    return None


def _list_tightenings(facts: SheetFacts, pattern: Pattern) -> list[Torque]:
    return [task for _, task in facts.torques if task.pattern == pattern.name]


def _find_spec(facts: SheetFacts, tasks: list[Torque]) -> str | None:
    """The torque spec of the last of these tasks that tightens to one."""
    for task in reversed(tasks):
        passes = [one for one in task.schedule if one.kind == "torque"]
        named = task.spec_of(passes[-1]) if passes and not loosens(task) else None
        spec = facts.spec(named)
        if spec is not None and spec.kind == "torque":
            return spec.name
    return None


def _list_loose(facts: SheetFacts) -> list[tuple[At, str]]:
    """The leave tasks whose fastener nothing finishes, each with the fastener."""
    loose: dict[str, At] = {}
    for at in facts.moves:
        task = at.task
        if isinstance(task, Leave) and task.how == "left loose":
            loose[task.fastener] = at
            continue
        if not loose:
            continue
        if isinstance(task, Torque) and task.fastener and not loosens(task):
            loose.pop(task.fastener, None)
        if at.closes:
            loose = {
                fastener: since
                for fastener, since in loose.items()
                if at.closes not in (fastener, since.opens)
            }
    return [(at, fastener) for fastener, at in loose.items()]


def find_pattern_left_loose(facts: SheetFacts) -> Iterator[Found]:
    """Fasteners of a pattern that its passes leave out as loose, and that no task finishes."""
    for pattern in facts.sheet.patterns:
        left_out = facts.once(pattern, _list_left_out)
        used = [at for at, task in facts.torques if task.pattern == pattern.name]
        if not left_out or not used:
            continue
        single = [
            (at, f"{task.fastener} {task.text}")
            for at, task in facts.torques
            if task.fastener and not loosens(task)
        ]
        missing = [
            number
            for number in left_out
            if not any(
                at.order > used[0].order and re.search(rf"\b{number}\b", text)
                for at, text in single
            )
        ]
        if missing:
            shown = ", ".join(str(number) for number in missing[:8])
            yield Found(
                used[0].place,
                f'{pattern.fastener_word.capitalize()} {shown} of the pattern "{pattern.name}" '
                "stays loose in its passes, and no later task tightens it. Add a torque task for "
                "one fastener that names its number.",
                _tighten_alone(facts, used[-1], pattern, missing[0]),
            )


def _tighten_alone(facts: SheetFacts, rest: At, pattern: Pattern, number: int) -> Fix:
    """A task for one fastener behind the rest, to their spec; without one, its user names it."""
    spec = _find_spec(facts, _list_tightenings(facts, pattern))
    how = {"passes": [{"kind": "snug"}]} if spec is None else {"spec": spec}
    called = f"{pattern.name} {pattern.fastener_word} {number}"[:80]
    return Fix(
        "add task",
        f'Add "Tighten {called}"'[:80],
        {
            # Not at the end of the sheet: there the leaks are looked for already.
            "after": rest.address,
            "task": {
                "kind": "torque",
                "text": f"Tighten {called}.",
                "fastener": called,
                **how,
            },
        },
    )


def _list_left_out(pattern: Pattern) -> tuple[int, ...]:
    return tuple(one.number for one in pattern.fasteners or () if one.use == "leave loose")


# --- an order that can be done -------------------------------------------------------------

_KINDS = r"(?:(?:cap|set)?screw|bolt|nut|clip|clamp|stud|fastener)s?"
_FASTENERS = re.compile(
    rf"(?P<part>.+?)[ -]{_KINDS}$|{_KINDS} (?:of|on|for) (?:the )?(?P<of>.+)$", re.IGNORECASE
)


def find_part_inside_its_fasteners(facts: SheetFacts) -> Iterator[Found]:
    """Parts taken off before their fasteners are out, or put on after the fasteners are in.

    They belong together where one item is called "undertray" and another "undertray screws".
    """
    book = keep_book(facts)
    names = {item.lower(): item for item in book.opened_at}
    for item, opened in book.opened_at.items():
        found = _FASTENERS.fullmatch(item)
        name = names.get((found["part"] or found["of"]).lower(), "") if found else ""
        part = book.opened_at.get(name)
        if part is None:
            continue
        if part.order < opened.order and isinstance(part.task, Open) and part.task.how == "remove":
            yield Found(
                part.place,
                f'"{name}" comes off here, but "{item}" only later, in step {opened.step}. '
                "Exchange the two tasks.",
                Fix(
                    "move task",
                    f"Move it behind task {opened.address}",
                    {"task": part.address, "after": opened.address},
                ),
            )
        screwed, put_on = book.closed_at.get(item), book.closed_at.get(name)
        if (
            screwed is not None
            and put_on is not None
            and screwed.order < put_on.order
            and not _fills(put_on.task)  # a fluid goes into it, it does not go on
            # What is only started by hand does not hold yet.
            and (not isinstance(screwed.task, Close) or screwed.task.how == "tighten")
        ):
            yield Found(
                screwed.place,
                f'"{item}" is tightened here, but "{name}" goes on only later, in step '
                f"{put_on.step}. Exchange the two tasks.",
                Fix(
                    "move task",
                    f"Move it behind task {put_on.address}",
                    {"task": screwed.address, "after": put_on.address},
                ),
            )


def _fills(task: Task) -> bool:
    return isinstance(task, Fill) or (isinstance(task, Close) and task.how == "refill")


OPEN_ITEM_RULES: tuple[Rule, ...] = (
    Rule(
        "left loose is finished",
        "stops work",
        "a fastener left loose for a while is the one that is forgotten; "
        "common practice, no source",
        find_left_loose,
    ),
    Rule(
        "loosened is tightened",
        "stops work",
        "fasteners undone or incomplete were 22 % of the omissions in one airline's maintenance "
        "errors, the largest share (Reason 1997, read at second hand)",
        find_never_tightened,
    ),
    Rule(
        "opened before closed",
        "stops work",
        "what was never taken apart cannot be put back; common practice, no source",
        find_closed_before_opened,
    ),
    Rule(
        "closed was opened",
        "stops work",
        "the list of open items cannot close what is not on it; common practice, no source",
        find_closed_never_opened,
    ),
    Rule(
        "opened once at a time",
        "stops work",
        "two open items of one name cannot be told apart; common practice, no source",
        find_opened_twice,
    ),
    Rule(
        "opened is closed",
        "wants an answer",
        "what comes off and has no task that puts it back stays on the bench; "
        "common practice, no source",
        find_never_closed,
    ),
    Rule(
        "closed once",
        "wants an answer",
        "who closes the wrong item leaves the right one open; common practice, no source",
        find_closed_twice,
    ),
    Rule(
        "loose in the pattern is finished",
        "wants an answer",
        "a screw that the passes leave out is tightened by a task of its own or by nobody; "
        "common practice, no source",
        find_pattern_left_loose,
    ),
    Rule(
        "fasteners off first, on last",
        "wants an answer",
        "a part cannot come off while its screws hold it, nor go on once they are home; "
        "common practice, no source",
        find_part_inside_its_fasteners,
    ),
)
