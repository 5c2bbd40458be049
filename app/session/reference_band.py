"""Median and percentile band of a pinned reference set, over the angle from a point of alignment; no Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.curve.curve_table import CurveTable
from analysis.traces import TraceSet

FloatArray = NDArray[np.float64]

#: Percentiles of the band (common practice, no source).
LOW_PERCENT, HIGH_PERCENT = 5.0, 95.0
#: Points of the grid, and members that are enough to draw it: more change nothing that can be seen.
GRID_POINTS = 400
MOST_MEMBERS = 300
#: At a place of the grid where fewer members than this share reach, there is no band.
SMALLEST_SHARE = 0.5


@dataclass(frozen=True, eq=False)
class Band:
    """The band on a grid of degrees from the point of alignment; N·m, NaN where too few members reach."""

    x: FloatArray
    low: FloatArray
    median: FloatArray
    high: FloatArray
    n: int


def reference_band(
    traces: TraceSet,
    curves: CurveTable,
    rows: Sequence[int] | NDArray[np.int64],
    alignment: str,
    smallest_share: float = SMALLEST_SHARE,
) -> Band | None:
    """The band of these traces up to their final point, where at least a share of them reach.

    None where none of them has the point of alignment.
    """
    zero = alignment_angles(traces, curves, alignment)
    chosen = np.asarray(rows, np.int64)
    chosen = chosen[np.isfinite(zero[chosen])]
    if not len(chosen):
        return None
    if len(chosen) > MOST_MEMBERS:  # evenly, so that the same set gives the same band
        chosen = chosen[np.linspace(0, len(chosen) - 1, MOST_MEMBERS).round().astype(np.int64)]
    stops = curves.final_index[chosen] + 1
    starts = traces.offsets[chosen]
    members = [
        rising(traces.angle_deg[a : a + n] - zero[row], traces.torque_nm[a : a + n])
        for row, a, n in zip(chosen.tolist(), starts.tolist(), stops.tolist(), strict=True)
    ]
    first, last = min(x[0] for x, _ in members), max(x[-1] for x, _ in members)
    grid = np.linspace(first, last, GRID_POINTS)
    torque = np.array([np.interp(grid, x, y, left=np.nan, right=np.nan) for x, y in members])
    enough = np.isfinite(torque).mean(axis=0) >= smallest_share
    band = np.full((3, GRID_POINTS), np.nan)
    band[:, enough] = np.nanpercentile(torque[:, enough], [LOW_PERCENT, 50.0, HIGH_PERCENT], axis=0)
    return Band(grid, band[0], band[1], band[2], len(np.asarray(rows)))


def alignment_angles(traces: TraceSet, curves: CurveTable, alignment: str) -> FloatArray:
    """The angle that is zero for each trace; NaN where it has no such point."""
    if alignment == "snug":
        return curves.snug_angle_deg
    if alignment == "final":
        return curves.final_angle_deg
    if alignment == "start":
        has = traces.n_samples > 0
        return np.where(
            has, traces.angle_deg[np.minimum(traces.offsets[:-1], len(traces.angle_deg) - 1)], np.nan
        )
    return np.zeros(len(traces))


def rising(angle: FloatArray, torque: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The samples that go forward: each beyond all before it."""
    if len(angle) < 2:
        return angle, torque
    forward = np.concatenate(([True], angle[1:] > np.maximum.accumulate(angle)[:-1]))
    return angle[forward], torque[forward]
