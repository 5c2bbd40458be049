"""Hard, medium or soft: the joint rate of the chosen basis against the limits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.curve.tightening import forward_mask
from analysis.settings import CurveSettings
from analysis.traces import TraceSet

HARDNESS = ("hard", "medium", "soft")
_HALF = 0.5


def judged_rate_deg(traces: TraceSet, curves: CurveTable, settings: CurveSettings) -> FloatArray:
    """Joint rate that hardness is judged on, shape (n,), degrees; NaN where a trace has none of this basis."""
    if settings.hardness_basis == "snug-to-final":
        return curves.joint_rate_deg
    if settings.hardness_basis == "10-100 %":
        return curves.joint_rate_line_deg
    rates = np.full(len(curves), np.nan)
    whole = np.isfinite(curves.elastic_slope_nm_per_deg) & (curves.final_index >= 0)
    for row in np.flatnonzero(whole):
        trace, final = traces[int(row)], int(curves.final_index[row])
        keep = forward_mask(trace.angle_deg, final)
        rates[row] = line_rate_deg(trace.angle_deg[keep], trace.torque_nm[keep], _HALF)
    return rates


def line_rate_deg(angle_deg: FloatArray, torque_nm: FloatArray, share: float) -> float:
    """Degrees of the straight line from `share` of the final torque to the final point, drawn to zero torque.

    The torque passes the level where the split between below and above leaves the fewest degrees on the wrong
    side: a spike is short in angle and is not taken for the rise. NaN where the recording starts above the level.

    Examples
    --------
    >>> line_rate_deg(np.array([0.0, 10.0, 20.0, 30.0]), np.array([0.0, 10.0, 20.0, 30.0]), 0.5)
    30.0
    """
    if len(angle_deg) < 2 or torque_nm[0] >= share * torque_nm[-1]:
        return float("nan")
    level, steps = share * torque_nm[-1], np.diff(angle_deg)
    wrong = np.cumsum(np.where(torque_nm[1:] >= level, steps, -steps))
    below = int(np.argmin(np.append(0.0, wrong)))
    ends = [below, min(below + 1, len(angle_deg) - 1)]
    climb = float(np.diff(torque_nm[ends])[0])
    part = min(max((level - torque_nm[below]) / climb, 0.0), 1.0) if climb > 0.0 else 1.0
    crossed = angle_deg[below] + part * np.diff(angle_deg[ends])[0]
    return float((angle_deg[-1] - crossed) / (1.0 - share))


def hardness_codes(rate: FloatArray, settings: CurveSettings) -> NDArray[np.integer]:
    """Index into `HARDNESS` for each joint rate, degrees; -1 where a trace has none of the chosen basis."""
    codes = np.where(rate <= settings.hard_limit_deg, 0, 1)
    codes = np.where(rate >= settings.soft_limit_deg, 2, codes)
    return np.where(np.isnan(rate), -1, codes)
