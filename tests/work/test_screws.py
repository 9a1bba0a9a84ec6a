"""What a torque does to its screws, told at work and on paper."""

from __future__ import annotations

import copy

import pytest

from shopguide.work.screws import report_screws, tell_screws


@pytest.fixture
def clerk_of(clerk_for, small_sheet):
    """A clerk whose cover screws are of a class, in a condition."""

    def make(passes="torque", **screw):
        data = copy.deepcopy(small_sheet)
        data["patterns"][0].update(screw)
        data["stages"][1]["steps"][0]["tasks"][0]["passes"] = passes
        if any(p.get("kind") == "angle" for p in passes if isinstance(p, dict)):
            data["specs"].append({"name": "turn", "kind": "angle", "value": "90°"})
        return clerk_for(data)

    return make


def test_the_clamp_band_and_a_verdict_are_told(clerk_of):
    clerk = clerk_of(thread="M6", grade="8.8", condition="dry")
    task = clerk.sheet.tasks["2.1"]
    (report,) = report_screws(clerk.progress, task)
    # T = K·d·F: 9 N·m on 6 mm gives 1.5 kN / K.
    assert report.clamp.high_n == pytest.approx(1500 / report.condition.k_low)
    clamp, verdict = tell_screws(clerk.progress, task)
    assert clamp.startswith("M6 8.8, 9 N·m (dry, K ")
    assert "within what it usually takes" in verdict and "never replaces" in verdict


def test_too_much_for_the_screw_is_said(clerk_of):
    clerk = clerk_of(thread="M4", grade="8.8")
    assert "passes its yield" in tell_screws(clerk.progress, clerk.sheet.tasks["2.1"])[1]


def test_without_thread_and_class_nothing_is_claimed(clerk_of):
    for screw in ({}, {"thread": "M6"}, {"thread": "M6", "grade": "from the shed"}):
        clerk = clerk_of(**screw)
        assert tell_screws(clerk.progress, clerk.sheet.tasks["2.1"]) == ()


def test_torque_and_angle_is_not_judged_by_its_torque(clerk_of):
    passes = [{"kind": "torque"}, {"kind": "angle", "spec": "turn"}]
    clerk = clerk_of(passes, thread="M4", grade="8.8")
    assert report_screws(clerk.progress, clerk.sheet.tasks["2.1"]) == ()
