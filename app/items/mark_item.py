"""The points of the selected curve: snug, yield, final and drawdown start, with labels and whiskers."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSizeF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from app.display.look import Look
from app.items.scene_item import SceneItem, draw_plain_text

_RADIUS_PX = 4.5
_WHISKER_PX = 4.0
#: Distance of a label from its point; room for the zones' names and grips at the top, below a line of text.
_GAP_PX, _NAMES_PX = 10.0, 24.0
#: Lines below its point that a label is moved to, where what is nearer is taken (own choice).
_LINES_FURTHER = 4


@dataclass(frozen=True)
class CurvePoint:
    """A named point."""

    name: str
    #: Plot coordinates.
    x: float
    y: float
    x_uncertainty: float  #: One standard uncertainty along x, the length of each whisker; NaN or 0 for none.
    text: str  #: Label.


def _places_beside(at: QPointF, size: QSizeF, area: QRectF) -> Iterator[QRectF]:
    """Places of a label, the best first: a rising curve leaves room above left, and below right."""
    line = size.height() + 2.0
    left, right = at.x() - _GAP_PX - size.width(), at.x() + _GAP_PX
    above = max(at.y() - _GAP_PX - size.height(), area.top() + size.height() + _NAMES_PX)
    below = [at.y() + _GAP_PX + further * line for further in range(_LINES_FURTHER)]
    higher = [above - further * line for further in range(1, _LINES_FURTHER)]
    places = [(left, above), *((right, y) for y in below), (right, above), *((left, y) for y in below)]
    for x, y in [*places, *((x, y) for y in higher for x in (left, right))]:
        x = max(min(x, area.right() - 2.0 - size.width()), area.left() + 2.0)
        yield QRectF(QPointF(x, min(y, area.bottom() - 2.0 - size.height())), size)


class MarksItem(SceneItem):
    """Points with labels to their upper left, where a rising curve leaves room, or where else it is free.

    Parameters
    ----------
    grips : callable
        What is drawn over the labels and must not hide them, in scene units.
    """

    def __init__(self, look: Look, z: float, grips: Callable[[], list[QRectF]] = list) -> None:
        super().__init__(look, z)
        self.points: tuple[CurvePoint, ...] = ()
        self._grips = grips

    def set_points(self, points: tuple[CurvePoint, ...]) -> None:
        """Show these."""
        self.points = points
        self.update()

    def label_places(self, area: QRectF) -> list[tuple[CurvePoint, QRectF]]:
        """Where each label stands, highest first: over no other, and where there is room over no point."""
        metrics = self.metrics()
        seen = [(point, self.to_scene(point.x, point.y)) for point in self.points]
        seen = [(point, at) for point, at in seen if area.contains(at)]
        reach = _RADIUS_PX + 1.0
        discs = [QRectF(at.x() - reach, at.y() - reach, 2.0 * reach, 2.0 * reach) for _, at in seen]
        taken: list[tuple[CurvePoint, QRectF]] = []
        grips = self._grips()
        for point, at in sorted(seen, key=lambda one: -one[0].y):
            size = QSizeF(metrics.horizontalAdvance(point.text) + 6.0, metrics.height())
            labels = [place for _, place in taken]
            full = [*labels, *discs, *grips]
            places = (one for one in _places_beside(at, size, area) if not any(map(one.intersects, full)))
            place = next(places, None) or next(_places_beside(at, size, area))
            for other in labels:
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
