"""Median and percentile band of many curves over the angle from a point of alignment: the one reference band.

Window, report and comparison draw it from here, so that they agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.traces import TraceSet

Alignment = Literal["snug", "final", "start", "none"]

#: Percentiles of band and envelope: nine of ten curves lie inside at each point (common practice, no source).
ENVELOPE_PERCENTILES = (5.0, 50.0, 95.0)
#: Points over the whole of the curves, and over the rise, where all the bend is; members that are enough:
#: more change nothing that can be seen (own choices).
WHOLE_POINTS, RISE_POINTS, MOST_MEMBERS = 160, 320, 1000
#: The points of the rise reach so many usual joint rates before and behind snug (own choice).
BEFORE, BEHIND = 1.6, 1.5
#: Share of the curves that must run at a place for the band to be there, ahead of snug and behind it: where
#: the short ones have ended, the long ones alone would bend the median (own choice).
RUNNING_BEFORE, RUNNING_BEHIND = 0.5, 0.8


@dataclass(frozen=True, eq=False)
class CurveBand:
    """Percentiles of n curves."""

    from_deg: FloatArray  #: Shape (points,). Degrees from the point of alignment.
    #: Shape (points,). NaN where too few of the curves run.
    low_nm: FloatArray
    median_nm: FloatArray
    high_nm: FloatArray
    n: int
    rise_deg: tuple[float, float]  #: From where to where the points lie close: around the usual snug point.


def curve_band(
    traces: TraceSet,
    curves: CurveTable,
    rows: NDArray[np.int64],
    alignment: str = "snug",
    *,
    fewest: int = 1,
) -> CurveBand | None:
    """The band of these traces up to their final points.

    Parameters
    ----------
    alignment : {"snug", "final", "start", "none"}
        What lies at 0; traces without it are left out.
    fewest : int
        Curves that must run at a place at least.

    Returns
    -------
    CurveBand or None
        None where fewer than `fewest` traces have the point of alignment.
    """
    zero = zero_angles(traces, curves, alignment)
    rows = rows[np.isfinite(zero[rows]) & (curves.final_index[rows] > 0)]
    if len(rows) < max(fewest, 1):
        return None
    # Evenly, so that the same set gives the same band.
    drawn = rows[np.linspace(0, len(rows) - 1, min(len(rows), MOST_MEMBERS)).round().astype(np.int64)]
    starts, stops = traces.offsets[drawn], traces.offsets[drawn] + curves.final_index[drawn] + 1
    members = [
        _forward(traces.angle_deg[a:b] - zero[row], traces.torque_nm[a:b])
        for row, a, b in zip(drawn.tolist(), starts.tolist(), stops.tolist(), strict=True)
    ]
    snug = curves.snug_angle_deg[drawn] - zero[drawn]
    snug_deg = float(np.nanmedian(snug)) if np.isfinite(snug).any() else np.nan
    ends = min(x[0] for x, _ in members), max(x[-1] for x, _ in members)
    rise_deg = _rise(ends, snug_deg, curves.joint_rate_deg[drawn])
    grid = np.union1d(np.linspace(*ends, WHOLE_POINTS), np.linspace(*rise_deg, RISE_POINTS))
    torque = np.array([np.interp(grid, x, y, left=np.nan, right=np.nan) for x, y in members])
    running = np.where(grid > snug_deg, RUNNING_BEHIND, RUNNING_BEFORE) * len(torque)
    enough = np.isfinite(torque).sum(axis=0) >= np.maximum(fewest, running)
    levels = np.full((3, len(grid)), np.nan)
    levels[:, enough] = _percentiles(torque[:, enough])
    low, median, high = levels
    return CurveBand(grid, low, median, high, len(rows), rise_deg)


def zero_angles(traces: TraceSet, curves: CurveTable, alignment: str) -> FloatArray:
    """The angle of each trace that is drawn at 0; NaN where it has no such point."""
    if alignment == "snug":
        return curves.snug_angle_deg
    if alignment == "final":
        return curves.final_angle_deg
    if alignment == "start":
        first = np.full(len(traces), np.nan)
        filled = traces.n_samples > 0
        first[filled] = traces.angle_deg[traces.offsets[:-1][filled]]
        return first
    return np.zeros(len(traces))


def _forward(angle: FloatArray, torque: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The samples that go forward: each beyond all before it."""
    ahead = np.concatenate(([True], angle[1:] > np.maximum.accumulate(angle)[:-1]))
    return angle[ahead], torque[ahead]


def _rise(ends: tuple[float, float], snug_deg: float, rates_deg: FloatArray) -> tuple[float, float]:
    """The stretch around the usual snug point; the whole of the curves where none of them has one."""
    if not np.isfinite(rates_deg).any() or not np.isfinite(snug_deg):
        return ends
    rate = float(np.nanpercentile(rates_deg, 95))
    return max(ends[0], snug_deg - BEFORE * rate), min(ends[1], snug_deg + BEHIND * rate)


def _percentiles(values: FloatArray) -> FloatArray:
    """Percentiles of each column without its absent values; one sort instead of one call a column."""
    if not values.shape[1]:
        return np.empty((len(ENVELOPE_PERCENTILES), 0))
    ordered = np.sort(values, axis=0)  # absent values go last
    present, columns = np.isfinite(ordered).sum(axis=0), np.arange(values.shape[1])
    place = np.array(ENVELOPE_PERCENTILES)[:, None] / 100.0 * (present - 1)
    below = np.floor(place).astype(np.int64)
    above, share = np.minimum(below + 1, present - 1), place - below
    levels: FloatArray = ordered[below, columns] * (1 - share) + ordered[above, columns] * share
    return levels
