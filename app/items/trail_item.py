"""What the hand is drawing: a line, a box or a free stroke."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.items.scene_item import SceneItem


class TrailItem(SceneItem):
    """The stroke while it is drawn."""

    outline: NDArray[np.float64] | None = None

    def set_outline(self, outline: NDArray[np.float64] | None) -> None:
        """Show these points as one stroke, or nothing."""
        self.outline = outline
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        if self.outline is None:
            return
        stroke = QPolygonF([self.to_scene(float(x), float(y)) for x, y in self.outline])
        closed = len(self.outline) == 5 and bool((self.outline[0] == self.outline[-1]).all())
        tint = QColor(self.look.focus)
        tint.setAlphaF(0.12)
        painter.setBrush(tint if closed else Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self.look.focus), 1.6))
        if closed:
            painter.drawPolygon(stroke)
        else:
            painter.drawPolyline(stroke)
