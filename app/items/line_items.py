"""Curves as lines: a few as vectors, the selected one bold with what was left out faint."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor

#: Widths in pixels: crowds one (wider pens are some twelve times slower), the selected curve bold.
CROWD_PX = 1.0
SELECTED_PX = 2.2
HALO_PX = 5.0


def crowd_item(z: float) -> pg.PlotCurveItem:
    """An item for several curves of one colour, separated by NaN."""
    item = pg.PlotCurveItem(connect="finite", skipFiniteCheck=False, antialias=True)
    item.setZValue(z)
    return item


def show_crowd(
    item: pg.PlotCurveItem, x: NDArray[np.float64], y: NDArray[np.float64], colour: str, alpha: float
) -> None:
    """Give the item its curves and colour."""
    shade = QColor(colour)
    shade.setAlphaF(alpha)
    item.setPen(pg.mkPen(shade, width=CROWD_PX))
    item.setData(x, y)


class SelectedCurve:
    """The selected curve: bold where it belongs to the tightening, dotted and faint where it was left out."""

    def __init__(self, box: pg.ViewBox, z: float) -> None:
        self.bold = pg.PlotCurveItem(connect="finite", antialias=True)
        self.faint = pg.PlotCurveItem(connect="finite", antialias=True)
        self.halo = pg.PlotCurveItem(connect="finite", antialias=False)
        self.halo.setZValue(z)
        self.faint.setZValue(z + 1)
        self.bold.setZValue(z + 2)
        # As single segments a broad smooth line takes a twentieth of the time that one path takes.
        self.bold.setSegmentedLineMode("on")
        self.halo.setSegmentedLineMode("on")
        for item in (self.halo, self.faint, self.bold):
            box.addItem(item, ignoreBounds=True)

    def set_colours(self, bold: str, faint: str, halo: str, density: float = 1.0) -> None:
        """Colours of the two parts, and of the rim that sets the curve off from others.

        `density` is how many pixels of a picture one of the screen's stands for: pens are as broad in both.
        """
        self.halo.setPen(pg.mkPen(halo, width=HALO_PX * density))
        self.bold.setPen(pg.mkPen(bold, width=SELECTED_PX * density))
        self.faint.setPen(pg.mkPen(faint, width=density, style=Qt.PenStyle.DashLine))

    def show(self, x: NDArray[np.float64], y: NDArray[np.floating], kept: NDArray[np.bool_]) -> None:
        """Draw one curve; `kept` marks the samples of the tightening curve."""
        values = np.asarray(y, np.float64)
        for item in (self.halo, self.bold):
            item.setData(x, np.where(kept, values, np.nan))
        beside = ~kept
        beside[1:] |= ~kept[:-1]
        beside[:-1] |= ~kept[1:]
        self.faint.setData(x, np.where(beside, values, np.nan))

    def clear(self) -> None:
        """Show nothing."""
        for item in (self.halo, self.bold, self.faint):
            item.setData(np.empty(0), np.empty(0))
