"""The shop book: the user's machines, wrenches and name, so that nothing is typed twice."""

from __future__ import annotations

import logging
from pathlib import Path

from pydantic import ValidationError

from shopguide.errors import Trouble
from shopguide.job.saving import write_atomically
from shopguide.shop.wrenches import Wrench
from shopguide.torque.entry import Entry, Prose

log = logging.getLogger(__name__)

MOST_KEPT = 50


class Machine(Entry):
    """What is worked on, as the person names it."""

    make: Prose = ""
    model: Prose = ""
    year: Prose = ""
    vin: Prose = ""
    serial: Prose = ""

    def tell(self) -> str:
        """ "make model, year", or an empty text."""
        name = " ".join(x for x in (self.make, self.model) if x)
        return ", ".join(x for x in (name, self.year) if x)


class ShopBook(Entry):
    """Everything in the book; the newest stands first."""

    machines: tuple[Machine, ...] = ()
    wrenches: tuple[Wrench, ...] = ()
    person: Prose = ""

    def with_machine(self, machine: Machine) -> ShopBook:
        """The book with this machine first."""
        if not machine.tell():
            return self
        kept = [m for m in self.machines if m.tell() != machine.tell()]
        return self.model_copy(update={"machines": (machine, *kept)[:MOST_KEPT]})


def read_book(folder: Path) -> ShopBook:
    """The book in this folder; an empty one where there is none. A damaged one is set aside."""
    path = folder / "shop.json"
    try:
        return ShopBook.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        return ShopBook()
    except (OSError, ValidationError, ValueError):
        log.exception("reading %s", path)
        try:
            path.replace(path.with_suffix(".damaged.json"))
        except OSError:
            log.exception("setting aside %s", path)
        return ShopBook()


def write_book(folder: Path, book: ShopBook) -> None:
    """Keeps the book; a failure is logged, for the book is a convenience and no record."""
    try:
        write_atomically(folder / "shop.json", book.model_dump_json(indent=1).encode())
    except (OSError, Trouble):
        log.exception("writing the shop book")
