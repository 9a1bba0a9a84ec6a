"""Undo, departure, skip, check, notes, resume, and a second window."""

from __future__ import annotations

import json

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from shopguide.work.ledger import list_departures


def go_to_cover(person, passes: int = 1, done: int = 0):
    """Works until the cover's screws stand at this pass with so many done."""

    def there(due) -> bool:
        if due.act != "mark":
            return False
        task = person.frame.desk.sheet.tasks[due.task]
        return (
            task.pattern == "cover"
            and due.trip.pass_number == passes
            and len(due.trip.marked) == done
        )

    return person.work_until(there)


def start(person, sheet, photo) -> None:
    person.photo = photo
    person.open(sheet)
    person.lay_out()


def test_taking_back_adds_a_withdrawal(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    go_to_cover(person, done=2)
    before = len(person.events)
    person.record(Qt.Key.Key_Backspace)
    assert len(person.events) == before + 1, "nothing is deleted"
    assert person.events[-1].kind == "withdrawn"
    assert person.events[-1].data["seq"] == before
    assert "screw 2 of 16, pass 1 of 3" in person.bar
    person.record()
    assert "screw 3 of 16, pass 1 of 3" in person.bar


def test_a_screw_out_of_turn_is_asked_once_and_written_down(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    due = go_to_cover(person, done=2)
    diagram = person.frame.work.diagram
    person.qtbot.waitUntil(lambda: diagram.drawing() is not None)
    hits = {number: (x, y) for number, x, y, _ in diagram.drawing().hits}
    factor = person.frame.factor
    x, y = hits[9]
    spot = QPoint(round(x * factor), round((y + 40) * factor))
    QTest.mouseClick(diagram, Qt.MouseButton.LeftButton, pos=spot)
    assert person.frame.work.ask.is_open
    assert "The order asks for screw 3 now" in person.frame.work.ask.question.text()
    person.answer("hose in the way")
    mark = person.events[-1]
    assert mark.kind == "mark" and mark.data["fastener"] == 9
    assert mark.data["departure"] == "hose in the way"
    assert person.due.fastener == due.fastener, "screw 3 is still due"
    QTest.mouseClick(diagram, Qt.MouseButton.LeftButton, pos=spot)
    assert "already has pass 1" in person.notice


def test_another_screw_by_keyboard_alone(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    go_to_cover(person, done=0)
    person.key(Qt.Key.Key_O)
    ask = person.frame.work.ask
    QTest.keyClicks(ask.entry, "77")
    QTest.keyClick(ask.entry, Qt.Key.Key_Return)
    assert ask.is_open and "from 1 to 16" in ask.told.text()
    ask.entry.clear()
    QTest.keyClicks(ask.entry, "5")
    QTest.keyClick(ask.entry, Qt.Key.Key_Return)
    person.answer("nearer")
    assert person.events[-1].data["fastener"] == 5


def test_skipping_needs_a_reason(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    due = person.due
    before = len(person.events)
    person.key(Qt.Key.Key_S)
    ask = person.frame.work.ask
    assert ask.is_open
    QTest.keyClick(ask.entry, Qt.Key.Key_Return)
    assert ask.is_open and len(person.events) == before, "no reason, no skipping"
    QTest.keyClick(ask.entry, Qt.Key.Key_Escape)
    assert not ask.is_open and len(person.events) == before
    person.key(Qt.Key.Key_S)
    person.answer("done yesterday")
    assert person.events[-1].kind == "skipped"
    departures = list_departures(person.frame.desk.progress)
    assert departures[-1].reason == "done yesterday"
    assert person.due.task != due.task


def test_a_note_and_a_reading_are_kept(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    go_to_cover(person, done=1)
    person.key(Qt.Key.Key_N)
    person.answer("One washer was bent: replaced.")
    assert person.events[-1].data["text"] == "One washer was bent: replaced."
    person.key(Qt.Key.Key_R)
    person.answer("9,1 Nm")
    assert person.events[-1].kind == "reading"
    assert person.events[-1].data["reading"] == "9.1 N·m"


def test_a_value_outside_its_limits_is_asked_once(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    person.work_until(lambda due: due.act == "value" and "came out" in due.asks)
    person.key(Qt.Key.Key_Space)
    ask = person.frame.work.ask
    QTest.keyClicks(ask.entry, "2 L")
    QTest.keyClick(ask.entry, Qt.Key.Key_Return)
    assert ask.is_open and "below the lower limit" in ask.question.text()
    person.answer("it had leaked")
    assert person.events[-1].data == {
        "task": person.events[-1].data["task"],
        "value": "2 L",
        "departure": "it had leaked",
    }


def test_a_value_that_cannot_be_read_is_refused_in_words(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    person.work_until(lambda due: due.act == "value" and "came out" in due.asks)
    before = len(person.events)
    person.key(Qt.Key.Key_Space)
    ask = person.frame.work.ask
    for wrong in ("4", "9 N·m", "-2 L", "lots"):
        ask.entry.clear()
        QTest.keyClicks(ask.entry, wrong)
        QTest.keyClick(ask.entry, Qt.Key.Key_Return)
        assert ask.is_open and ask.told.text(), wrong
    assert len(person.events) == before


def test_work_does_not_start_before_the_cautions_are_read(person, bare_sample):
    person.open(bare_sample)
    person.frame.go("work")
    assert person.bar.startswith("Space goes to Lay out: ")
    person.key(Qt.Key.Key_Space)
    assert person.frame.place is person.frame.lay_out


def test_resume_stands_at_the_exact_screw_and_says_so(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    go_to_cover(person, passes=3, done=6)
    path = person.frame.desk.record_file.path
    bar = person.bar
    person.frame.go("shelf")
    person.frame.close_desk()
    person.open(path)
    assert person.frame.place is person.frame.work
    assert person.bar == bar
    assert "Recorded last: screw 6, pass 3" in person.notice


def test_a_second_window_only_looks(person, second_person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    path = person.frame.desk.record_file.path
    second_person.open(path)
    assert "Only to look at" in second_person.bar
    assert second_person.notice
    before = len(person.events)
    second_person.key(Qt.Key.Key_Space)
    assert len(person.events) == before
    person.do()
    assert len(person.events) == before + 1


def test_looking_ahead_records_nothing(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    before = len(person.events)
    for _ in range(5):
        person.key(Qt.Key.Key_Right)
    assert person.bar.startswith("Space goes back to step 1")
    person.key(Qt.Key.Key_Space)
    assert person.bar.startswith("Space records")
    assert len(person.events) == before


def test_a_leaned_on_key_records_once(person, bare_sample, own_photo):
    from PySide6.QtCore import QEvent
    from PySide6.QtGui import QKeyEvent
    from PySide6.QtWidgets import QApplication

    start(person, bare_sample, own_photo)
    person.frame.work.gate.dead_ms = 250
    before = len(person.events)
    person.record()
    for _ in range(20):
        held = QKeyEvent(
            QEvent.Type.KeyPress,
            Qt.Key.Key_Space,
            Qt.KeyboardModifier.NoModifier,
            " ",
            autorep=True,
        )
        QApplication.sendEvent(person.frame.work, held)
    person.settle()
    assert len(person.events) == before + 1


def test_the_users_own_order_is_worked_in_and_kept(person, bare_sample, own_photo):
    person.photo = own_photo
    person.open(bare_sample)
    lay_out = person.frame.lay_out
    lay_out._go_to(lay_out._order_rows["cover"])
    assert person.bar == "Space opens the order of Sump cover, 16 screws"
    person.key(Qt.Key.Key_Space)
    person.key(Qt.Key.Key_Right)
    person.key(Qt.Key.Key_Right)
    person.key(Qt.Key.Key_B)
    person.record()
    assert person.events[-1].data["field"] == "order:cover"
    assert "the user's order" in lay_out._order_rows["cover"].under
    frozen = person.events[-1].data["value"]["numbers"]
    lay_out._go_to(lay_out._rows[0])
    person.lay_out()
    due = go_to_cover(person, done=0)
    assert due.fastener == frozen[0] != 1
    assert f"screw 1 of 16 (no. {frozen[0]})" in person.bar


def test_a_whole_step_is_skipped_with_one_reason(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    number = person.due.step
    count = len(person.frame.desk.sheet.steps[number - 1].step.tasks)
    assert count > 1
    QTest.keyClick(person.frame.work, Qt.Key.Key_S, Qt.KeyboardModifier.ShiftModifier)
    person.answer("read last week")
    person.settle()
    skipped = [e for e in person.events if e.kind == "skipped"]
    assert len(skipped) == count
    assert {e.data["reason"] for e in skipped} == {"read last week"}
    assert person.due.step == number + 1


def test_an_adapter_is_set_by_keys_and_goes_into_the_mark(person, bare_sample, own_photo):
    person.photo = own_photo
    person.open(bare_sample)
    person.fill_in("Corvane", "Tarn 260", "2014", "", "A1", "10 km", "Ada Hill")
    person.fill_in("click wrench, 2 N·m, 25 N·m, lever 240 mm, resolution 0.1 N·m", "")
    for _ in range(200):
        if person.frame.place is person.frame.work:
            break
        person.key(Qt.Key.Key_Space)
        person.settle()
    go_to_cover(person, done=0)
    person.key(Qt.Key.Key_W)
    board = person.frame.work.board
    assert board is not None and person.bar == board.does
    person.key(Qt.Key.Key_A, board)
    QTest.keyClicks(person.focus(), "40 mm")
    QTest.keyClick(person.focus(), Qt.Key.Key_Return)
    person.settle()
    assert person.bar == board.does, "the board keeps the bar"
    board.close_board()
    assert "Set 7.7\u00a0N·m" in person.frame.work.card.set_line.text()
    person.record()
    mark = person.events[-1].data
    assert mark["setting"] == "7.7 N·m" and "40 mm" in mark["adapter"]


def test_the_forecast_is_reached_by_a_key(person, bare_sample, own_photo):
    start(person, bare_sample, own_photo)
    go_to_cover(person, done=0)
    person.key(Qt.Key.Key_E)
    board = person.frame.work.board
    person.qtbot.waitUntil(lambda: board.forecast is not None, timeout=30_000)
    before = len(person.events)
    person.key(Qt.Key.Key_Space, board)
    assert len(person.events) == before, "Space plays; it does not record"
    person.key(Qt.Key.Key_Escape, board)
    assert person.frame.work.board is None
    assert "screw 1 of 16, pass 1 of 3" in person.bar


def test_work_does_not_begin_on_a_sheet_that_stops_work(person, small_cover, own_photo):
    """A sheet whose last pass leaves the cover loose opens, but is not worked from."""
    data = json.loads((small_cover / "job.json").read_text())
    for stage in data["stages"]:
        for step in stage["steps"]:
            for task in step["tasks"]:
                if task["kind"] == "torque" and "pattern" in task:
                    task["passes"] = [{"kind": "torque"}, {"kind": "back off"}]
    (small_cover / "job.json").write_text(json.dumps(data))
    person.open(small_cover)
    person.frame.go("work")
    assert person.bar == "This sheet cannot be worked from. Space tells why"
    person.key(Qt.Key.Key_Space)
    assert "loose" in person.notice
    assert not person.frame.desk.record_file, "nothing was recorded"
