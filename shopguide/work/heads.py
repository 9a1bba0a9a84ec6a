"""How each head of a torqued pattern is drawn: what its marks add up to, for screen and paper."""

from __future__ import annotations

from shopguide.bolts.heads import HeadState
from shopguide.bolts.passes import strokes_left
from shopguide.job.model import Torque
from shopguide.work.progress import Progress


def head_states(progress: Progress, address: str, due: int | None = None) -> dict[int, HeadState]:
    """The state of every fastener that the torque task at `address` tightens, by its number.

    due: the number of the fastener that comes next; None where none is, as on paper.
    """
    task = progress.sheet.tasks[address]
    assert isinstance(task, Torque)
    trip = progress.trip(address)
    passes = task.schedule
    departed = {m.fastener for m in progress.marks.get(address, []) if m.departure}
    states = {}
    for fastener in progress.pattern_of(task).tightened:
        number = fastener.number
        done = progress.passes_done(address, number)
        states[number] = HeadState(
            strokes=tuple(holds for _, holds in strokes_left(passes, done)),
            snug=any(one.kind == "snug" for one in passes[:done]),
            done=trip is None or number in trip.marked,
            due=number == due,
            departed=number in departed,
        )
    return states
