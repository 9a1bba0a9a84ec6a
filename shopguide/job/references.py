"""Names that lead nowhere, lead to the wrong kind of thing, or lead to two things at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from heapq import nlargest

from shopguide.bolts.passes import Pass
from shopguide.errors import Trouble
from shopguide.job.faults import Places, suggest
from shopguide.job.model import Drain, Fill, Sheet, Torque, Wait
from shopguide.job.packing import judge_picture_name
from shopguide.job.text import Path
from shopguide.torque.units import Kind

_MOST_SUGGESTIONS = 100
_MOST_COMPARED = 200

_AN = {Kind.ANGLE: "an angle"}
_TORQUE = (Kind.TORQUE,)
_VOLUME = (Kind.VOLUME,)
_FLUID = (Kind.VOLUME, Kind.MASS)


def find_loose_ends(sheet: Sheet, places: Places) -> list[Trouble]:
    """Every fault of reference in a sheet whose parts are each right by themselves."""
    return list(_Search(sheet, places).run())


class _Search:
    """One look through a sheet."""

    def __init__(self, sheet: Sheet, places: Places) -> None:
        self._sheet = sheet
        self._places = places
        self._specs = {spec.name: spec for spec in sheet.specs}
        self._patterns = {pattern.name: pattern for pattern in sheet.patterns}
        self._fluids = {fluid.name: fluid for fluid in sheet.fluids}
        self._suggested = 0

    def run(self) -> Iterator[Trouble]:
        """The faults in the order of the sheet."""
        sheet = self._sheet
        yield from self._find_doubled("specs", "spec", [spec.name for spec in sheet.specs])
        yield from self._find_doubled("fluids", "fluid", [fluid.name for fluid in sheet.fluids])
        for index, fluid in enumerate(sheet.fluids):
            yield from self._check_spec(fluid.spec, ("fluids", index, "spec"), "a fluid", _FLUID)
        yield from self._find_doubled("patterns", "pattern", [p.name for p in sheet.patterns])
        for index, pattern in enumerate(sheet.patterns):
            if pattern.photo is not None:
                yield from self._check_file(
                    pattern.photo.file, ("patterns", index, "photo", "file")
                )
        yield from self._check_steps()
        for index, follow_up in enumerate(sheet.follow_ups):
            yield from self._check_spec(follow_up.spec, ("follow_ups", index, "spec"), "", ())

    def _check_steps(self) -> Iterator[Trouble]:
        opened_by = {
            task.opens: None for task in self._sheet.tasks.values() if task.opens is not None
        }
        drained = {task.fluid for task in self._sheet.tasks.values() if isinstance(task, Drain)}
        still_open: dict[str, str] = {}
        for stage_index, stage in enumerate(self._sheet.stages):
            for step_index, step in enumerate(stage.steps):
                base: Path = ("stages", stage_index, "steps", step_index)
                for index, photo in enumerate(step.photos):
                    yield from self._check_file(photo.file, (*base, "photos", index, "file"))
                for index, task in enumerate(step.tasks):
                    path = (*base, "tasks", index)
                    match task:
                        case Torque():
                            yield from self._check_torque(task, path)
                        case Fill() | Drain():
                            yield from self._check_spec(
                                task.spec, (*path, "spec"), f"a {task.kind} task", _VOLUME
                            )
                            yield from self._check_name(
                                task.fluid, (*path, "fluid"), "fluid", self._fluids
                            )
                            if isinstance(task, Fill) and task.like_drained:
                                yield from self._check_drained(task.fluid, drained, path)
                        case Wait():
                            yield from self._check_spec(
                                task.spec, (*path, "spec"), "a wait task", (Kind.TIME,)
                            )
                        case _:
                            yield from self._check_spec(
                                getattr(task, "spec", None), (*path, "spec"), "", ()
                            )
                    yield from self._follow_item(task, path, opened_by, still_open)

    def _follow_item(
        self, task: object, path: Path, opened_by: Iterable[str], still_open: dict[str, str]
    ) -> Iterator[Trouble]:
        closes, opens = getattr(task, "closes", None), getattr(task, "opens", None)
        here = (*path, "item")
        if closes is not None:
            if closes not in opened_by:
                yield self._tell_unknown(
                    f'No task opens an item called "{closes}".',
                    here,
                    self._suggest(closes, opened_by),
                    "add the task that opens it",
                )
            still_open.pop(closes, None)
        if opens is not None:
            if opens in still_open:
                yield Trouble(
                    f'The item "{opens}" is opened here while it is still open from '
                    f"{still_open[opens]}.",
                    self._places.tell(here),
                    "Close it in between, or give this one a name of its own.",
                )
            still_open.setdefault(opens, self._places.tell(path).split(", ", 1)[1])

    def _check_torque(self, task: Torque, path: Path) -> Iterator[Trouble]:
        yield from self._check_spec(task.spec, (*path, "spec"), "a torque task", _TORQUE)
        if isinstance(task.passes, tuple):
            for index, one in enumerate(task.passes):
                yield from self._check_pass(one, (*path, "passes", index, "spec"))
        if task.pattern is None:
            return
        here = (*path, "pattern")
        yield from self._check_name(task.pattern, here, "pattern", self._patterns)
        pattern = self._patterns.get(task.pattern)
        if pattern is not None and not pattern.tightened:
            yield Trouble(
                f'The pattern "{task.pattern}" has no fastener that is to be tightened.',
                self._places.tell(here),
                "Name another pattern, or take this task out.",
            )

    def _check_pass(self, one: Pass, path: Path) -> Iterator[Trouble]:
        if one.kind == "angle":
            yield from self._check_spec(one.spec, path, "an angle pass", (Kind.ANGLE,))
        else:
            yield from self._check_spec(one.spec, path, f"a {one.kind} pass", _TORQUE)

    def _check_drained(self, fluid: str, drained: set[str], path: Path) -> Iterator[Trouble]:
        if fluid not in drained:
            yield Trouble(
                f'As much as was drained is to be filled in, but no task drains "{fluid}".',
                self._places.tell((*path, "like_drained")),
                "Add a drain task of this fluid, or name a spec here.",
            )

    def _check_spec(
        self, name: str | None, path: Path, use: str, kinds: tuple[Kind, ...]
    ) -> Iterator[Trouble]:
        if name is None:
            return
        spec = self._specs.get(name)
        if spec is not None and (not kinds or spec.kind in kinds):
            return
        fit = [n for n, s in self._specs.items() if not kinds or s.kind in kinds]
        if spec is None:
            yield from self._check_name(name, path, "spec", fit or self._specs)
        else:
            wanted = " or ".join(kind.value for kind in kinds)
            near = self._suggest(name, fit)
            yield Trouble(
                f'The spec "{name}" is {_AN.get(spec.kind, f"a {spec.kind.value}")}; '
                f"{use} needs a spec of kind {wanted}.",
                self._places.tell(path),
                f'Write "{near}".' if near else f"Name a spec of kind {wanted}.",
            )

    def _check_name(
        self, name: str, path: Path, word: str, known: Iterable[str]
    ) -> Iterator[Trouble]:
        if name not in known:
            yield self._tell_unknown(
                f'No {word} is called "{name}".', path, self._suggest(name, known), f"add a {word}"
            )

    def _tell_unknown(self, what: str, path: Path, near: str | None, deed: str) -> Trouble:
        advice = f'Write "{near}", or {deed}.' if near else f"{deed[0].upper()}{deed[1:]}."
        return Trouble(what, self._places.tell(path), advice)

    def _suggest(self, name: str, known: Iterable[str]) -> str | None:
        # Comparing is slow, and after so many faults nobody reads suggestions.
        self._suggested += 1
        if self._suggested > _MOST_SUGGESTIONS:
            return None
        # Of very many names, those are compared that begin the same way.
        return suggest(name, nlargest(_MOST_COMPARED, known, lambda k: _count_alike(k, name)))

    def _find_doubled(self, key: str, word: str, names: list[str]) -> Iterator[Trouble]:
        numbers: dict[str, list[str]] = {}
        for index, name in enumerate(names, 1):
            numbers.setdefault(name, []).append(str(index))
        for name, held in numbers.items():
            if len(held) > 1:
                shown = ", ".join(held[:6]) + (" …" if len(held) > 6 else "")
                yield Trouble(
                    f'{len(held)} {word}s are called "{name}" (numbers {shown} in the list).',
                    self._places.tell((key,)),
                    f"Give each {word} a name of its own.",
                )

    def _check_file(self, name: str, path: Path) -> Iterator[Trouble]:
        fault = judge_picture_name(name)
        if fault is not None:
            yield Trouble(fault[0], self._places.tell(path), fault[1])


def _count_alike(one: str, other: str) -> int:
    """How many signs two names have in common at their beginning."""
    for index, (a, b) in enumerate(zip(one, other, strict=False)):
        if a != b:
            return index
    return min(len(one), len(other))
