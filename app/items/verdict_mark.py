"""The mark of a verdict: its shape in its colour."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF

from analysis.catalogue.verdicts import VERDICT_OF


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
