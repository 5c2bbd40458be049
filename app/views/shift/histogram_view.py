"""Histogram of one quantity by verdict, with limits that say what they would flag before they apply."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PySide6.QtWidgets import QWidget

from analysis.catalogue.verdicts import WORST_LAST
from app.display.look import LIGHT, Look
from app.display.messages import tr
from app.items.axes import PlainAxis
from app.items.bars_item import BarsItem, Stack
from app.views.shift.histogram_quantity import _Z, QuantityView

#: Bars at most; far outliers would otherwise ask for millions.
_MOST_BARS = 400
_FEWEST_BARS = 5


def bar_edges(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Edges of equal bars by the rule of Freedman and Diaconis: width 2 IQR / n^(1/3).

    References
    ----------
    Freedman and Diaconis, Probability Theory and Related Fields 57 (1981) 453-476.
    """
    values = values[np.isfinite(values)]
    if not len(values):
        return np.empty(0)
    low, high = float(values.min()), float(values.max())
    if high <= low:
        half = max(abs(low) * 0.01, 0.5)
        return np.array([low - half, low + half])
    lower, upper = np.percentile(values, [25, 75])
    width = 2.0 * (upper - lower) / len(values) ** (1 / 3)
    bars = (high - low) / width if width > 0 else _FEWEST_BARS
    return np.linspace(low, high, round(min(max(bars, _FEWEST_BARS), _MOST_BARS)) + 1)


class HistogramView(QuantityView):
    """How often each value occurs among the visible traces; a click on a bar selects its traces.

    The counts' axis always starts at zero and ends above the highest bar; the values' axis moves by hand
    only.
    """

    _level = False

    def __init__(self, look: Look = LIGHT, parent: QWidget | None = None) -> None:
        self._edges = np.empty(0)
        super().__init__(look, parent)
        self.plot.box.setMouseEnabled(x=True, y=False)
        self.setAccessibleName(tr("Histogram"))

    def set_data(self, values: ArrayLike, title: str, unit: str) -> None:
        """Show a quantity: one value a trace in the internal unit, NaN where absent; its name and unit."""
        other = self._take(values, title, unit)
        self._edges = bar_edges(self.values)
        self._label_axes()
        self._refresh()
        if other:
            self.fit()

    def fit(self) -> None:
        """Show all bars and both limits."""
        if len(self._edges):
            marks = [v for v in self.limits.limits() if v is not None]
            low, high = min(self._edges[0], *marks, np.inf), max(self._edges[-1], *marks, -np.inf)
            margin = 0.04 * (high - low)
            self.plot.box.setXRange(low - margin, high + margin, padding=0)

    def _axes(self) -> dict[str, PlainAxis]:
        return {side: PlainAxis(side) for side in ("left", "bottom")}

    def _add_content(self) -> None:
        self._bars = BarsItem(self.look, _Z["content"])
        self._add(self._bars)

    def _show_values(self) -> None:
        if not len(self._edges):
            self._bars.set_bars(self._edges, ())
            return
        stacks = []
        for verdict in reversed(WORST_LAST):  # the flagged at the foot, where their number can be read
            counts, _ = np.histogram(self.values[self._rows_of(verdict)], self._edges)
            stacks.append(Stack(verdict, counts.astype(np.int64), self._colour(verdict)))
        self._bars.set_bars(self._edges, tuple(stacks))
        highest = max(int(np.sum([stack.counts for stack in stacks], axis=0).max()), 1)
        self.plot.box.setYRange(0.0, 1.18 * highest, padding=0)

    def _show_selected(self) -> None:
        chosen = self.selected[self.visible[self.selected]] if len(self.values) else self.selected[:0]
        self._bars.set_marked(self.values[chosen])

    def _label_axes(self) -> None:
        self.plot.getAxis("bottom").setLabel(self._axis_title(), color=self.look.foreground)
        self.plot.getAxis("bottom").setScale(self.units.factor(self.unit))
        self.plot.getAxis("left").setLabel(tr("Traces"), color=self.look.foreground)

    def _pick_at(self, at: tuple[float, float], mode: str) -> None:
        if not len(self._edges) or not self._edges[0] <= at[0] <= self._edges[-1]:
            self._tell([], mode)
            return
        k = min(int(np.searchsorted(self._edges, at[0], side="right")) - 1, len(self._edges) - 2)
        self._pick_between(self._edges[k], self._edges[k + 1], mode, last=k == len(self._edges) - 2)

    def _pick_within(self, outline: NDArray[np.float64], tool: str, mode: str) -> None:
        self._pick_between(outline[:, 0].min(), outline[:, 0].max(), mode, last=True)

    def _pick_between(self, low: float, high: float, mode: str, *, last: bool) -> None:
        below = self.values <= high if last else self.values < high
        self._tell(np.flatnonzero(self.visible & (self.values >= low) & below), mode)
