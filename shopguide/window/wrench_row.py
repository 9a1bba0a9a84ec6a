"""One wrench on the wrench board: its name, what to set, the band, and what to mind."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from shopguide.torque.wrench import Setting
from shopguide.window.lettering import SIZES_PX, font_px, let_break
from shopguide.window.palette import Look


class WrenchRow(QWidget):
    """The one that serves best stands on a card with an ink bar at its left."""

    def __init__(
        self, name: str, figure: str, lines: tuple[str, ...], best: bool, look: Look, factor: float
    ) -> None:
        super().__init__()
        self.name, self.figure, self.lines, self.best = name, figure, lines, best
        self._look, self._factor = look, factor
        column = QVBoxLayout(self)
        f = factor
        column.setContentsMargins(round(22 * f), round(8 * f), round(14 * f), round(9 * f))
        column.setSpacing(round(1 * f))
        head = QHBoxLayout()
        head.setSpacing(round(16 * f))
        for text, size, weight in ((name, 22, "strong"), (figure, 29 if best else 22, "bold")):
            label = self._label(text, size, weight)
            if text is figure:
                label.setWordWrap(False)
                label.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            head.addWidget(label, 0 if text is figure else 1)
        column.addLayout(head)
        for line in lines:
            column.addWidget(self._label(line, SIZES_PX["text"], soft=True))
        self.setAccessibleName(f"{name}: {figure}. {' '.join(lines)}")

    def _label(self, text: str, size: float, weight: str = "regular", soft: bool = False) -> QLabel:
        label = QLabel(let_break(text))
        label.setWordWrap(True)
        label.setMinimumWidth(1)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setFont(font_px(size * self._factor, weight))  # type: ignore[arg-type]
        palette = label.palette()
        palette.setColor(label.foregroundRole(), self._look.color("soft" if soft else "ink"))
        label.setPalette(palette)
        return label

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        f, look = self._factor, self._look
        if self.best:
            painter.fillRect(self.rect(), look.color("card"))
            painter.fillRect(QRectF(0, 0, 8 * f, self.height()), look.color("ink"))
        thick = max(1.0, f)
        line = QRectF(0, self.height() - thick, self.width(), thick)
        painter.fillRect(line, look.color("hairline"))


def tell_setting(setting: Setting, best: Setting | None) -> tuple[str, tuple[str, ...]]:
    """The large figure of a wrench's row, and the lines under its name."""
    if setting.reach == "above its marks":
        return "too small", setting.warnings
    band = f"{setting.tell_band()} at the screw ({setting.deviation.tell()})."
    if setting.reach == "below its marks":
        return "too large", setting.warnings
    said = "Serves best: " if setting is best else "Reaches: "
    return f"set {setting.text}", (said + band, *setting.warnings)
