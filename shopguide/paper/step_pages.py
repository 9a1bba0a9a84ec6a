"""The work on paper, stage by stage: each step with its tasks, cautions, notes and photos."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import CondPageBreak, Flowable, KeepTogether

from shopguide.job.sentences import join_sentences
from shopguide.paper.blocks import (
    BODY,
    BODY_STRONG,
    FIGURE_END,
    LABEL,
    NOTE,
    PART,
    SOFT_END,
    SOFT_TEXT,
    STEP,
    Bookmark,
    Rule,
    SignalWord,
    gap,
    lay_section,
    para,
    rows,
    stack,
)
from shopguide.paper.contents import Contents
from shopguide.paper.photos import Darkroom, PhotoRow
from shopguide.paper.steps import CautionLine, StepPart, TaskLine

NUMBER = 34.0
"""Width of the column of step and task numbers, in points."""
KEPT_WHOLE = 8
"""Steps up to this many tasks stay on one page where they fit."""
CROWDED = 4
"""Pictures with more marks than this are printed larger."""


def lay_work(contents: Contents, width: float, darkroom: Darkroom) -> list[Flowable]:
    """Stage by stage, step by step, task by task."""
    flow: list[Flowable] = []
    above = lay_section("The work, step by step", "work")
    for index, stage in enumerate(contents.stages):
        above += [gap(9), Bookmark(f"stage-{index}", stage.title, 1), para(stage.title, PART)]
        above.append(gap(2))
        for step in stage.steps:
            flow += _lay_step(step, width, darkroom, above)
            above = []
    return flow


def _lay_step(
    step: StepPart, width: float, darkroom: Darkroom, above: list[Flowable]
) -> list[Flowable]:
    """A step under the headings that come right above it and never stand alone."""
    inner = width - NUMBER
    title = rows(
        [[para(str(step.number), STEP), para(step.title, STEP), para(step.when, SOFT_END)]],
        [NUMBER, inner - 170, 170],
    )
    top: list[Flowable] = [*above, gap(5), Rule(), gap(1), title]
    if step.cautions:
        top.append(_indent(lay_cautions(step.cautions, inner, full=False), width))
    tasks = _lay_tasks(step.tasks, width)
    if len(step.tasks) <= KEPT_WHOLE:
        flow: list[Flowable] = [KeepTogether([*top, tasks])]
    else:
        flow = [CondPageBreak(130 + 60 * bool(above)), *top, tasks]
    for note in step.notes:
        label = para(f"{note.name}, {note.time}", SOFT_TEXT)
        # The note is a paragraph of its own, for it may be longer than a page.
        flow += [CondPageBreak(44), gap(3), _indent(label, width), para(note.text, NOTE)]
    flow += _lay_photos(step, width, darkroom)
    return flow


def lay_cautions(cautions: Sequence[CautionLine], width: float, full: bool = True) -> Flowable:
    """Signal words with their messages; without `full`, the hazard alone."""
    body = []
    for caution in cautions:
        said = [caution.hazard]
        if full:
            said += [caution.consequence, caution.avoid]
        text = join_sentences(said)
        read = f"{caution.read[0].upper()}{caution.read[1:]}." if caution.read else ""
        if full:
            words = stack((text, BODY), (read, SOFT_TEXT))
        else:
            words = stack((f"{text} {read}".strip(), SOFT_TEXT))
        body.append([SignalWord(caution.signal), words])
    return rows(body, [76, width - 76])


def _indent(flowable: Flowable, width: float) -> Flowable:
    more = [("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0)]
    return rows([["", flowable]], [NUMBER, width - NUMBER], more=more)


def _lay_tasks(tasks: Sequence[TaskLine], width: float) -> Flowable:
    inner = width - NUMBER
    widths = [NUMBER, inner - 158, 118, 40]
    body: list[list[object]] = []
    for task in tasks:
        plain = task.state == "done" and not task.remark
        said = [(task.text, BODY), (task.spec, SOFT_TEXT), (task.note, SOFT_TEXT)]
        if task.remark:
            said.append((task.remark, BODY_STRONG))
        body.append(
            [
                para(task.address, LABEL),
                stack(*said),
                para(task.outcome, BODY if plain else BODY_STRONG),
                para(task.time, FIGURE_END) if task.time else "",
            ]
        )
    more = [("TOPPADDING", (0, 0), (-1, -1), 1), ("BOTTOMPADDING", (0, 0), (-1, -1), 1)]
    return rows(body, widths, more=more)


def _lay_photos(step: StepPart, width: float, darkroom: Darkroom) -> list[Flowable]:
    """Own photos two in a row; the sheet's pictures, which show no work done, three in a row."""
    flow: list[Flowable] = []
    kinds = (
        (True, 2, f"Step {step.number}, photographed during the work"),
        (False, 3, f"Step {step.number}, pictures of the job sheet: what was to be done"),
    )
    for own, usual, said in kinds:
        lines = [photo for photo in step.photos if bool(photo.taken) == own]
        columns = 2 if any(len(line.marks) > CROWDED for line in lines) else usual
        prints = [darkroom.develop(line) for line in lines]
        for index in range(0, len(prints), columns):
            row = PhotoRow(prints[index : index + columns], columns, width - NUMBER, 0.75)
            block: list[Flowable] = [gap(6)]
            if index == 0:
                block += [_indent(para(said, SOFT_TEXT), width), gap(3)]
            flow.append(KeepTogether([*block, _indent(row, width)]))
    return flow
