"""What a curve is compared with: the reference band with its median, and the joint's expected fan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from app.items.scene_item import SceneItem, draw_plain_text

#: Ink of the wedge behind the curves, width of its borders, room around their names (own choice, by eye).
_WEDGE_OPACITY, _EDGE_PX, _PAD_PX = 0.16, 1.8, 3.0


@dataclass(frozen=True, eq=False)
class ReferenceBand:
    """Percentile band of a reference set in plot coordinates of one alignment."""

    x: NDArray[np.float64]  #: Shape (n,). Degrees (or seconds) from the point of alignment, rising.
    #: Shape (n,). N·m; NaN where the reference has no curve.
    low: NDArray[np.float64]
    median: NDArray[np.float64]
    high: NDArray[np.float64]
    #: The alignment that it was made for; at others it is not drawn, because it would be wrong there.
    alignment: str
    label: str = ""  #: Such as "reference: 214 traces, 5-95 %".


@dataclass(frozen=True)
class ExpectedFan:
    """Slopes of the elastic zone that the joint's friction and stiffness lead to expect."""

    low_nm_per_deg: float
    high_nm_per_deg: float
    #: Torque at the fan's apex (prevailing torque) and the target torque.
    from_torque_nm: float
    to_torque_nm: float
    label: str = "expected"  #: For the legend.
    words: tuple[str, ...] = ()  #: Lines written at the end of the flattest line.

    def outline(self, apex_x: float) -> list[tuple[float, float]]:
        """The fan's corners from an apex at the elastic origin: steepest at target, flattest at target."""
        rise = self.to_torque_nm - self.from_torque_nm
        return [
            (apex_x, self.from_torque_nm),
            (apex_x + rise / self.high_nm_per_deg, self.to_torque_nm),
            (apex_x + rise / self.low_nm_per_deg, self.to_torque_nm),
        ]


class ReferenceItem(SceneItem):
    """A light band and its median."""

    band: ReferenceBand | None = None

    def set_band(self, band: ReferenceBand | None) -> None:
        """Show this, or nothing."""
        self.band = band
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        band = self.band
        if band is None:
            return
        known = np.isfinite(band.low) & np.isfinite(band.high)
        for part in np.split(np.flatnonzero(known), np.flatnonzero(np.diff(np.flatnonzero(known)) > 1) + 1):
            upper = [self.to_scene(band.x[i], band.high[i]) for i in part]
            lower = [self.to_scene(band.x[i], band.low[i]) for i in part[::-1]]
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(self.look.reference_band))
            painter.drawPolygon(QPolygonF(upper + lower))
        median = [self.to_scene(x, y) for x, y in zip(band.x, band.median, strict=True) if np.isfinite(y)]
        painter.setPen(QPen(QColor(self.look.reference_median), 1.4, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolyline(QPolygonF(median))


class FanItem(SceneItem):
    """The expected fan: a faint wedge behind the curves."""

    fan: ExpectedFan | None = None
    apex_x: float = 0.0

    def set_fan(self, fan: ExpectedFan | None, apex_x: float) -> None:
        """Show this with its apex at an abscissa, or nothing."""
        self.fan = fan
        self.apex_x = apex_x
        self.update()

    def corners(self) -> list[QPointF]:
        """Apex, end of the steepest and of the flattest line, in scene units; empty where there is no fan."""
        return [] if self.fan is None else [self.to_scene(x, y) for x, y in self.fan.outline(self.apex_x)]

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        wedge = QColor(self.look.reference_median)
        wedge.setAlphaF(_WEDGE_OPACITY)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(wedge)
        painter.drawPolygon(QPolygonF(self.corners()))


class FanEdgesItem(FanItem):
    """The fan's two borders and its words, over the crowd of curves, which would hide them."""

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        corners = self.corners()
        if self.fan is None or not corners:
            return
        painter.setPen(QPen(QColor(self.look.reference_median), _EDGE_PX, Qt.PenStyle.DotLine))
        for corner in corners[1:]:
            painter.drawLine(corners[0], corner)
        self._write(painter, corners[2], self.fan.words, area)

    def _write(self, painter: QPainter, end: QPointF, lines: tuple[str, ...], area: QRectF) -> None:
        """Right of a line's end, or as far right as the plot goes."""
        metrics = self.metrics()
        if not lines or not area.top() <= end.y() <= area.bottom():
            return
        width = max(metrics.horizontalAdvance(line) for line in lines) + 2.0 * _PAD_PX
        left = min(end.x() + _PAD_PX, area.right() - width)
        box = QRectF(left, end.y() + _PAD_PX, width, metrics.height() * len(lines))
        flags = int(Qt.AlignmentFlag.AlignCenter)
        draw_plain_text(
            painter,
            box,
            flags,
            "\n".join(lines),
            halo=self.look.background,
            colour=self.look.reference_median,
        )
