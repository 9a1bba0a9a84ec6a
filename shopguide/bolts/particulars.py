"""What is said of a joint as a whole, and of each of its fasteners, as one reads and types it.

Keys are those of the models; besides, "place" is where a fastener stands, "shape" how the joint is
laid out, "outline" its corners. Whatever is written here is read back to the very same value.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from shopguide.bolts.draft import (
    HEADS,
    Draft,
    add_shape,
    change,
    choose_word,
    find_photo,
    put_points,
    set_outline,
)
from shopguide.bolts.pattern import Fastener, Pattern
from shopguide.bolts.placing import (
    read_outline,
    read_place,
    read_shape,
    write_outline,
    write_place,
    write_shape,
)
from shopguide.errors import Trouble

GIVERS = ("manual", "user")
"""Who a given order comes from."""
FREE = "free points"
_LISTS = ("first", "last")
_DEFAULTS = {key: Pattern.model_fields[key].default for key in ("seen", "fastener_word", "head")}
_BARE = {"name": "n", "title": "t", "fasteners": ({"number": 1, "x_mm": 0, "y_mm": 0},)}


def tell_fastener(one: Fastener, key: str) -> str:
    """What is said of one fastener; "" where it says nothing of its own."""
    return write_place((one.x_mm, one.y_mm)) if key == "place" else str(getattr(one, key) or "")


def change_fasteners(draft: Draft, indices: Sequence[int], key: str, text: str) -> Draft:
    """The same said of some fasteners; for "place" of one. Raises Trouble where it cannot be."""
    if key == "place":
        return put_points(draft, {indices[0]: read_place(text)}, exactly=True)
    return change(draft, indices, key, text)


def tell_joint(draft: Draft, key: str) -> str:
    """What is said of the joint as a whole; "" where nothing is."""
    match key:
        case "shape":
            return tell_shape(draft)
        case "outline":
            return write_outline(draft.outline)
        case "order_by":
            return draft.order_by
        case "photo":
            return find_photo(draft)
        case "first" | "last":
            return "; ".join(draft.details.get(key, ()))
    return str(draft.details.get(key) or _DEFAULTS.get(key) or "")


def tell_shape(draft: Draft) -> str:
    """How the fasteners are laid out: a shape as long as they stand as in it, else so many."""
    if draft.is_shape and draft.shape is not None:
        return write_shape(draft.shape)
    count = len(draft.fasteners)
    return f"{count} {FREE if count > 1 else FREE.removesuffix('s')}" if count else ""


def change_joint(draft: Draft, key: str, text: str) -> Draft:
    """Something else said of the joint. An empty text is nothing said.

    Raises Trouble where it cannot be.
    """
    plain = text.strip()
    match key:
        case "shape":
            return _change_shape(draft, plain)
        case "outline":
            return set_outline(draft, read_outline(plain), exactly=True)
        case "order_by":
            by: Any = choose_word(plain or GIVERS[0], GIVERS, "giver of an order")
            return replace(draft, order_by=by)
    value: Any = plain or _DEFAULTS.get(key)
    if key in _LISTS:
        value = _read_groups(draft, plain)
        other = _LISTS[key == "first"]
        both = [name for name in value if name in draft.details.get(other, ())]
        if both:
            raise Trouble(
                f"The group “{both[0]}” cannot come both first and last.", next="Take one out."
            )
    elif key == "head" and plain:
        value = choose_word(plain, HEADS, "head")
    elif key == "order_source":
        value = plain
    elif key in ("name", "title") and not plain:
        raise Trouble(f"The {key} cannot be left empty.", next="Write it in a few words.")
    details = {**draft.details, key: value if key in _LISTS else _read(key, value)}
    return replace(draft, details=details)


def _read(key: str, value: Any) -> Any:
    """The value as the model takes it. Raises Trouble where it does not."""
    try:
        return getattr(Pattern.model_validate({**_BARE, key: value}), key)
    except ValidationError as error:
        said = error.errors()[0]["msg"].removeprefix("Value error, ")
        raise Trouble(f"{key}: {said}", next="Write it shorter, in plain text.") from None


def _read_groups(draft: Draft, text: str) -> tuple[str, ...]:
    """Groups in sequence, parted by semicolons or commas. Raises Trouble for an unknown one."""
    groups = {f.group for f in draft.fasteners if f.group}
    names: list[str] = []
    for part in (part.strip() for part in text.split(";")):
        # A group's own name may hold a comma.
        names += [part] if part in groups else [p.strip() for p in re.split(",", part)]
    names = list(dict.fromkeys(name for name in names if name))
    for name in names:
        if name not in groups:
            known = ", ".join(sorted(groups))
            raise Trouble(
                f"No {draft.word} belongs to the group “{name[:40]}”.",
                next=f"The groups are {known}." if known
                else f"Choose {draft.word}s and write their group first.",
            )  # fmt: skip
    return tuple(names)


def _change_shape(draft: Draft, text: str) -> Draft:
    if text == tell_shape(draft):
        return draft
    if draft.fasteners and not draft.is_shape:
        raise Trouble(
            f"The {draft.word}s stand as free points.",
            next="Remove them first, or place further ones with C, R or G.",
        )
    shape, at = read_shape(text)
    return add_shape(replace(draft, fasteners=(), shape=None), shape, at)
