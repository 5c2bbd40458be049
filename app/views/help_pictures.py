"""Pictures of the help: one schematic tightening curve on which a point or a change is shown."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen, QPolygonF

from app.look import Look

FloatArray = NDArray[np.float64]

SIZE = QSize(460, 220)
#: The schematic curve in degrees and newton metres: made up, only its form matters.
_DRAWDOWN, _SNUG, _FINAL, _END = 360.0, 430.0, 520.0, 505.0
_PREVAILING, _TARGET = 6.0, 60.0
_SLOPE = (_TARGET - 14.0) / (_FINAL - _SNUG)


def _curve(
    *, slope: float = 1.0, early: float = 0.0, prevailing: float = _PREVAILING, yields: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Angle and torque of the schematic curve with one thing changed."""
    angle = np.linspace(0.0, 640.0, 1281)
    start, snug = _DRAWDOWN - early, _SNUG - early
    bend = np.clip((angle - start) / (snug - start), 0.0, 1.0)
    width = snug - start
    rise = _SLOPE * slope * (bend**2 * width / 2.0 + np.clip(angle - snug, 0.0, None))
    if yields:
        onset = snug + 55.0
        beyond = np.clip(angle - onset, 0.0, None)
        rise = np.where(
            angle > onset, _SLOPE * slope * (width / 2 + 55.0 + 14.0 * (1 - np.exp(-beyond / 14.0))), rise
        )
        stop = onset + 60.0
    else:
        stop = snug + (_TARGET - prevailing - _SLOPE * slope * width / 2.0) / (_SLOPE * slope)
    keep = angle <= stop
    return angle[keep], (prevailing + rise)[keep]


def picture(name: str, look: Look, ratio: float = 2.0) -> QImage | None:
    """The picture of a topic; None where it has none."""
    draw = _PICTURES.get(name)
    if draw is None and not name.startswith("cause "):
        return None
    image = QImage(SIZE * ratio, QImage.Format.Format_ARGB32_Premultiplied)
    image.setDevicePixelRatio(ratio)
    image.fill(QColor(look.background))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    sheet = _Sheet(painter, look)
    sheet.axes()
    (draw or (lambda s: _draw_cause(s, name.removeprefix("cause "))))(sheet)
    painter.end()
    return image


class _Sheet:
    """Draws in degrees and newton metres."""

    def __init__(self, painter: QPainter, look: Look) -> None:
        self.painter = painter
        self.look = look
        self.area = QRectF(36, 14, SIZE.width() - 52, SIZE.height() - 44)

    def at(self, angle: float, torque: float) -> QPointF:
        return QPointF(
            self.area.left() + self.area.width() * angle / 640.0,
            self.area.bottom() - self.area.height() * torque / 72.0,
        )

    def axes(self) -> None:
        self.painter.setPen(QPen(QColor(self.look.faint), 1))
        self.painter.drawLine(self.area.bottomLeft(), self.area.bottomRight())
        self.painter.drawLine(self.area.bottomLeft(), self.area.topLeft())
        self.words(QPointF(self.area.right() - 44, self.area.bottom() + 18), "angle", faint=True)
        self.words(QPointF(4, self.area.top() + 6), "torque", faint=True)

    def line(self, angle: FloatArray, torque: FloatArray, *, usual: bool = False) -> None:
        colour = QColor(self.look.crowd if usual else self.look.selected)
        style = Qt.PenStyle.DashLine if usual else Qt.PenStyle.SolidLine
        self.painter.setPen(QPen(colour, 1.4 if usual else 2.2, style))
        points = [self.at(a, t) for a, t in zip(angle.tolist(), torque.tolist(), strict=True)]
        self.painter.drawPolyline(QPolygonF(points))

    def mark(self, angle: float, torque: float, words: str, *, right: bool = False) -> None:
        centre = self.at(angle, torque)
        self.painter.setPen(QPen(QColor(self.look.focus), 2))
        self.painter.setBrush(QColor(self.look.background))
        self.painter.drawEllipse(centre, 4.5, 4.5)
        width = self.painter.fontMetrics().horizontalAdvance(words)
        self.words(centre + (QPointF(9, 4) if right else QPointF(-9 - width, -4)), words)

    def span(self, start: float, stop: float, torque: float, words: str) -> None:
        left, right = self.at(start, torque), self.at(stop, torque)
        self.painter.setPen(QPen(QColor(self.look.focus), 2))
        self.painter.drawLine(left, right)
        for end in (left, right):
            self.painter.drawLine(end + QPointF(0, -5), end + QPointF(0, 5))
        self.words(QPointF(left.x(), left.y() - 8), words)

    def straight(self, first: tuple[float, float], second: tuple[float, float]) -> None:
        self.painter.setPen(QPen(QColor(self.look.focus), 2, Qt.PenStyle.DashLine))
        self.painter.drawLine(self.at(*first), self.at(*second))

    def words(self, place: QPointF, text: str, *, faint: bool = False) -> None:
        self.painter.setPen(QColor(self.look.faint if faint else self.look.foreground))
        self.painter.drawText(place, text)


def _torque_at(curve: tuple[FloatArray, FloatArray], angle: float) -> float:
    return float(np.interp(angle, *curve))


def _with_curve(draw: Callable[[_Sheet, tuple[FloatArray, FloatArray]], None]) -> Callable[[_Sheet], None]:
    def both(sheet: _Sheet) -> None:
        curve = _curve()
        sheet.line(*curve)
        draw(sheet, curve)

    return both


def _draw_snug(sheet: _Sheet, curve: tuple[FloatArray, FloatArray]) -> None:
    _draw_slope(sheet, curve)
    snug = _SNUG - 0.2 * (_SNUG - _DRAWDOWN)
    sheet.mark(snug, _torque_at(curve, snug), "snug: slope reaches 0.80 of the elastic slope")


def _draw_slope(sheet: _Sheet, curve: tuple[FloatArray, FloatArray]) -> None:
    top = float(curve[0][-1])
    sheet.straight(
        (top - 85.0, float(curve[1][-1]) - 85.0 * _SLOPE), (top + 12.0, float(curve[1][-1]) + 12.0 * _SLOPE)
    )


def _draw_origin(sheet: _Sheet, curve: tuple[FloatArray, FloatArray]) -> None:
    top, torque = float(curve[0][-1]), float(curve[1][-1])
    origin = top - (torque - _PREVAILING) / _SLOPE
    sheet.straight((origin, _PREVAILING), (top, torque))
    sheet.straight((0.0, _PREVAILING), (top, _PREVAILING))
    sheet.mark(origin, _PREVAILING, "elastic origin")


def _draw_yield(sheet: _Sheet) -> None:
    curve = _curve(yields=True)
    sheet.line(*curve)
    onset = _SNUG + 55.0 + 14.0 * float(np.log(2.0))
    sheet.mark(onset, _torque_at(curve, onset), "yield onset: slope fallen to 0.50")


def _draw_cause(sheet: _Sheet, cause: str) -> None:
    """The usual curve dashed, the changed one solid."""
    sheet.line(*_curve(), usual=True)
    changed = _CHANGED.get(cause)
    curve = changed() if changed is not None else _curve()
    sheet.line(*curve)
    sheet.words(QPointF(sheet.area.left() + 12, sheet.area.top() + 12), "dashed: as usual")


def _rough(
    curve: tuple[FloatArray, FloatArray], from_deg: float, period_deg: float, height: float, saw: bool
) -> tuple[FloatArray, FloatArray]:
    angle, torque = curve
    phase = (angle - from_deg) / period_deg
    wave = (phase % 1.0) - 0.5 if saw else np.sin(2 * np.pi * phase) / 2.0
    return angle, torque + np.where(angle > from_deg, height * wave, 0.0)


def _cut(curve: tuple[FloatArray, FloatArray], start: float, stop: float) -> tuple[FloatArray, FloatArray]:
    keep = (curve[0] >= start) & (curve[0] <= stop)
    return curve[0][keep], curve[1][keep]


def _cross_thread() -> tuple[FloatArray, FloatArray]:
    angle = np.linspace(0.0, 300.0, 601)
    torque = 4.0 + 56.0 * (angle / 300.0) ** 1.4 + 3.0 * np.sin(angle / 13.0) * angle / 300.0
    return angle, torque


def _stripping() -> tuple[FloatArray, FloatArray]:
    angle, torque = _cut(_curve(), 0.0, 470.0)
    beyond = np.linspace(470.5, 560.0, 180)
    return np.concatenate([angle, beyond]), np.concatenate(
        [torque, torque[-1] - 12.0 * ((beyond - 470.0) / 90.0) ** 1.5]
    )


def _bottomed() -> tuple[FloatArray, FloatArray]:
    angle = np.linspace(0.0, 322.0, 645)
    return angle, _PREVAILING + np.where(angle > 310.0, (angle - 310.0) * 4.5, 0.0)


_CHANGED: dict[str, Callable[[], tuple[FloatArray, FloatArray]]] = {
    "low-friction": lambda: _curve(slope=0.65),
    "high-friction": lambda: _curve(slope=1.6, prevailing=8.0),
    "friction-or-stiffness": lambda: _curve(slope=0.7),
    "softer-joint": lambda: _curve(slope=0.6, early=40.0),
    "stiffer-joint": lambda: _curve(slope=1.7, early=-30.0),
    "seated-early": lambda: _curve(early=150.0),
    "seated-late": lambda: _curve(early=-90.0),
    "prevailing-missing": lambda: _curve(prevailing=0.5),
    "prevailing-high": lambda: _curve(prevailing=16.0),
    "cross-thread": _cross_thread,
    "thread-stripping": _stripping,
    "yielded": lambda: _curve(yields=True),
    "already-tight": lambda: (np.array([480.0, 482.0, 520.0]), np.array([0.0, 48.0, 60.0])),
    "galling": lambda: _rough(_curve(), _SNUG - 20.0, 14.0, 8.0, True),
    "drive-slip": lambda: _rough(_curve(slope=0.5), _DRAWDOWN, 60.0, 12.0, False),
    "bottomed-out": _bottomed,
    "incomplete-recording": lambda: _cut(_curve(), 0.0, 455.0),
}
_PICTURES: dict[str, Callable[[_Sheet], None]] = {
    "final": _with_curve(lambda s, c: s.mark(float(c[0][-1]), float(c[1][-1]), "final point")),
    "slope": _with_curve(_draw_slope),
    "snug": _with_curve(_draw_snug),
    "yield": _draw_yield,
    "drawdown": _with_curve(lambda s, c: s.mark(_DRAWDOWN, _torque_at(c, _DRAWDOWN), "drawdown start")),
    "prevailing": _with_curve(
        lambda s, c: s.span(_DRAWDOWN - 180.0, _DRAWDOWN, _PREVAILING + 6.0, "last half turn")
    ),
    "origin": _with_curve(_draw_origin),
    "rate": _with_curve(lambda s, c: s.span(_SNUG - 14.0, float(c[0][-1]), 66.0, "joint rate")),
}
