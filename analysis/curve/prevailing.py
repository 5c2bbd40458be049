"""Prevailing torque: the level just ahead of the drawdown, its highest value, and its trend over the rundown."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve.cells import ANGLE, HALF_TURN_DEG, MAD_TO_SIGMA, TORQUE, fill_cells, median_of

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Engaging and speeding up disturb the first degrees of a rundown; real recordings show spikes that decay over 60 deg.
START_TRANSIENT_DEG = 60.0
#: No more than this share of a short rundown is given to the start transient.
START_SHARE = 0.25
#: Cells over the stretch that a level is read from.
LEVEL_CELLS = 60
#: Standard error of a median over that of a mean, on normal errors: sqrt(pi / 2).
MEDIAN_EFFICIENCY = 1.2533


@inlined
def level_before(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    keep: BoolArray,
    first: int,
    stop: int,
    stop_deg: float,
    cells: FloatArray,
    scratch: FloatArray,
) -> tuple[float, float, float]:
    """Level, its standard error, and where the stretch begins, of the half turn before `stop_deg`.

    `stop` is the first sample at or beyond `stop_deg`. NaN where fewer than three cells lie before it.
    """
    start_of_trace = angle_deg[first]
    length = stop_deg - start_of_trace
    if length <= 0.0:
        return np.nan, np.nan, np.nan
    begin = max(stop_deg - HALF_TURN_DEG, start_of_trace + min(START_TRANSIENT_DEG, START_SHARE * length))
    i = stop
    while i > first and angle_deg[i - 1] >= begin:
        i -= 1
    n = fill_cells(
        angle_deg,
        torque_nm,
        keep,
        i,
        stop - 1,
        begin,
        (stop_deg - begin) / LEVEL_CELLS,
        np.inf,
        cells[:, :LEVEL_CELLS],
    )
    if n < 3:
        return np.nan, np.nan, np.nan
    level = median_of(cells[TORQUE], n, scratch)
    for k in range(n):
        cells[ANGLE, k] = abs(cells[TORQUE, k] - level)
    spread = MAD_TO_SIGMA * median_of(cells[ANGLE], n, scratch)
    return level, MEDIAN_EFFICIENCY * spread / np.sqrt(n), begin


@inlined
def rundown_trend(cells: FloatArray, n: int, stop_deg: float) -> tuple[float, float]:
    """Highest cell mean and slope in N·m per turn over the whole rundown, start transient left out.

    Both NaN where fewer than three cells of the rundown are left.
    """
    start_of_trace = cells[ANGLE, 0]
    begin = start_of_trace + min(START_TRANSIENT_DEG, START_SHARE * (stop_deg - start_of_trace))
    highest = -np.inf
    total = sa = st = saa = sat = 0.0
    for k in range(n):
        a = cells[ANGLE, k] - start_of_trace
        if cells[ANGLE, k] < begin or cells[ANGLE, k] >= stop_deg:
            continue
        highest = max(highest, cells[TORQUE, k])
        total += 1.0
        sa += a
        st += cells[TORQUE, k]
        saa += a * a
        sat += a * cells[TORQUE, k]
    if total < 3.0:
        return np.nan, np.nan
    spread = saa - sa * sa / total
    return highest, (360.0 * (sat - sa * st / total) / spread if spread > 0.0 else np.nan)
