"""Prevailing torque: the level just ahead of the drawdown, its highest value, and its trend over the rundown."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.cells import ANGLE, HALF_TURN_DEG, MAD_TO_SIGMA, TORQUE, WEIGHT, fill_cells, median_of
from analysis.curve.least_squares import correlation_factor
from analysis.curve.ripple import (
    COSINE_VAR,
    COVARIANCE,
    LEFT,
    LEFT_TWICE,
    SINE_VAR,
    UNSEEN_RIPPLE,
    ripple_at,
)

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
#: A cell counts at most as so many standard deviations when it is asked how cells hang together.
LEVEL_SIGMAS = 3.0


@inner
def written_step(torque_nm: FloatArray, first: int, final: int) -> float:
    """Smallest change of the torque from one sample to the next, N·m: the step it is written in, where there is one."""
    step = np.inf
    for k in range(first, final):
        change = abs(torque_nm[k + 1] - torque_nm[k])
        if 0.0 < change < step:
            step = change
    return step if step < np.inf else 0.0


@inner
def rounding_variance(torque_nm: FloatArray, keep: BoolArray, first: int, stop: int, step_nm: float) -> float:
    """Variance that torque written in steps leaves on the mean of these samples, (N·m)^2.

    That of even values where the samples do not scatter; noise of a standard deviation s takes it down by
    exp(-(2 pi s / step)^2), the first harmonic of the rounding error. Up to half a step from sample to sample is no noise:
    a quiet level at the edge of a step gives as much.
    """
    total, n = 0.0, 0
    for k in range(first + 1, stop):
        if keep[k] and keep[k - 1]:
            total += abs(torque_nm[k] - torque_nm[k - 1])
            n += 1
    if step_nm <= 0.0 or n == 0:
        return 0.0
    # The mean absolute difference of two normal values is 2 s / sqrt(pi).
    noise = np.pi * np.sqrt(np.pi) * max(total / n / step_nm - 0.5, 0.0)
    return float(step_nm * step_nm / 12.0 * np.exp(-noise * noise))


@inner
def level_before(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    keep: BoolArray,
    first: int,
    stop: int,
    stop_deg: float,
    stop_uncertainty_deg: float,
    step_nm: float,
    ripple: FloatArray,
    cells: FloatArray,
    scratch: FloatArray,
) -> tuple[float, float, float]:
    """Level, its standard uncertainty, and where the stretch begins, of the half turn before `stop_deg`.

    `stop` is the first sample at or beyond `stop_deg`. The level is the median of the cells without the ripple. Its
    variance: that of a median over cells that hang together, what is left of the ripple (of its mean over the stretch;
    where the rundown is too short to show one, a usual share of the level), the trend over the uncertainty of the
    stretch's end, and the step in which the torque is written. NaN where fewer than three cells lie before it.
    """
    start_of_trace = angle_deg[first]
    length = stop_deg - start_of_trace
    if length <= 0.0:
        return np.nan, np.nan, np.nan
    begin = max(stop_deg - HALF_TURN_DEG, start_of_trace + min(START_TRANSIENT_DEG, START_SHARE * length))
    i = stop
    while i > first and angle_deg[i - 1] >= begin:
        i -= 1
    width = (stop_deg - begin) / LEVEL_CELLS
    n = fill_cells(angle_deg, torque_nm, keep, i, stop - 1, begin, width, np.inf, cells[:, :LEVEL_CELLS])
    if n < 3:
        return np.nan, np.nan, np.nan
    cosine = sine = cosine_twice = sine_twice = mean = 0.0
    for k in range(n):
        turned = np.deg2rad(cells[ANGLE, k])
        c, s = np.cos(turned), np.sin(turned)
        cosine += c / n
        sine += s / n
        cosine_twice += (2.0 * c * c - 1.0) / n
        sine_twice += 2.0 * c * s / n
        mean += cells[ANGLE, k] / n
        cells[TORQUE, k] -= ripple_at(ripple, cells[ANGLE, k])
    level = median_of(cells[TORQUE], n, scratch)
    square = product = 0.0
    for k in range(n):
        square += (cells[ANGLE, k] - mean) ** 2
        product += (cells[ANGLE, k] - mean) * cells[TORQUE, k]
        cells[WEIGHT, k] = cells[TORQUE, k] - level
        cells[TORQUE, k] = abs(cells[WEIGHT, k])
    spread = MAD_TO_SIGMA * median_of(cells[TORQUE], n, scratch)
    for k in range(n):
        cells[WEIGHT, k] = min(max(cells[WEIGHT, k], -LEVEL_SIGMAS * spread), LEVEL_SIGMAS * spread)
    own = MEDIAN_EFFICIENCY * MEDIAN_EFFICIENCY * spread * spread / n * correlation_factor(cells[WEIGHT], n)
    drift = product / square * stop_uncertainty_deg if square > 0.0 else 0.0
    own += rounding_variance(torque_nm, keep, i, stop, step_nm)
    left = (UNSEEN_RIPPLE * level) ** 2
    if not np.isnan(ripple[LEFT]):
        certain = ripple[COSINE_VAR] + ripple[SINE_VAR]
        left = cosine * cosine * ripple[COSINE_VAR] + sine * sine * ripple[SINE_VAR]
        left += 2.0 * cosine * sine * ripple[COVARIANCE]
        left += max(ripple[LEFT] * ripple[LEFT] - certain, 0.0) * (cosine * cosine + sine * sine)
        left += ripple[LEFT_TWICE] ** 2 * (cosine_twice * cosine_twice + sine_twice * sine_twice)
    return level, np.sqrt(max(own + drift * drift + left, 0.0)), begin


@inner
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
