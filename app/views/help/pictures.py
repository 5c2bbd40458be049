"""Pictures of the help: one schematic tightening curve on which a point or a change is shown."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor, QImage, QPainter

from analysis.arrays import FloatArray
from app.display.look import Look
from app.views.help.method_pictures import family_of_bends
from app.views.help.rule_pictures import RULE_PICTURES
from app.views.help.sheet import DRAWDOWN, PREVAILING, SIZE, SLOPE, SNUG, Sheet, schematic_curve, torque_at


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
    sheet = Sheet(painter, look)
    sheet.axes()
    (draw or (lambda s: _draw_cause(s, name.removeprefix("cause "))))(sheet)
    painter.end()
    return image


def _with_curve(draw: Callable[[Sheet, tuple[FloatArray, FloatArray]], None]) -> Callable[[Sheet], None]:
    def both(sheet: Sheet) -> None:
        curve = schematic_curve()
        sheet.line(*curve)
        draw(sheet, curve)

    return both


def _draw_snug(sheet: Sheet, curve: tuple[FloatArray, FloatArray]) -> None:
    _draw_slope(sheet, curve)
    snug = SNUG - 0.2 * (SNUG - DRAWDOWN)
    sheet.mark(snug, torque_at(curve, snug), "snug: slope reaches 0.80 of the elastic slope")


def _draw_slope(sheet: Sheet, curve: tuple[FloatArray, FloatArray]) -> None:
    top = float(curve[0][-1])
    sheet.straight(
        (top - 85.0, float(curve[1][-1]) - 85.0 * SLOPE), (top + 12.0, float(curve[1][-1]) + 12.0 * SLOPE)
    )


def _draw_origin(sheet: Sheet, curve: tuple[FloatArray, FloatArray]) -> None:
    top, torque = float(curve[0][-1]), float(curve[1][-1])
    origin = top - (torque - PREVAILING) / SLOPE
    sheet.straight((origin, PREVAILING), (top, torque))
    sheet.straight((0.0, PREVAILING), (top, PREVAILING))
    sheet.mark(origin, PREVAILING, "elastic origin")


def _draw_yield(sheet: Sheet) -> None:
    curve = schematic_curve(yields=True)
    sheet.line(*curve)
    onset = SNUG + 55.0 + 14.0 * float(np.log(2.0))
    sheet.mark(onset, torque_at(curve, onset), "yield onset: slope fallen to 0.50")


def _draw_cause(sheet: Sheet, cause: str) -> None:
    """The usual curve dashed, the changed one solid."""
    sheet.line(*schematic_curve(), usual=True)
    changed = _CHANGED.get(cause)
    curve = changed() if changed is not None else schematic_curve()
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
    angle, torque = _cut(schematic_curve(), 0.0, 470.0)
    beyond = np.linspace(470.5, 560.0, 180)
    return np.concatenate([angle, beyond]), np.concatenate(
        [torque, torque[-1] - 12.0 * ((beyond - 470.0) / 90.0) ** 1.5]
    )


def _bottomed() -> tuple[FloatArray, FloatArray]:
    angle = np.linspace(0.0, 322.0, 645)
    return angle, PREVAILING + np.where(angle > 310.0, (angle - 310.0) * 4.5, 0.0)


_CHANGED: dict[str, Callable[[], tuple[FloatArray, FloatArray]]] = {
    "low-friction": lambda: schematic_curve(slope=0.65),
    "high-friction": lambda: schematic_curve(slope=1.6, prevailing=8.0),
    "friction-or-stiffness": lambda: schematic_curve(slope=0.7),
    "softer-joint": lambda: schematic_curve(slope=0.6, early=40.0),
    "stiffer-joint": lambda: schematic_curve(slope=1.7, early=-30.0),
    "seated-early": lambda: schematic_curve(early=150.0),
    "seated-late": lambda: schematic_curve(early=-90.0),
    "prevailing-missing": lambda: schematic_curve(prevailing=0.5),
    "prevailing-high": lambda: schematic_curve(prevailing=16.0),
    "cross-thread": _cross_thread,
    "thread-stripping": _stripping,
    "yielded": lambda: schematic_curve(yields=True),
    "already-tight": lambda: (np.array([480.0, 482.0, 520.0]), np.array([0.0, 48.0, 60.0])),
    "galling": lambda: _rough(schematic_curve(), SNUG - 20.0, 14.0, 8.0, True),
    "drive-slip": lambda: _rough(schematic_curve(slope=0.5), DRAWDOWN, 60.0, 12.0, False),
    "bottomed-out": _bottomed,
    "incomplete-recording": lambda: _cut(schematic_curve(), 0.0, 455.0),
}
_PICTURES: dict[str, Callable[[Sheet], None]] = {
    "family of bends": family_of_bends,
    "final": _with_curve(lambda s, c: s.mark(float(c[0][-1]), float(c[1][-1]), "final point")),
    "slope": _with_curve(_draw_slope),
    "snug": _with_curve(_draw_snug),
    "yield": _draw_yield,
    "drawdown": _with_curve(lambda s, c: s.mark(DRAWDOWN, torque_at(c, DRAWDOWN), "drawdown start")),
    "prevailing": _with_curve(
        lambda s, c: s.span(DRAWDOWN - 180.0, DRAWDOWN, PREVAILING + 6.0, "last half turn")
    ),
    "origin": _with_curve(_draw_origin),
    "rate": _with_curve(lambda s, c: s.span(SNUG - 14.0, float(c[0][-1]), 66.0, "snug to final")),
    **RULE_PICTURES,
}
