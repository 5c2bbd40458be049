"""The sheet on which pictures of the help are drawn, and the schematic curve that they share."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from analysis.arrays import FloatArray
from app.display.look import Look

SIZE = QSize(460, 220)
#: The schematic curve in degrees and newton metres: made up, only its form matters.
DRAWDOWN, SNUG, FINAL = 360.0, 430.0, 520.0
PREVAILING, TARGET = 6.0, 60.0
SLOPE = (TARGET - 14.0) / (FINAL - SNUG)


def schematic_curve(
    *, slope: float = 1.0, early: float = 0.0, prevailing: float = PREVAILING, yields: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Angle and torque of the schematic curve with one thing changed."""
    angle = np.linspace(0.0, 640.0, 1281)
    start, snug = DRAWDOWN - early, SNUG - early
    bend = np.clip((angle - start) / (snug - start), 0.0, 1.0)
    width = snug - start
    rise = SLOPE * slope * (bend**2 * width / 2.0 + np.clip(angle - snug, 0.0, None))
    if yields:
        onset = snug + 55.0
        beyond = np.clip(angle - onset, 0.0, None)
        rise = np.where(
            angle > onset, SLOPE * slope * (width / 2 + 55.0 + 14.0 * (1 - np.exp(-beyond / 14.0))), rise
        )
        stop = onset + 60.0
    else:
        stop = snug + (TARGET - prevailing - SLOPE * slope * width / 2.0) / (SLOPE * slope)
    keep = angle <= stop
    return angle[keep], (prevailing + rise)[keep]


class Sheet:
    """Draws in degrees and newton metres."""

    def __init__(self, painter: QPainter, look: Look) -> None:
        self.painter = painter
        self.look = look
        self.area = QRectF(36, 14, SIZE.width() - 52, SIZE.height() - 44)

    def at(self, angle: float, torque: float) -> QPointF:
        """Place of an angle and a torque on the sheet."""
        return QPointF(
            self.area.left() + self.area.width() * angle / 640.0,
            self.area.bottom() - self.area.height() * torque / 72.0,
        )

    def axes(self) -> None:
        """The two axes with their names."""
        self.painter.setPen(QPen(QColor(self.look.faint), 1))
        self.painter.drawLine(self.area.bottomLeft(), self.area.bottomRight())
        self.painter.drawLine(self.area.bottomLeft(), self.area.topLeft())
        self.words(QPointF(self.area.right() - 44, self.area.bottom() + 18), "angle", faint=True)
        self.words(QPointF(4, self.area.top() + 6), "torque", faint=True)

    def line(self, angle: FloatArray, torque: FloatArray, *, usual: bool = False) -> None:
        """A curve; dashed and faint where it is the usual one."""
        colour = QColor(self.look.crowd if usual else self.look.selected)
        style = Qt.PenStyle.DashLine if usual else Qt.PenStyle.SolidLine
        self.painter.setPen(QPen(colour, 1.4 if usual else 2.2, style))
        points = [self.at(a, t) for a, t in zip(angle.tolist(), torque.tolist(), strict=True)]
        self.painter.drawPolyline(QPolygonF(points))

    def mark(self, angle: float, torque: float, words: str, *, right: bool = False) -> None:
        """A ring at a point, with words beside it."""
        centre = self.at(angle, torque)
        self.painter.setPen(QPen(QColor(self.look.focus), 2))
        self.painter.setBrush(QColor(self.look.background))
        self.painter.drawEllipse(centre, 4.5, 4.5)
        width = self.painter.fontMetrics().horizontalAdvance(words)
        self.words(centre + (QPointF(9, 4) if right else QPointF(-9 - width, -4)), words)

    def span(self, start: float, stop: float, torque: float, words: str) -> None:
        """A stretch of angle, with words above it."""
        left, right = self.at(start, torque), self.at(stop, torque)
        self.painter.setPen(QPen(QColor(self.look.focus), 2))
        self.painter.drawLine(left, right)
        for end in (left, right):
            self.painter.drawLine(end + QPointF(0, -5), end + QPointF(0, 5))
        self.words(QPointF(left.x(), left.y() - 8), words)

    def straight(self, first: tuple[float, float], second: tuple[float, float]) -> None:
        """A dashed straight line."""
        self.painter.setPen(QPen(QColor(self.look.focus), 2, Qt.PenStyle.DashLine))
        self.painter.drawLine(self.at(*first), self.at(*second))

    def words(self, place: QPointF, text: str, *, faint: bool = False) -> None:
        """Words at a place."""
        self.painter.setPen(QColor(self.look.faint if faint else self.look.foreground))
        self.painter.drawText(place, text)


def torque_at(curve: tuple[FloatArray, FloatArray], angle: float) -> float:
    """Torque of a curve at an angle."""
    return float(np.interp(angle, *curve))
