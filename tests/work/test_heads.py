"""The drawn state of each head, folded from marks."""

from __future__ import annotations

from shopguide.job.model import Sheet
from shopguide.work.events import Event
from shopguide.work.heads import head_states
from shopguide.work.next_up import mark_data
from shopguide.work.progress import Progress

SHEET = Sheet.model_validate(
    {
        "format": "shopguide-job/1",
        "title": "Lid",
        "author": "nobody",
        "date": "2030-01-02",
        "specs": [{"name": "lid", "kind": "torque", "value": "9 N·m"}],
        "patterns": [
            {
                "name": "lid",
                "title": "Lid",
                "fasteners": [
                    {"number": 1, "x_mm": 0, "y_mm": 0},
                    {"number": 2, "x_mm": 30, "y_mm": 0},
                    {"number": 3, "x_mm": 15, "y_mm": 20, "use": "do not touch"},
                ],
                "order": [2, 1],
            }
        ],
        "stages": [
            {
                "title": "Tighten",
                "steps": [
                    {
                        "title": "Tighten the lid",
                        "tasks": [
                            {
                                "kind": "torque",
                                "text": "Tighten.",
                                "pattern": "lid",
                                "spec": "lid",
                                "passes": [
                                    {"kind": "snug"},
                                    {"kind": "torque"},
                                    {"kind": "back off"},
                                    {"kind": "torque"},
                                ],
                            }
                        ],
                    }
                ],
            }
        ],
    }
)


def _mark(progress: Progress, fastener: int, departure: str = "") -> None:
    data = mark_data(progress, "1.1", fastener, departure=departure)
    seq = len(progress.events) + 1
    progress.take(Event(seq, f"2030-01-02T10:00:{seq:02d}.000Z", "mark", data))


def test_untouched_heads_are_plain_and_the_due_one_is_told() -> None:
    states = head_states(Progress(SHEET), "1.1", due=2)
    assert sorted(states) == [1, 2], "a fastener that is not tightened has no state"
    assert states[2].due and not states[1].due
    assert not any(s.done or s.snug or s.strokes or s.departed for s in states.values())


def test_strokes_follow_the_passes() -> None:
    progress = Progress(SHEET)
    _mark(progress, 2)
    states = head_states(progress, "1.1")
    assert states[2].snug and states[2].done and not states[2].strokes
    assert not states[1].done
    _mark(progress, 1)
    assert not head_states(progress, "1.1")[2].done, "a new pass has begun"
    for number in (2, 1):
        _mark(progress, number)
    assert head_states(progress, "1.1")[1].strokes == (True,)
    for number in (1, 2):
        _mark(progress, number)
    assert head_states(progress, "1.1")[1].strokes == (False,), "backed off: hollow"
    for number in (2, 1):
        _mark(progress, number)
    states = head_states(progress, "1.1")
    assert states[1].strokes == states[2].strokes == (False, True)
    assert states[1].done and states[2].done, "after the last pass every head is done"


def test_a_departure_is_flagged_on_its_own_head() -> None:
    progress = Progress(SHEET)
    _mark(progress, 1, departure="in the way")
    states = head_states(progress, "1.1")
    assert states[1].departed and not states[2].departed
