"""The zones of the selected curve: light bands behind, their names and the edges' grips in front."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.display.look import Look
from app.items.plot_box import Grip, PlotBox
from app.items.scene_item import SceneItem

#: Grips of the edges, pixels: wide enough for a trembling hand, low enough not to hide curves (own choice).
GRIP_WIDTH_PX = 14.0
GRIP_HEIGHT_PX = 16.0
_NAME_MARGIN_PX = 4.0


@dataclass(frozen=True)
class Band:
    """One zone between two abscissas of the plot."""

    name: str
    start: float
    stop: float


@dataclass(frozen=True)
class Edge:
    """A border between two zones that can be moved: ``snug``, ``yield`` or ``drawdown``."""

    name: str
    x: float


class ZoneBandsItem(SceneItem):
    """Light bands, behind everything."""

    def __init__(self, look: Look, z: float) -> None:
        super().__init__(look, z)
        self.bands: tuple[Band, ...] = ()

    def set_bands(self, bands: tuple[Band, ...]) -> None:
        """Show these."""
        self.bands = bands
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        for band in self.bands:
            left = self.to_scene(band.start, 0.0).x()
            right = self.to_scene(band.stop, 0.0).x()
            rect = QRectF(left, area.top(), right - left, area.height()).intersected(area)
            painter.fillRect(rect, QColor(self.look.zone_tints[band.name]))


class ZoneNamesItem(SceneItem):
    """Names along the top edge, and the edges with their grips."""

    def __init__(self, look: Look, z: float) -> None:
        super().__init__(look, z)
        self.bands: tuple[Band, ...] = ()
        self.edges: tuple[Edge, ...] = ()
        self.held: Edge | None = None

    def set_zones(self, bands: tuple[Band, ...], edges: tuple[Edge, ...]) -> None:
        """Show these."""
        self.bands = bands
        self.edges = edges
        self.held = None
        self.update()

    def hold(self, edge: Edge | None) -> None:
        """Show an edge while it is dragged."""
        self.held = edge
        self.update()

    def grip_rect(self, x: float) -> QRectF | None:
        """The grip of an edge at this abscissa, None outside the view."""
        area = self.area()
        at = self.to_scene(x, 0.0).x()
        if not area.left() <= at <= area.right():
            return None
        top = area.top() + self.metrics().height() + _NAME_MARGIN_PX
        return QRectF(at - GRIP_WIDTH_PX / 2, top, GRIP_WIDTH_PX, GRIP_HEIGHT_PX)

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        height = self.metrics().height()
        painter.setPen(QColor(self.look.faint))
        for band in self.bands:
            left = max(self.to_scene(band.start, 0.0).x(), area.left())
            right = min(self.to_scene(band.stop, 0.0).x(), area.right())
            needed = self.metrics().horizontalAdvance(band.name) + 2 * _NAME_MARGIN_PX
            if right - left >= needed:
                place = QRectF(left, area.top() + 1, right - left, height)
                painter.drawText(place, Qt.AlignmentFlag.AlignCenter, band.name)
        for edge in self.edges:
            held = self.held is not None and self.held.name == edge.name
            self._draw_edge(painter, area, self.held if held and self.held else edge, held)

    def _draw_edge(self, painter: QPainter, area: QRectF, edge: Edge, held: bool) -> None:
        grip = self.grip_rect(edge.x)
        if grip is None:
            return
        colour = QColor(self.look.focus if held else self.look.faint)
        at = grip.center().x()
        pen = QPen(colour, 1.0, Qt.PenStyle.SolidLine if held else Qt.PenStyle.DotLine)
        painter.setPen(pen)
        painter.drawLine(QPointF(at, grip.bottom()), QPointF(at, area.bottom()))
        tip = QPolygonF(
            [
                grip.topLeft(),
                grip.topRight(),
                QPointF(grip.right(), grip.center().y()),
                QPointF(at, grip.bottom()),
                QPointF(grip.left(), grip.center().y()),
            ]
        )
        painter.setPen(QPen(colour, 1.2))
        painter.setBrush(QColor(self.look.panel))
        painter.drawPolygon(tip)
        for offset in (-2.0, 2.0):
            painter.drawLine(QPointF(at + offset, grip.top() + 3), QPointF(at + offset, grip.center().y()))


def edge_grip(
    name: str,
    item: ZoneNamesItem,
    snap: Callable[[float], float],
    moved: Callable[[str, float], None],
) -> Grip:
    """The grip that drags one edge: snaps while moving, tells the new abscissa when let go."""

    def place() -> QRectF | None:
        edge = next((e for e in item.edges if e.name == name), None)
        return None if edge is None else item.grip_rect(edge.x)

    def drag(x: float, _: float) -> None:
        item.hold(Edge(name, snap(x)))

    def drop() -> None:
        held = item.held
        item.hold(None)
        if held is not None:
            moved(name, held.x)

    return Grip(f"{name} edge", place, drag, drop, lambda: item.hold(None))


def add_zone_items(
    box: PlotBox, look: Look, behind: float, front: float
) -> tuple[ZoneBandsItem, ZoneNamesItem]:
    """Both items, added to the box."""
    bands, names = ZoneBandsItem(look, behind), ZoneNamesItem(look, front)
    for item in (bands, names):
        box.addItem(item, ignoreBounds=True)
    return bands, names
