"""What the rules look at: the facts of one step, found once, and those of the sheet as a whole."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple

from shopguide.bolts.passes import ends_loose
from shopguide.bolts.pattern import Pattern
from shopguide.job.model import Drain, Fill, Fluid, Leave, Sheet, Step, Task, Torque
from shopguide.review.rule import Place
from shopguide.review.spelling import plain_words
from shopguide.torque.spec import Spec

PictureSizes = Mapping[str, tuple[int, int]]
"""Width and height in pixels of each picture at hand, by file name."""


class At(NamedTuple):
    """A task with where it stands: number of its step, and its own in the step, both from 1."""

    step: int
    index: int
    task: Task
    opens: str | None
    closes: str | None

    @property
    def address(self) -> str:
        """ "12.3"."""
        return f"{self.step}.{self.index}"

    @property
    def order(self) -> tuple[int, int]:
        """By which two tasks are compared: the earlier one is less."""
        return (self.step, self.index)

    @property
    def place(self) -> Place:
        """The task as a place."""
        return Place(self.step, self.index)


class Names:
    """The specs, patterns and fluids of a sheet by name; the first of a name counts."""

    def __init__(self, sheet: Sheet) -> None:
        self._lists = (sheet.specs, sheet.patterns, sheet.fluids)
        self.held: dict[tuple[str, str], Any] = {}
        for kind, entries in zip(("spec", "pattern", "fluid"), self._lists, strict=True):
            for entry in entries:
                self.held.setdefault((kind, entry.name), entry)

    def same_as(self, sheet: Sheet) -> bool:
        """True where the sheet has the very lists that these names were taken from."""
        lists = (sheet.specs, sheet.patterns, sheet.fluids)
        return all(one is other for one, other in zip(lists, self._lists, strict=True))


class StepFacts:
    """One step, and what it names, by itself: neither its number nor its neighbours count.

    What was found about it is remembered together with the entries that were asked for on the way,
    and stands as long as their names lead to the same ones.
    """

    def __init__(self, step: Step, names: Names) -> None:
        self.step = step
        self._names = names
        self._found: dict[Any, tuple[Any, dict[tuple[str, str], Any]]] = {}
        self._asking: list[dict[tuple[str, str], Any]] = []
        self.tasks = tuple(enumerate(step.tasks, 1))
        self.torques = tuple((i, t) for i, t in self.tasks if isinstance(t, Torque))
        moves = ((i, t, t.opens, t.closes) for i, t in self.tasks)
        self.moves = tuple(
            move for move in moves if move[2] or move[3] or isinstance(move[1], (Leave, Torque))
        )
        self.fluids = tuple((i, t) for i, t in self.tasks if isinstance(t, (Drain, Fill)))
        self.kinds = frozenset(task.kind for task in step.tasks)
        self.spec_names = frozenset(name for task in step.tasks for name in task.spec_names)

    def spec(self, name: str | None) -> Spec | None:
        """The spec of this name; None where there is none."""
        return self._ask("spec", name)

    def pattern(self, name: str | None) -> Pattern | None:
        """The pattern of this name; None where there is none."""
        return self._ask("pattern", name)

    def fluid(self, name: str | None) -> Fluid | None:
        """The fluid of this name; None where there is none."""
        return self._ask("fluid", name)

    def _ask(self, kind: str, name: str | None) -> Any:
        if name is None:
            return None
        held = self._names.held.get((kind, name))
        if self._asking:
            self._asking[-1][kind, name] = held
        return held

    def recall(self, find: Callable[[StepFacts], Any]) -> Any:
        """What `find` says of this step; asked anew only where what it named is another entry."""
        held = self._found.get(find)
        if held is None:
            self._asking.append({})
            try:
                value = find(self)
            finally:
                asked = self._asking.pop()
            held = self._found[find] = (value, asked)
        if self._asking:
            self._asking[-1].update(held[1])
        return held[0]

    def renew(self, names: Names) -> bool:
        """Ask these names from now on, and forget what no longer stands; True: there was such."""
        self._names = names
        stale = [
            find
            for find, (_, asked) in self._found.items()
            if asked and any(names.held.get(key) is not held for key, held in asked.items())
        ]
        for find in stale:
            del self._found[find]
        return bool(stale)

    @cached_property
    def words(self) -> frozenset[str]:
        """Every word of the step's title, text, tasks and notes, each plain."""
        parts = [self.step.title, self.step.text]
        for task in self.step.tasks:
            parts += [task.text, task.note, task.opens or "", task.closes or ""]
            parts.append(getattr(task, "fastener", None) or "")
        return plain_words(" ".join(parts))

    @cached_property
    def needs(self) -> tuple[tuple[int, str, float], ...]:
        """(task, spec, share of it) of each torque pass, each pair once."""
        found: dict[tuple[str, float], int] = {}
        for index, task in self.torques:
            for one in task.schedule:
                name = task.spec_of(one)
                if name is not None and one.kind in ("torque", "check"):
                    found.setdefault((name, one.share), index)
        return tuple((index, name, share) for (name, share), index in found.items())


class SheetFacts:
    """A sheet as the rules see it that need more than one step.

    pictures: those at hand; None where nobody has looked. memo: what was found out about an
    entry of the sheet, kept from one review to the next.
    """

    def __init__(
        self,
        sheet: Sheet,
        steps: Sequence[StepFacts],
        names: Names,
        pictures: PictureSizes | None = None,
        memo: dict[Any, tuple[Any, Any]] | None = None,
    ) -> None:
        self.sheet = sheet
        self.steps = steps
        self.pictures = pictures
        self._names = names
        self._memo = memo if memo is not None else {}
        self._found: dict[Any, Any] = {}

    def spec(self, name: str | None) -> Spec | None:
        """The spec of this name; None where there is none."""
        return self._names.held.get(("spec", name or ""))

    def pattern(self, name: str | None) -> Pattern | None:
        """The pattern of this name; None where there is none."""
        return self._names.held.get(("pattern", name or ""))

    def fluid(self, name: str | None) -> Fluid | None:
        """The fluid of this name; None where there is none."""
        return self._names.held.get(("fluid", name or ""))

    def once(self, owner: Any, find: Callable[[Any], Any]) -> Any:
        """What `find` says of this entry of the sheet; asked again only for another entry."""
        key = (find, id(owner))
        held = self._memo.get(key)
        if held is None or held[0] is not owner:
            held = self._memo[key] = (owner, find(owner))
        return held[1]

    def here(self, find: Callable[[SheetFacts], Any]) -> Any:
        """What `find` says of this sheet; asked once."""
        if find not in self._found:
            self._found[find] = find(self)
        return self._found[find]

    def walk(self) -> Iterator[tuple[int, StepFacts]]:
        """Each step's number and facts."""
        return enumerate(self.steps, 1)

    @cached_property
    def moves(self) -> tuple[At, ...]:
        """Every task that opens, closes, tightens, loosens or leaves something, in order."""
        return tuple(At(n, *move) for n, facts in self.walk() for move in facts.moves)

    @cached_property
    def torques(self) -> tuple[tuple[At, Torque], ...]:
        """Every torque task, in order."""
        return tuple((at, at.task) for at in self.moves if isinstance(at.task, Torque))

    @cached_property
    def fluids(self) -> tuple[At, ...]:
        """Every drain and fill task, in order."""
        return tuple(
            At(n, i, t, t.opens, t.closes) for n, facts in self.walk() for i, t in facts.fluids
        )

    @cached_property
    def last_address(self) -> str:
        """The address of the last task of the sheet."""
        return f"{len(self.steps)}.{len(self.steps[-1].step.tasks)}"


def loosens(task: Torque) -> bool:
    """True where the last turning pass of a task loosens."""
    return ends_loose(task.schedule)


_END = re.compile(r"(?<=[.!?;:])\s+|\n+")


def split_sentences(text: str) -> list[str]:
    """The sentences of a text."""
    return [part for part in _END.split(text.strip()) if part]
