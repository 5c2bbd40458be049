"""A small picture of one trace, to see at a glance whether columns and units were understood."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from analysis.figure_text import figure
from analysis.traces import Trace
from app.display.look import Look
from app.display.messages import tr

#: Points that are drawn at most: more than a small picture has pixels across.
_MOST_POINTS = 2000
_MARGIN_PX = 8


class TrialPlot(QWidget):
    """Torque over angle, with the largest values in words."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.look = look
        self.trace: Trace | None = None
        self.setMinimumHeight(140)
        self.setAccessibleName(tr("Trial trace"))

    def show_trace(self, trace: Trace | None) -> None:
        """Show a trace, or that there is none."""
        self.trace = trace
        self.setAccessibleDescription(self.words())
        self.update()

    def words(self) -> str:
        """What was read, in figures that a person can check."""
        if self.trace is None or not len(self.trace):
            return tr("No trace can be read like this yet.")
        span = figure(float(np.ptp(self.trace.angle_deg)))
        top = figure(float(np.max(self.trace.torque_nm)))
        return tr(
            "{0}: {1} samples over {2} deg, highest torque {3} N·m",
            self.trace.trace_id,
            len(self.trace),
            span,
            top,
        )

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.background))
        painter.setPen(QColor(self.look.foreground))
        line = self.fontMetrics().height() + 4
        painter.drawText(
            QRectF(_MARGIN_PX, 2, self.width(), line), int(Qt.AlignmentFlag.AlignLeft), self.words()
        )
        if self.trace is None or len(self.trace) < 2:
            return
        step = max(1, len(self.trace) // _MOST_POINTS)
        angle, torque = self.trace.angle_deg[::step], self.trace.torque_nm[::step]
        good = np.isfinite(angle) & np.isfinite(torque)
        angle, torque = angle[good], torque[good]
        if not len(angle):
            return
        area = QRectF(_MARGIN_PX, line, self.width() - 2 * _MARGIN_PX, self.height() - line - _MARGIN_PX)
        x = area.left() + area.width() * (angle - angle.min()) / (np.ptp(angle) or 1.0)
        y = area.bottom() - area.height() * (torque - torque.min()) / (np.ptp(torque) or 1.0)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self.look.selected), 1.4))
        painter.drawPolyline(QPolygonF([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)]))
