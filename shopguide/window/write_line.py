"""One thing to fill in: its word, the place to write, and under it what the program reads."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QSizePolicy, QVBoxLayout, QWidget

from shopguide.job.text import Path
from shopguide.window.lettering import font_px, let_break
from shopguide.window.palette import Look
from shopguide.window.write_choice import WriteChoice
from shopguide.window.write_fields import Field
from shopguide.window.write_text import WriteText

YES_NO = ("no", "yes")
MANY_LINES = ("prose", "lines", "passes")


class WriteLine(QWidget):
    """`kept` hands on what was typed; a trouble stands under it with a bar beside it."""

    kept = Signal(object, str)
    """The path, and the text as typed."""
    came = Signal()
    onward = Signal(int)

    def __init__(
        self,
        field: Field,
        path: Path,
        look: Look,
        factor: float,
        tell: Callable[[Field, str], str] | None = None,
        names: Callable[[str], Sequence[str]] | None = None,
    ) -> None:
        """tell: what the program reads; names: the names there are, for a field that holds one."""
        super().__init__()
        self.field, self.path = field, path
        self._look, self._factor = look, factor
        self._tell, self._names = tell, names
        self.trouble = ""
        f = factor
        self.label = QLabel(field.word)
        self.label.setFont(font_px(18 * f))
        self._soften(self.label)
        self.label.setFixedWidth(round(128 * f))
        self.label.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.label.setContentsMargins(0, round(5 * f), 0, 0)
        self.entry: WriteText | WriteChoice
        if field.form in ("choice", "yes"):
            choices = YES_NO if field.form == "yes" else field.choices
            self.entry = WriteChoice(choices, look, f)
        else:
            self.entry = WriteText(look, f, lines=field.form in MANY_LINES, ruled=True)
            self.entry.setPlaceholderText(field.hint)
        self.entry.setAccessibleName(field.word)
        self.told = QLabel()
        self.told.setWordWrap(True)
        self.told.setMinimumWidth(1)
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setFont(font_px(18 * f))
        self._soften(self.told)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.told.setSizePolicy(policy)
        self.told.setContentsMargins(round(3 * f), 0, 0, 0)
        self.told.hide()
        right = QVBoxLayout()
        right.setSpacing(0)
        right.addWidget(self.entry)
        right.addWidget(self.told)
        row = QHBoxLayout(self)
        row.setContentsMargins(round(12 * f), round(2 * f), 0, round(2 * f))
        row.setSpacing(round(8 * f))
        row.addWidget(self.label)
        row.addLayout(right, 1)
        self.setFocusProxy(self.entry)
        self.entry.kept.connect(self._keep)
        self.entry.came.connect(self._come)
        self.entry.onward.connect(self.onward)

    def _soften(self, label: QLabel) -> None:
        palette = label.palette()
        palette.setColor(label.foregroundRole(), self._look.color("soft"))
        label.setPalette(palette)

    def _keep(self, text: str) -> None:
        if self.field.form == "yes":
            text = "" if text == "no" else text
        if self.field.form == "passes":
            self.kept.emit((*self.path, "one by one"), text)
        else:
            self.kept.emit(self.path, text)

    def _come(self) -> None:
        self.say()
        self.came.emit()

    def set_text(self, text: str) -> None:
        """Shows what the sheet holds, unless something else is being typed just now."""
        if not self.entry.is_pending:
            self.entry.set_text(text or ("no" if self.field.form == "yes" else ""))
        self.say()

    def set_trouble(self, trouble: str) -> None:
        """Marks what cannot be read, and says why; "" where all is well."""
        if trouble != self.trouble:
            self.trouble = trouble
            self.say()
            self.update()

    @property
    def text(self) -> str:
        """What stands in the entry."""
        held = self.entry
        return held.text if isinstance(held, WriteChoice) else held.toPlainText()

    def say(self) -> None:
        """Puts under the entry what the program makes of it."""
        said = self.trouble
        if not said and self._tell is not None:
            said = self._tell(self.field, self.text.strip())
        if said != self.told.text():
            self.told.setText(let_break(said))
            self.told.setVisible(bool(said))
            self.updateGeometry()
        self.entry.setAccessibleDescription(said or self.field.hint)

    def take_name(self, by: int) -> bool:
        """Writes the next name that there is into the entry; False where it holds no name."""
        if self._names is None or not self.field.names:
            return False
        known = list(self._names(self.field.names))
        if not known:
            return False
        now = self.text.strip()
        if now in known:
            chosen = known[(known.index(now) + by) % len(known)]
        else:
            fitting = [n for n in known if n.casefold().startswith(now.casefold())]
            chosen = (fitting or known)[0 if by > 0 else -1]
        self.entry.set_text(chosen)
        self.kept.emit(self.path, chosen)
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        ways = {Qt.Key.Key_PageDown: 1, Qt.Key.Key_PageUp: -1}
        way = ways.get(Qt.Key(event.key()))
        if way is None or not self.take_name(way):
            event.ignore()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.trouble:
            painter = QPainter(self)
            painter.fillRect(
                QRectF(0, 3 * self._factor, 4 * self._factor, self.height() - 6 * self._factor),
                self._look.color("ink"),
            )
