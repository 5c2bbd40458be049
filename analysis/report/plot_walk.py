"""The one walk over a plot's specification: what is drawn, in which order, on whatever canvas it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.report.plot_spec import Axis, Curve, PlotSpec, Role
from analysis.report.ticks import Tick, ticks

#: Left, top, width, height.
Box = tuple[float, float, float, float]


class Canvas(Protocol):
    """What a renderer draws with; places are its own, roles stand for colours."""

    def picture(self, box: Box, levels: NDArray[np.uint8]) -> None:
        """A grey picture stretched over a box."""

    def zone(self, box: Box, role: Role) -> None:
        """A stripe behind everything."""

    def bar(self, box: Box, role: Role, count: int) -> None:
        """A bar of a histogram."""

    def area(self, outline: FloatArray, role: Role) -> None:
        """A band; shape (points, 2)."""

    def limit(self, x0: float, y0: float, x1: float, y1: float, role: Role) -> None:
        """A straight line across the plot."""

    def curve(self, curve: Curve) -> None:
        """A polyline, in data coordinates."""


@dataclass(frozen=True)
class Frame:
    """The plotting area of a renderer, and the way from data to it."""

    spec: PlotSpec
    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Lower edge."""
        return self.top + self.height

    def x(self, value: float) -> float:
        """Place of an abscissa."""
        axis = self.spec.x
        return self.left + (value - axis.low) / (axis.high - axis.low) * self.width

    def y(self, value: float) -> float:
        """Place of an ordinate."""
        axis = self.spec.y
        return self.top + (axis.high - value) / (axis.high - axis.low) * self.height

    def points(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Places of points, shape (n, 2)."""
        return np.column_stack((self.x(x), self.y(y)))  # type: ignore[arg-type]

    def box(self, x0: float, x1: float, y0: float, y1: float) -> Box:
        """Place of a rectangle between two abscissas and a lower and an upper ordinate."""
        left, top = self.x(x0), self.y(y1)
        return left, top, self.x(x1) - left, self.y(y0) - top


def axis_ticks(axis: Axis, most: int) -> tuple[Tick, ...]:
    """Round figures, or the names of an axis that has them; places whose names stand elsewhere have none."""
    if axis.names:
        return tuple(Tick(value, name) for value, name in axis.names if name)
    return ticks(axis.low, axis.high, most)


def draw_ground(frame: Frame, canvas: Canvas) -> None:
    """The bundle of curves and the zones, behind the grid."""
    picture = frame.spec.picture
    if picture is not None:
        canvas.picture(
            frame.box(picture.x_low, picture.x_high, picture.y_low, picture.y_high), picture.levels
        )
    for zone in frame.spec.zones:
        left = frame.x(zone.low)
        canvas.zone((left, frame.top, frame.x(zone.high) - left, frame.height), zone.role)


def draw_figures(frame: Frame, canvas: Canvas) -> None:
    """Bands, bars, limits and curves, over the grid."""
    for band in frame.spec.bands:
        outline = (frame.points(band.x, band.high), frame.points(band.x, band.low)[::-1])
        canvas.area(np.vstack(outline), band.role)
    _draw_bars(frame, canvas)
    for limit in frame.spec.limits:
        if limit.axis == "y":
            at = frame.y(limit.value)
            canvas.limit(frame.left, at, frame.right, at, limit.role)
        else:
            at = frame.x(limit.value)
            canvas.limit(at, frame.top, at, frame.bottom, limit.role)
    for curve in frame.spec.curves:
        if len(curve.x):
            canvas.curve(curve)


def _draw_bars(frame: Frame, canvas: Canvas) -> None:
    bars = frame.spec.bars
    if bars is None:
        return
    base = np.zeros(len(bars.edges) - 1, np.int64)
    for counts, role in zip(bars.counts, bars.roles, strict=True):
        for k in np.flatnonzero(counts):
            edges = float(bars.edges[k]), float(bars.edges[k + 1])
            canvas.bar(frame.box(*edges, float(base[k]), float(base[k] + counts[k])), role, int(counts[k]))
        base = base + counts
