"""The place Work: the step, its picture or diagram, and the bar, whose words Space carries out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFileDialog

from shopguide.bolts.evenness import read_torques_nm
from shopguide.errors import SheetTrouble, Trouble
from shopguide.job.model import Torque
from shopguide.window.announcement import announce, tell_event
from shopguide.window.background import Runner
from shopguide.window.desk import Desk
from shopguide.window.keys_board import KeyGroup, KeysBoard
from shopguide.window.palette import Look
from shopguide.window.pictures import Pictures
from shopguide.window.place import Place
from shopguide.window.step_view import StepView, find_torque_shown
from shopguide.window.work_questions import Questions
from shopguide.work.events import Event
from shopguide.work.next_up import (
    Due,
    due_for,
    mark_data,
    out_of_turn,
    say_back,
    say_last,
    unread_cautions,
)
from shopguide.work.progress import Progress

KEYS = "N note   P photo   S skip   O other   F1 keys"
WORK_KEYS = (
    KeyGroup(
        "Recording",
        (
            ("Space", "record what the bar says"),
            ("Enter, Page Down", "the same"),
            ("Backspace", "take back"),
            ("O", "another screw or task"),
            ("T", "it turned, in a check"),
            ("R", "a reading"),
            ("S, Shift S", "skip it, skip the whole step"),
        ),
    ),
    KeyGroup(
        "Adding",
        (
            ("N", "a note"),
            ("P", "a photo"),
            ("W", "wrench and adapter"),
        ),
    ),
    KeyGroup(
        "Looking",
        (
            ("Left, Right", "at other steps"),
            ("Home", "back to what is due"),
            ("Up, Down", "the card, where it is long"),
            ("V", "diagram or picture"),
            ("[ and ]", "further pictures"),
            ("F", "large picture"),
            ("I", "open items"),
            ("E", "how evenly it clamps"),
        ),
    ),
    KeyGroup(
        "Places",
        (
            ("F2 F3 F5 F6", "Shelf, Lay out, Write, Sign off"),
            ("L", "light, dark, bright sun"),
            ("Escape", "closes what lies over Work"),
        ),
    ),
)


ADVANCING = ("mark", "done", "skipped", "acknowledged", "withdrawn", "timer", "rested")
"""After one of these the place shows what is due, wherever the person was looking."""


if TYPE_CHECKING:
    from shopguide.review.findings import Finding
    from shopguide.window.evenness_board import EvennessBoard
    from shopguide.window.wrench_board import WrenchBoard


class WorkPlace(Place):
    """Follows the desk; keeps nothing of the job itself but which step is being looked at."""

    moved = Signal()
    """Another step is looked at, or time passed: the line across the top follows."""
    add_photo = Signal(str, int, str)
    """A picture file to take in: path, step, address of its photo task or ""."""

    name = "work"

    def __init__(self, look: Look, factor: float = 1.0, *, runner: Runner) -> None:
        super().__init__(look, factor)
        self._runner = runner
        self.questions = Questions(self)
        self._wrenches: WrenchBoard | None = None
        self._evenness: EvennessBoard | None = None
        self.looked_at: int | None = None
        self._shown_step = 0
        self._full = False
        self.choose_photos: Callable[[], list[str]] = self._open_photo_dialog
        self.view = StepView(look, factor)
        self.diagram, self.picture = self.view.diagram, self.view.picture
        self.card = self.view.card
        self.middle.addWidget(self.view, 1)
        self._clock = QTimer(self)
        self._clock.setInterval(1000)
        self._clock.timeout.connect(self._tick)
        self.diagram.picked.connect(self._pick_fastener)
        self.card.picked.connect(self._pick_task)
        self.set_look(look, factor)

    # --- taking up a job ------------------------------------------------------------------

    def set_desk(self, desk: Desk, pictures: Pictures) -> None:
        super().set_desk(desk, pictures)
        self.looked_at = None
        self._shown_step = 0
        self.picture.set_pictures(pictures)
        desk.changed.connect(self._changed)
        desk.failed.connect(self._failed)
        desk.queued.connect(self.say)

    def begin(self) -> None:
        """Work starts or goes on, and that is recorded."""
        desk = self.desk
        if desk is None:
            return
        if (
            not desk.read_only
            and not desk.signed
            and not (unread_cautions(desk.progress) or self._stops())
        ):
            last = next(
                (e for e in reversed(desk.progress.events) if e.kind in ("started", "paused")), None
            )
            if last is None or last.kind == "paused":
                desk.record("started", {})
        self._clock.start()
        self.refresh()
        super().begin()

    def leave(self) -> None:
        """The clock on the screen stops; the record's does not."""
        self._clock.stop()
        super().leave()

    def tell_resumed(self) -> None:
        """Says when work stopped and what was recorded last."""
        desk = self.desk
        if desk is None or not desk.progress.events:
            return
        done = [e for e in desk.progress.events if e.kind in ("mark", "done", "skipped", "timer")]
        if not done:
            return
        stopped = desk.progress.events[-1].when.astimezone()
        self.notice.tell(
            f"Work stopped {_tell_when(stopped)}. Recorded last: {say_last(desk.progress)}.",
            "Look at that place once more before you go on.",
        )

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        super().set_look(look, factor)
        self.view.set_look(look, factor)
        if self.desk is not None:
            self.refresh()

    # --- showing ------------------------------------------------------------------------

    @property
    def progress(self) -> Progress:
        """What was done so far."""
        assert self.desk is not None
        return self.desk.progress

    def due(self) -> Due:
        """What Space records now."""
        assert self.desk is not None
        return self.desk.next_up()

    def step_shown(self) -> int:
        """The number of the step on the screen: the one looked at, else the one that is due."""
        return self.looked_at or self.due().step

    def refresh(self) -> None:
        """Redraws everything from the record."""
        if self.desk is None:
            return
        due = self.due()
        number = self.step_shown()
        self.view.show_step(self.progress, number, due)
        self.say()
        if number != self._shown_step:
            if self._shown_step:
                self.gate.settle()
            self._shown_step = number
            self._prefetch(number)
        self.moved.emit()

    def _prefetch(self, number: int) -> None:
        for other in (number + 1, number - 1):
            if 1 <= other <= len(self.progress.sheet.steps):
                self.picture.prefetch(self.progress.sheet.steps[other - 1].step.photos)

    def say(self) -> None:
        """The words of the bar."""
        desk = self.desk
        if desk is None or (not self.ask.is_open and self.say_board()):
            return
        if self.ask.is_open:
            self.bar.say(self.ask.does, "Escape leaves it")
            return
        if desk.trouble is not None:
            self.bar.say(desk.tell_trouble(), "Space tries again", waits=True)
            return
        if desk.signed:
            self.bar.say("This record is signed. Space goes to Sign off", keys="F1 keys")
            return
        if desk.read_only:
            self.bar.say("Only to look at: another window records", keys="F1 keys")
            return
        if self._stops():
            self.bar.say(
                "This sheet cannot be worked from. Space tells why", keys="F2 Shelf   F1 keys"
            )
            return
        unread = unread_cautions(self.progress)
        if unread:
            self.bar.say(
                "Space goes to Lay out: "
                + (
                    "a caution there waits for you"
                    if len(unread) == 1
                    else f"{len(unread)} cautions there wait for you"
                ),
                keys="F1 keys",
            )
            return
        due = self.due()
        if self.looked_at is not None and self.looked_at != due.step:
            self.bar.say(
                f"Space goes back to step {due.step}, where the work stands",
                "Left and Right look at other steps",
                keys="F1 keys",
            )
            return
        keys = KEYS
        if due.trip is not None and due.trip.one.kind == "check":
            keys = "T it turned   " + KEYS
        self.bar.say(due.bar, due.after, say_back(self.progress), keys, waits=bool(desk.waiting))

    # --- the desk's word ------------------------------------------------------------------

    def _changed(self, event: Event) -> None:
        if event.kind in ADVANCING:
            announce(self, tell_event(self.progress, event))
            self.notice.close_notice()
            self.looked_at = None
        self.refresh()

    def _failed(self, trouble: Trouble) -> None:
        self.notice.tell_trouble(trouble)
        self.say()

    def _tick(self) -> None:
        if self.desk is None:
            return
        due = self.due()
        if due.act == "wait" and self.step_shown() == due.step:
            self.card.show_step(self.progress, due.step, due)
        self.moved.emit()

    # --- keys -----------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.desk is None or event.modifiers() & (
            Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
        ):
            super().keyPressEvent(event)
            return
        key = Qt.Key(event.key())
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        looks = {
            Qt.Key.Key_Left: lambda: self._look_by(-1),
            Qt.Key.Key_PageUp: lambda: self._look_by(-1),
            Qt.Key.Key_Right: lambda: self._look_by(1),
            Qt.Key.Key_Home: self._look_home,
            Qt.Key.Key_V: self._swap_left,
            Qt.Key.Key_I: self._swap_items,
            Qt.Key.Key_W: self._open_wrenches,
            Qt.Key.Key_E: self._open_evenness,
            Qt.Key.Key_F: self._swap_full,
            Qt.Key.Key_Down: lambda: self.card.scroll_by(1),
            Qt.Key.Key_Up: lambda: self.card.scroll_by(-1),
            Qt.Key.Key_BracketLeft: lambda: self.picture.turn(-1),
            Qt.Key.Key_BracketRight: lambda: self.picture.turn(1),
            Qt.Key.Key_F1: self._show_keys,
        }
        records = {
            Qt.Key.Key_Backspace: self._take_back,
            Qt.Key.Key_O: self._ask_other,
            Qt.Key.Key_T: self._record_turned,
            Qt.Key.Key_R: self.questions.ask_reading,
            Qt.Key.Key_S: self.questions.ask_skip_step if shifted else self.questions.ask_skip,
            Qt.Key.Key_N: self.questions.ask_note,
            Qt.Key.Key_P: lambda: self._take_photo(""),
        }
        if key in looks:
            if not event.isAutoRepeat():
                looks[key]()
        elif key in records:
            if self.gate.accept(event) and self._may_record():
                records[key]()
        else:
            super().keyPressEvent(event)

    def _may_record(self) -> bool:
        desk = self.desk
        if desk is None or desk.read_only or desk.signed or desk.waiting:
            return False
        return not self._stops()

    def _stops(self) -> tuple[Finding, ...]:
        """What keeps work from beginning; nothing once it has begun."""
        desk = self.desk
        if desk is None or not desk.stops:
            return ()
        begun = any(e.kind in ("mark", "done") for e in desk.progress.events)
        return () if begun else desk.stops

    def _tell_stops(self) -> None:
        """The findings of the review that stop work, in the one kind of place."""
        stops = self._stops()
        self.notice.tell_trouble(
            SheetTrouble(
                f"The review found {len(stops)} thing{'s' if len(stops) > 1 else ''} "
                "that must be put right before work begins.",
                next="Put right what is listed in the sheet, save it, and open it again.",
                troubles=[Trouble(f.sentence, f.where) for f in stops],
            )
        )

    def press(self) -> None:
        """Space: does what the bar says."""
        desk = self.desk
        if desk is None or self.ask.is_open:
            return
        if desk.trouble is not None:
            desk.try_again()
            return
        if desk.signed:
            self.goes.emit("sign off")
            return
        if desk.read_only or desk.waiting:
            return
        if self._stops():
            self._tell_stops()
            return
        if unread_cautions(self.progress):
            self.goes.emit("lay out")
            return
        due = self.due()
        if self.looked_at is not None and self.looked_at != due.step:
            self._look_home()
            return
        self._do(due)

    def _do(self, due: Due, departure: str = "") -> None:
        """Records what is due, or opens what has to come first."""
        assert self.desk is not None
        data = dict(due.data)
        if departure:
            data["departure"] = departure
        match due.act:
            case "end":
                self.goes.emit("sign off")
            case "stuck":
                self.questions.ask_skip()
            case "value":
                self.questions.ask_value(due, departure)
            case "photo":
                self._take_photo(due.task)
            case "wait" if due.kind != "timer":
                self.questions.end_wait(due, departure)
            case _:
                self.desk.record(due.kind, data)

    def _take_back(self) -> None:
        assert self.desk is not None
        if not self.desk.take_back():
            self.notice.tell("There is nothing to take back.")

    def _look_by(self, by: int) -> None:
        steps = len(self.progress.sheet.steps)
        to = min(max(self.step_shown() + by, 1), steps)
        self.looked_at = None if to == self.due().step else to
        self.refresh()

    def _look_home(self) -> None:
        self.looked_at = None
        self.refresh()

    def look_at_step(self, number: int) -> None:
        """Shows a step without recording anything."""
        self.looked_at = None if number == self.due().step else number
        self.refresh()

    def _swap_left(self) -> None:
        self.view.picture_first = not self.view.picture_first
        self.refresh()

    def _swap_items(self) -> None:
        self.view.items_first = not self.view.items_first
        self.refresh()

    def _find_torque(self) -> tuple[str, Torque] | None:
        """The torque task that is due, else the first one of the step on the screen."""
        number, due = self.step_shown(), self.due()
        step = self.progress.sheet.steps[number - 1].step
        tasks = {f"{number}.{k}": task for k, task in enumerate(step.tasks, 1)}
        if due.task in tasks:
            tasks = {due.task: tasks[due.task], **tasks}
        return next(((a, t) for a, t in tasks.items() if isinstance(t, Torque)), None)

    def _open_wrenches(self) -> None:
        found = self._find_torque()
        if found is None:
            self.notice.tell("This step has nothing to torque, so it needs no torque wrench.")
            return
        if self._wrenches is None:
            from shopguide.window.wrench_board import WrenchBoard

            self._wrenches = WrenchBoard(self._look, self._factor)
            self._wrenches.adapter_set.connect(self._keep_adapter)
        self._wrenches.show_task(self.progress, found[0], may_change=self._may_record())
        self.open_board(self._wrenches)

    def _keep_adapter(self, address: str, adapter: dict[str, str]) -> None:
        if self.desk is not None:
            self.desk.lay_out(f"adapter:{address}", adapter)

    def _open_evenness(self) -> None:
        found = self._find_torque()
        if found is None or found[1].pattern is None:
            self.notice.tell("This step has no pattern of screws to forecast.")
            return
        if self._evenness is None:
            from shopguide.window.evenness_board import EvennessBoard

            self._evenness = EvennessBoard(self._look, self._factor)
        task = found[1]
        sheet = self.progress.sheet
        names = [task.spec_of(one) for one in task.schedule]
        torques = read_torques_nm([sheet.spec(name) if name else None for name in names])
        self._evenness.show_pattern(
            self.progress.pattern_of(task),
            self.progress.order_of(task),
            task.schedule,
            self._runner,
            torques,
        )
        self.open_board(self._evenness)

    def _swap_full(self) -> None:
        self._full = not self._full
        self.card.setVisible(not self._full)
        self.refresh()

    def _show_keys(self) -> None:
        board = KeysBoard("Keys in Work", self._look, self._factor)
        board.closed.connect(board.deleteLater)
        board.show_groups(WORK_KEYS)
        self.open_board(board)

    def escape(self) -> None:
        if self._full:
            self._swap_full()
        super().escape()

    # --- what is asked ----------------------------------------------------------------------

    def _record_turned(self) -> None:
        assert self.desk is not None
        due = self.due()
        if due.trip is None or due.trip.one.kind != "check" or due.fastener is None:
            self.notice.tell("T belongs to a check: it says that the screw turned.")
            return
        self.desk.record("mark", mark_data(self.progress, due.task, due.fastener, moved=True))

    # --- another than the one due -----------------------------------------------------------

    def _ask_other(self) -> None:
        due = self.due()
        if due.trip is not None and due.task:
            task = self.progress.sheet.tasks[due.task]
            assert isinstance(task, Torque)
            order = self.progress.order_of(task)

            def look(text: str) -> str:
                if not text.isdigit() or not 1 <= int(text) <= len(order):
                    raise Trouble(f"Write a number from 1 to {len(order)}.")
                return ""

            self.ask.open(
                f"Which one was it? Its number in the order, 1 to {len(order)}",
                "Enter takes that one",
                lambda text: self._pick_fastener(order[int(text) - 1]),
                check=look,
            )
            return
        step = self.progress.sheet.steps[self.step_shown() - 1]
        count = len(step.step.tasks)

        def look_task(text: str) -> str:
            if not text.isdigit() or not 1 <= int(text) <= count:
                raise Trouble(f"Write a number from 1 to {count}.")
            return step.step.tasks[int(text) - 1].text

        self.ask.open(
            f"Which task of step {step.number}? 1 to {count}",
            "Enter takes that one",
            lambda text: self._pick_task(f"{step.number}.{text}"),
            check=look_task,
        )

    def _pick_fastener(self, number: int) -> None:
        """A fastener was clicked or typed: records it, after one question if it is not due."""
        if not self._may_record() or self.ask.is_open or unread_cautions(self.progress):
            return
        due = self.due()
        found = find_torque_shown(self.progress, self.step_shown(), due)
        if found is None:
            return
        address = found[0]
        assert self.desk is not None
        try:
            data = mark_data(self.progress, address, number)
        except Trouble as trouble:
            self.notice.tell_trouble(trouble)
            return
        if due.act == "acknowledge":
            self.notice.tell("Read the caution first: Space records that you have.")
            return
        question = out_of_turn(self.progress, address, number)
        if not question:
            self._do(due)
            return
        self.questions.ask_departure(
            f"{question} Why?",
            lambda reason: self.desk.record("mark", {**data, "departure": reason}),  # type: ignore[union-attr]
        )

    def _pick_task(self, address: str) -> None:
        """A task was clicked or typed: does it, after one question if it is not due."""
        if not self._may_record() or self.ask.is_open or unread_cautions(self.progress):
            return
        if address in self.progress.outcomes:
            self.notice.tell(
                "This task is recorded already.", next="Backspace takes back what came last."
            )
            return
        due = due_for(self.progress, address)
        question = out_of_turn(self.progress, address)
        if not question:
            self._do(self.due())
            return
        if due.act == "acknowledge":
            self._do(due)
            return
        self.questions.ask_departure(
            f"{question} Why?", lambda reason: self._do(due_for(self.progress, address), reason)
        )

    # --- photos -----------------------------------------------------------------------------

    def _open_photo_dialog(self) -> list[str]:
        names, _ = QFileDialog.getOpenFileNames(
            self,
            "Photos for this step",
            str(Path.home()),
            "Pictures (*.jpg *.jpeg *.png *.webp *.tif *.tiff *.bmp)",
        )
        return names

    def _take_photo(self, address: str) -> None:
        number = self.due().step if address else self.step_shown()
        for path in self.choose_photos():
            self.add_photo.emit(path, number, address)


def _tell_when(moment: datetime) -> str:
    now = datetime.now(moment.tzinfo)
    clock = moment.strftime("%H:%M")
    days = (now.date() - moment.date()).days
    if days == 0:
        return f"today at {clock}"
    if days == 1:
        return f"yesterday at {clock}"
    return f"on {moment.day} {moment.strftime('%B %Y')} at {clock}"
