"""What is large, kept from holding the window up: the imports a job needs, and sheets being read.

Python's collector stops every thread while it looks through all objects. A large sheet has some
hundred thousand of them, and looking through those takes longer than a key press may.
"""

from __future__ import annotations

import gc
import importlib
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType

LARGE = (
    "shopguide.job.files",
    "shopguide.job.picture",
    "shopguide.record.file",
    "shopguide.review.findings",
    "shopguide.window.desk",
    "shopguide.window.pictures",
    "shopguide.window.lay_out_place",
    "shopguide.window.work_place",
    "shopguide.window.sign_off_place",
)
"""What the window needs as soon as there is a job, and not before."""


# Two threads that import the same package at once can meet it half made, and Qt's bindings look
# into every module that is imported: so whoever imports what is large does it alone.
_alone = threading.RLock()


def import_large() -> None:
    """Imports what a job needs, pint's table of units included; waits where another one is at it.

    For a thread, so that the window does not stand still. The window's own thread calls it before
    it makes a place: by then it is done, but for somebody very quick.
    """
    with _alone, keep_what_stays():
        for name in LARGE:
            importlib.import_module(name)
        from shopguide.torque.units import warm_up

        warm_up()


def import_alone(name: str) -> ModuleType:
    """Imports one module while nobody else imports what is large."""
    with _alone:
        return importlib.import_module(name)


@contextmanager
def keep_what_stays() -> Iterator[None]:
    """While something is read that stays: the collector rests, and afterwards passes it over.

    What is no longer used is given back all the same, as long as it does not refer to itself in a
    circle; sheets and events do not.
    """
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        gc.enable()
