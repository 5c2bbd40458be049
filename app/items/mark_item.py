"""The points of the selected curve: snug, yield, final and drawdown start, with labels and whiskers."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.display.look import Look
from app.items.scene_item import SceneItem, draw_plain_text

_RADIUS_PX = 4.5
_WHISKER_PX = 4.0
#: Distance of a label from its point.
_GAP_PX = 10.0


@dataclass(frozen=True)
class CurvePoint:
    """A named point.

    Attributes
    ----------
    name : str
    x, y : float
        Plot coordinates.
    x_uncertainty : float
        One standard uncertainty along x, the length of each whisker; NaN or 0 for none.
    text : str
        Label.
    """

    name: str
    x: float
    y: float
    x_uncertainty: float
    text: str


class MarksItem(SceneItem):
    """Points with labels to their upper left, where a rising curve leaves room; labels never overlap."""

    def __init__(self, look: Look, z: float) -> None:
        super().__init__(look, z)
        self.points: tuple[CurvePoint, ...] = ()

    def set_points(self, points: tuple[CurvePoint, ...]) -> None:
        """Show these."""
        self.points = points
        self.update()

    def label_places(self, area: QRectF) -> list[tuple[CurvePoint, QRectF]]:
        """Where each label stands, highest point first."""
        metrics = self.metrics()
        top = area.top() + metrics.height() + 24.0
        taken: list[tuple[CurvePoint, QRectF]] = []
        for point in sorted(self.points, key=lambda p: -p.y):
            at = self.to_scene(point.x, point.y)
            if not area.contains(at):
                continue
            width = metrics.horizontalAdvance(point.text) + 6.0
            left = at.x() - _GAP_PX - width
            if left < area.left() + 2:
                left = min(at.x() + _GAP_PX, area.right() - width - 2)
            place = QRectF(left, max(at.y() - _GAP_PX - metrics.height(), top), width, metrics.height())
            for _, other in taken:
                if place.intersects(other):
                    place.moveTop(other.bottom() + 2.0)
            if place.bottom() > area.bottom():
                place.moveBottom(area.bottom() - 2.0)
            taken.append((point, place))
        return taken

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        colour = QColor(self.look.foreground)
        for point in self.points:
            self._draw_whisker(painter, point, colour)
        for point, place in self.label_places(area):
            at = self.to_scene(point.x, point.y)
            nearest = QPointF(
                min(max(at.x(), place.left()), place.right()), min(max(at.y(), place.top()), place.bottom())
            )
            painter.setPen(QPen(colour, 0.8))
            painter.drawLine(at, nearest)
            draw_plain_text(
                painter,
                place,
                Qt.AlignmentFlag.AlignCenter,
                point.text,
                halo=self.look.background,
                colour=self.look.foreground,
            )
        for point in self.points:
            painter.setPen(QPen(colour, 1.6))
            painter.setBrush(QColor(self.look.background))
            painter.drawEllipse(self.to_scene(point.x, point.y), _RADIUS_PX, _RADIUS_PX)

    def _draw_whisker(self, painter: QPainter, point: CurvePoint, colour: QColor) -> None:
        if not point.x_uncertainty > 0.0:
            return
        left = self.to_scene(point.x - point.x_uncertainty, point.y)
        right = self.to_scene(point.x + point.x_uncertainty, point.y)
        painter.setPen(QPen(colour, 1.6))
        painter.drawLine(left, right)
        for end in (left, right):
            painter.drawLine(end - QPointF(0, _WHISKER_PX), end + QPointF(0, _WHISKER_PX))
