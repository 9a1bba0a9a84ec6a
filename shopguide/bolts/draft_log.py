"""A draft and the drafts before it: every change has a word, and is taken back exactly."""

from __future__ import annotations

from shopguide.bolts.draft import Draft

Kept = list[tuple[str, Draft]]


class DraftLog:
    """draft: as it is now.  done: what was changed, and the draft before it, oldest first."""

    def __init__(self, draft: Draft | None = None) -> None:
        self.begin(draft or Draft())

    def begin(self, draft: Draft) -> None:
        """Another draft, with nothing done yet."""
        self.draft = self.opened = draft
        self.done: Kept = []
        self.undone: Kept = []
        self._merge = ""

    @property
    def is_changed(self) -> bool:
        """True where something is other than at the beginning."""
        return self.draft != self.opened

    @property
    def last(self) -> str:
        """The word of the last change; "" where there is none."""
        return self.done[-1][0] if self.done else ""

    def put(self, what: str, draft: Draft, merge: str = "") -> bool:
        """Another draft; False where it is the same.

        merge: changes with the same word one after another are taken back as one.
        """
        changed = draft != self.draft
        if changed:
            if not (merge and merge == self._merge):
                self.done.append((what, self.draft))
            self.undone = []
            self.draft = draft
        self._merge = merge
        return changed

    def end_merge(self) -> None:
        """What comes next is taken back on its own."""
        self._merge = ""

    def undo(self) -> str:
        """Takes the last change back and tells its word; "" where there is none."""
        return self._swap(self.done, self.undone)

    def redo(self) -> str:
        """Does again what was taken back last; "" where there is nothing."""
        return self._swap(self.undone, self.done)

    def _swap(self, source: Kept, onto: Kept) -> str:
        if not source:
            return ""
        what, draft = source.pop()
        onto.append((what, self.draft))
        self.draft, self._merge = draft, ""
        return what
