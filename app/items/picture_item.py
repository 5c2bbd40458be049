"""Shows the coverage picture in plot coordinates; an older one is stretched until the exact one arrives."""

from __future__ import annotations

import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath
from PySide6.QtWidgets import QStyleOptionGraphicsItem, QWidget

from app.items.coverage import Picture

#: Two views count as the same when their edges agree to this share of a pixel.
_SAME_PX = 0.01


class PictureItem(pg.GraphicsObject):  # type: ignore[misc]
    """One exact picture of the present view over an overview of everything.

    The overview fills what the exact picture does not cover while the user pans or zooms out.
    """

    def __init__(self) -> None:
        super().__init__()
        self._exact: Picture | None = None
        self._overview: Picture | None = None

    @property
    def picture(self) -> Picture | None:
        """The picture that is shown."""
        return self._exact

    def show_picture(self, picture: Picture | None, *, is_overview: bool = False) -> None:
        """Replace the picture; keep it as the overview too where it shows everything."""
        self.prepareGeometryChange()
        self._exact = picture
        if picture is None or is_overview:
            self._overview = picture
        self.update()

    def forget_overview(self) -> None:
        """Drop the overview, because it shows other curves than the exact picture."""
        self._overview = None

    def boundingRect(self) -> QRectF:  # noqa: D102
        rect = QRectF()
        for picture in (self._overview, self._exact):
            if picture is not None:
                rect = rect.united(picture.request.view)
        return rect

    def paint(  # noqa: D102
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        if self._exact is None:
            return
        exact = self._exact.request.view
        if self._overview is not None and self._overview is not self._exact:
            painter.save()
            outside = QPainterPath()
            outside.addRect(self.boundingRect())
            hole = QPainterPath()
            hole.addRect(exact)
            painter.setClipPath(outside.subtracted(hole), Qt.ClipOperation.IntersectClip)
            painter.drawImage(self._overview.request.view, self._overview.image)
            painter.restore()
        if not self._draw_pixel_for_pixel(painter, self._exact):
            painter.drawImage(exact, self._exact.image)

    def _draw_pixel_for_pixel(self, painter: QPainter, picture: Picture) -> bool:
        """Copy the image straight to the pixels where it fits them; True where that was done.

        Scaling by a factor that is not quite one would drop or double a line of pixels here and there.
        """
        to_device = painter.deviceTransform()
        place = to_device.mapRect(picture.request.view)
        if (
            abs(place.width() - picture.image.width()) > _SAME_PX
            or abs(place.height() - picture.image.height()) > _SAME_PX
        ):
            return False
        painter.save()
        painter.resetTransform()
        ratio = painter.device().devicePixelRatioF()
        image = picture.image.flipped(Qt.Orientation.Vertical)
        image.setDevicePixelRatio(ratio)
        painter.drawImage(QPointF(round(place.left()) / ratio, round(place.top()) / ratio), image)
        painter.restore()
        return True
