"""Distances and sizes of the window and of those beside it, declared once (own choice, logical px)."""

from __future__ import annotations

from typing import Final

#: From a line to the next of one block; within a control.
TIGHT_PX: Final = 4
#: Between the parts of a row or a column.
GAP_PX: Final = 6
#: From the rim of a window, an area or a line of it to what stands in it.
EDGE_PX: Final = 8
#: Between groups that have nothing to do with each other.
BREAK_PX: Final = 14

Margins = tuple[int, int, int, int]
NO_MARGINS: Final[Margins] = (0, 0, 0, 0)
#: Of a window that stands beside.
WINDOW_MARGINS: Final[Margins] = (EDGE_PX, EDGE_PX, EDGE_PX, EDGE_PX)
#: Of a line in an area: text begins where the area's title does.
LINE_MARGINS: Final[Margins] = (EDGE_PX, 2, EDGE_PX, 2)
#: Of a block in an area.
BLOCK_MARGINS: Final[Margins] = (EDGE_PX, TIGHT_PX, EDGE_PX, TIGHT_PX)

#: Sizes in which windows beside open: one question; text to read; text beside a plot; tables beside plots.
SMALL_WINDOW: Final = (760, 420)
TEXT_WINDOW: Final = (840, 600)
PLOT_WINDOW: Final = (1040, 700)
WIDE_WINDOW: Final = (1240, 700)
#: Pixels of a screen per point of a page at 100 %: 96 dots per inch over 72 points per inch.
PX_PER_POINT = 96.0 / 72.0
