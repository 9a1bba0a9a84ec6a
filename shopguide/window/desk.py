"""The desk: the job being worked on. Events go to disk first; only then does anything change.

The record file is made with the first event, so looking at a sheet leaves nothing behind.
"""

from __future__ import annotations

import logging
from collections import deque
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEventLoop, QObject, QTimer, Signal

from shopguide.errors import Trouble
from shopguide.job.model import Sheet
from shopguide.record.disk import NOT_YET
from shopguide.record.file import RecordFile
from shopguide.review.findings import Finding
from shopguide.work.events import Event
from shopguide.work.next_up import Due, next_up
from shopguide.work.progress import Progress, fold

log = logging.getLogger(__name__)

RETRY_MS = 1500


class Desk(QObject):
    """Holds sheet, record and progress, and is the only way by which the window records."""

    changed = Signal(object)
    """The Event that is now on disk and taken up; the views redraw."""
    failed = Signal(object)
    """A Trouble: the event is not on disk. It waits and is tried again."""
    queued = Signal()
    """An event is on its way to disk."""

    _written = Signal(object)
    _refused = Signal(object)

    def __init__(
        self,
        sheet: Sheet,
        read_photo: Callable[[str], bytes],
        *,
        record: RecordFile | None = None,
        make_record: Callable[[], RecordFile] | None = None,
        progress: Progress | None = None,
        stops: Sequence[Finding] = (),
        parent: QObject | None = None,
    ) -> None:
        """progress: what the record adds up to, where that was found out on another thread.

        stops: what the review found that stops work from beginning.
        """
        super().__init__(parent)
        self.sheet = sheet
        self.stops = tuple(stops)
        self.record_file = record
        self.read_photo = read_photo
        self._make_record = make_record
        self.progress: Progress = progress or fold(
            sheet, record.events() if record is not None else ()
        )
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="record")
        self._waiting: deque[tuple[str, dict[str, Any], Any]] = deque()
        self._busy = self._closed = False
        self._due: tuple[int, Due] | None = None
        self.trouble: Trouble | None = None
        self._retry = QTimer(self)
        self._retry.setSingleShot(True)
        self._retry.setInterval(RETRY_MS)
        self._retry.timeout.connect(self._send)
        self._written.connect(self._take)
        self._refused.connect(self._refuse)

    # --- reading ------------------------------------------------------------------------

    @property
    def read_only(self) -> bool:
        """True where another window writes this record, or it is signed."""
        return self.record_file is not None and self.record_file.read_only

    @property
    def signed(self) -> bool:
        """True once the record is signed off; nothing is added to it after that."""
        return self.progress.signed is not None

    @property
    def path(self) -> Path | None:
        """The record file, once there is one."""
        return self.record_file.path if self.record_file is not None else None

    @property
    def waiting(self) -> int:
        """How many events are not on disk yet."""
        return len(self._waiting)

    def tell_trouble(self) -> str:
        """Why what was recorded last is not on disk, in one sentence for the bar."""
        if self.trouble is None:
            return ""
        said = self.trouble.what
        if said.startswith(NOT_YET):
            return f"Not on disk yet{said.removeprefix(NOT_YET)}"
        return f"Not on disk yet. {said}"

    def next_up(self) -> Due:
        """What Space records now; found out once after each event, as every part asks for it."""
        known = len(self.progress.events)
        if self._due is None or self._due[0] != known:
            self._due = (known, next_up(self.progress))
        return self._due[1]

    # --- recording ----------------------------------------------------------------------

    def record(self, kind: str, data: Mapping[str, Any], picture: Any = None) -> bool:
        """Sends an event to disk; `changed` tells when it is there.

        False, and nothing happens, while the record is read-only or signed, or once it is closed.
        """
        if self.read_only or self.signed or self._closed:
            return False
        self._waiting.append((kind, dict(data), picture))
        # On its way first: the views are told while the disk is at it.
        self._send()
        self.queued.emit()
        return True

    def take_back(self) -> bool:
        """Withdraws what was recorded last; False where there is nothing to take back."""
        event = self.progress.last_taken()
        if event is None or self._waiting:
            return False
        return self.record("withdrawn", {"seq": event.seq})

    def find_laid_out(self, field: str) -> Any:
        """An entry of Lay out as it will be once everything is on disk; None where there is none.

        What is changed starts from this, or what is still on its way to disk would be lost.
        """
        for kind, data, _ in reversed(self._waiting):
            if kind == "laid out" and data["field"] == field:
                return data["value"]
        return self.progress.laid_out.get(field)

    def lay_out(self, field: str, value: Any) -> None:
        """Keeps one entry of Lay out, where it differs from what is kept."""
        if self.find_laid_out(field) != value:
            self.record("laid out", {"field": field, "value": value})

    def write_aside(self, write: Callable[[], object]) -> None:
        """Writes something that is no event on the record's thread, before what comes after."""
        if not self._closed:
            self._pool.submit(write)

    def try_again(self) -> None:
        """Tries at once what could not be written."""
        if not self._busy and self._waiting:
            self._send()

    def _send(self) -> None:
        if self._busy or not self._waiting:
            return
        self._busy = True
        self._retry.stop()
        kind, data, picture = self._waiting[0]
        self._pool.submit(self._write, kind, data, picture)

    def _write(self, kind: str, data: dict[str, Any], picture: Any) -> None:
        """On the record's thread."""
        try:
            if self.record_file is None:
                assert self._make_record is not None
                self.record_file = self._make_record()
            if picture is not None:
                event = self.record_file.append_photo(data, picture)
            else:
                event = self.record_file.append(kind, data)
        except Trouble as trouble:
            self._refused.emit(trouble)
        except Exception:
            log.exception("writing %s", kind)
            self._refused.emit(
                Trouble("This is not on disk yet.", next="What happened is in the log file.")
            )
        else:
            self._written.emit(event)

    def _take(self, event: Event) -> None:
        self._busy = False
        self.trouble = None
        self._waiting.popleft()
        self._retry.stop()
        if not self.progress.events and self.record_file is not None:
            # The first event of all is the record's own beginning.
            for first in self.record_file.events():
                if first.seq < event.seq:
                    self.progress.take(first)
        self.progress.take(event)
        self.changed.emit(event)
        self._send()

    def _refuse(self, trouble: Trouble) -> None:
        self._busy = False
        self.trouble = trouble
        self.failed.emit(trouble)
        self._retry.start()

    def drop_waiting(self) -> None:
        """Gives up what could not be written; used when the person closes all the same."""
        # What the disk is taking just now cannot be called back.
        while len(self._waiting) > self._busy:
            self._waiting.pop()
        self._retry.stop()
        self.trouble = None

    def finish(self) -> Trouble | None:
        """Waits until everything is on disk; the Trouble where it cannot be written.

        The window is drawn meanwhile, and takes no key and no click.
        """
        if not self._busy:
            self.trouble = None
        self._send()
        loop = QEventLoop()
        flags = QEventLoop.ProcessEventsFlag
        while self._busy:
            loop.processEvents(flags.ExcludeUserInputEvents | flags.WaitForMoreEvents)
        return self.trouble

    def close(self) -> None:
        """Closes the record to one file. What is still on its way is not waited for: `finish`."""
        self._closed = True
        self._retry.stop()
        self._pool.shutdown(wait=True)
        if self.record_file is not None:
            self.record_file.close()
