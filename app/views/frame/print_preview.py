"""The report of each joint as it will print: pages to leaf through, to print and to write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QScrollArea,
    QWidget,
)

from app.display.job_status import JobStatus
from app.display.messages import tr
from app.display.spacing import PLOT_WINDOW, PX_PER_POINT
from app.printing import PagePainter
from app.views.frame.bottom_line import PROGRESS_AFTER_MS
from app.views.parts.buttons import PushButton, closing
from app.views.parts.choices import named_choices
from app.views.parts.focus_frame import draw_focus_frame
from app.views.parts.layouts import column, row
from app.views.parts.plain_label import PlainLabel

_PAGE_MARGIN_PX = 14
_ZOOMS = (
    ("whole page", 0.0),
    ("page width", -1.0),
    ("75 %", 0.75),
    ("100 %", 1.0),
    ("150 %", 1.5),
    ("200 %", 2.0),
)


class PageView(QWidget):
    """One page on white paper."""

    leafed = Signal(int)

    def __init__(self, pages: PagePainter, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.pages = pages
        self.index = 0
        self.zoom = 0.0
        self.room = (600, 700)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(tr("Page"))

    def fit(self) -> None:
        """Take the size that the zoom asks for."""
        width, height = self.pages.page_size_pt
        fit_width = (self.room[0] - 2 * _PAGE_MARGIN_PX) / width
        fit_height = (self.room[1] - 2 * _PAGE_MARGIN_PX) / height
        scale = (
            self.zoom * PX_PER_POINT
            if self.zoom > 0
            else (fit_width if self.zoom < 0 else min(fit_width, fit_height))
        )
        self.scale = max(scale, 0.1)
        self.setFixedSize(
            max(round(width * self.scale) + 2 * _PAGE_MARGIN_PX, self.room[0]),
            round(height * self.scale) + 2 * _PAGE_MARGIN_PX,
        )
        self.update()

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Paper, shadow, page."""
        painter = QPainter(self)
        painter.setRenderHints(QPainter.RenderHint.Antialiasing | QPainter.RenderHint.TextAntialiasing)
        width, height = self.pages.page_size_pt
        left = (self.width() - width * self.scale) / 2.0
        paper = QRectF(left, _PAGE_MARGIN_PX, width * self.scale, height * self.scale)
        painter.fillRect(paper, QColor("#FFFFFF"))
        painter.translate(left, _PAGE_MARGIN_PX)
        painter.scale(self.scale, self.scale)
        painter.setClipRect(QRectF(0, 0, width, height))
        self.pages.paint(painter, self.index)
        painter.end()
        if self.hasFocus():
            draw_focus_frame(self, paper.toRect().adjusted(-3, -3, 3, 3))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Page keys leaf."""
        steps = {Qt.Key.Key_PageDown: 1, Qt.Key.Key_Right: 1, Qt.Key.Key_PageUp: -1, Qt.Key.Key_Left: -1}
        steps |= {Qt.Key.Key_Home: -self.pages.page_count, Qt.Key.Key_End: self.pages.page_count}
        if event.key() in steps:
            self.leafed.emit(steps[Qt.Key(event.key())])
        else:
            super().keyPressEvent(event)


class PrintPreview(QDialog):
    """Leaf, zoom, ask for a file; pages are painted when they are looked at.

    Parameters
    ----------
    suggested : callable
        From a file's name to the path that is offered for it.
    """

    write_wanted = Signal(object)  #: (Path)
    print_wanted = Signal(object)  #: (PrintOrder)
    stop_wanted = Signal(object)  #: (Path); None: of what is printed.

    def __init__(
        self,
        pages: PagePainter,
        parent: QWidget | None = None,
        *,
        suggested: Callable[[str], str] = str,
    ) -> None:
        super().__init__(parent)
        self._suggested = suggested
        #: The file that is being written; None where none is, or pages are printed.
        self._file: Path | None = None
        self.setWindowTitle(tr("Report"))
        self.resize(*PLOT_WINDOW)
        self.page = PageView(pages)
        self.frame = QScrollArea()
        self.frame.setWidget(self.page)
        self.frame.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.back = PushButton(tr("◀ Previous"), lambda: self.leaf(-1), tr("Page Up on the page"))
        self.ahead = PushButton(tr("Next ▶"), lambda: self.leaf(+1), tr("Page Down on the page"))
        self.pdf = PushButton(tr("Write PDF …"), self.ask_pdf, tr("The same pages as a file"))
        self.html = PushButton(
            tr("Write HTML …"), self.ask_html, tr("One file for a browser; curves tell their values")
        )
        self.xlsx = PushButton(
            tr("Write spreadsheet …"), self.ask_xlsx, tr("The tables, numbers as numbers; no pictures")
        )
        self.paper = PushButton(tr("Print …"), self.ask_print, tr("These pages, as they are seen here"))
        self.course = PlainLabel()
        self.course.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.stop = PushButton(tr("Stop"), lambda: self.stop_wanted.emit(self._file))
        self.stop.hide()
        self.place = PlainLabel()
        self.zoom = named_choices(tr("Zoom"), [(tr(words), value) for words, value in _ZOOMS])
        top = (
            self.back,
            self.place,
            self.ahead,
            self.zoom,
            None,
            self.paper,
            self.pdf,
            self.html,
            self.xlsx,
            closing(self),
        )
        column(row(*top), (self.frame, 1), row((self.course, 1), self.stop), on=self)
        self.page.leafed.connect(self.leaf)
        self.zoom.currentIndexChanged.connect(self._zoom)
        self._zoom()
        self.frame.installEventFilter(self)
        self.leaf(0)
        self.page.setFocus()

    def leaf(self, by: int) -> None:
        """Go to another page."""
        last = self.page.pages.page_count - 1
        self.page.index = min(max(self.page.index + by, 0), last)
        self.place.setText(tr("page {0} of {1}", self.page.index + 1, last + 1))
        self.back.setEnabled(self.page.index > 0)
        self.ahead.setEnabled(self.page.index < last)
        self.page.update()

    def _zoom(self) -> None:
        self.page.zoom = float(self.zoom.currentData())
        size = self.frame.maximumViewportSize()  # scroll bars that come and go would change it for ever
        self.page.room = (size.width(), size.height())
        self.page.fit()

    def ask_pdf(self) -> None:
        """Ask where to, and write."""
        self._ask(".pdf", "PDF")

    def ask_html(self) -> None:
        """Ask where to, and write."""
        self._ask(".html", "HTML")

    def ask_xlsx(self) -> None:
        """Ask where to, and write."""
        self._ask(".xlsx", tr("Spreadsheet"))

    def ask_print(self) -> None:
        """Ask for printer, pages and copies, and print."""
        from PySide6.QtPrintSupport import QPrintDialog

        from app.printing.paper import PrintOrder, new_printer

        pages = self.page.pages
        printer = new_printer(pages)
        dialog = QPrintDialog(printer, self)
        dialog.setOption(QPrintDialog.PrintDialogOption.PrintCurrentPage)
        dialog.setMinMax(1, pages.page_count)
        if dialog.exec():
            self._begin(None)
            self.print_wanted.emit(PrintOrder(pages, printer, self.page.index))

    def _ask(self, ending: str, kind: str) -> None:
        path, _ = QFileDialog.getSaveFileName(
            self, tr("Write the report"), self._suggested(f"report{ending}"), f"{kind} (*{ending})"
        )
        if path:
            self.write(Path(path).with_suffix(ending))

    def write(self, file: Path) -> None:
        """Have it written, by its ending; one file at a time."""
        self._begin(file)
        self.write_wanted.emit(file)

    def _begin(self, file: Path | None) -> None:
        self._file = file
        self._let_write(False)
        self.course.clear()

    def show_course(self, file: Path | None, status: JobStatus) -> None:
        """How far the file (None: the printing) is, where it takes so long that somebody waits."""
        if self._awaits(file) and status.running_for_s * 1000 >= PROGRESS_AFTER_MS:
            self.course.setText(status.text if file is None else tr("{0}: {1}", file.name, status.text))
            self.stop.show()

    def show_end(self, file: Path | None, words: str) -> None:
        """What became of the file, or of the printing."""
        if self._awaits(file):
            self._file = None
            self.course.setText(words)
            self.stop.hide()
            self._let_write(True)

    def _awaits(self, file: Path | None) -> bool:
        return file == self._file and not self.paper.isEnabled()

    def _let_write(self, allowed: bool) -> None:
        for button in (self.paper, self.pdf, self.html, self.xlsx):
            button.setEnabled(allowed)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Fitted pages stay fitted, whatever takes room from them."""
        if watched is self.frame and event.type() in (QEvent.Type.Resize, QEvent.Type.Show):
            self._zoom()
        return super().eventFilter(watched, event)
