"""Rules about fluids: what is drained is filled in again, and as much as the capacity says."""

from __future__ import annotations

from collections.abc import Iterator

from shopguide.errors import UnitTrouble
from shopguide.job.model import Drain, Fill
from shopguide.review.facts import At, SheetFacts
from shopguide.review.rule import Fix, Found, Rule
from shopguide.review.seats import find_seat
from shopguide.torque import units
from shopguide.torque.spec import AGREE_SHARE, Spec


def find_drained_never_filled(facts: SheetFacts) -> Iterator[Found]:
    """Fluids that are drained and never filled in again."""
    waiting: dict[str, At] = {}
    for at in facts.fluids:
        if isinstance(at.task, Drain):
            waiting.setdefault(at.task.fluid, at)
        elif isinstance(at.task, Fill):
            waiting.pop(at.task.fluid, None)
    for fluid, at in waiting.items():
        task = {
            "kind": "fill",
            "text": f"Fill in the {fluid}, as much as was drained.",
            "fluid": fluid,
            "like_drained": True,
        }
        if at.opens:
            task["item"] = at.opens
        yield Found(
            at.place,
            f'"{fluid}" is drained here and never filled in again. Add the fill task.',
            Fix(
                "add task",
                f'Add "Fill in the {fluid}"'[:80],
                {"after": find_seat(facts, at), "task": task},
            ),
        )


def find_total_off_capacity(facts: SheetFacts) -> Iterator[Found]:
    """Fluids of which more, or less, is filled in than the capacity allows, in whatever units.

    The capacity is the spec of the fluid; where it has none, that of its drain task. A drain
    begins anew. Without tolerance or limits 2 % are allowed, as between two printings.
    """
    so_far: dict[str, list[tuple[At, units.Amount]]] = {}
    drained: dict[str, Drain] = {}
    unknown: set[str] = set()
    rounds: list[tuple[str, Drain | None, list[tuple[At, units.Amount]]]] = []

    def end(fluid: str) -> None:
        fills = so_far.pop(fluid, [])
        if fills and fluid not in unknown:
            rounds.append((fluid, drained.get(fluid), fills))
        unknown.discard(fluid)

    for at in facts.fluids:
        if isinstance(at.task, Drain):
            end(at.task.fluid)
            drained[at.task.fluid] = at.task
        elif isinstance(at.task, Fill):
            amount = _find_amount(facts.spec(at.task.spec))
            if amount is None or at.task.like_drained:
                unknown.add(at.task.fluid)
            else:
                so_far.setdefault(at.task.fluid, []).append((at, amount))
    for fluid in tuple(so_far):
        end(fluid)
    for fluid, drain, fills in rounds:
        named = facts.fluid(fluid)
        capacity = facts.spec(named.spec) if named is not None else None
        if capacity is None and drain is not None:
            capacity = facts.spec(drain.spec)
        if capacity is not None:
            yield from _hold_against(fluid, capacity, fills, drain is not None)


def _hold_against(
    fluid: str, capacity: Spec, fills: list[tuple[At, units.Amount]], emptied: bool
) -> Iterator[Found]:
    at, first = fills[-1][0], fills[0][1]
    if capacity.kind is not first.kind:
        return
    low, high = capacity.limits()
    value = capacity.amount()
    if value is not None:
        low = value.base * (1 - AGREE_SHARE) if low is None else low
        high = value.base * (1 + AGREE_SHARE) if high is None else high
    total = sum(amount.base for _, amount in fills)
    over = high is not None and total > high * (1 + 1e-9)
    # What was not drained first is topped up, which may take less.
    under = emptied and low is not None and total < low * (1 - 1e-9)
    if over or under:
        told = " and ".join(amount.text for _, amount in fills)
        sums = f", {_tell(total, first)} in all" if len(fills) > 1 else ""
        yield Found(
            at.place._replace(field="spec"),
            f'{told} of "{fluid}" {"are" if sums else "is"} filled in{sums}; that is '
            f'{"more" if over else "less"} than its "{capacity.name}", {capacity.tell()}. '
            "Put one of the figures right.",
        )


def _tell(base: float, like: units.Amount) -> str:
    """A sum in the unit of one of its parts, to three digits."""
    if like.base == 0:
        return f"{base:.3g}"
    figure = units.in_unit(like, like.unit) * base / like.base
    return f"{figure:.3g} {like.unit}"


def _find_amount(spec: Spec | None) -> units.Amount | None:
    if spec is None:
        return None
    text = spec.value or spec.high or spec.low
    try:
        return units.read(text, spec.kind) if text is not None else None
    except UnitTrouble:
        return None


FLUID_RULES: tuple[Rule, ...] = (
    Rule(
        "drained is filled",
        "wants an answer",
        "a machine run without its fluid is ruined within minutes; common practice, no source",
        find_drained_never_filled,
    ),
    Rule(
        "fill suits the capacity",
        "wants an answer",
        "too much fluid foams and bursts seals, too little starves the bearings; "
        "common practice, no source",
        find_total_off_capacity,
    ),
)
