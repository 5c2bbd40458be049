"""A small picture of one trace, to see at a glance whether columns and units were understood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from analysis.figure_text import figure
from analysis.report.ticks import padded_range, ticks
from analysis.traces import Trace
from analysis.traces.units import from_internal
from app.display.look import Look
from app.display.messages import tr

#: Points that are drawn at most: more than a small picture has pixels across.
_MOST_POINTS = 2000
_MARGIN_PX = 8
Numbers = Any


class TrialPlot(QWidget):
    """Torque over angle on axes with units, and the largest values in words."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.trace: Trace | None = None
        self.torque_unit = "N·m"
        self.setMinimumHeight(160)
        self.setAccessibleName(tr("Trial trace"))

    def show_trace(self, trace: Trace | None, torque_unit: str = "N·m") -> None:
        """Show a trace in the torque unit of its file, or that there is none."""
        self.trace, self.torque_unit = trace, torque_unit
        self.setAccessibleDescription(self.words())
        self.update()

    def words(self) -> str:
        """What was read, in figures that a person can check."""
        if self.trace is None or not len(self.trace):
            return tr("No trace can be read like this yet.")
        top = float(np.nanmax(self.trace.torque_nm))
        shown = f"{figure(from_internal(top, self.torque_unit))} {self.torque_unit}"
        if self.torque_unit != "N·m":
            shown += f" ({figure(top)} N·m)"
        return tr(
            "{0}: {1} samples over {2} deg, highest torque {3}",
            self.trace.trace_id,
            len(self.trace),
            figure(float(np.ptp(self.trace.angle_deg))),
            shown,
        )

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.background))
        painter.setPen(QColor(self.look.foreground))
        line = self.fontMetrics().height() + 4
        words = QRectF(_MARGIN_PX, 2, self.width() - 2 * _MARGIN_PX, line)
        painter.drawText(words, int(Qt.AlignmentFlag.AlignLeft), self.words())
        if self.trace is not None and len(self.trace) > 1:
            self._draw(painter, self.trace, line)

    def _draw(self, painter: QPainter, trace: Trace, line: float) -> None:
        torque = from_internal(1.0, self.torque_unit) * trace.torque_nm
        good = np.isfinite(trace.angle_deg) & np.isfinite(torque)
        if not good.any():
            return
        angle, torque = _thinned(trace.angle_deg[good], torque[good])
        x_range = padded_range(float(angle.min()), float(angle.max()), 0.0)
        y_range = padded_range(float(torque.min()), float(torque.max()))
        left = _MARGIN_PX + self.fontMetrics().horizontalAdvance("−0000.0")
        area = QRectF(left, 2.2 * line, self.width() - left - 2 * _MARGIN_PX, self.height() - 4.4 * line)
        if area.height() < 2 * line:
            return
        axes = _Axes(area, x_range, y_range)
        self._draw_axes(painter, axes, line)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self.look.selected), 1.4))
        points = zip(axes.x(angle).tolist(), axes.y(torque).tolist(), strict=True)
        painter.drawPolyline(QPolygonF([QPointF(a, b) for a, b in points]))

    def _draw_axes(self, painter: QPainter, axes: _Axes, line: float) -> None:
        area, align = axes.area, Qt.AlignmentFlag
        grid, faint = QPen(QColor(self.look.grid)), QPen(QColor(self.look.faint))
        wide = 10 * self.fontMetrics().averageCharWidth()
        for tick in ticks(*axes.x_range, max(2, int(area.width() // wide))):
            at = float(axes.x(tick.value))
            painter.setPen(grid)
            painter.drawLine(QPointF(at, area.top()), QPointF(at, area.bottom()))
            painter.setPen(faint)
            box = QRectF(at - wide / 2, area.bottom() + 2, wide, line)
            painter.drawText(box, int(align.AlignHCenter), tick.text)
        for tick in ticks(*axes.y_range, max(2, int(area.height() // (2 * line)))):
            at = float(axes.y(tick.value))
            painter.setPen(grid)
            painter.drawLine(QPointF(area.left(), at), QPointF(area.right(), at))
            painter.setPen(faint)
            box = QRectF(0, at - line / 2, area.left() - 4, line)
            painter.drawText(box, int(align.AlignRight | align.AlignVCenter), tick.text)
        painter.drawText(
            QRectF(area.left(), area.bottom() + line, area.width(), line),
            int(align.AlignHCenter),
            tr("Angle ({0})", "deg"),
        )
        unit = QRectF(_MARGIN_PX, line + 2, area.width(), line)
        painter.drawText(unit, int(align.AlignLeft), tr("Torque ({0})", self.torque_unit))


@dataclass(frozen=True)
class _Axes:
    """A rectangle on the screen, and what it stands for."""

    area: QRectF
    x_range: tuple[float, float]
    y_range: tuple[float, float]

    def x(self, angle: Numbers) -> Numbers:
        low, high = self.x_range
        return self.area.left() + self.area.width() * (angle - low) / (high - low)

    def y(self, torque: Numbers) -> Numbers:
        low, high = self.y_range
        return self.area.bottom() - self.area.height() * (torque - low) / (high - low)


def _thinned(angle: NDArray[np.float64], torque: NDArray[np.float64]) -> tuple[Numbers, Numbers]:
    """Lowest and highest torque of each stretch, in order: no peak is lost."""
    n = max(1, 2 * len(angle) // _MOST_POINTS)
    if n == 1:
        return angle, torque
    starts = range(0, len(angle), n)
    kept = [at + offset for at in starts for offset in _ends(torque[at : at + n])]
    return angle[kept], torque[kept]


def _ends(torque: NDArray[np.float64]) -> list[int]:
    return sorted({int(torque.argmin()), int(torque.argmax())})
