"""The rules by which a sheet is reviewed: each looks for one fault, and says why it is one."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from shopguide.bolts.passes import ends_tight
from shopguide.job.model import Caution, Drain, Fill, Leave, Sheet, Torque
from shopguide.torque.spec import SourceKind, Spec

Severity = Literal["stops work", "wants an answer", "hint"]
SEVERITIES: tuple[Severity, ...] = ("stops work", "wants an answer", "hint")
"""From the gravest down."""

Found = tuple[str, str]
"""Where in the sheet, in words, and what is wrong there, a sentence."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule. reason: why what it finds is a fault, with its source or that there is none."""

    name: str
    severity: Severity
    reason: str
    look: Callable[[Sheet], Iterator[Found]]


# --- open items ---------------------------------------------------------------------------------


def find_never_closed(sheet: Sheet) -> Iterator[Found]:
    """Items that a task opens and no later task closes."""
    open_since: dict[str, str] = {}
    for address, task in sheet.tasks.items():
        if task.closes:
            open_since.pop(task.closes, None)
        # A fluid is drained and a fastener left loose by rules of their own.
        if task.opens and not isinstance(task, (Drain, Leave)):
            open_since[task.opens] = address
    for item, address in open_since.items():
        yield (
            tell_task(sheet, address),
            f'"{item}" is opened here and no later task closes it. '
            "Add the task that puts it back, or say in a note where it stays.",
        )


def find_closed_before_opened(sheet: Sheet) -> Iterator[Found]:
    """Items that a task closes before any task has opened them."""
    opened: set[str] = set()
    later = {task.opens for task in sheet.tasks.values() if task.opens}
    for address, task in sheet.tasks.items():
        if task.closes and task.closes not in opened and task.closes in later:
            yield (
                tell_task(sheet, address),
                f'"{task.closes}" is closed here, but is opened only later. '
                "Exchange the two tasks, or correct the name.",
            )
        if task.opens:
            opened.add(task.opens)


def find_drained_never_filled(sheet: Sheet) -> Iterator[Found]:
    """Fluids that are drained and never filled in again."""
    waiting: dict[str, str] = {}
    for address, task in sheet.tasks.items():
        if isinstance(task, Drain):
            waiting.setdefault(task.fluid, address)
        elif isinstance(task, Fill):
            waiting.pop(task.fluid, None)
    for fluid, address in waiting.items():
        yield (
            tell_task(sheet, address),
            f'"{fluid}" is drained here and never filled in again. Add the fill task.',
        )


def find_left_loose(sheet: Sheet) -> Iterator[Found]:
    """Fasteners left loose for now that no later task finishes."""
    loose: dict[str, tuple[str, str | None]] = {}
    for address, task in sheet.tasks.items():
        if isinstance(task, Leave) and task.how == "left loose":
            loose[task.fastener] = (address, task.item)
            continue
        if isinstance(task, Torque) and task.fastener:
            loose.pop(task.fastener, None)
        if task.closes:
            loose = {
                fastener: (since, item)
                for fastener, (since, item) in loose.items()
                if task.closes not in (fastener, item)
            }
    for fastener, (address, _) in loose.items():
        yield (
            tell_task(sheet, address),
            f'"{fastener}" is left loose here and no later task tightens it. '
            "Add the torque task that finishes it.",
        )


# --- torque -------------------------------------------------------------------------------------


def find_passes_ending_loose(sheet: Sheet) -> Iterator[Found]:
    """Torque tasks whose last turning pass loosens."""
    for address, task in sheet.tasks.items():
        if isinstance(task, Torque) and not ends_tight(task.schedule):
            told = ", ".join(one.tell() for one in task.schedule)
            yield (
                tell_task(sheet, address),
                f"The passes ({told}) leave the fasteners loose. End with a pass to torque.",
            )


def find_torque_without_figure(sheet: Sheet) -> Iterator[Found]:
    """Torque tasks whose spec has no figure, and no word on what to do instead."""
    return _find_figureless(sheet, answered=False)


def find_torque_by_note(sheet: Sheet) -> Iterator[Found]:
    """Torque tasks whose spec has no figure, but says what to do instead."""
    return _find_figureless(sheet, answered=True)


def _find_figureless(sheet: Sheet, *, answered: bool) -> Iterator[Found]:
    for address, task in sheet.tasks.items():
        if not isinstance(task, Torque):
            continue
        for name in task.spec_names:
            spec = sheet.spec(name)
            if _has_figure(spec) or bool(spec.note) != answered:
                continue
            said = (
                f'No torque is known for "{name}"; its note says: {spec.note}'
                if answered
                else f'No torque is known for "{name}". Look it up, or write into its note what '
                "is done without it."
            )
            yield tell_task(sheet, address), said


def _has_figure(spec: Spec) -> bool:
    return any(text is not None for text in (spec.value, spec.low, spec.high))


# --- specs and parts ----------------------------------------------------------------------------


def find_spec_without_source(sheet: Sheet) -> Iterator[Found]:
    """Specs of which nobody says where they come from."""
    for spec in sheet.specs:
        if spec.source.kind is SourceKind.NOT_KNOWN and not spec.source.text:
            yield (
                f"spec '{spec.name}'",
                f"Where {spec.tell()} comes from is not said. Write the source, "
                "or in its text where you have looked in vain.",
            )


def find_spec_of_unknown_source(sheet: Sheet) -> Iterator[Found]:
    """Specs whose source is said to be not known."""
    for spec in sheet.specs:
        if spec.source.kind is SourceKind.NOT_KNOWN and spec.source.text:
            yield f"spec '{spec.name}'", f"Its source is not known: {spec.source.text}."


def find_unused_spec(sheet: Sheet) -> Iterator[Found]:
    """Specs that nothing in the sheet refers to."""
    used = {name for task in sheet.tasks.values() for name in task.spec_names}
    used |= {fluid.spec for fluid in sheet.fluids if fluid.spec}
    used |= {follow_up.spec for follow_up in sheet.follow_ups if follow_up.spec}
    for spec in sheet.specs:
        if spec.name not in used:
            yield (
                f"spec '{spec.name}'",
                f"{spec.tell()} is used nowhere. Name it in a task, or take it out.",
            )


def find_units_apart(sheet: Sheet) -> Iterator[Found]:
    """Specs that are printed in two units which are not the same quantity."""
    for spec in sheet.specs:
        for other, exact in spec.find_disagreements():
            yield (
                f"spec '{spec.name}'",
                f"{spec.value} is printed beside {other.text}, but it is {exact}. "
                f"{spec.value} is worked to. Look at the source again.",
            )


def find_single_use_without_number(sheet: Sheet) -> Iterator[Found]:
    """Parts that must be new and cannot be ordered by number."""
    for part in sheet.parts:
        if part.single_use and not part.number:
            yield (
                f"part '{part.name}'",
                "It must be new, and no part number says which one to buy. Write its number.",
            )


# --- cautions and photos ------------------------------------------------------------------------


def find_caution_with_gaps(sheet: Sheet) -> Iterator[Found]:
    """Cautions about people that lack the hazard, the consequence or how to avoid it."""
    for where, caution in _list_cautions(sheet):
        if caution.signal == "NOTICE":
            continue
        gaps = [
            word
            for word, text in (
                ("what the hazard is", caution.hazard),
                ("what it can do", caution.consequence),
                ("how to avoid it", caution.avoid),
            )
            if not text
        ]
        if gaps:
            yield where, f"This {caution.signal} does not say {' and '.join(gaps)}. Write it."


def _list_cautions(sheet: Sheet) -> Iterator[tuple[str, Caution]]:
    for index, caution in enumerate(sheet.cautions, 1):
        yield f"caution {index} of the whole job", caution
    for place in sheet.steps:
        for index, caution in enumerate(place.step.cautions, 1):
            yield f"{tell_step(sheet, place.number)}, caution {index}", caution


def find_photo_without_alt(sheet: Sheet) -> Iterator[Found]:
    """Photos that somebody who cannot see them learns nothing of."""
    for place in sheet.steps:
        for photo in place.step.photos:
            if not photo.alt:
                yield (
                    f"{tell_step(sheet, place.number)}, photo {photo.file}",
                    "It has no alternative text. Write what is to be seen in it.",
                )


# --- where --------------------------------------------------------------------------------------


def tell_step(sheet: Sheet, number: int) -> str:
    """A step in words, as the loader tells it: "step 4, 'Cover screws'"."""
    return f"step {number}, '{sheet.steps[number - 1].step.title}'"


def tell_task(sheet: Sheet, address: str) -> str:
    """A task in words: "step 4, 'Cover screws', torque 1"."""
    number, index = address.split(".")
    return f"{tell_step(sheet, int(number))}, {sheet.tasks[address].kind} {index}"


RULES: tuple[Rule, ...] = (
    Rule(
        "passes end tight",
        "stops work",
        "a cover whose screws were backed off last is not fastened; common practice, no source",
        find_passes_ending_loose,
    ),
    Rule(
        "left loose is finished",
        "stops work",
        "a fastener left loose for a while is the one that is forgotten; "
        "common practice, no source",
        find_left_loose,
    ),
    Rule(
        "opened before closed",
        "stops work",
        "what was never taken apart cannot be put back; common practice, no source",
        find_closed_before_opened,
    ),
    Rule(
        "opened is closed",
        "wants an answer",
        "what comes off and has no task that puts it back stays on the bench; "
        "common practice, no source",
        find_never_closed,
    ),
    Rule(
        "drained is filled",
        "wants an answer",
        "a machine run without its fluid is ruined within minutes; common practice, no source",
        find_drained_never_filled,
    ),
    Rule(
        "torque has a figure",
        "wants an answer",
        "a torque wrench wants a figure to be set to; common practice, no source",
        find_torque_without_figure,
    ),
    Rule(
        "spec has a source",
        "wants an answer",
        "a figure that nobody can look up cannot be checked; common practice, no source",
        find_spec_without_source,
    ),
    Rule(
        "printed units agree",
        "wants an answer",
        "one of two figures that disagree by more than 2 % or their rounding is a misprint, and "
        "nobody knows which; common practice, no source",
        find_units_apart,
    ),
    Rule(
        "caution is whole",
        "wants an answer",
        "a safety message tells the hazard, its consequence and how to avoid it; "
        "ANSI Z535.6, from memory",
        find_caution_with_gaps,
    ),
    Rule(
        "torque by its note",
        "hint",
        "without a figure the feel of the hand decides; common practice, no source",
        find_torque_by_note,
    ),
    Rule(
        "source not known",
        "hint",
        "screen and paper will say aloud that the source is not known; common practice, no source",
        find_spec_of_unknown_source,
    ),
    Rule(
        "spec is used",
        "hint",
        "a figure that no task names is never seen at work; common practice, no source",
        find_unused_spec,
    ),
    Rule(
        "single-use part has a number",
        "hint",
        "a part that must be new has to be bought before work starts; common practice, no source",
        find_single_use_without_number,
    ),
    Rule(
        "photo has alternative text",
        "hint",
        "a picture that is not described tells nothing to who cannot see it; "
        "WCAG 2.2, 1.1.1, from memory",
        find_photo_without_alt,
    ),
)
