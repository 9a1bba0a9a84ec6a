"""A pattern while it is being drawn: may be half finished, and every change makes a new draft.

What a draft lacks to be a pattern is told by `make_pattern`. Fasteners are named by their place in
the draft, since a number may be doubled for a while. Positions are mm, as in pattern.py.
"""

from __future__ import annotations

from collections.abc import Mapping as Dict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal, get_args

from pydantic import ValidationError

from shopguide.bolts.homography import BLANK, Mapping, invert, map_point
from shopguide.bolts.outline import XY
from shopguide.bolts.pattern import (
    MOST_FASTENERS,
    Backdrop,
    Circle,
    Fastener,
    Grid,
    Head,
    Pattern,
    Rectangle,
)
from shopguide.bolts.placing import SEAT_MM
from shopguide.bolts.positions import Placed
from shopguide.errors import Trouble

USES = ("tighten", "leave loose", "do not touch")
HEADS: tuple[str, ...] = get_args(Head)
GUESSED_WIDTH_MM = 400.0
"""How wide a photo without a scale is taken to be, so that there is something to draw with."""
LARGEST_MM = 100_000.0

_OWN = (
    "name", "title", "seen", "fastener_word", "thread", "length", "head", "drive", "grade",
    "condition", "first", "last", "order_source",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Draft:
    """details: what the pattern says of itself and of all its fasteners, by the model's keys.

    file: the photo behind it, "" for a blank board.  to_mm: from its pixels, or the blank board's
    units.  scaled: False while the photo's scale is only guessed.  in_mm: the positions were known
    in mm before the photo came, and stay so whatever its scale.  absent: a photo that cannot be
    shown, and is kept as it is.
    """

    details: Dict[str, Any] = field(default_factory=dict)
    fasteners: tuple[Fastener, ...] = ()
    outline: tuple[XY, ...] = ()
    file: str = ""
    to_mm: Mapping = BLANK
    scaled: bool = True
    order: tuple[int, ...] | None = None
    order_by: Literal["manual", "user"] = "manual"
    shape: Circle | Rectangle | Grid | None = None
    in_mm: bool = False
    absent: Backdrop | None = None

    @property
    def word(self) -> str:
        """What one of its fasteners is called."""
        return self.details.get("fastener_word", "screw")

    @property
    def points(self) -> list[XY]:
        """Where each stands."""
        return [(f.x_mm, f.y_mm) for f in self.fasteners]

    @property
    def is_shape(self) -> bool:
        """True while they stand exactly as its circle, rectangle or grid puts them."""
        return self.shape is not None and _bare(self.shape) == self.fasteners

    def count(self, number: int) -> str:
        """So many fasteners in words: "1 screw", "3 screws"."""
        return f"{number} {self.word}" + ("" if number == 1 else "s")


def open_draft(
    pattern: Pattern | None, file: str = "", width_px: float = 0.0, height_px: float = 0.0
) -> Draft:
    """A draft of a pattern, or an empty one; file: the photo it is to be drawn on.

    A pattern without this photo lies in the middle of it, on a guessed scale.
    """
    to_mm, scaled = BLANK, True
    if pattern is not None and pattern.photo is not None and pattern.photo.file == file:
        try:
            invert(pattern.photo.to_mm)
            to_mm = pattern.photo.to_mm
        except Trouble:
            scaled = False
    elif file:
        scaled = False
    if file and not scaled:
        to_mm = _guess_mapping(width_px, height_px)
    if pattern is None:
        return Draft({"name": "pattern", "title": "Pattern"}, file=file, to_mm=to_mm, scaled=scaled)
    shape = pattern.circle or pattern.rectangle or pattern.grid
    bare = _bare(shape) if shape is not None else (pattern.fasteners or ())
    return Draft(
        {key: getattr(pattern, key) for key in _OWN},
        bare, pattern.outline, file, to_mm, scaled, pattern.order, pattern.order_by, shape,
        in_mm=bool(file) and not scaled, absent=None if file else pattern.photo,
    )  # fmt: skip


def _guess_mapping(width_px: float, height_px: float) -> Mapping:
    """A photo of unknown scale: its middle is the origin."""
    scale = GUESSED_WIDTH_MM / max(width_px, 1.0)
    return (scale, 0.0, -scale * width_px / 2, 0.0, -scale, scale * height_px / 2, 0.0, 0.0, 1.0)


def make_pattern(draft: Draft) -> Pattern:
    """The pattern. Raises Trouble that says what the model refuses."""
    if not draft.fasteners:
        raise Trouble(f"There is no {draft.word} yet.", next="Click where one sits.")
    how: dict[str, Any] = {"fasteners": draft.fasteners}
    if draft.shape is not None and draft.is_shape:
        key = type(draft.shape).__name__.lower()
        how = {key: draft.shape}
    if draft.file:
        how["photo"] = Backdrop(file=draft.file, to_mm=draft.to_mm)
    elif draft.absent is not None:
        how["photo"] = draft.absent
    try:
        return Pattern(
            **draft.details, **how, outline=draft.outline, order=draft.order,
            order_by=draft.order_by,
        )  # fmt: skip
    except ValidationError as error:
        first = error.errors()[0]
        said = first["msg"].removeprefix("Value error, ")
        if first["type"] != "value_error":
            key = ".".join(str(part) for part in first["loc"]) or "pattern"
            raise Trouble(f"{key}: {said}.", next="Put it right.") from None
        raise Trouble(said) from None


def _bare(shape: Circle | Rectangle | Grid) -> tuple[Fastener, ...]:
    points = enumerate(shape.points(), 1)
    return tuple(Fastener(number=number, x_mm=x, y_mm=y) for number, (x, y) in points)


# --- positions ------------------------------------------------------------------------------------


def next_number(draft: Draft) -> int:
    """The lowest number that no fastener has."""
    used = {f.number for f in draft.fasteners}
    return next(n for n in range(1, len(used) + 2) if n not in used)


def add_points(draft: Draft, points: Sequence[XY], exactly: bool = False) -> Draft:
    """Further fasteners, on the lowest free numbers.  Raises Trouble where they are too many.

    exactly: as typed, else in whole thousandths of a mm.
    """
    if len(draft.fasteners) + len(points) > MOST_FASTENERS:
        raise Trouble(
            f"That would make {len(draft.fasteners) + len(points)}; at most {MOST_FASTENERS} are "
            "possible.",
            next="Make several patterns of it.",
        )
    used = {f.number for f in draft.fasteners}
    free = (n for n in range(1, 10_000) if n not in used)
    made = tuple(Fastener(number=next(free), x_mm=0, y_mm=0) for _ in points)
    before = len(draft.fasteners)
    grown = replace(draft, fasteners=draft.fasteners + made)
    return put_points(grown, dict(enumerate(points, before)), exactly)


def add_shape(draft: Draft, shape: Circle | Rectangle | Grid, at: XY) -> Draft:
    """The fasteners of a circle, rectangle or grid with its middle at a place."""
    if not draft.fasteners and at == (0.0, 0.0):
        return replace(draft, fasteners=_bare(shape), shape=shape)
    return add_points(draft, [(x + at[0], y + at[1]) for x, y in shape.points()])


def take_table(draft: Draft, placed: Sequence[Placed]) -> Draft:
    """A table's fasteners: a number that is there already moves to its new place."""
    by_number = {number: (x, y) for number, x, y in placed}
    moved = tuple(
        f.model_copy(update=dict(zip(("x_mm", "y_mm"), by_number.pop(f.number), strict=True)))
        if f.number in by_number
        else f
        for f in draft.fasteners
    )
    made = tuple(Fastener(number=n, x_mm=x, y_mm=y) for n, (x, y) in by_number.items())
    if len(moved) + len(made) > MOST_FASTENERS:
        raise Trouble(
            f"That would make more than {MOST_FASTENERS}.", next="Make several patterns of it."
        )
    return replace(draft, fasteners=moved + made)


def put_points(draft: Draft, places: Dict[int, XY], exactly: bool = False) -> Draft:
    """Some fasteners, by their place in the draft, moved to where they are to stand.

    exactly: as typed, else in whole thousandths of a mm.
    """
    fasteners = list(draft.fasteners)
    tidy = (lambda value_mm: value_mm + 0.0) if exactly else _tidy
    for index, (x, y) in places.items():
        fasteners[index] = fasteners[index].model_copy(update={"x_mm": tidy(x), "y_mm": tidy(y)})
    return replace(draft, fasteners=tuple(fasteners))


def remove(draft: Draft, indices: Sequence[int]) -> Draft:
    """Without these fasteners, in the order either; groups that are empty now are not asked for."""
    gone = set(indices)
    kept = tuple(f for k, f in enumerate(draft.fasteners) if k not in gone)
    return _clean(replace(draft, fasteners=kept))


def find_doubled(draft: Draft, point: XY) -> bool:
    """True where a fastener sits in this place already."""
    x, y = point
    return any(
        abs(f.x_mm - x) < SEAT_MM * 2 and abs(f.y_mm - y) < SEAT_MM * 2 for f in draft.fasteners
    )


def _tidy(value_mm: float) -> float:
    """Whole thousandths, and never beyond what the model takes."""
    return round(max(-LARGEST_MM, min(LARGEST_MM, value_mm)), 3) + 0.0


# --- what each one is -----------------------------------------------------------------------------


def change(draft: Draft, indices: Sequence[int], key: str, text: str) -> Draft:
    """The same thing said of some fasteners, by the model's key: number, thread, use, note, …

    An empty text goes back to what the pattern says. Raises Trouble where it cannot be.
    """
    plain = text.strip()
    value: Any = plain or None
    if key == "number":
        value = _read_number(plain)
    elif key == "note":
        value = plain
    elif key == "use":
        value = choose_word(plain or "tighten", USES, "use")
    elif key == "head" and plain:
        value = choose_word(plain, HEADS, "head")
    fasteners = list(draft.fasteners)
    numbers = {}
    for index in indices:
        before = fasteners[index]
        try:
            fasteners[index] = Fastener.model_validate({**before.model_dump(), key: value})
        except ValidationError as error:
            said = error.errors()[0]["msg"].removeprefix("Value error, ")
            raise Trouble(f"{key}: {said}", next="Write it shorter, in plain text.") from None
        numbers[before.number] = fasteners[index].number
    changed = replace(draft, fasteners=tuple(fasteners))
    if key == "number" and draft.order is not None:
        changed = replace(changed, order=tuple(numbers.get(n, n) for n in draft.order))
    return _clean(changed) if key in ("use", "group") else changed


def _read_number(text: str) -> int:
    if text.isascii() and text.isdigit() and 1 <= int(text[:6]) <= 9999:
        return int(text)
    raise Trouble(f"“{text[:12]}” is not a number.", next="Write a whole number from 1 to 9999.")


def choose_word(text: str, words: Sequence[str], what: str) -> str:
    """The word that is meant, by its beginning. Raises Trouble where it is none or two."""
    found = [w for w in words if w == text.lower()] or [
        w for w in words if w.startswith(text.lower())
    ]
    if len(found) != 1:
        raise Trouble(f"“{text[:20]}” is no {what}.", next=f"Write {', '.join(words)}.")
    return found[0]


def _clean(draft: Draft) -> Draft:
    """The order without what is not tightened any more; first and last without empty groups."""
    order = draft.order
    if order is not None:
        wanted = {f.number for f in draft.fasteners if f.use == "tighten"}
        order = tuple(n for n in order if n in wanted) or None
    groups = {f.group for f in draft.fasteners}
    details = dict(draft.details)
    for key in ("first", "last"):
        if details.get(key):
            details[key] = tuple(name for name in details[key] if name in groups)
    return replace(draft, order=order, details=details)


def renumber(draft: Draft, sequence: Sequence[int]) -> Draft:
    """Numbers from 1 in this sequence of places in the draft; who is not in it comes after.

    They are listed by their new numbers, so that each one's place in the draft changes. A given
    order stays with the same fasteners.
    """
    rest = [k for k in range(len(draft.fasteners)) if k not in set(sequence)]
    numbers: dict[int, int] = {}
    fasteners = []
    for new, index in enumerate([*sequence, *rest], 1):
        one = draft.fasteners[index]
        numbers[one.number] = new
        fasteners.append(one.model_copy(update={"number": new}))
    order = draft.order
    if order is not None:
        order = tuple(numbers.get(n, n) for n in order)
    return replace(draft, fasteners=tuple(fasteners), order=order)


# --- the board under them -------------------------------------------------------------------------


def set_mapping(draft: Draft, to_mm: Mapping) -> Draft:
    """Another scale of the photo: fasteners and outline stay where they are on the photo, or
    where they are in mm if that was known before.

    Raises Trouble where they would come to lie beyond all measure.
    """
    back = invert(draft.to_mm)
    invert(to_mm)
    if draft.in_mm:
        return replace(draft, to_mm=to_mm, scaled=True)

    def move(point: XY) -> XY:
        x, y = map_point(to_mm, map_point(back, point))
        if not (abs(x) <= LARGEST_MM and abs(y) <= LARGEST_MM):
            raise Trouble(
                "With this, something would lie beyond 100 m.",
                next="Check the distance and the places clicked.",
            )
        return (_tidy(x), _tidy(y))

    moved = put_points(draft, {k: move(p) for k, p in enumerate(draft.points)})
    return replace(moved, outline=tuple(move(p) for p in draft.outline), to_mm=to_mm, scaled=True)


def lay_photo(
    draft: Draft, file: str, width_px: float, height_px: float, to_mm: Mapping | None = None
) -> Draft:
    """The draft on another photo, on a guessed scale, or on the scale it had before.

    What stands there already keeps its place in mm.
    """
    known = bool(draft.fasteners or draft.outline) and (draft.scaled or draft.in_mm)
    return replace(
        draft, file=file, to_mm=to_mm or _guess_mapping(width_px, height_px),
        scaled=to_mm is not None, in_mm=known, absent=None,
    )  # fmt: skip


def find_photo(draft: Draft) -> str:
    """The name of the photo behind it, at hand or not; "" where it has none."""
    return draft.file or (draft.absent.file if draft.absent is not None else "")


def keep_in_mm(draft: Draft) -> Draft:
    """The draft whose places in mm are what is known: another scale moves the photo, not them."""
    return replace(draft, in_mm=True)


def take_photo_away(draft: Draft) -> Draft:
    """The draft on a blank board; everything keeps its place in mm."""
    return replace(draft, file="", to_mm=BLANK, scaled=True, in_mm=False, absent=None)


def set_outline(draft: Draft, outline: Sequence[XY], exactly: bool = False) -> Draft:
    """Another outline.  exactly: as typed, else in whole thousandths of a mm."""
    if exactly:
        return replace(draft, outline=tuple((x + 0.0, y + 0.0) for x, y in outline))
    return replace(draft, outline=tuple((_tidy(x), _tidy(y)) for x, y in outline[:2000]))


def set_order(draft: Draft, order: tuple[int, ...] | None) -> Draft:
    """A given order, or None for the computed one. By whom it is given is said apart."""
    return replace(draft, order=order)
