"""Torque over even steps of angle, so that a slope is per degree and never per sample."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Rows of a table of cells; WEIGHT is the number of samples until a fit makes a weight of it.
ANGLE, TORQUE, WEIGHT = range(3)
#: A cell holds at most this many times the mean cell's samples: where the tool stands still it records on, and the
#: samples of a pause must not outvote the curve. Common practice, no source.
DWELL_FACTOR = 4.0
#: The prevailing level is that of the last half turn of rundown (definition).
HALF_TURN_DEG = 180.0
#: Median absolute deviation to standard deviation, on normal errors.
MAD_TO_SIGMA = 1.4826


@inlined
def fill_cells(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    keep: BoolArray,
    first: int,
    last: int,
    start_deg: float,
    width_deg: float,
    most_per_cell: float,
    cells: FloatArray,
) -> int:
    """Mean angle, mean torque and number of samples of each non-empty cell; returns the number of cells.

    Samples ``first .. last`` (both included) that are kept and lie at or beyond `start_deg`. Within a cell only the
    first `most_per_cell` samples count, in order of time: what comes before a pause, not the pause.
    """
    room = cells.shape[1]
    per_width = 1.0 / width_deg
    n = 0
    current = -1
    count = sum_a = sum_t = 0.0
    for i in range(first, last + 1):
        a = angle_deg[i]
        if not keep[i] or a < start_deg:
            continue
        k = int((a - start_deg) * per_width)
        if k != current:
            if count > 0.0 and n < room:
                cells[ANGLE, n], cells[TORQUE, n], cells[WEIGHT, n] = sum_a / count, sum_t / count, count
                n += 1
            current = k
            count = sum_a = sum_t = 0.0
        if count < most_per_cell:
            count += 1.0
            sum_a += a
            sum_t += torque_nm[i]
    if count > 0.0 and n < room:
        cells[ANGLE, n], cells[TORQUE, n], cells[WEIGHT, n] = sum_a / count, sum_t / count, count
        n += 1
    return n


@inlined
def median_of(values: FloatArray, n: int, scratch: FloatArray) -> float:
    """Median of the first n values; NaN where there is none."""
    if n == 0:
        return np.nan
    part = scratch[:n]
    for i in range(n):
        part[i] = values[i]
    part.sort()
    return float(0.5 * (part[(n - 1) // 2] + part[n // 2]))
