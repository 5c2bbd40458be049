"""What an estimate was read from: the stretch of the curve and the line laid through it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.items.scene_item import SceneItem, draw_plain_text


@dataclass(frozen=True, eq=False)
class DrawnEvidence:
    """One estimate's evidence in plot coordinates."""

    title: str
    stretch: NDArray[np.float64]  #: Shape (n, 2). The samples that were used; may be empty.
    line: NDArray[np.float64]  #: Shape (m, 2). The line that was laid; may be empty.


class EvidenceItem(SceneItem):
    """Stretches as a broad translucent stroke along the curve, lines dashed, each with its title."""

    pieces: tuple[DrawnEvidence, ...] = ()

    def set_evidence(self, pieces: tuple[DrawnEvidence, ...]) -> None:
        """Show these."""
        self.pieces = pieces
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        stroke = QColor(self.look.focus)
        stroke.setAlphaF(0.35)
        taken: list[QRectF] = []
        for piece in self.pieces:
            broad = QPen(stroke, 9.0)
            broad.setCapStyle(Qt.PenCapStyle.FlatCap)
            painter.setPen(broad)
            painter.drawPolyline(self._polygon(piece.stretch))
            painter.setPen(QPen(QColor(self.look.focus), 1.4, Qt.PenStyle.DashLine))
            painter.drawPolyline(self._polygon(piece.line))
            self._draw_title(painter, area, piece, taken)

    def _polygon(self, points: NDArray[np.float64]) -> QPolygonF:
        return QPolygonF([self.to_scene(float(x), float(y)) for x, y in points if np.isfinite(x + y)])

    def _draw_title(self, painter: QPainter, area: QRectF, piece: DrawnEvidence, taken: list[QRectF]) -> None:
        points = piece.stretch if len(piece.stretch) else piece.line
        if not len(points):
            return
        at: QPointF = self.to_scene(*(float(v) for v in points[len(points) // 2]))
        if not area.contains(at):
            return
        metrics = self.metrics()
        width = metrics.horizontalAdvance(piece.title) + 6.0
        place = QRectF(at.x() + 14, at.y() + 8, width, metrics.height())
        place.moveRight(min(place.right(), area.right() - 2))
        place.moveBottom(min(place.bottom(), area.bottom() - 2))
        for other in taken:
            if place.intersects(other):
                place.moveTop(other.bottom() + 2)
        taken.append(place)
        draw_plain_text(
            painter,
            place,
            Qt.AlignmentFlag.AlignCenter,
            piece.title,
            halo=self.look.background,
            colour=self.look.focus,
        )
