"""One life of the program for test_write_kill.py: writes a sheet at random until it is killed.

    python write_run.py saved FOLDER SEED PICTURES     the sheet in a folder, saved now and then
    python write_run.py new   -      SEED PICTURES     one that is never saved, from the Shelf
    python write_run.py types FOLDER SEED PICTURES     types into one text without a pause

Prints one JSON line for what it began with, for every state of the sheet as it comes about, before
every saving, and after everything that is on disk: whoever reads a line may kill it from then on.
"""

from __future__ import annotations

import faulthandler
import hashlib
import json
import random
import sys
from pathlib import Path

from PySide6.QtCore import QObject, Qt, QTimer, qInstallMessageHandler
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from shopguide.job.files import dump_sheet
from shopguide.job.text import write_text
from shopguide.job.written import FixedDict, read_written
from shopguide.window import write_desk
from shopguide.window import write_text as typed
from shopguide.window.app import make_app, write_qt_message
from shopguide.window.frame import Frame
from shopguide.window.write_desk import WriteDesk
from shopguide.window.write_place import WritePlace
from shopguide.window.write_text import WriteText

Key = Qt.Key
PLAIN, CONTROL = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier.ControlModifier
SHIFT, ALT = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.AltModifier
MOST_ROWS = 26
PASTED = "name\tvalue\tsource kind\tsource\nscrews {0}\t{0} N·m\tmanual\tpage {0}\n"

# A test has less patience than a mechanic; what happens is the same.
typed.PAUSE_MS, typed.LONGEST_MS = 40, 80
write_desk.ASIDE_MS, write_desk.ASIDE_SOON_MS = 40, 5


def tell(**line: object) -> None:
    """One line for whoever waits with the kill."""
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


def sum_up(data: FixedDict) -> str:
    """What a draft of this data is told by."""
    return hashlib.sha256(json.dumps(data, ensure_ascii=False).encode()).hexdigest()


def sum_up_saved(data: FixedDict) -> str:
    """What a saved sheet with this data is told by."""
    sheet = read_written(data).sheet
    raw = dump_sheet(sheet) if sheet is not None else write_text(data)
    return hashlib.sha256(raw).hexdigest()


class Author(QObject):
    """Does the next thing whenever the window has done the last one."""

    def __init__(self, frame: Frame, sort: str, folder: str, luck: random.Random, photos: str):
        super().__init__(frame)
        self.frame, self.sort, self.luck = frame, sort, luck
        self.photos = sorted(Path(photos).iterdir())
        self.saving: tuple[str, str] | None = None
        self.typing = 0
        self.look = QTimer(self)
        # Asked without a pause, the window would keep the threads that open the sheet from running.
        self.look.setInterval(5)
        self.look.timeout.connect(self.begin if sort != "new" else self.choose_on_shelf)
        self.look.start()
        if sort != "new":
            frame.opening.open_sheet(Path(folder))

    @property
    def place(self) -> WritePlace:
        return self.frame.write

    @property
    def desk(self) -> WriteDesk:
        assert self.place.writing is not None
        return self.place.writing

    def key(self, key: Key, held: Qt.KeyboardModifier = PLAIN, to: QWidget | None = None) -> None:
        QTest.keyClick(to or QApplication.focusWidget() or self.frame.place, key, held)

    # --- beginning ------------------------------------------------------------------------

    def choose_on_shelf(self) -> None:
        """The draft that stands first on the Shelf; where there is none, a new sheet."""
        shelf = self.frame.shelf
        row = shelf.row()
        if row is None:
            return
        self.look.timeout.disconnect()
        self.look.timeout.connect(self.begin)
        if row.draft:
            tell(shelf=row.draft, title=row.title)
            self.key(Key.Key_Space, to=shelf.list)
        else:
            self.key(Key.Key_N, to=shelf.list)
            self.look.timeout.disconnect()
            self.look.timeout.connect(self.name_new)

    def name_new(self) -> None:
        shelf = self.frame.shelf
        if shelf.board is None:
            return
        self.look.timeout.disconnect()
        self.look.timeout.connect(self.begin)
        self.key(Key.Key_Return, to=shelf.board)
        for text in ("Pump", "Ada Hill"):
            QTest.keyClicks(shelf.ask.entry, text)
            self.key(Key.Key_Return, to=shelf.ask.entry)

    def begin(self) -> None:
        if not self.frame.is_writing or self.frame.place is not self.place:
            return
        self.look.stop()
        offered = self.place.ask.is_open
        self.desk.changed.connect(lambda: tell(state=sum_up(self.desk.data)))
        if offered:
            self.key(Key.Key_Return, to=self.place.ask.entry)
        self.desk.kept_aside.connect(lambda data: tell(aside=sum_up(data)))
        self.desk.saved.connect(self.tell_saved)
        self.desk.failed.connect(lambda trouble: tell(trouble=str(trouble)))
        self.desk.elsewhere.connect(lambda found: tell(trouble=found.tell()))
        notice = self.place.notice
        told = "" if notice.isHidden() else notice.what
        tell(began=sum_up(self.desk.data), offered=offered, told=told, key=self.desk.key)
        self.look.timeout.disconnect()
        self.look.timeout.connect(self.go_on if self.sort != "types" else self.type_on)
        if self.sort == "types":
            self.key(Key.Key_Return, to=self.place.outline)
        self.look.setInterval(0)
        self.look.start()

    # --- going on -------------------------------------------------------------------------

    def type_on(self) -> None:
        QTest.keyClicks(QApplication.focusWidget(), "x")

    def go_on(self) -> None:
        if self.typing:
            self.typing -= 1
            QTest.keyClicks(QApplication.focusWidget(), self.luck.choice("abc xyz"))
            return
        deeds = [self.write] * 4 + [self.walk, self.move, self.undo, self.undo, self.redo]
        deeds += [self.insert, self.duplicate, self.paste, self.add_picture]
        if self.sort == "saved":
            deeds.append(self.save)
        self.luck.choice(deeds)()

    def write(self) -> None:
        """Into one of the fields of what is chosen."""
        self.walk()
        self.key(Key.Key_Return)
        for _ in range(self.luck.randrange(4)):
            self.key(Key.Key_Tab)
        if isinstance(QApplication.focusWidget(), WriteText):
            self.typing = self.luck.randint(1, 12)

    def walk(self) -> None:
        outline = self.place.outline
        if not outline.hasFocus():
            self.key(Key.Key_Escape)
            outline.setFocus()
        for _ in range(self.luck.randrange(6)):
            self.key(self.luck.choice((Key.Key_Up, Key.Key_Down)))

    def move(self) -> None:
        self.walk()
        self.key(self.luck.choice((Key.Key_Up, Key.Key_Down)), ALT)

    def undo(self) -> None:
        self.key(Key.Key_Z, CONTROL)

    def redo(self) -> None:
        self.key(Key.Key_Z, CONTROL | SHIFT)

    def insert(self) -> None:
        self.walk()
        full = len(self.place.outline.rows.rows) > MOST_ROWS
        self.key(Key.Key_Delete if full or self.luck.random() < 0.3 else Key.Key_Insert)

    def duplicate(self) -> None:
        self.walk()
        if len(self.place.outline.rows.rows) <= MOST_ROWS:
            self.key(Key.Key_D, CONTROL)

    def paste(self) -> None:
        """Rows into the table of specs."""
        if len(self.desk.data.get("specs") or ()) < 20:
            self.place.choose(("specs",))
            self.key(Key.Key_Return, to=self.place.outline)
            number = self.luck.randint(1, 99)
            QApplication.clipboard().setText(PASTED.format(number))
            self.key(Key.Key_V, CONTROL)
        self.key(Key.Key_Escape)

    def add_picture(self) -> None:
        """As if it were dropped on the card."""
        steps = [row.path for row in self.place.outline.rows.rows if len(row.path) == 4]
        if steps and self.place.errand is None:
            self.place.choose(self.luck.choice(steps))
            self.place.card.dropped.emit([str(self.luck.choice(self.photos))])

    def save(self) -> None:
        if self.saving is not None:
            return
        self.place.keep()
        data = self.desk.data
        self.saving = (sum_up_saved(data), sum_up(data))
        tell(saving=self.saving[0], of=self.saving[1])
        self.key(Key.Key_S, CONTROL)

    def tell_saved(self) -> None:
        if self.saving is not None:
            told, of = self.saving
            self.saving = None
            tell(saved=told, of=of)


def main() -> None:
    # What Qt only remarks stays unsaid; a warning comes out and fails the test.
    qInstallMessageHandler(write_qt_message)
    # Should it ever hang, the test says where.
    faulthandler.dump_traceback_later(50)
    app = make_app()
    frame = Frame()
    for place in frame.places.values():
        # A person is slower than this; the dead times have tests of their own.
        place.gate.dead_ms = place.gate.settle_ms = 0
    frame.resize(1366, 768)
    frame.show()
    sort, folder, seed, photos = sys.argv[1:]
    author = Author(frame, sort, folder, random.Random(int(seed)), photos)
    assert author.frame is frame
    sys.exit(app.exec())


if __name__ == "__main__":
    main()
