"""Axes with a true minus sign, and a grid that is cheap enough to be drawn at every frame."""

from __future__ import annotations

from typing import Any

import pyqtgraph as pg
from PySide6.QtCore import QLineF, QRectF
from PySide6.QtGui import QColor, QFontMetrics, QGuiApplication, QPainter, QPen

from app.display.look import Look
from app.items.scene_item import SceneItem

#: Levels of ticks that get a grid line: the labelled ones and their subdivision.
_LEVELS = 2
#: The widest number that usually stands at the left axis.
_USUAL_TEXT = "000.0"
#: Left, top, right, bottom: without them the axes' titles touch the edge and lose a line of pixels.
PLOT_MARGINS_PX = (4, 4, 10, 4)


class PlainAxis(pg.AxisItem):  # type: ignore[misc]
    """An axis whose unit stands in its label and nowhere else: no prefixes, no powers in the corner."""

    def __init__(self, side: str) -> None:
        super().__init__(side)
        self.enableAutoSIPrefix(False)
        # Room for usual numbers from the start, and never less again: the plot keeps its size, and the
        # picture of its curves with it, when other numbers come to stand beside it.
        self.setStyle(autoReduceTextSpace=False)
        self.textWidth = QFontMetrics(QGuiApplication.font()).horizontalAdvance(_USUAL_TEXT)

    def set_look(self, look: Look) -> None:
        """Colours of line, ticks and text."""
        self.setPen(pg.mkPen(look.faint))
        self.setTextPen(pg.mkPen(look.foreground))

    def tickStrings(self, values: list[float], scale: float, spacing: float) -> list[str]:  # noqa: D102
        return [text.replace("-", "−") for text in super().tickStrings(values, scale, spacing)]


class GridItem(SceneItem):
    """Lines at the axes' ticks, drawn without smoothing, behind everything but the bands."""

    def __init__(self, look: Look, z: float, bottom: PlainAxis, left: PlainAxis) -> None:
        super().__init__(look, z)
        self._bottom = bottom
        self._left = left
        self._known: dict[PlainAxis, tuple[tuple[float, float, float], list[list[float]]]] = {}

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        view = self.view_rect()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        across = self._levels(self._bottom, view.left(), view.right(), area.width())
        upward = self._levels(self._left, view.top(), view.bottom(), area.height())
        # Minor lines first, so that major ones lie on top.
        for level in reversed(range(_LEVELS)):
            shade = QColor(self.look.grid)
            shade.setAlphaF(0.85 if level == 0 else 0.35)
            painter.setPen(QPen(shade, 1.0))
            lines = [
                QLineF(x := self.to_scene(value, 0.0).x(), area.top(), x, area.bottom())
                for value in across[level]
            ]
            lines += [
                QLineF(area.left(), y := self.to_scene(0.0, value).y(), area.right(), y)
                for value in upward[level]
            ]
            painter.drawLines(lines)

    def _levels(self, axis: PlainAxis, low: float, high: float, size: float) -> list[list[float]]:
        """Places of the ticks by level; remembered, because most repaints show the same range."""
        known = self._known.get(axis)
        if known is None or known[0] != (low, high, size):
            ticks: Any = axis.tickValues(low, high, size)
            levels = [[float(value) for value in values] for _, values in ticks[:_LEVELS]]
            known = (low, high, size), levels + [[]] * (_LEVELS - len(levels))
            self._known[axis] = known
        return known[1]
