"""Where an added task is seated: ahead of the checks at the end, which look at the whole."""

from __future__ import annotations

from shopguide.job.checks import sort_check
from shopguide.job.model import Close, Fill, Torque
from shopguide.job.naming import is_fastener_of
from shopguide.review.facts import At, SheetFacts, StepFacts, loosens

Order = tuple[int, int]


def find_seat(
    facts: SheetFacts, opened: At, item: str = "", *, ahead_of_fills: bool = False
) -> str:
    """The address behind which a task belongs that puts back what `opened` takes apart.

    That is ahead of the first later task that looks for leaks, tries the function or runs the
    machine, of the first that fills a fluid in where `ahead_of_fills`, and of the tightening of
    the fasteners that hold `item`; behind the last task where there is none of them.
    """
    fills, checks = facts.here(_list_marks)
    marks = [*checks, *(fills if ahead_of_fills else ())]
    if item:
        marks += [
            order
            for closed, order in facts.here(_list_closings)
            if order > opened.order and is_fastener_of(closed, item)
        ]
    step, index = min((one for one in marks if one > opened.order), default=(0, 0))
    if not step:
        return facts.last_address
    if index > 1:
        return f"{step}.{index - 1}"
    # Ahead of a whole step it goes to the end of the one before, not under a title of checks.
    before = step - 1
    count = len(facts.steps[before - 1].step.tasks) if before else 0
    return f"{before}.{count}" if count else f"{step}.0"


def _list_closings(facts: SheetFacts) -> tuple[tuple[str, Order], ...]:
    """Every item that is closed, with where."""
    return tuple((at.closes, at.order) for at in facts.moves if at.closes)


def _list_marks(facts: SheetFacts) -> tuple[tuple[Order, ...], tuple[Order, ...]]:
    """The fills, and the checks, that come once all has been taken apart.

    What is opened a second time (a filler cap, to top up) does not count as taking apart. What
    is only likely a check counts where nothing is put back after it.
    """
    first: dict[str, Order] = {}
    last: Order = (0, 0)
    for at in facts.moves:
        if at.opens:
            first.setdefault(at.opens, at.order)
        if isinstance(at.task, Close) or (isinstance(at.task, Torque) and not loosens(at.task)):
            last = at.order
    since = max(first.values(), default=(0, 0))
    fills: list[Order] = []
    checks: list[Order] = []
    for number, step in facts.walk():
        if number < since[0]:
            continue
        for index, sort in step.recall(_find_marks):
            order = (number, index)
            if order > since and (sort != "likely" or order > last):
                (fills if sort == "fill" else checks).append(order)
    return tuple(fills), tuple(checks)


def _find_marks(facts: StepFacts) -> tuple[tuple[int, str], ...]:
    """The tasks of a step that fill a fluid in or check the whole, each with what it is."""
    found = []
    for index, task in facts.tasks:
        if isinstance(task, Fill) or (isinstance(task, Close) and task.how == "refill"):
            found.append((index, "fill"))
        elif not (task.opens or task.closes or isinstance(task, Torque)):
            sort = sort_check(f"{task.text} {facts.step.title}")
            if sort:
                found.append((index, sort))
    return tuple(found)
