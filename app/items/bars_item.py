"""Bars of a histogram, stacked by verdict, and the places of the selected ones."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen, QPolygonF

from app.items.scene_item import SceneItem

_MARK_PX = 7.0
#: Verdicts differ by pattern too, not by colour alone.
_PATTERNS = {"suspect": Qt.BrushStyle.BDiagPattern, "not evaluated": Qt.BrushStyle.Dense6Pattern}
#: Beyond this number of selected values ticks stand without a triangle each (own choice).
_MOST_TRIANGLES = 12


@dataclass(frozen=True, eq=False)
class Stack:
    """One verdict's share of each bar: its counts and colour; stacks lie on each other in order."""

    name: str
    counts: NDArray[np.int64]
    colour: str


class BarsItem(SceneItem):
    """Stacked bars over common edges."""

    edges: NDArray[np.float64] = np.empty(0)
    stacks: tuple[Stack, ...] = ()
    marked: NDArray[np.float64] = np.empty(0)

    def set_bars(self, edges: NDArray[np.float64], stacks: tuple[Stack, ...]) -> None:
        """Show these counts between these edges."""
        self.edges = edges
        self.stacks = stacks
        self.update()

    def set_marked(self, values: NDArray[np.float64]) -> None:
        """Mark these values (of selected traces) at the foot."""
        self.marked = values
        self.update()

    def paint_scene(self, painter: QPainter, area: QRectF) -> None:  # noqa: D102
        painter.setPen(Qt.PenStyle.NoPen)
        base = np.zeros(max(len(self.edges) - 1, 0), np.int64)
        for stack in self.stacks:
            for k in np.flatnonzero(stack.counts):
                top_left = self.to_scene(self.edges[k], base[k] + stack.counts[k])
                low_right = self.to_scene(self.edges[k + 1], base[k])
                bar = QRectF(top_left, low_right)
                if bar.width() > 3.0:
                    bar.adjust(0.5, 0.0, -0.5, 0.0)
                painter.fillRect(bar, QColor(stack.colour))
                if (pattern := _PATTERNS.get(stack.name)) is not None:
                    painter.fillRect(bar, QBrush(QColor(self.look.background), pattern))
            base = base + stack.counts
        self._draw_marks(painter, area)

    def _draw_marks(self, painter: QPainter, area: QRectF) -> None:
        colour = QColor(self.look.selected)
        places = self.marked[np.isfinite(self.marked)]
        if len(places) > _MOST_TRIANGLES:  # one line a pixel, however many traces are selected
            first = self.to_scene(0.0, 0.0).x()
            places = places[
                np.unique(np.rint(places * (self.to_scene(1.0, 0.0).x() - first)), return_index=True)[1]
            ]
        for value in places:
            x = self.to_scene(value, 0.0).x()
            if len(self.marked) <= _MOST_TRIANGLES:
                painter.setPen(QPen(colour, 1.6))
                painter.drawLine(QPointF(x, area.bottom()), QPointF(x, area.top() + 34.0))
                painter.setBrush(colour)
                foot = area.bottom()
                painter.drawPolygon(
                    QPolygonF(
                        [
                            QPointF(x, foot - 2 * _MARK_PX),
                            QPointF(x - _MARK_PX, foot),
                            QPointF(x + _MARK_PX, foot),
                        ]
                    )
                )
            else:
                painter.setPen(QPen(colour, 1.0))
                painter.drawLine(QPointF(x, area.bottom()), QPointF(x, area.bottom() - 2 * _MARK_PX))
