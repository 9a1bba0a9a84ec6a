"""Rules about tools: what the steps need stands in the list, as far as sizes and torques tell."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from shopguide.bolts.pattern import Pattern
from shopguide.errors import UnitTrouble
from shopguide.job.model import Drain, Fill, Measure, Tool
from shopguide.review.facts import SheetFacts
from shopguide.review.rule import Fix, Found, Place, Rule
from shopguide.torque import units
from shopguide.torque.hex_head import find_hex_head
from shopguide.torque.sockets import Size, compare, read_size
from shopguide.torque.threads import read_thread

# Hexagon socket head cap screws, ISO 4762: key size in mm by thread, read in two sellers' tables
# (engineeringhardware.com and creativefasteners.co.in, there as DIN 912).
_KEYS_MM = {
    "M3": 2.5,
    "M4": 3,
    "M5": 4,
    "M6": 5,
    "M8": 6,
    "M10": 8,
    "M12": 10,
    "M14": 12,
    "M16": 14,
    "M18": 14,
    "M20": 17,
}


class _Driver(NamedTuple):
    """What turns a screw: the word for it and its marked size ("10 mm", "T30")."""

    word: str
    marked: str


def _find_driver(head: str | None, drive: str | None, thread: str | None) -> _Driver | None:
    """What turns a screw with this head; None where the sheet does not say enough."""
    word = {"hex": "Socket", "nut": "Socket", "socket": "Hexagon bit"}.get(head or "", "Bit")
    if drive:
        try:
            return _Driver(word, read_size(drive).marked)
        except UnitTrouble:
            return _Driver(word, drive) if re.search(r"\d", drive) else None
    if head not in ("hex", "nut", "socket") or not thread:
        return None
    try:
        held = read_thread(thread)
    except UnitTrouble:
        return None  # told by a rule about screws
    if head == "socket":
        key = _KEYS_MM.get(held.size)
        return _Driver(word, f"{key:g} mm") if key is not None else None
    return _Driver(word, find_hex_head(held).size)


def _list_drivers(pattern: Pattern) -> tuple[_Driver, ...]:
    """The different drivers of the screws that a pattern's passes go over."""
    screws = dict.fromkeys((one.head, one.drive, one.thread) for one in pattern.tightened)
    found = (_find_driver(*screw) for screw in screws)
    return tuple(dict.fromkeys(driver for driver in found if driver is not None))


# --- what the list has ----------------------------------------------------------------------

# Figures are bounded here: a note of nothing but digits must not take seconds.
_DRIVES = re.compile(
    r"\b(socket|bit|key|spanner|crow|nut driver|hexagon|hex|allen|torx|wrench|ratchet)",
    re.IGNORECASE,
)
# What goes on a torque wrench; a spanner or an angled key does not.
_GOES_ON = re.compile(r"\b(socket|bit|crow|insert|ratchet|torx(?! key)|nut driver)", re.IGNORECASE)
_STARS = re.compile(r"(?<![\w.])(?P<kind>TX|T|E)[ -]?(?P<low>\d{1,3})\b", re.IGNORECASE)
_STAR_SPAN = re.compile(
    r"(?<![\w.])(?P<kind>TX|T|E)[ -]?(?P<low>\d{1,3})\s*(?:to|–|-|…)\s*"
    r"(?:TX|T|E)?[ -]?(?P<high>\d{1,3})\b",
    re.IGNORECASE,
)
_TORX_LIST = re.compile(r"\btorx\b[^;]*?(?P<all>(?:\d{1,3}(?:\s*(?:,|and|&|/)\s*)?){1,20})\b", re.I)
_SQUARE = re.compile(
    r"\b\d{1,2}/\d{1,2}\s*(?:in(?:ch)?\.?|\")?[ -]*(?:square\s*)?drive\b"
    r"|\b\d{1,2}/\d{1,2}\s*(?:in(?:ch)?\.?|\")\s*(?:square|ratchet)\b",
    re.IGNORECASE,
)
_SPAN = re.compile(
    r"(?P<low>\d{1,4}(?:\.\d{1,3})?)\s*(?:mm)?\s*(?:to|–|-|…)\s*(?P<high>\d{1,4}(?:\.\d{1,3})?)\s*mm\b"
)
_SIZE = re.compile(
    r"\b\d{1,4}(?:\.\d{1,3})?\s*mm\b|\b(?:\d{1,2}-)?\d{1,3}/\d{1,3}(?:\s*(?:in(?:ch)?\b\.?|\"))?"
)
_SIZES = re.compile(
    r"(?P<all>(?:\d{1,4}(?:\.\d{1,3})?\s*(?:,|and|&|/)\s*){1,30}\d{1,4}(?:\.\d{1,3})?)\s*mm\b"
)


class _Box(NamedTuple):
    """The drivers of a tools list: spans in mm, single sizes, stars, and all names in one text."""

    spans: tuple[tuple[float, float], ...]
    sizes: tuple[Size, ...]
    stars: frozenset[str]
    text: str

    def holds(self, driver: _Driver) -> bool:
        """True where one of them turns this screw."""
        try:
            wanted = read_size(driver.marked)
        except UnitTrouble:
            star = _STARS.fullmatch(driver.marked.strip())
            if star is not None and _name_star(star["kind"], star["low"]) in self.stars:
                return True
            return (
                re.search(rf"(?<!\w){re.escape(driver.marked.lower())}(?!\w)", self.text)
                is not None
            )
        if any(low <= wanted.mm <= high and not wanted.inch for low, high in self.spans):
            return True
        return any(abs(size.mm - wanted.mm) < 0.01 for size in self.sizes)

    def find_near(self, driver: _Driver) -> str:
        """A word on the nearest one that does not fit; "" where none comes near."""
        try:
            wanted = read_size(driver.marked)
        except UnitTrouble:
            return ""
        near = min(self.sizes, key=lambda size: abs(size.mm - wanted.mm), default=None)
        if near is None or abs(near.mm - wanted.mm) > 0.6:
            return ""
        return f" Of those listed: {compare(wanted, near).tell()}"


def _flatten(tool: Tool) -> str:
    """Name and note on one line, with single spaces: long runs of them make patterns slow."""
    return " ".join(f"{tool.name}; {tool.note}".split())


def _name_star(kind: str, number: str) -> str:
    return f"{kind[0].upper()}{int(number)}"


def _list_stars(text: str) -> Iterator[str]:
    """The stars of a text: "T30", "TX 30", "Torx 25, 27 and 30", "T10 to T50"."""
    for found in _STAR_SPAN.finditer(text):
        for number in range(int(found["low"]), min(int(found["high"]), 200) + 1):
            yield _name_star(found["kind"], f"{number}")
    for found in _STARS.finditer(text):
        yield _name_star(found["kind"], found["low"])
    for found in _TORX_LIST.finditer(text):
        for number in _figures(found["all"]):
            yield _name_star("T", number)


def _open_box(tools: tuple[Tool, ...]) -> _Box:
    """Everything in a tools list that turns a screw."""
    return _fill_box(tools, _DRIVES)


def _open_box_of_wrench(tools: tuple[Tool, ...]) -> _Box:
    """What of a tools list goes on a torque wrench."""
    return _fill_box(tools, _GOES_ON)


def _fill_box(tools: tuple[Tool, ...], kind: re.Pattern[str]) -> _Box:
    spans: list[tuple[float, float]] = []
    sizes: list[Size] = []
    stars: set[str] = set()
    for tool in tools:
        text = _flatten(tool)
        if not kind.search(text) or _WRENCH.search(tool.name):
            continue
        stars.update(_list_stars(text))
        text = _SQUARE.sub(" ", text)
        for found in _SPAN.finditer(text):
            spans.append((float(found["low"]), float(found["high"])))
        texts = [f"{one} mm" for found in _SIZES.finditer(text) for one in _figures(found["all"])]
        texts += [found[0] for found in _SIZE.finditer(text)]
        for one in texts:
            try:
                sizes.append(read_size(one))
            except UnitTrouble:
                continue
    text = " ; ".join(f"{tool.name} {tool.note}" for tool in tools).lower()
    return _Box(tuple(spans), tuple(dict.fromkeys(sizes)), frozenset(stars), text)


def _figures(text: str) -> list[str]:
    return re.findall(r"\d+(?:\.\d+)?", text)


@lru_cache(maxsize=256)
def _find_plain_driver(thread: str) -> tuple[_Driver, ...]:
    driver = _find_driver("hex", None, thread)
    return (driver,) if driver is not None else ()


def find_missing_sockets(facts: SheetFacts) -> Iterator[Found]:
    """Sockets and bits that the torque tasks need and the tools list does not have.

    What is needed comes from the drive, else from head and thread.
    """
    needed: dict[_Driver, Place] = {}
    by_wrench: set[_Driver] = set()
    for at, task in facts.torques:
        if task.pattern is not None:
            pattern = facts.pattern(task.pattern)
            drivers = facts.once(pattern, _list_drivers) if pattern is not None else ()
        elif _ODD_HEAD.search(task.fastener or ""):
            drivers = ()
        else:
            # A single fastener says its thread; that its head is a hexagon is the usual case.
            drivers = _find_plain_driver(task.thread) if task.thread else ()
        specs = [facts.spec(name) for name in task.spec_names]
        measured = any(spec is not None and spec.has_figure for spec in specs)
        for driver in drivers:
            if measured and driver not in by_wrench:
                by_wrench.add(driver)
                needed[driver] = at.place
            needed.setdefault(driver, at.place)
    if not needed:
        return
    box = facts.once(facts.sheet.tools, _open_box)
    on_wrench = facts.once(facts.sheet.tools, _open_box_of_wrench)
    for driver, place in needed.items():
        fitting = on_wrench if driver in by_wrench else box
        if fitting.holds(driver):
            continue
        name = f"{driver.word} {driver.marked}"
        said = (
            "What the tools list has of that size does not go on a torque wrench."
            if box.holds(driver)
            else f"The tools list has none.{fitting.find_near(driver)}"
        )
        yield Found(place, f"These screws need: {name}. {said}", _add_tool(name))


# Plugs, sensors and fittings have heads of their own, whatever their thread.
_ODD_HEAD = re.compile(
    r"\b(?:plug|sensor|sender|fitting|union|banjo|valve|cap|nipple|injector|switch|axle|spindle|"
    r"filter|joint|knob)s?\b",
    re.IGNORECASE,
)


def _add_tool(name: str) -> Fix:
    return Fix("add tool", f'Add "{name}" to the tools'[:80], {"tool": {"name": name}})


# --- torque wrenches ------------------------------------------------------------------------

_FIGURE = r"\d{1,5}(?:[.,]\d{1,3})?"
_UNIT = r"(?:N[·.* ]?m|c?Nm|lbf?[·.* -]?(?:ft|in)|(?:ft|in)[·.* -]?lbf?s?|kgf?[·.* -]?c?m)"
_RANGE = re.compile(
    rf"(?P<low>{_FIGURE})\s*(?P<unit>{_UNIT})?\s*(?:to|–|-|…)\s*(?P<high>{_FIGURE}\s*{_UNIT})\b",
    re.IGNORECASE,
)
_MOST = re.compile(rf"(?P<high>{_FIGURE}\s*{_UNIT})\b", re.IGNORECASE)
_WRENCH = re.compile(r"\btorque[ -](?:wrench|spanner|screwdriver|driver)", re.IGNORECASE)


class _Wrenches(NamedTuple):
    """The torque wrenches of a tools list: how many, and the range in N·m of those that say it."""

    count: int
    ranges: tuple[tuple[float, float], ...]


def _list_wrenches(tools: tuple[Tool, ...]) -> _Wrenches:
    count, ranges = 0, []
    for tool in tools:
        if not _WRENCH.search(tool.name):
            continue
        count += 1
        text = _flatten(tool)
        found = _RANGE.search(text)
        most = found or _MOST.search(text)
        if most is None:
            continue
        try:
            high = units.read(most["high"], units.Kind.TORQUE)
            low = (
                units.read(f"{found['low']} {found['unit'] or high.unit}", units.Kind.TORQUE).base
                if found is not None
                # Where only the highest mark is told: a fifth of it, as in the 2003 edition of
                # ISO 6789, which checks a tool from there up.
                else high.base * 0.2
            )
        except UnitTrouble:
            continue
        ranges.append((low, high.base))
    return _Wrenches(count, tuple(ranges))


def find_missing_wrench(facts: SheetFacts) -> Iterator[Found]:
    """Torques that no torque wrench of the tools list reaches."""
    needed: dict[tuple[str, float], Place] = {}
    for number, step in facts.walk():
        for index, name, share in step.needs:
            needed.setdefault((name, share), Place(number, index))
    targets = []
    for (name, share), place in needed.items():
        amount = _read_torque(facts, name, share)
        if amount is not None and amount.base > 0:
            targets.append((amount, place))
    if not targets:
        return
    held = facts.once(facts.sheet.tools, _list_wrenches)
    if len(held.ranges) < held.count:
        return  # one that does not say its range may reach
    for amount, place in targets:
        if any(low - 1e-9 <= amount.base <= high + 1e-9 for low, high in held.ranges):
            continue
        least, most = _round(amount.base), _round(amount.base * 5)
        has = (
            "none of the torque wrenches in the tools list reaches it"
            if held.count
            else "the tools list has no torque wrench"
        )
        yield Found(
            place,
            f"{amount.text} is wanted here, and {has}. Add one whose scale begins at "
            f"{amount.text} or below and ends between that and five times as much.",
            _add_tool(f"Torque wrench {least} N·m to {most} N·m"),
        )


def _round(figure: float) -> str:
    return f"{figure:.2g}" if figure < 100 else f"{figure:.0f}"


def _read_torque(facts: SheetFacts, name: str, share: float) -> units.Amount | None:
    spec = facts.spec(name)
    if spec is None or spec.kind is not units.Kind.TORQUE:
        return None
    text = spec.value or spec.high or spec.low
    if text is None:
        return None
    try:
        return units.scale(units.read(text, units.Kind.TORQUE), share)
    except UnitTrouble:
        return None


def find_unsized_wrench(facts: SheetFacts) -> Iterator[Found]:
    """Torque wrenches in the tools list whose range is not said."""
    for tool in facts.sheet.tools:
        if not _WRENCH.search(tool.name):
            continue
        alone = facts.once(tool, _look_at_one)
        if not alone.ranges:
            yield Found(
                Place(listed="tools", name=tool.name, field="note"),
                "Its range is not said, so nobody can tell whether it reaches the torques of this "
                "sheet. Write it, such as 4 N·m to 20 N·m.",
            )


def _look_at_one(tool: Tool) -> _Wrenches:
    return _list_wrenches((tool,))


# --- measuring ------------------------------------------------------------------------------

_MEASURING: dict[str, tuple[str, re.Pattern[str]]] = {
    "temperature": ("Thermometer", re.compile(r"thermometer|temperature|pyrometer|probe", re.I)),
    "length": (
        "Sliding caliper",
        re.compile(r"calip|feeler|gauge|micrometer|rule|straightedge|depth|tape", re.I),
    ),
    "pressure": ("Pressure gauge", re.compile(r"gauge|manometer|pressure", re.I)),
    "mass": ("Scales", re.compile(r"scale|balance|weigh", re.I)),
    "angle": ("Angle gauge", re.compile(r"angle|protractor|degree", re.I)),
    "volume": (
        "Measuring jug",
        re.compile(r"jug|measur|graduat|cylinder|syringe|pan|beaker|scale", re.I),
    ),
    "drain": (
        "Drain pan",
        re.compile(
            r"\b(?:\w*pan|tray|bowl|basin|can|canister|jerrycan|container|bucket|tub|jug)", re.I
        ),
    ),
}


def find_missing_gauges(facts: SheetFacts) -> Iterator[Found]:
    """What measures, catches or fills, and is not in the tools list."""
    needed: dict[str, Place] = {}
    for number, step in facts.walk():
        if not step.kinds & {"measure", "drain", "fill", "torque"}:
            continue
        for index, task in step.tasks:
            place = Place(number, index)
            if isinstance(task, Measure):
                spec = facts.spec(task.spec)
                if spec is not None and spec.kind.value in _MEASURING:
                    needed.setdefault(spec.kind.value, place)
            elif isinstance(task, Drain):
                needed.setdefault("drain", place)
                needed.setdefault("volume", place)
            elif isinstance(task, Fill):
                needed.setdefault("volume", place)
        for index, task in step.torques:
            if "angle" not in needed and any(one.kind == "angle" for one in task.schedule):
                needed["angle"] = Place(number, index)
    if not needed:
        return
    text = "; ".join(
        f"{entry.name} {entry.note}" for entry in (*facts.sheet.tools, *facts.sheet.supplies)
    )
    for kind, place in needed.items():
        name, known = _MEASURING[kind]
        if not known.search(text):
            yield Found(
                place,
                f"Something like this is needed here: {name.lower()}. The tools list has none.",
                _add_tool(name),
            )


TOOL_RULES: tuple[Rule, ...] = (
    Rule(
        "socket is listed",
        "wants an answer",
        "the right socket is missed when one lies under the machine; sizes of heads after "
        "ISO 4014 and ASME B18.2.1, keys after ISO 4762, read at second hand",
        find_missing_sockets,
    ),
    Rule(
        "torque wrench reaches",
        "wants an answer",
        "a torque wrench is tested from its lowest mark to its highest; ISO 6789-1:2017, 5.1.3, "
        "read at second hand",
        find_missing_wrench,
    ),
    Rule(
        "torque wrench says its range",
        "hint",
        "a torque wrench is tested from its lowest mark to its highest; ISO 6789-1:2017, 5.1.3, "
        "read at second hand",
        find_unsized_wrench,
    ),
    Rule(
        "measuring tool is listed",
        "hint",
        "who has nothing to measure with guesses; common practice, no source",
        find_missing_gauges,
    ),
)
