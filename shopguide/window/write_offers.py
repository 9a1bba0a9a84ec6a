"""Which draft of a sheet is offered when the sheet is opened, and what is told of the others."""

from __future__ import annotations

import json
import secrets
from typing import NamedTuple

from shopguide.errors import Trouble
from shopguide.job.edits import Draft
from shopguide.job.packing import Packing
from shopguide.window.write_drafts import (
    Aside,
    Hold,
    drop_aside,
    find_folder,
    keep_one_more,
    list_keys,
    look_at,
    name_draft,
    take_hold,
    try_hold,
)


class Offer(NamedTuple):
    """The right to a draft's key, the draft that waits under it, and what is to be told."""

    hold: Hold
    aside: Aside | None = None
    told: tuple[str, ...] = ()
    """What happened, where, and what to do next; () where there is nothing to tell."""


def find_offer(packing: Packing, draft: Draft) -> Offer:
    """The draft of a saved sheet that is offered, where there is one.

    A draft that another window writes is left to it, one of a newer version to that version. One
    that cannot be read is moved out of the way, and one that says what is saved is taken away.
    """
    try:
        return _find_offer(packing, draft)
    except Trouble:
        # Without a folder for drafts there is none; writing on tells why.
        return Offer(Hold(name_draft(packing.path)))


def _find_offer(packing: Packing, draft: Draft) -> Offer:
    told: tuple[str, ...] = ()
    elsewhere = ""
    free: Hold | None = None
    for key in list_keys(packing.path):
        hold = try_hold(key)
        if hold.elsewhere:
            elsewhere = hold.elsewhere
            continue
        aside = look_at(find_folder() / f"{key}.draft.json")
        if aside is not None and aside.fault == "newer":
            told = _tell_newer(aside)
            hold.drop()
            continue
        if aside is not None and aside.fault:
            told = _set_apart(key, aside)
            aside = None
        if aside is not None and _is_saved(aside, draft):
            drop_aside(key)
            aside = None
        if aside is not None:
            if free is not None:
                free.drop()
            return Offer(hold, aside, told)
        if free is None:
            free = hold
        else:
            hold.drop()
    if free is None:
        free = take_hold(name_draft(packing.path))
        if look_at(find_folder() / f"{free.key}.draft.json") is not None:
            # Of a newer version, and not to be written over.
            free.drop()
            free = take_hold(f"{name_draft(packing.path)}-{secrets.token_hex(4)}")
    free.elsewhere = free.elsewhere or elsewhere
    return Offer(free, None, told)


def hold_unsaved(key: str) -> tuple[Hold, Aside]:
    """The draft of a sheet that is nowhere saved, and the right to it.

    Raises Trouble where another window writes it, and where it is gone or cannot be read.
    """
    path = find_folder() / f"{key}.draft.json"
    hold = try_hold(key)
    if hold.elsewhere:
        raise Trouble(
            f"This sheet is being written in another window ({hold.elsewhere}).",
            next="Go on with it there, or close it there first.",
        )
    aside = look_at(path)
    if aside is not None and not aside.fault:
        return hold, aside
    hold.drop()
    if aside is None:
        raise Trouble("This draft is not there any more.", next="Begin another sheet.")
    if aside.fault == "newer":
        raise Trouble(*_tell_newer(aside))
    raise Trouble(
        "This draft is damaged and cannot be read.",
        str(path),
        "The file stays there. Del on the Shelf throws it away.",
    )


def throw_away(key: str) -> None:
    """Throws a draft away with its pictures. Raises Trouble where another window writes it."""
    hold = try_hold(key)
    if hold.elsewhere:
        raise Trouble(
            f"This sheet is being written in another window ({hold.elsewhere}).",
            next="Close it there first. Nothing was thrown away.",
        )
    drop_aside(key)
    hold.drop()


def tell_elsewhere(elsewhere: str) -> tuple[str, ...]:
    """That another window writes the same sheet, and what that means."""
    return (
        f"This sheet is being written in another window too ({elsewhere}).",
        "",
        "Each window puts its own draft aside. Saving overwrites nothing without asking.",
    )


def _is_saved(aside: Aside, draft: Draft) -> bool:
    """True where a draft says nothing that is not saved."""
    if json.loads(aside.raw) == json.loads(draft.dump_as_typed()):
        return True
    # Saving is tidy: what is as it is by default is left out.
    sheet = Draft.open(aside.raw).sheet
    return sheet is not None and sheet == draft.sheet


def _set_apart(key: str, aside: Aside) -> tuple[str, ...]:
    left = keep_one_more(key)
    return (
        "A draft of this sheet was put aside, but its file is damaged and cannot be read.",
        str(left or aside.path),
        "It is kept there. Here stands what was saved.",
    )


def _tell_newer(aside: Aside) -> tuple[str, ...]:
    return (
        "A draft of this sheet was put aside by a newer version of this program.",
        str(aside.path),
        "It stays there, for that version to open.",
    )
