"""The mark of a verdict: its shape in its colour."""

from __future__ import annotations

import math
from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QImage, QPainter, QPen, QPolygonF

from analysis.catalogue.verdicts import VERDICT_OF

#: Room that an image of a mark has around it: half of its line is outside.
MARK_RIM_PX = 1.0


@lru_cache(maxsize=64)
def mark_image(verdict: str, size: float, density: float) -> QImage:
    """The mark with `MARK_RIM_PX` around it, drawn once: a copy takes a tenth of drawing its smooth edges.

    `density` is how many pixels of a picture one of the screen's stands for.
    """
    side = math.ceil((size + 2.0 * MARK_RIM_PX) * density)
    image = QImage(side, side, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(density)
    image.fill(0)
    painter = QPainter(image)
    middle = MARK_RIM_PX + size / 2.0
    draw_mark(painter, verdict, QPointF(middle, middle), size)
    painter.end()
    return image


def draw_mark(painter: QPainter, verdict: str, centre: QPointF, size: float) -> None:
    """The verdict's shape in its colour, centred."""
    mark = VERDICT_OF[verdict]
    half = size / 2.0
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    colour = QColor(mark.colour)
    painter.setPen(QPen(colour, 1.6))
    # "not evaluated" is hollow: nothing is known, nothing is filled.
    painter.setBrush(Qt.BrushStyle.NoBrush if mark.shape == "diamond" else QBrush(colour))
    x, y = centre.x(), centre.y()
    if mark.shape == "circle":
        painter.drawEllipse(centre, half - 1, half - 1)
    elif mark.shape == "square":
        painter.drawRect(QRectF(x - half + 1, y - half + 1, size - 2, size - 2))
    else:
        below = y + half - 1
        corners = (
            [QPointF(x, y - half + 0.5), QPointF(x + half, below), QPointF(x - half, below)]
            if mark.shape == "triangle"
            else [QPointF(x, y - half), QPointF(x + half, y), QPointF(x, y + half), QPointF(x - half, y)]
        )
        painter.drawPolygon(QPolygonF(corners))
    painter.restore()
