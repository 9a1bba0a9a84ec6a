"""The drafts one after another: taken back exactly, each change with its word."""

from __future__ import annotations

import random

from shopguide.bolts.draft import add_points, change, open_draft, put_points
from shopguide.bolts.draft_log import DraftLog


def test_a_change_is_taken_back_and_done_again_by_its_word():
    log = DraftLog(open_draft(None))
    before = log.draft
    assert log.put("screw 1", add_points(before, [(1, 2)]))
    assert log.is_changed and log.last == "screw 1"
    assert log.undo() == "screw 1" and log.draft is before and not log.is_changed
    assert log.redo() == "screw 1" and log.draft.points == [(1, 2)]
    assert log.redo() == ""


def test_what_changes_nothing_is_no_step():
    log = DraftLog(add_points(open_draft(None), [(1, 2)]))
    assert not log.put("move", put_points(log.draft, {0: (1, 2)}))
    assert log.last == "" and log.undo() == ""


def test_steps_of_one_word_are_one_until_something_comes_between():
    log = DraftLog(add_points(open_draft(None), [(0, 0)]))
    for x in (1, 2):
        log.put("move", put_points(log.draft, {0: (x, 0)}), merge="nudge 0")
    log.end_merge()
    log.put("move", put_points(log.draft, {0: (3, 0)}), merge="nudge 0")
    assert len(log.done) == 2
    log.undo()
    assert log.draft.points == [(2, 0)]
    log.undo()
    assert log.draft.points == [(0, 0)]


def test_a_new_change_after_an_undo_ends_what_could_be_done_again():
    log = DraftLog(open_draft(None))
    log.put("a", add_points(log.draft, [(1, 1)]))
    log.undo()
    log.put("b", add_points(log.draft, [(2, 2)]))
    assert log.redo() == "" and log.draft.points == [(2, 2)]


def test_a_hundred_random_steps_lead_back_exactly():
    chance = random.Random(3)
    log = DraftLog(open_draft(None))
    seen = [log.draft]
    for k in range(100):
        draft = log.draft
        if draft.fasteners and chance.random() < 0.5:
            draft = change(draft, [chance.randrange(len(draft.fasteners))], "note", str(k))
        else:
            draft = add_points(draft, [(k, chance.random())])
        log.put(str(k), draft)
        seen.append(draft)
    for draft in reversed(seen[:-1]):
        log.undo()
        assert log.draft == draft
