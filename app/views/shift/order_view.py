"""One quantity in order of time (or row): limits, levels between changes, points that can be selected."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pyqtgraph as pg
from numpy.typing import ArrayLike, NDArray
from PySide6.QtWidgets import QWidget

from analysis.catalogue.verdicts import WORST_LAST
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.items.axes import PlainAxis
from app.items.order_axis import OrderAxis
from app.items.points_item import PointsItem
from app.items.steps_item import StepLine, StepsItem
from app.views.shift.histogram_quantity import _Z, QuantityView

#: Symbols of the plotting library for the shapes of the verdicts, and their sizes in pixels.
_SYMBOLS = {"ok": "o", "suspect": "t1", "not ok": "s", "not evaluated": "d"}
_SIZES = {"ok": 4.0, "suspect": 8.0, "not ok": 7.0, "not evaluated": 8.0}
_SELECTED_PX = 13.0
#: Half the height of a limit's grip with its rim, pixels: grips at the edge are seen whole.
_GRIP_PX = 12.0
#: How far from a point a click may be, pixels (own choice).
_REACH_PX = 10.0


class OrderView(QuantityView):
    """The quantity of the visible traces in the order in which they were tightened."""

    _level = True

    def __init__(self, look: Look = LIGHT, parent: QWidget | None = None) -> None:
        self.places = np.empty(0)
        self._fitted: tuple[float, ...] = ()
        self._timed = False
        super().__init__(look, parent)
        self.setAccessibleName(tr("In order of time"))
        self.plot.box.sigResized.connect(self._fit_again)

    def set_data(self, values: ArrayLike, title: str, unit: str, started_at: ArrayLike | None = None) -> None:
        """Show a quantity: one value a trace in the internal unit, NaN where absent; its name and unit.

        Parameters
        ----------
        started_at : datetime64 array (UTC), or None
            Where none is known the rows' order is shown; traces without a time are then left out and counted.
        """
        other = self._take(values, title, unit)
        was_timed = self._timed
        self._timed, self.places = False, np.arange(1.0, len(self.values) + 1.0)
        if started_at is not None:
            times = np.asarray(started_at, "datetime64[us]")
            known = ~np.isnat(times)
            if known.any():
                self._timed = True
                self.places = np.where(known, times.astype(np.int64) / 1e6, np.nan)
        self._label_axes()
        self._refresh()
        if other or was_timed != self._timed:
            self.fit()

    @property
    def is_timed(self) -> bool:
        """Whether times are shown, and not the rows' order."""
        return self._timed

    def set_steps(self, steps: Iterable[StepLine]) -> None:
        """Levels between changes; start and stop in seconds since 1970 UTC, or in rows counted from 1."""
        self._steps.set_steps(tuple(steps))

    def fit(self) -> None:
        """Show all points and both limits."""
        shown = self.visible & np.isfinite(self.values) & np.isfinite(self.places)
        if not shown.any():
            return
        values = [*self.values[shown], *(v for v in self.limits.limits() if v is not None)]
        low, high = float(np.min(values)), float(np.max(values))
        first, last = float(self.places[shown].min()), float(self.places[shown].max())
        share = max(0.08, _GRIP_PX / max(self.plot.box.height() - 2 * _GRIP_PX, _GRIP_PX))
        y_margin = share * (high - low) or 0.5
        x_margin = 0.03 * (last - first) or 0.5
        self.plot.box.show_range((first - x_margin, last + x_margin, low - y_margin, high + y_margin))
        self._fitted = self.plot.box.range()

    def _axes(self) -> dict[str, PlainAxis]:
        return {"left": PlainAxis("left"), "bottom": OrderAxis("bottom")}

    def _add_content(self) -> None:
        # One item a verdict: a symbol for each of ten thousand points takes a tenth of a second.
        self._points = {
            verdict: PointsItem(
                pxMode=True, symbol=_SYMBOLS[verdict], size=_SIZES[verdict], pen=pg.mkPen(None)
            )
            for verdict in WORST_LAST
        }
        for item in self._points.values():
            item.setZValue(_Z["content"])
        self._rings = PointsItem(pxMode=True, symbol="o", size=_SELECTED_PX)
        self._rings.setZValue(_Z["content"] + 1)
        for item in (*self._points.values(), self._rings):
            self.plot.box.addItem(item, ignoreBounds=True)
        self._steps = StepsItem(self.look, _Z["content"] + 2)
        self._add(self._steps)

    def _show_values(self) -> None:
        if len(self.places) != len(self.values):
            return
        for verdict, points in self._points.items():
            members = self._rows_of(verdict)
            members = members[np.isfinite(self.places[members])]
            brush = pg.mkBrush(self._colour(verdict))
            points.setData(x=self.places[members], y=self.values[members], brush=brush)

    def _show_selected(self) -> None:
        chosen = self.selected[self.visible[self.selected]] if len(self.values) else self.selected[:0]
        known = chosen[np.isfinite(self.values[chosen] + self.places[chosen])]
        self._rings.setData(
            x=self.places[known],
            y=self.values[known],
            brush=pg.mkBrush(None),
            pen=pg.mkPen(self.look.selected, width=2),
        )

    def _label_axes(self) -> None:
        # The unit alone: the list above names the figure, and the axis is too low for its title.
        unit = self.units.symbol(self.unit)
        self.plot.getAxis("left").setLabel(unit or self.title, color=self.look.foreground)
        self.plot.getAxis("left").setScale(self.units.factor(self.unit))
        self.plot.getAxis("bottom").set_timed(self._timed, self.units)
        place = tr("Time ({0})", self.units.zone_words) if self._timed else tr("Row")
        self.plot.getAxis("bottom").setLabel(place, color=self.look.foreground)

    def _pick_at(self, at: tuple[float, float], mode: str) -> None:
        x_px, y_px = (float(v) for v in self.plot.box.viewPixelSize())
        distance = np.hypot((self.places - at[0]) / x_px, (self.values - at[1]) / y_px)
        distance[~self.visible | ~np.isfinite(distance)] = np.inf
        near = len(distance) > 0 and float(distance.min()) <= _REACH_PX
        self._tell([int(distance.argmin())] if near else [], mode)

    def _pick_within(self, outline: NDArray[np.float64], tool: str, mode: str) -> None:
        (x0, y0), (x1, y1) = outline.min(axis=0), outline.max(axis=0)
        inside = (self.places >= x0) & (self.places <= x1) & (self.values >= y0) & (self.values <= y1)
        self._tell(np.flatnonzero(inside & self.visible), mode)

    def _fit_again(self) -> None:
        """What was fitted is fitted anew: the grips of the limits need their room whatever the height."""
        if self.plot.box.range() == self._fitted:
            self.fit()
