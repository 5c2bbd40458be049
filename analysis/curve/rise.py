"""The rise: where the torque leaves the rundown and climbs to the final point, found coarsely."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@inlined
def passes_level(
    angle_deg: FloatArray, torque_nm: FloatArray, keep: BoolArray, first: int, final: int, level_nm: float
) -> int:
    """Sample from which the torque is above a level: the split that puts the fewest degrees on the wrong side.

    A dip at a step change or a start transient is shorter in angle than what surrounds it, so it does not move the
    split, where a first or last crossing would.
    """
    best = first
    wrong = 0.0
    least = 0.0
    previous = angle_deg[first]
    for i in range(first, final + 1):
        if not keep[i]:
            continue
        step = angle_deg[i] - previous
        previous = angle_deg[i]
        wrong += step if torque_nm[i] >= level_nm else -step
        if wrong <= least:
            least = wrong
            best = i
    # The split lies behind `best`: the next kept sample is the first one above.
    if least == 0.0 and torque_nm[first] >= level_nm:
        return first
    for i in range(best + 1, final + 1):
        if keep[i]:
            return i
    return final


@inlined
def steepest_stretch(
    count: FloatArray, cell_angle_deg: FloatArray, cell_torque_nm: FloatArray, n: int, width_deg: float
) -> tuple[float, float, float, int, int]:
    """Steepest straight line fitted over a stretch of `width_deg`, per degree.

    Returns slope, centre angle, centre torque, first and last cell; slope -1 where no stretch has four cells.
    """
    slope, centre, height = -1.0, np.nan, np.nan
    first, last = 0, -1
    stop = 0
    for start in range(n):
        stop = max(stop, start)
        while stop < n and cell_angle_deg[stop] <= cell_angle_deg[start] + width_deg:
            stop += 1
        if stop - start < 4 or cell_angle_deg[stop - 1] - cell_angle_deg[start] < 0.6 * width_deg:
            continue
        total = sa = st = 0.0
        for k in range(start, stop):
            weight = min(count[k], 8.0)
            total += weight
            sa += weight * cell_angle_deg[k]
            st += weight * cell_torque_nm[k]
        ma, mt = sa / total, st / total
        saa = sat = 0.0
        for k in range(start, stop):
            weight = min(count[k], 8.0)
            d = cell_angle_deg[k] - ma
            saa += weight * d * d
            sat += weight * d * (cell_torque_nm[k] - mt)
        if saa > 0.0 and sat / saa > slope:
            slope, centre, height = sat / saa, ma, mt
            first, last = start, stop - 1
    return slope, centre, height, first, last
