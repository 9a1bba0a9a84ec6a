"""Where a name of the sheet is used: told in words, and gone through one use after another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shopguide.job.edits import find_uses
from shopguide.job.names import Named
from shopguide.job.text import Path
from shopguide.job.written import FixedDict
from shopguide.window.write_fixes import count_steps_of
from shopguide.window.write_names import LISTS, WORDS, list_entries

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


def tell_uses(data: FixedDict, uses: tuple[Path, ...]) -> str:
    """Where a name is used, in words: "steps 3, 7, 12"."""
    if not uses:
        return "nowhere yet"
    numbers, others = [], []
    for path in uses:
        if path[0] == "stages":
            number = (
                sum(count_steps_of(stage) for stage in data["stages"][: int(path[1])])
                + int(path[3])
                + 1
            )
            numbers.append(number)
        else:
            others.append(str(path[0]).replace("_", "-"))
    told = []
    if numbers:
        each = list(dict.fromkeys(numbers))
        told.append(f"step{'s' if len(each) > 1 else ''} {', '.join(map(str, each))}")
    return ", ".join([*told, *dict.fromkeys(others)])


class UseWalk:
    """Goes from a name to where it is used, one use after another, and back to where it is given.

    Where it stands is read from where the keys go, so that one may stop and go on at will.
    """

    def __init__(self, place: WritePlace) -> None:
        self._place = place

    def find_name(self) -> tuple[Named, str, Path] | None:
        """What sort of name the keys are on, the name, and its path."""
        place = self._place
        desk = place.writing
        if desk is None:
            return None
        if place.shows_table:
            return self._find_in_table()
        focus = place.card.find_line_in_use()
        if focus is None or not focus.field.names:
            return None
        name = focus.text.strip()
        return (focus.field.names, name, focus.path) if name else None  # type: ignore[return-value]

    def _find_in_table(self) -> tuple[Named, str, Path] | None:
        place = self._place
        section = str(place.path[0])
        row, column = place.table.cell
        if row >= len(place.table.rows.entries):
            return None
        entry, keys = place.table.rows.entries[row], place.table.rows.columns[column].keys
        if keys == ("spec",) and isinstance(entry.get("spec"), str):
            return "spec", entry["spec"], (section, row, "spec")
        what = next((word for word, held in LISTS.items() if held == section), None)
        name = entry.get("name")
        if what is None or not isinstance(name, str) or not name:
            return None
        return what, name, (section, row, "name")  # type: ignore[return-value]

    def go_on(self) -> None:
        """Goes to the next place that names the same; after the last to where it is given."""
        place = self._place
        found = self.find_name()
        desk = place.writing
        if desk is None or found is None:
            place.notice.tell("The keys are on no name of a spec, fluid, pattern or open item.")
            return
        what, name, here = found
        uses = find_uses(desk.data, what, name)
        section = LISTS.get(what, "")
        given = tuple(
            (section, index, "name")
            for index, entry in list_entries(desk.data, section)
            if entry.get("name") == name
        )
        # A pattern is given on its board, not in a table.
        stops = (*given, *uses) if section in ("specs", "fluids") else uses
        if not [path for path in stops if path != here]:
            word = WORDS[what]
            place.notice.tell(f'The {word} "{name}" is named nowhere else.')
            return
        place.notice.close_notice()
        at = stops.index(here) + 1 if here in stops else 0
        path = stops[at % len(stops)]
        place.choose(path)
        if place.shows_table:
            place.table.go_to(int(path[1]), str(path[2]))
        elif not place.card.go_to(path):
            # One that stands in a pass of its task's own.
            place.card.go_to(path[:6])
        place.say()
