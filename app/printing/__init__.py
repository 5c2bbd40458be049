"""Reports on paper: pages painted by Qt, as PDF and for the print preview; works without a display.

The writer of files, with the library that it needs, is loaded only where a file is written:
`app.printing.pdf_writer`.
"""

from __future__ import annotations

from app.printing.application import ready_to_print
from app.printing.page_painter import PagePainter, page_painter

__all__ = ["PagePainter", "page_painter", "ready_to_print"]
