"""Thousands of points in one item; the plot itself decides what a click means."""

from __future__ import annotations

from typing import Any

import pyqtgraph as pg


class PointsItem(pg.ScatterPlotItem):  # type: ignore[misc]
    """Points that take no mouse events, which would otherwise never reach the plot below them."""

    def mouseClickEvent(self, ev: Any) -> None:  # noqa: D102
        ev.ignore()

    def hoverEvent(self, ev: Any) -> None:
        """Nothing: looking for the point below the pointer at each move costs time."""
