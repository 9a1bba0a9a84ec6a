"""What is taken apart is proposed to be put back, once, and nothing is made up."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import count
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shopguide.job.files import dump_sheet, load_sheet, read_sheet
from shopguide.job.model import Close, Confirm, Fill, Open, Sheet, Torque
from shopguide.job.reassembly import merge, propose_putback
from shopguide.job.skeletons import make_skeleton
from shopguide.review.findings import review_sheet
from shopguide.review.open_items import OPEN_ITEM_RULES
from shopguide.torque.spec import SourceKind
from shopguide.work.events import Event
from shopguide.work.ledger import still_open
from shopguide.work.progress import fold

NOTHING_LEFT = {
    "opened is closed",
    "drained is filled",
    "left loose is finished",
    "opened before closed",
    "passes end tight",
}


@pytest.fixture(scope="module")
def sample(checkout) -> Sheet:
    return load_sheet(checkout / "sample_jobs" / "gearbox_sump_cover").sheet


def cut_stages(sheet: Sheet, *titles: str) -> Sheet:
    """The sheet without these stages, as if they had not been written yet."""
    data = json.loads(dump_sheet(sheet))
    data["stages"] = [stage for stage in data["stages"] if stage["title"] not in titles]
    return Sheet.model_validate_json(json.dumps(data), strict=True)


def make_sheet(*tasks: dict[str, Any], **more: Any) -> Sheet:
    """A sheet that takes apart with these tasks, one step each."""
    steps = [{"title": f"Step {n}", "tasks": [task]} for n, task in enumerate(tasks, 1)]
    data = {
        "format": "shopguide-job/1",
        "title": "T",
        "author": "Nobody",
        "date": "2024-04-03",
        "stages": [{"title": "Take apart", "steps": steps}],
    }
    return Sheet.model_validate_json(json.dumps({**data, **more}), strict=True)


def take(item: str, how: str = "remove", **more: Any) -> dict[str, Any]:
    return {"kind": "open", "text": f"Take {item}.", "how": how, "item": item, **more}


def find_open(sheet: Sheet) -> set[str]:
    """What the real ledger holds after every task of the sheet is done."""
    events = [
        Event(seq, "2024-04-03T10:00:00.000Z", "done", {"task": address})
        for seq, address in enumerate(sheet.tasks, 1)
    ]
    return {item.item for item in still_open(fold(sheet, events))}


def find_gone(sheet: Sheet) -> set[str]:
    """The rules about what is left open that the review finds broken."""
    return {finding.rule for finding in review_sheet(sheet)} & NOTHING_LEFT


def find_faults(sheet: Sheet) -> set[str]:
    """The rules about open items and their order that the review finds broken."""
    names = {rule.name for rule in OPEN_ITEM_RULES}
    return {finding.rule for finding in review_sheet(sheet)} & names


def list_torques(sheet: Sheet) -> set[tuple[Any, ...]]:
    return {
        (task.pattern, task.fastener, task.spec)
        for task in sheet.tasks.values()
        if isinstance(task, Torque)
    }


# --- the sample ---------------------------------------------------------------------------------


@pytest.mark.parametrize("gone", [("Put back",), ("Put back", "Fill and check")])
def test_the_sample_is_put_back_as_it_was_written(sample, gone):
    cut = cut_stages(sample, *gone)
    assert find_open(cut)
    merged = merge(cut, propose_putback(cut))

    opened = {task.opens for task in cut.tasks.values() if task.opens}
    closed = {task.closes for task in merged.tasks.values()} - {None}
    assert closed >= opened
    assert find_open(merged) == set()
    # What the missing stages opened themselves, the level plug and the slack, is not needed now.
    lost = {t.opens for t in sample.tasks.values() if t.opens} - opened
    wanted = {
        torque for torque in list_torques(sample) if torque[1] not in lost or torque[1] in opened
    }
    assert list_torques(merged) >= wanted
    assert len(list_torques(merged)) == len(wanted)
    assert find_gone(merged) == set()
    read_sheet(dump_sheet(merged))


def test_the_sample_itself_lacks_nothing(sample):
    assert propose_putback(sample) == ()
    assert merge(sample, ()) is sample


def test_the_sample_is_put_back_between_the_stages_that_stand(sample):
    cut = cut_stages(sample, "Put back")
    merged = merge(cut, propose_putback(cut))
    assert [stage.title for stage in merged.stages] == [stage.title for stage in sample.stages]
    same = [k for k, stage in enumerate(merged.stages) if stage.title != "Put back"]
    assert all(any(merged.stages[k] is old for old in cut.stages) for k in same)


def test_the_single_use_parts_of_the_sample_go_where_they_belong(sample):
    cut = cut_stages(sample, "Put back", "Fill and check")
    merged = merge(cut, propose_putback(cut))
    steps = {
        task.closes: [one.text for one in place.step.tasks]
        for place in merged.steps
        for task in place.step.tasks
        if task.closes and place.stage.title == "Put back"
    }
    assert steps["sump cover"][0] == "Fit the new cover gasket (QB 27-1041)."
    # The filter is itself the new part; its seal is a task of its own before it.
    assert steps["filter"][:2] == [
        "Fit the new filter seal (QB 27-1061).",
        "Fit the new filter (QB 27-1060).",
    ]
    assert steps["drain plug"][0] == "Fit the new drain-plug sealing ring (QB 27-0318)."
    assert steps["filler tube"][0] == "Fit the new filler-tube seal (QB 27-0655)."
    # Nothing that is open has to do with the level plug: its ring is asked about, not dropped.
    (loose,) = [p for p in propose_putback(cut) if p.key.startswith("parts")]
    assert [need for need in loose.needs] == [("part", "Level-plug sealing ring")]
    assert "Where does" in loose.asks[0]


def test_figures_of_the_sample_are_its_own(sample):
    cut = cut_stages(sample, "Put back", "Fill and check")
    merged = merge(cut, propose_putback(cut))
    assert merged.specs == sample.specs
    asks = [ask for proposal in propose_putback(cut) for ask in proposal.asks]
    assert any("passes" in ask and "Sump cover" in ask for ask in asks)


# --- one rule at a time -------------------------------------------------------------------------


def test_things_go_back_in_reverse_and_in_the_words_of_their_opening():
    sheet = make_sheet(
        take("tray"), take("breather hose", "disconnect"), take("loom", "park aside"), take("lid")
    )
    merged = merge(sheet, propose_putback(sheet))
    back = [task for task in merged.tasks.values() if isinstance(task, Close)]
    assert [(task.item, task.how) for task in back] == [
        ("lid", "refit"),
        ("loom", "refit"),
        ("breather hose", "reconnect"),
        ("tray", "refit"),
    ]


def test_a_fastener_without_a_spec_gets_one_that_is_not_known_and_is_asked_about():
    sheet = make_sheet(take("pump bolt"))
    (proposal,) = propose_putback(sheet)
    merged = merge(sheet, [proposal])
    (spec,) = merged.specs
    assert spec.tell() == "not known"
    assert spec.source.kind is SourceKind.NOT_KNOWN
    (torque,) = [task for task in merged.tasks.values() if isinstance(task, Torque)]
    assert (torque.fastener, torque.spec, torque.item) == ("pump bolt", spec.name, "pump bolt")
    assert proposal.asks == ('What torque does "pump bolt" take? The sheet has no spec for it.',)


def test_a_new_spec_never_takes_the_name_of_another():
    specs = [
        {"name": name, "kind": "length", "value": "9 mm"}
        for name in ("pump bolt", "pump bolt torque")
    ]
    sheet = make_sheet(take("pump bolt"), specs=specs)
    merged = merge(sheet, propose_putback(sheet))
    assert [spec.name for spec in merged.specs][2:] == ["pump bolt torque 2"]
    read_sheet(dump_sheet(merged))


def test_of_two_specs_that_could_be_meant_none_is_taken():
    specs = [
        {"name": f"{side} bracket screws", "kind": "torque", "value": f"{figure} N·m"}
        for side, figure in (("front", 9), ("cable", 12))
    ]
    step = {"title": "The front cable bracket", "tasks": [take("bracket screw")]}
    sheet = make_sheet(specs=specs, stages=[{"title": "Take apart", "steps": [step]}])
    (proposal,) = propose_putback(sheet)
    assert proposal.step.tasks[0].spec not in {spec["name"] for spec in specs}


def test_a_spec_of_other_screws_of_the_step_is_not_taken():
    specs = [{"name": "cover screws", "kind": "torque", "value": "9 N·m"}]
    for item, spec in (("bracket screws", "bracket screws"), ("cover screw", "cover screws")):
        step = {"title": "Cover", "tasks": [take(item)]}
        sheet = make_sheet(specs=specs, stages=[{"title": "Take apart", "steps": [step]}])
        (proposal,) = propose_putback(sheet)
        assert proposal.step.tasks[0].spec == spec


def test_what_is_tightened_elsewhere_gives_spec_and_passes():
    torque = {
        "kind": "torque",
        "text": "Tighten.",
        "pattern": "lid",
        "spec": "lid screws",
        "passes": "30/60/100 and check",
        "item": "lid screws",
    }
    sheet = make_sheet(
        take("lid screws"),
        torque,
        take("lid screws"),
        specs=[{"name": "lid screws", "kind": "torque", "value": "9 N·m"}],
        patterns=[{"name": "lid", "title": "Lid", "circle": {"count": 6, "diameter_mm": 80}}],
    )
    (proposal,) = [p for p in propose_putback(sheet) if p.place == "put back"]
    (task,) = proposal.step.tasks
    assert (task.pattern, task.spec, task.passes) == ("lid", "lid screws", "30/60/100 and check")
    assert proposal.asks == ()


def test_reminders_from_notes_and_photos_are_carried_over():
    step = {
        "title": "Remove the pulley",
        "photos": [{"file": "pulley.jpg", "caption": "The pulley"}],
        "tasks": [
            take("pulley bolt", note="Threadlock on its thread. The key stays in the shaft."),
        ],
    }
    sheet = make_sheet(stages=[{"title": "Take apart", "steps": [step]}])
    (proposal,) = propose_putback(sheet)
    assert [photo.file for photo in proposal.step.photos] == ["pulley.jpg"]
    assert proposal.step.tasks[0].note == "From taking apart: Threadlock on its thread."


def test_the_condition_of_a_patterns_threads_is_told():
    sheet = make_sheet(
        take("lid screws"),
        patterns=[
            {
                "name": "lid",
                "title": "Lid",
                "condition": "oiled",
                "circle": {"count": 6, "diameter_mm": 80},
            }
        ],
    )
    (proposal,) = [p for p in propose_putback(sheet) if p.place == "put back"]
    assert "Threads: oiled." in proposal.step.tasks[0].note


def test_fluids_go_in_like_they_came_out_and_leaks_are_looked_for():
    drain = {"kind": "drain", "text": "Drain.", "fluid": "coolant", "item": "coolant"}
    sheet = make_sheet(
        drain,
        take("hose", "disconnect"),
        take("lamp cable", "disconnect"),
        fluids=[{"name": "coolant"}],
    )
    proposals = propose_putback(sheet)
    merged = merge(sheet, proposals)
    assert [stage.title for stage in merged.stages] == ["Take apart", "Put back", "Check"]
    fill, leaks, works = merged.stages[2].steps
    assert isinstance(fill.tasks[0], Fill) and fill.tasks[0].like_drained
    assert [task.text for task in leaks.tasks] == ["Look for leaks at the hose."]
    assert [task.text for task in works.tasks] == ["Check that the lamp cable works again."]
    assert [f.text for f in merged.follow_ups] == ["Look for leaks again where the work was done."]
    assert propose_putback(merged) == ()


def test_a_look_for_leaks_in_the_step_that_opened_last_is_one():
    hose = [take("hose", "disconnect"), {"kind": "close", "text": "On.", "how": "reconnect",
            "item": "hose"}]  # fmt: skip
    look = {"kind": "confirm", "text": "Look for leaks."}
    for tasks, keys in (
        ([*hose, look], ["follow-up: leaks"]),
        (hose, ["check: leaks", "follow-up: leaks"]),
    ):
        stages = [{"title": "All", "steps": [{"title": "Hose", "tasks": tasks}]}]
        assert [p.key for p in propose_putback(make_sheet(stages=stages))] == keys
    # Looked for before it is opened, it is not looked for.
    early = [{"title": "All", "steps": [{"title": n, "tasks": t} for n, t in
             (("Look", [look]), ("Hose", hose))]}]  # fmt: skip
    assert "check: leaks" in [p.key for p in propose_putback(make_sheet(stages=early))]


def test_what_is_filled_or_tightened_already_is_only_closed():
    sheet = make_sheet(
        {"kind": "drain", "text": "Drain.", "fluid": "oil", "item": "old oil"},
        take("sump bolt"),
        {"kind": "torque", "text": "Tighten.", "fastener": "sump bolt", "spec": "s"},
        {"kind": "fill", "text": "Fill.", "fluid": "oil", "like_drained": True},
        fluids=[{"name": "oil"}],
        specs=[{"name": "s", "kind": "torque", "value": "9 N·m"}],
    )
    merged = merge(sheet, propose_putback(sheet))
    new = [task for address, task in merged.tasks.items() if address not in sheet.tasks]
    assert not any(isinstance(task, (Fill, Torque)) for task in new)
    assert find_open(merged) == set()


def test_a_screw_never_to_be_touched_is_never_tightened():
    leave = {
        "kind": "leave",
        "text": "Leave it.",
        "how": "do not touch",
        "fastener": "band screw",
        "reason": "It sets the band.",
        "item": "band screw",
    }
    merged = merge(sheet := make_sheet(leave), propose_putback(sheet))
    assert not any(isinstance(task, Torque) for task in merged.tasks.values())
    assert find_open(merged) == set()


def test_later_edits_are_merged_without_doubling():
    sheet = make_sheet(take("tray"), take("lid"))
    once = merge(sheet, propose_putback(sheet))
    data = json.loads(dump_sheet(once))
    data["stages"][0]["steps"].insert(1, {"title": "New", "tasks": [take("shield")]})
    later = read_sheet(json.dumps(data).encode())
    proposals = propose_putback(later)
    assert [p.needs for p in proposals if p.place == "put back"] == [(("item", "shield"),)]
    twice = merge(later, [*propose_putback(sheet), *proposals])
    back = next(stage for stage in twice.stages if stage.title == "Put back")
    assert [task.item for step in back.steps for task in step.tasks] == ["lid", "shield", "tray"]


def test_what_is_no_longer_opened_is_left_out_of_an_old_proposal():
    both = {"title": "Both", "tasks": [take("tray"), take("lid")]}
    sheet = make_sheet(stages=[{"title": "Take apart", "steps": [both]}])
    proposals = propose_putback(sheet)
    later = make_sheet(take("tray"))
    merged = merge(later, proposals)
    assert [t.item for t in merged.tasks.values() if isinstance(t, Close)] == ["tray"]


def test_the_proposals_fall_into_the_stages_of_the_skeleton():
    skeleton = make_skeleton("take apart", "T", "Nobody", "2024-04-03")
    data = json.loads(dump_sheet(skeleton))
    data["stages"][0]["steps"].append({"title": "Lid", "tasks": [take("lid")]})
    sheet = read_sheet(json.dumps(data).encode())
    merged = merge(sheet, propose_putback(sheet))
    assert [stage.title for stage in merged.stages] == [stage.title for stage in skeleton.stages]
    assert find_open(merged) == set()


# --- later edits by hand ------------------------------------------------------------------------


def change_steps(sheet: Sheet, change: Callable[[list[dict[str, Any]]], None]) -> Sheet:
    """The sheet after somebody changed its stages by hand."""
    data = json.loads(dump_sheet(sheet))
    change(data["stages"])
    return read_sheet(json.dumps(data).encode())


def find_step(stages: list[dict[str, Any]], item: str) -> tuple[list[dict[str, Any]], int]:
    """The list of steps, and the place in it, of the step that closes an item."""
    for stage in stages:
        for index, step in enumerate(stage["steps"]):
            for task in step["tasks"]:
                if task.get("item") == item and task["kind"] in ("close", "torque", "fill"):
                    return stage["steps"], index
    raise AssertionError(f"nothing closes {item}")


def say_otherwise(stages: list[dict[str, Any]]) -> None:
    words = {
        "Fit the new cover gasket (QB 27-1041).": "Lay a gasket from the bag on the flange, dry.",
        "Fit the new filler-tube seal (QB 27-0655).": "Push the seal on, with a drop of fluid.",
        "Fit the new filter seal (QB 27-1061).": "Press a fresh seal into the bore.",
        "Look for leaks at the drain plug.": "Nothing drips?",
        "Fill in as much new gearbox fluid as was drained.": "Pour.",
    }
    for stage in stages:
        for step in stage["steps"]:
            step["title"] = f"{step['title']}, in other words"
            for task in step["tasks"]:
                task["text"] = words.pop(task["text"], task["text"])
    assert not words


def move_all(stages: list[dict[str, Any]]) -> None:
    back = next(stage for stage in stages if stage["title"] == "Put back")
    back["title"] = "In again"
    back["steps"].append(back["steps"].pop(0))
    stages.append({"title": "The rest", "steps": [back["steps"].pop(), back["steps"].pop(1)]})


def split_all(stages: list[dict[str, Any]]) -> None:
    for stage in stages[3:]:
        stage["steps"] = [
            {"title": task["text"][:60], "tasks": [task]}
            for step in stage["steps"]
            for task in step["tasks"]
        ]


def join_all(stages: list[dict[str, Any]]) -> None:
    for stage in stages[3:]:
        tasks = [task for step in stage["steps"] for task in step["tasks"]]
        stage["steps"] = [{"title": "All of it", "tasks": tasks}]


@pytest.mark.parametrize("change", [say_otherwise, move_all, split_all, join_all])
def test_what_was_taken_and_then_changed_by_hand_is_not_proposed_again(sample, change):
    cut = cut_stages(sample, "Put back", "Fill and check")
    proposals = propose_putback(cut)
    merged = change_steps(merge(cut, proposals), change)
    assert propose_putback(merged) == ()
    assert merge(merged, proposals) is merged


def test_what_was_taken_and_then_taken_out_is_proposed_again_alone(sample):
    cut = cut_stages(sample, "Put back", "Fill and check")
    merged = merge(cut, propose_putback(cut))

    def drop(stages: list[dict[str, Any]]) -> None:
        steps, at = find_step(stages, "sump cover")
        del steps[at]

    later = change_steps(merged, drop)
    (again,) = propose_putback(later)
    assert again.needs == (("part", "Cover gasket"), ("item", "sump cover"))
    assert merge(later, [again]) == merged


def test_a_renewed_part_is_missed_when_only_its_cover_goes_back(sample):
    cut = cut_stages(sample, "Put back", "Fill and check")

    def drop(stages: list[dict[str, Any]]) -> None:
        steps, at = find_step(stages, "sump cover")
        del steps[at]["tasks"][0]

    later = change_steps(merge(cut, propose_putback(cut)), drop)
    assert [p.needs for p in propose_putback(later)] == [(("part", "Cover gasket"),)]


# --- an order that can be done ------------------------------------------------------------------


def test_a_pattern_opened_in_parts_is_tightened_once_when_all_of_it_is_in():
    sheet = make_sheet(
        take("short cover screws"),
        take("long cover screws"),
        take("cover"),
        patterns=[{"name": "cover", "title": "Cover", "circle": {"count": 6, "diameter_mm": 80}}],
        specs=[{"name": "cover", "kind": "torque", "value": "9 N·m"}],
    )
    merged = merge(sheet, propose_putback(sheet))
    back = [(t.kind, t.closes) for t in merged.tasks.values() if t.closes]
    assert back == [
        ("close", "cover"),
        ("close", "long cover screws"),
        ("torque", "short cover screws"),
    ]
    (started,) = [t for t in merged.tasks.values() if t.closes == "long cover screws"]
    assert started.how == "refit" and started.text == "Start the long cover screws by hand."


def test_nothing_is_filled_in_before_what_holds_it_is_back():
    drain = {"kind": "drain", "text": "Drain.", "fluid": "oil", "item": "old oil"}
    steps = [
        {"title": "Drain", "tasks": [take("drain plug"), drain]},
    ]
    look = {"title": "Look", "tasks": [{"kind": "confirm", "text": "Look at it."}]}
    for titles in (("Check", "Put back"), ("Put back and check",), ("Put back", "Check"), ()):
        stages = [
            {"title": "Take apart", "steps": [*steps, {"title": "Lid", "tasks": [take("lid")]}]},
            *({"title": title, "steps": [look]} for title in titles),
        ]
        for stage in stages[1:]:
            if stage["title"].startswith("Put back"):
                close = {"kind": "close", "text": "Lid on.", "how": "refit", "item": "lid"}
                stage["steps"] = [{"title": "Lid", "tasks": [close]}]
        sheet = make_sheet(stages=stages, fluids=[{"name": "oil"}])
        order = [t.closes for t in merge(sheet, propose_putback(sheet)).tasks.values() if t.closes]
        assert order == ["lid", "drain plug", "old oil"], titles


def test_a_stage_of_work_in_between_is_done_before_anything_is_put_back():
    look = {"title": "Look", "tasks": [{"kind": "confirm", "text": "Look at it."}]}
    stages = [
        {"title": "Take apart", "steps": [{"title": "Lid", "tasks": [take("lid")]}]},
        {"title": "Clean", "steps": [look]},
        {"title": "Check", "steps": [look]},
    ]
    sheet = make_sheet(stages=stages)
    merged = merge(sheet, propose_putback(sheet))
    assert [s.title for s in merged.stages] == ["Take apart", "Clean", "Put back", "Check"]


def test_what_is_half_put_back_already_is_put_back_around_it():
    both = {"title": "Lid", "tasks": [take("lid screws"), take("lid")]}
    back = {"kind": "close", "text": "Lid on.", "how": "refit", "item": "lid"}
    screws = {**back, "how": "tighten", "item": "lid screws"}
    for held in (back, screws):
        # What is there already stands in the checks, where nobody would look for it.
        stages = [
            {"title": "Take apart", "steps": [both]},
            {"title": "Check", "steps": [{"title": "Look", "tasks": [held]}]},
        ]
        sheet = make_sheet(stages=stages)
        merged = merge(sheet, propose_putback(sheet))
        order = [task.closes for task in merged.tasks.values() if task.closes]
        assert order == ["lid", "lid screws"]


def test_wheels_are_looked_at_again_and_only_once():
    sheet = make_sheet(take("wheel bolts"), take("wheel"))
    proposals = propose_putback(sheet)
    (again,) = [p for p in proposals if p.place == "follow-up"]
    assert "wheel bolts" in again.follow_up.text and "manual" in again.follow_up.after
    merged = merge(sheet, proposals)
    assert propose_putback(merged) == ()
    assert "wheel is checked again" not in {f.rule for f in review_sheet(merged)}


def test_a_warning_at_taking_apart_is_asked_about():
    step = {
        "title": "The spring",
        "cautions": [
            {"signal": "WARNING", "hazard": "The spring", "consequence": "hits", "avoid": "Clamp."}
        ],
        "tasks": [take("spring")],
    }
    sheet = make_sheet(stages=[{"title": "Take apart", "steps": [step]}])
    (proposal,) = propose_putback(sheet)
    assert proposal.asks == ("Does the warning of step 1 hold here too?",)


# --- any valid take-apart -----------------------------------------------------------------------

_names = st.sampled_from(
    [
        "short cover screws", "long cover screws", "cover plate", "left wheel bolts", "filter",
        "cover screws", "cover", "drain plug", "hose", "the sensor connector", "Öl-Deckel",
        "spark plugs", "rear bracket screw", "bracket", "coolant", "wheel bolts", "螺栓", "pump",
        "x" * 80, "torque", "caliper bolt", "check", "new", "gearbox oil", "union of the pipe",
    ]
)  # fmt: skip
_assemblies = st.sampled_from(["cover plate", "bracket", "pump", "caliper", "Öl-Deckel"])
_hows = st.sampled_from(["remove", "disconnect", "loosen", "park aside", "drain"])
_back = st.sampled_from(["refit", "reconnect", "tighten", "refill"])
_kinds = st.sampled_from(
    [
        "open", "open", "open", "nested", "close", "drain", "leave", "loosen", "tighten", "fill",
        "confirm",
    ]
)  # fmt: skip
_stages = st.sampled_from(
    ["Take apart", "Put back", "Check", "Check before you start", "Put back the rest", "Work"]
)


@st.composite
def take_aparts(draw: Callable[..., Any]) -> Sheet:
    """A sheet that can be opened: nothing is opened twice, nor closed that is never opened."""
    numbers = count(1)
    still: dict[str, str] = {}
    drained = False
    extra: list[dict[str, Any]] = []

    def make_task() -> dict[str, Any]:
        nonlocal drained
        kind, name = draw(_kinds), draw(_names)
        task: dict[str, Any] = {"text": f"Task {next(numbers)}: {draw(_names)}."}
        if draw(st.booleans()):
            task["note"] = "Oil the thread. Look at it."
        item = {"item": name} if name not in still and draw(st.booleans()) else {}
        match kind:
            case "open" if name not in still:
                task |= {"kind": "open", "how": draw(_hows), "item": name}
                item = {"item": name}
            case "nested":
                # An assembly comes off with what holds it, and comes apart itself.
                name = draw(_assemblies)
                fasteners = f"{name} bolts"
                if name in still or fasteners in still:
                    return task | {"kind": "confirm"}
                still[fasteners] = kind
                extra.append(take(fasteners, draw(_hows.filter(lambda how: how != "drain"))))
                # What is drained has no fasteners: it goes in when they have long been tight.
                how = draw(_hows.filter(lambda how: how != "drain"))
                task |= {"kind": "open", "how": how, "item": name}
                item = {"item": name}
            case "close" if still:
                gone, how = draw(st.sampled_from(sorted(still))), draw(_back)
                if any(one != gone and gone.startswith(f"{one} ") for one in still):
                    how = "refit"  # nobody tightens the screws while their part is still off
                del still[gone]
                return task | {"kind": "close", "how": how, "item": gone}
            case "drain":
                drained = True
                task |= {"kind": "drain", "fluid": "coolant", **item}
            case "leave":
                how = draw(st.sampled_from(["left loose", "do not touch"]))
                task |= {"kind": "leave", "how": how, "fastener": name, "reason": "r", **item}
            case "loosen":
                whose = draw(st.sampled_from([{"pattern": "cover"}, {"fastener": name}]))
                task |= {"kind": "torque", "passes": "loosen", **whose, **item}
            case "tighten":
                whose = draw(st.sampled_from([{"pattern": "cover"}, {"fastener": name}]))
                task |= {"kind": "torque", "spec": "cover screws", **whose}
                item = {}
            case "fill":
                task |= {"kind": "fill", "fluid": "coolant", "like_drained": drained}
                item = {}
            case _:
                return task | {"kind": "confirm"}
        if item:
            still[name] = kind
        return task

    def make_tasks() -> list[dict[str, Any]]:
        made = []
        for _ in range(draw(st.integers(1, 4))):
            task = make_task()
            made += [*extra, task]
            extra.clear()
        return made

    stages = [
        {
            "title": draw(_stages),
            "steps": [
                {
                    "title": f"Step {draw(_names)}",
                    "tasks": make_tasks(),
                }
                for _ in range(draw(st.integers(1, 4)))
            ],
        }
        for _ in range(draw(st.integers(1, 3)))
    ]
    data = {
        "format": "shopguide-job/1",
        "title": "T",
        "author": "Nobody",
        "date": "2024-04-03",
        "specs": [
            {"name": "cover screws", "kind": "torque", "value": "9 N·m"},
            {"name": "drain plug", "kind": "torque"},
            {"name": "pump", "kind": "length", "value": "3 mm"},
        ],
        "fluids": [{"name": "coolant"}],
        "parts": [
            {"name": name, "single_use": True}
            for name in draw(st.lists(st.sampled_from(["Cover gasket", "Ring", "Pump", "O"])))
        ],
        "patterns": [
            {"name": "cover", "title": "Cover", "circle": {"count": 4, "diameter_mm": 50}}
        ],
        "stages": stages,
    }
    return read_sheet(json.dumps(data).encode())


@settings(
    max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None
)
@given(take_aparts())
def test_putting_back_leaves_an_empty_ledger(sheet):
    proposals = propose_putback(sheet)
    merged = merge(sheet, proposals)
    assert find_open(merged) == set()
    assert find_gone(merged) - {"passes end tight"} == set()
    # The order can be done, unless a part came off before its screws at taking apart already.
    assert find_faults(merged) <= find_faults(sheet) & {"fasteners off first, on last"}
    # It opens again, nothing that stood in it is gone, and a second time adds nothing.
    assert read_sheet(dump_sheet(merged)) == merged
    assert propose_putback(merged) == ()
    assert merge(merged, proposals) is merged
    before, after = list(sheet.tasks.values()), list(merged.tasks.values())
    assert all(any(new is old for new in after) for old in before)
    # What never had a figure has none now.
    figures = {spec.name for spec in sheet.specs if spec.value}
    assert {spec.name for spec in merged.specs if spec.value} == figures


@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None
)
@given(take_aparts(), st.data())
def test_proposals_taken_one_by_one_come_to_the_same(sheet, data):
    proposals = list(propose_putback(sheet))
    for proposal in data.draw(st.permutations(proposals)):
        sheet = merge(sheet, [proposal])
    assert find_open(sheet) == set()
    assert propose_putback(sheet) == ()


def test_every_proposal_says_why(sample):
    cut = cut_stages(sample, "Put back", "Fill and check")
    for proposal in propose_putback(cut):
        assert proposal.words.endswith(".") and proposal.key
        assert (proposal.step is None) != (proposal.follow_up is None)
        if proposal.step is not None:
            assert len(proposal.needs) == len(proposal.step.tasks)
            kinds = {type(task) for task in proposal.step.tasks}
            assert kinds <= {Close, Torque, Fill, Confirm} and Open not in kinds
