"""What events add up to; above all that a withdrawal leaves no trace in the state."""

from __future__ import annotations

import random
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from shopguide.work.next_up import mark_data, next_up, read_value, value_data
from shopguide.work.progress import Progress, fold

STATE = (
    "orders",
    "laid_out",
    "acknowledged",
    "marks",
    "outcomes",
    "timers",
    "notes",
    "photos",
    "accounted",
    "readings",
    "signed",
)


def state_of(progress: Progress) -> dict:
    """All that can be read from a progress."""
    return {name: getattr(progress, name) for name in STATE} | {"due": next_up(progress)}


def act(clerk, dice: random.Random) -> None:
    """One thing a person could do now."""
    progress = clerk.progress
    due = next_up(progress)
    choice = dice.random()
    if choice < 0.2 and progress.last_taken() is not None:
        clerk.add("withdrawn", {"seq": progress.last_taken().seq})
    elif choice < 0.27:
        clerk.add("note", {"step": due.step, "text": f"note {dice.random()}"})
    elif choice < 0.33 and due.task:
        clerk.add("skipped", {"task": due.task, "reason": "no reason"})
    elif choice < 0.4 and due.act == "mark":
        others = [n for n in due.trip.way if n not in due.trip.marked]
        number = dice.choice(others)
        clerk.add("mark", mark_data(progress, due.task, number, departure="reach"))
    elif due.act == "value":
        text = "42 °C" if clerk.sheet.tasks[due.task].kind == "measure" else "4 L"
        clerk.add("done", value_data(due.task, read_value(progress, due.task, text)))
    elif due.act == "photo":
        clerk.add("done", {"task": due.task, "value": "a.jpg"})
    elif due.kind:
        clerk.add(due.kind, dict(due.data))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9), steps=st.integers(1, 60))
def test_taking_one_by_one_is_folding_all(clerk_for, small_sheet, seed, steps):
    clerk = clerk_for(small_sheet)
    dice = random.Random(seed)
    for _ in range(steps):
        act(clerk, dice)
    assert state_of(clerk.progress) == state_of(clerk.folded())


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**9), steps=st.integers(1, 40))
def test_taking_back_gives_the_state_before(clerk_for, small_sheet, seed, steps):
    clerk = clerk_for(small_sheet)
    dice = random.Random(seed)
    for _ in range(steps):
        before = state_of(fold(clerk.sheet, clerk.events))
        due = next_up(clerk.progress)
        if not due.kind or due.act == "wait":
            act(clerk, dice)
            continue
        event = clerk.add(due.kind, dict(due.data))
        clerk.add("withdrawn", {"seq": event.seq})
        assert state_of(clerk.progress) == before
        act(clerk, dice)


def test_the_order_is_the_one_frozen_at_the_beginning(clerk):
    frozen = {"cover": {"numbers": [4, 3, 2, 1], "by": "user"}}
    clerk.add("begun", {"orders": frozen})
    assert clerk.progress.orders["cover"].numbers == (4, 3, 2, 1)
    assert clerk.progress.orders["cover"].by == "user"


def test_working_time_leaves_out_the_pauses_and_a_crash(clerk):
    clerk.add("started")
    clerk.add("note", {"step": 1, "text": "x"}, after_s=600)
    clerk.add("paused", {"why": "lunch"}, after_s=60)
    clerk.add("started", after_s=7200)
    clerk.add("note", {"step": 1, "text": "y"}, after_s=300)
    # No pause was written: the power went. Work goes on the next day.
    clerk.add("started", after_s=86400)
    clerk.add("note", {"step": 1, "text": "z"}, after_s=30)
    assert clerk.progress.working_time() == timedelta(seconds=600 + 60 + 300 + 30)


def test_share_done_grows_from_nothing_to_all(clerk):
    shares = [clerk.progress.share_done()]
    assert shares[0] == 0
    for _ in range(400):
        due = next_up(clerk.progress)
        if due.act == "end":
            break
        if due.act in ("value", "photo"):
            value = "42 °C" if due.act == "value" else "a.jpg"
            clerk.add("done", {"task": due.task, "value": value})
        else:
            clerk.add(due.kind, dict(due.data))
        shares.append(clerk.progress.share_done())
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_an_unknown_kind_of_event_changes_nothing(clerk):
    before = state_of(clerk.progress)
    clerk.add("from a later version", {"x": "y"})
    assert state_of(clerk.progress) == before


def test_rehearsal_is_known(clerk):
    assert not clerk.progress.rehearsal
    clerk.add("begun", {"rehearsal": True, "orders": {}})
    assert clerk.progress.rehearsal
