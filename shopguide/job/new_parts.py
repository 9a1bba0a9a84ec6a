"""The new parts of a sheet: which of them no task fits, and where each of those belongs."""

from __future__ import annotations

import re
from collections.abc import Sequence

from shopguide.job.gaps import Gap, Need
from shopguide.job.model import Part, Sheet
from shopguide.job.naming import find_head, is_fastener, pick_words
from shopguide.job.proposal import MOST_INSTRUCTION, bare, cut

_NEW = re.compile(r"(?i)\b(new|fresh|unused|renew\w*|replac\w*)\b")
_OLD = re.compile(r"(?i)\b(old|clean\w*|scrap\w*)\b")
_HEADS = frozenset(
    ["plug", "screw", "bolt", "nut", "ring", "seal", "gasket", "washer", "bracket", "tube"]
)


class NewParts:
    """The single-use parts of a sheet, held against its tasks and gaps."""

    def __init__(self, sheet: Sheet, gaps: Sequence[Gap]) -> None:
        self._sheet, self._gaps = sheet, gaps
        self._fitting = self._list_fitting()

    def place(self) -> tuple[dict[Need, list[Part]], list[Part]]:
        """The single-use parts by the gap that they belong to, and those that belong to none."""
        placed: dict[Need, list[Part]] = {}
        unplaced = []
        for part in self._sheet.parts:
            if not part.single_use or self._is_renewed(part):
                continue
            scored = [(_score(part.name, gap), gap.need) for gap in self._gaps]
            best = max((score for score, _ in scored), default=0.0)
            if best <= 0:
                unplaced.append(part)
                continue
            need = next(need for score, need in scored if score == best)
            placed.setdefault(need, []).append(part)
        return placed, unplaced

    def _list_fitting(self) -> list[tuple[bool, frozenset[str], frozenset[str], tuple[str, ...]]]:
        """Of each task that can fit a new part: whether it says so, its own words, those of its
        step too, and what the step puts back."""
        found = []
        for place in self._sheet.steps:
            closed = tuple(task.closes for task in place.step.tasks if task.closes)
            names = (place.step.title, *closed)
            around = frozenset().union(*map(pick_words, names))
            for task in place.step.tasks:
                if task.opens:
                    continue
                for text in (task.text, task.note):
                    new = bool(_NEW.search(text))
                    if new or (closed and not _OLD.search(text)):
                        words = pick_words(text)
                        found.append((new, words, words | around, closed))
        return found

    def _is_renewed(self, part: Part) -> bool:
        """True where some task or note says, in whatever words, that the new part goes in."""
        wanted, head = pick_words(part.name), find_head(part.name)
        for new, words, around, closed in self._fitting:
            if new:
                if wanted <= words or (head in words and wanted <= around):
                    return True
            elif head in words and any(
                head not in pick_words(name) and _is_alike(part.name, name) for name in closed
            ):
                # A seal that is laid on where its cover goes back; "the filter" alone says little.
                return True
        return False


def _is_alike(part: str, item: str) -> bool:
    """True where a part's name and an item's have a telling word in common."""
    own, words = pick_words(part), pick_words(item)
    return own == words or bool((own & words) - _HEADS)


def _score(part: str, gap: Gap) -> float:
    """How well a part's name fits what is put back; 0 where they have no telling word in common."""
    if not _is_alike(part, gap.need[1]):
        return 0.0
    own, item = pick_words(part), pick_words(gap.need[1])
    common = own & item
    alike = 2 * len(common) / (len(own) + len(item))
    # A gasket belongs to the cover rather than to its screws.
    return alike - (0.1 if is_fastener(gap.need[1]) and not is_fastener(part) else 0.0)


def _tell_part(part: Part) -> str:
    number = f" ({part.number.splitlines()[0]})" if part.number else ""
    count = f"{part.quantity} × " if part.quantity > 1 else ""
    return f"{count}{part.name}{number}"


def tell_new(part: Part) -> str:
    """The instruction that fits a new part."""
    name = _tell_part(part)
    if part.quantity > 1:
        return cut(f"Fit the new ones: {name}.", MOST_INSTRUCTION)
    if name[1:2].islower():
        name = name[0].lower() + name[1:]
    return cut(f"Fit the new {bare(name)}.", MOST_INSTRUCTION)
