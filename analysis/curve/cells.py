"""Torque over even steps of angle, so that a slope is per degree and never per sample."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: A cell holds at most this many times the median cell's samples: where the tool stands still it records on, and the
#: samples of a pause must not outvote the curve. Common practice, no source.
DWELL_FACTOR = 4.0


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
    count: FloatArray,
    cell_angle_deg: FloatArray,
    cell_torque_nm: FloatArray,
) -> int:
    """Means of angle and torque in each non-empty cell; returns the number of cells.

    Samples ``first .. last`` (both included) that are kept and lie at or beyond `start_deg`. Within a cell only the
    first `most_per_cell` samples count, in order of time: what comes before a pause, not the pause.
    """
    cells = -1
    current = -1
    for i in range(first, last + 1):
        if not keep[i] or angle_deg[i] < start_deg:
            continue
        k = int((angle_deg[i] - start_deg) / width_deg)
        if k != current:
            current = k
            cells += 1
            if cells >= len(count):
                cells -= 1
            else:
                count[cells] = 0.0
                cell_angle_deg[cells] = 0.0
                cell_torque_nm[cells] = 0.0
        if count[cells] < most_per_cell:
            count[cells] += 1.0
            cell_angle_deg[cells] += angle_deg[i]
            cell_torque_nm[cells] += torque_nm[i]
    for k in range(cells + 1):
        cell_angle_deg[k] /= count[k]
        cell_torque_nm[k] /= count[k]
    return cells + 1


@inlined
def median_of(values: FloatArray, n: int, scratch: FloatArray) -> float:
    """Median of the first n values; NaN where there is none."""
    if n == 0:
        return np.nan
    part = scratch[:n]
    for i in range(n):
        part[i] = values[i]
    part.sort()
    return 0.5 * (part[(n - 1) // 2] + part[n // 2])
