"""What the keys of Write do to stages, steps, and what stands in a step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtGui import QTextCursor
from PySide6.QtWidgets import QApplication

from shopguide.job.edits import Add, Duplicate, JoinNext, Move, Remove, Split
from shopguide.job.text import Path
from shopguide.job.written import FixedList
from shopguide.window.write_card import find
from shopguide.window.write_edits import (
    NEW_CAUTION,
    NEW_STAGE,
    NEW_STEP,
    NEW_TASK,
    find_drop,
    find_step_move,
    move_entry,
)
from shopguide.window.write_fixes import list_step_paths
from shopguide.window.write_patterns import OF_PART
from shopguide.window.write_text import WriteText

if TYPE_CHECKING:
    from shopguide.window.write_place import WritePlace


class StepDesk:
    """Adds, moves, doubles, splits, joins and takes out what is chosen in Write."""

    def __init__(self, place: WritePlace) -> None:
        self._place = place

    # --- steps and stages -----------------------------------------------------------------

    def add_step(self) -> None:
        """Adds a step behind the one that is chosen, and writes in it."""
        path = self._place.path
        if path[0] != "stages":
            steps = list_step_paths(self._place.writing.data) if self._place.writing else []
            path = steps[-1] if steps else ("stages", 0)
        at = int(path[3]) + 1 if len(path) == 4 else 0
        new: Path = ("stages", int(path[1]), "steps", at)
        if self._place.apply(Add(new, NEW_STEP), new):
            self._place.choose(new)
            self._write_over((*new, "title"))

    def add_stage(self) -> None:
        """Adds a stage behind the one that is chosen."""
        assert self._place.writing is not None
        held = self._place.writing.data.get("stages")
        count = len(held) if isinstance(held, FixedList) else 0
        at = int(self._place.path[1]) + 1 if self._place.path[0] == "stages" else count
        if self._place.apply(Add(("stages", at), NEW_STAGE), ("stages", at)):
            self._place.choose(("stages", at))
            self._place.card.begin()
            self._select_all()

    def _write_over(self, path: Path) -> None:
        """Goes to a field and marks what stands in it, so that typing replaces it."""
        if self._place.card.go_to(path):
            self._select_all()

    def _select_all(self) -> None:
        widget = QApplication.focusWidget()
        if isinstance(widget, WriteText):
            widget.moveCursor(QTextCursor.MoveOperation.Start)
            widget.selectAll()

    def remove(self) -> None:
        """Takes out the step or stage that is chosen."""
        if self._place.path[0] == "stages":
            self._place.apply(Remove(self._place.path))

    def move(self, by: int) -> None:
        """Moves the step or stage that is chosen."""
        if self._place.writing is None or self._place.path[0] != "stages":
            return
        to = find_step_move(self._place.writing.data, self._place.path, by)
        if to is not None and self._place.apply(Move(self._place.path, to), to):
            self._place.choose(to)

    def drop(self, path: Path, before: Path) -> None:
        if self._place.writing is None:
            return
        to = find_drop(self._place.writing.data, path, before)
        if to != path and self._place.apply(Move(path, to), to):
            self._place.choose(to)

    def duplicate(self) -> None:
        """Puts the step or stage that is chosen once more behind itself."""
        if self._place.path[0] != "stages":
            return
        new = (*self._place.path[:-1], int(self._place.path[-1]) + 1)
        if self._place.apply(Duplicate(self._place.path), new):
            self._place.choose(new)

    def join(self) -> None:
        """Joins the step or stage that is chosen with the next."""
        if self._place.path[0] == "stages":
            self._place.apply(JoinNext(self._place.path))

    # --- what stands in a step ------------------------------------------------------------

    def do(self, path: Path, wish: str) -> None:
        desk = self._place.writing
        if desk is None:
            return
        self._place.card.keep()
        match wish:
            case "add pattern":
                self._place.patterns.begin()
            case "add pattern on photo":
                files = self._place.choose_photos(OF_PART)
                if files:
                    self._place.patterns.begin(files[0])
            case _ if wish.startswith("joint "):
                self._place.patterns.open(int(wish.removeprefix("joint ")))
            case _ if wish.startswith("pattern "):
                self._place.patterns.open(int(wish.removeprefix("pattern ")))
            case "add step":
                self.add_step()
            case "add stage":
                self.add_stage()
            case "add task":
                self._add_in(path, "tasks", NEW_TASK, "text")
            case "add caution":
                self._add_in(path, "cautions", NEW_CAUTION, "signal")
            case "add photos":
                files = self._place.choose_photos("Pictures for this step")
                if files:
                    self._place.photos.add(files)
            case "marks":
                self._place.marks.open(path)
            case "add":
                new = (*path[:-1], int(path[-1]) + 1)
                entry: Any = NEW_TASK if path[-2] == "tasks" else NEW_CAUTION
                if path[-2] != "photos" and self._place.apply(Add(new, entry)):
                    self._write_over((*new, "text" if path[-2] == "tasks" else "signal"))
            case "remove":
                if self._place.apply(Remove(path)):
                    held = find(desk.data, path[:-1])
                    count = len(held) if isinstance(held, FixedList) else 0
                    if count:
                        self._place.card.go_to((*path[:-1], min(int(path[-1]), count - 1)))
                    else:
                        self._place.card.begin()
            case "duplicate":
                if self._place.apply(Duplicate(path)):
                    self._place.card.go_to((*path[:-1], int(path[-1]) + 1))
            case "join":
                if self._place.apply(JoinNext(path)):
                    self._place.card.go_to(path)
            case "split":
                second = (*path[:3], int(path[3]) + 1)
                if path[-2] == "tasks" and self._place.apply(
                    Split(path[:4], int(path[-1])), second
                ):
                    self._place.choose(second)
                    self._place.card.begin()
            case "move up" | "move down":
                found = move_entry(desk.data, path, -1 if wish == "move up" else 1)
                if found is not None and self._place.apply(found[0]):
                    self._place.card.go_to(found[1])

    def _add_in(self, base: Path, key: str, entry: dict[str, Any], first: str) -> None:
        assert self._place.writing is not None
        held = find(self._place.writing.data, (*base, key))
        count = len(held) if isinstance(held, FixedList) else 0
        if self._place.apply(Add((*base, key, count), entry)):
            self._write_over((*base, key, count, first))
