"""The right side of the pattern board: who is described, their lines, what is asked and told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QVBoxLayout, QWidget

from shopguide.bolts.particulars import change_fasteners, change_joint, tell_fastener, tell_joint
from shopguide.errors import Trouble
from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look
from shopguide.window.pattern_fields import (
    AS_JOINT,
    CHOSEN,
    JOINT,
    NO_PHOTO,
    SEVERAL,
    PatternFields,
)
from shopguide.window.pattern_question import PatternQuestion
from shopguide.window.pattern_words import tell_heading, tell_state

if TYPE_CHECKING:
    from shopguide.window.pattern_board import PatternBoard


class PatternSide(QWidget):
    """The lines of the joint while none is chosen, else of those that are."""

    def __init__(self, board: PatternBoard, look: Look, factor: float) -> None:
        super().__init__(board)
        self._board = board
        self._described: frozenset[int] = frozenset()
        self.others: frozenset[str] = frozenset()
        """The names of the other patterns of the sheet."""
        self.who, self.state, self.message = QLabel(), QLabel(), QLabel()
        self.question = PatternQuestion(look, factor)
        self.joint = PatternFields(look, factor, JOINT)
        self.chosen = PatternFields(look, factor, CHOSEN)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        for part in (self.who, self.state, self.joint, self.chosen, self.question):
            self._column.addWidget(part)
        self._column.addWidget(self.message)
        self._column.addStretch(1)
        for label in (self.who, self.state, self.message):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(label is not self.who)
        for panel in (self.joint, self.chosen):
            panel.takes, panel.came, panel.leaves = self._take, self._hint, self._leave
        self.chosen.hide()
        self.set_look(look, factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        for part in (self.question, self.joint, self.chosen):
            part.set_look(look, factor)
        for label in (self.state, self.message):
            label.setFont(font_px(SIZES_PX["text"] * factor))
        self.who.setFont(font_px(SIZES_PX["instruction"] * factor, "bold"))
        palette = self.state.palette()
        palette.setColor(self.state.foregroundRole(), look.color("soft"))
        self.state.setPalette(palette)
        self._column.setSpacing(round(4 * factor))
        self.message.setContentsMargins(0, round(4 * factor), 0, 0)

    @property
    def panel(self) -> PatternFields:
        """The lines in question."""
        return self.chosen if self._board.chosen else self.joint

    def begin(self, others: frozenset[str]) -> None:
        """Another pattern is on the board."""
        self.others = others
        for panel in (self.joint, self.chosen):
            panel.forget_refused()

    # --- showing --------------------------------------------------------------------------

    def write(self) -> None:
        """Shows the draft as it is now, and who of it is chosen."""
        board = self._board
        self.who.setText(tell_heading(board))
        self.state.setText(tell_state(board))
        if self._described != board.chosen:
            self._described = board.chosen
            self.chosen.forget_refused()
        self._write_chosen() if board.chosen else self._write_joint()
        self.make_room()

    def make_room(self) -> None:
        """While a tool asks for something there is nothing to describe."""
        busy = bool(self._board.spots.mode) or self.question.asked is not None
        for panel in (self.joint, self.chosen):
            panel.setVisible(panel is self.panel and not busy)

    def _write_joint(self) -> None:
        texts = {key: tell_joint(self._board.draft, key) for key in self.joint.kinds}
        texts["photo"] = texts["photo"] or NO_PHOTO
        self.joint.show_texts(texts, {})

    def _write_chosen(self) -> None:
        draft = self._board.draft
        chosen = [draft.fasteners[k] for k in sorted(self._board.chosen)]
        texts, behind = {}, {}
        for key in self.chosen.kinds:
            values = {tell_fastener(one, key) for one in chosen}
            texts[key] = values.pop() if len(values) == 1 else ""
            behind[key] = SEVERAL if values else str(draft.details.get(key) or "")
        if not texts["head"] and behind["head"] != SEVERAL:
            texts["head"] = AS_JOINT
        self.chosen.show_texts(texts, behind, () if len(chosen) == 1 else ("number", "place"))

    def write_message(self, told: str, fault: str) -> None:
        """What was told last, and what keeps the draft from being a pattern."""
        said = (told, "" if self.question.asked is not None else fault)
        self.message.setText("\n".join(dict.fromkeys(text for text in said if text)))

    # --- the lines ------------------------------------------------------------------------

    def describe(self) -> None:
        """Brings the lines into use."""
        self.panel.go_to("thread" if self._board.chosen else "title")

    def go_to_refused(self) -> bool:
        """Brings the line into use whose text could not be taken; False where there is none."""
        key = next(iter(self.panel.refused), "")
        if key:
            self.panel.go_to(key)
        return bool(key)

    def _hint(self, hint: str) -> None:
        """What a line that came into use asks for; what could not be taken is told before it."""
        self._board.tell_typed(self._board.told if self.panel.refused else hint)

    def _leave(self, given_up: str) -> None:
        self._board.setFocus()
        said = f"Not kept: “{given_up[:40]}”. Enter keeps what is typed in a line."
        self._board.tell(said if given_up.strip() else "")

    def _take(self, key: str, text: str) -> bool:
        """What stands in a line, said of the joint or of all chosen; False where it cannot be."""
        if not self._board.chosen and key == "photo":
            self._board.ground.take(text)
            return True
        return self._board.try_to(lambda: self._change(key, text))

    def _change(self, key: str, text: str) -> None:
        board, kind = self._board, self.panel.kinds[key]
        indices = sorted(board.chosen)
        if indices:
            said = "" if (key, text) == ("head", AS_JOINT) else text
            draft = change_fasteners(board.draft, indices, key, said)
            what = f"{kind.word} of {board.name_of(indices)}"
        else:
            draft = change_joint(board.draft, key, text)
            what = f"{kind.word} of the joint"
        name = draft.details.get("name")
        if key == "name" and name in self.others:
            raise Trouble(f"Another pattern is called “{name}”.", next="Give another name.")
        board.apply(what, draft, merge=f"{key} {indices}" if kind.choices else "")
