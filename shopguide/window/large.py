"""What is large, kept from holding the window up: the imports a job needs, and sheets being read.

Python's collector stops every thread while it looks through all objects. A large sheet has some
hundred thousand of them, and looking through those takes longer than a key press may.
"""

from __future__ import annotations

import gc
import importlib
from collections.abc import Iterator
from contextlib import contextmanager

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


def import_large() -> None:
    """Imports what a job needs, pint's table of units included.

    For a thread, so that the window does not stand still.
    """
    with keep_what_stays():
        for name in LARGE:
            importlib.import_module(name)
        from shopguide.torque.units import warm_up

        warm_up()


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
