"""The reference band of a joint: median and 5-95 % of its good curves, read once, over the angle from
snug."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.report.curve_reduction import on_grid
from analysis.report.plot_spec import Band, Curve
from analysis.report.reported import FloatArray, IntArray, JointData

#: Curves that the band is read from at most; more change nothing that can be seen (own choice).
_MOST = 2000
#: Fewer curves give no band (as `PopulationSettings.smallest_population`).
FEWEST = 20
_POINTS = 320
_PERCENTILES = (5.0, 50.0, 95.0)
#: The band reaches so many usual joint rates before and behind snug (own choice).
_BEFORE, _BEHIND = 1.6, 1.5
#: Share of the curves that must run there for the band to be shown, before and behind snug (own choice).
_RUNNING_BEFORE, _RUNNING_BEHIND = 0.5, 0.8


@dataclass(frozen=True, eq=False)
class ReferenceBand:
    """Band over the angle from snug, torque in the display unit.

    Attributes
    ----------
    from_snug_deg, low, median, high : ndarray
        Empty where there are too few curves.
    n : int
        Curves that it stands for.
    words : str
        Which curves, for a key: "the ok ones", or the name of the pinned set.
    """

    from_snug_deg: FloatArray
    low: FloatArray
    median: FloatArray
    high: FloatArray
    n: int
    words: str

    def __bool__(self) -> bool:
        return len(self.from_snug_deg) > 1

    def laid_at(self, snug_deg: float, window: tuple[float, float]) -> tuple[Band, Curve] | None:
        """Band and median moved to a snug angle, cut to a window; None where nothing is left."""
        x = self.from_snug_deg + snug_deg
        inside = (x >= window[0]) & (x <= window[1])
        if inside.sum() < 2:
            return None
        x = x[inside]
        return (
            Band(x, self.low[inside], self.high[inside], "reference band"),
            Curve(x, self.median[inside], "reference median", 1.4),
        )


def reference_of(data: JointData) -> ReferenceBand:
    """The band of the pinned reference set where a person pinned one, else of the traces that are ok."""
    rows, words = data.pinned()
    if rows is None:
        rows, words = data.rows_with("ok"), "the ok ones"
    return band_of(data, rows, words)


def band_of(data: JointData, rows: IntArray, words: str) -> ReferenceBand:
    """The band of any rows of the analysis; empty below `FEWEST` curves with a snug point."""
    curves = data.analysis.curves
    rows = rows[np.isfinite(curves.snug_angle_deg[rows]) & np.isfinite(curves.joint_rate_deg[rows])]
    none = np.empty(0)
    if len(rows) < FEWEST:
        return ReferenceBand(none, none, none, none, len(rows), words)
    usual = float(np.percentile(curves.joint_rate_deg[rows], 95))
    grid = np.linspace(-_BEFORE * usual, _BEHIND * usual, _POINTS)
    values = on_grid(*snug_samples(data, rows[:: -(-len(rows) // _MOST)]), grid)
    # Where short curves have ended, the long ones alone would bend the median: the band ends before.
    share = np.where(grid > 0, _RUNNING_BEHIND, _RUNNING_BEFORE)
    enough = np.isfinite(values).sum(axis=0) >= np.maximum(FEWEST, share * len(values))
    low, median, high = data.torque(_percentiles(values[:, enough]))
    return ReferenceBand(grid[enough], low, median, high, len(rows), words)


def _percentiles(values: FloatArray) -> FloatArray:
    """Percentiles of each column without its absent values; one sort instead of one call a column."""
    if not values.shape[1]:
        return np.empty((len(_PERCENTILES), 0))
    ordered = np.sort(values, axis=0)  # absent values go last
    present = np.isfinite(ordered).sum(axis=0)
    levels = np.empty((len(_PERCENTILES), values.shape[1]))
    columns = np.arange(values.shape[1])
    for k, percent in enumerate(_PERCENTILES):
        place = percent / 100.0 * (present - 1)
        below = np.floor(place).astype(np.int64)
        above = np.minimum(below + 1, present - 1)
        share = place - below
        levels[k] = ordered[below, columns] * (1 - share) + ordered[above, columns] * share
    return levels


def snug_samples(
    data: JointData, rows: IntArray
) -> tuple[FloatArray, FloatArray, NDArray[np.int64], NDArray[np.int64], FloatArray]:
    """Flat samples, ranges up to the final point, and the snug angles of these rows."""
    traces, curves = data.analysis.traces, data.analysis.curves
    starts = traces.offsets[:-1][rows]
    stops = starts + np.maximum(curves.final_index[rows] + 1, 0)
    snug = np.ascontiguousarray(curves.snug_angle_deg[rows])
    return traces.angle_deg, traces.torque_nm, starts, stops, snug
