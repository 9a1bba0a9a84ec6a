"""What is looked at once all is back, where the sheet does not: leaks, function, wheels."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from shopguide.job.gaps import Gap
from shopguide.job.model import Confirm, Drain, Fill, FollowUp, Open, Sheet, Step, StepPlace
from shopguide.job.naming import find_head, is_fastener, is_plural, pick_words
from shopguide.job.proposal import MOST_INSTRUCTION, MOST_LINE, Proposal, bare, cut, join

_LEAKS = re.compile(
    r"(?i)\b(leak\w*|leak-check|stays? dry|is dry|drips?|dripping|weep\w*|seep\w*)\b"
)
_WORKS = re.compile(
    r"(?i)\b(functions?|works|does what|switches on|tests?|operates?|"
    r"try (it|them|all|every\w*|out))\b"
)
_SURE = re.compile(r"(?i)\bleak(?:s|age|-check)?\b")
_RUNS = re.compile(
    r"(?i)\b(?:start|run|crank|idle)(?:s|ing)?\b[^.;]{0,40}\b(?:engine|motor|machine|pump)\b"
    r"|\b(?:engine|motor|machine|pump)\b[^.;]{0,20}\b(?:run|idle)\b"
)
_NOT_YET = re.compile(r"(?i)\b(?:not|never|don['’]t|before|without)\b")
_SEEPS = re.compile(rf"{_LEAKS.pattern}|(?i:\b(joint|seal|fluid|level|oil|coolant|damp|wet)\b)")
_WHEEL = re.compile(r"(?i)\b(wheel|lug)[- ]?(nut|bolt|stud|screw)?s?\b")
_HOLDS_FLUID = frozenset(
    """
    hose pipe line tube plug cover pan sump gasket seal fitting union filter radiator pump
    thermostat tank cooler valve cap banjo caliper injector
    """.split()  # noqa: SIM905
)
_WORKS_BY_ITSELF = frozenset(
    """
    connector plug cable sensor battery wire harness switch linkage lead coil lamp
    """.split()  # noqa: SIM905
)


def propose_checks(
    sheet: Sheet, opened: Mapping[str, StepPlace], gaps: Sequence[Gap]
) -> Iterator[Proposal]:
    """Checks and follow-ups that the sheet lacks. opened: where each item is opened first."""
    search = _Search(sheet, opened, gaps)
    for proposal in (
        search.propose_leaks(),
        search.propose_trial(),
        search.propose_wheels(),
        search.propose_second_look(),
    ):
        if proposal is not None:
            yield proposal


def sort_check(text: str) -> Literal["sure", "likely", ""]:
    """Whether a task of this text checks the whole: looks for leaks, runs the machine, tries it.

    "likely": the same words are said of a part on the bench too ("wipe it until it is dry").
    """
    if _SURE.search(text) or (_RUNS.search(text) and not _NOT_YET.search(text)):
        return "sure"
    return "likely" if _LEAKS.search(text) or _WORKS.search(text) else ""


class _Search:
    """One look through a sheet for what nothing looks at afterwards."""

    def __init__(self, sheet: Sheet, opened: Mapping[str, StepPlace], gaps: Sequence[Gap]) -> None:
        self._sheet, self._opened = sheet, opened
        numbers = [place.number for place in opened.values()]
        self._last = max([*numbers, *(gap.at.number for gap in gaps)], default=0)
        self._looked_at = [one.text for one in sheet.follow_ups]
        self._tight = [
            name
            for name in opened
            if pick_words(name) & _HOLDS_FLUID
            and (not is_fastener(name) or find_head(name) in ("plug", "union", "banjo"))
        ]
        self._drained = list(
            dict.fromkeys(
                task.fluid if isinstance(task, (Drain, Fill)) else task.item
                for task in sheet.tasks.values()
                if isinstance(task, (Drain, Fill))
                or (isinstance(task, Open) and task.how == "drain")
            )
        )

    def propose_leaks(self) -> Proposal | None:
        """A look for leaks, where something that holds fluid was open."""
        if not (self._tight or self._drained) or self._says(_LEAKS):
            return None
        hiding = self._list_hiding()
        groups = _group(self._tight or [f"places where the {', '.join(self._drained)} runs"])
        tasks = tuple(
            Confirm(
                text=cut(
                    f"Look for leaks at the {join([bare(n) for n in names])}.", MOST_INSTRUCTION
                )
            )
            for names in groups
        )
        seen = (
            f"Can all of it be seen with {join(hiding, quoted=True)} back on? "
            "If not, move this step ahead."
            if hiding
            else ""
        )
        return Proposal(
            "check: leaks",
            "check",
            "Something that holds fluid was open, and nothing looks for leaks afterwards.",
            tuple(("check", " ".join(("leaks", *names))) for names in groups),
            Step(title="Look for leaks", text="Cold first, then after a short run.", tasks=tasks),
            asks=(seen,) if seen else (),
        )

    def propose_trial(self) -> Proposal | None:
        """A trial of what works by itself and was disconnected."""
        working = [name for name, place in self._opened.items() if self._works(name, place)]
        if not working or self._says(_WORKS):
            return None
        groups = _group(working)
        tasks = tuple(Confirm(text=cut(_tell_trial(names), MOST_INSTRUCTION)) for names in groups)
        return Proposal(
            "check: function",
            "check",
            "Something that works was disconnected, and nothing tries it afterwards.",
            tuple(("check", " ".join(("function", *names))) for names in groups),
            Step(title="Check the function", tasks=tasks),
        )

    def propose_wheels(self) -> Proposal | None:
        """A second look at the fasteners of a wheel."""
        wheels = [n for n in self._opened if _WHEEL.search(n) and is_fastener(n)]
        if not wheels or any(map(_WHEEL.search, self._looked_at)):
            return None
        text = f"Bring the {bare(wheels[0])} up to torque again, without slackening."
        return Proposal(
            "follow-up: wheels",
            "follow-up",
            "Wheel fasteners settle on the first drive, and no follow-up looks at them.",
            (("follow-up", "wheels"),),
            follow_up=FollowUp(
                text=text[:MOST_LINE], after="the first drive, as far as the maker's manual says"
            ),
            asks=("After what distance does the manual ask for it, if at all?",),
        )

    def propose_second_look(self) -> Proposal | None:
        """A look for leaks after some days."""
        told = [pick_words(text) for text in self._looked_at]
        seen = any(map(_SEEPS.search, self._looked_at)) or any(
            pick_words(name) <= words for name in self._tight for words in told
        )
        if seen or not (self._tight or self._drained):
            return None
        return Proposal(
            "follow-up: leaks",
            "follow-up",
            "A seal can begin to weep only after days, and no follow-up looks again.",
            (("follow-up", "leaks"),),
            follow_up=FollowUp(
                text="Look for leaks again where the work was done.", after="some days of use"
            ),
            asks=("After how many days, or what distance, is it looked at again?",),
        )

    def _works(self, name: str, place: StepPlace) -> bool:
        """True for an item that does something by itself."""
        if pick_words(name) & _WORKS_BY_ITSELF and not is_fastener(name):
            return True
        return not pick_words(name) & _HOLDS_FLUID and any(
            isinstance(t, Open) and t.how == "disconnect" and t.item == name
            for t in place.step.tasks
        )

    def _list_hiding(self) -> list[str]:
        """What comes off before the first of what holds fluid, and may hide it when it is on."""
        first = min((self._opened[name].number for name in self._tight), default=0)
        return [
            name
            for name, place in self._opened.items()
            if place.number < first and not is_fastener(name)
            for task in place.step.tasks
            if isinstance(task, Open) and task.item == name and task.how == "remove"
        ][:3]

    def _says(self, pattern: re.Pattern[str]) -> bool:
        """True where a task from the last opening on speaks of it, or the title of its step."""
        return any(
            pattern.search(f"{task.text} {place.step.title}")
            for place in self._sheet.steps
            if place.number >= self._last
            for task in place.step.tasks
            if not task.opens
        )


_MOST_CHECKS = 8


def _group(names: list[str]) -> list[list[str]]:
    """Each name for itself, to be checked one by one; of very many, the rest together."""
    if len(names) <= _MOST_CHECKS:
        return [[name] for name in names]
    return [*([name] for name in names[: _MOST_CHECKS - 1]), names[_MOST_CHECKS - 1 :]]


def _tell_trial(names: list[str]) -> str:
    works = "work" if len(names) > 1 or is_plural(names[0]) else "works"
    return f"Check that the {join([bare(name) for name in names])} {works} again."
