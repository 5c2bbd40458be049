"""Pages on a printer of the system, as its dialog asks for them."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QMarginsF, QSizeF
from PySide6.QtGui import QPageLayout, QPageSize
from PySide6.QtPrintSupport import QPrinter

from analysis.listener import NOBODY, Listener
from app.printing.page_painter import PagePainter

_POINTS_PER_INCH = 72.0


@dataclass(frozen=True, eq=False)
class PrintOrder:
    """Pages, the printer as its dialog left it, and the page that was looked at (from 0)."""

    pages: PagePainter
    printer: QPrinter
    current: int

    def sheets(self) -> list[int]:
        """Pages (from 0) as they are to be painted one after the other, with copies that Qt leaves to us."""
        printer = self.printer
        wanted = list(range(self.pages.page_count))
        if printer.printRange() is QPrinter.PrintRange.CurrentPage:
            wanted = [self.current]
        elif printer.fromPage():
            wanted = wanted[printer.fromPage() - 1 : printer.toPage() or None]
        if printer.pageOrder() is QPrinter.PageOrder.LastPageFirst:
            wanted.reverse()
        copies = 1 if printer.supportsMultipleCopies() else printer.copyCount()
        return wanted * copies if printer.collateCopies() else [one for one in wanted for _ in range(copies)]

    @property
    def where(self) -> str:
        """The printer, or the file that stands for it."""
        return self.printer.outputFileName() or self.printer.printerName()


def new_printer(pages: PagePainter) -> QPrinter:
    """A printer asked for paper of the pages' own size, up to its edges: pages bring their margins."""
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    size = QPageSize(QSizeF(*pages.page_size_pt), QPageSize.Unit.Point)
    printer.setPageLayout(QPageLayout(size, QPageLayout.Orientation.Portrait, QMarginsF(0, 0, 0, 0)))
    printer.setFullPage(True)
    printer.setDocName("Tautograph")
    return printer


def put_on_paper(order: PrintOrder, listener: Listener = NOBODY) -> int:
    """Paint what is ordered, in any thread; on other paper pages are scaled to fit. Gives the sheets.

    Raises
    ------
    PrintError
        Where the printer does not take it.
    CancelledError
        Where the listener no longer wants it; what was painted so far may be printed.
    """
    printer, sheets = order.printer, order.sheets()
    paper = printer.pageLayout().fullRectPoints()
    width, height = order.pages.page_size_pt
    fitted = min(1.0, paper.width() / width, paper.height() / height)
    order.pages.paint_all(printer, sheets, fitted * printer.resolution() / _POINTS_PER_INCH, listener)
    return len(sheets)
