"""The paper inside the window: the PDF as it will be handed over, page by page."""

from __future__ import annotations

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QMargins, QPointF, Qt
from PySide6.QtPdf import QPdfDocument
from PySide6.QtPdfWidgets import QPdfView
from PySide6.QtWidgets import QLabel, QStackedLayout, QWidget

from shopguide.window.lettering import SIZES_PX, font_px
from shopguide.window.palette import Look


class PaperView(QWidget):
    """Shows PDF bytes fitted to its width; words in their place while there are none."""

    def __init__(self, look: Look, factor: float = 1.0) -> None:
        super().__init__()
        self.document = QPdfDocument(self)
        self.view = QPdfView(self)
        self.view.setPageMode(QPdfView.PageMode.MultiPage)
        self.view.setZoomMode(QPdfView.ZoomMode.FitToWidth)
        self.view.setDocument(self.document)
        self.view.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.view.setFrameShape(QPdfView.Shape.NoFrame)
        self.view.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.view.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.view.setDocumentMargins(QMargins(1, 1, 1, 1))
        self.view.setPageSpacing(12)
        self.view.setAccessibleName("The paper")
        self.words = QLabel("The paper is being made")
        self.words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._layout = QStackedLayout(self)
        self._layout.addWidget(self.words)
        self._layout.addWidget(self.view)
        self._buffer: QBuffer | None = None
        self._bytes: QByteArray | None = None
        self.set_look(look, factor)

    def set_look(self, look: Look, factor: float) -> None:
        """Takes another look or size."""
        self.words.setFont(font_px(SIZES_PX["text"] * factor))
        palette = self.view.palette()
        for role in (palette.ColorRole.Dark, palette.ColorRole.Window, palette.ColorRole.Base):
            palette.setColor(role, look.color("hairline"))
        self.view.setPalette(palette)
        self.view.setBackgroundRole(palette.ColorRole.Window)

    def show_pdf(self, data: bytes) -> bool:
        """Shows a PDF; False where it cannot be read. Stays on the page that was looked at."""
        page = self.view.pageNavigator().currentPage()
        self.document.close()
        # Both must outlive the document's use of them.
        self._bytes = QByteArray(data)
        self._buffer = QBuffer(self._bytes, self)
        self._buffer.open(QIODevice.OpenModeFlag.ReadOnly)
        self.document.load(self._buffer)
        good = self.document.status() == QPdfDocument.Status.Ready
        if good:
            self._layout.setCurrentWidget(self.view)
            if 0 < page < self.document.pageCount():
                self.view.pageNavigator().jump(page, QPointF(), 0)
        else:
            self.tell("The paper cannot be shown.")
        return good

    def tell(self, text: str) -> None:
        """Words in place of the paper."""
        self.words.setText(text)
        self._layout.setCurrentWidget(self.words)

    def turn(self, by: int) -> None:
        """Goes to the next or previous page."""
        navigator = self.view.pageNavigator()
        to = min(max(navigator.currentPage() + by, 0), max(0, self.document.pageCount() - 1))
        navigator.jump(to, QPointF(), 0)
