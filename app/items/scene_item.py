"""Base of the overlays that stand in plot coordinates but are drawn in screen units: text, marks, handles."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QTransform
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

if TYPE_CHECKING:
    from app.display.look import Look


class SceneItem(pg.GraphicsObject):  # type: ignore[misc]
    """An overlay over the whole plot area, painted in scene units (one unit = one screen pixel at scale 1).

    Drawing in scene units rather than device pixels keeps sizes and places right when the scene is rendered
    into a picture or a page at another scale.
    """

    def __init__(self, look: Look, z: float) -> None:
        super().__init__()
        self.look = look
        self.setZValue(z)

    def set_look(self, look: Look) -> None:
        """Take other colours."""
        self.look = look
        self.update()

    def view_rect(self) -> QRectF:
        """What is seen, in plot coordinates; empty where the item is in no plot."""
        box = self.getViewBox()
        return QRectF() if box is None else cast(QRectF, box.viewRect())

    def to_scene(self, x: float, y: float) -> QPointF:
        """A plot point in scene units."""
        return cast(QPointF, self.mapToScene(QPointF(x, y)))

    def area(self) -> QRectF:
        """The plot area in scene units."""
        return cast(QRectF, self.mapRectToScene(self.view_rect())).normalized()

    def font(self, *, bold: bool = False) -> QFont:
        """The plot's font."""
        view = self.getViewWidget()
        font = QFont(view.font()) if view is not None else QFont()
        font.setBold(bold)
        return font

    def metrics(self, *, bold: bool = False) -> QFontMetricsF:
        """Metrics of `font`."""
        return QFontMetricsF(self.font(bold=bold))

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:
        """Draw in scene units; `area` is the plot area, and clips."""
        raise NotImplementedError

    def boundingRect(self) -> QRectF:  # noqa: D102
        return self.view_rect()

    def viewTransformChanged(self) -> None:  # noqa: D102
        self.prepareGeometryChange()

    def paint(  # noqa: D102
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        area = self.area()
        if area.isEmpty():
            return
        scene_to_item, possible = self.sceneTransform().inverted()
        if not possible:
            return
        painter.save()
        painter.setWorldTransform(cast(QTransform, scene_to_item * painter.worldTransform()))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.font())
        self.paint_scene(painter, area)
        painter.restore()


def draw_plain_text(painter: QPainter, at: QRectF, flags: int, text: str, *, halo: str, colour: str) -> None:
    """Text on a translucent ground, so that it can be read over curves."""
    from PySide6.QtGui import QColor

    ground = QColor(halo)
    ground.setAlphaF(0.82)
    painter.fillRect(at, ground)
    painter.setPen(QColor(colour))
    painter.drawText(at, flags, text)
