"""Ripple of the prevailing torque, once and twice a turn: a thread or a face that runs out, not averaged out over half
a turn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.arrays import DERIVATIVES, OTHER_SQUARE, SQUARE, copy_into, set_all
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, median_of
from analysis.curve.frame import RIPPLE_SHARE, TREND, TREND_FROM
from analysis.curve.least_squares import BISQUARE, cholesky_solve, correlation_factor

FloatArray = NDArray[np.float64]

TURN_DEG = 360.0
#: The ripple is fitted over so many turns of rundown, and not over less than two thirds of one (own choice: over less,
#: level, trend and ripple cannot be told apart).
RIPPLE_TURNS, RIPPLE_LEAST_DEG = 2.0, 240.0
#: What comes twice a turn as well is fitted where the rundown is as long as this (own choice).
RIPPLE_TWICE_DEG = 450.0
#: Fewest cells, and rounds of the fit with bisquare weights.
RIPPLE_CELLS, RIPPLE_ROUNDS = 12, 3
#: So many times its variance is taken off the square of an amplitude before it is believed.
RIPPLE_BELIEF = 3.0
#: A rundown too short to show its ripple is taken to have this share of its level (own choice).
UNSEEN_RIPPLE = 0.02
#: Parameters of the fit: level, trend, cosine and sine of the angle and of twice the angle.
_PARAMETERS = 6

#: What is known of a ripple: cosine and sine of the angle and of twice the angle (N·m) as far as they are believed; of the
#: first two, variances and covariance; and the standard deviation of what is left of each amplitude (NaN where the rundown
#: is too short, all else 0 then).
COSINE, SINE, COSINE_TWICE, SINE_TWICE, COSINE_VAR, SINE_VAR, COVARIANCE, LEFT, LEFT_TWICE = range(9)
RIPPLE_VALUES = 9


@inner
def ripple_at(ripple: FloatArray, angle_deg: float) -> float:
    """Torque of the ripple at an angle, N·m."""
    turned = np.deg2rad(angle_deg)
    cosine, sine = np.cos(turned), np.sin(turned)
    once = ripple[COSINE] * cosine + ripple[SINE] * sine
    return float(
        once + ripple[COSINE_TWICE] * (2.0 * cosine * cosine - 1.0) + ripple[SINE_TWICE] * 2.0 * cosine * sine
    )


@inner
def ripple_height(ripple: FloatArray) -> float:
    """Root of the sum of the squared amplitudes, N·m."""
    return float(
        np.sqrt(ripple[COSINE] ** 2 + ripple[SINE] ** 2 + ripple[COSINE_TWICE] ** 2 + ripple[SINE_TWICE] ** 2)
    )


@inner
def carried_at(frame: FloatArray, ripple: FloatArray, angle_deg: float) -> float:
    """Torque that was taken off the rise before it was fitted: the trend of the prevailing torque, and its ripple."""
    carried = frame[TREND] * (angle_deg - frame[TREND_FROM])
    if frame[RIPPLE_SHARE] > 0.0:
        carried += ripple_at(ripple, angle_deg)
    return float(carried)


@inner
def _row_of(turns: float, cosine: float, sine: float, g: FloatArray) -> None:
    """Level, trend and waves of one cell."""
    g[0], g[1], g[2], g[3] = 1.0, turns, cosine, sine
    g[4], g[5] = 2.0 * cosine * cosine - 1.0, 2.0 * cosine * sine


@inner
def _believe(ripple: FloatArray, p: FloatArray, place: int, variance: float) -> None:
    """One amplitude from its cosine and sine: the share that is believed, and what is left."""
    square = p[2 + place] * p[2 + place] + p[3 + place] * p[3 + place]
    belief = max(0.0, 1.0 - RIPPLE_BELIEF * variance / square) if square > 0.0 else 0.0
    ripple[COSINE + place], ripple[SINE + place] = belief * p[2 + place], belief * p[3 + place]
    ripple[LEFT + place // 2] = np.sqrt(variance + 0.5 * (1.0 - belief) * (1.0 - belief) * square)


@inner
def fit_ripple(cells: FloatArray, n: int, stop_deg: float, work: FloatArray, ripple: FloatArray) -> None:
    """Fill `ripple` from the cells of the last two turns before an angle.

    Least squares with bisquare weights of T = level + trend a + c cos a + s sin a + c' cos 2a + s' sin 2a. Of an
    amplitude A with variance v, the share max(0, 1 - 3 v / A^2) is believed; v holds the correlation of the residuals.
    """
    set_all(ripple, 0.0)
    ripple[LEFT] = ripple[LEFT_TWICE] = np.nan
    stop = n
    while stop > 0 and cells[ANGLE, stop - 1] >= stop_deg:
        stop -= 1
    start = stop
    while start > 0 and cells[ANGLE, start - 1] >= stop_deg - RIPPLE_TURNS * TURN_DEG:
        start -= 1
    m = stop - start
    if m < RIPPLE_CELLS or cells[ANGLE, stop - 1] - cells[ANGLE, start] < RIPPLE_LEAST_DEG:
        return
    free = (
        _PARAMETERS if cells[ANGLE, stop - 1] - cells[ANGLE, start] >= RIPPLE_TWICE_DEG else _PARAMETERS - 2
    )
    matrix, packed = work[SQUARE:OTHER_SQUARE], work[OTHER_SQUARE:DERIVATIVES]
    right, p, g, own = (
        work[DERIVATIVES],
        work[DERIVATIVES + 1],
        work[DERIVATIVES + 2],
        work[DERIVATIVES + 3, :4],
    )
    weight, residual, cosine, sine = work[0], work[1], work[2], work[3]
    for k in range(m):
        turned = np.deg2rad(cells[ANGLE, start + k])
        weight[k], cosine[k], sine[k] = 1.0, np.cos(turned), np.sin(turned)
    variance = 0.0
    for _ in range(RIPPLE_ROUNDS):
        for i in range(free):
            set_all(matrix[i, :free], 0.0)
        set_all(right[:free], 0.0)
        for k in range(m):
            _row_of((cells[ANGLE, start + k] - stop_deg) / TURN_DEG, cosine[k], sine[k], g)
            for i in range(free):
                wg = weight[k] * g[i]
                right[i] += wg * cells[TORQUE, start + k]
                for j in range(i + 1):
                    matrix[i, j] += wg * g[j]
        for j in range(free):
            copy_into(packed[j], matrix[j, :free])
        if not cholesky_solve(packed, right, free, p):
            return
        for k in range(m):
            _row_of((cells[ANGLE, start + k] - stop_deg) / TURN_DEG, cosine[k], sine[k], g)
            residual[k] = cells[TORQUE, start + k]
            for i in range(free):
                residual[k] -= p[i] * g[i]
            work[4][k] = abs(residual[k])
        scale = MAD_TO_SIGMA * median_of(work[4], m, work[5])
        variance = scale * scale * m / (m - free)
        per_c2 = 1.0 / max(BISQUARE * BISQUARE * variance, 1e-300)
        for k in range(m):
            near = max(1.0 - residual[k] * residual[k] * per_c2, 0.0)
            weight[k] = near * near
    variance *= correlation_factor(residual, m)
    set_all(own, 0.0)
    for i in range(free - 2):
        set_all(right[:free], 0.0)
        right[2 + i] = 1.0
        for j in range(free):
            copy_into(packed[j], matrix[j, :free])
        if not cholesky_solve(packed, right, free, g):
            return
        own[i] = variance * g[2 + i]
        if i == 1:
            ripple[COVARIANCE] = variance * g[2]
    ripple[COSINE_VAR], ripple[SINE_VAR] = own[0], own[1]
    _believe(ripple, p, 0, own[0] + own[1])
    ripple[LEFT_TWICE] = 0.0
    if free == _PARAMETERS:
        _believe(ripple, p, 2, own[2] + own[3])
