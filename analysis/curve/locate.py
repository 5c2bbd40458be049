"""The rise: where the torque leaves the rundown and climbs to the final point, found coarsely on cells."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.cells import ANGLE, HALF_TURN_DEG, TORQUE, WEIGHT, median_in_place, median_of

FloatArray = NDArray[np.float64]

#: Two levels of final torque that every rise passes late, for the first look (common practice, no source).
LOW_SHARE, HIGH_SHARE = 0.65, 0.85
#: The rise starts where the torque has left the level by this share of what it still gains.
START_SHARE = 0.05
#: A rise starts within so many times the degrees that its steep part would take from zero: what lies ahead of that is
#: rundown, however high a prevailing torque that falls may stand there (own choice; drawdowns reach three).
REACH = 6.0
#: At least so many cells: a short rise may lie within one or two of the cells over a long rundown.
LEAST_REACH = 8
#: Samples in a cell beyond this number make it no better for a first look at the slope.
ENOUGH = 8.0


@inner
def passes_level(cells: FloatArray, first: int, n: int, level_nm: float) -> int:
    """Cell from which the torque is above a level: the split that puts the fewest degrees on the wrong side.

    A dip at a step change or a start transient is shorter in angle than what surrounds it, so it does not move the
    split, where a first or last crossing would.
    """
    best = first - 1
    wrong = least = 0.0
    previous = cells[ANGLE, first]
    for k in range(first, n):
        step = cells[ANGLE, k] - previous
        previous = cells[ANGLE, k]
        wrong += step if cells[TORQUE, k] >= level_nm else -step
        below_at_start = k == first and cells[TORQUE, k] < level_nm
        if wrong < least or below_at_start:
            least = wrong
            best = k
    return min(best + 1, n - 1)


@inner
def level_ahead(cells: FloatArray, n: int, stop_deg: float, scratch: FloatArray) -> float:
    """Median torque of the cells of the last half turn before an angle; NaN where fewer than two lie there."""
    stop = n
    while stop > 0 and cells[ANGLE, stop - 1] >= stop_deg:
        stop -= 1
    start = stop
    while start > 0 and (cells[ANGLE, start - 1] >= stop_deg - HALF_TURN_DEG or stop - start < 3):
        start -= 1
    if stop - start < 2:
        return np.nan
    return median_of(cells[TORQUE, start:stop], stop - start, scratch)


@inner
def locate_rise(cells: FloatArray, n: int, top_nm: float, scratch: FloatArray) -> tuple[float, float, float]:
    """Coarse prevailing level, angle at which the rise starts, and degrees that a straight rise would take."""
    end = cells[ANGLE, n - 1]
    k65 = passes_level(cells, 0, n, LOW_SHARE * top_nm)
    k85 = passes_level(cells, k65, n, HIGH_SHARE * top_nm)
    rise = max(end - cells[ANGLE, k65], 1e-9)
    slope = (top_nm - cells[TORQUE, k65]) / rise
    if cells[ANGLE, k85] > cells[ANGLE, k65]:
        step = cells[TORQUE, k85] - cells[TORQUE, k65]
        slope = max(slope, step / (cells[ANGLE, k85] - cells[ANGLE, k65]))
    slope = max(slope, 1e-12)
    corner = cells[ANGLE, k65] - cells[TORQUE, k65] / slope
    level = level_ahead(cells, n, corner - 0.1 * (end - corner), scratch)
    start = corner
    for _ in range(3):
        if np.isnan(level) or level > HIGH_SHARE * top_nm:
            level = min(cells[TORQUE, 0], 0.5 * top_nm)
        threshold = level + START_SHARE * (top_nm - level)
        near = 0
        while near < k65 - LEAST_REACH and cells[ANGLE, near] < end - REACH * (end - corner):
            near += 1
        k = passes_level(cells, near, n, threshold)
        if k == near:
            k = passes_level(cells, 0, n, threshold)
        start = cells[ANGLE, k]
        if k == 0:
            break
        better = level_ahead(cells, n, start - 0.15 * (end - start), scratch)
        if np.isnan(better):
            break
        level = better
    k25 = passes_level(cells, 0, n, level + 0.25 * (top_nm - level))
    k60 = passes_level(cells, k25, n, level + 0.60 * (top_nm - level))
    gain = cells[TORQUE, k60] - cells[TORQUE, k25]
    straight = max(end - cells[ANGLE, k25], 1e-9)
    if gain > 0.05 * (top_nm - level) and cells[ANGLE, k60] > cells[ANGLE, k25]:
        straight = (cells[ANGLE, k60] - cells[ANGLE, k25]) * (top_nm - level) / gain
    return level, start, straight


@inner
def steepest_stretch(cells: FloatArray, n: int, width_deg: float) -> tuple[float, float, float]:
    """Steepest straight line fitted over a stretch of `width_deg`, per degree.

    Returns slope, centre angle and centre torque; slope -1 where no stretch has four cells.
    """
    slope, centre, height = -1.0, np.nan, np.nan
    origin = cells[ANGLE, 0]
    total = sa = st = saa = sat = 0.0
    stop = 0
    for start in range(n):
        while stop < n and cells[ANGLE, stop] <= cells[ANGLE, start] + width_deg:
            weight, a, t = min(cells[WEIGHT, stop], ENOUGH), cells[ANGLE, stop] - origin, cells[TORQUE, stop]
            total += weight
            sa += weight * a
            st += weight * t
            saa += weight * a * a
            sat += weight * a * t
            stop += 1
        if stop - start >= 4 and cells[ANGLE, stop - 1] - cells[ANGLE, start] >= 0.6 * width_deg:
            spread = saa - sa * sa / total
            value = (sat - sa * st / total) / spread if spread > 0.0 else -1.0
            if value > slope:
                slope, centre, height = value, origin + sa / total, st / total
        weight, a, t = min(cells[WEIGHT, start], ENOUGH), cells[ANGLE, start] - origin, cells[TORQUE, start]
        total -= weight
        sa -= weight * a
        st -= weight * t
        saa -= weight * a * a
        sat -= weight * a * t
    return slope, centre, height


@inner
def trend_ahead(cells: FloatArray, n: int, stop_deg: float, least_deg: float, scratch: FloatArray) -> float:
    """Slope of the prevailing torque over the last turn before an angle, N·m/deg; 0 where it is shorter than `least_deg`.

    The median of the slopes between cells half the stretch apart, so that a dip at a step change has no say.
    """
    stop = n
    while stop > 0 and cells[ANGLE, stop - 1] >= stop_deg:
        stop -= 1
    start = stop
    while start > 0 and (cells[ANGLE, start - 1] >= stop_deg - 2.0 * HALF_TURN_DEG or stop - start < 8):
        start -= 1
    half = (stop - start) // 2
    if half < 3 or cells[ANGLE, stop - 1] - cells[ANGLE, start] < least_deg:
        return 0.0
    for k in range(half):
        i, j = start + k, start + k + half
        scratch[k] = (cells[TORQUE, j] - cells[TORQUE, i]) / (cells[ANGLE, j] - cells[ANGLE, i])
    return median_in_place(scratch, half)
