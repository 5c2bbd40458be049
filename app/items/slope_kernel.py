"""The local slope of every curve, for drawing torque gained per degree over angle."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import kernel
from analysis.curve.curve_table import CurveTable
from analysis.traces import TraceSet

#: The window is chosen so that the slope's standard error is this share of the elastic slope (own choice),
#: within these bounds in degrees (own choice: below, quantised angles show; above, the bend is smeared).
_WANTED_ERROR = 0.05
_NARROWEST_DEG, _WIDEST_DEG = 2.0, 20.0
#: Where nothing is known of noise and slope.
_USUAL_DEG = 5.0
_FEWEST = 4


def windows_deg(curves: CurveTable | None, n_traces: int) -> NDArray[np.float64]:
    """Width of each trace's window in degrees.

    The standard error of a slope fitted to n evenly spread samples with noise s over a window W is
    s sqrt(12) / (W sqrt(n)), and n = density x W; solved for W.
    """
    if curves is None:
        return np.full(n_traces, _USUAL_DEG)
    wanted = _WANTED_ERROR * curves.elastic_slope_nm_per_deg
    with np.errstate(all="ignore"):
        width = (curves.torque_noise_nm * np.sqrt(12.0) / (wanted * np.sqrt(curves.samples_per_deg))) ** (
            2 / 3
        )
    width[~np.isfinite(width)] = _USUAL_DEG
    return np.asarray(np.clip(width, _NARROWEST_DEG, _WIDEST_DEG), np.float64)


def local_slopes(traces: TraceSet, curves: CurveTable | None) -> NDArray[np.float32]:
    """Slope in N·m/deg at each sample, NaN where too few samples are near or the angle runs back; float32."""
    slopes = np.full(len(traces.angle_deg), np.nan, np.float32)
    final = np.full(len(traces), -1, np.int64) if curves is None else np.asarray(curves.final_index, np.int64)
    fit_slopes(
        traces.angle_deg, traces.torque_nm, traces.offsets, windows_deg(curves, len(traces)), final, slopes
    )
    slopes.flags.writeable = False
    return slopes


@kernel
def fit_slopes(
    angle_deg: NDArray[np.float64],
    torque_nm: NDArray[np.float64],
    offsets: NDArray[np.int64],
    window_deg: NDArray[np.float64],
    final_index: NDArray[np.int64],
    slopes: NDArray[np.float32],
) -> None:
    """Least-squares slope over a window about each sample that lies ahead of all before it.

    Samples behind the furthest angle so far, and those after the final point where it is known, take no part
    and keep NaN. Five running sums, centred on the trace's first sample, follow the window.
    """
    for trace in range(len(offsets) - 1):
        start, stop = offsets[trace], offsets[trace + 1]
        if final_index[trace] >= 0:
            stop = min(stop, start + final_index[trace] + 1)
        ahead = np.empty(stop - start, np.int64)
        n_ahead = 0
        furthest = -np.inf
        for i in range(start, stop):
            if angle_deg[i] >= furthest and torque_nm[i] == torque_nm[i]:
                furthest = angle_deg[i]
                ahead[n_ahead] = i
                n_ahead += 1
        if n_ahead < _FEWEST:
            continue
        a0, t0 = angle_deg[ahead[0]], torque_nm[ahead[0]]
        half = 0.5 * window_deg[trace]
        first = last = 0
        sa = st = saa = sat = 0.0
        for k in range(n_ahead):
            here = angle_deg[ahead[k]]
            while last < n_ahead and angle_deg[ahead[last]] <= here + half:
                a, t = angle_deg[ahead[last]] - a0, torque_nm[ahead[last]] - t0
                sa += a
                st += t
                saa += a * a
                sat += a * t
                last += 1
            while angle_deg[ahead[first]] < here - half:
                a, t = angle_deg[ahead[first]] - a0, torque_nm[ahead[first]] - t0
                sa -= a
                st -= t
                saa -= a * a
                sat -= a * t
                first += 1
            n = last - first
            spread = saa - sa * sa / n
            # A window that spans less than half its width (gap, quantised angle) tells nothing.
            if n >= _FEWEST and angle_deg[ahead[last - 1]] - angle_deg[ahead[first]] >= half and spread > 0.0:
                slopes[ahead[k]] = (sat - sa * st / n) / spread
