"""Paints single pages: into the PDF, and into the print preview."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtGui import QImage, QPagedPaintDevice, QPainter

from analysis.errors import TautographError
from analysis.listener import NOBODY, Listener
from analysis.report.content import JointReport
from analysis.report.palette import FAINT, GRID
from app.printing.application import ready_to_print
from app.printing.ink import Ink, text_width
from app.printing.page_layout import MARGIN_BOTTOM, MARGIN_X, PagedDocument, lay_out
from app.printing.wrapping import wrap


class PrintError(TautographError):
    """A report could not be put on paper."""


class PagePainter:
    """Pages of reports, laid out once, painted as often as wanted, in any thread."""

    def __init__(self, reports: Sequence[JointReport], listener: Listener = NOBODY) -> None:
        ready_to_print()
        self.document: PagedDocument = lay_out(reports, listener)
        self._logo = QImage.fromData(self.document.head.logo_png) if self.document.head.logo_png else QImage()

    @property
    def page_count(self) -> int:
        """Number of pages."""
        return len(self.document.pages)

    @property
    def page_size_pt(self) -> tuple[float, float]:
        """Width and height of every page, points."""
        return self.document.size_pt

    def paint(self, painter: QPainter, index: int) -> None:
        """Paint page `index` (from 0) on a painter whose unit is a point and whose origin is the paper's
        corner.

        Raises
        ------
        IndexError
            Where there is no such page.
        """
        if not 0 <= index < self.page_count:
            raise IndexError(index)
        ink = Ink(painter)
        for placed in self.document.pages[index].placed:
            placed.piece.draw(ink, placed.x, placed.y)
        self._paint_head(ink, index)
        self._paint_foot(ink, index)

    def paint_all(
        self,
        device: QPagedPaintDevice,
        pages: Sequence[int],
        units_per_pt: float,
        listener: Listener = NOBODY,
    ) -> None:
        """Paint pages (from 0) one after the other; the listener hears of each.

        Raises
        ------
        PrintError
            Where Qt cannot paint on the device, or turn its page.
        CancelledError
            Where the listener no longer wants it.
        """
        painter = QPainter()
        if not painter.begin(device):
            raise PrintError("the pages could not be painted; look after the printer, or free some memory")
        try:
            for place, index in enumerate(pages):
                listener(place, len(pages), f"page {place + 1} of {len(pages)}")
                if place and not device.newPage():
                    raise PrintError(f"page {place + 1} could not be begun; look after the printer")
                painter.save()
                painter.scale(units_per_pt, units_per_pt)
                self.paint(painter, index)
                painter.restore()
        finally:
            painter.end()

    def _paint_head(self, ink: Ink, index: int) -> None:
        width, _ = self.document.size_pt
        report = self.document.pages[index].report
        left, right = MARGIN_X, width - MARGIN_X
        if not self._logo.isNull():
            height = 24.0
            shown = min(height * self._logo.width() / max(self._logo.height(), 1), 120.0)
            ink.picture(left, 18.0, shown, height, self._logo)
            left += shown + 8.0
        room = (right - left) * 0.6
        ink.text(left, 36.0, wrap(report.title, room, 8.5, True)[0], 8.5, bold=True)
        ink.text(right, 36.0, report.head.organisation, 8.0, align="right", colour=FAINT)
        ink.line(MARGIN_X, 46.0, right, 46.0, GRID, width_pt=0.5)

    def _paint_foot(self, ink: Ink, index: int) -> None:
        width, height = self.document.size_pt
        head = self.document.pages[index].report.head
        base, right = height - MARGIN_BOTTOM + 22.0, width - MARGIN_X
        ink.line(MARGIN_X, base - 10.0, right, base - 10.0, GRID, width_pt=0.5)
        ink.text(MARGIN_X, base, f"Tautograph {head.version} · {head.made_at_text}", 7.0, colour=FAINT)
        page = f"page {index + 1} of {self.page_count}"
        ink.text(right, base, page, 7.0, align="right", colour=FAINT)
        if head.footer:
            room = (right - MARGIN_X) - 2 * (text_width(page, 7.0) + 130.0)
            text = wrap(head.footer, max(room, 80.0), 7.0)[0]
            ink.text((MARGIN_X + right) / 2, base, text, 7.0, align="centre", colour=FAINT)


def page_painter(reports: Sequence[JointReport]) -> PagePainter:
    """Lay reports out and give what paints them; shared by the PDF and the print preview.

    Raises
    ------
    ValueError
        Where there is no report.
    """
    return PagePainter(reports)
