"""What is proposed for putting back: a step or follow-up with its reason, and its words."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from shopguide.job.gaps import Need
from shopguide.job.model import FollowUp, Step
from shopguide.job.naming import is_plural
from shopguide.torque.spec import Spec

Place = Literal["put back", "check", "follow-up"]
MOST_LINE, MOST_INSTRUCTION = 200, 400
"""The longest title or follow-up, and the longest instruction, in signs."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """One step, or one follow-up, that the sheet lacks.

    words: why it is proposed.  asks: what the sheet does not tell and the user has to.
    needs: what each task is for, in the sequence of the tasks.  specs: new ones, without figures.
    """

    key: str
    place: Place
    words: str
    needs: tuple[Need, ...]
    step: Step | None = None
    follow_up: FollowUp | None = None
    asks: tuple[str, ...] = ()
    specs: tuple[Spec, ...] = ()


def be(name: str) -> str:
    """ "are" of several, "is" of one."""
    return "are" if is_plural(name) else "is"


def join(names: list[str], *, quoted: bool = False) -> str:
    """ "the lid, the tray and the hose"."""
    told = [f'"{name}"' for name in names] if quoted else names
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


def bare(name: str) -> str:
    """A name without the article that it may begin with."""
    return re.sub(r"(?i)^the\s+", "", name) or name


def cut(text: str, most: int) -> str:
    """The text, or as much of it as so many signs hold."""
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"
