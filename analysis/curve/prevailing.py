"""Prevailing torque: the level just ahead of the drawdown, its highest value, and its trend over the rundown."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined
from analysis.curve.cells import fill_cells, median_of

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: The level is read over the last half turn of the rundown (definition).
HALF_TURN_DEG = 180.0
#: Engaging and speeding up disturb the first degrees of a rundown; real recordings show spikes that decay over 60 deg.
START_TRANSIENT_DEG = 60.0
#: No more than this share of a short rundown is given to the start transient.
START_SHARE = 0.25
#: Cells over the stretch that a level is read from.
LEVEL_CELLS = 90
#: Standard error of a median over that of a mean, on normal errors: sqrt(pi / 2).
MEDIAN_EFFICIENCY = 1.2533


@inlined
def level_before(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    keep: BoolArray,
    first: int,
    last: int,
    stop_deg: float,
    count: FloatArray,
    cell_angle: FloatArray,
    cell_torque: FloatArray,
    scratch: FloatArray,
) -> tuple[float, float, float, float]:
    """Level, its standard error, and the stretch, of the half turn before `stop_deg`.

    NaN where fewer than three cells lie before it.
    """
    start_of_trace = angle_deg[first]
    length = stop_deg - start_of_trace
    begin = max(stop_deg - HALF_TURN_DEG, start_of_trace + min(START_TRANSIENT_DEG, START_SHARE * length))
    if length <= 0.0:
        return np.nan, np.nan, np.nan, np.nan
    end = first
    while end < last and angle_deg[end + 1] < stop_deg:
        end += 1
    width = (stop_deg - begin) / LEVEL_CELLS
    n = fill_cells(
        angle_deg,
        torque_nm,
        keep,
        first,
        end,
        begin,
        width,
        1e9,
        count[:LEVEL_CELLS],
        cell_angle,
        cell_torque,
    )
    if n < 3:
        return np.nan, np.nan, np.nan, np.nan
    level = median_of(cell_torque, n, scratch)
    for k in range(n):
        count[k] = abs(cell_torque[k] - level)
    spread = 1.4826 * median_of(count, n, scratch)
    return level, MEDIAN_EFFICIENCY * spread / np.sqrt(n), begin, stop_deg


@inlined
def rundown_trend(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    keep: BoolArray,
    first: int,
    last: int,
    stop_deg: float,
    count: FloatArray,
    cell_angle: FloatArray,
    cell_torque: FloatArray,
) -> tuple[float, float]:
    """Highest cell mean and slope in N·m per turn over the whole rundown, start transient left out."""
    start_of_trace = angle_deg[first]
    length = stop_deg - start_of_trace
    begin = start_of_trace + min(START_TRANSIENT_DEG, START_SHARE * length)
    if length <= 0.0:
        return np.nan, np.nan
    end = first
    while end < last and angle_deg[end + 1] < stop_deg:
        end += 1
    width = (stop_deg - begin) / LEVEL_CELLS
    n = fill_cells(
        angle_deg,
        torque_nm,
        keep,
        first,
        end,
        begin,
        width,
        1e9,
        count[:LEVEL_CELLS],
        cell_angle,
        cell_torque,
    )
    if n < 3:
        return np.nan, np.nan
    highest = -np.inf
    sa = st = 0.0
    for k in range(n):
        highest = max(highest, cell_torque[k])
        sa += cell_angle[k]
        st += cell_torque[k]
    ma, mt = sa / n, st / n
    saa = sat = 0.0
    for k in range(n):
        saa += (cell_angle[k] - ma) ** 2
        sat += (cell_angle[k] - ma) * (cell_torque[k] - mt)
    return highest, (360.0 * sat / saa if saa > 0.0 else np.nan)
