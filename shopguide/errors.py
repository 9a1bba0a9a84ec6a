"""The one family of errors a person may see: what happened, where, and what to do next."""

from __future__ import annotations

from collections.abc import Iterable


class Trouble(Exception):
    """Something went wrong that the person at the bench can understand and act on.

    what: what happened, a full sentence.  where: the file, step or field, in words.
    next: what to do now, a full sentence.  The three are shown together, in one kind of place.
    """

    def __init__(self, what: str, where: str = "", next: str = "") -> None:
        super().__init__(what, where, next)
        self.what = what
        self.where = where
        self.next = next

    def __str__(self) -> str:
        head = f"{self.where}: {self.what}" if self.where else self.what
        return f"{head} {self.next}".strip()


class UnitTrouble(Trouble):
    """A typed value that cannot be read as the quantity asked for."""


class SheetTrouble(Trouble):
    """A job sheet that cannot be used; `troubles` holds every fault found, in sheet order."""

    def __init__(
        self, what: str, where: str = "", next: str = "", troubles: Iterable[Trouble] = ()
    ) -> None:
        super().__init__(what, where, next)
        self.troubles: tuple[Trouble, ...] = tuple(troubles)

    def __str__(self) -> str:
        head = super().__str__()
        return "\n".join([head, *(f"  - {trouble}" for trouble in self.troubles)])


class RecordTrouble(Trouble):
    """A record file that cannot be read, written or trusted."""


class PaperTrouble(Trouble):
    """A paper that cannot be made, signed or checked."""
