"""Rules about torque tasks: they end tight, work to a figure, and spoil nothing that is cured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from shopguide.bolts.passes import Pass
from shopguide.errors import UnitTrouble
from shopguide.job.model import Torque
from shopguide.review.facts import SheetFacts, StepFacts, loosens
from shopguide.review.open_items import keep_book
from shopguide.review.rule import Fix, Found, Place, Rule
from shopguide.torque.friction import find_condition


def find_passes_ending_loose(facts: SheetFacts) -> Iterator[Found]:
    """Torque tasks that loosen last, and what they loosened is never tightened.

    A loosening task is fine where its item is closed later (that has rules of its own), or where
    a later task tightens the same pattern or fastener.
    """
    loose = [(at, task) for at, task in facts.torques if loosens(task)]
    for at, task in loose:
        if task.item and keep_book(facts).opened_at.get(task.item) is not None:
            continue
        if any(
            later.order > at.order
            and (other.pattern, other.fastener) == (task.pattern, task.fastener)
            and not loosens(other)
            for later, other in facts.torques
        ):
            continue
        told = ", ".join(one.tell() for one in task.schedule)
        passes = [one.model_dump(exclude_defaults=True) for one in task.schedule]
        fix = None
        if task.spec:
            fix = Fix(
                "change task",
                "End with a pass to torque",
                {"task": at.address, "changes": {"passes": [*passes, {"kind": "torque"}]}},
            )
        yield Found(
            at.place._replace(field="passes"),
            f"The passes ({told}) leave the fasteners loose. End with a pass to torque, "
            "or tighten them in a later task.",
            fix,
        )


def find_share_at_end(facts: StepFacts) -> Iterator[Found]:
    """Torque tasks that end at a part of the torque."""
    for index, task in facts.torques:
        if loosens(task):
            continue
        to_torque = [one for one in task.schedule if one.kind in ("torque", "angle", "check")]
        if to_torque and to_torque[-1].share != 1.0:
            yield Found(
                Place(task=index, field="passes"),
                f"The last pass goes {to_torque[-1].tell()} only. End with a pass to the whole of "
                "it.",
                _change_passes(
                    "End with a pass to torque", index, [*task.schedule, _to_torque(to_torque[-1])]
                ),
            )


def _change_passes(says: str, index: int, passes: Iterable[Pass]) -> Fix:
    held = [one.model_dump(exclude_defaults=True) | {"kind": one.kind} for one in passes]
    return Fix("change task", says, {"task": index, "changes": {"passes": held}})


def _to_torque(like: Pass) -> Pass:
    """A pass to the whole torque of the same spec."""
    return Pass(kind="torque", spec=like.spec)


def _sort_shares(task: Torque) -> list[Pass]:
    """The passes of a task with the shares of each run to one torque in rising order."""
    sorted_passes: list[Pass] = []
    run: list[Pass] = []
    for one in (*task.schedule, None):
        in_run = one is not None and one.kind == "torque"
        if run and not (in_run and one is not None and task.spec_of(one) == task.spec_of(run[0])):
            sorted_passes += sorted(run, key=lambda held: held.share)
            run = []
        if in_run and one is not None:
            run.append(one)
        elif one is not None:
            sorted_passes.append(one)
    return sorted_passes


def _seat_first(task: Torque, index: int, angle: Pass) -> Fix | None:
    """A pass to the task's own torque before the angle; None where the task has none."""
    if not task.spec or task.spec == angle.spec:
        return None
    passes = list(task.schedule)
    passes.insert(passes.index(angle), Pass(kind="torque"))
    return _change_passes("Put a pass to torque before it", index, passes)


def find_falling_shares(facts: StepFacts) -> Iterator[Found]:
    """Passes to less torque than the pass before, with nothing backed off in between."""
    for index, task in facts.torques:
        before = None
        for one in task.schedule:
            if one.kind == "back off":
                before = None
            elif one.kind == "torque":
                if before is not None and before[0] == task.spec_of(one) and one.share < before[1]:
                    yield Found(
                        Place(task=index, field="passes"),
                        f"A pass {one.tell()} follows one to {before[1] * 100:g} %: the wrench "
                        "clicks at once and turns nothing. Let the shares rise.",
                        _change_passes("Let the shares rise", index, _sort_shares(task)),
                    )
                    break
                before = (task.spec_of(one), one.share)


def find_angle_from_nothing(facts: StepFacts) -> Iterator[Found]:
    """Angle passes that do not start from a torque."""
    for index, task in facts.torques:
        seated = False
        for one in task.schedule:
            if one.kind == "angle" and not seated:
                yield Found(
                    Place(task=index, field="passes"),
                    "The angle pass starts from loose screws, so the angle says nothing of their "
                    "force. Put a pass to torque before it.",
                    _seat_first(task, index, one),
                )
                break
            seated = one.kind != "back off" and (
                seated or one.kind in ("torque", "check", "angle") or one.spec is not None
            )


def find_checked_threadlock(facts: StepFacts) -> Iterator[Found]:
    """Check passes over screws that are locked with threadlock."""
    for index, task in facts.torques:
        if not any(one.kind == "check" for one in task.schedule):
            continue
        if is_locked(facts, task):
            passes = [
                one.model_dump(exclude_defaults=True)
                for one in task.schedule
                if one.kind != "check"
            ]
            yield Found(
                Place(task=index, field="passes"),
                "A check pass goes over threadlocked screws, and checking breaks the cured bond. "
                "Take the check pass out.",
                Fix(
                    "change task",
                    "Take the check pass out",
                    {"task": index, "changes": {"passes": passes}},
                )
                if passes
                else None,
            )


def is_locked(facts: StepFacts, task: Torque) -> bool:
    """True where the screws of a task, or some of them, are locked with threadlock."""
    pattern = facts.pattern(task.pattern)
    conditions = (
        {one.condition for one in pattern.tightened} if pattern is not None else {task.condition}
    )
    for text in conditions - {None}:
        try:
            if find_condition(text).name == "threadlock":
                return True
        except UnitTrouble:
            continue
    return False


# --- the figure -----------------------------------------------------------------------------


def find_torque_without_spec(facts: StepFacts) -> Iterator[Found]:
    """Torque tasks that tighten and name no spec at all."""
    for index, task in facts.torques:
        if loosens(task) or task.spec_names:
            continue
        name = task.pattern or task.fastener or ""
        yield Found(
            Place(task=index, field="spec"),
            f'"{name}" is tightened by feel: the task names no spec. Name its torque spec, '
            "be it one whose figure is not known.",
            Fix(
                "add spec",
                "Add a torque spec for it",
                {"spec": {"name": name, "kind": "torque"}, "task": index},
            ),
        )


def find_torque_without_figure(facts: StepFacts) -> Iterator[Found]:
    """Torque tasks whose spec has no figure, and no word on what to do instead."""
    return _find_figureless(facts, answered=False)


def find_torque_by_note(facts: StepFacts) -> Iterator[Found]:
    """Torque tasks whose spec has no figure, but says what to do instead."""
    return _find_figureless(facts, answered=True)


def _find_figureless(facts: StepFacts, *, answered: bool) -> Iterator[Found]:
    for index, task in facts.torques:
        for name in task.spec_names:
            spec = facts.spec(name)
            if spec is None or spec.has_figure or bool(spec.note) != answered:
                continue
            said = (
                f'No torque is known for "{name}"; its note says: {spec.note}'
                if answered
                else f'No torque is known for "{name}". Look it up, or write into its note what '
                "is done without it."
            )
            yield Found(Place(task=index, field="spec"), said)


def find_order_without_source(facts: SheetFacts) -> Iterator[Found]:
    """Orders said to be the manual's of which nobody says where they stand."""
    used = {task.pattern for _, task in facts.torques}
    for pattern in facts.sheet.patterns:
        if pattern.name not in used or pattern.order is None or len(pattern.order) < 3:
            continue
        if pattern.order_by == "manual" and not pattern.order_source:
            yield Found(
                Place(listed="patterns", name=pattern.name, field="order_source"),
                "Its order is said to be the manual's, and not where it stands there. Write its "
                "source, or that the order is your own.",
            )


def find_nothing_to_tighten(facts: StepFacts) -> Iterator[Found]:
    """Torque tasks on a pattern that has no fastener to tighten."""
    for index, task in facts.torques:
        pattern = facts.pattern(task.pattern)
        if isinstance(task, Torque) and pattern is not None and not pattern.tightened:
            yield Found(
                Place(task=index, field="pattern"),
                f'The pattern "{task.pattern}" has no fastener that is to be tightened. '
                "Name another pattern, or take this task out.",
            )


TIGHTENING_RULES: tuple[Rule, ...] = (
    Rule(
        "passes end tight",
        "stops work",
        "a cover whose screws were backed off last is not fastened; common practice, no source",
        find_passes_ending_loose,
    ),
    Rule(
        "threadlock is not checked",
        "stops work",
        "a wrench that turns a cured screw breaks its bond, and it does not heal (as quoted from a "
        "bolting consultant; the source itself was not seen)",
        find_checked_threadlock,
        "step",
    ),
    Rule(
        "pattern has a screw to tighten",
        "stops work",
        "a pass over nothing cannot be finished; common practice, no source",
        find_nothing_to_tighten,
        "step",
    ),
    Rule(
        "torque task has a spec",
        "wants an answer",
        "what is tightened by feel is to be said so aloud; common practice, no source",
        find_torque_without_spec,
        "step",
    ),
    Rule(
        "torque has a figure",
        "wants an answer",
        "a torque wrench wants a figure to be set to; common practice, no source",
        find_torque_without_figure,
        "step",
    ),
    Rule(
        "last pass is the whole torque",
        "wants an answer",
        "staged tightening ends at 100 %; ASME PCC-1, Table 2, from memory",
        find_share_at_end,
        "step",
    ),
    Rule(
        "angle starts from a torque",
        "wants an answer",
        "the angle counts from where the parts lie firmly together; common practice, no source",
        find_angle_from_nothing,
        "step",
    ),
    Rule(
        "order has a source",
        "wants an answer",
        "an order that nobody can look up cannot be checked; common practice, no source",
        find_order_without_source,
    ),
    Rule(
        "passes rise",
        "hint",
        "staged tightening goes up in steps; ASME PCC-1, Table 2, from memory",
        find_falling_shares,
        "step",
    ),
    Rule(
        "torque by its note",
        "hint",
        "without a figure the feel of the hand decides; common practice, no source",
        find_torque_by_note,
        "step",
    ),
)
