"""Torque over even steps of angle, so that a slope is per degree and never per sample."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner

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


@inner
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
    edge = -np.inf  # where the current cell ends: kept angles never fall, so it is left once and for all
    count = sum_a = sum_t = 0.0
    for i in range(first, last + 1):
        a = angle_deg[i]
        if not keep[i] or a < start_deg:
            continue
        if a >= edge:
            if count > 0.0 and n < room:
                cells[ANGLE, n], cells[TORQUE, n], cells[WEIGHT, n] = sum_a / count, sum_t / count, count
                n += 1
            edge = start_deg + width_deg * (np.floor((a - start_deg) * per_width) + 1.0)
            count = sum_a = sum_t = 0.0
        if count < most_per_cell:
            count += 1.0
            sum_a += a
            sum_t += torque_nm[i]
    if count > 0.0 and n < room:
        cells[ANGLE, n], cells[TORQUE, n], cells[WEIGHT, n] = sum_a / count, sum_t / count, count
        n += 1
    return n


@inner
def smallest_at(values: FloatArray, n: int, rank: int) -> float:
    """The value that would stand at `rank` if the first n were sorted; reorders them (Hoare's FIND, 1961)."""
    low, high = 0, n - 1
    while low < high:
        pivot = values[rank]
        i, j = low, high
        while i <= j:
            while values[i] < pivot:
                i += 1
            while values[j] > pivot:
                j -= 1
            if i <= j:
                values[i], values[j] = values[j], values[i]
                i += 1
                j -= 1
        if j < rank:
            low = i
        if i > rank:
            high = j
    return float(values[rank])


@inner
def median_in_place(values: FloatArray, n: int) -> float:
    """Median of the first n values, which are reordered; n is at least 1."""
    upper = smallest_at(values, n, n // 2)
    if n % 2 == 1:
        return float(upper)
    lower = values[0]
    for i in range(1, n // 2):
        lower = max(lower, values[i])
    return float(0.5 * (lower + upper))


@inner
def median_of(values: FloatArray, n: int, scratch: FloatArray) -> float:
    """Median of the first n values; NaN where there is none."""
    if n == 0:
        return np.nan
    for i in range(n):
        scratch[i] = values[i]
    return median_in_place(scratch, n)
