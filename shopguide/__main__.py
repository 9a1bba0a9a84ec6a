"""Starts the program: the one file that knows both the verbs and the window."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from shopguide import cli

# The forecast works on small matrices: more threads only get into one another's way. This counts
# only before numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def main(arguments: Sequence[str] | None = None) -> int:
    """Do what the command line asks; returns the exit code."""
    words = sys.argv[1:] if arguments is None else list(arguments)
    return cli.run(words, open_window=open_window, rehearse=rehearse, write_log=write_log)


# The window is imported only when it is wanted: a verb does not wait for Qt.


def open_window(path: Path | None) -> int:
    """Open the window, and in it the sheet or record; returns when it is closed."""
    from shopguide.window import app

    return app.open_window(path)


def rehearse(sheet: Path, out: Path) -> list[Path]:
    """Work a sheet through by itself; returns the files that show it."""
    from shopguide.window import rehearsal

    return rehearsal.rehearse(sheet, out)


def write_log(fault: BaseException) -> Path | None:
    """Write an unexpected fault into the log file; None where that cannot be done."""
    from shopguide.window import log_book

    return log_book.write_fault(fault)


if __name__ == "__main__":
    sys.exit(main())
