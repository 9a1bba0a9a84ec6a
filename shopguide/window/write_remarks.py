"""What the review says of a sheet being written, sorted on the review's own thread for showing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

from shopguide.job.text import Path
from shopguide.review.rule import SEVERITIES, Fix, Severity


@dataclass(frozen=True, slots=True)
class Remark:
    """One line of the review: how grave, where, what, why, the place to go to, perhaps a fix."""

    severity: Severity
    where: str
    sentence: str
    reason: str
    rule: str
    path: Path
    fix: Fix | None = None


class RemarkBook:
    """Remarks by how grave they are and by where they lead to, so that none is searched for."""

    def __init__(self, remarks: Iterable[Remark] = ()) -> None:
        self.remarks = tuple(remarks)
        self.counts: dict[Path, tuple[int, bool]] = {}
        """How many lead to each step and list, and whether one of them stops work."""
        self.unread: dict[Path, str] = {}
        """What cannot be read, by its path."""
        self._graded: dict[Severity, list[Remark]] = {severity: [] for severity in SEVERITIES}
        self._places: dict[Path, list[Remark]] = {}
        for remark in self.remarks:
            self._graded[remark.severity].append(remark)
            path = remark.path
            if not path:
                continue
            if not remark.rule:
                self.unread.setdefault(path, remark.sentence)
            row = _find_row(path)
            count, grave = self.counts.get(row, (0, False))
            self.counts[row] = (count + 1, grave or remark.severity == "stops work")
            self._places.setdefault(row, []).append(remark)
            if row != path[:2] and path[0] != "stages":
                self._places.setdefault(path[:2], []).append(remark)

    def list_at(self, here: Path) -> list[Remark]:
        """Those that lead to a list, an entry of one, a step, or any step of a stage."""
        if here[:1] == ("stages",) and len(here) < 4:
            return [r for r in self.remarks if r.path[: len(here)] == here]
        return self._places.get(here, [])

    def count(self, severity: Severity) -> int:
        """How many are as grave as this."""
        return len(self._graded[severity])

    def list_first(self, severity: Severity, most: int, besides: list[Remark]) -> list[Remark]:
        """The first ones as grave as this, without some."""
        left_out = {id(remark) for remark in besides}
        return list(islice((r for r in self._graded[severity] if id(r) not in left_out), most))


def _find_row(path: Path) -> Path:
    """The step or the list that a path leads into."""
    return path[:4] if path[0] == "stages" else path[:1]
