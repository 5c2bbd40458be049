"""Median and percentile band of two sets of curves, over the bundle of both."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.items.scene_item import SceneItem

#: Opacity of a band, and widths of a median: its line, the hue beside it, the rim around both (by eye).
_BAND_ALPHA, _LINE_PX, _HUE_PX, _RIM_PX = 0.22, 1.6, 5.0, 7.0


@dataclass(frozen=True, eq=False)
class SetBand:
    """One set: degrees from the point of alignment, N·m; NaN where too few of its curves reach."""

    x: NDArray[np.float64]
    low: NDArray[np.float64]
    median: NDArray[np.float64]
    high: NDArray[np.float64]
    colour: str
    dashed: bool


class SetBandsItem(SceneItem):
    """Bands below, medians above: in the colour of text between two strips of the set's hue, and a rim of
    paper.

    A median in the hue alone would drown in its own bundle.
    """

    bands: tuple[SetBand, ...] = ()

    def set_bands(self, bands: tuple[SetBand, ...]) -> None:
        """Show these."""
        self.bands = bands
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        for band in self.bands:
            known = np.flatnonzero(np.isfinite(band.low) & np.isfinite(band.high))
            outline = [self.to_scene(band.x[i], band.high[i]) for i in known]
            outline += [self.to_scene(band.x[i], band.low[i]) for i in known[::-1]]
            tint = QColor(band.colour)
            tint.setAlphaF(_BAND_ALPHA)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(tint)
            painter.drawPolygon(QPolygonF(outline))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for band in self.bands:
            known = np.flatnonzero(np.isfinite(band.median))
            line = QPolygonF([self.to_scene(band.x[i], band.median[i]) for i in known])
            style = Qt.PenStyle.DashLine if band.dashed else Qt.PenStyle.SolidLine
            for colour, width, stroke in (
                (self.look.background, _RIM_PX, Qt.PenStyle.SolidLine),
                (band.colour, _HUE_PX, Qt.PenStyle.SolidLine),
                (self.look.foreground, _LINE_PX, style),
            ):
                painter.setPen(QPen(QColor(colour), width, stroke, Qt.PenCapStyle.FlatCap))
                painter.drawPolyline(line)
