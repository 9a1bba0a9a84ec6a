"""What the paper says, without any layout: every sentence follows from the marks."""

from __future__ import annotations

import importlib.util
from datetime import timedelta, timezone
from pathlib import Path

import pytest

from shopguide.job.model import Sheet
from shopguide.paper.contents import OWN_STATEMENT, make_contents, tell_findings

_spec = importlib.util.spec_from_file_location(
    "worked_record", Path(__file__).with_name("worked_record.py")
)
worked = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(worked)

ZONE = timezone(timedelta(hours=1))
COVER = "24.1"


@pytest.fixture(scope="module")
def sheet(checkout) -> Sheet:
    path = checkout / "sample_jobs" / "gearbox_sump_cover" / "job.json"
    return Sheet.model_validate_json(path.read_text(encoding="utf-8"))


def read(record, **more):
    return make_contents(
        record.sheet,
        record.events,
        head=record.head,
        made_at=record.now,
        program="shopguide 0",
        zone=ZONE,
        **more,
    )


@pytest.fixture(scope="module")
def finished(sheet):
    record = worked.WorkedRecord(sheet)
    record.lay_out()
    record.add("started", {})
    record.work()
    record.sign()
    return record


def small_sheet(count: int = 4, passes="torque, back off, torque", **pattern) -> Sheet:
    """A lid with a few screws, tightened in one task."""
    return Sheet.model_validate(
        {
            "format": "shopguide-job/1",
            "title": "Lid",
            "author": "nobody",
            "date": "2030-01-02",
            "specs": [
                {"name": "lid", "kind": "torque", "value": "10 N·m", "tolerance": "±1 N·m"},
                {"name": "turn", "kind": "angle", "value": "90°"},
            ],
            "patterns": [
                {
                    "name": "lid",
                    "title": "Lid",
                    "circle": {"count": count, "diameter_mm": 80},
                    "order": list(range(1, count + 1)),
                    **pattern,
                }
            ],
            "stages": [
                {
                    "title": "All",
                    "steps": [
                        {
                            "title": "Tighten",
                            "tasks": [
                                {
                                    "kind": "torque",
                                    "text": "Tighten.",
                                    "pattern": "lid",
                                    "spec": "lid",
                                    "passes": passes,
                                }
                            ],
                        }
                    ],
                }
            ],
        }
    )


def begin(*args, **named):
    return worked.WorkedRecord(small_sheet(*args, **named))


# --- the finished sample --------------------------------------------------------------------


def test_the_first_finding_says_that_each_screw_was_torqued_twice(finished) -> None:
    findings = tell_findings(finished.progress)
    assert findings[0] == (
        "16 of 16 screws of the sump cover were torqued twice to 9 N·m; "
        "in between each was backed off."
    )
    assert "3 of 3 screws of the filter were torqued to 5 N·m." in findings
    assert "8 of 8 screws of the undertray were tightened snug (the torque is not known)." in (
        findings
    )
    assert any(line.startswith("Torqued singly: drain plug 25 N·m") for line in findings)
    assert "Gearbox fluid: 4035 mL came out, 4035 mL went in." in findings
    assert "All 91 tasks of the sheet were done." in findings
    assert "No departures from the sheet are recorded." in findings
    assert "Everything that was taken apart is back: all 18 items are closed." in findings


def test_the_table_has_every_pass_of_every_screw(finished) -> None:
    part = next(p for p in read(finished).torques if p.pattern.name == "cover")
    assert part.whole and len(part.rows) == 16 and len(part.columns) == 3
    assert [column.lines[:2] for column in part.columns] == [
        ("Pass 1", "to torque, 9 N·m"),
        ("Pass 2", "back off"),
        ("Pass 3", "to torque, 9 N·m"),
    ]
    assert all("small click wrench" in part.columns[i].lines[2] for i in (0, 2))
    assert {row.tally for row in part.rows} == {"2 of 2"}
    times = [cell.time for row in part.rows for cell in row.cells]
    assert len(times) == 48 and len(set(times)) == 48 and all(times)
    assert part.rows[0].place == "1" and part.rows[10].size == "M6 × 35 mm"
    assert dict(part.facts)["Order"].startswith("the manual's order")
    assert "9 N·m ±1 N·m (80 lbf·in)" in dict(part.facts)["Torque"]


def test_identity_and_dates(finished) -> None:
    first = read(finished, fingerprint="abcd").first
    identity = {fact.name: fact for fact in first.identity}
    work = {fact.name: fact for fact in first.work if fact.name}
    assert first.machine == "Quennerbeck Tidewold 540"
    assert identity["VIN"].text == "1M8GDM9AXKP042788"
    assert identity["VIN"].note == "The check digit fits."
    assert identity["Odometer"].text == "123456 km"
    assert work["Done by"].text == "Imke Tannhobel"
    assert work["Begun"].text == "4 May 2031, 08:30"
    assert work["Torque wrench"].text == "small click wrench, 4 N·m to 20 N·m"
    assert work["Torque wrench"].note == "serial K 4711, calibrated 2031-01-12"
    assert [f.note for f in first.work if not f.name] == ["calibration not given"]
    assert "UTC+01:00" in first.times_note and "not certified" in first.times_note
    assert first.head == finished.head and first.fingerprint == "abcd"
    assert first.signing.name == "Imke Tannhobel" and len(first.signing.strokes) == 4
    assert first.statement == OWN_STATEMENT


def test_every_task_has_an_outcome(finished, sheet) -> None:
    contents = read(finished)
    tasks = [t for stage in contents.stages for step in stage.steps for t in step.tasks]
    assert [t.address for t in tasks] == list(sheet.tasks)
    assert {t.state for t in tasks} == {"done"} and all(t.time and t.outcome for t in tasks)
    told = {t.address: t.outcome for t in tasks}
    assert told["4.3"] == "38 °C (100 °F)" and told[COVER] == "all 3 passes done"
    assert told["8.1"] == "not touched" and told["33.3"] == "snug" and told["21.2"] == "torqued"
    assert told["9.1"] == "disconnected" and told["28.1"] == "reconnected"


def test_values_are_told_with_what_was_asked_for(finished) -> None:
    contents = read(finished)
    drained, filled = contents.fluids
    assert drained.value == "4035 mL" and "4 US qt + 250 mL ±400 mL" in drained.asked
    assert filled.asked == "as much as came out" and "QT-4" in filled.what
    level = next(m for m in contents.measurements if m.task == "31.1")
    assert (level.value, level.converted) == ("42 °C", "108 °F")
    assert "invented for the demonstration" in level.asked, "with its source"


def test_cautions_tell_when_they_were_read(finished) -> None:
    contents = read(finished)
    assert [c.signal for c in contents.cautions][:2] == ["DANGER", "WARNING"]
    assert contents.cautions[0].read.startswith("read and accepted 4 May 2031")
    assert contents.cautions[4].signal == "NOTICE" and contents.cautions[4].read == ""
    stands = contents.stages[0].steps[2].cautions[0]
    assert stands.read.startswith("read and accepted")


def test_prices_are_told_only_when_asked_for(finished) -> None:
    assert {part.price for part in read(finished).parts} == {""}
    assert read(finished, prices=True).parts[0].price == "24.50 €"


def test_follow_ups_come_from_the_sheet(finished, sheet) -> None:
    lines = read(finished).follow_ups
    assert [line.name for line in lines] == [f.text for f in sheet.follow_ups]
    assert lines[1].note == "40 °C to 45 °C"


# --- honest when not ------------------------------------------------------------------------


def test_an_empty_record_says_so_everywhere(sheet) -> None:
    contents = read(worked.WorkedRecord(sheet))
    first = contents.first
    assert first.findings[0].text == "None of the 16 screws of the sump cover was torqued."
    assert "0 of 91 tasks of the sheet were done; 91 are not recorded." in [
        f.text for f in first.findings
    ]
    assert first.machine == "Machine not given"
    assert {fact.text for fact in first.identity} == {"not given"}
    work = {fact.name: fact.text for fact in first.work}
    assert work["Done by"] == work["Torque wrench"] == "not given"
    assert work["Signed"] == "not signed off yet" and first.signing is None
    assert not contents.signed and not contents.rehearsal
    tasks = [t for stage in contents.stages for step in stage.steps for t in step.tasks]
    assert {t.state for t in tasks} == {"missing"}
    assert {row.tally for row in contents.torques[-2].rows} == {"0 of 2"}


def test_those_not_torqued_twice_are_named() -> None:
    record = begin()
    for _ in range(4 + 4 + 2):
        record.step()
    assert tell_findings(record.progress)[0] == (
        "2 of 4 screws of the lid were torqued twice to 10 N·m; not twice: 3, 4; "
        "in between each was backed off."
    )


def test_an_unfinished_back_off_is_told() -> None:
    record = begin()
    for _ in range(4 + 1):
        record.step()
    assert tell_findings(record.progress)[0] == (
        "0 of 4 screws of the lid were torqued twice to 10 N·m; not twice: 1, 2, 3, 4; "
        "in between 1 was backed off, not: 1, 2, 3."
    )


def test_a_single_pass_says_no_times() -> None:
    record = begin(passes="torque")
    record.work()
    assert tell_findings(record.progress)[0] == "4 of 4 screws of the lid were torqued to 10 N·m."


def test_a_skipped_rest_is_told_with_its_reason() -> None:
    record = begin()
    record.step()
    record.add("skipped", {"task": "1.1", "reason": "stripped thread."})
    first = read(record).first
    assert first.findings[0].text.endswith("The rest was skipped: stripped thread.")
    assert not first.findings[0].whole
    assert "0 of 1 tasks of the sheet were done; 1 was skipped, with the reason." in [
        f.text for f in first.findings
    ]


def test_a_skip_does_not_make_finished_marks_whole() -> None:
    record = begin(passes="torque")
    for number in (1, 2, 3):
        record.mark("1.1", number)
    record.add("skipped", {"task": "1.1", "reason": "later"})
    part = read(record).torques[0]
    assert not part.whole
    assert part.sentence.startswith("3 of 4 screws of the lid were torqued to 10 N·m; not: 4.")


def test_a_withdrawn_mark_does_not_count_and_is_told() -> None:
    record = begin(passes="torque")
    for _ in range(3):
        record.step()
    record.take_back()
    contents = read(record)
    assert contents.first.findings[0].text == (
        "2 of 4 screws of the lid were torqued to 10 N·m; not: 3, 4."
    )
    (line,) = contents.taken_back
    assert line.name == "screw 3" and line.note == "entry 4"
    assert contents.torques[0].rows[2].cells[0].time == ""


def test_partial_passes_and_angle() -> None:
    passes = [
        {"kind": "snug"},
        {"kind": "torque", "share": 0.5},
        {"kind": "torque"},
        {"kind": "angle", "spec": "turn"},
    ]
    record = begin(passes=passes)
    record.work()
    assert tell_findings(record.progress)[0] == (
        "4 of 4 screws of the lid were torqued to 10 N·m and turned a further 90°. "
        "Before that each was brought to snug and 5.0 N·m."
    )


def test_a_check_says_what_its_last_trip_found() -> None:
    record = begin(passes=[{"kind": "torque"}, {"kind": "check"}])
    for _ in range(4):
        record.step()
    assert "The check at 10 N·m was not made." in tell_findings(record.progress)[0]
    for number in (1, 2, 3, 4):
        data = worked.mark_data(record.progress, "1.1", number, moved=number == 2)
        record.add("mark", data)
    assert "some still turned" in tell_findings(record.progress)[0]
    record.step()
    assert "The check at 10 N·m is not complete." in tell_findings(record.progress)[0]
    record.work()
    assert "A check at 10 N·m found none turning (trip 2)." in tell_findings(record.progress)[0]
    part = read(record).torques[0]
    assert [c.lines[0] for c in part.columns] == ["Pass 1", "Pass 2, trip 1", "Pass 2, trip 2"]
    assert part.rows[1].cells[1].more == "turned"


def test_out_of_turn_is_told_in_cell_remark_and_list() -> None:
    record = begin(passes="torque")
    record.mark("1.1", 3, "in the way")
    contents = read(record)
    cell = contents.torques[0].rows[2].cells[0]
    assert cell.departed and cell.more == "out of turn"
    assert contents.torques[0].remarks[0].endswith("out of turn: in the way")
    assert contents.departures[0].text == "in the way"
    assert "1 departure from the sheet is recorded, with its reason." in [
        f.text for f in contents.first.findings
    ]


def test_readings_stand_in_their_cell_and_outside_is_told() -> None:
    record = begin(passes="torque")
    seqs = [record.mark("1.1", n).seq for n in (1, 2, 3, 4)]
    record.add("reading", {"seq": seqs[0], "reading": "10.4 N·m"})
    record.add("reading", {"seq": seqs[1], "reading": "12 N·m"})
    contents = read(record)
    cells = [row.cells[0].more for row in contents.torques[0].rows]
    assert cells == ["read 10.4 N·m", "read 12 N·m, above 10 N·m ±1 N·m", "", ""]
    assert "1 torque reading lies outside what the sheet allows." in [
        f.text for f in contents.first.findings
    ]


def test_places_and_numbers_are_both_told_where_they_differ() -> None:
    record = begin(passes="torque", order=[3, 1, 4, 2])
    record.step()
    assert tell_findings(record.progress)[0].endswith("not: 2 (no. 1), 3 (no. 4), 4 (no. 2).")
    assert [r.place for r in read(record).torques[0].rows] == [
        "1 (no. 3)",
        "2 (no. 1)",
        "3 (no. 4)",
        "4 (no. 2)",
    ]


def test_many_missing_are_counted_not_listed() -> None:
    record = begin(count=40, passes="torque")
    record.step()
    assert tell_findings(record.progress)[0].endswith("11, 12, 13 and 27 more.")


@pytest.mark.parametrize(
    ("title", "subject"),
    [
        ("Lid", " of the lid "),
        ("Sump cover, 16 screws", " of the sump cover "),
        ("ECU housing", " of the ECU housing "),
        ("Ring of small screws", " (“Ring of small screws”) "),
        ("Everything that holds the two halves", " (“Everything that holds the two halves”) "),
    ],
)
def test_the_joint_is_named_as_its_title_allows(title: str, subject: str) -> None:
    record = begin(passes="torque", title=title)
    record.step()
    assert f"screws{subject}were torqued" in tell_findings(record.progress)[0]


def test_open_items_stay_visible(sheet) -> None:
    record = worked.WorkedRecord(sheet)
    record.lay_out()
    record.work("21.1")
    record.add("accounted", {"item": "filter", "reason": "wrong part came"})
    contents = read(record)
    said = next(f.text for f in contents.first.findings if "taken apart" in f.text)
    assert "1 stays open with a reason: filter" in said and "are open: battery earth" in said
    states = {line.name: (line.time, line.note) for line in contents.items}
    assert states["filter"] == ("accounted for", "stays open: wrong part came")
    assert states["undertray"] == ("open", "open, no reason given")


# --- identity -------------------------------------------------------------------------------


def facts_with(**fields):
    record = begin(passes="torque")
    record.lay_out(**fields)
    return {f.name: f for f in read(record).first.identity}, record


def test_a_vin_whose_check_digit_fails_is_told_without_advice() -> None:
    facts, _ = facts_with(vin="1M8GDM9A1KP042788")
    assert "should be X, not 1" in facts["VIN"].note and "Look again" not in facts["VIN"].note


def test_a_serial_number_stands_in_for_a_vin_and_hours_for_the_odometer() -> None:
    facts, _ = facts_with(vin=None, serial="GX-0042", odometer="820 h")
    assert "VIN" not in facts and facts["Serial number"].text == "GX-0042"
    assert facts["Hours"].text == "820 h"


def test_what_was_entered_anew_is_told() -> None:
    _, record = facts_with()
    record.add("laid out", {"field": "odometer", "value": "123465 km"})
    (line,) = read(record).entered_anew
    assert line.text == "“123456 km” before, then “123465 km”"


def test_hidden_fields_are_left_out() -> None:
    record = begin(passes="torque")
    record.lay_out()
    data = {"name": "x", "statement": "s", "strokes": [], "hidden": ["vin", "person"]}
    record.add("signed", data)
    first = read(record).first
    assert {f.text for f in first.identity if f.name == "VIN"} == {"left out by the owner"}
    assert next(f.text for f in first.work if f.name == "Done by") == "left out by the owner"


def test_a_calibration_that_was_due_before_the_work_is_told() -> None:
    record = begin(passes="torque")
    wrench = {"name": "w", "low": "4 N·m", "high": "20 N·m", "due": "2031-05-01"}
    record.lay_out(wrenches=[wrench])
    record.step()
    note = next(f.note for f in read(record).first.work if f.name == "Torque wrench")
    assert note == "calibration not given, calibration due 2031-05-01, before this work"


def test_notes_and_photos_stand_at_their_step(sheet) -> None:
    record = worked.WorkedRecord(sheet)
    record.add("note", {"step": 2, "text": "Ground was wet."})
    sha = record.take_photo(2, caption="Wet ground")
    step = read(record).stages[0].steps[1]
    assert step.notes[0].text == "Ground was wet."
    assert [(p.name, p.caption, bool(p.taken)) for p in step.photos] == [(sha, "Wet ground", True)]
    shown = [p for s in read(record).stages for st in s.steps for p in st.photos if not p.taken]
    assert [p.name for p in shown] == [p.file for p in sheet.photos()]


def test_a_rehearsal_is_known(sheet) -> None:
    assert read(worked.WorkedRecord(sheet, rehearsal=True)).rehearsal


def test_a_back_off_counts_only_between_the_two_torques() -> None:
    record = begin()
    first = record.mark("1.1", 1)
    for _ in range(3 + 4):
        record.step()
    record.add("withdrawn", {"seq": first.seq})
    record.work()
    assert tell_findings(record.progress)[0] == (
        "4 of 4 screws of the lid were torqued twice to 10 N·m; "
        "in between 3 were backed off, not: 1."
    )


def test_single_fasteners_have_their_own_rows(sheet, finished) -> None:
    rows = {row.name: row for row in read(finished).singles}
    assert list(rows) == [
        "drain plug",
        "filler-tube bracket screw",
        "front bracket screw",
        "rear bracket screw",
        "level plug",
    ]
    plug = rows["drain plug"]
    assert (plug.step, plug.target, plug.wrench) == (25, "25 N·m", "large click wrench")
    assert plug.state.strokes == (True,) and plug.time.startswith("4 May, ")
    record = worked.WorkedRecord(sheet)
    record.add("skipped", {"task": "25.2", "reason": "thread gone"})
    row = read(record).singles[0]
    assert (row.deed, row.remark, row.time, row.target) == ("skipped", "thread gone", "", "25 N·m")
    assert not row.state.strokes
