"""Reports on paper: pages painted by Qt, as PDF and for the print preview; works without a display."""

from __future__ import annotations

from app.printing.application import ready_to_print
from app.printing.page_painter import PagePainter, page_painter
from app.printing.pdf_writer import PrintError, pdf_bytes, write_pdf

__all__ = ["PagePainter", "PrintError", "page_painter", "pdf_bytes", "ready_to_print", "write_pdf"]
