"""Once-a-turn ripple of the prevailing torque: a thread or a face that runs out, not averaged out over half a turn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, median_of
from analysis.curve.frame import RIPPLE_SHARE, TREND, TREND_FROM
from analysis.curve.least_squares import BISQUARE, cholesky_solve, correlation_factor

FloatArray = NDArray[np.float64]

TURN_DEG = 360.0
#: The ripple is fitted over so many turns of rundown, and not over less than two thirds of one (own choice: over less,
#: level, trend and ripple cannot be told apart).
RIPPLE_TURNS, RIPPLE_LEAST_DEG = 2.0, 240.0
#: Fewest cells, and rounds of the fit with bisquare weights.
RIPPLE_CELLS, RIPPLE_ROUNDS = 10, 3
#: So many times its variance is taken off the square of an amplitude before it is believed.
RIPPLE_BELIEF = 3.0
#: A rundown too short to show its ripple is taken to have this share of its level (own choice).
UNSEEN_RIPPLE = 0.02
#: Parameters of the fit: level, trend, cosine and sine of the angle.
_PARAMETERS = 4

#: What is known of a ripple: cosine and sine (N·m) as far as they are believed, their variances and covariance, and the
#: standard deviation of what is left of the amplitude (NaN where the rundown is too short, all else 0 then).
COSINE, SINE, COSINE_VAR, SINE_VAR, COVARIANCE, LEFT = range(6)
RIPPLE_VALUES = 6


@inner
def ripple_at(ripple: FloatArray, angle_deg: float) -> float:
    """Torque of the ripple at an angle, N·m."""
    turned = np.deg2rad(angle_deg)
    return float(ripple[COSINE] * np.cos(turned) + ripple[SINE] * np.sin(turned))


@inner
def carried_at(frame: FloatArray, ripple: FloatArray, angle_deg: float) -> float:
    """Torque that was taken off the rise before it was fitted: the trend of the prevailing torque, and its ripple."""
    carried = frame[TREND] * (angle_deg - frame[TREND_FROM])
    if frame[RIPPLE_SHARE] > 0.0:
        carried += ripple_at(ripple, angle_deg)
    return float(carried)


@inner
def fit_ripple(cells: FloatArray, n: int, stop_deg: float, work: FloatArray, ripple: FloatArray) -> None:
    """Fill `ripple` from the cells of the last two turns before an angle.

    Least squares with bisquare weights of T = level + trend a + c cos a + s sin a. Of the amplitude A with variance v,
    the share max(0, 1 - 3 v / A^2) is believed; v holds the correlation of the residuals.
    """
    for i in range(RIPPLE_VALUES):
        ripple[i] = 0.0
    ripple[LEFT] = np.nan
    stop = n
    while stop > 0 and cells[ANGLE, stop - 1] >= stop_deg:
        stop -= 1
    start = stop
    while start > 0 and cells[ANGLE, start - 1] >= stop_deg - RIPPLE_TURNS * TURN_DEG:
        start -= 1
    m = stop - start
    if m < RIPPLE_CELLS or cells[ANGLE, stop - 1] - cells[ANGLE, start] < RIPPLE_LEAST_DEG:
        return
    matrix, packed = np.zeros((_PARAMETERS, _PARAMETERS)), np.zeros((_PARAMETERS, _PARAMETERS))
    right, p, g = np.zeros(_PARAMETERS), np.zeros(_PARAMETERS), np.zeros(_PARAMETERS)
    weight, residual, cosine, sine = work[0], work[1], work[2], work[3]
    for k in range(m):
        turned = np.deg2rad(cells[ANGLE, start + k])
        weight[k], cosine[k], sine[k] = 1.0, np.cos(turned), np.sin(turned)
    variance = 0.0
    for _ in range(RIPPLE_ROUNDS):
        for i in range(_PARAMETERS):
            right[i] = 0.0
            for j in range(i + 1):
                matrix[i, j] = 0.0
        for k in range(m):
            g[0], g[1] = 1.0, (cells[ANGLE, start + k] - stop_deg) / TURN_DEG
            g[2], g[3] = cosine[k], sine[k]
            for i in range(_PARAMETERS):
                wg = weight[k] * g[i]
                right[i] += wg * cells[TORQUE, start + k]
                for j in range(i + 1):
                    matrix[i, j] += wg * g[j]
        _copy_lower(matrix, packed)
        if not cholesky_solve(packed, right, _PARAMETERS, p):
            return
        for k in range(m):
            a = (cells[ANGLE, start + k] - stop_deg) / TURN_DEG
            residual[k] = cells[TORQUE, start + k] - p[0] - p[1] * a - p[2] * cosine[k] - p[3] * sine[k]
            work[4][k] = abs(residual[k])
        scale = MAD_TO_SIGMA * median_of(work[4], m, work[5])
        variance = scale * scale * m / (m - _PARAMETERS)
        per_c2 = 1.0 / max(BISQUARE * BISQUARE * variance, 1e-300)
        for k in range(m):
            near = max(1.0 - residual[k] * residual[k] * per_c2, 0.0)
            weight[k] = near * near
    variance *= correlation_factor(residual, m)
    for i in range(2):
        for j in range(_PARAMETERS):
            right[j] = 1.0 if j == 2 + i else 0.0
        _copy_lower(matrix, packed)
        if not cholesky_solve(packed, right, _PARAMETERS, g):
            return
        ripple[COSINE_VAR + i] = variance * g[2 + i]
        ripple[COVARIANCE] = variance * g[2]
    uncertain = ripple[COSINE_VAR] + ripple[SINE_VAR]
    square = p[2] * p[2] + p[3] * p[3]
    belief = max(0.0, 1.0 - RIPPLE_BELIEF * uncertain / square) if square > 0.0 else 0.0
    ripple[COSINE], ripple[SINE] = belief * p[2], belief * p[3]
    ripple[LEFT] = np.sqrt(uncertain + 0.5 * (1.0 - belief) * (1.0 - belief) * square)


@inner
def _copy_lower(matrix: FloatArray, packed: FloatArray) -> None:
    for i in range(_PARAMETERS):
        for j in range(i + 1):
            packed[i, j] = matrix[i, j]
