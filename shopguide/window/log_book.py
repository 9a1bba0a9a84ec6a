"""The log file: what went wrong inside the program, for those who mend it. Bounded in size."""

from __future__ import annotations

import logging
import logging.handlers
from pathlib import Path

from shopguide import places
from shopguide.errors import Trouble

MOST_BYTES = 500_000
KEPT_BEFORE = 2
"""How many full log files are kept beside the one being written."""

log = logging.getLogger("shopguide")


def keep_log() -> Path | None:
    """Send the program's log to its file; the file's path, or None where it cannot be written.

    Done once however often it is called, as long as the user's folder is the same.
    """
    try:
        path = places.log_file()
    except Trouble:
        return None
    for kept in list(log.handlers):
        if isinstance(kept, logging.handlers.RotatingFileHandler):
            if Path(kept.baseFilename) == path.absolute():
                return path
            log.removeHandler(kept)
            kept.close()
    try:
        handler = logging.handlers.RotatingFileHandler(
            path, maxBytes=MOST_BYTES, backupCount=KEPT_BEFORE, encoding="utf-8"
        )
    except OSError:
        return None
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    log.addHandler(handler)
    log.setLevel(logging.INFO)
    # What is logged is for the file; nothing of it is for the person's terminal.
    log.propagate = False
    return path


def write_fault(fault: BaseException, during: str = "a verb") -> Path | None:
    """Write an unexpected fault with its traceback; the log's path, or None if that failed."""
    path = keep_log()
    if path is not None:
        log.error("unexpected, during %s", during, exc_info=fault)
    return path
