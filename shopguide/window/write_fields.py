"""What there is to fill in: for each kind of task, caution, picture and for the sheet itself."""

from __future__ import annotations

from typing import Literal, NamedTuple

from shopguide.bolts.passes import SCHEDULES
from shopguide.window.write_passes import HINT, OWN

Form = Literal["line", "prose", "choice", "yes", "lines", "passes"]
"""One line, several lines, one of few, yes or no, a list with one entry a line, or passes."""


class Field(NamedTuple):
    """One thing to fill in. names: of which sort of name it is, "spec", "item" …; for the help.

    reads: as what it is read, "date", "time" …; what is read stands under it.
    """

    key: str
    word: str
    hint: str = ""
    form: Form = "line"
    choices: tuple[str, ...] = ()
    names: str = ""
    needed: bool = False
    reads: str = ""


KINDS: dict[str, str] = {
    "confirm": "do it and say so",
    "open": "take apart: an open item",
    "close": "put back an open item",
    "torque": "tighten, pass by pass",
    "drain": "drain and measure",
    "fill": "fill in a measured quantity",
    "measure": "measure against limits",
    "wait": "let time pass",
    "photo": "take a photo",
    "leave": "leave loose, or untouched",
}
"""The kinds of task, each in a few words."""

_SPEC = Field("spec", "Spec", "a name from the specs", names="spec")
_ITEM = Field("item", "Open item", "its name, where it opens or closes one", names="item")
_ITEM_NEEDED = Field("item", "Open item", "what it is called", names="item", needed=True)
_FLUID = Field("fluid", "Fluid", "a name from the fluids", names="fluid", needed=True)
_NOTE = Field("note", "Note", "shown while the task is due", "prose")

TASK_FIELDS: dict[str, tuple[Field, ...]] = {
    "confirm": (_SPEC, _NOTE),
    "open": (
        Field(
            "how",
            "How",
            form="choice",
            choices=("remove", "disconnect", "loosen", "park aside", "drain"),
        ),
        _ITEM_NEEDED,
        _NOTE,
    ),
    "close": (
        Field("how", "How", form="choice", choices=("refit", "reconnect", "refill", "tighten")),
        _ITEM_NEEDED,
        _NOTE,
    ),
    "torque": (
        Field("pattern", "Pattern", "a pattern of many screws, or else …", names="pattern"),
        Field("fastener", "Fastener", "… one screw, plug or nut by its name"),
        _SPEC._replace(hint="the torque, a name from the specs"),
        Field("passes", "Passes", form="choice", choices=(*SCHEDULES, OWN)),
        Field("thread", "Thread", "of the one fastener: M6, M8×1.25", reads="thread"),
        Field("grade", "Grade", "8.8, A2-70 …"),
        Field("condition", "Condition", "dry, oiled, threadlock", reads="condition"),
        _ITEM,
        _NOTE,
    ),
    "drain": (_FLUID, _SPEC._replace(hint="a volume from the specs"), _ITEM, _NOTE),
    "fill": (
        _FLUID,
        _SPEC._replace(hint="a volume from the specs"),
        Field("like_drained", "As drained", "as much as came out", "yes"),
        _ITEM,
        _NOTE,
    ),
    "measure": (_SPEC._replace(needed=True, hint="value with its limits, from the specs"), _NOTE),
    "wait": (_SPEC._replace(needed=True, hint="a time from the specs"), _NOTE),
    "photo": (_NOTE,),
    "leave": (
        Field("how", "How", form="choice", choices=("left loose", "do not touch")),
        Field("fastener", "Fastener", "its name", needed=True),
        Field("reason", "Reason", "why it is left", "prose", needed=True),
        Field("until", "Until", "when it is seen to", "prose"),
        _ITEM,
        _NOTE,
    ),
}

OWN_PASSES = Field("passes", "One by one", HINT, "passes")
"""Stands under the choice of passes where they are of the task's own."""

FIRST_CHOICE = {"open": "remove", "close": "refit", "leave": "left loose"}

SIGNALS = ("DANGER", "WARNING", "CAUTION", "NOTICE")
CAUTION_FIELDS = (
    Field("signal", "Signal word", form="choice", choices=SIGNALS),
    Field("hazard", "Hazard", "what is dangerous", "prose", needed=True),
    Field("consequence", "Consequence", "what happens then", "prose", needed=True),
    Field("avoid", "Avoid", "how to avoid it", "prose", needed=True),
    Field("acknowledge", "To be read", "before work starts", "yes"),
)
PHOTO_FIELDS = (
    Field("caption", "Caption", "what it shows", "prose"),
    Field("alt", "In words", "for who cannot see it", "prose"),
)
SHEET_FIELDS = (
    Field("title", "Title", "what is done to what", needed=True),
    Field("summary", "Summary", "what the job is, in a few sentences", "prose"),
    Field("applies_to", "Applies to", "machines, one on each line", "lines"),
    Field("time", "Time", "2 to 3 hours", reads="time"),
    Field("skill", "Skill", "who can do it", "prose"),
    Field("author", "Author", "who wrote it", needed=True),
    Field("revision", "Revision", "1"),
    Field("date", "Date", "2026-03-24, 24.3.2026, March 24 2026", needed=True, reads="date"),
    Field("hints_off", "Hints off", "hints of the review that are not wanted here", "lines"),
)
STAGE_FIELDS = (Field("title", "Stage", "take apart, put back, check", needed=True),)

SECTIONS: tuple[tuple[str, str], ...] = (
    ("sheet", "The sheet"),
    ("cautions", "Cautions of the job"),
    ("specs", "Specs"),
    ("parts", "Parts"),
    ("supplies", "Supplies"),
    ("fluids", "Fluids"),
    ("tools", "Tools"),
    ("patterns", "Patterns"),
    ("follow_ups", "Follow-ups"),
)
"""What stands above the stages in the list, each with its word."""


class TableColumn(NamedTuple):
    """A column of a table: its word, the path of keys below an entry, its width at factor 1."""

    word: str
    keys: tuple[str, ...]
    width: int
    choices: tuple[str, ...] = ()


UNITS = ("torque", "angle", "length", "volume", "pressure", "temperature", "mass", "time", "count")
SOURCES = ("not known", "manual", "label", "standard", "common practice")

TABLES: dict[str, tuple[TableColumn, ...]] = {
    "cautions": (
        TableColumn("signal word", ("signal",), 132, SIGNALS),
        TableColumn("hazard", ("hazard",), 250),
        TableColumn("consequence", ("consequence",), 230),
        TableColumn("avoid", ("avoid",), 260),
        TableColumn("to be read", ("acknowledge",), 110, ("no", "yes")),
    ),
    "specs": (
        TableColumn("name", ("name",), 206),
        TableColumn("kind", ("kind",), 106, UNITS),
        TableColumn("value", ("value",), 104),
        TableColumn("low", ("low",), 84),
        TableColumn("high", ("high",), 84),
        TableColumn("tolerance", ("tolerance",), 98),
        TableColumn("source", ("source", "kind"), 116, SOURCES),
        TableColumn("source in words", ("source", "text"), 184),
        TableColumn("where used", (), 190),
        TableColumn("printed also", ("printed_also",), 170),
        TableColumn("note", ("note",), 320),
    ),
    "parts": (
        TableColumn("name", ("name",), 300),
        TableColumn("number", ("number",), 170),
        TableColumn("pieces", ("quantity",), 84),
        TableColumn("single-use", ("single_use",), 110, ("no", "yes")),
        TableColumn("price", ("price",), 100),
        TableColumn("note", ("note",), 420),
    ),
    "supplies": (
        TableColumn("name", ("name",), 340),
        TableColumn("quantity", ("quantity",), 180),
        TableColumn("note", ("note",), 460),
    ),
    "fluids": (
        TableColumn("name", ("name",), 220),
        TableColumn("grade", ("grade",), 220),
        TableColumn("spec", ("spec",), 180),
        TableColumn("where used", (), 150),
        TableColumn("note", ("note",), 360),
    ),
    "tools": (
        TableColumn("name", ("name",), 480),
        TableColumn("note", ("note",), 500),
    ),
    "follow_ups": (
        TableColumn("what", ("text",), 460),
        TableColumn("after", ("after",), 220),
        TableColumn("spec", ("spec",), 240),
    ),
}
