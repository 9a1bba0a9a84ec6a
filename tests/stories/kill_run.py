"""One life of the program for test_kill.py: works the small sheet by keys until it is killed.

    python kill_run.py SHEET_OR_RECORD SEED

Prints one JSON line when it is where the work stands, and one for each event after the screen has
shown it. Whoever reads a line may kill the program from then on: what it tells has to be on disk.
"""

from __future__ import annotations

import json
import random
import sys
from pathlib import Path

from PySide6.QtCore import QObject, Qt, QTimer, qInstallMessageHandler
from PySide6.QtTest import QTest

from shopguide.window.app import make_app, write_qt_message
from shopguide.window.desk import Desk
from shopguide.window.frame import Frame
from shopguide.work.events import Event

NAME = "Ada Hill"
BACK_IN = 12
"""One press in so many takes back instead of going on, so that withdrawals are met too."""


def tell(**line: object) -> None:
    """One line for whoever waits with the kill."""
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


class Worker(QObject):
    """Presses the next key whenever the window has shown what the last one did."""

    def __init__(self, frame: Frame, luck: random.Random) -> None:
        super().__init__(frame)
        self.frame = frame
        self.luck = luck
        self.stood = False
        for place in frame.places.values():
            # A person is slower than this; the dead times have tests of their own.
            place.gate.dead_ms = place.gate.settle_ms = 0
        # Looked for in the event loop, as the window takes the job up there.
        self.look = QTimer(self)
        self.look.setInterval(0)
        self.look.timeout.connect(self.look_for_desk)
        self.look.start()

    @property
    def desk(self) -> Desk:
        assert self.frame.desk is not None
        return self.frame.desk

    def key(self, key: Qt.Key) -> None:
        QTest.keyClick(self.frame.focusWidget() or self.frame.place, key)

    def look_for_desk(self) -> None:
        if self.frame.desk is None or self.frame.place is self.frame.shelf:
            return
        self.look.stop()
        # After the places: they have drawn what changed before it is told here.
        self.desk.changed.connect(self.show)
        tell(ready=True)
        if self.frame.place is self.frame.lay_out:
            if self.desk.progress.laid_out.get("person") != NAME:
                entry = self.frame.lay_out.fields["person"].entry
                entry.setFocus()
                entry.clear()
                QTest.keyClicks(entry, NAME)
            # The first key that records: on a fresh sheet it makes the record.
            self.key(Qt.Key.Key_F4)
        self.stand()

    def show(self, event: Event) -> None:
        self.frame.repaint()
        tell(seq=event.seq, hash=event.hash)
        QTimer.singleShot(0, self.stand if not self.stood else self.press)

    def stand(self) -> None:
        """Tells where the work stands, once nothing is on its way and the work has started."""
        started = any(e.kind == "started" for e in self.desk.progress.events)
        if self.stood or self.desk.waiting or not started:
            return
        self.stood = True
        tell(stands=self.frame.work.bar.does)
        QTimer.singleShot(0, self.press)

    def press(self) -> None:
        if self.desk.waiting:
            return
        ended = self.frame.work.due().act == "end"
        back = ended or self.luck.randrange(BACK_IN) == 0
        if back and self.desk.progress.last_taken() is not None:
            self.key(Qt.Key.Key_Backspace)
        else:
            self.key(Qt.Key.Key_Space)


def main() -> None:
    # What Qt only remarks stays unsaid; a warning comes out and fails the test.
    qInstallMessageHandler(write_qt_message)
    app = make_app()
    frame = Frame()
    frame.resize(1366, 768)
    frame.show()
    frame.open_path(Path(sys.argv[1]))
    worker = Worker(frame, random.Random(int(sys.argv[2])))
    assert worker.frame is frame
    sys.exit(app.exec())


if __name__ == "__main__":
    main()
