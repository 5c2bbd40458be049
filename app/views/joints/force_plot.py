"""Measured clamp force over angle in the rise, with its own places and those of the torque curve."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from analysis.joint.force_zones import ForceZones
from analysis.report.ticks import ticks
from analysis.traces import Trace
from app.display.look import LIGHT, Look
from app.display.messages import tr

#: Room for the axes' figures and titles, px; height of the picture; ticks along each axis (own choice).
_LEFT_PX, _RIGHT_PX, _TOP_PX, _BOTTOM_PX, _HEIGHT_PX = 52, 10, 34, 36, 210
_X_TICKS, _Y_TICKS = 7, 4
#: Shown ahead of the rise, as a share of it (own choice).
_AHEAD = 0.35
#: Points that are drawn at most: more than the picture has pixels across.
_MOST_POINTS = 3000
_WORDS = ("rises", "straight", "leaves")


class ForcePlot(QWidget):
    """Solid lines: places by force; dotted lines: the points of the torque curve that belong to them."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look: Look = LIGHT
        self.zones: ForceZones | None = None
        self.angle_deg = self.force_kn = np.empty(0)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(tr("Measured clamp force over angle"))

    def sizeHint(self) -> QSize:
        """As wide as there is room."""
        return QSize(480, _HEIGHT_PX)

    def set_look(self, look: Look) -> None:
        """Other colours."""
        self.look = look
        self.update()

    def show_trace(self, trace: Trace | None, final_index: int, zones: ForceZones | None) -> None:
        """Show the measured force of a trace up to its final point, or nothing."""
        self.zones = None if trace is None or trace.clamp_force_kn is None else zones
        self.angle_deg = self.force_kn = np.empty(0)
        if self.zones is not None and trace is not None and trace.clamp_force_kn is not None:
            upto = slice(0, final_index + 1)
            angle, force = trace.angle_deg[upto], trace.clamp_force_kn[upto]
            kept = np.isfinite(angle) & np.isfinite(force)
            self.angle_deg, self.force_kn = angle[kept], force[kept]
        self.setVisible(self.zones is not None and len(self.angle_deg) > 1)
        self.setAccessibleDescription(self.words())
        self.update()

    def words(self) -> str:
        """What the picture shows."""
        return "" if self.zones is None else " ".join(place.sentence() for place in self.zones.places)

    def ranges(self) -> tuple[float, float, float, float]:
        """Angles and forces that are shown: the rise with a little of what is ahead."""
        assert self.zones is not None
        end = float(self.angle_deg.max())
        start = float(self.angle_deg.min())
        for place in (self.zones.rises, self.zones.straight):
            if place.angle_deg is not None:
                start = max(start, place.angle_deg - _AHEAD * (end - place.angle_deg))
                break
        low, top = min(0.0, float(self.force_kn.min())), 1.06 * float(self.force_kn.max())
        # A load cell that says nothing, or a recording of one place, still has axes.
        right = end + 0.04 * (end - start)
        return start, right if right > start else start + 1.0, low, top if top > low else low + 1.0

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw axes, force and places."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.background))
        if self.zones is None or len(self.angle_deg) < 2:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        x0, x1, y0, y1 = self.ranges()
        area = QRectF(
            _LEFT_PX, _TOP_PX, self.width() - _LEFT_PX - _RIGHT_PX, self.height() - _TOP_PX - _BOTTOM_PX
        )

        def at(angle: float, force: float) -> QPointF:
            return QPointF(
                area.left() + (angle - x0) / ((x1 - x0) or 1.0) * area.width(),
                area.bottom() - (force - y0) / ((y1 - y0) or 1.0) * area.height(),
            )

        self._draw_axes(painter, area, (x0, x1, y0, y1), at)
        painter.setClipRect(area)
        inside = np.flatnonzero((self.angle_deg >= x0) & (self.angle_deg <= x1))
        step = max(1, len(inside) // _MOST_POINTS)
        painter.setPen(QPen(QColor(self.look.selected), 1.6))
        painter.drawPolyline(
            QPolygonF([at(float(self.angle_deg[i]), float(self.force_kn[i])) for i in inside[::step]])
        )
        painter.setClipping(False)
        self._draw_places(painter, area, at, (x0, x1))

    def _draw_axes(
        self, painter: QPainter, area: QRectF, ranges: tuple[float, float, float, float], at: object
    ) -> None:
        x0, x1, y0, y1 = ranges
        assert callable(at)
        centre, beside = (
            Qt.AlignmentFlag.AlignCenter,
            Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
        )
        for tick in ticks(x0, x1, _X_TICKS):
            x = at(tick.value, y0).x()
            painter.setPen(QColor(self.look.grid))
            painter.drawLine(QPointF(x, area.top()), QPointF(x, area.bottom()))
            painter.setPen(QColor(self.look.foreground))
            painter.drawText(QRectF(x - 40, area.bottom() + 2, 80, 14), int(centre), tick.text)
        for tick in ticks(y0, y1, _Y_TICKS):
            y = at(x0, tick.value).y()
            painter.setPen(QColor(self.look.grid))
            painter.drawLine(QPointF(area.left(), y), QPointF(area.right(), y))
            painter.setPen(QColor(self.look.foreground))
            painter.drawText(QRectF(0, y - 8, _LEFT_PX - 5, 16), int(beside), tick.text)
        below = QRectF(area.left(), area.bottom() + 16, area.width(), 16)
        painter.drawText(below, int(centre), tr("Angle (deg)"))
        title = tr("Clamp force, measured (kN); solid: by force, dotted: by torque")
        painter.drawText(QRectF(4, 1, self.width() - 8, 15), int(Qt.AlignmentFlag.AlignLeft), title)

    def _draw_places(self, painter: QPainter, area: QRectF, at: object, span: tuple[float, float]) -> None:
        assert callable(at)
        assert self.zones is not None
        colour = QColor(self.look.focus)
        for word, place in zip(_WORDS, self.zones.places, strict=True):
            for angle, style in (
                (place.torque_angle_deg, Qt.PenStyle.DotLine),
                (place.angle_deg, Qt.PenStyle.SolidLine),
            ):
                if angle is None or not span[0] <= angle <= span[1]:
                    continue
                x = at(angle, 0.0).x()
                painter.setPen(QPen(colour, 1.6, style))
                painter.drawLine(QPointF(x, area.top()), QPointF(x, area.bottom()))
                if style == Qt.PenStyle.SolidLine:
                    painter.setPen(colour)
                    box = QRectF(x - 45, area.top() - 16, 90, 15)
                    painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), tr(word))
